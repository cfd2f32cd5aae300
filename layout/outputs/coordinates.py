"""One place in the ways a dispatcher, a pilot and a map ask for it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pyproj

from layout.errors import InputError
from layout.outputs.national_grid import national_grid
from layout.projection import WGS84, change, horizontal, utm_for
from layout.settings import LonLat

Place = tuple[float, float] | LonLat
AMERICAS_EAST_DEG = -30.0  # west of here; elsewhere the grid has another name and few ask for it


@dataclass(frozen=True, slots=True)
class Spoken:
    """A place, said five ways.

    Parameters
    ----------
    degrees : str
        Decimal degrees, WGS84, latitude first; empty where the shift from the
        area's datum is not known.
    minutes : str
        Degrees and decimal minutes, WGS84; empty likewise.
    grid : str
        The area's own grid, east and north in metres.
    utm : str
        UTM on WGS84; empty where the area's grid is UTM itself.
    national : str
        US National Grid, to ten metres, on WGS84; empty where nobody asks for it: far
        from the United States, or at the poles.
    """

    degrees: str
    minutes: str
    grid: str
    utm: str
    national: str = ""


def spoken(place: Place, crs: pyproj.CRS) -> Spoken:
    """Say where a place is.

    Parameters
    ----------
    place : tuple of float or LonLat
        Grid coordinates of the area, or degrees on WGS84.
    crs : CRS
        The area's grid.

    Returns
    -------
    Spoken
    """
    x, y = grid_of(place, crs)
    grid = f"{crs.name}: {x:.0f} E {y:.0f} N" if math.isfinite(x) else ""
    try:
        lon, lat = degrees_of(place, crs)
    except InputError:
        return Spoken("", "", grid, "")
    zone = utm_for(WGS84, lon, lat)
    east, north = _moved(WGS84, zone, lon, lat)
    utm = f"{zone.name}: {east:.0f} E {north:.0f} N" if crs.utm_zone is None else ""
    national = ""
    if lon < AMERICAS_EAST_DEG and zone.utm_zone is not None:
        national = national_grid(int(zone.utm_zone[:-1]), lat, east, north)
    return Spoken(decimal_degrees(lat, lon), decimal_minutes(lat, lon), grid, utm, national)


def degrees_of(place: Place, crs: pyproj.CRS) -> tuple[float, float]:
    """Give longitude and latitude of a place, WGS84 degrees.

    Raises
    ------
    InputError
        If the shift from the area's datum is a guess.
    """
    if isinstance(place, LonLat):
        return place.lon, place.lat
    return _moved(crs, WGS84, *place)


def grid_of(place: Place, crs: pyproj.CRS) -> tuple[float, float]:
    """Give grid coordinates of a place, metres; NaN where the way to them is not known."""
    if not isinstance(place, LonLat):
        return place
    try:
        return _moved(WGS84, crs, place.lon, place.lat)
    except InputError:
        return math.nan, math.nan


def decimal_degrees(lat: float, lon: float) -> str:
    """Say a place in decimal degrees: a metre to the last figure, a minus west and south.

    Examples
    --------
    >>> decimal_degrees(42.4721234, -75.21873)
    '42.47212, -75.21873'
    """
    return f"{lat:.5f}, {lon:.5f}"


def decimal_minutes(lat: float, lon: float) -> str:
    """Say a place in degrees and decimal minutes, two metres to the last figure.

    Examples
    --------
    >>> decimal_minutes(42.4721234, -75.21873)
    '42° 28.327′ N, 75° 13.124′ W'
    >>> decimal_minutes(-0.9999999, 9.9999999)
    '1° 00.000′ S, 10° 00.000′ E'
    """
    said = []
    for value, (plus, minus) in ((lat, "NS"), (lon, "EW")):
        whole, thousandths = divmod(round(abs(value) * 60_000), 60_000)
        letter = minus if value < 0 else plus
        said.append(f"{whole}° {thousandths / 1000:06.3f}\N{PRIME} {letter}")
    return ", ".join(said)


def grid_turn_deg(crs: pyproj.CRS, x: float, y: float) -> float:
    """Give how far grid north is turned from true north at a place, degrees, + to the east."""
    projection = pyproj.Proj(horizontal(crs))
    lon, lat = projection(x, y, inverse=True)  # on the grid's own datum: no shift is needed
    return float(projection.get_factors(lon, lat).meridian_convergence)


def _moved(source: pyproj.CRS, target: pyproj.CRS, x: float, y: float) -> tuple[float, float]:
    """Move one place from a CRS to another, x before y."""
    move = change(source, target, (x, y, x, y), "[access]")
    east, north = move(np.array([x]), np.array([y]))
    return float(east[0]), float(north[0])
