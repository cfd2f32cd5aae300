"""A setting's value as people write it: their units first, beside it what it is exactly."""

from __future__ import annotations

import math
from collections.abc import Mapping

from pydantic import BaseModel

from layout.outputs.words import say
from layout.units import GRAVITY_MPS2, KINDS, Units

# Units of each kind in the user's system, the largest first: the first is taken in which
# the number is at least what stands beside it. Which unit people take when is ours.
_OWN: Mapping[str, Mapping[Units, tuple[tuple[str, float], ...]]] = {
    "length": {"us": (("ft", 1.0), ("in", 0.0)), "metric": (("m", 1.0), ("cm", 5.0), ("mm", 0.0))},
    "area": {"us": (("acre", 0.05), ("ft²", 0.0)), "metric": (("ha", 0.5), ("m²", 0.0))},
    "mass": {"us": (("lb", 0.0),), "metric": (("t", 10.0), ("kg", 0.0))},
    "force": {"us": (("lbf", 0.0),), "metric": (("kN", 0.0),)},
    "power": {"us": (("hp", 0.0),), "metric": (("kW", 0.0),)},
    "speed": {"us": (("mph", 0.0),), "metric": (("km/h", 0.0),)},
    "volume": {"us": (("ft³", 0.0),), "metric": (("m³", 0.0),)},
    "area per length": {"us": (("ft2/ft", 0.0),), "metric": (("m²/m", 0.0),)},
    "time per volume": {"us": (("min/ft^3", 0.0),), "metric": (("min/m³", 0.0),)},
    "basal area": {"us": (("ft²/acre", 0.0),), "metric": (("m²/ha", 0.0),)},
    "fuel rate": {"us": (("gal/h", 0.0),), "metric": (("L/h", 0.0),)},
}
_ROPE: Mapping[Units, str] = {"us": "ft/min", "metric": "m/min"}  # winches say speed by the minute
_SAID = {
    "deg": "degrees",
    "ft²": "sq ft",
    "ft³": "cu ft",
    "ft2/ft": "sq ft/ft",
    "min/ft^3": "min/cu ft",
    "m3": "m³",
    "money": "",  # whose money it is, the user knows
    "money/h": "an hour",
    "money/L": "a litre",
}
_KIND_OF = {
    "m": "length",
    "deg": "angle",
    "declination": "angle",
    "kN": "force",
    "kW": "power",
    "m2": "area",
}
FIGURES = 4  # a number with no more may be one that somebody wrote
FEW = 2  # and one with so few surely is
SAME = 1e-6


def said(value: object, kind: str, units: Units, shown: str = "") -> str:
    """Say a setting's value.

    Parameters
    ----------
    value : object
        As the settings hold it; a number is in the stored unit of its kind.
    kind : str
        A key of `layout.units.KINDS`, or the unit of a number that has no kind.
    units : {"us", "metric"}
        The user's units.
    shown : str, optional
        The default as area.toml would hold it; says of a speed whether it is a rope's.

    Returns
    -------
    str
        In the user's units. Where the number is round only in others, those stand
        in brackets: it was written so.

    Examples
    --------
    >>> said(50.292, "length", "us"), said(50.292, "length", "metric"), said(0.15, "length", "us")
    ('165 ft', '50 m (165 ft)', '5.9 in (15 cm)')
    >>> said(3 / 3.6, "speed", "metric"), said(0.5, "speed", "metric", "40 m/min")
    ('3 km/h', '30 m/min')
    >>> said(39.2266, "force", "us"), said(True, "", "us"), said((), "", "us")
    ('8,820 lbf (4 t)', 'yes', 'not given')
    """
    if value is None or value in ("", (), {}):
        return say("report_not_given")
    if isinstance(value, bool):
        return say("report_yes") if value else say("report_no")
    if isinstance(value, tuple):
        return ", ".join(said(one, kind, units, shown) for one in value)
    if isinstance(value, Mapping):
        return ", ".join(f"{name} {said(one, kind, units, shown)}" for name, one in value.items())
    if isinstance(value, BaseModel):
        return ", ".join(f"{k} {v:.10g}" for k, v in value)
    if not isinstance(value, int | float):
        return str(value)
    if value == math.inf:
        return say("report_no_bound")
    kind = _KIND_OF.get(kind, kind)
    return _quantity(float(value), kind, units, shown) if kind in KINDS else _plain(value, kind)


def _quantity(value: float, kind: str, units: Units, shown: str) -> str:
    """Say a quantity, and what it was written as where that is another unit's round number."""
    factors = KINDS[kind].factors
    unit = _unit(value, kind, units, shown)
    own = value / factors[unit]
    other: Units = "metric" if units == "us" else "us"
    written, size = _unit(value, kind, other, shown), 1.0
    if kind == "force" and not _figures(value / factors[written]) <= FEW:
        written, size = "t", GRAVITY_MPS2  # a winch is sold by the mass it pulls
    elif kind == "mass" and other == "metric":
        written = "t"
    size = factors.get(written, size)
    if _figures(own) <= max(FEW, min(FIGURES, _figures(value / size))):
        return _plain(own, unit)
    if _figures(value / size) > FIGURES:
        return _plain(float(f"{own:.3g}"), unit)
    about = _plain(float(f"{own:.{3 if own >= 100 else 2}g}"), unit)
    return f"{about} ({_plain(value / size, written)})"


def _unit(value: float, kind: str, units: Units, shown: str) -> str:
    """Choose the unit of the user's system that suits a number's size."""
    if kind == "speed" and shown.endswith("/min"):
        return _ROPE[units]
    if kind not in _OWN:
        return KINDS[kind].stored
    factors = KINDS[kind].factors
    choices = _OWN[kind][units]
    return next(
        (unit for unit, least in choices if value / factors[unit] >= least * (1 - SAME)),
        choices[-1][0],
    )


def _figures(number: float) -> int:
    """Count the figures a number is written with; more than `FIGURES` where none will do."""
    return next(
        (
            count
            for count in range(1, FIGURES + 1)
            if math.isclose(number, float(f"{number:.{count}g}"), rel_tol=SAME)
        ),
        FIGURES + 1,
    )


def _plain(number: float, unit: str) -> str:
    """Write a number of any size without an exponent, thousands parted, and its unit.

    A number without a unit stays as it was written: it may be a coordinate.
    """
    if not unit:
        return f"{number:.10g}"
    whole = f"{float(f'{number:.{FIGURES}g}'):,.6f}".rstrip("0").rstrip(".")
    name = "acres" if unit == "acre" and number > 1 else _SAID.get(unit, unit)
    return f"{whole} {name}".strip()
