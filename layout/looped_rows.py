"""The linear program of a choice among links that close loops.

Columns: links | positions | pulls | trees left standing. Every link is directed,
out from node 0. Rows that hold for some cheapest layout stand in it from the
start; the cuts (Gollowitzer & Ljubic 2011, one family a tree) come as they are
missed, see ``looped_cuts``.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.looped_cuts import cut_sets, rows_of
from layout.looped_model import Looped, by_group
from layout.solver import Program

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.uint8]

NESTED = 4  # cuts behind one another looked for at a time
MISSED = 1e-4  # a cut short by less than this is kept well enough


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """Where each kind of column begins."""

    position0: int
    pair0: int
    tree0: int
    size: int

    @classmethod
    def of(cls, net: Looped) -> "Columns":
        """Count a network's columns."""
        pair0 = net.tail.size + net.position_node.size
        tree0 = pair0 + net.pair_cost.size
        return cls(net.tail.size, pair0, tree0, tree0 + net.tree_price.size)


def first_program(net: Looped) -> Program:
    """Give the program without cuts.

    Every tree is pulled or left; a pull needs its position, a position needs a
    link that leads to its node; a node is reached once at most, and only to go
    on from it or to park there; a link is entered from a node that another link
    leads to than its own way back.
    """
    at = Columns.of(net)
    rows: list[tuple[list[int], list[float], float, float]] = []
    starts, of_tree = by_group(net.pair_tree, net.tree_price.size)
    for t in range(net.tree_price.size):
        mine = [at.pair0 + int(k) for k in of_tree[starts[t] : starts[t + 1]]]
        rows.append(([*mine, at.tree0 + t], [1.0] * (len(mine) + 1), 1.0, 1.0))
    for k, p in enumerate(net.pair_position):
        rows.append(([at.position0 + int(p), at.pair0 + k], [1.0, -1.0], 0.0, np.inf))
    into, out = _lists(net.arriving), _lists(net.leaving)
    parked: list[list[int]] = [[] for _ in range(net.nodes)]
    for p, v in enumerate(net.position_node):
        parked[v].append(at.position0 + p)
    for v in range(1, net.nodes):
        ones = [1.0] * len(into[v])
        rows.append((into[v], ones, -np.inf, 1.0))
        for p in parked[v]:
            rows.append(([*into[v], p], [*ones, -1.0], 0.0, np.inf))
        onward = [*out[v], *parked[v]]
        rows.append(([*onward, *into[v]], [1.0] * len(onward) + [-1.0] * len(into[v]), 0.0, np.inf))
    for a, v in enumerate(net.tail):
        if v != 0:
            others = [b for b in into[v] if net.tail[b] != net.head[a]]
            rows.append(([*others, a], [*[1.0] * len(others), -1.0], 0.0, np.inf))
    cost = np.concatenate([net.arc_cost, net.position_cost, net.pair_cost, net.price])
    return Program(
        cost=cost,
        low=np.zeros(at.size),
        high=np.ones(at.size),
        integral=np.arange(at.size) < at.pair0,
        row_low=np.array([low for *_, low, _ in rows]),
        row_high=np.array([high for *_, high in rows]),
        starts=np.cumsum([0, *[len(columns) for columns, *_ in rows]]).astype(np.int32),
        columns=np.array([c for columns, *_ in rows for c in columns], dtype=np.int32),
        values=np.array([v for _, values, *_ in rows for v in values]),
    )


def _lists(grouped: tuple[Ints, Ints]) -> list[list[int]]:
    starts, rows = grouped
    return [rows[starts[g] : starts[g + 1]].tolist() for g in range(starts.size - 1)]


class Cuts:
    """Finds cuts, each once."""

    def __init__(self, net: Looped) -> None:
        self.net, self.at = net, Columns.of(net)
        self._in, self._out = net.arriving, net.leaving
        self._trees = by_group(net.pair_tree, net.tree_price.size)

    def missed(self, values: Floats, nested: int = NESTED) -> tuple[Ints, Flags]:
        """Give the sets that a (fractional) layout fails to pay for: trees and nodes."""
        net, at = self.net, self.at
        tree, sets, _ = cut_sets(
            net.tail, net.head, *self._in, *self._out, net.position_node, *self._trees,
            net.pair_position, np.maximum(values[: at.position0], 0.0),
            values[at.pair0 : at.tree0].copy(), np.arange(net.tree_price.size), nested, MISSED,
        )  # fmt: skip
        return tree, sets

    def rows(self, tree: Ints, sets: Flags) -> tuple[Ints, Ints, Floats]:
        """Write sets as rows ``0 <= row``: starts, columns, values; each set once."""
        net = self.net
        if tree.size:
            keys = np.column_stack([tree.astype(np.int64), np.packbits(sets, axis=1)])
            first = np.sort(np.unique(keys, axis=0, return_index=True)[1])
            tree, sets = tree[first], sets[first]
        found: tuple[Ints, Ints, Floats] = rows_of(
            net.tail, net.head, net.position_node, *self._trees, net.pair_position,
            tree, sets, self.at.pair0,
        )  # fmt: skip
        return found
