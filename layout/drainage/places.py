"""Places along a trail that ask for a drain of their own: strips, crossings, junctions, ends."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout.drainage.outlets import SKEW_DEG
from layout.drainage.walks import CREST_DROP_M
from layout.records import BarReason, Trail
from layout.terrain import Stations
from layout.units import FOOT_M

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Our choices; no source gives a number for these.
START_CLEAR_M = 5.0  # along a trail to clear what it starts from, where nobody measured it
STRIP_BACK_M = 5.0  # from the bar to the water strip, uphill of it
END_BACK_M = 2.0  # from the bar to a trail's low far end
MOUTH_CLEAR_M = 5.0  # no spaced bar this near to a junction: loads turn there
MERGE_M = 3.0  # two bars nearer than this are one

# Back from a crossing's bank: 25 to 50 ft. From memory, unverified; source: CROSSING_BARS.
CROSSING_BACK_M, CROSSING_FAR_M = 25 * FOOT_M, 50 * FOOT_M

_SAME_PLACE_M = 1e-6


@dataclass(frozen=True, slots=True)
class Places:
    """What a trail meets that asks for a drain; stations in metres from its landing end.

    Parameters
    ----------
    mouths_m : sequence of float
        Where other trails join this one; spaced drains keep off them.
    landing_end : bool
        True where the stored line starts at the landing.
    clear_from_m : float
        Station from which the trail is clear of what it starts from; see `clear_from`.
    strip_edges_m : sequence of float
        Into a water strip, out of it, into the next; see `edges`.
    banks_m : sequence of float
        From bank to bank of each water that is crossed; see `edges`.
    """

    mouths_m: Sequence[float] = ()
    landing_end: bool = False
    clear_from_m: float = START_CLEAR_M
    strip_edges_m: Sequence[float] = ()
    banks_m: Sequence[float] = ()

    def by_strip(self, at_m: Floats) -> Flags:
        """Tell what lies in a water strip, or so near that digging there would reach into it."""
        ends = np.sort(np.asarray(self.strip_edges_m, dtype=float))
        inside = np.searchsorted(ends, at_m, side="right") % 2 == 1
        off_m = np.abs(np.subtract.outer(at_m, ends)).min(axis=1, initial=np.inf)
        return np.asarray(inside | (off_m < STRIP_BACK_M - _SAME_PLACE_M))


@dataclass(frozen=True, slots=True)
class Stop:
    """A place that gets a drain of its own: from where it may be moved uphill, and how far."""

    at_m: float
    why: BarReason
    uphill: float = 0.0  # +1: uphill is outward, -1: toward the landing, 0: it stays


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


def edges(line: LineString, closed: BaseGeometry, *, points: bool = False) -> tuple[float, ...]:
    """Find where a trail goes into and out of closed ground, water strips or water.

    Parameters
    ----------
    line : LineString
        The trail's centre line, landing end first.
    closed : shapely geometry
        All of it.
    points : bool, optional
        True where lines without a width count too: in and out are then one place.

    Returns
    -------
    tuple of float
        Stations, metres: in, out, into the next; the trail's own ends stand for an
        edge where it starts or ends inside.
    """
    inside = line.intersection(unary_union([closed]))
    least = -1.0 if points else _SAME_PLACE_M
    parts = [part for part in shapely.get_parts(inside) if part.length > least]
    stretches = sorted(
        tuple(sorted(line.project(Point(end)) for end in (part.coords[0], part.coords[-1])))
        for part in parts
        if not part.is_empty
    )
    found: list[float] = []
    for into, out in stretches:
        if found and into <= found[-1] + _SAME_PLACE_M:  # one stretch, cut at a strip's own seam
            found[-1] = max(found[-1], out)
        else:
            found += [into, out]
    return tuple(found)


def stops(
    trail: Trail,
    stations: Stations,
    places: Places,
    turns: Sequence[int],
    *,
    starts: bool = True,
    ends: bool = True,
) -> list[Stop]:
    """List the drains a trail needs whatever its grades, the most needed first.

    Parameters
    ----------
    trail : Trail
        The trail; one that joins another gets a bar above its own mouth.
    stations : Stations
        What it meets.
    places : Places
        What else it meets.
    turns : sequence of int
        Where it tops out and bottoms out; see `walks.turns_of_slope`.
    starts, ends : bool, optional
        Whether the stations start where the trail starts, and end where it ends. If not,
        what lies beyond is not known: the last known station gets a bar, so that no water
        runs on into the gap, nor comes far out of it; not where it would lie on the
        landing, on the trail that is joined, or in a junction.

    Returns
    -------
    list of Stop
        No two nearer than `MERGE_M`.
    """
    strips = _before(stations, places.strip_edges_m, STRIP_BACK_M, "strip")
    found = [
        *(_start(trail, stations, places, ends=ends) if starts else ()),
        *_crossings(stations, places.banks_m, strips),
        *strips,
        *_low_points(stations, turns),
        *(_far_end(stations, turns) if ends else ()),
        *(() if starts else _beside_gap(trail, float(stations.at_m[0]), places)),
        *(() if ends else _beside_gap(trail, float(stations.at_m[-1]), places)),
    ]
    kept: list[Stop] = []
    for stop in found:
        if all(abs(stop.at_m - other.at_m) >= MERGE_M for other in kept):
            kept.append(stop)
    return kept


def _before(
    stations: Stations, edges_m: Sequence[float], back_m: float, why: BarReason
) -> list[Stop]:
    """Place a bar before each closed stretch that the trail runs down into."""
    found = []
    for number, edge_m in enumerate(sorted(edges_m)):
        outward = -1.0 if number % 2 == 0 else 1.0
        at_m = edge_m + outward * back_m
        if not stations.at_m[0] < at_m < stations.at_m[-1]:
            continue
        outside, edge = np.interp([at_m, edge_m], stations.at_m, stations.z)
        if outside > edge:
            found.append(Stop(at_m, why, outward))
    return found


def _crossings(stations: Stations, banks_m: Sequence[float], strips: list[Stop]) -> list[Stop]:
    """Place a bar 25 to 50 ft back from each bank, where a strip's own bar is not there."""
    found = []
    for stop in _before(stations, banks_m, CROSSING_BACK_M, "crossing"):
        bank_m = stop.at_m - stop.uphill * CROSSING_BACK_M
        backs = [(other.at_m - bank_m) * stop.uphill for other in strips]
        if not any(CROSSING_BACK_M <= back <= CROSSING_FAR_M for back in backs):
            found.append(stop)
    return found


