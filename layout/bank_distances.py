"""How ground lies to a water body: distance to its bank, slope to it, slope of the bank.

For each cell near the water the nearest point of its bank is found, and between the
two the distance and the slope of the ground.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features as raster
from rasterio.transform import Affine
from scipy import ndimage
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

from layout.banks import bank_parts, bank_shape
from layout.grid import Dem, Floats, bilinear
from layout.site import WaterFeature
from layout.strip_widths import BANK_BASE_M

FALL_AWAY_PCT = 2.0  # least slope that counts as falling away from the water; ours
FALL_AWAY_ERRORS = 3.0  # and so many elevation errors at least, or noise would narrow a strip
SAMPLES_PER_CELL = 4  # points along a bank; a distance is then right to a millimetre at 10 m
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class NearWater:
    """Part of the grid within reach of one water body, and what lies in it.

    Parameters
    ----------
    part : tuple of slice
        Rows and columns of the grid.
    row, col : ndarray of int, shape (n,)
        Cells in reach, counted in the part; the other flat arrays go with them.
    bank : ndarray of float, shape (n, 2)
        Their nearest point of the bank, grid metres.
    distance_m : ndarray of float, shape (n,)
        Map distance to it; 0 in the water.
    to_water_pct : ndarray of float, shape (n,)
        Slope of the ground between the two; negative where it falls away from the water.
    bank_pct : ndarray of float, shape (n,)
        Slope of the bank on that side.
    unknown_bank : ndarray of bool, shape (n,)
        Where the bank lies on no known elevation.
    touched : ndarray of bool, shape of the part
        Cells the water touches.
    """

    part: tuple[slice, slice]
    row: NDArray[np.int64]
    col: NDArray[np.int64]
    bank: Floats
    distance_m: Floats
    to_water_pct: Floats
    bank_pct: Floats
    unknown_bank: Mask
    touched: Mask


def gaps_filled(dem: Dem) -> Dem:
    """Give every cell an elevation, that of the nearest known one where it has none.

    Ponds are often gaps, and a strip beside one still needs a slope. Only the
    strips read this; ground that is not known stays closed elsewhere.
    """
    known = np.isfinite(dem.z)
    if known.all() or not known.any():
        return dem if known.any() else dem.with_z(np.zeros_like(dem.z))
    row, col = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return dem.with_z(dem.z[row, col])


def near_water(
    body: WaterFeature, reach: float, ground: Dem, dem: Dem, error_m: float
) -> NearWater | None:
    """Measure the ground within reach of one water body.

    Parameters
    ----------
    body : WaterFeature
        The water.
    reach : float
        How far from its bank, metres on the map.
    ground, dem : Dem
        Elevations with every gap filled, and as read.
    error_m : float
        Their error, metres; ground that falls by less does not fall away.

    Returns
    -------
    NearWater or None
        None where no cell is in reach.
    """
    parts = bank_parts(body)
    if not parts:
        return None
    west, south, east, north = shapely.total_bounds(parts)
    rows, cols = dem.shape
    top, bottom = (int((dem.north_m - y) // dem.cell_m) for y in (north + reach, south - reach))
    left, right = (int((x - dem.west_m) // dem.cell_m) for x in (west - reach, east + reach))
    top, bottom = max(top, 0), min(bottom + 1, rows)
    left, right = max(left, 0), min(right + 1, cols)
    if top >= bottom or left >= right:
        return None
    part = (slice(top, bottom), slice(left, right))
    shape = (bottom - top, right - left)
    x, y = dem.centres()
    x, y = x[part[1]], y[part[0]]
    edge = _edge_points(parts, dem, reach)
    if edge.size == 0:  # the banks are far off, though their box is not, or it is all water
        edge = np.full((1, 2), 1e12)  # one point out of any reach
    grid_x, grid_y = (a.ravel() for a in np.meshgrid(x, y))
    # Large leaves: along one line most near points are about as near (3 times faster).
    distance, index = KDTree(edge, leafsize=100).query(
        np.column_stack([grid_x, grid_y]), distance_upper_bound=reach
    )
    half = 0.5 * dem.cell_m
    transform = Affine(dem.cell_m, 0.0, x[0] - half, 0.0, -dem.cell_m, y[0] + half)
    solid = [p for p in parts if p.geom_type == "Polygon"]
    wet = _burnt(solid, shape, transform, whole=False).ravel()
    touched = _burnt(parts, shape, transform, whole=True)
    chosen = np.flatnonzero(np.isfinite(distance) | wet)
    grid_x, grid_y = grid_x[chosen], grid_y[chosen]
    lost = ~np.isfinite(distance[chosen])  # deep in the water: its own place will do
    bank = edge[np.where(lost, 0, index[chosen])]
    bank[lost] = np.column_stack([grid_x[lost], grid_y[lost]])
    run = np.where(wet[chosen], 0.0, distance[chosen])
    row, col = np.divmod(chosen, shape[1])

    places = np.column_stack([grid_x, grid_y])
    z = ground.z[part][row, col].astype(float)
    to_water, side = _slopes(ground, places, z, bank, run, error_m)
    return NearWater(
        part=part,
        row=row,
        col=col,
        bank=bank,
        distance_m=run,
        to_water_pct=to_water,
        bank_pct=side,
        unknown_bank=~wet[chosen] & np.isnan(bilinear(dem, bank[:, 0], bank[:, 1])),
        touched=touched,
    )


@dataclass(frozen=True, slots=True, eq=False)
class NearPlaces:
    """How single places lie to a water body; as in `NearWater`, a value a place."""

    bank: Floats
    distance_m: Floats
    to_water_pct: Floats
    bank_pct: Floats


def near_places(
    body: WaterFeature, places: Floats, ground: Dem, error_m: float
) -> NearPlaces | None:
    """Measure how single places lie to a water body, by their own place and no cell's.

    Parameters
    ----------
    body : WaterFeature
        The water.
    places : ndarray of float, shape (n, 2)
        Grid metres.
    ground : Dem
        Elevations with every gap filled.
    error_m : float
        Their error, metres.

    Returns
    -------
    NearPlaces or None
        None where the body has no shape.
    """
    shape = bank_shape(body)
    if shape.is_empty:
        return None
    points = shapely.points(places)
    bank = shapely.get_coordinates(shapely.get_point(shapely.shortest_line(shape, points), 0))
    run = np.asarray(shapely.distance(shape, points), dtype=float)
    to_water, side = _slopes(ground, places, _height(ground, places), bank, run, error_m)
    return NearPlaces(bank, run, to_water, side)


def _height(ground: Dem, places: Floats) -> Floats:
    """Give elevations, of the nearest ground off the grid."""
    half = 0.5 * ground.cell_m
    low_x, low_y, high_x, high_y = (
        edge + sign * half for edge, sign in zip(ground.bounds, (1, 1, -1, -1), strict=True)
    )
    x, y = places.T
    return bilinear(ground, np.clip(x, low_x, high_x), np.clip(y, low_y, high_y))


def _slopes(
    ground: Dem, places: Floats, z: Floats, bank: Floats, run: Floats, error_m: float
) -> tuple[Floats, Floats]:
    """Give the slope of the ground to the water, and of the bank on that side, percent."""
    z_bank = _height(ground, bank)
    at_least = np.maximum(run, 0.5 * ground.cell_m)
    slope = 100.0 * (z - z_bank) / at_least
    away = z_bank - z > np.maximum(0.01 * FALL_AWAY_PCT * run, FALL_AWAY_ERRORS * error_m)
    share = np.minimum(1.0, BANK_BASE_M / at_least)
    rise = _height(ground, bank + share[:, None] * (places - bank)) - z_bank
    return (
        np.where(away, slope, np.maximum(slope, 0.0)),
        np.maximum(100.0 * rise / np.minimum(at_least, BANK_BASE_M), 0.0),
    )


def window(dem: Dem, part: tuple[slice, slice]) -> Dem:
    """Give a part of a grid as a grid of its own."""
    return Dem(
        z=np.ascontiguousarray(dem.z[part]),
        west_m=dem.west_m + part[1].start * dem.cell_m,
        north_m=dem.north_m - part[0].start * dem.cell_m,
        cell_m=dem.cell_m,
    )


def _edge_points(parts: list[BaseGeometry], dem: Dem, reach: float) -> Floats:
    """Give points along the banks, close enough to measure from, shape (n, 2)."""
    west, south, east, north = dem.bounds
    box = (west - reach, south - reach, east + reach, north + reach)
    lines = [p.boundary if p.geom_type == "Polygon" else p for p in parts]
    clipped = [shapely.clip_by_rect(line, *box) for line in lines]
    close = shapely.segmentize(np.array(clipped, dtype=object), dem.cell_m / SAMPLES_PER_CELL)
    return np.asarray(shapely.get_coordinates(close), dtype=float)


def _burnt(
    parts: list[BaseGeometry], shape: tuple[int, int], transform: Affine, *, whole: bool
) -> Mask:
    """Mark the cells under some shapes: all they touch, or those whose centre they hold."""
    if not parts:
        return np.zeros(shape, dtype=bool)
    burnt = raster.rasterize(
        parts, out_shape=shape, transform=transform, all_touched=whole, dtype="uint8"
    )
    return np.asarray(burnt == 1)
