"""Largest loads, held against printed examples, forces balanced anew and what crews know.

Printed numbers are from the trade reference page: traction example (3.5 t, mu 0.45, log
dragged whole, friction 0.6), front axle example (3.5 t, wheelbase 2.10 m, centre of gravity
0.84 m ahead and 0.85 m high, hitch 0.50 m high, load 0.90 m behind). Brixius' form of
traction is that of ASABE D497, coefficients from memory.
"""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import settings_of

from layout import payload
from layout.grip import on_the_day
from layout.payload import LIMITS, largest_load, loads_by_limit
from layout.settings import AreaSettings
from layout.settings.tractor_table import TractorTable

POUND_KG = 0.45359237
REFERENCE = {  # of the printed front axle example
    "mass_kg": 3500.0, "wheelbase_m": 2.10, "front_share_pct": 40.0, "cg_height_m": 0.85,
    "hitch_height_m": 0.50, "load_behind_axle_m": 0.90, "lifted_share": 0.5,
    "skid_friction": (0.3, 0.6), "traction": 0.45,
}  # fmt: skip


def machine(**keys: Any) -> TractorTable:
    return TractorTable(**{**REFERENCE, **keys})


def outfit(preset: str = "mid", condition: str = "dry", **tractor: Any) -> AreaSettings:
    return settings_of(
        tractor={"preset": preset} | tractor, ground={"dem": "d.tif", "condition": condition}
    )


# --- printed numbers ------------------------------------------------------------------------


def test_the_printed_traction_series() -> None:
    log = machine(lifted_share=0.0)
    loads = payload.traction_kg(log, np.array([-0.10, 0.0, 0.10, 0.20]))
    assert loads.round().tolist() == [3850, 2625, 1750, 1094]


def test_the_printed_front_axle_series() -> None:
    loads = payload.front_axle_kg(machine(), np.array([0.0, 0.10, 0.20]))
    assert loads.round().tolist() == [2450, 1793, 1208]
    alone = payload.traction_kg(machine(), np.array([0.0, 0.10, 0.20]))
    assert alone == pytest.approx([21_000, 7000, 3181.8], rel=1e-4)  # the axle governs


def test_where_lifting_outweighs_drag_traction_sets_no_limit() -> None:
    # the printed edge: level, friction 0.6, 0.6 lifted, mu 0.45: 0.24 - 0.27 = -0.03
    assert payload.traction_kg(machine(lifted_share=0.6), np.zeros(1)).tolist() == [math.inf]


def brixius_net(mobility: float, slip: float) -> float:
    """Net traction as ASABE D497 has it after Brixius 1987; coefficients from memory."""
    gross = 0.88 * (1 - math.exp(-0.1 * mobility)) * (1 - math.exp(-7.5 * slip)) + 0.04
    return gross - (1 / mobility + 0.04 + 0.5 * slip / math.sqrt(mobility))


def test_planning_traction_keeps_under_the_published_form() -> None:
    assert brixius_net(55, 0.15) == pytest.approx(0.5636, abs=5e-5)  # the printed value
    firm, tilled, soft = (brixius_net(bn, 0.15) for bn in (55, 25, 15))
    assert (round(tilled, 3), round(soft, 3)) == (0.491, 0.376)
    dry, wet = (on_the_day(outfit(condition=day)).traction for day in ("dry", "wet"))
    assert dry < tilled < firm
    assert wet < soft
    assert on_the_day(outfit(chains=True)).traction <= firm


# --- forces balanced anew -------------------------------------------------------------------


