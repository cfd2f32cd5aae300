"""Defaults in the units a user works in, rounded as people write them.

A default already written in the user's units stays letter for letter; another is
converted and rounded. Such a text is shown beside the default, never used for it.
"""

from decimal import Decimal

from layout.units import KINDS, Units, read

ROUNDING = 0.02  # a shown default may be this share off; ours

# Units of each system by kind, each with the size (in the stored unit) it starts at.
# What a kind does not list (percent, degrees, time) is the same everywhere.
_LADDERS: dict[str, dict[Units, tuple[tuple[float, str], ...]]] = {
    "length": {
        "us": ((0.0, "in"), (3.0, "ft")),
        "metric": ((0.0, "mm"), (0.01, "cm"), (1.0, "m")),
    },
    "area": {
        "us": ((0.0, "ft^2"), (405.0, "acre")),
        "metric": ((0.0, "m^2"), (5000.0, "ha")),
    },
    "mass": {"us": ((0.0, "lb"),), "metric": ((0.0, "kg"), (1000.0, "t"))},
    "force": {"us": ((0.0, "lbf"),), "metric": ((0.0, "kN"),)},
    "power": {"us": ((0.0, "hp"),), "metric": ((0.0, "kW"),)},
    "speed": {
        "us": ((0.0, "ft/min"), (0.75, "mph")),
        "metric": ((0.0, "m/min"), (0.75, "km/h")),
    },
    "volume": {"us": ((0.0, "ft^3"),), "metric": ((0.0, "m^3"),)},
    "area per length": {"us": ((0.0, "ft^2/ft"),), "metric": ((0.0, "m^2/m"),)},
    "time per volume": {"us": ((0.0, "min/ft^3"),), "metric": ((0.0, "min/m^3"),)},
    "basal area": {"us": ((0.0, "ft^2/acre"),), "metric": ((0.0, "m^2/ha"),)},
    "fuel rate": {"us": ((0.0, "gal/h"),), "metric": ((0.0, "L/h"),)},
}


def in_own_units(text: str, kind: str, units: Units) -> str:
    """Write a default in the user's units.

    Parameters
    ----------
    text : str
        The default as the settings declare it.
    kind : str
        A key of ``units.KINDS``.
    units : {"us", "metric"}
        What the user works in.

    Returns
    -------
    str
        The text itself where it is in those units, otherwise converted and
        rounded within 2 %.

    Examples
    --------
    >>> in_own_units("165 ft", "length", "us"), in_own_units("165 ft", "length", "metric")
    ('165 ft', '50 m')
    """
    ladder = _LADDERS.get(kind)
    if ladder is None:
        return text
    unit = text.lstrip("0123456789. ")
    ours = {name for _, name in ladder[units]}
    if kind == "force" and units == "metric":
        ours.add("t")  # as plates of winches are stamped
    return text if unit in ours else size_in_own_units(read(text, kind).value, kind, units)


def size_in_own_units(value: float, kind: str, units: Units) -> str:
    """Write a size in the user's units, rounded within 2 %.

    Parameters
    ----------
    value : float
        In the stored unit of its kind.
    kind : str
        A key of ``units.KINDS``.
    units : {"us", "metric"}
        What the user works in.

    Returns
    -------
    str

    Examples
    --------
    >>> size_in_own_units(3200.0, "mass", "us"), size_in_own_units(0.85, "length", "us")
    ('7000 lb', '33 in')
    """
    ladder = _LADDERS.get(kind)
    if ladder is None:
        unit = next(iter(KINDS[kind].factors))
    else:
        unit = [name for least, name in ladder[units] if value >= least][-1]
        for _, larger in ladder[units][::-1]:  # 5 ft rather than 60 in
            whole = value / KINDS[kind].factors[larger]
            if larger == unit or (whole >= 1 and abs(whole - round(whole)) < 1e-9):
                unit = larger
                break
    return f"{_rounded(value / KINDS[kind].factors[unit])} {unit}"


def _rounded(value: float) -> str:
    """Round to the fewest figures that stay within 2 %."""
    for figures in (1, 2, 3):
        short = float(f"{value:.{figures}g}")
        if abs(short - value) <= ROUNDING * value:
            break
    return format(Decimal(f"{value:.{figures}g}"), "f")
