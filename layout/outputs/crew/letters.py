"""Letters the sheets' font has not: printed as a question mark, and told of, never as boxes."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING

from matplotlib.font_manager import FontProperties, findfont, get_font

from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

FONT = "DejaVu Sans"
STAND_IN = "?"
MOST_CODES = 6


@lru_cache
def _known() -> frozenset[int]:
    """Give the codes that the plain and the bold letters both have."""
    held = [
        frozenset(get_font(findfont(FontProperties(family=FONT, weight=weight))).get_charmap())
        for weight in ("normal", "bold")
    ]
    return held[0] & held[1]


def printable(words: str) -> str:
    """Put a question mark in place of each letter the font has not.

    Examples
    --------
    >>> printable("Érable \N{CJK UNIFIED IDEOGRAPH-6797}")
    'Érable ?'
    """
    known = _known()
    return "".join(c if ord(c) in known or c in "\n\t" else STAND_IN for c in words)


def told(plan: Plan) -> str:
    """Say which letters of a plan's own names the sheets replace; empty where none is."""
    known = _known()
    letters = {c for name in _names(plan) for c in name if ord(c) not in known and not c.isspace()}
    if not letters:
        return ""
    codes = [f"U+{ord(letter):04X}" for letter in sorted(letters)]
    more = " …" if len(codes) > MOST_CODES else ""
    return say("crew_letters", codes=" ".join(codes[:MOST_CODES]) + more)


def _names(plan: Plan) -> Iterator[str]:
    """Give the words on the sheets that the user wrote."""
    area, settings = plan.area, plan.area.settings
    yield from (settings.area.name, settings.access.road_name, settings.access.meet)
    yield from (settings.work.watcher, settings.work.radio_channel)
    yield from (landing.landing_id for landing in plan.landings)
    yield from (area.crs.name, *settings.water.rules)
    yield from (trail.trail_id for trail in plan.trails)
    yield from (position.position_id for position in plan.positions)
    yield from (place.place_id for place in plan.turning_places)
    for hazard in area.hazards:
        yield from (hazard.hazard_id, hazard.kind)
    yield from (water.feature_id for water in area.water)
    yield from (finding.message for finding in plan.findings if finding.level == "stop")
    yield from area.trees.tree_id
    yield from set(area.trees.species) | set(area.trees.hazard)
