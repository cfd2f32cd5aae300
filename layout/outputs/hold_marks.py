"""Marked trees that wait, whether a rope reaches them or not: their sign on every map."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.map_looks import sample
from layout.outputs.map_marks import IDLE
from layout.outputs.map_pen import Pen
from layout.outputs.tree_orders import barred
from layout.outputs.words import say
from layout.records import REACHED

if TYPE_CHECKING:
    from collections.abc import Collection

    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from layout.geometry import Floats
    from layout.outputs.map_window import Window
    from layout.plan import Plan

ABOVE_DOTS = 19.5
UNDER_SIGN = 19.4
CROSS_SCALE = 2.2  # of the cross of a tree not reached, so that its arms show round the sign


def places(plan: Plan) -> Floats:
    """Give where the trees stand, shape (n, 2), metres.

    Parameters
    ----------
    plan : Plan
        The whole plan: which trees wait is worked out from all of it.

    Returns
    -------
    ndarray of float, shape (n, 2)
        Of marked trees that are not simply to be cut, reached or not.
    """
    return _standing(plan, idle=IDLE - REACHED)


def _standing(plan: Plan, idle: Collection[str]) -> Floats:
    """Give where trees that wait stand, but for those of some states, shape (n, 2)."""
    held, trees = barred(plan), plan.area.trees
    rows = np.array([o.tree_id in held and o.status not in idle for o in plan.trees], dtype=bool)
    there: Floats = np.column_stack([trees.x, trees.y])[rows]
    return there


def draw(axes: Axes, plan: Plan, size: float) -> None:
    """Draw the sign over each; of one that is not reached its cross shows round the sign.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The whole plan.
    size : float
        From `map_marks.crowding`.
    """
    Pen(axes, size * CROSS_SCALE).points("unserved", _standing(plan, idle=IDLE), UNDER_SIGN)
    Pen(axes, size).points("hold", places(plan), ABOVE_DOTS)


def legend_entries(plan: Plan, window: Window) -> tuple[list[Artist], list[str]]:
    """Give a sample and its text, if one of the trees is shown.

    Parameters
    ----------
    plan : Plan
        The whole plan.
    window : Window
        What is shown.

    Returns
    -------
    tuple of list of Artist and list of str
    """
    if not any(window.shows(x, y) for x, y in places(plan).tolist()):
        return [], []
    return [sample("hold")], [say("mark_hold")]
