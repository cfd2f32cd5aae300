"""What the overview alone shows its own way: the gate, trees to hold, no unused position."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from shapely.geometry import Point

from layout.outputs import hold_marks
from layout.outputs.help_places import gate
from layout.outputs.map_labels import Labels
from layout.outputs.map_looks import sample
from layout.outputs.map_names import LANDING
from layout.outputs.map_pen import Pen
from layout.outputs.map_window import Window
from layout.outputs.words import say
from layout.speech import speak_length

if TYPE_CHECKING:
    from layout.plan import Plan


def draw(axes: Axes, plan: Plan, size: float) -> None:
    """Draw the gate and the trees to hold.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The whole plan: which trees are held is worked out from all of it.
    size : float
        From `map_marks.crowding`.
    """
    hold_marks.draw(axes, plan, size)
    if (place := gate(plan)) is not None:
        Pen(axes).points("gate", np.array([(place.x, place.y)]), 21.2)


def name(labels: Labels, plan: Plan, window: Window) -> None:
    """Name the gate, and keep names off it and off trees to hold."""
    labels.avoid_points(map(tuple, hold_marks.places(plan)), 9.0, 8.0)
    place = gate(plan)
    if place is not None and window.shows(place.x, place.y):
        at = [(place.x, place.y)]
        labels.avoid_points(at, 10.0, 20.0)
        labels.beside(say("map_gate"), at, LANDING, clear_pt=8.5, must=True)


def off_the_map(plan: Plan, window: Window) -> list[str]:
    """Say how far off a gate is that lies beyond the map's edge; nothing where it is shown."""
    place = gate(plan)
    if place is None or window.shows(place.x, place.y):
        return []
    far_m = place.distance(Point(plan.landing.x, plan.landing.y))
    return [say("map_gate_off", distance=speak_length(far_m, plan.area.settings.area.units))]


def legend_entries(plan: Plan, window: Window) -> tuple[list[Artist], list[str]]:
    """Give one sample and one text for each of these marks that is shown.

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
    place = gate(plan)
    samples, texts = hold_marks.legend_entries(plan, window)
    if place is None or not window.shows(place.x, place.y):
        return samples, texts
    return [*samples, sample("gate")], [*texts, say("map_legend_gate")]
