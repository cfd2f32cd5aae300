"""A plan as rows of named values: one place both the GeoPackage and plan.json read.

Sizes that are not stored in the plan's records (a trail's length, its steepest
station) are measured here, once, from the final geometry and its stations.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString, MultiLineString, Point
from shapely.geometry.base import BaseGeometry

from layout import benching, geometry
from layout.checks.bends import RADIUS_HALF_M, radius_at
from layout.checks.lines import junction_deg
from layout.outputs import (
    chance_rows,
    channel_rows,
    crossing_rows,
    keep_off_rings,
    option_rows,
    payloads,
    stump_data,
    trailer_place,
    turn_data,
)
from layout.outputs.numbers import rounded
from layout.outputs.schema import BY_NAME, Kind, Layer
from layout.outputs.shape_parts import as_lines, as_polygons
from layout.outputs.stop_order import WINCH_POSITION, in_order

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import Trail, TrailStep
    from layout.terrain import Stations

Value = str | float | int | bool | None
LEVEL_BELOW_PCT = 0.5  # prints as 0 %
STRAIGHT_OVER_M = 1000.0  # no bend a driver would call one
WOOD_COLUMNS = (
    "log_rule", "volume_bf", "gross_bf", "saw_m3", "pulp_m3", "saw_logs", "cut_pieces",
    "stem_height_m", "height_from",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Row:
    """One feature: where it is, and its values by column."""

    shape: BaseGeometry | None
    values: dict[str, Value]


def of_layer(plan: Plan, name: str) -> tuple[Row, ...]:
    """Give the rows of one layer, in the plan's order.

    Parameters
    ----------
    plan : Plan
        The plan.
    name : str
        A layer of `schema.LAYERS`.

    Returns
    -------
    tuple of Row
        Values hold every column of the layer, rounded; None where not known.
        The columns of the tree file are not among them.
    """
    layer = BY_NAME[name]
    return tuple(_checked(layer, shape, values) for shape, values in _MAKERS[name](plan))


def _checked(layer: Layer, shape: BaseGeometry | None, values: dict[str, object]) -> Row:
    """Give a row plain values of its columns' kinds, in the order of the columns."""
    flat = None if shape is None else shapely.force_2d(shape)  # a drawn line may bring heights
    return Row(flat, {name: _plain(name, kind, values[name]) for name, kind in layer.columns})


def _plain(name: str, kind: Kind, value: object) -> Value:
    """Turn a value, of whatever number type, into the column's own."""
    if value is None:
        return None
    if kind == "real":
        return rounded(name, float(value))  # type: ignore[arg-type]
    if kind == "int":
        return int(value)  # type: ignore[call-overload, no-any-return]
    return bool(value) if kind == "bool" else str(value)


Made = Iterator[tuple[BaseGeometry | None, dict[str, object]]]


def _stand(plan: Plan) -> Made:
    yield (
        plan.area.stand,
        {"name": plan.area.settings.area.name, "area_ha": plan.area.stand.area / 1e4},
    )


def _landing(plan: Plan) -> Made:
    for landing in plan.landings:
        yield (
            landing.shape,
            {
                "landing_id": landing.landing_id,
                "slope_pct": landing.slope_pct,
                "area_m2": landing.shape.area,
                "water_m": landing.water_m,
            },
        )


def _trails(plan: Plan) -> Made:
    lines = {trail.trail_id: trail.line for trail in plan.trails}
    steps: dict[str, list[TrailStep]] = defaultdict(list)
    for step in plan.steps:
        steps[step.trail_id].append(step)
    least = payloads.to_landing(plan)
    over = {one.trail_id: one.p_over_limit for one in plan.grade_chances}
    for trail in plan.trails:
        grades = _known(plan.stations.get(trail.trail_id), "grade_pct")
        cross = _known(plan.stations.get(trail.trail_id), "cross_pct")
        mine = steps[trail.trail_id]
        yield (
            trail.line,
            {
                "trail_id": trail.trail_id,
                "kind": trail.kind,
                "landing_id": trail.landing_id,
                "joins_id": trail.joins_id,
                "joins_at_m": trail.joins_at_m,
                "junction_deg": _junction_deg(trail, lines.get(trail.joins_id)),
                "length_m": trail.line.length,
                "width_m": trail.width_m,
                "area_m2": benching.footprint(trail, plan.benches.get(trail.trail_id)).area,
                "favourable_max_pct": max(0.0, -grades.min()) if grades.size else None,
                "adverse_max_pct": max(0.0, grades.max()) if grades.size else None,
                "cross_max_pct": cross.max() if cross.size else None,
                "radius_min_m": _radius_min_m(trail.line),
                "loads": max((step.loads for step in mine), default=0),
                "soil_class": max((step.soil_class for step in mine), default=0),
                "source": trail.source,
                **payloads.columns(least.get(trail.trail_id), trail.trail_id),
                "p_over_limit": chance_rows.share(over.get(trail.trail_id)),
            },
        )


