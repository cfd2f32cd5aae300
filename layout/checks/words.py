"""How a finding says a place and a number: rounded as people round."""

import math

from layout.checks.case import Walked
from layout.speech import speak_length, speak_station
from layout.units import Units

FROM_RECORD = "the record held against its own geometry"


def place(units: Units, from_m: float, to_m: float, end_m: float = math.inf) -> str:
    """Say a stretch of trail: "at 120 ft", or "from 120 ft to 185 ft"; none past its end.

    Examples
    --------
    >>> place("us", 0.0, 8.5), place("us", 0.0, 8.5, 8.5)
    ('from 0 ft to 30 ft', 'from 0 ft to 28 ft')
    """
    start, end = (speak_station(at_m, units, end_m) for at_m in (from_m, to_m))
    return f"at {start}" if start == end else f"from {start} to {end}"


def on(walked: Walked, units: Units, from_m: float, to_m: float) -> str:
    """Say the trail and the stretch, to open a sentence."""
    return f"{walked.name} {place(units, from_m, to_m, walked.length_m)}"


def pair(value: float, limit: float, unit: str) -> tuple[str, str]:
    """Say a value and its limit with just enough figures to tell them apart.

    Parameters
    ----------
    value, limit : float
        Both in ``unit``.
    unit : str
        ``"%"`` or ``"deg"``.

    Returns
    -------
    tuple of str
        "23 %" and "20 %"; "20.3 %" and "20 %" where whole numbers would agree.
    """
    mark = " degrees" if unit == "deg" else f" {unit}"
    bound = f"{round(limit, 1):g}"
    said = f"{value:.0f}"
    for digits in (1, 2):
        if said == bound and value != limit:
            said = f"{value:.{digits}f}"
    return said + mark, bound + mark


def lengths(value_m: float, limit_m: float, units: Units) -> tuple[str, str]:
    """Say a length and its limit; a tie after rounding says "just over" or "just under"."""
    said, bound = speak_length(value_m, units), speak_length(limit_m, units)
    if said == bound and value_m != limit_m:
        said = f"just {'over' if value_m > limit_m else 'under'} {said}"
    return said, bound
