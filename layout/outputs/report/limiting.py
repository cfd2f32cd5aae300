"""What would change: one thing changed at a time, and the necks that close the ground."""

from __future__ import annotations

from collections.abc import Callable

from layout.option_records import LimitRow, OptionRow
from layout.outputs.amounts import share
from layout.outputs.report.figures import NONE, ground, length, worth
from layout.outputs.report.places import Places
from layout.outputs.report.read_first import NECK, item, source_line
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.what_changes import worth_a_thought
from layout.outputs.words import say
from layout.settings import limits_in_force
from layout.steep_ground import steep_share
from layout.units import Units

AS_IS = "as_is"
LEAST_M2 = 0.5  # a change smaller than this is none
LEAST_M = 0.5
LEAST_H = 0.05


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        What changes would bring and need, the best first; those known roughly after
        those chosen again; the arithmetic of steep ground; the necks. Nothing here
        passes a ceiling.
    """
    plan = tally.plan
    limits = limits_in_force(plan.area.settings)
    steep = tag("p", steep_share(plan.area, plan.terrain, limits).words(limits))
    return section("limits", say("report_options"), _changes(tally), steep, _necks(tally))


def _changes(tally: Tally) -> Markup:
    """Write what each change would bring and need."""
    plan, units = tally.plan, tally.units
    tried = [row for row in plan.options if row.how != "not_worked_out"]
    rough = sorted((r for r in plan.limits if r.key != AS_IS), key=lambda r: -r.more_trees)
    now = [row for row in plan.limits if row.key == AS_IS]
    as_it_is = [
        say(
            "report_options_now",
            served=tally.served,
            marked=len(tally.marked),
            trail=length(sum(t.line.length for t in plan.trails), units),
            share=share(plan.soil.share_with_landing_pct),
        ),
        *(say("report_options_reach", share=share(row.reached_pct)) for row in now),
    ]
    missing = [
        say("report_options_not_worked_out", change=row.change, why=row.why)
        for row in plan.options
        if row.how == "not_worked_out"
    ]
    if not tried and not rough:
        untried = None if plan.options else tag("p", say("report_options_none"))
        return join(tag("p", " ".join(as_it_is)), untried, bullets(missing, class_="notes"))
    hours = any(row.hours is not None for row in tried)
    columns = [
        Column(say("report_col_option")),
        Column(say("report_col_option_trees"), number=True),
        Column(say("report_col_option_spurs"), number=True),
        Column(say("report_col_option_trail"), number=True),
        Column(say("report_col_option_ground"), number=True),
        *([Column(say("report_col_option_hours"), number=True)] if hours else []),
        Column(say("report_col_option_needs")),
        Column(say("report_col_option_how")),
    ]
    rows = [_option(row, units, hours=hours) for row in tried]
    rows += [_limit(row, units, hours=hours) for row in rough]
    counts = [row.more_trees or 0 for row in tried] + [row.more_trees for row in rough]
    notes = [
        say("report_options_lead", worth=worth(plan.area.settings.objective.serve_worth_m2, units)),
        *([say("report_options_note_replanned")] if _any(tried, "replanned") else []),
        *([say("report_options_note_reach")] if rough or _any(tried, "reach") else []),
        *missing,
        say("report_options_ceiling"),
    ]
    return join(
        tag("p", " ".join(as_it_is)),
        *(tag("p", tag("strong", words)) for words in worth_a_thought(plan)),
        table(say("report_options_cap"), columns, rows),
        tag("p", say("report_options_no_more"))
        if tally.missed and all(count <= 0 for count in counts)
        else None,
        bullets(notes, class_="notes"),
    )


def _any(rows: list[OptionRow], how: str) -> bool:
    return any(row.how == how for row in rows)


def _option(row: OptionRow, units: Units, *, hours: bool) -> list[Piece]:
    """Write one change that was tried."""
    return [
        _upper(row.change),
        _whole(row.more_trees),
        _whole(row.more_spurs),
        _signed(row.trail_m, LEAST_M, lambda m: length(m, units)),
        _signed(row.ground_m2, LEAST_M2, lambda a: ground(a, units)),
        *([_signed(row.hours, LEAST_H, lambda h: f"{h:.1f}")] if hours else []),
        row.needs,
        say(f"option_how_{row.how}"),
    ]


def _limit(row: LimitRow, units: Units, *, hours: bool) -> list[Piece]:
    """Write one change that only the reach was searched for."""
    priced = row.more_trees > 0
    return [
        _upper(row.change),
        _whole(row.more_trees),
        NONE,
        _signed(row.trail_m if priced else None, LEAST_M, lambda m: length(m, units)),
        _signed(row.ground_m2 if priced else None, LEAST_M2, lambda a: ground(a, units)),
        *([NONE] if hours else []),
        row.cost or NONE,
        say("option_how_reach"),
    ]


def _upper(words: str) -> str:
    return words[:1].upper() + words[1:]


def _whole(count: int | None) -> str:
    """Say a difference in whole things."""
    if count is None:
        return NONE
    return f"{count:+d}".replace("-", "\N{MINUS SIGN}") if count else "0"


def _signed(value: float | None, least: float, said: Callable[[float], str]) -> str:
    """Say a difference with its sign; nothing worth saying is 0."""
    if value is None:
        return NONE
    if abs(value) < least:
        return "0"
    return ("+" if value > 0 else "\N{MINUS SIGN}") + said(abs(value))


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
