"""Winching held against plane geometry, statics by hand and a slow second opinion.

The second opinion (`by_the_book`) knows the rules as the design states them and
nothing of the kernel: it loops in Python and asks shapely about stems and closed
ground.
"""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyproj
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import STRtree
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from layout import terrain, tractor, water, winch
from layout.errors import InputError
from layout.grid import Dem, bilinear
from layout.reach_chance import margin_for
from layout.records import WinchPosition
from layout.settings import AreaSettings
from layout.site import Area, Hazard, Trees
from layout.winch_ground import binned
from layout.winch_kernel import CODE_NAMES, LIMIT_NAMES, NUMBER_NAMES, closed_length, count_stems
from layout.winch_rules import CODE, REASON_NAMES

WEST, NORTH = 500_000.0, 4_500_100.0  # upper left corner of every ground here
SIZE = 100  # metres square
MID_X, MID_Y = WEST + 50, NORTH - 50
FOOT_M = 0.3048
CODE_NAME = {code: name for name, code in CODE.items()}
EAST, NORTHWARD = 0.0, math.pi / 2


def read(**tables: dict[str, Any]) -> AreaSettings:
    """Read settings; a strong, heavy outfit unless told otherwise, so that one rule shows."""
    told: dict[str, Any] = {
        "format": 1,
        "area": {"name": "test", "units": "metric"},
        "ground": {"dem": "d.tif"},
        "stand": {"boundary": "s.gpkg", "trees": "t.csv"},
        "tractor": {"mass_kg": 20_000.0, "traction": 0.6},
        "winch": {"pull_rating_kn": 40.0, "rope_breaking_kn": 200.0},
    }
    for name, table in tables.items():
        told[name] = {**told.get(name, {}), **table}
    return AreaSettings.model_validate(told)


def trees_at(
    marked: list[tuple[float, float]],
    leave: list[tuple[float, float]] = (),  # type: ignore[assignment]
    *,
    keep: set[int] = frozenset(),  # type: ignore[assignment]
    error_m: float = 0.0,
    dbh_cm: float = 20.0,
    full_list: bool = True,
) -> Trees:
    """List trees by their places from the middle of the ground, metres east and north."""
    places = [*marked, *leave]
    n = len(places)
    blank = np.full(n, np.nan)
    return Trees(
        tree_id=tuple(f"t{i}" for i in range(n)),
        x=np.array([MID_X + x for x, _ in places], dtype=float),
        y=np.array([MID_Y + y for _, y in places], dtype=float),
        species=("northern red oak",) * n,
        dbh_cm=np.full(n, dbh_cm),
        height_m=np.full(n, 15.0),
        marked=np.arange(n) < len(marked),
        keep=tuple("crop" if i - len(marked) in keep else "" for i in range(n)),
        hazard=("",) * n,
        position_error_m=np.full(n, error_m),
        lean_deg=blank,
        lean_azimuth_deg=blank,
        logs=blank,
        defect_pct=blank,
        full_list=full_list,
        table=pd.DataFrame(),
    )


def area_of(
    trees: Trees,
    shape: Callable[[Any, Any], Any] = lambda x, y: 0.0 * x,
    told: AreaSettings | None = None,
    cell_m: float = 1.0,
    **more: Any,
) -> Area:
    """Build an area; ``shape`` gives elevations from metres east and north of the middle."""
    cells = int(SIZE / cell_m)
    at = (np.arange(cells) + 0.5) * cell_m - SIZE / 2
    east, north = np.meshgrid(at, -at)
    z = (300 + shape(east, north)).astype(np.float32)
    stand = more.pop("stand", MultiPolygon([box(WEST, NORTH - SIZE, WEST + SIZE, NORTH)]))
    return Area(
        folder=Path(),
        settings=told or read(),
        crs=pyproj.CRS.from_epsg(32618),
        dem=Dem(z, WEST, NORTH, cell_m),
        stand=stand,
        trees=trees,
        **more,
    )


def ready(area: Area, no_cable: Any = None) -> tuple[winch.PullGround, winch.WinchRules]:
    shape = terrain.build(area.dem)
    none = np.zeros(area.dem.shape, dtype=bool)
    far = np.full(area.dem.shape, np.inf)
    strips = water.Strips(
        none, none, none if no_cable is None else no_cable, far, far, far,
        np.full(area.dem.shape, -1, dtype=np.int16), (), (),
    )  # fmt: skip
    return winch.prepare(area, shape, strips), winch.rules_from(area.settings)


def from_middle(
    area: Area,
    rear_rad: float = EAST,
    swing_deg: float = 0.0,
    any_heading: bool = False,
    no_cable: Any = None,
) -> winch.Pairs:
    ground, rules = ready(area, no_cable)
    return winch.evaluate(ground, rules, [MID_X], [MID_Y], [rear_rad], swing_deg, any_heading)


def served(pairs: winch.Pairs) -> list[bool]:
    return (pairs.best_code == CODE["served"]).tolist()


def reasons(pairs: winch.Pairs) -> list[str]:
    return [CODE_NAME[int(code)] for code in pairs.best_code]


def polar(distance: float, bearing_deg: float) -> tuple[float, float]:
    return (
        distance * math.cos(math.radians(bearing_deg)),
        distance * math.sin(math.radians(bearing_deg)),
    )


# Names that must agree between the kernel and the rooms above it.


def test_every_limit_of_the_kernel_is_a_number_of_the_rules() -> None:
    rules = winch.rules_from(read())
    for name in LIMIT_NAMES:
        assert math.isfinite(getattr(rules, name)), name
    assert set(CODE_NAMES) == set(REASON_NAMES) - {"not_in_stand"}
    assert set(NUMBER_NAMES) <= set(winch.Pairs.__annotations__)
    assert [CODE[n] for n in CODE_NAMES] == sorted(CODE[n] for n in CODE_NAMES)
    assert set(winch.REASONS) == set(CODE.values())


def test_a_changed_limit_reaches_the_kernel() -> None:
    # Each limit of a pull, made hopeless by the settings, must refuse it.
    place = trees_at([polar(20, 0)])
    assert served(from_middle(area_of(place))) == [True]
    for tables in (
        {"winch": {"cable_m": 18.0}},
        {"winch": {"working_reach_m": 15.0, "uphill_reach_m": 15.0}},
        {"winch": {"pull_rating_kn": 5.0}, "timber": {"weight_error_pct": 50.0}},
    ):
        heavy = trees_at([polar(20, 0)], dbh_cm=90.0)
        assert served(from_middle(area_of(heavy, told=read(**tables)))) == [False], tables


# Rule 1: reach


