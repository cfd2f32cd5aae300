"""Stands in parts and several landings: read, planned part by part, written."""

from pathlib import Path

import area_files as files
import pytest
import shapely
from shapely.geometry import LineString, Point

from layout.area import read_area
from layout.errors import InputError, InputFaults

EAST = shapely.affinity.translate(files.LANDING, 60, 0)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a small area with a landing 60 m east of the first."""
    folder = files.tidy_area(tmp_path / "lot")
    files.write_layer(folder / "landing.gpkg", [EAST, files.LANDING])
    return folder


def faults(folder: Path) -> list[str]:
    with pytest.raises((InputError, InputFaults)) as caught:
        read_area(folder)
    error = caught.value
    return list(error.faults) if isinstance(error, InputFaults) else [str(error)]


# ---------------------------------------------------------------- what is drawn


def test_several_landings_are_named_in_the_order_of_the_file(folder: Path) -> None:
    area = read_area(folder)
    assert [shape.equals(drawn) for shape, drawn in zip(area.landings, [EAST, files.LANDING],
                                                        strict=True)] == [True, True]  # fmt: skip
    (second,) = area.more_landings
    assert (second.landing_id, second.main_id) == ("L2", "M2")
    assert second.main is not None and second.main.equals(files.MAIN)  # it starts at this one
    assert area.main_trail is None
    assert area.yard is not None
    assert area.yard.area == pytest.approx(EAST.area + files.LANDING.area)


def test_each_landing_may_have_a_main_trail_of_its_own(folder: Path) -> None:
    there = shapely.affinity.translate(files.MAIN, 60, 0).reverse()
    files.write_layer(folder / "main.gpkg", [files.MAIN, there])
    area = read_area(folder)
    assert area.main_trail is not None and area.main_trail.equals_exact(there.reverse(), 1e-6)
    assert area.more_landings[0].main == files.MAIN
    assert "main_trail_turned" in {f.code for f in area.findings}


def test_a_main_trail_that_starts_at_no_landing_is_one_fault(folder: Path) -> None:
    far = shapely.affinity.translate(files.MAIN, 0, 120)
    files.write_layer(folder / "main.gpkg", [files.MAIN, far])
    x, y = far.coords[0]
    assert faults(folder) == [
        f"area.toml [main_trail] line: main.gpkg:main holds a line from {x:.0f}, {y:.0f} that "
        "starts at no landing (the nearest, L2, is 121 m away); draw each main trail from its "
        "landing"
    ]


def test_two_lines_from_one_landing_are_one_fault(folder: Path) -> None:
    beside = LineString(
        [(files.WEST + 210, files.NORTH - 244), (files.WEST + 215, files.NORTH - 170)]
    )
    files.write_layer(folder / "main.gpkg", [files.MAIN, beside])
    assert faults(folder) == [
        "area.toml [main_trail] line: main.gpkg:main holds 2 lines that do not join end to end; "
        "draw the main trail as one line (landing L2)"
    ]


def test_landings_as_a_list_of_places(folder: Path) -> None:
    spots = [(files.WEST + 200, files.NORTH - 258), (files.WEST + 260, files.NORTH - 258)]
    listed = "[" + ", ".join(f"[{x}, {y}]" for x, y in spots) + "]"
    files.write_toml(folder, landing__shape="", landing__at=listed, landing__area='"600 m^2"')
    area = read_area(folder)
    middles = [(s.centroid.x, s.centroid.y) for s in area.landings]
    assert middles == [pytest.approx(spot) for spot in spots]
    assert [s.area for s in area.landings] == pytest.approx([600, 600])
    files.write_layer(folder / "landing.gpkg", [Point(*spot) for spot in spots])
    files.write_toml(folder, landing__area='"600 m^2"')
    assert [s.equals(t) for s, t in zip(read_area(folder).landings, area.landings,
                                        strict=True)] == [True, True]  # fmt: skip


def test_landings_that_overlap_or_are_no_places_are_told(folder: Path) -> None:
    listed = (
        f"[[{files.WEST + 200}, {files.NORTH - 258}], [{files.WEST + 210}, {files.NORTH - 258}]]"
    )
    files.write_toml(folder, landing__shape="", landing__at=listed)
    assert faults(folder) == [
        "area.toml [landing] at: landings 1 and 2 of the list overlap, as large as area makes "
        "them; keep one of them, move one, or give a smaller area"
    ]
    files.write_toml(folder, landing__shape="", landing__at="[[-75.0, 44.2], [-75.1, 44.2]]")
    assert faults(folder) == [
        f"area.toml [landing] at: [{x}, 44.2] looks like degrees; write {{lon = ..., lat = ...}}"
        for x in ("-75", "-75.1")
    ]
    files.write_toml(folder, landing__shape="", landing__at="[]")
    assert faults(folder) == [
        "area.toml [landing] at: [] is no place; write [x, y] in the area's CRS or "
        "{lon = ..., lat = ...}, or for several landings a list of these"
    ]
