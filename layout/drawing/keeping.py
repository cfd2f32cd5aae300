"""Drawings in the area's folder: ``drawings/NAME.gpkg``, whole or not at all, no version lost.

A drawing is a plain GeoPackage that any desktop GIS opens, so its layers are what
is read back. Each save is a new file that takes the name over; the one before it
is kept in ``drawings/earlier``.
"""

import os
import re
import shutil
import sqlite3
import time
import unicodedata
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd
import pyogrio
import pyproj
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout.drawing.draft import Draft, read_draft, sound_name
from layout.errors import InputError, LayoutError, OutputError

FOLDER, EARLIER, ENDING = "drawings", "earlier", ".gpkg"
STALE_S = 10.0
LAYERS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("landing", "Polygon", ()),
    ("landing_point", "Point", ()),
    ("trails", "LineString", ("trail_id", "kind", "joins_id")),
    ("keep_out", "Polygon", ("keep_out_id",)),
    ("notes", "Point", ("note_id", "text")),
    ("positions", "Point", ("position_id", "state")),
)
VERSION_TEXT = re.compile(r"[1-9][0-9]{0,8}")


class NewerDrawingError(LayoutError):
    """A newer version was saved since this one was opened; nothing was written."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A drawing in the folder.

    Parameters
    ----------
    name : str
    version : int
        Counts up with each save.
    saved : str
        When, in UTC.
    draft : Draft
    """

    name: str
    version: int
    saved: str
    draft: Draft


def save(area_folder: Path, crs: pyproj.CRS, draft: Draft, name: str, based_on: int | None) -> Kept:
    """Save a drawing.

    Parameters
    ----------
    area_folder : Path
        The area's folder.
    crs : CRS
        Of the drawing's coordinates.
    draft : Draft
    name : str
        What it is called; see `sound_name`.
    based_on : int or None
        The version it was opened as; None for a new one.

    Returns
    -------
    Kept

    Raises
    ------
    InputError
        If the name cannot be one.
    NewerDrawingError
        If that name holds another version by now.
    OutputError
        If it cannot be written; the one before stands as it was.
    """
    name = sound_name(name)
    folder = area_folder / FOLDER
    target = folder / f"{name}{ENDING}"
    try:
        (folder / EARLIER).mkdir(parents=True, exist_ok=True)
        with _alone(folder):
            now = load(area_folder, crs, name).version if target.exists() else 0
            if now != (based_on or 0):
                raise NewerDrawingError(_newer(name, now, based_on))
            kept = Kept(
                name,
                max((now, *versions(area_folder, name))) + 1,
                datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
                replace(draft, name=name),
            )
            scratch = folder / f".{name}.{os.getpid()}{ENDING}"
            try:
                _write(kept, crs, scratch)
                with scratch.open("rb+") as file:
                    os.fsync(file.fileno())
                if now:
                    _set_by(target, folder / EARLIER / f"{name}.{now}{ENDING}")
                scratch.replace(target)
            finally:
                scratch.unlink(missing_ok=True)
    except OSError as fault:
        msg = f"{target}: the drawing could not be saved ({fault.strerror or fault}); it stands"
        raise OutputError(f"{msg} as it was before") from fault
    return kept


def load(area_folder: Path, crs: pyproj.CRS, name: str, wanted: int | None = None) -> Kept:
    """Read a drawing.

    Parameters
    ----------
    area_folder : Path
    crs : CRS
        The area's.
    name : str
    wanted : int, optional
        An earlier version; the newest one where left out.

    Returns
    -------
    Kept

    Raises
    ------
    InputError
        If there is none of that name, or it cannot be used.
    """
    name = sound_name(name)
    path = area_folder / FOLDER / f"{name}{ENDING}"
    earlier = area_folder / FOLDER / EARLIER / f"{name}.{wanted}{ENDING}"
    if wanted is not None and earlier.is_file():
        path = earlier
    if not path.is_file():
        others = ", ".join(names(area_folder)) or "none yet"
        raise InputError(f"{path}: no such drawing; there are: {others}")
    try:
        about = _table(path, "about", "key", "value")
        shapes = {layer: _rows(path, layer, crs) for layer, _, _ in LAYERS}
        marks = _table(path, "marks", "tree_id", "mark")
        value = _value(name, shapes, marks)
    except InputError:
        raise
    except Exception as fault:  # other programs may have taken columns off, or put lines together
        msg = f"{path}: it cannot be read as a drawing ({fault}); save it again from the map"
        raise InputError(msg) from fault
    version = about.get("version", "")
    if about.get("format") != "1" or not VERSION_TEXT.fullmatch(version):
        raise InputError(f"{path}: it is no drawing of this version; save it again from the map")
    if wanted is not None and int(version) != wanted:
        there = ", ".join(str(n) for n in (*versions(area_folder, name), version))
        raise InputError(f"{name}: there is no version {wanted} of it; there are: {there}")
    return Kept(name, int(version), about.get("saved", ""), read_draft(value))


