"""Candidate forests made from a seed: shortest paths over uneven ground, off one main trail.

Stems stand at random, 30 to the hectare, in a square with the main trail up its
middle. Nodes lie 8 m apart; each hangs off the neighbour on its cheapest way to the
main trail, and is a winch position for every stem within 32 m. The sizes that come of
it (300 stems on 10 ha: about 1,500 segments and 14,000 pulls) are those the choice has
been measured at before.
"""

import math

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from scipy.spatial import cKDTree

from layout.choice_model import ROOT, Forest

APART_M = 8.0
REACH_M = 32.0
PER_HA = 30.0
WIDTH_M = 3.2


def forest_of(trees: int, seed: int) -> Forest:
    """Make a forest of candidates for so many stems."""
    rng = np.random.default_rng([seed, trees])
    side = math.sqrt(trees / PER_HA * 1e4)
    n = max(round(side / APART_M), 4)
    dear = 1.0 + 4.0 * rng.random((n, n))  # what a metre costs, as limits and stems make it
    row, col = np.mgrid[0:n, 0:n]
    number = row * n + col
    tails, heads, prices = [], [], []
    for dr, dc in ((0, 1), (1, 0), (1, 1), (1, -1)):
        here = (row + dr < n) & (col + dc >= 0) & (col + dc < n)
        r, c = row[here], col[here]
        far = APART_M * math.hypot(dr, dc)
        price = far * WIDTH_M * (dear[r, c] + dear[r + dr, c + dc]) / 2
        a, b = number[r, c], number[r + dr, c + dc]
        tails += [a, b]
        heads += [b, a]
        prices += [price, price]
    graph = coo_matrix(
        (np.concatenate(prices), (np.concatenate(tails), np.concatenate(heads))), (n * n, n * n)
    ).tocsr()
    main = number[:, n // 2]
    cost, before, _ = dijkstra(graph, indices=main, min_only=True, return_predecessors=True)
    order = np.argsort(cost, kind="stable")
    order = order[before[order] >= 0]  # the main trail's own nodes are there already
    segment = np.full(n * n, ROOT, dtype=np.int64)
    segment[order] = np.arange(order.size)
    xy = (np.column_stack([col.ravel(), row.ravel()]) + 0.5) * APART_M
    stems = rng.uniform(0, side, (trees, 2))
    near = cKDTree(stems).query_ball_point(xy, REACH_M)
    position = np.repeat(np.arange(n * n), [len(k) for k in near])
    tree = np.array([t for k in near for t in sorted(k)], dtype=np.int64)
    away = np.hypot(*(xy[position] - stems[tree]).T)
    return Forest(
        parent=segment[before[order]],
        segment_cost=cost[order] - cost[before[order]],
        position_segment=segment,
        position_cost=np.full(n * n, 2.0),
        position_class=np.full(n * n, -1, dtype=np.int64),
        pair_position=position.astype(np.int64),
        pair_tree=tree,
        pair_cost=0.25 * away + rng.uniform(0, 4, away.size),
        tree_price=np.full(trees, 200.0),
        place_segment=np.zeros(0, dtype=np.int64),
        place_cost=np.zeros(0),
    )
