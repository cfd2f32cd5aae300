"""The elevation grid of an area: any readable rasters to one north-up metric window."""

import math
from dataclasses import replace
from pathlib import Path

import pyproj
from rasterio.transform import Affine
from shapely.geometry.base import BaseGeometry

from layout.elevation_doubts import UNIT_M, Said
from layout.elevations import USUAL_MARKERS, settled, unit_findings
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.grid import Dem
from layout.projection import change, is_metric_grid, place_of
from layout.raster_head import Head, Source, head_of, source_on_disk, source_on_web
from layout.raster_window import (
    FINEST_M,
    Bounds,
    check_cell,
    check_cover,
    check_size,
    grid_of,
    is_straight,
    sides_m,
    square_m,
    window_of,
)
from layout.resample import averaged, onto_grid
from layout.seams import overlap_findings, seam_findings
from layout.tiles import MOST_TILES, Joined, Raster, joined, read_cells
from layout.units import Units
from layout.web_address import DOWNLOAD, is_web_address


def open_dem(
    named: str | tuple[str, ...],
    where: str,
    folder: Path,
    crs_hint: pyproj.CRS | None,
    *,
    offline: bool = False,
) -> Raster:
    """Open what ``[ground] dem`` names: files, neighbouring tiles, web addresses.

    Parameters
    ----------
    named : str or tuple of str
        Files beside area.toml or at their full path, or https addresses.
    where : str
        Start of every message: file, table and key.
    folder : Path
        The area's folder; sources of a VRT must lie in it.
    crs_hint : CRS or None
        Used only where a raster does not say.
    offline : bool
        Refuse web addresses.

    Returns
    -------
    Raster

    Raises
    ------
    InputError, InputFaults
        If one is no elevation grid that can be used, or they do not fit together;
        one line each.
    """
    names = (named,) if isinstance(named, str) else named
    if len(names) > MOST_TILES:
        raise InputError(
            f"{where} {len(names)} tiles are too many, {MOST_TILES} at most; list those around "
            "the stand"
        )
    twice = sorted({name for name in names if names.count(name) > 1})
    faults = [f'{where} "{name}" is listed twice; list it once' for name in twice]
    heads: list[Head] = []
    for name in dict.fromkeys(names):
        try:
            heads.append(head_of(_source(name, where, folder, offline), crs_hint))
        except InputFaults as error:
            faults += error.faults
        except InputError as error:
            faults.append(str(error))
    if faults:
        raise InputFaults(faults) if len(faults) > 1 else InputError(faults[0])
    return joined(tuple(heads))


def read_window(
    raster: Raster,
    keep: BaseGeometry,
    margin_m: float,
    stand: BaseGeometry,
    unit_set: str | None,
    units: Units = "metric",
) -> tuple[Dem, tuple[Finding, ...]]:
    """Read the elevations around what matters.

    Parameters
    ----------
    raster : Raster
        From `open_dem`.
    keep : geometry
        What must lie in the window (stand, landing), in the area's CRS.
    margin_m : float
        Ground wanted around it, metres.
    stand : geometry
        Must be covered in full.
    unit_set : {"m", "dm", "cm", "mm", "ft", "us-ft"} or None
        ``elevation_unit`` of the settings.
    units : {"us", "metric"}
        What messages speak.

    Returns
    -------
    dem : Dem
        float32, C order, metres, NaN where not known.
    findings : tuple of Finding

    Raises
    ------
    InputError
        If the raster leaves part of the stand out, the window is too large, a file
        is damaged or does not come, or its numbers are no elevations.
    """
    west, south, east, north = keep.bounds
    wanted = (west - margin_m, south - margin_m, east + margin_m, north + margin_m)
    sides = sides_m(raster, keep)
    check_cell(raster, max(sides))
    found = [*raster.findings, *_moved(raster)]
    found += check_cover(raster, stand, units)
    window = window_of(raster, wanted)
    check_size(raster, int(window.height), int(window.width))
    said = _said(raster, unit_set, max(sides), units)
    found += unit_findings(said)
    cells = read_cells(raster, window, UNIT_M[said.taken])
    said = replace(said, step=said.step or float(cells.whole))
    x, y = raster.corner(window.col_off, window.row_off)
    t = raster.transform
    lies = Affine(t.a, t.b, x, t.d, t.e, y)
    found += _seams(raster, cells)
    dem = _on_area_grid(raster, cells, lies, wanted, square_m(raster, sides), found)
    dem, more = settled(dem, said, stand)
    return dem, (*found, *more)


