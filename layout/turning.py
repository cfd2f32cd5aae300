"""Turning places: where the outfit can turn round, and how far it backs from there.

The tractor comes to every position rear first. From a turning place it drives
nose to the landing to where its way leaves the common part of the trail, and
backs from there on; a place beyond the position needs no backing at all.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.fairline import Judge, measure
from layout.geometry import along, at_stations, bearings, fair_curve, wrap
from layout.grid import bilinear
from layout.terrain import Terrain, station_table

Floats = NDArray[np.float64]

PAD_SLOPE_PCT = 10.0  # level enough to turn on; common practice, no source
PAD_RESERVE_PCT = 0.5  # kept back, since a pad may be measured by other points than these
PAD_SPARE_M = 1.0  # a turn needs the outfit's length and this, all round
RING = 16
LOOP_SPARE = 1.01
# A Y of 135 degrees at 25 ft needs tangents of 60 ft; derived, radius * tan(turn / 2).
Y_TRIES_M = ((18.5, 18.5), (18.5, 22.0), (22.0, 18.5), (22.0, 22.0), (26.0, 26.0), (32.0, 32.0))
STEP_UP_M = 0.6  # a pad has no step in it this far off its own plane


@dataclass(frozen=True, slots=True, eq=False)
class Pads:
    """Level places beside or on a trail, one a row."""

    at_m: Floats
    x: Floats
    y: Floats
    slope_pct: Floats
    radius_m: float

    def shape(self, row: int) -> Polygon:
        """Give the outline of one pad."""
        return shapely.Point(float(self.x[row]), float(self.y[row])).buffer(self.radius_m, 16)


def pad_radius_m(outfit_length_m: float) -> float:
    """Give the radius of a pad the outfit can turn round on, metres.

    A disc as wide as the outfit is long, and a metre more, all round: room for
    a turn in three moves. Ours; no published size was found.
    """
    return outfit_length_m + PAD_SPARE_M


def pad_room(opened: BaseGeometry, radius_m: float) -> BaseGeometry:
    """Give where the middle of a pad may lie so that all of it is on open ground; prepared."""
    room = opened.buffer(-radius_m + 0.05)
    shapely.prepare(room)
    return room


def pads(
    terrain: Terrain,
    room: BaseGeometry,
    at_m: Floats,
    x: Floats,
    y: Floats,
    radius_m: float,
) -> Pads:
    """Keep the stations where a pad is level and on open ground.

    Parameters
    ----------
    terrain : Terrain
        Elevations.
    room : shapely geometry
        Where the middle of a pad may lie (`pad_room`).
    at_m, x, y : ndarray of float, shape (n,)
        Stations along a trail, and where they lie.
    radius_m : float
        Radius of the pad, metres.

    Returns
    -------
    Pads
        May be empty.
    """
    slope, rough = disc_slope(terrain, x, y, radius_m)
    good = (
        (slope <= PAD_SLOPE_PCT - PAD_RESERVE_PCT)
        & (rough <= STEP_UP_M)
        & np.asarray(shapely.contains_xy(room, x, y))
    )
    return Pads(at_m[good], x[good], y[good], slope[good], radius_m)


def disc_slope(terrain: Terrain, x: Floats, y: Floats, radius_m: float) -> tuple[Floats, Floats]:
    """Give the slope of the plane fitted to discs, percent, and the largest miss, metres."""
    angle = np.arange(RING) * 2 * math.pi / RING
    dx = np.concatenate([[0.0], 0.5 * radius_m * np.cos(angle), radius_m * np.cos(angle)])
    dy = np.concatenate([[0.0], 0.5 * radius_m * np.sin(angle), radius_m * np.sin(angle)])
    z = bilinear(terrain.dem, x[:, None] + dx, y[:, None] + dy)
    # the points are placed evenly round the centre, so the fit falls apart into three sums
    gx, gy = (z @ dx) / (dx @ dx), (z @ dy) / (dy @ dy)
    mean = z.mean(axis=1, keepdims=True)
    miss = np.abs(z - mean - gx[:, None] * dx - gy[:, None] * dy).max(axis=1)
    slope = 100 * np.hypot(gx, gy)
    return np.where(np.isfinite(slope), slope, np.inf), np.where(np.isfinite(miss), miss, np.inf)


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One candidate turning place.

    Parameters
    ----------
    branch, at_m : int, float
        The trail and station the outfit stands at, nose to the landing, when it
        has turned.
    kind : {"pad", "y", "loop"}
        A level pad on the trail, the Y of a spur and its main trail, or a loop
        beyond a trail's end.
    shape : Polygon
        Ground it takes beside what the trails take.
    slope_pct : float
        Of the pad's plane, or the steepest along the Y.
    extra_m2 : float
        Ground taken beside the trails.
    needs_branch, needs_m : int, float
        Trail that must be built, and how far, for the place to be there.
    line : ndarray of float or None
        Of a Y: the way the outfit backs, spur end first. Of a loop: the way round.
    """

    branch: int
    at_m: float
    kind: Literal["pad", "y", "loop"]
    shape: Polygon
    slope_pct: float
    extra_m2: float
    needs_branch: int
    needs_m: float
    line: Floats | None = None


