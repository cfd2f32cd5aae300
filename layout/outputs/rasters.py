"""Slope classes, water strips and reach as cloud-optimised GeoTIFFs, in the area's system."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from rasterio import features, transform
from rasterio.io import MemoryFile
from rasterio.shutil import copy

from layout.grid import Dem
from layout.outputs.reach_grid import reach_grid
from layout.outputs.words import say
from layout.terrain import SLOPE_EDGES_PCT, slope_classes

if TYPE_CHECKING:
    from layout.plan import Plan

SLOPE_NAME, STRIPS_NAME, REACH_NAME = "slope_class.tif", "strips.tif", "reach.tif"
NAMES = (SLOPE_NAME, STRIPS_NAME, REACH_NAME)
NOT_KNOWN = 255
MOST_STRIPS = NOT_KNOWN - 1


def write(plan: Plan, folder: Path) -> None:
    """Write the three rasters.

    Parameters
    ----------
    plan : Plan
        The plan.
    folder : Path
        Where they are written, under `NAMES`.
    """
    slope(plan, folder / SLOPE_NAME)
    strips(plan, folder / STRIPS_NAME)
    reach(plan, folder / REACH_NAME)


def slope(plan: Plan, path: Path) -> None:
    """Write the slope class of each cell: 0 for the gentlest, 255 where not known."""
    dem = plan.area.dem
    classes = slope_classes(dem)
    found = np.where(classes < 0, NOT_KNOWN, classes).astype(np.uint8)
    edges = ["0", *(f"{edge:g}" for edge in SLOPE_EDGES_PCT)]
    named = {
        f"CLASS_{number}": say("raster_slope", low=low, high=high)
        for number, (low, high) in enumerate(pairwise(edges))
    }
    last = {f"CLASS_{len(edges) - 1}": say("raster_slope_over", low=edges[-1])}
    _write(plan, path, dem, found, NOT_KNOWN, say("raster_slope_title"), {**named, **last})


def strips(plan: Plan, path: Path) -> None:
    """Write which water strip each cell touches: its number, 0 for none.

    Where two lie over each other the first of the plan is named; from the 254th on all
    have the number 254.
    """
    dem = plan.area.dem
    shapes = [
        (strip.shape, min(number, MOST_STRIPS))
        for number, strip in enumerate(plan.strips, start=1)
        if not strip.shape.is_empty
    ]
    found = np.zeros(dem.shape, dtype=np.uint8)
    if shapes:
        found = features.rasterize(
            shapes[::-1],  # what is drawn last stays
            out_shape=dem.shape,
            transform=_place(dem),
            all_touched=True,  # a cell the strip only touches is closed too
            dtype=np.uint8,
        )
    named = {
        f"STRIP_{number}": say(
            "raster_strip" if strip.confirmed else "raster_strip_unverified",
            name=strip.feature_id, water=strip.water_class, rule=strip.rule,
        )
        for number, strip in enumerate(plan.strips[:MOST_STRIPS], start=1)
    }  # fmt: skip
    _write(plan, path, dem, found, None, say("raster_strips_title"), named)


def reach(plan: Plan, path: Path) -> None:
    """Write the rope left at each cell, metres; not a number where nothing is reached."""
    grid = reach_grid(plan)
    _write(plan, path, grid, grid.z, float("nan"), say("raster_reach_title"), {"UNITS": "m"})


def _place(grid: Dem) -> transform.Affine:
    """Give where a grid's cells lie, as GDAL has it."""
    return transform.from_origin(grid.west_m, grid.north_m, grid.cell_m, grid.cell_m)


def _write(
    plan: Plan,
    path: Path,
    grid: Dem,
    values: NDArray[Any],
    nodata: float | None,
    title: str,
    tags: dict[str, str],
) -> None:
    """Write one band, in memory first: a full disk is then met by our own write alone."""
    with MemoryFile() as plain, MemoryFile() as made:
        with plain.open(
            driver="GTiff", width=grid.shape[1], height=grid.shape[0], count=1,
            dtype=values.dtype, crs=plan.area.crs.to_wkt(), transform=_place(grid), nodata=nodata,
        ) as band:  # fmt: skip
            band.write(values, 1)
            band.set_band_description(1, title)
            band.update_tags(1, **tags)
            band.update_tags(NOTE=say("not_walked"), AREA=plan.area.settings.area.name)
        copy(plain.name, made.name, driver="COG", compress="DEFLATE",
             overview_resampling="NEAREST")  # fmt: skip
        path.write_bytes(made.read())
