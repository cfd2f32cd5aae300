"""What a trailer may carry, against hand statics on one plain tractor.

3,200 kg, wheelbase 2.1 m, 38 % on the front axle (x = 0.798 m), centre of gravity 0.85 m
high, drawbar 0.5 m high and 0.9 m behind the axle, traction and braking 0.40, 45 kW of
which 75 % reach the ground. Trailer 1,500 kg, rating 5,000 kg, rolling 0.08.
"""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import settings_of

from layout.settings import AreaSettings
from layout.trailer_load import LIMITS, ON_DRAWBAR, SLOWING, largest_trailer_load

MACHINE = {
    "mass": "3.2 t", "front_share": "38 %", "pto_power": "45 kW", "wheelbase": "2.1 m",
    "track": "1.5 m", "width": "1.9 m", "length": "5 m", "cg_height": "0.85 m",
    "hitch_height": "0.5 m", "load_behind_axle": "0.9 m", "traction": 0.40, "braking": 0.40,
}  # fmt: skip


def outfit(
    trailer: dict[str, Any] | None = None, condition: str = "dry", **tractor: Any
) -> AreaSettings:
    return settings_of(
        tractor=MACHINE | tractor,
        trailer={"payload": "20 t"} | (trailer or {}),  # high, so that another limit is seen
        ground={"condition": condition},
    )


def load(settings: AreaSettings, grade_pct: float) -> tuple[float, str]:
    kg, by = largest_trailer_load(settings, grade_pct)
    return float(kg), str(by)


def test_traction_uphill_by_hand() -> None:
    # 8 %: (0.40 x 3200 - 3200 x 0.08) / (0.08 + 0.08) = 6400 with the trailer
    kg, by = load(outfit({"braked": True}, front_share="60 %"), 8.0)
    assert (kg, by) == (pytest.approx(6400 - 1500), "traction")
    # the rear axle alone: 40 % + 0.08 x 0.85 / 2.1 of the weight
    kg, by = load(outfit({"braked": True}, front_share="60 %", drive="2wd"), 8.0)
    rear = 3200 * (0.4 + 0.08 * 0.85 / 2.1)
    assert (kg, by) == (pytest.approx((0.4 * rear - 256) / 0.16 - 1500), "traction")


def test_the_front_axle_by_hand() -> None:
    # moments about the rear axle: 3200 (0.798 - 0.05 x 0.85 - 0.42) against drawbar and load
    kg, by = load(outfit(traction=0.7), 5.0)
    left = 3200 * (0.798 - 0.0425 - 0.42)
    by_hand = (left - 1500 * 0.13 * 0.5) / (0.13 * 0.5 + ON_DRAWBAR * 0.9)
    assert (kg, by) == (pytest.approx(by_hand), "front_axle")
    # so that exactly 20 % of the tractor's weight is left on it
    front = (3200 * (0.798 - 0.0425) - (1500 + kg) * 0.13 * 0.5 - ON_DRAWBAR * kg * 0.9) / 2.1
    assert front == pytest.approx(0.20 * 3200)


def test_the_engine_by_hand() -> None:
    fast = {"speed": "20 km/h", "braked": True}
    kg, by = load(outfit(fast, front_share="60 %", traction=0.7), 6.0)
    force = 45_000 * 0.75 / (20 / 3.6) / 9.80665
    assert (kg, by) == (pytest.approx((force - 3200 * 0.06) / 0.14 - 1500), "engine")


def test_braking_on_all_wheels_by_hand() -> None:
    kg, by = load(outfit(four_wheel_braking=True), -10.0)
    slowed = 0.10 + SLOWING
    assert (kg, by) == (pytest.approx(3200 * (0.40 - slowed) / slowed - 1500), "braking")


def test_braking_on_the_rear_axle_holds_just_what_it_says() -> None:
    settings = outfit({"payload": "20 t"})
    kg, by = load(settings, -4.0)
    assert by == "braking" and kg > 0
    pushed, slowed = 1500 + kg, 0.04 + SLOWING
    rear = (3200 * (2.1 - 0.798 - slowed * 0.85) - pushed * slowed * 0.5) / 2.1
    assert 0.40 * rear == pytest.approx((3200 + pushed) * slowed)


def test_the_default_outfit_carries_its_rating_on_the_level_and_little_downhill() -> None:
    settings = settings_of(tractor=MACHINE)
    assert load(settings, 0.0) == (5000.0, "rating")
    kg, by = load(settings, -10.0)
    assert by == "braking" and kg < 500
    assert load(settings_of(tractor=MACHINE, trailer={"braked": True}), -10.0) == (5000, "rating")


def test_wet_and_frozen_ground_take_from_traction_and_brakes() -> None:
    machine = {k: v for k, v in MACHINE.items() if k not in ("traction", "braking")}
    for grade in (8.0, -8.0):
        kg = [
            load(settings_of(tractor=machine | {"four_wheel_braking": True, "front_share": "60 %"},
                             trailer={"payload": "20 t"}, ground={"condition": c}), grade)[0]
            for c in ("dry", "wet", "frozen")
        ]  # fmt: skip
        assert kg[0] > kg[1] > kg[2], grade


def test_an_empty_trailer_that_cannot_be_pulled_up_carries_nothing() -> None:
    # loaded it goes 20 % down, so empty 20 % up: (0.40 - 0.20) 3200 / 0.28 = 2286 kg at most
    heavy = outfit({"mass": "2.4 t", "braked": True})
    assert load(heavy, -20.0) == (0.0, "traction")
    assert load(outfit({"mass": "2.2 t", "braked": True}), -20.0)[0] > 0


def test_an_empty_trailer_that_cannot_be_held_carries_nothing() -> None:
    kg, by = load(outfit({"mass": "6 t"}), 8.0)  # loaded up, so empty down 8 %
    assert kg == 0.0 and by in ("braking", "traction")
    # on all wheels 3200 (0.40 - 0.13) / 0.13 = 6646 kg are held empty, but not 7 t
    held = {"four_wheel_braking": True, "traction": 0.7, "front_share": "60 %"}
    assert load(outfit({"mass": "6.6 t"}, **held), 8.0)[0] > 0
    assert load(outfit({"mass": "6.7 t"}, **held), 8.0) == (0.0, "braking")


def test_unknown_grades_give_nothing_to_go_by() -> None:
    kg, by = largest_trailer_load(outfit(), [0.0, np.nan])
    assert np.isfinite(kg[0]) and np.isnan(kg[1])
    assert by.tolist()[1] == "" and by.tolist()[0] in LIMITS


@given(st.floats(0, 15), st.floats(0.1, 5))
def test_steeper_never_carries_more(grade: float, more: float) -> None:
    for settings in (outfit(), outfit(four_wheel_braking=True), outfit({"braked": True})):
        assert load(settings, grade + more)[0] <= load(settings, grade)[0] + 1e-6
        # downhill less has to be pulled, so that only what brakes hold gets less
        gentle, by = load(settings, -grade)
        if by == "braking":
            assert load(settings, -grade - more)[0] <= gentle + 1e-6


@given(st.floats(-15, 15), st.floats(2.0, 6.0))
def test_a_heavier_tractor_never_carries_less(grade: float, tonnes: float) -> None:
    light, heavy = outfit(mass=f"{tonnes:.3f} t"), outfit(mass=f"{tonnes + 0.5:.3f} t")
    engine = load(heavy, grade)[1] == "engine"  # which its own weight does hold down
    assert engine or load(heavy, grade)[0] >= load(light, grade)[0] - 1e-6
