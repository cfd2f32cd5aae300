"""A page of lines to write on: what fills the back of a paper that would stay empty."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.crew import foot
from layout.outputs.crew.listing import HEADLINE_PT, TITLE_PT
from layout.outputs.crew.sheet import MARGIN_PT, Sheet
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

HOW_PT = 9.0
LINE_PT = 26.0  # height of a line to write on, by hand, with gloves


def draw(sheet: Sheet, plan: Plan) -> None:
    """Draw the page.

    Parameters
    ----------
    sheet : Sheet
        An empty sheet, upright.
    plan : Plan
        The plan.
    """
    left, right = MARGIN_PT, sheet.width_pt - MARGIN_PT
    y = MARGIN_PT + TITLE_PT - 8
    sheet.text(left, y, say("not_walked"), HEADLINE_PT, fontweight="bold")
    sheet.text(right, y, say("crew_notes"), HEADLINE_PT, fontweight="bold", ha="right")
    y = sheet.wrapped(left, y + 18, say("crew_notes_how"), sheet.inner_pt, HOW_PT) + LINE_PT / 2
    floor = sheet.height_pt - MARGIN_PT - foot.height_pt(plan, sheet.inner_pt)
    count = int((floor - y) / LINE_PT)
    lines = [(left, y + k * LINE_PT, right, y + k * LINE_PT) for k in range(count)]
    sheet.rules(lines, linewidths=0.7)
