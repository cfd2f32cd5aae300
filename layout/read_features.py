"""What lies on the ground, as records: water, hazards, old trails, roads, closed ground."""

import re
from collections.abc import Collection
from typing import Any

import pandas as pd
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.read_lines import lines_of
from layout.read_vector import Layer
from layout.site import ExistingTrail, Hazard, WaterFeature
from layout.units import FOOT_M
from layout.water_rules import WATER_CLASSES

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
    shapes, found = layer.sound("water", more=True)
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
    shapes, found = layer.sound("hazards", more=True)
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


def _middle(shape: BaseGeometry) -> tuple[float, float]:
    """Give a place on a shape."""
    point = shape.representative_point()
    return float(point.x), float(point.y)
