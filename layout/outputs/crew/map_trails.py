"""What a crew map says along each trail: stations, and the grade of each stretch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString

from layout.outputs.amounts import grade
from layout.outputs.crew.directions import direction_at
from layout.outputs.crew.flagging import LEVEL_PCT, station_number
from layout.outputs.crew.walking import STEP_M
from layout.outputs.map_window import Window
from layout.outputs.words import say
from layout.records import Trail, TrailStep
from layout.terrain import BASELINE_M
from layout.tongue import unit as said_unit
from layout.units import Units

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.geometry import Floats
    from layout.plan import Plan
    from layout.terrain import Stations

EACH = 2  # of the stations a ribbon hangs at, so many to a number on the map
TICK_M: dict[Units, float] = {units: EACH * step for units, step in STEP_M.items()}
HALF_TICK_PT = 4.6
HALF_MINOR_PT = 2.6  # of the stations between
ALIKE_PCT = 3.0  # steps this near to the stretch's mean so far belong to it; ours
SHORTEST_M = 15.0  # a stretch shorter than this joins the one beside it
SAME_PCT = 0.5  # stations as near to the steepest bear its grade: it is said in whole percent
PLACES_M = 3.0  # apart, at least, where a grade may be written
MOST_PLACES = 6
NOISE_M = 1e-6


@dataclass(frozen=True, slots=True)
class Tick:
    """A station on the map: its number and the stroke across the trail."""

    said: str
    stroke: LineString
    at: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of trail of about one mean grade, loaded direction: + uphill, - downhill."""

    from_m: float
    to_m: float
    grade_pct: float


@dataclass(frozen=True, slots=True)
class Steepest:
    """The steepest 10 m of a stretch, percent of the loaded trip: + uphill, - downhill.

    Parameters
    ----------
    grade_pct : float
        How steep.
    at_m : tuple of float
        Where, metres along the trail: in the middle of those 10 m, then elsewhere on them and on
        others as steep.
    """

    grade_pct: float
    at_m: tuple[float, ...]


def ticks(trail: Trail, window: Window, units: Units) -> list[Tick]:
    """Give the stations of a trail that the map shows.

    Parameters
    ----------
    trail : Trail
        The trail.
    window : Window
        What is shown; strokes are as long on paper at any scale.
    units : {"us", "metric"}
        Every 100 ft, or every 40 m.

    Returns
    -------
    list of Tick
        From the trail's start outward, its two ends left out.
    """
    half_m = HALF_TICK_PT / 72 * window.metres_per_inch
    step, unit = TICK_M[units], said_unit("ft") if units == "us" else "m"
    return [
        _tick(trail, number * step, half_m, f"{station_number(number * step, units)} {unit}")
        for number in range(1, math.ceil(trail.line.length / step))
    ]


def between(trail: Trail, window: Window, units: Units) -> list[LineString]:
    """Give a short stroke across a trail at each station that bears no number.

    Parameters
    ----------
    trail : Trail
        The trail.
    window : Window
        What is shown.
    units : {"us", "metric"}
        With `ticks`, every 50 ft, or every 20 m, as the ribbons hang.

    Returns
    -------
    list of LineString
        From the trail's start outward, its two ends left out.
    """
    half_m, step = HALF_MINOR_PT / 72 * window.metres_per_inch, STEP_M[units]
    return [
        _tick(trail, number * step, half_m, "").stroke
        for number in range(1, math.ceil(trail.line.length / step))
        if number % EACH
    ]


def landing_end(trail: Trail, window: Window) -> list[Tick]:
    """Give station 0 of a trail that starts at the landing; nothing of a spur.

    Parameters
    ----------
    trail : Trail
        The trail.
    window : Window
        What is shown.

    Returns
    -------
    list of Tick
        One or none, with the trail's name: "M 0".
    """
    if trail.joins_id:
        return []
    half_m = 2 * HALF_TICK_PT / 72 * window.metres_per_inch
    return [_tick(trail, 0.0, half_m, f"{trail.trail_id} 0")]


def _tick(trail: Trail, at_m: float, half_m: float, said: str) -> Tick:
    """Give one stroke across a trail."""
    point = trail.line.interpolate(at_m)
    dx, dy = direction_at(trail.line, at_m)
    ends = [(point.x - dy * half_m, point.y + dx * half_m),
            (point.x + dy * half_m, point.y - dx * half_m)]  # fmt: skip
    return Tick(said, LineString(ends), (point.x, point.y))


def stretches(plan: Plan, trail_id: str) -> list[Stretch]:
    """Divide a trail into stretches of about one grade.

    Parameters
    ----------
    plan : Plan
        The plan.
    trail_id : str
        The trail.

    Returns
    -------
    list of Stretch
        Landing end first, without gaps.
    """
    steps = [step for step in plan.steps if step.trail_id == trail_id]
    made: list[Stretch] = []
    for step in sorted(steps, key=lambda s: s.from_m):
        if made and _alike(made[-1], step):
            made[-1] = _joined(made[-1], Stretch(step.from_m, step.to_m, step.grade_pct))
        else:
            made.append(Stretch(step.from_m, step.to_m, step.grade_pct))
    while len(made) > 1:
        short = min(range(len(made)), key=lambda k: made[k].to_m - made[k].from_m)
        if made[short].to_m - made[short].from_m >= SHORTEST_M:
            break
        beside = [k for k in (short - 1, short + 1) if 0 <= k < len(made)]
        other = min(beside, key=lambda k: abs(made[k].grade_pct - made[short].grade_pct))
        first, last = sorted((short, other))
        made[first : last + 1] = [_joined(made[first], made[last])]
    return made


