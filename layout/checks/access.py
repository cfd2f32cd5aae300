"""Getting there: how far the tractor backs, and where it can turn round.

A tractor comes to a position rear first. It turns at a turning place, drives
nose to the landing until its way and the position's part, and backs the rest.
The landing is a turning place.
"""

from collections.abc import Callable

import numpy as np
import shapely

from layout import sources
from layout.checks.bends import radius_at
from layout.checks.case import Case, Walked
from layout.checks.words import FROM_RECORD, lengths, on, pair
from layout.findings import Finding, Level
from layout.land import closed_by_hazards
from layout.landing import plane_of
from layout.records import TurningPlace, WinchPosition
from layout.runs import runs
from layout.terrain import station_table
from layout.units import FOOT_M

EVERY_M = 500 * FOOT_M
PAD_PCT = 10.0
LOOK_EVERY_M = 5.0
BACK_NOISE_M = 2.0  # stations of a drawn place and a stated one differ by a little
TOUCH_M2 = 0.05

Way = tuple[tuple[str, float], ...]  # trail and metres along it, the landing's trail first


def check(case: Case) -> list[Finding]:
    """Judge backing, turning places and how far apart they lie.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
    """
    places = [w for p in case.turning_places if (w := way_to(case, p.trail_id, p.at_m))]
    found: list[Finding] = []
    for position in case.positions:
        if position.trail_id:
            found += _backing(case, places, position)
    for walked in case.trails:
        found += _far(case, places, walked)
    for place in case.turning_places:
        if place.kind != "landing":
            found += _place(case, place)
    return found


def way_to(case: Case, trail_id: str, at_m: float) -> Way:
    """Give the way from the landing to a station; empty where it does not lead there."""
    legs: list[tuple[str, float]] = []
    seen: set[str] = set()
    while trail_id:
        walked = case.by_id.get(trail_id)
        if walked is None or trail_id in seen:
            return ()
        seen.add(trail_id)
        legs.append((trail_id, at_m))
        trail_id = walked.trail.joins_id
        at_m = walked.trail.joins_at_m or 0.0
    return tuple(reversed(legs))


def backing_m(position: Way, places: list[Way]) -> float:
    """Give the least distance the tractor backs to a position, metres.

    Parameters
    ----------
    position : Way
        Where it goes.
    places : list of Way
        Turning places on the trails; the landing is always one.

    Returns
    -------
    float
        0 where a turning place lies at or beyond the position.
    """
    whole = sum(at for _, at in position)
    shared = [0.0]
    for place in places:
        together = 0.0
        for (mine, to), (other, reach) in zip(position, place, strict=False):
            if mine != other:
                break
            together += min(to, reach)
            if abs(to - reach) > 1e-9:
                break
        shared.append(together)
    return whole - max(shared)


def _backing(case: Case, places: list[Way], position: WinchPosition) -> list[Finding]:
    """Judge the backing to one position, and what the record says of it."""
    way = way_to(case, position.trail_id, position.at_m)
    walked = case.by_id.get(position.trail_id)
    if not way or walked is None:
        return [
            Finding(
                code="position_no_way",
                level="stop",
                message=(
                    f"Position {position.position_id}: no way leads to it from the landing "
                    f"(trail {position.trail_id})"
                ),
                subject_layer="winch_positions",
                subject_id=position.position_id,
                source=sources.COMMON_PRACTICE,
                at=(position.x, position.y),
            )
        ]
    back = backing_m(way, places)
    limit = case.area.settings.trails.back_up_m
    found: list[Finding] = []
    if back > limit + 1e-6:
        said, bound = lengths(back, limit, case.units)
        found.append(
            Finding(
                code="backing_far",
                level="stop",
                message=(
                    f"Position {position.position_id} on {walked.called}: {said} of backing from "
                    f"the nearest turning place, over the {bound} you set"
                ),
                subject_layer="winch_positions",
                subject_id=position.position_id,
                from_m=position.at_m,
                to_m=position.at_m,
                value=back,
                limit=limit,
                unit="m",
                source="setting trails.back_up",
                at=(position.x, position.y),
            )
        )
    if position.back_m < back - BACK_NOISE_M:
        found.append(
            Finding(
                code="record_mismatch",
                level="stop",
                message=(
                    f"Position {position.position_id}: {position.back_m:.1f} m of backing stated, "
                    f"{back:.1f} m by the turning places drawn"
                ),
                subject_layer="winch_positions",
                subject_id=position.position_id,
                value=position.back_m,
                limit=back,
                unit="m",
                source=FROM_RECORD,
                at=(position.x, position.y),
            )
        )
    return found


