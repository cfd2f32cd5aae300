"""Vector layers: one reader for all kinds, with the file's claims checked first."""

import re
import warnings
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pyproj
import shapely
from pyogrio.errors import DataLayerError, DataSourceError
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.layer_shapes import Wanted, of_kind
from layout.projection import CRS_REMEDY, WGS84, change, horizontal, place_of

LARGEST_BYTES = 300_000_000
LARGEST_XML_BYTES = 50_000_000
# Drivers by how a file is named, and what its first bytes must be.
DRIVERS = {
    ".gpkg": "GPKG",
    ".geojson": "GeoJSON",
    ".json": "GeoJSON",
    ".shp": "ESRI Shapefile",
    ".fgb": "FlatGeobuf",
    ".gpx": "GPX",
    ".kml": "KML",
}
STARTS = {
    "GPKG": b"SQLite format 3\x00",
    "GeoJSON": b"{",
    "ESRI Shapefile": b"\x00\x00\x27\x0a",
    "FlatGeobuf": b"fgb",
    "GPX": b"<",
    "KML": b"<",
}
GPX_LAYERS: dict[Wanted, tuple[str, ...]] = {
    "polygon": ("tracks", "routes"),
    "line": ("tracks", "routes"),
    "point": ("waypoints",),
    "any": ("tracks", "routes", "waypoints"),
}


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
    """

    table: gpd.GeoDataFrame
    source: str
    accuracy_m: float
    findings: tuple[Finding, ...]

    @property
    def shapes(self) -> list[BaseGeometry]:
        """The geometries in file order."""
        return list(self.table.geometry)


def split_name(text: str) -> tuple[str, str]:
    """Split ``file.gpkg:layer`` into file and layer; a drive letter is no file.

    Examples
    --------
    >>> split_name("stand.gpkg:parcel 7")
    ('stand.gpkg', 'parcel 7')
    >>> split_name("C:/woods/stand.gpkg")
    ('C:/woods/stand.gpkg', '')
    """
    match = re.fullmatch(r"(.+?\.[A-Za-z]{3,7}):([^/\\:]+)", text)
    return (match[1], match[2]) if match else (text, "")


def read_layer(
    folder: Path,
    text: str,
    where: str,
    wanted: Wanted,
    target: pyproj.CRS,
    crs_hint: pyproj.CRS | None = None,
) -> Layer:
    """Read one layer into the area's CRS.

    Parameters
    ----------
    folder : Path
        The area's folder.
    text : str
        ``file`` or ``file:layer``.
    where : str
        Start of every message: file, table and key.
    wanted : {"polygon", "line", "point", "any"}
        What the layer must hold. A closed line will do for a polygon.
    target : CRS
        The area's CRS.
    crs_hint : CRS, optional
        Used only where the file does not say.

    Returns
    -------
    Layer

    Raises
    ------
    InputError
        If the file or layer cannot be used.
    """
    name, layer = split_name(text)
    path = place_of(folder, name, where)
    driver = _driver(path, where)
    layer = _layer_of(path, layer, where, driver, wanted)
    table, said = _read(path, layer, where)
    source = f"{path.name}:{layer}" if layer and driver == "GPKG" else path.name
    found = [
        Finding("layer_note", "caution", f"{where} {source}: {line}", "input", source)
        for line in said
    ]
    if not len(table):
        raise InputError(
            f"{where} {source} is empty; draw what it should hold, or take the key out"
        )
    crs = _crs_of(table, source, where, crs_hint)
    table = _without_empty(table, source, where, found)
    move = change(crs, target, _bounds(table), f"{where} {source}")
    if move.accuracy_m > 2.0 or move.missing_grid:
        found.append(
            Finding(
                "crs_accuracy",
                "caution",
                f"{source}: the change from {horizontal(crs).name} may be off by "
                f"{move.accuracy_m:.0f} m"
                + (f" (the grid {move.missing_grid} is not installed)" if move.missing_grid else "")
                + "; position and property errors are widened by it.",
                "input",
                source,
                value=move.accuracy_m,
                limit=2.0,
                unit="m",
            )
        )
    shapes = shapely.transform(
        shapely.force_2d(table.geometry.to_numpy()),
        lambda xy: np.column_stack(move(xy[:, 0], xy[:, 1])),
    )
    if not np.isfinite(shapely.get_coordinates(shapes)).all():
        raise InputError(
            f"{where} {source} holds coordinates outside {horizontal(crs).name}; "
            "is its CRS the right one?"
        )
    shapes = of_kind(shapes, source, where, wanted, found)
    table = table.drop(columns=table.geometry.name).set_geometry(
        gpd.GeoSeries(shapes, index=table.index, crs=target)
    )
    return Layer(table, source, move.accuracy_m, tuple(found))


def _driver(path: Path, where: str) -> str:
    """Tell the kind of file by its name, and see that its first bytes agree."""
    driver = DRIVERS.get(path.suffix.lower())
    if driver is None:
        known = ", ".join(DRIVERS)
        raise InputError(f"{where} {path.name} is of no kind read here ({known})")
    size = path.stat().st_size
    most = LARGEST_XML_BYTES if driver in ("GPX", "KML") else LARGEST_BYTES
    if size > most:
        raise InputError(
            f"{where} {path.name} has {size / 1e6:.0f} MB, more than {most / 1e6:.0f} MB; "
            "cut it to the area"
        )
    with path.open("rb") as file:
        head = file.read(1024)
        if driver in ("GPX", "KML"):
            _refuse_entities(head + file.read(), path, where)
    plain = (
        head.removeprefix(b"\xef\xbb\xbf").lstrip() if driver in ("GeoJSON", "GPX", "KML") else head
    )
    if not plain.startswith(STARTS[driver]):
        raise InputError(
            f"{where} {path.name} is no {driver} file inside (or is cut short); export it again"
        )
    return driver


def _refuse_entities(data: bytes, path: Path, where: str) -> None:
    """Refuse XML that declares entities; no phone writes any."""
    if re.search(rb"<!\s*(DOCTYPE|ENTITY)", data, re.IGNORECASE) or b"\x00" in data[:64]:
        raise InputError(
            f"{where} {path.name} declares entities (<!DOCTYPE), which may pull in other files; "
            "export it again without them"
        )


def _layer_of(path: Path, layer: str, where: str, driver: str, wanted: Wanted) -> str:
    """Settle which layer of a file is meant."""
    try:
        listed = [(str(name), kind) for name, kind in pyogrio.list_layers(path)]
    except (DataSourceError, DataLayerError) as error:
        raise InputError(f"{where} {path.name} is damaged: {_one_line(error)}") from None
    names = [name for name, kind in listed if kind is not None or driver == "GPX"]
    if driver == "GPX" and not layer:
        filled = [n for n in GPX_LAYERS[wanted] if n in names and _count(path, n)]
        if not filled:
            raise InputError(
                f"{where} {path.name} holds no {' or '.join(GPX_LAYERS[wanted])}; "
                "record or export them"
            )
        return filled[0]
    if layer:
        if layer not in names:
            raise InputError(
                f'{where} {path.name} has no layer "{layer}"; it has {", ".join(names) or "none"}'
            )
        return layer
    if not names:
        raise InputError(f"{where} {path.name} has no layer with shapes in it")
    if len(names) > 1:
        raise InputError(
            f"{where} {path.name} has several layers; name one, like "
            f'"{path.name}:{names[0]}" (it has {", ".join(names[:12])})'
        )
    return names[0]


def _count(path: Path, layer: str) -> int:
    """Count the features of a layer."""
    return int(pyogrio.read_info(path, layer=layer, force_feature_count=True)["features"])


def _one_line(error: Exception) -> str:
    """Give an error's message without line breaks."""
    return " ".join(str(error).split())[:200]


