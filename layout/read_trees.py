"""The tree list: a table, a point layer or a phone's waypoints, told of in full."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import shapely

from layout.errors import InputError
from layout.findings import Finding
from layout.projection import place_of
from layout.read_table import SPREADSHEETS, read_table
from layout.read_vector import DRIVERS, read_layer, split_name
from layout.read_waypoints import SUFFIXES as WAYPOINTS
from layout.read_waypoints import read_waypoints
from layout.site import Trees
from layout.table_cells import Cells, column_names
from layout.tree_columns import trees_from_cells
from layout.tree_doubts import doubts_of
from layout.tree_headings import heading_hints, renamed
from layout.tree_places import Ground, degrees_to_grid, places
from layout.units import Units
from layout.waypoint_findings import close_finding, doubtful_pairs, findings_of
from layout.waypoint_table import table_of
from layout.waypoint_trees import listen, numbered

MOST_TREES = 200_000
DOUBTFUL_M = 2.0
TABLES = (".csv", ".txt", ".tsv")
EXAMPLE = "tree_id,x,y,species,dbh_in,mark"


@dataclass(frozen=True, slots=True)
class TreeFile:
    """Where a tree list stands and how it is to be taken."""

    folder: Path
    text: str  # what the key holds: file, or file:layer
    where: str  # start of every message
    full_list: bool  # list = "all"
    position_error_m: float
    units: Units = "us"  # of diameters that a phone's notes give without unit
    ground: Ground | None = None  # where it should fall, for x and y in the elevations' own CRS


def read_trees(
    file: TreeFile, target: pyproj.CRS, crs_hint: pyproj.CRS | None
) -> tuple[Trees, tuple[Finding, ...]]:
    """Read a tree list into columns.

    Parameters
    ----------
    file : TreeFile
        Where, and how to take it.
    target : CRS
        The area's CRS; ``x, y`` of a table are in it.
    crs_hint : CRS or None
        Used only where a layer does not say.

    Returns
    -------
    trees : Trees
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        All faults of the list at once, each with its line.
    """
    name, layer = split_name(file.text)
    suffix = Path(name).suffix.lower()
    if suffix in (*TABLES, *SPREADSHEETS):
        return _from_table(file, target)
    if suffix in WAYPOINTS:
        return _from_waypoints(file, name, layer, target)
    if suffix not in DRIVERS:
        kinds = dict.fromkeys((*TABLES, *DRIVERS, *WAYPOINTS))
        raise InputError(f"{file.where} {name} is of no kind read here ({', '.join(kinds)})")
    return _from_layer(file, target, crs_hint, cut_short=suffix == ".shp")


def _from_table(file: TreeFile, target: pyproj.CRS) -> tuple[Trees, tuple[Finding, ...]]:
    """Read a delimited table."""
    path = place_of(file.folder, file.text, file.where)
    cells, found = read_table(path, file.where, EXAMPLE)
    cells.table.columns = pd.Index(renamed([str(c) for c in cells.table.columns]))
    xy_m, accuracy_m, placed = places(cells, target, file.where, file.ground)
    hints = heading_hints(cells.table.columns, cells.name)
    trees, more = trees_from_cells(
        cells, xy_m, file.position_error_m, full_list=file.full_list, accuracy_m=accuracy_m
    )
    return trees, (*found, *placed, *hints, *more, *doubts_of(trees, cells.name))


def _from_waypoints(
    file: TreeFile, name: str, layer: str, target: pyproj.CRS
) -> tuple[Trees, tuple[Finding, ...]]:
    """Read the waypoints of a phone; their notes are taken apart."""
    path = place_of(file.folder, name, file.where)
    read = read_waypoints(path, file.where, layer)
    lon = np.array([point.lon for point in read.points])
    lat = np.array([point.lat for point in read.points])
    xy_m, accuracy_m = degrees_to_grid(lon, lat, target, read.name, file.where)
    said, made_up = numbered(listen(read.points, file.units))
    found = findings_of(said, read, file.units, made_up)
    pairs = doubtful_pairs(said, np.column_stack(xy_m))
    found += close_finding([one.tree_id for one in said], pairs, read.name, file.units)
    rows = tuple(f"{read.name} waypoint {one.point.row}" for one in said)
    cells = Cells(read.name, table_of(said, file.units), rows, decimal_comma=False, phone=True)
    trees, more = trees_from_cells(
        cells, xy_m, file.position_error_m, full_list=file.full_list, accuracy_m=accuracy_m
    )
    return trees, (*found, *more, *doubts_of(trees, cells.name))


def _from_layer(
    file: TreeFile, target: pyproj.CRS, crs_hint: pyproj.CRS | None, *, cut_short: bool
) -> tuple[Trees, tuple[Finding, ...]]:
    """Read a point layer."""
    layer = read_layer(file.folder, file.text, file.where, "point", target, crs_hint)
    if any(shape.geom_type != "Point" for shape in layer.shapes):
        raise InputError(f"{file.where} {layer.source} holds groups of points; one point a tree")
    if len(layer.table) > MOST_TREES:
        raise InputError(f"{layer.source} holds {len(layer.table):,} trees; {MOST_TREES:,} at most")
    table = pd.DataFrame(layer.table.drop(columns=layer.table.geometry.name))
    names = renamed(column_names(table.columns, layer.source), cut_short=cut_short)
    table.columns = pd.Index(names)
    text = table.map(_as_text)
    rows = tuple(f"{layer.source} row {n + 1}" for n in range(len(text)))
    cells = Cells(layer.source, text, rows, decimal_comma=False)
    xy = shapely.get_coordinates(layer.shapes)
    # Within a modern datum the position error has the shift in it already.
    accuracy_m = layer.accuracy_m if layer.accuracy_m > DOUBTFUL_M else 0.0
    trees, more = trees_from_cells(
        cells,
        (xy[:, 0].copy(), xy[:, 1].copy()),
        file.position_error_m,
        full_list=file.full_list,
        accuracy_m=accuracy_m,
    )
    hints = heading_hints(names, layer.source)
    return trees, (*layer.findings, *hints, *more, *doubts_of(trees, cells.name))


def _as_text(value: object) -> str:
    """Give a cell of a layer as a table would hold it; missing is blank."""
    if value is None or value is pd.NaT or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()
