"""Square stands laid out so that what stands and what goes is known."""

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from made_ground import area_of, at, settings_of, terrain_of, trees_of
from shapely.geometry import MultiPolygon, box

from layout import treatment
from layout.checks import check_treatment
from layout.findings import Finding
from layout.plots import Plots
from layout.site import Area, WaterFeature

FLAT = terrain_of(lambda x, y: 100 + 0 * x)


def stand(
    rows: list[dict[str, Any]],
    size_m: float = 100.0,
    full_list: bool = True,
    plots: Plots | None = None,
    folder: Path | None = None,
    brooks: tuple[WaterFeature, ...] = (),
    **tables: dict[str, Any],
) -> Area:
    """Give a square stand with its corner 50 m from the grid's."""
    tables.setdefault("stand", {"position_error": "1 m"})
    area = area_of(
        FLAT,
        settings_of(**tables),
        trees=trees_of(rows, full_list=full_list),
        stand=MultiPolygon([box(*at(50, 50), *at(50 + size_m, 50 + size_m))]),
        plots=plots,
        water=brooks,
    )
    return area if folder is None else replace(area, folder=folder)


def grid(n: int, size_m: float = 100.0, **plain: Any) -> list[dict[str, Any]]:
    """Give n times n trees evenly over the stand."""
    step = size_m / n
    return [
        {"x": 50 + step * (i + 0.5), "y": 50 + step * (j + 0.5), **plain}
        for i in range(n)
        for j in range(n)
    ]


def told(area: Area, done: treatment.Treatment | None = None, **more: Any) -> dict[str, Finding]:
    found = check_treatment(area, FLAT, done or treatment.treat(area), **more)
    return {f.code: f for f in found}


def plots_of(counts: list[int], cm: float = 30.0) -> Plots:
    """Give plots of a hundredth of a hectare with like trees."""
    plot = np.repeat(np.arange(len(counts)), counts)
    return Plots(
        plot_id=tuple(f"P{k}" for k in range(len(counts))),
        area_m2=np.full(len(counts), 100.0),
        factor_m2_per_ha=np.full(len(counts), math.nan),
        x=np.full(len(counts), at(100, 100)[0]),
        y=np.full(len(counts), at(100, 100)[1]),
        plot=plot,
        species=("sugar maple",) * plot.size,
        dbh_cm=np.full(plot.size, cm),
        height_m=np.full(plot.size, math.nan),
        count=np.ones(plot.size),
        marked=None,
    )
