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
from layout.outputs.crew.walking import STEP_M, grades
from layout.outputs.map_window import Window
from layout.outputs.words import say
from layout.records import Trail, TrailStep
from layout.tongue import unit as said_unit
from layout.units import Units

if TYPE_CHECKING:
    from layout.plan import Plan

EACH = 2  # of the stations a ribbon hangs at, so many to a number on the map
TICK_M: dict[Units, float] = {units: EACH * step for units, step in STEP_M.items()}
HALF_TICK_PT = 4.6
HALF_MINOR_PT = 2.6  # of the stations between
ALIKE_PCT = 3.0  # steps this near to the stretch's mean so far belong to it; ours
SHORTEST_M = 15.0  # a stretch shorter than this joins the one beside it


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


def steepest_pct(plan: Plan, trail: Trail, parts: list[Stretch]) -> list[float]:
    """Give the steepest grade of each of some stretches, as the flagging list measures it.

    A mean would tell who drives there of a gentler trail than the lists do.

    Parameters
    ----------
    plan : Plan
        The plan.
    trail : Trail
        One of its trails.
    parts : list of Stretch
        Stretches of it.

    Returns
    -------
    list of float
        Percent of the loaded trip, + uphill; the steeper way where a stretch goes both ways,
        and never less than the stretch's mean. NaN where the ground is not known.
    """
    at_m, grade_pct = grades(plan, trail)
    at_m, grade_pct = at_m[np.isfinite(grade_pct)], grade_pct[np.isfinite(grade_pct)]
    made = []
    for part in parts:
        inside = grade_pct[(at_m >= part.from_m) & (at_m <= part.to_m)].tolist()
        known = math.isfinite(part.grade_pct)  # a stretch of unknown ground has no grade
        made.append(max((part.grade_pct, *inside), key=abs) if known else math.nan)
    return made


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
