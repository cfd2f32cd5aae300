"""How much ground drains to a place, by the elevations; worked out once for a terrain."""

from collections.abc import Callable
from weakref import WeakKeyDictionary

import numpy as np
from shapely.geometry import LineString

from layout.banks import drawn_parts
from layout.flow import Flow, flow
from layout.site import Area
from layout.terrain import Terrain

NEAR_M = 10.0  # a mapped stream and its channel in the elevations lie apart; ours
SQUARE_M = 1e4  # in a hectare

_kept: WeakKeyDictionary[Terrain, dict[tuple[object, ...], Flow]] = WeakKeyDictionary()


def drained_ha(area: Area, terrain: Terrain) -> Callable[[float, float], float | None]:
    """Give what tells the ground that drains to a place.

    Parameters
    ----------
    area : Area
        Its mapped streams and the error of its elevations are used.
    terrain : Terrain
        Its ground.

    Returns
    -------
    callable
        Of grid x and y, metres: hectares on the map that drain to the channel
        within 10 m; None where that is not known, where more may come from beyond
        the elevations, or where they show no channel: a stream drains more.
    """

    def at(x: float, y: float) -> float | None:
        water = _flow(area, terrain)
        dem = terrain.dem
        rows, cols = dem.shape
        row = int((dem.north_m - y) // dem.cell_m)
        col = int((x - dem.west_m) // dem.cell_m)
        reach = max(1, round(NEAR_M / dem.cell_m))
        if not (0 <= row < rows and 0 <= col < cols):
            return None
        near = (
            slice(max(row - reach, 0), row + reach + 1),
            slice(max(col - reach, 0), col + reach + 1),
        )
        drained = np.where(np.isfinite(water.area_m2[near]), water.area_m2[near], -1.0)
        most = np.unravel_index(int(np.argmax(drained)), drained.shape)
        shown = area.settings.water.channel_area_m2  # less is no stream by the elevations
        if drained[most] < shown or water.from_edge[near][most]:
            return None
        return float(drained[most]) / SQUARE_M

    return at


def _flow(area: Area, terrain: Terrain) -> Flow:
    error = area.settings.ground.dem_error_m
    kept = _kept.setdefault(terrain, {})
    if (error, area.water) not in kept:
        lines = [
            part
            for body in area.water
            for part in drawn_parts(body.geometry)
            if isinstance(part, LineString)
        ]
        kept[(error, area.water)] = flow(terrain.dem, error_m=error, passing=lines)
    return kept[(error, area.water)]
