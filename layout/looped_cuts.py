"""Smallest cuts on a network of candidate links: what a fractional layout fails to pay.

A set of nodes without node 0 that holds positions of a tree can only serve the
tree if links lead into the set; a largest flow finds the sets where they fall short.
"""

import numpy as np
from numpy.typing import NDArray

from layout.kernels import njit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.uint8]


@njit
def cut_sets(
    tail: Ints,
    head: Ints,
    in_starts: Ints,
    in_arcs: Ints,
    out_starts: Ints,
    out_arcs: Ints,
    position_node: Ints,
    tree_starts: Ints,
    tree_pairs: Ints,
    pair_position: Ints,
    arc_value: Floats,
    pair_value: Floats,
    which: Ints,
    nested: int,
    slack: float,
) -> tuple[Ints, Flags, Floats]:
    """Find node sets whose links carry less than a tree asks of them.

    For each tree of ``which`` the flow from node 0 to its positions is made as
    large as ``arc_value`` allows. Where it is short by more than ``slack``, the
    smallest and the largest set behind the bottleneck are given; then the
    bottleneck is opened wide and the search goes on, ``nested`` times at most.
    A little is added to every link, so that of equal cuts the one with fewest
    links is found. Returns trees (m,), sets (m, nodes), shortfalls (m,).
    """
    nodes = in_starts.size - 1
    arcs = tail.size
    creep = 1e-6
    most = 2 * nested * which.size
    set_tree = np.empty(most, np.int64)
    sets = np.zeros((most, nodes), np.uint8)
    short = np.empty(most)
    count = 0
    tiny = 1e-9
    fwd = np.empty(arcs)
    bwd = np.empty(arcs)
    sink = np.empty(nodes)
    wants = np.empty(nodes)
    mark = np.zeros(nodes, np.int64)
    stamp = 0
    queue = np.empty(nodes, np.int64)
    by_arc = np.empty(nodes, np.int64)  # way on toward the sink: a + 1 along, -(a + 1) against
    for w in range(which.size):
        t = which[w]
        for v in range(nodes):
            wants[v] = 0.0
        need = 0.0
        for i in range(tree_starts[t], tree_starts[t + 1]):
            k = tree_pairs[i]
            v = position_node[pair_position[k]]
            if v != 0 and pair_value[k] > tiny:
                wants[v] += pair_value[k]
                need += pair_value[k]
        if need <= slack:
            continue
        for v in range(nodes):
            sink[v] = wants[v]
        for a in range(arcs):
            fwd[a] = arc_value[a] + creep
            bwd[a] = 0.0
        flow = 0.0
        found = 0
        while flow < need - slack:
            # back from the sink, breadth first
            stamp += 1
            lo = 0
            hi = 0
            for v in range(nodes):
                if sink[v] > tiny:
                    mark[v] = stamp
                    by_arc[v] = 0
                    queue[hi] = v
                    hi += 1
            while lo < hi and mark[0] != stamp:
                v = queue[lo]
                lo += 1
                for i in range(in_starts[v], in_starts[v + 1]):
                    a = in_arcs[i]
                    u = tail[a]
                    if fwd[a] > tiny and mark[u] != stamp:
                        mark[u] = stamp
                        by_arc[u] = a + 1
                        queue[hi] = u
                        hi += 1
                for i in range(out_starts[v], out_starts[v + 1]):
                    a = out_arcs[i]
                    u = head[a]
                    if bwd[a] > tiny and mark[u] != stamp:
                        mark[u] = stamp
                        by_arc[u] = -(a + 1)
                        queue[hi] = u
                        hi += 1
            if mark[0] == stamp:
                step = need
                v = 0
                while by_arc[v] != 0:
                    if by_arc[v] > 0:
                        a = by_arc[v] - 1
                        step = min(step, fwd[a])
                        v = int(head[a])
                    else:
                        a = -by_arc[v] - 1
                        step = min(step, bwd[a])
                        v = int(tail[a])
                step = min(step, sink[v])
                sink[v] -= step
                v = 0
                while by_arc[v] != 0:
                    if by_arc[v] > 0:
                        a = by_arc[v] - 1
                        fwd[a] -= step
                        bwd[a] += step
                        v = int(head[a])
                    else:
                        a = -by_arc[v] - 1
                        bwd[a] -= step
                        fwd[a] += step
                        v = int(tail[a])
                flow += step
                continue
            # stuck: the marked nodes are the smallest set behind the bottleneck
            lack = 0.0
            for v in range(nodes):
                sets[count, v] = 1 if mark[v] == stamp else 0
                if mark[v] == stamp:
                    lack += wants[v]
            for a in range(arcs):
                if mark[head[a]] == stamp and mark[tail[a]] != stamp:
                    lack -= arc_value[a]
            if lack > slack:
                set_tree[count] = t
                short[count] = lack
                count += 1
            here = stamp
            # forward from node 0: what it does not reach is the largest such set
            stamp += 1
            mark2 = stamp
            lo = 0
            hi = 1
            queue[0] = 0
            # nodes of the smallest set keep their mark; node 0 cannot reach them
            mark[0] = mark2
            while lo < hi:
                v = queue[lo]
                lo += 1
                for i in range(out_starts[v], out_starts[v + 1]):
                    a = out_arcs[i]
                    u = head[a]
                    if fwd[a] > tiny and mark[u] != mark2 and mark[u] != here:
                        mark[u] = mark2
                        queue[hi] = u
                        hi += 1
                for i in range(in_starts[v], in_starts[v + 1]):
                    a = in_arcs[i]
                    u = tail[a]
                    if bwd[a] > tiny and mark[u] != mark2 and mark[u] != here:
                        mark[u] = mark2
                        queue[hi] = u
                        hi += 1
            lack = 0.0
            more = False
            for v in range(nodes):
                outer = mark[v] != mark2
                sets[count, v] = 1 if outer else 0
                if outer:
                    lack += wants[v]
                    if mark[v] != here:
                        more = True
            for a in range(arcs):
                if mark[head[a]] != mark2 and mark[tail[a]] == mark2:
                    lack -= arc_value[a]
            if more and lack > slack:
                set_tree[count] = t
                short[count] = lack
                count += 1
            found += 1
            if found >= nested:
                break
            for a in range(arcs):
                if mark[head[a]] == here and mark[tail[a]] != here:
                    fwd[a] = need
    return set_tree[:count].copy(), sets[:count].copy(), short[:count].copy()


