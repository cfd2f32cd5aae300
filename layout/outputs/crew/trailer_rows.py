"""What the order of work says of a small landing and its trailer: boxes to tick."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.crew.tick_runs import Run
from layout.outputs.trailer_place import ends_there, small_landing, stems_on, turns_on_it
from layout.outputs.words import say

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.plan import Plan

CLOSE = ("bark", "ruts", "water", "cover")


def made(plan: Plan, place: Callable[[str, float], str]) -> list[Run]:
    """Say how the small landing is made.

    Parameters
    ----------
    plan : Plan
        Made with a small landing.
    place : callable
        Says a trail and a station.

    Returns
    -------
    list of Run
        Its place, a box for the work, where the outfit turns round, what stands on it.
    """
    two = small_landing(plan)
    if two is None or two.at_m is None:
        return [Run(say("crew_work_small_cleared"), boxed=True)]
    at = place(two.trail_id, two.at_m)
    turn = at if turns_on_it(two) or two.turn_at_m is None else place(two.trail_id, two.turn_at_m)
    runs = [
        Run(say("crew_work_small_at", place=at)),
        Run(say("crew_work_small_cleared"), boxed=True),
        Run(say("crew_work_small_turn", place=turn), boxed=True),
    ]
    if stems := stems_on(plan):
        runs.append(Run(say("crew_work_small_stems", trees=", ".join(stems)), boxed=True))
    return runs


def trips(numbers: Sequence[int]) -> list[Run]:
    """Give a box for every trip of the trailer."""
    return [Run(say("crew_work_trip", trip=number), boxed=True) for number in numbers]


def closed() -> list[Run]:
    """Give a box for everything that closes the small landing."""
    return [Run(say(f"crew_work_small_{task}"), boxed=True) for task in CLOSE]


def told(plan: Plan, place: Callable[[str, float], str]) -> list[str]:
    """Say which loads end at the small landing, and which lie on it already.

    Parameters
    ----------
    plan : Plan
        Its work worked out.
    place : callable
        Says a trail and a station.

    Returns
    -------
    list of str
        Sentences; none where every load is dragged to the landing.
    """
    assert plan.work is not None
    two, said = small_landing(plan), []
    ahead = [t for t in plan.work.turns if t.state == "planned" and ends_there(t)]
    if two is not None and two.at_m is not None and ahead:
        said.append(say("crew_work_small_landing", place=place(two.trail_id, two.at_m)))
    there = [t.turn_id for t in plan.work.turns if t.state == "done" and ends_there(t)]
    if there:
        said.append(say("crew_work_small_lying", loads=", ".join(there)))
    return said
