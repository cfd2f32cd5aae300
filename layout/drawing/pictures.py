"""Pictures laid under the drawing: shaded ground, slope classes, ground a trail can reach."""

import io
from typing import Any

import matplotlib.image
import numpy as np
from numpy.typing import NDArray

from layout.grid import Dem
from layout.outputs import palette
from layout.reach import Reached, Scene
from layout.terrain import SLOPE_EDGES_PCT, hillshade, slope_classes

SLOPE_TINTS = ("#ffffff", "#f7ecc8", "#efd08f", "#dfa25c", "#b56a3e", "#6f3a2a")
SLOPE_OPACITY = 150
REACH_INK, REACH_OPACITY = "#2b6f9e", 80
DARKEST = 90  # of 255; names and lines must stay legible on the shade

Bytes = NDArray[np.uint8]


def shaded(dem: Dem) -> bytes:
    """Give the ground lit from one side, as a PNG with the grid's own cells."""
    bright = hillshade(dem)
    known = np.isfinite(bright)
    grey = np.where(known, DARKEST + (255 - DARKEST) * np.nan_to_num(bright), 255)
    out = np.dstack([grey, grey, grey, np.where(known, 255, 0)]).astype(np.uint8)
    return _png(out)


def sloped(dem: Dem) -> bytes:
    """Give the slope classes as tints to lay over the shade."""
    classes = slope_classes(dem)
    table = np.array([(*palette.rgb(tint), SLOPE_OPACITY) for tint in SLOPE_TINTS], dtype=np.uint8)
    table[0, 3] = 0
    out = table[np.maximum(classes, 0)]
    out[classes < 0] = 0
    return _png(out)


def slope_legend() -> list[dict[str, Any]]:
    """Say what each tint means: the steepest slope of the class, percent; None above the last."""
    edges = (*SLOPE_EDGES_PCT, None)
    return [{"upto": edge, "colour": tint} for edge, tint in zip(edges, SLOPE_TINTS, strict=True)]


def reached(scene: Scene, found: Reached) -> tuple[bytes, tuple[float, float, float, float]]:
    """Give the cells a trail's centre line can come to, and the bounds of the picture.

    Parameters
    ----------
    scene : Scene
        What the search ran on.
    found : Reached

    Returns
    -------
    png : bytes
    bounds : tuple of float
        West, south, east, north, metres.
    """
    rows, cols = scene.ground.shape
    come = np.isfinite(found.field.cost).reshape(rows, cols, 16).any(axis=2)
    half = scene.ground.cell_m / 2
    x, y = scene.ground.centre(np.array([0, rows - 1]), np.array([0, cols - 1]))
    out = np.zeros((rows, cols, 4), dtype=np.uint8)
    out[come] = (*palette.rgb(REACH_INK), REACH_OPACITY)
    bounds = (
        float(x.min()) - half, float(y.min()) - half, float(x.max()) + half, float(y.max()) + half,
    )  # fmt: skip
    return _png(out), bounds


def _png(rgba: Bytes) -> bytes:
    held = io.BytesIO()
    matplotlib.image.imsave(held, rgba, format="png")
    return held.getvalue()
