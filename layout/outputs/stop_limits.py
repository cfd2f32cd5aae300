"""When work stops: what the maps and the talk both say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.words import retold, say
from layout.speech import speak_length
from layout.tongue import unit
from layout.units import INCH_M

if TYPE_CHECKING:
    from layout.plan import Plan

LIMITS = 7


def stop_limits(plan: Plan) -> list[str]:
    """Say when work stops.

    Parameters
    ----------
    plan : Plan
        Its settings hold the ruts and the state of the ground.

    Returns
    -------
    list of str
        First that the ground is no longer as planned for.
    """
    ruts, units = plan.area.settings.soil.ruts, plan.area.settings.area.units
    inches, metric = f"{ruts.depth_m / INCH_M:.0f} {unit('in')}", f"{ruts.depth_m * 100:.0f} cm"
    depth = inches if units == "us" else metric
    return [
        say("crew_stop_ground", ground=retold(plan.area.settings.ground.condition)),
        *(
            say(f"crew_stop_{n}", depth=depth, length=speak_length(ruts.length_m, units))
            for n in range(1, LIMITS + 1)
        ),
    ]