def axles(tractor: TractorTable, grade: float, load_kg: float, friction: float, lifted: float):
    """Solve the tractor's balance about its centre of gravity: axle loads and push, as masses.

    Unknown are the forces square to the ground on front and rear axle and the push of the
    wheels along it; the load comes as its lifted weight and its pull at the hitch.
    """
    t = math.atan(grade)
    sin, cos = math.sin(t), math.cos(t)
    base = tractor.wheelbase_m
    ahead, high = tractor.front_share_pct / 100 * base, tractor.cg_height_m
    pull = load_kg * (sin + friction * (1 - lifted) * cos)
    down = lifted * load_kg * cos
    balance = np.array(
        [
            [1.0, 1.0, 0.0],  # square to the ground
            [0.0, 0.0, 1.0],  # along it
            [base - ahead, -ahead, high],  # turning about the centre, nose up
        ]
    )
    given_ = np.array(
        [
            tractor.mass_kg * cos + down,
            tractor.mass_kg * sin + pull,
            # the hitch is behind and below the centre: both turn the nose up, so the axles down
            -down * (ahead + tractor.load_behind_axle_m) + pull * (high - tractor.hitch_height_m),
        ]
    )
    front, rear, push = np.linalg.solve(balance, given_)
    return front, rear, push


def largest(holds: Any, top_kg: float = 50_000.0) -> float:
    """Find by halving where a test that holds for small loads stops to hold."""
    lo, hi = 0.0, top_kg
    assert holds(lo)
    assert not holds(hi)
    for _ in range(60):
        mid = (lo + hi) / 2
        lo, hi = (mid, hi) if holds(mid) else (lo, mid)
    return lo


@pytest.mark.parametrize("grade", [-0.08, 0.0, 0.07, 0.18])
@pytest.mark.parametrize("drive", ["4wd", "2wd"])
def test_traction_against_a_balance_solved_anew(grade: float, drive: str) -> None:
    tractor = machine(drive=drive, traction=0.40, lifted_share=0.3, skid_friction=(0.3, 0.8))

    def holds(load: float) -> bool:
        front, rear, push = axles(tractor, grade, load, 0.8, 0.3)
        return push <= 0.40 * (rear if drive == "2wd" else front + rear)

    got = float(payload.traction_kg(tractor, np.array(grade)))
    assert got == pytest.approx(largest(holds), rel=1e-6)


@pytest.mark.parametrize("grade", [-0.20, 0.0, 0.07, 0.18])
def test_front_axle_against_a_balance_solved_anew(grade: float) -> None:
    tractor = machine()

    def holds(load: float) -> bool:
        return axles(tractor, grade, load, 0.6, 0.5)[0] >= 0.2 * tractor.mass_kg

    got = float(payload.front_axle_kg(tractor, np.array(grade)))
    assert got == pytest.approx(largest(holds), rel=1e-6)


@pytest.mark.parametrize(("all_wheels", "grade"), [(True, -0.27), (False, -0.17), (False, -0.20)])
@pytest.mark.parametrize("lifted", [0.0, 0.1, 0.5])
def test_braking_against_a_balance_solved_anew(
    all_wheels: bool, grade: float, lifted: float
) -> None:
    # a slick log, so that it pushes: what drags is not counted to press the rear axle down
    tractor = machine(traction=0.5, braking=0.4, skid_friction=(0.06, 0.6), lifted_share=lifted)

    def holds(load: float) -> bool:
        # 0.06 over the factor of 1.5; the worse of lifted as set and wholly on the ground
        for share in (lifted, 0.0):
            front, rear, push = axles(tractor, grade, load, 0.04, share)
            if -push > 0.4 * (front + rear if all_wheels else rear):
                return False
        return True

    got = float(payload.braking_kg(tractor, np.array(grade), all_wheels=all_wheels))
    assert got == pytest.approx(largest(holds), rel=1e-6)


def test_a_load_that_holds_itself_back_adds_nothing_to_the_brakes() -> None:
    # at 10 % a log with 0.2 (0.3 over 1.5) drags more than it pushes, lifted or not
    for all_wheels in (True, False):
        got = payload.braking_kg(machine(lifted_share=0.5), np.array(-0.10), all_wheels=all_wheels)
        assert got == math.inf


