"""Where the map lies in the world: longitude and latitude, and the grid of background tiles."""

import numpy as np
import pyproj
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bounds = tuple[float, float, float, float]

WORLD, TILES = "EPSG:4326", "EPSG:3857"
SIDE = 9  # places along each side of the bounds that a fit is made of


def lonlat(crs: pyproj.CRS, bounds: Bounds) -> list[list[float]] | None:
    """Give the corners of the map in WGS 84.

    Parameters
    ----------
    crs : CRS
        The area's.
    bounds : tuple of float
        West, south, east, north, metres.

    Returns
    -------
    list of [longitude, latitude], or None
        South west, south east, north east, north west, degrees; None where the
        area's system has no place in the world.
    """
    west, south, east, north = bounds
    there = _moved(
        crs, WORLD, np.array([west, east, east, west]), np.array([south, south, north, north])
    )
    if there is None:
        return None
    return [[round(float(x), 7), round(float(y), 7)] for x, y in zip(*there, strict=True)]


def tiles_fit(crs: pyproj.CRS, bounds: Bounds) -> dict[str, list[float]] | None:
    """Fit straight formulas between the area's grid and that of background tiles.

    Least squares over the bounds; they stray from the true ones with the square of
    its size, centimetres on a kilometre.

    Parameters
    ----------
    crs : CRS
        The area's.
    bounds : tuple of float
        West, south, east, north, metres.

    Returns
    -------
    dict of str to list of float, or None
        ``to`` and ``from`` EPSG:3857, each a, b, c, d, e, f of x' = a x + b y + c and
        y' = d x + e y + f; None where there is no such place.
    """
    west, south, east, north = bounds
    grid = np.meshgrid(np.linspace(west, east, SIDE), np.linspace(south, north, SIDE))
    x, y = (part.ravel() for part in grid)
    there = _moved(crs, TILES, x, y)
    if there is None:
        return None
    return {"to": _fit((x, y), there), "from": _fit(there, (x, y))}


def _moved(crs: pyproj.CRS, to: str, x: Floats, y: Floats) -> tuple[Floats, Floats] | None:
    try:
        moved = pyproj.Transformer.from_crs(crs, to, always_xy=True).transform(x, y)
    except pyproj.exceptions.ProjError:
        return None
    px, py = (np.asarray(part, dtype=np.float64) for part in moved)
    return (px, py) if np.isfinite(px).all() and np.isfinite(py).all() else None


def _fit(given: tuple[Floats, Floats], wanted: tuple[Floats, Floats]) -> list[float]:
    """Solve about the middle: coordinates of millions would lose the centimetres."""
    mx, my = (float(part.mean()) for part in given)
    rows = np.column_stack([given[0] - mx, given[1] - my, np.ones(given[0].size)])
    out: list[float] = []
    for part in wanted:
        (a, b, c), *_ = np.linalg.lstsq(rows, part, rcond=None)
        out += [float(a), float(b), float(c - a * mx - b * my)]
    return out