@pytest.mark.parametrize("bearing", [-20, 0, 13])
def test_reach_on_level_ground(bearing: float) -> None:
    # 130 ft by hand is less than 165 ft of rope, three wraps of 0.5 m off and 6 ft of choker on
    reach = 130 * FOOT_M
    pairs = from_middle(
        area_of(trees_at([polar(reach - 0.01, bearing), polar(reach + 0.02, bearing)]))
    )
    assert served(pairs) == [True, False]
    assert pairs.reach_m[0] == pytest.approx(reach)
    assert pairs.ground_m[0] == pytest.approx(reach - 0.01)
    assert reasons(pairs)[1] == "reach"
    assert pairs.best_shortfall[1] == pytest.approx(0.02, abs=1e-6)


def test_rope_less_wraps_and_choker_limits_a_short_rope() -> None:
    told = read(winch={"cable_m": 30.0, "wraps_kept": 8, "choker_m": 2.0})
    assert winch.rules_from(told).longest_m == pytest.approx(30 - 8 * 0.5 + 2)


@pytest.mark.parametrize("grade", [-0.14, -0.05, 0.03, 0.09])
@pytest.mark.parametrize("cell_m", [1.0, 0.5, 5.0])
def test_reach_uphill_on_a_plane(grade: float, cell_m: float) -> None:
    # The stump lies along the fall line; ground length L = d sqrt(1 + g2), rise over it sin.
    rise = grade / math.hypot(1, grade)
    reach = (130 - 30 * min(max(rise / 0.20, 0), 1)) * FOOT_M
    edge = reach / math.hypot(1, grade)
    pairs = from_middle(
        area_of(
            trees_at([(edge - 0.05, 0), (edge + 0.05, 0)]), lambda x, y: grade * x, cell_m=cell_m
        )
    )
    assert served(pairs) == [True, False]
    assert pairs.reach_m[0] == pytest.approx(reach, abs=1e-3)
    assert pairs.ground_m[0] == pytest.approx((edge - 0.05) * math.hypot(1, grade), abs=1e-3)
    assert pairs.rise_m[0] == pytest.approx(grade * (edge - 0.05), abs=1e-3)
    assert reasons(pairs)[1] == "reach"


# Rule 2: angle, swing, parking


def test_the_band_a_straight_trail_serves() -> None:
    # On flat ground a position reaches out reach x sin(angle + swing) to each side.
    bearings = np.arange(-90, 90.01, 0.25)
    reach = 130 * FOOT_M
    for swing in (0.0, 15.0, 23.5):
        pairs = from_middle(
            area_of(trees_at([polar(reach - 1e-6, b) for b in bearings])), swing_deg=swing
        )
        off = np.abs(reach * np.sin(np.radians(bearings)))
        half = off[np.array(served(pairs))].max()
        widest = 0.25 * math.floor((30 + swing) / 0.25)
        assert half == pytest.approx(reach * math.sin(math.radians(widest)), abs=1e-3)
        assert np.array(served(pairs)).tolist() == (np.abs(bearings) <= 30 + swing + 1e-9).tolist()


@given(st.floats(-180, 180), st.floats(0, 40), st.floats(-720, 720))
def test_swing_and_angle_against_plane_geometry(
    bearing: float, swing_deg: float, rear_deg: float
) -> None:
    ground, rules = FLAT
    x, y = polar(25, bearing + rear_deg)
    ground = move_tree(ground, x, y)
    pairs = winch.evaluate(
        ground, rules, [MID_X], [MID_Y], [math.radians(rear_deg)], swing_deg, False
    )
    off = math.remainder(bearing, 360)
    swung = min(max(off, -swing_deg), swing_deg)
    angle = abs(off - swung)
    if angle > 30 + 1e-6:
        assert len(pairs) == 0
        assert reasons(pairs) == ["angle"]
        assert pairs.best_shortfall[0] == pytest.approx(angle - 30, abs=1e-6)
    elif angle < 30 - 1e-6 and abs(abs(off) - 180) > 1e-6:
        assert pairs.swing_deg[0] == pytest.approx(swung, abs=1e-6)
        assert pairs.angle_deg[0] == pytest.approx(angle, abs=1e-6)
        assert pairs.angle_limit_deg[0] == 30


def move_tree(ground: winch.PullGround, x: float, y: float) -> winch.PullGround:
    return replace(ground, x=np.array([MID_X + x]), y=np.array([MID_Y + y]))


FLAT = ready(area_of(trees_at([(10.0, 0.0)])))


# cross slope, percent -> the table's angle, on the upper side and on the lower one
TABLE = [(0.0, 30, 30), (0.9, 30, 30), (3.0, 30, 15), (4.9, 30, 15), (5.1, 20, 10), (9.9, 20, 10),
         (10.2, 15, 7.5), (14.8, 15, 7.5)]  # fmt: skip


@pytest.mark.parametrize(("cross", "upper", "lower"), TABLE)
def test_the_angle_table_by_cross_slope(cross: float, upper: float, lower: float) -> None:
    # Rear to the east, ground rising to the north: the left side, looking back, is the upper.
    eps = 0.02
    places = [polar(20, b) for b in (upper - eps, upper + eps, -(lower - eps), -(lower + eps))]
    pairs = from_middle(area_of(trees_at(places), lambda x, y: cross / 100 * y))
    level = cross == 0.0
    assert served(pairs) == [True, False, True, False]
    assert pairs.angle_limit_deg.tolist() == [upper, lower]
    assert pairs.cross_pct == pytest.approx([cross, cross], abs=2e-3)
    assert level or reasons(pairs)[1] == "angle"


def test_a_light_tractor_is_held_to_its_own_limit() -> None:
    told = read(tractor={"mass_kg": 3200.0, "traction": 0.4})
    slope = 6.1  # between two entries: the next steeper one, 6.25 %, answers
    limit = {
        down: float(tractor.side_limit_deg(told.tractor, 40.0, 6.25, downhill=down))
        for down in (False, True)
    }
    assert limit[True] < 10 and limit[False] < 20  # tighter than the table
    places = [polar(20, limit[False] - 0.01), polar(20, limit[False] + 0.01),
              polar(20, -limit[True] + 0.01), polar(20, -limit[True] - 0.01)]  # fmt: skip
    pairs = from_middle(area_of(trees_at(places), lambda x, y: slope / 100 * y, told))
    assert served(pairs) == [True, False, True, False]


def test_wet_ground_takes_five_degrees_off() -> None:
    told = read(ground={"condition": "wet"})
    pairs = from_middle(area_of(trees_at([polar(20, 24.9), polar(20, 25.1)]), told=told))
    assert served(pairs) == [True, False]


def test_no_swing_where_the_ground_is_steeper_than_10_percent() -> None:
    for slope, swung in ((9.8, 15.0), (10.3, 0.0)):
        pairs = from_middle(
            area_of(trees_at([polar(15, 12)]), lambda x, y, s=slope: -s / 100 * x),  # type: ignore[misc]
            swing_deg=15.0,
        )
        assert pairs.swing_deg[0] == pytest.approx(min(12.0, swung), abs=1e-6)


