"""plan.geojson: every layer with a shape in one file, for a web map or a script.

RFC 7946: longitude before latitude on WGS 84, seven decimals, outer rings counter-clockwise
and holes clockwise, shapes over the 180th meridian cut there. Each feature names its layer;
columns are those of plan.gpkg.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import shapely
from shapely import affinity
from shapely.geometry import GeometryCollection, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from layout.outputs.geopackage import frame
from layout.outputs.schema import LAYERS
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.outputs.device.degrees import Degrees
    from layout.plan import Plan

FILE_NAME = "plan.geojson"
_EAST_HALF = box(-1.0, -90.0, 180.0, 90.0)
_PAST_IT = box(180.0, -90.0, 361.0, 90.0)


def write(plan: Plan, path: Path, degrees: Degrees, about: Mapping[str, str]) -> None:
    """Write a plan's layers as one GeoJSON file.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file.
    degrees : Degrees
        The way to WGS 84.
    about : mapping of str to str
        What the plan was made with; a member of its own, which readers may pass over.

    Notes
    -----
    Source of the format: H. Butler and others, RFC 7946, The GeoJSON Format (2016).
    """
    head = json.dumps({"note": say("not_walked"), "about": dict(sorted(about.items()))},
                      ensure_ascii=False)  # fmt: skip
    lines = ",\n".join(
        json.dumps(feature, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        for feature in features(plan, degrees)
    )
    text = f'{{"type":"FeatureCollection",{head[1:-1]},"features":[\n{lines}\n]}}\n'
    path.write_text(text, encoding="utf-8", errors="replace", newline="\n")


def features(plan: Plan, degrees: Degrees) -> list[dict[str, Any]]:
    """Give all layers' features, layer by layer.

    Parameters
    ----------
    plan : Plan
        The plan.
    degrees : Degrees
        The way to WGS 84.

    Returns
    -------
    list of dict
        GeoJSON features; a finding without a place has the geometry None.
    """
    out: list[dict[str, Any]] = []
    for layer in LAYERS:
        if layer.shape == "None":
            continue
        table = frame(plan, layer)
        columns = [name for name in table.columns if name != "geometry"]
        cells = [table[name].tolist() for name in columns]
        for number, shape in enumerate(table["geometry"], start=1):
            values = {
                str(name): _plain(cell[number - 1])
                for name, cell in zip(columns, cells, strict=True)
            }
            out.append(
                {
                    "type": "Feature",
                    "id": f"{layer.name}.{number}",
                    "geometry": _geometry(shape, degrees),
                    "properties": {"layer": layer.name, **values},
                }
            )
    return out


def _geometry(shape: BaseGeometry | None, degrees: Degrees) -> dict[str, Any] | None:
    """Give a shape's GeoJSON, wound and cut as the standard asks."""
    if shape is None or shape.is_empty:
        return None
    laid = shapely.transform(shapely.force_2d(shape), degrees.lon_lat)
    made: dict[str, Any] = json.loads(shapely.to_geojson(_wound(_cut(laid))))
    return made


def _cut(laid: BaseGeometry) -> BaseGeometry:
    """Cut a shape in two where it lies over the 180th meridian."""
    west, _, east, _ = laid.bounds
    if east - west < 180.0:
        return laid
    whole = shapely.transform(laid, lambda xy: np.column_stack([xy[:, 0] % 360.0, xy[:, 1]]))
    halves = (
        whole.intersection(_EAST_HALF),
        affinity.translate(whole.intersection(_PAST_IT), xoff=-360.0),
    )
    return shapely.union_all([half for half in halves if not half.is_empty])


def _wound(shape: BaseGeometry) -> BaseGeometry:
    """Turn outer rings counter-clockwise and holes clockwise."""
    if isinstance(shape, Polygon):
        return orient(shape, 1.0)
    if isinstance(shape, MultiPolygon):
        return MultiPolygon([orient(part, 1.0) for part in shape.geoms])
    if type(shape) is GeometryCollection:
        return GeometryCollection([_wound(part) for part in shape.geoms])
    return shape


def _plain(value: Any) -> str | int | float | bool | None:
    """Give a cell as JSON has it; what is not known is null."""
    if value is None or pd.isna(value):
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    return str(value)
