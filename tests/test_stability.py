"""Tipping and front axle load, held against printed statics and moments by vectors.

Printed: 1.5 m between tyres and 0.85 m high tips at 41.4 degrees rigid, at 37.1 with the
front axle on its pivot (0.5 m high, wheelbase 2.1 m, weight 0.6 m ahead of the rear axle);
a height of 0.9 of the track is 29.05 degrees (the rule for narrow EU tractors, class T2);
one wheel 0.2 m up on 1.5 m is 7.7 degrees; 15 % side slope and a rope 0.9 m high tip 3 t at
20.13 kN. A 3 t tractor with 40 % in front keeps 24.9 % of its weight there with 1 t of pull at
0.5 m and 0.5 t lifted 0.9 m behind, 16.3 % on 20 % uphill.
"""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import settings_of

from layout import payload, stability
from layout.settings.tractor_table import PRESETS, TractorTable
from layout.tractor import rigid_tip_kn

PRINTED = {
    "track_m": 1.5, "cg_height_m": 0.85, "wheelbase_m": 2.1, "pivot_height_m": 0.5,
    "front_share_pct": 100 * 0.6 / 2.1,
}  # fmt: skip


def machine(**keys: Any) -> TractorTable:
    return TractorTable(**{**PRINTED, **keys})


def test_the_printed_angles() -> None:
    assert stability.rigid_tip_deg(1.5, 0.85) == pytest.approx(41.42, abs=0.005)
    assert stability.rigid_tip_deg(1.0, 0.9) == pytest.approx(29.05, abs=0.005)
    assert float(stability.first_phase_tip_deg(machine())) == pytest.approx(37.15, abs=0.005)
    assert stability.bump_deg(machine()) == pytest.approx(7.66, abs=0.005)


def moment(tractor: TractorTable, cross: float, nose_down: float) -> float:
    """Turn gravity about the line from a rear tyre to the front pivot, by vectors; + stands."""
    ahead = tractor.front_share_pct / 100 * tractor.wheelbase_m
    tyre = np.array([0.0, tractor.track_m / 2, 0.0])  # y towards the lower side
    pivot = np.array([tractor.wheelbase_m, 0.0, tractor.pivot_height_m])
    centre = np.array([ahead, 0.0, tractor.cg_height_m])
    gravity = np.array([nose_down, cross, -1.0])
    return float((pivot - tyre) @ np.cross(centre - tyre, gravity))


@pytest.mark.parametrize("grade_pct", [0.0, 10.0, 25.0])
@pytest.mark.parametrize("pivot_m", [0.3, 0.5])
def test_first_phase_against_moments_by_vectors(grade_pct: float, pivot_m: float) -> None:
    tractor = machine(pivot_height_m=pivot_m)
    edge = math.tan(math.radians(float(stability.first_phase_tip_deg(tractor, grade_pct))))
    assert moment(tractor, edge, grade_pct / 100) == pytest.approx(0, abs=1e-12)
    assert moment(tractor, edge - 0.01, grade_pct / 100) > 0
    assert moment(tractor, edge + 0.01, grade_pct / 100) < 0
    # nose up it would stand a little steeper: the nose is always taken to point down
    assert moment(tractor, edge, -grade_pct / 100) >= -1e-12
    signed = stability.first_phase_tip_deg(tractor, [-grade_pct, grade_pct])
    assert signed[0] == signed[1]


def test_what_is_kept_to_is_the_lesser_of_margin_and_share() -> None:
    half = machine(tip_margin_deg=10.0, tip_share=0.5)
    assert float(stability.allowed_deg(half)) == pytest.approx(37.15 / 2, abs=0.005)
    margin = machine(tip_margin_deg=25.0, tip_share=0.5)
    assert float(stability.allowed_deg(margin)) == pytest.approx(12.15, abs=0.005)
    # an axle pivot above the weight holds: then the rigid angle is the lesser one
    high = machine(pivot_height_m=1.2, tip_margin_deg=0.0, tip_share=0.8)
    assert float(stability.allowed_deg(high)) == pytest.approx(0.8 * 41.42, abs=0.01)
    assert float(stability.allowed_deg(machine(tip_margin_deg=30.0, track_m=0.8))) == 0.0


def test_margin_by_hand() -> None:
    # 60 hp preset: x/L 0.38, so tan = 0.75 (0.62) / (0.85 - 0.5 x 0.38) = 0.465/0.66, 35.17 deg;
    # half of it 17.58; bump asin(0.2/1.5) = 7.66; 9.92 deg are left, 17.5 % of cross slope
    tractor = TractorTable()
    assert float(stability.tip_margin_deg(tractor, 0.0)) == pytest.approx(9.92, abs=0.01)
    got = stability.tip_margin_deg(tractor, [17.4, 17.6, math.nan])
    assert got[0] > 0 > got[1]
    assert math.isnan(got[2])
    steep = stability.tip_margin_deg(tractor, 10.0, [0.0, 20.0])
    assert steep[1] < steep[0]


