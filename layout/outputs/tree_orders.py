"""What must be done, or asked, before a marked tree is cut, said beside that tree.

A finding tells of all trees at one wire or one water; whoever stands at a tree
needs what holds for that one. It is worked out anew from the same measures the
checks take, never read off a message.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from layout.checks import felling, strip_trees
from layout.land import hazard_tree_reach_m, near_hazard_trees, property_edge
from layout.outputs.words import ENGLISH, counted, say
from layout.outputs.words import word as word_of
from layout.owner_lines import doubtful_trees
from layout.speech import speak_length

if TYPE_CHECKING:
    from collections.abc import Iterator

    from layout.plan import Plan
    from layout.records import RubTree

FEW = 3  # winch positions named one by one
STRIP_TREES = ("strip_no_cut", "strip_bank_trees", "strip_cutting")
Kind = Literal["first", "stay", "ask", "open", "near", "last"]


@dataclass(frozen=True, slots=True)
class Order:
    """One thing that holds for one marked tree.

    Parameters
    ----------
    kind : {"first", "stay", "ask", "open", "near", "last"}
        It comes down first; it must stay; before it is cut, somebody is asked, the line
        confirmed, or a hazard tree near it down; it comes out when its trail is opened;
        it can reach something when it falls; or it is cut last, as a rub tree.
    text : str
        What to do, and why.
    """

    kind: Kind
    text: str

    @property
    def bars(self) -> bool:
        """Whether the tree is not simply one to cut."""
        return self.kind in ("stay", "ask")


@dataclass(frozen=True, slots=True)
class HazardTree:
    """A listed tree that may come down on somebody, and still stands.

    Parameters
    ----------
    row : int
        Of the tree list.
    tree_id, hazard : str
        Its number, and what is wrong with it, in words.
    marked : bool
        Whether it is marked to be cut.
    x, y : float
        Grid coordinates, metres.
    reach_m : float
        How far everybody stays away while it stands: two tree lengths.
    """

    row: int
    tree_id: str
    hazard: str
    marked: bool
    x: float
    y: float
    reach_m: float


def orders(plan: Plan) -> dict[str, tuple[Order, ...]]:
    """Say what holds for each marked tree that still stands.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to tuple of Order
        By tree; only trees of which there is something to say. What comes first,
        what must stay, what is to be asked, what comes out with its trail, what is cut
        last, then what a tree can reach.
    """
    area = plan.area
    trees = area.trees
    said: dict[str, list[Order]] = {}
    for row, kind in enumerate(trees.hazard):
        if kind and trees.to_serve[row]:
            said.setdefault(trees.tree_id[row], []).append(Order("first", first_said(kind)))
    told = any(finding.code in STRIP_TREES for finding in plan.findings)
    for claim in strip_trees.claims(area, plan.terrain) if told else ():
        text = say(f"order_strip_{claim.what}", water=claim.water_id)
        what: Kind = "stay" if claim.what in ("core", "bank") else "ask"
        said.setdefault(claim.tree_id, []).append(Order(what, text))
    for name, text in (*_inside(plan), *_not_sure_yours(plan)):
        said.setdefault(name, []).append(Order("ask", text))
    for thing in felling.near(area, property_edge(area)):
        text = _near(thing)
        for row in thing.rows.tolist():
            said.setdefault(trees.tree_id[row], []).append(Order("near", text))
    for name, text in _opened(plan):
        said.setdefault(name, []).append(Order("open", text))
    rubs = {rub.tree_id: rub for rub in plan.rub_trees if rub.kind == "marked"}
    for outcome in plan.trees:
        if outcome.role == "rub":
            text = _last(plan, rubs.get(outcome.tree_id))
            said.setdefault(outcome.tree_id, []).append(Order("last", text))
    rank = ("first", "stay", "ask", "open", "last", "near")
    return {
        tree_id: tuple(sorted(them, key=lambda order: rank.index(order.kind)))
        for tree_id, them in said.items()
    }


@lru_cache(maxsize=2)
def barred(plan: Plan) -> frozenset[str]:
    """Name the marked trees that are not simply to be cut: they stay, or something comes first.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    frozenset of str
    """
    return frozenset(
        name for name, said in orders(plan).items() if any(order.bars for order in said)
    )


@lru_cache(maxsize=2)
def idle_positions(plan: Plan) -> frozenset[str]:
    """Name the winch positions without work: all their trees come out when trails are opened.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    frozenset of str
        None where no work was worked out.
    """
    if plan.work is None:
        return frozenset()
    opened = {name for name, _ in _opened(plan)}
    used = {name for turn in plan.work.turns for name in turn.position_ids}
    return frozenset(
        p.position_id
        for p in plan.positions
        if p.tree_ids and opened.issuperset(p.tree_ids) and p.position_id not in used
    )


def positions_said(plan: Plan) -> str:
    """Count the winch positions, and those of them that have no work."""
    idle = len(idle_positions(plan))
    all_of_them = counted("position", len(plan.positions))
    return say("map_idle", positions=all_of_them, idle=idle) if idle else all_of_them


def without_idle(plan: Plan) -> Plan:
    """Give the plan without the winch positions that have no work, and their pulls."""
    idle = idle_positions(plan)
    return replace(
        plan,
        positions=tuple(p for p in plan.positions if p.position_id not in idle),
        pulls=tuple(pull for pull in plan.pulls if pull.position_id not in idle),
    )


def marked_hazards(plan: Plan) -> frozenset[str]:
    """Name the marked hazard trees that still stand: they come down before all else."""
    return frozenset(tree.tree_id for tree in standing_hazards(plan) if tree.marked)


def two_lengths_m(plan: Plan) -> float | None:
    """Give two lengths of the tallest marked tree that still stands; None where none does."""
    reach = hazard_tree_reach_m(plan.area)[plan.area.trees.to_serve]
    return float(reach.max()) if reach.size else None


def near_hazards(plan: Plan) -> Counter[str]:
    """Count the marked trees that could reach each hazard, by the hazard's name."""
    return Counter(
        {
            thing.name: len(thing.rows)
            for thing in felling.near(plan.area, property_edge(plan.area))
            if thing.kind != felling.LINE
        }
    )


