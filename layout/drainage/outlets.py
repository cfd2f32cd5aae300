"""Where the water of a drain leaves a trail, and what it meets below.

The low side is read from the cross slope; the drain's lower end then lies a little
beyond the trail's edge, down the trail by the skew. From there the water is followed
down the smoothed ground. What it meets first (another trail, the same trail farther
down, the landing, a water strip, water) and after how many metres is the outlet's room.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout.grid import bilinear
from layout.records import Trail, WaterBar
from layout.terrain import Stations, Terrain, tilt_at
from layout.units import FOOT_M

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Outlet = Literal["left", "right", "unknown"]

SKEW_DEG = 30.0  # from square across; source: BAR_SKEW, the printed 45-60 is from the centre line

# Our choices; no source gives a number for these.
OUTLET_NOISE_PCT = 2.0  # flatter across than this, elevations do not say which side is low
BEYOND_M = 0.3  # both ends of a bar lie this far beyond the trail's edges, square to it
ROOM_M = 25 * FOOT_M  # forest floor wanted between an outlet and the next trail or landing
STRIP_ROOM_M = 2.0  # and before a water strip, which is itself there to filter
ENDS_IN_M = 0.3  # nearer than this to what its water meets, a drain opens into it
LOOK_M = 50.0  # so far the water is followed
_STEP_M = 2.0
_LEVEL = 1e-4  # metres a metre; flatter, water stands

STRIP, WATER, LANDING = "strip", "water", "landing"  # what water may meet beside trails


@dataclass(frozen=True, slots=True, eq=False)
class Outlets:
    """Where drains at n places along a trail would let their water go; arrays of shape (n,).

    Parameters
    ----------
    side : ndarray of int
        1 left, -1 right, looking along the stored line; 0 where no low side is known.
    drop_m : ndarray of float
        How far the drain's lower end lies below the trail's middle, metres.
    room_m : ndarray of float
        Metres the water runs before it meets what it may not; 0 where the drain ends
        in it, inf where it meets nothing within `LOOK_M`.
    meets : tuple of str
        What it meets: a trail's id, or "landing", "strip", "water"; empty for nothing.
    """

    side: NDArray[np.int64]
    drop_m: Floats
    room_m: Floats
    meets: tuple[str, ...]

    @property
    def known(self) -> Flags:
        """Whether there is a low side whose end is lower, and outside all that is closed."""
        return np.asarray((self.side != 0) & (self.drop_m > 0) & (self.room_m > ENDS_IN_M))

    @property
    def good(self) -> Flags:
        """Whether it is known, and with room enough below."""
        asked = np.array([wanted_room_m(name) for name in self.meets])
        return np.asarray(self.known & (self.room_m >= asked))


def wanted_room_m(meets: str) -> float:
    """Give the room an outlet wants before what its water meets, metres."""
    return STRIP_ROOM_M if meets == STRIP else ROOM_M


def outlet_side(tilt_left_pct: float) -> Outlet:
    """Name the lower side of a trail, looking along its stored line.

    Parameters
    ----------
    tilt_left_pct : float
        Signed cross slope, percent: + where the left side is the higher.

    Returns
    -------
    {"left", "right", "unknown"}
        ``unknown`` where the ground is flatter across than elevations can tell.
    """
    if not abs(tilt_left_pct) >= OUTLET_NOISE_PCT:
        return "unknown"
    return "right" if tilt_left_pct > 0 else "left"


def bar_length_m(width_m: float, beyond_m: float = BEYOND_M) -> float:
    """Give the length of a bar laid askew across a trail, both ends beyond its edges.

    Parameters
    ----------
    width_m : float
        Width of the trail, metres.
    beyond_m : float, optional
        How far each end lies beyond its edge, metres square to the trail.

    Returns
    -------
    float
        ``(width + 2 beyond) / cos(skew)``, metres.

    Examples
    --------
    >>> round(bar_length_m(3.0, 0.0), 3), round(bar_length_m(3.0), 3)
    (3.464, 4.157)
    """
    return (width_m + 2 * beyond_m) / math.cos(math.radians(SKEW_DEG))


def bar_line(trail: Trail, bar: WaterBar) -> LineString | None:
    """Draw a bar as it is built, from its upper end to its outlet.

    Parameters
    ----------
    trail : Trail
        Its trail.
    bar : WaterBar
        The bar.

    Returns
    -------
    LineString or None
        Two points, grid metres; None where its outlet is not known.
    """
    if bar.outlet == "unknown":
        return None
    at = np.clip([bar.at_m - 0.5, bar.at_m + 0.5], 0.0, trail.line.length)
    (x0, y0), (x1, y1) = shapely.get_coordinates(shapely.line_interpolate_point(trail.line, at))
    side = np.array([1 if bar.outlet == "left" else -1])
    dx, dy = _half_bar(
        np.array([math.atan2(y1 - y0, x1 - x0)]), np.array([bar.grade_pct]), side, trail.width_m
    )
    ends = [(bar.x - dx[0], bar.y - dy[0]), (bar.x + dx[0], bar.y + dy[0])]
    return LineString(ends)


def _half_bar(
    heading_rad: Floats, grade_pct: Floats, side: NDArray[np.int64], width_m: float
) -> tuple[Floats, Floats]:
    """Give the way from the middle of a bar to its outlet, which lies down the trail."""
    down = np.where(grade_pct <= 0, -1.0, 1.0)  # favourable: the stored line rises
    across = 0.5 * width_m + BEYOND_M
    along = across * math.tan(math.radians(SKEW_DEG)) * down
    cos, sin = np.cos(heading_rad), np.sin(heading_rad)
    return along * cos - side * across * sin, along * sin + side * across * cos


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What water runs over, and what it may not run onto.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    closed : sequence of (str, geometry)
        By name: strips, water, the landing, and every trail's own ground.
    """

    terrain: Terrain
    closed: Sequence[tuple[str, BaseGeometry]]

    def outlets(self, trail: Trail, places: Stations) -> Outlets:
        """Look where drains at places along a trail would let their water go.

        Parameters
        ----------
        trail : Trail
            The trail.
        places : Stations
            The places; cross slopes are measured anew, elevations taken from the
            smoothed ground.

        Returns
        -------
        Outlets
        """
        tilt = tilt_at(self.terrain, places.x, places.y, places.heading_rad, trail.width_m)
        side = low_sides(tilt)
        dx, dy = _half_bar(places.heading_rad, places.grade_pct, side, trail.width_m)
        x, y = places.x + dx, places.y + dy
        smooth = self.terrain.smooth
        drop = bilinear(smooth, places.x, places.y) - bilinear(smooth, x, y)
        room, meets = self._followed(x, y)
        return Outlets(side, np.nan_to_num(drop, nan=-1.0), room, meets)

    def _followed(self, x: Floats, y: Floats) -> tuple[Floats, tuple[str, ...]]:
        """Follow water from each of n places to the first closed thing on its way."""
        room = np.full(x.size, math.inf)
        names = np.full(x.size, "", dtype=object)
        kept = [(name, shape) for name, shape in self.closed if not shape.is_empty]
        if not kept or not x.size:
            return room, tuple(names)
        paths = descents(self.terrain, x, y)
        lines = np.atleast_1d(np.asarray(shapely.linestrings(np.swapaxes(paths, 0, 1))))
        shapes = np.array([shape for _, shape in kept], dtype=object)
        rows, hits = shapely.STRtree(shapes).query(lines, predicate="intersects")
        for row, hit in zip(rows.tolist(), hits.tolist(), strict=True):
            met = shapely.get_coordinates(shapely.intersection(lines[row], shapes[hit]))
            if not met.size:  # touched to the last bit of a coordinate, and nothing in common
                met = shapely.get_coordinates(shapely.shortest_line(shapes[hit], lines[row]))[-1:]
            at = float(shapely.line_locate_point(lines[row], shapely.points(met)).min())
            if at < room[row]:
                room[row], names[row] = at, kept[hit][0]
        return room, tuple(names)


