"""The largest load of each trail: its own steps, and the whole way to the landing."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from layout.plan import Plan
    from layout.records import TrailStep


def own(plan: Plan) -> dict[str, TrailStep]:
    """Give, for each trail, the step of its own that holds loads down most.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to TrailStep
        Trails without a known step are left out; the first of equals counts.
    """
    least = {t.trail_id: _least(s for s in plan.steps if s.trail_id == t.trail_id)
             for t in plan.trails}  # fmt: skip
    return {name: step for name, step in least.items() if step is not None}


def to_landing(plan: Plan) -> dict[str, TrailStep]:
    """Give, for each trail, the step that holds down a load from its far end to the landing.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to TrailStep
        The step may lie on a trail it joins. Trails without a known step are left out.
    """
    trails = {trail.trail_id: trail for trail in plan.trails}
    found: dict[str, TrailStep] = {}
    for name in trails:
        passed: list[TrailStep] = []
        leg, far_m = name, float("inf")
        seen: set[str] = set()
        while leg in trails and leg not in seen:
            seen.add(leg)
            passed += [s for s in plan.steps if s.trail_id == leg and s.from_m < far_m]
            trail = trails[leg]
            leg, far_m = trail.joins_id, trail.joins_at_m or 0.0
        step = _least(passed)
        if step is not None:
            found[name] = step
    return found


def columns(step: TrailStep | None) -> dict[str, object]:
    """Give the columns of a trail that tell of the step holding its loads down."""
    return {
        "payload_kg": None if step is None else step.payload_kg,
        "payload_by": "" if step is None else step.payload_by,
        "payload_at_m": None if step is None else step.from_m,
    }


def _least(steps: Iterable[TrailStep]) -> TrailStep | None:
    """Give the step with the least load, None where none is known."""
    known = [step for step in steps if step.payload_kg is not None]
    return min(known, key=lambda step: step.payload_kg or 0.0, default=None)
