"""The tree list: a table, a point layer or phone waypoints, told of in full."""

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import shapely

from layout.errors import InputError
from layout.findings import Finding
from layout.projection import WGS84, change, place_of
from layout.read_vector import DRIVERS, read_layer, split_name
from layout.site import Trees
from layout.tree_columns import Cells, trees_from_cells

LARGEST_BYTES = 50_000_000
MOST_TREES = 200_000
TABLES = (".csv", ".txt", ".tsv")
DELIMITERS = ",;\t|"
# A note as people speak it: number, species, DBH, logs ("37 RO 18 2").
NOTE = re.compile(r"(\S+)\s+([A-Za-z][A-Za-z .'-]*?)\s+(\d+(?:\.\d+)?)(?:\s+(\d+(?:\.\d+)?))?")


@dataclass(frozen=True, slots=True)
class TreeFile:
    """Where a tree list stands and how it is to be taken."""

    folder: Path
    text: str  # what the key holds: file, or file:layer
    where: str  # start of every message
    full_list: bool  # list = "all"
    position_error_m: float


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
    name, _ = split_name(file.text)
    suffix = Path(name).suffix.lower()
    if suffix in TABLES:
        return _from_table(file, target)
    if suffix not in DRIVERS:
        raise InputError(
            f"{file.where} {name} is of no kind read here ({', '.join((*TABLES, *DRIVERS))})"
        )
    return _from_layer(file, target, crs_hint, notes=suffix in (".gpx", ".kml"))


def _from_table(file: TreeFile, target: pyproj.CRS) -> tuple[Trees, tuple[Finding, ...]]:
    """Read a delimited table."""
    path = place_of(file.folder, file.text, file.where)
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(f"{file.where} {path.name} has over 50 MB; is it a tree list?")
    found: list[Finding] = []
    text = _decoded(path, file.where, found)
    rows, lines, comma = _rows(text, path.name)
    header = _header(rows[0], path.name)
    table = pd.DataFrame(rows[1:], columns=header, dtype=str)
    cells = Cells(path.name, table, tuple(f"{path.name} line {n}" for n in lines[1:]), comma)
    xy_m, accuracy = _coordinates(cells, target, file.where)
    return _finish(cells, xy_m, accuracy, file, found)


def _decoded(path: Path, where: str, found: list[Finding]) -> str:
    """Decode a table; what is not UTF-8 is taken as Windows Western, and said."""
    data = path.read_bytes()
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16")
    if b"\x00" in data:
        raise InputError(f"{where} {path.name} is no text table; save it as CSV (UTF-8)")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        found.append(
            Finding(
                "trees_encoding",
                "ok",
                f"{path.name} is not UTF-8; it was read as Windows Western (cp1252).",
                "trees",
                path.name,
            )
        )
        return data.decode("cp1252", errors="replace")


def _rows(text: str, name: str) -> tuple[list[list[str]], list[int], bool]:
    """Split a table into rows of equal length, with their line numbers."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise InputError(f"{name} is empty; write a first line of column names, then a tree a line")
    delimiter = max(DELIMITERS, key=first.count)
    if not first.count(delimiter):
        raise InputError(
            f"{name} has one column only ({first[:40]!r}); separate columns with commas, like "
            "tree_id,x,y,species,dbh_in,mark"
        )
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    rows: list[list[str]] = []
    lines: list[int] = []
    faults: list[str] = []
    try:
        for row in reader:
            if not any(cell.strip() for cell in row):
                continue
            cells = [cell.strip() for cell in row]
            if rows and len(cells) > len(rows[0]) and not any(cells[len(rows[0]) :]):
                cells = cells[: len(rows[0])]
            if rows and len(cells) != len(rows[0]):
                faults.append(f"line {reader.line_num} has {len(cells)}")
                continue
            rows.append(cells)
            lines.append(reader.line_num)
    except csv.Error as error:
        raise InputError(f"{name} line {reader.line_num} cannot be read: {error}") from None
    if faults:
        shown = ", ".join(faults[:5]) + (f" and {len(faults) - 5} more" if len(faults) > 5 else "")
        hint = "; is a decimal comma inside a comma table?" if delimiter == "," else ""
        raise InputError(f"{name}: the first line has {len(rows[0])} columns, {shown}{hint}")
    if len(rows) < 2:
        raise InputError(f"{name} holds column names and no tree")
    if len(rows) - 1 > MOST_TREES:
        raise InputError(f"{name} holds {len(rows) - 1:,} trees; {MOST_TREES:,} at most")
    return rows, lines, delimiter != ","


def _header(row: list[str], name: str) -> list[str]:
    """Take the column names; ours in lower case, others as they are."""
    header = [re.sub(r"\s+", "_", cell.strip().lower()) if cell else "" for cell in row]
    twice = sorted({cell for cell in header if cell and header.count(cell) > 1})
    if twice:
        raise InputError(f"{name} has the column {', '.join(twice)} twice; rename one")
    blank = [i for i, cell in enumerate(header) if not cell]
    return [cell or f"column_{i + 1}" for i, cell in enumerate(header)] if blank else header


def _coordinates(
    cells: Cells, target: pyproj.CRS, where: str
) -> tuple[tuple[np.ndarray, np.ndarray], float]:
    """Give grid coordinates of a table's rows, and how far off the change may be."""
    columns = set(cells.table.columns)
    plane, round_ = {"x", "y"} <= columns, {"lon", "lat"} <= columns
    if not (plane or round_):
        have = ", ".join(list(cells.table.columns)[:12])
        raise InputError(
            f"{cells.name} has neither x and y (area CRS) nor lon and lat; it has {have}"
        )
    if plane:
        x, y = cells.numbers("x", required=True), cells.numbers("y", required=True)
        cells.stop_if_faulty()
        if (np.abs(x) <= 180).all() and (np.abs(y) <= 90).all():
            raise InputError(
                f"{cells.name}: x and y look like degrees; name the columns lon and lat"
            )
        return (x, y), 0.0
    lon = cells.numbers("lon", required=True, least=-180, most=180)
    lat = cells.numbers("lat", required=True, least=-90, most=90)
    cells.stop_if_faulty()
    bounds = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
    move = change(WGS84, target, bounds, f"{where} {cells.name}")
    x, y = move(lon, lat)
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise InputError(f"{cells.name}: lon and lat lie outside {target.name}; are they swapped?")
    return (x, y), move.accuracy_m


