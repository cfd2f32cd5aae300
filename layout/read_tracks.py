"""Tracks and routes of a GPX file, taken from their points.

The reader of whole tracks gives up at a piece of one point, which phones write
at every pause. What a receiver says of its own error is read here as well.
"""

import re
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import shapely

POINTS = {"tracks": ("track_points", "track_fid"), "routes": ("route_points", "route_fid")}
USER_RANGE_ERROR_M = 5.0  # of a receiver without corrections; from memory
WORST_SHARE = 0.9  # nine tenths of the fixes are as good
ROUGHLY_ALL = 2.0  # twice the DRMS holds about 95 of 100 fixes
_HDOP = re.compile(rb"<(?:[\w.-]+:)?hdop>\s*([0-9.]+)\s*<", re.IGNORECASE)
_ACCURACY = re.compile(
    rb"<(?:[\w.-]+:)?(?:h?accuracy|hacc|horizontalaccuracy)>\s*([0-9.]+)\s*<", re.IGNORECASE
)


def tracks(path: Path, layer: str) -> gpd.GeoDataFrame:
    """Read the tracks or the routes of a GPX file.

    Parameters
    ----------
    path : Path
        The file.
    layer : {"tracks", "routes"}

    Returns
    -------
    GeoDataFrame
        Columns as in the file. A track in several pieces is a MultiLineString;
        pieces of one point are left out, and a track without a piece has no shape.
    """
    name, key = POINTS[layer]
    table = pyogrio.read_dataframe(path, layer=layer, read_geometry=False, fid_as_index=True)
    segment = ["track_seg_id"] if layer == "tracks" else []
    points = pyogrio.read_dataframe(path, layer=name, columns=[key, *segment])
    xy = shapely.get_coordinates(points.geometry.to_numpy())
    groups = points[key].to_numpy(dtype=np.int64)
    pieces = points[segment[0]].to_numpy(dtype=np.int64) if segment else np.zeros_like(groups)
    shapes: dict[int, list[shapely.LineString]] = {}
    starts = np.flatnonzero(np.diff(groups) | np.diff(pieces)) + 1
    for rows in np.split(np.arange(len(groups)), starts):
        if len(rows) > 1:
            shapes.setdefault(int(groups[rows[0]]), []).append(shapely.LineString(xy[rows]))
    column = [_joined(shapes.get(int(fid), [])) for fid in table.index]
    plain = pd.DataFrame(table).reset_index(drop=True)
    return gpd.GeoDataFrame(plain, geometry=gpd.GeoSeries(column, crs="EPSG:4326"))


def _joined(pieces: list[shapely.LineString]) -> shapely.Geometry | None:
    """Put the pieces of a track together."""
    if not pieces:
        return None
    return pieces[0] if len(pieces) == 1 else shapely.MultiLineString(pieces)


def stated_error_m(data: bytes) -> float | None:
    """Tell how far off a receiver says its fixes are.

    A stated accuracy in metres is taken for the DRMS; a dilution of precision
    (HDOP) is multiplied by a receiver's usual range error, DRMS = HDOP x range
    error. Twice the DRMS of the worst tenth is the answer.

    Parameters
    ----------
    data : bytes
        Content of a GPX or KML file.

    Returns
    -------
    float or None
        Metres; None where nothing is stated.

    Examples
    --------
    >>> stated_error_m(b"<hdop>1.0</hdop><hdop>1.0</hdop>")
    10.0
    >>> stated_error_m(b"<gpx/>") is None
    True
    """
    for form, factor in ((_ACCURACY, 1.0), (_HDOP, USER_RANGE_ERROR_M)):
        said = [float(v) for v in form.findall(data) if v.count(b".") <= 1 and v != b"."]
        known = [value for value in said if 0 < value < 100]  # 99.9 stands for none
        if known:
            return float(np.quantile(known, WORST_SHARE)) * factor * ROUGHLY_ALL
    return None
