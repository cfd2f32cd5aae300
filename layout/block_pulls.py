"""Trees that a snatch block would bring within reach: a rough count, from the trails there are.

The rope goes from the winch to a block strapped to an anchor tree, and from there to the
stump. The load comes to the block first, is chokered again, and is then pulled straight.
So both legs must be pulls that are allowed by themselves: the second by every rule of a
straight pull, rope angle and all; the first by every rule that does not speak of how the
tractor stands. Block, strap and tree hold ``2 F cos(phi / 2)`` at the winch's full rated
pull F, phi the angle between the legs; the tree must be as stout as that asks for.

Anchor trees are listed trees that stay and are no hazard. Their roots, their health and
where the crew stands are looked at on the ground, by nobody here.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from layout.finished_network import Network
from layout.forest import spots_of
from layout.pull_forces import anchor_dbh_m, anchor_force_kn, past_block_kn
from layout.winch import Pairs, PullGround, evaluate
from layout.winch_ground import BIN_M, Stems, binned, codes_at

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class BlockPull:
    """One tree that a block could bring in.

    Parameters
    ----------
    tree : int
        Row of the area's tree list.
    anchor : int
        Row of the anchor tree.
    x, y : float
        The fairlead.
    rope_m : float
        Both legs along the ground.
    between_legs_deg : float
        Angle between the two legs of rope at the block; 0 where it doubles straight back.
    force_kn : float
        On block, strap and anchor tree at the winch's full rated pull.
    """

    tree: int
    anchor: int
    x: float
    y: float
    rope_m: float
    between_legs_deg: float
    force_kn: float


def anchors_of(network: Network) -> Ints:
    """Give the rows of listed trees that might hold a block.

    Parameters
    ----------
    network : Network

    Returns
    -------
    ndarray of int
        Trees that stay, of known stoutness, no hazard, well enough placed; stout enough
        for the least a block may hold, or as [winch] anchor_dbh asks.
    """
    trees, winch = network.area.trees, network.area.settings.winch
    least = max(anchor_dbh_m(float(winch.pull_rating_kn) * 0.1), winch.anchor_dbh_m or 0.0)
    hazard = np.array([bool(word) for word in trees.hazard], dtype=bool)
    stout = np.nan_to_num(trees.dbh_cm) / 100 >= least
    known = np.isin(np.arange(len(trees)), network.grower.pull_ground.stems.row)
    return np.flatnonzero(~trees.marked & ~hazard & stout & known)


def by_block(network: Network, unserved: Ints) -> tuple[BlockPull, ...]:
    """Find the trees that could be winched through one block.

    Parameters
    ----------
    network : Network
        A finished plan's.
    unserved : ndarray of int
        Rows of ``pull_ground.marked`` that no pull takes.

    Returns
    -------
    tuple of BlockPull
        One for each such tree, the one with the least force on the anchor; in the order
        of ``unserved``. Turning places are not looked at.
    """
    ground, rules = network.grower.pull_ground, network.grower.winch
    anchors = anchors_of(network)
    if not anchors.size or not unserved.size:
        return ()
    trees = network.area.trees
    ax, ay = trees.x[anchors], trees.y[anchors]
    near = (
        np.hypot(ax[:, None] - ground.x[unserved], ay[:, None] - ground.y[unserved])
        <= rules.longest_m
    ).any(axis=1)
    anchors = anchors[near]
    if not anchors.size:
        return ()
    first = _to_block(network, anchors, unserved)
    second = _from_block(network, anchors, unserved)
    return _best(network, anchors, unserved, first, second)


def _spots(network: Network) -> tuple[Floats, Floats, Floats, Floats, NDArray[np.bool_]]:
    """Give where the tractor might stand: x, y, rear, swing, and whether on the landing."""
    branches = list(network.branches)
    spots = spots_of(network.known, branches, network.yards)
    swing = np.where(
        [n < 0 or branches[n].parent < 0 for n in spots.branch],
        network.main_swing_deg,
        network.grower.swing_deg,
    )
    return spots.x, spots.y, spots.rear_rad, swing, spots.branch < 0


def _to_block(network: Network, anchors: Ints, unserved: Ints) -> tuple[Pairs, Floats, Floats]:
    """Judge straight pulls of the heaviest unserved stem from the block to the tractor."""
    ground, trees = network.grower.pull_ground, network.area.trees
    known = ground.mass_kg[unserved][np.isfinite(ground.mass_kg[unserved])]
    heaviest = float(known.max()) if known.size else np.nan
    # the rope ends at an anchor, which is itself a stem: anchors are held clear of it below
    bare = replace(ground, stems=_stems_but(ground, anchors))
    there = _at(bare, trees.x[anchors], trees.y[anchors], heaviest)
    x, y, rear, swing, landing = _spots(network)
    return evaluate(there, network.grower.winch, x, y, rear, swing, landing), x, y


def _stems_but(ground: PullGround, anchors: Ints) -> Stems:
    """Give the leave stems without the anchors."""
    stems = ground.stems
    rest = ~np.isin(stems.row, anchors)
    x, y = stems.x[rest], stems.y[rest]
    return Stems(
        stems.row[rest], x, y, stems.radius_m[rest], stems.keep[rest],
        binned(x, y, BIN_M, ground.dem.bounds),
    )  # fmt: skip


def _passes(network: Network, anchors: Ints, at: tuple[float, float], a: int) -> bool:
    """Tell whether a rope from a fairlead to an anchor is clear of the other anchors' bark."""
    trees, clear_m = network.area.trees, network.grower.winch.rope_clear_m
    others = np.delete(anchors, a)
    rope = LineString([at, (trees.x[anchors[a]], trees.y[anchors[a]])])
    off = shapely.distance(rope, shapely.points(trees.x[others], trees.y[others]))
    return bool((off > trees.dbh_cm[others] / 200 + clear_m).all())


