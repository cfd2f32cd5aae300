"""Where along a skid trail the water bars go.

Bars are laid out from each crest down. Each metre uses up ``1 / spacing`` of
what the table allows before the next bar; the running total starts again at a
bar, and at a crest, where the water turns. Bars may move uphill, never down,
so the table is kept everywhere.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.drainage.outlets import OUTLET_NOISE_PCT, outlet_side
from layout.drainage.spacing import spacing, spacings_used, turns_of_slope
from layout.errors import InputError
from layout.records import Trail, WaterBar
from layout.terrain import Stations

Floats = NDArray[np.float64]

SKEW_DEG = 30.0  # from square across; source: BAR_SKEW, the printed 45-60 is from the centre line

# Our choices; no source gives a number for these.
START_CLEAR_M = 5.0  # along a trail to clear what it starts from, where nobody measured it
STRIP_BACK_M = 5.0  # from the bar to the water strip, uphill of it
MOUTH_CLEAR_M = 5.0  # no spaced bar this near to a junction: loads turn there
OUTLET_SEARCH_M = 8.0  # a bar moves uphill at most this far to find a low side
MERGE_M = 3.0  # two bars nearer than this are one

_TOTAL_NOISE = 1e-9
_SAME_PLACE_M = 1e-6


def clear_from(line: LineString, other: BaseGeometry, width_m: float) -> float:
    """Find the station from which a trail is clear of what it starts from.

    Parameters
    ----------
    line : LineString
        The trail's centre line, landing end first.
    other : shapely geometry
        The ground it starts from: the landing, or the whole strip of the trail it joins.
    width_m : float
        Width of the trail, metres.

    Returns
    -------
    float
        Station, metres, from which the trail's near edge is off ``other``; the
        line's length where it never is.
    """
    for at_m in np.arange(0.0, line.length, 0.5):
        if line.interpolate(float(at_m)).distance(other) >= 0.5 * width_m:
            return float(at_m)
    return float(line.length)


def strip_edges(line: LineString, strips: BaseGeometry) -> tuple[float, ...]:
    """Find where a trail goes into and out of water strips.

    Parameters
    ----------
    line : LineString
        The trail's centre line, landing end first.
    strips : shapely geometry
        All water strips.

    Returns
    -------
    tuple of float
        Stations, metres: into a strip, out of it, into the next; the trail's own ends
        stand for an edge where it starts or ends inside one.
    """
    inside = line.intersection(unary_union([strips]))
    parts = [part for part in shapely.get_parts(inside) if part.length > _SAME_PLACE_M]
    stretches = sorted(
        tuple(sorted(line.project(Point(end)) for end in (part.coords[0], part.coords[-1])))
        for part in parts
    )
    edges: list[float] = []
    for into, out in stretches:
        if edges and into <= edges[-1] + _SAME_PLACE_M:  # one stretch, cut at a strip's own seam
            edges[-1] = max(edges[-1], out)
        else:
            edges += [into, out]
    return tuple(edges)


@dataclass(frozen=True, slots=True)
class _Stop:
    """A place where the running total starts again; ``why`` is empty where no bar stands."""

    at_m: float
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class _Walk:
    """One trail, made ready for laying out bars."""

    stations: Stations
    used: Floats
    mouths_m: Floats

    def total(self, at_m: float) -> float:
        return float(np.interp(at_m, self.stations.at_m, self.used))

    def place(self, total: float) -> float:
        return float(np.interp(total, self.used, self.stations.at_m))

    def clear(self, at_m: Floats) -> NDArray[np.bool_]:
        if self.mouths_m.size == 0:
            return np.ones(at_m.shape, dtype=np.bool_)
        gap = np.abs(at_m[:, None] - self.mouths_m[None, :]).min(axis=1)
        return np.asarray(gap >= MOUTH_CLEAR_M)

    def better_place(self, at_m: float, upper_m: float) -> float:
        """Move a bar uphill to where it has a low side and stands off the junctions.

        ``upper_m`` bounds the move; where nothing better is found the bar stays.
        """
        stations = self.stations
        toward = math.copysign(1.0, upper_m - at_m)
        ahead = (stations.at_m - at_m) * toward
        farthest = abs(upper_m - at_m)
        reach = (ahead > 0) & (ahead < farthest)
        places = np.concatenate([[at_m], stations.at_m[reach]])
        places = places[np.argsort((places - at_m) * toward, kind="stable")]
        tilt = np.interp(places, stations.at_m, stations.tilt_left)
        sided = np.abs(tilt) >= OUTLET_NOISE_PCT
        sided &= np.abs(places - at_m) <= OUTLET_SEARCH_M
        clear = self.clear(places)
        for wish in (sided & clear, clear):
            if wish.any():
                return float(places[np.argmax(wish)])
        return at_m

    def fill(self, upper_m: float, lower_m: float) -> list[float]:
        """Place bars between two stops, from the upper one down, none where none is due."""
        placed: list[float] = []
        last, end = upper_m, self.total(lower_m)
        while True:
            left = end - self.total(last)
            pieces = math.ceil(abs(left) - _TOTAL_NOISE)
            if pieces <= 1:
                return placed
            step = left / pieces
            due = self.place(self.total(last) + step)
            # Half the step is always gained, so the walk comes to its end.
            last = self.better_place(due, self.place(self.total(last) + 0.5 * step))
            placed.append(last)


def _strip_stops(stations: Stations, strip_edges_m: Sequence[float]) -> list[_Stop]:
    """Place a bar before each strip that the trail runs down into.

    Edges alternate: into a strip, out of it, into the next.
    """
    stops = []
    for number, edge_m in enumerate(sorted(strip_edges_m)):
        outward = -1.0 if number % 2 == 0 else 1.0
        at_m = edge_m + outward * STRIP_BACK_M
        if not stations.at_m[0] < at_m < stations.at_m[-1]:
            continue
        outside, edge = np.interp([at_m, edge_m], stations.at_m, stations.z)
        if outside > edge:
            stops.append(_Stop(at_m, "strip"))
    return stops


def _start_stop(
    trail: Trail, length_m: float, landing_end: bool, clear_from_m: float
) -> list[_Stop]:
    """Place the bar that keeps the trail's water off the landing, or off the trail it joins."""
    if not landing_end and not trail.joins_id:
        return []
    # The bar lies askew: its near end must be clear as well.
    at_m = clear_from_m + 0.5 * trail.width_m * math.tan(math.radians(SKEW_DEG))
    return [_Stop(min(at_m, 0.5 * length_m), "landing" if landing_end else "spur_mouth")]


