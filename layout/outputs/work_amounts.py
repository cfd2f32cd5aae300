"""Hours, days, forces, fuel and money as people say them; a range never without its ends."""

from __future__ import annotations

import math
from collections.abc import Callable

from layout.outputs.words import say
from layout.tongue import number as said_number
from layout.units import CUBIC_FOOT_M3, GALLON_L, GRAVITY_MPS2, POUND_KG, Units

HALVES_BELOW_H = 10.0  # from here on hours are whole
POUND_FORCE_KN = POUND_KG * GRAVITY_MPS2 / 1000
CUNIT_FT3 = 100.0
NOISE = 1e-6


def hours(low_h: float, high_h: float) -> str:
    """Say a range of hours, the low end rounded down and the high end up.

    Examples
    --------
    >>> hours(3.7, 8.2), hours(14.4, 30.1), hours(0.2, 0.4)
    ('3.5 to 8.5 h', '14 to 31 h', 'under 0.5 h')
    """
    step = 0.5 if high_h <= HALVES_BELOW_H else 1.0
    low, high = step * math.floor(low_h / step + NOISE), step * math.ceil(high_h / step - NOISE)
    if high == 0:
        return say("hours_none")
    if low == 0:
        return say("hours_under", high=said_number(high, "g"))
    return say("hours_range", low=said_number(low, ",g"), high=said_number(high, ",g"))


def days(low: float, high: float) -> str:
    """Say a range of whole days, the low end rounded down and the high end up.

    Examples
    --------
    >>> days(4.3, 8.9), days(0.2, 0.7)
    ('4 to 9 days', '1 day')
    """
    first = max(1, math.floor(low + NOISE))
    last = max(first, math.ceil(high - NOISE))
    if first == last:
        return say("days_one") if last == 1 else say("days_same", days=last)
    return say("days_range", low=first, high=last)


def force(kilonewtons: float, units: Units) -> str:
    """Say a force in whole kN, or to 100 lbf.

    Examples
    --------
    >>> force(39.2266, "us"), force(39.2266, "metric")
    ('8,800 lbf', '39 kN')
    """
    if units == "us":
        return f"{100 * round(kilonewtons / POUND_FORCE_KN / 100):,} lbf"
    return f"{kilonewtons:.0f} kN"


def force_up(kilonewtons: float, units: Units) -> str:
    """Say a force that something must hold: three figures, rounded up.

    Examples
    --------
    >>> force_up(78.4532, "us"), force_up(78.4532, "metric"), force_up(39.2266, "us")
    ('17,700 lbf', '78.5 kN', '8,820 lbf')
    """
    one, name = (POUND_FORCE_KN, "lbf") if units == "us" else (1.0, "kN")
    return f"{_figures(kilonewtons / one, 3, math.ceil):,g} {name}"


def fuel(low_l: float, high_l: float, units: Units) -> str:
    """Say a range of fuel in gallons or litres, two figures, the low end down and the high up.

    Examples
    --------
    >>> fuel(40.0, 165.0, "us"), fuel(40.0, 165.0, "metric")
    ('10 to 44 gal', '40 to 170 L')
    """
    one, name = (GALLON_L, "gal") if units == "us" else (1.0, "L")
    low = _figures(low_l / one, 2, math.floor)
    high = _figures(high_l / one, 2, math.ceil)
    return say("amount_range", low=f"{low:,g}", high=f"{high:,g} {name}")


def _figures(number: float, count: int, turn: Callable[[float], int]) -> float:
    """Round a number to so many figures, down or up; what a float misses by a hair is not."""
    if number <= 0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(number)) - count + 1)
    hair = NOISE if turn is math.floor else -NOISE
    return float(f"{step * turn(number / step + hair):.6g}")


def money(amount: float) -> str:
    """Say money without its name, three figures, for it is no surer.

    Examples
    --------
    >>> money(1284.2), money(45.0)
    ('1,280', '45')
    """
    return f"{float(f'{amount:.3g}'):,.0f}"


def money_range(low: float, high: float) -> str:
    """Say a range of money.

    Examples
    --------
    >>> money_range(900.0, 1874.0)
    '900 to 1,870'
    """
    return say("amount_range", low=money(low), high=money(high))


def minutes_by_wood(min_per_m3: float, units: Units) -> str:
    """Say minutes for a hundred cubic feet of wood, or for a cubic metre.

    Examples
    --------
    >>> minutes_by_wood(28.9, "us"), minutes_by_wood(28.9, "metric")
    ('82 minutes per 100 cu ft', '29 minutes per m³')
    """
    if units == "us":
        return f"{min_per_m3 * CUNIT_FT3 * CUBIC_FOOT_M3:.0f} minutes per 100 cu ft"
    return f"{min_per_m3:.0f} minutes per m\N{SUPERSCRIPT THREE}"
