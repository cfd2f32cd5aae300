"""The rows of the order of work: what stands at one place, with its boxes to tick."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from layout.closeout import LANDING_TASKS
from layout.outputs.amounts import most_load
from layout.outputs.crew import trailer_rows
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.flagging import station_number
from layout.outputs.crew.rub_logs import cleared_with, logs_to_lay
from layout.outputs.crew.sheet import width_of, wrap
from layout.outputs.crew.tick_runs import Run, cells
from layout.outputs.crew.work_said import hours_said, kept, spans, unit
from layout.outputs.trailer_place import ends_there
from layout.outputs.tree_orders import barred, marked_hazards
from layout.outputs.words import counted, say
from layout.outputs.work_blocks import felled_first
from layout.outputs.work_lines import StepLines, groups_by_tree
from layout.tongue import number as said_number
from layout.units import FOOT_M

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from layout.outputs.work_blocks import Block, Line
    from layout.plan import Plan
    from layout.records import FellingGroup

# Of the letters, the first on paper that may be many pages; the others where all lists of a job
# are to fit into few.
SIZES_PT = (9.0, 8.2, 7.6, 7.3)
HEAD_PT = 9.0
PART_PT = 9.4
# Where the parts of a row stand, points from the column's left edge.
NAME_PT, NAME_END_PT, AT_PT, WHAT_PT = 10.2, 41.5, 65.0, 69.0
UNHEADED = ("close", "carry", "small_close")


class Rows:
    """Sets the rows of one plan's order of work.

    Parameters
    ----------
    plan : Plan
        A plan whose work was worked out.
    width_pt : float
        Width of a list column.
    size_pt : float, optional
        Size of the letters, where it is not the first of `SIZES_PT`.
    """

    def __init__(self, plan: Plan, width_pt: float, size_pt: float | None = None) -> None:
        assert plan.work is not None
        self.plan, self.work = plan, plan.work
        self.width_pt, self.size_pt = width_pt, size_pt or SIZES_PT[0]
        self.units = plan.area.settings.area.units
        self._turns = {turn.turn_id: turn for turn in self.work.turns}
        self._steps = {step.number: step for step in self.work.steps}
        self._pieces = {(piece.tree_id, piece.number): piece for piece in self.work.pieces}
        # pieces that are in count too: what is left of their tree is no whole tree
        there = self._pieces.keys() | plan.area.trees.done_pieces
        self._many = Counter(tree for tree, _ in there)
        self._shorter = {cut.tree_id: cut for cut in self.work.shorter}
        self._positions = {p.position_id: p for p in plan.positions}
        self._groups, self._barred = groups_by_tree(plan), barred(plan)
        self._ends = {trail.trail_id: trail.line.length for trail in plan.trails}
        self._bars = Counter(bar.trail_id for bar in plan.bars if bar.kind == "bar")
        closing = plan.closeout.items if plan.closeout is not None else ()
        self._closing = {item.trail_id: item for item in closing}
        # one that is held is not taken to lie there
        self._first = felled_first(self.work, marked_hazards(plan)) - self._barred
        self._to_lay = logs_to_lay(plan)
        self._rub_of = {rub.tree_id: rub for rub in plan.rub_trees if rub.tree_id}
        self._rubs = cleared_with(plan)
        self._pulled_to = {t: p.position_id for p in plan.positions for t in p.tree_ids}

    def part(self, key: str, number: int, landing_id: str = "") -> Row:
        """Give the heading of a part of the job, and of several landings which it is done from."""
        said = say(key, number=number)
        if landing_id:
            own = key.startswith("crew_work_part_landing")
            said = say("crew_work_part_own" if own else "crew_work_part_from", part=said,
                       number=number, landing=landing_id)  # fmt: skip
        words = wrap(said, self.width_pt, PART_PT, bold=True)
        return Row((Cell(0.0, tuple(words), bold=True),), PART_PT, head=True)

    def flagged(self, block: Block) -> list[Row]:
        """Give the steps of flagging, in the words they have everywhere."""
        lines = StepLines(self.plan)
        steps = {step.number: step for step in self.work.steps}
        runs = [Run(lines.line(steps[line.numbers[0]]), boxed=True) for line in block.lines]
        return [Row(cells(runs, 0.0, self.width_pt, self.size_pt), self.size_pt)]

    def hazards(self, block: Block) -> list[Row]:
        """Give the trees that come down before any other work near them."""
        return [self._winching(line, first=True) for line in block.lines]

    def opened(self, block: Block) -> list[Row]:
        """Give the trails to open: a row each, and one for a run of those that are bare."""
        rows: list[Row] = []
        bare: list[Run] = []
        for line in block.lines:
            if line.does[0] == "small_open":
                rows += self._bare(bare)
                bare = []
                name, runs = say("crew_work_small"), trailer_rows.made(self.plan, self.place)
                rows.append(self._row(name, "", runs, boxed=False))
            elif line.tree_ids or line.turn_ids or line.name in self._to_lay:
                rows += self._bare(bare)
                bare = []
                rows.append(self._opening(line))
            else:
                bare.append(Run(self._trail(line.name), boxed=True, bold=True))
        return rows + self._bare(bare)

    def _bare(self, runs: list[Run]) -> list[Row]:
        return [Row(cells(runs, 0.0, self.width_pt, self.size_pt), self.size_pt)] if runs else []

    def _opening(self, line: Line) -> Row:
        """Say how heavy a load out of a trail may be, and the loads its stems make."""
        kg = min((self._turns[n].limit_kg for n in line.turn_ids if n in self._turns),
                 default=math.nan)  # fmt: skip
        most = most_load(kg, self.units)
        runs = [Run(say("crew_work_most_short", load=kept(most)))] if most else []
        loaded = {tree for name in line.turn_ids for tree in self._tree_ids(name)}
        told = [
            t for t in line.tree_ids
            if t not in loaded or t in self._shorter or t in self._barred
        ]  # fmt: skip
        runs += self._stems(told, "crew_work_trees")
        lay = [
            Run(say("crew_work_lay_log", rub=rub.rub_id, place=self.place(at.trail_id, at.at_m),
                    side=say(f"crew_side_{at.side}")), boxed=True)
            for rub, at in self._to_lay.get(line.name, ())
        ]  # fmt: skip
        return self._row(self._trail(line.name), "", [*runs, *self._loads(line), *lay])

    def harvested(self, block: Block, number: int) -> list[Row]:
        """Give a trail's harvest: how much it bears, its winch positions, rub trees, closeout.

        The number is that of the block among all; a phone's names begin with it.
        """
        name = self.named(block, number)
        again = (Cell(0.0, (say("crew_work_again", trail=name),), bold=True),)
        rows = [self._heading(block, name)]
        for at, line in enumerate(block.lines):
            if line.does[0] == "rub":
                row = self._row(say("crew_work_rub"), "", self._rub(line))
            elif line.does[0] == "close":
                name = say("crew_work_close", trail=line.name)
                row = self._row(name, "", self._close(line.name), boxed=False)
            elif line.does[0] == "carry":
                numbers = [n for k in line.numbers for n in self._steps[k].trips]
                row = self._row(
                    say("crew_work_carry"), "", trailer_rows.trips(numbers), boxed=False
                )
            elif line.does[0] == "small_close":
                name = say("crew_work_small_close")
                row = self._row(name, "", trailer_rows.closed(), boxed=False)
            else:
                row = self._winching(line)
            rows.append(Row(row.cells, row.size_pt, again=again if at else ()))
        return rows

    def named(self, block: Block, number: int) -> str:
        """Name a block of harvest by its number and trail, or what is done if it is no winching."""
        said = self._trail(block.trail_id)
        if all(line.does[0] in UNHEADED for line in block.lines):
            other = {
                "carry": say("crew_work_carry"),
                "small_close": say("crew_work_small_close"),
            }
            names = [
                other.get(line.does[0]) or say("crew_work_close", trail=line.name)
                for line in block.lines
            ]
            said = ", ".join(dict.fromkeys(names))
        return say("crew_work_block", number=number, trail=said)

    def landing(self) -> list[Row]:
        """Give what is done on the landing, last of all."""
        runs = [Run(say(f"crew_work_landing_{task}"), boxed=True) for task in LANDING_TASKS]
        return [Row(cells(runs, 0.0, self.width_pt, self.size_pt), self.size_pt)]

    def _trail(self, trail_id: str) -> str:
        return trail_id or say("crew_work_landing")

    def _heading(self, block: Block, name: str) -> Row:
        """Say which trail it is, the heaviest load from it and what sets that, and the hours."""
        hours = hours_said(self.plan, block.minutes)
        room = self.width_pt - width_of(hours, self.size_pt) - 4.0
        runs = [Run(name, bold=True, size_pt=HEAD_PT), Run(self._most(block))]
        made = cells(runs, 0.0, room, self.size_pt)
        if hours:
            made += (Cell(self.width_pt, (hours,), right=True),)
        return Row(made, self.size_pt, head=True)

    def _most(self, block: Block) -> str:
        """Say the least of the limits of a block's loads."""
        turns = [self._turns[name] for name in block.turn_ids if name in self._turns]
        known = [turn for turn in turns if math.isfinite(turn.limit_kg)]
        if not known:
            return say("crew_work_most_unknown") if turns else ""
        least = min(known, key=lambda turn: turn.limit_kg)
        load = most_load(least.limit_kg, self.units)
        if not least.limited_by:
            return say("crew_work_most_plain", load=load)
        by = say(f"crew_work_by_{least.limited_by}")
        ways = [self._pieces[name].way for name in least.pieces if name in self._pieces]
        way = min(ways, key=lambda way: way.limit_kg, default=None)
        if way is None or not way.limit_trail_id:  # on level ground already
            return say("crew_work_most_level", load=load, by=by)
        place = self.place(way.limit_trail_id, way.limit_at_m)
        return say("crew_work_most", load=load, by=by, place=place)

    def place(self, trail_id: str, at_m: float) -> str:
        """Say a place: a trail and a station, with its unit."""
        if not trail_id:
            return say("crew_work_landing")
        number = station_number(at_m, self.units, self._ends.get(trail_id, math.inf))
        return say("crew_work_place", trail=trail_id,
                   at=f"{number}\N{NO-BREAK SPACE}{unit(self.plan)}")  # fmt: skip

    def _winching(self, line: Line, *, first: bool = False) -> Row:
        """Say what is felled and winched at a position, where all wait, and its loads."""
        position = self._positions.get(line.name)
        at = ""
        if position is not None and position.trail_id:
            end_m = self._ends.get(position.trail_id, math.inf)
            at = station_number(position.at_m, self.units, end_m)
        fells, winches = "fell" in line.does, "winch" in line.does
        both = fells == winches
        key = "crew_work_trees" if both else "crew_work_fell" if fells else "crew_work_winch"
        # always: a bare station reads as a tree's number
        runs = self._stems(line.tree_ids, key, down=frozenset() if first else self._first)
        group = next((g for t in line.tree_ids if (g := self._groups.get(t))), None)
        if fells and group is not None:
            runs.append(Run(kept(self._wait(group))))
        runs += self._loads(line)
        name = line.name or (say("crew_work_here") if fells or winches else "")
        open_ = not line.tree_ids or not self._barred.issuperset(line.tree_ids)
        return self._row(name, at, runs, boxed=(fells or winches) and open_)

    def _wait(self, group: FellingGroup) -> str:
        """Say where the tractor waits while trees are felled."""
        if group.trail_id is None or group.at_m is None:
            return say("crew_work_wait_nowhere")
        if not group.trail_id:
            return say("crew_work_wait_landing")
        return say("crew_work_wait", place=self.place(group.trail_id, group.at_m))

    def _stems(
        self, trees: Sequence[str], key: str, down: Collection[str] = frozenset()
    ) -> list[Run]:
        """Name trees: what each is cut into, that one is barred, or lies there already."""
        names = (self._stem_whole(tree, down) for tree in trees)
        return [Run(say(key, trees=", ".join(names)))] if trees else []

    def _stem_whole(self, tree: str, down: Collection[str]) -> str:
        """Name a tree with all that is said of it."""
        lies = say("crew_work_down") if tree in down else ""
        return f"{self._stem(tree)}{lies}{self._cut(tree)}"

    def _stem(self, tree: str) -> str:
        return say("crew_work_hold", tree=kept(tree)) if tree in self._barred else kept(tree)

    def _loads(self, line: Line) -> list[Run]:
        """Name a line's loads, with what each holds; a box each, but for trees that are barred."""
        return [
            Run(
                say(self._load_key(name), load=name, trees=self._held(name)),
                boxed=not self._barred.issuperset(self._tree_ids(name)),
            )
            for name in line.turn_ids
        ]

    def _load_key(self, turn_id: str) -> str:
        """Tell a load that ends at the small landing from the others."""
        turn = self._turns.get(turn_id)
        small = turn is not None and ends_there(turn)
        return "crew_work_load_small" if small else "crew_work_load"

    def _tree_ids(self, turn_id: str) -> tuple[str, ...]:
        turn = self._turns.get(turn_id)
        return () if turn is None else tuple(dict.fromkeys(tree for tree, _ in turn.pieces))

    def _whole(self, turn_id: str, tree_id: str) -> bool:
        """Say whether all pieces of a tree are on one load."""
        held = sum(tree == tree_id for tree, _ in self._turns[turn_id].pieces)
        return held >= self._many[tree_id]

    def _held(self, turn_id: str) -> str:
        """Name the trees of a load; of those that are not whole on it, the pieces."""
        turn = self._turns.get(turn_id)
        if turn is None:
            return ""
        said = []
        for tree in self._tree_ids(turn_id):
            numbers = [number for name, number in turn.pieces if name == tree]
            known = all(
                self._pieces[tree, n].mass_known for n in numbers if (tree, n) in self._pieces
            )
            name = kept(f"{tree}{'' if known else '?'}")
            if not self._whole(turn_id, tree):
                name = say("crew_work_piece", tree=name, pieces=spans(numbers))
            if tree in self._barred and not self._barred.issuperset(self._tree_ids(turn_id)):
                name = say("crew_map_hold", tree=name)
            said.append(name)
        return ", ".join(said)

    def _cut(self, tree_id: str) -> str:
        """Say what a tree is cut into where its usual logs are too heavy; mostly nothing."""
        if tree_id not in self._shorter:
            return ""
        lengths = self._shorter[tree_id].lengths_m
        if not lengths:
            return say("crew_work_cut_none")
        said = [
            f"{m / FOOT_M:.0f}" if self.units == "us" else said_number(m, ".1f") for m in lengths
        ]
        said = said[:1] if len(set(said)) == 1 else said
        return say("crew_work_cut", lengths=f"{', '.join(said)}\N{NO-BREAK SPACE}{unit(self.plan)}")

    def _rub(self, line: Line) -> list[Run]:
        """Name the rub trees that come out now, each with its place, and their loads."""
        runs = []
        for tree in line.tree_ids:
            rub = self._rub_of.get(tree)
            if rub is None or not rub.places:
                runs.append(Run(f"{self._stem_whole(tree, self._first)};"))
                continue
            at = rub.places[0]
            name = self._stem_whole(tree, self._first)
            pulled = self._pulled_to.get(tree, "")
            runs.append(Run(say("crew_work_rub_tree", tree=name, rub=rub.rub_id,
                                place=self.place(at.trail_id, at.at_m),
                                side=say(f"crew_side_{at.side}"),
                                to=say("crew_work_rub_to", position=pulled) if pulled else ""))
                        )  # fmt: skip
        if not runs:
            runs = [Run(say("crew_work_rub_all", trail=self._trail(line.name)))]
        return runs + self._loads(line)

    def _close(self, trail_id: str) -> list[Run]:
        """Give what is done to close a trail, a box each."""
        item = self._closing.get(trail_id)
        if item is None:
            said = [say("crew_work_close_ruts")]
            if self._bars[trail_id]:
                said.append(counted("crew_work_close_bars", self._bars[trail_id]))
            said.append(say("crew_work_close_brush"))
        else:
            said = [
                counted("crew_work_close_bars", len(item.bars))
                if task == "bars"
                else say(f"crew_work_close_{'ground' if task == 'ruts' else task}")
                for task in item.tasks
                if task != "berms"  # said with the ruts
            ]
        for rub in self._rubs.get(trail_id, ()):
            said.append(say(f"crew_work_close_{rub.kind}", rub=rub.rub_id, tree=rub.tree_id))
        return [Run(words, boxed=True) for words in said]

    def _row(self, name: str, at: str, runs: list[Run], *, boxed: bool = True) -> Row:
        """Set a name, its station and what is done there."""
        if runs and not runs[-1].boxed:
            runs = [*runs[:-1], replace(runs[-1], words=runs[-1].words.rstrip(";"))]
        end_pt = NAME_END_PT if at else WHAT_PT - 2.0
        wide = width_of(name, self.size_pt, bold=True) > end_pt - NAME_PT
        above = 0
        made: list[Cell] = []
        if boxed:
            made += cells([Run(name, boxed=True, bold=True)], 0.0, self.width_pt, self.size_pt)
        else:
            words = tuple(wrap(name, self.width_pt - NAME_PT, self.size_pt, bold=True))
            made.append(Cell(NAME_PT, words, bold=True))
        if wide:  # a long name has its lines for itself
            above = max(len(cell.lines) for cell in made)
        blank = ("",) * above
        if at:
            made.append(Cell(AT_PT, (*blank, at), right=True))
        made += [
            Cell(c.x_pt, (*blank, *c.lines), c.bold, c.right, c.size_pt)
            for c in cells(runs, WHAT_PT, self.width_pt - WHAT_PT, self.size_pt)
        ]
        return Row(tuple(made), self.size_pt)
