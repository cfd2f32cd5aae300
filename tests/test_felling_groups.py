"""Where the tractor waits, on a straight trail where every distance is Pythagoras.

Two tree lengths: sources.FELLING_DISTANCE, with the case of OSHA directive CPL 2-1.19
(an 80 ft tree: 150 ft is too near, 165 ft is not).
"""

import math
from dataclasses import replace
from typing import Any

import pytest
from made_ground import area_of, at, landing_of, main_trail, settings_of, spur, terrain_of, trees_of
from made_loads import position

from layout.felling_groups import felling_groups, waiting_findings
from layout.records import FellingGroup, Trail, WinchPosition
from layout.site import FixedTrail, ProgressRow
from layout.terrain import Terrain, station_table
from layout.work_records import WorkKind, WorkStep

FLAT = terrain_of(lambda x, y: 100 + 0 * x)
MAIN = main_trail((200, 40), (200, 340))
SPUR = spur("S1", MAIN, 100, (260, 200))  # its mouth is at (200, 140)
YARD = landing_of(200, 30)
FT = 0.3048


def groups(
    rows: list[dict[str, Any]],
    places: tuple[WinchPosition, ...],
    *,
    trails: tuple[Trail, ...] = (MAIN,),
    terrain: Terrain = FLAT,
    acts: tuple[tuple[WorkKind, str], ...] | None = None,
    opened: tuple[str, ...] = (),
) -> tuple[FellingGroup, ...]:
    """Give the groups of an order: every trail opened, then position by position felled."""
    known = [{"position_error_m": 0.0, "marked": True, **row} for row in rows]
    area = area_of(terrain, settings_of(stand={"position_error": "1 m"}), trees=trees_of(known))
    names = {t.trail_id for t in trails}
    area = replace(
        area,
        progress=tuple(ProgressRow(n, name, "opened") for n, name in enumerate(opened, start=2)),
        fixed=tuple(FixedTrail(t.trail_id, t.kind, t.line) for t in trails if t.trail_id in opened),
    )
    stations = {t.trail_id: station_table(terrain, t.line, t.width_m) for t in trails}
    by_name = {p.position_id: p for p in places}
    if acts is None:
        acts = (*(("open", t.trail_id) for t in trails), *(("fell", p) for p in by_name))
    steps = [
        WorkStep(k, kind, name if name in names else by_name[name].trail_id, "" if name in names
                 else name, () if name in names else by_name[name].tree_ids)
        for k, (kind, name) in enumerate(acts, start=1)
    ]  # fmt: skip
    return felling_groups(area, YARD, trails, stations, places, steps)


def test_it_waits_at_the_first_station_outside_the_circle_toward_the_landing() -> None:
    # 20 m beside station 100, 20 m high: 40^2 - 20^2 = 34.6^2, so 35 stations on
    (group,) = groups([{"x": 220, "y": 140}], (position("W1", MAIN, 100.0, "T1"),))
    assert (group.trail_id, group.at_m, group.travel_m) == ("M1", 65.0, 35.0)
    assert group.reach_m == pytest.approx(40.0)
    assert (group.x, group.y) == pytest.approx(at(200, 105))
    assert group.tree_ids == ("T1",)


def test_the_error_of_a_trees_place_is_added() -> None:
    tree = {"x": 220, "y": 140, "position_error_m": 3.0}  # 43^2 - 20^2 = 38.1^2
    (group,) = groups([tree], (position("W1", MAIN, 100.0, "T1"),))
    assert group.at_m == 61.0


def test_it_keeps_outside_the_circles_of_all_trees_of_the_group() -> None:
    rows = [{"x": 220, "y": 140}, {"x": 190, "y": 110, "height_m": 25.0}]
    (group,) = groups(rows, (position("W1", MAIN, 100.0, "T1", "T2"),))
    assert group.x is not None
    assert group.y is not None
    for row in rows:
        away = math.dist((group.x, group.y), at(row["x"], row["y"]))
        assert away >= 2 * row.get("height_m", 20.0)
    assert group.reach_m == pytest.approx(50.0)


