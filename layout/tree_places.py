"""Where the rows of a tree table stand: x and y of the area's grid, or lon and lat."""

import re
from dataclasses import dataclass

import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.projection import WGS84, change, horizontal, used_in
from layout.table_cells import Cells, listed

Floats = NDArray[np.float64]

# A row that gives its place twice: within the first they agree (a phone's error and the
# shift between datums), over the second one of them is another place; ours.
AGREE_M, APART_M = 5.0, 50.0
FARTHEST_TOLD_M = 1e6
MOST_COORDINATE = 1e9  # of any map grid

LARGEST_COORDINATE = 1e8  # of any grid, in metres or feet

_GRID_NAMES = {
    ("easting", "northing"), ("east", "north"), ("x_m", "y_m"), ("x_coord", "y_coord"),
    ("utm_x", "utm_y"), ("utm_e", "utm_n"), ("e", "n"), ("point_x", "point_y"),
}  # fmt: skip
_FEET_NAMES = {("x_ft", "y_ft"), ("x_feet", "y_feet"), ("easting_ft", "northing_ft")}
_NUM = r"([0-9]{1,3}(?:\.[0-9]*)?)"
_DEGREES = re.compile(
    rf"\s*([NSEW])?\s*([+-])?\s*{_NUM}\s*(?:[°d:\s]\s*{_NUM}\s*(?:['m:\s]\s*{_NUM}\s*[\"s]?|')?"
    r"|°)?\s*([NSEW])?\s*",
    re.IGNORECASE,
)
_SIGNS = str.maketrans({"\u2032": "'", "\u2019": "'", "\u2033": '"', "\u201d": '"', "\u00ba": "°"})


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """Where a tree list should fall.

    Parameters
    ----------
    crs : CRS
        The elevation raster's own CRS, which the user's other maps are likely in too.
    stand : geometry
        The stand, in the area's CRS.
    """

    crs: pyproj.CRS
    stand: BaseGeometry


def places(
    cells: Cells, target: pyproj.CRS, where: str, ground: Ground | None = None
) -> tuple[tuple[Floats, Floats], float, tuple[Finding, ...]]:
    """Give grid coordinates of a table's rows, and how far off the change may be.

    Parameters
    ----------
    cells : Cells
        The table; must hold ``x, y`` (in the area's CRS, metres) or ``lon, lat``
        (decimal degrees, WGS 84).
    target : CRS
        The area's CRS.
    where : str
        Start of messages about the file as a whole.
    ground : Ground, optional
        Most of ``x, y`` that fall outside the stand are read in the elevations' own
        CRS where they fall in it so.

    Returns
    -------
    xy_m : tuple of ndarray, shape (n,)
    accuracy_m : float
        How far off the change of CRS may be; 0 where there was none.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        If the rows have no place that can be read.
    """
    columns = set(cells.table.columns)
    if {"x", "y"} <= columns:
        far = LARGEST_COORDINATE
        x = cells.numbers("x", required=True, least=-far, most=far)
        y = cells.numbers("y", required=True, least=-far, most=far)
        cells.stop_if_faulty()
        if (np.abs(x) <= 180).all() and (np.abs(y) <= 90).all():
            raise InputError(
                f"{cells.name}: x and y look like degrees; name the columns lon and lat"
            )
        xy_m, accuracy_m, found = _in_own_grid((x, y), target, cells.name, where, ground)
        found += _compared(cells, xy_m, target, where)
        cells.stop_if_faulty()
        return xy_m, accuracy_m, found
    if not {"lon", "lat"} <= columns:
        raise InputError(_no_places(cells, target))
    _refuse_minutes(cells)
    lon = cells.numbers("lon", required=True, least=-180, most=180)
    lat = cells.numbers("lat", required=True, least=-90, most=90)
    if cells.faults and _look_swapped(cells):
        raise InputError(_SWAPPED.format(name=cells.name))
    cells.stop_if_faulty()
    return *degrees_to_grid(lon, lat, target, cells.name, where), ()


