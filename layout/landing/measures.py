"""Measuring a landing: the plane its ground makes, its middle, its distance to water."""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.grid import Dem, bilinear
from layout.records import Landing
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips


@dataclass(frozen=True, slots=True)
class Plane:
    """The plane of least squares through the ground inside an outline.

    Parameters
    ----------
    slope_pct : float
        Its slope, percent.
    downhill_rad : float
        Direction it falls to, counter-clockwise from grid east.
    z_m : float
        Its height at the outline's centroid, metres.
    rough_m : float
        Root mean square distance of the ground from it, metres.
    """

    slope_pct: float
    downhill_rad: float
    z_m: float
    rough_m: float


def _spaced(low: float, high: float, step: float) -> NDArray[np.float64]:
    """Space places evenly about the middle: ground laid another way has the same ones."""
    count = max(round((high - low) / step), 1)
    return np.asarray((low + high) / 2 + step * (np.arange(count) - (count - 1) / 2), dtype=float)


def plane_of(dem: Dem, shape: BaseGeometry) -> Plane | None:
    """Fit a plane to the ground inside an outline.

    Parameters
    ----------
    dem : Dem
        Elevations as read.
    shape : Polygon
        The outline, grid coordinates in metres.

    Returns
    -------
    Plane or None
        None where the elevation grid does not cover the whole outline.
    """
    west, south, east, north = shape.bounds
    step = max(0.25, min(dem.cell_m, math.sqrt(max(shape.area, 1e-6)) / 12))
    gx, gy = np.meshgrid(_spaced(west, east, step), _spaced(south, north, step))
    inside = np.asarray(shapely.contains_xy(shape, gx, gy))
    x, y = gx[inside], gy[inside]
    if x.size < 3:
        return None
    z = bilinear(dem, x, y)
    if not np.isfinite(z).all():
        return None
    centre = shape.centroid
    design = np.column_stack([x - centre.x, y - centre.y, np.ones_like(x)])
    (east_m, north_m, height), *_ = np.linalg.lstsq(design, z, rcond=None)
    miss = z - design @ np.array([east_m, north_m, height])
    return Plane(
        slope_pct=100.0 * math.hypot(east_m, north_m),
        downhill_rad=math.atan2(-north_m, -east_m),
        z_m=float(height),
        rough_m=float(np.sqrt(np.mean(miss**2))),
    )


def measured(area: Area, terrain: Terrain, strips: Strips) -> tuple[Landing, ...]:
    """Measure all landings of an area, L1, L2 ...; see `measure`."""
    names = ("L1", *(more.landing_id for more in area.more_landings))
    return tuple(
        measure(area, terrain, strips, shape, name)
        for name, shape in zip(names, area.landings, strict=False)
    )


def measure(
    area: Area, terrain: Terrain, strips: Strips, shape: Polygon, landing_id: str = "L1"
) -> Landing:
    """Measure a drawn landing.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its ground.
    strips : Strips
        Its water strips; not used for the measures, taken so that all that
        judge a landing are called alike.
    shape : Polygon
        Outline, grid coordinates in metres.
    landing_id : str, optional
        Its name.

    Returns
    -------
    Landing
        ``slope_pct`` is NaN where the elevation grid does not cover it.

    Raises
    ------
    InputError
        If the outline is empty or crosses itself.
    """
    if shape.is_empty or not shape.is_valid or shape.area <= 0:
        msg = "the landing's outline is empty or crosses itself; draw it again as one simple ring"
        raise InputError(msg)
    plane = plane_of(terrain.dem, shape)
    point = shape.centroid if shape.contains(shape.centroid) else shape.representative_point()
    water = [float(shape.distance(w.geometry)) for w in area.water]
    return Landing(
        landing_id=landing_id,
        shape=shape,
        x=float(point.x),
        y=float(point.y),
        slope_pct=math.nan if plane is None else plane.slope_pct,
        water_m=min(water) if water else None,
    )
