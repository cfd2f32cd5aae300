"""Numbers as the sheets say them, in the user's units."""

import math

from layout.outputs.words import say
from layout.tongue import number, unit
from layout.units import FOOT_M, POUND_KG, Units

FINE_BELOW_PCT = 10.0  # a share of the ground under this keeps one decimal
LOAD_STEP: dict[Units, tuple[float, int, str]] = {"us": (POUND_KG, 50, "lb"),
                                                  "metric": (1.0, 20, "kg")}  # fmt: skip


def share(value_pct: float) -> str:
    """Say a share of the ground.

    Examples
    --------
    >>> share(3.72), share(14.6)
    ('3.7 %', '15 %')
    """
    return (
        f"{number(value_pct, '.1f')} %"
        if value_pct < FINE_BELOW_PCT - 0.05
        else f"{value_pct:.0f} %"
    )


def limit(value_pct: float) -> str:
    """Say a limit as it was set, without figures it does not need.

    Examples
    --------
    >>> limit(15.0), limit(12.5)
    ('15 %', '12.5 %')
    """
    return f"{number(value_pct, 'g')} %"


def grade(value_pct: float) -> str:
    """Say a grade's size, whole percent, never with a sign.

    Examples
    --------
    >>> grade(-12.4)
    '12 %'
    """
    return f"{abs(value_pct):.0f} %"


def most_load(kg: float, units: Units) -> str:
    """Say the heaviest load there may be, rounded down to 50 lb or 20 kg.

    Parameters
    ----------
    kg : float
        Largest load, weight error included.
    units : {"us", "metric"}
        What is spoken.

    Returns
    -------
    str
        Empty where it is not known.

    Examples
    --------
    >>> most_load(679.9, "us"), most_load(679.9, "metric"), most_load(math.inf, "us")
    ('1,450 lb', '660 kg', '')
    """
    if not math.isfinite(kg):
        return ""
    one, step, name = LOAD_STEP[units]
    # exact multiples stay: 1,500 lb kept as kilograms may fall short by the last bit
    return f"{number(step * math.floor(kg / one / step + 1e-9), ',')} {name}"


def round_length(most_m: float, units: Units) -> tuple[float, str]:
    """Give the longest round length that is not over a bound, for a scale bar.

    Parameters
    ----------
    most_m : float
        Bound, metres, above 0.
    units : {"us", "metric"}
        The user's units.

    Returns
    -------
    tuple of float and str
        Metres, and as said.

    Examples
    --------
    >>> round_length(95.0, "us")
    (91.44, '300 ft')
    >>> round_length(95.0, "metric")
    (50.0, '50 m')
    """
    unit_m, name, steps = (
        (FOOT_M, unit("ft"), (1, 2, 3, 5)) if units == "us" else (1.0, "m", (1, 2, 5))
    )
    candidates = [step * 10**power for power in range(6) for step in steps]
    most = max((n for n in candidates if n * unit_m <= most_m), default=1)
    return round(most * unit_m, 6), f"{number(most, ',')} {name}"


def rule_name(log_rule: str) -> str:
    """Say a board-foot rule by its name.

    Examples
    --------
    >>> rule_name("international-quarter")
    'International 1/4-inch'
    """
    key = log_rule.replace("-", "_")
    return say(f"log_rule_{key}")