def _value(
    name: str,
    shapes: Mapping[str, list[tuple[dict[str, str], BaseGeometry]]],
    marks: Mapping[str, str],
) -> dict[str, Any]:
    """Give what the layers hold as the JSON values of a draft."""
    landing: dict[str, Any] | None = None
    if shapes["landing"]:
        landing = {"outline": _ring(shapes["landing"][0][1])}
    elif shapes["landing_point"]:
        landing = {"point": _places(shapes["landing_point"][0][1])[0]}
    return {
        "format": 1,
        "name": name,
        "landing": landing,
        "trails": [
            {"id": r["trail_id"], "kind": r["kind"], "joins": r["joins_id"], "line": _places(s)}
            for r, s in shapes["trails"]
        ],
        "keep_out": [{"id": r["keep_out_id"], "outline": _ring(s)} for r, s in shapes["keep_out"]],
        "notes": [
            {"id": r["note_id"], "text": r["text"], "at": _places(s)[0]} for r, s in shapes["notes"]
        ],
        "marks": marks,
        "positions": [
            {"id": r["position_id"], "state": r["state"], "at": _places(s)[0]}
            for r, s in shapes["positions"]
        ],
    }


def names(area_folder: Path) -> tuple[str, ...]:
    """Give the names of the drawings of an area, in order."""
    folder = area_folder / FOLDER
    if not folder.is_dir():
        return ()
    found = (p.stem for p in folder.glob(f"*{ENDING}") if not p.name.startswith("."))
    # some systems give accented letters back in two parts
    return tuple(sorted(unicodedata.normalize("NFC", name) for name in found))


def versions(area_folder: Path, name: str) -> tuple[int, ...]:
    """Give the numbers of the earlier versions of a drawing, in order.

    Parameters
    ----------
    area_folder : Path
    name : str

    Returns
    -------
    tuple of int
        Those that lie in ``drawings/earlier``; the newest is not one of them.
    """
    folder, start = area_folder / FOLDER / EARLIER, f"{name}."
    if not folder.is_dir():
        return ()
    found = (p.name.removeprefix(start).removesuffix(ENDING) for p in folder.iterdir()
             if p.name.startswith(start) and p.name.endswith(ENDING))  # fmt: skip
    return tuple(sorted(int(number) for number in found if VERSION_TEXT.fullmatch(number)))


