"""The places of the emergency sheet that a map can show: gate and helicopter spot."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from layout.outputs.crew.coordinates import grid_of
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan


@dataclass(frozen=True, slots=True)
class HelpPlace:
    """One place.

    Parameters
    ----------
    kind : {"gate", "helispot"}
        Which.
    x, y : float
        Grid coordinates, metres.
    """

    kind: Literal["gate", "helispot"]
    x: float
    y: float

    @property
    def name(self) -> str:
        """What the emergency sheet calls it."""
        return say(f"crew_place_{self.kind}")


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
    kinds: tuple[Literal["gate", "helispot"], ...] = ("gate", "helispot")
    for kind in kinds:
        at = access.gate if kind == "gate" else access.helispot
        if at is None:
            continue
        x, y = grid_of(at, plan.area.crs)
        if math.isfinite(x) and math.isfinite(y):
            made.append(HelpPlace(kind, x, y))
    return made
