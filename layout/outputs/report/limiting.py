"""What limits the plan: one thing changed at a time, and the necks that close the ground."""

from __future__ import annotations

from layout.limits import LimitRow, steep_share
from layout.outputs.amounts import share
from layout.outputs.report.figures import NONE, ground, length
from layout.outputs.report.places import Places
from layout.outputs.report.read_first import NECK, item, source_line
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.settings import limits_in_force

AS_IS = "as_is"


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        The table of changes as the plan holds it, the arithmetic of steep ground, the
        necks. Nothing here passes a ceiling.
    """
    plan = tally.plan
    limits = limits_in_force(plan.area.settings)
    steep = tag("p", steep_share(plan.area, plan.terrain, limits).words(limits))
    return section(
        "limits",
        say("report_limits"),
        _table(tally) if plan.limits else tag("p", say("report_limits_none")),
        steep,
        _necks(tally),
    )


def _table(tally: Tally) -> Markup:
    """Write what each change would bring and cost."""
    columns = (
        Column(say("report_col_change")),
        Column(say("report_col_more"), number=True),
        Column(say("report_col_winchable"), number=True),
        Column(say("report_col_reached"), number=True),
        Column(say("report_col_about_trail"), number=True),
        Column(say("report_col_about_ground"), number=True),
        Column(say("report_col_cost")),
    )
    return join(
        tag("p", say("report_limits_lead")),
        table(say("report_limits_cap"), columns, [_row(row, tally) for row in tally.plan.limits]),
        tag("p", say("report_limits_no_more"))
        if all(row.more_trees <= 0 for row in tally.plan.limits)
        else None,
        bullets([say("report_limits_rough"), say("report_limits_ceiling")], class_="notes"),
    )


def _row(row: LimitRow, tally: Tally) -> list[Piece]:
    """Write one change."""
    priced = row.more_trees > 0
    more = f"{row.more_trees:+d}" if row.more_trees else "0"
    return [
        row.change[:1].upper() + row.change[1:],
        NONE if row.key == AS_IS else more.replace("-", "\N{MINUS SIGN}"),
        say("report_of", part=row.trees, whole=row.marked),
        share(row.reached_pct),
        length(row.trail_m, tally.units) if priced and row.trail_m is not None else NONE,
        ground(row.ground_m2, tally.units) if priced and row.ground_m2 is not None else NONE,
        row.cost or NONE,
    ]


def _necks(tally: Tally) -> Markup | None:
    """Write the short places that close the ground to marked trees."""
    found = [(n, f) for n, f in enumerate(tally.findings, start=1) if f.code == NECK]
    if not found:
        return None
    places = Places(tally.plan)
    return join(
        tag("h3", say("report_necks_title", count=len(found)), id="necks"),
        tag("p", say("report_necks_lead")),
        source_line(f for _, f in found),
        tag(
            "ul",
            *(item(f, n, tally, places, alone=False) for n, f in found),
            class_="findings caution",
        ),
    )
