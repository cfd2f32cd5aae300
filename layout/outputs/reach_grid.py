"""Where a stem could stand and still be pulled, by the planned winch positions, cell by cell."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from numpy.typing import NDArray

from layout import water
from layout.grid import Dem
from layout.winch import evaluate, prepare, rules_from
from layout.winch_ground import codes_at

if TYPE_CHECKING:
    from layout.plan import Plan

LEAST_CELL_M = 2.0  # a stump is placed no better; ours
CELLS_AT_ONCE = 20_000  # keeps the pairs of cells and positions small in memory


def reach_grid(plan: Plan) -> Dem:
    """Give the rope left at each cell of the stand.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Dem
        A grid of whole cells of the area's own, 2 m or more each. Its values are metres,
        float32: how far a stem in the cell's middle may be from there before the best
        position, as parked in the plan, may not pull it (the column ``margin_m`` of the
        pulls). NaN where none may, and off the stand. The weight of the stem is not asked.
    """
    dem = plan.terrain.dem
    each = max(1, math.ceil(LEAST_CELL_M / dem.cell_m - 1e-9))
    rows, cols = (-(-n // each) for n in dem.shape)
    left = np.full((rows, cols), np.nan, dtype=np.float32)
    grid = Dem(left, dem.west_m, dem.north_m, each * dem.cell_m)
    x, y = np.meshgrid(*grid.centres())
    in_stand = shapely.contains_xy(plan.area.stand, x, y)
    if not plan.positions or not in_stand.any():
        return grid
    left[in_stand] = _margins(plan, x[in_stand], y[in_stand])
    return grid.with_z(left)


def _margins(plan: Plan, x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Give the best margin of each place; NaN where nothing may be pulled from there."""
    area, spots = plan.area, plan.positions
    ground = prepare(area, plan.terrain, water.strips(area, plan.terrain))
    rules = rules_from(area.settings)
    best = np.full(x.size, np.nan)
    for start in range(0, x.size, CELLS_AT_ONCE):
        part = slice(start, start + CELLS_AT_ONCE)
        n = x[part].size
        cells = replace(
            ground,
            marked=np.arange(n),
            x=np.ascontiguousarray(x[part]),
            y=np.ascontiguousarray(y[part]),
            mass_kg=np.full(n, np.nan),
            position_error_m=np.zeros(n),
            exact=np.zeros(n, dtype=np.bool_),
            stands_on=codes_at(ground.closed, ground.dem, x[part], y[part]),
            tree_ids=("",) * n,
        )
        pairs = evaluate(
            cells,
            rules,
            [spot.x for spot in spots],
            [spot.y for spot in spots],
            [math.radians(90.0 - spot.rear_azimuth_deg) for spot in spots],
            0.0,  # the rear points as parked, a swing included
            [not spot.trail_id for spot in spots],
        )
        found = np.full(n, -np.inf)
        np.maximum.at(found, pairs.tree, pairs.margin_m)
        best[part] = np.where(np.isfinite(found), found, np.nan)
    return best