def _junction_deg(trail: Trail, parent: LineString | None) -> float | None:
    """Measure the angle at a trail's mouth as the checks do; None where it joins no trail."""
    if parent is None or trail.joins_at_m is None:
        return None
    return junction_deg(trail.line, parent, trail.joins_at_m)


def _radius_min_m(line: LineString) -> float | None:
    """Measure the tightest bend as the checks do; None for a straight or very short line."""
    at = np.arange(RADIUS_HALF_M, line.length - RADIUS_HALF_M + 1e-9, 1.0)
    radius = radius_at(line, at)
    bent = radius[radius < STRAIGHT_OVER_M]
    return float(bent.min()) if bent.size else None


def _known(stations: Stations | None, column: str) -> geometry.Floats:
    """Give one station column without its gaps; empty where there are no stations."""
    if stations is None:
        return np.empty(0)
    values = np.asarray(getattr(stations, column), dtype=float)
    return np.asarray(values[np.isfinite(values)])


def _trail_steps(plan: Plan) -> Made:
    lines = {trail.trail_id: trail.line for trail in plan.trails}
    for step in plan.steps:
        line = step.line
        if line is None:
            whole = geometry.coordinates(lines[step.trail_id])
            line = LineString(geometry.cut(whole, step.from_m, step.to_m))
        yield (
            line,
            {
                "trail_id": step.trail_id,
                "from_m": step.from_m,
                "to_m": step.to_m,
                "grade_pct": step.grade_pct,
                "loaded_dir": loaded_direction(step.grade_pct),
                "cross_pct": step.cross_pct,
                "loads": step.loads,
                "soil_class": step.soil_class,
                "cut_m3": step.cut_m3,
                "fill_m3": step.fill_m3,
                "bench_width_m": step.bench_width_m,
                "payload_kg": step.payload_kg,
                "payload_by": step.payload_by,
                "tip_margin_deg": step.tip_margin_deg,
                "front_share_pct": step.front_share_pct,
                "p_over_limit": chance_rows.share(step.p_over_limit),
            },
        )


def loaded_direction(grade_pct: float) -> str | None:
    """Tell whether a load travels down, up or level; None where not known.

    Examples
    --------
    >>> loaded_direction(-12.0), loaded_direction(4.0), loaded_direction(0.2)
    ('down', 'up', 'level')
    """
    if not np.isfinite(grade_pct):
        return None
    if abs(grade_pct) < LEVEL_BELOW_PCT:
        return "level"
    return "up" if grade_pct > 0 else "down"


def _winch_positions(plan: Plan) -> Made:
    stops = in_order(plan)
    for position in plan.positions:
        stop = stops.get((WINCH_POSITION, position.position_id))
        yield (
            Point(position.x, position.y),
            {
                "position_id": position.position_id,
                "trail_id": position.trail_id,
                "landing_id": position.landing_id,
                "at_m": position.at_m,
                "rear_azimuth_deg": position.rear_azimuth_deg,
                "swing_deg": position.swing_deg,
                "cross_pct": position.cross_pct,
                "along_pct": position.along_pct,
                "back_m": position.back_m,
                "tree_count": len(position.tree_ids),
                "stop": stop.name if stop is not None else None,
            },
        )


def _pulls(plan: Plan) -> Made:
    for pull in plan.pulls:
        names = (name for name, _ in BY_NAME["pulls"].columns)
        yield pull.line, {name: getattr(pull, name) for name in names}


def _trees(plan: Plan) -> Made:
    trees, lay_of = plan.area.trees, stump_data.azimuths(plan)
    turns_of = turn_data.names_by_tree(plan)
    for i, (x, y, outcome) in enumerate(zip(trees.x, trees.y, plan.trees, strict=True)):
        yield (
            Point(float(x), float(y)),
            {
                "role": outcome.role,
                "status": outcome.status,
                "position_id": outcome.position_id,
                "margin_m": outcome.margin_m,
                "volume_m3": outcome.volume_m3,
                "mass_kg": outcome.mass_kg,
                "lay_azimuth_deg": lay_of.get(outcome.tree_id),
                **_wood(plan, i),
                "turn_ids": turns_of.get(outcome.tree_id, ""),
                "saw_net_m3": None
                if plan.treatment is None
                else plan.treatment.harvest.saw_net_m3[i],
            },
        )


