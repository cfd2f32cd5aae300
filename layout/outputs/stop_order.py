"""Where each place stands in the order of work, for every file that names places.

What is done at one place in one go is one stop: its trees, then the winch. Trails are
opened and closed at stops of their own, with what lies on them.

Stops are called as the crew's book numbers the harvest, so that phone and paper agree: the
number of the trail there, then letters where more than one stop has that number. What comes
before the harvest has the number 0, and what is opened in the midst of it the number before.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

from layout.outputs.tree_orders import marked_hazards
from layout.outputs.work_blocks import Part, blocks, numbered

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.work_records import Turn, WorkStep

FEWEST_DIGITS = 2
# Of a stop's letters: none that says what a place is (bar, tree, position) or reads as a digit.
LETTERS = "ACDEFGHJKLMNPQRSUVXYZ"

# Kinds of places, as their type in a file for a receiver says.
SMALL_LANDING = "small landing"
TRAIL_START = "trail start"
TREE = "tree"
TURNING_PLACE = "turning place"
WATER_BAR = "water bar"
WINCH_POSITION = "winch position"
Key = tuple[str, str]  # a kind of place, and what the plan calls it


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop of the work that is left.

    Parameters
    ----------
    number : int
        Of its trail in the harvest, as the crew's book has it; 0 before the harvest.
    part : {"flag", "hazard", "open", "harvest", "landing"}
        Part of the job.
    name : str
        The number in digits and its letters; such names sort in the order of work.
    """

    number: int
    part: Part
    name: str


def on_paper(plan: Plan) -> dict[int, tuple[int, Part]]:
    """Give each step that is left the number and the part of the job the crew's book has it in.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of int to (int, str)
        By the step's own number. The number in the harvest is 0 before it; a part in the midst
        of it has that of the trail before.
    """
    there: dict[int, tuple[int, Part]] = {}
    number = 0
    for one in numbered(blocks(plan.work, marked_hazards(plan)) if plan.work is not None else []):
        number = one.number or number
        for line in one.block.lines:
            there.update(dict.fromkeys(line.numbers, (number, one.block.part)))
    return there


def in_order(plan: Plan) -> dict[Key, Stop]:
    """Give the first stop of each place, in the order of work that is left.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of (str, str) to Stop
        By kind of mark and name; empty where no work was worked out.
    """
    trees = plan.area.trees
    unmarked = {
        # no file has these: stems a trail takes, and the start of a trail on another one
        *((TREE, name) for name, cut in zip(trees.tree_id, trees.marked, strict=True) if not cut),
        *((TRAIL_START, f"{trail.trail_id} 0") for trail in plan.trails if trail.joins_id),
    }
    places: dict[Key, tuple[int, Part, int]] = {}
    there = on_paper(plan)
    count, before = 0, ("", 0)
    for step in sorted(plan.work.steps, key=lambda s: s.number) if plan.work is not None else ():
        if step.done:
            continue
        number, part = there[step.number]
        for keys in _places(plan, step):
            at = (step.position_id, number)
            if not step.position_id or at != before:
                count += 1
            before = at
            for key in keys:
                if key not in unmarked:
                    places.setdefault(key, (number, part, count))
    names = _names({(number, count) for number, _, count in places.values()})
    return {
        key: Stop(number, part, names[number, count])
        for key, (number, part, count) in places.items()
    }


def _names(stops: set[tuple[int, int]]) -> dict[tuple[int, int], str]:
    """Name stops by their number in the harvest, with letters where several have the same."""
    digits = max(FEWEST_DIGITS, len(str(max((number for number, _ in stops), default=0))))
    own: dict[int, list[int]] = defaultdict(list)
    for number, count in sorted(stops):
        own[number].append(count)
    named = {}
    for number, counts in own.items():
        wide = 0
        while len(LETTERS) ** wide < len(counts):
            wide += 1
        for count, letters in zip(counts, product(LETTERS, repeat=wide), strict=False):
            named[number, count] = f"{number:0{digits}d}{''.join(letters)}"
    return named


def gone_to(plan: Plan, step: WorkStep) -> set[Key]:
    """Give all one goes to for a step, with the winch positions its loads stop at on their way.

    Parameters
    ----------
    plan : Plan
        The plan.
    step : WorkStep
        One of its steps.

    Returns
    -------
    set of (str, str)
        By kind of mark and name.
    """
    turns = _turns(plan)
    called = {
        (WINCH_POSITION, position)
        for name in step.turn_ids
        if name in turns
        for position in turns[name].position_ids
    }
    return called.union(*_places(plan, step))


def _places(plan: Plan, step: WorkStep) -> list[list[Key]]:
    """Give what one goes to for a step, stop by stop: all but a rub tree's step have one."""
    if step.kind == "rub":
        return _rub_places(plan, step)
    keys: list[Key] = [(TREE, tree) for tree in step.tree_ids]
    if step.position_id:
        keys.append((WINCH_POSITION, step.position_id))
    if step.kind == "open":
        turns = _turns(plan)
        keys += [(TREE, tree) for name in step.turn_ids for tree in turns[name].tree_ids]
        keys.append((TRAIL_START, f"{step.trail_id} 0"))
        keys += [
            (TURNING_PLACE, place.place_id)
            for place in plan.turning_places
            if place.trail_id == step.trail_id
        ]
    if step.kind in ("small_open", "carry", "small_close"):
        keys.append((SMALL_LANDING, step.trail_id))
    if step.kind == "close":
        keys += [(WATER_BAR, bar.bar_id) for bar in plan.bars if bar.trail_id == step.trail_id]
    return [keys]


def _rub_places(plan: Plan, step: WorkStep) -> list[list[Key]]:
    """Give the trees of a step of rub trees, each with the position it is pulled to.

    Such a step names no position, as it may use several; each tree's own says which.
    """
    pulled = {tree: p.position_id for p in plan.positions for tree in p.tree_ids}
    groups: dict[str, list[Key]] = {}
    for tree in step.tree_ids:
        position = pulled.get(tree, "")
        own: list[Key] = [(WINCH_POSITION, position)] if position else []
        groups.setdefault(position or tree, own).append((TREE, tree))
    turns = _turns(plan)
    for name in step.turn_ids:
        for position in turns[name].position_ids if name in turns else ():
            groups.setdefault(position, [(WINCH_POSITION, position)])
    return list(groups.values()) or [[]]


def _turns(plan: Plan) -> dict[str, Turn]:
    return {} if plan.work is None else {turn.turn_id: turn for turn in plan.work.turns}
