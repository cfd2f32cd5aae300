"""A fine grid over a stand: which cells lie under crowns, and open ground parted at its necks.

Crowns are discs, and a cell counts by its middle.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio import features
from rasterio.transform import Affine
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

CELLS_M = (0.5, 1.0, 2.0, 4.0)  # the finest that keeps the grid small enough is taken
MOST_CELLS = 4_000_000
NECK_M = 4.0  # ours: wider than a spur of 12 ft, narrower than any crown of a sawlog tree


@dataclass(frozen=True, slots=True)
class Grid:
    """Cells over some ground, row 0 north; a cell counts by its middle."""

    west_m: float
    north_m: float
    cell_m: float
    rows: int
    cols: int

    @property
    def transform(self) -> Affine:
        """From columns and rows to metres."""
        return Affine(self.cell_m, 0.0, self.west_m, 0.0, -self.cell_m, self.north_m)

    def window(self, bounds: tuple[float, float, float, float]) -> "Grid":
        """Give the part of the grid that holds a box: west, south, east, north."""
        west, south, east, north = bounds
        cell = self.cell_m
        left = max(int(np.floor((west - self.west_m) / cell)), 0)
        right = min(int(np.ceil((east - self.west_m) / cell)), self.cols)
        top = max(int(np.floor((self.north_m - north) / cell)), 0)
        foot = min(int(np.ceil((self.north_m - south) / cell)), self.rows)
        return Grid(
            self.west_m + left * cell,
            self.north_m - top * cell,
            cell,
            max(foot - top, 1),
            max(right - left, 1),
        )

    def covered(self, ground: BaseGeometry) -> Mask:
        """Tell which cells lie on some ground."""
        if ground.is_empty:
            return np.zeros((self.rows, self.cols), dtype=bool)
        filled = features.rasterize(
            [ground], out_shape=(self.rows, self.cols), transform=self.transform, dtype="uint8"
        )
        return np.asarray(filled, dtype=bool)

    def discs(self, x: Floats, y: Floats, width_m: Floats) -> Mask:
        """Tell which cells lie under a crown."""
        under = np.zeros((self.rows, self.cols), dtype=bool)
        col = (x - self.west_m) / self.cell_m - 0.5  # in cells, from the middle of the first
        row = (self.north_m - y) / self.cell_m - 0.5
        reach = width_m / 2.0 / self.cell_m
        west, east = np.ceil(col - reach).astype(int), np.floor(col + reach).astype(int)
        north, south = np.ceil(row - reach).astype(int), np.floor(row + reach).astype(int)
        np.clip(west, 0, None, out=west)
        np.clip(north, 0, None, out=north)
        for i in range(x.size):
            r = np.arange(north[i], min(south[i] + 1, self.rows)) - row[i]
            c = np.arange(west[i], min(east[i] + 1, self.cols)) - col[i]
            disc = r[:, None] ** 2 + c**2 <= reach[i] ** 2
            under[north[i] : north[i] + r.size, west[i] : west[i] + c.size] |= disc
        return under


def grid_over(stand: BaseGeometry) -> Grid:
    """Lay the finest grid that is small enough, a cell's margin round the stand."""
    west, south, east, north = stand.bounds
    for cell in CELLS_M:
        cols = int(np.ceil((east - west) / cell)) + 2
        rows = int(np.ceil((north - south) / cell)) + 2
        if rows * cols <= MOST_CELLS or cell == CELLS_M[-1]:
            break
    return Grid(west - cell, south + (rows - 1) * cell, cell, rows, cols)


def parted(opened: Mask, cell_m: float) -> NDArray[np.int32]:
    """Give each part that is wider than a neck somewhere a number, its cells; 0 elsewhere.

    Open ground is shrunk by half a neck; each piece left is the core of a part, and
    the open ground round it goes to the nearest core.
    """
    framed = np.pad(opened, 1)  # nothing is open beyond the grid
    reach = NECK_M / 2.0 / cell_m + 0.5  # from the middle of a cell to the middle of the next
    core = ndimage.distance_transform_edt(framed) > reach
    number, count = ndimage.label(core, structure=np.ones((3, 3)))
    if not count:
        return np.zeros(opened.shape, dtype=np.int32)
    away, (row, col) = ndimage.distance_transform_edt(~core, return_indices=True)
    near = framed & (away <= reach + 1.0)  # a cell more: round corners are lost in shrinking
    return np.where(near, number[row, col], 0)[1:-1, 1:-1].astype(np.int32)
