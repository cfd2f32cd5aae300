"""Winch positions the user asks for by hand: where they fall on a line, and what became of them."""

from collections.abc import Sequence

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


def findings(
    area: Area, trails: Sequence[Trail], positions: Sequence[WinchPosition]
) -> list[Finding]:
    """Tell of each wish that the plan does not meet, and why as far as it is known.

    Parameters
    ----------
    area : Area
    trails, positions : sequence of Trail, of WinchPosition
        Of the plan.

    Returns
    -------
    list of Finding
    """
    near = speak_length(WISHED_OFF_M, area.settings.area.units)
    parked = shapely.MultiPoint([(p.x, p.y) for p in positions])
    lines = shapely.MultiLineString([trail.line for trail in trails])
    found = []
    for x, y in area.wanted_positions:
        place = Point(x, y)
        if place.distance(parked) <= WISHED_OFF_M:  # of an empty one it is NaN
            continue
        why = (
            "a trail passes there, but the outfit cannot stand straight on it, or what it would "
            "pull comes cheaper from elsewhere"
            if place.distance(lines) <= WISHED_OFF_M
            else "no trail passes that near; draw a spur to it, or ask for one beside a trail"
        )
        found.append(
            Finding(
                "wish_not_met",
                "caution",
                f"You asked for a winch position here, and the plan has none within {near}: {why}.",
                "winch_positions",
                at=(x, y),
            )
        )
    return found
