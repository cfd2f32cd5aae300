"""plan.gpkg: every layer with its fixed columns, empty ones included, ready drawn.

Version 1.2 is asked for when the file is made, because desktop programs of a
few years ago warn about newer ones. The plain tables (about, legend, styles)
are written by sqlite3 and entered in the file's table of contents.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.outputs import gpkg_metadata, kept_columns, rows
from layout.outputs.legend import LEGEND
from layout.outputs.schema import LAYERS, Kind, Layer
from layout.outputs.styles import style_of
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

VERSION = "1.2"
FILE_NAME = "plan.gpkg"
_DTYPES: dict[Kind, str] = {"text": "object", "real": "float64", "int": "int64", "bool": "bool"}


def write(plan: Plan, path: Path, about: dict[str, str]) -> None:
    """Write the plan's layers and tables into a new GeoPackage.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file; must not exist yet.
    about : dict of str to str
        What the ``about`` table says.
    """
    for number, layer in enumerate(LAYERS):
        pyogrio.write_dataframe(
            frame(plan, layer),
            path,
            driver="GPKG",
            layer=layer.name,
            **({} if layer.shape == "None" else {"geometry_type": layer.shape}),
            append=False,
            layer_options={"DESCRIPTION": say(f"layer_{layer.name}")},
            **({"dataset_options": {"VERSION": VERSION}} if number == 0 else {}),
        )
    with closing(sqlite3.connect(path)) as file, file:
        file.execute("PRAGMA journal_mode=DELETE")
        _write_about(file, about)
        gpkg_metadata.write(file, about)
        _write_legend(file)
        _write_styles(file)


def frame(plan: Plan, layer: Layer) -> pd.DataFrame | gpd.GeoDataFrame:
    """Put a layer's rows in a table whose columns have their fixed types.

    Parameters
    ----------
    plan : Plan
        The plan.
    layer : Layer
        One of `schema.LAYERS`.

    Returns
    -------
    DataFrame or GeoDataFrame
        With a column ``geometry`` in the area's system, unless the layer has none.
    """
    made = rows.of_layer(plan, layer.name)
    columns: dict[str, pd.Series] = {}
    if layer.name == "trees":
        trees = plan.area.trees
        names = ("tree_id", *(name for name, _ in layer.columns))
        columns["tree_id"] = pd.Series(list(trees.tree_id), dtype=object)
        given = kept_columns.kept(trees.table, names, trees.tree_id)
        columns |= {str(name): given[name] for name in given.columns}
    for name, kind in layer.columns:
        values = [row.values[name] for row in made]
        if kind == "real":
            values = [np.nan if value is None else value for value in values]
        # whole numbers of which some are not known stay whole in the file
        gaps = kind == "int" and any(value is None for value in values)
        columns[name] = pd.Series(values, dtype="Int64" if gaps else _DTYPES[kind])
    if layer.shape == "None":
        return pd.DataFrame(columns)
    shapes = [_as_declared(row.shape, layer) for row in made]
    return gpd.GeoDataFrame(columns, geometry=gpd.GeoSeries(shapes, crs=plan.area.crs))


def _as_declared(shape: BaseGeometry | None, layer: Layer) -> BaseGeometry | None:
    """Wrap a polygon where the layer is declared as multi-polygons."""
    if layer.shape == "MultiPolygon" and isinstance(shape, Polygon):
        return MultiPolygon([shape])
    return shape


def _enter(file: sqlite3.Connection, table: str, what: str) -> None:
    """List a plain table in the file's contents; GDAL keeps a count of its own."""
    file.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, srs_id) "
        "VALUES (?, 'attributes', ?, ?, 0)",
        (table, table, what),
    )
    (count,) = file.execute(f'SELECT count(*) FROM "{table}"').fetchone()
    file.execute("INSERT INTO gpkg_ogr_contents VALUES (?, ?)", (table, count))


def _write_about(file: sqlite3.Connection, about: dict[str, str]) -> None:
    """Write what the plan was made with."""
    file.execute(
        "CREATE TABLE about (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, "
        '"key" TEXT NOT NULL UNIQUE, value TEXT)'
    )
    file.executemany('INSERT INTO about ("key", value) VALUES (?, ?)', sorted(about.items()))
    _enter(file, "about", "what this plan was made with")


def _write_legend(file: sqlite3.Connection) -> None:
    """Write what each mark of the styles means."""
    file.execute(
        "CREATE TABLE legend (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, "
        "layer TEXT NOT NULL, value TEXT, mark TEXT NOT NULL, meaning TEXT NOT NULL)"
    )
    file.executemany("INSERT INTO legend (layer, value, mark, meaning) VALUES (?, ?, ?, ?)", LEGEND)
    _enter(file, "legend", "what the marks of the default styles mean")


def _write_styles(file: sqlite3.Connection) -> None:
    """Write one default style a layer, in the table desktop GIS look in."""
    file.execute(
        "CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, "
        "f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), "
        "f_geometry_column TEXT(256), styleName TEXT(30), styleQML TEXT, styleSLD TEXT, "
        "useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), "
        "update_time DATETIME DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')))"
    )
    for layer in LAYERS:
        if layer.shape == "None":
            continue
        (column,) = file.execute(
            "SELECT column_name FROM gpkg_geometry_columns WHERE table_name = ?", (layer.name,)
        ).fetchone()
        file.execute(
            "INSERT INTO layer_styles (f_table_catalog, f_table_schema, f_table_name, "
            "f_geometry_column, styleName, styleQML, styleSLD, useAsDefault, description, owner) "
            "VALUES ('', '', ?, ?, ?, ?, '', 1, ?, '')",
            (layer.name, column, layer.name, style_of(layer.name), "drawn for screen and print"),
        )
    _enter(file, "layer_styles", "how the layers are drawn")
