"""The lines and the polygons in any geometry, as layers of one kind of shape want them."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry


def as_lines(shape: BaseGeometry) -> list[LineString]:
    """Give the lines of any geometry, and the rings of its polygons; points are dropped.

    Examples
    --------
    >>> [line.length for line in as_lines(shapely.box(0, 0, 2, 1))]
    [6.0]
    """
    lines: list[LineString] = []
    for part in shapely.get_parts(shape):
        if isinstance(part, Polygon):
            lines += [LineString(ring.coords) for ring in (part.exterior, *part.interiors)]
        elif isinstance(part, LineString):
            lines.append(part)
        elif not isinstance(part, Point):
            lines += as_lines(part)
    return [line for line in lines if not line.is_empty]


def as_polygons(shape: BaseGeometry) -> MultiPolygon:
    """Give the polygons of any geometry; lines and points in it are dropped."""
    parts: Iterable[BaseGeometry] = shapely.get_parts(shape)
    flat: list[Polygon] = []
    for part in parts:
        if isinstance(part, Polygon):
            flat.append(part)
        elif isinstance(part, MultiPolygon):
            flat.extend(part.geoms)
    return MultiPolygon([part for part in flat if not part.is_empty])