def _in_own_grid(
    xy: tuple[Floats, Floats], target: pyproj.CRS, name: str, where: str, ground: Ground | None
) -> tuple[tuple[Floats, Floats], float, tuple[Finding, ...]]:
    """Read x and y in the elevations' own CRS where they fall in the stand only so."""
    if ground is None or not ground.crs.is_projected or _mostly_within(ground.stand, *xy):
        return xy, 0.0, ()
    x, y = xy
    if not max(np.abs(x).max(), np.abs(y).max()) < MOST_COORDINATE:
        return xy, 0.0, ()
    bounds = (float(x.min()), float(y.min()), float(x.max()), float(y.max()))
    try:
        move = change(ground.crs, target, bounds, f"{where} {name}")
    except InputError:  # no way from there to here: they stay outside, and are told of as such
        return xy, 0.0, ()
    moved = move(x, y)
    if not _mostly_within(ground.stand, *moved):
        return xy, 0.0, ()
    unit = ground.crs.axis_info[0].unit_name
    told = Finding(
        "trees_own_grid",
        "caution",
        f"{name}: x and y fall in the stand only as {horizontal(ground.crs).name} ({unit}), the "
        f"CRS of the elevations; they were read so and brought to {target.name}. If they are in "
        "another, give lon and lat, or a point layer that stores its CRS.",
        "trees",
        name,
    )
    return moved, move.accuracy_m, (told,)


def _mostly_within(stand: BaseGeometry, x: Floats, y: Floats) -> bool:
    """Tell whether most places lie in the stand."""
    sound = np.isfinite(x) & np.isfinite(y)
    inside = np.zeros(x.size, dtype=bool)
    inside[sound] = shapely.contains_xy(stand, x[sound], y[sound])
    return bool(inside.mean() > 0.5)


def _compared(
    cells: Cells, xy_m: tuple[Floats, Floats], target: pyproj.CRS, where: str
) -> tuple[Finding, ...]:
    """Hold x and y to lon and lat where a table has both; far apart is a fault of the row."""
    if not {"lon", "lat"} <= set(cells.table.columns):
        return ()
    trial = Cells(cells.name, cells.table, cells.lines, cells.decimal_comma)
    lon = trial.numbers("lon", least=-180, most=180)
    lat = trial.numbers("lat", least=-90, most=90)
    both = np.flatnonzero(np.isfinite(lon) & np.isfinite(lat))
    if not both.size:
        return ()
    lon, lat = lon[both], lat[both]
    bounds = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
    x, y = change(WGS84, target, bounds, f"{where} {cells.name}")(lon, lat)
    with np.errstate(invalid="ignore", over="ignore"):
        gap_m = np.hypot(x - xy_m[0][both], y - xy_m[1][both])
    gap_m = np.where(np.isfinite(gap_m), gap_m, np.inf)
    for row, gap in zip(both[gap_m > APART_M], gap_m[gap_m > APART_M], strict=True):
        off = f"{gap:,.0f} m apart" if gap < FARTHEST_TOLD_M else "on other ends of the earth"
        cells.faults.append(
            f"{cells.lines[row]}: x, y and lon, lat stand {off}; keep the pair that is right"
        )
    near = (gap_m > AGREE_M) & (gap_m <= APART_M)
    if not near.any():
        return ()
    told = (
        f"{cells.lines[row].rsplit(' ', 1)[-1]} ({gap:.0f} m)"
        for row, gap in zip(both[near], gap_m[near], strict=True)
    )
    return (
        Finding(
            "trees_two_places",
            "caution",
            f"{cells.name}: x, y and lon, lat stand apart on lines {listed(told, 20)}; x and y are "
            "used. Take out the pair that is wrong.",
            "trees",
            cells.name,
            value=float(gap_m[near].max()),
            limit=AGREE_M,
            unit="m",
        ),
    )


_SWAPPED = "{name}: lon and lat are swapped; exchange the two column names"


