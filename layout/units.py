"""Quantities in, and numbers spoken as people speak them.

The grammar is small on purpose: a plain number, an optional space, one unit
from the closed list of its kind. What a general parser reads silently wrong
(commas, a bare ton, a capital T, a sign, a percent where degrees are meant) is
refused with the form that would do.
"""

import math
import re
from dataclasses import dataclass
from typing import Literal

from layout.errors import InputError

Units = Literal["us", "metric"]

FOOT_M = 0.3048  # international foot, exact by definition
INCH_M = 0.0254  # exact by definition
YARD_M = 0.9144
MILE_M = 1609.344
US_SURVEY_FOOT_M = 1200 / 3937  # elevations of older US grids
POUND_KG = 0.45359237  # exact by definition
SHORT_TON_KG = 2000 * POUND_KG
GRAVITY_MPS2 = 9.80665  # standard gravity, exact by definition
ACRE_M2 = 43560 * FOOT_M**2  # international acre
HECTARE_M2 = 10_000.0
HORSEPOWER_KW = 550 * FOOT_M * POUND_KG * GRAVITY_MPS2 / 1000  # mechanical horsepower
METRIC_HORSEPOWER_KW = 75 * GRAVITY_MPS2 / 1000
GALLON_L = 3.785411784  # US liquid gallon, exact by definition
CUBIC_FOOT_M3 = FOOT_M**3
CORD_FT3 = 128  # stacked, wood and air
BOARD_FEET_PER_MBF = 1000

