"""What may turn out otherwise on the ground: reach of single trees, grades of trails."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.grade_chance import worst_sd_pct
from layout.outputs.report.figures import NONE, length
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.reach_chance import SURE_CHANCE, TOLD_CHANCE
from layout.sources import RICE
from layout.speech import speak_chance, speak_length
from layout.terrain import BASELINE_M
from layout.trail_chances import SOURCE, speak_error

if TYPE_CHECKING:
    from layout.records import Pull


def sureness(tally: Tally) -> Markup | None:
    """Write which trees may be out of reach, and how the chances are meant.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where no tree is pulled.
    """
    if not tally.served:
        return None
    places = Places(tally.plan)
    title = tag("h3", say("report_sureness"), id="sureness")
    pulls = sorted(tally.plan.pulls, key=lambda pull: (-(pull.p_out_of_reach or 0), pull.margin_m))
    rows: list[list[Piece]] = [
        [
            pull.tree_id,
            places.position(pull.position_id),
            length(pull.margin_m, tally.units),
            _chance(pull.p_out_of_reach),
            _chance(pull.p_no_position),
        ]
        for pull in pulls
        if pull.sure == "doubtful"
    ]
    tight = [_tight(pull) for pull in pulls if pull.sure == "tight"]
    if not rows and not tight:
        return join(title, tag("p", say("report_all_sure")))
    columns = (
        Column(say("report_col_tree")),
        Column(say("report_col_from"), whole=True),
        Column(say("report_col_margin"), number=True),
        Column(say("report_col_out"), whole=True),
        Column(say("report_col_none"), whole=True),
    )
    notes = [say("report_sureness_least"), say("report_sureness_how", source=RICE)]
    known = [pull for pull in pulls if pull.p_out_of_reach is not None]
    if known:
        notes.append(
            say(
                "report_sureness_ends",
                one=sum((pull.p_out_of_reach or 0) > TOLD_CHANCE for pull in known),
                both=sum((pull.p_both_ends or 0) > TOLD_CHANCE for pull in known),
            )
        )
    return join(
        title,
        tag("p", say("report_sureness_lead")),
        bullets(notes, class_="notes"),
        long_table(
            say("report_show_pulls", count=len(rows)), say("report_sureness_cap"), columns, rows
        )
        if rows
        else None,
        tag("p", say("report_tight", count=len(tight), trees=", ".join(tight))) if tight else None,
    )


def _chance(chance: float | None) -> str:
    """Say a chance, or that it is not known."""
    return NONE if chance is None else speak_chance(chance)


def _tight(pull: Pull) -> str:
    """Name a tight pull's tree with its chance where that is known."""
    if pull.p_out_of_reach is None:
        return pull.tree_id
    return say("report_tight_tree", tree=pull.tree_id, chance=speak_chance(pull.p_out_of_reach))


def grades(tally: Tally) -> Markup | None:
    """Write which trails may be over their limit of grade, and how sure a grade is.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where nothing was worked out.
    """
    chances = tally.plan.grade_chances
    if not chances:
        return None
    units, places = tally.units, Places(tally.plan)
    error_m = tally.plan.area.settings.ground.dem_error_m
    told = sorted(
        (one for one in chances if one.p_over_limit > SURE_CHANCE),
        key=lambda one: (-one.p_over_limit, one.trail_id),
    )
    lead = say(
        "report_grades_lead",
        error=speak_error(error_m, units),
        baseline=speak_length(BASELINE_M, units),
        sd=f"{float(worst_sd_pct(BASELINE_M, error_m)):.1f}",
    )
    rows: list[list[Piece]] = [
        [
            one.trail_id,
            speak_chance(one.p_over_limit),
            places.station(one.trail_id, one.at_m),
            say(
                "report_grade_down" if one.grade_pct < 0 else "report_grade_up",
                size=f"{abs(one.grade_pct):.0f} %",
            ),
            f"{one.limit_pct:g} %"
            if one.pitch_m is None
            else say(
                "report_grade_pitch",
                limit=f"{one.limit_pct:g} %",
                length=speak_length(one.pitch_m, units),
            ),
        ]
        for one in told
    ]
    columns = (
        Column(say("report_col_trail")),
        Column(say("report_col_over"), whole=True),
        Column(say("report_col_likeliest"), whole=True),
        Column(say("report_col_measured"), whole=True),
        Column(say("report_col_allowed"), whole=True),
    )
    return join(
        tag("h3", say("report_grades_sure"), id="grades-sure"),
        tag("p", lead),
        table(say("report_grades_cap"), columns, rows)
        if rows
        else tag("p", say("report_grades_fine")),
        bullets([say("report_grades_how", source=SOURCE)], class_="notes"),
    )
