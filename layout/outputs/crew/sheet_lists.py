"""The back of a detail sheet: all lists of the ground its map shows."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import TYPE_CHECKING

from layout.outputs.crew import closing_sheet, flagging, listing, north, tree_list, work_sheet
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.detail_places import Places
from layout.outputs.crew.listing import NO_TITLES, Part
from layout.outputs.crew.map_frames import letter
from layout.outputs.crew.sheet import wrap
from layout.outputs.crew.stop_rows import SIZE_PT, title
from layout.outputs.crew.work_rows import Rows
from layout.outputs.words import say
from layout.outputs.work_blocks import Numbered, numbered

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.outputs.map_window import Window
    from layout.outputs.work_blocks import Block, Line
    from layout.plan import Plan

LINED = ("hazard", "open")  # parts whose blocks go over the whole job: each line has its own sheet


class SheetLists:
    """The lists of every detail sheet of a plan.

    Parameters
    ----------
    plan : Plan
        The plan.
    windows : sequence of Window
        The ground of each detail sheet.
    """

    def __init__(self, plan: Plan, windows: Sequence[Window]) -> None:
        self._plan, self._windows = plan, windows
        self._width_pt = listing.column_pt(plan)
        self.places = Places(plan, windows)
        self._trees = tree_list.TreeRows(plan)
        self._ways = [(trail, self.places.pieces(trail, way)) for trail, way in flagging.ways(plan)]

    @cached_property
    def _begun(self) -> dict[str, int]:
        """The sheet whose lists tell of each trail's beginning: there it is opened."""
        return {trail.trail_id: pieces[0][0] for trail, pieces in self._ways if pieces}

    def _line(self, line: Line, block: Block) -> int:
        """Give the sheet of a line of a part that goes over the whole job."""
        opened = block.part == "open" and line.does[0] == "open"
        begun = self._begun.get(line.name) if opened else None
        return self.places.line(line, block) if begun is None else begun

    @cached_property
    def shares(self) -> list[tuple[int, Numbered]]:
        """The work in the plan's own order, each part of it with its sheet, counted from 0.

        Hanging ribbons is on none: it is one box for the whole job.
        """
        made: list[tuple[int, Numbered]] = []
        for one in numbered(work_sheet.todo(self._plan)):
            block = one.block
            if block.part in LINED:
                made += [
                    (
                        self._line(line, block),
                        replace(one, block=replace(block, lines=(line,))),
                    )
                    for line in block.lines
                ]
            elif block.part != "flag":
                made.append((self.places.block(block), one))
        return made

    @cached_property
    def _closed_on(self) -> dict[str, int]:
        """The sheet whose order of work has each trail's closing: there are its bars too."""
        return {
            line.name: sheet
            for sheet, one in self.shares
            for line in one.block.lines
            if line.does[0] == "close"
        }

    def _closing_sheet(self, trail_id: str, landing_id: str) -> int:
        """Give the sheet that lists the closing of a trail, or of a landing."""
        found = self._closed_on.get(trail_id)
        return self.places.trail(trail_id, landing_id) if found is None else found

    def pages(self, sheet: int) -> list[listing.ListPage]:
        """Lay out the lists of one sheet.

        Parameters
        ----------
        sheet : int
            Which, counted from 0.

        Returns
        -------
        list of ListPage
            One at least.
        """
        headline = say("crew_lists", sheet=letter(sheet))
        parts = (
            self._work(sheet),
            self._flagging(sheet),
            self._listed_trees(sheet),
            self._closing(sheet),
        )
        there = [part for part in parts if part is not None]
        if not there:
            none = self._note(say("crew_lists_none"))
            return listing.pages(self._plan, headline, (), NO_TITLES, [none])
        return listing.parts_pages(self._plan, headline, there)

    def _note(self, words: str) -> Row:
        return Row((Cell(0.0, tuple(wrap(words, self._width_pt, SIZE_PT))),), SIZE_PT)

    def _work(self, sheet: int) -> Part | None:
        """Give the work of a sheet, in the order of the whole job."""
        shown = _joined([one for k, one in self.shares if k == sheet])
        if not shown:
            return None
        setting = Rows(self._plan, self._width_pt)
        rows = work_sheet.rows(self._plan, setting, shown)
        notes = [say("crew_lists_order")]
        return Part(say("crew_work"), notes, work_sheet.titles(self._plan), rows)

    def _flagging(self, sheet: int) -> Part | None:
        """Give the stations of a sheet, trail by trail, then where care is needed."""
        plan, units = self._plan, self._plan.area.settings.area.units
        rows: list[Row] = []
        for trail, pieces in self._ways:
            name, end_m = trail.trail_id, trail.line.length
            for number, (where, legs) in enumerate(pieces):
                if where != sheet:
                    continue
                if number:
                    at = flagging.station_number(legs[0].from_m, units, end_m)
                    said = say("crew_lists_from", trail=name, at=at,
                               sheet=letter(pieces[number - 1][0]))  # fmt: skip
                    rows.append(title(said, self._width_pt))
                else:
                    rows += flagging.starts(plan, trail, self._width_pt)
                rows += flagging.stations(plan, trail, legs, self._width_pt)
                rows += flagging.stretch_rows(plan, trail, legs, self._width_pt)
                if number + 1 < len(pieces):
                    at = flagging.station_number(legs[-1].to_m, units, end_m)
                    rows.append(self._note(say("crew_lists_to", trail=name, at=at,
                                               sheet=letter(pieces[number + 1][0]))))  # fmt: skip
        here = {name for name, k in self.places.positions.items() if k == sheet}
        yards = (one.landing_id for one in plan.landings)
        here |= {name for name in yards if self.places.trail("", name) == sheet}
        rows += flagging.care_rows(plan, self._width_pt, here)
        notes = [north.in_short(plan)]
        return Part(say("crew_flagging"), notes, flagging.titles(), rows) if rows else None

    def _listed_trees(self, sheet: int) -> Part | None:
        """Give the trees whose stumps are on a sheet."""
        names = {name for name, k in self.places.trees.items() if k == sheet}
        rows = self._trees.rows(names, self._beyond(names, sheet))
        if not rows:
            return None
        notes = tree_list.keep_off_words(self._plan)
        return Part(say("crew_trees"), notes, self._trees.titles(), rows)

    def _beyond(self, names: set[str], sheet: int) -> set[str]:
        """Name the trees of a sheet's list that its map does not show."""
        trees, window = self._plan.area.trees, self._windows[sheet]
        places = zip(trees.tree_id, trees.x, trees.y, strict=True)
        return {name for name, x, y in places if name in names and not window.shows(x, y)}

    def _closing(self, sheet: int) -> Part | None:
        """Give the trails and landings of a sheet that are closed."""
        closeout = self._plan.closeout
        items = [] if closeout is None else [
            item for item in closeout.items
            if self._closing_sheet(item.trail_id, item.landing_id) == sheet
        ]  # fmt: skip
        if not items:
            return None
        rows = closing_sheet.rows(self._plan, items, closing_sheet.SIZES_PT[0])
        return Part(say("crew_closing"), (), closing_sheet.titles(self._plan), rows)


def _joined(shown: Sequence[Numbered]) -> list[Numbered]:
    """Put the lines of one part together again, so that bare ones share a row."""
    made: list[Numbered] = []
    for one in shown:
        if made and one.block.part in LINED and made[-1].part == one.part:
            block = made[-1].block
            lines = (*block.lines, *one.block.lines)
            made[-1] = replace(made[-1], block=replace(block, lines=lines))
        else:
            made.append(one)
    return made
