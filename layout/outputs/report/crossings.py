"""The table of crossings: where trails go over water, and how they lie there."""

from __future__ import annotations

from layout.crossings import (
    APPROACH_M,
    APPROACH_PCT,
    BANK_MOST_M,
    SQUARE_DEG,
    TOLERANCE_DEG,
    WIDE_MOST_M,
)
from layout.outputs.report.figures import ground, length
from layout.outputs.report.tables import Column, long_table
from layout.outputs.report.tags import Markup, Piece, join, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.records import Crossing
from layout.units import HECTARE_M2


def table_of(tally: Tally) -> Markup:
    """Write the table; nothing where no trail meets water.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    found, units = tally.plan.crossings, tally.units
    if not found:
        return join()
    columns = (
        Column(say("report_col_crossing")),
        Column(say("report_col_trail"), whole=True),
        Column(say("report_col_at"), number=True),
        Column(say("report_col_water")),
        Column(say("report_col_water_class")),
        Column(say("report_col_crossing_angle"), number=True),
        Column(say("report_col_approach"), number=True),
        Column(say("report_col_bank"), number=True),
        Column(say("report_col_wide"), number=True),
        Column(say("report_col_drains"), number=True),
    )
    caption = say(
        "report_crossings_cap",
        approach=length(APPROACH_M, units),
        angle=f"{SQUARE_DEG - TOLERANCE_DEG:.0f}",
        grade=f"{APPROACH_PCT:.0f}",
        bank=length(BANK_MOST_M, units),
        wide=length(WIDE_MOST_M, units),
    )
    barred = not tally.plan.area.settings.trails.crossings
    return join(
        tag("h3", say("report_crossings_title", count=len(found)), id="crossings"),
        *((tag("p", tag("strong", say("report_crossings_barred"))),) if barred else ()),
        tag("p", say("report_crossings_lead")),
        long_table(
            say("report_show_crossings", count=len(found)),
            caption,
            columns,
            [_row(tally, crossing) for crossing in found],
        ),
    )


def _row(tally: Tally, crossing: Crossing) -> list[Piece]:
    units = tally.units
    unknown = say("report_crossing_unknown")
    angle, grade, bank = crossing.angle_deg, crossing.approach_pct, crossing.bank_m
    return [
        crossing.crossing_id,
        crossing.trail_id,
        tally.station(crossing.trail_id, crossing.at_m),
        crossing.feature_id,
        crossing.water_class,
        unknown if angle is None else say("report_crossing_degrees", angle=f"{angle:.0f}"),
        unknown if grade is None else say("report_crossing_grade", grade=f"{grade:.0f}"),
        unknown if bank is None else length(bank, units),
        length(crossing.to_m - crossing.from_m, units),
        unknown if crossing.area_ha is None else ground(crossing.area_ha * HECTARE_M2, units),
    ]
