"""The largest load of each trail, from its far end over the whole way to the landing.

Every load meets level ground somewhere, on the landing at the latest, so what may be
dragged on the level bounds it too, as it does where loads are packed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from layout.outputs.trailer_place import small_landing
from layout.payload import largest_load

if TYPE_CHECKING:
    from layout.plan import Plan

SAME_KG = 1e-6


@dataclass(frozen=True, slots=True)
class Least:
    """What holds loads down: how far, by what, and where."""

    kg: float
    by: str
    trail_id: str = ""  # empty: level ground
    from_m: float | None = None
    to_m: float | None = None


def to_landing(plan: Plan) -> dict[str, Least]:
    """Give, for each trail, what holds down a load from its far end to the landing.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to Least
        Loads of a spur that end at a small landing are held to the way there. The step may
        lie on a trail it joins; of equals the one nearest to the far end
        counts, and a step before level ground. Trails without a known step are left out.
    """
    trails = {trail.trail_id: trail for trail in plan.trails}
    kg, by = largest_load(plan.area.settings, 0.0)
    level = Least(float(kg), str(by))
    two = small_landing(plan)
    found: dict[str, Least] = {}
    for name in trails:
        passed: list[Least] = []
        leg, far_m = name, float("inf")
        seen: set[str] = set()
        while leg in trails and leg not in seen:
            seen.add(leg)
            ends_m = 0.0
            if two is not None and leg == two.trail_id != name and far_m >= (two.at_m or 0.0):
                ends_m = two.at_m or 0.0
            passed += [
                Least(s.payload_kg, s.payload_by, leg, s.from_m, s.to_m)
                for s in plan.steps
                if s.trail_id == leg
                and s.from_m < far_m
                and s.to_m > ends_m
                and s.payload_kg is not None
            ]
            leg, far_m = trails[leg].joins_id, trails[leg].joins_at_m or 0.0
        if passed:
            least = min(passed, key=lambda one: one.kg)
            found[name] = least if least.kg <= level.kg + SAME_KG else level
    return found


def columns(least: Least | None, trail_id: str) -> dict[str, object]:
    """Give the columns of a trail that tell of what holds its loads down.

    Parameters
    ----------
    least : Least or None
        Of that trail.
    trail_id : str

    Returns
    -------
    dict of str to object
        No station where level ground, or a trail it joins, sets the load.
    """
    own = least is not None and least.trail_id == trail_id
    return {
        "payload_kg": None if least is None else least.kg,
        "payload_by": "" if least is None else least.by,
        "payload_at_m": least.from_m if own and least is not None else None,
    }
