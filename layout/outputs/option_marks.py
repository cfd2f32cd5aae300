"""Landings that were tried and are not used, as faint marks on the overview."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from shapely.geometry import box

from layout.outputs import palette as ink
from layout.outputs.map_labels import Labels, Look
from layout.outputs.map_looks import sample
from layout.outputs.map_pen import Pen
from layout.outputs.map_window import Window
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.landing_options import LandingOption
    from layout.plan import Plan

OPTION = Look(9.0, ink.OLD_TRAIL, bold=True)
MARK = "landing_option"
UNDER = 8.9  # over the stand's edge, under the landing and all of the work


def shown(plan: Plan, window: Window) -> list[LandingOption]:
    """Give the landings not used that lie on the map."""
    frame = box(window.west, window.south, window.east, window.north)
    return [o for o in plan.landing_options if not o.used and o.shape.intersects(frame)]


def draw(axes: Axes, plan: Plan, window: Window) -> None:
    """Draw their outlines.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    """
    Pen(axes).areas(MARK, [option.shape for option in shown(plan, window)], UNDER)


def name(labels: Labels, plan: Plan, window: Window) -> None:
    """Write their letters where room is left for them.

    Parameters
    ----------
    labels : Labels
        Places names on the map; what is dearer stands there already.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    """
    for option in shown(plan, window):
        labels.beside(option.option_id, [(option.x, option.y)], OPTION, clear_pt=2)


def legend_entries(plan: Plan, window: Window) -> tuple[list[Artist], list[str]]:
    """Give the sample and the text of the legend; both empty where none is on the map."""
    there = shown(plan, window)
    return ([sample(MARK)], [say("mark_landing_option")]) if there else ([], [])
