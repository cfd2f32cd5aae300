"""Whole jobs on gentle made ground, of any size, with the landing anywhere; invented.

For stands one main trail cannot serve. Heights are long waves with drawn
directions on an even slope; trees are drawn evenly over the stand.
"""

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, box

from layout.grid import Dem
from layout.site import Area
from tests.made_ground import CRS, SOUTH, WEST, settings_of, trees_of

Floats = NDArray[np.float64]

MARGIN_M = 30.0  # known ground round the stand
WAVES_M = ((1.5, 330.0), (0.6, 140.0), (0.12, 45.0))  # height either way, and length


def _heights(x: Floats, y: Floats, slope_pct: float, rng: np.random.Generator) -> Floats:
    z = 200.0 + slope_pct / 100 * y + 0.01 * x
    for size_m, length_m in WAVES_M:
        for _ in range(3):
            turn, phase = rng.uniform(0.0, 2 * math.pi, 2)
            k = 2 * math.pi / (length_m * rng.uniform(0.8, 1.25))
            z = z + size_m / math.sqrt(3) * np.sin(
                k * (x * np.cos(turn) + y * np.sin(turn)) + phase
            )
    return z


def wide_stand(
    size_m: tuple[float, float],
    landing_at: tuple[float, float],
    *,
    marked_per_ha: float = 8.0,
    slope_pct: float = 4.0,
    cell_m: float = 2.0,
    landing_m: float = 25.0,
    seed: int = 0,
    tables: Mapping[str, Mapping[str, Any]] | None = None,
    **fields: Any,
) -> Area:
    """Make a job; places are metres from the stand's south-west corner.

    Parameters
    ----------
    size_m : tuple of float
        Width and depth of the stand.
    landing_at : tuple of float
        Middle of the landing, laid level but for 3 %.
    marked_per_ha : float
        Marked trees a hectare; the list holds no others.
    slope_pct : float
        How the ground rises to the north.
    cell_m, landing_m : float
        Elevation cell, side of the landing.
    seed : int
        For waves and trees.
    tables : mapping, optional
        Settings over the least there must be.
    **fields
        Of the Area, over those made here.

    Returns
    -------
    Area
    """
    wide, deep = size_m
    lx, ly = landing_at
    rng = np.random.default_rng(seed)
    cols, rows = (math.ceil((side + 2 * MARGIN_M) / cell_m) for side in size_m)
    x = (np.arange(cols) + 0.5) * cell_m - MARGIN_M
    y = (np.arange(rows)[::-1] + 0.5) * cell_m - MARGIN_M
    gx, gy = np.meshgrid(x, y)
    z = _heights(gx, gy, slope_pct, rng)
    level = float(z[(np.abs(gx - lx) < landing_m) & (np.abs(gy - ly) < landing_m)].mean())
    off = np.maximum(np.maximum(np.abs(gx - lx), np.abs(gy - ly)) - landing_m / 2 - 4.0, 0.0)
    own = np.clip(1 - off / 25.0, 0.0, 1.0)
    own = own * own * (3 - 2 * own)
    z = own * (level + 0.03 * (gy - ly)) + (1 - own) * z
    count = round(marked_per_ha * wide * deep / 1e4)
    tx, ty = rng.uniform(4.0, wide - 4.0, 2 * count), rng.uniform(4.0, deep - 4.0, 2 * count)
    clear = np.maximum(np.abs(tx - lx), np.abs(ty - ly)) > landing_m / 2 + 5.0
    trees = trees_of(
        [
            {"tree_id": f"T{k + 1}", "x": float(tx[i]), "y": float(ty[i]), "marked": True}
            for k, i in enumerate(np.flatnonzero(clear)[:count])
        ],
        full_list=False,
    )
    given: dict[str, Any] = {
        "folder": Path("made"),
        "settings": settings_of(
            **{
                "area": {"name": "Made wide stand (invented)", "units": "metric"},
                "stand": {"position_error": "1 m"},
                "tractor": {"rollover_frame": "yes", "belt": "yes", "screen": "yes"},
                **{name: dict(values) for name, values in (tables or {}).items()},
            }
        ),
        "crs": CRS,
        "dem": Dem(
            np.ascontiguousarray(z, dtype=np.float32),
            WEST - MARGIN_M,
            SOUTH - MARGIN_M + rows * cell_m,
            cell_m,
        ),
        "stand": MultiPolygon([box(WEST, SOUTH, WEST + wide, SOUTH + deep)]),
        "trees": trees,
        "landing": box(
            WEST + lx - landing_m / 2, SOUTH + ly - landing_m / 2,
            WEST + lx + landing_m / 2, SOUTH + ly + landing_m / 2,
        ),
    }  # fmt: skip
    return Area(**(given | fields))
