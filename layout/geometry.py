"""Plane geometry of trails: headings, fair curves, stations along a line.

Angles are mathematical radians (counter-clockwise from east) unless a name
says azimuth (degrees clockwise from grid north).
"""

import math

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

Floats = NDArray[np.float64]

# The 16 moves of the heading lattice, counter-clockwise from east (columns, rows up).
MOVES: tuple[tuple[int, int], ...] = (
    (1, 0),
    (2, 1),
    (1, 1),
    (1, 2),
    (0, 1),
    (-1, 2),
    (-1, 1),
    (-2, 1),
    (-1, 0),
    (-2, -1),
    (-1, -1),
    (-1, -2),
    (0, -1),
    (1, -2),
    (1, -1),
    (2, -1),
)
HEADING_RAD: Floats = np.array([math.atan2(dy, dx) for dx, dy in MOVES])
MOVE_CELLS: Floats = np.array([math.hypot(dx, dy) for dx, dy in MOVES])


def azimuth_deg(heading_rad: float) -> float:
    """Turn a mathematical angle into a grid azimuth, degrees in [0, 360)."""
    return (90.0 - math.degrees(heading_rad)) % 360.0


def wrap(angle_rad: Floats) -> Floats:
    """Bring angles into [-pi, pi)."""
    return np.asarray((angle_rad + np.pi) % (2 * np.pi) - np.pi)


def repeats(cell_m: float, radius_m: float) -> NDArray[np.int64]:
    """Count the moves a leg needs so that the curves at both its ends keep a radius.

    A corner of the lattice is rounded by a circular arc of tangent length
    ``radius * tan(turn / 2)``; a leg must hold the tangents of the corner it
    starts from and of the one that may follow.

    Parameters
    ----------
    cell_m : float
        Lattice cell, metres.
    radius_m : float
        Least turn radius of the centre line, metres.

    Returns
    -------
    ndarray of int, shape (16,)
        Moves in the first leg after a turn into each heading, one or more.
    """
    turn = np.abs(wrap(np.roll(HEADING_RAD, -1) - HEADING_RAD))  # heading i to i + 1
    tangent = radius_m * np.tan(turn / 2)
    widest = np.maximum(tangent, np.roll(tangent, 1))
    # the corner before and the corner after may both be the wider of the two turns
    return np.maximum(1, np.ceil((2 * widest) / (MOVE_CELLS * cell_m) - 1e-9)).astype(np.int64)


def drop_straight(points: Floats, tolerance_rad: float = 1e-9) -> Floats:
    """Drop repeated points and points where a polyline does not turn."""
    keep = [0]
    for i in range(1, len(points)):
        if math.dist(points[i], points[keep[-1]]) > 1e-9:
            keep.append(i)
    pts = points[keep]
    if len(pts) < 3:
        return pts
    bearing = np.arctan2(np.diff(pts[:, 1]), np.diff(pts[:, 0]))
    turn = np.abs(wrap(np.diff(bearing)))
    return np.asarray(pts[np.concatenate([[True], turn > tolerance_rad, [True]])])


def fair_curve(
    points: Floats, radius_m: float, *, widen: float = 2.0, spacing_m: float = 0.5
) -> Floats:
    """Round the corners of a polyline with circular arcs.

    Every arc has the largest radius its legs have room for, between
    ``radius_m`` and ``widen`` times that. Where the legs are too short the arc
    is tighter than ``radius_m``: the checker sees it.

    Parameters
    ----------
    points : ndarray of float, shape (n, 2), n >= 2
        Corners of the polyline, metres.
    radius_m : float
        Radius wanted, metres.
    widen : float
        Largest multiple of ``radius_m`` used where there is room.
    spacing_m : float
        Farthest apart that points on an arc may be, metres.

    Returns
    -------
    ndarray of float, shape (m, 2)
        The curve; both end points are kept exactly.
    """
    pts = drop_straight(np.asarray(points, dtype=float))
    if len(pts) < 3:
        return pts
    legs = np.hypot(*np.diff(pts, axis=0).T)
    bearing = np.arctan2(np.diff(pts[:, 1]), np.diff(pts[:, 0]))
    turn = wrap(np.diff(bearing))
    need = np.concatenate([[0.0], radius_m * np.tan(np.abs(turn) / 2), [0.0]])
    room = legs / np.maximum(need[:-1] + need[1:], 1e-12)
    scale = np.minimum(np.minimum(room[:-1], room[1:]), widen)
    out: list[Floats] = [pts[:1]]
    for i, angle in enumerate(turn):
        corner, radius = pts[i + 1], radius_m * scale[i]
        tangent = radius * math.tan(abs(angle) / 2)
        start = corner - tangent * np.array([math.cos(bearing[i]), math.sin(bearing[i])])
        side = math.copysign(1.0, angle)
        centre = start + radius * side * np.array([-math.sin(bearing[i]), math.cos(bearing[i])])
        pieces = max(1, math.ceil(abs(angle) * radius / spacing_m))
        sweep = bearing[i] - side * math.pi / 2 + np.linspace(0.0, angle, pieces + 1)
        out.append(centre + radius * np.column_stack([np.cos(sweep), np.sin(sweep)]))
    out.append(pts[-1:])
    curve = np.concatenate(out)
    apart = np.hypot(*np.diff(curve, axis=0).T)
    return np.asarray(curve[np.concatenate([[True], apart > 1e-6])])


def along(points: Floats) -> Floats:
    """Give the distance of each point from the first, along the line, metres."""
    out = np.zeros(max(len(points), 1))
    step = points[1:] - points[:-1]
    np.cumsum(np.hypot(step[:, 0], step[:, 1]), out=out[1:])
    return out


def at_stations(points: Floats, at_m: Floats) -> Floats:
    """Give the points at distances along a polyline, shape (k, 2)."""
    s = along(points)
    return np.column_stack([np.interp(at_m, s, points[:, 0]), np.interp(at_m, s, points[:, 1])])


def bearings(points: Floats, at_m: Floats, half_m: float = 0.5) -> Floats:
    """Give the direction of a polyline at distances along it, radians."""
    s = along(points)
    lo = np.minimum(np.maximum(at_m - half_m, 0.0), s[-1])
    hi = np.minimum(np.maximum(at_m + half_m, 0.0), s[-1])
    dx = np.interp(hi, s, points[:, 0]) - np.interp(lo, s, points[:, 0])
    dy = np.interp(hi, s, points[:, 1]) - np.interp(lo, s, points[:, 1])
    return np.asarray(np.arctan2(dy, dx))


def cut(points: Floats, from_m: float, to_m: float) -> Floats:
    """Cut a stretch out of a polyline, keeping its corners, shape (k, 2)."""
    s = along(points)
    # a corner within a millimetre of an end is that end
    inside = (s > from_m + 1e-3) & (s < to_m - 1e-3)
    ends = at_stations(points, np.array([from_m, to_m]))
    return np.concatenate([ends[:1], points[inside], ends[1:]])


def coordinates(line: LineString) -> Floats:
    """Give x and y of a line's points, shape (n, 2)."""
    return np.asarray(line.coords, dtype=float)[:, :2]
