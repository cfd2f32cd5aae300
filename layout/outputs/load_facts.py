"""What several outputs say of loads: which are to come, in what order, what holds them down."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.outputs.amounts import LOAD_STEP
from layout.outputs.turn_data import turns_of
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.units import Units
    from layout.work_records import Turn

NOISE = 1e-9
_STATES = ("planned", "done", "retired")


def planned(plan: Plan) -> tuple[Turn, ...]:
    """Give the loads that are to come, in their order."""
    return tuple(turn for turn in in_order(plan) if turn.state == "planned")


def in_order(plan: Plan) -> tuple[Turn, ...]:
    """Give all loads: those to come in their order, then those that are in, then names gone."""
    return tuple(sorted(turns_of(plan), key=lambda t: (_STATES.index(t.state), t.order)))


def limit_words(by: str) -> str:
    """Say what holds a load down; empty where it is not known."""
    return say(f"load_by_{by}") if by else ""


def load_words(turn: Turn, units: Units) -> str:
    """Say what a load weighs; one within its limit is never said to be over it.

    The limit is rounded down and a mass to the nearest step, so that a full load would
    read as heavier than it may be.

    Parameters
    ----------
    turn : Turn
    units : {"us", "metric"}
        The user's units.

    Returns
    -------
    str
    """
    one, step, unit = LOAD_STEP[units]
    steps = round(turn.mass_kg / one / step)
    if turn.mass_kg <= turn.limit_kg < math.inf:
        steps = min(steps, math.floor(turn.limit_kg / one / step + NOISE))
    return f"{steps * step:,} {unit}"
