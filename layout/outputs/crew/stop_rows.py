"""What says stop, as rows: it heads the list that a crew opens first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.sheet import wrap
from layout.outputs.words import retold, say

if TYPE_CHECKING:
    from layout.plan import Plan

SIZE_PT = 7.2
HEAD_PT = 9.0


def stops(plan: Plan, width_pt: float) -> list[Row]:
    """Give what says stop, each in full, under a heading, and that there is no trail.

    Parameters
    ----------
    plan : Plan
        The plan.
    width_pt : float
        Width of a list column.

    Returns
    -------
    list of Row
        None where nothing says stop and there are trails.
    """
    told = [retold(finding.message) for finding in plan.findings if finding.level == "stop"]
    rows = [Row((Cell(0.0, tuple(wrap(words, width_pt, SIZE_PT))),), SIZE_PT) for words in told]
    if rows:
        rows.insert(0, title(say("crew_stops"), width_pt))
    if not plan.trails:
        rows.append(Row((Cell(0.0, (say("no_trail"),)),), HEAD_PT))
    return rows


def title(words: str, width_pt: float, size_pt: float = HEAD_PT) -> Row:
    """Give a heading inside a list."""
    lines = wrap(words, width_pt, size_pt, bold=True)
    return Row((Cell(0.0, tuple(lines), bold=True),), size_pt, head=True)
