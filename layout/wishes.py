"""Winch positions the user asks for by hand: where they fall on a line, and what became of them."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from layout.findings import Finding
from layout.records import Trail, WinchPosition
from layout.site import Area
from layout.speech import speak_length

WISHED_OFF_M = 6.0  # a wished position belongs to a trail this near; ours
SAME_STATION_M = 0.02  # stations are kept to the centimetre
SAME_PLACE_M = 0.5  # a trail's line is fair-drawn again at the end


def stations(line: LineString, area: Area) -> tuple[float, ...]:
    """Give the stations of a line that the user asks for as winch positions.

    Parameters
    ----------
    line : LineString
        Centre line of a trail.
    area : Area

    Returns
    -------
    tuple of float
        Metres from the line's start, in order; of a wish that is too far off, none.
    """
    return tuple(
        sorted(
            {
                round(float(line.project(place)), 2)
                for place in map(Point, area.wanted_positions)
                if line.distance(place) <= WISHED_OFF_M
            }
        )
    )


def among(at_m: NDArray[np.float64], wished: Sequence[float]) -> NDArray[np.bool_]:
    """Tell which stations are asked for.

    Parameters
    ----------
    at_m : ndarray of float, shape (n,)
        Stations of a line, metres.
    wished : sequence of float
        As `stations` gives them.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    apart = np.abs(at_m[:, None] - np.asarray(wished, dtype=float))
    return np.asarray((apart < SAME_STATION_M).any(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """Winch positions that were looked at.

    Parameters
    ----------
    xy : ndarray of float, shape (n, 2)
        Where.
    serves : ndarray of bool, shape (n,)
        Whether any marked tree may be pulled to it.
    """

    xy: NDArray[np.float64]
    serves: NDArray[np.bool_]


def findings(
    area: Area, trails: Sequence[Trail], positions: Sequence[WinchPosition], tried: Tried
) -> list[Finding]:
    """Tell of each wish that the plan does not meet, and why.

    Parameters
    ----------
    area : Area
    trails, positions : sequence of Trail, of WinchPosition
        Of the plan.
    tried : Tried
        What the plan was chosen from.

    Returns
    -------
    list of Finding
    """
    near = speak_length(WISHED_OFF_M, area.settings.area.units)
    parked = shapely.MultiPoint([(p.x, p.y) for p in positions])
    found = []
    for x, y in area.wanted_positions:
        place = Point(x, y)
        if place.distance(parked) <= WISHED_OFF_M:  # of an empty one it is NaN
            continue
        found.append(
            Finding(
                "wish_not_met",
                "caution",
                f"You asked for a winch position here, and the plan has none within {near}: "
                f"{_why(place, trails, tried)}.",
                "winch_positions",
                at=(x, y),
            )
        )
    return found


def _why(place: Point, trails: Sequence[Trail], tried: Tried) -> str:
    """Say why a place is no winch position of the plan."""
    passing = [trail for trail in trails if trail.line.distance(place) <= WISHED_OFF_M]
    if not passing:
        return "no trail passes that near; draw a spur to it, or ask for one beside a trail"
    there = np.zeros(len(tried.xy), dtype=bool)
    for trail in passing:
        at = trail.line.interpolate(trail.line.project(place))
        there |= np.hypot(*(tried.xy - (at.x, at.y)).T) < SAME_PLACE_M
    if not there.any():
        return (
            "a trail passes there, but the outfit cannot stand straight on it, or another trail "
            "or a crossing is too near"
        )
    if not tried.serves[there].any():
        return (
            "a trail passes there, but no marked tree can be pulled to it within the rope's reach "
            "and angle and clear of the stems that stay"
        )
    return "a trail passes there, but the plan pulls cheaper from elsewhere, as far as it looked"
