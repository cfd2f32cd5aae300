"""What a plan is written as besides, where it is asked for."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Extras:
    """Files on request.

    Parameters
    ----------
    by_day : bool
        A plan.gpx for each day of the work.
    geojson : bool
        All layers as one GeoJSON file.
    rasters : bool
        Slope classes, water strips and reach as cloud-optimised GeoTIFFs.
    """

    by_day: bool = False
    geojson: bool = False
    rasters: bool = False


NONE = Extras()
