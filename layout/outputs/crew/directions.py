"""Directions as a person on the ground uses them: grid bearings, left and right, paces."""

from __future__ import annotations

import math
import re
from typing import Literal

from shapely.geometry import LineString

from layout.speech import whole_length
from layout.tongue import unit as said_unit
from layout.units import FOOT_M, Units

Side = Literal["left", "right", "ahead", "back", "on"]

PACE_M: dict[Units, float] = {"us": 2.5 * FOOT_M, "metric": 0.75}  # common practice, no source
AHEAD_DEG = 45.0  # nearer to the trail's own direction than this is ahead, not to a side; ours
ON_TRAIL_M = 0.3
LOOK_M = 2.0  # a trail's direction at a place is taken over this far to both sides


def natural(name: str) -> tuple[tuple[int, int, str], ...]:
    """Give what to sort names by, so that S10 comes after S9.

    Examples
    --------
    >>> sorted(["S10", "M", "S9"], key=natural)
    ['M', 'S9', 'S10']
    """
    parts = re.findall(r"\d+|\D+", name)
    return tuple((1, int(p), "") if p.isdecimal() else (0, 0, p) for p in parts)


def bearing_deg(dx: float, dy: float) -> float:
    """Give the grid bearing of a way, degrees clockwise from grid north, 0 up to 360.

    Examples
    --------
    >>> bearing_deg(1.0, 0.0), bearing_deg(0.0, -1.0)
    (90.0, 180.0)
    """
    return math.degrees(math.atan2(dx, dy)) % 360.0


def said_bearing(degrees: float) -> str:
    """Say a bearing in three whole figures.

    Examples
    --------
    >>> said_bearing(7.4), said_bearing(359.8)
    ('007°', '000°')
    """
    return f"{round(degrees) % 360:03d}°"


def direction_at(line: LineString, at_m: float) -> tuple[float, float]:
    """Give the unit direction of a line at a station, looking outward from the landing.

    Parameters
    ----------
    line : LineString
        Landing end first.
    at_m : float
        Station, metres.

    Returns
    -------
    tuple of float
        East and north parts.
    """
    a = line.interpolate(max(at_m - LOOK_M, 0.0))
    b = line.interpolate(min(at_m + LOOK_M, line.length))
    dx, dy = b.x - a.x, b.y - a.y
    length = math.hypot(dx, dy) or 1.0
    return dx / length, dy / length


def side_of(direction: tuple[float, float], dx: float, dy: float) -> Side:
    """Say on which side of a direction a thing lies.

    Parameters
    ----------
    direction : tuple of float
        Where one looks: outward from the landing.
    dx, dy : float
        From where one stands to the thing, metres.

    Returns
    -------
    {"left", "right", "ahead", "back", "on"}

    Examples
    --------
    >>> side_of((0.0, 1.0), -4.0, 0.5), side_of((0.0, 1.0), 1.0, 5.0)
    ('left', 'ahead')
    """
    if math.hypot(dx, dy) <= ON_TRAIL_M:
        return "on"
    along = direction[0] * dx + direction[1] * dy
    across = direction[0] * dy - direction[1] * dx  # + to the left
    off_deg = math.degrees(math.atan2(abs(across), along))
    if off_deg < AHEAD_DEG:
        return "ahead"
    if off_deg > 180.0 - AHEAD_DEG:
        return "back"
    return "left" if across > 0 else "right"


def whole(metres: float, units: Units) -> str:
    """Say a length in whole feet or metres, as a tape is read in the woods.

    Examples
    --------
    >>> whole(9.8, "metric"), whole(9.8, "us"), whole(512.0, "us")
    ('10 m', '32 ft', '1,680 ft')
    """
    return f"{whole_length(metres, units)} {said_unit('ft') if units == 'us' else 'm'}"


def whole_up(metres: float, units: Units) -> str:
    """Say a distance to keep in whole feet or metres, never less than it is.

    Examples
    --------
    >>> whole_up(50.0, "us"), whole_up(50.2, "metric"), whole_up(50.0, "metric")
    ('165 ft', '51 m', '50 m')
    """
    unit_m, unit = (FOOT_M, said_unit("ft")) if units == "us" else (1.0, "m")
    return f"{math.ceil(metres / unit_m - 1e-9)} {unit}"


def paces(metres: float, units: Units) -> int:
    """Give a distance in whole paces, at least one.

    Examples
    --------
    >>> paces(7.62, "us"), paces(7.5, "metric")
    (10, 10)
    """
    return max(1, round(metres / PACE_M[units]))