def _merged(stops: list[_Stop]) -> list[_Stop]:
    """Drop a bar that stands beside an earlier one of the list."""
    kept: list[_Stop] = []
    for stop in stops:
        if all(abs(stop.at_m - other.at_m) >= MERGE_M for other in kept):
            kept.append(stop)
    return kept


def bars(
    trail: Trail,
    stations: Stations,
    mouths_m: Sequence[float] = (),
    landing_end: bool = False,
    strip_edges_m: Sequence[float] = (),
    clear_from_m: float = START_CLEAR_M,
) -> tuple[WaterBar, ...]:
    """Lay out the water bars of one trail.

    Parameters
    ----------
    trail : Trail
        The trail; one that joins another gets a bar just above its own mouth.
    stations : Stations
        What it meets, about every metre.
    mouths_m : sequence of float, optional
        Stations at which other trails join this one, metres; spaced bars keep off them.
    landing_end : bool, optional
        True where the trail's stored line starts at the landing: a bar goes above the entry.
    strip_edges_m : sequence of float, optional
        Stations at which the trail crosses the edge of a water strip, metres: into
        one, out of it, into the next; see `strip_edges`. A bar goes before a strip
        where the trail runs down into it.
    clear_from_m : float, optional
        Station from which the trail is clear of what it starts from; see `clear_from`.

    Returns
    -------
    tuple of WaterBar
        By station. From every crest down, no more than one table spacing lies
        between bars; spaced bars are moved uphill for a low side, never down.

    Raises
    ------
    InputError
        If the trail leaves the known ground.
    BeyondTableError
        If it is steeper than the table.
    """
    used = spacings_used(stations)
    if np.isnan(stations.z).any():
        raise InputError(f"trail {trail.trail_id} leaves the DEM; elevations are missing along it")
    walk = _Walk(stations, used, np.asarray(mouths_m, dtype=float))
    length_m = float(stations.at_m[-1])
    turns = turns_of_slope(stations.z)
    fixed = _strip_stops(stations, strip_edges_m)
    fixed = _start_stop(trail, length_m, landing_end, clear_from_m) + fixed
    for before, here, after in zip(turns, turns[1:], turns[2:], strict=False):
        if stations.z[before] > stations.z[here] < stations.z[after]:
            fixed.append(_Stop(float(stations.at_m[here]), "low_point"))
    fixed = _merged(fixed)
    laid = {stop.at_m: stop.why for stop in fixed}
    for a, b in pairwise(turns):
        from_m, to_m = float(stations.at_m[a]), float(stations.at_m[b])
        inner = sorted(stop.at_m for stop in fixed if from_m < stop.at_m < to_m)
        stops = [from_m, *inner, to_m]
        if stations.z[b] >= stations.z[a]:
            stops.reverse()
        for upper_m, lower_m in pairwise(stops):
            laid |= dict.fromkeys(walk.fill(upper_m, lower_m), "spacing")
    return tuple(
        _bar(trail, stations, f"{trail.trail_id}-B{number}", at_m, laid[at_m])
        for number, at_m in enumerate(sorted(laid), start=1)
    )


def _bar(trail: Trail, stations: Stations, bar_id: str, at_m: float, why: str) -> WaterBar:
    x, y, grade, tilt = (
        float(np.interp(at_m, stations.at_m, values))
        for values in (stations.x, stations.y, stations.grade_pct, stations.tilt_left)
    )
    return WaterBar(
        bar_id=bar_id,
        trail_id=trail.trail_id,
        at_m=at_m,
        x=x,
        y=y,
        grade_pct=grade,
        spacing_m=float(spacing(grade)),
        outlet=outlet_side(tilt),
        why=why,
        skew_deg=SKEW_DEG,
    )
