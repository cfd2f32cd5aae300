"""Small areas with water on ground of a known shape."""

from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
from shapely.geometry import MultiPolygon, box

from layout import terrain, water
from layout.grid import Dem
from layout.settings import AreaSettings
from layout.site import Area, Trees, WaterFeature

WEST_M, NORTH_M = 500_000.0, 4_500_000.0


def area_with(
    dem: Dem, *bodies: WaterFeature, rules: tuple[str, ...] = (), folder: Path = Path()
) -> Area:
    """Give an area whose stand is the whole grid."""
    none = np.zeros(0)
    return Area(
        folder=folder,
        settings=AreaSettings.model_validate(
            {
                "format": 1,
                "area": {"name": "known ground", "units": "us"},
                "ground": {"dem": "d.tif"},
                "stand": {"boundary": "s.gpkg", "trees": "t.csv"},
                "water": {"rules": list(rules)},
            }
        ),
        crs=pyproj.CRS(26918),
        dem=dem,
        stand=MultiPolygon([box(*dem.bounds)]),
        trees=Trees(
            tree_id=(),
            x=none,
            y=none,
            species=(),
            dbh_cm=none,
            height_m=none,
            marked=np.zeros(0, dtype=bool),
            keep=(),
            hazard=(),
            position_error_m=none,
            lean_deg=none,
            lean_azimuth_deg=none,
            logs=none,
            defect_pct=none,
            full_list=False,
            table=pd.DataFrame(),
        ),
        water=bodies,
    )


def strips_of(area: Area) -> water.Strips:
    """Lay out the strips of an area."""
    return water.strips(area, terrain.build(area.dem))


def plane(
    slope_pct: float, uphill_deg: float = 90.0, cell_m: float = 1.0, cells: int = 130
) -> tuple[Dem, np.ndarray]:
    """Give a tilted plane and, for each cell, how far it lies uphill of the middle.

    ``uphill_deg`` is counter-clockwise from east. The middle is the grid's middle,
    where a stream along the contour is drawn.
    """
    step = (np.arange(cells) + 0.5 - 0.5 * cells) * cell_m
    east, north = np.meshgrid(step, -step)
    turn = np.radians(uphill_deg)
    uphill = east * np.cos(turn) + north * np.sin(turn)
    z = (500 + 0.01 * slope_pct * uphill).astype(np.float32)
    return Dem(z, WEST_M, NORTH_M, cell_m), uphill


def contour_line(dem: Dem, uphill_deg: float) -> list[tuple[float, float]]:
    """Give the ends of a straight stream along the contour through the middle."""
    west, south, east, north = dem.bounds
    x, y, far = 0.5 * (west + east), 0.5 * (south + north), 2 * (east - west)
    turn = np.radians(uphill_deg)
    dx, dy = -far * np.sin(turn), far * np.cos(turn)
    return [(x - dx, y - dy), (x + dx, y + dy)]
