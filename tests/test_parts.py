"""Stands in parts and several landings: read, planned part by part, written."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import area_files as files
import jsonschema
import plan_checker
import pyogrio
import pytest
import shapely
import work_checker
from made_plan import layout_only
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from small_areas import MIDDLE, path, plot, settings_of, wood

import layout
from layout import naming, read_progress
from layout.area import read_area
from layout.errors import InputError, InputFaults
from layout.outputs import write_plan
from layout.outputs.crew import emergency
from layout.plan import Plan
from layout.site import Area, FurtherLanding
from tests.made_wide_stands import wide_stand

SCHEMA = Path(layout.__file__).parent / "tables" / "plan.schema.json"
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


# ---------------------------------------------------------------- planned part by part

WEST_PART, EAST_PART = plot(-84, -84, -30, 84), plot(30, -84, 84, 84)
WEST_YARD, EAST_YARD = plot(-72, -80, -46, -54), plot(44, -80, 70, -54)
SPOTS = [(-66, -30), (-46, -8), (-64, 18), (-42, 40)]


def rows(*parts: int) -> list[dict[str, Any]]:
    """Give four marked trees in a part, -1 west and 1 east, and some that stay."""
    there = [(side * -x if side > 0 else x, y) for side in parts for x, y in SPOTS]
    stay = [(side * -x + 9 if side > 0 else x - 9, y + 9) for side in parts for x, y in SPOTS]
    return [{"x": x, "y": y, "marked": True} for x, y in there] + [
        {"x": x, "y": y} for x, y in stay
    ]


def job(**fields: Any) -> Area:
    plain: dict[str, Any] = {
        "rows": rows(-1, 1),
        "stand": MultiPolygon([WEST_PART, EAST_PART]),
        "landing": WEST_YARD,
        "main_trail": path((-59, -54), (-56, -30), (-54, 0), (-53, 30), (-52, 55)),
    }
    return wood(**(plain | fields))


def second(main: LineString | None = None) -> FurtherLanding:
    return FurtherLanding("L2", EAST_YARD, "M2", main)


@pytest.fixture(scope="module")
def both() -> Plan:
    """Plan two parts with a landing and a main trail drawn in each."""
    there = path((57, -54), (56, -30), (54, 0), (53, 30), (52, 55))
    return layout_only(job(more_landings=(second(there),)))


def statuses(plan: Plan, east: bool) -> set[str]:
    xs = dict(zip(plan.area.trees.tree_id, plan.area.trees.x, strict=True))
    return {
        o.status for o in plan.trees if o.status != "leave" and (xs[o.tree_id] > MIDDLE[0]) == east
    }


def sound(plan: Plan) -> None:
    """Assert that neither we nor the second opinions find anything wrong."""
    assert [f.message for f in plan.findings if f.level == "stop"] == []
    assert plan_checker.of_plan(plan) == []
    assert work_checker.of_work(plan) == []


def codes(plan: Plan) -> set[str]:
    return {finding.code for finding in plan.findings}


def test_each_part_is_served_from_the_landing_drawn_in_it(both: Plan) -> None:
    sound(both)
    assert [one.landing_id for one in both.landings] == ["L1", "L2"]
    for trail in both.trails:
        east = trail.line.centroid.x > MIDDLE[0]
        assert trail.landing_id == ("L2" if east else "L1"), trail.trail_id
    assert {t.trail_id: t.landing_id for t in both.trails if t.kind == "main"} == {
        "M": "L1", "M2": "L2",
    }  # fmt: skip
    for spot in both.positions:
        assert spot.landing_id == ("L2" if spot.x > MIDDLE[0] else "L1")
    assert statuses(both, east=False) | statuses(both, east=True) <= {"served", "with_trail"}
    assert both.soil.landing_m2 == pytest.approx(2 * 26 * 26)


def test_the_work_of_one_part_ends_before_the_next_begins(both: Plan) -> None:
    assert both.work is not None
    named = [step.landing_id for step in both.work.steps]
    assert named == sorted(named)
    assert set(named) == {"L1", "L2"}
    last = {step.landing_id: step.kind for step in both.work.steps}
    assert last == {"L1": "landing", "L2": "landing"}
    by_trail = {trail.trail_id: trail.landing_id for trail in both.trails}
    for turn in both.work.turns:
        assert turn.landing_id == by_trail.get(turn.trail_id, turn.landing_id)
    each = both.work.at_landings
    assert [at.landing_id for at in each] == ["L1", "L2"]
    whole = sum(sort.wood_m3 for sort in both.work.trucking.sorts)
    parts = [sum(sort.wood_m3 for sort in at.trucking.sorts) for at in each]
    assert whole == pytest.approx(sum(parts))
    assert min(parts) > 0
    assert both.work.trucking.loads == sum(at.trucking.loads for at in each)


@pytest.mark.slow
def test_a_part_joined_by_a_field_is_served_from_the_same_landing() -> None:
    # every tree is worth its trail, so that only the ground decides
    dear = settings_of(objective={"serve_worth": "1000 m^2"})
    field = MultiPolygon([plot(-30, -84, 30, 84)])
    plan = layout_only(job(may_use=field, main_trail=None, settings=dear))
    sound(plan)
    assert len(plan.landings) == 1
    assert {t.landing_id for t in plan.trails} == {"L1"}
    assert statuses(plan, east=True) <= {"served", "with_trail"}
    assert not {"part_unreached", "landing_proposed"} & codes(plan)


def test_a_part_that_cannot_be_reached_gets_a_landing_of_its_own() -> None:
    wide = plot(30, -84, 112, 84)
    plan = layout_only(job(stand=MultiPolygon([WEST_PART, wide])))
    sound(plan)
    assert [one.landing_id for one in plan.landings] == ["L1", "L2"]
    assert wide.covers(plan.landings[1].shape)
    assert "served" in statuses(plan, east=True)
    (told,) = [f for f in plan.findings if f.code == "landing_proposed"]
    assert told.subject_id == "L2"
    assert told.message.startswith("Part 2 of the stand (1.38 ha round [500071, 4700000]) cannot ")


def test_a_part_nothing_gets_to_is_told_once_and_one_without_marked_trees_too() -> None:
    strip = plot(60, -84, 76, 84)  # no landing of the size set has room in it
    thin = [row | ({"x": 66 + (k % 2) * 4} if row["x"] > 0 else {})
            for k, row in enumerate(rows(-1, 1))]  # fmt: skip
    plan = layout_only(
        job(stand=MultiPolygon([WEST_PART, strip, plot(0, -84, 30, -60)]), rows=thin)
    )
    sound(plan)
    assert len(plan.landings) == 1
    (told,) = [f for f in plan.findings if f.code == "part_unreached"]
    assert told.message == (
        "Part 2 of the stand (2,688 m² round [500068, 4700000]), 4 marked trees: no trail within "
        "the limits comes there from a landing, and no place was found there for one of 607 m² "
        "that a trail gets away from. Draw a landing for it, or give ground in may_use that leads "
        "there."
    )
    assert statuses(plan, east=True) == {"no_trail"}
    (told,) = [f for f in plan.findings if f.code == "part_unmarked"]
    assert (told.level, told.message) == (
        "ok",
        "Part 3 of the stand (720 m² round [500015, 4699928]): no marked tree is left to bring "
        "out there; nothing is planned for it.",
    )
    left = [o for o in plan.trees if o.status == "no_trail"]
    assert {o.remedies for o in left} == {
        ("draw a landing in that part of the stand", "ground in may_use that leads to that part")
    }


@pytest.mark.slow
def test_two_parts_with_nothing_drawn() -> None:
    wide = MultiPolygon([plot(-112, -84, -30, 84), plot(30, -84, 112, 84)])
    plan = layout_only(job(landing=None, main_trail=None, stand=wide))
    sound(plan)
    assert [one.landing_id for one in plan.landings] == ["L1", "L2"]
    sides = {one.x > MIDDLE[0] for one in plan.landings}
    assert sides == {True, False}
    for east in (True, False):
        assert "served" in statuses(plan, east=east)


@pytest.mark.slow
def test_a_drawn_landing_no_trail_gets_away_from_is_told() -> None:
    boxed = Polygon(EAST_YARD.buffer(9).exterior, [EAST_YARD.buffer(1).exterior])
    plan = layout_only(job(more_landings=(second(),), keep_out=(boxed,)))
    (told,) = [f for f in plan.findings if f.code == "landing_no_way"]
    assert told.subject_id == "L2"
    assert told.message.startswith("Landing L2: no ")
    assert {t.landing_id for t in plan.trails} == {"L1"}


# ---------------------------------------------------------------- written


@pytest.mark.slow
def test_every_output_names_both_landings(both: Plan, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_plan(both, out)
    data = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    form = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(form).validate(data)
    assert [row["landing_id"] for row in data["landings"]] == ["L1", "L2"]
    assert data["landings"][0] == data["landing"]
    rows_of = pyogrio.read_dataframe(out / "plan.gpkg", layer="landing")
    assert rows_of.landing_id.tolist() == ["L1", "L2"]
    spots = pyogrio.read_dataframe(out / "plan.gpkg", layer="winch_positions")
    assert set(spots.landing_id) == {"L1", "L2"}
    gpx = (out / "plan.gpx").read_text(encoding="utf-8")
    assert "<name>LANDING1</name>" in gpx
    assert "<name>LANDING2</name>" in gpx
    kml = (out / "plan.kml").read_text(encoding="utf-8")
    assert "Landing L1" in kml
    assert "Landing L2" in kml
    report = (out / "report.html").read_text(encoding="utf-8")
    for words in ("Landing L1 last of its part", "Landing L2 last of its part", "landing L2",
                  "Walk and flag M2"):  # fmt: skip
        assert words in report.replace("\N{NO-BREAK SPACE}", " "), words
    places = [name for name, _ in emergency._places(both)]
    assert places == ["gate", "landing L1", "landing L2", "helispot"]
    earlier = read_progress.earlier_plan(out, both.area.crs, needed=True)
    assert earlier is not None
    assert len(earlier.landings) == 2
    assert naming.main_names(2, earlier) == ["M", "M2"]


@pytest.mark.slow
def test_each_landing_gets_the_arms_that_pay() -> None:
    """One line from each landing goes one way; an arm goes the other, named by no other trail."""
    wide = wide_stand((860.0, 120.0), (215.0, 20.0), marked_per_ha=7.0)
    assert wide.landing is not None
    there = shapely.affinity.translate(wide.landing, 430, 0)
    plan = layout_only(replace(wide, more_landings=(FurtherLanding("L2", there, "M2", None),)))
    sound(plan)
    mains = {t.trail_id: t for t in plan.trails if t.kind == "main"}
    roots = {"M": "L1", "M2": "L2"}
    assert {name: mains[name].landing_id for name in roots} == roots
    arms = [trail for name, trail in mains.items() if name not in roots]
    assert arms
    assert len({t.trail_id for t in plan.trails}) == len(plan.trails)
    for arm in arms:
        if arm.joins_id:
            host = mains[arm.joins_id]
            assert host.landing_id == arm.landing_id
            start = Point(arm.line.coords[0])
            assert host.line.interpolate(arm.joins_at_m).distance(start) < 0.05
        else:
            yard = next(one for one in plan.landings if one.landing_id == arm.landing_id)
            assert yard.shape.distance(Point(arm.line.coords[0])) < 1.0
    earlier = SimpleNamespace(trails=plan.trails, positions=(), retired=())
    assert naming.main_names(2, earlier) == ["M", "M2"]  # type: ignore[arg-type]