def pad_places(found: Pads, branch: int, length_m: float, width_m: float) -> list[Place]:
    """Give the pads of one trail as places; at a trail's end only half of a pad is trail."""
    radius = found.radius_m
    disc = shapely.Point(0.0, 0.0).buffer(radius, 16)

    def beside(at_m: float) -> float:
        ahead = min(radius, length_m - at_m)
        return float(disc.difference(shapely.box(-radius, -width_m / 2, ahead, width_m / 2)).area)

    return [
        Place(
            branch, float(at), "pad", found.shape(row), float(found.slope_pct[row]),
            beside(float(at)), branch, float(at),
        )
        for row, at in enumerate(found.at_m)
    ]  # fmt: skip


def y_place(
    judge: Judge,
    host: Floats,
    host_number: int,
    mouth_m: float,
    spur: Floats,
    spur_number: int,
    outfit_m: float,
) -> Place | None:
    """Lay out the Y of a spur and its main trail: a reverse curve of about 135 degrees.

    The outfit drives nose first into the spur, backs round the curve onto the
    main trail beyond the mouth, and stands there nose to the landing.

    Parameters
    ----------
    judge : Judge
        What the curve is judged by.
    host, spur : ndarray of float, shape (n, 2)
        Centre lines, landing end first.
    host_number, spur_number : int
        Their numbers in the network.
    mouth_m : float
        Where the spur leaves the main trail.
    outfit_m : float
        Length of tractor and winch.

    Returns
    -------
    Place or None
        The first legal Y, the shortest tried first; None where there is none.
    """
    host_end, spur_end = float(along(host)[-1]), float(along(spur)[-1])
    for here, beyond in Y_TRIES_M:
        there = mouth_m + beyond
        if there + outfit_m > host_end or here + outfit_m > spur_end:
            continue
        curve = _reverse_curve(spur, here, host, there, judge.radius_m)
        steepest = None if curve is None else _legal_both_ways(judge, curve)
        if curve is None or steepest is None:
            continue
        strip = LineString(curve).buffer(judge.width_m / 2, cap_style="flat")
        trails = [LineString(t).buffer(judge.width_m / 2, cap_style="flat") for t in (host, spur)]
        extra = strip.difference(shapely.union_all(trails))
        return Place(
            host_number, there, "y", strip, steepest, float(extra.area),
            spur_number, here + outfit_m, curve,
        )  # fmt: skip
    return None


def loop_place(judge: Judge, line: Floats, number: int) -> Place | None:
    """Lay out a loop beyond a trail's end: the outfit drives round and never backs.

    Three arcs of one radius, their centres on an equilateral triangle: 60
    degrees to one side, 300 to the other, 60 back, and the outfit stands on the
    end again, nose to the landing.

    Parameters
    ----------
    judge : Judge
        What the way round is judged by.
    line : ndarray of float, shape (n, 2)
        The trail, landing end first.
    number : int
        Its number in the network.

    Returns
    -------
    Place or None
        None where neither way round is legal.
    """
    length = float(along(line)[-1])
    end = at_stations(line, np.array([length]))[0]
    heading = float(bearings(line, np.array([length]), half_m=0.25)[0])
    trail = LineString(line).buffer(judge.width_m / 2, cap_style="flat")
    best: Place | None = None
    for side in (1.0, -1.0):
        curve = _round_trip(end, heading, judge.radius_m * LOOP_SPARE, side)
        steepest = _legal_both_ways(judge, curve)
        if steepest is None:
            continue
        strip = LineString(curve).buffer(judge.width_m / 2, cap_style="flat")
        extra = float(strip.difference(trail).area)
        if best is None or extra < best.extra_m2 - 1e-6:
            best = Place(number, length, "loop", strip, steepest, extra, number, length, curve)
    return best


