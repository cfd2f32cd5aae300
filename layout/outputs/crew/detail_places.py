"""On which detail sheet a thing is told: where it lies decides."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.outputs.trailer_place import small_landing

if TYPE_CHECKING:
    from layout.outputs.crew.walking import Leg
    from layout.outputs.map_window import Window
    from layout.outputs.work_blocks import Block, Line
    from layout.plan import Plan
    from layout.records import Trail

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SAMPLE_M = 1.0  # how finely a trail is looked at


class Places:
    """The sheet of every thing of a plan, counted from 0.

    Parameters
    ----------
    plan : Plan
        The plan.
    windows : sequence of Window
        The ground of each detail sheet; one at least.
    """

    def __init__(self, plan: Plan, windows: Sequence[Window]) -> None:
        self._plan = plan
        self._bounds = np.array([(w.west, w.south, w.east, w.north) for w in windows])
        self._long_m = float((self._bounds[:, 2:] - self._bounds[:, :2]).min())
        trees = plan.area.trees
        there = self.of(trees.x, trees.y).tolist()
        self.trees: dict[str, int] = dict(zip(trees.tree_id, there, strict=True))
        self.positions = {p.position_id: self.at(p.x, p.y) for p in plan.positions}
        self.trails = {trail.trail_id: self._most_of(trail) for trail in plan.trails}

    def of(self, x: Floats, y: Floats) -> Ints:
        """Give the sheets of places: where several show one, or none does, the nearest middle.

        Parameters
        ----------
        x, y : ndarray of float, shape (n,)
            Metres on the plan's grid.

        Returns
        -------
        ndarray of int, shape (n,)
        """
        west, south, east, north = (self._bounds[:, k] for k in range(4))
        x, y = np.asarray(x, dtype=float)[:, None], np.asarray(y, dtype=float)[:, None]
        off = np.hypot(x - (west + east) / 2, y - (south + north) / 2)
        shown = (x >= west) & (x <= east) & (y >= south) & (y <= north)
        held = shown.any(axis=1, keepdims=True)
        made: Ints = np.where(shown | ~held, off, np.inf).argmin(axis=1)
        return made

    def at(self, x: float, y: float) -> int:
        """Give the sheet of one place."""
        return int(self.of(np.array([x]), np.array([y]))[0])

    def landing(self, landing_id: str = "") -> int:
        """Give the sheet of a landing, of the first one where none is named."""
        site = self._plan.landing_of(landing_id)
        return self.at(site.x, site.y)

    def trail(self, trail_id: str, landing_id: str = "") -> int:
        """Give the sheet that holds most of a trail; no trail is the landing."""
        found = self.trails.get(trail_id)
        return self.landing(landing_id) if found is None else found

    def pieces(self, trail: Trail, way: Sequence[Leg]) -> list[tuple[int, list[Leg]]]:
        """Divide the legs of a trail among the sheets.

        A spur is told whole on the sheet that holds most of it, unless it is longer than a
        sheet is wide; of a main trail, or so long a spur, each leg is on the sheet that
        shows its end.

        Returns
        -------
        list of tuple of int and list of Leg
            In the order of walking; every leg once.
        """
        if trail.kind != "main" and trail.line.length <= self._long_m:
            return [(self.trails[trail.trail_id], list(way))]
        ends = shapely.line_interpolate_point(trail.line, [leg.to_m for leg in way])
        sheets = self.of(shapely.get_x(ends), shapely.get_y(ends)).tolist()
        there = zip(sheets, way, strict=True)
        return [(k, [leg for _, leg in both]) for k, both in groupby(there, lambda one: one[0])]

    def block(self, block: Block) -> int:
        """Give the sheet of a block of work: where most of its positions lie, or else its trees."""
        names = [line.name for line in block.lines]
        there = Counter(self.positions[name] for name in names if name in self.positions)
        if not there:
            trees = (tree for line in block.lines for tree in line.tree_ids)
            there = Counter(self.trees[tree] for tree in trees if tree in self.trees)
        if there:
            return max(there, key=there.__getitem__)  # of equals the first
        return self.line(block.lines[0], block)

    def line(self, line: Line, block: Block) -> int:
        """Give the sheet of a line of a block of work."""
        if line.name in self.positions:
            return self.positions[line.name]
        if line.does[0] in ("small_open", "small_close", "carry"):
            two = small_landing(self._plan)
            if two is not None and two.shape is not None:
                return self.at(two.shape.centroid.x, two.shape.centroid.y)
        if block.part == "hazard" and line.tree_ids:
            return self.trees[line.tree_ids[0]]
        return self.trail(line.name or block.trail_id, block.landing_id)

    def _most_of(self, trail: Trail) -> int:
        """Give the sheet that holds most of a trail's length."""
        count = max(1, round(trail.line.length / SAMPLE_M))
        along = (np.arange(count) + 0.5) * trail.line.length / count
        points = shapely.line_interpolate_point(trail.line, along)
        return int(np.bincount(self.of(shapely.get_x(points), shapely.get_y(points))).argmax())
