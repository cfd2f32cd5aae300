"""Which part of a raster an area needs, and the grid it is brought to."""

import math

import numpy as np
import shapely
from rasterio.windows import Window
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.projection import change
from layout.resample import Cells
from layout.speech import speak_area
from layout.tiles import Raster, targeted
from layout.units import Units

Bounds = tuple[float, float, float, float]

MOST_CELLS = 60_000_000
FINEST_M, COARSEST_M = 0.4, 20.0  # ours: a 10 m baseline must mean something
SLIVER_M2 = 1.0
TILES_REMEDY = 'list both, dem = ["...", "..."]'  # a command says it its own way
SPARE_CELLS = 2  # read beyond the window that is resampled to


def for_stand(raster: Raster, stand: BaseGeometry) -> Raster:
    """Choose the area's CRS anew by the stand, which a raster of a whole land may lie far around.

    Parameters
    ----------
    raster : Raster
    stand : geometry
        In the raster's ``target``.

    Returns
    -------
    Raster
        The same one where its ``target`` suits the stand.
    """
    return targeted(raster, _in_own(raster, stand).bounds)


def sides_m(raster: Raster, place: BaseGeometry) -> tuple[float, float]:
    """Give the two sides of a cell at a place, metres on the area's grid."""
    t = raster.transform
    if raster.crs == raster.target:
        return math.hypot(t.a, t.d), math.hypot(t.b, t.e)
    own = _in_own(raster, place).centroid
    steps = ((0, 0), (10 * t.a, 10 * t.d), (10 * t.b, 10 * t.e))  # ten columns and ten rows on
    x, y = (np.array([start + step[k] for step in steps]) for k, start in enumerate(own.coords[0]))
    x, y = change(raster.crs, raster.target, own.buffer(abs(t.a)).bounds, raster.where)(x, y)
    return math.hypot(x[1] - x[0], y[1] - y[0]) / 10, math.hypot(x[2] - x[0], y[2] - y[0]) / 10


def square_m(raster: Raster, sides: tuple[float, float]) -> float:
    """Give the side of a square as large as one cell, metres, to the centimetre."""
    side = math.sqrt(sides[0] * sides[1])
    return side if is_straight(raster) else max(round(side, 2), 0.01)


def check_cell(raster: Raster, side_m: float) -> None:
    """Refuse cells a trail grade cannot be read from."""
    if side_m > COARSEST_M:
        raise InputError(
            f"{raster.where} {raster.name} has cells of {side_m:.0f} m; trail grades are "
            f"measured over 10 m, so cells of {COARSEST_M:.0f} m or less are needed, 1 m is best"
        )


def is_straight(raster: Raster) -> bool:
    """Say whether the raster is north-up and square in the area's own CRS."""
    t = raster.transform
    upright = t.b == 0.0 and t.d == 0.0 and t.a > 0 and t.e < 0
    return raster.crs == raster.target and upright and abs(t.a + t.e) <= 1e-6 * t.a


def _in_own(raster: Raster, shape: BaseGeometry) -> BaseGeometry:
    """Bring a shape of the area's CRS to the raster's, edges followed closely."""
    if raster.crs == raster.target:
        return shape
    dense = shape.segmentize(max(shape.length / 400, 1.0)) if shape.length else shape
    move = change(raster.target, raster.crs, shape.bounds, raster.where)
    own = shapely.transform(dense, lambda xy: np.column_stack(move(xy[:, 0], xy[:, 1])))
    if not np.isfinite(shapely.get_coordinates(own)).all():
        raise InputError(
            f"{raster.where} {raster.name}: the stand lies outside its CRS ({raster.crs.name}); is "
            "one of them in the wrong CRS?"
        )
    return own


def _in_target(raster: Raster, shape: BaseGeometry) -> BaseGeometry:
    """Bring a shape of the raster's CRS to the area's."""
    if raster.crs == raster.target:
        return shape
    move = change(raster.crs, raster.target, shape.bounds, raster.where)
    return shapely.transform(shape, lambda xy: np.column_stack(move(xy[:, 0], xy[:, 1])))