@njit
def rows_of(
    tail: Ints,
    head: Ints,
    position_node: Ints,
    tree_starts: Ints,
    tree_pairs: Ints,
    pair_position: Ints,
    set_tree: Ints,
    sets: Flags,
    pair0: int,
) -> tuple[Ints, Ints, Floats]:
    """Write ``links into the set - pulls to places in the set >= 0`` for each set, by rows."""
    starts = np.zeros(set_tree.size + 1, np.int64)
    for m in range(set_tree.size):
        size = 0
        for a in range(tail.size):
            if sets[m, head[a]] == 1 and sets[m, tail[a]] == 0:
                size += 1
        for i in range(tree_starts[set_tree[m]], tree_starts[set_tree[m] + 1]):
            if sets[m, position_node[pair_position[tree_pairs[i]]]] == 1:
                size += 1
        starts[m + 1] = starts[m] + size
    columns = np.empty(starts[-1], np.int64)
    values = np.empty(starts[-1])
    for m in range(set_tree.size):
        at = starts[m]
        for a in range(tail.size):
            if sets[m, head[a]] == 1 and sets[m, tail[a]] == 0:
                columns[at] = a
                values[at] = 1.0
                at += 1
        for i in range(tree_starts[set_tree[m]], tree_starts[set_tree[m] + 1]):
            k = tree_pairs[i]
            if sets[m, position_node[pair_position[k]]] == 1:
                columns[at] = pair0 + k
                values[at] = -1.0
                at += 1
    return starts, columns, values
