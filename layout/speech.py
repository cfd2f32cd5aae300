"""Lengths, areas and volumes said as people say them."""

import math

from layout.tongue import number, phrase, unit
from layout.units import ACRE_M2, CUBIC_FOOT_M3, FOOT_M, HECTARE_M2, INCH_M, POUND_KG, Units

CUBIC_YARD_M3 = (3 * FOOT_M) ** 3

FEET_PER_STATION = 5
END_M = 0.005  # stations are kept to the centimetre


def speak_length(metres: float, units: Units) -> str:
    """Say a length in whole feet, or in metres with one decimal under 10 m; thousands parted.

    Examples
    --------
    >>> speak_length(2274.1, "us"), speak_length(9.26, "metric"), speak_length(1234.5, "metric")
    ('7,461 ft', '9.3 m', '1,234 m')
    """
    if units == "us" or abs(metres) >= 10:
        return f"{whole_length(metres, units)} {unit('ft') if units == 'us' else 'm'}"
    return f"{number(metres, '.1f')} m"


def whole_length(metres: float, units: Units) -> str:
    """Give a length in whole feet or metres, thousands parted, without its unit.

    Examples
    --------
    >>> whole_length(512.0, "us"), whole_length(512.0, "metric")
    ('1,680', '512')
    """
    return number(metres / FOOT_M if units == "us" else metres, ",.0f")


def station_feet(metres: float, end_m: float = math.inf) -> int:
    """Round a distance along a trail as it is painted, to 5 ft.

    The end of a trail, where it is given, is said to a whole foot, as its length is, and no
    distance is said that lies past it.

    Examples
    --------
    >>> station_feet(30.4), station_feet(31.3, 31.4), station_feet(32.3, 32.3)
    (100, 103, 106)
    """
    feet = FEET_PER_STATION * round(metres / FOOT_M / FEET_PER_STATION)
    if not math.isfinite(end_m):
        return feet
    end = round(end_m / FOOT_M)
    return end if metres >= end_m - END_M else min(feet, end)


def speak_station(metres: float, units: Units, end_m: float = math.inf) -> str:
    """Say a distance along a trail as `station_feet` rounds it, or in whole metres.

    Examples
    --------
    >>> speak_station(8.5, "us"), speak_station(8.5, "us", 8.5), speak_station(8.5, "metric")
    ('30 ft', '28 ft', '8 m')
    """
    return f"{station_feet(metres, end_m)} {unit('ft')}" if units == "us" else f"{metres:.0f} m"


def speak_area(square_m: float, units: Units) -> str:
    """Say an area in square feet or acres, or in square metres or hectares."""
    if units == "us":
        acres = square_m / ACRE_M2
        if acres >= 0.05:
            return f"{number(acres, '.2f')} {unit('acre')}"
        return f"{number(square_m / FOOT_M**2, ',.0f')} {unit('sq ft')}"
    hectares = square_m / HECTARE_M2
    return f"{number(hectares, '.2f')} ha" if hectares >= 0.5 else f"{number(square_m, ',.0f')} m²"


def speak_volume(cubic_m: float, units: Units) -> str:
    """Say a volume of earth in cubic yards, or in cubic metres, two figures at most.

    Examples
    --------
    >>> speak_volume(123.4, "metric"), speak_volume(0.2, "us")
    ('120 m³', 'under 1 cu yd')
    """
    size, name = (cubic_m / CUBIC_YARD_M3, unit("cu yd")) if units == "us" else (cubic_m, "m³")
    if 0 < size < 0.5:
        return f"{unit('under')} 1 {name}"
    return f"{number(float(f'{size:.2g}'), ',.0f')} {name}"


def speak_wood(cubic_m: float, units: Units) -> str:
    """Say solid wood in cubic feet, two figures, or in cubic metres.

    Examples
    --------
    >>> speak_wood(1.2, "us"), speak_wood(15.84, "us"), speak_wood(1.24, "metric")
    ('42 cu ft', '560 cu ft', '1.2 m³')
    """
    if units == "us":
        return f"{number(float(f'{cubic_m / CUBIC_FOOT_M3:.2g}'), ',.0f')} {unit('cu ft')}"
    return f"{number(cubic_m, ',.1f')} m³"


def speak_load(kg: float, units: Units) -> str:
    """Say the heaviest load there may be, rounded down to 50 lb or 20 kg.

    Examples
    --------
    >>> speak_load(679.9, "us"), speak_load(679.9, "metric"), speak_load(12.0, "us")
    ('1,450 lb', '660 kg', 'under 50 lb')
    """
    one, step, name = (POUND_KG, 50, "lb") if units == "us" else (1.0, 20, "kg")
    steps = math.floor(kg / one / step + 1e-9)
    if not steps:
        return f"{unit('under')} {step} {name}"
    return f"{number(step * steps, ',')} {name}"


def speak_basal_area(m2_per_ha: float, units: Units) -> str:
    """Say a basal area in square feet an acre, or in square metres a hectare.

    Examples
    --------
    >>> speak_basal_area(19.01, "us"), speak_basal_area(19.01, "metric")
    ('83 ft²/acre', '19.0 m²/ha')
    """
    if units == "us":
        return f"{m2_per_ha / HECTARE_M2 * ACRE_M2 / FOOT_M**2:.0f} {unit('ft²/acre')}"
    return f"{number(m2_per_ha, '.1f')} m²/ha"


def speak_diameter(cm: float, units: Units) -> str:
    """Say a diameter of a stem in inches, or in centimetres.

    Examples
    --------
    >>> speak_diameter(31.24, "us"), speak_diameter(31.24, "metric")
    ('12.3 in', '31 cm')
    """
    if units == "us":
        return f"{number(cm / 100 / INCH_M, '.1f')} {unit('in')}"
    return f"{cm:.0f} cm"


_CHANCES = (
    (0.02, "about 1 in 50"),
    (0.05, "about 1 in 20"),
    (0.10, "about 1 in 10"),
    (1 / 7, "about 1 in 7"),
    (0.20, "about 1 in 5"),
    (0.25, "about 1 in 4"),
    (1 / 3, "about 1 in 3"),
    (0.5, "about 1 in 2"),
    (2 / 3, "about 2 in 3"),
    (0.75, "about 3 in 4"),
    (0.9, "about 9 in 10"),
)


def speak_chance(chance: float) -> str:
    """Say a chance as people do; no chance is told to a percent, none as nothing or certain.

    Examples
    --------
    >>> [speak_chance(p) for p in (0.0, 0.06, 0.2, 0.31, 0.99)]
    ['under 1 in 100', 'about 1 in 20', 'about 1 in 5', 'about 1 in 3', 'almost certain']
    """
    said = _chance(chance)
    return phrase(said) or said


def _chance(chance: float) -> str:
    if chance < 0.01:
        return "under 1 in 100"
    if chance > 0.97:
        return "almost certain"
    odds = math.log(chance / (1 - chance))
    return min(_CHANCES, key=lambda row: abs(math.log(row[0] / (1 - row[0])) - odds))[1]
