"""Which changes are worth a thought, in a sentence or two: for the report and the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.words import say
from layout.speech import speak_length

if TYPE_CHECKING:
    from layout.option_records import OptionRow
    from layout.plan import Plan
    from layout.units import Units

WORTH_TREES = 2  # ours
WORTH_TRAIL = 0.05  # of the plan's trail; ours
MOST_NAMED = 2


def worth_a_thought(plan: Plan) -> list[str]:
    """Name the changes that bring most, one of each kind.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    list of str
        A sentence each, two at most; that there is none, where some were tried; empty
        where none was.
    """
    tried = [row for row in plan.options if row.how != "not_worked_out"]
    if not tried:
        return []
    trail_m = sum(trail.line.length for trail in plan.trails)
    units = plan.area.settings.area.units
    named: dict[str, str] = {}
    for row in tried:
        kind = row.key.split("_")[0]
        if kind not in named and len(named) < MOST_NAMED and _worth(row, trail_m):
            named[kind] = say(
                "option_worth", change=row.change, brings=brings(row, units), needs=row.needs
            )
    return list(named.values()) or [say("option_none_worth")]


def _worth(row: OptionRow, trail_m: float) -> bool:
    """Tell whether a change brings enough to be named, and asks for nothing care warns of."""
    if row.past_caution:
        return False
    trees = row.more_trees or 0
    if (row.gain_m2 or 0.0) <= 0 or trees < 0:
        return False
    return trees >= WORTH_TREES or -(row.trail_m or 0.0) >= WORTH_TRAIL * trail_m


def brings(row: OptionRow, units: Units) -> str:
    """Say what a change brings, like ``2 trees more, 31 spurs fewer, 900 ft less trail``.

    Parameters
    ----------
    row : OptionRow
    units : {"us", "metric"}

    Returns
    -------
    str
    """
    said = [
        say(f"option_{thing}{'' if count > 0 else '_less'}{'_one' if abs(count) == 1 else ''}",
            count=abs(count))
        for thing, count in (("trees", row.more_trees), ("spurs", row.more_spurs))
        if count
    ]  # fmt: skip
    if row.trail_m is not None and abs(row.trail_m) >= 1:
        key = "option_trail" if row.trail_m > 0 else "option_trail_less"
        said.append(say(key, length=speak_length(abs(row.trail_m), units)))
    return ", ".join(said) or say("option_nothing")
