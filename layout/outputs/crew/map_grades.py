"""The grades beside the trails of a crew map: of every trail its steepest stretch first.

Who reads a gentle grade beside a trail takes the rest of it for no steeper. So the worst
of each trail is written before any gentler one, with a line to it where it must be, and where
it has no room the gentler ones are not written either. On a map of the whole the same holds
of the job: what is past its limit comes before the grade of any spur. Each grade stands
where the trail is so steep, and one with a line to it bears its trail's name, for a line is
easily followed to another trail.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import Polygon, box
from shapely.ops import substring

from layout.outputs.crew.flagging import LEVEL_PCT, grade_said
from layout.outputs.crew.map_trails import Stretch, grade_in_full, steepest, stretches
from layout.outputs.crew.walking import STEEP_PCT
from layout.outputs.map_labels import CLEAN, HIDES_LITTLE, MISLEADS_COST, Labels, Look
from layout.outputs.words import say
from layout.runs import over
from layout.settings.limits import Limits, limits_in_force

if TYPE_CHECKING:
    from layout.outputs.map_window import Window
    from layout.plan import Plan
    from layout.records import Trail

GRADE = Look(7.4)
CLEAR_PT = 6.0  # from the middle of a trail
SHORT_STRETCH_M = 40.0  # on the map of the whole, stretches and spurs shorter go without
STUB_M = 25.0  # of a trail in sight, less and not steep: the lists have its grade; ours
KIND = "grade"  # a grade could be read for that of another stretch


@dataclass(frozen=True, slots=True)
class _Graded:
    """A stretch in sight, and its steepest grade there, percent of the loaded trip."""

    trail: Trail
    owner: str  # what its marks are entered as
    stretch: Stretch
    worst_pct: float
    past: bool  # the limit
    places: list[tuple[float, float]]  # where it is so steep

    @property
    def length_m(self) -> float:
        return self.stretch.to_m - self.stretch.from_m

    @property
    def main(self) -> bool:
        return self.trail.kind == "main"


def write(labels: Labels, plan: Plan, window: Window, *, numbered: bool) -> tuple[int, int]:
    """Write grades beside the trails a map shows.

    Parameters
    ----------
    labels : Labels
        Places names on it; all dearer ones are there, and the trails, which lines to grades
        had better not cross.
    plan : Plan
        The plan, or the part of it that the map shows.
    window : Window
        What is shown.
    numbered : bool
        Whether trees have their numbers on it: there the steepest stretch of every trail is
        to be written; on a map of the whole that of the main trails. What is past its limit
        is to be written on either.

    Returns
    -------
    tuple of int
        How many stretches in sight have their grade, and how many go without.
    """
    limits = limits_in_force(plan.area.settings)
    found = [graded for trail in plan.trails if (graded := _graded(labels, plan, trail, window,
                                                                   limits))]  # fmt: skip
    first = [one for worst, *rest in found for one in (worst, *(o for o in rest if o.past))]
    first.sort(key=lambda one: (not one.past, not one.main, -abs(one.worst_pct)))
    many = {graded[0].trail.trail_id for graded in found if len(graded) > 1}
    ground = box(window.west, window.south, window.east, window.north)
    missing: set[str] = set()  # trails whose steepest is not there
    done, past_missing = 0, False
    for one in first:
        must = one.past or one.main
        if numbered:
            must = must or one.trail.trail_id in many or _tells(one, ground)
            tried = True
        else:
            tried = must or (not past_missing and _for_the_whole(one))
        if tried and _written(labels, one, must=must, named=not numbered):
            done += 1
        else:
            missing.add(one.trail.trail_id)
            past_missing = past_missing or one.past
    gentler = [
        one
        for _, *rest in found
        for one in rest
        if not one.past and one.trail.trail_id not in missing
    ]
    if not numbered:
        gentler = [
            one
            for one in gentler
            if one.length_m >= SHORT_STRETCH_M
            and (one.main or (not past_missing and _for_the_whole(one)))
        ]
    gentler.sort(key=lambda one: -abs(one.worst_pct))
    done += sum(_written(labels, one, named=not numbered) for one in gentler)
    return done, sum(map(len, found)) - done


def _graded(
    labels: Labels, plan: Plan, trail: Trail, window: Window, limits: Limits
) -> list[_Graded]:
    """Enter the stretches of a trail as marks of their own; give those in sight, steepest first."""
    parts = stretches(plan, trail.trail_id)
    made = []
    for part, worst in zip(parts, steepest(plan, trail, parts, window), strict=True):
        owner = f"{trail.trail_id} {part.from_m:.1f}"
        labels.own_line(
            KIND, owner, np.asarray(substring(trail.line, part.from_m, part.to_m).coords)
        )
        if worst is None:
            continue
        points = [trail.line.interpolate(at_m) for at_m in worst.at_m]
        places = [(point.x, point.y) for point in points if window.shows(point.x, point.y)]
        if places:
            past = _past(worst.grade_pct, limits)
            made.append(_Graded(trail, owner, part, worst.grade_pct, past, places))
    return sorted(made, key=lambda one: -abs(one.worst_pct))


def _past(grade_pct: float, limits: Limits) -> bool:
    """Say whether a grade is past what is allowed for longer than a short pitch."""
    limit = limits.adverse_pct if grade_pct > 0 else limits.favourable_pct
    return bool(over(np.array([abs(grade_pct)]), limit)[0])


def _tells(only: _Graded, ground: Polygon) -> bool:
    """Say whether the one stretch in sight is long or steep enough for a line to its grade."""
    seen_m = only.trail.line.intersection(ground).length
    return bool(seen_m >= STUB_M or abs(only.worst_pct) >= STEEP_PCT)


def _for_the_whole(one: _Graded) -> bool:
    """Say whether a grade within its limit is worth room on a map of the whole."""
    long = one.main or one.trail.line.length >= SHORT_STRETCH_M
    return long and abs(one.worst_pct) >= LEVEL_PCT


def _written(labels: Labels, one: _Graded, *, must: bool = False, named: bool = False) -> bool:
    """Write the steepest grade of a stretch beside it, in full where there is room.

    One that must be written may stand off, with a line to it, but hides no other's mark. On a
    map of the whole all bear the trail's name: trails are too near each other there.
    """
    short = grade_said(one.worst_pct)
    own = say("crew_map_grade_of", trail=one.trail.trail_id, grade=short)
    near = [own] if named else [grade_in_full(one.worst_pct), short]
    # a line that another trail could be read for is worth it only where it warns
    warns = one.past or abs(one.worst_pct) >= STEEP_PCT
    tries = [(words, False, HIDES_LITTLE) for words in near] + [(own, True, HIDES_LITTLE)]
    far = [(own, True, CLEAN if warns else MISLEADS_COST)] if must else []
    return any(
        labels.beside(
            words,
            one.places,
            GRADE,
            clear_pt=CLEAR_PT,
            must=bool(far) and number == len(tries),
            hide_most=most,
            kind=KIND,
            owner=one.owner,
            trail=one.trail.trail_id,
            lead=lead,
        )
        for number, (words, lead, most) in enumerate(tries + far)
    )
