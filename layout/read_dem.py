"""The elevation raster: any readable grid to one north-up metric window, gaps kept."""

import math
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyproj
import rasterio
import shapely
from numpy.typing import NDArray
from rasterio.errors import RasterioError
from rasterio.transform import Affine
from rasterio.warp import Resampling, reproject
from rasterio.windows import Window
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.elevations import Said, settled
from layout.errors import InputError
from layout.findings import Finding
from layout.grid import Dem
from layout.projection import (
    CRS_REMEDY,
    change,
    horizontal,
    is_metric_grid,
    is_true_to_scale,
    reader,
    unit_of_name,
    utm_for,
    vertical_unit,
)
from layout.raster_kind import check_mosaic, driver_of
from layout.units import HECTARE_M2

MOST_CELLS = 60_000_000
FINEST_M, COARSEST_M = 0.4, 20.0  # ours: a 10 m baseline must mean something
SLIVER_M2 = 1.0

Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Raster:
    """What a raster says of itself, before any cell is read."""

    path: Path
    driver: str
    where: str
    crs: pyproj.CRS  # horizontal part
    target: pyproj.CRS  # the one CRS of the area
    transform: Affine
    width: int
    height: int
    unit: str  # "m", "ft", "us-ft" or empty where it does not say
    findings: tuple[Finding, ...]


def open_raster(path: Path, where: str, folder: Path, crs_hint: pyproj.CRS | None) -> Raster:
    """Look at a raster's head and settle the CRS of the area.

    Parameters
    ----------
    path : Path
        The file.
    where : str
        Start of every message: file, table and key.
    folder : Path
        The area's folder; sources of a VRT must lie in it.
    crs_hint : CRS or None
        Used only where the raster does not say.

    Returns
    -------
    Raster

    Raises
    ------
    InputError
        If it is no elevation grid that can be used.
    """
    driver = driver_of(path, where)
    if driver == "VRT":
        check_mosaic(path, where, folder)
    try:
        with reader(), rasterio.open(path, driver=driver) as data:
            if data.count != 1:
                raise InputError(
                    f"{where} {path.name} has {data.count} bands, so it is a picture; "
                    "name a raster of elevations with one band"
                )
            kind = data.dtypes[0]
            crs = pyproj.CRS.from_wkt(data.crs.to_wkt()) if data.crs is not None else None
            said = data.units[0] or ""
            transform, width, height = data.transform, data.width, data.height
    except RasterioError as error:
        raise InputError(
            f"{where} {path.name} cannot be opened as {driver}: {_one_line(error)}"
        ) from None
    if kind == "uint8" or "complex" in kind:
        raise InputError(
            f"{where} {path.name} holds {kind} values, a picture rather than elevations; "
            "name the raster of elevations itself"
        )
    if crs is None and crs_hint is None:
        raise InputError(
            f"{where} {path.name} does not say its CRS; {CRS_REMEDY}, or store it in the file"
        )
    given = crs if crs is not None else crs_hint
    assert given is not None  # settled just above
    flat = horizontal(given)
    if not (flat.is_projected or flat.is_geographic):
        raise InputError(
            f"{where} {path.name} has a CRS of its own ({flat.name}); give it a real one"
        )
    if transform.is_identity:
        raise InputError(f"{where} {path.name} has no place on the map; store its georeference")
    unit = vertical_unit(given) or unit_of_name(said)
    found = _whole_numbers(kind, path)
    raster = Raster(path, driver, where, flat, flat, transform, width, height, unit, found)
    return _with_target(raster)


def _with_target(raster: Raster) -> Raster:
    """Choose the UTM zone where the raster's own metres are no metres on the ground."""
    west, south, east, north = footprint(raster).bounds
    centre_x, centre_y = np.array([(west + east) / 2]), np.array([(south + north) / 2])
    geodetic = raster.crs.geodetic_crs
    if geodetic is None:
        raise InputError(f"{raster.where} {raster.path.name} has no CRS on the Earth")
    lon, lat = change(raster.crs, geodetic, (west, south, east, north), raster.where)(
        centre_x, centre_y
    )
    metric = is_metric_grid(raster.crs)
    if metric and is_true_to_scale(raster.crs, float(lon[0]), float(lat[0])):
        return raster
    target = utm_for(raster.crs, float(lon[0]), float(lat[0]))
    why = "in degrees" if raster.crs.is_geographic else "not in metres"
    why = "not true to scale" if metric else why
    note = Finding(
        "dem_resampled",
        "ok",
        f"{raster.path.name} is {why} ({raster.crs.name}); brought to {target.name}.",
        "ground",
        "dem",
    )
    return replace(raster, target=target, findings=(*raster.findings, note))


def footprint(raster: Raster) -> Polygon:
    """Outline a raster in its own CRS."""
    w, h = raster.width, raster.height
    corners = ((0, 0), (w, 0), (w, h), (0, h))
    return Polygon([_corner(raster.transform, col, row) for col, row in corners])