def test_a_swung_tractor_is_measured_in_its_swung_heading() -> None:
    # Ground falls 8 % to the east. Swung by s the outfit lies 8 cos s lengthwise, 8 sin s across.
    pairs = from_middle(area_of(trees_at([polar(15, 12)]), lambda x, y: -0.08 * x), swing_deg=15.0)
    assert pairs.cross_pct[0] == pytest.approx(8 * math.sin(math.radians(12)), abs=2e-3)
    # the rear is the lower end: loaded travel goes uphill
    assert pairs.along_pct[0] == pytest.approx(8 * math.cos(math.radians(12)), abs=2e-3)


@pytest.mark.parametrize(
    ("slope", "ok", "caution"),
    [(9.9, True, False), (10.1, True, True), (14.9, True, True), (15.1, False, False)],
)
@pytest.mark.parametrize("lengthwise", [True, False])
def test_parking(slope: float, ok: bool, caution: bool, lengthwise: bool) -> None:
    def plane(x: Any, y: Any) -> Any:
        return -slope / 100 * (x if lengthwise else y)

    area = area_of(trees_at([polar(15, 0)]), plane)
    ground, rules = ready(area)
    lies = winch.park(ground, rules, [MID_X], [MID_Y], [EAST])
    assert (bool(lies.ok[0]), bool(lies.caution[0])) == (ok, caution)
    assert lies.slope_pct[0] == pytest.approx(slope, abs=2e-3)
    pairs = from_middle(area)
    assert served(pairs) == [ok]
    if ok:
        assert bool(pairs.caution[0] & 1) == caution
    else:
        assert reasons(pairs) == ["parking"]
        assert pairs.best_shortfall[0] == pytest.approx(0.1, abs=2e-3)


def test_parking_signs() -> None:
    ground, rules = ready(area_of(trees_at([(10, 0)]), lambda x, y: 0.03 * x + 0.05 * y))
    east = winch.park(ground, rules, MID_X, MID_Y, EAST)
    # rear uphill: loaded travel is downhill, negative; left (north) is the higher side
    assert float(east.along_pct) == pytest.approx(-3, abs=1e-3)
    assert float(east.tilt_left_pct) == pytest.approx(5, abs=1e-3)
    west = winch.park(ground, rules, MID_X, MID_Y, math.pi)
    assert float(west.along_pct) == pytest.approx(3, abs=1e-3)
    assert float(west.tilt_left_pct) == pytest.approx(-5, abs=1e-3)


def test_off_the_known_ground_nothing_is_parked() -> None:
    ground, rules = ready(area_of(trees_at([(-47, 0)])))
    lies = winch.park(ground, rules, WEST + 2, MID_Y, EAST)  # nose off the grid
    assert not bool(lies.ok)
    pairs = winch.evaluate(ground, rules, [WEST + 2], [MID_Y], [EAST], 0.0, False)
    assert reasons(pairs) == ["parking"]


def test_the_landing_turns_straight_at_the_tree_where_it_can_park_so() -> None:
    pairs = from_middle(area_of(trees_at([polar(30, b) for b in (0, 90, 179, -135)])),
                        any_heading=True)  # fmt: skip
    assert served(pairs) == [True] * 4
    assert pairs.angle_deg.tolist() == [0.0] * 4
    order = np.argsort(pairs.tree)
    assert pairs.swing_deg[order] == pytest.approx([0, 90, 179, -135])
    # 17 % down to the east: no way to point the rear east or west, but north is across: 17 too
    steep = from_middle(area_of(trees_at([polar(20, 90)]), lambda x, y: -0.17 * x),
                        any_heading=True)  # fmt: skip
    assert reasons(steep) == ["parking"]


def test_the_widest_swing() -> None:
    # "about 23 degrees on 12 ft, 15 on 10 ft for a 5 m x 1.8 m outfit"
    assert winch.swing_limit_deg(5, 1.8, 12 * FOOT_M) == pytest.approx(23.7, abs=0.05)
    assert winch.swing_limit_deg(5, 1.8, 10 * FOOT_M) == pytest.approx(15.2, abs=0.05)
    assert winch.swing_limit_deg(5, 1.8, 1.8) == 0.0
    assert winch.swing_limit_deg(5, 1.8, 1.5) == 0.0
    assert winch.swing_limit_deg(5, 1.8, 6.0) == 90.0


@given(st.floats(3, 7), st.floats(1.2, 2.5), st.floats(0.01, 4))
def test_the_widest_swing_fills_the_trail(length: float, width: float, more: float) -> None:
    trail = width + more
    swing = math.radians(winch.swing_limit_deg(length, width, trail))
    needed = length * math.sin(swing) + width * math.cos(swing)
    assert needed == pytest.approx(trail, rel=1e-9) or trail > math.hypot(length, width)


# Sides, from the seat, looking back


@pytest.mark.parametrize(
    ("rear", "place", "side"),
    [
        (NORTHWARD, (10, 20), "right"),  # rear to the north, seen north: east is on the right
        (NORTHWARD, (-10, 20), "left"),
        (EAST, (20, 10), "left"),  # rear to the east: north is on the left
        (EAST, (20, -10), "right"),
        (math.pi, (-20, 10), "right"),  # rear to the west: north is on the right
        (EAST, (20, 0.1), "straight"),
    ],
)
def test_side_from_the_seat_looking_back(
    rear: float, place: tuple[float, float], side: str
) -> None:
    area = area_of(trees_at([place]))
    ground, rules = ready(area)
    pairs = winch.evaluate(ground, rules, [MID_X], [MID_Y], [rear], 0.0, False)
    pull = winch.to_pull(ground, rules, position_at(MID_X, MID_Y), pairs, 0)
    assert pull.side == side
    assert pull.tree_id == "t0"
    assert list(pull.line.coords) == [(MID_X, MID_Y), (MID_X + place[0], MID_Y + place[1])]
    assert pull.map_m == pytest.approx(pull.line.length)
    assert pull.leave_hits == 0.0


def position_at(x: float, y: float) -> WinchPosition:
    return WinchPosition("W1", "M", "L1", 10.0, x, y, 0.0, 0.0, 0.0, 0.0, 0.0)


def test_a_pair_of_another_position_is_refused() -> None:
    ground, rules = ready(area_of(trees_at([(20, 0)])))
    pairs = winch.evaluate(ground, rules, [MID_X], [MID_Y], [EAST], 0.0, False)
    with pytest.raises(InputError, match=r"position W1 is 15\.00 m from tree t0.* 20\.00 m"):
        winch.to_pull(ground, rules, position_at(MID_X + 5, MID_Y), pairs, 0)


# Rule 3: load above the winch


@pytest.mark.parametrize(("rise", "allowed", "caution"), [(9.0, True, False), (11.0, True, True),
                                                          (14.5, True, True)])  # fmt: skip
