"""What a trail's ground must not touch: lines, closed ground, gaps; water is read beside."""

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout import sources
from layout.checks.case import Case, Stretch, Walked, stretches
from layout.checks.words import lengths, on
from layout.findings import Finding, Level
from layout.land import TREE_LENGTHS, hazard_rule, hazard_trees
from layout.runs import runs
from layout.speech import speak_length

TOUCH_M2 = 0.05  # less overlap than this is the drawing, not the ground


def check(case: Case) -> list[Finding]:
    """Judge where every trail lies.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Stops for ground that is closed, one a stretch; ``unknown`` where the
        elevation grid has a gap.
    """
    found: list[Finding] = []
    for walked in case.trails:
        found += _gaps(case, walked)
        found += _land(case, walked)
        found += _closed(case, walked)
    return found


def _finding(
    case: Case,
    walked: Walked,
    stretch: Stretch,
    code: str,
    what: str,
    *,
    level: Level = "stop",
    value: float | None = None,
    limit: float | None = None,
    unit: str = "m",
    source: str = sources.COMMON_PRACTICE,
    confirmed: bool = True,
) -> Finding:
    """Put one stretch of one trail into words; the value is its length unless given."""
    return Finding(
        code=code,
        level=level,
        message=f"{on(walked, case.units, stretch.from_m, stretch.to_m)}: {what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=stretch.from_m,
        to_m=stretch.to_m,
        value=stretch.length_m if value is None else value,
        limit=limit,
        unit=unit,
        source=source,
        confirmed=confirmed,
        at=walked.spot(0.5 * (stretch.from_m + stretch.to_m)),
    )


def touched(walked: Walked, shape: BaseGeometry) -> tuple[Stretch, ...]:
    """Give the stretches where a trail's full width overlaps a polygon."""
    if not walked.footprint.intersects(shape):
        return ()
    overlap = walked.footprint.intersection(shape)
    parts = [p for p in shapely.get_parts(overlap) if p.area > TOUCH_M2]
    return stretches(walked.trail.line, shapely.GeometryCollection(parts))


def _gaps(case: Case, walked: Walked) -> list[Finding]:
    """Say where the elevations are not known."""
    s = walked.stations
    unknown = ~(np.isfinite(s.z) & np.isfinite(s.grade_pct) & np.isfinite(s.cross_pct))
    return [
        _finding(
            case,
            walked,
            Stretch(run.from_m, run.to_m),
            "terrain_gap",
            "grade and cross slope not checked, the elevation grid has a gap or ends here",
            level="unknown",
        )
        for run in runs(unknown, s.at_m)
    ]


def _land(case: Case, walked: Walked) -> list[Finding]:
    """Find where a trail leaves the land or comes too near its line."""
    found: list[Finding] = []
    if not case.land.covers(walked.footprint):
        outside = walked.footprint.difference(case.land)
        parts = [p for p in shapely.get_parts(outside) if p.area > TOUCH_M2]
        for part in stretches(walked.trail.line, shapely.GeometryCollection(parts)):
            long = speak_length(part.length_m, case.units)
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "outside_land",
                    f"outside the stand and the ground you may use, for {long}; "
                    "move it inside, or add the ground to may_use with permission",
                    limit=0.0,
                )
            )
    if case.setback_m > 0:
        band = case.property_edge.buffer(case.setback_m)
        for part in touched(walked, band):
            centre = _middle(walked, part)
            gap = max(float(case.property_edge.distance(centre)) - walked.trail.width_m / 2, 0.0)
            said, bound = lengths(gap, case.setback_m, case.units)
            edge = "property line" if case.area.property_line is not None else "stand's edge"
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "setback",
                    f"{said} from the {edge}; machines keep {bound} off it",
                    value=gap,
                    limit=case.setback_m,
                )
            )
    line = case.area.property_line
    if line is not None and line.geom_type.endswith("Polygon"):
        beyond = line if case.area.may_use.is_empty else line.union(case.area.may_use)
        if not beyond.covers(walked.footprint):
            away = walked.footprint.difference(beyond)
            parts = [p for p in shapely.get_parts(away) if p.area > TOUCH_M2]
            for part in stretches(walked.trail.line, shapely.GeometryCollection(parts)):
                found.append(
                    _finding(
                        case,
                        walked,
                        part,
                        "beyond_property",
                        "beyond the property line; that is a neighbour's ground",
                        limit=0.0,
                    )
                )
    return found


def _middle(walked: Walked, part: Stretch) -> BaseGeometry:
    """Give the piece of centre line of a stretch."""
    return substring(walked.trail.line, part.from_m, part.to_m)


def _closed(case: Case, walked: Walked) -> list[Finding]:
    """Find keep-outs, mapped hazards and hazard trees a trail comes too near."""
    found: list[Finding] = []
    for name, shape in case.area.named_keep_outs:
        for part in touched(walked, shape):
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "keep_out",
                    f"enters keep-out {name} for {speak_length(part.length_m, case.units)}",
                    limit=0.0,
                    source="setting ground.keep_out",
                )
            )
    for hazard in case.area.hazards:
        rule = hazard_rule(hazard.kind)
        if rule.machine_m <= 0:
            continue
        for part in touched(walked, hazard.geometry.buffer(rule.machine_m)):
            gap = max(
                float(hazard.geometry.distance(_middle(walked, part))) - walked.trail.width_m / 2,
                0.0,
            )
            said, bound = lengths(gap, rule.machine_m, case.units)
            kind = hazard.kind.replace("_", " ")
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "hazard_near",
                    f"{said} from {kind} {hazard.hazard_id}; machines keep {bound} off it",
                    value=gap,
                    limit=rule.machine_m,
                )
            )
    return found + _hazard_trees(case, walked)


def _hazard_trees(case: Case, walked: Walked) -> list[Finding]:
    """Find standing hazard trees within two tree lengths that are not marked to go first."""
    trees, reach = case.area.trees, case.hazard_reach_m
    found: list[Finding] = []
    for row in hazard_trees(case.area):
        point = shapely.Point(float(trees.x[row]), float(trees.y[row]))
        gap = max(float(walked.trail.line.distance(point)) - walked.trail.width_m / 2, 0.0)
        if gap >= reach[row]:
            continue
        at = float(walked.trail.line.project(point))
        said, bound = lengths(gap, float(reach[row]), case.units)
        tall = speak_length(float(reach[row]) / TREE_LENGTHS, case.units)
        guess = "" if math.isfinite(trees.height_m[row]) else f" of a tree taken as {tall} tall"
        found.append(
            _finding(
                case,
                walked,
                Stretch(at, at),
                "hazard_tree",
                f"{said} from tree {trees.tree_id[row]} ({trees.hazard[row]}), which stays; "
                f"keep {bound} off (two tree lengths{guess}), or mark it and cut it first",
                value=gap,
                limit=float(reach[row]),
                source=str(sources.TWO_TREE_LENGTHS),
            )
        )
    return found