def degrees_to_grid(
    lon: Floats, lat: Floats, target: pyproj.CRS, name: str, where: str
) -> tuple[tuple[Floats, Floats], float]:
    """Bring degrees to the area's grid; tell degrees that were swapped or lost their sign.

    Parameters
    ----------
    lon, lat : ndarray, shape (n,)
        Decimal degrees, WGS 84.
    target : CRS
    name : str
        The file, for messages.
    where : str
        Start of messages about the file as a whole.

    Returns
    -------
    xy_m : tuple of ndarray, shape (n,)
    accuracy_m : float

    Raises
    ------
    InputError
        If most of the places lie outside the ground the CRS is made for.
    """
    if not _mostly_in(target, lon, lat):
        if _mostly_in(target, lat, lon):
            raise InputError(_SWAPPED.format(name=name))
        if _mostly_in(target, -lon, lat):
            raise InputError(
                f"{name}: lon has lost its minus sign; west of Greenwich is negative, like "
                f"{-float(lon[0]):.5f}"
            )
        raise InputError(
            f"{name}: lon and lat, like {float(lon[0]):.5f}, {float(lat[0]):.5f}, lie outside "
            f"{target.name}; is it the list of this area?"
        )
    bounds_deg = (float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max()))
    move = change(WGS84, target, bounds_deg, f"{where} {name}")
    x, y = move(lon, lat)
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise InputError(f"{name}: lon and lat lie outside {target.name}; are they swapped?")
    return (x, y), move.accuracy_m


def _mostly_in(target: pyproj.CRS, lon: Floats, lat: Floats) -> bool:
    """Tell whether most places lie on the ground a CRS is made for, or beside it."""
    area = used_in(target)
    if area is None:
        return True
    beside = 5.0  # degrees; a zone may be used past its edge
    east = area.east if area.east >= area.west else area.east + 360
    turned = np.where(lon < area.west - beside, lon + 360, lon)
    inside = (turned >= area.west - beside) & (turned <= east + beside)
    inside &= (lat >= area.south - beside) & (lat <= area.north + beside)
    return bool(inside.mean() > 0.5)


def _look_swapped(cells: Cells) -> bool:
    """Tell whether latitudes too large for any are what a longitude would be."""
    trial = Cells(cells.name, cells.table, cells.lines, cells.decimal_comma)
    trial.numbers("lat", required=True, least=-180, most=180)
    trial.numbers("lon", required=True, least=-90, most=90)
    return not trial.faults


def _no_places(cells: Cells, target: pyproj.CRS) -> str:
    """Say which columns would do, and which of those there are may be meant."""
    columns = [str(column) for column in cells.table.columns]
    for east, north in sorted(_FEET_NAMES):
        if east in columns and north in columns:
            return (
                f"{cells.name}: {east} and {north} do not say the grid they are in, nor which of "
                "two kinds of feet; give the trees as a point layer that stores its CRS "
                "(GeoPackage), or as lon and lat"
            )
    for east, north in sorted(_GRID_NAMES):
        if east in columns and north in columns:
            return (
                f"{cells.name}: name the columns {east} and {north} x and y if they are in "
                f"{target.name}, metres; otherwise give lon and lat"
            )
    have = listed(columns, 12)
    return f"{cells.name} has neither x and y (area CRS) nor lon and lat; it has {have}"


def _refuse_minutes(cells: Cells) -> None:
    """Refuse degrees written with minutes or letters, and show them as decimals."""
    rows = []
    for column in ("lat", "lon"):
        for row, cell in enumerate(cells.words(column)):
            if not re.fullmatch(r"[+-]?[0-9]*[.,]?[0-9]*([eE]-?[0-9]+)?", cell):
                value = decimal_degrees(cell)
                if value is not None:
                    rows.append((row, column, cell, value))
    if rows:
        row, column, cell, value = min(rows)
        more = len({r for r, *_ in rows}) - 1
        raise InputError(
            f"{cells.lines[row]}: {column} {cell!r} must be decimal degrees, like {value:.7f}"
            + (f"; so must {more} more lines" if more else "")
        )


def decimal_degrees(text: str) -> float | None:
    """Read degrees with minutes, seconds or a letter for the side.

    Returns
    -------
    float or None
        Decimal degrees, south and west negative; None where it is no such text.

    Examples
    --------
    >>> decimal_degrees("44°15'36"), decimal_degrees("W 75 30.5")
    (44.26, -75.50833333333334)
    """
    match = _DEGREES.fullmatch(text.translate(_SIGNS)) if len(text) < 40 else None
    if match is None or (match[1] and match[6]):
        return None
    minutes, seconds = float(match[4] or 0), float(match[5] or 0)
    if minutes >= 60 or seconds >= 60:
        return None
    value = float(match[3]) + minutes / 60 + seconds / 3600
    side = (match[1] or match[6] or "").upper()
    return -value if match[2] == "-" or side in ("S", "W") else value
