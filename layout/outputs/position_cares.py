"""What can hurt somebody at a winch position, in few words, position by position."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layout.outputs.amounts import grade
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import Pull

# Findings of a position that tell of people and the outfit, not of the stand; the
# gravest first. Findings of single pulls count for their position.
TOLD = (
    "pull_load_above",
    "pull_may_run",
    "pull_crosses_trail",
    "parking_slope",
    "pull_angle",
    "position_near_bend",
    "position_near_junction",
)


def cares(plan: Plan) -> dict[str, tuple[str, ...]]:
    """Say what to take care of at each winch position.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to tuple of str
        By position, in the plan's order; only those with something to say, the
        gravest first. The numbers are those of the plan's own findings.
    """
    place_of = {pull.tree_id: pull.position_id for pull in plan.pulls}
    worst: dict[tuple[str, str], float] = {}
    stopped: set[str] = set()
    for finding in plan.findings:
        name = finding.subject_id
        if finding.subject_layer == "pulls":
            name = place_of.get(name, "")
        elif finding.subject_layer != "winch_positions":
            continue
        if finding.level == "stop" and name:
            stopped.add(name)
        if finding.level in ("stop", "caution") and finding.code in TOLD:
            key = (name, finding.code)
            worst[key] = max(worst.get(key, 0.0), abs(finding.value or 0.0))
    crossed = _crossed(plan)
    said: dict[str, tuple[str, ...]] = {}
    for position in plan.positions:
        name = position.position_id
        words = [say("care_stop")] if name in stopped else []
        for code in TOLD:
            if code == "pull_crosses_trail":
                if name in crossed:
                    words.append(say("care_crosses", trails=", ".join(crossed[name])))
            elif (name, code) in worst:
                words.append(say(f"care_{code}", size=grade(worst[name, code]),
                                 degrees=f"{worst[name, code]:.0f}"))  # fmt: skip
        if words:
            said[name] = tuple(words)
    return said


def _crossed(plan: Plan) -> dict[str, list[str]]:
    """Name the trails, other than its own, that a position's ropes cross."""
    own = {position.position_id: position.trail_id for position in plan.positions}
    lines = np.array([trail.line for trail in plan.trails], dtype=object)
    pulls: dict[str, list[Pull]] = defaultdict(list)
    for pull in plan.pulls:
        pulls[pull.position_id].append(pull)
    found: dict[str, list[str]] = {}
    for name, them in pulls.items():
        met = np.zeros(len(lines), dtype=bool)
        for pull in them:
            met |= np.asarray(shapely.crosses(lines, pull.line), dtype=bool)
        trails = [
            trail.trail_id
            for trail, crosses in zip(plan.trails, met.tolist(), strict=True)
            if crosses and trail.trail_id != own.get(name)
        ]
        if trails:
            found[name] = trails
    return found
