"""Where the gate is, as it was given, in grid coordinates."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shapely.geometry import Point

from layout.outputs.help_places import help_places

if TYPE_CHECKING:
    from layout.plan import Plan


def gate(plan: Plan) -> Point | None:
    """Give the gate.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    Point or None
        Grid coordinates, metres; None where it was not given, or the grid cannot say it.
    """
    return next((Point(p.x, p.y) for p in help_places(plan) if p.kind == "gate"), None)
