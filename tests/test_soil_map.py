"""Soil maps: words of soil surveys, all faults at once, and what lies on wet ground."""

from pathlib import Path
from typing import Any

import area_files as files
import numpy as np
import pytest
from made_ground import area_of, at, landing_of, main_trail, settings_of, strips_of, terrain_of
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from layout import soil
from layout.area import read_area
from layout.checks import check_layout
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.ground import wet_factor, wet_reach
from layout.records import TrailStep, WinchPosition
from layout.site import Area, DrainageClass, SoilUnit, WaterFeature
from layout.soil_map import drainage_word, drained_as, wet_ground

GENTLE = terrain_of(lambda x, y: 100 + 0.04 * y + 0.05 * x)
W = "area.toml [soil] map: soil.gpkg:soil"
WEST_HALF = box(files.WEST + 100, files.NORTH - 300, files.WEST + 200, files.NORTH - 100)
EAST_HALF = box(files.WEST + 200, files.NORTH - 300, files.WEST + 300, files.NORTH - 100)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        # The seven classes of the Soil Survey Manual, as surveys write them.
        ("Excessively drained", "excessively"),
        ("Somewhat excessively drained", "somewhat excessively"),
        ("Well drained", "well"),
        ("Moderately well drained", "moderately well"),
        ("Somewhat poorly drained", "somewhat poorly"),
        ("Poorly drained", "poorly"),
        ("Very poorly drained", "very poorly"),
        ("Subaqueous", "very poorly"),
        ("very_poorly", "very poorly"),
        ("  MODERATELY  WELL ", "moderately well"),
        ("imperfectly", "somewhat poorly"),
        ("SP", "somewhat poorly"),
        ("", ""),
        ("drained", ""),
        ("poor", None),
        ("3", None),
    ],
)
def test_words_of_surveys(text: str, read: str | None) -> None:
    assert drainage_word(text) == read


def mapped(folder: Path, shapes: list[BaseGeometry], **columns: list[Any]) -> Area:
    files.tidy_area(folder, soil__map='"soil.gpkg"')
    files.write_layer(folder / "soil.gpkg", shapes, **columns)
    return read_area(folder)


def faults(folder: Path, shapes: list[BaseGeometry], **columns: list[Any]) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        mapped(folder, shapes, **columns)
    error = caught.value
    return error.faults if isinstance(error, InputFaults) else (str(error),)


def code(found: tuple[Finding, ...], name: str) -> Finding:
    (one,) = [f for f in found if f.code == name]
    return one


@pytest.mark.parametrize("column", ["drainage_class", "drainagecl", "drclassdcd", "DRAINAGECL"])
def test_a_map_is_read(tmp_path: Path, column: str) -> None:
    classes = {column: ["Well drained", "Very poorly drained"], "musym": ["CfB", "Wa"]}
    area = mapped(tmp_path, [WEST_HALF, EAST_HALF], **classes)
    assert [(u.unit_id, u.drainage_class) for u in area.soil_map] == [
        ("CfB", "well"),
        ("Wa", "very poorly"),
    ]
    assert wet_ground(area).equals(EAST_HALF)
    assert not [f for f in area.findings if f.code.startswith("soil_map")]


def test_all_faults_of_a_map_are_told_at_once(tmp_path: Path) -> None:
    found = faults(
        tmp_path,
        [WEST_HALF, EAST_HALF, WEST_HALF],
        drainage_class=["soggy", "well", "so-so"],
    )
    assert len(found) == 2
    assert found[0].startswith("area.toml [soil] map: soil.gpkg:soil row 1: drainage_class 'soggy'")
    assert "row 3: drainage_class 'so-so' is not known; write one of excessively" in found[1]


def test_many_faults_of_one_kind_are_cut_short(tmp_path: Path) -> None:
    found = faults(tmp_path, [WEST_HALF] * 30, drainage_class=["?"] * 30)
    assert len(found) == 21
    assert found[-1].endswith("soil.gpkg:soil: 10 more rows like these")