def _corner(t: Affine, col: float, row: float) -> tuple[float, float]:
    """Give the map place of a cell's upper left corner (affine's own sign has changed)."""
    return t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f


def read_window(
    raster: Raster, keep: BaseGeometry, margin_m: float, stand: BaseGeometry, unit_set: str | None
) -> tuple[Dem, tuple[Finding, ...]]:
    """Read the elevations around what matters.

    Parameters
    ----------
    raster : Raster
        From `open_raster`.
    keep : geometry
        What must lie in the window (stand, landing), in the area's CRS.
    margin_m : float
        Ground wanted around it, metres.
    stand : geometry
        Must be covered in full.
    unit_set : {"m", "ft", "us-ft"} or None
        ``elevation_unit`` of the settings.

    Returns
    -------
    dem : Dem
        float32, C order, metres, NaN where not known.
    findings : tuple of Finding

    Raises
    ------
    InputError
        If the raster leaves part of the stand out, or the window is too large.
    """
    west, south, east, north = keep.bounds
    wanted = (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
    cell = _cell_m(raster)
    _check_cell(raster, cell)
    straight = _is_straight(raster)
    _check_cover(raster, stand)
    found = list(raster.findings)
    try:
        with reader(), rasterio.open(raster.path, driver=raster.driver) as data:
            dem = (
                _straight_window(data, raster, wanted)
                if straight and cell >= FINEST_M
                else _warped_window(data, raster, wanted, max(cell, FINEST_M), found)
            )
    except RasterioError as error:
        raise InputError(
            f"{raster.where} {raster.path.name} is damaged and cannot be read: {_one_line(error)}"
        ) from None
    in_feet = not raster.crs.is_geographic and not is_metric_grid(raster.crs)
    said = Said(raster.path.name, raster.where, raster.unit, unit_set, in_feet, cell)
    dem, more = settled(dem, said, stand)
    return dem, (*found, *more)


def _one_line(error: Exception) -> str:
    """Give an error's message without line breaks."""
    return " ".join(str(error).split())[:200]


def _whole_numbers(kind: str, path: Path) -> tuple[Finding, ...]:
    """Warn of elevations in whole units."""
    if "int" not in kind:
        return ()
    return (
        Finding(
            "dem_whole_numbers",
            "caution",
            f"{path.name} holds whole numbers; grades over 10 m cannot be judged from steps of "
            "one unit. Use the raster with decimals.",
            "ground",
            "dem",
        ),
    )


def _cell_m(raster: Raster) -> float:
    """Give the side of a square as large as one cell on the area's grid, metres."""
    t = raster.transform
    if raster.crs == raster.target:
        return math.sqrt(abs(t.determinant))
    col, row, step = raster.width / 2, raster.height / 2, 10.0
    corners = [_corner(t, col, row), _corner(t, col + step, row), _corner(t, col, row + step)]
    move = change(raster.crs, raster.target, footprint(raster).bounds, raster.where)
    x, y = move(np.array([c[0] for c in corners]), np.array([c[1] for c in corners]))
    across = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])
    return round(math.sqrt(abs(float(across))) / step, 2)


def _check_cell(raster: Raster, cell: float) -> None:
    """Refuse cells a trail grade cannot be read from."""
    if cell > COARSEST_M:
        raise InputError(
            f"{raster.where} {raster.path.name} has cells of {cell:.0f} m; trail grades are "
            f"measured over 10 m, so cells of {COARSEST_M:.0f} m or less are needed, 1 m is best"
        )


def _is_straight(raster: Raster) -> bool:
    """Say whether the raster is north-up and square in the area's own CRS."""
    t = raster.transform
    return (
        raster.crs == raster.target
        and t.b == 0.0
        and t.d == 0.0
        and t.a > 0
        and t.e < 0
        and abs(t.a + t.e) <= 1e-6 * t.a
    )


def _outline_in_target(raster: Raster) -> BaseGeometry:
    """Outline the raster in the area's CRS, edges followed closely."""
    outline = footprint(raster)
    if raster.crs == raster.target:
        return outline
    dense = outline.segmentize(max(outline.length / 400, 1e-9))
    move = change(raster.crs, raster.target, outline.bounds, raster.where)
    xy = shapely.get_coordinates(dense)
    x, y = move(xy[:, 0], xy[:, 1])
    return Polygon(np.column_stack([x, y]))


