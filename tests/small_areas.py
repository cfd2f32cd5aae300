"""A small wood made from a formula, to be turned, mirrored, moved and spoiled by tests.

Everything lies on multiples of 1/64 m about the middle of a square grid with an
even number of cells, so that quarter turns, mirrors and moves by whole cells
are exact: a plan that differs afterwards differs for a reason in the planner.
The ground has no level or evenly sloping part and the softer limits begin at
almost nothing, so that no two ways across it cost the same.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyproj
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from layout.grid import Dem
from layout.settings import AreaSettings
from layout.site import Area, Trees

Floats = NDArray[np.float64]
Turn = Callable[[Floats, Floats], tuple[Floats, Floats]]

CRS = pyproj.CRS.from_epsg(26918)
MIDDLE = (500_000.0, 4_700_000.0)
CELL_M = 2.0
HALF_CELLS = 62
HALF_M = HALF_CELLS * CELL_M
STAND_HALF_M = 84.0
GRAIN_M = 1 / 64

# how the eight ways to lay a square on itself move x, y and the rows of a grid
TURNS: dict[str, tuple[Turn, Callable[[NDArray[Any]], NDArray[Any]]]] = {
    "quarter": (lambda x, y: (-y, x), lambda z: np.rot90(z, 1)),
    "half": (lambda x, y: (-x, -y), lambda z: np.rot90(z, 2)),
    "three_quarters": (lambda x, y: (y, -x), lambda z: np.rot90(z, 3)),
    "east_west": (lambda x, y: (-x, y), lambda z: z[:, ::-1]),
    "north_south": (lambda x, y: (x, -y), lambda z: z[::-1, :]),
    "diagonal": (lambda x, y: (y, x), lambda z: np.rot90(z, 2).T),
    "other_diagonal": (lambda x, y: (-y, -x), lambda z: z.T),
}

SETTINGS: dict[str, dict[str, Any]] = {
    "area": {"name": "Made wood", "units": "metric"},
    "ground": {"dem": "dem.tif"},
    "stand": {
        "boundary": "stand.gpkg",
        "trees": "trees.csv",
        "setback": "3 m",
        "position_error": "1 m",
    },
    "timber": {"rule": "cubic"},
    "trails": {
        "width_main": "3.6 m",
        "width_spur": "3.2 m",
        "turn_radius": "8 m",
        "favourable_caution": "1 %",
        "adverse_caution": "1 %",
        "cross_slope_caution": "1 %",
        "spur_length": "120 m",
        "back_up": "75 m",
    },
    "winch": {
        "cable": "42 m",
        "choker": "2 m",
        "working_reach": "30 m",
        "uphill_reach": "24 m",
        "pull_rating": "39 kN",
        "rope_breaking": "80 kN",
    },
    "tractor": {
        "mass": "3.2 t",
        "front_share": "38 %",
        "pto_power": "45 kW",
        "lift_rating": "1.5 t",
        "width": "1.9 m",
        "length": "5 m",
        "track": "1.5 m",
        "wheelbase": "2.1 m",
        "cg_height": "0.85 m",
        "pivot_height": "0.5 m",
        "hitch_height": "0.5 m",
        "load_behind_axle": "0.9 m",
        "fairlead_height": "0.9 m",
        "rollover_frame": "yes",
        "belt": "yes",
        "screen": "yes",
    },
    "objective": {"gap": "0 %"},
}


def settings_of(base: Mapping[str, dict[str, Any]] = SETTINGS, **tables: dict[str, Any]) -> Any:
    """Make settings; tables given are merged over the plain ones."""
    raw = {name: dict(values) for name, values in base.items()}
    for name, values in tables.items():
        raw[name] = raw.get(name, {}) | values
    return AreaSettings.model_validate({"format": 1, **raw})


def place(x: float, y: float) -> tuple[float, float]:
    """Give grid coordinates of a place in metres from the middle."""
    return (MIDDLE[0] + round(x / GRAIN_M) * GRAIN_M, MIDDLE[1] + round(y / GRAIN_M) * GRAIN_M)


def plot(west: float, south: float, east: float, north: float) -> Polygon:
    """Draw a rectangle about the middle."""
    return box(*place(west, south), *place(east, north))


def path(*points: tuple[float, float]) -> LineString:
    """Draw a line about the middle."""
    return LineString([place(*p) for p in points])


def relief(seed: int = 4, cell_m: float = CELL_M, half_m: float = HALF_M) -> Dem:
    """Make smooth uneven ground that rises to the north, about 7 % on average."""
    rng = np.random.default_rng(seed)
    n = round(2 * half_m / cell_m)
    step = (np.arange(n) + 0.5) * cell_m - half_m
    x, y = np.meshgrid(step, step[::-1])
    z = 300 + 0.055 * y + 0.012 * x
    for _ in range(12):
        length, way = rng.uniform(60, 150), rng.uniform(0, 2 * np.pi)
        wave = 2 * np.pi / length * (x * np.cos(way) + y * np.sin(way)) + rng.uniform(0, 2 * np.pi)
        z = z + rng.uniform(0.002, 0.004) * length * np.cos(wave)
    return Dem(z.astype(np.float32), MIDDLE[0] - half_m, MIDDLE[1] + half_m, cell_m)


def list_of(rows: list[dict[str, Any]], *, full_list: bool = True) -> Trees:
    """Make a tree list; a row holds x and y from the middle and what differs from plain."""

    def numbers(name: str, default: float = np.nan) -> Floats:
        return np.array([row.get(name, default) for row in rows], dtype=float)

    spots = np.array([place(r["x"], r["y"]) for r in rows], dtype=float).reshape(-1, 2)
    ids = tuple(str(row.get("tree_id", f"T{i + 1}")) for i, row in enumerate(rows))
    return Trees(
        tree_id=ids,
        x=spots[:, 0].copy(),
        y=spots[:, 1].copy(),
        species=tuple(row.get("species", "sugar maple") for row in rows),
        dbh_cm=numbers("dbh_cm", 32.0),
        height_m=numbers("height_m", 20.0),
        marked=np.array([row.get("marked", False) for row in rows], dtype=bool),
        keep=tuple(row.get("keep", "") for row in rows),
        hazard=tuple(row.get("hazard", "") for row in rows),
        position_error_m=numbers("position_error_m"),
        lean_deg=numbers("lean_deg"),
        lean_azimuth_deg=numbers("lean_azimuth_deg"),
        logs=numbers("logs"),
        defect_pct=numbers("defect_pct"),
        full_list=full_list,
        table=pd.DataFrame({"tree_id": list(ids)}, index=range(len(ids))),
    )


def scattered(
    marked: int = 14,
    leave: int = 50,
    seed: int = 7,
    half_m: float = STAND_HALF_M - 8,
    apart_m: float = 7.0,
) -> list[dict[str, Any]]:
    """Scatter stems that keep apart; the first ones are marked."""
    rng = np.random.default_rng(seed)
    spots: list[NDArray[np.float64]] = []
    while len(spots) < marked + leave:
        spot = rng.uniform(-half_m, half_m, 2)
        if all(np.hypot(*(spot - other)) > apart_m for other in spots):
            spots.append(spot)
    return [
        {
            "x": float(x),
            "y": float(y),
            "marked": i < marked,
            "dbh_cm": float(round(rng.uniform(25, 45))),
        }
        for i, (x, y) in enumerate(spots)
    ]


MAIN = path((-31.3, -58.2), (-24.1, -38.4), (-10.6, -14.9), (1.7, 14.2), (6.9, 43.5), (9.2, 66.3))
LANDING = plot(-46.0, -80.0, -18.0, -54.0)


def wood(
    settings: AreaSettings | None = None, rows: list[dict[str, Any]] | None = None, **fields: Any
) -> Area:
    """Make the whole small wood: 2.8 ha, a landing in the south-west, one main trail."""
    plain: dict[str, Any] = {
        "folder": Path("made"),
        "settings": settings or settings_of(),
        "crs": CRS,
        "dem": relief(),
        "stand": MultiPolygon([plot(-STAND_HALF_M, -STAND_HALF_M, STAND_HALF_M, STAND_HALF_M)]),
        "trees": list_of(scattered() if rows is None else rows),
        "landing": LANDING,
        "main_trail": MAIN,
    }
    return Area(**(plain | fields))


def turned(area: Area, name: str) -> Area:
    """Lay a wood on itself another way: a quarter turn, a mirror."""
    turn, rows = TURNS[name]

    def points(xy: Floats) -> Floats:
        x, y = turn(xy[:, 0] - MIDDLE[0], xy[:, 1] - MIDDLE[1])
        return np.column_stack([x + MIDDLE[0], y + MIDDLE[1]])

    return _redrawn(area, points, area.dem.with_z(rows(area.dem.z)))


def moved(area: Area, east_m: float, north_m: float) -> Area:
    """Move a wood across the country."""
    dem = replace(area.dem, west_m=area.dem.west_m + east_m, north_m=area.dem.north_m + north_m)
    return _redrawn(area, lambda xy: xy + np.array([east_m, north_m]), dem)


def _redrawn(area: Area, points: Callable[[Floats], Floats], dem: Dem) -> Area:
    stems = points(np.column_stack([area.trees.x, area.trees.y]))
    return replace(
        area,
        dem=dem,
        stand=shapely.transform(area.stand, points),
        trees=replace(area.trees, x=stems[:, 0].copy(), y=stems[:, 1].copy()),
        landing=shapely.transform(area.landing, points),
        main_trail=shapely.transform(area.main_trail, points),
        may_use=shapely.transform(area.may_use, points),
        keep_out=tuple(shapely.transform(k, points) for k in area.keep_out),
        water=tuple(replace(w, geometry=shapely.transform(w.geometry, points)) for w in area.water),
        hazards=tuple(
            replace(h, geometry=shapely.transform(h.geometry, points)) for h in area.hazards
        ),
    )
