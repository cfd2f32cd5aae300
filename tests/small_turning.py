"""A small square of tilted ground to lay turning places out on."""

from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
import shapely
from shapely.geometry import MultiPolygon, Polygon

from layout import fairline, terrain
from layout.grid import Dem
from layout.settings import AreaSettings, limits_in_force
from layout.site import Area, Trees


def tilted(slope_pct: float) -> Dem:
    """Give 200 x 200 m of 1 m cells rising eastward."""
    x = np.arange(200) + 0.5
    z = np.tile(x * slope_pct / 100, (200, 1)).astype(np.float32)
    return Dem(z, 0.0, 200.0, 1.0)


def flat_area() -> Polygon:
    """Give the open ground."""
    return shapely.box(5, 5, 195, 195)


def judge_on(dem: Dem, radius_m: float) -> fairline.Judge:
    """Give a judge of lines on that ground, with the default limits."""
    settings = AreaSettings.model_validate(
        {
            "format": 1,
            "area": {"name": "square", "units": "us"},
            "ground": {"dem": "d.tif"},
            "stand": {"boundary": "s.gpkg", "trees": "t.csv", "list": "all"},
        }
    )
    none = np.zeros(0)
    trees = Trees(
        (), none, none, (), none, none, np.zeros(0, dtype=bool), (), (), none, none, none, none,
        none, True, pd.DataFrame(),
    )  # fmt: skip
    area = Area(
        Path(), settings, pyproj.CRS.from_epsg(26918), dem, MultiPolygon([flat_area()]), trees
    )
    assert settings.trails.turn_radius_m == radius_m
    return fairline.judge_for(
        area,
        terrain.build(dem),
        limits_in_force(settings),
        flat_area(),
        width_m=settings.trails.width_spur_m,
        weight=1.0,
    )
