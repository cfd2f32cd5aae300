"""Shapes as a layer holds them: of the kind wanted, closed, and sound."""

import re
from typing import Any, Literal

import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.units import HECTARE_M2

Wanted = Literal["polygon", "line", "point", "any"]
Shapes = NDArray[Any]

CLOSING_M = 20.0  # a walked boundary whose ends meet within this is closed; ours
DIMENSION: dict[Wanted, int] = {"polygon": 2, "line": 1, "point": 0}
WORDS: dict[Wanted, str] = {"polygon": "polygons", "line": "lines", "point": "points"}


def of_kind(
    shapes: Shapes,
    source: str,
    where: str,
    wanted: Wanted,
    found: list[Finding],
) -> Shapes:
    """See that every shape is of the kind wanted; close walked boundaries.

    Parameters
    ----------
    shapes : ndarray of geometry, shape (n,)
        In a metric CRS.
    source, where : str
        File and layer, and the key that names them.
    wanted : {"polygon", "line", "point", "any"}
    found : list of Finding
        What is closed is told of here.

    Returns
    -------
    ndarray of geometry, shape (n,)

    Raises
    ------
    InputError
        If a shape is of another kind.
    """
    if wanted == "any":
        return shapes
    out = shapes.copy()
    for row, shape in enumerate(shapes):
        if wanted == "polygon" and shapely.get_dimensions(shape) == 1:
            out[row] = _closed(shape, source, where, found)
        elif shapely.get_dimensions(shape) != DIMENSION[wanted] or (
            shape.geom_type == "GeometryCollection"
        ):
            raise InputError(
                f"{where} {source} row {row + 1} is a {shape.geom_type}; {WORDS[wanted]} are "
                "needed here"
            )
    return out


def _closed(shape: BaseGeometry, source: str, where: str, found: list[Finding]) -> BaseGeometry:
    """Turn a walked line round a place into its polygon."""
    merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    if merged.geom_type != "LineString" or len(merged.coords) < 4:
        raise InputError(
            f"{where} {source} holds lines in pieces; a boundary must be one closed line "
            "or polygons"
        )
    start, end = shapely.Point(merged.coords[0]), shapely.Point(merged.coords[-1])
    gap = start.distance(end)
    if gap > CLOSING_M:
        raise InputError(
            f"{where} {source} is a line whose ends lie {gap:.0f} m apart; walk it round to the "
            f"start (within {CLOSING_M:.0f} m), or draw a polygon"
        )
    found.append(
        Finding(
            "line_closed",
            "caution",
            f"{source}: a walked line was closed into a polygon over a gap of {gap:.1f} m; "
            "a walked boundary is evidence, not a line.",
            "input",
            source,
            value=gap,
            limit=CLOSING_M,
            unit="m",
        )
    )
    return shapely.Polygon(merged.coords)


def sound_polygons(
    shapes: list[BaseGeometry], source: str, layer: str
) -> tuple[list[BaseGeometry], tuple[Finding, ...]]:
    """Mend polygons that cross themselves, and say what changed.

    Parameters
    ----------
    shapes : list of polygon or multipolygon
    source : str
        File and layer, for messages.
    layer : str
        Our name of what they are, for the findings.

    Returns
    -------
    shapes : list of polygon or multipolygon
        Valid; holes and parts kept.
    findings : tuple of Finding
    """
    out, found = [], []
    for row, shape in enumerate(shapes):
        if shapely.is_valid(shape):
            out.append(shape)
            continue
        reason = str(shapely.is_valid_reason(shape))
        place = re.search(r"\[(-?[\d.eE+]+) (-?[\d.eE+]+)", reason)
        mended = shapely.make_valid(shape)
        parts = shapely.get_parts(mended)
        whole = shapely.union_all(parts[shapely.get_dimensions(parts) == 2])
        out.append(whole)
        found.append(
            Finding(
                "shape_mended",
                "caution",
                f"{source} row {row + 1} crosses or touches itself "
                f"({reason.split('[')[0].lower()}); it was mended to "
                f"{whole.area / HECTARE_M2:.2f} ha. Look at it, and draw it again if wrong.",
                layer,
                source,
                value=float(whole.area),
                unit="m2",
                at=(float(place[1]), float(place[2])) if place else None,
            )
        )
    return out, tuple(found)
