"""Sheets that are lists: a headline, how to read them, and rows in two columns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.outputs.crew import columns
from layout.outputs.crew.columns import GUTTER_PT, Cell, Row
from layout.outputs.crew.foot import height_pt
from layout.outputs.crew.sheet import LEADING, MARGIN_PT, PAPER_IN, PT_AN_INCH, Sheet, wrap
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

COLUMNS = 2
HEADLINE_PT = 13.0
TITLE_PT = 20.0  # height of the headline
INTRO_PT = 8.2
INTRO_GAP_PT = 2.0
PART_PT = 10.0  # what a list among several is
NOTE_PT = 7.2  # how it is read
NO_TITLES = Row((), 0.0, ruled=False)
OVER_PT = 5.0  # between them and the columns


def column_pt(plan: Plan) -> float:
    """Give the width of a column on the plan's paper."""
    return (_inner_pt(plan) - GUTTER_PT * (COLUMNS - 1)) / COLUMNS


@dataclass(frozen=True, slots=True)
class ListPage:
    """One page of a list; called with an empty sheet, upright, it draws itself there.

    Parameters
    ----------
    headline : str
        What the list is.
    intro : tuple of str
        Paragraphs over the columns.
    content : tuple of list of Row
        The columns.
    top_pt : float
        Where they begin.
    width_pt : float
        Width of each.
    """

    headline: str
    intro: tuple[str, ...]
    content: tuple[list[Row], ...]
    top_pt: float
    width_pt: float

    @property
    def end_pt(self) -> float:
        """Where the longest column ends."""
        return self.top_pt + max(sum(row.height_pt for row in rows) for rows in self.content)

    def __call__(self, sheet: Sheet) -> None:
        """Draw the page."""
        y = MARGIN_PT + TITLE_PT - 8
        right = sheet.width_pt - MARGIN_PT
        sheet.text(MARGIN_PT, y, say("not_walked"), HEADLINE_PT, fontweight="bold")
        sheet.text(right, y, self.headline, HEADLINE_PT, fontweight="bold", ha="right")
        y = MARGIN_PT + TITLE_PT + INTRO_PT
        for words in self.intro:
            sheet.wrapped(MARGIN_PT, y, words, sheet.inner_pt, INTRO_PT)
            y += _height(words, sheet.inner_pt)
        for number, rows in enumerate(self.content):
            x = MARGIN_PT + number * (self.width_pt + GUTTER_PT)
            columns.draw(sheet, x, self.top_pt, self.width_pt, rows)


def pages(
    plan: Plan,
    headline: str,
    intro: Sequence[str],
    titles: Row,
    rows: Sequence[Row],
    *,
    level: bool = False,
) -> list[ListPage]:
    """Lay a list out.

    Parameters
    ----------
    plan : Plan
        The plan.
    headline : str
        What the list is; beside it stands that nothing is ready unless walked.
    intro : sequence of str
        Paragraphs over the first page's columns.
    titles : Row
        Stands over every column.
    rows : sequence of Row
        The list.
    level : bool
        Whether the last page's columns end at about the same height, to leave room under them.

    Returns
    -------
    list of ListPage
    """
    inner = _inner_pt(plan)
    floor = floor_pt(plan)
    top = MARGIN_PT + TITLE_PT
    under = top + OVER_PT + sum(_height(words, inner) for words in intro)
    first, later = (floor - start - titles.height_pt for start in (under, top))
    filled = columns.filled(rows, [first] * COLUMNS, later)
    if level:
        whole = (len(filled) - 1) // COLUMNS  # pages before the last
        heights = ([first] * COLUMNS + [later] * COLUMNS * whole)[: COLUMNS * whole]
        filled = _levelled(rows, heights, later if whole else first)
    return [
        ListPage(
            headline,
            () if k else tuple(intro),
            tuple([titles, *column] for column in filled[k : k + COLUMNS]),
            top if k else under,
            column_pt(plan),
        )
        for k in range(0, len(filled), COLUMNS)
    ]


def _levelled(rows: Sequence[Row], heights_pt: Sequence[float], last_pt: float) -> list[list[Row]]:
    """Divide rows so that the columns after those given are as short as may be."""
    low, high = max((columns.whole_pt(row) for row in rows), default=0.0), last_pt
    made = columns.filled(rows, [*heights_pt, last_pt], last_pt)
    while high - low > 1.0:
        middle = (low + high) / 2
        tried = columns.filled(rows, [*heights_pt, *([middle] * COLUMNS)], middle)
        if len(tried) <= len(heights_pt) + COLUMNS:
            high, made = middle, tried
        else:
            low = middle
    return made


def floor_pt(plan: Plan) -> float:
    """Give where the foot of an upright page begins."""
    height = PAPER_IN[plan.area.settings.outputs.paper][1] * PT_AN_INCH
    return height - MARGIN_PT - height_pt(plan, _inner_pt(plan))


@dataclass(frozen=True, slots=True)
class Part:
    """One of several lists in the same columns.

    Parameters
    ----------
    name : str
        What it is.
    notes : sequence of str
        Paragraphs under its name.
    titles : Row
        Stands under them, and on top of every column that starts inside the list.
    rows : sequence of Row
        The list.
    """

    name: str
    notes: Sequence[str]
    titles: Row
    rows: Sequence[Row]


def parts_pages(
    plan: Plan, headline: str, parts: Sequence[Part], *, level: bool = False
) -> list[ListPage]:
    """Lay several lists out, one after the other in the same columns.

    Parameters
    ----------
    plan : Plan
        The plan.
    headline : str
        What they are of.
    parts : sequence of Part
        The lists.
    level : bool
        Whether the last page's columns end at about the same height.

    Returns
    -------
    list of ListPage
    """
    width, rows = column_pt(plan), list[Row]()
    for part in parts:
        words = wrap(part.name, width, PART_PT, bold=True)
        rows.append(Row((Cell(0.0, tuple(words), bold=True),), PART_PT, head=True))
        for note in part.notes:
            lines = wrap(note, width, NOTE_PT)
            rows.append(Row((Cell(0.0, tuple(lines)),), NOTE_PT, head=True, ruled=False))
        over = (replace(part.titles, head=True),) if part.titles.cells else ()
        rows += [*over, *(replace(row, over=over) for row in part.rows)]
    return pages(plan, headline, (), NO_TITLES, rows, level=level)


def _inner_pt(plan: Plan) -> float:
    """Give the width between the margins of the plan's paper, upright."""
    return PAPER_IN[plan.area.settings.outputs.paper][0] * PT_AN_INCH - 2 * MARGIN_PT


def _height(words: str, width_pt: float) -> float:
    """Give the height of a paragraph over the columns."""
    return len(wrap(words, width_pt, INTRO_PT)) * INTRO_PT * LEADING + INTRO_GAP_PT
