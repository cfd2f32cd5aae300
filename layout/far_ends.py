"""Where main trails and arms may end: among groups of marked trees far from each other."""

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.fairline import Judge
from layout.ground import Ground
from layout.lattice import Field
from layout.site import Area
from layout.turning import pad_radius_m, pad_room, pads

Floats = NDArray[np.float64]

GROUPS = 10  # ends tried
NEAR_END_M = 45.0  # a main ends within this of the middle of its group of trees
NO_PAD_M2 = 60.0  # an end without room to turn is worth this much less
DRAWN_M = 25.0  # marked trees this near draw a main to themselves
DRAWN_MOST = 0.6  # share of a metre's price that many near trees take off, in the search
DRAWN_HALF = 4.0  # trees at which half of that is reached


def marked_xy(area: Area) -> Floats:
    """Give the places of the marked trees that can come out, shape (t, 2)."""
    trees = area.trees
    rows = trees.to_serve
    return np.column_stack([trees.x[rows], trees.y[rows]])


def groups(xy: Floats, from_xy: tuple[float, float], most: int = GROUPS) -> list[Floats]:
    """Part trees into groups around trees far from each other.

    The first is the tree farthest from a point; each further one is farthest
    from those before. A group is the trees nearest to its own; ties go to the
    earlier tree of the list.

    Parameters
    ----------
    xy : ndarray of float, shape (t, 2)
        Places of the trees, metres.
    from_xy : tuple of float
        The point.
    most : int
        How many groups at most.

    Returns
    -------
    list of ndarray of float, shape (k, 2)
        Places of each group's trees.
    """
    if not len(xy):
        return []
    first = int(np.argmax(np.hypot(*(xy - np.array(from_xy)).T)))
    seeds = [first]
    apart = np.hypot(*(xy - xy[first]).T)
    while len(seeds) < most and apart.max() > 2 * DRAWN_M:
        seeds.append(int(np.argmax(apart)))
        apart = np.minimum(apart, np.hypot(*(xy - xy[seeds[-1]]).T))
    nearest = np.argmin(
        np.hypot(xy[:, None, 0] - xy[seeds][None, :, 0], xy[:, None, 1] - xy[seeds][None, :, 1]),
        axis=1,
    )
    return [xy[nearest == k] for k in range(len(seeds))]


def drawn(table: Ground, xy: Floats) -> Ground:
    """Make metres among many trees cheaper in the search, so that mains pass there.

    Parameters
    ----------
    table : Ground
        The lattice.
    xy : ndarray of float, shape (t, 2)
        Places of the trees, metres.

    Returns
    -------
    Ground
    """
    rows, cols = table.shape
    x, y = table.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    gx, gy = (a.ravel() for a in np.broadcast_arrays(x, y))
    marked = np.asarray(shapely.points(xy))
    cells = np.asarray(shapely.points(gx, gy))
    hit, _ = shapely.STRtree(marked).query(cells, predicate="dwithin", distance=DRAWN_M)
    near = np.bincount(hit, minlength=len(cells)).reshape(rows, cols)
    off = DRAWN_MOST * near / (near + DRAWN_HALF)
    cost = (table.cost * (1.0 - off)).astype(np.float32)
    return replace(table, cost=cost)


def ends(
    table: Ground,
    field: Field,
    judge: Judge,
    opened: BaseGeometry,
    parted: list[Floats],
) -> list[int]:
    """Choose one end for each group: cheap to reach, near its middle, with room to turn.

    Parameters
    ----------
    table : Ground
        The lattice searched.
    field : Field
        What the search found.
    judge : Judge
        What lines are judged by.
    opened : shapely geometry
        Ground a machine may stand on.
    parted : list of ndarray of float, shape (k, 2)
        Places of each group's trees.

    Returns
    -------
    list of int
        States, rising; fewer than groups where ends fall together.
    """
    rows, cols = table.shape
    by_cell = field.cost.reshape(rows * cols, 16)
    best = np.argmin(by_cell, axis=1)
    cost = by_cell[np.arange(rows * cols), best]
    cells = np.flatnonzero(np.isfinite(cost))
    if table.passed is not None:  # a trail does not end in a strip
        cells = cells[~table.passed.ravel()[cells]]
    if not cells.size:
        return []
    x, y = table.centre(cells // cols, cells % cols)
    settings = judge.area.settings
    per_m = settings.trails.width_spur_m * settings.objective.spur
    radius = pad_radius_m(settings.tractor.length_m)
    room = pad_room(opened, radius)
    out: list[int] = []
    for trees in parted:
        apart = np.hypot(x - trees[:, 0].mean(), y - trees[:, 1].mean())
        near = np.flatnonzero(apart <= max(NEAR_END_M, float(apart.min()) + table.cell_m))
        level = pads(judge.terrain, room, near.astype(float), x[near], y[near], radius)
        price = cost[cells[near]] + apart[near] * per_m + NO_PAD_M2
        price[np.isin(near, level.at_m.astype(np.int64))] -= NO_PAD_M2
        cell = int(cells[near[int(np.argmin(price))]])
        out.append(cell * 16 + int(best[cell]))
    return sorted(set(out))
