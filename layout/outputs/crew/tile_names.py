"""Letters of the detail sheets on the map of the whole: each where only its own sheet covers.

Sheets overlap, and a letter in an overlap would send who looks there to either.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.outputs.crew.map_frames import letter
from layout.outputs.map_labels import Labels, Look
from layout.outputs.words import say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from layout.outputs.map_window import Window

TILE = Look(10.0, bold=True, boxed=True)
EDGE_IN = 0.05  # from a letter's box to the edge of what it names
TRIED = 24  # places along each side of a sheet


def write(labels: Labels, window: Window, tiles: Sequence[Window]) -> None:
    """Write the letter of every detail sheet on the map of the whole.

    Parameters
    ----------
    labels : Labels
        Places names on it.
    window : Window
        What the map shows.
    tiles : sequence of Window
        What the detail sheets show, in the order of their letters.
    """
    shown = _ground(window)
    grounds = [_ground(tile).intersection(shown) for tile in tiles]
    for number, ground in enumerate(grounds):
        name = say("crew_tile", sheet=letter(number))
        others = shapely.union_all([g for k, g in enumerate(grounds) if k != number])
        width_m, height_m = (
            size_in * window.metres_per_inch + 2 * EDGE_IN * window.metres_per_inch
            for size_in in labels.size_in(name, TILE)
        )
        labels.at_best(name, _places(ground, others, width_m, height_m), TILE)


def _ground(window: Window) -> Polygon:
    return box(window.west, window.south, window.east, window.north)


def _places(
    ground: BaseGeometry, others: BaseGeometry, width_m: float, height_m: float
) -> list[tuple[float, float]]:
    """Give middles for a box on a sheet, those with the least of it on other sheets.

    Parameters
    ----------
    ground, others : BaseGeometry
        What the sheet and all others show.
    width_m, height_m : float
        Size of the box.
    """
    if ground.is_empty:
        return []
    west, south, east, north = ground.bounds
    half = np.array([width_m, height_m]) / 2
    low, high = np.array([west, south]) + half, np.array([east, north]) - half
    if (low > high).any():  # a sliver of a sheet: in its middle
        low = high = np.array([west + east, south + north]) / 2
    x, y = (np.linspace(a, b, TRIED) for a, b in zip(low, high, strict=True))
    middles = np.column_stack([axis.ravel() for axis in np.meshgrid(x, y)])
    boxes = shapely.box(*(middles - half).T, *(middles + half).T)
    shared = shapely.area(shapely.intersection(boxes, others)).round(3)
    best = middles[shared <= shared.min()]
    # in a corner of the sheet it stands in nobody's way
    far = np.abs((best - (low + high) / 2) / np.maximum(high - low, 1e-9)).sum(axis=1)
    return [tuple(place) for place in best[np.argsort(-far, kind="stable")].tolist()]
