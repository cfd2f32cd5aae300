"""A small made-up slope with a landing, a main trail and a few trees; for compiling."""

from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
from shapely.geometry import LineString, MultiPolygon, box

from layout.grid import Dem
from layout.settings import AreaSettings
from layout.site import Area, Trees

SIDE_M = 160.0
RISE = 0.08  # of the slope, up from the landing
STEMS = ((40.0, 70.0), (120.0, 80.0), (45.0, 120.0), (110.0, 125.0))


def made_area() -> Area:
    """Give an area that needs every kernel and little time."""
    half = 0.5 + np.arange(int(SIDE_M) + 80) - 40.0
    dem = Dem(
        np.ascontiguousarray(
            np.repeat((100 + RISE * half[::-1])[:, None], half.size, axis=1), dtype=np.float32
        ),
        -40.0,
        SIDE_M + 40.0,
        1.0,
    )
    settings = AreaSettings.model_validate(
        {
            "area": {"name": "made-up slope", "units": "metric"},
            "ground": {"dem": "none"},
            "stand": {"boundary": "none", "trees": "none"},
            "objective": {"time_limit": "5 s"},
        }
    )
    n = len(STEMS)
    blank = np.full(n, np.nan)
    trees = Trees(
        tree_id=tuple(str(i + 1) for i in range(n)),
        x=np.array([x for x, _ in STEMS]),
        y=np.array([y for _, y in STEMS]),
        species=("red maple",) * n,
        dbh_cm=np.full(n, 35.0),
        height_m=np.full(n, 20.0),
        marked=np.ones(n, dtype=bool),
        keep=("",) * n,
        hazard=("",) * n,
        position_error_m=np.full(n, 1.0),
        lean_deg=blank,
        lean_azimuth_deg=blank,
        logs=blank,
        defect_pct=blank,
        full_list=True,
        table=pd.DataFrame({"tree_id": [str(i + 1) for i in range(n)]}),
    )
    return Area(
        folder=Path(),
        settings=settings,
        crs=pyproj.CRS.from_epsg(32618),
        dem=dem,
        stand=MultiPolygon([box(0, 0, SIDE_M, SIDE_M)]),
        trees=trees,
        landing=box(68, 15, 92, 39),
        main_trail=LineString([(80, 39), (80, 145)]),
    )