def low_sides(tilt_left_pct: Floats) -> NDArray[np.int64]:
    """Give the low side at each place: 1 left, -1 right, 0 where it is not known."""
    clear = np.abs(tilt_left_pct) >= OUTLET_NOISE_PCT  # NaN is not
    return np.where(clear, np.where(tilt_left_pct > 0, -1, 1), 0).astype(np.int64)


def tilt_alone(places: Stations) -> Outlets:
    """Give the outlets where nothing but the cross slope is known: no ground below is looked at."""
    side = low_sides(places.tilt_left)
    n = side.size
    return Outlets(side, np.ones(n), np.full(n, math.inf), ("",) * n)


def descents(terrain: Terrain, x: Floats, y: Floats, look_m: float = LOOK_M) -> Floats:
    """Follow the steepest way down from places, two metres at a time.

    Parameters
    ----------
    terrain : Terrain
        The ground; its smoothed copy is followed.
    x, y : ndarray of float, shape (n,)
        Where water is let go, grid metres.
    look_m : float, optional
        How far it is followed, metres on the map.

    Returns
    -------
    ndarray of float, shape (k, n, 2), k >= 2
        Its way. Where the ground is level, or not known, it stays.
    """
    dem = terrain.smooth
    arm = max(_STEP_M, dem.cell_m)
    here = np.column_stack([x, y]).astype(float)
    way = [here]
    for _ in range(math.ceil(look_m / _STEP_M)):
        px, py = here[:, 0], here[:, 1]
        east = (bilinear(dem, px + arm, py) - bilinear(dem, px - arm, py)) / (2 * arm)
        north = (bilinear(dem, px, py + arm) - bilinear(dem, px, py - arm)) / (2 * arm)
        steep = np.hypot(east, north)
        moves = steep > _LEVEL
        unit = np.where(moves, steep, 1.0)
        step = np.column_stack([east / unit, north / unit]) * _STEP_M
        here = np.where(moves[:, None], here - step, here)
        way.append(here)
    return np.stack(way)


def closed_ground(
    strips: BaseGeometry,
    water: BaseGeometry,
    landing: BaseGeometry,
    trails: Mapping[str, BaseGeometry],
) -> tuple[tuple[str, BaseGeometry], ...]:
    """Name all ground that no outlet may let its water onto.

    Parameters
    ----------
    strips, water, landing : shapely geometry
        Water strips, the water bank to bank, and the landing.
    trails : mapping of str to shapely geometry
        Each trail's own ground, by its id.
    """
    return ((WATER, water), (STRIP, strips), (LANDING, landing), *trails.items())
