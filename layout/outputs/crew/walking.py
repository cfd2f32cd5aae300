"""A trail as it is walked to flag it: station after station, with a ribbon for each thing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.ops import substring

from layout.outputs.crew.directions import bearing_deg
from layout.outputs.crew.ribbons import Ribbon
from layout.units import FOOT_M, Units

if TYPE_CHECKING:
    from layout.terrain import Stations

STEP_M: dict[Units, float] = {"us": 50 * FOOT_M, "metric": 20.0}
ROUND_M: dict[Units, float] = {"us": 5 * FOOT_M, "metric": 1.0}
BEND_M = 1.5  # a bend that leaves the straight way by more gets a station of its own; ours
LAST_SHARE = 0.25  # a last leg shorter than this share of a step is part of the one before it
STEEPER_PCT = 3.0  # the steepest 10 m of a leg is told where it is this much over the mean
STEEP_PCT = 10.0  # from here on it stands in place of a mean that is less; ours


@dataclass(frozen=True, slots=True)
class Leg:
    """The way from one station to the next, looking outward from the landing.

    Parameters
    ----------
    from_m, to_m : float
        Stations, metres along the trail.
    bearing_deg : float
        Grid bearing of the straight way.
    straight_m : float
        Its level length.
    grade_pct : float
        Mean grade, loaded direction: + uphill, - downhill; NaN where ground is not known.
    told_pct : float
        The grade that is told: the mean, or of a steep leg the steepest 10 m if that is not
        told beside it.
    steepest_pct : float or None
        The steepest 10 m, where it is clearly steeper than the mean.
    ribbons : tuple of Ribbon
        What hangs on the way, in its order; what stands at the trail's start comes first.
    """

    from_m: float
    to_m: float
    bearing_deg: float
    straight_m: float
    grade_pct: float
    told_pct: float
    steepest_pct: float | None
    ribbons: tuple[Ribbon, ...]


def stations(line: LineString, units: Units) -> list[float]:
    """Give the stations to flag: round ones, more of them on bends, and the end.

    Parameters
    ----------
    line : LineString
        The trail, landing end first.
    units : {"us", "metric"}
        Every 50 ft, or every 20 m.

    Returns
    -------
    list of float
        Metres, 0 first, the line's length last.
    """
    step, length = STEP_M[units], line.length
    marks = [k * step for k in range(math.ceil(length / step))] or [0.0]
    if len(marks) > 1 and length - marks[-1] < LAST_SHARE * step:
        marks.pop()
    marks.append(length)
    out = [0.0]
    for a, b in pairwise(marks):
        out += _split(line, a, b, ROUND_M[units])
    return out


def _split(line: LineString, a: float, b: float, fine_m: float) -> list[float]:
    """Give the stations after a up to b, halved until the straight way is near the trail."""
    piece = substring(line, a, b)
    chord = LineString([piece.coords[0], piece.coords[-1]])
    middle = fine_m * round((a + b) / 2 / fine_m)
    room = a + fine_m < middle < b - fine_m
    if not room or float(shapely.hausdorff_distance(piece, chord, densify=0.1)) <= BEND_M:
        return [b]
    return [*_split(line, a, middle, fine_m), *_split(line, middle, b, fine_m)]


def legs(line: LineString, measured: Stations, ribbons: list[Ribbon], units: Units) -> list[Leg]:
    """Divide a trail into legs, and hang each ribbon on its own.

    Parameters
    ----------
    line : LineString
        The trail, landing end first.
    measured : Stations
        What the trail meets, metre by metre.
    ribbons : list of Ribbon
        What hangs along it, in any order.
    units : {"us", "metric"}
        The user's units.

    Returns
    -------
    list of Leg
        Landing end first; every ribbon is in exactly one of them.
    """
    marks = stations(line, units)
    made = []
    for number, (a, b) in enumerate(pairwise(marks)):
        start, end = line.interpolate(a), line.interpolate(b)
        dx, dy = end.x - start.x, end.y - start.y
        last = number == len(marks) - 2
        hung = [r for r in ribbons if (number == 0 or r.at_m > a) and (last or r.at_m <= b)]
        mean = mean_grade_pct(measured, a, b)
        worst = _worst(measured, a, b, mean)
        clear = abs(worst) >= abs(mean) + STEEPER_PCT
        steep = abs(worst) > abs(mean) and abs(worst) >= STEEP_PCT and worst * mean > 0.0
        made.append(
            Leg(
                a,
                b,
                bearing_deg(dx, dy),
                math.hypot(dx, dy),
                mean,
                worst if steep and not clear else mean,
                worst if clear else None,
                tuple(sorted(hung, key=lambda r: (r.at_m, r.text))),
            )
        )
    return made


def mean_grade_pct(measured: Stations, a: float, b: float) -> float:
    """Give the mean grade between two stations in the loaded direction, percent.

    Loads run from b to a: ground that rises along the stored line is downhill
    loaded, and negative.
    """
    if b <= a:
        return math.nan
    low, high = np.interp([a, b], measured.at_m, measured.z)
    return float(100.0 * (low - high) / (b - a))


def _worst(measured: Stations, a: float, b: float, mean: float) -> float:
    """Give the steepest 10 m grade of a leg; NaN where it is not known."""
    inside = (measured.at_m >= a) & (measured.at_m <= b) & np.isfinite(measured.grade_pct)
    if not inside.any() or not math.isfinite(mean):
        return math.nan
    there = measured.grade_pct[inside]
    return float(there[np.abs(there).argmax()])