def _source(name: str, where: str, folder: Path, offline: bool) -> Source:
    """Find what one name means."""
    if not is_web_address(name):
        return source_on_disk(place_of(folder, name, where), where, folder)
    if offline:
        raise InputError(f'{where} "{name}" is a web address, and --offline is given; {DOWNLOAD}')
    return source_on_web(name, where)


def _said(raster: Raster, unit_set: str | None, cell_m: float, units: Units) -> Said:
    """Gather what files and settings say of the elevations."""
    heads = [tile.head for tile in raster.tiles]
    step = max((abs(head.scale) for head in heads if head.whole), default=0.0)
    return Said(
        name=raster.name,
        where=raster.where,
        unit=raster.unit,
        unit_fault=raster.unit_fault,
        unit_set=unit_set,
        map_in_feet=not raster.crs.is_geographic and not is_metric_grid(raster.crs),
        cell_m=cell_m,
        step=step,
        markers=tuple(
            sorted({marker * h.scale + h.offset for h in heads for marker in USUAL_MARKERS})
        ),
        units=units,
    )


def _seams(raster: Raster, cells: Joined) -> list[Finding]:
    """Hold tiles against each other."""
    if cells.origin is None:
        return []
    names = tuple(tile.head.name for tile in raster.tiles)
    return [
        *overlap_findings(cells.differing, raster.where),
        *seam_findings(cells.z, cells.origin, names, raster.where),
    ]


def _on_area_grid(
    raster: Raster,
    cells: Joined,
    lies: Affine,
    wanted: Bounds,
    side_m: float,
    found: list[Finding],
) -> Dem:
    """Bring cells to square north-up ones of the area's CRS, no finer than needed."""
    z, by = cells.z, math.ceil(FINEST_M / side_m - 1e-6)
    if by > 1:
        z = averaged(z, by)
        t, side_m = lies, side_m * by
        lies = Affine(t.a * by, t.b * by, t.c, t.d * by, t.e * by, t.f)
        found.append(
            _resampled(f"{raster.name} was averaged {by} by {by} to cells of {side_m:g} m.", side_m)
        )
    if is_straight(raster):
        return Dem(z, lies.c, lies.f, float(lies.a))
    grid = grid_of(raster, wanted, side_m)
    move = change(raster.target, raster.crs, wanted, raster.where)
    found.append(
        _resampled(f"{raster.name} was resampled to square north-up cells of {side_m:g} m.", side_m)
    )
    if move.accuracy_m > 2.0 or move.missing_grid:
        found.append(_doubtful(raster, move.accuracy_m, move.missing_grid))
    return Dem(onto_grid(z, lies, move, grid), grid.west, grid.north, grid.cell)


def _moved(raster: Raster) -> list[Finding]:
    """Tell why the area is not in the CRS of its elevations."""
    if raster.target == raster.crs:
        return []
    why = "in degrees" if raster.crs.is_geographic else "not in metres"
    why = "not true to scale" if is_metric_grid(raster.crs) else why
    message = f"{raster.name} is {why} ({raster.crs.name}); brought to {raster.target.name}."
    return [Finding("dem_resampled", "ok", message, "ground", "dem")]


def _resampled(message: str, side_m: float) -> Finding:
    """Tell of cells that are not the file's own."""
    return Finding(
        "dem_resampled", "ok", message, "ground", "dem", value=round(side_m, 6), unit="m"
    )


def _doubtful(raster: Raster, accuracy_m: float, grid: str) -> Finding:
    """Tell of elevations that may lie off."""
    missing = f" (the grid {grid} is not installed)" if grid else ""
    return Finding(
        "crs_accuracy",
        "caution",
        f"{raster.name}: the change from {raster.crs.name} to {raster.target.name} may be off by "
        f"{accuracy_m:.0f} m{missing}, and the elevations with it.",
        "ground",
        "dem",
        value=accuracy_m,
        limit=2.0,
        unit="m",
    )
