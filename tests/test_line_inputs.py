"""Property lines, water, hazards, main trails and landings as people bring them."""

from pathlib import Path

import area_files as files
import numpy as np
import phone_files as phone
import pyproj
import pytest
import shapely
from made_layers import (
    GROUND,
    Draw,
    beside,
    faults_of,
    layer,
    named,
    noisy,
    read,
    settings_of,
    steps,
    walk,
)
from shapely.geometry import (
    GeometryCollection,
    LineString,
    Point,
    Polygon,
    box,
)

from layout.area import read_area
from layout.errors import InputError, InputFaults
from layout.read_features import existing_trails, hazard_features, water_features
from layout.read_land import property_shape
from layout.read_landing import landing_shapes
from layout.read_lines import whole_line
from layout.read_main import main_trail_lines
from layout.read_vector import Layer, read_layer
from layout.rule_files import load_rule
from layout.shape_kinds import Wanted

# ---------------------------------------------------------------- property, water, hazards


def test_corners_are_no_property_line(tmp_path: Path) -> None:
    name = layer(Point(5e5, 4.9e6))(tmp_path)
    with pytest.raises(InputError) as caught:
        property_shape(read(tmp_path, name, "any"))
    assert faults_of(caught.value) == [
        "w.gpkg:w holds points; draw the line, or the polygon of the land"
    ]


def test_land_and_lines_together_are_lines(tmp_path: Path) -> None:
    name = layer(GROUND, LineString(phone.grid((100, 0), (300, 0))))(tmp_path)
    shape, _ = property_shape(read(tmp_path, name, "any"))
    assert shapely.get_dimensions(shape) == 1
    assert shape.length == pytest.approx(400 + 200)
    inside = Point(phone.grid((50, 50))[0])
    assert shape.distance(inside) == pytest.approx(50)  # not nought, as from an area


def water(tmp_path: Path, *shapes: shapely.Geometry, **columns: object) -> Layer:
    files.write_layer(tmp_path / "w.gpkg", list(shapes), crs="EPSG:32618", **columns)
    return read(tmp_path, "w.gpkg", "any")


BROOK = LineString([(5e5, 4.9e6), (5e5, 4.9001e6)])


def test_columns_in_capitals_and_widths_in_either_unit(tmp_path: Path) -> None:
    bodies, found = water_features(
        water(tmp_path, BROOK, BROOK, BROOK, WATER_CLASS=["Perennial", "PERENNIAL", "stream"],
              BANK_WIDTH_FT=[6.0, None, 0.0], Bank_Width_M=[None, 2.5, None])
    )  # fmt: skip
    assert [b.water_class for b in bodies] == ["perennial"] * 3
    assert [b.bank_width_m for b in bodies] == [pytest.approx(1.8288), 2.5, None]
    assert found == ()


@pytest.mark.parametrize(
    ("column", "values", "said"),
    [
        ("bank_width", [3.0, 4.0],
         ["w.gpkg:w: the column bank_width does not say its unit and is left out; name it "
          "bank_width_m or bank_width_ft."]),
        ("bank_width_m", ["wide", "3 m"],
         ["w.gpkg:w row 1: bank_width_m 'wide' is no width; it is left out.",
          "w.gpkg:w row 2: bank_width_m '3 m' is no width; it is left out."]),
        ("bank_width_ft", [-2.0, 1e9],
         ["w.gpkg:w row 1: bank_width_ft '-2' is no width; it is left out.",
          "w.gpkg:w row 2: bank_width_ft '1000000000' is no width; it is left out."]),
    ],
)  # fmt: skip
def test_a_width_that_cannot_be_used(
    column: str, values: list[object], said: list[str], tmp_path: Path
) -> None:
    bodies, found = water_features(
        water(tmp_path, BROOK, BROOK, water_class=["perennial"] * 2, **{column: values})
    )
    assert [b.bank_width_m for b in bodies] == [None, None]
    assert [f.message for f in found] == said


def test_a_class_of_the_chosen_rule_is_known_and_another_counts_as_perennial(
    tmp_path: Path,
) -> None:
    made = water(tmp_path, BROOK, BROOK, water_class=["Large stream", "class 1"])
    classes = load_rule("new-hampshire").classes
    bodies, found = water_features(made, classes)
    assert [b.water_class for b in bodies] == ["large_stream", "perennial"]
    assert [f.message for f in found] == [
        "Water W2: water_class 'class_1' is not known; it counts as perennial. Known are "
        "ephemeral, intermittent, large_stream, perennial, pond, small_pond, spring, well, wetland."
    ]