def test_load_above(rise: float, allowed: bool, caution: bool) -> None:
    grade = rise / 100 / math.sqrt(1 - (rise / 100) ** 2)
    pairs = from_middle(area_of(trees_at([(20, 0)]), lambda x, y: grade * x))
    assert served(pairs) == [allowed]
    assert bool(pairs.caution[0] & 4) == caution


def bank(grade: float) -> Callable[[Any, Any], Any]:
    """Level where the tractor stands, then rising to the east."""
    return lambda x, y: grade * np.maximum(x - 3.0, 0.0)


def test_more_than_20_percent_above_is_not_a_straight_pull() -> None:
    # 17 m of a 20 m pull rise; the other 3 m are level
    for grade, reason in ((0.23, "served"), (0.25, "above")):
        pairs = from_middle(area_of(trees_at([(20, 0)]), bank(grade)))
        assert reasons(pairs) == [reason]
    above = 100 * 17 * 0.25 / (3 + 17 * math.hypot(1, 0.25))
    assert pairs.best_shortfall[0] == pytest.approx(above - 20, abs=0.02)


def test_on_slick_ground_a_load_runs_sooner() -> None:
    # Low friction 0.2 over 1.5: 13.3 % of rise is the end, dry ground still allows it.
    shape = bank(0.165)  # 14 % over the whole pull
    assert reasons(from_middle(area_of(trees_at([(20, 0)]), shape))) == ["served"]
    slick = from_middle(area_of(trees_at([(20, 0)]), shape, read(ground={"condition": "frozen"})))
    assert reasons(slick) == ["runs"]


def test_a_stretch_steeper_than_the_friction_stops_a_mild_pull() -> None:
    # 12 m at 32 % in 32 m: 12 % in all, but the load would run down the bank.
    pairs = from_middle(
        area_of(trees_at([(32, 0)]), lambda x, y: 0.32 * np.clip(x - 15.0, 0.0, 12.0))
    )
    assert reasons(pairs) == ["runs"]
    assert pairs.best_shortfall[0] == pytest.approx(2.0, abs=0.3)
    down = from_middle(
        area_of(
            trees_at([(32, 0)]),
            lambda x, y: -0.32 * np.clip(x - 15.0, 0.0, 12.0),
            read(winch={"hump_m": 3.0}),
        )
    )
    assert reasons(down) == ["served"]


# Rule 4: the corridor


def test_stems_on_the_rope_and_in_the_lane() -> None:
    # dbh 20 cm: on the rope within 0.3048 + 0.10 m of it, in the lane within 0.9144 + 0.10 m
    def with_leave(*leave: tuple[float, float], **more: Any) -> winch.Pairs:
        return from_middle(area_of(trees_at([(30, 0)], list(leave), **more)))

    assert reasons(with_leave((15, 0.40))) == ["rope_stem"]
    pairs = with_leave((15, 0.41))
    assert served(pairs) == [True]
    assert pairs.hits[0] == 1
    assert pairs.caution[0] & 16
    assert with_leave((15, 1.01)).hits[0] == 1
    assert with_leave((15, 1.02)).hits[0] == 0
    assert reasons(with_leave((15, 0.8), keep={0})) == ["keep_tree"]
    assert served(with_leave((15, 1.02), keep={0})) == [True]
    assert served(with_leave((10, 0.8), (15, -0.8))) == [True]
    assert reasons(with_leave((10, 0.8), (15, -0.8), (20, 0.8))) == ["leave_hits"]
    # beyond the stump, and at the fairlead, where the trail is
    assert with_leave((31.1, 0)).hits[0] == 0
    assert served(with_leave((1.2, 0.1))) == [True]
    assert reasons(with_leave((1.2, 0.1), keep={0})) == ["rope_stem"]


def test_vague_places_give_expected_counts_and_block_nothing() -> None:
    leave = [(15.0, 0.0), *[(x, 30.0) for x in range(-40, 40)]]
    area = area_of(trees_at([(30, 0)], leave, error_m=5.0))
    ground, _ = ready(area)
    assert not ground.single_stems_usable
    pairs = from_middle(area)
    density = 81 / SIZE**2
    assert pairs.hits[0] == pytest.approx(density * (6 * FOOT_M + 0.20) * 30)
    # cost: 0.25 a metre, 0.1 x corridor, 1.5 a stem, and 0 or 2 or 6 for the margin
    plain = 0.25 * 30 + 0.1 * 6 * FOOT_M * 30 + 1.5 * pairs.hits[0]
    assert pairs.cost_m2[0] - plain == pytest.approx([0, 2, 6][int(pairs.sure[0])])


def test_a_list_of_marked_trees_leaves_hits_unknown() -> None:
    area = area_of(trees_at([(30, 0)], full_list=False))
    pairs = from_middle(area)
    assert math.isnan(pairs.hits[0])
    ground, rules = ready(area)
    assert winch.to_pull(ground, rules, position_at(MID_X, MID_Y), pairs, 0).leave_hits is None


@given(
    st.lists(st.tuples(st.floats(-5, 35), st.floats(-4, 4)), max_size=25),
    st.floats(5, 38),
    st.floats(-180, 180),
    st.floats(1.0, 3.5),
)
@settings(max_examples=60, deadline=None)
def test_stem_counts_against_shapely(
    stems: list[tuple[float, float]], length: float, turn_deg: float, lane: float
) -> None:
    turn = math.radians(turn_deg)
    cos, sin = math.cos(turn), math.sin(turn)
    x = np.array([a * cos - b * sin for a, b in stems], dtype=float)
    y = np.array([a * sin + b * cos for a, b in stems], dtype=float)
    radius = np.full(len(stems), 0.12)
    keep = np.arange(len(stems)) % 3 == 0
    bins = binned(x, y, 5.0, (-50.0, -50.0, 50.0, 50.0))
    line = LineString([(0, 0), (length * cos, length * sin)])
    away = np.array([line.distance(Point(a, b)) for a, b in zip(x, y, strict=True)]) - 0.12
    near = np.hypot(x, y) < 1.5
    counted = keep | ~near
    if np.any(np.abs(np.concatenate([away - 0.3, away - lane / 2, np.hypot(x, y) - 1.5])) < 1e-9):
        return
    got = count_stems(
        (x, y, radius, keep, 0.12, (bins.first, bins.items, bins.west_m, bins.north_m, 5.0)),
        (0.0, 0.0, length * cos, length * sin),
        lane,
        0.3,
        1.5,
    )
    in_lane = (away < lane / 2) & counted
    assert got == (
        int(((away < 0.3) & counted).sum()),
        int((in_lane & keep).sum()),
        int((in_lane & ~keep).sum()),
    )


