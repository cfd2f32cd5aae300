"""The layout: trails, winch positions and turning places, a row each."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.outputs import rows, steepness
from layout.outputs.amounts import grade
from layout.outputs.report import chances, profile_charts
from layout.outputs.report.figures import NONE, length, natural
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.tree_orders import idle_positions
from layout.outputs.words import say

if TYPE_CHECKING:
    from collections.abc import Collection

    from layout.records import WinchPosition


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    return section(
        "layout",
        say("report_layout"),
        _trails(tally) if tally.plan.trails else tag("p", say("report_no_trail")),
        profile_charts.part(tally),
        chances.grades(tally),
        _positions(tally),
        _turning(tally),
    )


def _trails(tally: Tally) -> Markup:
    """Write the table of trails; sizes are said as on the crew's sheets."""
    units = tally.units
    columns = (
        Column(say("report_col_trail")),
        Column(say("report_col_kind"), whole=True),
        Column(say("report_col_joins"), whole=True),
        Column(say("report_col_length"), number=True),
        Column(say("report_col_width"), number=True),
        Column(say("report_col_down"), number=True),
        Column(say("report_col_up"), number=True),
        Column(say("report_col_cross"), number=True),
        Column(say("report_col_loads"), number=True),
        Column(say("report_col_class"), number=True),
        Column(say("report_col_came")),
    )
    places = Places(tally.plan)
    listed: list[list[Piece]] = []
    lines = {trail.trail_id: trail for trail in tally.plan.trails}
    for row in _by_name(rows.of_layer(tally.plan, "trails")):
        trail = row.values
        kind, came = trail["kind"], trail["source"]
        line = lines[str(trail["trail_id"])]
        steep = steepness.of(tally.plan, line)
        joins = say("report_at_the_landing")
        if tally.plan.more_landings:
            joins = say("step_on_landing_of", landing=trail["landing_id"])
        if trail["joins_id"]:
            joins = places.station(str(trail["joins_id"]), float(trail["joins_at_m"] or 0.0))
        listed.append(
            [
                str(trail["trail_id"]),
                say(f"report_trail_{kind}_word"),
                joins,
                length(line.line.length, units),
                length(float(trail["width_m"] or 0.0), units),
                _steepest(steep.downhill_pct),
                _steepest(steep.uphill_pct),
                _steepest(steep.across_pct),
                str(trail["loads"]),
                str(trail["soil_class"]),
                say(f"report_came_{came}"),
            ]
        )
    whole_m = sum(trail.line.length for trail in tally.plan.trails)
    last: list[Piece] = [say("report_all_trails"), "", "", length(whole_m, units)]
    last += [""] * (len(columns) - len(last))
    return join(
        tag("h3", say("report_trails_title", count=len(listed))),
        table(say("report_trails_cap"), columns, listed, last=last),
        bullets([say("report_trails_note")], class_="notes"),
    )


def _by_name(found: tuple[rows.Row, ...]) -> list[rows.Row]:
    """Sort trails: main trails first, then by name as people count."""
    return sorted(
        found, key=lambda r: (r.values["kind"] != "main", natural(str(r.values["trail_id"])))
    )


def _steepest(value_pct: float | None) -> str:
    """Say a grade's size; a dash where it is not known or rounds to nothing."""
    said = grade(value_pct) if value_pct is not None and math.isfinite(value_pct) else ""
    return said if said and said != grade(0.0) else NONE


def _positions(tally: Tally) -> Markup:
    """Write the winch positions and the trees pulled from each."""
    plan, units = tally.plan, tally.units
    title = tag("h3", say("report_positions_title", count=len(plan.positions)))
    if not plan.positions:
        return join(title, tag("p", say("report_no_positions")))
    columns = (
        Column(say("report_col_position")),
        Column(say("report_col_where"), whole=True),
        Column(say("report_col_trees")),
        Column(say("report_col_backs"), number=True),
        Column(say("report_col_parked_cross"), number=True),
        Column(say("report_col_parked_along"), number=True),
    )
    places, idle = Places(plan), idle_positions(plan)
    listed: list[list[Piece]] = [
        [
            position.position_id,
            places.station(position.trail_id, position.at_m),
            _pulled(position, idle),
            length(position.back_m, units) if position.back_m > 0 else NONE,
            grade(position.cross_pct),
            grade(position.along_pct),
        ]
        for position in sorted(plan.positions, key=lambda p: natural(p.position_id))
    ]
    return join(
        title,
        tag("p", say("report_positions_lead")),
        long_table(
            say("report_show_positions", count=len(listed)),
            say("report_positions_cap"),
            columns,
            listed,
            printed=False,
        ),
    )


def _pulled(position: WinchPosition, idle: Collection[str]) -> str:
    """Name the trees of a position, and say where none is pulled to it."""
    trees = ", ".join(position.tree_ids) or NONE
    return say("report_position_idle", trees=trees) if position.position_id in idle else trees


def _turning(tally: Tally) -> Markup | None:
    """Write the places where the outfit turns round."""
    found = tally.plan.turning_places
    if not found:
        return None
    columns = (
        Column(say("report_col_place")),
        Column(say("report_col_trail")),
        Column(say("report_col_at"), number=True),
        Column(say("report_col_kind")),
        Column(say("report_col_slope"), number=True),
    )
    listed: list[list[Piece]] = [
        [
            place.place_id,
            place.trail_id or NONE,
            tally.station(place.trail_id, place.at_m),
            say(f"report_turning_{place.kind}"),
            grade(place.slope_pct),
        ]
        for place in found
    ]
    return join(
        tag("h3", say("report_turning_title", count=len(found))),
        long_table(
            say("report_show_turning", count=len(listed)),
            say("report_turning_cap"),
            columns,
            listed,
        ),
    )