def _check_cover(raster: Raster, stand: BaseGeometry) -> None:
    """Refuse a raster that leaves part of the stand out, and say how much."""
    missing = stand.difference(_outline_in_target(raster)).area
    if missing <= SLIVER_M2:
        return
    share = 100 * missing / stand.area
    if share > 99.9:
        west, south, east, north = stand.bounds
        raise InputError(
            f"{raster.where} {raster.path.name} does not reach the stand at all; the stand lies "
            f"at {west:.0f} to {east:.0f}, {south:.0f} to {north:.0f} in {raster.target.name}. "
            "Is one of them in the wrong CRS?"
        )
    raise InputError(
        f"{raster.where} {raster.path.name} leaves {missing / HECTARE_M2:.2f} ha of the stand's "
        f"{stand.area / HECTARE_M2:.2f} ha ({share:.0f} %) uncovered; get the neighbouring tile "
        "and join them"
    )


def _check_size(raster: Raster, rows: int, cols: int) -> None:
    """Refuse a window that would not fit in memory."""
    if rows * cols > MOST_CELLS:
        raise InputError(
            f"{raster.where} the stand and its surroundings take {rows * cols / 1e6:.0f} million "
            f"cells; {MOST_CELLS / 1e6:.0f} million at most. Use coarser cells or a smaller stand"
        )


def _straight_window(
    data: rasterio.DatasetReader, raster: Raster, wanted: tuple[float, float, float, float]
) -> Dem:
    """Read whole cells as they lie."""
    t = raster.transform
    west, south, east, north = wanted
    c0 = max(math.floor((west - t.c) / t.a), 0)
    c1 = min(math.ceil((east - t.c) / t.a), raster.width)
    r0 = max(math.floor((t.f - north) / t.a), 0)
    r1 = min(math.ceil((t.f - south) / t.a), raster.height)
    _check_size(raster, r1 - r0, c1 - c0)
    z = _cells(data, Window(c0, r0, c1 - c0, r1 - r0))
    return Dem(z, t.c + c0 * t.a, t.f - r0 * t.a, float(t.a))


def _cells(data: rasterio.DatasetReader, window: Window | None) -> Floats32:
    """Read cells as float32, NaN where the raster has none; its scale applied."""
    band = data.read(1, window=window, masked=True)
    z = np.ma.filled(band.astype(np.float64), np.nan)
    scale, offset = data.scales[0], data.offsets[0]
    if (scale, offset) != (1.0, 0.0):
        z = z * scale + offset
    z[~np.isfinite(z)] = np.nan
    return np.ascontiguousarray(z, dtype=np.float32)


def _warped_window(
    data: rasterio.DatasetReader,
    raster: Raster,
    wanted: tuple[float, float, float, float],
    cell: float,
    found: list[Finding],
) -> Dem:
    """Resample onto square north-up cells, bilinear, whole metres of grid where they fit."""
    outline = _outline_in_target(raster).intersection(box(*wanted))
    west, south, east, north = outline.bounds
    west, north = math.floor(west / cell) * cell, math.ceil(north / cell) * cell
    cols, rows = math.ceil((east - west) / cell), math.ceil((north - south) / cell)
    _check_size(raster, rows, cols)
    window, transform = _source_window(raster, (west, south, east, north))
    _check_size(raster, int(window.height), int(window.width))
    z: Floats32 = np.full((rows, cols), np.nan, dtype=np.float32)
    finer = cell > 1.5 * _cell_m(raster)
    reproject(
        _cells(data, window),
        z,
        src_transform=transform,
        src_crs=raster.crs.to_wkt(),
        src_nodata=np.nan,
        dst_transform=Affine(cell, 0.0, west, 0.0, -cell, north),
        dst_crs=raster.target.to_wkt(),
        dst_nodata=np.nan,
        resampling=Resampling.average if finer else Resampling.bilinear,
    )
    found.append(
        Finding(
            "dem_resampled",
            "ok",
            f"{raster.path.name} was resampled to square north-up cells of {cell:g} m.",
            "ground",
            "dem",
            value=cell,
            unit="m",
        )
    )
    return Dem(np.ascontiguousarray(z), west, north, cell)


def _source_window(
    raster: Raster, bounds: tuple[float, float, float, float]
) -> tuple[Window, Affine]:
    """Find the source cells that cover bounds of the area's CRS, two cells to spare."""
    ring = box(*bounds).segmentize((bounds[2] - bounds[0]) / 20).exterior
    xy = shapely.get_coordinates(ring)
    move = change(raster.target, raster.crs, bounds, raster.where)
    x, y = move(xy[:, 0], xy[:, 1])
    back = ~raster.transform
    cols, rows = back.a * x + back.b * y + back.c, back.d * x + back.e * y + back.f
    c0, r0 = max(int(cols.min()) - 2, 0), max(int(rows.min()) - 2, 0)
    c1 = min(math.ceil(cols.max()) + 2, raster.width)
    r1 = min(math.ceil(rows.max()) + 2, raster.height)
    t, (x0, y0) = raster.transform, _corner(raster.transform, c0, r0)
    transform = Affine(t.a, t.b, x0, t.d, t.e, y0)
    return Window(c0, r0, max(c1 - c0, 1), max(r1 - r0, 1)), transform