@given(
    st.tuples(st.floats(-3, 23), st.floats(-3, 23)),
    st.tuples(st.floats(-3, 23), st.floats(-3, 23)),
    st.integers(0, 2**32 - 1),
)
@settings(max_examples=60, deadline=None)
def test_metres_on_closed_ground_against_shapely(
    start: tuple[float, float], end: tuple[float, float], seed: int
) -> None:
    rng = np.random.default_rng(seed)
    cell = 2.0
    codes = rng.choice([0, 0, 0, 1, 2, 3, 4], size=(10, 10)).astype(np.uint8)
    z = np.zeros((10, 10), dtype=np.float32)
    found = np.empty(5)
    # off the cells' edges, where a line would lie in two cells at once
    (x0, y0), (x1, y1) = ((x + 0.01234567, y + 0.07654321) for x, y in (start, end))
    closed_length((z, z, 0.0, 20.0, cell, codes), x0, y0, x1, y1, 0.0, found)
    line = LineString([(x0, y0), (x1, y1)])
    expected = np.zeros(5)
    for row in range(10):
        for col in range(10):
            square = box(col * cell, 20 - (row + 1) * cell, (col + 1) * cell, 20 - row * cell)
            expected[codes[row, col]] += line.intersection(square).length
    expected[1] += line.length - line.intersection(box(0, 0, 20, 20)).length
    assert found[1:] == pytest.approx(expected[1:], abs=1e-6)


def test_soft_ground_counts_only_away_from_the_stump() -> None:
    codes = np.zeros((10, 10), dtype=np.uint8)
    codes[:, 5] = 13
    z = np.zeros((10, 10), dtype=np.float32)
    found = np.empty(5)
    for free, metres in ((0.0, 1.0), (1.4, 0.6), (3.0, 0.0)):
        closed_length((z, z, 0.0, 10.0, 1.0, codes), 4.0, 5.5, 9.0, 5.5, free, found)
        assert found[3] == pytest.approx(metres)


def test_each_kind_of_closed_ground_has_its_reason() -> None:
    wall = box(MID_X + 10, MID_Y - 20, MID_X + 14, MID_Y + 20)
    trees = trees_at([(25, 0)])
    assert reasons(from_middle(area_of(trees, keep_out=(wall,)))) == ["keep_out"]
    hole = MultiPolygon([box(WEST, NORTH - SIZE, WEST + SIZE, NORTH).difference(wall)])  # type: ignore[list-item]
    assert reasons(from_middle(area_of(trees, stand=hole))) == ["outside_land"]
    back = area_of(trees, stand=hole, may_use=MultiPolygon([wall]))
    assert reasons(from_middle(back)) == ["served"]
    strip = np.zeros((SIZE, SIZE), dtype=bool)
    strip[:, 60:64] = True
    assert reasons(from_middle(area_of(trees), no_cable=strip)) == ["water"]
    wire = Hazard("h1", "wire", LineString([(MID_X + 12, MID_Y - 30), (MID_X + 15, MID_Y + 30)]))
    assert reasons(from_middle(area_of(trees, hazards=(wire,)))) == ["hazard"]
    pipe = Hazard("h1", "pipe", wire.geometry)
    assert reasons(from_middle(area_of(trees, hazards=(pipe,)))) == ["served"]
    odd = Hazard("h1", "something else", wire.geometry)
    assert reasons(from_middle(area_of(trees, hazards=(odd,)))) == ["hazard"]


def test_a_tree_on_closed_ground_is_told_so_from_any_distance() -> None:
    strip = np.zeros((SIZE, SIZE), dtype=bool)
    strip[:, 95:] = True
    stand = MultiPolygon([box(WEST + 10, NORTH - SIZE, WEST + SIZE, NORTH)])
    pairs = from_middle(area_of(trees_at([(47.5, 0), (-45, 0)]), stand=stand), no_cable=strip)
    assert reasons(pairs) == ["water", "not_in_stand"]
    assert [winch.REASONS[int(c)] for c in pairs.best_code] == ["blocked_by_water", "outside"]


def test_a_load_keeps_half_a_corridor_off_the_edge() -> None:
    # The rope runs 0.5 m inside the stand's edge for 25 m: the load would hang over it.
    stand = MultiPolygon([box(WEST, MID_Y - 0.7, WEST + SIZE, NORTH)])
    along_edge = from_middle(area_of(trees_at([(25, 0)]), stand=stand))
    assert reasons(along_edge) == ["outside_land"]
    # A tree as near the edge, but pulled away from it, may come.
    stand = MultiPolygon([box(WEST, NORTH - SIZE, MID_X + 25.5, NORTH)])
    assert served(from_middle(area_of(trees_at([(25, 0)]), stand=stand))) == [True]


def test_hump_over_the_straight_rope() -> None:
    # Level ends: the rope hangs from 0.9 m to 0.3 m, 0.6 m over the middle.
    for height, reason in ((1.45, "served"), (1.60, "hump")):
        pairs = from_middle(
            area_of(trees_at([(30, 0)]), lambda x, y, h=height: h * np.exp(-(((x - 15) / 4) ** 2)))  # type: ignore[misc]
        )
        assert reasons(pairs) == [reason]
    assert pairs.best_shortfall[0] == pytest.approx(1.60 - 0.6 - 3 * FOOT_M, abs=0.05)


def test_unknown_elevations_are_not_crossed() -> None:
    area = area_of(trees_at([(30, 0)]))
    area.dem.z[45:55, 68] = np.nan
    pairs = from_middle(area)
    assert reasons(pairs) == ["no_elevation"]


# Rule 5: pull


def test_the_pull_by_hand() -> None:
    # Tractor uphill of the stump, 12 %: F = m x 1.15 x g (0.8 cos + sin) x 1.4
    area = area_of(trees_at([(20, 0)]), lambda x, y: -0.12 * x)
    ground, rules = ready(area)
    pairs = from_middle(area)
    slope = math.atan(0.12)
    newton = ground.mass_kg[0] * 1.15 * 9.80665 * (0.8 * math.cos(slope) + math.sin(slope)) * 1.4
    assert pairs.pull_kn[0] == pytest.approx(newton / 1000, rel=1e-4)
    assert pairs.pieces[0] == 1
    assert rules.pull_limit_kn == pytest.approx(0.65 * 40)
    # and the published case without error and breakout: 1000 kg, 0.6, 30 % up: 862 kgf
    bare = read(
        tractor={"skid_friction": (0.3, 0.6)},
        timber={"weight_error_pct": 0.0},
        work={"breakout": 0.0},
    )
    thousand = ready(area_of(trees_at([(20, 0)]), lambda x, y: -0.30 * np.maximum(x - 3, 0), bare))
    moved = replace(thousand[0], mass_kg=np.array([1000.0]))
    pulled = winch.evaluate(moved, thousand[1], [MID_X], [MID_Y], [EAST], 0.0, False)
    assert pulled.pull_kn[0] * 1000 / 9.80665 == pytest.approx(862, abs=1)


