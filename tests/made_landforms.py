"""Whole jobs on generated ground: ten landforms, each with its stems, from a seed.

Nothing here is real. The landforms are formulas chosen before any plan was made
on them, so that baselines and planner meet the same ground; loads run to a
levelled landing in the middle of the low, southern edge, and no main trail is
drawn. Distances are metres east and north of the stand's middle.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyproj
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from layout.grid import Dem
from layout.settings import AreaSettings
from layout.site import Area, Trees, WaterFeature

Floats = NDArray[np.float64]
Height = Callable[[Floats, Floats, float, np.random.Generator], Floats]

CRS = pyproj.CRS.from_epsg(26918)
EAST_M, NORTH_M = 500_000.0, 4_700_000.0  # the middle of every stand
MARGIN_M = 60.0
LANDING_HALF_M = 12.5
LANDING_IN_M = 25.0  # its middle lies this far inside the stand's edge
LEVEL_M, BLENDED_M = 20.0, 45.0  # the landing's ground: levelled this far out, natural that far


def _waves(
    x: Floats,
    y: Floats,
    rng: np.random.Generator,
    count: int,
    length_m: tuple[float, float],
    steepness: float,
) -> Floats:
    """Add up waves of random bearing; each alone is as steep as said, m per m."""
    z = np.zeros_like(x)
    for _ in range(count):
        length, bearing, phase = rng.uniform(*length_m), *rng.uniform(0, 2 * math.pi, 2)
        along = x * math.cos(bearing) + y * math.sin(bearing)
        z += steepness * length / (2 * math.pi) * np.cos(2 * math.pi * along / length + phase)
    return z


def even_slope(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give a hillside of 12 % with the roughness of any wood floor."""
    return 0.12 * y + 0.02 * x + _waves(x, y, rng, 4, (40, 90), 0.01)