def _newer(name: str, now: int, based_on: int | None) -> str:
    if not now:
        return f"{name}: it is gone from the folder; save it under another name"
    if based_on is None:
        return f"{name}: there is a drawing of that name already; open it, or take another name"
    return (
        f"{name}: version {now} was saved meanwhile, in another tab or program; open it, or save "
        "this one under another name"
    )


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """Hold the folder while one version takes over from another."""
    lock = folder / ".lock"
    begun = time.monotonic()
    while True:
        try:
            os.close(os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
            break
        except FileExistsError:
            if time.monotonic() - begun > STALE_S:
                # a save takes a fraction of this: its process was ended in the middle
                lock.unlink(missing_ok=True)
                begun = time.monotonic()
            time.sleep(0.05)
    try:
        yield
    finally:
        lock.unlink(missing_ok=True)


def _set_by(target: Path, earlier: Path) -> None:
    """Copy a version to where earlier ones lie; one of that number that is there stays."""
    if earlier.exists() and earlier.read_bytes() == target.read_bytes():
        return
    place, number = earlier, 2
    while place.exists():  # somebody has put an older file back: both are kept
        place, number = earlier.with_name(f"{earlier.stem}-{number}{ENDING}"), number + 1
    shutil.copy2(target, place)


def _write(kept: Kept, crs: pyproj.CRS, path: Path) -> None:
    draft = kept.draft
    landing: list[tuple[tuple[str, ...], BaseGeometry]] = []
    point: list[tuple[tuple[str, ...], BaseGeometry]] = []
    if draft.landing is not None:
        if draft.landing.point is not None:
            point.append(((), Point(draft.landing.point)))
        else:
            landing.append(((), Polygon(draft.landing.outline)))
    rows: dict[str, list[tuple[tuple[str, ...], BaseGeometry]]] = {
        "landing": landing,
        "landing_point": point,
        "trails": [((t.trail_id, t.kind, t.joins), LineString(t.line)) for t in draft.trails],
        "keep_out": [((k.closed_id,), Polygon(k.outline)) for k in draft.keep_out],
        "notes": [((n.note_id, n.text), Point(n.at)) for n in draft.notes],
        "positions": [((p.position_id, p.state), Point(p.at)) for p in draft.positions],
    }
    path.unlink(missing_ok=True)
    for number, (layer, shape, columns) in enumerate(LAYERS):
        mine = rows[layer]
        table = {
            name: pd.Series([values[k] for values, _ in mine], dtype=object)
            for k, name in enumerate(columns)
        }
        frame = gpd.GeoDataFrame(table, geometry=gpd.GeoSeries([s for _, s in mine], crs=crs))
        pyogrio.write_dataframe(
            frame, path, driver="GPKG", layer=layer, geometry_type=shape, append=False,
            **({} if number else {"dataset_options": {"VERSION": "1.2"}}),
        )  # fmt: skip
    tables: dict[str, tuple[str, str, list[tuple[str, str]]]] = {
        "marks": ("tree_id", "mark", [*sorted(draft.marks.items())]),
        "about": (
            "key",
            "value",
            [
                ("format", "1"),
                ("name", kept.name),
                ("program", "skidway"),
                ("saved", kept.saved),
                ("version", str(kept.version)),
            ],
        ),
    }
    with closing(sqlite3.connect(path)) as file, file:
        file.execute("PRAGMA journal_mode=DELETE")
        for name, (key, value, pairs) in tables.items():
            file.execute(
                f"CREATE TABLE {name} (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, "
                f'"{key}" TEXT NOT NULL UNIQUE, "{value}" TEXT NOT NULL)'
            )
            file.executemany(f'INSERT INTO {name} ("{key}", "{value}") VALUES (?, ?)', pairs)
            file.execute(
                "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
                "VALUES (?, 'attributes', ?, 0)",
                (name, name),
            )
            file.execute("INSERT INTO gpkg_ogr_contents VALUES (?, ?)", (name, len(pairs)))


def _table(path: Path, name: str, key: str, value: str) -> dict[str, str]:
    """Read a two-column table; the file is opened for reading alone."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as file:
        pairs = file.execute(f'SELECT "{key}", "{value}" FROM {name}').fetchall()
    return {str(k): str(v) for k, v in pairs}


def _rows(path: Path, layer: str, crs: pyproj.CRS) -> list[tuple[dict[str, str], BaseGeometry]]:
    frame = pyogrio.read_dataframe(path, layer=layer)
    if frame.crs is not None and frame.crs != crs:
        msg = (
            f"{path}: its layer {layer} is in {frame.crs.name}, the area in {crs.name}; it is a "
            "drawing of another area"
        )
        raise InputError(msg)
    shapes = frame.geometry
    rest = frame.drop(columns=shapes.name)
    values = (
        [
            {str(k): "" if v is None else str(v) for k, v in row.items()}
            for row in rest.to_dict("records")
        ]
        if len(rest.columns)
        else [{} for _ in shapes]
    )
    return [
        (row, shape) for row, shape in zip(values, shapes, strict=True)
        if shape is not None and not shape.is_empty
    ]  # fmt: skip


def _places(shape: BaseGeometry) -> list[list[float]]:
    return [[float(x), float(y)] for x, y, *_ in shape.coords]


def _ring(shape: BaseGeometry) -> list[list[float]]:
    if not isinstance(shape, Polygon):
        msg = "an outline is not one polygon"
        raise InputError(msg)
    return [[float(x), float(y)] for x, y, *_ in shape.exterior.coords[:-1]]
