"""Sheets that are lists: a headline, how to read them, and rows in two columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
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


def pages(
    plan: Plan, headline: str, intro: Sequence[str], titles: Row, rows: Sequence[Row]
) -> list[Callable[[Sheet], None]]:
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

    Returns
    -------
    list of callable
        One for each page; each draws it on an empty sheet, upright.
    """
    inner = _inner_pt(plan)
    height = PAPER_IN[plan.area.settings.outputs.paper][1] * PT_AN_INCH
    floor = height - MARGIN_PT - height_pt(plan, inner)
    top = MARGIN_PT + TITLE_PT
    under = top + OVER_PT + sum(_height(words, inner) for words in intro)
    first, later = (floor - start - titles.height_pt for start in (under, top))
    filled = columns.filled(rows, [first] * COLUMNS, later)
    return [
        partial(
            _draw,
            headline=headline,
            intro=() if k else intro,
            content=[[titles, *column] for column in filled[k : k + COLUMNS]],
            top=top if k else under,
            width_pt=column_pt(plan),
        )
        for k in range(0, len(filled), COLUMNS)
    ]


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


def parts_pages(plan: Plan, headline: str, parts: Sequence[Part]) -> list[Callable[[Sheet], None]]:
    """Lay several lists out, one after the other in the same columns.

    Parameters
    ----------
    plan : Plan
        The plan.
    headline : str
        What they are of.
    parts : sequence of Part
        The lists.

    Returns
    -------
    list of callable
        One for each page; each draws it on an empty sheet, upright.
    """
    width, rows = column_pt(plan), list[Row]()
    for part in parts:
        words = wrap(part.name, width, PART_PT, bold=True)
        rows.append(Row((Cell(0.0, tuple(words), bold=True),), PART_PT, head=True))
        for note in part.notes:
            lines = wrap(note, width, NOTE_PT)
            rows.append(Row((Cell(0.0, tuple(lines)),), NOTE_PT, head=True, ruled=False))
        titles = replace(part.titles, head=True)
        rows += [titles, *(replace(row, over=(titles,)) for row in part.rows)]
    return pages(plan, headline, (), NO_TITLES, rows)


def _draw(
    sheet: Sheet,
    *,
    headline: str,
    intro: Sequence[str],
    content: list[list[Row]],
    top: float,
    width_pt: float,
) -> None:
    """Draw one page of a list."""
    y = MARGIN_PT + TITLE_PT - 8
    right = sheet.width_pt - MARGIN_PT
    sheet.text(MARGIN_PT, y, say("not_walked"), HEADLINE_PT, fontweight="bold")
    sheet.text(right, y, headline, HEADLINE_PT, fontweight="bold", ha="right")
    y = MARGIN_PT + TITLE_PT + INTRO_PT
    for words in intro:
        sheet.wrapped(MARGIN_PT, y, words, sheet.inner_pt, INTRO_PT)
        y += _height(words, sheet.inner_pt)
    for number, rows in enumerate(content):
        columns.draw(sheet, MARGIN_PT + number * (width_pt + GUTTER_PT), top, width_pt, rows)


def _inner_pt(plan: Plan) -> float:
    """Give the width between the margins of the plan's paper, upright."""
    return PAPER_IN[plan.area.settings.outputs.paper][0] * PT_AN_INCH - 2 * MARGIN_PT


def _height(words: str, width_pt: float) -> float:
    """Give the height of a paragraph over the columns."""
    return len(wrap(words, width_pt, INTRO_PT)) * INTRO_PT * LEADING + INTRO_GAP_PT
