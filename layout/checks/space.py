"""What a trail's ground must not touch: strips, lines, closed ground, water, gaps."""

import math

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout import sources
from layout.checks.case import Case, Stretch, Walked, stretches
from layout.checks.words import lengths, on, pair
from layout.findings import Finding, Level
from layout.land import TREE_LENGTHS, hazard_rule, hazard_trees
from layout.runs import runs
from layout.speech import speak_length
from layout.units import FOOT_M

TOUCH_M2 = 0.05  # less overlap than this is the drawing, not the ground
CROSSING_DEG = 90.0
CROSSING_TOLERANCE_DEG = 15.0
APPROACH_PCT = 10.0
APPROACH_M = 50 * FOOT_M


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
        crossed = _water(case, walked)
        found += crossed
        found += _strips(case, walked, [f.from_m for f in crossed if f.from_m is not None])
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


def _touched(walked: Walked, shape: BaseGeometry) -> tuple[Stretch, ...]:
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


def _strips(case: Case, walked: Walked, crossings_m: list[float]) -> list[Finding]:
    """Find where a trail enters a water strip; on the way over a crossing it may."""
    allowed = case.area.settings.trails.crossings
    found: list[Finding] = []
    for strip in case.strips:
        for part in _touched(walked, strip.shape):
            crosses = any(part.from_m - 1 <= at <= part.to_m + 1 for at in crossings_m)
            long = speak_length(part.length_m, case.units)
            rule = strip.rule or "no local rule chosen"
            what = f"inside the water strip of {strip.feature_id} for {long} ({rule})"
            if crosses and allowed:
                what += "; the way to a crossing you allow"
            else:
                what += "; move the trail out of it"
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "strip_entered",
                    what,
                    level="caution" if crosses and allowed else "stop",
                    limit=0.0,
                    source=rule,
                    confirmed=strip.confirmed,
                )
            )
    return found


def _water(case: Case, walked: Walked) -> list[Finding]:
    """Find where a trail's line meets mapped water."""
    line = walked.trail.line
    found: list[Finding] = []
    for water in case.area.water:
        shape = water.geometry
        if shape.geom_type in ("Point", "MultiPoint"):
            shape = shape.buffer(walked.trail.width_m / 2)
        elif shape.geom_type.endswith("LineString") and water.bank_width_m:
            shape = shape.buffer(water.bank_width_m / 2, cap_style="flat")
        if not line.intersects(shape):
            continue
        meets = line.intersection(shape)
        name = f"{water.water_class} {water.feature_id}"
        for part in stretches(line, meets):
            if not case.area.settings.trails.crossings:
                found.append(
                    _finding(
                        case,
                        walked,
                        part,
                        "water_crossed",
                        f"crosses {name}, and crossings are not allowed (trails.crossings)",
                        value=1.0,
                        limit=0.0,
                        unit="",
                        source="setting trails.crossings",
                    )
                )
                continue
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "water_crossed",
                    f"crosses {name}; ask about a permit, use a temporary bridge or mats, "
                    "and take it out after",
                    level="caution",
                    value=1.0,
                    unit="",
                    source=str(sources.CROSSING_ANGLE),
                )
            )
            found += _manner(case, walked, part, water.geometry, name)
    return found


def _manner(
    case: Case, walked: Walked, part: Stretch, water: BaseGeometry, name: str
) -> list[Finding]:
    """Judge how an allowed crossing is made: its angle and its approaches."""
    found: list[Finding] = []
    angle = _crossing_deg(walked, part, water)
    if angle is not None and angle < CROSSING_DEG - CROSSING_TOLERANCE_DEG - 1e-6:
        said, bound = pair(angle, CROSSING_DEG - CROSSING_TOLERANCE_DEG, "deg")
        found.append(
            _finding(
                case,
                walked,
                part,
                "crossing_angle",
                f"meets {name} at {said}; cross nearer to square, {bound} or more",
                level="caution",
                value=angle,
                limit=CROSSING_DEG - CROSSING_TOLERANCE_DEG,
                unit="deg",
                source=str(sources.CROSSING_ANGLE),
            )
        )
    s = walked.stations
    near = (s.at_m >= part.from_m - APPROACH_M) & (s.at_m <= part.to_m + APPROACH_M)
    grades = np.abs(s.grade_pct[near])
    if np.isfinite(grades).any() and np.nanmax(grades) > APPROACH_PCT + 1e-6:
        said, bound = pair(float(np.nanmax(grades)), APPROACH_PCT, "%")
        away = speak_length(APPROACH_M, case.units)
        source = sources.CROSSING_APPROACH
        found.append(
            _finding(
                case,
                walked,
                part,
                "crossing_approach",
                f"grade of {said} within {away} of {name}, over {bound}",
                level="caution",
                value=float(np.nanmax(grades)),
                limit=APPROACH_PCT,
                unit="%",
                source=str(source),
                confirmed=source.confirmed,
            )
        )
    return found


def _crossing_deg(walked: Walked, part: Stretch, water: BaseGeometry) -> float | None:
    """Give the angle between trail and stream line, 0 along to 90 square."""
    if not water.geom_type.endswith("LineString"):
        return None
    point = shapely.Point(walked.spot(0.5 * (part.from_m + part.to_m)))
    lines = [part for part in shapely.get_parts(water) if isinstance(part, LineString)]
    stream = min(lines, key=lambda piece: float(piece.distance(point)))

    def bearing(line: LineString, at: float) -> float:
        a, b = line.interpolate(max(at - 2.0, 0.0)), line.interpolate(min(at + 2.0, line.length))
        return math.atan2(b.y - a.y, b.x - a.x)

    turn = bearing(walked.trail.line, walked.trail.line.project(point)) - bearing(
        stream, stream.project(point)
    )
    turn = abs((turn + math.pi) % (2 * math.pi) - math.pi)
    return math.degrees(min(turn, math.pi - turn))


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
        for part in _touched(walked, band):
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
    for number, shape in enumerate(case.area.keep_out, 1):
        for part in _touched(walked, shape):
            found.append(
                _finding(
                    case,
                    walked,
                    part,
                    "keep_out",
                    f"enters keep-out {number} for {speak_length(part.length_m, case.units)}",
                    limit=0.0,
                    source="setting ground.keep_out",
                )
            )
    for hazard in case.area.hazards:
        rule = hazard_rule(hazard.kind)
        if rule.machine_m <= 0:
            continue
        for part in _touched(walked, hazard.geometry.buffer(rule.machine_m)):
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
