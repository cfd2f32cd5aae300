"""How many decimals an output number carries, and what stands for no number.

A file that says 13.400000000000002 % claims what nobody measured. Decimals go
by the unit at the end of the name; what is not a finite number is left blank,
because neither JSON nor a desktop GIS has a common way to write it.
"""

import math

DECIMALS = {
    "m": 2,
    "pct": 1,
    "deg": 1,
    "m2": 1,
    "ha": 4,
    "kg": 0,
    "m3": 3,
    "kn": 1,
    "bf": 0,
    "cm": 1,
    "s": 1,
    "minutes": 1,
    "h": 1,
    "l": 0,
    "money": 0,
    "hits": 2,
    "reach": 3,  # p_out_of_reach, a share of one; so are the next two
    "ends": 3,
    "position": 3,
    "ratio": 2,
}
OTHER_SIGNIFICANT = 6


def rounded(name: str, value: float | None) -> float | None:
    """Round a number as its name's unit asks.

    Parameters
    ----------
    name : str
        Name ending in its unit (``length_m``).
    value : float or None
        Number, or None where there is none.

    Returns
    -------
    float or None
        None where the value is missing or not finite; never a minus zero.

    Examples
    --------
    >>> rounded("grade_pct", 13.4000002)
    13.4
    >>> rounded("reach_m", float("inf")) is None
    True
    """
    if value is None or not math.isfinite(value):
        return None
    decimals = DECIMALS.get(name.rpartition("_")[2])
    if decimals is None:
        return float(f"{value:.{OTHER_SIGNIFICANT}g}") + 0.0
    return round(float(value), decimals) + 0.0
