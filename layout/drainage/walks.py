"""Walking the water down a trail: how much of the tables' room is used up, and where it turns."""

from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from layout.drainage.spacing import Tables, spacing
from layout.errors import InputError
from layout.terrain import Stations

Floats = NDArray[np.float64]

CREST_DROP_M = 0.5  # ours: smaller rises and falls along a trail may be noise in the elevations


def spacings_used(stations: Stations, tables: Tables | None = None) -> Floats:
    """Count how many spacings of the tables a trail has used up at each station.

    Parameters
    ----------
    stations : Stations
        What the trail meets; n stations, n >= 2.
    tables : Tables, optional
        The tables in force; the grade table of bars alone where left out.

    Returns
    -------
    ndarray of float, shape (n,)
        Running total from the trail's start. Between two stations the closer
        spacing of the two counts.

    Raises
    ------
    InputError
        If there are fewer than two stations, they do not run on, or a grade is not known.
    """
    run = np.diff(stations.at_m)
    if run.size == 0 or (run <= 0).any():
        raise InputError("a trail needs two stations or more, each farther on than the last")
    room = spacing(stations.grade_pct, tables)
    used = np.cumsum(run / np.minimum(room[:-1], room[1:]))
    return np.concatenate([[0.0], used])


def known_runs(stations: Stations) -> list[tuple[int, int]]:
    """Find the stretches of a trail whose elevations and grades are known.

    Parameters
    ----------
    stations : Stations
        What the trail meets; NaN where the elevation grid has a gap or has ended.

    Returns
    -------
    list of (int, int)
        First station and the one after the last, two stations or more each, in order.
    """
    known = np.isfinite(stations.z) & np.isfinite(stations.grade_pct)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(int)))
    pairs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    return [(a, b) for a, b in pairs if b - a >= 2]


def part(stations: Stations, first: int, end: int) -> Stations:
    """Give the stations from ``first`` up to ``end``, that one left out."""
    return Stations(*(getattr(stations, f.name)[first:end] for f in fields(Stations)))


def turns_of_slope(z: Floats, drop_m: float = CREST_DROP_M) -> list[int]:
    """Find where a trail tops out and bottoms out, leaving out noise.

    Parameters
    ----------
    z : ndarray of float, shape (n,)
        Elevations along the trail, metres.
    drop_m : float, optional
        A crest counts only where the trail falls at least this far from it on
        both sides before it rises above it again, metres; a low point likewise.

    Returns
    -------
    list of int
        Rising indices into ``z``: the first, every crest and low point in turn, the last.
    """
    turns = [0]
    high = low = 0
    rising: bool | None = None
    for i in range(1, z.size):
        if z[i] > z[high]:
            high = i
        if z[i] < z[low]:
            low = i
        if rising is not False and z[high] - z[i] >= drop_m:
            if rising and high > turns[-1]:
                turns.append(high)
            rising, low = False, i
            high = i
        elif rising is not True and z[i] - z[low] >= drop_m:
            if rising is False and low > turns[-1]:
                turns.append(low)
            rising, high = True, i
            low = i
    if turns[-1] != z.size - 1:
        turns.append(z.size - 1)
    return turns


def between(stations: Stations, at_m: Floats) -> Stations:
    """Give what a trail meets at places between its stations.

    Parameters
    ----------
    stations : Stations
        What it meets, about every metre.
    at_m : ndarray of float, shape (k,)
        Places, metres from its landing end.

    Returns
    -------
    Stations
        Straight between the two nearest.
    """
    heading = np.unwrap(stations.heading_rad)

    def at(values: Floats) -> Floats:
        return np.asarray(np.interp(at_m, stations.at_m, values))

    return Stations(
        at_m=np.asarray(at_m, dtype=float),
        x=at(stations.x),
        y=at(stations.y),
        heading_rad=at(heading),
        z=at(stations.z),
        grade_pct=at(stations.grade_pct),
        cross_pct=at(stations.cross_pct),
        tilt_left=at(stations.tilt_left),
    )
