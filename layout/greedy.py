"""A quick layout: the position that saves most, again and again.

It gives the solver its first solution, so that a time limit always leaves one.
"""

import numpy as np
from numpy.typing import NDArray

from layout.choice_model import (
    BIG_PRICE,
    Choice,
    Floats,
    Forest,
    Ints,
    objective_of,
    used_segments,
)
from layout.kernels import njit

Flags = NDArray[np.uint8]


def greedy(forest: Forest) -> Choice:
    """Choose quickly.

    Parameters
    ----------
    forest : Forest
        The candidates.

    Returns
    -------
    Choice
        A layout that keeps every rule of the model; its bound is 0.
    """
    starts, members = _ragged(forest.class_places)
    rival_starts, rivals = _rivals(forest)
    beside: list[list[int]] = [[] for _ in range(forest.position_segment.size)]
    for p, s in forest.conflicts:
        beside[p].append(s)
    beside_starts, beside_segments = _ragged(tuple(tuple(row) for row in beside))
    price = np.minimum(forest.tree_price, BIG_PRICE)
    order = np.argsort(forest.pair_position, kind="stable")
    pair, opened = _grab(
        forest.parent,
        forest.segment_cost,
        forest.position_segment,
        forest.position_cost,
        forest.position_class,
        np.searchsorted(
            forest.pair_position[order], np.arange(forest.position_segment.size + 1)
        ).astype(np.int64),
        order.astype(np.int64),
        forest.pair_tree,
        forest.pair_cost,
        price,
        forest.place_segment,
        forest.place_cost,
        starts,
        members,
        rival_starts,
        rivals,
        beside_starts,
        beside_segments,
    )
    places = _needed_places(forest, pair, opened.astype(bool))
    used = used_segments(forest, pair, places)
    return Choice(used, places, pair, objective_of(forest, used, places, pair), 0.0, "greedy")


def _needed_places(
    forest: Forest, pair: NDArray[np.int64], opened: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Drop opened places that no position in use waits for."""
    wanted = np.zeros_like(opened)
    for k in pair[pair >= 0]:
        klass = int(forest.position_class[forest.pair_position[k]])
        if klass >= 0:
            members = forest.class_places[klass]
            if not any(wanted[q] for q in members):
                wanted[next(q for q in members if opened[q])] = True
    return wanted


def _ragged(
    groups: tuple[tuple[int, ...], ...],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    starts = np.cumsum([0, *[len(g) for g in groups]]).astype(np.int64)
    return starts, np.array([q for g in groups for q in g], dtype=np.int64)


def _rivals(forest: Forest) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    table: list[list[int]] = [[] for _ in range(forest.parent.size)]
    for a, b in forest.exclusions:
        table[a].append(b)
        if a != b:
            table[b].append(a)
    for a, _ in forest.needs:
        table[a].append(a)  # left to the exact choice
    return _ragged(tuple(tuple(row) for row in table))


@njit
def _grab(
    parent: Ints,
    segment_cost: Floats,
    position_segment: Ints,
    position_cost: Floats,
    position_class: Ints,
    pair_starts: Ints,
    pair_order: Ints,
    pair_tree: Ints,
    pair_cost: Floats,
    price: Floats,
    place_segment: Ints,
    place_cost: Floats,
    class_starts: Ints,
    class_members: Ints,
    rival_starts: Ints,
    rivals: Ints,
    beside_starts: Ints,
    beside_segments: Ints,
) -> tuple[Ints, Flags]:
    segments = parent.size
    positions = position_segment.size
    now = price.copy()
    pair = np.full(price.size, -1, np.int64)
    built = np.zeros(segments, np.uint8)
    opened = np.zeros(place_segment.size, np.uint8)
    site = np.zeros(positions, np.uint8)
    barred = np.zeros(positions, np.uint8)
    way_cost = np.zeros(segments)
    new = np.zeros(segments, np.uint8)
    while True:
        for e in range(segments):  # a parent's number is below its child's
            up = way_cost[parent[e]] if parent[e] >= 0 else 0.0
            way_cost[e] = up + (0.0 if built[e] == 1 else segment_cost[e])
        best = -1
        best_place = -1
        best_net = 1e-9
        for p in range(positions):
            if barred[p] == 1:
                continue
            saved = 0.0
            for i in range(pair_starts[p], pair_starts[p + 1]):
                k = pair_order[i]
                gain = now[pair_tree[k]] - pair_cost[k]
                if gain > 0:
                    saved += gain
            if saved <= best_net:
                continue
            cost = 0.0 if site[p] == 1 else position_cost[p]
            if position_segment[p] >= 0:
                cost += way_cost[position_segment[p]]
            place = -1
            klass = position_class[p]
            if klass >= 0:
                cheapest = np.inf
                for i in range(class_starts[klass], class_starts[klass + 1]):
                    q = class_members[i]
                    if opened[q] == 1:
                        cheapest = 0.0
                        place = -1
                        break
                    price_q = place_cost[q]
                    if place_segment[q] >= 0:
                        price_q += way_cost[place_segment[q]]
                    if price_q < cheapest:
                        cheapest = price_q
                        place = q
                cost += cheapest
            if saved - cost > best_net:
                best_net = saved - cost
                best = p
                best_place = place
        if best < 0:
            break
        for e in range(segments):
            new[e] = 0
        for side in range(2):
            e = position_segment[best] if side == 0 else -1
            if side == 1 and best_place >= 0:
                e = place_segment[best_place]
            while e >= 0:
                if built[e] == 0:
                    new[e] = 1
                e = parent[e]
        clash = False
        for e in range(segments):
            if new[e] == 1:
                for i in range(rival_starts[e], rival_starts[e + 1]):
                    r = rivals[i]
                    if built[r] == 1 or new[r] == 1:
                        clash = True
        for p in range(positions):
            if site[p] == 1 or p == best:
                for i in range(beside_starts[p], beside_starts[p + 1]):
                    e = beside_segments[i]
                    if new[e] == 1 or (p == best and built[e] == 1):
                        clash = True
        if clash:
            barred[best] = 1
            continue
        for e in range(segments):
            if new[e] == 1:
                built[e] = 1
        site[best] = 1
        if best_place >= 0:
            opened[best_place] = 1
        for i in range(pair_starts[best], pair_starts[best + 1]):
            k = pair_order[i]
            if pair_cost[k] < now[pair_tree[k]]:
                now[pair_tree[k]] = pair_cost[k]
                pair[pair_tree[k]] = k
    return pair, opened
