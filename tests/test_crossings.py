"""Trails over streams on ground made from a formula: where they may, how, and where not.

Limits: near square, Indiana DNR (opened; the 15 degrees are ours); approaches of 10 %
at most for 50 ft, several states (from memory, unverified); the bank of 3 ft and the
20 ft of water are ours. Streams are planes and ditches, so every figure is known.
"""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import (
    area_of,
    at,
    landing_of,
    line,
    main_trail,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from made_plan import layout_only
from shapely.geometry import LineString, Point, box

from layout import crossing_ways, ground, water
from layout.checks import check_layout
from layout.crossings import crossings_of, crossings_on, faults_of, may_be_crossed, waters_of
from layout.drained import drained_ha
from layout.findings import Finding
from layout.geometry import HEADING_RAD, MOVE_CELLS
from layout.ground import CLOSED
from layout.lattice import number, search
from layout.plan import Plan
from layout.records import WinchPosition
from layout.settings import limits_in_force
from layout.site import Area, WaterFeature
from layout.terrain import Terrain

FT = 0.3048
PLANE = terrain_of(lambda x, y: 100 + 0.03 * y, 2.0)
COARSE = terrain_of(lambda x, y: 100 + 0.0 * y, 2.0)
LEVEL = terrain_of(lambda x, y: 100 + 0.0 * y)
NEAR = [(180.0, 120.0), (230.0, 140.0)]
BEYOND = [(200.0, 218.5), (190.0, 235.0), (220.0, 240.0), (205.0, 245.0)]
EASTWARD = ((0.0, 200.0), (400.0, 200.0))


def stream(
    *points: tuple[float, float], water_class: str = "perennial", wide_m: float | None = 2.0
) -> WaterFeature:
    return WaterFeature("brook", water_class, line(*points), wide_m)


def job(
    terrain: Terrain,
    *bodies: WaterFeature,
    crossings: bool = True,
    trees: list[tuple[float, float]] | None = None,
    **tables: dict[str, Any],
) -> Area:
    settings = settings_of(
        trails={"crossings": crossings},
        objective={"serve_worth": "1000 m^2"} | tables.pop("objective", {}),
        winch={"uphill_reach": "130 ft"},
        **tables,
    )
    rows = [{"x": x, "y": y, "marked": True} for x, y in (trees or [*NEAR, *BEYOND])]
    return area_of(
        terrain,
        settings,
        trees=trees_of(rows, full_list=False),
        water=bodies,
        landing=landing_of(200, 40).shape,
        main_trail=line((200, 52.5), (200, 140)),
    )


def status_of(plan: Plan) -> dict[str, str]:
    return {outcome.tree_id: outcome.status for outcome in plan.trees}


def stops(findings: tuple[Finding, ...]) -> list[str]:
    return [f"{f.code}: {f.message}" for f in findings if f.level == "stop"]


def turned(plan: Plan, body: WaterFeature) -> list[float]:
    """Measure how trails meet a stream, from chords of a metre: no code of ours is asked."""
    out = []
    brook = body.geometry
    for trail in plan.trails:
        for point in getattr(trail.line.intersection(brook), "geoms", [trail.line & brook]):
            if point.is_empty:
                continue
            angles = []
            for path in (trail.line, brook):
                s = path.project(point)
                a, b = path.interpolate(s - 0.5), path.interpolate(s + 0.5)
                angles.append(math.atan2(b.y - a.y, b.x - a.x))
            sine = abs(math.sin(angles[0] - angles[1]))
            out.append(math.degrees(math.asin(min(sine, 1.0))))
    return out


def stations_in(plan: Plan, area: Area) -> list[tuple[str, float]]:
    """Give where trails' centre lines lie in the strips, metre by metre."""
    strips = water.strips(area, plan.terrain).polygons
    return [
        (trail.trail_id, float(s))
        for trail in plan.trails
        for s in np.arange(0.0, trail.line.length, 1.0)
        if any(strip.shape.contains(trail.line.interpolate(float(s))) for strip in strips)
    ]


# --- what a line meets ------------------------------------------------------------------------


@given(
    heading=st.floats(0, 2 * math.pi),
    apart=st.floats(20, 90),
    side=st.sampled_from([-1, 1]),
    wide=st.floats(0.5, 5),
)
def test_the_angle_whatever_the_direction(
    heading: float, apart: float, side: int, wide: float
) -> None:
    def through(angle: float) -> LineString:
        dx, dy = 80 * math.cos(angle), 80 * math.sin(angle)
        return line((200 - dx, 200 - dy), (200 + dx, 200 + dy))

    body = WaterFeature("b", "perennial", through(heading), wide)
    trail = through(heading + side * math.radians(apart))
    (met,) = crossings_on(waters_of(area_of(LEVEL, water=(body,))), LEVEL, trail, 3.0)
    assert met.angle_deg == pytest.approx(apart, abs=1e-6)
    assert met.to_m - met.from_m == pytest.approx(wide / math.sin(math.radians(apart)), rel=1e-6)
    assert Point(met.x, met.y).distance(Point(at(200, 200))) < 1e-6
    assert (not faults_of(met)) == (apart >= 75 - 1e-6)


def test_grade_and_bank_by_hand() -> None:
    """A valley of two planes, 8 % and 12 %, with a ditch of 0.6 m along its bottom."""

    def height(x: Any, y: Any) -> Any:
        side = np.where(y < 200, 0.08 * (200 - y), 0.12 * (y - 200))
        return 100 + side - 0.6 * (np.abs(y - 200) < 1)

    terrain = terrain_of(height)
    area = area_of(terrain, water=(stream(*EASTWARD),))
    (met,) = crossings_on(waters_of(area), terrain, line((150, 120), (150, 280)), 3.0)
    assert met.approach_pct == pytest.approx(12.0, abs=0.8)
    # 3 m beyond the bank on the steeper side: 0.12 x 4 m, and the ditch
    assert met.bank_m == pytest.approx(0.6 + 0.12 * 4, abs=0.1)
    assert [f.code for f in faults_of(met)] == ["crossing_approach", "crossing_bank"]


def test_wide_water_asks_for_a_bridge() -> None:
    for wide, codes in ((20 * FT, []), (20.5 * FT, ["crossing_wide"])):
        area = area_of(LEVEL, water=(stream(*EASTWARD, wide_m=wide),))
        (met,) = crossings_on(waters_of(area), LEVEL, line((150, 120), (150, 280)), 3.0)
        assert [f.code for f in faults_of(met)] == codes


def test_a_line_that_follows_the_water_has_no_angle() -> None:
    area = area_of(LEVEL, water=(stream(*EASTWARD),))
    for trail in (
        line((100, 200.5), (180, 200.5)),  # in the channel, never over its middle
        line((100, 150), (150, 199.5), (160, 200.5), (170, 199.5), (200, 150)),  # in and out
    ):
        met = crossings_on(waters_of(area), LEVEL, trail, 3.0)
        assert [c.angle_deg for c in met] == [None]
        assert "crossing_angle" in [f.code for f in faults_of(met[0])]


def test_reaches_that_meet_are_crossed_once() -> None:
    halves = (
        WaterFeature("upper", "intermittent", line((0, 200), (150, 200)), 2.0),
        WaterFeature("lower", "perennial", line((150, 200), (400, 200)), 2.0),
    )
    area = area_of(LEVEL, water=halves)
    trail = main_trail((149.7, 120), (149.7, 280))
    (met,) = crossings_of(area, LEVEL, [trail])
    assert (met.crossing_id, met.water_class, met.apart_m) == ("X1", "perennial", None)
    assert met.angle_deg == pytest.approx(90)


@pytest.mark.parametrize(
    ("name", "geometry", "may"),
    [
        ("perennial", line((0, 0), (9, 9)), True),
        ("intermittent", line((0, 0), (9, 9)), True),
        ("ephemeral", line((0, 0), (9, 9)), True),
        ("class_2", line((0, 0), (9, 9)), True),
        ("perennial", box(*at(0, 0), *at(9, 9)), False),
        ("wetland", line((0, 0), (9, 9)), False),
        ("small_pond", line((0, 0), (9, 9)), False),
        ("spring", Point(at(0, 0)), False),
        ("well", Point(at(0, 0)), False),
        ("spruce_bog", line((0, 0), (9, 9)), False),
        ("tidal_marsh", line((0, 0), (9, 9)), False),
        ("Swamp", line((0, 0), (9, 9)), False),
        ("fen", line((0, 0), (9, 9)), False),
        ("seepage", line((0, 0), (9, 9)), False),
    ],
)
def test_only_streams_are_ever_crossed(name: str, geometry: Any, may: bool) -> None:
    assert may_be_crossed(WaterFeature("w", name, geometry)) is may


# --- the lattice ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "turn",
    [
        pytest.param(turn, marks=() if turn in (30, 105) else pytest.mark.slow)
        for turn in range(0, 180, 15)
    ],
)
def test_ways_are_straight_square_and_paid_once(turn: int) -> None:
    angle = math.radians(turn)
    dx, dy = 160 * math.cos(angle), 160 * math.sin(angle)
    brook = stream((200 - dx, 200 - dy), (200 + dx, 200 + dy))
    area = job(COARSE, brook, objective={"crossing": "321 m^2", "wet_ground": 1.0})
    limits = limits_in_force(area.settings)
    strips = water.strips(area, COARSE)
    opened = ground.open_area(area, strips)
    plain = ground.build(area, COARSE, opened, limits, width_m=3.0, weight=1.0)
    table = crossing_ways.build(area, COARSE, strips, opened, limits, width_m=3.0, weight=1.0)
    more = (table.closed != CLOSED) & (plain.closed == CLOSED)
    assert not ((table.closed == CLOSED) & (plain.closed != CLOSED)).any()
    headings, rows, cols = np.nonzero(more)
    off = np.degrees(np.arcsin(np.abs(np.sin(HEADING_RAD[headings] - angle))))
    assert headings.size and off.min() >= 75
    # no cell is open for two ways: nothing turns in the strip
    for cell in set(zip(rows.tolist(), cols.tolist(), strict=True)):
        mine = headings[(rows == cell[0]) & (cols == cell[1])]
        assert len(set((mine % 8).tolist())) == 1
    # straight over, from open ground to open ground
    over = crossing_ways.over_strips(area, strips)
    assert over is not None
    wide = ground.build(area, COARSE, over, limits, width_m=3.0, weight=1.0)
    place = crossing_ways.places(area, COARSE, over, plain, wide)[0]
    h = place.heading
    dc, dr = (
        round(math.cos(HEADING_RAD[h]) * MOVE_CELLS[h]),
        -round(math.sin(HEADING_RAD[h]) * MOVE_CELLS[h]),
    )
    r, c = place.track[0]
    start = np.array([r - dr]), np.array([c - dc])
    zero = np.zeros(1)
    found = search(
        table, number(table, np.array([h]), *start), zero, zero, zero,
        radius_m=7.62, longest_m=400.0, turn_cost=1.0,
    )  # fmt: skip
    moves = len(place.track) + 1
    end = number(table, np.array([h]), start[0] + moves * dr, start[1] + moves * dc)
    metres = moves * MOVE_CELLS[h] * table.cell_m
    assert found.length[end][0] == pytest.approx(metres)
    per_m = float(plain.cost[h, start[0], start[1]][0])
    assert found.cost[end][0] == pytest.approx(metres * per_m + 321.0, rel=1e-3)


