"""Looks of what only crew maps show; the rest look as on every map of a plan."""

from typing import Any

from layout.outputs import palette as ink

STATION: dict[str, Any] = {"colors": ink.INK, "linewidths": 0.9}
BETWEEN: dict[str, Any] = {"colors": ink.INK, "linewidths": 0.7}
GRID: dict[str, Any] = {"marker": "+", "markersize": 6.0, "color": ink.ROAD, "markeredgewidth": 0.5}
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
TILE_EDGE: dict[str, Any] = {"edgecolor": ink.ROAD, "linewidth": 0.9, "linestyle": (0, (1, 1.6))}
