"""The order of the whole job where its lists are on detail sheets, and how those are read."""

from __future__ import annotations

import math
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from layout.outputs.crew import closing_sheet, flagging, listing, tree_list, work_sheet
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.map_frames import letter
from layout.outputs.crew.sheet import width_of, wrap
from layout.outputs.crew.stop_rows import stops, title
from layout.outputs.crew.tick_runs import BOX_PT, GAP_PT, Run, cells
from layout.outputs.crew.work_rows import Rows
from layout.outputs.crew.work_said import kept
from layout.outputs.words import say
from layout.outputs.work_blocks import numbered

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.outputs.crew.sheet_lists import SheetLists
    from layout.outputs.work_blocks import Line, Numbered
    from layout.plan import Plan

SIZES_PT = (9.0, 8.4, 7.8, 7.3)  # of the boxes' words, the smaller where the set has no room
HOW_PT = 7.2
LINES_A_ROW = 3  # of a paragraph: between rows a column may end
MOST_ACROSS = 6  # boxes side by side


def tries(plan: Plan, lists: SheetLists) -> list[list[listing.ListPage]]:
    """Lay the page out: what says stop, every box in the plan's order, how lists are read.

    Parameters
    ----------
    plan : Plan
        A plan with detail sheets.
    lists : SheetLists
        Their lists.

    Returns
    -------
    list of list of ListPage
        The same in ever smaller letters, one page mostly; the columns of a second page end
        at about the same height.
    """
    headline = say("crew_work" if plan.work is not None else "crew_lists_how")
    made = []
    for size in SIZES_PT:
        rows = _rows(plan, lists, size)
        one = listing.pages(plan, headline, (), listing.NO_TITLES, rows)
        two = listing.pages(plan, headline, (), listing.NO_TITLES, rows, level=True)
        made.append(one if len(one) == 1 else two)
    return made


def _rows(plan: Plan, lists: SheetLists, size_pt: float) -> list[Row]:
    width = listing.column_pt(plan)
    rows = stops(plan, width)
    if plan.work is not None:
        for words in (*work_sheet.told(plan), say("crew_order_how")):
            rows += _paragraph(words, width)
        rows += _order(plan, lists, Rows(plan, width, size_pt))
    return [*rows, *_closed(plan), *_how(plan, width)]


def _order(plan: Plan, lists: SheetLists, setting: Rows) -> list[Row]:
    """Give a box for every trail opened and every block, with its sheet in brackets."""
    shares = [(0, one) for one in numbered(work_sheet.todo(plan)) if one.block.part == "flag"]
    shares = sorted([*shares, *lists.shares], key=lambda both: both[1].part)
    rows: list[Row] = []
    for _, part in groupby(shares, key=lambda both: both[1].part):
        own = list(part)
        rows.append(work_sheet.heading(plan, setting, own[0][1]))
        if own[0][1].block.part == "flag":
            rows += setting.flagged(own[0][1].block)
        else:
            runs = [_run(setting, k, one) for k, one in own]
            rows += _abreast(runs, setting.width_pt, setting.size_pt)
    return rows


def _run(setting: Rows, sheet: int, one: Numbered) -> Run:
    """Name one box: a trail or landing, of harvest its number first, of hazards the trees."""
    block = one.block
    line = block.lines[0]
    if block.part == "hazard":
        words = kept(" ".join(word for word in (line.name, ", ".join(line.tree_ids)) if word))
    elif block.part == "harvest":
        words = kept(setting.named(block, one.number))
    else:
        words = _place(line)
    return Run(say("crew_order_on", what=words, sheet=letter(sheet)), boxed=True, bold=True)


def _place(line: Line) -> str:
    """Name what is opened: a trail, the small landing, or a landing."""
    if line.does[0] == "small_open":
        return kept(say("crew_work_small"))
    return line.name or kept(say("crew_work_landing"))


def _abreast(runs: Sequence[Run], width_pt: float, size_pt: float) -> list[Row]:
    """Set boxes side by side below each other, a wide one over as many places as it takes."""
    wide = [BOX_PT + width_of(run.words, size_pt, bold=run.bold) + GAP_PT for run in runs]
    across = max(1, min(MOST_ACROSS, int(width_pt / sorted(wide)[int(0.9 * (len(wide) - 1))])))
    step = width_pt / across
    rows: list[Row] = []
    made: list[Cell] = []
    used = 0
    for run, pt in zip(runs, wide, strict=True):
        takes = min(across, math.ceil(pt / step - 1e-9))
        if used + takes > across:
            rows.append(Row(tuple(made), size_pt))
            made, used = [], 0
        made += cells([run], used * step, width_pt - used * step, size_pt)
        used += takes
    return [*rows, Row(tuple(made), size_pt)]


def _closed(plan: Plan) -> list[Row]:
    """Give the sums of closing, under their titles."""
    if plan.closeout is None or not plan.closeout.items:
        return []
    titles = closing_sheet.titles(plan)
    name = title(say("crew_closing"), listing.column_pt(plan))
    head = Row(titles.cells, titles.size_pt, head=True)
    return [name, head, closing_sheet.sums(plan, closing_sheet.SIZES_PT[-1])]


def _how(plan: Plan, width_pt: float) -> list[Row]:
    """Say how each list of a detail sheet is read, and what north is meant."""
    said = [(say("crew_work"), work_sheet.how(plan) if plan.work is not None else []),
            (say("crew_flagging"), flagging.intro(plan) if plan.trails else []),
            (say("crew_trees"), tree_list.intro(plan)),
            (say("crew_closing"), closing_sheet.intro() if _closed(plan) else [])]  # fmt: skip
    rows: list[Row] = []
    for name, paragraphs in said:
        if not paragraphs:
            continue
        rows.append(title(name, width_pt))
        for words in paragraphs:
            rows += _paragraph(words, width_pt, say("crew_continued", trail=name))
    return [title(say("crew_lists_how"), width_pt), *rows]


def _paragraph(words: str, width_pt: float, again: str = "") -> list[Row]:
    """Set a paragraph, a few lines a row, so that it may go on in the next column, named again."""
    over = (Cell(0.0, (again,), bold=True),) if again else ()
    lines = wrap(words, width_pt, HOW_PT)
    cuts = [*range(0, len(lines), LINES_A_ROW), len(lines)]
    if len(lines) % LINES_A_ROW == 1 and len(cuts) > 2:
        del cuts[-2]  # its last line is not to stand alone in the next column
    return [
        Row((Cell(0.0, tuple(lines[a:b])),), HOW_PT, ruled=False, again=over)
        for a, b in pairwise(cuts)
    ]