def check_cover(raster: Raster, stand: BaseGeometry, units: Units) -> list[Finding]:
    """Refuse a raster that leaves part of the stand out; tell of a tile that is missing."""
    own = _in_own(raster, stand)
    share = own.difference(raster.outline()).area / own.area
    if share * stand.area > SLIVER_M2:
        if share > 0.999:
            west, south, east, north = stand.bounds
            raise InputError(
                f"{raster.where} {raster.name} does not reach the stand at all; the stand lies "
                f"at {west:.0f} to {east:.0f}, {south:.0f} to {north:.0f} in {raster.target.name}. "
                "Is one of them in the wrong CRS?"
            )
        raise InputError(
            f"{raster.where} {raster.name} leaves {speak_area(share * stand.area, units)} of the "
            f"stand's {speak_area(stand.area, units)} ({_percent(share)} %) uncovered; get the "
            f"neighbouring tile and {TILES_REMEDY}"
        )
    if len(raster.tiles) == 1:
        return []
    bare = own.difference(shapely.union_all([tile.head.outline() for tile in raster.tiles]))
    share = bare.area / own.area
    if share * stand.area <= SLIVER_M2:
        return []
    x, y = _in_target(raster, bare.representative_point()).coords[0]
    return [
        Finding(
            "dem_tile_missing",
            "caution",
            f"{speak_area(share * stand.area, units)} of the stand lie on none of the tiles "
            f"{raster.name}, around {x:.0f}, {y:.0f}; list the tile between them.",
            "ground",
            "dem",
            value=share * stand.area,
            unit="m2",
            at=(x, y),
        )
    ]


def _percent(share: float) -> str:
    """Write a share in percent, never as none."""
    return f"{100 * share:.0f}" if share >= 0.01 else f"{100 * share:.1g}"


def check_size(raster: Raster, rows: int, cols: int) -> None:
    """Refuse a window that would not fit in memory."""
    if rows * cols > MOST_CELLS:
        raise InputError(
            f"{raster.where} the stand and its surroundings take {rows * cols / 1e6:.0f} million "
            f"cells; {MOST_CELLS / 1e6:.0f} million at most. Use coarser cells or a smaller stand"
        )


def window_of(raster: Raster, wanted: Bounds) -> Window:
    """Find the raster's own cells that cover bounds of the area's CRS."""
    spare = 0 if is_straight(raster) else SPARE_CELLS
    xy = shapely.get_coordinates(_in_own(raster, box(*wanted)))
    back = ~raster.transform
    cols = back.a * xy[:, 0] + back.b * xy[:, 1] + back.c
    rows = back.d * xy[:, 0] + back.e * xy[:, 1] + back.f
    # A window's edge on a cell's edge must not take in the next cell for a rounding.
    c0, r0 = math.floor(cols.min() + 1e-6) - spare, math.floor(rows.min() + 1e-6) - spare
    c1, r1 = math.ceil(cols.max() - 1e-6) + spare, math.ceil(rows.max() - 1e-6) + spare
    c0, r0 = max(c0, 0), max(r0, 0)
    c1, r1 = min(c1, raster.width), min(r1, raster.height)
    return Window(c0, r0, max(c1 - c0, 1), max(r1 - r0, 1))


def grid_of(raster: Raster, wanted: Bounds, side_m: float) -> Cells:
    """Lay the area's cells over what the raster covers, on whole multiples of their side."""
    covered = _in_own(raster, box(*wanted)).intersection(raster.outline())
    west, south, east, north = _in_target(raster, covered).intersection(box(*wanted)).bounds
    west, north = math.floor(west / side_m) * side_m, math.ceil(north / side_m) * side_m
    cols, rows = math.ceil((east - west) / side_m), math.ceil((north - south) / side_m)
    check_size(raster, rows, cols)
    return Cells(west, north, side_m, rows, cols)
