"""Which way a compass points on the sheets: the declination as set, or a blank to write it in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.outputs.coordinates import grid_turn_deg
from layout.outputs.words import say
from layout.tongue import number

if TYPE_CHECKING:
    from layout.plan import Plan

BLANK = "____"  # to write on


def magnetic(plan: Plan) -> str:
    """Say how a compass reading follows from a grid bearing.

    A true bearing is the grid bearing plus the turn of grid north to the east; a magnetic
    one is the true bearing less the declination (FM 3-25.26, Map Reading and Land
    Navigation, chapter 6; from memory).

    Parameters
    ----------
    plan : Plan
        Its settings may hold the declination.

    Returns
    -------
    str
        A blank to write it in where none is set or the grid's turn is not known.
    """
    declination = plan.area.settings.outputs.declination_deg
    turn = grid_turn_deg(plan.area.crs, plan.landing.x, plan.landing.y)
    if declination is None or not math.isfinite(turn):
        return say("crew_north_blank")
    said = _turned(turn - declination)
    return say("crew_north_magnetic", declination=_said(declination), turn=said)


def in_short(plan: Plan) -> str:
    """Say in one line what a grid bearing is as a true and as a compass bearing."""
    turn = grid_turn_deg(plan.area.crs, plan.landing.x, plan.landing.y)
    declination = plan.area.settings.outputs.declination_deg
    known = math.isfinite(turn)
    true = _turned(turn) if known else BLANK
    compass = _turned(turn - declination) if known and declination is not None else BLANK
    return say("crew_north_short", true=true, compass=compass)


def on_map(plan: Plan) -> str:
    """Give the declination for a map's panel, or a blank."""
    declination = plan.area.settings.outputs.declination_deg
    if declination is None:
        return say("crew_map_declination")
    return say("crew_map_declination_set", declination=_said(declination))


def _turned(degrees: float) -> str:
    add = round(degrees, 1)
    key = "crew_north_same" if add == 0 else f"crew_north_{'more' if add > 0 else 'less'}"
    return say(key, size=number(abs(add), ".1f"))


def _said(degrees: float) -> str:
    key = "crew_declination_west" if degrees < 0 else "crew_declination_east"
    return say(key, size=number(abs(degrees), ".1f"))
