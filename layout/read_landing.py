"""A drawn landing and a drawn main trail, as one outline and one line."""

from collections.abc import Callable

import numpy as np
import pyproj
import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout import track_types
from layout.errors import InputError
from layout.findings import Finding
from layout.layer_shapes import Wanted, sound_polygons
from layout.projection import WGS84, change
from layout.read_features import lines_of, polygons_of, track_type
from layout.read_vector import Layer
from layout.settings import AreaSettings, LonLat

ReadLayer = Callable[[str, str, str, Wanted], Layer]

SHORTEST_MAIN_M = 10.0  # a trail grade is measured over 10 m


def landing_shape(
    settings: AreaSettings, read: ReadLayer, crs: pyproj.CRS, name: str
) -> Polygon | None:
    """Take the drawn landing; a point becomes a square of the landing's area.

    Parameters
    ----------
    settings : AreaSettings
    read : callable
        Reads a layer: table, key, text, kind of shapes wanted.
    crs : CRS
        The area's CRS.
    name : str
        The settings file, for messages.

    Returns
    -------
    Polygon or None
        None where none is drawn.

    Raises
    ------
    InputError
        If it is no one place.
    """
    landing = settings.landing
    where = f"{name} [landing]"
    if landing.at is not None and landing.shape:
        raise InputError(f"{where} at: both at and shape are given; keep one of them")
    if landing.at is not None:
        return square(*place_on_grid(landing.at, crs, f"{where} at:"), landing.area_m2)
    if not landing.shape:
        return None
    layer = read("landing", "shape", landing.shape, "any")
    kinds = set(shapely.get_dimensions(layer.shapes))
    point = layer.shapes[0]
    if len(layer.shapes) == 1 and isinstance(point, Point):
        return square(float(point.x), float(point.y), landing.area_m2)
    if kinds != {2}:
        raise InputError(f"{where} shape: {layer.source} must hold one polygon, or one point")
    shapes, _ = sound_polygons(layer.shapes, layer.source, "landing")
    parts = polygons_of(shapely.union_all(shapes))
    if len(parts) != 1:
        raise InputError(
            f"{where} shape: {layer.source} holds {len(parts)} separate polygons; "
            "one landing is planned at a time, keep one"
        )
    return parts[0]


def place_on_grid(
    at: tuple[float, float] | LonLat, crs: pyproj.CRS, where: str
) -> tuple[float, float]:
    """Give grid coordinates of a place in the settings."""
    if isinstance(at, LonLat):
        move = change(WGS84, crs, (at.lon, at.lat, at.lon, at.lat), where)
        x, y = move(np.array([at.lon]), np.array([at.lat]))
        return float(x[0]), float(y[0])
    x_m, y_m = at
    if abs(x_m) <= 180 and abs(y_m) <= 90:
        raise InputError(
            f"{where} [{x_m:g}, {y_m:g}] looks like degrees; write {{lon = ..., lat = ...}}"
        )
    return x_m, y_m


def square(x: float, y: float, area_m2: float) -> Polygon:
    """Give a square round a point."""
    half = float(np.sqrt(area_m2)) / 2
    return box(x - half, y - half, x + half, y + half)


def main_trail_line(
    settings: AreaSettings, read: ReadLayer, landing: Polygon | None, name: str
) -> tuple[LineString | None, tuple[Finding, ...]]:
    """Take the drawn main trail, landing end first.

    Parameters
    ----------
    settings : AreaSettings
    read : callable
        Reads a layer.
    landing : Polygon or None
        The end nearer to it comes first.
    name : str
        The settings file, for messages.

    Returns
    -------
    line : LineString or None
        None where none is drawn.
    findings : tuple of Finding

    Raises
    ------
    InputError
        If the layer is no one line.
    """
    text = settings.main_trail.line
    if not text:
        return None, ()
    where = f"{name} [main_trail] line:"
    layer = read("main_trail", "line", text, "line")
    found = list(layer.findings)
    shapes = _main_of(layer)
    if not shapes:
        raise InputError(
            f"{where} {layer.source} holds no main trail, only spurs and edges to keep off; "
            "record one, or take the key out"
        )
    parts = lines_of(shapely.line_merge(shapely.union_all(shapes, grid_size=None)))
    if not all(shapely.is_simple(shape) for shape in shapes):
        parts = [line for shape in shapes for line in lines_of(shape)]
        found.append(
            Finding(
                "main_trail_crosses",
                "caution",
                f"{layer.source} crosses itself; the loop is kept as drawn. Is it meant?",
                "trails",
                "main",
            )
        )
    if len(parts) != 1:
        raise InputError(
            f"{where} {layer.source} holds {len(parts)} lines that do not join end to end; "
            "draw the main trail as one line"
        )
    line = parts[0]
    if line.length < SHORTEST_MAIN_M:
        raise InputError(
            f"{where} {layer.source} is {line.length:.1f} m long; grades are measured over "
            f"{SHORTEST_MAIN_M:.0f} m, draw it longer"
        )
    if landing is None:
        found.append(
            Finding(
                "main_trail_direction",
                "caution",
                f"No landing is drawn, so {layer.source} is taken to start at the landing.",
                "trails",
                "main",
            )
        )
        return line, tuple(found)
    start, end = Point(line.coords[0]), Point(line.coords[-1])
    if end.distance(landing) < start.distance(landing):
        line = line.reverse()
    return line, tuple(found)


def _main_of(layer: Layer) -> list[BaseGeometry]:
    """Give the lines that may be the main trail: where tracks say what they are, those."""
    types = [track_type(layer, row) for row in range(len(layer.table))]
    if track_types.MAIN_TRAIL in types:
        return [
            s for s, what in zip(layer.shapes, types, strict=True) if what == track_types.MAIN_TRAIL
        ]
    other = track_types.NO_TRAIL | {track_types.SPUR, track_types.OTHER_TRAIL}
    return [s for s, what in zip(layer.shapes, types, strict=True) if what not in other]
