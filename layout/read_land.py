"""The owner's land as areas: stand, ground that may be used, ground to keep off, property line.

Where a polygon can be read in two ways the careful reading is taken: of ground
to keep off all it goes round, of ground to work on nothing that is in doubt.
"""

import shapely
from shapely.geometry import MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.polygon_mending import polygons_of
from layout.read_vector import Layer
from layout.speech import speak_area, speak_length

NARROWEST_M = 0.5  # a part or slit narrower than this comes from drawing, not from the ground; ours
SMALLEST_PART_M2 = 10.0


def closed_polygons(layer: Layer, what: str) -> tuple[tuple[Polygon, ...], tuple[Finding, ...]]:
    """Take closed ground polygon by polygon; of one that crosses itself all it goes round."""
    shapes, found = layer.sound(what, more=True)
    return tuple(part for shape in shapes for part in polygons_of(shape)), tuple(found)


def joined_polygons(layer: Layer, what: str) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Take polygons as one area; parts and holes stay, slivers of drawing do not."""
    shapes, found = layer.sound(what)
    parts = polygons_of(shapely.union_all(shapes))
    whole = [_without_slits(part) for part in parts]
    slits = sum(
        len(before.interiors) - len(after.interiors)
        for before, after in zip(parts, whole, strict=True)
    )
    kept = [part for part in whole if not _is_sliver(part)] or whole
    for count, words in (
        (len(whole) - len(kept), "narrower than {wide} or under {small}, left out"),
        (slits, "between its parts, narrower than {wide}, closed"),
    ):
        if count:
            kind = "slit" if words.startswith("between") else "sliver"
            said = words.format(
                wide=speak_length(NARROWEST_M, layer.units),
                small=speak_area(SMALLEST_PART_M2, layer.units),
            )
            found.append(
                Finding(
                    "slivers",
                    "ok",
                    f"{layer.source}: {count} {kind}{'s' if count > 1 else ''} {said}.",
                    what,
                    layer.source,
                    value=float(count),
                    source="ours, no source",
                )
            )
    found += _hairline_gaps(kept, what, layer)
    return MultiPolygon(kept), tuple(found)


def on_ground(
    land: MultiPolygon, bounds: tuple[float, float, float, float], source: str
) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Cut ground beside the stand to the elevations that were read.

    Nothing is planned where no elevations are, and one wrong corner must not size
    what is reckoned cell by cell.

    Parameters
    ----------
    land : MultiPolygon
    bounds : tuple of float
        West, south, east, north of the elevations.
    source : str
        What the key names, for messages.

    Returns
    -------
    land : MultiPolygon
        Itself where it lies on them.
    findings : tuple of Finding
        Where a part lies wholly off them.
    """
    window = box(*bounds)
    if window.covers(land):
        return land, ()
    off = [part for part in land.geoms if not part.intersects(window)]
    kept = [part for part in land.geoms if part.intersects(window)]
    cut = MultiPolygon(polygons_of(shapely.union_all(kept).intersection(window)) if kept else [])
    if not off:
        return cut, ()
    x, y = off[0].representative_point().coords[0]
    what = "a part of it lies" if len(off) == 1 else f"{len(off)} parts of it lie"
    found = Finding(
        "may_use_far",
        "caution",
        f"[ground] may_use: {source}: {what} off the elevations round the stand, at {x:.0f}, "
        f"{y:.0f}, and cannot be used; is it in the right CRS?",
        "may_use",
        source,
        value=float(len(off)),
        at=(float(x), float(y)),
    )
    return cut, (found,)


def _is_sliver(part: Polygon) -> bool:
    """Tell whether a part is a leftover of drawing."""
    return part.area < SMALLEST_PART_M2 or part.buffer(-NARROWEST_M / 2).is_empty


def _without_slits(part: Polygon) -> Polygon:
    """Fill holes that are leftovers of drawing."""
    holes = [r for r in part.interiors if not Polygon(r).buffer(-NARROWEST_M / 2).is_empty]
    return Polygon(part.exterior, holes)


def _hairline_gaps(parts: list[Polygon], what: str, layer: Layer) -> list[Finding]:
    """Tell of parts that all but touch: no trail passes between them."""
    found = []
    for row, part in enumerate(parts):
        for other in parts[:row]:
            gap = float(part.distance(other))
            if 0 < gap < 2 * NARROWEST_M:
                spot = shapely.shortest_line(part, other).centroid
                found.append(
                    Finding(
                        "hairline_gap",
                        "caution",
                        f"{layer.source}: two parts lie {gap * 100:.0f} cm apart at {spot.x:.0f}, "
                        f"{spot.y:.0f}, and nothing passes between them; draw them together if "
                        "they meet on the ground.",
                        what,
                        layer.source,
                        value=gap,
                        unit="m",
                        at=(float(spot.x), float(spot.y)),
                    )
                )
    return found


def property_shape(layer: Layer) -> tuple[BaseGeometry, tuple[Finding, ...]]:
    """Take the property line: polygons of the owner's land, or lines; both count as lines.

    Raises
    ------
    InputError
        If points are among them: a corner is no line.
    """
    shapes, found = layer.sound("property")
    kinds = set(shapely.get_dimensions(shapes).tolist())
    if 0 in kinds:
        raise InputError(
            f"{layer.where} {layer.source} holds points; draw the line, or the polygon of the land"
        )
    if kinds == {1, 2}:
        shapes = [s.boundary if shapely.get_dimensions(s) == 2 else s for s in shapes]
    return shapely.union_all(shapes), tuple(found)