@pytest.mark.parametrize("all_wheels", [True, False])
def test_brakes_hold_the_tractor_itself_up_to_a_grade(all_wheels: bool) -> None:
    tractor = machine()
    grade = -payload.holds_pct(tractor, all_wheels=all_wheels) / 100
    front, rear, push = axles(tractor, grade, 0.0, 0.3, 0.5)
    assert -push == pytest.approx(0.4 * (front + rear if all_wheels else rear))


def test_engine_and_lift_by_hand() -> None:
    # 45 kW x 0.75 / (3 km/h = 0.8333 m/s) = 40.5 kN = 4130 kg; level drag 0.8 x 0.5 of the load
    each = loads_by_limit(outfit(), [0.0])
    assert each["engine"] == pytest.approx([40_500 / 9.80665 / 0.4])
    assert each["lift"].tolist() == [(1500 - 400) / 0.5]  # the winch hangs on the lift too
    assert each["machine_share"] == pytest.approx([0.667 * 3200])
    ten = math.atan(0.10)
    drag = math.sin(ten) + 0.4 * math.cos(ten)
    uphill = (40_500 / 9.80665 - 3200 * math.sin(ten)) / drag
    assert loads_by_limit(outfit(), [10.0])["engine"] == pytest.approx([uphill])


# --- guards ---------------------------------------------------------------------------------


def test_shape_is_kept_and_what_is_not_known_stays_so() -> None:
    kg, by = largest_load(outfit(), [[0.0, math.nan], [-10.0, 10.0]])
    assert kg.shape == by.shape == (2, 2)
    assert math.isnan(kg[0, 1])
    assert by[0, 1] == ""
    assert np.isfinite(kg[[0, 1, 1], [0, 0, 1]]).all()
    one, name = largest_load(outfit(), 0.0)
    assert one.shape == name.shape == ()
    assert str(name) == "front_axle"


def test_a_hill_the_tractor_itself_cannot_climb() -> None:
    kg, by = largest_load(outfit(traction=0.2), [19.9, 20.0, 25.0])
    assert kg[0] > 0
    assert kg[1:].tolist() == [0, 0]
    assert by.tolist() == ["traction"] * 3


def test_nothing_lifted_nothing_to_carry() -> None:
    assert loads_by_limit(outfit(lifted_share=0.0), [0.0])["lift"].tolist() == [math.inf]
    light = outfit(lift_rating="300 kg")
    assert loads_by_limit(light, [0.0])["lift"].tolist() == [0.0]  # the winch weighs 400 kg


@pytest.mark.parametrize(("condition", "low"), [("dry", 30.0), ("wet", 20.0), ("frozen", 20.0)])
def test_past_the_low_friction_a_log_runs_and_nothing_is_dragged(
    condition: str, low: float
) -> None:
    own = outfit(condition=condition, traction=0.7, braking=0.7, four_wheel_braking=True)
    kg, by = largest_load(own, [-low, -low - 0.01])
    assert kg[0] > 0
    assert kg[1] == 0
    assert by[1] == "runaway"


def test_downhill_the_brakes_govern() -> None:
    # rear drive on dry ground: by hand the rear axle holds 21.3 %, and a log on the ground
    # drags 20 % of its weight at least, so from 20 % on it pushes
    grade = [-19.0, -20.5, -21.0, -21.2, -21.4, -24.0]
    kg, by = largest_load(outfit(drive="2wd"), grade)
    assert by.tolist() == ["machine_share", "machine_share", *["braking"] * 4]
    assert (np.diff(kg[1:5]) < 0).all()
    assert kg[4:].tolist() == [0.0, 0.0]
    assert payload.holds_pct(on_the_day(outfit()), all_wheels=False) == pytest.approx(
        21.34, abs=0.01
    )
    # all wheels on frozen ground: they hold 20 %, a log pushes from 13.3 % on;
    # at 18 %: 3200 (0.20 - 0.18) / (0.18 - 0.1333) = 1371 kg
    kg, by = largest_load(outfit(condition="frozen"), [-13.0, -18.0, -20.0])
    assert by.tolist() == ["machine_share", "braking", "braking"]
    assert kg[1:] == pytest.approx([3200 * 0.02 / (0.18 - 0.4 / 3), 0.0])


