"""Words of the order of work: numbers as runs, hours with their range, words kept together."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.outputs.words import say
from layout.tongue import number as said_number
from layout.tongue import unit as said_unit

if TYPE_CHECKING:
    from layout.plan import Plan

HOURS_BY_HALVES = 10.0  # above this they are said by whole hours


def kept(words: str) -> str:
    """Keep words together on one line."""
    return words.replace(" ", "\N{NO-BREAK SPACE}")


def spans(numbers: list[int]) -> str:
    """Say numbers as runs.

    Examples
    --------
    >>> spans([1]), spans([2, 3, 4]), spans([1, 3, 4])
    ('1', '2-4', '1, 3-4')
    """
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(f"{r[0]}" if len(r) == 1 else f"{r[0]}-{r[-1]}" for r in runs)


def unit(plan: Plan) -> str:
    """Give the unit of lengths."""
    return said_unit("ft") if plan.area.settings.area.units == "us" else "m"


def hours_said(plan: Plan, minutes: float) -> str:
    """Say how long productive minutes take of a day, with the range of the whole job.

    Parameters
    ----------
    plan : Plan
        Its times give the range.
    minutes : float
        Productive minutes.

    Returns
    -------
    str
        In half hours, many in whole ones, the low end rounded down and the high end up;
        empty where nothing is known.
    """
    assert plan.work is not None
    total = plan.work.times.total
    if not (minutes > 0 and total.productive_h > 0):
        return ""
    share = minutes / 60 / total.productive_h
    step = 0.5 if share * total.high_h <= HOURS_BY_HALVES else 1.0
    low, high = (step * r(share * h / step) for r, h in ((math.floor, total.low_h),
                                                         (math.ceil, total.high_h)))  # fmt: skip
    if low == 0:
        return say("crew_work_short", high=said_number(high, "g"))
    return say("crew_work_range", low=said_number(low, "g"), high=said_number(high, "g"))