def _from_layer(
    file: TreeFile, target: pyproj.CRS, crs_hint: pyproj.CRS | None, *, notes: bool
) -> tuple[Trees, tuple[Finding, ...]]:
    """Read a point layer; the notes of phone waypoints are taken apart."""
    layer = read_layer(file.folder, file.text, file.where, "point", target, crs_hint)
    if any(shape.geom_type != "Point" for shape in layer.shapes):
        raise InputError(f"{file.where} {layer.source} holds groups of points; one point a tree")
    table = pd.DataFrame(layer.table.drop(columns=layer.table.geometry.name))
    table.columns = pd.Index([re.sub(r"\s+", "_", str(c).strip().lower()) for c in table.columns])
    text = table.map(_as_text)
    found = list(layer.findings)
    if notes and "dbh_in" not in text and "dbh_cm" not in text:
        text = _with_notes(text, layer.source, found)
    rows = tuple(f"{layer.source} row {n + 1}" for n in range(len(text)))
    cells = Cells(layer.source, text, rows, decimal_comma=False)
    xy = shapely.get_coordinates(layer.shapes)
    if len(xy) > MOST_TREES:
        raise InputError(f"{layer.source} holds {len(xy):,} trees; {MOST_TREES:,} at most")
    return _finish(cells, (xy[:, 0].copy(), xy[:, 1].copy()), layer.accuracy_m, file, found)


def _as_text(value: object) -> str:
    """Give a cell of a layer as a table would hold it; missing is blank."""
    if value is None or value is pd.NaT or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value).strip()


def _with_notes(text: pd.DataFrame, source: str, found: list[Finding]) -> pd.DataFrame:
    """Take notes like "37 RO 18 2" apart; what cannot be read is kept and listed."""
    read, unread = [], []
    for row in range(len(text)):
        said = [
            str(text.iloc[row][column])
            for column in ("name", "desc", "cmt", "description")
            if column in text and text.iloc[row][column]
        ]
        match = next((m for m in (NOTE.fullmatch(s.strip()) for s in said) if m), None)
        if match is None:
            unread.append(said[0] if said else f"row {row + 1}")
            read.append((said[0] if said else "", "", "", ""))
        else:
            read.append((match[1], match[2], match[3], match[4] or ""))
    if unread:
        shown = ", ".join(repr(item) for item in unread[:10])
        found.append(
            Finding(
                "waypoint_notes",
                "caution",
                f'{source}: {len(unread)} of {len(text)} notes are not like "37 RO 18 2" '
                f"(number, species, DBH in inches, logs): {shown}; they are kept without DBH.",
                "trees",
                source,
                value=float(len(unread)),
            )
        )
    columns = ["tree_id", "species", "dbh_in", "logs"]
    notes = pd.DataFrame(read, columns=columns, index=text.index)
    return pd.concat([text.drop(columns=[c for c in columns if c in text]), notes], axis=1)


def _finish(
    cells: Cells,
    xy_m: tuple[np.ndarray, np.ndarray],
    accuracy_m: float,
    file: TreeFile,
    found: list[Finding],
) -> tuple[Trees, tuple[Finding, ...]]:
    """Read the columns; a doubtful change of CRS widens the position errors."""
    error_m = file.position_error_m
    if accuracy_m > 0 and (cells.table.columns.isin(["lon", "lat"]).any() or accuracy_m > 2.0):
        error_m = float(np.hypot(error_m, accuracy_m))
    trees, more = trees_from_cells(cells, xy_m, error_m, full_list=file.full_list)
    return trees, (*found, *more)
