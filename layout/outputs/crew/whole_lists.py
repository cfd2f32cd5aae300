"""The lists of a stand that one map shows: a page or more each, or all in the same columns."""

from __future__ import annotations

from functools import partial
from itertools import product
from typing import TYPE_CHECKING

from layout.outputs.crew import (
    closing_sheet,
    flagging,
    listing,
    profiles,
    stand_sheet,
    tree_list,
    work_sheet,
)
from layout.outputs.crew.listing import NO_TITLES, ListPage, Part
from layout.outputs.crew.sheet import Sheet
from layout.outputs.crew.work_rows import SIZES_PT, Rows
from layout.outputs.words import say
from layout.outputs.work_blocks import numbered

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from layout.plan import Plan

    Pages = list[Callable[[Sheet], None]]

# beside the sizes of the order of work: the smaller where a set has no room
HEADS_PT = (9.0, 9.0, 8.0, 8.0)
STANDS_PT = (9.0, 8.4, 7.6, 7.6)


def pages(plan: Plan, most: int) -> Pages:
    """Lay the lists out: flagging, profiles, order of work, closing, trees, the stand.

    A list on paper of its own can be given to the one who works by it. Where that takes too
    many pages to carry, the lists follow each other in the same columns, the profiles below
    them; the stand's own joins them if it must.

    Parameters
    ----------
    plan : Plan
        The plan.
    most : int
        The pages there is room for in the set.

    Returns
    -------
    list of callable
        One for each page; each draws it on an empty sheet, upright. The first that is no
        longer than `most`, or else the shortest.
    """
    stand, seen = stand_sheet.pages(plan), profiles.pages(plan)
    tried: list[Pages] = [
        [
            *flagging.pages(plan),
            *seen,
            *work_sheet.pages(plan),
            *closing_sheet.pages(plan),
            *tree_list.pages(plan),
            *stand,
        ]
    ]
    if len(tried[0]) <= most:
        return tried[0]
    sizes = list(zip(SIZES_PT, closing_sheet.SIZES_PT, HEADS_PT, STANDS_PT, strict=True))
    # the largest letters, species in words, then as letters; then smaller ones
    forms = [(sizes[0], False), *((size, True) for size in sizes)]
    for (points, coded), stand_too in product(forms, (False, True)):
        lists = _together(plan, points, coded=coded, stand_too=stand_too)
        tried.append([*with_profiles(plan, lists), *([] if stand_too else stand)])
        if len(tried[-1]) <= most:  # in the largest letters that fit
            break
    return next((made for made in tried if len(made) <= most), min(tried, key=len))


def with_profiles(plan: Plan, lists: Sequence[ListPage]) -> Pages:
    """Set the profiles after some lists: under their end where that saves a page.

    Parameters
    ----------
    plan : Plan
        The plan.
    lists : sequence of ListPage
        One at least.

    Returns
    -------
    list of callable
        One for each page; each draws it on an empty sheet, upright.
    """
    *before, last = lists
    seen, below = profiles.pages(plan), profiles.pages(plan, last.end_pt)
    if below and len(below) <= len(seen):
        return [*before, partial(_both, last, below[0]), *below[1:]]
    return [*lists, *seen]


def _both(upper: ListPage, lower: Callable[[Sheet], None], sheet: Sheet) -> None:
    upper(sheet)
    lower(sheet)


def _together(
    plan: Plan, points: tuple[float, float, float, float], *, coded: bool, stand_too: bool
) -> list[ListPage]:
    """Lay the lists out one after the other.

    Order of work, closing, headings of trails and the stand's trees are in letters of `points`.
    """
    work_pt, closing_pt, head_pt, stand_pt = points
    trees = _trees(plan, coded=coded)
    parts = [_flagging(plan, head_pt), *_work(plan, work_pt), *_closing(plan, closing_pt), trees]
    shown = stand_sheet.rows(plan, tree_pt=stand_pt) if stand_too else []
    if shown:
        parts.append(Part(say("crew_stand"), [say("crew_stand_how")], NO_TITLES, shown))
    return listing.parts_pages(plan, say("crew_lists_whole"), parts, level=True)


def _flagging(plan: Plan, head_pt: float) -> Part:
    rows = flagging.rows(plan, head_pt)
    return Part(say("crew_flagging"), flagging.intro(plan), flagging.titles(), rows)


def _work(plan: Plan, size_pt: float) -> list[Part]:
    if plan.work is None:
        return []
    setting = Rows(plan, listing.column_pt(plan), size_pt)
    rows = work_sheet.rows(plan, setting, numbered(work_sheet.todo(plan)))
    notes = [*work_sheet.how(plan), *work_sheet.told(plan)]
    return [Part(say("crew_work"), notes, work_sheet.titles(plan), rows)]


def _closing(plan: Plan, size_pt: float) -> list[Part]:
    if plan.closeout is None or not plan.closeout.items:
        return []
    rows = [
        *closing_sheet.rows(plan, plan.closeout.items, size_pt),
        closing_sheet.sums(plan, size_pt),
    ]
    return [Part(say("crew_closing"), closing_sheet.intro(), closing_sheet.titles(plan), rows)]


def _trees(plan: Plan, *, coded: bool) -> Part:
    listed = tree_list.TreeRows(plan, coded=coded)
    return Part(say("crew_trees"), listed.intro(), listed.titles(), listed.rows())