@pytest.mark.parametrize(("away_ft", "near"), [(150, True), (165, False)])
def test_the_published_case_of_an_80_ft_tree(away_ft: float, near: bool) -> None:
    tree = {"x": 200, "y": 140, "height_m": 80 * FT}
    helper = position("W2", MAIN, 100 + away_ft * FT, "T9")
    rows = [tree, {"tree_id": "T9", "x": 200, "y": 390, "height_m": 5.0}]
    first, _ = groups(rows, (position("W1", MAIN, 100.0, "T1"), helper))
    assert first.clear_positions == (("W2",) if near else ())
    assert first.travel_m is not None
    assert first.travel_m >= 160 * FT


@pytest.mark.parametrize(("y", "busy"), [(72.0, True), (90.0, False)])
def test_the_landing_is_cleared_where_a_tree_reaches_it(y: float, busy: bool) -> None:
    # the yard ends at y = 42.5; two lengths are 40 m
    (group,) = groups([{"x": 200, "y": y}], (position("W1", MAIN, 60.0, "T1"),))
    assert group.clear_landing == busy


@pytest.mark.parametrize(("y", "reached"), [(72.0, True), (83.0, False)])
def test_it_never_waits_on_a_landing_that_is_to_be_clear(y: float, reached: bool) -> None:
    # a trail of 60 m, all of it within 40 m; the landing's middle is at y = 30, its edge at 42.5
    short = main_trail((200, 43), (200, 103))
    (group,) = groups([{"x": 200, "y": y}], (position("W1", short, 50.0, "T1"),), trails=(short,))
    assert group.clear_landing == reached
    assert group.trail_id == (None if reached else "")


def test_nor_at_a_station_that_lies_on_it() -> None:
    # stations 0 to 22 lie on the landing; 40 m from the tree at y = 72 they are clear up to 12
    far = main_trail((200, 20), (200, 340))
    (group,) = groups([{"x": 200, "y": 72}], (position("W1", far, 15.0, "T1"),), trails=(far,))
    assert group.clear_landing
    assert group.at_m == 92.0


def test_it_waits_near_level_where_it_can() -> None:
    # the trail falls away at 20 % between y = 60 and y = 110, where the first clear stations are
    steep = terrain_of(lambda x, y: 100 - 0.2 * (y.clip(60, 110) - 60))
    (group,) = groups([{"x": 220, "y": 140}], (position("W1", MAIN, 100.0, "T1"),), terrain=steep)
    assert group.at_m == 135.0  # beyond the position, as far off as the steep one


def test_a_tree_near_the_landing_sends_it_out_and_one_far_out_in() -> None:
    (near,) = groups([{"x": 205, "y": 60}], (position("W1", MAIN, 20.0, "T1"),))
    assert near.trail_id == "M1"
    assert near.at_m is not None
    assert near.at_m > 55
    (far,) = groups([{"x": 205, "y": 335}], (position("W1", MAIN, 295.0, "T1"),))
    assert far.at_m is not None
    assert far.at_m < 260


def test_where_no_station_is_far_enough_there_is_none() -> None:
    short = main_trail((200, 40), (200, 60))
    tree = {"x": 203, "y": 50, "height_m": 60.0}
    (group,) = groups([tree], (position("W1", short, 10.0, "T1"),), trails=(short,))
    assert (group.trail_id, group.at_m, group.x, group.travel_m) == (None, None, None, None)
    assert group.clear_landing


def test_travel_goes_by_the_mouth_from_spur_to_main() -> None:
    # on the spur 30 m up; the circle of 30 m round its tree takes in the mouth and the spur
    place = position("W1", SPUR, 30.0, "T1")
    rows = [{"x": place.x - 500_000.0, "y": place.y - 4_700_000.0, "height_m": 25.0}]
    (group,) = groups(rows, (place,), trails=(MAIN, SPUR))
    assert group.trail_id in ("M1", "S1")
    if group.trail_id == "S1":
        assert group.at_m is not None
        assert group.travel_m == pytest.approx(abs(group.at_m - 30))
    else:
        assert group.at_m is not None
        assert group.travel_m == pytest.approx(30 + abs(group.at_m - 100))


def test_a_height_not_measured_counts_as_the_tallest_measured_at_least() -> None:
    rows = [
        {"x": 220, "y": 140, "height_m": math.nan},
        *({"x": 50, "y": 50 + n, "height_m": 33.0} for n in range(3)),
    ]
    (group,) = groups(rows, (position("W1", MAIN, 100.0, "T1"),))
    assert group.reach_m >= 2 * 33.0


