"""At the stump: rub trees, the planner's table of lays, and where the tractor waits."""

from __future__ import annotations

from layout.outputs.report.figures import NONE, length
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, folded, join, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.records import FellingGroup, Lay, RubPlace, RubTree
from layout.rub_trees import LEAST_DBH_M, load_length_m
from layout.sources import (
    DAMAGE_ZONE,
    FELLING_DISTANCE,
    FELLING_LEAD,
    RUB_TREES,
    WEDGE_LEVER,
    WEDGE_LIMIT,
    Source,
)
from layout.units import INCH_M, Units

RUB_SOURCES = (RUB_TREES, DAMAGE_ZONE)
FEW = 3  # winch positions named one by one


def sources(tally: Tally) -> tuple[Source, ...]:
    """Give the sources these parts stand on.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    tuple of Source
        Of what is in the plan only.
    """
    return (*(RUB_SOURCES if tally.plan.rub_trees else ()), *_lay_sources(tally))


def _lay_sources(tally: Tally) -> tuple[Source, ...]:
    """Give the sources of the suggested lays."""
    laid = tally.plan.lays
    wedges = any(lay.wedge_lift_m is not None for lay in laid)
    return (
        *((FELLING_LEAD, FELLING_DISTANCE) if laid else ()),
        *((WEDGE_LEVER, WEDGE_LIMIT) if wedges else ()),
    )


def rubs(tally: Tally) -> Markup | None:
    """Write the rub trees.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where no load travels.
    """
    plan, units = tally.plan, tally.units
    if not plan.positions:
        return None
    places = Places(plan)
    title = tag("h3", say("report_rub_title", count=len(plan.rub_trees)), id="rub-trees")
    load = length(load_length_m(plan.area), units)
    if not plan.rub_trees:
        return join(title, tag("p", say("report_rub_none", length=load)))
    columns = (
        Column(say("report_col_rub"), whole=True),
        Column(say("report_col_rub_what")),
        Column(say("report_col_rub_where")),
        Column(say("report_col_spares")),
        Column(say("report_col_cut_when")),
    )
    rows: list[list[Piece]] = [
        [
            rub.rub_id,
            _what(rub),
            "; ".join(_where(place, places) for place in rub.places),
            ", ".join(rub.protects) or say("report_rub_corner"),
            _when(rub),
        ]
        for rub in plan.rub_trees
    ]
    notes = [
        say("report_rub_load", length=load),
        say("report_rub_own", dbh=_small(LEAST_DBH_M, units)),
        say("report_rub_sides"),
        _sources(*RUB_SOURCES),
    ]
    show = say("report_rub_show", count=len(rows))
    return join(
        title,
        tag("p", say("report_rub_lead")),
        long_table(show, say("report_rub_cap"), columns, rows),
        bullets(notes, class_="notes"),
    )


def _what(rub: RubTree) -> str:
    """Say what stands there, or should lie there."""
    if rub.kind in ("marked", "proposed"):
        return say(f"report_rub_{rub.kind}", tree=rub.tree_id)
    return say("report_rub_bumper") if rub.kind == "bumper" else say("report_rub_look")


def _where(place: RubPlace, places: Places) -> str:
    """Say a corner by trail, station and side."""
    if place.kind == "pull":
        return say("report_rub_at_pull", position=places.position(place.from_id))
    station = places.station(place.trail_id, place.at_m)
    side = say(f"report_side_{place.side}")
    if place.kind == "bend":
        return say("report_rub_at_bend", station=station, side=side)
    return say("report_rub_at_junction", spur=place.from_id, station=station, side=side)


def _when(rub: RubTree) -> str:
    """Say after which loads it may be cut, or taken away."""
    if not rub.cut_after:
        return say("report_rub_after_none")
    if len(rub.cut_after) <= FEW:
        return say("report_rub_after_one", positions=", ".join(rub.cut_after))
    return say("report_rub_after_many", count=len(rub.cut_after))


