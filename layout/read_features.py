"""What lies on the ground, as records: water, hazards, old trails, roads, closed ground."""

import re
from typing import Any

import pandas as pd
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.layer_shapes import sound_polygons
from layout.read_vector import Layer
from layout.site import ExistingTrail, Hazard, WaterFeature
from layout.units import FOOT_M

ASSUMED_BANK_M = 3.0  # a perennial line without a bank width; ours
WATER_CLASSES = {"perennial", "intermittent", "ephemeral", "pond", "wetland", "spring", "well"}
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


def water_features(layer: Layer) -> tuple[tuple[WaterFeature, ...], tuple[Finding, ...]]:
    """Take mapped water; what is not known of it is taken on the careful side.

    Parameters
    ----------
    layer : Layer
        Lines, polygons or points with ``water_class`` and ``bank_width_m``.

    Returns
    -------
    features : tuple of WaterFeature
    findings : tuple of Finding
        An unknown class counts as perennial; a perennial line without a bank
        width takes an assumed one.
    """
    found = list(layer.findings)
    shapes = _sound(layer, "water", found)
    features = []
    for row, name in enumerate(_names(layer, "W", "feature_id", "id", "name")):
        said = word(cell(layer, row, "water_class", "class"))
        kind = WATER_WORDS.get(said, said)
        if kind not in WATER_CLASSES:
            words = f"water_class {said!r} is not known" if said else "water_class is blank"
            found.append(
                Finding(
                    "water_class",
                    "caution",
                    f"Water {name}: {words}; it counts as perennial. Known are "
                    f"{', '.join(sorted(WATER_CLASSES))}.",
                    "water",
                    name,
                    at=_middle(shapes[row]),
                )
            )
            kind = "perennial"
        width = metres(layer, row, "bank_width", found)
        if width is None and kind == "perennial" and shapely.get_dimensions(shapes[row]) == 1:
            width = ASSUMED_BANK_M
            found.append(
                Finding(
                    "bank_width",
                    "caution",
                    f"Water {name} has no bank_width_m; {ASSUMED_BANK_M:g} m from bank to bank is "
                    "assumed. Measure it.",
                    "water",
                    name,
                    value=ASSUMED_BANK_M,
                    unit="m",
                    source="ours, no source",
                    at=_middle(shapes[row]),
                )
            )
        features.append(WaterFeature(name, kind, shapes[row], width))
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
    shapes = _sound(layer, "hazards", found)
    hazards = []
    for row, name in enumerate(_names(layer, "H", "hazard_id", "id", "name")):
        said = word(cell(layer, row, "kind", "type"))
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


def lines_of(shape: BaseGeometry) -> list[LineString]:
    """Split lines into simple pieces, joined where their ends meet; no empty ones."""
    merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    parts = shapely.get_parts(shapely.remove_repeated_points(merged, 1e-6))
    return [part for part in parts if part.geom_type == "LineString" and part.length > 0]


def road_lines(layer: Layer) -> tuple[tuple[LineString, ...], tuple[Finding, ...]]:
    """Take the lines of the access road."""
    return tuple(line for s in layer.shapes for line in lines_of(s)), layer.findings


def closed_polygons(layer: Layer, what: str) -> tuple[tuple[Polygon, ...], tuple[Finding, ...]]:
    """Take polygons one by one, mended where they cross themselves."""
    found = list(layer.findings)
    shapes = _sound(layer, what, found)
    return tuple(part for shape in shapes for part in polygons_of(shape)), tuple(found)


def joined_polygons(layer: Layer, what: str) -> tuple[MultiPolygon, tuple[Finding, ...]]:
    """Take polygons as one area; parts and holes stay."""
    found = list(layer.findings)
    shapes = _sound(layer, what, found)
    return MultiPolygon(polygons_of(shapely.union_all(shapes))), tuple(found)


def polygons_of(shape: BaseGeometry) -> list[Polygon]:
    """Split into polygons; lines and points of a mended shape are dropped."""
    return [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon" and p.area > 0]


def property_shape(layer: Layer) -> tuple[BaseGeometry, tuple[Finding, ...]]:
    """Take the property line: polygons of the owner's land, or lines."""
    found = list(layer.findings)
    shapes = _sound(layer, "property", found)
    return shapely.union_all(shapes), tuple(found)


def _sound(layer: Layer, what: str, found: list[Finding]) -> list[BaseGeometry]:
    """Mend the polygons of a layer; other shapes pass."""
    shapes, more = sound_polygons(layer.shapes, layer.source, what)
    found += more
    return shapes


def _middle(shape: BaseGeometry) -> tuple[float, float]:
    """Give a place on a shape."""
    point = shape.representative_point()
    return float(point.x), float(point.y)
