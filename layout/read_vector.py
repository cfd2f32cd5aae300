"""Vector layers: one reader for all kinds, with the file's claims checked first."""

import re
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import pyproj
import shapely
from numpy.typing import NDArray
from pyogrio.errors import DataLayerError, DataSourceError
from pyproj.exceptions import CRSError
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.layer_place import crs_of, datum_of, sound_coordinates
from layout.layer_shapes import of_kind
from layout.polygon_mending import sound_polygons
from layout.projection import Change, change, horizontal, place_of
from layout.read_tracks import stated_error_m, tracks
from layout.shape_kinds import Wanted
from layout.speech import speak_length
from layout.units import Units
from layout.vector_files import (
    DRIVERS,
    XML,
    Choice,
    choice_of,
    damage,
    driver_of,
    one_line,
    shapes_of,
    split_name,
)

__all__ = ["DRIVERS", "Layer", "ReadLayer", "read_layer", "split_name"]

DOUBTFUL_M = 2.0
MOST_LISTED = 5
MOST_ROWS_NAMED = 200  # each may be a tree
_LABELS = ("tree_id", "treeid", "tree_no", "id", "name", "tag", "number", "note")


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """A layer as read, in the area's CRS.

    Parameters
    ----------
    table : GeoDataFrame
        Columns as in the file; geometry plane (no z), none empty.
    source : str
        File and layer, for messages.
    accuracy_m : float
        How far off the change of CRS may be, metres.
    findings : tuple of Finding
    walked : bool
        Whether lines in it are a phone's or receiver's.
    error_m : float or None
        How far off a walked layer says it is, metres; None where it does not say.
    units : {"us", "metric"}
        What messages of it speak.
    where : str
        Start of every fault in it: file, table and key.
    """

    table: gpd.GeoDataFrame
    source: str
    accuracy_m: float
    findings: tuple[Finding, ...]
    walked: bool = False
    error_m: float | None = None
    units: Units = "metric"
    where: str = ""

    @property
    def shapes(self) -> list[BaseGeometry]:
        """The geometries in file order."""
        return list(self.table.geometry)

    def sound(self, what: str, *, more: bool = False) -> tuple[list[BaseGeometry], list[Finding]]:
        """Give the geometries with polygons mended, and all that is told of the layer.

        Parameters
        ----------
        what : str
            Our name of what they are, for the findings.
        more : bool, optional
            Whether more ground is the careful side; see `sound_polygons`.

        Returns
        -------
        shapes : list of geometry
        findings : list of Finding
            Those of the layer first.

        Raises
        ------
        InputError, InputFaults
            If what a polygon encloses cannot be told.
        """
        shapes, notes = sound_polygons(
            self.shapes, self.source, what, where=self.where, more=more, units=self.units
        )
        return shapes, [*self.findings, *notes]


ReadLayer = Callable[[str, str, str, Wanted], Layer]  # table, key, text, kind of shapes


def read_layer(
    folder: Path,
    text: str,
    where: str,
    wanted: Wanted,
    target: pyproj.CRS,
    crs_hint: pyproj.CRS | None = None,
    units: Units = "metric",
) -> Layer:
    """Read one layer into the area's CRS.

    Parameters
    ----------
    folder : Path
        The area's folder.
    text : str
        ``file`` or ``file:layer``; of a GPX file also ``file:name of a track``.
    where : str
        Start of every message: file, table and key.
    wanted : {"polygon", "line", "point", "any"}
        What the layer must hold. A closed line will do for a polygon.
    target : CRS
        The area's CRS.
    crs_hint : CRS, optional
        Used only where the file does not say.
    units : {"us", "metric"}, optional
        What messages speak.

    Returns
    -------
    Layer

    Raises
    ------
    InputError, InputFaults
        If the file or layer cannot be used; one line a fault.
    """
    name, layer = split_name(text)
    path = place_of(folder, name, where)
    driver = driver_of(path, where)
    choice = choice_of(path, layer, where, driver, wanted)
    named = driver == "GPKG" or (driver == "KML" and bool(layer))
    source = f"{path.name}:{choice.layers[0]}" if named else path.name
    table, said = _read(path, choice, where, source, driver)
    found = [
        Finding("layer_note", "caution", f"{where} {source}: {line}", "input", source)
        for line in said
    ]
    if choice.passed_over:
        found.append(
            Finding(
                "layer_part",
                "caution",
                f"{source} also holds {choice.passed_over}, which are not read; name one to have "
                "it taken.",
                "input",
                source,
            )
        )
    if not len(table):
        raise InputError(
            f"{where} {source} is empty; draw what it should hold, or take the key out"
        )
    table = _without_empty(table, source, where, found)
    crs = crs_of(table, source, where, crs_hint)
    sound_coordinates(table, crs, target, source, where)
    move = change(crs, target, _bounds(table), f"{where} {source}")
    found += _doubt_of(move, crs, target, source, units)
    shapes = shapely.transform(
        shapely.force_2d(table.geometry.to_numpy()),
        lambda xy: np.column_stack(move(xy[:, 0], xy[:, 1])),
    )
    if not np.isfinite(shapely.get_coordinates(shapes)).all():
        raise InputError(
            f"{where} {source} holds coordinates outside {horizontal(crs).name}; "
            "is its CRS the right one?"
        )
    walked = driver in XML and bool((shapely.get_dimensions(shapes) == 1).any())
    shapes = of_kind(
        shapes,
        source,
        where,
        wanted,
        found,
        names=_names(table) if driver in XML else (),
        walked=walked,
        units=units,
    )
    table = table.drop(columns=table.geometry.name).set_geometry(
        gpd.GeoSeries(shapes, index=table.index, crs=target)
    )
    error_m = stated_error_m(path.read_bytes()) if walked else None
    return Layer(table, source, move.accuracy_m, tuple(found), walked, error_m, units, where)


