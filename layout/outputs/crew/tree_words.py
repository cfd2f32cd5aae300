"""Words of one marked tree: how likely it is out of reach, the way to it, its lay, its size."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from layout.outputs.crew.directions import said_bearing
from layout.outputs.words import say
from layout.speech import speak_chance
from layout.units import INCH_M, Units

if TYPE_CHECKING:
    from layout.outputs.crew.finding import Found
    from layout.records import Lay

ROUNDING = 1e-9  # a listed 15.5 in is kept in centimetres and may come back a hair below


def reach_said(tree: Found) -> str:
    """Say how likely a tree is out of reach; nothing of one that surely is not."""
    if tree.sure not in ("tight", "doubtful"):
        return ""
    if tree.chance is None:
        return say(f"crew_reach_{tree.sure}")
    return say(f"crew_reach_{tree.sure}_chance", chance=speak_chance(tree.chance))


def way_said(tree: Found) -> str:
    """Say the way from the station to a tree: side, paces, bearing."""
    if tree.side == "on":
        return say("crew_way_on")
    bearing = said_bearing(tree.bearing_deg)
    if not tree.trail_id:
        return say("crew_way_plain", paces=tree.paces, bearing=bearing)
    side = say(f"crew_side_{tree.side}")
    return say("crew_way", side=side, paces=tree.paces, bearing=bearing)


def lay_said(lay: Lay | None) -> str:
    """Say a suggested lay: a bearing alone, for lean and wedges are judged at the tree."""
    if lay is None:
        return ""
    return say("crew_lay_none") if lay.azimuth_deg is None else said_bearing(lay.azimuth_deg)


def dbh_said(dbh_cm: float, units: Units) -> str:
    """Say a diameter in whole inches or centimetres, a half as the next larger one.

    Examples
    --------
    >>> dbh_said(30.0, "us"), dbh_said(30.4, "metric"), dbh_said(math.nan, "us")
    ('12', '30', '?')
    >>> dbh_said(15.5 * 2.54, "us"), dbh_said(20.5 * 2.54, "us")
    ('16', '21')
    """
    if not math.isfinite(dbh_cm):
        return "?"
    size = dbh_cm / 100 / INCH_M if units == "us" else dbh_cm
    return f"{math.floor(size + 0.5 + ROUNDING)}"