def test_which_wheels_brake() -> None:
    grade = [-23.0]
    for keys, kg in (
        ({"drive": "4wd"}, math.inf),  # its front wheels can be engaged: the checks ask for it
        ({"drive": "2wd"}, 0.0),
        ({"drive": "2wd", "four_wheel_braking": True}, math.inf),  # trailing brakes
        ({"drive": "4wd", "braking": 0.22}, 0.0),
    ):
        slow = outfit(skid_friction=[0.4, 0.8], **keys)
        assert loads_by_limit(slow, grade)["braking"].tolist() == [kg]


def test_braking_is_never_better_than_traction() -> None:
    for traction, braking, both in ((0.3, 0.5, 0.3), (0.5, 0.3, 0.3)):
        tractor = machine(traction=traction, braking=braking)
        assert payload.holds_pct(tractor, all_wheels=True) == pytest.approx(100 * both)
        edge = np.array([-both + 0.001, -both - 0.001])
        held = payload.braking_kg(tractor, edge, all_wheels=True)
        assert held[0] > 0
        assert held[1] == 0


@pytest.mark.parametrize(
    ("condition", "own", "traction", "low"),
    [
        ("dry", {}, 0.40, 0.3), ("wet", {}, 0.30, 0.2), ("frozen", {}, 0.20, 0.2),
        ("dry", {"chains": True}, 0.50, 0.3), ("frozen", {"chains": True}, 0.30, 0.2),
        ("wet", {"traction": 0.45}, 0.45, 0.2),
        ("dry", {"traction": 0.45, "chains": True}, 0.45, 0.3),
        ("wet", {"skid_friction": [0.15, 0.9]}, 0.30, 0.15),
    ],
)  # fmt: skip
def test_the_grip_of_the_day(
    condition: str, own: dict[str, Any], traction: float, low: float
) -> None:
    tractor = on_the_day(outfit(condition=condition, **own))
    assert tractor.traction == pytest.approx(traction)
    assert tractor.braking == pytest.approx(min(traction, 0.40))
    assert tractor.skid_friction[0] == low


# --- what holds of every machine ------------------------------------------------------------

machines = st.builds(
    TractorTable,
    mass_kg=st.floats(1500, 6000),
    front_share_pct=st.floats(25, 50),
    drive=st.sampled_from(["2wd", "4wd"]),
    wheelbase_m=st.floats(1.6, 2.6),
    cg_height_m=st.floats(0.6, 1.1),
    hitch_height_m=st.floats(0.3, 0.7),
    load_behind_axle_m=st.floats(0.5, 1.2),
    traction=st.floats(0.15, 0.6),
    braking=st.floats(0.15, 0.6),
    four_wheel_braking=st.booleans(),
    lifted_share=st.floats(0, 0.7),
    skid_friction=st.tuples(st.floats(0.1, 0.5), st.floats(0.5, 1.0)),
    length_m=st.just(6.0),
)


def settings_with(tractor: TractorTable) -> AreaSettings:
    keys = tractor.model_dump(exclude={"preset"})
    return settings_of(tractor=keys)


@given(machines, st.floats(0, 40), st.floats(1, 2))
def test_a_heavier_tractor_never_drags_less_by_its_grip(
    tractor: TractorTable, grade: float, times: float
) -> None:
    heavier = tractor.model_copy(update={"mass_kg": tractor.mass_kg * times})
    at = np.array([grade, -grade]) / 100
    light, heavy = payload.traction_kg(tractor, at), payload.traction_kg(heavier, at)
    assert (heavy >= light * (1 - 1e-12)).all()
    assert (
        payload.front_axle_kg(heavier, at) >= payload.front_axle_kg(tractor, at) * (1 - 1e-12)
    ).all()


