"""The grades beside the trails of a crew map: of every trail its steepest stretch first.

Who reads a gentle grade beside a trail takes the rest of it for no steeper. So the worst
of each trail is written before any gentler one, with a line to it where it must be, and where
it has no room the gentler ones are not written either.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from shapely.ops import substring

from layout.outputs.crew.flagging import grade_said
from layout.outputs.crew.map_trails import Stretch, grade_in_full, steepest_pct, stretches
from layout.outputs.crew.walking import STEEP_PCT
from layout.outputs.map_labels import CLEAN, HIDES_LITTLE, Labels, Look

if TYPE_CHECKING:
    from layout.outputs.map_window import Window
    from layout.plan import Plan
    from layout.records import Trail

GRADE = Look(7.4)
CLEAR_PT = 6.0  # from the middle of a trail
SHORT_STRETCH_M = 40.0  # on the map of the whole, shorter ones go without, but for the steepest
STUB_M = 25.0  # a trail of one stretch, shorter and not steep: the lists have its grade; ours
KIND = "grade"  # a grade could be read for that of another stretch
SHARES = (0.5, 0.25, 0.75)  # of a stretch, where its grade may stand


@dataclass(frozen=True, slots=True)
class _Graded:
    """A stretch in sight, and its steepest grade, percent of the loaded trip."""

    owner: str  # what its marks are entered as
    stretch: Stretch
    worst_pct: float
    places: list[tuple[float, float]]  # that the map shows

    @property
    def length_m(self) -> float:
        return self.stretch.to_m - self.stretch.from_m


def write(labels: Labels, plan: Plan, window: Window, *, numbered: bool) -> tuple[int, int]:
    """Write grades beside the trails a map shows.

    Parameters
    ----------
    labels : Labels
        Places names on it; all dearer ones are there.
    plan : Plan
        The plan, or the part of it that the map shows.
    window : Window
        What is shown.
    numbered : bool
        Whether trees have their numbers on it: there the steepest stretch of every trail is
        to be written; on a map of the whole that of the main trails.

    Returns
    -------
    tuple of int
        How many stretches in sight have their grade, and how many go without.
    """
    found = [(trail, _graded(labels, plan, trail, window)) for trail in plan.trails]
    found = [(trail, graded) for trail, graded in found if graded]
    found.sort(key=lambda one: (one[0].kind != "main", -abs(one[1][0].worst_pct)))
    led = []  # trails whose steepest is there
    for trail, (worst, *rest) in found:
        must = trail.kind == "main" or (numbered and (bool(rest) or _tells(worst)))
        if _written(labels, worst, must=must):
            led.append(rest)
    gentler = sorted((one for rest in led for one in rest), key=lambda one: -abs(one.worst_pct))
    done = len(led) + sum(
        _written(labels, one) for one in gentler if numbered or one.length_m >= SHORT_STRETCH_M
    )
    return done, sum(len(graded) for _, graded in found) - done


def _graded(labels: Labels, plan: Plan, trail: Trail, window: Window) -> list[_Graded]:
    """Enter the stretches of a trail as marks of their own; give those in sight, steepest first."""
    parts = stretches(plan, trail.trail_id)
    made = []
    for part, worst_pct in zip(parts, steepest_pct(plan, trail, parts), strict=True):
        owner = f"{trail.trail_id} {part.from_m:.1f}"
        labels.own_line(
            KIND, owner, np.asarray(substring(trail.line, part.from_m, part.to_m).coords)
        )
        if not math.isfinite(worst_pct):
            continue
        long_m = part.to_m - part.from_m
        points = [trail.line.interpolate(part.from_m + share * long_m) for share in SHARES]
        places = [(point.x, point.y) for point in points if window.shows(point.x, point.y)]
        if places:
            made.append(_Graded(owner, part, worst_pct, places))
    return sorted(made, key=lambda one: -abs(one.worst_pct))


def _tells(only: _Graded) -> bool:
    """Say whether the one stretch of a trail is long or steep enough for a line to its grade."""
    return only.length_m >= STUB_M or abs(only.worst_pct) >= STEEP_PCT


def _written(labels: Labels, one: _Graded, *, must: bool = False) -> bool:
    """Write the steepest grade of a stretch beside it, in full where there is room.

    One that must be written may stand off, with a line to it, but hides no other's mark.
    """
    short = grade_said(one.worst_pct)
    tries = [(grade_in_full(one.worst_pct), False), (short, False), (short, True)]
    return any(
        labels.beside(
            words,
            one.places,
            GRADE,
            clear_pt=CLEAR_PT,
            must=far,
            hide_most=CLEAN if far else HIDES_LITTLE,
            kind=KIND,
            owner=one.owner,
        )
        for words, far in tries[: 3 if must else 2]
    )