def test_from_the_landing_itself_the_way_goes_out_along_the_trail() -> None:
    place = position("W1", None, 0.0, "T1", xy=(200, 35))
    (group,) = groups([{"x": 205, "y": 50}], (place,))
    assert group.trail_id == "M1"
    assert group.travel_m == group.at_m


def test_it_never_waits_on_a_trail_that_is_closed_by_then_nor_on_one_not_opened() -> None:
    # the spur leads off from the position: 34 m along it are 50 m from the tree, on the main 46
    place, there = position("W1", MAIN, 100.0, "T1"), ("fell", "W1")
    rows = [{"x": 180, "y": 140, "height_m": 25.0}]
    main, side = ("open", "M1"), ("open", "S1")

    def wait(*acts: tuple[WorkKind, str]) -> tuple[str | None, float | None]:
        (group,) = groups(rows, (place,), trails=(MAIN, SPUR), acts=acts)
        return group.trail_id, group.travel_m

    assert wait(main, side, there) == ("S1", 34.0)
    assert wait(main, side, ("close", "S1"), there) == ("M1", 46.0)
    assert wait(main, there, side) == ("M1", 46.0)
    assert wait(main, side, ("close", "S1"), side, there) == ("S1", 34.0)
    # a spur left open behind a closed main trail cannot be driven to
    assert wait(main, side, ("close", "M1"), there) == ("", 100.0)


def test_before_any_trail_is_open_it_waits_on_the_landing_or_leaves() -> None:
    first = (("fell", "W1"), ("open", "M1"))
    (group,) = groups([{"x": 220, "y": 140}], (position("W1", MAIN, 100.0, "T1"),), acts=first)
    assert (group.trail_id, group.travel_m) == ("", 100.0)
    near = [{"x": 205, "y": 60}]
    (lost,) = groups(near, (position("W1", MAIN, 20.0, "T1"),), acts=first)
    assert (lost.trail_id, lost.clear_landing) == (None, True)
    (finding,) = waiting_findings([group, lost])
    assert finding.code == "no_waiting_place"
    assert "trees of W1:" in finding.message
    assert waiting_findings([group]) == ()
    # what the progress file says is open may be waited on
    (known,) = groups(near, (position("W1", MAIN, 20.0, "T1"),), acts=first, opened=("M1",))
    assert known.trail_id == "M1"


def test_trees_felled_at_one_position_before_and_after_opening_are_two_groups() -> None:
    rows = [{"x": 220, "y": 140}, {"x": 215, "y": 145}, {"x": 180, "y": 141}]
    places = (position("W1", MAIN, 100.0, "T1"), position("W1", MAIN, 100.0, "T2", "T3"))
    known = [{"position_error_m": 0.0, "marked": True, **row} for row in rows]
    area = area_of(FLAT, settings_of(), trees=trees_of(known))
    stations = {"M1": station_table(FLAT, MAIN.line, MAIN.width_m)}
    steps = [
        WorkStep(1, "fell", "M1", "W1", ("T1",)),
        WorkStep(2, "open", "M1"),
        WorkStep(3, "fell", "M1", "W1", ("T2",)),
        WorkStep(4, "winch", "M1", "W1", ("T2",)),
        WorkStep(5, "fell", "M1", "W1", ("T3",)),
    ]
    found = felling_groups(area, YARD, (MAIN,), stations, places[1:], steps)
    assert [(g.tree_ids, g.trail_id) for g in found] == [(("T1",), ""), (("T2", "T3"), "M1")]


def test_trees_no_position_is_given_wait_for_the_place_nearest_to_them() -> None:
    rows = [{"x": 240, "y": 140, "position_error_m": 0.0, "marked": True}]
    area = area_of(FLAT, settings_of(), trees=trees_of(rows))
    stations = {"M1": station_table(FLAT, MAIN.line, MAIN.width_m)}
    steps = [WorkStep(1, "open", "M1"), WorkStep(2, "fell", "", "", ("T1",))]
    (group,) = felling_groups(area, YARD, (MAIN,), stations, (), steps)
    # 40 m beside station 100 and 20 m high: that station is just far enough
    assert (group.trail_id, group.at_m, group.travel_m) == ("M1", 100.0, None)