def test_a_heavy_stem_is_bucked_first() -> None:
    area = area_of(trees_at([(20, 0)]))
    ground, rules = ready(area)
    per_kg = 1.15 * 9.80665e-3 * 0.8 * 1.4
    for times, pieces in ((0.99, 1), (1.01, 2), (2.01, 3), (2.99, 3), (3.01, 0)):
        mass = times * rules.pull_limit_kn / per_kg
        heavy = replace(ground, mass_kg=np.array([mass]))
        pairs = winch.evaluate(heavy, rules, [MID_X], [MID_Y], [EAST], 0.0, False)
        if pieces:
            assert pairs.pieces.tolist() == [pieces]
            assert pairs.pull_kn[0] == pytest.approx(mass * per_kg / pieces)
            assert bool(pairs.caution[0] & 32) == (pieces > 1)
        else:
            assert reasons(pairs) == ["pull"]
            assert pairs.best_shortfall[0] == pytest.approx(0.01 / 3 * rules.pull_limit_kn)


def test_a_weak_rope_decides() -> None:
    rules = winch.rules_from(read(winch={"pull_rating_kn": 40.0, "rope_breaking_kn": 44.0}))
    assert rules.pull_limit_kn == 22.0


def test_a_full_drum_from_the_plate_decides_in_place_of_65_percent() -> None:
    assert winch.rules_from(read(winch={"pull_rating_kn": 40.0})).pull_limit_kn == 26.0
    plate = read(winch={"pull_rating_kn": 40.0, "pull_full_drum_kn": 22.0})
    assert winch.rules_from(plate).pull_limit_kn == 22.0


def test_an_unknown_weight_is_said() -> None:
    pairs = from_middle(area_of(trees_at([(20, 0)], dbh_cm=float("nan"))))
    assert math.isnan(pairs.pull_kn[0])
    assert "the stem's weight is not known" in winch.cautions(int(pairs.caution[0]))


def test_whole_trees_take_a_wider_corridor_and_weigh_more() -> None:
    told = read(work={"extract": "tree"})
    ground, rules = ready(area_of(trees_at([(20, 0)], dbh_cm=45.0), told=told))
    stems, narrow = ready(area_of(trees_at([(20, 0)], dbh_cm=45.0)))
    assert rules.corridor_m == pytest.approx(10 * FOOT_M)
    assert narrow.corridor_m == pytest.approx(6 * FOOT_M)
    assert ground.mass_kg[0] > stems.mass_kg[0]


# Margins, sureness, price


def test_sure_tight_doubtful() -> None:
    reach = 130 * FOOT_M
    # straight behind only the reach counts: 1 in 20 and 1 in 5 beyond it, by Rice's distribution
    edges = [margin_for(chance, reach, 5.0) for chance in (0.05, 0.20)]
    assert edges == pytest.approx([1.2 * 5, 0.6 * 5], abs=0.25)  # the margins it replaces
    places = [(reach - edge + side, 0) for edge in edges for side in (-0.05, 0.05)]
    pairs = from_middle(area_of(trees_at(places, error_m=5.0)))
    order = np.argsort(pairs.tree)
    assert [winch.SURENESS[k] for k in pairs.sure[order]] == ["sure", "tight", "tight", "doubtful"]


@given(st.floats(3, 39), st.floats(-44, 44), st.floats(0, 2 * math.pi), st.floats(0, 0.999))
@settings(deadline=None)
def test_within_its_margin_a_stump_may_be_anywhere(
    distance: float, bearing: float, way: float, share: float
) -> None:
    ground, rules = FLAT
    x, y = polar(distance, bearing)

    def tried(x: float, y: float) -> winch.Pairs:
        there = move_tree(ground, x, y)
        return winch.evaluate(there, rules, [MID_X], [MID_Y], [EAST], 15.0, False)

    pairs = tried(x, y)
    margin = float(pairs.margin_m[0])
    room = distance * math.sin(math.radians(min(45 - abs(bearing), 90)))
    assert margin == pytest.approx(min(rules.longest_m - distance, room), abs=1e-6)
    moved = tried(x + share * margin * math.cos(way), y + share * margin * math.sin(way))
    assert served(moved) == [True]


def test_the_price_of_a_pull() -> None:
    area = area_of(trees_at([(20, 0)], [(10, 0.8)]), lambda x, y: 0.05 * x)
    pairs = from_middle(area)
    ground = 20 * math.hypot(1, 0.05)
    # pull, corridor, one stem brushed, load above the fairlead; sure
    expected = 0.25 * ground + 0.1 * 6 * FOOT_M * 20 + 1.5 + 2.0
    assert pairs.sure[0] == 0
    assert pairs.cost_m2[0] == pytest.approx(expected, abs=1e-3)


# Reasons


def test_the_pull_that_got_farthest_gives_the_reason() -> None:
    ground, rules = ready(area_of(trees_at([(30, 0)])))
    # far off; wrong heading; and one the other way that also fails by the angle, but less
    x = [MID_X - 30, MID_X, MID_X]
    pairs = winch.evaluate(
        ground, rules, x, [MID_Y] * 3, [EAST, math.radians(100), math.radians(-40)], 0.0, False
    )
    assert reasons(pairs) == ["angle"]
    assert pairs.best_pos[0] == 2
    assert pairs.best_shortfall[0] == pytest.approx(10)
    only_far = winch.evaluate(ground, rules, x[:1], [MID_Y], [EAST], 0.0, False)
    assert reasons(only_far) == ["reach"]
    assert only_far.best_shortfall[0] == pytest.approx(60 - 130 * FOOT_M)


def test_without_positions_there_is_no_trail() -> None:
    ground, rules = ready(area_of(trees_at([(30, 0), (0, 30)])))
    pairs = winch.evaluate(ground, rules, [], [], [], 0.0, False)
    assert len(pairs) == 0
    assert [winch.REASONS[int(c)] for c in pairs.best_code] == ["no_trail"] * 2
    assert pairs.best_pos.tolist() == [-1, -1]


def test_without_marked_trees_there_are_no_pairs() -> None:
    ground, rules = ready(area_of(trees_at([], [(5, 5)])))
    assert len(winch.evaluate(ground, rules, [MID_X], [MID_Y], [EAST], 0.0, False)) == 0


def test_positions_that_do_not_match_are_refused() -> None:
    ground, rules = FLAT
    with pytest.raises(InputError, match="2 x, 1 y and 1 directions"):
        winch.evaluate(ground, rules, [1, 2], [1], [0], 0.0, False)
    with pytest.raises(InputError, match="NaN"):
        winch.evaluate(ground, rules, [1], [np.nan], [0], 0.0, False)


