"""How fast pulls are judged: run it, read it; it never fails on time.

    python tests/bench/bench_winch.py

Made-up ground: rolling, a leave stem every 6 m or so with a known place, places to
park at every lattice state (2 m, 16 headings). The yardstick, run in the same
process, is numpy interpolating one elevation for every pull within reach.
"""

import time
from pathlib import Path

import numpy as np
import pandas as pd
import pyproj
from shapely.geometry import MultiPolygon, box

from layout import terrain, water, winch
from layout.grid import Dem, bilinear
from layout.settings import AreaSettings
from layout.site import Area, Trees


def made_area(side_m: int, marked_per_ha: float, leave_per_ha: float, error_m: float) -> Area:
    """Make a square stand on rolling ground."""
    rng = np.random.default_rng(0)
    rows, cols = np.mgrid[0 : side_m + 60, 0 : side_m + 60]
    z = (300 + 6 * np.sin(cols / 37) * np.cos(rows / 45) + 0.03 * cols).astype(np.float32)
    hectares = side_m * side_m / 1e4
    marked, leave = int(hectares * marked_per_ha), int(hectares * leave_per_ha)
    n = marked + leave
    blank = np.full(n, np.nan)
    trees = Trees(
        tree_id=tuple(f"t{i}" for i in range(n)),
        x=500_000 + rng.random(n) * side_m,
        y=4_500_000 + rng.random(n) * side_m,
        species=("northern red oak",) * n,
        dbh_cm=rng.uniform(20, 50, n),
        height_m=blank,
        marked=np.arange(n) < marked,
        keep=("",) * n,
        hazard=("",) * n,
        position_error_m=np.full(n, error_m),
        lean_deg=blank,
        lean_azimuth_deg=blank,
        logs=blank,
        defect_pct=blank,
        full_list=True,
        table=pd.DataFrame(),
    )
    told = AreaSettings.model_validate(
        {
            "format": 1,
            "area": {"name": "bench", "units": "us"},
            "ground": {"dem": "d.tif"},
            "stand": {"boundary": "s.gpkg", "trees": "t.csv"},
        }
    )
    return Area(
        folder=Path(),
        settings=told,
        crs=pyproj.CRS.from_epsg(32618),
        dem=Dem(z, 500_000.0 - 30, 4_500_000.0 + side_m + 30, 1.0),
        stand=MultiPolygon([box(500_000, 4_500_000, 500_000 + side_m, 4_500_000 + side_m)]),
        trees=trees,
    )


def timed(work, *given):  # type: ignore[no-untyped-def]
    """Give the least processor seconds of three runs, and the result."""
    best, result = np.inf, None
    for _ in range(3):
        start = time.process_time()
        result = work(*given)
        best = min(best, time.process_time() - start)
    return best, result


def main() -> None:
    """Print one line a stand."""
    first = time.perf_counter()
    area = made_area(60, 20, 300, 1.0)
    shape = terrain.build(area.dem)
    ground = winch.prepare(area, shape, water.strips(area, shape))
    rules = winch.rules_from(area.settings)
    winch.evaluate(ground, rules, [500_030.0], [4_500_030.0], [0.0], 15.0, False)
    print(f"first call {time.perf_counter() - first:.1f} s (compiles where the cache is empty)")
    for side_m, marked_per_ha, error_m in ((283, 20, 1.0), (283, 20, 5.0), (707, 5, 5.0)):
        area = made_area(side_m, marked_per_ha, 300, error_m)
        shape = terrain.build(area.dem)
        strips = water.strips(area, shape)
        made_s, ground = timed(winch.prepare, area, shape, strips)
        rules = winch.rules_from(area.settings)
        east, north = np.meshgrid(*[np.arange(5, side_m - 5, 2.0)] * 2)
        x, y = np.tile(500_000 + east.ravel(), 16), np.tile(4_500_000 + north.ravel(), 16)
        rear = np.repeat(np.arange(16) * np.pi / 8, east.size)
        search_s, pairs = timed(winch.evaluate, ground, rules, x, y, rear, 15.0, False)
        near = sum(
            int((np.hypot(x - tx, y - ty) <= rules.longest_m).sum())
            for tx, ty in zip(ground.x, ground.y, strict=True)
        )
        some = np.random.default_rng(1).integers(0, x.size, near)
        yard_s, _ = timed(bilinear, area.dem, x[some], y[some])
        print(
            f"{side_m * side_m / 1e4:.0f} ha, {ground.marked.size} marked, place error "
            f"{error_m:g} m: prepare {made_s:.2f} s; {x.size / 1e3:.0f} thousand places, "
            f"{near / 1e6:.2f} million pulls within reach in {search_s:.2f} s "
            f"({1e9 * search_s / near:.0f} ns each, {search_s / yard_s:.2f} of the yardstick); "
            f"{len(pairs)} allowed"
        )


if __name__ == "__main__":
    main()
