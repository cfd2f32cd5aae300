"""The steps of the work as a crew reads them: parts, a block a trail, a line a place.

The order is the plan's own; nothing is moved. Steps that follow each other at the same
place become one line, lines that follow each other on the same trail one block.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from layout.work_records import Turn, Work, WorkKind, WorkStep

Part = Literal["flag", "hazard", "open", "harvest", "landing"]
T = TypeVar("T")
AT_PLACE = ("fell", "winch", "haul")


@dataclass(frozen=True, slots=True)
class Line:
    """What is done at one place, one after the other.

    Parameters
    ----------
    name : str
        The winch position; of other work the trail.
    does : tuple of str
        Kinds of work, in order, each once.
    tree_ids, turn_ids : tuple of str
        Trees and loads, in order, each once.
    numbers : tuple of int
        The steps in it.
    """

    name: str
    does: tuple[WorkKind, ...]
    tree_ids: tuple[str, ...]
    turn_ids: tuple[str, ...]
    numbers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """Lines that follow each other on one trail.

    Parameters
    ----------
    part : {"flag", "hazard", "open", "harvest", "landing"}
        Part of the job it belongs to.
    trail_id : str
        Empty on the landing.
    lines : tuple of Line
        In order.
    minutes : float
        Productive minutes of its steps.
    landing_id : str
        Where its work is done from; empty where there is one landing alone.
    """

    part: Part
    trail_id: str
    lines: tuple[Line, ...]
    minutes: float
    landing_id: str = ""

    @property
    def turn_ids(self) -> tuple[str, ...]:
        """Give its loads, in order."""
        return tuple(name for line in self.lines for name in line.turn_ids)


def blocks(work: Work, hazards: Collection[str] = ()) -> list[Block]:
    """Divide the work that is still to be done.

    Parameters
    ----------
    work : Work
        Its steps, in order.
    hazards : collection of str
        Trees that come down before any work near them.

    Returns
    -------
    list of Block
        Every step that is not done is in exactly one line of one block.
    """
    turns = {turn.turn_id: turn for turn in work.turns}
    made: list[Block] = []
    for step in sorted(work.steps, key=lambda s: s.number):
        if step.done:
            continue
        part, trail_id = _part(step, turns, hazards), _trail(step, turns)
        new = Line(
            _name(step, turns), (step.kind,), _once(step.tree_ids), _once(step.turn_ids),
            (step.number,),
        )  # fmt: skip
        last = made[-1] if made else None
        # What is not harvest is a list of trails or trees: one block each.
        goes_on = last is not None and (last.part, last.landing_id) == (part, step.landing_id)
        if last is None or not goes_on or (part == "harvest" and last.trail_id != trail_id):
            made.append(Block(part, trail_id, (new,), step.minutes, step.landing_id))
            continue
        *before, line = last.lines
        same = _same(line, step, turns)
        lines = (*before, _joined(line, new)) if same else (*last.lines, new)
        made[-1] = replace(last, lines=lines, minutes=last.minutes + step.minutes)
    return made


@dataclass(frozen=True, slots=True)
class Numbered:
    """A block with its place in the whole job.

    Parameters
    ----------
    part : int
        Number of its part, 1 for the first.
    number : int
        Of a block of harvest, in the order of them all; 0 of any other.
    block : Block
        The block, or those of its lines that are meant.
    """

    part: int
    number: int
    block: Block


def numbered(there: Sequence[Block]) -> list[Numbered]:
    """Count the parts of the job, and its blocks of harvest through all parts."""
    made: list[Numbered] = []
    last, part, count = ("", ""), 0, 0
    for block in there:
        if (block.part, block.landing_id) != last:
            last, part = (block.part, block.landing_id), part + 1
        count += block.part == "harvest"
        made.append(Numbered(part, count if block.part == "harvest" else 0, block))
    return made


def felled_first(work: Work, hazards: Collection[str]) -> frozenset[str]:
    """Name the trees that a part of their own brings down before all else."""
    turns = {turn.turn_id: turn for turn in work.turns}
    first = (step for step in work.steps if _part(step, turns, hazards) == "hazard")
    return frozenset(tree for step in first for tree in step.tree_ids)


def done(work: Work) -> tuple[WorkStep, ...]:
    """Give the steps that are done already."""
    return tuple(step for step in work.steps if step.done)


def _part(step: WorkStep, turns: Mapping[str, Turn], hazards: Collection[str] = ()) -> Part:
    """Say which part of the job a step belongs to."""
    if step.kind in ("flag", "open", "landing"):
        return step.kind
    if step.kind == "small_open":
        return "open"
    if step.kind == "fell" and step.tree_ids and set(step.tree_ids) <= set(hazards):
        return "hazard"
    loads = [turns[name] for name in step.turn_ids if name in turns]
    opening = step.kind == "haul" and bool(loads) and all(t.stage == "open" for t in loads)
    return "open" if opening else "harvest"


def _trail(step: WorkStep, turns: Mapping[str, Turn]) -> str:
    """Say which trail a step is on; a haul that names none is on its load's."""
    if step.trail_id or step.kind != "haul":
        return step.trail_id
    return next((turns[name].trail_id for name in step.turn_ids if name in turns), "")


def _name(step: WorkStep, turns: Mapping[str, Turn]) -> str:
    """Name the place of a step: a winch position, or a trail."""
    if step.kind not in AT_PLACE or _part(step, turns) == "open":
        return _trail(step, turns)
    if step.position_id or step.kind != "haul":
        return step.position_id
    loads = [turns[name] for name in step.turn_ids if name in turns]
    return loads[0].position_id if loads else ""


def _same(line: Line, step: WorkStep, turns: Mapping[str, Turn]) -> bool:
    """Say whether a step goes on where a line was."""
    loads = [turns[name] for name in step.turn_ids if name in turns]
    if step.kind == "haul":
        if line.does[0] == "open":
            return bool(loads) and line.name in {t.trail_id for t in loads}
        if line.does[0] == "rub":
            return bool(loads) and all(t.stage == "rub" for t in loads)
        stops = {name for t in loads for name in t.position_ids}
        return line.does[0] in AT_PLACE and line.name in stops | {_name(step, turns)}
    if step.kind in AT_PLACE:
        return line.does[0] in AT_PLACE and line.name == step.position_id
    return step.kind == line.does[0] and line.name == _trail(step, turns)


def _joined(line: Line, new: Line) -> Line:
    """Put a step's work behind a line's."""
    return Line(
        line.name,
        _once((*line.does, *new.does)),
        _once((*line.tree_ids, *(new.tree_ids if new.does != ("haul",) else ()))),
        _once((*line.turn_ids, *new.turn_ids)),
        (*line.numbers, *new.numbers),
    )


def _once(names: Sequence[T]) -> tuple[T, ...]:
    """Give each name once, in order."""
    return tuple(dict.fromkeys(names))
