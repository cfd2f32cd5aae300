"""A small landing in the woods and a trailer on from it, against dragging all the way."""

from __future__ import annotations

from layout.outputs.amounts import most_load
from layout.outputs.load_facts import limit_words
from layout.outputs.report.figures import NONE, ground, length
from layout.outputs.report.places import Places
from layout.outputs.report.settings_used import keys
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.trailer_place import ends_there
from layout.outputs.words import counted, say
from layout.outputs.work_amounts import hours
from layout.work_records import Hours, TwoStage


def part(tally: Tally) -> Markup | None:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where it was not asked for.
    """
    work = tally.plan.work
    if work is None or work.two_stage is None:
        return None
    two, title = work.two_stage, say("report_trailer")
    if two.why_none:
        return section(
            "trailer", title, tag("p", say("report_trailer_none", why=two.why_none.rstrip(".")))
        )
    return section(
        "trailer",
        title,
        tag("p", say("report_trailer_chosen" if two.chosen else "report_trailer_not")),
        tag("p", _place(tally, two)),
        _compared(tally, two),
        bullets([say("report_trailer_how"), *_loads(tally), *_defaults(tally)], class_="notes"),
    )


def _defaults(tally: Tally) -> list[str]:
    """Name the keys of the trailer whose defaults nobody verified and nobody replaced."""
    settings = tally.plan.area.settings.trailer
    open_ = [key.key for key in keys(settings, tally.units) if key.unverified and not key.given]
    return [say("report_trailer_figures", keys=", ".join(open_))] if open_ else []


def _loads(tally: Tally) -> list[str]:
    """Name the loads that end at the small landing, and say what is in no hours."""
    work = tally.plan.work
    turns = () if work is None else work.turns
    names = [turn.turn_id for turn in turns if turn.state == "planned" and ends_there(turn)]
    if not names:
        return []
    return [say("report_trailer_loads", loads=", ".join(names)), say("report_trailer_unpaid")]


def _place(tally: Tally, two: TwoStage) -> str:
    """Say where the small landing lies, what the trailer may carry and where it turns."""
    places, units = Places(tally.plan), tally.units
    said = [
        say(
            "report_trailer_place",
            place=places.station(two.trail_id, two.at_m or 0.0),
            lane=length(two.lane_m, units),
            loads=counted("load", two.turns_through),
        )
    ]
    by = limit_words(two.limited_by) if two.limited_by != "rating" else say("report_trailer_rating")
    said.append(
        say("report_trailer_load", load=most_load(two.trailer_kg, units))
        + (say("report_trailer_by", by=by) if by else "")
        + "."
    )
    if two.turn_at_m is not None:
        said.append(say("report_trailer_turn", place=places.station(two.trail_id, two.turn_at_m)))
    return " ".join(said)


def _compared(tally: Tally, two: TwoStage) -> Markup:
    """Write the two ways side by side."""
    drag, trailer = say("report_col_drag"), say("report_col_trailer")
    columns = (
        Column(say("report_col_what")),
        Column(drag, number=True),
        Column(trailer, number=True),
    )
    over = two.turns_through
    rows: list[list[Piece]] = [
        [say("report_trailer_hours"), _range(two.drag_all), _range(two.two_stage)],
        [say("report_trailer_dragged"), str(over), "0"],
        [say("report_trailer_trips"), NONE, str(two.trips)],
        [say("report_trailer_saved"), NONE, _signed(two.passes_saved)],
        [say("report_trailer_ground"), NONE, ground(two.landing_m2, tally.units)],
        [say("report_trailer_clean"), "0 %", f"{100 * two.clean_share:.0f} %"],
    ]
    return table(say("report_trailer_cap"), columns, rows)


def _range(one: Hours | None) -> str:
    """Say a range of hours."""
    return NONE if one is None else hours(one.low_h, one.high_h)


def _signed(count: int) -> str:
    """Say how many passes fewer, or more."""
    if count >= 0:
        return say("report_trailer_fewer", count=count)
    return say("report_trailer_more", count=-count)
