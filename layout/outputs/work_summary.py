"""The work in one line: loads, hours and days, never without what they rest on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.load_facts import planned
from layout.outputs.words import counted, say
from layout.outputs.work_amounts import days, hours

if TYPE_CHECKING:
    from layout.plan import Plan


def said(plan: Plan) -> list[str]:
    """Sum the work up.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of str
        One line; none where the work was not worked out, or nothing is left to do.
    """
    if plan.work is None or plan.work.times.total.high_h <= 0:
        return []
    times = plan.work.times
    rests = say("work_default")
    if times.logged_loads:
        rests = say("work_logged", loads=counted("load", times.logged_loads))
    return [
        say(
            "work_line",
            loads=counted("load", len(planned(plan))),
            hours=hours(times.total.low_h, times.total.high_h),
            days=days(times.days_low, times.days_high),
            day=f"{plan.area.settings.work.hours_per_day:g}",
            rests=rests,
        )
    ]