def _wood(plan: Plan, i: int) -> dict[str, object]:
    """Give what a listed tree gives; None where it is not known or was not worked out."""
    treatment = plan.treatment
    if treatment is None:
        return dict.fromkeys(WOOD_COLUMNS)
    harvest, heights = treatment.harvest, treatment.sizes.heights
    boards = harvest.net_bf[i]
    return {
        "log_rule": harvest.log_rule if np.isfinite(boards) else None,  # only beside board feet
        "volume_bf": boards,
        "gross_bf": harvest.gross_bf[i],
        "saw_m3": harvest.saw_m3[i],
        "pulp_m3": harvest.pulp_m3[i],
        "saw_logs": harvest.sawlogs[i],
        "cut_pieces": harvest.pieces[i],
        "stem_height_m": heights.height_m[i],
        "height_from": heights.how[i],
    }


def _gaps(plan: Plan) -> Made:
    """Give the openings, the widest first; none where they are not known."""
    gaps = None if plan.treatment is None else plan.treatment.canopy.gaps
    for number, gap in enumerate(gaps or (), start=1):
        yield (
            gap.outline,
            {
                "gap_id": f"G{number}",
                "diameter_m": gap.diameter_m,
                "height_ratio": gap.height_ratio,
                "area_m2": gap.area_m2,
            },
        )


def _water_strips(plan: Plan) -> Made:
    for strip in plan.strips:
        yield (
            as_polygons(strip.shape),
            {
                "feature_id": strip.feature_id,
                "water_class": strip.water_class,
                "rule": strip.rule,
                "confirmed": strip.confirmed,
            },
        )


def _turning_places(plan: Plan) -> Made:
    for place in plan.turning_places:
        names = (name for name, _ in BY_NAME["turning_places"].columns)
        yield place.shape, {name: getattr(place, name) for name in names}


def _water_bars(plan: Plan) -> Made:
    for bar in plan.bars:
        names = (name for name, _ in BY_NAME["water_bars"].columns)
        yield Point(bar.x, bar.y), {name: getattr(bar, name) for name in names}


def _findings(plan: Plan) -> Made:
    for finding in plan.findings:
        names = (name for name, _ in BY_NAME["findings"].columns)
        place = None if finding.at is None else Point(finding.at)
        yield place, {name: getattr(finding, name) for name in names}


def _keep_out(plan: Plan) -> Made:
    """Give the closed ground under the names it has in every file."""
    for name, shape in plan.area.named_keep_outs:
        yield as_polygons(shape), {"keep_out_id": name}


def _hazards(plan: Plan) -> Made:
    for hazard in plan.area.hazards:
        yield hazard.geometry, {"hazard_id": hazard.hazard_id, "kind": hazard.kind}


def _property_line(plan: Plan) -> Made:
    """Give the drawn line; none where the stand's edge counts, which is a layer of its own."""
    if plan.area.property_line is None:
        return
    known = plan.area.settings.property
    yield (
        MultiLineString(as_lines(plan.area.property_line)),
        {"source": known.source, "error_m": known.error_m},
    )


_MAKERS = {
    "stand": _stand,
    "landing": _landing,
    "trails": _trails,
    "trail_steps": _trail_steps,
    "winch_positions": _winch_positions,
    "pulls": _pulls,
    "trees": _trees,
    "water_strips": _water_strips,
    "turning_places": _turning_places,
    "water_bars": _water_bars,
    "findings": _findings,
    "keep_out": _keep_out,
    "hazards": _hazards,
    "hazard_trees": keep_off_rings.hazard_tree_rows,
    "hazard_rings": keep_off_rings.ring_rows,
    "property_line": _property_line,
    "gaps": _gaps,
    "reach_chance": chance_rows.reach,
    "crossings": crossing_rows.crossings,
    "channels": channel_rows.channels,
    "wet_hollows": channel_rows.hollows,
    "rub_trees": stump_data.rub_rows,
    "small_landing": trailer_place.small_landing_rows,
    "landing_options": option_rows.landing_options,
    "turns": turn_data.turn_rows,
    "turn_pieces": turn_data.piece_rows,
}
