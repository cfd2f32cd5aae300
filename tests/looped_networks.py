"""Made networks of candidate links that close loops."""

import numpy as np

from layout.looped_model import Looped


def grid_network(
    seed: int,
    *,
    side: int,
    trees: int,
    kept: float = 0.86,
    step_m: float = 21.0,
    reach_m: float = 35.0,
    price: float = 200.0,
) -> Looped:
    """Make a network on a jittered square grid with its diagonals.

    Nodes lie ``step_m`` apart, each moved by up to a fifth of that; of the links
    to the eight neighbours the share ``kept`` is there (the rest is too steep);
    every node is a winch position but the landing, a corner's. A link costs its
    length times 3.0 m of width times the ground's dearness, 0.8 to 1.7 in smooth
    waves. Trees lie anywhere in the square; a pull costs 0.25 a metre and 1.5
    for each leave tree brushed, one on 15 m of rope on average; a set-up costs 2.
    """
    rng = np.random.default_rng(seed)
    n = side * side
    grid = np.stack(np.meshgrid(np.arange(side), np.arange(side)), axis=-1).reshape(-1, 2)
    xy = (grid + rng.uniform(-0.2, 0.2, grid.shape)) * step_m
    links = [
        (i, j) for i in range(n) for j in range(i + 1, n) if np.abs(grid[i] - grid[j]).max() == 1
    ]
    ends = np.array(links)[rng.random(len(links)) < kept]
    phase = rng.uniform(0, 2 * np.pi, 4)
    length = np.hypot(*(xy[ends[:, 0]] - xy[ends[:, 1]]).T)
    mid = (xy[ends[:, 0]] + xy[ends[:, 1]]) / 2
    wave = (
        np.sin(mid[:, 0] / 45 + phase[0]) * np.cos(mid[:, 1] / 60 + phase[1])
        + np.sin(mid[:, 0] / 20 + phase[2]) * np.sin(mid[:, 1] / 25 + phase[3])
    ) / 2
    cost = 3.0 * length * (1.25 + 0.45 * wave)
    tail = np.concatenate([ends[:, 0], ends[:, 1]])
    head = np.concatenate([ends[:, 1], ends[:, 0]])
    both = np.concatenate([cost, cost])
    on = head != 0
    stem = rng.uniform(-0.5, side - 0.5, (trees, 2)) * step_m
    off = np.hypot(*(stem[:, None, :] - xy[None, 1:, :]).transpose(2, 0, 1))
    t, p = np.nonzero(off <= reach_m)
    pull = off[t, p]
    return Looped(
        nodes=n,
        tail=tail[on].astype(np.int64),
        head=head[on].astype(np.int64),
        arc_cost=both[on],
        position_node=np.arange(1, n, dtype=np.int64),
        position_cost=np.full(n - 1, 2.0),
        pair_position=p.astype(np.int64),
        pair_tree=t.astype(np.int64),
        pair_cost=0.25 * pull + 1.5 * rng.poisson(pull / 15),
        tree_price=np.full(trees, price),
    )
