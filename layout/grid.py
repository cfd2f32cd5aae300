"""The elevation grid: where its cells lie, and elevations between them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Dem:
    """A north-up elevation grid of square cells in a projected metric CRS.

    Parameters
    ----------
    z : ndarray of float32, shape (rows, cols), C order
        Elevation of cell centres, metres; NaN where not known. Row 0 is north.
    west_m, north_m : float
        Grid coordinates of the upper left *corner* of the upper left cell.
    cell_m : float
        Cell size, metres.
    """

    z: NDArray[np.float32]
    west_m: float
    north_m: float
    cell_m: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return (int(self.z.shape[0]), int(self.z.shape[1]))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north edges, metres."""
        rows, cols = self.shape
        return (
            self.west_m,
            self.north_m - rows * self.cell_m,
            self.west_m + cols * self.cell_m,
            self.north_m,
        )

    def fractional(self, x: ArrayLike, y: ArrayLike) -> tuple[Floats, Floats]:
        """Give fractional row and column of points; whole numbers are cell centres."""
        row = (self.north_m - np.asarray(y, dtype=float)) / self.cell_m - 0.5
        col = (np.asarray(x, dtype=float) - self.west_m) / self.cell_m - 0.5
        return np.asarray(row, dtype=np.float64), np.asarray(col, dtype=np.float64)

    def centres(self) -> tuple[Floats, Floats]:
        """Give x of the columns and y of the rows of cell centres, metres."""
        rows, cols = self.shape
        x = self.west_m + (np.arange(cols, dtype=np.float64) + 0.5) * self.cell_m
        y = self.north_m - (np.arange(rows, dtype=np.float64) + 0.5) * self.cell_m
        return np.asarray(x), np.asarray(y)

    def with_z(self, z: NDArray[np.float32]) -> "Dem":
        """Give the same grid holding other values."""
        return Dem(
            np.ascontiguousarray(z, dtype=np.float32), self.west_m, self.north_m, self.cell_m
        )


def bilinear(dem: Dem, x: ArrayLike, y: ArrayLike) -> Floats:
    """Interpolate elevations between cell centres.

    Parameters
    ----------
    dem : Dem
        Elevation grid.
    x, y : array_like of float, any one shape
        Grid coordinates, metres.

    Returns
    -------
    ndarray of float, same shape
        Elevation, metres; NaN off the outer cell centres or beside a gap.
    """
    row, col = dem.fractional(x, y)
    rows, cols = dem.shape
    inside = (row >= 0) & (col >= 0) & (row <= rows - 1) & (col <= cols - 1)
    r0 = np.minimum(np.where(inside, row, 0).astype(np.int64), max(rows - 2, 0))
    c0 = np.minimum(np.where(inside, col, 0).astype(np.int64), max(cols - 2, 0))
    fr, fc = row - r0, col - c0
    z = dem.z
    r1, c1 = np.minimum(r0 + 1, rows - 1), np.minimum(c0 + 1, cols - 1)
    out = (1 - fr) * ((1 - fc) * z[r0, c0] + fc * z[r0, c1]) + fr * (
        (1 - fc) * z[r1, c0] + fc * z[r1, c1]
    )
    return np.asarray(np.where(inside, out, np.nan), dtype=np.float64)
