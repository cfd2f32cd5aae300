"""Where on earth a layer lies: its CRS, and whether its numbers can be in it."""

import geopandas as gpd
import numpy as np
import pyproj
import shapely
from numpy.typing import NDArray

from layout.errors import InputError
from layout.projection import CRS_REMEDY, WGS84, used_in

LARGEST_COORDINATE = 1e8  # of any grid, in metres or feet
FAR_OFF_DEG = 5.0  # so far outside the area's zone is another country


def crs_of(table: gpd.GeoDataFrame, source: str, where: str, hint: pyproj.CRS | None) -> pyproj.CRS:
    """Settle the CRS of a layer.

    Parameters
    ----------
    table : GeoDataFrame
        The layer.
    source, where : str
        File and layer, and the key that names them.
    hint : CRS or None
        Used only where the file does not say.

    Returns
    -------
    CRS

    Raises
    ------
    InputError
        If none is known, or it is a site grid without a place on earth.
    """
    given = table.crs if table.crs is not None else hint
    if given is None:
        raise InputError(
            f"{where} {source} does not say its CRS; {CRS_REMEDY}, or store it in the file"
        )
    crs = pyproj.CRS.from_user_input(given)
    if crs.is_engineering:
        raise InputError(
            f'{where} {source} is drawn in a local grid ("{crs.name}") whose place on earth is '
            "not known; give it the CRS it was surveyed in"
        )
    return crs


def datum_of(crs: pyproj.CRS) -> str:
    """Name the datum a CRS stands on."""
    return crs.geodetic_crs.name if crs.geodetic_crs is not None else crs.name


def sound_coordinates(
    table: gpd.GeoDataFrame, crs: pyproj.CRS, target: pyproj.CRS, source: str, where: str
) -> None:
    """See that a layer's numbers are numbers, and can be in its CRS.

    Parameters
    ----------
    table : GeoDataFrame
        The layer, no shape missing.
    crs, target : CRS
        Its own, and the area's.
    source, where : str
        File and layer, and the key that names them.

    Raises
    ------
    InputError
        If they cannot.
    """
    shapes = table.geometry.to_numpy()
    xy, index = shapely.get_coordinates(shapes, return_index=True)
    lost = ~np.isfinite(xy).all(axis=1)
    if lost.any():
        raise InputError(
            f"{where} {source} row {index[lost][0] + 1} has a coordinate that is no number; draw "
            "it again"
        )
    if crs.is_geographic:
        _degrees(xy, index, crs, source, where)
        _not_swapped(xy, target, source, where)
        return
    wild = (np.abs(xy) > LARGEST_COORDINATE).any(axis=1)
    if wild.any():
        x, y = xy[wild][0]
        raise InputError(
            f"{where} {source} row {index[wild][0] + 1} has a place no map has ({x:.6g}, "
            f"{y:.6g}); draw it again"
        )


def _degrees(
    xy: NDArray[np.float64], index: NDArray[np.int64], crs: pyproj.CRS, source: str, where: str
) -> None:
    """Refuse numbers that are no degrees."""
    x, y = xy.T
    wild = (x < -180.001) | (x > 360.001) | (np.abs(y) > 90.001)
    if not wild.any():
        return
    if not wild.all():
        raise InputError(
            f"{where} {source} row {index[wild][0] + 1} has a place that is no degrees (longitude "
            f"{x[wild][0]:.6g}, latitude {y[wild][0]:.6g}); mend or take it out"
        )
    said = "GeoJSON is in degrees unless it says otherwise" if crs == WGS84 else crs.name
    raise InputError(
        f"{where} {source} holds numbers that are no degrees ({x.min():.0f}, {y.min():.0f}); "
        f"{said}. Export it with its CRS, as a GeoPackage"
    )


def _not_swapped(xy: NDArray[np.float64], target: pyproj.CRS, source: str, where: str) -> None:
    """Refuse latitude before longitude, where that is what would fit the area."""
    zone = used_in(target)
    if zone is None:
        return

    def near(lon: float, lat: float) -> bool:
        return (
            zone.west - FAR_OFF_DEG <= lon <= zone.east + FAR_OFF_DEG
            and zone.south - FAR_OFF_DEG <= lat <= zone.north + FAR_OFF_DEG
        )

    lon, lat = (float(v) for v in np.median(xy, axis=0))
    if not near(lon, lat) and near(lat, lon):
        raise InputError(
            f"{where} {source} has latitude where longitude belongs ({lon:.4f}, {lat:.4f}): "
            "they are swapped; write longitude first"
        )
