"""Looks of what only crew maps show; the rest look as on every map of a plan."""

from typing import Any

from matplotlib.markers import MarkerStyle

from layout.outputs import palette as ink
from layout.outputs.map_looks import POINTS

STATION: dict[str, Any] = {"colors": ink.INK, "linewidths": 0.9}
BETWEEN: dict[str, Any] = {"colors": ink.INK, "linewidths": 0.7}
GRID: dict[str, Any] = {"marker": "+", "markersize": 6.0, "color": ink.ROAD, "markeredgewidth": 0.5}
TILE_EDGE: dict[str, Any] = {"edgecolor": ink.ROAD, "linewidth": 0.9, "linestyle": (0, (1, 1.6))}
HELP_PLACE: dict[str, dict[str, Any]] = {
    "gate": POINTS["gate"],
    "meet_at": {
        "marker": "D",
        "markersize": 7.0,
        "color": ink.PAPER,
        "markeredgecolor": ink.INK,
        "markeredgewidth": 2.0,
    },
    "helispot": {
        "marker": "o",
        "markersize": 8.0,
        "color": ink.PAPER,
        "markeredgecolor": ink.INK,
        "markeredgewidth": 2.6,
    },
}
ARROW = ((1.0, 0.0), (-0.8, 0.75), (-0.35, 0.0), (-0.8, -0.75), (1.0, 0.0))  # points east
ARROW_SAMPLE = MarkerStyle(ARROW)
DOWNHILL: dict[str, Any] = {
    "color": ink.INK,
    "markersize": 8.6,
    "markeredgecolor": ink.PAPER,
    "markeredgewidth": 0.7,
}