def lays(tally: Tally) -> Markup | None:
    """Write the suggested lays, folded: a table for whoever plans.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None where no marked tree stands.
    """
    laid = tally.plan.lays
    if not laid:
        return None
    wedges = any(lay.wedge_lift_m is not None for lay in laid)
    near = any(lay.near for lay in laid)
    columns = [
        Column(say("report_col_tree"), whole=True),
        Column(say("report_col_from"), whole=True),
        Column(say("report_col_lay")),
        Column(say("report_col_off_pull"), whole=True),
        Column(say("report_col_lean")),
        Column(say("report_col_fall_ground")),
        Column(say("report_col_in_way")),
    ]
    columns += [Column(say("report_col_within"))] if near else []
    columns += [Column(say("report_col_wedge"), number=True)] if wedges else []
    rows = [_lay_row(lay, tally.units, near=near, wedges=wedges) for lay in laid]
    notes = [say("report_lays_how"), say("report_lays_keeps_off"), say("report_lays_scope")]
    if wedges:
        notes.append(say("report_lays_wedges"))
    made = table(say("report_lays_cap"), columns, rows)
    given = sum(lay.azimuth_deg is not None for lay in laid)
    return join(
        tag("h3", say("report_lays_title", count=given), id="lays"),
        tag("p", tag("strong", say("report_lays_lead"))),
        bullets([*notes, _sources(*_lay_sources(tally))], class_="notes"),
        folded(say("report_lays_fold", count=len(laid)), made, printed=False, file="plan.json"),
    )


def _lay_row(lay: Lay, units: Units, *, near: bool, wedges: bool) -> list[Piece]:
    """Write one tree's lay."""
    row: list[Piece] = [
        lay.tree_id,
        lay.position_id or NONE,
        lay_said(lay),
        _off(lay.off_pull_deg),
        say(f"report_lean_{lay.lean}") if lay.lean else NONE,
        say(f"report_falls_{lay.ground}") if lay.ground else NONE,
        _in_way(lay),
    ]
    row += [", ".join(lay.near) or NONE] if near else []
    lift = lay.wedge_lift_m
    row += [NONE if lift is None else _small(lift, units)] if wedges else []
    return row


def lay_said(lay: Lay) -> str:
    """Say a suggested lay as a bearing in three figures, or why there is none."""
    if lay.azimuth_deg is not None:
        return f"{round(lay.azimuth_deg) % 360:03d}\N{DEGREE SIGN}"
    if lay.why_none == "barred":
        return say("report_no_lay_barred", what=", ".join(lay.barred_by))
    return say(f"report_no_lay_{lay.why_none}")


def _off(degrees: float | None) -> str:
    """Say how far a lay is off the pull line."""
    if degrees is None:
        return NONE
    if not round(degrees):
        return say("report_off_none")
    size = f"{abs(round(degrees))}\N{DEGREE SIGN}"
    side = "right" if degrees > 0 else "left"
    return say(f"report_off_{side}", degrees=size)


def _in_way(lay: Lay) -> str:
    """Name the trees in the way of a lay."""
    if lay.azimuth_deg is None:
        return NONE
    return say("report_in_way_unknown") if lay.in_way is None else ", ".join(lay.in_way) or NONE


def waits(tally: Tally) -> Markup | None:
    """Write where the tractor waits, and where nobody works, while trees are felled.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None without winch positions.
    """
    groups = tally.plan.felling_groups
    if not groups:
        return None
    places, units = Places(tally.plan), tally.units
    columns = (
        Column(say("report_col_position"), whole=True),
        Column(say("report_col_trees")),
        Column(say("report_col_reach"), number=True),
        Column(say("report_col_waits"), whole=True),
        Column(say("report_col_drive"), number=True),
        Column(say("report_col_nobody")),
    )
    rows: list[list[Piece]] = [
        [
            group.position_id or NONE,
            ", ".join(group.tree_ids),
            length(group.reach_m, units),
            _waits_at(group, places),
            NONE if group.travel_m is None else length(group.travel_m, units),
            _nobody(group),
        ]
        for group in groups
    ]
    show = say("report_waits_show", count=len(rows))
    return join(
        tag("h3", say("report_waits_title"), id="waits"),
        tag("p", say("report_waits_lead")),
        long_table(show, say("report_waits_cap"), columns, rows),
    )


def _waits_at(group: FellingGroup, places: Places) -> str:
    """Say where the tractor waits."""
    if group.trail_id is None:
        return say("report_waits_nowhere")
    return places.station(group.trail_id, group.at_m or 0.0)


def _nobody(group: FellingGroup) -> str:
    """Say where nobody works meanwhile."""
    where = [say("report_waits_landing")] if group.clear_landing else []
    return ", ".join([*where, *group.clear_positions]) or NONE


def _small(metres: float, units: Units) -> str:
    """Say a diameter or a lift in inches or centimetres."""
    return f"{metres / INCH_M:.2g} in" if units == "us" else f"{100 * metres:.2g} cm"


def _sources(*cited: Source) -> str:
    """Name sources in one line."""
    return say("report_sources_are", sources="; ".join(map(str, cited)))