def _far(case: Case, places: list[Way], walked: Walked) -> list[Finding]:
    """Find trail farther from a turning place than one is wanted."""
    at = np.unique(np.append(np.arange(0.0, walked.length_m, LOOK_EVERY_M), walked.length_m))
    ways = [way_to(case, walked.trail.trail_id, float(s)) for s in at]
    back = np.array([backing_m(way, places) if way else 0.0 for way in ways])
    found: list[Finding] = []
    for run in runs(back > EVERY_M + 1e-6, at):
        worst = float(back[run.first : run.last + 1].max())
        said, bound = lengths(worst, EVERY_M, case.units)
        found.append(
            Finding(
                code="turning_far",
                level="caution",
                message=(
                    f"{on(walked, case.units, run.from_m, run.to_m)}: {said} from a turning "
                    f"place; one is wanted every {bound} where the outfit has to turn"
                ),
                subject_layer="trails",
                subject_id=walked.trail.trail_id,
                from_m=run.from_m,
                to_m=run.to_m,
                value=worst,
                limit=EVERY_M,
                unit="m",
                source=str(sources.TURNAROUNDS),
                at=walked.spot(run.to_m),
            )
        )
    return found


def _reverse_curve(case: Case, place: TurningPlace, say: Callable[..., Finding]) -> list[Finding]:
    """Judge the curve of a Y at 1 m stations: it is driven both ways, so uphill limits count."""
    if place.line is None:
        return [say("turning_curve", "unknown", "its curve was not given, so it was not checked")]
    limits, trails = case.limits, case.area.settings.trails
    st = station_table(case.terrain, place.line, trails.width_spur_m)
    found: list[Finding] = []
    grade = float(np.max(np.abs(st.grade_pct)))
    cross = float(np.max(st.cross_pct))
    inner = st.at_m[(st.at_m >= 2.0) & (st.at_m <= place.line.length - 2.0)]
    radius = float(np.min(radius_at(place.line, inner))) if inner.size else np.inf
    if not grade <= limits.adverse_pct + 1e-6:
        said, bound = pair(grade, limits.adverse_pct, "%")
        what = f"its curve climbs {said}, over the {bound} that holds uphill"
        found.append(say("turning_grade", "stop", what, grade, limits.adverse_pct, "%"))
    if not cross <= limits.cross_pct + 1e-6:
        said, bound = pair(cross, limits.cross_pct, "%")
        what = f"its curve leans {said} across, over {bound}"
        found.append(say("turning_cross", "stop", what, cross, limits.cross_pct, "%"))
    if radius < trails.turn_radius_m * 0.98:
        said, bound = lengths(radius, trails.turn_radius_m, case.units)
        what = f"its curve has a {said} radius, tighter than the {bound} you set"
        found.append(say("turning_radius", "stop", what, radius, trails.turn_radius_m, "m"))
    return found


def _place(case: Case, place: TurningPlace) -> list[Finding]:
    """Judge one turning place: level enough, and on ground it may use."""

    def say(
        code: str,
        level: Level,
        what: str,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
    ) -> Finding:
        centre = place.shape.representative_point()
        return Finding(
            code=code,
            level=level,
            message=f"Turning place {place.place_id} on trail {place.trail_id}: {what}",
            subject_layer="turning_places",
            subject_id=place.place_id,
            from_m=place.at_m,
            to_m=place.at_m,
            value=value,
            limit=limit,
            unit=unit,
            source=sources.COMMON_PRACTICE,
            confirmed=False,
            at=(float(centre.x), float(centre.y)),
        )

    found: list[Finding] = []
    if place.trail_id not in case.by_id:
        found.append(say("turning_place_lost", "stop", "its trail is not in the layout"))
    if place.kind == "pad" or (place.kind == "loop" and place.line is None):
        plane = plane_of(case.terrain.dem, place.shape)
        if plane is None:
            found.append(
                say("turning_slope", "unknown", "slope not checked, the elevation grid has a gap")
            )
        elif plane.slope_pct > PAD_PCT + 1e-6:
            said, bound = pair(plane.slope_pct, PAD_PCT, "%")
            found.append(
                say(
                    "turning_slope",
                    "stop",
                    f"slopes {said}, over the {bound} an outfit turns on",
                    plane.slope_pct,
                    PAD_PCT,
                    "%",
                )
            )
    if place.kind == "y" or (place.kind == "loop" and place.line is not None):
        found += _reverse_curve(case, place, say)
    if place.shape.difference(case.land).area > TOUCH_M2:
        found.append(say("turning_outside", "stop", "reaches outside the ground you may use"))
    closed = [(f"the water strip of {s.feature_id}", s.shape) for s in case.strips]
    closed += [(f"keep-out {name}", shape) for name, shape in case.area.named_keep_outs]
    closed.append(("ground closed by a hazard", closed_by_hazards(case.area)))
    if case.setback_m > 0:
        edge = case.property_edge.buffer(case.setback_m)
        closed.append(("the setback from the property line", edge))
    for name, shape in closed:
        if shapely.intersection(place.shape, shape).area > TOUCH_M2:
            found.append(say("turning_closed", "stop", f"reaches into {name}"))
    return found
