"""The page of blanks to fill in before the work starts: papers, people, kit."""

from __future__ import annotations

from layout.outputs.crew.sheet import MARGIN_PT, Sheet, width_of
from layout.outputs.words import say

TITLE_PT = 22.0
HOW_PT = 9.0
LABEL_PT = 10.0
LINE_PT = 26.0  # height of a line to write on, by hand, with gloves
# What is filled in, and how many lines it takes.
BLANKS = (
    ("notice", 1),
    ("permits", 2),
    ("bond", 1),
    ("utility", 2),
    ("line", 2),
    ("neighbours", 2),
    ("insurance", 2),
    ("inspects", 1),
    ("owner", 1),
    ("trucker", 1),
    ("weather", 1),
    ("spill", 2),
)


def draw(sheet: Sheet) -> None:
    """Draw the page.

    Parameters
    ----------
    sheet : Sheet
        An empty sheet, upright.
    """
    left, right = MARGIN_PT, sheet.width_pt - MARGIN_PT
    sheet.text(left, 50, say("crew_before"), TITLE_PT, fontweight="bold")
    y = sheet.wrapped(left, 68, say("crew_before_how"), sheet.inner_pt, HOW_PT) + LINE_PT / 2
    for key, lines in BLANKS:
        label = say(f"crew_before_{key}")
        sheet.text(left, y, label, LABEL_PT, fontweight="bold")
        start = left + width_of(label, LABEL_PT, bold=True) + 5
        rules = [(start, y + 2, right, y + 2)]
        rules += [(left, y + 2 + k * LINE_PT, right, y + 2 + k * LINE_PT) for k in range(1, lines)]
        sheet.rules(rules, linewidths=0.7)
        y += LINE_PT * lines + 6