def test_faults_of_a_map_stand_with_those_of_other_inputs(tmp_path: Path) -> None:
    files.tidy_area(tmp_path, soil__map='"soil.gpkg"', ground__keep_out='"none.gpkg"')
    files.write_layer(tmp_path / "soil.gpkg", [WEST_HALF], drainage_class=["soggy"])
    with pytest.raises(InputFaults) as caught:
        read_area(tmp_path)
    assert len(caught.value.faults) == 2


@pytest.mark.parametrize(
    ("shapes", "columns", "words"),
    [
        ([WEST_HALF], {"class": ["well"]}, "has no column drainage_class (it holds class); add"),
        (
            [Point(files.WEST, files.NORTH)],
            {"drainage_class": ["well"]},
            "row 1 is a Point; polygons are needed",
        ),
        (
            [box(0, 0, 10, 10)],
            {"drainage_class": ["well"]},
            "does not touch the stand; is it in the right CRS",
        ),
    ],
)
def test_maps_that_cannot_be_used(
    tmp_path: Path, shapes: list[BaseGeometry], columns: dict[str, list[str]], words: str
) -> None:
    (fault,) = faults(tmp_path, shapes, **columns)
    assert words in fault


def test_a_missing_map_is_named(tmp_path: Path) -> None:
    files.tidy_area(tmp_path, soil__map='"soil.gpkg"')
    with pytest.raises(InputError, match=r"\[soil\] map: .*soil\.gpkg"):
        read_area(tmp_path)


def test_blank_classes_count_as_poorly_drained_and_gaps_are_told(tmp_path: Path) -> None:
    area = mapped(tmp_path, [WEST_HALF], drainage_class=[""], musym=["Ur"])
    blank = code(area.findings, "soil_map_blank")
    assert blank.level == "caution"
    assert "1 polygon says no drainage class (Ur) and counts as poorly drained" in blank.message
    assert wet_ground(area).equals(WEST_HALF)
    gap = code(area.findings, "soil_map_gap")
    assert gap.level == "unknown"
    assert gap.value == pytest.approx(50)
    assert "0.50 ha of the stand (50 %)" in gap.message


def test_polygons_of_a_whole_county_stay_behind(tmp_path: Path) -> None:
    far = box(files.WEST + 9000, files.NORTH, files.WEST + 9100, files.NORTH + 100)
    area = mapped(tmp_path, [WEST_HALF, EAST_HALF, far], drainage_class=["well", "well", "poorly"])
    assert len(area.soil_map) == 2


def test_wet_ground_is_wetland_and_poor_drainage() -> None:
    fen = box(*at(0, 0), *at(50, 50))
    seep = box(*at(100, 100), *at(150, 150))
    units = (
        SoilUnit("1", "poorly", seep),
        SoilUnit("2", "somewhat poorly", box(*at(200, 200), *at(300, 300))),
    )
    water = (
        WaterFeature("w", "wetland", fen),
        WaterFeature("b", "perennial", LineString([at(0, 300), at(300, 300)])),
    )
    area = area_of(GENTLE, soil_map=units, water=water)
    assert wet_ground(area).area == pytest.approx(2 * 2500)
    assert drained_as(area, frozenset({"somewhat poorly"})).area == pytest.approx(1e4)
    assert wet_ground(area_of(GENTLE)).is_empty


def test_trails_on_poorly_drained_soil_cost_the_router_more() -> None:
    soils = (
        SoilUnit("1", "poorly", box(*at(0, 100), *at(400, 200))),
        SoilUnit("2", "well", box(*at(0, 200), *at(400, 400))),
    )
    # Ground that sheds water evenly, so that nothing but the map makes it wet.
    area = area_of(GENTLE, settings_of(objective={"wet_ground": 2.5}), soil_map=soils)
    reach = wet_reach(area, GENTLE, 3.0)
    x, y = (np.array(part) for part in zip(at(200, 150), at(200, 201), at(200, 260), strict=True))
    assert wet_factor(area, reach, x, y).tolist() == [2.5, 2.5, 1.0]


