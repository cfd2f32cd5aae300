"""Where people come in and where help lands, as given in the settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from layout.outputs.help_places import help_places
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

Named = tuple[str, str, tuple[float, float]]
BETWEEN = "; "


def places(plan: Plan) -> tuple[Named, ...]:
    """Give the places of ``[access]``.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of (str, str, (float, float))
        Name of at most eight letters, note, and grid coordinates in metres; only of places
        that were given. Where help is met is given in words, which stand with the gate.
    """
    access = plan.area.settings.access
    gate = [say("device_gate")]
    if access.road_name.strip():
        gate.append(say("device_road", road=" ".join(access.road_name.split())))
    gate += meeting(plan)
    said = {
        "gate": ("GATE", gate),
        "meet_at": ("MEET", [say("device_meet_at"), *meeting(plan)]),
        "helispot": ("HELI", [say("device_helispot"), say("device_not_looked_at")]),
    }
    found = []
    for place in help_places(plan):
        name, words = said[place.kind]
        found.append((name, BETWEEN.join(words), (place.x, place.y)))
    return tuple(found)


def meeting(plan: Plan) -> list[str]:
    """Say where help is met; nothing where that was not given."""
    meet = " ".join(plan.area.settings.access.meet.split())
    return [say("device_meet", meet=meet)] if meet else []