def near_said(kind: str, count: int) -> str:
    """Say how many marked trees could reach a hazard, and what is done about it first."""
    trees = counted("order_near_trees", count)
    return say("order_map", trees=trees, ask=_asked(kind))


def standing_hazards(plan: Plan) -> list[HazardTree]:
    """List the hazard trees that still stand.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of HazardTree
        In the order of the tree list.
    """
    trees = plan.area.trees
    if not any(trees.hazard):
        return []
    reach, done = hazard_tree_reach_m(plan.area), set(trees.done)
    return [
        HazardTree(
            row,
            trees.tree_id[row],
            hazard_said(kind),
            bool(trees.marked[row]),
            float(trees.x[row]),
            float(trees.y[row]),
            float(reach[row]),
        )
        for row, kind in enumerate(trees.hazard)
        if kind and trees.tree_id[row] not in done
    ]


def keep_off(plan: Plan) -> list[HazardTree]:
    """List the hazard trees that are not marked: everybody keeps two tree lengths off."""
    return [tree for tree in standing_hazards(plan) if not tree.marked]


def keep_off_said(tree: HazardTree, plan: Plan) -> str:
    """Say that a hazard tree is not marked, and how far everybody keeps off."""
    off = speak_length(tree.reach_m, plan.area.settings.area.units)
    return say("order_keep_off", kind=tree.hazard, distance=off)


def first_said(kind: str) -> str:
    """Say of a marked hazard tree, by its kind, that it is cut before any work near it."""
    return say("order_first", kind=hazard_said(kind))


def until_down_said(tree: HazardTree, plan: Plan) -> str:
    """Say how far everybody keeps off a marked hazard tree until it lies."""
    off = speak_length(tree.reach_m, plan.area.settings.area.units)
    return say("device_until_down", distance=off)


