"""Drains in words: what stands there, when it is built, and what lies below its outlet."""

from layout.drainage import dip_form
from layout.outputs.amounts import grade
from layout.outputs.words import ENGLISH, say
from layout.records import WaterBar
from layout.speech import speak_length
from layout.units import Units

LEVEL_BELOW_PCT = 0.5  # prints as 0 %


def what(bar: WaterBar) -> str:
    """Say what stands there: a water bar, which dip, or a low point."""
    if bar.kind != "dip":
        return say(f"bar_what_{bar.kind}")
    return say(f"bar_what_dip_{dip_form(bar.grade_pct, 'rolling') or 'broad'}")


def grade_words(bar: WaterBar) -> str:
    """Say the trail's grade there, the way loads go."""
    size = grade(bar.grade_pct)
    if abs(bar.grade_pct) < LEVEL_BELOW_PCT:
        return say("crew_grade_level")
    return say(f"crew_grade_full_{'up' if bar.grade_pct > 0 else 'down'}", size=size)


def when(bar: WaterBar) -> str:
    """Say when it is built; empty where nothing is."""
    return say(f"bar_set_{bar.bar_set}") if bar.bar_set else ""


def meets(bar: WaterBar) -> str:
    """Say what its water comes to first; empty where nothing is near."""
    if not bar.meets:
        return ""
    if bar.meets == bar.trail_id:
        return say("bar_meets_same")
    key = f"bar_meets_{bar.meets}"
    return say(key) if key in ENGLISH else say("bar_meets_trail", trail=bar.meets)


def room(bar: WaterBar, units: Units) -> str:
    """Say how much ground lies below its outlet, and before what; empty where nothing is near."""
    if not bar.meets or bar.room_m is None or bar.outlet == "unknown":
        return ""
    return say("bar_room", distance=speak_length(bar.room_m, units), what=meets(bar))
