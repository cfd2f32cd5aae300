"""The plan's places as longitude, latitude and height, for phones and receivers.

Where the shift from the area's datum is a guess, no coordinates are given at
all: a file that puts a trail tens of metres off is worse than none.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from pyproj.exceptions import ProjError

from layout.errors import InputError
from layout.geometry import Floats
from layout.grid import Dem, bilinear
from layout.outputs.words import say
from layout.projection import WGS84, Change, change, horizontal
from layout.site import Area
from layout.speech import speak_length

MOST_SHIFT_M = 10.0  # a phone's own error on a good day under trees; ours
TOLD_SHIFT_M = 2.0  # as the readers of the inputs tell it
DECIMALS = 7  # of a degree: about a centimetre
HEIGHT_DECIMALS = 1


@dataclass(frozen=True, slots=True, eq=False)
class Degrees:
    """The way from the area's coordinates to WGS 84.

    Parameters
    ----------
    dem : Dem
        Where heights come from.
    shift : Change
        The way, x before y on both sides.
    """

    dem: Dem
    shift: Change

    @property
    def told_shift_m(self) -> float | None:
        """How far off the change of datum may be, metres; None where that is little."""
        return self.shift.accuracy_m if self.shift.accuracy_m > TOLD_SHIFT_M else None

    def lon_lat(self, xy: Floats) -> Floats:
        """Give longitudes and latitudes.

        Parameters
        ----------
        xy : ndarray of float, shape (n, 2)
            Grid coordinates, metres.

        Returns
        -------
        ndarray of float, shape (n, 2)
            Degrees to seven decimals, longitude from -180 up to but not 180.
        """
        lon, lat = self.shift(xy[:, 0], xy[:, 1])
        lon = np.round((lon + 180.0) % 360.0 - 180.0, DECIMALS)
        lon = np.where(lon >= 180.0, lon - 360.0, lon)
        return np.column_stack([lon, np.round(lat, DECIMALS)]) + 0.0

    def heights(self, xy: Floats) -> Floats:
        """Give ground heights, metres, shape (n,); NaN where not known."""
        return np.round(bilinear(self.dem, xy[:, 0], xy[:, 1]), HEIGHT_DECIMALS) + 0.0


def way(area: Area) -> Degrees | None:
    """Find the way from an area's coordinates to degrees.

    Parameters
    ----------
    area : Area
        The job.

    Returns
    -------
    Degrees or None
        None where it may be off by more than 10 m, or is not known.
    """
    west, south, east, north = area.dem.bounds
    try:
        shift = change(area.crs, WGS84, (west, south, east, north), "")
        corners = shift(np.array([west, east, west, east]), np.array([south, south, north, north]))
    except (InputError, ProjError):
        return None
    if shift.accuracy_m > MOST_SHIFT_M or not np.isfinite(corners).all():
        return None
    return Degrees(area.dem, shift)


def why_left_out(area: Area) -> tuple[str, ...]:
    """Say why no file in degrees is written; empty where the way is known."""
    if way(area) is not None:
        return ()
    most = speak_length(MOST_SHIFT_M, area.settings.area.units)
    return (say("device_left_out", crs=horizontal(area.crs).name, most=most),)


def why_not(area: Area, option: str) -> str:
    """Say why an option that writes degrees cannot be kept; empty where it can.

    Parameters
    ----------
    area : Area
        The job.
    option : str
        As it was asked for.

    Returns
    -------
    str
        One sentence that says what to do.
    """
    if way(area) is not None:
        return ""
    most = speak_length(MOST_SHIFT_M, area.settings.area.units)
    return say("extra_not_written", option=option, crs=horizontal(area.crs).name, most=most)
