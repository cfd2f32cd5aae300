"""Wood said as people say it: board feet, cords, tons, and by the acre or hectare."""

from layout.tongue import number as said_number
from layout.tongue import unit as said_unit
from layout.units import ACRE_M2, CUBIC_FOOT_M3, FOOT_M, HECTARE_M2, INCH_M, SHORT_TON_KG, Units


def two_figures(number: float) -> str:
    """Round to two figures, thousands parted."""
    return said_number(float(f"{number:.2g}"), ",.0f")


def wood(cubic_m: float, units: Units) -> str:
    """Say a volume of wood, cubic feet or cubic metres; two figures, for it is no surer.

    Examples
    --------
    >>> wood(1.641, "us"), wood(1.641, "metric"), wood(218.4, "metric")
    ('58 cu ft', '1.6 m³', '220 m³')
    """
    if units == "us":
        return f"{two_figures(cubic_m / CUBIC_FOOT_M3)} {said_unit('cu ft')}"
    said = said_number(cubic_m, ".1f") if cubic_m < 10 else two_figures(cubic_m)
    return f"{said} m\N{SUPERSCRIPT THREE}"


def boards(board_feet: float) -> str:
    """Say board feet, three figures; the rule's name stands beside them, always.

    Examples
    --------
    >>> boards(39481.2), boards(185.4)
    ('39,500', '185')
    """
    return said_number(float(f"{board_feet:.3g}"), ",.0f")


def small_wood(cubic_m: float, in_cords: float, units: Units) -> str:
    """Say small wood in stacked cords, or in solid cubic metres.

    Examples
    --------
    >>> small_wood(51.8, 22.9, "us"), small_wood(5.2, 2.29, "us"), small_wood(51.8, 22.9, "metric")
    ('23 cords', '2.3 cords', '52 m³')
    """
    if units == "metric":
        return wood(cubic_m, units)
    said = said_number(in_cords, ".1f") if in_cords < 10 else two_figures(in_cords)
    return f"{said} {said_unit('cords')}"


def tons(kg: float, units: Units) -> str:
    """Say a mass in short tons or tonnes, two figures.

    Examples
    --------
    >>> tons(50532.5, "us"), tons(2100.0, "us"), tons(2100.0, "metric")
    ('56 short tons', '2.3 short tons', '2.1 t')
    """
    ton, name = (SHORT_TON_KG, "short tons") if units == "us" else (1000.0, "t")
    number = kg / ton
    said = said_number(number, ".1f") if number < 10 else two_figures(number)
    return f"{said} {said_unit(name)}"


def by_area(per_ha: float, units: Units) -> str:
    """Say a count by the acre or the hectare: whole from ten on, a tenth below.

    Examples
    --------
    >>> by_area(320.4, "us"), by_area(12.1, "us"), by_area(320.4, "metric"), by_area(0.01, "us")
    ('130', '4.9', '320', 'under 0.1')
    """
    number = per_ha * ACRE_M2 / HECTARE_M2 if units == "us" else per_ha
    if 0 < number < 0.05:
        return f"{said_unit('under')} {said_number(0.1, '.1f')}"
    return said_number(number, ",.0f" if number >= 9.95 else ".1f")


def wood_by_area(m3_per_ha: float, units: Units) -> str:
    """Say wood by the acre or the hectare, two figures.

    Examples
    --------
    >>> wood_by_area(183.0, "us"), wood_by_area(183.0, "metric")
    ('2,600 cu ft', '180 m³')
    """
    return wood(m3_per_ha * ACRE_M2 / HECTARE_M2 if units == "us" else m3_per_ha, units)


def basal_number(m2_per_ha: float, units: Units) -> str:
    """Say a part of a stand's basal area without its unit: a tenth below ten.

    Examples
    --------
    >>> basal_number(0.12, "us"), basal_number(5.1, "us"), basal_number(5.1, "metric")
    ('0.5', '22', '5.1')
    """
    number = m2_per_ha / HECTARE_M2 * ACRE_M2 / FOOT_M**2 if units == "us" else m2_per_ha
    if 0 < number < 0.05:
        return f"{said_unit('under')} {said_number(0.1, '.1f')}"
    return said_number(number, ".0f" if number >= 9.95 else ".1f")


def thickness(metres: float, units: Units) -> str:
    """Say a diameter or trim as it was set: inches or centimetres, a tenth where it has one.

    Examples
    --------
    >>> thickness(0.254, "us"), thickness(0.1016, "metric")
    ('10 in', '10.2 cm')
    """
    size, unit = (metres / INCH_M, "in") if units == "us" else (100 * metres, "cm")
    return f"{said_number(round(size, 1), 'g')} {said_unit(unit)}"
