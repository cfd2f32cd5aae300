"""Rope, drum, block and hold of the tractor, held against printed statics.

Printed: 1 t with friction 0.6 takes 862 kgf up 30 %, 600 on the level, 287 down it; a block
holds 2 F cos(phi/2), 1.414 F at 90 degrees between its legs, and at 40 kN of pull 30.6, 56.6
and 80.0 kN where the rope is turned by 45, 90 and 180 degrees; a full drum pulls 60 to 70 %
of a bare one (memory); an anchor tree of about 50 cm goes with 80 kN.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import settings_of
from shapely.geometry import LineString

from layout import pull_forces as forces
from layout.grip import on_the_day
from layout.records import Pull, WinchPosition
from layout.settings import AreaSettings
from layout.tractor import side_limit_deg
from layout.winch_rules import rules_from

G = 9.80665


def outfit(condition: str = "dry", **tables: dict[str, Any]) -> AreaSettings:
    return settings_of(ground={"dem": "d.tif", "condition": condition}, **tables)


# --- pull on the rope -----------------------------------------------------------------------


def test_the_printed_line_pulls() -> None:
    kgf = forces.line_force_kn(1000, [30, 0, -30], 0.6) / G * 1000
    assert kgf.round().tolist() == [862, 600, 287]


def test_a_log_that_runs_must_be_held_and_needs_no_breakout() -> None:
    steady = float(forces.line_force_kn(1000, -50, 0.3))
    assert steady == pytest.approx(G * (0.3 - 0.5) / math.hypot(1, 0.5))
    assert float(forces.line_force_kn(1000, -50, 0.3, 0.4)) == steady
    up = float(forces.line_force_kn(1000, 10, 0.6))
    assert float(forces.line_force_kn(1000, 10, 0.6, 0.4)) == pytest.approx(1.4 * up)


def test_the_range_of_friction_by_hand() -> None:
    low, high = forces.line_force_range_kn(outfit(), 1000, 0)
    assert float(low) == pytest.approx(0.3 * G)
    assert float(high) == pytest.approx(0.8 * G * 1.4)
    wet, _ = forces.line_force_range_kn(outfit("wet"), 1000, 0)
    assert float(wet) == pytest.approx(0.2 * G)


@given(st.floats(50, 5000), st.floats(-60, 60), st.floats(0.1, 1.2))
def test_pull_against_components_of_the_weight(mass: float, slope: float, friction: float) -> None:
    t = math.atan(slope / 100)
    down = np.array([0.0, -mass * G / 1000])
    along, square = np.array([math.cos(t), math.sin(t)]), np.array([-math.sin(t), math.cos(t)])
    presses = -float(down @ square)
    got = float(forces.line_force_kn(mass, slope, friction))
    assert got == pytest.approx(friction * presses - float(down @ along), abs=1e-9)


# --- drum -----------------------------------------------------------------------------------


def test_the_drum_between_bare_and_full() -> None:
    winch = outfit(winch={"pull_rating": "40 kN", "cable": "50 m"}).winch
    assert forces.full_drum_kn(winch) == 26.0  # 65 %
    ends = forces.drum_pull_kn(winch, [0.0, 50.0, 60.0])
    assert ends == pytest.approx([26.0, 40.0, 40.0])
    plate = outfit(winch={"pull_rating": "40 kN", "pull_full_drum": "30 kN"}).winch
    assert forces.full_drum_kn(plate) == 30.0
    same = outfit(winch={"pull_rating": "40 kN", "pull_full_drum": "40 kN"}).winch
    assert forces.drum_pull_kn(same, [0.0, 20.0]).tolist() == [40.0, 40.0]


def test_the_drum_against_one_wound_wrap_by_wrap() -> None:
    # 10 mm rope, 5 wraps side by side on a drum of 60 mm radius: each layer lies 10 mm higher,
    # its wraps as long as the circle through the rope's middle; the pull acts at the outside
    rope, side_by_side, bare = 0.010, 5, 0.060
    radius, wound, layers = bare + rope / 2, 0.0, []
    for _ in range(10):
        layers.append((radius, wound, wound + side_by_side * 2 * math.pi * radius))
        wound, radius = layers[-1][2], radius + rope
    core = bare  # where no rope is left under the one that pulls
    full = layers[-1][0] + rope / 2
    pull = 40.0
    winch = outfit(
        winch={
            "pull_rating": f"{pull} kN", "cable": f"{wound:.6f} m",
            "pull_full_drum": f"{pull * core / full:.6f} kN", "wraps_kept": 1,
        }
    ).winch  # fmt: skip
    for middle, begins, ends in layers:
        # what is smooth in the formula goes in steps of a layer on the drum
        outer = pull * core / (middle + rope / 2)
        inner = pull * core / (middle - rope / 2)
        got = forces.drum_pull_kn(winch, [wound - begins, wound - ends])
        assert got == pytest.approx([inner, outer], rel=0.01)


@given(st.floats(10, 100), st.floats(0.5, 1.0), st.floats(0, 50), st.floats(0, 20))
def test_more_rope_out_never_pulls_less(
    rating: float, share: float, out: float, more: float
) -> None:
    winch = outfit().winch.model_copy(
        update={"pull_rating_kn": rating, "pull_full_drum_kn": rating * share}
    )
    less_out, more_out = forces.drum_pull_kn(winch, [out, out + more])
    assert rating * share - 1e-9 <= less_out <= more_out + 1e-12 <= rating + 1e-9


# --- snatch block ---------------------------------------------------------------------------


@pytest.mark.parametrize(("turned", "force"), [(45, 30.6), (90, 56.6), (180, 80.0)])
def test_the_printed_loads_on_a_block(turned: float, force: float) -> None:
    assert float(forces.anchor_force_kn(40, 180 - turned)) == pytest.approx(force, abs=0.05)
    # as the sum of the two legs' pulls
    half = math.radians(180 - turned) / 2
    legs = 40 * np.array([[math.cos(half), math.sin(half)], [math.cos(half), -math.sin(half)]])
    assert float(np.linalg.norm(legs.sum(axis=0))) == pytest.approx(force, abs=0.05)


def test_at_a_right_angle_a_block_holds_1_414_times_the_pull() -> None:
    assert float(forces.anchor_force_kn(1, 90)) == pytest.approx(math.sqrt(2))
    assert float(forces.anchor_force_kn(1, 120)) == pytest.approx(1.0)


def test_the_table_of_a_block() -> None:
    table = forces.block_table(outfit(winch={"pull_rating": "40 kN"}))
    assert [row.between_legs_deg for row in table] == [0, 30, 60, 90, 120, 150]
    assert [round(row.force_kn) for row in table] == [80, 77, 69, 57, 40, 21]
    assert table[0].anchor_dbh_m == pytest.approx(0.5)  # about 50 cm at 80 kN
    assert {row.load_kn for row in table} == {38.0}  # 5 % stay in the sheave
    assert float(forces.past_block_kn(40, 2)) == pytest.approx(36.1)


# --- what a pull may be ---------------------------------------------------------------------


def position(cross: float = 0.0, along: float = 0.0) -> WinchPosition:
    return WinchPosition("W1", "M", "L", 10.0, 0.0, 0.0, 0.0, 0.0, cross, along, 0.0, ("1",))


def pull(angle: float = 0.0) -> Pull:
    line = LineString([(0, 0), (20, 0)])
    return Pull("1", "W1", 20.0, 20.0, 39.0, 19.0, "sure", angle, "left", 0.0, 0.0, 9.0, line)


def limit(settings: AreaSettings, angle: float = 0.0, **place: float) -> tuple[float, str]:
    (done,) = forces.with_limits([pull(angle)], [position(**place)], settings)
    assert done.limit_kn is not None
    assert replace(done, limit_kn=None, limited_by="") == pull(angle)
    return done.limit_kn, done.limited_by


HEAVY = {"mass": "20 t", "traction": 0.6, "lift_rating": "5 t"}


def test_the_least_of_winch_rope_hold_and_stand() -> None:
    strong = {"pull_rating": "40 kN", "rope_breaking": "200 kN"}
    assert limit(outfit(tractor=HEAVY, winch=strong)) == (26.0, "winch")
    plate = strong | {"pull_full_drum": "31 kN"}
    assert limit(outfit(tractor=HEAVY, winch=plate)) == (31.0, "winch")
    weak = strong | {"rope_breaking": "50 kN"}
    assert limit(outfit(tractor=HEAVY, winch=weak)) == (25.0, "rope")
    # 3.2 t with 0.40 hold 12.55 kN level, 0.30 of it 9.41 when wet
    assert limit(outfit()) == (pytest.approx(0.4 * 3.2 * G), "anchoring")
    assert limit(outfit("wet")) == (pytest.approx(0.3 * 3.2 * G), "anchoring")


def test_a_rear_that_points_downhill_holds_less_and_uphill_not_more() -> None:
    t = math.atan(0.10)
    held = 3.2 * G * (0.4 * math.cos(t) - math.sin(t))
    assert limit(outfit(), along=10.0) == (pytest.approx(held), "anchoring")
    up = limit(outfit(), along=-10.0)[0]
    assert up == pytest.approx(3.2 * G * 0.4 * math.cos(t))
    assert float(forces.anchoring_kn(on_the_day(outfit()), 50.0)) == 0.0


def test_the_front_axle_keeps_its_share_under_a_straight_pull() -> None:
    """Moments about the rear tyres by hand; FRONT_AXLE: 20 % of the whole at least."""
    grippy = {"traction": 0.6, "front_share": "26 %"}
    # 3.2 t on 2.1 m, centre 0.26 x 2.1 m ahead of the rear axle, rope 0.9 m up
    free_kn = 3.2 * G * (0.26 - 0.20) * 2.1 / 0.9
    held, by = limit(outfit(tractor=grippy))
    assert (held, by) == (pytest.approx(free_kn), "front")
    assert held < 0.6 * 3.2 * G
    # with that pull the front axle stands at 20 % of the weight, with more under it
    left = (3.2 * G * 0.26 * 2.1 - held * 0.9) / 2.1
    assert left == pytest.approx(0.20 * 3.2 * G)
    # rear lower: the centre of gravity, 0.85 m up, moves back
    t = math.atan(0.05)
    arm = 0.26 * 2.1 * math.cos(t) - 0.85 * math.sin(t) - 0.2 * 2.1
    assert limit(outfit(tractor=grippy), along=5.0) == (
        pytest.approx(3.2 * G * arm / 0.9),
        "front",
    )
    # where the rear is the higher end the slope is no help
    assert limit(outfit(tractor=grippy), along=-5.0)[0] <= held
    # only the part along the axis lifts it
    assert limit(outfit(tractor=grippy), 20.0)[0] == pytest.approx(
        free_kn / math.cos(math.radians(20))
    )
    light = outfit(tractor={"front_share": "19 %"})
    assert float(forces.front_held_kn(light.tractor)) == 0.0


def test_at_the_machines_own_side_limit_the_winch_may_pull_all_it_has() -> None:
    settings = outfit(tractor={"mass": "6 t"})
    rating = settings.winch.pull_rating_kn
    for cross, downhill in ((0.0, False), (8.0, True)):
        angle = float(side_limit_deg(on_the_day(settings), rating, cross, downhill=downhill))
        assert forces.side_held_kn(settings, cross, angle) == pytest.approx(rating)
        assert forces.side_held_kn(settings, cross, angle + 2) < rating
    assert forces.side_held_kn(settings, 8.0, 0.0) == math.inf
    # 60 degrees off on 12 % across: the stand decides before the tyres' lengthwise hold
    held, name = limit(outfit(tractor={"traction": 0.6}), 60.0, cross=12.0)
    assert name == "side"
    assert held < 0.6 * 3.2 * G


def test_a_pull_from_nowhere_is_left_as_it_was() -> None:
    (done,) = forces.with_limits([pull()], [], outfit())
    assert done == pull()


def test_planning_and_limits_go_by_the_same_drum_and_rope() -> None:
    for winch in ({}, {"pull_full_drum": "20 kN"}, {"rope_breaking": "45 kN"}):
        settings = outfit(tractor=HEAVY, winch=winch)
        assert rules_from(settings).pull_limit_kn == limit(settings)[0]