def steepest(
    plan: Plan, trail: Trail, parts: list[Stretch], window: Window | None = None
) -> list[Steepest | None]:
    """Give the steepest 10 m of each of some stretches of a trail, and where that is.

    A mean would tell who drives there of a gentler trail than lists and strips do.

    Parameters
    ----------
    plan : Plan
        The plan.
    trail : Trail
        One of its trails.
    parts : list of Stretch
        Stretches of it, one after the other.
    window : Window, optional
        What is shown: only what has its middle on it counts. All if not given.

    Returns
    -------
    list of Steepest or None
        For each stretch; the steeper way where it goes both ways. None where no ground that
        is known is shown.
    """
    measured = plan.stations.get(trail.trail_id)
    if measured is None:
        return [None] * len(parts)
    low, base = _bases(measured)
    whose = _stretch_of(measured, parts)
    middle = low + base / 2
    shown = np.isfinite(measured.grade_pct)
    if window is not None:
        at = (np.interp(middle, measured.at_m, axis) for axis in (measured.x, measured.y))
        shown &= [window.shows(*xy) for xy in zip(*at, strict=True)]
    made: list[Steepest | None] = []
    for number, part in enumerate(parts):
        mine = np.flatnonzero(shown & (whose == number))
        if not (len(mine) and math.isfinite(part.grade_pct)):
            made.append(None)
            continue
        # what counts for a stretch may have its middle beyond the end of it
        at_m = np.clip(middle[mine], part.from_m, part.to_m)
        pct = measured.grade_pct[mine]
        top = int(np.abs(pct).argmax())
        alike = at_m[np.abs(pct - pct[top]) <= SAME_PCT]
        within = np.clip(at_m[top] + 0.3 * base * np.array([-1, 1]), part.from_m, part.to_m)
        made.append(Steepest(float(pct[top]), _spread([*alike, *within], float(at_m[top]))))
    return made


def _spread(at_m: list[float], first_m: float) -> tuple[float, ...]:
    """Give the first of some places, then those next to it that stand well apart."""
    made = [first_m]
    for place in sorted(at_m, key=lambda m: abs(m - first_m)):
        if min(abs(place - other) for other in made) >= PLACES_M and len(made) < MOST_PLACES:
            made.append(float(place))
    return tuple(made)


def _bases(measured: Stations) -> tuple[Floats, float]:
    """Give where each station's base begins, and how long all are, as `station_table` laid them.

    Near an end of the trail that is not half the base before the station.
    """
    length = float(measured.at_m[-1])
    base = min(BASELINE_M, length)
    return np.clip(measured.at_m - base / 2, 0.0, length - base), base


def _stretch_of(measured: Stations, parts: list[Stretch]) -> NDArray[np.int_]:
    """Give the number of the stretch each station's grade counts for.

    That is the one its 10 m lie in. Where they lie in two, a gentle one would borrow the grade
    of its steep neighbour: they count for the one that is the steeper of both the same way.
    """
    low, base = _bases(measured)
    ends = np.array([(part.from_m, part.to_m) for part in parts])
    inside = (low[:, None] >= ends[:, 0] - NOISE_M) & (low[:, None] + base <= ends[:, 1] + NOISE_M)
    meets = (low[:, None] < ends[:, 1] - NOISE_M) & (low[:, None] + base > ends[:, 0] + NOISE_M)
    whose = np.searchsorted(ends[:-1, 1], measured.at_m, side="right")
    pct = np.nan_to_num(measured.grade_pct, nan=0.0)
    own = {way: np.where(inside, way * pct[:, None], 0.0).max(axis=0) for way in (1.0, -1.0)}
    for number in np.flatnonzero(~inside.any(axis=1)):
        there = np.where(meets[number], own[1.0 if pct[number] > 0 else -1.0], 0.0)
        if there.max() > 0:
            whose[number] = there.argmax()
    return np.asarray(whose)


def _alike(stretch: Stretch, step: TrailStep) -> bool:
    """Say whether a step goes on much as the stretch did."""
    a, b = stretch.grade_pct, step.grade_pct
    if not (math.isfinite(a) and math.isfinite(b)):
        return not math.isfinite(a) and not math.isfinite(b)
    same_way = a * b > 0 or min(abs(a), abs(b)) < 1.0
    return same_way and abs(a - b) <= ALIKE_PCT


def _joined(a: Stretch, b: Stretch) -> Stretch:
    """Join two neighbours, the grade weighted by length; an unknown one gives way."""
    known = [s for s in (a, b) if math.isfinite(s.grade_pct)]
    total = sum(s.to_m - s.from_m for s in known)
    mean = sum((s.to_m - s.from_m) * s.grade_pct for s in known) / total if total else math.nan
    return Stretch(a.from_m, b.to_m, mean)


def grade_in_full(value_pct: float) -> str:
    """Say a grade in full where the map has room: "12 % downhill loaded"; empty if unknown."""
    if not math.isfinite(value_pct):
        return ""
    if abs(value_pct) < LEVEL_PCT:
        return say("crew_grade_level")
    down = value_pct < 0
    return say("crew_grade_full_down" if down else "crew_grade_full_up", size=grade(value_pct))