@pytest.mark.parametrize(
    ("height", "why"),
    [
        (lambda x, y: 100 - 1.5 * (np.abs(y - 200) < 2), "banks of 5 ft"),
        (lambda x, y: 100 + 0.13 * np.abs(y - 200), "approaches of 13 %"),
    ],
)
def test_no_legal_place_no_way(height: Callable[[Any, Any], Any], why: str) -> None:
    terrain = terrain_of(height)
    area = job(terrain, stream(*EASTWARD))
    strips = water.strips(area, terrain)
    opened, limits = ground.open_area(area, strips), limits_in_force(area.settings)
    plain = ground.build(area, terrain, opened, limits, width_m=3.0, weight=1.0)
    table = crossing_ways.build(area, terrain, strips, opened, limits, width_m=3.0, weight=1.0)
    assert np.array_equal(plain.closed, table.closed), why
    assert np.array_equal(plain.cost, table.cost)


def test_nothing_is_opened_where_it_is_not_allowed() -> None:
    area = job(LEVEL, stream(*EASTWARD), crossings=False)
    strips = water.strips(area, LEVEL)
    assert crossing_ways.over_strips(area, strips) is None
    assert crossing_ways.passages(area, LEVEL, strips, 3.0) is None
    pond = WaterFeature("pond", "pond", box(*at(0, 190), *at(400, 210)))
    area = job(LEVEL, pond)
    assert crossing_ways.over_strips(area, water.strips(area, LEVEL)) is None