def rolling(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give rolling ground: waves of 60 to 160 m, half of it over 10 %."""
    return 0.04 * y + _waves(x, y, rng, 8, (60, 160), 0.06)


def bowl(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give a cove open to the south, its walls steepening to 22 %."""
    up = np.maximum(y + side_m / 2, 0.0)
    return 0.22 / (2 * side_m) * (1.6 * x**2 + up**2) + _waves(x, y, rng, 4, (50, 100), 0.012)


def ridge_and_hollow(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give spurs and hollows 110 m apart that run up an 8 % hillside."""
    wander = 12.0 * np.sin(y / 45.0 + rng.uniform(0, 2 * math.pi))
    flank = 0.14 * 110.0 / (2 * math.pi) * np.cos(2 * math.pi * (x + wander) / 110.0)
    return 0.08 * y + flank + _waves(x, y, rng, 3, (40, 80), 0.01)


def terraces(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give steps 60 m deep whose risers of about 30 % fade out to ramps here and there."""
    at = y + 10.0 * np.sin(x / 50.0 + rng.uniform(0, 2 * math.pi))
    step, rise = 60.0, 5.0
    part = np.mod(at, step) / step
    sharp = np.clip((part - 0.72) / 0.28, 0.0, 1.0)
    stair = rise * (np.floor(at / step) + sharp * sharp * (3 - 2 * sharp))
    ramp = rise * at / step
    share = 0.5 + 0.5 * np.cos(2 * math.pi * (x + 35.0 * np.floor(at / step)) / 150.0)
    return share * stair + (1 - share) * ramp + _waves(x, y, rng, 3, (40, 80), 0.008)


def broken(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give broken ground: steep waves of every length from 25 to 150 m."""
    return (
        0.05 * y
        + _waves(x, y, rng, 8, (90, 150), 0.07)
        + _waves(x, y, rng, 8, (40, 80), 0.05)
        + _waves(x, y, rng, 6, (25, 35), 0.02)
    )


def gentle(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give a gentle plain: 3 % and long, low swells."""
    return 0.03 * y + _waves(x, y, rng, 6, (120, 260), 0.015)


def valley(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give a valley whose brook (`brook`) runs south in the eastern part of the stand."""
    off = x - _brook_x(y, side_m)
    flank = np.where(off < 0, 0.11, 0.16) * np.maximum(np.abs(off) - 6.0, 0.0)
    return 0.03 * y + flank + _waves(x, y, rng, 5, (50, 110), 0.015)


def _brook_x(y: Floats, side_m: float) -> Floats:
    return 0.30 * side_m + 14.0 * np.sin(y / 55.0)


def fan(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give a fan that spreads from the north at 11 %, with old channels running down it."""
    up = side_m / 2 + 40.0 - y
    out, bearing = np.hypot(x, up), np.arctan2(x, up)
    channels = 0.9 * np.cos(11.0 * bearing + rng.uniform(0, 2 * math.pi))
    return (
        -0.11 * out + channels * np.clip(out / 120.0, 0, 1) + _waves(x, y, rng, 3, (40, 80), 0.01)
    )


def hummocks(x: Floats, y: Floats, side_m: float, rng: np.random.Generator) -> Floats:
    """Give hummocks 2 to 4 m high, four to the hectare, on a plain of 3 %."""
    z = 0.03 * y + _waves(x, y, rng, 3, (80, 160), 0.01)
    half = side_m / 2 + MARGIN_M
    for _ in range(round(4 * (2 * half) ** 2 / 1e4)):
        east, north = rng.uniform(-half, half, 2)
        high, wide = rng.uniform(2.0, 4.0), rng.uniform(9.0, 15.0)
        near = (np.abs(x - east) < 5 * wide) & (np.abs(y - north) < 5 * wide)
        away = (x[near] - east) ** 2 + (y[near] - north) ** 2
        z[near] += high * np.exp(-away / (2 * wide**2))
    return z


LANDFORMS: dict[str, Height] = {
    "even_slope": even_slope,
    "rolling": rolling,
    "bowl": bowl,
    "ridge_and_hollow": ridge_and_hollow,
    "terraces": terraces,
    "broken": broken,
    "gentle": gentle,
    "valley": valley,
    "fan": fan,
    "hummocks": hummocks,
}

PLAIN: dict[str, dict[str, Any]] = {
    "area": {"name": "Generated wood (invented)", "units": "metric"},
    "ground": {"dem": "dem.tif"},
    "stand": {
        "boundary": "stand.gpkg",
        "trees": "trees.csv",
        "setback": "3 m",
        "position_error": "1 m",
    },
    "timber": {"rule": "cubic"},
    "trails": {"width_main": "3.6 m", "width_spur": "3.2 m", "turn_radius": "8 m"},
    "winch": {"cable": "50 m", "choker": "2 m", "pull_rating": "39 kN", "rope_breaking": "80 kN"},
    "tractor": {
        "preset": "mid",
        "rollover_frame": "yes",
        "belt": "yes",
        "screen": "yes",
    },
}
ROPE_60_M = {"cable": "66 m", "working_reach": "60 m", "uphill_reach": "45 m"}


@dataclass(frozen=True, slots=True)
class Case:
    """One generated job, settled by its seed."""

    landform: str
    hectares: float = 8.0
    marked_per_ha: float = 20.0
    leave_per_ha: float = 180.0
    seed: int = 1
    tables: dict[str, dict[str, Any]] = field(default_factory=dict)


# The first ten are one of each landform. Cross slopes past 20 % are driven only on
# a bench, so "open to 30 %" is a bench of up to 30 %.
CASES: dict[str, Case] = {
    **{name: Case(name) for name in LANDFORMS},
    "rolling": Case("rolling", tables={"winch": ROPE_60_M, "trails": {"bench_up_to": "30 %"}}),
    "gentle_50_ha": Case("gentle", hectares=50.0, marked_per_ha=5.0, leave_per_ha=60.0),
}


def settings_of(**tables: dict[str, Any]) -> AreaSettings:
    """Make settings; tables given are merged over the plain ones."""
    raw: dict[str, dict[str, Any]] = {name: dict(values) for name, values in PLAIN.items()}
    for name, values in tables.items():
        raw[name] = raw.get(name, {}) | values
    return AreaSettings.model_validate({"format": 1, **raw})


def ground(landform: str, side_m: float, seed: int, cell_m: float = 1.0) -> Dem:
    """Make the elevations of a square stand and a margin round it, its landing levelled."""
    half = side_m / 2 + MARGIN_M
    n = math.ceil(2 * half / cell_m)
    step = (np.arange(n) + 0.5) * cell_m - half
    x, y = np.meshgrid(step, step[::-1])
    z = LANDFORMS[landform](x, y, side_m, np.random.default_rng([seed, 1]))
    south = LANDING_IN_M - side_m / 2
    apart = np.hypot(x, y - south)
    row, col = np.unravel_index(int(np.argmin(apart)), apart.shape)
    level = z[row, col] + 0.03 * (y - south)
    natural = np.clip((apart - LEVEL_M) / (BLENDED_M - LEVEL_M), 0.0, 1.0)
    natural = natural * natural * (3 - 2 * natural)
    z = 300.0 + natural * z + (1 - natural) * level
    return Dem(z.astype(np.float32), EAST_M - half, NORTH_M - half + n * cell_m, cell_m)


def stems(side_m: float, marked_per_ha: float, leave_per_ha: float, seed: int) -> Trees:
    """Scatter stems, none on another: one a cell of a square grid, anywhere in its middle.

    The marked ones are drawn by lot.
    """
    rng = np.random.default_rng([seed, 2])
    per_ha = marked_per_ha + leave_per_ha
    across = max(round(side_m * math.sqrt(per_ha / 1e4)), 1)
    cell = side_m / across
    j, i = (a.ravel() for a in np.mgrid[0:across, 0:across])
    x = (i + 0.5 + rng.uniform(-0.35, 0.35, i.size)) * cell - side_m / 2
    y = (j + 0.5 + rng.uniform(-0.35, 0.35, j.size)) * cell - side_m / 2
    marked = np.zeros(i.size, dtype=bool)
    marked[rng.permutation(i.size)[: round(marked_per_ha * side_m**2 / 1e4)]] = True
    # nothing stands on the landing, nor half under its edge
    clear = np.maximum(np.abs(x), np.abs(y + side_m / 2 - LANDING_IN_M)) > LANDING_HALF_M + 1.0
    x, y, marked = x[clear], y[clear], marked[clear]
    n = x.size
    blank = np.full(n, np.nan)
    ids = tuple(f"T{k + 1}" for k in range(n))
    return Trees(
        tree_id=ids,
        x=EAST_M + np.round(x, 2),
        y=NORTH_M + np.round(y, 2),
        species=("sugar maple",) * n,
        dbh_cm=np.round(rng.uniform(22, 45, n)),
        height_m=np.full(n, 20.0),
        marked=marked,
        keep=("",) * n,
        hazard=("",) * n,
        position_error_m=blank,
        lean_deg=blank,
        lean_azimuth_deg=blank,
        logs=blank,
        defect_pct=blank,
        full_list=True,
        table=pd.DataFrame({"tree_id": list(ids)}),
    )


def square(side_m: float) -> Polygon:
    """Draw the stand's outline."""
    return box(EAST_M - side_m / 2, NORTH_M - side_m / 2, EAST_M + side_m / 2, NORTH_M + side_m / 2)


def landing_square(side_m: float) -> Polygon:
    """Draw the landing, its sides along the stand's."""
    south = NORTH_M - side_m / 2 + LANDING_IN_M
    return box(
        EAST_M - LANDING_HALF_M,
        south - LANDING_HALF_M,
        EAST_M + LANDING_HALF_M,
        south + LANDING_HALF_M,
    )


def brook(side_m: float) -> WaterFeature:
    """Draw the brook of the valley, from beyond one edge to beyond the other."""
    north = np.linspace(side_m / 2 + MARGIN_M - 5, -side_m / 2 - MARGIN_M + 5, 80)
    line = LineString(np.column_stack([EAST_M + _brook_x(north, side_m), NORTH_M + north]).tolist())
    return WaterFeature("brook", "perennial", line, bank_width_m=1.5)


def wood(case: Case, *, draw_landing: bool = True) -> Area:
    """Make the whole job of a case; without a drawn landing one is looked for."""
    side = math.sqrt(case.hectares * 1e4)
    road_y = NORTH_M - side / 2 - 20.0
    return Area(
        folder=Path("made"),
        settings=settings_of(**case.tables),
        crs=CRS,
        dem=ground(case.landform, side, case.seed),
        stand=MultiPolygon([square(side)]),
        trees=stems(side, case.marked_per_ha, case.leave_per_ha, case.seed),
        water=(brook(side),) if case.landform == "valley" else (),
        access_road=(LineString([(EAST_M - side / 2, road_y), (EAST_M + side / 2, road_y)]),),
        landing=landing_square(side) if draw_landing else None,
    )