def _read(
    path: Path, choice: Choice, where: str, source: str, driver: str
) -> tuple[gpd.GeoDataFrame, list[str]]:
    """Read what was chosen; what the reader warns of comes back as lines."""
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            parts = [
                tracks(path, layer)
                if driver == "GPX" and layer != "waypoints"
                else pyogrio.read_dataframe(path, layer=layer)
                for layer in choice.layers
            ]
    except (DataSourceError, DataLayerError, OSError) as fault:
        raise InputError(f"{where} {path.name} {damage(fault)}") from None
    except CRSError as fault:
        raise InputError(
            f"{where} {path.name} says a CRS that cannot be read ({one_line(fault)}); export it "
            "again with its CRS, as a GeoPackage"
        ) from None
    except (ValueError, shapely.errors.ShapelyError) as fault:
        raise InputError(_bad_rows(path, choice, where, source, fault)) from None
    if not all(isinstance(part, gpd.GeoDataFrame) for part in parts):
        raise InputError(f"{where} {path.name} holds a table without shapes")
    table = parts[0] if len(parts) == 1 else pd.concat(parts, ignore_index=True)
    if choice.named:
        mine = table["name"].map(lambda name: isinstance(name, str) and name.strip())
        table = table[mine == choice.named].reset_index(drop=True)
    lines = [one_line(w.message) for w in caught if isinstance(w.message, Exception)]
    return table, list(dict.fromkeys(lines))


def _bad_rows(path: Path, choice: Choice, where: str, source: str, fault: Exception) -> str:
    """Say which rows hold a shape that cannot be made."""
    bad = [
        row
        for layer in choice.layers
        for row, shape in enumerate(shapes_of(path, layer), start=1)
        if shape is None
    ]
    if not bad:
        return f"{where} {source} cannot be read: {one_line(fault)}"
    shown = ", ".join(map(str, bad[:MOST_LISTED]))
    more = f" and {len(bad) - MOST_LISTED} more" if len(bad) > MOST_LISTED else ""
    rows = f"row {shown} holds" if len(bad) == 1 else f"rows {shown}{more} hold"
    return (
        f"{where} {source} {rows} no whole shape (a line of one point, a ring that does not "
        "close, or nothing); draw it again or take it out"
    )


def _doubt_of(
    move: Change, crs: pyproj.CRS, target: pyproj.CRS, source: str, units: Units
) -> list[Finding]:
    """Say how far off a change of CRS may be: by the few metres between datums, or by more."""
    if move.accuracy_m <= 0 and not move.missing_grid:
        return []
    off = speak_length(move.accuracy_m, units)
    if move.accuracy_m <= DOUBTFUL_M and not move.missing_grid:
        return [
            Finding(
                "crs_shift",
                "ok",
                f"{source} is on {datum_of(crs)} and the area on {datum_of(target)}; between them "
                f"a place may be off by {off}.",
                "input",
                source,
                value=move.accuracy_m,
                unit="m",
                source="from plate motion, ours",
            )
        ]
    lacking = f" (the grid {move.missing_grid} is not installed)" if move.missing_grid else ""
    return [
        Finding(
            "crs_accuracy",
            "caution",
            f"{source}: the change from {horizontal(crs).name} may be off by {off}{lacking}; "
            "position and property errors are widened by it.",
            "input",
            source,
            value=move.accuracy_m,
            limit=DOUBTFUL_M,
            unit="m",
        )
    ]


def _names(table: gpd.GeoDataFrame) -> list[str]:
    """Give what a phone's file calls each shape."""
    columns = {str(column).lower(): column for column in table.columns}
    if "name" not in columns:
        return [""] * len(table)
    return [str(n).strip() if isinstance(n, str) else "" for n in table[columns["name"]]]


def _bounds(table: gpd.GeoDataFrame) -> tuple[float, float, float, float]:
    """Give the bounds of a layer as plain numbers."""
    west, south, east, north = (float(v) for v in table.total_bounds)
    return west, south, east, north


def _without_empty(
    table: gpd.GeoDataFrame, source: str, where: str, found: list[Finding]
) -> gpd.GeoDataFrame:
    """Leave out features without a shape, and say which."""
    shapes = table.geometry.to_numpy()
    empty = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    if empty.all():
        raise InputError(f"{where} {source} has {len(table)} rows and no shape in any of them")
    if empty.any():
        found.append(
            Finding(
                "empty_shapes",
                "caution",
                f"{source}: {int(empty.sum())} of {len(table)} rows have no shape and stay out: "
                f"{_rows_called(table, np.flatnonzero(empty))}.",
                "input",
                source,
            )
        )
    return table[~empty].reset_index(drop=True)


def _rows_called(table: gpd.GeoDataFrame, rows: NDArray[np.intp]) -> str:
    """Name rows by their place, and by what the file calls them where it does."""
    columns = {re.sub(r"\W+", "_", str(column).lower()): column for column in table.columns}
    label = next((columns[name] for name in _LABELS if name in columns), None)
    said = []
    for row in rows[:MOST_ROWS_NAMED]:
        cell = None if label is None else table[label].iloc[row]
        called = "" if cell is None or pd.isna(cell) else one_line(ValueError(str(cell)))
        said.append(f"{row + 1}" + (f" ({label} {called[:40]})" if called else ""))
    more = f" and {len(rows) - MOST_ROWS_NAMED} more" if len(rows) > MOST_ROWS_NAMED else ""
    return f"row{'s' if len(rows) > 1 else ''} {', '.join(said)}{more}"