def test_a_pond_beside_the_stream_keeps_its_strip() -> None:
    pond = WaterFeature("pond", "pond", box(*at(150, 205), *at(250, 230)))
    area = job(LEVEL, stream(*EASTWARD), pond)
    strips = water.strips(area, LEVEL)
    shut = next(s.shape for s in strips.polygons if s.feature_id == "pond")
    over = crossing_ways.over_strips(area, strips)
    assert over is not None and not over.intersects(shut.buffer(-0.01))


# --- whole plans ------------------------------------------------------------------------------


@pytest.mark.slow
def test_trees_over_the_stream_are_served_by_one_square_crossing() -> None:
    brook = stream((0, 190), (400, 210))
    area = job(PLANE, brook, crossings=False)
    without = layout_only(area)
    assert {status_of(without)[f"T{n}"] for n in (3, 4, 5, 6)} <= {
        "blocked_by_water",
        "beyond_reach",
    }
    assert status_of(without)["T3"] == "blocked_by_water"
    assert not without.crossings
    assert turned(without, brook) == []

    area = job(PLANE, brook)
    plan = layout_only(area)
    assert set(status_of(plan).values()) == {"served"}
    assert stops(plan.findings) == []
    (angle,) = turned(plan, brook)
    assert angle >= 75
    (crossing,) = plan.crossings
    assert crossing.angle_deg == pytest.approx(angle, abs=0.1)
    assert crossing.approach_pct == pytest.approx(3.0, abs=0.1)
    codes = [f.code for f in plan.findings if f.level == "caution"]
    assert "water_crossed" in codes and "strip_entered" in codes
    # in the strip only on the way over: one run of stations, straight
    inside = stations_in(plan, area)
    assert len({name for name, _ in inside}) == 1
    assert inside[-1][1] - inside[0][1] == len(inside) - 1
    trail = next(t.line for t in plan.trails if t.trail_id == inside[0][0])
    ends = [trail.interpolate(inside[0][1]), trail.interpolate(inside[-1][1])]
    chord = LineString(ends)
    assert max(chord.distance(trail.interpolate(s)) for _, s in inside) < 0.5
    # nobody winches in the strip
    for strip in plan.strips:
        for position in plan.positions:
            assert not strip.shape.contains(Point(position.x, position.y))


