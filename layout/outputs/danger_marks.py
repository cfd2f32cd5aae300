"""Hazard trees on the picture of a plan and on the report's map: mark, ring, name, legend."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Circle

from layout.outputs import palette as ink
from layout.outputs.map_labels import Labels, Look
from layout.outputs.map_window import Window
from layout.outputs.tree_orders import HazardTree, standing_hazards
from layout.outputs.words import say
from layout.speech import speak_length

if TYPE_CHECKING:
    from layout.plan import Plan

NAME = Look(8.5, ink.HAZARD, bold=True)
HAZARD_TREE: dict[str, Any] = {
    "marker": "^",
    "markersize": 7.6,
    "color": ink.PAPER,
    "markeredgecolor": ink.HAZARD,
    "markeredgewidth": 1.7,
}
HAZARD_RING: dict[str, Any] = {
    "facecolor": "none",
    "edgecolor": ink.HAZARD,
    "linewidth": 0.9,
    "linestyle": (0, (4, 2)),
}


def draw(axes: Axes, plan: Plan, window: Window) -> None:
    """Draw hazard trees, and round those that stay the distance everybody keeps.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    """
    for tree in standing_hazards(plan):
        if _shown(tree, window):
            axes.plot([tree.x], [tree.y], linestyle="none", zorder=21.5, **HAZARD_TREE)
        if not tree.marked:
            axes.add_patch(Circle((tree.x, tree.y), tree.reach_m, zorder=13.5, **HAZARD_RING))


def name(labels: Labels, plan: Plan, window: Window) -> None:
    """Name each hazard tree on the map.

    Parameters
    ----------
    labels : Labels
        Places names on the map.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    """
    for tree in standing_hazards(plan):
        if _shown(tree, window):
            place = [(tree.x, tree.y)]
            labels.avoid_points(place, 8.0, 60.0)
            labels.beside(said(tree, plan), place, NAME, clear_pt=5.0, must=True)


def said(tree: HazardTree, plan: Plan) -> str:
    """Say of a hazard tree what is wrong with it, and whether it is cut or kept off."""
    if tree.marked:
        return say("crew_map_first", tree=tree.tree_id, kind=tree.hazard)
    off = speak_length(tree.reach_m, plan.area.settings.area.units)
    return say("crew_map_off", tree=tree.tree_id, kind=tree.hazard, distance=off)


def legend_entries(plan: Plan, window: Window) -> tuple[list[Artist], list[str]]:
    """Give one sample and one text for each kind of mark that is shown.

    Parameters
    ----------
    plan : Plan
        The plan.
    window : Window
        What is shown.

    Returns
    -------
    tuple of list of Artist and list of str
    """
    there = [tree for tree in standing_hazards(plan) if _shown(tree, window)]
    samples: list[Artist] = []
    texts: list[str] = []
    if there:
        samples.append(Line2D([], [], linestyle="none", **HAZARD_TREE))
        texts.append(say("crew_map_hazard_tree"))
    if any(not tree.marked for tree in there):
        edge, dashes = HAZARD_RING["edgecolor"], HAZARD_RING["linestyle"]
        samples.append(Line2D([], [], color=edge, linestyle=dashes, linewidth=1.1))
        texts.append(say("crew_map_ring"))
    return samples, texts


def _shown(tree: HazardTree, window: Window) -> bool:
    return window.west < tree.x < window.east and window.south < tree.y < window.north