def test_waypoints_say_by_their_names_what_they_are(tmp_path: Path) -> None:
    name = walk(
        phone.waypoint("Spring 2", 5, 5),
        phone.waypoint("camp", 9, 9),
        phone.track("brook", [(0, 0), (50, 5)]),
    )(tmp_path)
    bodies, found = water_features(read(tmp_path, name, "any"))
    assert [(b.feature_id, b.water_class) for b in bodies] == [
        ("brook", "perennial"), ("Spring 2", "spring"), ("camp", "perennial"),
    ]  # fmt: skip
    assert [f.subject_id for f in found if f.code == "water_class"] == ["camp"]
    phone.gpx(tmp_path / "w.gpx", phone.waypoint("well", 5, 5), phone.waypoint("House 1", 9, 9))
    hazards, found = hazard_features(read(tmp_path, "w.gpx", "any"))
    assert [h.kind for h in hazards] == ["well", "house"]
    assert [f.code for f in found] == []


def test_an_old_trail_of_a_phone_in_pieces_keeps_its_breaks(tmp_path: Path) -> None:
    name = walk(phone.track("old", [(0, 0), (50, 0)], [(80, 0), (120, 0)]))(tmp_path)
    trails, _ = existing_trails(read(tmp_path, name, "line"))
    assert [t.trail_id for t in trails] == ["old-1", "old-2"]
    assert [t.line.length for t in trails] == [
        pytest.approx(50, abs=1e-3),
        pytest.approx(40, abs=1e-3),
    ]


# ---------------------------------------------------------------- main trail and landing

LANDING = box(*phone.grid((-10, -20))[0], *phone.grid((15, 0))[0])
UP = steps((0, 3), (0, 90), (30, 150), every=4.0, closed=False)


def main_of(
    tmp_path: Path, name: str, landing: Polygon | None = LANDING
) -> tuple[LineString | None, dict[str, str]]:
    def reader(table: str, key: str, file: str, wanted: Wanted) -> Layer:
        return read_layer(tmp_path, file, f"area.toml [{table}] {key}:", wanted, phone.GRID)

    lines, found = main_trail_lines(
        settings_of(main_trail={"line": name}), reader, [landing] if landing else [], "area.toml"
    )
    assert len(lines) == 1
    return lines[0], {f.code: f.message for f in found}


def refused_main(tmp_path: Path, name: str) -> str:
    with pytest.raises(InputError) as caught:
        main_of(tmp_path, name)
    return str(caught.value).removeprefix("area.toml [main_trail] line: ")


