"""What several outputs say of loads: which are to come, in what order, what holds them down."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.turn_data import turns_of
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.work_records import Turn

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
