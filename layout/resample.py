"""Elevations moved onto another grid: bilinear between known cells, gaps kept as gaps."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio.transform import Affine

from layout.projection import Change

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

NEAR = 1e-4  # of a cell: places between the exact ones are at most this far off
LONGEST_STEP = 64  # cells between exact places, at first
BAND_ROWS = 256  # rows worked on at once


@dataclass(frozen=True, slots=True)
class Cells:
    """Where the cells of a north-up grid lie.

    Parameters
    ----------
    west, north : float
        Upper left corner, metres.
    cell : float
        Side of a cell, metres.
    rows, cols : int
    """

    west: float
    north: float
    cell: float
    rows: int
    cols: int


def between_cells(z: Floats32, row: Floats, col: Floats) -> Floats32:
    """Interpolate between the four cells around each place.

    A place whose own cell is a gap stays a gap. Beside a gap or the edge the cells
    that are known count alone, so that no cell is lost around every gap.

    Parameters
    ----------
    z : ndarray of float32, shape (rows, cols)
        NaN where not known.
    row, col : ndarray of float, one shape
        Whole numbers are cell centres.

    Returns
    -------
    ndarray of float32, that shape
    """
    rows, cols = z.shape
    own_row, own_col = np.rint(row), np.rint(col)
    on = (own_row >= 0) & (own_col >= 0) & (own_row < rows) & (own_col < cols)
    r0, c0 = np.floor(row), np.floor(col)
    fr, fc = row - r0, col - c0
    total, weight = np.zeros(row.shape), np.zeros(row.shape)
    for dr, wr in ((0, 1 - fr), (1, fr)):
        for dc, wc in ((0, 1 - fc), (1, fc)):
            r = np.clip(np.where(on, r0 + dr, 0), 0, rows - 1).astype(np.intp)
            c = np.clip(np.where(on, c0 + dc, 0), 0, cols - 1).astype(np.intp)
            value = z[r, c].astype(np.float64)
            w = np.where(np.isfinite(value), wr * wc, 0.0)
            total += w * np.where(np.isfinite(value), value, 0.0)
            weight += w
    own_row, own_col = np.where(on, own_row, 0), np.where(on, own_col, 0)
    known = on & np.isfinite(z[own_row.astype(np.intp), own_col.astype(np.intp)]) & (weight > 0)
    out = np.divide(total, weight, out=np.full(row.shape, np.nan), where=known)
    return np.asarray(out, dtype=np.float32)


def onto_grid(z: Floats32, transform: Affine, back: Change, grid: Cells) -> Floats32:
    """Resample a raster onto a grid, each cell centre looked up where it lies.

    Parameters
    ----------
    z : ndarray of float32
        The raster's cells, NaN where not known.
    transform : Affine
        From its columns and rows to its own CRS.
    back : Change
        From the grid's CRS to the raster's.
    grid : Cells

    Returns
    -------
    ndarray of float32, shape (grid.rows, grid.cols)
    """
    out = np.full((grid.rows, grid.cols), np.nan, dtype=np.float32)
    inverse = ~transform
    step = _step(back, inverse, grid)
    for top in range(0, grid.rows, BAND_ROWS):
        count = min(BAND_ROWS, grid.rows - top)
        row, col = _places(back, inverse, grid, (top, count), step)
        out[top : top + count] = between_cells(z, row, col)
    return out


def averaged(z: Floats32, by: int) -> Floats32:
    """Average whole blocks of cells; a block is a gap where half of it or more is.

    Parameters
    ----------
    z : ndarray of float32
    by : int
        Cells of a block's side; what is left over in the east and south stays out.

    Returns
    -------
    ndarray of float32, shape (rows // by, cols // by)
    """
    rows, cols = z.shape[0] // by, z.shape[1] // by
    out = np.empty((rows, cols), dtype=np.float32)
    for top in range(0, rows, BAND_ROWS):
        count = min(BAND_ROWS, rows - top)
        block = z[top * by : (top + count) * by, : cols * by].astype(np.float64)
        block = block.reshape(count, by, cols, by)
        known = np.isfinite(block)
        many = known.sum(axis=(1, 3))
        total = np.where(known, block, 0.0).sum(axis=(1, 3))
        enough = many * 2 > by * by
        mean = np.divide(total, many, out=np.full(many.shape, np.nan), where=enough)
        out[top : top + count] = mean
    return out


def _at(back: Change, inverse: Affine, grid: Cells, row: Floats, col: Floats) -> tuple[Floats, ...]:
    """Give the raster's row and column of places of the grid, looked up one by one."""
    x, y = grid.west + (col + 0.5) * grid.cell, grid.north - (row + 0.5) * grid.cell
    x, y = back(x.ravel(), y.ravel())
    t = inverse
    source_row = (t.d * x + t.e * y + t.f - 0.5).reshape(row.shape)
    return source_row, (t.a * x + t.b * y + t.c - 0.5).reshape(row.shape)


def _step(back: Change, inverse: Affine, grid: Cells) -> int:
    """Choose how far apart exact places may be; between them the curve is held straight.

    What that misses is most in the middle of a step. It is looked at all over the grid
    for the longest step, which is halved until it is near enough.
    """
    step = LONGEST_STEP
    while step > 1:
        row, col = np.meshgrid(
            np.linspace(0, grid.rows - 1, 7), np.linspace(0, grid.cols - 1, 7), indexing="ij"
        )
        off = 0.0
        for dr, dc in ((step, 0), (0, step), (step, step)):
            ends = [_at(back, inverse, grid, row + k * dr, col + k * dc) for k in (0.0, 0.5, 1.0)]
            for first, middle, last in zip(*ends, strict=True):
                missed = float(np.abs((first + last) / 2 - middle).max())
                off = max(off, missed) if math.isfinite(missed) else math.inf
        if off <= NEAR:
            break
        step //= 2
    return step


def _places(
    back: Change, inverse: Affine, grid: Cells, band: tuple[int, int], step: int
) -> tuple[Floats, Floats]:
    """Give the raster's row and column of every cell centre of some rows of the grid."""
    top, count = band
    rows = top + np.arange(count, dtype=np.float64)
    cols = np.arange(grid.cols, dtype=np.float64)
    node_rows = top + step * np.arange(math.ceil((count - 1) / step) + 1, dtype=np.float64)
    node_cols = step * np.arange(math.ceil((grid.cols - 1) / step) + 1, dtype=np.float64)
    exact = _at(back, inverse, grid, *np.meshgrid(node_rows, node_cols, indexing="ij"))
    found = []
    for values in exact:
        across = np.stack([np.interp(cols, node_cols, line) for line in values])
        at = (rows - top) / step
        low = np.minimum(at.astype(np.intp), max(len(node_rows) - 2, 0))
        part = (at - low)[:, None]
        high = np.minimum(low + 1, len(node_rows) - 1)
        found.append((1 - part) * across[low] + part * across[high])
    return found[0], found[1]