def _from_block(network: Network, anchors: Ints, unserved: Ints) -> Pairs:
    """Judge pulls from stumps to the block; nothing parks there and nothing tips."""
    ground, rules, trees = network.grower.pull_ground, network.grower.winch, network.area.trees
    hung = replace(
        rules,
        park_pct=np.inf,
        park_stop_pct=np.inf,
        pull_limit_kn=float(past_block_kn(rules.pull_limit_kn)),
    )
    stumps = replace(ground.of_trees(unserved), no_parking=Polygon())
    none = np.zeros(anchors.size)
    return evaluate(
        stumps, hung, trees.x[anchors], trees.y[anchors], none, none, np.ones(anchors.size, bool)
    )


def _at(ground: PullGround, x: Floats, y: Floats, mass_kg: float) -> PullGround:
    """Give the same ground with loads of one weight at some places."""
    n = x.size
    return replace(
        ground,
        marked=np.arange(n),
        x=np.ascontiguousarray(x),
        y=np.ascontiguousarray(y),
        mass_kg=np.full(n, mass_kg),
        position_error_m=np.zeros(n),
        exact=np.ones(n, dtype=bool),
        stands_on=codes_at(ground.closed, ground.dem, x, y),
        tree_ids=tuple(map(str, range(n))),
    )


def _best(
    network: Network,
    anchors: Ints,
    unserved: Ints,
    first: tuple[Pairs, Floats, Floats],
    second: Pairs,
) -> tuple[BlockPull, ...]:
    """Join the legs that meet at one anchor, and keep the gentlest for each tree."""
    winch, rules = network.area.settings.winch, network.grower.winch
    trees, ground = network.area.trees, network.grower.pull_ground
    legs, x, y = first
    out = []
    for t in range(unserved.size):
        row = int(unserved[t])
        best: tuple[float, BlockPull] | None = None
        for k in np.flatnonzero(second.tree == t):
            a = int(second.pos[k])
            mine = np.flatnonzero(legs.tree == a)
            rope = legs.ground_m[mine] + second.ground_m[k]
            mine, rope = mine[rope <= rules.longest_m], rope[rope <= rules.longest_m]
            if not mine.size:
                continue
            bx, by = trees.x[anchors[a]], trees.y[anchors[a]]
            to_winch = np.arctan2(y[legs.pos[mine]] - by, x[legs.pos[mine]] - bx)
            to_stump = np.arctan2(ground.y[row] - by, ground.x[row] - bx)
            between = np.degrees(np.abs(np.angle(np.exp(1j * (to_winch - to_stump)))))
            force = anchor_force_kn(winch.pull_rating_kn, between)
            stout = trees.dbh_cm[anchors[a]] / 100
            holds = np.array([anchor_dbh_m(float(f)) <= stout + 1e-9 for f in force])
            if winch.block_rating_kn is not None:
                holds &= force <= winch.block_rating_kn + 1e-9
            for i in np.flatnonzero(holds):
                fairlead = (float(x[legs.pos[mine[i]]]), float(y[legs.pos[mine[i]]]))
                if best is not None and force[i] >= best[0]:
                    continue
                if not _passes(network, anchors, fairlead, a):
                    continue
                made = BlockPull(
                    int(ground.marked[row]), int(anchors[a]),
                    *fairlead, float(rope[i]), float(between[i]), float(force[i]),
                )  # fmt: skip
                best = (made.force_kn, made)
        if best is not None:
            out.append(best[1])
    return tuple(out)