def _read(path: Path, layer: str, where: str) -> tuple[gpd.GeoDataFrame, list[str]]:
    """Read a layer; what the reader warns of comes back as lines."""
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            table = pyogrio.read_dataframe(path, layer=layer)
    except (DataSourceError, DataLayerError, ValueError, OSError, shapely.errors.ShapelyError) as e:
        raise InputError(f"{where} {path.name} cannot be read: {_one_line(e)}") from None
    if not isinstance(table, gpd.GeoDataFrame):
        raise InputError(f"{where} {path.name} holds a table without shapes")
    lines = [_one_line(w.message) for w in caught if isinstance(w.message, Exception)]
    return table, list(dict.fromkeys(lines))


def _crs_of(
    table: gpd.GeoDataFrame, source: str, where: str, hint: pyproj.CRS | None
) -> pyproj.CRS:
    """Settle the CRS of a layer, and see that its numbers can be in it."""
    crs = table.crs if table.crs is not None else hint
    if crs is None:
        raise InputError(
            f"{where} {source} does not say its CRS; {CRS_REMEDY}, or store it in the file"
        )
    crs = pyproj.CRS.from_user_input(crs)
    if crs.is_geographic:
        west, south, east, north = _bounds(table)
        if west < -180.001 or east > 360.001 or south < -90.001 or north > 90.001:
            said = "GeoJSON is in degrees unless it says otherwise" if crs == WGS84 else crs.name
            raise InputError(
                f"{where} {source} holds numbers that are no degrees ({west:.0f}, {south:.0f}); "
                f"{said}. Export it with its CRS, as a GeoPackage"
            )
    return crs


def _bounds(table: gpd.GeoDataFrame) -> tuple[float, float, float, float]:
    """Give the bounds of a layer as plain numbers."""
    west, south, east, north = (float(v) for v in table.total_bounds)
    return west, south, east, north


def _without_empty(
    table: gpd.GeoDataFrame, source: str, where: str, found: list[Finding]
) -> gpd.GeoDataFrame:
    """Leave out features without a shape, and say how many."""
    shapes = table.geometry.to_numpy()
    empty = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    if empty.all():
        raise InputError(f"{where} {source} has {len(table)} rows and no shape in any of them")
    bad = ~empty & ~np.array(
        [np.isfinite(shapely.get_coordinates(shape)).all() for shape in shapes], dtype=bool
    )
    if bad.any():
        raise InputError(
            f"{where} {source} row {int(np.nonzero(bad)[0][0]) + 1} has a coordinate that is no "
            "number; draw it again"
        )
    if empty.any():
        found.append(
            Finding(
                "empty_shapes",
                "caution",
                f"{source}: {int(empty.sum())} of {len(table)} rows have no shape and stay out.",
                "input",
                source,
            )
        )
    return table[~empty].reset_index(drop=True)
