"""Hazard trees on every map: mark, ring, name, legend."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Circle
from shapely.geometry import Point, box

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
FIRST_RING: dict[str, Any] = HAZARD_RING | {"linestyle": (0, (1, 2))}


def draw(axes: Axes, plan: Plan, window: Window, *, ring_first: bool = False) -> None:
    """Draw hazard trees, and round those that stay the distance everybody keeps.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    ring_first : bool
        Whether those that are cut first have their ring too: on one sheet of many their tree
        may stand beyond the edge.
    """
    for tree in standing_hazards(plan):
        if window.shows(tree.x, tree.y):  # whole, also where it stands at the very edge
            axes.plot([tree.x], [tree.y], linestyle="none", zorder=21.5, clip_on=False,
                      **HAZARD_TREE)  # fmt: skip
        if not tree.marked or ring_first:
            look = FIRST_RING if tree.marked else HAZARD_RING
            axes.add_patch(Circle((tree.x, tree.y), tree.reach_m, zorder=13.5, **look))


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
    shown = [tree for tree in standing_hazards(plan) if window.shows(tree.x, tree.y)]
    # all of them first: the first name must not stand at the last tree
    labels.avoid_points([(t.x, t.y) for t in shown], 8.0, 60.0, kinds=("hazard",), bare_pt=4.5)
    for tree in shown:
        place = [(tree.x, tree.y)]
        labels.beside(said(tree, plan), place, NAME, clear_pt=5.0, must=True, kind="hazard")


def said(tree: HazardTree, plan: Plan) -> str:
    """Say of a hazard tree what is wrong with it, and whether it is cut or kept off."""
    if tree.marked:
        return say("crew_map_first", tree=tree.tree_id, kind=tree.hazard)
    off = speak_length(tree.reach_m, plan.area.settings.area.units)
    return say("crew_map_off", tree=tree.tree_id, kind=tree.hazard, distance=off)


def legend_entries(
    plan: Plan, window: Window, *, ring_first: bool = False
) -> tuple[list[Artist], list[str]]:
    """Give one sample and one text for each kind of mark that is shown.

    Parameters
    ----------
    plan : Plan
        The plan.
    window : Window
        What is shown.
    ring_first : bool
        As `draw` takes it.

    Returns
    -------
    tuple of list of Artist and list of str
    """
    trees = standing_hazards(plan)
    samples: list[Artist] = []
    texts: list[str] = []
    if any(window.shows(tree.x, tree.y) for tree in trees):
        samples.append(Line2D([], [], linestyle="none", **HAZARD_TREE))
        texts.append(say("crew_map_hazard_tree"))
    rings = [(False, HAZARD_RING, "crew_map_ring")]
    if ring_first:
        rings.append((True, FIRST_RING, "crew_map_ring_first"))
    for marked, look, words in rings:
        if any(tree.marked == marked and reaches(tree, window) for tree in trees):
            edge, dashes = look["edgecolor"], look["linestyle"]
            samples.append(Line2D([], [], color=edge, linestyle=dashes, linewidth=1.1))
            texts.append(say(words))
    return samples, texts


def reaches(tree: HazardTree, window: Window) -> bool:
    """Say whether the distance to keep from a hazard tree reaches into a map."""
    ground = box(window.west, window.south, window.east, window.north)
    return bool(Point(tree.x, tree.y).distance(ground) < tree.reach_m)
