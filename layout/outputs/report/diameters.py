"""Trees by diameter class, before, taken and after: a picture and its table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.report import bar_charts
from layout.outputs.report.before_after import Three, area_word, three_cells, uncaught
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, join
from layout.outputs.wood_amounts import by_area
from layout.outputs.words import say
from layout.units import ACRE_M2, HECTARE_M2, INCH_M

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.units import Units


def part(units: Units, three: Three) -> Markup | None:
    """Write the diameter distribution, before, taken and after.

    Parameters
    ----------
    units : {"us", "metric"}
        What is spoken.
    three : tuple of Condition or None
        Before, taken and after.

    Returns
    -------
    Markup or None
        None without a class. The picture is left out where what is left is not known.
    """
    sums = [
        {} if one is None else {round(c.middle_cm, 3): c.stems_per_ha for c in one.classes}
        for one in three
    ]
    middles = sorted({middle for one in sums for middle in one})
    if not middles:
        return None
    rows: list[list[Piece]] = []
    for middle in middles:
        odd = uncaught(three, sums, middle)
        cells = three_cells(three, sums, middle, lambda v: _count(v, units), odd)
        rows.append([_class_name(middle, units), *cells])
    columns = (
        Column(say("report_col_class_dbh")),
        Column(say("report_col_before"), number=True),
        Column(say("report_col_taken"), number=True),
        Column(say("report_col_after"), number=True),
    )
    return join(
        _diameters(units, three, sums, middles),
        table(say("report_classes_cap", area=area_word(units)), columns, rows),
    )


def _diameters(
    units: Units, three: Three, sums: Sequence[dict[float, float]], middles: Sequence[float]
) -> Markup | None:
    """Draw the classes before and after; nothing where either is not known everywhere."""
    before, _, after = sums
    if not (three[0] and three[2]) or any(uncaught(three, sums, middle) for middle in middles):
        return None
    by = HECTARE_M2 / ACRE_M2 if units == "us" else 1.0
    shown = [
        (_class_name(middle, units), before.get(middle, 0.0) / by, after.get(middle, 0.0) / by)
        for middle in middles
    ]
    name, most, left = max(shown, key=lambda one: one[1])
    unit = say("chart_trees_by", area=area_word(units))
    told = say(
        "chart_diameters_told",
        count=len(shown), first=shown[0][0], last=shown[-1][0], fullest=name,
        before=f"{most:.0f}", after=f"{left:.0f}", unit=unit,
    )  # fmt: skip
    return bar_charts.before_after(shown, unit, told)


def _class_name(middle_cm: float, units: Units) -> str:
    return f"{middle_cm / 100 / INCH_M:.0f} in" if units == "us" else f"{middle_cm:.0f} cm"


def _count(per_ha: float, units: Units) -> str:
    return by_area(per_ha, units) if per_ha > 0 else "0"
