"""What the choice among candidate links that close loops is asked and answers, as plain arrays.

A forest of candidates fixes one way to every position (``choice_model``). Here a
position may be reached along several ways, and which of them to build is part of
the question: connected facility location (Gollowitzer & Ljubic 2011).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.choice_model import BIG_PRICE, ROOT, Forest

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Looped:
    """The candidates, as plain arrays.

    Parameters
    ----------
    nodes : int
        Junctions and ends of links; node 0 is there already (landing or main trail).
    tail, head : ndarray of int, shape (a,)
        The node a link is entered from, nearer the landing, and the one it leads to.
        A link that may be driven out either way is two rows. Nothing leads to node 0.
    arc_cost : ndarray of float, shape (a,)
        Weighted square metres, not negative.
    position_node : ndarray of int, shape (p,)
        Node a position needs reached.
    position_cost : ndarray of float, shape (p,)
        Weighted square metres of one more set-up, not negative.
    pair_position, pair_tree : ndarray of int, shape (k,)
        Allowed pulls.
    pair_cost : ndarray of float, shape (k,)
        Weighted square metres of a pull.
    tree_price : ndarray of float, shape (t,)
        What leaving a tree standing costs; infinite where every tree must come.
    """

    nodes: int
    tail: Ints
    head: Ints
    arc_cost: Floats
    position_node: Ints
    position_cost: Floats
    pair_position: Ints
    pair_tree: Ints
    pair_cost: Floats
    tree_price: Floats

    @property
    def price(self) -> Floats:
        """The prices of trees left standing, none endless, shape (t,)."""
        return np.minimum(self.tree_price, BIG_PRICE)

    @property
    def leaving(self) -> tuple[Ints, Ints]:
        """Rows of the links by the node they leave: starts (nodes + 1) and rows (a,)."""
        return by_group(self.tail, self.nodes)

    @property
    def arriving(self) -> tuple[Ints, Ints]:
        """Rows of the links by the node they lead to: starts (nodes + 1) and rows (a,)."""
        return by_group(self.head, self.nodes)


@dataclass(frozen=True, slots=True, eq=False)
class LoopedChoice:
    """What was chosen.

    Parameters
    ----------
    arcs : ndarray of bool, shape (a,)
        Links built; together a tree rooted at node 0.
    tree_pair : ndarray of int, shape (t,)
        The pull that takes each tree, or -1.
    objective : float
        What it costs, weighted square metres.
    bound : float
        What no choice among the candidates can cost less than.
    """

    arcs: NDArray[np.bool_]
    tree_pair: Ints
    objective: float
    bound: float

    @property
    def gap_pct(self) -> float:
        """Proved gap, percent of the bound."""
        return 100.0 * max(self.objective - self.bound, 0.0) / max(abs(self.bound), 1e-9)


def by_group(group: Ints, groups: int) -> tuple[Ints, Ints]:
    """Sort rows by their group: starts (groups + 1) and rows, both of int."""
    order = np.argsort(group, kind="stable").astype(np.int64)
    return np.searchsorted(group[order], np.arange(groups + 1)).astype(np.int64), order


def objective_of(net: Looped, arcs: NDArray[np.bool_], tree_pair: Ints) -> float:
    """Add up what a choice costs, from the candidates alone."""
    served = tree_pair >= 0
    pairs = tree_pair[served]
    total = float(net.arc_cost[arcs].sum()) + float(net.price[~served].sum())
    total += float(net.pair_cost[pairs].sum())
    return total + float(net.position_cost[np.unique(net.pair_position[pairs])].sum())


def faults(net: Looped, arcs: NDArray[np.bool_], tree_pair: Ints) -> list[str]:
    """Tell what keeps a choice from being a layout; empty for a good one."""
    out: list[str] = []
    reached = np.zeros(net.nodes, dtype=bool)
    reached[0] = True
    left = list(np.flatnonzero(arcs))
    while True:
        rest = [a for a in left if not reached[net.tail[a]]]
        if len(rest) == len(left):
            break
        for a in left:
            if reached[net.tail[a]]:
                reached[net.head[a]] = True
        left = rest
    out += [f"link {a} hangs on nothing" for a in left]
    if (np.bincount(net.head[arcs], minlength=net.nodes) > 1).any():
        out.append("a node is reached twice")
    for t, k in enumerate(tree_pair):
        if k >= 0 and net.pair_tree[k] != t:
            out.append(f"tree {t} takes another tree's pull")
        if k >= 0 and not reached[net.position_node[net.pair_position[k]]]:
            out.append(f"tree {t} is pulled to a place no link leads to")
    return out


def as_forest(net: Looped, way_in: Ints) -> tuple[Forest, Ints, Ints]:
    """Give the forest that is left when every node has one way in.

    Parameters
    ----------
    net : Looped
        The candidates.
    way_in : ndarray of int, shape (nodes,)
        The link that leads to each node, or -1 where none does.

    Returns
    -------
    forest : Forest
        Nodes that cannot be reached are left out, with their positions.
    arcs : ndarray of int, shape (e,)
        The link each segment of the forest stands for.
    pairs : ndarray of int, shape (k,)
        The network's own pull that each of the forest's stands for.
    """
    below: list[list[int]] = [[] for _ in range(net.nodes)]
    for v in range(1, net.nodes):
        if way_in[v] >= 0:
            below[net.tail[way_in[v]]].append(v)
    segment = np.full(net.nodes, -2, dtype=np.int64)  # -2: not reached
    segment[0] = ROOT
    parent: list[int] = []
    arcs: list[int] = []
    waiting = [0]
    while waiting:
        u = waiting.pop()
        for v in below[u]:
            segment[v] = len(arcs)
            arcs.append(int(way_in[v]))
            parent.append(int(segment[u]))
            waiting.append(v)
    usable = segment[net.position_node] > -2
    kept = usable[net.pair_position]
    none: Ints = np.zeros(0, dtype=np.int64)
    forest = Forest(
        parent=np.array(parent, dtype=np.int64),
        segment_cost=net.arc_cost[arcs] if arcs else np.zeros(0),
        position_segment=np.maximum(segment[net.position_node], ROOT),
        position_cost=net.position_cost,
        position_class=np.full(net.position_node.size, -1, dtype=np.int64),
        pair_position=net.pair_position[kept],
        pair_tree=net.pair_tree[kept],
        pair_cost=net.pair_cost[kept],
        tree_price=net.tree_price,
        place_segment=none,
        place_cost=np.zeros(0),
    )
    return forest, np.array(arcs, dtype=np.int64), np.flatnonzero(kept)
