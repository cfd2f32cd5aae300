"""Water strips: where no machine may go, and where no rope may, from rules and ground.

For each cell near a mapped water body the nearest point of its bank is found,
the slope of the ground between the two, and from it the width every chosen rule
asks there. The stricter rule wins, and so does the stricter water body where
several are near. Where a rule lets its strip end at a divide, it ends there.
Distances run from the bank's edge as drawn; half a cell is added to every strip, so
that the grid can only err toward the wider side.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from layout.bank_distances import NearWater, gaps_filled, near_water, window
from layout.banks import bank_findings, bank_shape, water_distance
from layout.divides import beyond_divide
from layout.findings import Finding
from layout.grid import Dem, Floats
from layout.outlines import outline
from layout.records import WaterStrip
from layout.rule_files import load_rule, rule_names
from layout.site import Area, WaterFeature
from layout.speech import speak_area
from layout.strip_widths import (
    Asked,
    Widths,
    asked_of,
    chosen_rules,
    ends_at_divides,
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
    dem, ground = terrain.dem, gaps_filled(terrain.dem)
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
        near = near_water(body, reach, ground, dem, area.settings.ground.dem_error_m)
        if near is None:
            continue
        asks = widths(asked, near.to_water_pct, near.bank_pct)
        if ends_at_divides(asked):
            asks, said = _cut_at_divides(body, asked, asks, near, ground, area)
            findings += said
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


def _cut_at_divides(
    body: WaterFeature, asked: list[Asked], asks: Widths, near: NearWater, ground: Dem, area: Area
) -> tuple[Widths, list[Finding]]:
    """Let a strip end at divides where its rule says so; give widths, and say it."""
    here = window(ground, near.part)
    x, y = here.centres()
    places = np.column_stack([x[near.col], y[near.row]])
    strip = near.distance_m - 0.5 * ground.cell_m <= np.maximum(asks.machine_m, asks.rope_m)
    error_m = area.settings.ground.dem_error_m
    beyond = beyond_divide(here, places, near.bank, strip, near.touched, error_m)
    cut = widths(asked, near.to_water_pct, near.bank_pct, beyond)
    at = np.flatnonzero(strip & (cut.machine_m < asks.machine_m))
    if not at.size:
        return cut, []
    first = int(at[np.argmin(near.distance_m[at])])
    size = speak_area(at.size * ground.cell_m**2, area.settings.area.units)
    ends = [row for ask in asked for row in ask.rows if row.stops_at_divide]
    finding = Finding(
        code="strip_ends_at_divide",
        level="caution",
        message=f"{body.feature_id}: its strip ends at a divide, as its rule says; {size} beyond "
        "it, by the elevations, are left out. See on the ground that water runs off there",
        subject_layer="water",
        subject_id=body.feature_id,
        source=ends[0].source,
        confirmed=all(row.confirmed for row in ends),
        at=(float(places[first, 0]), float(places[first, 1])),
    )
    return cut, [finding]


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
    return WaterStrip(
        feature_id=body.feature_id,
        water_class=body.water_class,
        rule=" + ".join(asked[number].rule.name for number in made),
        confirmed=all(asked[rule].rows[row].confirmed for rule, row in used),
        shape=outline(closed, window(dem, part)),
    )
