"""Where each place stands in the order of work: the numbers names begin with, and days.

What is done at one place in one go is one stop: its trees, then the winch. Trails are
opened and closed at stops of their own, with what lies on them. What is in already, is
never reached, or is only to be kept off has no stop, nor has the landing, which all work
comes back to.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.outputs.device.marks import (
    SMALL_LANDING,
    TRAIL_START,
    TREE,
    TURNING_PLACE,
    WATER_BAR,
    WINCH_POSITION,
    Mark,
)
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.work_records import WorkStep

FEWEST_DIGITS = 2
ROUNDING_H = 1e-9
Key = tuple[str, str]  # a kind of mark, and what the plan calls it


@dataclass(frozen=True, slots=True)
class Day:
    """What is gone to on one day, by the middle of the estimate."""

    number: int  # from 1
    places: frozenset[Key]


def fronts(plan: Plan, marks: Iterable[Mark]) -> tuple[str, ...]:
    """Give the digits each name begins with, so that names sort in the order of work.

    Parameters
    ----------
    plan : Plan
        The plan.
    marks : iterable of Mark
        In the order they are listed; without an order of work this order counts.

    Returns
    -------
    tuple of str
        One a mark, all of one length; empty for what has no stop.
    """
    marks = tuple(marks)
    stops = _listed_stops(plan, marks) if plan.work is None else _stops(plan)
    found = [stops.get((mark.kind, mark.plan_id)) if mark.points() else None for mark in marks]
    ranks = {stop: rank for rank, stop in enumerate(sorted({s for s in found if s is not None}))}
    digits = max(FEWEST_DIGITS, len(str(len(ranks))))
    return tuple("" if stop is None else f"{ranks[stop]:0{digits}d}" for stop in found)


def label(mark: Mark) -> str:
    """Give what follows the digits: a bar of its trail's closing is its number there.

    Parameters
    ----------
    mark : Mark
        One that has a stop.

    Returns
    -------
    str
        Before it is shortened.
    """
    if mark.kind != WATER_BAR:
        return mark.label
    number = mark.label.rpartition("-")[2].removeprefix("B")
    return f"B{number.zfill(FEWEST_DIGITS)}"


def days(plan: Plan) -> tuple[Day, ...]:
    """Give the days of a job; none where its hours were not worked out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of Day
        In order. A step that runs into the next day is on both; the middle of the range of
        hours is shared out by each step's productive minutes.
    """
    work = plan.work
    if work is None or work.times.total.productive_h <= 0:
        return ()
    total, day_h = work.times.total, plan.area.settings.work.hours_per_day
    middle_per_min = total.middle_h / total.productive_h / 60
    places: dict[int, set[Key]] = {}
    spent_h = 0.0
    for step in work.steps:
        if step.done:
            continue
        start = int(spent_h / day_h + ROUNDING_H)
        spent_h += step.minutes * middle_per_min
        end = max(start, int(spent_h / day_h - ROUNDING_H))
        for day in range(start, end + 1):
            places.setdefault(day, set()).update(_places(plan, step))
    return tuple(
        Day(number, frozenset(places[day])) for number, day in enumerate(sorted(places), start=1)
    )


def why_no_days(plan: Plan) -> str:
    """Say why there is no file by day; empty where there is one."""
    return "" if days(plan) else say("extra_no_days")


def on_day(mark: Mark, day: Day) -> bool:
    """Tell whether a mark belongs in the file of a day.

    Parameters
    ----------
    mark : Mark
        Any mark of the plan.
    day : Day
        A day of the same plan.

    Returns
    -------
    bool
        Trails, the landing, and what to keep off are there every day.
    """
    named = (TREE, WINCH_POSITION, WATER_BAR, TURNING_PLACE, SMALL_LANDING, TRAIL_START)
    return mark.kind not in named or (mark.kind, mark.plan_id) in day.places


def _stops(plan: Plan) -> dict[Key, int]:
    """Give the first stop of each place, in the order of work that is left."""
    stops: dict[Key, int] = {}
    number, before = 0, ""
    for step in plan.work.steps if plan.work is not None else ():
        if step.done:
            continue
        if not step.position_id or step.position_id != before:
            number += 1
        before = step.position_id
        for key in _places(plan, step):
            stops.setdefault(key, number)
    return stops


def _places(plan: Plan, step: WorkStep) -> list[Key]:
    """Give what one goes to for a step."""
    keys: list[Key] = [(TREE, tree) for tree in step.tree_ids]
    if step.position_id:
        keys.append((WINCH_POSITION, step.position_id))
    if step.kind == "open":
        turns = {} if plan.work is None else {turn.turn_id: turn for turn in plan.work.turns}
        keys += [(TREE, tree) for name in step.turn_ids for tree in turns[name].tree_ids]
        keys.append((TRAIL_START, f"{step.trail_id} 0"))
        keys += [
            (TURNING_PLACE, place.place_id)
            for place in plan.turning_places
            if place.trail_id == step.trail_id
        ]
    if step.kind in ("small_open", "carry", "small_close"):
        keys.append((SMALL_LANDING, step.trail_id))
    if step.kind == "close":
        keys += [(WATER_BAR, bar.bar_id) for bar in plan.bars if bar.trail_id == step.trail_id]
    return keys


def _listed_stops(plan: Plan, marks: tuple[Mark, ...]) -> dict[Key, int]:
    """Give each place its number in the list, a tree that of its position."""
    stops: dict[Key, int] = {}
    pulled = {tree: p.position_id for p in plan.positions for tree in p.tree_ids}
    for number, mark in enumerate(marks):
        if mark.kind in (WINCH_POSITION, WATER_BAR, TURNING_PLACE, SMALL_LANDING, TRAIL_START):
            stops[mark.kind, mark.plan_id] = number
    for tree, position in pulled.items():
        if (WINCH_POSITION, position) in stops:
            stops[TREE, tree] = stops[WINCH_POSITION, position]
    return stops
