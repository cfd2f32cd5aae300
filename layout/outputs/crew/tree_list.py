"""The list of marked trees: how to find each, and what the plan says of it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from layout.outputs.crew import listing
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.directions import PACE_M, whole_up
from layout.outputs.crew.finding import Found, marked, unmarked_hazards
from layout.outputs.crew.flagging import station_number
from layout.outputs.crew.sheet import LEAST_PT, width_of, wrap
from layout.outputs.crew.species_codes import key_said, marked_species, species_codes
from layout.outputs.crew.tick_runs import BOX_OUT_PT, BOX_SIZE_PT, TICK_BOX
from layout.outputs.crew.tree_words import dbh_said, lay_said, reach_said, way_said
from layout.outputs.lay_words import lean_to_lay, leaning, why_none
from layout.outputs.tree_orders import Order, keep_off, keep_off_said, orders, two_lengths_m
from layout.outputs.words import ENGLISH, retold, say, species_said
from layout.records import REACHED
from layout.tongue import number as said_number
from layout.tongue import unit as said_unit
from layout.units import FOOT_M, Units

if TYPE_CHECKING:
    from collections.abc import Collection

    from layout.plan import Plan
    from layout.records import Lay

SIZE_PT = 7.3
PAINTED_PT = 9.0  # numbers are looked for on stems, in the rain
HEAD_PT = 8.0
# Where the parts of a row's first line stand: points from the column's left edge,
BOX_PT, NUMBER_PT, NUMBER_AIR_PT = 0.0, 11.5, 6.0
# and from its right edge.
WAY_PT, POSITION_PT, LAY_PT = 133.0, 58.0, 24.0
WAY_AIR_PT = 4.0
UNDER_PT = 5.0
MOST_NUMBER_PT = 51.0  # eight figures; wider numbers would leave no room for the trail
TIE = "\N{NO-BREAK SPACE}"
FIGURES_NEXT = re.compile(r"(?<=[^\W\d_]) (?=\d)")
NO_POSITION = "\N{EN DASH}"


def pages(plan: Plan) -> list[listing.ListPage]:
    """Lay the list of marked trees out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of ListPage
    """
    listed = TreeRows(plan)
    return listing.pages(plan, say("crew_trees"), intro(plan), listed.titles(), listed.rows())


class TreeRows:
    """The rows of a plan's trees.

    Parameters
    ----------
    plan : Plan
        The plan.
    coded : bool
        Whether species stand as letters beside the number, so that a tree of which nothing
        else is said takes one line.
    """

    def __init__(self, plan: Plan, *, coded: bool = False) -> None:
        self._plan = plan
        self._trees, self._off = marked(plan), unmarked_hazards(plan)
        there = [*self._trees, *self._off]
        self._codes = species_codes(marked_species(plan)) if coded else {}  # those of the map
        self._lines = _Lines(
            plan.area.settings.area.units,
            listing.column_pt(plan),
            number_room_pt(there),
            orders(plan),
            {lay.tree_id: lay for lay in plan.lays},
            leaning(plan),
            self._codes if coded else None,
        )

    def intro(self) -> list[str]:
        """Say how the list is read, and what its letters mean."""
        key = key_said(self._codes, self._codes)
        return [*intro(self._plan), *([say("crew_species_key", letters=key)] if key else [])]

    def titles(self) -> Row:
        """Give the row of column titles."""
        return self._lines.titles()

    def rows(self, names: Collection[str] | None = None, beyond: Collection[str] = ()) -> list[Row]:
        """Give the rows of some trees, or of all: hazards, what is reached, what is not.

        Parameters
        ----------
        names : collection of str, optional
            The trees asked for; all of them if not given.
        beyond : collection of str, optional
            Those of them that stand beyond the map the list is for.

        Returns
        -------
        list of Row
            That none is reached is said where it holds for the whole plan.
        """
        trees, off = (
            [tree for tree in there if names is None or tree.tree_id in names]
            for there in (self._trees, self._off)
        )
        if names is not None and not (trees or off):
            return []
        lines = replace(self._lines, beyond=frozenset(beyond))
        reached = [tree for tree in trees if tree.outcome.status in REACHED]
        missed = [tree for tree in trees if tree.outcome.status not in REACHED]
        free = [tree for tree in reached if not lines.barred(tree)]
        held = [tree for tree in reached if lines.barred(tree)]
        rows = _hazards(trees, off, self._plan, lines)
        if held:
            rows.append(_heading(say("crew_held"), lines.width_pt))
            rows += _reached(held, lines)
        if free or not any(tree.outcome.status in REACHED for tree in self._trees):
            if rows:
                rows.append(_heading(say("crew_reached"), lines.width_pt))
            rows += _reached(free, lines)
        return rows + (_missed(missed, lines) if missed else [])


def number_room_pt(trees: list[Found]) -> float:
    """Give the width of the column of numbers: a painted number is never cut in two.

    A name too long even for the widest column stands on a line of its own.
    """
    wide = [width_of(tree.tree_id, PAINTED_PT, bold=True) for tree in trees]
    return max((pt for pt in wide if pt <= MOST_NUMBER_PT), default=0.0)


def intro(plan: Plan) -> list[str]:
    """Say how far all but the faller keep off, how the list is read, and what a pace is."""
    units = plan.area.settings.area.units
    metres = PACE_M[units]
    feet, metric = said_number(metres / FOOT_M, ".1f"), said_number(metres, ".2f")
    pace = f"{feet} {said_unit('ft')}" if units == "us" else f"{metric} m"
    how = say(
        "crew_trees_how", pace=pace, over=f"100 {said_unit('ft')}" if units == "us" else "30 m"
    )
    return [*keep_off_words(plan), how]


def keep_off_words(plan: Plan) -> list[str]:
    """Say how far all but the faller keep off; nothing where no tree is marked."""
    off_m = two_lengths_m(plan)
    if off_m is None:
        return []
    return [say("crew_keep_off", distance=whole_up(off_m, plan.area.settings.area.units))]


def _heading(words: str, width_pt: float) -> Row:
    """Give a heading inside the list."""
    title = wrap(words, width_pt, HEAD_PT + 1, bold=True)
    return Row((Cell(0.0, tuple(title), bold=True),), HEAD_PT + 1, head=True)


def _hazards(trees: list[Found], off: list[Found], plan: Plan, lines: _Lines) -> list[Row]:
    """Give what comes before all else: hazard trees to cut first, and those to keep off."""
    first = [
        say("crew_map_hold", tree=tree.tree_id) if lines.barred(tree) else tree.tree_id
        for tree in trees
        if tree.hazard
    ]
    if not (first or off):
        return []
    rows = [_heading(say("crew_hazard_trees"), lines.width_pt)]
    if first:
        names = wrap(say("crew_first", trees=", ".join(first)), lines.width_pt, PAINTED_PT)
        rows.append(Row((Cell(0.0, tuple(names)),), PAINTED_PT))
    told = {tree.tree_id: keep_off_said(tree, plan) for tree in keep_off(plan)}
    return rows + [lines.row(tree, [told[tree.tree_id]]) for tree in off]


def _reached(trees: list[Found], lines: _Lines) -> list[Row]:
    """Give the rows of the trees that are reached."""
    if not trees:
        words = wrap(say("crew_none_reached"), lines.width_pt, SIZE_PT)
        return [Row((Cell(0.0, tuple(words)),), SIZE_PT)]
    return [lines.row(tree, *lines.reached(tree), box=not lines.barred(tree)) for tree in trees]


def _missed(trees: list[Found], lines: _Lines) -> list[Row]:
    """Give the rows of the trees that are not reached, each with why and what to do first."""
    rows = [_heading(say("crew_missed"), lines.width_pt)]
    for tree in trees:
        first, *others = tree.outcome.remedies or (ENGLISH["crew_leave_it"],)
        other = say("crew_or_else", remedy=retold(others[0])) if others else ""
        what = say(f"status_{tree.outcome.status}")
        why = say("crew_why", why=what, first=retold(first), other=other)
        told, lean = lines.missed(tree)
        rows.append(
            lines.row(tree, told, say("crew_between").join([*([lean] if lean else []), why]))
        )
    return rows


def tied(words: str) -> str:
    """Keep figures on the line of the word before them.

    Examples
    --------
    >>> [part.split() for part in tied("out of reach about 1 in 5").split(" ")][-2:]
    [['about', '1'], ['in', '5']]
    """
    return FIGURES_NEXT.sub(TIE, words)


@dataclass(frozen=True, slots=True)
class _Lines:
    """Sets the rows of the list.

    Parameters
    ----------
    units : {"us", "metric"}
        What the list speaks.
    width_pt, number_pt : float
        Width of a list column, and of the widest number in it.
    orders : dict of str to tuple of Order
        What holds for single trees.
    laid : dict of str to Lay
        Suggested lays.
    leaning : dict of str to str
        Which way trees lean, in words; only where it is known.
    codes : dict of str to str, optional
        The letters of each species, where these stand for it.
    beyond : frozenset of str
        Trees beyond the map the list is for.
    """

    units: Units
    width_pt: float
    number_pt: float
    orders: dict[str, tuple[Order, ...]]
    laid: dict[str, Lay]
    leaning: dict[str, str]
    codes: dict[str, str] | None = None
    beyond: frozenset[str] = frozenset()

    @property
    def what_pt(self) -> float:
        """Where what follows the number stands."""
        return NUMBER_PT + self.number_pt + NUMBER_AIR_PT

    @property
    def under_pt(self) -> float:
        """Where the lines below the first stand: past the numbers, if there is room for it."""
        return self.what_pt if self.codes is None else NUMBER_PT + UNDER_PT

    @property
    def trail_pt(self) -> float:
        """Where the trail's name stands."""
        if self.codes is None:
            return self.what_pt
        wide = max((width_of(code, PAINTED_PT) for code in self.codes.values()), default=0.0)
        return self.what_pt + wide + width_of(" 88", PAINTED_PT) + NUMBER_AIR_PT

    def told(self, tree: Found) -> list[str]:
        """Give what holds for one tree."""
        return [order.text for order in self.orders.get(tree.tree_id, ())]

    def missed(self, tree: Found) -> tuple[list[str], str]:
        """Give what holds for one tree that is not reached, and its lean where it is known."""
        return self.told(tree), self.leaning.get(tree.tree_id, "")

    def reached(self, tree: Found) -> tuple[list[str], str]:
        """Give what holds for one tree that is reached, and how barely, its lean, why no lay."""
        lay = self.lay_of(tree)
        against = lay is not None and lay.azimuth_deg is not None and lay.lean == "against"
        lean = self.leaning.get(tree.tree_id, "")
        if lay is not None and lay.azimuth_deg is not None:
            lean = lean_to_lay(lay)
        parts = (
            "" if lay is None else why_none(lay),
            "" if self.opened(tree) else reach_said(tree),
            "" if against else lean,
        )
        rest = "; ".join(part for part in parts if part)
        return [*self.told(tree), *([lean] if against else [])], rest

    def lay_of(self, tree: Found) -> Lay | None:
        """Give the lay of a tree that is simply to be cut."""
        return None if self.barred(tree) else self.laid.get(tree.tree_id)

    def barred(self, tree: Found) -> bool:
        """Say whether a tree stays, or is asked about, before anybody cuts it."""
        return any(order.bars for order in self.orders.get(tree.tree_id, ()))

    def opened(self, tree: Found) -> bool:
        """Say whether a tree comes out with its trail, not by a rope from its position."""
        return any(order.kind == "open" for order in self.orders.get(tree.tree_id, ()))

    def titles(self) -> Row:
        """Give the row of column titles."""
        unit = said_unit("ft") if self.units == "us" else "m"
        right = self.width_pt
        titles = (
            (NUMBER_PT, say("crew_col_number")),
            *([] if self.codes is None else [(self.what_pt, say("crew_col_what"))]),
            (self.trail_pt, say("crew_col_at", unit=unit)),
            (right - WAY_PT, say("crew_col_way")),
            (right - POSITION_PT, say("crew_col_position")),
            (right - LAY_PT, say("crew_col_lay")),
        )
        return Row(tuple(Cell(x, (words,), bold=True) for x, words in titles), LEAST_PT)

    def row(self, tree: Found, told: list[str], rest: str = "", *, box: bool = False) -> Row:
        """Write the way to a tree, below that what holds for it, and what it is and the rest."""
        own = width_of(tree.tree_id, PAINTED_PT, bold=True) > MOST_NUMBER_PT
        number = wrap(tree.tree_id, self.width_pt - NUMBER_PT, PAINTED_PT, bold=True)
        above = ("",) * len(number) if own else ()
        at = station_number(tree.at_m, self.units, tree.end_m) if tree.trail_id else ""
        right = self.width_pt
        room = right - WAY_PT - WAY_AIR_PT - self.trail_pt
        parts: list[tuple[float, list[str], bool]] = [
            *([] if self.codes is None else [(self.what_pt, [self.letters(tree)], False)]),
            (self.trail_pt, wrap(f"{tree.start} {at}", room, PAINTED_PT), False),
            (right - WAY_PT, [way_said(tree)], False),
        ]
        if tree.outcome.position_id:
            lay = lay_said(self.lay_of(tree))
            position = NO_POSITION if self.opened(tree) else tree.outcome.position_id
            parts += [(right - POSITION_PT, [position], False), (right - LAY_PT, [lay], False)]
        cells = [Cell(BOX_PT - BOX_OUT_PT, (TICK_BOX,), size_pt=BOX_SIZE_PT)] if box else []
        cells.append(Cell(NUMBER_PT, tuple(number), bold=True, size_pt=PAINTED_PT))
        cells += [Cell(x, (*above, *words), right=r, size_pt=PAINTED_PT) for x, words, r in parts]
        blank = ("",) * max(len(cell.lines) for cell in cells)
        what = "" if tree.species.strip() in (self.codes or ()) else self.what(tree)
        off = say("crew_off_sheet") if tree.tree_id in self.beyond else ""
        last = say("crew_between").join(part for part in (what, off, rest) if part)
        for words in (*told, *([last] if last else [])):
            # no line looks as if it began with a tree's number: it is set in, figures not first
            under = wrap(tied(words), self.width_pt - self.under_pt, SIZE_PT)
            under = [line.replace(TIE, " ") for line in under]
            cells.append(Cell(self.under_pt, (*blank, *under)))
            blank += ("",) * len(under)
        return Row(tuple(cells), SIZE_PT)

    def what(self, tree: Found) -> str:
        """Say species and diameter: with the painted number, what a tree is known by."""
        unit = said_unit("in") if self.units == "us" else "cm"
        size = say("crew_tree_dbh", dbh=dbh_said(tree.dbh_cm, self.units), unit=unit)
        return ", ".join(part for part in (species_said(tree.species), size) if part)

    def letters(self, tree: Found) -> str:
        """Say the letters of the species and the diameter; the diameter alone where none are."""
        code = (self.codes or {}).get(tree.species.strip(), "")
        return f"{code} {dbh_said(tree.dbh_cm, self.units)}".lstrip()
