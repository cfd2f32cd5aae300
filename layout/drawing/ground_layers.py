"""What lies on the ground, as the page draws it."""

import math
from typing import Any

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout.drawing import pictures
from layout.drawing.plain import plain
from layout.land import hazard_tree_reach_m
from layout.outputs.tree_orders import hazard_said
from layout.settings import Limits
from layout.site import Area
from layout.terrain import Terrain, contours
from layout.units import FOOT_M
from layout.water import Strips

CONTOURS_WANTED = 25  # lines between lowest and highest; the step is the rounder one below
STEPS_M = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
STEPS_FT = (2.0, 5.0, 10.0, 20.0, 40.0, 100.0, 200.0, 400.0)
SMOOTHED_M = 0.3  # contours are simplified by at most this
CENTIMETRE = 2


def layers(area: Area, terrain: Terrain, strips: Strips, limits: Limits) -> dict[str, Any]:
    """Give all that is drawn under and beside a draft.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job.
    limits : Limits
        Limits in force today.

    Returns
    -------
    dict
        Plain JSON values; coordinates in the area's own system.
    """
    settings, units = area.settings, area.settings.area.units
    return {
        "name": settings.area.name,
        "crs": area.crs.to_string() if area.crs.to_epsg() else area.crs.name,
        "units": units,
        "bounds": plain(area.dem.bounds),
        "cell_m": area.dem.cell_m,
        "stand": polygons(area.stand),
        "strips": [
            {
                "id": strip.feature_id,
                "class": strip.water_class,
                "rule": strip.rule,
                "confirmed": strip.confirmed,
                "polygons": polygons(strip.shape),
            }
            for strip in strips.polygons
        ],
        "keep_out": [ring for shape in area.keep_out for ring in polygons(shape)],
        "may_use": polygons(area.may_use),
        "hazards": [
            {"id": h.hazard_id, "kind": h.kind, "geometry": geometry(h.geometry)}
            for h in area.hazards
        ],
        "water": [
            {"id": w.feature_id, "class": w.water_class, "geometry": geometry(w.geometry)}
            for w in area.water
        ],
        "existing": [{"id": t.trail_id, "line": line(t.line)} for t in area.existing],
        "access_road": [line(road) for road in area.access_road],
        "contours": _contours(terrain, units),
        "trees": _trees(area),
        "hazard_trees": _hazard_trees(area),
        "limits": {
            "favourable_pct": limits.favourable_pct,
            "adverse_pct": limits.adverse_pct,
            "cross_pct": limits.cross_pct,
            "turn_radius_m": settings.trails.turn_radius_m,
            "width_main_m": settings.trails.width_main_m,
            "width_spur_m": settings.trails.width_spur_m,
            "spur_length_m": settings.trails.spur_length_m,
            "landing_m2": settings.landing.area_m2,
            "soil_pct": settings.soil.limit_pct,
        },
        "pictures": ["hillshade", "slope", "reach"],
        "legend": {"slope": pictures.slope_legend(), "reach": pictures.REACH_INK},
    }


def line(shape: BaseGeometry) -> list[list[float]]:
    """Give a line's places, to the centimetre."""
    return [[round(x, CENTIMETRE), round(y, CENTIMETRE)] for x, y, *_ in shape.coords]


def polygons(shape: BaseGeometry) -> list[list[list[list[float]]]]:
    """Give polygons as lists of rings, the outer one first."""
    parts = [p for p in getattr(shape, "geoms", [shape]) if isinstance(p, Polygon)]
    return [
        [line(ring) for ring in (part.exterior, *part.interiors)]
        for part in parts
        if not part.is_empty
    ]


def geometry(shape: BaseGeometry) -> dict[str, Any]:
    """Give any geometry in the form of GeoJSON, in the area's own system."""
    rounded = shapely.set_precision(shape, 0.01) if shape.is_valid else shape
    made: dict[str, Any] = shapely.geometry.mapping(
        shape if rounded.is_empty or isinstance(rounded, MultiPolygon) else rounded
    )
    return dict(plain(made, CENTIMETRE))


def _contours(terrain: Terrain, units: str) -> dict[str, Any]:
    z = terrain.smooth.z
    if not np.isfinite(z).any():
        return {"step_m": None, "lines": []}
    high = float(np.nanmax(z) - np.nanmin(z))
    steps = [s * FOOT_M for s in STEPS_FT] if units == "us" else list(STEPS_M)
    step = next((s for s in steps if high / s <= CONTOURS_WANTED), steps[-1])
    drawn = contours(terrain.smooth, step) if high / step < 1000 else []
    lines = [
        {"z_m": round(level, 3), "index": math.isclose(level / step % 5, 0, abs_tol=1e-6),
         "line": line(part)}
        for level, parts in drawn
        for part in shapely.get_parts(shapely.simplify(parts, SMOOTHED_M))
        if part.length > 5 * terrain.dem.cell_m
    ]  # fmt: skip
    return {"step_m": step, "lines": lines}


def _hazard_trees(area: Area) -> list[dict[str, Any]]:
    """Give the hazard trees that stand, and how far everybody keeps off one that is not marked."""
    trees = area.trees
    if not any(trees.hazard):
        return []
    reach = hazard_tree_reach_m(area)
    return [
        {"row": row, "kind": hazard_said(kind), "keep_off_m": plain(float(reach[row]), 1)}
        for row, kind in enumerate(trees.hazard)
        if kind and trees.tree_id[row] not in trees.done
    ]


def _trees(area: Area) -> dict[str, Any]:
    """Give the stems as columns: ten thousand of them are a quarter of a megabyte."""
    trees = area.trees
    return {
        "id": list(trees.tree_id),
        "x": plain(trees.x, CENTIMETRE),
        "y": plain(trees.y, CENTIMETRE),
        "dbh_cm": plain(trees.dbh_cm, 1),
        "species": list(trees.species),
        "marked": [int(m) for m in trees.marked],
        "keep": list(trees.keep),
        "hazard": list(trees.hazard),
        "done": [int(name in trees.done) for name in trees.tree_id],
        "full_list": trees.full_list,
    }