def test_steps_on_poorly_drained_soil_count_as_wet() -> None:
    area = area_of(GENTLE, soil_map=(SoilUnit("1", "poorly", box(*at(0, 100), *at(400, 200))),))
    steps = [
        TrailStep("M1", s, s + 10, 0, 0, loads=12, line=LineString([at(200, s), at(200, s + 10)]))
        for s in (50.0, 150.0)
    ]
    classed = soil.classed(area, steps, wet_ground(area))
    assert [step.soil_class for step in classed] == [2, 3]


def on_soil(
    drainage: DrainageClass, condition: str, south: float = 100, north: float = 160
) -> list[Finding]:
    """Check a main trail 300 m long with a position, across a band of one soil."""
    band = SoilUnit("Wa", drainage, box(*at(0, south), *at(400, north)))
    dry = SoilUnit("Cf", "well", box(*at(0, 0), *at(400, 400)))
    area = area_of(GENTLE, settings_of(ground={"condition": condition}), soil_map=(band, dry))
    trail = main_trail((200, 50), (200, 350))
    x, y = at(200, 120)
    parked = WinchPosition("P1", "M1", "L1", 70, x, y, 0, 0, 0, 0, 0)
    found = check_layout(
        area, GENTLE, strips_of(GENTLE), landing_of(200, 40, 10), [trail], [parked]
    )
    return [f for f in found if f.code.startswith("soil_wet")]


@pytest.mark.parametrize(
    ("drainage", "condition", "level"),
    [
        ("poorly", "dry", "caution"),
        ("very poorly", "dry", "caution"),
        ("", "dry", "caution"),
        ("poorly", "frozen", "caution"),
        ("poorly", "wet", "stop"),
        ("very poorly", "wet", "stop"),
        ("", "wet", "stop"),
        ("somewhat poorly", "wet", "caution"),
    ],
)
def test_wet_season_gate(drainage: DrainageClass, condition: str, level: str) -> None:
    found = on_soil(drainage, condition)
    assert {f.code for f in found} == {"soil_wet_trail", "soil_wet_parking"}
    assert {f.level for f in found} == {level}
    trail = code(tuple(found), "soil_wet_trail")
    # The band lies from 50 to 110 m along the trail.
    assert trail.value == pytest.approx(60, abs=1e-6)
    assert (trail.from_m, trail.to_m) == (pytest.approx(50), pytest.approx(110))
    assert not trail.confirmed
    wanted = {"dry": "first rain", "wet": "dry or frozen hard", "frozen": "first thaw"}[condition]
    assert all(wanted in f.message for f in found)


@pytest.mark.parametrize(
    ("drainage", "condition"),
    [("somewhat poorly", "dry"), ("somewhat poorly", "frozen"), ("moderately well", "wet"),
     ("well", "wet"), ("excessively", "wet")],
)  # fmt: skip
def test_soil_that_bears_asks_for_a_look_only(drainage: DrainageClass, condition: str) -> None:
    (found,) = on_soil(drainage, condition)
    assert (found.code, found.level) == ("soil_wet", "ok")
    assert "safe" not in found.message


def test_a_landing_on_wet_soil() -> None:
    found = on_soil("poorly", "wet", south=41, north=49)
    landing = code(tuple(found), "soil_wet_landing")
    assert landing.level == "stop"
    assert landing.value == pytest.approx(40)


def test_without_a_map_nothing_is_said() -> None:
    found = check_layout(
        area_of(GENTLE), GENTLE, strips_of(GENTLE), None, [main_trail((200, 50), (200, 350))]
    )
    assert not [f for f in found if f.code.startswith("soil_wet")]
