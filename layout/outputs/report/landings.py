"""Landings that were tried, side by side, where none was drawn."""

from __future__ import annotations

from collections.abc import Callable

from layout.landing_options import LandingOption
from layout.outputs.amounts import grade, share
from layout.outputs.report.figures import NONE, ground, length
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.outputs.work_amounts import hours
from layout.units import Units

Cell = Callable[[LandingOption, Units], Piece]


def part(tally: Tally) -> Markup | None:
    """Write the part; None where a landing was drawn.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        A column a landing, a row a measure, and why each that is not used lost.
    """
    options = tally.plan.landing_options
    if not options:
        return None
    head = Column(say("report_col_what"))
    columns = [Column(_title(option), number=True) for option in options]
    listed: list[list[Piece]] = [
        [say(f"report_option_{key}"), *(_said(cell, option, tally.units) for option in options)]
        for key, cell in _ROWS
    ]
    lost = [
        say("report_landings_reason", option=o.option_id, x=o.x, y=o.y, why=o.why)
        for o in options
        if o.why
    ]
    notes = [say(f"report_landings_{key}") for key in ("skid", "weighed", "findings")]
    if tally.plan.choice.stopped_by == "time":
        notes.append(say("report_landings_one_time"))
    return section(
        "landings",
        say("report_landings"),
        tag("p", say("report_landings_lead")),
        table(say("report_landings_cap"), [head, *columns], listed),
        join(tag("h3", say("report_landings_reasons")), bullets(lost)) if lost else None,
        bullets(notes, class_="notes"),
    )


def _title(option: LandingOption) -> str:
    return say("report_option_used", option=option.option_id) if option.used else option.option_id


def _said(cell: Cell, option: LandingOption, units: Units) -> Piece:
    """Say one measure; nothing is said of a landing no plan was made from but its place."""
    return cell(option, units) if option.planned or cell in (_place, _slope) else NONE


def _place(option: LandingOption, _: Units) -> Piece:
    return say("report_option_at", x=option.x, y=option.y)


def _slope(option: LandingOption, _: Units) -> Piece:
    return grade(option.slope_pct)


def _trees(option: LandingOption, _: Units) -> Piece:
    return say("report_of", part=option.tree_count, whole=option.marked)


def _sure(option: LandingOption, _: Units) -> Piece:
    return str(option.sure_count)


def _trail(option: LandingOption, units: Units) -> Piece:
    return NONE if option.trail_m is None else length(option.trail_m, units)


def _ground(option: LandingOption, units: Units) -> Piece:
    if option.disturbed_m2 is None or option.disturbed_pct is None:
        return NONE
    return say(
        "report_option_ground_is",
        ground=ground(option.disturbed_m2, units),
        share=share(option.disturbed_pct),
    )


def _adverse(option: LandingOption, _: Units) -> Piece:
    return NONE if option.adverse_pct is None else share(option.adverse_pct)


def _skid(option: LandingOption, units: Units) -> Piece:
    return NONE if option.skid_m is None else length(option.skid_m, units)


def _hours(option: LandingOption, _: Units) -> Piece:
    if option.low_h is None or option.high_h is None:
        return NONE
    return hours(option.low_h, option.high_h)


def _findings(option: LandingOption, _: Units) -> Piece:
    return say(
        "report_option_findings_are",
        stops=option.stops,
        cautions=option.cautions,
        unknowns=option.unknowns,
    )


def _weighed(option: LandingOption, units: Units) -> Piece:
    return NONE if option.objective_m2 is None else ground(option.objective_m2, units)


_ROWS: tuple[tuple[str, Cell], ...] = (
    ("place", _place),
    ("slope", _slope),
    ("trees", _trees),
    ("sure", _sure),
    ("trail", _trail),
    ("ground", _ground),
    ("adverse", _adverse),
    ("skid", _skid),
    ("hours", _hours),
    ("findings", _findings),
    ("weighed", _weighed),
)