def test_leaving_it_standing_is_the_first_remedy() -> None:
    for status in set(winch.REASONS.values()) | {"not_worth_it", "no_turning"}:
        told = winch.remedies(status, 3.0, "us")
        if status == "served":
            assert told == ()
        else:
            assert told[0] == "leave it standing"
            assert len(told) > 1
    assert "10 ft" in winch.remedies("beyond_reach", 3.048, "us")[1]
    assert "3.0 m" in winch.remedies("beyond_reach", 3.0, "metric")[1]
    assert winch.remedies("beyond_reach", None, "us")[1] == "bring a trail nearer"
    assert winch.remedies("leave", None, "us") == ()
    # a stronger winch is stronger by something: up to the next whole kilonewton
    assert winch.remedies("too_heavy", 0.3, "us")[-1] == "a winch that pulls 1 kN more"
    assert winch.remedies("too_heavy", 2.2, "us")[-1] == "a winch that pulls 3 kN more"
    assert winch.remedies("too_heavy", 3.0, "us")[-1] == "a winch that pulls 3 kN more"


def test_what_the_rules_cannot_judge_is_said() -> None:
    fine = read(winch={"snatch_block": True, "block_rating_kn": 90.0, "anchor_dbh_m": 0.6,
                       "pull_angle_deg": 80.0})  # fmt: skip
    assert {f.code: f.level for f in winch.findings_from(fine)}["snatch_block"] == "unknown"
    assert winch.rules_from(fine).pull_angle_deg == 30.0  # straight pulls keep their ceiling
    light = read(tractor={"mass_kg": 3200.0, "traction": 0.4})
    assert any(f.code == "side_pull" and f.level == "caution" for f in winch.findings_from(light))
    logs = read(winch={"winch_form": "log"})
    assert {f.code: f.level for f in winch.findings_from(logs)} == {"winch_form": "unknown"}
    assert winch.findings_from(read()) == ()


# A slow second opinion on rough ground with everything at once


def by_the_book(
    area: Area, no_cable: Any, positions: list[tuple[float, float, float]], swing_deg: float
) -> dict[tuple[int, int], dict[str, float]]:
    """Give the allowed pairs, by the words of the design, one after the other."""
    rules = winch.rules_from(area.settings)
    smooth = terrain.build(area.dem).smooth
    trees = area.trees
    land = area.stand.buffer(0.05)
    half = rules.corridor_m / 2
    squares: list[Polygon] = []
    hard_ones: list[bool] = []
    xs, ys = area.dem.centres()
    inner, kept_off = land.buffer(-half), [k.buffer(half) for k in area.keep_out]
    for row, y in enumerate(ys):
        for col, x in enumerate(xs):
            here = Point(x, y)
            hard = bool(no_cable[row, col]) or not land.contains(here)
            hard = hard or any(k.contains(here) for k in area.keep_out)
            soft = not inner.contains(here)
            soft = soft or any(k.contains(here) for k in kept_off)
            near = no_cable[max(row - 1, 0) : row + 2, max(col - 1, 0) : col + 2]
            soft = soft or bool(near.any())  # half a corridor reaches into the next 1 m cell
            if hard or soft:
                squares.append(box(x - 0.5, y - 0.5, x + 0.5, y + 0.5))
                hard_ones.append(hard)
    cells = STRtree(squares)
    marked = np.flatnonzero(trees.marked)
    leave = np.flatnonzero(~trees.marked)
    ground, _ = ready(area, no_cable)
    out: dict[tuple[int, int], dict[str, float]] = {}
    for p, (x, y, rear) in enumerate(positions):
        for t, row in enumerate(marked):
            tx, ty = float(trees.x[row]), float(trees.y[row])
            length = math.hypot(tx - x, ty - y)
            if length > 45:  # the ground is no shorter, and reach is 130 ft
                continue
            n = max(1, math.ceil(length))
            f = np.linspace(0, 1, n + 1)
            z = bilinear(area.dem, x + f * (tx - x), y + f * (ty - y))
            along = float(np.hypot(length / n, np.diff(z)).sum())
            rise = float(z[-1] - z[0])
            up = 100 * rise / along
            if along > rules.reach_m(up):
                continue

            def lies(heading: float, x: float = x, y: float = y) -> tuple[float, float]:
                c, s = math.cos(heading), math.sin(heading)
                mx, my = x - rules.length_m / 2 * c, y - rules.length_m / 2 * s
                w = max(rules.track_m, 2.0) / 2
                ends = bilinear(smooth, [x, x - rules.length_m * c], [y, y - rules.length_m * s])
                sides = bilinear(smooth, [mx - w * s, mx + w * s], [my + w * c, my - w * c])
                return (
                    100 * float(ends[0] - ends[1]) / rules.length_m,
                    100 * float(sides[0] - sides[1]) / (2 * w),
                )

            off = math.remainder(math.atan2(ty - y, tx - x) - rear, 2 * math.pi)
            lengthwise, tilt = lies(rear)
            swung = 0.0
            if math.hypot(lengthwise, tilt) <= 10:
                want = max(min(off, math.radians(swing_deg)), -math.radians(swing_deg))
                a, c = lies(rear + want)
                if max(abs(a), abs(c)) <= 10:
                    swung, lengthwise, tilt = want, a, c
            if max(abs(lengthwise), abs(tilt)) > 15:
                continue
            angle = off - swung
            down = tilt < 0 if off >= 0 else tilt > 0  # tilt > 0: left is the higher
            limit = rules.table_angle_deg(tilt, downhill=down)
            if abs(math.degrees(angle)) > limit:
                continue
            if up > 20:
                continue
            wide = min(n, max(1, round(10 / (length / n))))
            stretch = (z[wide:] - z[:-wide]) / (wide * length / n)
            if rise > 0 and (up > rules.run_stop_pct or 100 * stretch.max() > rules.run_steep_pct):
                continue
            line = LineString([(x, y), (tx, ty)])
            beyond = line.difference(Point(tx, ty).buffer(3.0, 256))
            if any(
                (line if hard_ones[c] else beyond).intersection(squares[c]).length > 1e-6
                for c in cells.query(line)
            ):
                continue
            hits = 0
            blocked = False
            for i in leave:
                place = Point(float(trees.x[i]), float(trees.y[i]))
                if not trees.keep[i] and place.distance(Point(x, y)) < 1.5:
                    continue
                away = line.distance(place) - trees.dbh_cm[i] / 200
                blocked |= away < FOOT_M or (away < half and bool(trees.keep[i]))
                hits += away < half
            if blocked or hits > rules.leave_hits:
                continue
            rope = z[0] + 0.9 + f * (z[-1] + 0.3 - z[0] - 0.9)
            if float((z - rope).max()) > rules.hump_m:
                continue
            steep = math.atan(float(-stretch.min()))
            newton = ground.mass_kg[t] * 1.15 * 9.80665 * 1.4
            kn = newton * (0.8 * math.cos(steep) + math.sin(steep)) / 1000
            pieces = next((k for k in (1, 2, 3) if kn / k <= rules.pull_limit_kn), 0)
            if not pieces:
                continue
            out[(p, t)] = {
                "map_m": length,
                "ground_m": along,
                "rise_m": rise,
                "swing_deg": math.degrees(swung),
                "angle_deg": abs(math.degrees(angle)),
                "angle_limit_deg": limit,
                "cross_pct": abs(tilt),
                "along_pct": -lengthwise,
                "hits": float(hits),
                "pull_kn": kn / pieces,
                "reach_m": rules.reach_m(up),
            }
    return out


