"""Water strips: where no machine may go, and where no rope may, from rules and ground.

For each cell near a mapped water body the nearest point of its bank is found,
the slope of the ground between the two, and from it the width every chosen rule
asks there. The stricter rule wins, and so does the stricter water body where
several are near. Distances run from the bank's edge as drawn; half a cell is
added to every strip, so that the grid can only err toward the wider side.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features as raster
from rasterio.transform import Affine
from scipy import ndimage
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

from layout.banks import bank_findings, bank_parts, bank_shape, water_distance
from layout.findings import Finding
from layout.grid import Dem, Floats, bilinear
from layout.outlines import outline
from layout.records import WaterStrip
from layout.rule_files import load_rule, rule_names
from layout.site import Area, WaterFeature
from layout.strip_widths import (
    BANK_BASE_M,
    Asked,
    asked_of,
    chosen_rules,
    reach_m,
    rule_findings,
    widths,
)
from layout.terrain import Terrain
from layout.water_rules import Rule, map_width_ft, width_ft

__all__ = [
    "Rule",
    "Strips",
    "bank_shape",
    "cells_near_water",
    "load_rule",
    "map_width_ft",
    "rule_names",
    "strip_distance",
    "strips",
    "water_distance",
    "width_ft",
]

FALL_AWAY_PCT = 2.0  # least slope that counts as falling away from the water; ours
FALL_AWAY_ERRORS = 3.0  # and so many elevation errors at least, or noise would narrow a strip
SAMPLES_PER_CELL = 4  # points along a bank; a distance is then right to a millimetre at 10 m
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Strips:
    """Water strips on the elevation grid; every array has the grid's shape.

    Parameters
    ----------
    water : ndarray of bool
        Cells the water touches, bank to bank; wells are not water.
    inside : ndarray of bool
        Cells no machine may enter: strips and water.
    no_cable : ndarray of bool
        Cells no rope or load may enter: water, and strips whose rule does not
        allow it or does not say.
    distance_m : ndarray of float
        Map distance to the bank of the water body that governs the cell: the one
        whose strip it is deepest in, or nearest to. Beyond the reach of every
        strip, to the nearest water cell; inf where there is none.
    required_m : ndarray of float
        Width the rules ask for at the cell, on the map; NaN beyond the reach of
        every strip.
    nearest_m : ndarray of float
        Map distance to the nearest bank of any water body or well, 0 in the water.
    governing : ndarray of int16
        Index into the area's water bodies; -1 beyond the reach of every strip.
    polygons : tuple of WaterStrip
        One for each water body whose strip lies on the grid; together they cover
        every cell of ``inside`` whole.
    findings : tuple of Finding
        What was assumed, and which rules are not confirmed.
    """

    water: Mask
    inside: Mask
    no_cable: Mask
    distance_m: Floats
    required_m: Floats
    nearest_m: Floats
    governing: NDArray[np.int16]
    polygons: tuple[WaterStrip, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Near:
    """Part of the grid within reach of one water body, and what lies in it.

    ``row`` and ``col`` are the cells in reach, shape (n,); the other flat arrays
    go with them. ``touched`` has the shape of the part.
    """

    part: tuple[slice, slice]
    row: NDArray[np.int64]
    col: NDArray[np.int64]
    distance_m: Floats
    to_water_pct: Floats
    bank_pct: Floats
    unknown_bank: Mask
    touched: Mask


def strips(area: Area, terrain: Terrain) -> Strips:
    """Lay out the water strips of an area.

    Parameters
    ----------
    area : Area
        The job; its water bodies, chosen rules and elevation error are used.
    terrain : Terrain
        Its ground.

    Returns
    -------
    Strips
        Empty but whole where no water is mapped.

    Raises
    ------
    InputError
        If a chosen rule cannot be read.
    """
    dem, ground = terrain.dem, _gaps_filled(terrain.dem)
    relief_m = float(np.ptp(ground.z)) if ground.z.size else 0.0
    rules, findings = chosen_rules(area)
    if not area.water:
        findings.append(_NO_WATER)
    water, inside, no_cable = (np.zeros(dem.shape, dtype=bool) for _ in range(3))
    distance, margin, nearest = (np.full(dem.shape, np.inf) for _ in range(3))
    required = np.full(dem.shape, np.nan)
    governing = np.full(dem.shape, -1, dtype=np.int16)
    in_sight = _box_mask(area, dem)
    polygons = []
    for number, body in enumerate(area.water):
        asked, said = asked_of(body, rules)
        findings += said + bank_findings(body)
        reach = reach_m(asked, relief_m) + 2 * dem.cell_m
        near = _near(body, reach, ground, dem, area.settings.ground.dem_error_m)
        if near is None:
            continue
        asks = widths(asked, near.to_water_pct, near.bank_pct)
        closed, roped = near.touched.copy(), near.touched & (body.water_class != "well")
        # Half a cell wider: a cell reaches that far toward the water from its centre.
        reached = near.distance_m - 0.5 * dem.cell_m
        closed[near.row, near.col] |= reached <= asks.machine_m
        roped[near.row, near.col] |= reached <= asks.rope_m

        if body.water_class != "well":
            water[near.part] |= near.touched
        inside[near.part] |= closed
        no_cable[near.part] |= roped
        cells = (near.row + (near.part[0].start or 0), near.col + (near.part[1].start or 0))
        nearest[cells] = np.minimum(nearest[cells], near.distance_m)
        governs = near.distance_m - asks.machine_m < margin[cells]
        mine = (cells[0][governs], cells[1][governs])
        margin[mine] = (near.distance_m - asks.machine_m)[governs]
        distance[mine] = near.distance_m[governs]
        required[mine] = asks.machine_m[governs]
        governing[mine] = number

        within = closed[near.row, near.col]
        used = asks.used(within | roped[near.row, near.col])
        findings += rule_findings(asked, used)
        if (near.unknown_bank & within & in_sight[cells]).any():
            findings.append(_bank_off(body))
        if closed.any():
            polygons.append(_polygon(body, asked, used, closed, near.part, dem))
    far = governing < 0
    if far.any() and water.any():
        rest = dem.cell_m * ndimage.distance_transform_edt(~water)
        distance[far] = rest[far]
        nearest[far] = rest[far]
    return Strips(
        water=water,
        inside=inside,
        no_cable=no_cable,
        distance_m=distance,
        required_m=required,
        nearest_m=nearest,
        governing=governing,
        polygons=tuple(polygons),
        findings=tuple(dict.fromkeys(findings)),  # the same words once
    )


def strip_distance(strips: Strips, geometry: BaseGeometry) -> float | None:
    """Measure how far a place is outside the nearest strip.

    Parameters
    ----------
    strips : Strips
        The strips.
    geometry : BaseGeometry
        The place, in the area's CRS.

    Returns
    -------
    float or None
        Metres on the map, 0 where they touch; None where there is no strip.
    """
    return min((float(s.shape.distance(geometry)) for s in strips.polygons), default=None)


def cells_near_water(strips: Strips, within_m: float) -> Mask:
    """Find the cells within a distance of any mapped water body.

    Parameters
    ----------
    strips : Strips
        The strips.
    within_m : float
        Map distance from the bank, metres.

    Returns
    -------
    ndarray of bool, shape (rows, cols)
        True for cells whose centre is that near.
    """
    return np.asarray(strips.nearest_m <= within_m)


_NO_WATER = Finding(
    code="no_water_mapped",
    level="unknown",
    message="no water is mapped, so no strip is kept; draw every brook, spring and wet spot "
    "that is on the ground",
)


def _bank_off(body: WaterFeature) -> Finding:
    return Finding(
        code="bank_off_elevations",
        level="caution",
        message=f"{body.feature_id}: part of its bank lies where no elevation is known; the slope "
        "to it is read from the nearest known ground",
        subject_layer="water",
        subject_id=body.feature_id,
    )


def _box_mask(area: Area, dem: Dem) -> Mask:
    """Mark the cells of the box round the stand and what may be used beside it."""
    west, south, east, north = shapely.total_bounds([area.stand, area.may_use])
    x, y = dem.centres()
    return np.asarray(((y >= south) & (y <= north))[:, None] & ((x >= west) & (x <= east))[None, :])


def _gaps_filled(dem: Dem) -> Dem:
    """Give every cell an elevation, that of the nearest known one where it has none.

    Ponds are often gaps, and a strip beside one still needs a slope. Only the
    strips read this; ground that is not known stays closed elsewhere.
    """
    known = np.isfinite(dem.z)
    if known.all() or not known.any():
        return dem if known.any() else dem.with_z(np.zeros_like(dem.z))
    row, col = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return dem.with_z(dem.z[row, col])


def _near(body: WaterFeature, reach: float, ground: Dem, dem: Dem, error_m: float) -> _Near | None:
    """Measure the ground within reach of one water body; None when none is."""
    parts = bank_parts(body)
    if not parts:
        return None
    west, south, east, north = shapely.total_bounds(parts)
    rows, cols = dem.shape
    top, bottom = (int((dem.north_m - y) // dem.cell_m) for y in (north + reach, south - reach))
    left, right = (int((x - dem.west_m) // dem.cell_m) for x in (west - reach, east + reach))
    top, bottom = max(top, 0), min(bottom + 1, rows)
    left, right = max(left, 0), min(right + 1, cols)
    if top >= bottom or left >= right:
        return None
    part = (slice(top, bottom), slice(left, right))
    shape = (bottom - top, right - left)
    x, y = dem.centres()
    x, y = x[part[1]], y[part[0]]
    edge = _edge_points(parts, dem, reach)
    if edge.size == 0:  # the banks are far off, though their box is not, or it is all water
        edge = np.full((1, 2), 1e12)  # one point out of any reach
    grid_x, grid_y = (a.ravel() for a in np.meshgrid(x, y))
    # Large leaves: along one line most near points are about as near (3 times faster).
    distance, index = KDTree(edge, leafsize=100).query(
        np.column_stack([grid_x, grid_y]), distance_upper_bound=reach
    )
    half = 0.5 * dem.cell_m
    transform = Affine(dem.cell_m, 0.0, x[0] - half, 0.0, -dem.cell_m, y[0] + half)
    solid = [p for p in parts if p.geom_type == "Polygon"]
    wet = _burnt(solid, shape, transform, whole=False).ravel()
    touched = _burnt(parts, shape, transform, whole=True)
    chosen = np.flatnonzero(np.isfinite(distance) | wet)
    grid_x, grid_y = grid_x[chosen], grid_y[chosen]
    lost = ~np.isfinite(distance[chosen])  # deep in the water: its own place will do
    bank = edge[np.where(lost, 0, index[chosen])]
    bank[lost] = np.column_stack([grid_x[lost], grid_y[lost]])
    run = np.where(wet[chosen], 0.0, distance[chosen])
    row, col = np.divmod(chosen, shape[1])

    def height(px: Floats, py: Floats) -> Floats:
        low_x, low_y, high_x, high_y = (
            b + s * 0.5 * dem.cell_m for b, s in zip(dem.bounds, (1, 1, -1, -1), strict=True)
        )
        return bilinear(ground, np.clip(px, low_x, high_x), np.clip(py, low_y, high_y))

    z, z_bank = ground.z[part][row, col].astype(float), height(bank[:, 0], bank[:, 1])
    at_least = np.maximum(run, 0.5 * dem.cell_m)
    slope = 100.0 * (z - z_bank) / at_least
    away = z_bank - z > np.maximum(0.01 * FALL_AWAY_PCT * run, FALL_AWAY_ERRORS * error_m)
    share = np.minimum(1.0, BANK_BASE_M / at_least)
    side = bank + share[:, None] * (np.column_stack([grid_x, grid_y]) - bank)
    rise = height(side[:, 0], side[:, 1]) - z_bank
    return _Near(
        part=part,
        row=row,
        col=col,
        distance_m=run,
        to_water_pct=np.where(away, slope, np.maximum(slope, 0.0)),
        bank_pct=np.maximum(100.0 * rise / np.minimum(at_least, BANK_BASE_M), 0.0),
        unknown_bank=~wet[chosen] & np.isnan(bilinear(dem, bank[:, 0], bank[:, 1])),
        touched=touched,
    )


def _edge_points(parts: list[BaseGeometry], dem: Dem, reach: float) -> Floats:
    """Give points along the banks, close enough to measure from, shape (n, 2)."""
    west, south, east, north = dem.bounds
    box = (west - reach, south - reach, east + reach, north + reach)
    lines = [p.boundary if p.geom_type == "Polygon" else p for p in parts]
    clipped = [shapely.clip_by_rect(line, *box) for line in lines]
    close = shapely.segmentize(np.array(clipped, dtype=object), dem.cell_m / SAMPLES_PER_CELL)
    return np.asarray(shapely.get_coordinates(close), dtype=float)


def _burnt(
    parts: list[BaseGeometry], shape: tuple[int, int], transform: Affine, *, whole: bool
) -> Mask:
    """Mark the cells under some shapes: all they touch, or those whose centre they hold."""
    if not parts:
        return np.zeros(shape, dtype=bool)
    burnt = raster.rasterize(
        parts, out_shape=shape, transform=transform, all_touched=whole, dtype="uint8"
    )
    return np.asarray(burnt == 1)


def _polygon(
    body: WaterFeature,
    asked: list[Asked],
    used: set[tuple[int, int]],
    closed: Mask,
    part: tuple[slice, slice],
    dem: Dem,
) -> WaterStrip:
    """Draw one water body's strip and say which rules made it."""
    made = sorted({rule for rule, _ in used}) or list(range(len(asked)))
    window = Dem(
        z=dem.z[part],
        west_m=dem.west_m + part[1].start * dem.cell_m,
        north_m=dem.north_m - part[0].start * dem.cell_m,
        cell_m=dem.cell_m,
    )
    return WaterStrip(
        feature_id=body.feature_id,
        water_class=body.water_class,
        rule=" + ".join(asked[number].rule.name for number in made),
        confirmed=all(asked[rule].rows[row].confirmed for rule, row in used),
        shape=outline(closed, window),
    )
