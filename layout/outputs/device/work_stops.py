"""Where each place stands in the order of work: what names begin with, and days.

What is done at one place in one go is one stop: its trees, then the winch. Trails are
opened and closed at stops of their own, with what lies on them. What is in already, is
never reached, or is only to be kept off has no stop, nor has the landing, which all work
comes back to.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.outputs.device.marks import Mark
from layout.outputs.device.short_names import LONGEST
from layout.outputs.stop_order import (
    FEWEST_DIGITS,
    SMALL_LANDING,
    TRAIL_START,
    TREE,
    TURNING_PLACE,
    WATER_BAR,
    WINCH_POSITION,
    Key,
    gone_to,
    in_order,
)
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

ROUNDING_H = 1e-9


@dataclass(frozen=True, slots=True)
class Day:
    """What is gone to on one day, by the middle of the estimate."""

    number: int  # from 1
    places: frozenset[Key]


def fronts(plan: Plan, listed: Iterable[Mark]) -> tuple[str, ...]:
    """Give what each name begins with, so that names sort in the order of work.

    Parameters
    ----------
    plan : Plan
        The plan.
    listed : iterable of Mark
        In the order they are listed; without an order of work this order counts.

    Returns
    -------
    tuple of str
        One a mark: its number in the harvest, as on paper, with letters; without an order of
        work its place in the list. Empty for what has no stop.
    """
    them = tuple(listed)
    names = (
        _listed(plan, them)
        if plan.work is None
        else {key: stop.name for key, stop in in_order(plan).items()}
    )
    return tuple(names.get((mark.kind, mark.plan_id), "") if mark.points() else "" for mark in them)


def label(mark: Mark, front: str) -> str:
    """Give what follows the digits: a bar of its trail's closing is its number there.

    Parameters
    ----------
    mark : Mark
        One that has a stop.
    front : str
        What its name begins with.

    Returns
    -------
    str
        Before it is shortened. What would not fit goes without the letter that says what it
        is, as long as its number runs not on behind digits.
    """
    if mark.kind == WATER_BAR:
        number = mark.label.rpartition("-")[2].removeprefix("B")
        return f"B{number.zfill(FEWEST_DIGITS)}"
    bare = mark.plan_id.strip()
    tight = len(front) + len(bare) == LONGEST < len(front) + len(mark.label)
    return bare if tight and not (front[-1:].isdigit() and bare[:1].isdigit()) else mark.label


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
            places.setdefault(day, set()).update(gone_to(plan, step))
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


def _listed(plan: Plan, listed: tuple[Mark, ...]) -> dict[Key, str]:
    """Give each place the digits of its number in the list, a tree those of its position."""
    stops: dict[Key, int] = {}
    pulled = {tree: p.position_id for p in plan.positions for tree in p.tree_ids}
    for number, mark in enumerate(listed):
        if mark.kind in (WINCH_POSITION, WATER_BAR, TURNING_PLACE, SMALL_LANDING, TRAIL_START):
            stops[mark.kind, mark.plan_id] = number
    for tree, position in pulled.items():
        if (WINCH_POSITION, position) in stops:
            stops[TREE, tree] = stops[WINCH_POSITION, position]
    ranks = {stop: rank for rank, stop in enumerate(sorted(set(stops.values())))}
    digits = max(FEWEST_DIGITS, len(str(len(ranks))))
    return {key: f"{ranks[stop]:0{digits}d}" for key, stop in stops.items()}