def test_every_preset_stands_on_what_the_trade_drives() -> None:
    # practice: side slope travel up to 10 to 15 % without a bench, never over 20 %
    for preset, most_pct in (("compact", 13), ("mid", 17), ("large", 18)):
        tractor = TractorTable(preset=preset)
        assert float(stability.tip_margin_deg(tractor, most_pct)) > 0
        assert float(stability.tip_margin_deg(tractor, 20.0)) < 0
    # common practice and memory: weights and tracks of the classes, front share without a load
    assert [PRESETS[p]["mass_kg"] for p in PRESETS] == [2100, 3200, 4800]


def test_the_side_pull_that_tips_is_less_than_a_winch_gives() -> None:
    tips = float(rigid_tip_kn(3000, 1.5, 0.85, 0.9, 15))
    assert tips == pytest.approx(20.13, abs=0.01)
    assert tips < 3 * 9.80665  # of a 3 t winch: the angle is a limit of stability


# --- front axle -----------------------------------------------------------------------------


@pytest.mark.parametrize(("grade_pct", "share"), [(0.0, 24.9), (20.0, 16.3)])
def test_the_printed_front_axle_loads(grade_pct: float, share: float) -> None:
    t = math.atan(grade_pct / 100)
    # 1 t of load with half of it lifted, and as much friction as makes the pull 1 t
    friction = (1.0 - math.sin(t)) / (0.5 * math.cos(t))
    tractor = TractorTable(
        mass_kg=3000.0, front_share_pct=40.0, wheelbase_m=2.1, cg_height_m=0.85,
        hitch_height_m=0.5, load_behind_axle_m=0.9, lifted_share=0.5,
        skid_friction=(0.1, friction),
    )  # fmt: skip
    # the printed pair counts 0.5 t square to the ground on the level, and on 20 % cos t of it
    assert float(stability.front_share_pct(tractor, grade_pct, 1000.0)) == pytest.approx(
        share, abs=0.06
    )
    assert float(stability.front_share_pct(tractor, 0.0)) == pytest.approx(40.0)


def test_front_share_by_a_balance_solved_anew() -> None:
    tractor = TractorTable()
    t, load = math.atan(0.15), 700.0
    sin, cos = math.sin(t), math.cos(t)
    pull, down = load * (sin + 0.8 * 0.5 * cos), 0.5 * load * cos
    # square to the ground, and turning about where the front tyres stand
    balance = np.array([[1.0, 1.0], [0.0, 2.1]])
    given_ = np.array(
        [
            3200 * cos + down,
            3200 * (cos * 2.1 * 0.62 + sin * 0.85) + down * (2.1 + 0.9) + pull * 0.5,
        ]
    )
    front, _ = np.linalg.solve(balance, given_)
    got = float(stability.front_share_pct(tractor, 15.0, load))
    assert got == pytest.approx(100 * front / 3200)


machines = st.builds(
    TractorTable,
    front_share_pct=st.floats(25, 50),
    wheelbase_m=st.floats(1.6, 2.6),
    cg_height_m=st.floats(0.6, 1.1),
    pivot_height_m=st.floats(0.3, 0.6),
    track_m=st.floats(1.0, 1.8),
    width_m=st.just(2.0),
    length_m=st.just(6.0),
)


@given(machines, st.floats(-25, 25))
def test_at_the_largest_load_the_front_axle_keeps_its_least_share(
    tractor: TractorTable, grade: float
) -> None:
    most = float(payload.front_axle_kg(tractor, np.array(grade / 100)))
    share = float(stability.front_share_pct(tractor, grade, most))
    if most > 0:
        assert share == pytest.approx(tractor.front_min_pct)
    else:
        assert share <= tractor.front_min_pct + 1e-9


@given(machines, st.floats(0, 40), st.floats(0, 30))
def test_steeper_ground_never_leaves_more(
    tractor: TractorTable, cross: float, grade: float
) -> None:
    here = float(stability.tip_margin_deg(tractor, cross, grade))
    assert float(stability.tip_margin_deg(tractor, cross + 1, grade)) < here
    assert float(stability.tip_margin_deg(tractor, cross, grade + 1)) <= here
    up = stability.front_share_pct(tractor, [grade, grade + 1], 500.0)
    assert up[1] < up[0]


def test_the_worse_way_of_a_load_counts() -> None:
    tractor = TractorTable()
    # 20 % downhill loaded: coming in the nose points down, going out empty it points up
    down = float(stability.least_front_share_pct(tractor, -20.0, 0.0))
    assert down == float(stability.front_share_pct(tractor, 20.0))
    loaded = float(stability.least_front_share_pct(tractor, 20.0, 800.0))
    assert loaded == float(stability.front_share_pct(tractor, 20.0, 800.0))


def test_a_plan_of_the_presets_climbs_empty_what_trails_may_be() -> None:
    # refs: 25 % nose up leaves 29 % of 40 %; front share counted without a load
    tractor = TractorTable(front_share_pct=40.0)
    assert float(stability.front_share_pct(tractor, 25.0)) == pytest.approx(29, abs=0.5)
    for preset in ("compact", "mid", "large"):
        own = settings_of(tractor={"preset": preset}).tractor
        assert float(stability.front_share_pct(own, 25.0)) > own.front_min_pct
