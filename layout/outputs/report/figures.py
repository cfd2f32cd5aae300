"""Numbers as the report says them: in the user's units, rounded as people round."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from layout.checks.words import lengths, pair
from layout.outputs.wood_amounts import two_figures
from layout.outputs.words import say
from layout.speech import speak_basal_area, speak_length
from layout.units import (
    ACRE_M2,
    FOOT_M,
    HECTARE_M2,
    POUND_KG,
    SHORT_TON_KG,
    Units,
)

if TYPE_CHECKING:
    from layout.findings import Finding

NONE = "\N{EN DASH}"  # stands in a cell where there is nothing to say
LB_STEP = 50
KG_STEP = 10
IN_TONS_KG = 10_000.0  # from here a mass is said in tons


def length(metres: float, units: Units) -> str:
    """Say a length, thousands parted.

    Examples
    --------
    >>> length(2274.1, "us"), length(9.26, "metric")
    ('7,461 ft', '9.3 m')
    """
    return speak_length(metres, units)


def ground(square_m: float, units: Units) -> str:
    """Say an area of ground: acres or hectares to a tenth from one on, finer below.

    Examples
    --------
    >>> [ground(a, "us") for a in (139439.5, 613.5, 57.6)]
    ['34.5 acres', '0.15 acre', '620 sq ft']
    >>> [ground(a, "metric") for a in (67444.0, 6800.0, 57.6)]
    ['6.7 ha', '0.68 ha', '58 m²']
    """
    whole, name, small_m2, small = (
        (ACRE_M2, "acre", FOOT_M**2, "sq ft")
        if units == "us"
        else (HECTARE_M2, "ha", 1.0, "m\N{SUPERSCRIPT TWO}")
    )
    number = square_m / whole
    if number >= 0.95:
        return f"{number:,.1f} {name}{'s' if units == 'us' else ''}"
    if number >= (0.05 if units == "us" else 0.5):
        return f"{number:.2f} {name}"
    return f"{two_figures(square_m / small_m2)} {small}"


def worth(square_m: float, units: Units) -> str:
    """Say the ground a tree is worth; where that has no end, so.

    Examples
    --------
    >>> worth(200.0, "metric"), worth(float("inf"), "us")
    ('200 m² of ground', 'more than any ground')
    """
    if not math.isfinite(square_m):
        return say("worth_all")
    return say("worth_ground", ground=ground(square_m, units))


def mass(kg: float, units: Units) -> str:
    """Say a mass to 50 lb or 10 kg; a great one in tons, two figures.

    Examples
    --------
    >>> mass(812.3, "us"), mass(187_000.0, "us"), mass(812.3, "metric"), mass(187_400.0, "metric")
    ('1,800 lb', '210 short tons', '810 kg', '190 t')
    """
    if kg >= IN_TONS_KG:
        ton, name = (SHORT_TON_KG, "short tons") if units == "us" else (1000.0, "t")
        return f"{two_figures(kg / ton)} {name}"
    one, step, name = (POUND_KG, LB_STEP, "lb") if units == "us" else (1.0, KG_STEP, "kg")
    return f"{step * round(kg / one / step):,} {name}"


def measured(finding: Finding, units: Units) -> tuple[str, str]:
    """Say what a finding measured and the limit it was held against.

    Parameters
    ----------
    finding : Finding
        Its value and limit are in its ``unit``.
    units : {"us", "metric"}
        The user's units.

    Returns
    -------
    tuple of str
        Each empty where there is none. Where rounding would make them equal they
        carry as many figures as tell them apart.
    """
    value, limit, unit = finding.value, finding.limit, finding.unit
    if value is None:
        return "", "" if limit is None else amount(limit, unit, units)
    if limit is None:
        return amount(value, unit, units), ""
    if unit == "m":
        return lengths(value, limit, units)
    if unit in ("%", "deg"):
        return pair(value, limit, unit)
    said, bound = amount(value, unit, units), amount(limit, unit, units)
    return (said, bound) if said != bound else (f"{value:g} {unit}".strip(), bound)


def amount(value: float, unit: str, units: Units) -> str:
    """Say one number in a finding's or setting's unit.

    Examples
    --------
    >>> amount(12.39, "deg", "us"), amount(39.2, "kN", "us"), amount(2.0, "", "us")
    ('12 degrees', '39 kN', '2')
    """
    if unit == "m":
        return length(value, units)
    if unit == "m2":
        return ground(value, units)
    if unit == "kg":
        return mass(value, units)
    if unit == "m2/ha":
        return speak_basal_area(value, units)
    if unit == "deg":
        return f"{value:.0f} degrees"
    return f"{value:,.0f} {unit}" if unit in ("%", "kN", "kW") else f"{value:g} {unit}".strip()


def natural(name: str) -> tuple[tuple[int, str], ...]:
    """Give a key that sorts names as people do, S2 before S10.

    Examples
    --------
    >>> sorted(["S10", "M", "S2"], key=natural)
    ['M', 'S2', 'S10']
    """
    return tuple(
        (int(part), "") if part.isdecimal() else (-1, part)
        for part in re.split(r"([0-9]+)", name)
        if part
    )