def test_a_stream_at_45_degrees_to_the_main_trail() -> None:
    brook = stream((50, 400), (400, 50), water_class="intermittent")
    trees = [(180.0, 120.0), (250.0, 260.0), (262.0, 270.0), (270.0, 252.0), (255.0, 275.0)]
    plan = layout_only(job(PLANE, brook, trees=trees))
    assert set(status_of(plan).values()) == {"served"}
    assert stops(plan.findings) == []
    (angle,) = turned(plan, brook)
    assert angle >= 75
    assert len(plan.crossings) == 1


@pytest.mark.slow
def test_steep_banks_leave_the_trees_beyond() -> None:
    terrain = terrain_of(lambda x, y: 100 + 0.03 * y - 1.5 * (np.abs(y - 200) < 2))
    brook = stream(*EASTWARD)
    plan = layout_only(job(terrain, brook))
    assert turned(plan, brook) == []
    assert not plan.crossings
    left = [status for name, status in status_of(plan).items() if name not in ("T1", "T2")]
    assert "served" not in left


# --- the checks -------------------------------------------------------------------------------


def judged(area: Area, terrain: Terrain, *trails: Any, **kept: Any) -> tuple[Finding, ...]:
    return check_layout(area, terrain, water.strips(area, terrain), None, trails, **kept)


def test_a_pond_is_never_crossed() -> None:
    pond = WaterFeature("pond", "pond", box(*at(150, 190), *at(250, 210)))
    area = job(LEVEL, pond)
    found = judged(area, LEVEL, main_trail((200, 80), (200, 300)))
    (crossed,) = [f for f in found if f.code == "water_crossed"]
    assert crossed.level == "stop" and "never crossed" in crossed.message
    assert [f.level for f in found if f.code == "strip_entered"] == ["stop"]


@pytest.mark.parametrize("name", ["perennial", "intermittent", "ephemeral"])
@pytest.mark.parametrize(
    ("shape", "drawn"),
    [(box(*at(0, 199), *at(400, 201)), "an area"), (Point(at(200, 200)), "a point")],
)
def test_a_stream_not_drawn_as_a_line_is_to_be_drawn_as_one(
    name: str, shape: Any, drawn: str
) -> None:
    trail = main_trail((200, 80), (200, 300))
    area = job(LEVEL, WaterFeature("brook", name, shape))
    (crossed,) = [f for f in judged(area, LEVEL, trail) if f.code == "water_crossed"]
    assert crossed.level == "stop"
    assert f"crosses {name} brook, drawn as {drawn}" in crossed.message
    assert "Draw its middle line with bank_width_m" in crossed.message
    assert "ponds" not in crossed.message and "trails.crossings" not in crossed.message
    # drawn as asked, it may be crossed; and without leave the setting is the reason
    middle = job(LEVEL, WaterFeature("brook", name, line(*EASTWARD), 2.0))
    (crossed,) = [f for f in judged(middle, LEVEL, trail) if f.code == "water_crossed"]
    assert crossed.level == "caution"
    barred = job(LEVEL, WaterFeature("brook", name, shape), crossings=False)
    (crossed,) = [f for f in judged(barred, LEVEL, trail) if f.code == "water_crossed"]
    assert "trails.crossings" in crossed.message and "middle line" not in crossed.message


