"""Ground and areas made from a formula, so that the right answer is known."""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, box
from shapely.geometry.base import BaseGeometry

from layout.grid import Dem
from layout.records import Landing, Trail, WaterStrip
from layout.settings import AreaSettings
from layout.site import Area, Trees
from layout.terrain import Terrain, build
from layout.water import Strips

Floats = NDArray[np.float64]
CRS = pyproj.CRS.from_epsg(26918)
WEST, SOUTH, SIZE_M = 500_000.0, 4_700_000.0, 400


def at(x: float, y: float) -> tuple[float, float]:
    """Give grid coordinates of a place in metres from the south-west corner."""
    return (WEST + x, SOUTH + y)


def dem_of(height: Callable[[Floats, Floats], Any], cell_m: float = 1.0) -> Dem:
    """Make a grid from a height formula of metres east and north of the corner."""
    n = round(SIZE_M / cell_m)
    step = (np.arange(n) + 0.5) * cell_m
    x, y = np.meshgrid(step, step[::-1])
    z = np.broadcast_to(np.asarray(height(x, y), dtype=float), (n, n))
    # doubles, so that a limit hit exactly by the formula is hit exactly by the grid
    return Dem(np.ascontiguousarray(z), WEST, SOUTH + SIZE_M, cell_m)  # type: ignore[arg-type]


def terrain_of(height: Callable[[Floats, Floats], Any], cell_m: float = 1.0) -> Terrain:
    """Make the ground from a height formula."""
    dem = dem_of(height, cell_m)
    smooth = build(dem).smooth
    return Terrain(dem=dem, smooth=smooth)


def settings_of(**tables: dict[str, Any]) -> AreaSettings:
    """Make settings; tables given are merged over the least there must be."""
    raw: dict[str, dict[str, Any]] = {
        "area": {"name": "made", "units": "us"},
        "ground": {"dem": "d.tif"},
        "stand": {"boundary": "s.gpkg", "trees": "t.csv"},
    }
    for name, values in tables.items():
        raw[name] = raw.get(name, {}) | values
    return AreaSettings.model_validate({"format": 1, **raw})


def trees_of(rows: Sequence[dict[str, Any]] = (), *, full_list: bool = True) -> Trees:
    """Make a tree list; a row holds x and y from the corner and what differs from plain."""
    n = len(rows)

    def column(name: str, default: Any) -> list[Any]:
        return [row.get(name, default) for row in rows]

    def numbers(name: str, default: float = math.nan) -> Floats:
        return np.array(column(name, default), dtype=float)

    ids = tuple(str(row.get("tree_id", f"T{i + 1}")) for i, row in enumerate(rows))
    return Trees(
        tree_id=ids,
        x=numbers("x") + WEST,
        y=numbers("y") + SOUTH,
        species=tuple(column("species", "sugar maple")),
        dbh_cm=numbers("dbh_cm", 30.0),
        height_m=numbers("height_m", 20.0),
        marked=np.array(column("marked", False), dtype=bool),
        keep=tuple(column("keep", "")),
        hazard=tuple(column("hazard", "")),
        position_error_m=numbers("position_error_m"),
        lean_deg=numbers("lean_deg"),
        lean_azimuth_deg=numbers("lean_azimuth_deg"),
        logs=numbers("logs"),
        defect_pct=numbers("defect_pct"),
        full_list=full_list,
        table=pd.DataFrame({"tree_id": list(ids)}, index=range(n)),
    )


def area_of(terrain: Terrain, settings: AreaSettings | None = None, **fields: Any) -> Area:
    """Make an area whose stand fills the grid but for 10 m round its edge."""
    given = {"trees": trees_of()} | fields
    return Area(
        folder=Path("made"),
        settings=settings or settings_of(),
        crs=CRS,
        dem=terrain.dem,
        stand=given.pop("stand", MultiPolygon([box(*at(10, 10), *at(SIZE_M - 10, SIZE_M - 10))])),
        **given,
    )


def strips_of(terrain: Terrain, *shapes: BaseGeometry) -> Strips:
    """Make water strips of given outlines; no rope may enter them."""
    shape = terrain.dem.shape
    x, y = np.meshgrid(*terrain.dem.centres())
    inside = np.zeros(shape, dtype=bool)
    for outline in shapes:
        inside |= np.asarray(shapely.contains_xy(outline, x, y))
    blank = np.full(shape, np.nan)
    return Strips(
        water=np.zeros(shape, dtype=bool),
        inside=inside,
        no_cable=inside.copy(),
        distance_m=np.full(shape, np.inf),
        required_m=blank,
        nearest_m=np.full(shape, np.inf),
        governing=np.full(shape, -1, dtype=np.int16),
        polygons=tuple(
            WaterStrip(f"brook-{i}", "perennial", "made rule", True, outline)
            for i, outline in enumerate(shapes, 1)
        ),
        findings=(),
    )


def line(*points: tuple[float, float]) -> LineString:
    """Draw a line through places from the corner."""
    return LineString([at(*p) for p in points])


def main_trail(*points: tuple[float, float], **fields: Any) -> Trail:
    """Draw a main trail, landing end first."""
    plain = Trail("M1", "main", "L1", line(*points), 3.6576, "routed")
    return replace(plain, **fields)


def spur(
    trail_id: str, joins: Trail, at_m: float, *points: tuple[float, float], **fields: Any
) -> Trail:
    """Draw a spur whose mouth is a station of another trail; points follow the mouth."""
    mouth = joins.line.interpolate(at_m)
    shape = LineString([(mouth.x, mouth.y), *[at(*p) for p in points]])
    plain = Trail(
        trail_id, "spur", "L1", shape, 3.048, "routed", joins_id=joins.trail_id, joins_at_m=at_m
    )
    return replace(plain, **fields)


def landing_of(x: float, y: float, half_m: float = 12.5) -> Landing:
    """Draw a square landing round a place from the corner."""
    shape = box(*at(x - half_m, y - half_m), *at(x + half_m, y + half_m))
    return Landing("L1", shape, *at(x, y), 3.0, None)
