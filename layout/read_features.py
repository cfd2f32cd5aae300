"""What lies on the ground, as records: water, hazards, old trails, roads, closed ground."""

import re
from collections.abc import Collection
from typing import Any

import pandas as pd
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.polygon_mending import sound_polygons
from layout.read_lines import lines_of
from layout.read_vector import Layer
from layout.site import ExistingTrail, Hazard, WaterFeature
from layout.speech import speak_area, speak_length
from layout.units import FOOT_M
from layout.water_rules import WATER_CLASSES

NARROWEST_M = 0.5  # a part or slit narrower than this comes from drawing, not from the ground; ours
SMALLEST_PART_M2 = 10.0
WATER_WORDS = {
    "stream": "perennial",
    "river": "perennial",
    "creek": "perennial",
    "brook": "perennial",
    "seasonal": "intermittent",
    "lake": "pond",
    "swamp": "wetland",
    "marsh": "wetland",
    "bog": "wetland",
    "seep": "spring",
}
HAZARD_KINDS = {
    "wire", "pipe", "well", "road", "house", "public_trail", "fence", "wall", "ledge", "sinkhole",
}  # fmt: skip
HAZARD_WORDS = {
    "powerline": "wire",
    "power_line": "wire",
    "building": "house",
    "trail": "public_trail",
}
YES = {"yes", "y", "true", "1", "t"}


def cell(layer: Layer, row: int, *columns: str) -> str:
    """Give the first filled cell of a row among columns, as text."""
    names = {str(name).lower(): name for name in layer.table.columns}
    for column in columns:
        if column in names:
            value: Any = layer.table.iloc[row][names[column]]
            if value is not None and value == value and value is not pd.NaT:
                text = (
                    str(int(value))
                    if isinstance(value, float) and value.is_integer()
                    else str(value)
                )
                if text.strip():
                    return text.strip()
    return ""


def word(text: str) -> str:
    """Give a word as our tables write it."""
    return re.sub(r"[\s-]+", "_", text.strip().lower())


def track_type(layer: Layer, row: int) -> str:
    """Give what a track of a GPX file says it is; empty of any other file."""
    return cell(layer, row, "type").lower() if layer.source.lower().endswith(".gpx") else ""


def metres(layer: Layer, row: int, stem: str, found: list[Finding]) -> float | None:
    """Read ``stem_m`` or ``stem_ft``; what is no size is told of and left out."""
    if cell(layer, row, stem) and not cell(layer, row, f"{stem}_m", f"{stem}_ft"):
        said = Finding(
            "size_unreadable",
            "caution",
            f"{layer.source}: the column {stem} does not say its unit and is left out; name it "
            f"{stem}_m or {stem}_ft.",
            "input",
            layer.source,
        )
        if said not in found:
            found.append(said)
    for column, factor in ((f"{stem}_m", 1.0), (f"{stem}_ft", FOOT_M)):
        text = cell(layer, row, column)
        if not text:
            continue
        try:
            value = float(text) * factor
        except ValueError:
            value = float("nan")
        if 0 <= value < 1000:
            return value
        found.append(
            Finding(
                "size_unreadable",
                "caution",
                f"{layer.source} row {row + 1}: {column} {text!r} is no width; it is left out.",
                "input",
                layer.source,
            )
        )
    return None


def _names(layer: Layer, prefix: str, *columns: str) -> list[str]:
    """Give each row a name of its own, from the file where it has one."""
    names: list[str] = []
    for row in range(len(layer.table)):
        name = cell(layer, row, *columns) or f"{prefix}{row + 1}"
        names.append(name if name not in names else f"{name}-{row + 1}")
    return names


def _said(layer: Layer, row: int, known: Collection[str], *columns: str) -> str:
    """Give the word of a row that says what it is; a waypoint may say it by its name."""
    said = word(cell(layer, row, *columns))
    if said:
        return said
    name = re.sub(r"_?\d+$", "", word(cell(layer, row, "name")))
    return name if name in known else ""


def water_features(
    layer: Layer, classes: Collection[str] = ()
) -> tuple[tuple[WaterFeature, ...], tuple[Finding, ...]]:
    """Take mapped water; what is not known of it is taken on the careful side.

    Parameters
    ----------
    layer : Layer
        Lines, polygons or points with ``water_class`` and ``bank_width_m``.
    classes : collection of str, optional
        Classes of water the chosen rules have beside the usual ones.

    Returns
    -------
    features : tuple of WaterFeature
        A bank width that is not given stays None; the strips say what they assume.
    findings : tuple of Finding
        An unknown class counts as perennial.
    """
    found = list(layer.findings)
    shapes = _sound(layer, "water", found, more=True)
    known = {*WATER_CLASSES, *classes}
    features = []
    for row, name in enumerate(_names(layer, "W", "feature_id", "id", "name")):
        said = _said(layer, row, known | set(WATER_WORDS), "water_class", "class")
        kind = said if said in known else WATER_WORDS.get(said, said)
        if kind not in known:
            words = f"water_class {said!r} is not known" if said else "water_class is blank"
            found.append(
                Finding(
                    "water_class",
                    "caution",
                    f"Water {name}: {words}; it counts as perennial. Known are "
                    f"{', '.join(sorted(known))}.",
                    "water",
                    name,
                    at=_middle(shapes[row]),
                )
            )
            kind = "perennial"
        width = metres(layer, row, "bank_width", found)
        features.append(WaterFeature(name, kind, shapes[row], width or None))
    return tuple(features), tuple(found)


