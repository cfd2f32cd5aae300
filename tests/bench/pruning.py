"""Greedy cover, then everything dropped that does not pay: a rival for the exact choice."""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from layout.choice_model import Choice, Forest, objective_of, used_segments
from layout.greedy import greedy
from layout.solver import Solver

Flags = NDArray[np.bool_]


def greedy_pruned(forest: Forest, solver: Solver, **_: object) -> Choice:
    """Choose greedily, then drop what does not pay; stands in for `layout.choice.choose`."""
    return prune(forest, greedy(forest))


class GreedyNear:
    """The same in every round of growing; stands in for `layout.choice.Near`."""

    def __init__(self, forest: Forest, solver: Solver, **_: object) -> None:
        self._solver = solver

    def choose(self, forest: Forest, *, time_limit_s: float) -> Choice:
        """Choose greedily, then drop what does not pay."""
        return greedy_pruned(forest, self._solver)


def prune(forest: Forest, first: Choice) -> Choice:
    """Drop positions, whole ends of spurs and turning places as long as the objective falls.

    Trees move to the cheapest pull that is left, or stay standing at their price.
    """
    f = forest
    served = first.tree_pair[first.tree_pair >= 0]
    open_p = np.zeros(f.position_segment.size, dtype=bool)
    open_p[f.pair_position[served]] = True
    open_q = first.places.copy()
    order = np.lexsort((f.pair_cost, f.pair_tree))
    above = _ways(f)
    best, pair = _cost(f, order, open_p, open_q)
    improved = True
    while improved:
        improved = False
        for drop_p, drop_q in _drops(f, above, open_p, open_q):
            less_p, less_q = open_p & ~drop_p, open_q & ~drop_q
            if (less_p == open_p).all() and (less_q == open_q).all():
                continue
            less_p = less_p & _backed(f, less_q)
            cost, other = _cost(f, order, less_p, less_q)
            if cost < best - 1e-9:
                best, pair, improved = cost, other, True
                used = other[other >= 0]
                open_p[:] = False
                open_p[f.pair_position[used]] = True
                open_q[:] = less_q
    used_e = used_segments(f, pair, open_q)
    return Choice(used_e, open_q, pair, objective_of(f, used_e, open_q, pair), 0.0, "greedy")


def _ways(f: Forest) -> Flags:
    """Tell which segments lie on the way to each segment, itself too, shape (e, e)."""
    above = np.eye(f.parent.size, dtype=bool)
    for e in range(f.parent.size):  # a parent's number is below its child's
        if f.parent[e] >= 0:
            above[e] |= above[f.parent[e]]
    return above


def _backed(f: Forest, open_q: Flags) -> Flags:
    """Tell which positions the tractor can be backed to."""
    by_class = [any(open_q[q] for q in members) for members in f.class_places]
    return np.append(np.array(by_class, dtype=bool), True)[f.position_class]


def _drops(f: Forest, above: Flags, open_p: Flags, open_q: Flags) -> Iterator[tuple[Flags, Flags]]:
    """Give what may be dropped, in a fixed order, as things are when asked."""
    none_p, none_q = np.zeros_like(open_p), np.zeros_like(open_q)
    for q in range(open_q.size):
        if open_q[q]:
            one = none_q.copy()
            one[q] = True
            yield none_p, one
    for e in range(f.parent.size - 1, -1, -1):
        beyond_p = (f.position_segment >= 0) & above[f.position_segment, e] & open_p
        beyond_q = (f.place_segment >= 0) & above[f.place_segment, e] & open_q
        if beyond_p.any() or beyond_q.any():
            yield beyond_p, beyond_q
    for p in range(open_p.size):
        if open_p[p]:
            one = none_p.copy()
            one[p] = True
            yield one, none_q


def _cost(
    f: Forest, order: NDArray[np.int64], open_p: Flags, open_q: Flags
) -> tuple[float, NDArray[np.int64]]:
    """Give each tree its cheapest open pull, and add up."""
    pair = np.full(f.tree_price.size, -1, dtype=np.int64)
    rows = order[open_p[f.pair_position[order]]]
    rows = rows[f.pair_cost[rows] < f.tree_price[f.pair_tree[rows]]]
    trees, first = np.unique(f.pair_tree[rows], return_index=True)
    pair[trees] = rows[first]
    return objective_of(f, used_segments(f, pair, open_q), open_q, pair), pair