def hazard_said(kind: str) -> str:
    """Say what is wrong with a hazard tree.

    Examples
    --------
    >>> hazard_said("dead_top"), hazard_said("leans_on_wall")
    ('dead top', 'leans on wall')
    """
    known = f"tree_hazard_{kind}" in ENGLISH
    return say(f"tree_hazard_{kind}") if known else kind.replace("_", " ")


def thing_said(kind: str, name: str) -> str:
    """Name a hazard by its kind and its own name, the kind once.

    Examples
    --------
    >>> thing_said("wire", "H1"), thing_said("wire", "wire-1")
    ('wire H1', 'wire-1')
    """
    word = word_of(f"hazard_{kind}", kind.replace("_", " "))
    return name if name.lower().startswith(word) else f"{word} {name}".strip()


def _inside(plan: Plan) -> Iterator[tuple[str, str]]:
    """Name the marked trees that stand where everybody keeps off, each with what to do."""
    trees, units = plan.area.trees, plan.area.settings.area.units
    for bad, near in near_hazard_trees(plan.area).items():
        name, kind = trees.tree_id[bad], hazard_said(trees.hazard[bad])
        for row in near.tolist():
            off_m = math.hypot(trees.x[row] - trees.x[bad], trees.y[row] - trees.y[bad])
            away = speak_length(off_m, units)
            yield trees.tree_id[row], say("order_inside", tree=name, kind=kind, away=away)


def _opened(plan: Plan) -> Iterator[tuple[str, str]]:
    """Name the marked trees that come out when their trail is opened, not by the winch.

    They stand in its way: waiting for their own winch position would leave the trail shut.
    """
    reached = {o.tree_id for o in plan.trees if o.position_id}
    for step in plan.work.steps if plan.work is not None else ():
        if step.kind != "open" or step.done:
            continue
        for name in step.tree_ids:
            if name in reached:
                yield name, say("order_open", trail=step.trail_id)


def _not_sure_yours(plan: Plan) -> Iterator[tuple[str, str]]:
    """Name the marked trees that may stand beyond the line, each with what to do."""
    area, found = plan.area, doubtful_trees(plan.area)
    which = "order_line_drawn" if area.property_line is not None else "order_line_edge"
    for row, away in zip(found.rows.tolist(), found.away_m.tolist(), strict=True):
        if area.trees.to_serve[row]:
            line = say(which, away=speak_length(away, area.settings.area.units))
            yield area.trees.tree_id[row], say("order_line", line=line)


def _last(plan: Plan, rub: RubTree | None) -> str:
    """Say what a rub tree spares, and after whose loads it may be cut."""
    if rub is None:
        return say("order_last", spares="", when=say("order_last_never"))
    spared = ", ".join(rub.protects)
    spares = say("order_spares", trees=spared) if spared else say("order_spares_corner")
    count, last = len(rub.cut_after), _last_past(plan, rub.cut_after)
    if not count:
        when = say("order_last_never")
    elif count == 1 or (not last and count <= FEW):
        when = say("order_last_of", positions=", ".join(rub.cut_after))
    elif last:
        when = say("order_last_named", position=last, count=count)
    else:
        when = say("order_last_many", count=count)
    return say("order_last", spares=spares, when=when)


def _last_past(plan: Plan, positions: tuple[str, ...]) -> str:
    """Name the one of some winch positions whose last load comes last; empty without an order."""
    order = {
        name: turn.order
        for turn in sorted(plan.work.turns if plan.work else (), key=lambda turn: turn.order)
        if turn.stage != "rub" and turn.state != "retired"
        for name in turn.position_ids
        if name in positions
    }
    return max(order, key=lambda name: (order[name], name), default="")


def _near(thing: felling.Near) -> str:
    """Say what a tree can reach when it falls, and what is done about that."""
    if thing.kind == felling.LINE:
        return say("order_near_line")
    return say("order_near", thing=thing_said(thing.kind, thing.name), ask=_asked(thing.kind))


def _asked(kind: str) -> str:
    known = f"order_ask_{kind}" in ENGLISH
    return say(f"order_ask_{kind}" if known else "order_ask_other")
