"""The places of the emergency sheet that a map can show: gate, meeting point, helicopter spot."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from shapely.geometry import Point

from layout.outputs.coordinates import Place, grid_of
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

HelpKind = Literal["gate", "meet_at", "helispot"]


@dataclass(frozen=True, slots=True)
class HelpPlace:
    """One place.

    Parameters
    ----------
    kind : {"gate", "meet_at", "helispot"}
        Which.
    x, y : float
        Grid coordinates, metres.
    """

    kind: HelpKind
    x: float
    y: float

    @property
    def name(self) -> str:
        """What the emergency sheet calls it."""
        return say(f"crew_place_{self.kind}")


def gate(plan: Plan) -> Point | None:
    """Give the gate, grid metres; None where it was not given, or the grid cannot say it."""
    return next((Point(p.x, p.y) for p in help_places(plan) if p.kind == "gate"), None)


def help_places(plan: Plan) -> list[HelpPlace]:
    """List the places that were given and that the grid can say.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of HelpPlace
    """
    access = plan.area.settings.access
    made = []
    given: tuple[tuple[HelpKind, Place | None], ...] = (
        ("gate", access.gate), ("meet_at", access.meet_at), ("helispot", access.helispot),
    )  # fmt: skip
    for kind, at in given:
        if at is None:
            continue
        x, y = grid_of(at, plan.area.crs)
        if math.isfinite(x) and math.isfinite(y):
            made.append(HelpPlace(kind, x, y))
    return made
