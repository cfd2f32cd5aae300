"""The ground a rope crosses, made ready once for every search of pulls.

Closed ground is one grid of codes on the elevation grid's cells: off the land,
kept out of, water or a strip the rope may not enter, a hazard no rope passes.
Ground within half a corridor of such a place carries the same code as a softer
one: the rope may lie there only near the stump.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features, transform
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from layout.grid import Dem
from layout.land import hazard_rule, usable_land
from layout.site import Area
from layout.soil_map import closed_soil
from layout.terrain import Terrain
from layout.tree_sizes import sizes_of
from layout.water import Strips
from layout.winch_kernel import HAZARD, KEEP_OUT, LAND, SOFT, WATER
from layout.winch_rules import CORRIDOR_STEM_M, CORRIDOR_TREE_M, EXACT_POSITION_M

Floats = NDArray[np.float64]

BIN_M = 5.0
UNKNOWN_STEM_CM = 30.0  # a leave stem without a diameter; ours


@dataclass(frozen=True, slots=True, eq=False)
class Bins:
    """Points sorted into square bins.

    Parameters
    ----------
    first : ndarray of int, shape (rows, cols + 1)
        Where each bin's stretch of ``items`` starts; bins of a row follow each other.
    items : ndarray of int, shape (k,)
        Points, bin by bin.
    west_m, north_m, bin_m : float
        Upper left corner and size of the bins, metres.
    """

    first: NDArray[np.int64]
    items: NDArray[np.int64]
    west_m: float
    north_m: float
    bin_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Stems:
    """Leave stems whose place is known to 1.5 m; arrays have shape (k,).

    Parameters
    ----------
    row : ndarray of int
        Row of the tree list.
    x, y, radius_m : ndarray of float
        Place and radius at breast height, metres.
    keep : ndarray of bool
        Crop, seed, den, boundary or witness trees.
    bins : Bins
        Where they stand.
    """

    row: NDArray[np.int64]
    x: Floats
    y: Floats
    radius_m: Floats
    keep: NDArray[np.bool_]
    bins: Bins


@dataclass(frozen=True, slots=True, eq=False)
class PullGround:
    """What pulls are judged against; made by `prepare`, never changed.

    Parameters
    ----------
    dem, smooth : Dem
        Elevations as measured, and smoothed for how a tractor lies.
    closed : ndarray of uint8, shape of the elevation grid
        0 open, 1 off the land, 2 keep out, 3 water or strip, 4 hazard; ten more
        within half a corridor of it.
    marked : ndarray of int, shape (m,)
        Rows of the tree list that come out. The next arrays have the same shape.
    x, y : ndarray of float
        Stumps, metres.
    mass_kg : ndarray of float
        Green mass of what is winched; NaN where the diameter is missing.
    position_error_m : ndarray of float
        Of the tree's own dot.
    exact : ndarray of bool
        True where single stems may be spoken of beside this tree.
    stands_on : ndarray of uint8
        What the stump stands on: 0 open, or the code of closed ground.
    tree_ids : tuple of str
        Of the marked trees.
    stems : Stems
        Leave stems with a known place.
    leave_known : bool
        False where the list holds marked trees only: hits are then unknown, not none.
    density_per_m2, density_vague_per_m2 : float
        Leave stems to a square metre of the stand: all, and those whose place is vague.
    stem_width_m : float
        Mean diameter of the leave stems.
    single_stems_usable : bool
        True where some marked tree and some leave stem are placed well enough.
    no_parking : geometry
        Where no outfit is parked, however level; prepared, often empty.
    """

    dem: Dem
    smooth: Dem
    closed: NDArray[np.uint8]
    marked: NDArray[np.int64]
    x: Floats
    y: Floats
    mass_kg: Floats
    position_error_m: Floats
    exact: NDArray[np.bool_]
    stands_on: NDArray[np.uint8]
    tree_ids: tuple[str, ...]
    stems: Stems
    leave_known: bool
    density_per_m2: float
    density_vague_per_m2: float
    stem_width_m: float
    single_stems_usable: bool
    no_parking: BaseGeometry

    def of_trees(self, rows: NDArray[np.int64]) -> "PullGround":
        """Give the same ground with some of the marked trees, by their places among them."""
        return replace(
            self,
            marked=self.marked[rows],
            x=self.x[rows],
            y=self.y[rows],
            mass_kg=self.mass_kg[rows],
            position_error_m=self.position_error_m[rows],
            exact=self.exact[rows],
            stands_on=self.stands_on[rows],
            tree_ids=tuple(self.tree_ids[row] for row in rows),
        )


def prepare(area: Area, terrain: Terrain, strips: Strips) -> PullGround:
    """Make the ground ready that pulls are judged against.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its elevations, measured and smoothed.
    strips : Strips
        Its water and strips, on the same grid.

    Returns
    -------
    PullGround
        Arrays for `layout.winch.evaluate`.
    """
    trees = area.trees
    dem = terrain.dem
    extract_tree = area.settings.work.extract == "tree"
    corridor_m = CORRIDOR_TREE_M if extract_tree else CORRIDOR_STEM_M
    closed = closed_ground(area, dem, strips, corridor_m / 2)

    error = np.where(
        np.isfinite(trees.position_error_m),
        trees.position_error_m,
        area.settings.stand.position_error_m,
    )
    exact = error <= EXACT_POSITION_M + 1e-9
    row = np.flatnonzero(trees.to_serve)
    mass = sizes_of(area).mass_kg[row]
    leave = np.flatnonzero(~trees.marked)
    placed = leave[exact[leave]]
    diameter = np.where(np.isfinite(trees.dbh_cm), trees.dbh_cm, UNKNOWN_STEM_CM) / 100
    keep = np.array([bool(word) for word in trees.keep], dtype=np.bool_)
    stand_m2 = max(float(area.stand.area), 1.0)
    no_parking = closed_soil(area)
    shapely.prepare(no_parking)
    return PullGround(
        dem=dem,
        smooth=terrain.smooth,
        closed=closed,
        marked=row,
        x=np.ascontiguousarray(trees.x[row], dtype=np.float64),
        y=np.ascontiguousarray(trees.y[row], dtype=np.float64),
        mass_kg=np.asarray(mass, dtype=np.float64),
        position_error_m=np.asarray(error[row], dtype=np.float64),
        exact=np.asarray(exact[row], dtype=np.bool_),
        stands_on=codes_at(closed, dem, trees.x[row], trees.y[row]),
        tree_ids=tuple(trees.tree_id[i] for i in row),
        stems=Stems(
            row=placed,
            x=np.ascontiguousarray(trees.x[placed], dtype=np.float64),
            y=np.ascontiguousarray(trees.y[placed], dtype=np.float64),
            radius_m=np.ascontiguousarray(diameter[placed] / 2, dtype=np.float64),
            keep=np.ascontiguousarray(keep[placed], dtype=np.bool_),
            bins=binned(trees.x[placed], trees.y[placed], BIN_M, dem.bounds),
        ),
        leave_known=trees.full_list,
        density_per_m2=leave.size / stand_m2,
        density_vague_per_m2=(leave.size - placed.size) / stand_m2,
        stem_width_m=float(diameter[leave].mean()) if leave.size else 0.0,
        single_stems_usable=bool(trees.full_list and exact[row].any() and placed.size > 0),
        no_parking=no_parking,
    )


def closed_ground(
    area: Area, dem: Dem, strips: Strips, half_corridor_m: float
) -> NDArray[np.uint8]:
    """Code the ground that a rope, or a load on it, keeps off.

    Parameters
    ----------
    area : Area
        The job.
    dem : Dem
        Grid to code on.
    strips : Strips
        Water and strips, on the same grid.
    half_corridor_m : float
        Half the width a load takes up, metres.

    Returns
    -------
    ndarray of uint8, shape of the grid
        As in `PullGround`. Where several apply the first of water, off the land,
        keep out, hazard counts, and any hard one before a soft one.
    """
    land = usable_land(area)
    keep_out = shapely.union_all(area.keep_out) if area.keep_out else None
    hazards = [
        (hazard.geometry, rule.machine_m)
        for hazard in area.hazards
        for rule in (hazard_rule(hazard.kind),)
        if not rule.rope
    ]
    half_cell = dem.cell_m / 2
    off = ~_inside(land, dem)
    masks = [
        (LAND, off, ~_inside(land.buffer(-half_corridor_m), dem)),
        (
            KEEP_OUT,
            _inside(keep_out, dem),
            _inside(keep_out.buffer(half_corridor_m), dem) if keep_out else None,
        ),
        (WATER, strips.no_cable, _near(strips.no_cable, dem.cell_m, half_corridor_m)),
        (
            HAZARD,
            # half a cell more, so that a line drawn across the ground has no holes
            _union(hazards, dem, half_cell),
            _union(hazards, dem, half_cell + half_corridor_m),
        ),
    ]
    codes = np.zeros(dem.shape, dtype=np.uint8)
    order = (HAZARD, KEEP_OUT, LAND, WATER)  # the last one written stands
    by_code = {code: (hard, soft) for code, hard, soft in masks}
    for code in order:
        soft = by_code[code][1]
        if soft is not None:
            codes[soft] = SOFT + code
    for code in order:
        codes[by_code[code][0]] = code
    return codes


def _inside(shape: BaseGeometry | None, dem: Dem) -> NDArray[np.bool_]:
    """Tell which cell centres lie inside a shape."""
    if shape is None or shape.is_empty:
        return np.zeros(dem.shape, dtype=np.bool_)
    burned = features.rasterize(
        [shape],
        out_shape=dem.shape,
        transform=transform.from_origin(dem.west_m, dem.north_m, dem.cell_m, dem.cell_m),
        dtype="uint8",
    )
    return np.asarray(burned == 1)


def _union(shapes: list[tuple[BaseGeometry, float]], dem: Dem, more_m: float) -> NDArray[np.bool_]:
    """Tell which cells lie within its own distance, and some more, of any of the shapes."""
    if not shapes:
        return np.zeros(dem.shape, dtype=np.bool_)
    return _inside(shapely.union_all([s.buffer(clear + more_m) for s, clear in shapes]), dem)


def _near(mask: NDArray[np.bool_], cell_m: float, within_m: float) -> NDArray[np.bool_]:
    """Tell which cells have their centre within a distance of a cell of the mask."""
    if not mask.any():
        return np.zeros(mask.shape, dtype=np.bool_)
    away = ndimage.distance_transform_edt(~mask) * cell_m
    return np.asarray(away - cell_m / 2 <= within_m)


def codes_at(closed: NDArray[np.uint8], dem: Dem, x: Floats, y: Floats) -> NDArray[np.uint8]:
    """Look up the hard codes of points; off the grid is off the land."""
    col = np.floor((np.asarray(x) - dem.west_m) / dem.cell_m)
    row = np.floor((dem.north_m - np.asarray(y)) / dem.cell_m)
    rows, cols = dem.shape
    on = (row >= 0) & (col >= 0) & (row < rows) & (col < cols)
    found = np.full(col.shape, LAND, dtype=np.uint8)
    # whole numbers only now: a place far off the grid may be too large for one
    found[on] = closed[row[on].astype(np.int64), col[on].astype(np.int64)]
    return np.where(found >= SOFT, np.uint8(0), found)


def binned(x: Floats, y: Floats, bin_m: float, within: tuple[float, float, float, float]) -> Bins:
    """Sort points into square bins.

    Parameters
    ----------
    x, y : ndarray of float, shape (k,)
        Grid coordinates, metres.
    bin_m : float
        Size of a bin, metres.
    within : tuple of float
        West, south, east, north. A point outside is in no bin, however far off it
        lies: one wrong coordinate must not size the bins.

    Returns
    -------
    Bins
        Points of one bin keep their order.
    """
    low_x, low_y, high_x, high_y = within
    near = np.flatnonzero((x >= low_x) & (x <= high_x) & (y >= low_y) & (y <= high_y))
    x, y = x[near], y[near]
    west, north, rows, cols = 0.0, 0.0, 1, 1
    if x.size:
        west, north = float(x.min()), float(y.max())
        cols = math.floor((float(x.max()) - west) / bin_m) + 1
        rows = math.floor((north - float(y.min())) / bin_m) + 1
    at = (np.floor((north - y) / bin_m) * cols + np.floor((x - west) / bin_m)).astype(np.int64)
    starts = np.concatenate([[0], np.cumsum(np.bincount(at, minlength=rows * cols))])
    first = np.empty((rows, cols + 1), dtype=np.int64)
    first[:, :cols] = starts[:-1].reshape(rows, cols)
    first[:, cols] = starts[cols::cols]
    items = near[np.argsort(at, kind="stable")].astype(np.int64)
    return Bins(first, items, west, north, bin_m)
