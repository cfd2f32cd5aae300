"""Marked trees that a rope would reach, but that wait: their sign on every map."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.map_looks import sample
from layout.outputs.map_pen import Pen
from layout.outputs.tree_orders import barred
from layout.outputs.words import say
from layout.records import REACHED

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from layout.geometry import Floats
    from layout.outputs.map_window import Window
    from layout.plan import Plan

ABOVE_DOTS = 19.5


def places(plan: Plan) -> Floats:
    """Give where the trees stand, shape (n, 2), metres.

    Parameters
    ----------
    plan : Plan
        The whole plan: which trees wait is worked out from all of it.

    Returns
    -------
    ndarray of float, shape (n, 2)
        Of marked trees that are reached and not simply to be cut; one that is not reached has
        a mark that says so.
    """
    held, trees = barred(plan), plan.area.trees
    reached = {one.tree_id for one in plan.trees if one.status in REACHED}
    rows = np.array([name in held and name in reached for name in trees.tree_id], dtype=bool)
    there: Floats = np.column_stack([trees.x, trees.y])[rows]
    return there


def draw(axes: Axes, plan: Plan, size: float) -> None:
    """Draw the sign over each.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The whole plan.
    size : float
        From `map_marks.crowding`.
    """
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