@pytest.mark.parametrize(("slant", "fine"), [(14.9, True), (15.1, False)])
def test_just_inside_and_just_outside_square(slant: float, fine: bool) -> None:
    area = job(LEVEL, stream(*EASTWARD))
    dx = 100 * math.tan(math.radians(slant))
    found = judged(area, LEVEL, main_trail((200 - dx, 100), (200 + dx, 300)))
    assert ("crossing_angle" not in [f.code for f in found]) is fine
    assert all(f.level == "stop" for f in found if f.code == "crossing_angle")
    (caution,) = [f for f in found if f.code == "water_crossed"]
    assert "permit" in caution.message and "licensed" in caution.message
    assert "firm" in caution.message and "Take it out" in caution.message


def test_two_crossings_near_each_other_are_told() -> None:
    area = job(LEVEL, stream(*EASTWARD))
    for gap, told in ((199 * FT, 2), (201 * FT, 0)):
        one = main_trail((150, 100), (150, 300))
        other = main_trail((150 + gap, 100), (150 + gap, 300), trail_id="M2")
        found = judged(area, LEVEL, one, other)
        assert len([f for f in found if f.code == "crossing_near"]) == told
        assert [c.crossing_id for c in crossings_of(area, LEVEL, [one, other])] == ["X1", "X2"]


def test_a_bend_in_the_strip_is_no_way_to_a_crossing() -> None:
    area = job(LEVEL, stream(*EASTWARD))
    bent = main_trail((180, 100), (180, 186), (200, 192), (200, 300))
    found = [f for f in judged(area, LEVEL, bent) if f.code == "strip_entered"]
    assert [f.level for f in found] == ["stop"]


def test_nobody_winches_in_a_strip_that_is_passed() -> None:
    area = job(LEVEL, stream(*EASTWARD))
    trail = main_trail((200, 100), (200, 300))
    for y, parked in ((170.0, False), (195.0, True), (220.0, True), (230.0, False)):
        position = WinchPosition(
            "W1", "M1", "L1", y - 100, *at(200, y), 0.0, 0.0, 0.0, 0.0, y - 100
        )
        found = judged(area, LEVEL, trail, positions=(position,))
        assert ("crossing_parked" in [f.code for f in found]) is parked, y


def test_gaps_in_the_elevations_are_unknown_not_fine() -> None:
    dem = LEVEL.dem
    z = dem.z.copy()
    z[195:206, :] = np.nan
    terrain = Terrain(dem.with_z(z), dem.with_z(z))
    area = job(LEVEL, stream(*EASTWARD))
    strips = strips_of(LEVEL)
    found = check_layout(area, terrain, strips, None, [main_trail((200, 100), (200, 300))])
    levels = {f.code: f.level for f in found if f.code.startswith("crossing_")}
    assert levels["crossing_bank"] == "unknown"


def test_the_ground_that_drains_to_a_crossing() -> None:
    """A trough of two planes that falls westward from x = 300: 100 m each side drain into it.

    Where the trough comes in from beyond the grid nothing is said.
    """
    terrain = terrain_of(
        lambda x, y: (
            100
            + 0.02 * np.minimum(x, 600 - x)
            + 0.05 * np.minimum(np.abs(y - 200.5), 200 - np.abs(y - 200.5))
        )
    )
    area = job(terrain, stream(*EASTWARD))
    found = drained_ha(area, terrain)
    for x in (100.0, 200.0):  # and 10 m more, as far as it is looked for
        assert found(*at(x, 200)) == pytest.approx(200.0 * (300 - x + 10) / 1e4, rel=0.03)
    assert found(*at(100, 300)) is None  # on the ridge: no channel
    assert found(*at(1000, 200)) is None
    tilted = terrain_of(lambda x, y: 100 + 0.02 * x + 0.05 * np.abs(y - 200.5))
    assert drained_ha(job(tilted, stream(*EASTWARD)), tilted)(*at(100, 200)) is None