def hazard_features(layer: Layer) -> tuple[tuple[Hazard, ...], tuple[Finding, ...]]:
    """Take mapped hazards; an unknown kind takes the strictest rule.

    Parameters
    ----------
    layer : Layer
        Any shapes with ``kind``.

    Returns
    -------
    hazards : tuple of Hazard
    findings : tuple of Finding
    """
    found = list(layer.findings)
    shapes = _sound(layer, "hazards", found, more=True)
    known = HAZARD_KINDS | set(HAZARD_WORDS)
    hazards = []
    for row, name in enumerate(_names(layer, "H", "hazard_id", "id", "name")):
        said = _said(layer, row, known, "kind", "type")
        kind = HAZARD_WORDS.get(said, said) or "unknown"
        if kind not in HAZARD_KINDS:
            words = f"kind {said!r} is not known" if said else "kind is blank"
            found.append(
                Finding(
                    "hazard_kind",
                    "caution",
                    f"Hazard {name}: {words}; the strictest rule is taken. Known are "
                    f"{', '.join(sorted(HAZARD_KINDS))}.",
                    "hazards",
                    name,
                    at=_middle(shapes[row]),
                )
            )
        hazards.append(Hazard(name, kind, shapes[row]))
    return tuple(hazards), tuple(found)


def existing_trails(layer: Layer) -> tuple[tuple[ExistingTrail, ...], tuple[Finding, ...]]:
    """Take old trails; ``benched`` only where the file says yes.

    Parameters
    ----------
    layer : Layer
        Lines with ``trail_id``, ``benched`` and ``width_m``, each as far as known.

    Returns
    -------
    trails : tuple of ExistingTrail
        A line in pieces that do not join becomes several trails.
    findings : tuple of Finding
    """
    found = list(layer.findings)
    trails = []
    for row, name in enumerate(_names(layer, "E", "trail_id", "id", "name")):
        benched = word(cell(layer, row, "benched")) in YES
        width = metres(layer, row, "width", found)
        parts = lines_of(layer.shapes[row])
        for number, line in enumerate(parts, start=1):
            part_name = name if len(parts) == 1 else f"{name}-{number}"
            trails.append(ExistingTrail(part_name, line, benched, width))
    return tuple(trails), tuple(found)


def road_lines(layer: Layer) -> tuple[tuple[LineString, ...], tuple[Finding, ...]]:
    """Take the lines of the access road."""
    return tuple(line for s in layer.shapes for line in lines_of(s)), layer.findings


def closed_polygons(layer: Layer, what: str) -> tuple[tuple[Polygon, ...], tuple[Finding, ...]]:
    """Take closed ground polygon by polygon; of one that crosses itself all it goes round."""
    found = list(layer.findings)
    shapes = _sound(layer, what, found, more=True)
    return tuple(part for shape in shapes for part in polygons_of(shape)), tuple(found)


def joined_polygons(layer: Layer, what: str) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Take polygons as one area; parts and holes stay, slivers of drawing do not."""
    found = list(layer.findings)
    shapes = _sound(layer, what, found)
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


def polygons_of(shape: BaseGeometry) -> list[Polygon]:
    """Split into polygons; lines and points of a mended shape are dropped."""
    return [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]


def property_shape(layer: Layer) -> tuple[BaseGeometry, tuple[Finding, ...]]:
    """Take the property line: polygons of the owner's land, or lines; both count as lines.

    Raises
    ------
    InputError
        If points are among them: a corner is no line.
    """
    found = list(layer.findings)
    shapes = _sound(layer, "property", found)
    kinds = set(shapely.get_dimensions(shapes).tolist())
    if 0 in kinds:
        raise InputError(
            f"{layer.where} {layer.source} holds points; draw the line, or the polygon of the land"
        )
    if kinds == {1, 2}:
        shapes = [s.boundary if shapely.get_dimensions(s) == 2 else s for s in shapes]
    return shapely.union_all(shapes), tuple(found)


def _sound(
    layer: Layer, what: str, found: list[Finding], *, more: bool = False
) -> list[BaseGeometry]:
    """Mend the polygons of a layer; other shapes pass."""
    shapes, notes = sound_polygons(
        layer.shapes, layer.source, what, where=layer.where, more=more, units=layer.units
    )
    found += notes
    return shapes


def _middle(shape: BaseGeometry) -> tuple[float, float]:
    """Give a place on a shape."""
    point = shape.representative_point()
    return float(point.x), float(point.y)
