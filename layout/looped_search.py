"""Good layouts among links that close loops: one way in for every node, then the exact choice.

Which links the ways follow is decided by weights, what a fractional layout or
dual ascent says of each link; what is then built, and from where each tree is
pulled, is chosen exactly (``choice``). A layout found is kept as ways of no
cost in the next try, so that no try ends worse than it began.
"""

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse import csgraph

from layout.choice import choose
from layout.looped_model import Looped, LoopedChoice, as_forest, objective_of
from layout.solver import Solver

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
FREE = 1e-7  # square metres; scipy takes a link of no weight for none
FOREST_S = 60.0  # wall seconds for one forest; each takes a fraction of one


def ways_in(net: Looped, weight: Floats) -> tuple[Ints, Floats]:
    """Give the cheapest ways from node 0 under some weights.

    Parameters
    ----------
    net : Looped
        The candidates.
    weight : ndarray of float, shape (a,)
        Not negative; infinite for links that may not be used.

    Returns
    -------
    way_in : ndarray of int, shape (nodes,)
        The link each way ends with, or -1.
    distance : ndarray of float, shape (nodes,)
        Length of each way, infinite where there is none.
    """
    # of links side by side the lightest counts
    order = np.lexsort((np.arange(net.tail.size), weight, net.head, net.tail))
    tail, head = net.tail[order], net.head[order]
    first = np.ones(order.size, dtype=bool)
    first[1:] = (tail[1:] != tail[:-1]) | (head[1:] != head[:-1])
    first &= np.isfinite(weight[order])
    used = order[first]
    graph = sparse.csr_array(
        (np.maximum(weight[used], FREE), (net.tail[used], net.head[used])),
        shape=(net.nodes, net.nodes),
    )
    distance, before = csgraph.dijkstra(graph, indices=0, return_predecessors=True)
    number = {(int(net.tail[a]), int(net.head[a])): int(a) for a in used}
    way_in = np.array(
        [number[int(u), v] if u >= 0 else -1 for v, u in enumerate(before)], dtype=np.int64
    )
    return way_in, distance


class Search:
    """The best layout found so far, and ways to find a better one."""

    def __init__(self, net: Looped, solver: Solver, seed: int) -> None:
        self.net, self._solver, self._seed = net, solver, seed
        self._tried: set[bytes] = set()
        none = np.full(net.tree_price.size, -1, dtype=np.int64)
        arcs = np.zeros(net.tail.size, dtype=bool)
        self.best = LoopedChoice(arcs, none, objective_of(net, arcs, none), 0.0)
        self.forests = 0

    def along(self, weight: Floats) -> float:
        """Choose on the cheapest ways under some weights; give what that costs."""
        way_in, _ = ways_in(self.net, weight)
        if way_in.tobytes() in self._tried:
            return np.inf
        self._tried.add(way_in.tobytes())
        forest, arcs_of, pairs_of = as_forest(self.net, way_in)
        found = choose(forest, self._solver, time_limit_s=FOREST_S, gap=0.0, seed=self._seed)
        self.forests += 1
        arcs = np.zeros(self.net.tail.size, dtype=bool)
        arcs[arcs_of[found.segments]] = True
        pair = np.append(pairs_of, -1)[found.tree_pair]  # the last entry stands for -1
        objective = objective_of(self.net, arcs, pair)
        if objective < self.best.objective - 1e-9:
            self.best = LoopedChoice(arcs, pair, objective, 0.0)
        return objective

    def guided(self, share: Floats) -> None:
        """Follow a fractional layout: the more of a link it builds, the less the link weighs."""
        cost = self.net.arc_cost
        self.along(cost * (1.0 - np.clip(share, 0.0, 1.0)))
        self.around(cost * (1.0 - 0.9 * np.clip(share, 0.0, 1.0)))

    def around(self, weight: Floats) -> None:
        """Keep the best layout's ways, and let other nodes hang on them."""
        self.along(np.where(self.best.arcs, 0.0, weight))