def _clear_m(trail: Trail, places: Places) -> float:
    """Give the first station a bar may lie at, clear of what the trail starts from."""
    if not places.landing_end and not trail.joins_id:
        return 0.0
    # The bar lies askew: its near end must be clear as well.
    askew = 0.5 * trail.width_m * math.tan(math.radians(SKEW_DEG))
    return places.clear_from_m + askew


def _beside_gap(trail: Trail, at_m: float, places: Places) -> list[Stop]:
    """Place the bar beside a gap in the elevations."""
    on_junction = any(abs(at_m - mouth_m) < MOUTH_CLEAR_M for mouth_m in places.mouths_m)
    if on_junction or at_m < _clear_m(trail, places):
        return []
    return [Stop(at_m, "spacing")]


def _start(trail: Trail, stations: Stations, places: Places, *, ends: bool) -> list[Stop]:
    """Place the bar that keeps the trail's water off the landing, or off the trail it joins."""
    if not places.landing_end and not trail.joins_id:
        return []
    at_m, last_m = _clear_m(trail, places), float(stations.at_m[-1])
    if ends:
        at_m = min(at_m, 0.5 * last_m)
    elif at_m >= last_m:
        return []  # its place lies where the ground is not known
    start, here = np.interp([0.0, at_m], stations.at_m, stations.z)
    why: BarReason = "landing" if places.landing_end else "spur_mouth"
    return [Stop(at_m, why, 1.0 if here > start else 0.0)]


def _low_points(stations: Stations, turns: Sequence[int]) -> list[Stop]:
    z = stations.z
    return [
        Stop(float(stations.at_m[here]), "low_point")
        for before, here, after in zip(turns, turns[1:], turns[2:], strict=False)
        if z[before] > z[here] < z[after]
    ]


def _far_end(stations: Stations, turns: Sequence[int]) -> list[Stop]:
    """Place a bar at the far end where the trail clearly runs down to it."""
    length_m = float(stations.at_m[-1])
    if stations.z[turns[-2]] - stations.z[-1] < CREST_DROP_M:
        return []
    middle_m = 0.5 * (float(stations.at_m[0]) + length_m)
    return [Stop(max(length_m - END_BACK_M, middle_m), "end", -1.0)]