@pytest.mark.slow
@pytest.mark.parametrize("seed", [1, 2])
def test_everything_at_once_against_the_slow_second_opinion(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wave = rng.uniform(12, 25, 4)

    def rough(x: Any, y: Any) -> Any:
        return 0.06 * x + 1.6 * np.sin(x / wave[0]) * np.cos(y / wave[1]) + 0.5 * np.sin(y / 5)

    places = rng.uniform(-38, 38, (260, 2))
    told = read(tractor={"mass_kg": 9000.0, "traction": 0.5})
    trees = trees_at(
        [tuple(p) for p in places[:90]],
        [tuple(p) for p in places[90:]],
        keep=set(range(0, 170, 9)),
        dbh_cm=34.0,
    )
    no_cable = np.zeros((SIZE, SIZE), dtype=bool)
    no_cable[30:34, 40:95] = True
    hole = box(MID_X - 20, MID_Y - 25, MID_X - 12, MID_Y - 10)
    area = area_of(
        trees,
        rough,
        told,
        keep_out=(hole,),
        stand=MultiPolygon([box(WEST + 14, NORTH - 86.3, WEST + 86, NORTH - 14)]),
    )
    spots = [
        (MID_X + float(a), MID_Y + float(b), float(r))
        for a, b, r in zip(
            rng.uniform(-30, 30, 70), rng.uniform(-30, 30, 70), rng.uniform(-9, 9, 70), strict=True
        )
    ]
    ground, rules = ready(area, no_cable)
    pairs = winch.evaluate(
        ground, rules, [s[0] for s in spots], [s[1] for s in spots], [s[2] for s in spots],
        15.0, False,
    )  # fmt: skip
    expected = by_the_book(area, no_cable, spots, 15.0)
    got = {(int(p), int(t)): k for k, (p, t) in enumerate(zip(pairs.pos, pairs.tree, strict=True))}
    assert set(got) == set(expected)
    assert len(expected) > 40
    for key, values in expected.items():
        for name, value in values.items():
            assert getattr(pairs, name)[got[key]] == pytest.approx(value, abs=1e-4), (key, name)
    # a tree is said to be served exactly where a pair serves it
    assert {t for t, ok in enumerate(served(pairs)) if ok} == {t for _, t in expected}
    assert len(set(reasons(pairs))) >= 3


# Symmetry: a turned or mirrored world has the same pulls


@pytest.mark.parametrize("move", ["quarter", "half", "mirror"])
def test_the_compass_does_not_matter(move: str) -> None:
    rng = np.random.default_rng(7)
    table = rng.normal(0, 0.25, (SIZE, SIZE)).astype(np.float32).cumsum(0).cumsum(1) * 0.02
    places = rng.uniform(-35, 35, (120, 2))
    spots = rng.uniform(-25, 25, (60, 2))
    rears = rng.uniform(-math.pi, math.pi, 60)

    def moved(p: Any) -> Any:
        if move == "quarter":
            return np.column_stack([-p[:, 1], p[:, 0]])
        if move == "half":
            return -p
        return np.column_stack([-p[:, 0], p[:, 1]])

    def world(z: Any, at: Any, spots: Any, rears: Any) -> winch.Pairs:
        area = area_of(trees_at([tuple(p) for p in at[:40]], [tuple(p) for p in at[40:]]))
        area.dem.z[:] = 300 + z
        ground, rules = ready(area)
        return winch.evaluate(
            ground, rules, MID_X + spots[:, 0], MID_Y + spots[:, 1], rears, 15.0, False
        )

    turn = {"quarter": rears + math.pi / 2, "half": rears + math.pi, "mirror": math.pi - rears}
    grid = {"quarter": np.rot90(table), "half": np.rot90(table, 2), "mirror": table[:, ::-1]}
    one = world(table, places, spots, rears)
    two = world(grid[move], moved(places), moved(spots), turn[move])
    first, second = (np.lexsort((p.tree, p.pos)) for p in (one, two))
    assert len(one) > 20
    assert one.pos[first].tolist() == two.pos[second].tolist()
    assert one.tree[first].tolist() == two.tree[second].tolist()
    sign = -1 if move == "mirror" else 1
    for name in ("ground_m", "angle_deg", "cross_pct", "along_pct", "margin_m", "hits", "cost_m2"):
        np.testing.assert_allclose(getattr(one, name)[first], getattr(two, name)[second], atol=1e-4)
    np.testing.assert_allclose(one.swing_deg[first], sign * two.swing_deg[second], atol=1e-4)
    np.testing.assert_allclose(one.to_left_deg[first], sign * two.to_left_deg[second], atol=1e-4)
    assert one.best_code.tolist() == two.best_code.tolist()


def test_a_position_alone_gives_what_it_gives_among_many() -> None:
    rng = np.random.default_rng(11)
    places = rng.uniform(-35, 35, (50, 2))
    ground, rules = ready(
        area_of(trees_at([tuple(p) for p in places]), lambda x, y: 2 * np.sin(x / 15))
    )
    x, y = MID_X + rng.uniform(-30, 30, 40), MID_Y + rng.uniform(-30, 30, 40)
    rear = rng.uniform(-3, 3, 40)
    many = winch.evaluate(ground, rules, x, y, rear, 15.0, False)
    for p in range(40):
        one = winch.evaluate(
            ground, rules, x[p : p + 1], y[p : p + 1], rear[p : p + 1], 15.0, False
        )
        mine = many.pos == p
        assert many.tree[mine].tolist() == one.tree.tolist()
        assert many.cost_m2[mine].tolist() == one.cost_m2.tolist()


def test_write_protected_arrays_do_not_compile_it_again() -> None:
    ground, rules = FLAT
    from_middle(area_of(trees_at([(20, 0)])))
    kinds = len(winch.search.signatures)  # type: ignore[attr-defined]
    for array in (ground.dem.z, ground.x, ground.closed):
        array.flags.writeable = False
    try:
        winch.evaluate(ground, rules, [MID_X], [MID_Y], [EAST], 0.0, False)
    finally:
        for array in (ground.dem.z, ground.x, ground.closed):
            array.flags.writeable = True
    assert len(winch.search.signatures) == kinds == 1  # type: ignore[attr-defined]
