"""Outlines of groups of cells that never lose a cell.

A traced outline is a staircase. Filling its inner corners straightens it, and
unlike the usual line simplifiers it can only add ground: what the grid closes,
the drawn polygon closes too.
"""

from typing import cast

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features
from rasterio.transform import Affine
from shapely.geometry import MultiPolygon, Polygon, shape
from shapely.geometry.base import BaseGeometry

from layout.grid import Dem, Floats

FILL_CELLS = 1.0  # deepest inner corner filled, in cells: a whole step of a staircase


def outline(mask: NDArray[np.bool_], dem: Dem) -> MultiPolygon:
    """Draw round a group of cells.

    Parameters
    ----------
    mask : ndarray of bool, shape (rows, cols)
        Cells to draw round.
    dem : Dem
        Grid the cells belong to; only its place and cell size are used.

    Returns
    -------
    MultiPolygon
        Covers every cell of the mask whole, and nothing farther than one cell
        from them; empty when no cell is set. Cells that only touch at a corner
        are separate parts.
    """
    if not mask.any():
        return MultiPolygon()
    transform = Affine(dem.cell_m, 0.0, dem.west_m, 0.0, -dem.cell_m, dem.north_m)
    traced = features.shapes(mask.astype(np.uint8), mask=mask, connectivity=4, transform=transform)
    cells = [cast(Polygon, shape(geometry)) for geometry, _ in traced]
    eased = [_eased(polygon, FILL_CELLS * dem.cell_m * (1 + 1e-9)) for polygon in cells]
    whole = shapely.union_all(eased)
    parts = list(whole.geoms) if isinstance(whole, MultiPolygon) else [whole]
    return MultiPolygon([p for p in parts if isinstance(p, Polygon)])


def _eased(polygon: Polygon, deepest_m: float) -> BaseGeometry:
    """Fill the inner corners of one traced polygon."""
    turned = shapely.geometry.polygon.orient(polygon)  # ground on the left of every ring
    rings = [_filled(np.asarray(turned.exterior.coords)[:-1], deepest_m)]
    rings += [_filled(np.asarray(hole.coords)[:-1], deepest_m) for hole in turned.interiors]
    eased = Polygon(rings[0], [r for r in rings[1:] if len(r) > 2])
    if eased.is_valid and eased.covers(polygon):
        return eased
    # Filled corners met across a gap of one cell, which may shut a whole bay: keep
    # what lies within the depth asked.
    near = polygon.buffer(deepest_m, join_style="mitre")
    return shapely.union(shapely.intersection(shapely.make_valid(eased), near), polygon)


def _filled(ring: Floats, deepest_m: float) -> Floats:
    """Leave out the corners that turn away from the ground, while none is too deep."""
    kept = list(range(len(ring)))
    changed = True
    while changed and len(kept) > 3:
        changed = False
        still: list[int] = []
        for position, here in enumerate(kept):
            left = len(kept) - position - 1
            before = still[-1] if still else kept[-1]
            after = kept[position + 1] if left else still[0]
            if left + len(still) >= 3 and _fills(ring, before, here, after, deepest_m):
                changed = True
            else:
                still.append(here)
        kept = still
    return ring[kept]


def _fills(ring: Floats, before: int, here: int, after: int, deepest_m: float) -> bool:
    chord = ring[after] - ring[before]
    length = float(np.hypot(chord[0], chord[1]))
    if length == 0:
        return False
    leg = ring[here] - ring[before]
    if chord[0] * leg[1] - chord[1] * leg[0] < 0:  # the corner sticks out: it must stay
        return False
    # Corners left out earlier lie between the two ends: all must stay close to the new
    # side itself, not only to the line it lies on.
    stop = after if after > before else after + len(ring)
    between = ring[np.arange(before + 1, stop) % len(ring)] - ring[before]
    off = np.abs(chord[0] * between[:, 1] - chord[1] * between[:, 0]) / length
    along = (between @ chord) / length
    return bool(
        (off <= deepest_m).all() and (along >= 0).all() and (along <= length * (1 + 1e-9)).all()
    )