def test_a_phones_main_trail_is_kept_exactly_noise_and_all(tmp_path: Path) -> None:
    shaken = noisy(UP, 1.0)
    line, told = main_of(tmp_path, walk(phone.track("main", shaken))(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords, phone.grid(*shaken), atol=1e-3)
    assert told.pop("main_trail_walked") == (
        "w.gpx was walked with a phone or receiver and is kept exactly as it came. It may be off "
        "by 10 m or more, and its bends and grades with it: flag it, and look at it on the ground."
    )
    assert told == {}


def test_a_main_trail_walked_toward_the_landing_is_turned_and_said(tmp_path: Path) -> None:
    line, told = main_of(tmp_path, walk(phone.track("main", UP[::-1]))(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords[0], phone.grid(UP[0])[0], atol=1e-3)
    assert told["main_trail_turned"] == (
        "w.gpx was drawn toward the landing; it is taken from the landing outward."
    )
    straight, told = main_of(tmp_path, walk(phone.track("main", UP))(tmp_path))
    assert straight is not None and line.equals_exact(straight, 1e-3)
    assert "main_trail_turned" not in told


def test_a_main_trail_with_both_ends_by_the_landing(tmp_path: Path) -> None:
    loop = steps((0, 2), (-60, 60), (0, 120), (60, 60), (12, 2), closed=False)
    line, told = main_of(tmp_path, walk(phone.track("main", loop))(tmp_path))
    assert line is not None and line.length > 300
    assert told["main_trail_ends"].startswith("Both ends of w.gpx lie by the landing, so it is")


def test_a_drawn_main_trail_is_no_walk(tmp_path: Path) -> None:
    line, told = main_of(tmp_path, layer(LineString(phone.grid(*UP)))(tmp_path))
    assert line is not None and told == {}


@pytest.mark.parametrize(
    ("draw", "says"),
    [
        (walk(phone.track("main", [*UP, *beside(UP[::-1], 1.5, 1.0)])),
         "w.gpx goes out and comes back beside itself; keep one way of it, from the landing "
         "outward"),
        (layer(LineString(phone.grid((0, 0), (90, 0), (90, 2), (1, 2)))),
         "w.gpkg:w goes out and comes back beside itself; keep one way of it, from the landing "
         "outward"),
        (walk(phone.track("main", UP[:10], UP[20:])),
         "w.gpx breaks off and goes on 43 m away, at 500000, 4900082; draw it as one line"),
        (walk(phone.track("May", UP), phone.track("June", beside(UP, 30, 0))),
         "w.gpx holds 2 lines (May, June) that do not join end to end; draw the main trail as one "
         'line; to take one, name it, like "w.gpx:May"'),
        (layer(LineString(phone.grid((0, 0), (0, 50))), LineString(phone.grid((0, 50.4), (0, 90)))),
         "w.gpkg:w holds 2 lines that do not join end to end; draw the main trail as one line"),
        (walk(phone.track("main", [(0, 0), (0, 4)])),
         "w.gpx is 4.0 m long; grades are measured over 10 m, draw it longer"),
        (walk(phone.track("main", [(0, 0), (0, 0)])), "w.gpx has no length; draw it again or take "
         "it out"),
        (walk(phone.waypoint("gate", 0, 0)), "w.gpx holds no tracks or routes; record or export "
         "them"),
        (layer(GROUND), "w.gpkg:w row 1 is a Polygon; lines are needed here"),
    ],
)  # fmt: skip
def test_a_main_trail_that_cannot_be_used(draw: Draw, says: str, tmp_path: Path) -> None:
    assert refused_main(tmp_path, draw(tmp_path)) == says


def test_a_main_trail_of_pieces_that_nearly_meet_is_joined_and_said(tmp_path: Path) -> None:
    line, told = main_of(tmp_path, walk(phone.track("main", UP[:10], UP[10:]))(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords, phone.grid(*UP), atol=1e-3)
    assert told["main_trail_joined"] == (
        "w.gpx: 2 pieces of the walked line were joined; the widest break is 4.0 m."
    )


def test_a_main_trail_of_several_tracks_by_its_name(tmp_path: Path) -> None:
    draw = walk(phone.track("May", UP), phone.track("June", beside(UP, 30, 0)))
    line, _ = main_of(tmp_path, named(draw, "June")(tmp_path))
    assert line is not None
    np.testing.assert_allclose(line.coords[0], phone.grid((30, 3))[0], atol=1e-3)


def test_a_switchback_is_not_out_and_back() -> None:
    legs = [(0, 0), (80, 10), (84, 22), (0, 24), (-4, 36), (80, 48)]
    made = whole_line(LineString(legs), "w", "switchback", [], code="c")
    assert len(made.coords) == 6


def landing_of(tmp_path: Path, name: str) -> tuple[Polygon | None, list[str]]:
    def reader(table: str, key: str, file: str, wanted: Wanted) -> Layer:
        return read_layer(tmp_path, file, f"area.toml [{table}] {key}:", wanted, phone.GRID)

    shapes, found = landing_shapes(
        settings_of(landing={"shape": name, "area": "400 m^2"}), reader, phone.GRID, "area.toml"
    )
    assert len(shapes) == 1
    return shapes[0], [f.code for f in found]


def test_a_landing_walked_round_or_marked_by_a_waypoint(tmp_path: Path) -> None:
    ring = steps((0, 0), (25, 0), (25, 20), (0, 20), every=2.5)
    shape, told = landing_of(tmp_path, walk(phone.track("landing", ring))(tmp_path))
    assert shape is not None and shape.area == pytest.approx(500, rel=0.01)
    assert told == ["line_closed"]
    shape, told = landing_of(tmp_path, walk(phone.waypoint("landing", 10, 10))(tmp_path))
    assert shape is not None and shape.area == pytest.approx(400)
    assert told == []


# ---------------------------------------------------------------- all at once


def test_the_faults_of_every_layer_are_told_together(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    files.write_layer(folder / "stand.gpkg", [files.bow_tie()])
    files.write_layer(folder / "w.gpkg", [GeometryCollection([Point(5e5, 4.9e6), files.MAIN])])
    x, y = files.WEST + 200, files.NORTH - 244
    there_and_back = LineString([(x, y), (x, y + 70), (x + 2, y + 70), (x + 2, y + 1)])
    files.write_layer(folder / "main.gpkg", [there_and_back])
    files.write_layer(folder / "p.gpkg", [Point(5e5, 4.9e6)])
    (folder / "ours.toml").write_text('format = 1\nname = "ours"\n', encoding="utf-8")
    files.write_toml(
        folder,
        property__line='"p.gpkg"',
        water__features='"w.gpkg"',
        water__rules='["ours.toml", "slope-50"]',
    )
    with pytest.raises(InputFaults) as caught:
        read_area(folder)
    told = list(caught.value.faults)
    for start in (
        "area.toml [stand] boundary: stand.gpkg:stand row 1 crosses or covers itself at 500200, ",
        "area.toml [property] line: p.gpkg:p holds points; draw the line",
        "ours.toml: title is missing; add title to the header",
        "ours.toml: has no [[row]]; give at least one",
        'there is no rule "slope-50"; known are california, ',
        "area.toml [water] features: w.gpkg:w row 1 is a GeometryCollection; split it into",
        "area.toml [main_trail] line: main.gpkg:main goes out and comes back beside itself",
    ):
        assert [line.startswith(start) for line in told].count(True) == 1, start
    assert all("\n" not in line for line in told)


def test_help_is_not_sent_to_a_gate_that_is_elsewhere(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    files.write_toml(folder, access__gate="[-75.0, 44.2]", access__helispot="[590000, 4900200]",
                     access__meet_at="{lon = -75.0, lat = 45.9}")  # fmt: skip
    with pytest.raises(InputFaults) as caught:
        read_area(folder)
    gate, meet_at, helispot = caught.value.faults
    assert meet_at.startswith("area.toml [access] meet_at: lies ")
    assert (gate, helispot) == (
        "area.toml [access] gate: [-75, 44.2] looks like degrees; write {lon = ..., lat = ...}",
        "area.toml [access] helispot: lies 90 km from the stand, at 590000, 4900200 in NAD83 / "
        "UTM zone 18N; help would be sent there. [x, y] are metres of that grid, degrees are "
        "written {lon = ..., lat = ...}",
    )
    files.write_toml(folder, access__gate="{lon = -75.0, lat = 44.25}")
    assert read_area(folder).settings.access.gate is not None


def test_the_stand_in_is_no_rule_to_name(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    files.write_toml(folder, water__rules='["no-rule-chosen"]')
    with pytest.raises(InputError) as caught:
        read_area(folder)
    assert str(caught.value) == (
        "area.toml [water] rules: no-rule-chosen is a stand-in and no rule of any place; name "
        "the rule of yours, or leave the key out"
    )


def test_a_walked_boundary_widens_the_line_of_a_whole_area(tmp_path: Path) -> None:
    folder = files.tidy_area(tmp_path / "lot")
    to_degrees = pyproj.Transformer.from_crs(26918, 4326, always_xy=True)
    ring = shapely.segmentize(files.STAND.exterior, 5.0)
    points = "".join(
        f'<trkpt lat="{lat:.9f}" lon="{lon:.9f}"><hdop>1.2</hdop></trkpt>'
        for lon, lat in (to_degrees.transform(*p) for p in ring.coords)
    )
    track = f"<trk><name>edge</name><trkseg>{points}</trkseg></trk>"
    (folder / "walk.gpx").write_text(phone.GPX.format(track), encoding="utf-8")
    files.write_toml(folder, property="", stand__boundary='"walk.gpx"')
    area = read_area(folder)
    assert area.stand.area == pytest.approx(10_000, rel=1e-3)
    assert area.settings.property.error_m == pytest.approx(12.0)
    codes = [f.code for f in area.findings]
    assert {"line_closed", "crs_shift", "property_error_widened"} <= set(codes)
