"""What names on a map would hide, as a coarse picture of the page.

Each mark that must stay visible adds its cost to the cells it covers; what a name would hide
is the sum over the cells it would stand on. All lengths here are pixels of the page.
"""

from __future__ import annotations

import math

import numpy as np
from matplotlib.path import Path
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CELL_PX = 4
NAME_COST = 1e6  # another name: never


class Costs:
    """How dear each cell of a map is.

    Parameters
    ----------
    left, bottom, width, height : float
        Of the map on the page.
    """

    def __init__(self, left: float, bottom: float, width: float, height: float) -> None:
        self._corner = np.array([left, bottom])
        self._cost = np.zeros((math.ceil(height / CELL_PX), math.ceil(width / CELL_PX)))

    def add(self, x0: float, y0: float, x1: float, y1: float, cost: float) -> None:
        """Add a cost to every cell under a box; one that leaves the map is left out."""
        cells = self._cells(x0, y0, x1, y1)
        if cells is not None:
            self._cost[cells] += cost

    def add_line(self, ends: Floats, half: float, cost: float) -> None:
        """Add a cost along a line, shape (n, 2), that is as thick as twice `half`."""
        spans = np.diff(ends, axis=0)
        steps = np.maximum(np.hypot(*spans.T) // CELL_PX, 1).astype(int)
        piece = np.repeat(np.arange(len(steps)), steps + 1)
        number = np.arange(len(piece)) - np.repeat(np.cumsum(steps + 1) - steps - 1, steps + 1)
        share = np.where(number == steps[piece], 1.0, number * (1.0 / steps)[piece])
        points = ends[:-1][piece] + share[:, None] * spans[piece]
        self._add_boxes(points - half, points + half, cost / 2)

    def add_area(self, corners: Floats, cost: float) -> None:
        """Add a cost to every cell with its middle inside an outline, shape (n, 2)."""
        rows, cols = self._cost.shape
        x = self._corner[0] + (np.arange(cols) + 0.5) * CELL_PX
        y = self._corner[1] + (np.arange(rows) + 0.5) * CELL_PX
        cells = np.column_stack([axis.ravel() for axis in np.meshgrid(x, y)])
        self._cost[Path(corners).contains_points(cells).reshape(rows, cols)] += cost

    def price(self, x: float, y: float, width: float, height: float) -> float:
        """Give what a name at a place would hide; beyond the map's edge it cannot stand."""
        cells = self._cells(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
        if cells is None:
            return NAME_COST
        return float(self._cost[cells].sum())

    def prices(self, middles: Floats, width: float, height: float) -> Floats:
        """Give what a name would hide at each of many places, shape (n, 2), as `price` does.

        The sums are taken from running totals over the cells round all of them: a name is
        tried in many places that overlap.
        """
        half = np.array([width / 2, height / 2])
        low = np.floor((middles - half - self._corner) / CELL_PX).astype(int)
        high = np.floor((middles + half - self._corner) / CELL_PX).astype(int) + 1
        rows, cols = self._cost.shape
        inside = (low >= 0).all(axis=1) & (high[:, 0] <= cols) & (high[:, 1] <= rows)
        prices = np.full(len(middles), NAME_COST)
        if not inside.any():
            return prices
        low, high = low[inside], high[inside]
        (c0, r0), (c1, r1) = low.min(axis=0), high.max(axis=0)
        totals = np.zeros((r1 - r0 + 1, c1 - c0 + 1))
        totals[1:, 1:] = self._cost[r0:r1, c0:c1].cumsum(axis=0).cumsum(axis=1)
        (left, below), (right, above) = (low - (c0, r0)).T, (high - (c0, r0)).T
        prices[inside] = (
            totals[above, right] - totals[below, right] - totals[above, left] + totals[below, left]
        )
        return prices

    def _cells(self, x0: float, y0: float, x1: float, y1: float) -> tuple[slice, slice] | None:
        """Give the cells a box covers; None where it leaves the map."""
        rows, cols = self._cost.shape
        left, bottom = self._corner
        c0, c1 = int((x0 - left) // CELL_PX), int((x1 - left) // CELL_PX) + 1
        r0, r1 = int((y0 - bottom) // CELL_PX), int((y1 - bottom) // CELL_PX) + 1
        if c0 < 0 or r0 < 0 or c1 > cols or r1 > rows:
            return None
        return slice(r0, r1), slice(c0, c1)

    def _add_boxes(self, low: Floats, high: Floats, cost: float) -> None:
        """Add a cost under many boxes, shape (n, 2) each corner; one off the map is left out."""
        rows, cols = self._cost.shape
        first = ((low - self._corner) // CELL_PX).astype(int)
        last = ((high - self._corner) // CELL_PX).astype(int)
        on_map = (first >= 0).all(axis=1) & (last[:, 0] < cols) & (last[:, 1] < rows)
        first, last = first[on_map], last[on_map]
        if not len(first):
            return
        for up in range(int((last - first)[:, 1].max()) + 1):
            for along in range(int((last - first)[:, 0].max()) + 1):
                cell = first + np.array([along, up])
                inside = (cell <= last).all(axis=1)
                np.add.at(self._cost, (cell[inside, 1], cell[inside, 0]), cost)
