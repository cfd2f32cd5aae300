"""How a marked tree leans, and why no lay is suggested for it: on paper and on a phone.

What is not known is left to the reader of a phone and the head of a sheet to say; here
it is an empty text, never an upright tree.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.words import retold, say

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import Lay


def leaning(plan: Plan) -> dict[str, str]:
    """Say which way each marked tree leans that still stands, as `layout.lays` takes it.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to str
        By tree; only trees of whose lean the list tells.
    """
    trees = plan.area.trees
    said = {}
    for row in np.flatnonzero(trees.to_serve).tolist():
        size, azimuth = float(trees.lean_deg[row]), float(trees.lean_azimuth_deg[row])
        if size == 0:
            said[trees.tree_id[row]] = say("lean_upright")
        elif size > 0 and math.isfinite(azimuth):
            words = say("lean_toward", azimuth=f"{round(azimuth) % 360:03d}")
            said[trees.tree_id[row]] = words
    return said


def lean_to_lay(lay: Lay) -> str:
    """Say how a tree leans to its suggested lay; empty where the lean is not known."""
    if lay.azimuth_deg is None or lay.lean in ("", "unknown"):
        return ""
    return say(f"lean_{lay.lean}")


def why_none(lay: Lay) -> str:
    """Say why a tree that is reached has no suggested lay; empty where it has one."""
    if not lay.why_none or lay.why_none == "not_reached":
        return ""
    if lay.why_none == "barred":
        return say("no_lay_barred", what=", ".join(map(retold, lay.barred_by)))
    return say(f"no_lay_{lay.why_none}")