def _round_trip(start: Floats, heading: float, radius_m: float, side: float) -> Floats:
    """Give the points of a loop that leaves a place along a heading and comes back to it."""
    points, place, bearing = [np.asarray(start, dtype=float)], np.asarray(start), heading
    for turn_deg, way in ((60.0, side), (300.0, -side), (60.0, side)):
        turn = math.radians(turn_deg)
        centre = place + radius_m * way * np.array([-math.sin(bearing), math.cos(bearing)])
        pieces = math.ceil(turn * radius_m / 0.5)
        angle = bearing - way * math.pi / 2 + way * turn * np.arange(1, pieces + 1) / pieces
        arc = centre + radius_m * np.column_stack([np.cos(angle), np.sin(angle)])
        points += list(arc)
        place, bearing = arc[-1], bearing + way * turn
    return np.array(points)


def _reverse_curve(
    spur: Floats, here: float, host: Floats, there: float, radius_m: float
) -> Floats | None:
    """Give the curve from a spur station, backing, to a station of the main trail."""
    start, end = at_stations(spur, np.array([here]))[0], at_stations(host, np.array([there]))[0]
    back = float(bearings(spur, np.array([here]))[0]) + math.pi
    out = float(bearings(host, np.array([there]))[0])
    u, v = np.array([math.cos(back), math.sin(back)]), np.array([math.cos(out), math.sin(out)])
    cross = u[0] * v[1] - u[1] * v[0]
    if abs(cross) < 1e-6:
        return None
    gap = end - start
    before = (gap[0] * v[1] - gap[1] * v[0]) / cross
    corner = start + before * u
    after = float((end - corner) @ v)
    turn = abs(float(wrap(np.array([out - back]))[0]))
    need = radius_m * math.tan(turn / 2)
    if before < need or after < need or turn > math.radians(160.0):
        return None
    return fair_curve(np.array([start, corner, end]), radius_m, widen=1.0)


def _legal_both_ways(judge: Judge, curve: Floats) -> float | None:
    """Give the steepest grade along a curve driven both ways; None where it is not legal.

    Nothing is turned round on a bench that is still to be dug.
    """
    # most of what is tried leaves open ground or climbs: told by the cheaper part of measuring
    st = station_table(judge.terrain, LineString(curve), judge.width_m)
    if not shapely.contains_xy(judge.room, st.x, st.y).all():
        return None
    if not np.all(np.abs(st.grade_pct) <= judge.limits.adverse_pct):
        return None
    found = measure(replace(judge, passages=None), curve)  # nothing turns over water
    grade = float(np.nanmax(np.abs(found.stations.grade_pct)))
    if found.broken.any() or found.dug.any() or not grade <= judge.limits.adverse_pct:
        return None
    return grade


@dataclass(frozen=True, slots=True)
class Way:
    """The way from the landing to a place: on each trail, how far it follows it.

    ``legs[0]`` is on the main trail; each leg is (trail number, metres along it).
    """

    legs: tuple[tuple[int, float], ...]


def backing_m(position: Way, place: Way) -> float:
    """Give how far the tractor backs from a turning place to a position, metres.

    Parameters
    ----------
    position, place : Way
        Ways from the landing along the same network of trails.
    """
    common = 0
    for (trail, to), (other, reach) in zip(position.legs, place.legs, strict=False):
        if trail != other:
            break
        if abs(to - reach) > 1e-9 or common + 1 == len(position.legs):
            # the ways part on this trail, or the position lies on it
            rest = max(to - reach, 0.0)
            return rest + sum(leg for _, leg in position.legs[common + 1 :])
        common += 1
    return sum(leg for _, leg in position.legs[common:])
