"""Side pull of a parked tractor, held against statics worked by hand.

Hand cases: a 3 t tractor, tyres 1.5 m apart, centre of gravity 0.85 m high, rope
at 0.9 m, 15 % cross slope tips at 20.1 kN; 41.4 degrees rigid and 37.1 degrees
with the front axle on its pivot (0.5 m high, wheelbase 2.1 m, centre of gravity
0.6 m ahead of the rear axle).
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layout import stability
from layout import tractor as statics
from layout.settings.tractor_table import TractorTable

G = 9.80665
MID = TractorTable()
RATED_KN = 39.2266  # 4 t


def test_rigid_side_pull_on_15_percent() -> None:
    assert float(statics.rigid_tip_kn(3000, 1.5, 0.85, 0.9, 15)) == pytest.approx(20.13, abs=0.01)


def test_rigid_tractor_tips_by_itself_at_41_degrees() -> None:
    pull = statics.rigid_tip_kn(3000, 1.5, 0.85, 0.9, 100 * math.tan(math.radians(41.42)))
    assert float(pull) == pytest.approx(0, abs=0.01)


def test_first_phase_starts_at_37_degrees() -> None:
    machine = TractorTable(
        track_m=1.5, cg_height_m=0.85, wheelbase_m=2.1, pivot_height_m=0.5, front_share_pct=60 / 2.1
    )
    assert float(stability.first_phase_tip_deg(machine)) == pytest.approx(37.15, abs=0.01)
    slope = 100 * math.tan(math.radians(float(stability.first_phase_tip_deg(machine))))
    assert float(statics.pivot_tip_kn(machine, RATED_KN, slope)) == pytest.approx(0, abs=1e-9)


def moment_about_the_tipping_line(machine: TractorTable, pull: float, angle: float, cross: float):
    """Work the moment out with vectors, as a second way to the printed line."""
    slope = math.atan(cross / 100)
    weight = machine.mass_kg * G / 1000
    ahead = machine.front_share_pct / 100 * machine.wheelbase_m
    tyre = np.array([0.0, machine.track_m / 2, 0.0])  # y points to the lower side
    pivot = np.array([machine.wheelbase_m, 0.0, machine.pivot_height_m])
    line = (pivot - tyre) / np.linalg.norm(pivot - tyre)
    centre = np.array([ahead, 0.0, machine.cg_height_m])
    gravity = weight * np.array([0.0, math.sin(slope), -math.cos(slope)])
    fairlead = np.array([-machine.load_behind_axle_m, 0.0, machine.fairlead_height_m])
    rope = pull * np.array([-math.cos(angle), math.sin(angle), 0.0])
    return float(
        line @ np.cross(centre - tyre, gravity) + line @ np.cross(fairlead - tyre, rope)
    ), float(line @ np.cross(fairlead - tyre, pull * np.array([-math.cos(angle), 0, 0])))


@pytest.mark.parametrize("cross", [0.0, 5.0, 15.0])
@pytest.mark.parametrize("fairlead_m", [0.4, 0.9])
def test_first_phase_against_moments_by_vectors(cross: float, fairlead_m: float) -> None:
    machine = TractorTable(fairlead_height_m=fairlead_m)
    # A straight pull, its side share taken by itself: at the limit the moment is nought.
    side = float(statics.pivot_tip_kn(machine, 0.0, cross))
    moment, _ = moment_about_the_tipping_line(machine, side, math.pi / 2, cross)
    assert moment == pytest.approx(0, abs=1e-9)
    # With the lengthwise share: it holds where the rope is higher than the pivot (not
    # counted), and turns over where it is lower (counted).
    moment, lengthwise = moment_about_the_tipping_line(machine, RATED_KN, 0.0, cross)
    counted = float(statics.pivot_tip_kn(machine, RATED_KN, cross))
    assert (lengthwise < 0) == (fairlead_m < machine.pivot_height_m)
    assert (counted < side) == (lengthwise < 0)
    if lengthwise < 0:
        tip = np.linalg.norm([machine.wheelbase_m, machine.track_m / 2, machine.pivot_height_m])
        lever = (
            machine.wheelbase_m * fairlead_m + machine.pivot_height_m * machine.load_behind_axle_m
        )
        assert (side - counted) * lever / tip == pytest.approx(-lengthwise, rel=1e-9)


def test_sliding_by_hand() -> None:
    # 3.2 t, traction 0.40: 31.381 kN; level 0.4 x 31.381 / 1.5 = 8.368 kN; asin(8.368/39.227)
    assert float(statics.slide_kn(MID, 0, 1.5)) == pytest.approx(8.368, abs=1e-3)
    limit = statics.side_limit_deg(MID, RATED_KN, 0.0, downhill=True)
    assert float(limit) == pytest.approx(12.32, abs=0.01)
    # 10 %: 8.368 cos - 31.381 sin = 8.327 - 3.122
    assert float(statics.slide_kn(MID, 10, 1.5)) == pytest.approx(5.204, abs=2e-3)


def test_a_light_top_heavy_machine_tips_before_it_slides() -> None:
    narrow = TractorTable(track_m=1.0, width_m=1.2, cg_height_m=1.1, traction=0.6)
    side = float(statics.side_pull_kn(narrow, RATED_KN, 10, downhill=True))
    assert side < float(statics.slide_kn(narrow, 10, 1.5))
    assert side == pytest.approx(float(statics.pivot_tip_kn(narrow, RATED_KN, 10, 1.5)))


def test_towards_the_higher_side_the_slope_is_no_help() -> None:
    level = float(statics.side_pull_kn(MID, RATED_KN, 0, downhill=False))
    assert level == float(statics.side_pull_kn(MID, RATED_KN, 0, downhill=True))
    up = float(statics.side_pull_kn(MID, RATED_KN, 15, downhill=False))
    assert up == pytest.approx(level * math.cos(math.atan(0.15)))


machines = st.builds(
    TractorTable,
    mass_kg=st.floats(1500, 6000),
    track_m=st.floats(1.0, 1.8),
    width_m=st.just(2.2),
    cg_height_m=st.floats(0.6, 1.2),
    fairlead_height_m=st.floats(0.4, 2.5),
    pivot_height_m=st.floats(0.3, 0.7),
    traction=st.floats(0.2, 0.7),
    front_share_pct=st.floats(25, 50),
)


@given(machines, st.floats(10, 90), st.floats(0, 25), st.booleans())
def test_the_table_is_never_kinder_than_the_statics(
    machine: TractorTable, pull_kn: float, cross: float, downhill: bool
) -> None:
    table = statics.side_limit_table(machine, pull_kn)
    exact = float(statics.side_limit_deg(machine, pull_kn, cross, downhill=downhill))
    read = float(table.at(cross, downhill=downhill))
    assert read <= exact + 1e-9
    nearer = float(
        statics.side_limit_deg(machine, pull_kn, cross + table.step_pct, downhill=downhill)
    )
    assert read >= min(exact, nearer) - 1e-9 or cross > 24.75


@given(machines, st.floats(10, 90), st.floats(0, 25))
def test_steeper_ground_and_the_lower_side_never_allow_more(
    machine: TractorTable, pull_kn: float, cross: float
) -> None:
    down = float(statics.side_limit_deg(machine, pull_kn, cross, downhill=True))
    up = float(statics.side_limit_deg(machine, pull_kn, cross, downhill=False))
    assert down <= up + 1e-12
    steeper = statics.side_limit_deg(machine, pull_kn, cross + 1, downhill=True)
    assert float(steeper) <= down + 1e-12


def test_past_the_table_nothing_is_allowed() -> None:
    table = statics.side_limit_table(MID, RATED_KN)
    assert float(table.at(25.5, downhill=False)) == 0.0
    assert float(table.at(0.0, downhill=False)) == table.uphill_deg[0]
