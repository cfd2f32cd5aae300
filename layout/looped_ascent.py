"""Dual ascent on a network of candidate links: a bound in milliseconds.

A set of nodes without node 0 that holds positions of a tree can only serve the
tree if some link leads into the set. Dual ascent (Wong 1984) pays for such sets,
smallest cut first, until every tree is reached.
"""

import heapq

import numpy as np
from numpy.typing import NDArray

from layout.kernels import njit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.uint8]


@njit
def ascend(
    tail: Ints,
    arc_cost: Floats,
    in_starts: Ints,
    in_arcs: Ints,
    position_node: Ints,
    position_cost: Floats,
    tree_starts: Ints,
    tree_pairs: Ints,
    pair_position: Ints,
    pair_cost: Floats,
    price: Floats,
    most_sets: int,
) -> tuple[float, Floats, Floats, Floats, Floats, Ints, Flags]:
    """Raise duals tree by tree, smallest cut first.

    Returns the bound; what is left of each cost (links, positions, pairs,
    prices); and the sets paid for: their trees (m,) and their nodes (m, nodes).
    """
    nodes = in_starts.size - 1
    trees = price.size
    arc_left = arc_cost.copy()
    position_left = position_cost.copy()
    pair_left = pair_cost.copy()
    price_left = price.copy()
    bound = 0.0
    set_tree = np.empty(most_sets, np.int64)
    sets = np.zeros((most_sets, nodes), np.uint8)
    count = 0
    tiny = 1e-9
    mark = np.zeros(nodes, np.int64)
    stamp = 0
    stack = np.empty(nodes, np.int64)
    heap = [(0, 0)]  # fewest ways in first; the pair says what the list holds
    heap.pop()
    for t in range(trees):
        heapq.heappush(heap, (int(tree_starts[t + 1] - tree_starts[t]) + 1, t))
    while len(heap) > 0:
        rank, t = heapq.heappop(heap)
        if price_left[t] <= tiny:
            continue
        stamp += 1
        reached = False
        top = 0
        inside = 0
        for i in range(tree_starts[t], tree_starts[t + 1]):
            k = tree_pairs[i]
            p = pair_position[k]
            if pair_left[k] <= tiny and position_left[p] <= tiny:
                v = position_node[p]
                if v == 0:
                    reached = True
                    break
                if mark[v] != stamp:
                    mark[v] = stamp
                    stack[top] = v
                    top += 1
        while top > 0 and not reached:
            top -= 1
            v = stack[top]
            inside += 1
            for i in range(in_starts[v], in_starts[v + 1]):
                a = in_arcs[i]
                if arc_left[a] <= tiny:
                    u = tail[a]
                    if u == 0:
                        reached = True
                        break
                    if mark[u] != stamp:
                        mark[u] = stamp
                        stack[top] = u
                        top += 1
        if reached:
            continue
        step = price_left[t]
        size = 1
        for i in range(tree_starts[t], tree_starts[t + 1]):
            k = tree_pairs[i]
            p = pair_position[k]
            if pair_left[k] > tiny:
                size += 1
                if pair_left[k] < step:
                    step = pair_left[k]
            elif position_left[p] > tiny:
                size += 1
                if position_left[p] < step:
                    step = position_left[p]
        if inside > 0:
            for v in range(nodes):
                if mark[v] == stamp:
                    for i in range(in_starts[v], in_starts[v + 1]):
                        a = in_arcs[i]
                        if mark[tail[a]] != stamp:
                            size += 1
                            if arc_left[a] < step:
                                step = arc_left[a]
        if size > rank and len(heap) > 0 and heap[0][0] < size:
            heapq.heappush(heap, (size, t))
            continue
        bound += step
        price_left[t] -= step
        for i in range(tree_starts[t], tree_starts[t + 1]):
            k = tree_pairs[i]
            p = pair_position[k]
            if pair_left[k] > tiny:
                pair_left[k] -= step
            elif position_left[p] > tiny:
                position_left[p] -= step
        if inside > 0:
            for v in range(nodes):
                if mark[v] == stamp:
                    for i in range(in_starts[v], in_starts[v + 1]):
                        a = in_arcs[i]
                        if mark[tail[a]] != stamp:
                            arc_left[a] -= step
            if count < most_sets:
                set_tree[count] = t
                for v in range(nodes):
                    sets[count, v] = 1 if mark[v] == stamp else 0
                count += 1
        heapq.heappush(heap, (size, t))
    return (
        bound,
        arc_left,
        position_left,
        pair_left,
        price_left,
        set_tree[:count].copy(),
        sets[:count].copy(),
    )
