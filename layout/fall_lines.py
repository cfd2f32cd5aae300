"""Where a trail runs straight down the hill, and whether what runs off it reaches water."""

import math
from collections.abc import Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.grid import bilinear
from layout.records import WaterStrip
from layout.runs import Run, edges, runs
from layout.site import Area
from layout.terrain import Stations, Terrain
from layout.units import FOOT_M

Floats = NDArray[np.float64]

STEEP_PCT = 8.0  # a gentler trail does not gully
SHARE = 0.5  # of the hill's own slope: a trail under it slants across
LONGEST_M = 100 * FOOT_M
HILLSIDE_M = 10.0  # the hill's own slope is read this far to each side: a bench must not hide it
DRAINS_WITHIN_M = 100 * FOOT_M  # ours: how far below the run water is still on its way to the strip


def down_the_hill(terrain: Terrain, stations: Stations) -> list[Run]:
    """Find where a trail runs down the fall line too far.

    Parameters
    ----------
    terrain : Terrain
        Its elevations.
    stations : Stations
        The trail at 1 m stations.

    Returns
    -------
    list of Run
        Runs longer than 100 ft at 8 % or more and over half the hill's own slope (State of
        Oregon, OAR 629-630-0150: never straight up and down for over 100 ft; half the side
        slope is common practice, no source).
    """
    size = np.abs(stations.grade_pct)
    with np.errstate(invalid="ignore"):
        steep = size >= STEEP_PCT - 1e-6
        if not _too_long(steep, stations):
            return []
        down = steep & (size > SHARE * hillside_pct(terrain, stations) + 1e-6)
    return _too_long(down, stations)


def _too_long(flags: NDArray[np.bool_], stations: Stations) -> list[Run]:
    return [run for run in runs(flags, stations.at_m) if run.length_m > LONGEST_M]


def hillside_pct(terrain: Terrain, stations: Stations) -> Floats:
    """Give the slope of the hill a trail lies on, percent, shape (n,).

    Read between points 10 m to each side, west to east and south to north, so
    that the trail's own bench or hollow does not hide it.
    """
    s, dem = stations, terrain.dem
    east = bilinear(dem, s.x + HILLSIDE_M, s.y) - bilinear(dem, s.x - HILLSIDE_M, s.y)
    north = bilinear(dem, s.x, s.y + HILLSIDE_M) - bilinear(dem, s.x, s.y - HILLSIDE_M)
    return np.asarray(100.0 * np.hypot(east, north) / (2 * HILLSIDE_M))


def water_of(area: Area, strips: Iterable[WaterStrip]) -> BaseGeometry | None:
    """Give water and its strips as one shape, prepared; None without any."""
    wet = [strip.shape for strip in strips] + [body.geometry for body in area.water]
    if not wet:
        return None
    shape = shapely.union_all(wet)
    shapely.prepare(shape)
    return shape


def drains_to(water: BaseGeometry | None, terrain: Terrain, stations: Stations, run: Run) -> bool:
    """Follow the steepest way down from the lower end of a run; say whether it meets water."""
    if water is None:
        return False
    low = run.first if stations.z[run.first] <= stations.z[run.last] else run.last
    x, y = float(stations.x[low]), float(stations.y[low])
    dem = terrain.smooth
    step = max(dem.cell_m, 1.0)
    turn = np.arange(16) * math.pi / 8
    z = float(bilinear(dem, x, y))
    for _ in range(math.ceil(DRAINS_WITHIN_M / step) + 1):
        if water.dwithin(shapely.Point(x, y), step):
            return True
        xs, ys = x + step * np.cos(turn), y + step * np.sin(turn)
        around = bilinear(dem, xs, ys)
        if not np.isfinite(around).any():
            return False
        best = int(np.nanargmin(around))
        if not around[best] < z:
            return False
        x, y, z = float(xs[best]), float(ys[best]), float(around[best])
    return False


def led_to_water(
    water: BaseGeometry | None, terrain: Terrain, stations: Stations
) -> NDArray[np.bool_]:
    """Mark the stations to give up for a trail to lead no water down into a strip.

    Parameters
    ----------
    water : geometry or None
        As `water_of` gives it.
    terrain : Terrain
    stations : Stations

    Returns
    -------
    ndarray of bool, shape (n,)
        What a run down the fall line goes on for past 100 ft, where it drains to water.
    """
    out = np.zeros(len(stations), dtype=bool)
    if water is None:
        return out
    border = edges(stations.at_m)
    for run in down_the_hill(terrain, stations):
        if drains_to(water, terrain, stations, run):
            rows = np.arange(run.first, run.last + 1)
            out[rows[border[rows + 1] - run.from_m > LONGEST_M]] = True
    return out
