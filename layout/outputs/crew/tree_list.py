"""The list of marked trees: how to find each, and what the plan says of it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.outputs.crew import listing
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.directions import PACE_M, said_bearing
from layout.outputs.crew.finding import Found, bad_said, marked
from layout.outputs.crew.flagging import station_number
from layout.outputs.crew.sheet import LEAST_PT, Sheet, wrap
from layout.outputs.words import say
from layout.units import FOOT_M, INCH_M, Units

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan import Plan

SIZE_PT = 7.3
HEAD_PT = 8.0
# Where the parts of a row stand, points from the column's left edge.
BOX_PT, NUMBER_PT, SPECIES_PT, DBH_PT, TRAIL_PT, STATION_PT, WAY_PT, POSITION_PT, SURE_PT = (
    0.0, 11.5, 38.0, 115.0, 119.0, 154.0, 158.0, 214.0, 239.5,
)  # fmt: skip
NUMBER_ROOM_PT = 25.0
SPECIES_ROOM_PT = 65.0
TRAIL_ROOM_PT = 19.0
TICK_BOX = "☐"
BOX_SIZE_PT = 11.0


def pages(plan: Plan) -> list[Callable[[Sheet], None]]:
    """Lay the list of marked trees out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of callable
        One for each page; each draws it on an empty sheet, upright.
    """
    width = listing.column_pt(plan)
    units = plan.area.settings.area.units
    trees = marked(plan)
    missed = [tree for tree in trees if tree.outcome.status != "served"]
    rows = _reached([tree for tree in trees if tree.outcome.status == "served"], units, width)
    if missed:
        rows += _missed(missed, units, width)
    return listing.pages(plan, say("crew_trees"), [_intro(units)], _titles(units), rows)


def _intro(units: Units) -> str:
    """Say how the list is read, and what a pace is."""
    metres = PACE_M[units]
    pace = f"{metres / FOOT_M:.1f} ft" if units == "us" else f"{metres:.2f} m"
    return say("crew_trees_how", pace=pace, over="100 ft" if units == "us" else "30 m")


def _reached(trees: list[Found], units: Units, width_pt: float) -> list[Row]:
    """Give the rows of the trees that are reached."""
    if not trees:
        return [
            Row((Cell(0.0, tuple(wrap(say("crew_none_reached"), width_pt, SIZE_PT))),), SIZE_PT)
        ]
    rows = []
    for tree in trees:
        cells = _find_cells(tree, units)
        sure = say(f"sure_{tree.sure}") if tree.sure else ""
        cells += [Cell(POSITION_PT, (tree.outcome.position_id,)), Cell(SURE_PT, (sure,))]
        rows.append(Row(tuple(cells), SIZE_PT))
    return rows


def _missed(trees: list[Found], units: Units, width_pt: float) -> list[Row]:
    """Give the rows of the trees that are not reached, each with why and what to do first."""
    title = wrap(say("crew_missed"), width_pt, HEAD_PT + 1, bold=True)
    rows = [Row((Cell(0.0, tuple(title), bold=True),), HEAD_PT + 1, head=True)]
    for tree in trees:
        cells = _find_cells(tree, units)
        first, *others = tree.outcome.remedies or (say("crew_leave_it"),)
        other = say("crew_or_else", remedy=others[0]) if others else ""
        why = say("crew_why", why=say(f"status_{tree.outcome.status}"), first=first, other=other)
        rows.append(Row(tuple(cells), SIZE_PT, ruled=False))
        lines = tuple(wrap(why, width_pt - NUMBER_PT, SIZE_PT))
        rows.append(Row((Cell(NUMBER_PT, lines),), SIZE_PT))
    return rows


def _titles(units: Units) -> Row:
    """Give the row of column titles."""
    titles = (
        (NUMBER_PT, say("crew_col_number"), False),
        (SPECIES_PT, say("crew_col_species"), False),
        (DBH_PT, say("crew_col_dbh", unit="in" if units == "us" else "cm"), True),
        (TRAIL_PT, say("crew_col_at", unit="ft" if units == "us" else "m"), False),
        (WAY_PT, say("crew_col_way"), False),
        (POSITION_PT, say("crew_col_position"), False),
        (SURE_PT, say("crew_col_sure"), False),
    )
    return Row(tuple(Cell(x, (words,), bold=True, right=r) for x, words, r in titles), LEAST_PT)


def _find_cells(tree: Found, units: Units) -> list[Cell]:
    """Write what a tree is and the way to it."""
    names = wrap(tree.species, SPECIES_ROOM_PT, SIZE_PT)
    if tree.hazard:
        names.append(say("crew_bad", kind=bad_said(tree.hazard)))
    at = station_number(tree.at_m, units) if tree.trail_id else ""
    return [
        Cell(BOX_PT - 1.5, (TICK_BOX,), size_pt=BOX_SIZE_PT),
        Cell(NUMBER_PT, tuple(wrap(tree.tree_id, NUMBER_ROOM_PT, SIZE_PT, bold=True)), bold=True),
        Cell(SPECIES_PT, tuple(names)),
        Cell(DBH_PT, (dbh_said(tree.dbh_cm, units),), right=True),
        Cell(TRAIL_PT, tuple(wrap(tree.start, TRAIL_ROOM_PT, SIZE_PT))),
        Cell(STATION_PT, (at,), right=True),
        Cell(WAY_PT, (way_said(tree),)),
    ]


def way_said(tree: Found) -> str:
    """Say the way from the station to a tree: side, paces, bearing."""
    if tree.side == "on":
        return say("crew_way_on")
    bearing = said_bearing(tree.bearing_deg)
    if not tree.trail_id:
        return say("crew_way_plain", paces=tree.paces, bearing=bearing)
    side = say(f"crew_side_{tree.side}")
    return say("crew_way", side=side, paces=tree.paces, bearing=bearing)


def dbh_said(dbh_cm: float, units: Units) -> str:
    """Say a diameter in whole inches or centimetres.

    Examples
    --------
    >>> dbh_said(30.0, "us"), dbh_said(30.4, "metric"), dbh_said(math.nan, "us")
    ('12', '30', '?')
    """
    if not math.isfinite(dbh_cm):
        return "?"
    return f"{dbh_cm / 100 / INCH_M:.0f}" if units == "us" else f"{dbh_cm:.0f}"
