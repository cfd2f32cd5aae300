"""Suggested lays, on flat ground and plain slopes where the right way can be seen.

The winch stands at (200, 200); the tree north of it. Away from the winch, at most 45
degrees off the pull line: from memory, as sources.FELLING_LEAD says. Wedges: Northern
Woodlands' worked example and the 2 inches of the OSHA logging page
(sources.WEDGE_LEVER, WEDGE_LIMIT). Two tree lengths: sources.FELLING_DISTANCE.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_ground import (
    SOUTH,
    WEST,
    area_of,
    at,
    line,
    main_trail,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from made_loads import position, pull
from shapely import affinity
from shapely.geometry import LineString, Polygon, box

from layout.lays import lays
from layout.records import Lay, TreeOutcome, WinchPosition
from layout.site import Area, Hazard, WaterFeature
from layout.stump_work import stump_work
from layout.terrain import Terrain

FLAT = terrain_of(lambda x, y: 100 + 0 * x)
DRY = strips_of(FLAT)
SURE = settings_of(stand={"position_error": "1 m"})
WINCH = position("W1", None, 0.0, "T1", xy=(200, 200))
TREE = {"x": 200, "y": 225, "marked": True}  # 20 m high, 30 cm


def laid(
    *rows: dict[str, Any],
    terrain: Terrain = FLAT,
    strips: tuple[Polygon, ...] = (),
    winch: WinchPosition = WINCH,
    **fields: Any,
) -> Lay:
    given = fields.pop("settings", SURE)
    area = area_of(terrain, given, trees=trees_of(rows or (TREE,)), **fields)
    return lays_of(area, winch, terrain, strips)[0]


def lays_of(
    area: Area, winch: WinchPosition, terrain: Terrain = FLAT, strips: tuple[Polygon, ...] = ()
) -> tuple[Lay, ...]:
    trees = area.trees
    rope = pull("T1", winch, trees.x[0] - WEST, trees.y[0] - SOUTH)
    wet = strips_of(terrain, *strips) if strips else DRY
    return lays(area, terrain, wet, (rope,), ~trees.marked)


def off(lay: Lay, azimuth: float = 0.0) -> float:
    """Give the angle between a lay and an azimuth, degrees."""
    assert lay.azimuth_deg is not None
    return (lay.azimuth_deg - azimuth + 180) % 360 - 180


# --- away from the winch


@pytest.mark.parametrize("azimuth", [0, 37, 90, 200, 314])
def test_with_nothing_in_the_way_the_tip_points_straight_away_from_the_winch(azimuth: int) -> None:
    a = math.radians(azimuth)
    lay = laid(TREE | {"x": 200 + 25 * math.sin(a), "y": 200 + 25 * math.cos(a)})
    assert off(lay, azimuth) == pytest.approx(0, abs=1e-6)
    assert lay.off_pull_deg == 0
    assert (lay.why_none, lay.barred_by, lay.in_way) == ("", (), ())
    assert (lay.position_id, lay.height_m, lay.height_measured) == ("W1", 20.0, True)


def test_a_tree_that_is_not_reached_or_is_bad_has_no_lay() -> None:
    area = area_of(FLAT, SURE, trees=trees_of([TREE]))
    (lay,) = lays(area, FLAT, DRY, (), np.array([False]))
    assert (lay.azimuth_deg, lay.why_none, lay.position_id) == (None, "not_reached", "")
    bad = laid(TREE | {"hazard": "hung"})
    assert (bad.azimuth_deg, bad.why_none) == (None, "bad_tree")


def test_trees_that_stay_or_are_out_have_none() -> None:
    area = area_of(FLAT, SURE, trees=trees_of([TREE | {"marked": False}, TREE]))
    gone = replace(area, trees=replace(area.trees, done=frozenset({"T2"})))
    assert lays(gone, FLAT, DRY, (), np.array([True, False])) == ()


# --- what a lay keeps off


def test_a_wire_to_one_side_turns_the_lay_to_the_other() -> None:
    # ahead from 5 m east of the pull line on, 30 m from the stump: two lengths are 40 m
    wire = Hazard("H1", "wire", line((205, 255), (260, 255)))
    lay = laid(hazards=(wire,))
    assert -45 <= off(lay) < -10
    assert (lay.barred_by, lay.near) == (("wire H1",), ("wire H1",))
    other = laid(hazards=(replace(wire, geometry=line((195, 255), (140, 255))),))
    assert off(other) == pytest.approx(-off(lay))
    fence = laid(hazards=(replace(wire, kind="fence"),))
    assert (off(fence), fence.near) == (0, ())


@pytest.mark.parametrize(("away", "barred"), [(38.0, True), (46.0, False)])
def test_a_road_right_across_bars_every_lay_within_two_lengths(away: float, barred: bool) -> None:
    # 2 x 20 m, 1 m for the tree's place, and half a crown
    road = Hazard("H1", "road", line((0, 225 + away * 0.6), (400, 225 + away * 0.6)))
    assert laid(hazards=(road,)).why_none == "barred"
    far = Hazard("H1", "road", line((0, 225 + away), (400, 225 + away)))
    lay = laid(hazards=(far,))
    assert (off(lay) != 0 if lay.azimuth_deg is not None else True) == barred


@pytest.mark.parametrize(("away", "near"), [(44.9, True), (45.1, False)])
def test_what_may_be_near_is_named_by_where_the_tree_may_stand(away: float, near: bool) -> None:
    # two lengths of 20 m and 5 m of its place; the wire runs behind it, where no lay points
    wire = Hazard("H1", "wire", line((0, 225 - away), (400, 225 - away)))
    lay = laid(TREE | {"position_error_m": 5.0}, hazards=(wire,))
    assert lay.near == (("wire H1",) if near else ())


@pytest.mark.parametrize(("away", "barred"), [(15.0, True), (27.0, False)])
def test_the_property_line_is_not_fallen_across(away: float, barred: bool) -> None:
    edge = line((0, 225 + away), (400, 225 + away))
    rules = settings_of(stand={"position_error": "1 m"}, property={"error": "1 m"})
    lay = laid(property_line=edge, settings=rules)
    assert (lay.azimuth_deg is None or off(lay) != 0) == barred
    assert ("property line" in lay.barred_by) == barred


def test_a_badly_known_line_is_kept_off_by_its_error_too() -> None:
    edge = line((0, 255), (400, 255))
    for error, straight in (("1 m", True), ("15 m", False)):
        rules = settings_of(stand={"position_error": "1 m"}, property={"error": error})
        lay = laid(property_line=edge, settings=rules)
        assert (lay.azimuth_deg is not None and off(lay) == 0) == straight


def test_no_top_falls_into_a_water_strip() -> None:
    strip = box(*at(150, 238), *at(202, 290))
    lay = laid(strips=(strip,))
    assert off(lay) > 15
    assert "water strip" in lay.barred_by


def test_out_of_a_strip_a_tree_is_laid_the_shortest_way_and_never_into_the_water() -> None:
    # the strip lies to the west of x = 203, the brook along x = 190
    strip, brook = box(*at(150, 150), *at(203, 300)), line((190, 150), (190, 300))
    water = WaterFeature("brook", "perennial", brook, 2.0)
    lay = laid(strips=(strip,), water=(water,))
    assert off(lay) >= 20
    assert lay.why_none == ""


def test_a_tree_kept_for_a_reason_is_not_under_stem_or_crown() -> None:
    kept = {"tree_id": "seed", "x": 200, "y": 237, "keep": "seed"}
    lay = laid(TREE | {"tree_id": "T1"}, kept)
    assert "tree seed (seed)" in lay.barred_by
    # 12 m out, half a crown of a 30 cm maple and the stem's own radius aside
    assert abs(off(lay)) > math.degrees(math.atan(2.5 / 12))


def test_a_plain_stem_in_the_way_is_passed_by_and_named_where_it_cannot_be() -> None:
    lay = laid(TREE, {"tree_id": "stay", "x": 200, "y": 231})
    assert abs(off(lay)) == 10  # 6 m out: 5 degrees are 0.5 m, 10 are 1.05 m, past both radii
    assert lay.in_way == ()
    row = [{"tree_id": f"s{n}", "x": 200 + 6 * math.sin(math.radians(n)),
            "y": 225 + 6 * math.cos(math.radians(n))} for n in range(-60, 61, 5)]  # fmt: skip
    fenced = laid(TREE, *row)
    assert fenced.in_way
    assert fenced.azimuth_deg is not None


def test_without_a_sure_map_nothing_is_said_of_single_stems() -> None:
    lay = laid(TREE, {"x": 200, "y": 231}, settings=settings_of(stand={"position_error": "5 m"}))
    assert (off(lay), lay.in_way) == (0, None)


# --- lean


@pytest.mark.parametrize(
    ("lean", "azimuth", "said"),
    [
        (math.nan, math.nan, "unknown"),
        (math.nan, 90.0, "unknown"),
        (3.0, math.nan, "unknown"),  # leans, nobody says where to
        (0.0, math.nan, "upright"),
        (3.0, 10.0, "with"),
        (3.0, 80.0, "side"),
        (3.0, 180.0, "against"),
    ],
)
def test_lean_is_said_as_it_is_known(lean: float, azimuth: float, said: str) -> None:
    # trees in the way on both sides, so that the lay stays on the pull line
    lay = laid(TREE | {"lean_deg": lean, "lean_azimuth_deg": azimuth})
    assert abs(off(lay)) <= 10
    assert lay.lean == said
    assert (lay.wedge_lift_m is not None) == (said == "against")


def leaning(back_ft: float) -> dict[str, Any]:
    """Give a tree 60 ft high on a stump of 18 in whose tip hangs back so far to the south."""
    return TREE | {
        "height_m": 60 * 0.3048,
        "dbh_cm": 18 / 1.2 * 2.54,
        "lean_deg": math.degrees(math.atan(back_ft / 60)),
        "lean_azimuth_deg": 180.0,
    }


def test_wedge_lift_is_the_published_example() -> None:
    lay = laid(leaning(3.0))
    assert (off(lay), lay.lean, lay.lean_off_deg) == (0, "against", pytest.approx(180))
    assert lay.wedge_lift_m == pytest.approx(0.9 * 0.0254)
    assert not lay.beyond_wedges


def test_past_two_inches_the_lay_is_turned_until_wedges_do() -> None:
    # 40 segments: 6.67 ft of back lean need 2 in; 7 ft need that from 17.8 degrees off on
    lay = laid(leaning(7.0))
    assert abs(off(lay)) == 20
    assert lay.wedge_lift_m == pytest.approx(7 * 12 / 40 * math.cos(math.radians(20)) * 0.0254)


def test_past_two_inches_every_way_there_is_no_lay() -> None:
    lay = laid(leaning(12.0))
    assert (lay.azimuth_deg, lay.why_none, lay.beyond_wedges) == (None, "lean", True)
    assert lay.wedge_lift_m is not None
    assert lay.wedge_lift_m > 2 * 0.0254


def test_a_back_lean_without_a_diameter_has_no_lay() -> None:
    # 0.25 ft of back lean would be nothing to wedges, 12 ft too much: without a stump nobody knows
    for back_ft in (0.25, 12.0):
        lay = laid(leaning(back_ft) | {"dbh_cm": math.nan})
        assert (lay.azimuth_deg, lay.why_none, lay.lean) == (None, "lean_unknown", "against")
        assert (lay.wedge_lift_m, lay.beyond_wedges) == (None, False)
    # leaning forward, sideways or not at all asks nothing of wedges
    for lean in ({"lean_deg": 0.0}, {"lean_deg": 3.0, "lean_azimuth_deg": 10.0},
                 {"lean_deg": math.nan}):  # fmt: skip
        assert laid(TREE | lean | {"dbh_cm": math.nan}).azimuth_deg is not None


# --- slope


@pytest.mark.parametrize(
    ("rise", "said"),
    [
        (lambda x, y: 100 + 0.2 * y, "uphill"),
        (lambda x, y: 100 - 0.2 * y, "downhill"),
        (lambda x, y: 100 + 0.2 * x, "across"),
        (lambda x, y: 100 + 0.05 * y, "level"),
    ],
)
def test_the_way_it_falls_on_the_slope(rise: Any, said: str) -> None:
    lay = laid(terrain=terrain_of(rise))
    assert lay.ground == said
    assert lay.slope_pct == pytest.approx(5 if said == "level" else 20, abs=0.1)


# --- heights


def test_a_height_that_was_not_measured_errs_tall() -> None:
    tall = {"x": 300, "y": 300, "height_m": 35.0}
    lay = laid(TREE | {"height_m": math.nan}, tall)
    assert not lay.height_measured
    assert lay.height_m >= 35.0


# --- findings


def told(*rows: dict[str, Any], **fields: Any) -> dict[str, Any]:
    """Run all of it on a straight trail with the winch at its end."""
    trail = main_trail((200, 20), (200, 200))
    place = position("W1", trail, 170.0, "T1")
    area = area_of(FLAT, SURE, trees=trees_of(rows), **fields)
    rope = pull("T1", place, rows[0]["x"], rows[0]["y"])
    outcomes = tuple(TreeOutcome(n, "leave", "leave") for n in area.trees.tree_id)
    work = stump_work(
        area, FLAT, DRY, (trail,), (place,), (rope,), outcomes, np.zeros(len(rows), dtype=bool)
    )  # fmt: skip
    return {finding.code: finding for finding in work.findings}


def test_a_lean_past_wedges_is_a_stop_and_says_no_inches() -> None:
    found = told(leaning(12.0))["lean_beyond_wedges"]
    assert (found.level, found.subject_id, found.value) == ("stop", "T1", None)
    assert " in " not in found.message.replace("leans back", "")
    assert "leave it standing" in found.message


def test_leaning_against_the_lay_is_for_an_experienced_faller() -> None:
    assert "experienced faller" in told(leaning(3.0))["lean_against"].message
    assert told(TREE) == {}


def test_bad_trees_come_down_first_and_barred_ones_are_named() -> None:
    found = told(TREE | {"hazard": "rot"})["hazard_trees_first"]
    assert "T1" in found.message
    road = Hazard("H1", "road", line((0, 245), (400, 245)))
    barred = told(TREE, hazards=(road,))["lay_barred"]
    assert "road H1" in barred.message
    assert barred.level == "caution"


# --- whatever lies round it

spots = st.tuples(st.integers(130, 270), st.integers(150, 300))


@given(
    st.lists(st.tuples(spots, spots), max_size=3),
    st.lists(spots, max_size=8, unique=True),
    st.integers(0, 359),
    st.integers(10, 35),
)
def test_no_lay_reaches_what_it_must_not_and_all_lead_away(
    wires: list[Any], kept: list[Any], azimuth: int, height: int
) -> None:
    a = math.radians(azimuth)
    tree = TREE | {"x": 200 + 25 * math.sin(a), "y": 200 + 25 * math.cos(a), "height_m": height}
    hazards = tuple(
        Hazard(f"H{n}", "wire", line(p, (q[0] + 0.5, q[1]))) for n, (p, q) in enumerate(wires)
    )
    rows = [{"tree_id": f"K{n}", "x": x, "y": y, "keep": "crop"} for n, (x, y) in enumerate(kept)]
    lay = laid(tree, *rows, hazards=hazards)
    if lay.azimuth_deg is None:
        assert lay.why_none == "barred"
        assert lay.barred_by
        return
    assert abs(off(lay, azimuth)) <= 45 + 1e-6
    butt = np.array(at(tree["x"], tree["y"]))

    def falling(turn: float, long: float) -> LineString:
        b = math.radians(lay.azimuth_deg or 0.0) + math.radians(turn)
        return LineString([butt, butt + long * np.array([math.sin(b), math.cos(b)])])

    for turn in (-15, -7, 0, 7, 15):  # as far off as a tree may come down
        fall = falling(turn, 2 * height)
        assert all(not fall.intersects(hazard.geometry) for hazard in hazards)
    stem = falling(0, height)
    ends = [shapely.Point(*at(row["x"], row["y"])) for row in rows]
    assert all(stem.distance(p) > 0.5 or butt_near(butt, p) for p in ends)


def butt_near(butt: Any, point: shapely.Point) -> bool:
    """Tell a stem that stands right at the stump."""
    return math.hypot(point.x - butt[0], point.y - butt[1]) <= 1.2


@settings(max_examples=40)
@given(
    st.lists(spots, max_size=12, unique=True), st.floats(0, 359), st.booleans(), st.integers(0, 359)
)
def test_turned_or_mirrored_the_lay_turns_along(
    others: list[Any], degrees: float, flip: bool, lean: int
) -> None:
    middle = at(200, 200)
    rows = [TREE | {"lean_deg": 3.0, "lean_azimuth_deg": lean + 0.37}]
    rows += [{"x": x + 0.37, "y": y + 0.21} for x, y in others]
    wire = line((215, 230), (260, 290))

    def moved(shape: Any) -> Any:
        if flip:
            shape = affinity.scale(shape, -1.0, 1.0, origin=middle)
        return affinity.rotate(shape, degrees, origin=middle)

    def turned(azimuth: float) -> float:
        return (-azimuth if flip else azimuth) - degrees

    area = area_of(FLAT, SURE, trees=trees_of(rows), hazards=(Hazard("H1", "wire", wire),))
    trees = area.trees
    there = [moved(shapely.Point(x, y)) for x, y in zip(trees.x, trees.y, strict=True)]
    way = np.where(np.isfinite(trees.lean_azimuth_deg), turned(lean + 0.37) % 360, np.nan)
    again = replace(
        area,
        hazards=(Hazard("H1", "wire", moved(wire)),),
        trees=replace(
            trees,
            x=np.array([p.x for p in there]),
            y=np.array([p.y for p in there]),
            lean_azimuth_deg=way,
        ),
    )
    first, second = lays_of(area, WINCH)[0], lays_of(again, WINCH)[0]
    assert (first.azimuth_deg is None) == (second.azimuth_deg is None)
    if first.azimuth_deg is not None:
        same = off(second, turned(first.azimuth_deg))
        mirrored_tie = flip and abs(abs(first.off_pull_deg or 0) - abs(second.off_pull_deg or 0))
        assert same == pytest.approx(0, abs=1e-6) or (flip and mirrored_tie == 0)


def test_a_lift_that_is_not_known_is_told_for_the_tree() -> None:
    found = told(leaning(3.0) | {"dbh_cm": math.nan})
    assert "lean_beyond_wedges" not in found and "lean_against" not in found
    blind = found["lean_lift_unknown"]
    assert (blind.level, blind.subject_id) == ("caution", "T1")
    assert "1 tree without a DBH leans back" in blind.message and "no lay" in blind.message
