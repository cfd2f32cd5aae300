"""Where each place stands in the order of work, for every file that names places.

What is done at one place in one go is one stop: its trees, then the winch. Trails are
opened and closed at stops of their own, with what lies on them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.work_records import Turn, WorkStep

# Kinds of places, as their type in a file for a receiver says.
SMALL_LANDING = "small landing"
TRAIL_START = "trail start"
TREE = "tree"
TURNING_PLACE = "turning place"
WATER_BAR = "water bar"
WINCH_POSITION = "winch position"
Key = tuple[str, str]  # a kind of place, and what the plan calls it


def in_order(plan: Plan) -> dict[Key, int]:
    """Give the first stop of each place, in the order of work that is left.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of (str, str) to int
        By kind of mark and name, from 0 without a gap; empty where no work was worked out.
    """
    trees = plan.area.trees
    unmarked = {
        # no file has these: stems a trail takes, and the start of a trail on another one
        *((TREE, name) for name, cut in zip(trees.tree_id, trees.marked, strict=True) if not cut),
        *((TRAIL_START, f"{trail.trail_id} 0") for trail in plan.trails if trail.joins_id),
    }
    stops: dict[Key, int] = {}
    number, before = 0, ""
    for step in plan.work.steps if plan.work is not None else ():
        if step.done:
            continue
        for keys in _places(plan, step):
            if not step.position_id or step.position_id != before:
                number += 1
            before = step.position_id
            for key in keys:
                if key not in unmarked:
                    stops.setdefault(key, number)
    ranks = {stop: rank for rank, stop in enumerate(sorted(set(stops.values())))}
    return {key: ranks[stop] for key, stop in stops.items()}


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
