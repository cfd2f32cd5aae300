"""Kinds of shape a key may ask for: areas, lines, points, or any of them."""

from typing import Literal

import shapely
from shapely.geometry.base import BaseGeometry

Wanted = Literal["polygon", "line", "point", "any"]

DIMENSION: dict[Wanted, int] = {"polygon": 2, "line": 1, "point": 0}
WORDS: dict[Wanted, str] = {"polygon": "polygons", "line": "lines", "point": "points"}


def kind_of(shape: BaseGeometry) -> int:
    """Give 2 for an area, 1 for a line, 0 for a point, -1 for a mixture.

    Examples
    --------
    >>> kind_of(shapely.box(0, 0, 1, 1)), kind_of(shapely.Point(0, 0))
    (2, 0)
    """
    return -1 if shape.geom_type == "GeometryCollection" else int(shapely.get_dimensions(shape))