_LENGTH = {
    "mm": 0.001,
    "cm": 0.01,
    "m": 1.0,
    "km": 1000.0,
    "in": INCH_M,
    "inch": INCH_M,
    "inches": INCH_M,
    "ft": FOOT_M,
    "foot": FOOT_M,
    "feet": FOOT_M,
    "yd": YARD_M,
    "mi": MILE_M,
}
_AREA = {
    "m^2": 1.0,
    "m2": 1.0,
    "m²": 1.0,
    "ha": HECTARE_M2,
    "ft^2": FOOT_M**2,
    "ft2": FOOT_M**2,
    "ft²": FOOT_M**2,
    "acre": ACRE_M2,
    "acres": ACRE_M2,
    "ac": ACRE_M2,
}
_MASS = {
    "kg": 1.0,
    "t": 1000.0,
    "tonne": 1000.0,
    "tonnes": 1000.0,
    "lb": POUND_KG,
    "lbs": POUND_KG,
    "short ton": SHORT_TON_KG,
    "short tons": SHORT_TON_KG,
}
_VOLUME = {
    "m^3": 1.0,
    "m3": 1.0,
    "m³": 1.0,
    "ft^3": CUBIC_FOOT_M3,
    "ft3": CUBIC_FOOT_M3,
    "ft³": CUBIC_FOOT_M3,
}
_DEGREE = {"deg": 1.0, "degree": 1.0, "degrees": 1.0, "°": 1.0}
_SIDES = {"E": 1.0, "W": -1.0, "east": 1.0, "west": -1.0}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity: its stored unit, its closed list, its right form."""

    name: str
    stored: str
    factors: dict[str, float]
    example: str


KINDS: dict[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", "m", _LENGTH, "165 ft"),
        Kind("grade", "%", {"%": 1.0}, "12 %"),
        Kind("percent", "%", {"%": 1.0}, "12 %"),
        Kind("angle", "deg", _DEGREE, "30 deg"),
        Kind(
            "declination",
            "deg",
            {f"{unit} {side}": sign for unit in _DEGREE for side, sign in _SIDES.items()},
            "12.5 deg W",
        ),
        Kind("area", "m2", _AREA, "0.15 acre"),
        Kind("mass", "kg", _MASS, "3.2 t"),
        Kind(
            "force",
            "kN",
            {"kN": 1.0, "N": 0.001, "daN": 0.01, "lbf": POUND_KG * GRAVITY_MPS2 / 1000},
            "80 kN",
        ),
        Kind(
            "power",
            "kW",
            {"kW": 1.0, "W": 0.001, "hp": HORSEPOWER_KW, "PS": METRIC_HORSEPOWER_KW},
            "45 kW",
        ),
        Kind(
            "speed",
            "m/s",
            {
                "m/s": 1.0,
                "m/min": 1 / 60,
                "km/h": 1 / 3.6,
                "ft/s": FOOT_M,
                "ft/min": FOOT_M / 60,
                "mph": MILE_M / 3600,
            },
            "4.5 km/h",
        ),
        Kind("seconds", "s", {"s": 1.0, "min": 60.0, "h": 3600.0}, "60 s"),
        Kind("minutes", "min", {"s": 1 / 60, "min": 1.0, "h": 60.0}, "2 min"),
        Kind("volume", "m3", _VOLUME, "80 ft^3"),
        Kind(
            "area per length",
            "m2/m",
            {"m^2/m": 1.0, "m2/m": 1.0, "m²/m": 1.0, "ft^2/ft": FOOT_M, "ft2/ft": FOOT_M},
            "0.25 m^2/m",
        ),
        Kind(
            "time per volume",
            "min/m3",
            {
                "min/m^3": 1.0,
                "min/m3": 1.0,
                "min/m³": 1.0,
                "h/m^3": 60.0,
                "min/ft^3": 1 / CUBIC_FOOT_M3,
            },
            "17.9 min/m^3",
        ),
        Kind(
            "basal area",
            "m2/ha",
            {
                "m^2/ha": 1.0,
                "m2/ha": 1.0,
                "m²/ha": 1.0,
                "ft^2/acre": FOOT_M**2 / ACRE_M2 * HECTARE_M2,
                "ft2/acre": FOOT_M**2 / ACRE_M2 * HECTARE_M2,
                "ft²/acre": FOOT_M**2 / ACRE_M2 * HECTARE_M2,
            },
            "70 ft^2/acre",
        ),
        Kind("fuel rate", "L/h", {"L/h": 1.0, "l/h": 1.0, "gal/h": GALLON_L}, "3 L/h"),
    )
}

_NUMBER = r"(?:\d{1,12}(?:\.\d{1,12})?|\.\d{1,12})"
_QUANTITY = re.compile(rf"({_NUMBER}) ?([^\d\s.,+-].*)")
_FEET_INCHES = re.compile(rf"(\d{{1,6}}) ?(?:ft|feet|foot|') ?({_NUMBER}) ?(?:in|inch|inches|\")")
_DECLINATION = re.compile(rf"([-+\u2212\u2013]?) ?({_NUMBER}) ?(?:{'|'.join(_DEGREE)})")
_MARKS = str.maketrans({"\u2019": "'", "\u2032": "'", "\u201d": '"', "\u2033": '"', "\u00a0": " "})


@dataclass(frozen=True, slots=True)
class Reading:
    """A quantity as read: its value in the stored unit, and what to tell the user."""

    value: float
    note: str = ""


def read(text: object, kind: str) -> Reading:
    """Read one quantity written as people write it.

    Parameters
    ----------
    text : object
        What the file holds; only text with a unit can be used.
    kind : str
        A key of `KINDS`; fixes the units allowed and the unit of the answer.

    Returns
    -------
    Reading
        Value in ``KINDS[kind].stored``, and a note where the meaning was chosen
        (a grade given in degrees, a force given as mass).

    Raises
    ------
    InputError
        If the text is no number with one unit of this kind; the message shows
        the right form.

    Examples
    --------
    >>> read("5 ft 6 in", "length").value
    1.6764
    >>> round(read("12 deg", "grade").value, 2)
    21.26
    """
    want = KINDS[kind]
    form = f'write it like "{want.example}"'
    if isinstance(text, bool) or not isinstance(text, str):
        if isinstance(text, int | float) and not isinstance(text, bool):
            msg = f"{text:g} has no unit; {form}, as text in quotes with a unit"
        else:
            msg = f"must be a quantity with a unit; {form}"
        raise InputError(msg)
    shown = text if len(text) <= 40 else text[:37] + "..."
    plain = " ".join(text.translate(_MARKS).split())
    if not plain:
        raise InputError(f"is blank; {form}")
    if kind == "length" and (both := _FEET_INCHES.fullmatch(plain)):
        inches = float(both[2])
        if inches >= 12:
            raise InputError(f'"{shown}": {both[2]} inches is a foot or more; {form}')
        return Reading((int(both[1]) * 12 + inches) * INCH_M)
    if "," in plain:
        raise InputError(
            f'"{shown}" has a comma; write the decimals with a point and no thousands mark, '
            f'like "{want.example}"'
        )
    if kind == "declination" and (turned := _DECLINATION.fullmatch(plain)):
        return _declination(turned, shown)
    if plain[0] in "-+\u2212\u2013":
        raise InputError(f'"{shown}" has a sign; only sizes are given here, {form}')
    match = _QUANTITY.fullmatch(plain)
    if match is None:
        if re.fullmatch(_NUMBER, plain):
            raise InputError(f'"{shown}" has no unit; {form}')
        raise InputError(f'"{shown}" is not a number followed by one unit; {form}')
    value, unit = float(match[1]), match[2]
    if kind == "length" and unit in ("'", '"'):
        unit = "ft" if unit == "'" else "in"
    if unit in want.factors:
        return Reading(value * want.factors[unit])
    if kind == "grade" and unit in _DEGREE:
        return _grade_from_degrees(value, shown)
    if kind == "force" and unit in _MASS:
        kn = value * _MASS[unit] * GRAVITY_MPS2 / 1000
        return Reading(kn, f'"{shown}" is a mass; taken as the force it weighs, {kn:.1f} kN')
    raise InputError(_wrong_unit(shown, unit, want))


def _declination(match: re.Match[str], shown: str) -> Reading:
    """Read a declination by its sign, + to the east; without one its side is not guessed."""
    value = float(match[2])
    if not match[1] and value:
        raise InputError(
            f'"{shown}" does not say which way the needle turns; write "{match[2]} deg W" or '
            f'"{match[2]} deg E"'
        )
    return Reading(value if match[1] in ("", "+") else -value)


def _grade_from_degrees(value: float, shown: str) -> Reading:
    """Turn a grade in degrees into percent, and say so."""
    if value >= 89:
        raise InputError(f'"{shown}" is no grade; write it like "12 %"')
    pct = 100 * math.tan(math.radians(value))
    return Reading(pct, f'"{shown}" is a grade in degrees; read as {pct:.0f} %')


def _wrong_unit(shown: str, unit: str, want: Kind) -> str:
    """Say why a unit will not do, with the nearest right form."""
    units = ", ".join(dict.fromkeys(want.factors))
    if unit.lower() in ("ton", "tons") or unit == "T":
        said = "T" if unit == "T" else "ton"
        return (
            f'"{shown}": a {said} may be 907, 1,000 or 1,016 kg; '
            'write "t" (1,000 kg), "short ton" (2,000 lb), "kg" or "lb"'
        )
    if want.name == "angle" and unit == "%":
        return f'"{shown}" is a percent, and this is an angle; write it like "{want.example}"'
    if want.name == "volume" and unit.lower() in ("bf", "mbf", "cord", "cords"):
        return (
            f'"{shown}": board feet and cords do not convert to solid wood by unit; '
            f'write it like "{want.example}"'
        )
    if re.match(r"[eE][-+]?[0-9]", unit):
        return f'"{shown}" is written with an exponent; write the number out, like "{want.example}"'
    for known in want.factors:
        if known.lower() == unit.lower():
            return f'"{shown}": "{unit}" is not known here; did you mean "{known}"?'
    return (
        f'"{shown}": "{unit}" is no unit of {want.name} known here; '
        f'use one of {units}, like "{want.example}"'
    )