@given(machines)
def test_steeper_uphill_never_allows_more(tractor: TractorTable) -> None:
    kg, _ = largest_load(settings_with(tractor), np.linspace(0, 45, 60))
    assert (np.diff(kg) <= 1e-6).all()


@given(machines)
def test_steeper_downhill_brakes_never_allow_more(tractor: TractorTable) -> None:
    grade = -np.linspace(0.0, 0.45, 60)
    for all_wheels in (True, False):
        kg = payload.braking_kg(tractor, grade, all_wheels=all_wheels)
        with np.errstate(invalid="ignore"):  # one that does not bind after another
            rises = np.diff(kg)
        assert not (rises > 1e-6).any()


@given(machines, st.floats(-45, 45))
def test_the_least_limit_is_the_one_named(tractor: TractorTable, grade: float) -> None:
    settings = settings_with(tractor)
    each = loads_by_limit(settings, grade)
    kg, by = largest_load(settings, grade)
    assert tuple(each) == LIMITS
    assert float(kg) == min(float(v) for v in each.values()) == float(each[str(by)])
    assert 0 <= float(kg) < math.inf


# --- what crews and studies know ------------------------------------------------------------


def test_a_compact_tractor_drags_about_one_sawlog_at_a_time() -> None:
    # common practice, no source: "35-50 hp compact tractor drags one log at a time".
    # A 16 ft log, 14 in at its top, 15 in at its middle: 19.6 ft3 of green red oak at 80.2 lb
    log_kg = math.pi / 4 * (15 / 12) ** 2 * 16 * 80.2 * POUND_KG
    assert log_kg == pytest.approx(714, abs=1)
    kg, _ = largest_load(outfit("compact"), np.linspace(-10, 10, 21))
    assert (kg // log_kg).tolist() == [1] * 21
    whole_tree_kg = 4650 * POUND_KG  # an 18 in red oak of 85 ft, worked example
    assert (kg < whole_tree_kg).all()


def test_weight_counts_on_a_hill_and_power_does_not() -> None:
    # common practice, no source: bigger timber and steeper ground want more tractor weight
    grade = np.array([0.0, 5.0, 10.0, 15.0, 20.0])
    loads = [largest_load(outfit(p), grade) for p in ("compact", "mid", "large")]
    assert (np.diff([kg for kg, _ in loads], axis=0) > 0).all()
    for _, by in loads:
        assert set(by.tolist()) <= {"traction", "front_axle"}  # never the engine
    stronger, _ = largest_load(outfit(pto_power="90 kW"), grade)
    assert stronger.tolist() == loads[1][0].tolist()
    heavier, _ = largest_load(outfit(mass="3.8 t"), grade)
    assert (heavier > loads[1][0]).all()


def test_uphill_the_load_falls_about_in_a_straight_line() -> None:
    # Kosir and Marence 2008, abstract: the largest load declines linearly with the slope
    grade = np.linspace(0, 25, 26)
    for preset in ("compact", "mid", "large"):
        kg, _ = largest_load(outfit(preset), grade)
        assert np.corrcoef(grade, kg)[0, 1] < -0.99


def test_wet_and_frozen_ground_never_allow_more() -> None:
    grade = np.linspace(-25, 20, 46)
    dry, wet, frozen = (
        largest_load(outfit(condition=day), grade)[0] for day in ("dry", "wet", "frozen")
    )
    assert (wet <= dry).all()
    assert (frozen <= wet).all()
    assert frozen[-10] < wet[-10]  # 10 % and more uphill


def test_the_smallest_sawlog() -> None:
    # 8 ft 6 in, 10 in at its top and half an inch more 4 ft down: 5.14 ft3, 412 lb, with 15 %
    volume = math.pi / 4 * ((10 + 0.5 * 8.5 / 2 / 4) / 12) ** 2 * 8.5
    assert payload.smallest_log_kg(outfit()) == pytest.approx(volume * 80.2 * POUND_KG * 1.15)
