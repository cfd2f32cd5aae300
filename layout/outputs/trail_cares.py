"""What can hurt somebody on a trail or a landing, in few words, where it is."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.amounts import grade
from layout.outputs.words import say
from layout.speech import speak_chance

if TYPE_CHECKING:
    from layout.findings import Finding
    from layout.plan import Plan

# Findings of a trail that tell of people and the outfit, the gravest first.
ON_TRAILS = (
    "tractor_brakes",
    "load_may_run",
    "grade_favourable",
    "grade_adverse",
    "grade_chance",
    "cross_slope",
    "water_channel_trail",
    "water_hollow_trail",
    "grade_flat",
    "junction_angle",
)
AT_MOUTHS = frozenset({"junction_angle"})  # told for itself, whatever is told of the trail there
STEEPER = frozenset({"tractor_brakes", "load_may_run"})  # say more of the same pitch
# Loaded direction of a grade, as stations sign it: a stop for a pitch's length has a length as
# its value, and its steepest place is looked up.
SIGN = {"grade_favourable": -1.0, "grade_adverse": 1.0}
ON_LANDINGS = ("water_hollow_landing", "landing_truck", "landing_decks")


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of trail to take care on: its stations in metres, and what is to be known."""

    from_m: float
    to_m: float
    words: tuple[str, ...]


def trail_cares(plan: Plan) -> dict[str, list[Stretch]]:
    """Say what to take care of along each trail.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to list of Stretch
        By trail, from its landing end outward; only trails with something to say. What is said
        of stretches that overlap stands together. The numbers are those of the plan's findings.
    """
    found: dict[str, list[Finding]] = defaultdict(list)
    for finding in plan.findings:
        if finding.level in ("stop", "caution") and finding.code in ON_TRAILS:
            found[finding.subject_id].append(finding)
    names = {trail.trail_id for trail in plan.trails}
    return {name: _stretches(plan, found[name]) for name in found if name in names}


def landing_cares(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Say what to take care of on each landing; only those with something to say."""
    said = {}
    for landing in plan.landings:
        codes = {
            f.code
            for f in plan.findings
            if f.subject_id == landing.landing_id and f.level in ("stop", "caution")
        }
        words = tuple(say(f"care_{code}") for code in ON_LANDINGS if code in codes)
        if words:
            said[landing.landing_id] = words
    return said


def _stretches(plan: Plan, findings: list[Finding]) -> list[Stretch]:
    """Put together what is said of stretches that overlap, the gravest first."""
    mouth = [finding for finding in findings if finding.code in AT_MOUTHS]
    groups: list[list[Finding]] = [mouth] if mouth else []
    end = -math.inf
    along = (finding for finding in findings if finding.code not in AT_MOUTHS)
    for finding in sorted(along, key=lambda f: (f.from_m or 0.0, f.to_m or 0.0)):
        low, high = finding.from_m or 0.0, finding.to_m or 0.0
        if low <= end:
            groups[-1].append(finding)
        else:
            groups.append([finding])
        end = max(end, high)
    made = []
    for group in groups:
        worst: dict[str, Finding] = {}
        for finding in group:
            before = worst.get(finding.code)
            if before is None or _size(plan, finding) > _size(plan, before):
                worst[finding.code] = finding
        if STEEPER & worst.keys():
            worst.pop("grade_favourable", None)
        words = tuple(_said(plan, worst[code]) for code in ON_TRAILS if code in worst)
        low, high = min(f.from_m or 0.0 for f in group), max(f.to_m or 0.0 for f in group)
        made.append(Stretch(low, high, words))
    return made


def _size(plan: Plan, finding: Finding) -> float:
    """Give the size a finding tells of; of a grade always percent, never how long it is."""
    if finding.code not in SIGN or finding.unit != "m":
        return abs(finding.value or 0.0)
    there = plan.stations[finding.subject_id]
    inside = (there.at_m >= (finding.from_m or 0.0)) & (there.at_m <= (finding.to_m or math.inf))
    return float(np.max(SIGN[finding.code] * there.grade_pct[inside], initial=0.0))


def _said(plan: Plan, finding: Finding) -> str:
    value = _size(plan, finding)
    return say(
        f"care_{finding.code}",
        size=grade(value),
        chance=speak_chance(value / 100) if finding.code == "grade_chance" else "",
    )
