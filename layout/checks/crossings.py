"""Trails over water: whether they may, how they lie there, and the strips they pass.

Angle, approaches, banks and the way through the strip are read again from the
final line. What may be built there is named and never sized.
"""

from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from layout import sources
from layout.banks import drawn_parts
from layout.checks.case import Case, Stretch, Walked, stretches
from layout.checks.parking import stand_of
from layout.checks.space import touched
from layout.checks.words import lengths, on, pair
from layout.crossings import (
    APART_M,
    APPROACH_M,
    Fault,
    crossings_of,
    faults_of,
    is_stream,
    may_be_crossed,
)
from layout.drained import drained_ha
from layout.findings import Finding, Level
from layout.passages import straight, strips_crossed
from layout.records import Crossing
from layout.site import WaterFeature
from layout.speech import speak_area, speak_length

WAYS = {
    "ephemeral": "dry, over firm ground; with poles laid along the channel; over mats",
    "intermittent": "over mats or a temporary bridge; with poles in a shallow channel; by a ford "
    "on firm, stony bottom; through a culvert",
    "perennial": "over a temporary bridge or mats, bank to bank; through a culvert; by a ford "
    "only on firm, stony bottom and where the rule lets you",
}
NOT_SIZED = (
    "nothing here sizes a pipe or a span: your state's rule and the permit say what flood it must "
    "carry, and a licensed person or the forestry agency sizes it"
)


def check(case: Case) -> list[Finding]:
    """Judge every crossing of a trail and water, and every way through a strip.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        A stop where water is crossed without leave or outside the limits, or a
        strip is entered for anything but a crossing; a caution for every other.
    """
    allowed = case.area.settings.trails.crossings
    drained = drained_ha(case.area, case.terrain) if allowed else None
    met = crossings_of(case.area, case.terrain, [w.trail for w in case.trails], drained)
    never = {body.feature_id: body for body in case.area.water if not may_be_crossed(body)}
    found: list[Finding] = []
    for walked in case.trails:
        mine = [c for c in met if c.trail_id == walked.trail.trail_id]
        for crossing in mine:
            if not allowed or crossing.feature_id in never:
                body = never.get(crossing.feature_id) if allowed else None
                found.append(_barred(case, walked, crossing, body))
            else:
                found += _judged(case, walked, crossing, alone=len(met) == 1)
        over = [c for c in mine if c.feature_id not in never] if allowed else []
        found += _strips(case, walked, over)
    return found + (_parked(case) if allowed else [])


def _say(
    case: Case,
    walked: Walked,
    from_m: float,
    to_m: float,
    code: str,
    level: Level,
    what: str,
    *,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    source: str = sources.COMMON_PRACTICE,
    confirmed: bool = True,
) -> Finding:
    return Finding(
        code=code,
        level=level,
        message=f"{on(walked, case.units, from_m, to_m)}: {what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=from_m,
        to_m=to_m,
        value=value,
        limit=limit,
        unit=unit,
        source=source,
        confirmed=confirmed,
        at=walked.spot(0.5 * (from_m + to_m)),
    )


def _barred(case: Case, walked: Walked, crossing: Crossing, body: WaterFeature | None) -> Finding:
    """Say why water may not be crossed: by the setting, or by what this body is."""
    what = f"crosses {crossing.water_class} {crossing.feature_id}"
    source = sources.COMMON_PRACTICE
    if body is None:
        what += ", and crossings are not allowed (trails.crossings)"
        source = "setting trails.crossings"
    elif is_stream(body):
        kinds = {part.geom_type for part in drawn_parts(body.geometry)}
        drawn = "an area" if "Polygon" in kinds else "a point"
        what += (
            f", drawn as {drawn}: how a trail lies to it is not known. Draw its middle line "
            "with bank_width_m to let it be crossed"
        )
    else:
        what += "; ponds, wetlands, springs and wells are never crossed, go round"
    return _say(
        case, walked, crossing.from_m, crossing.to_m, "water_crossed", "stop", what,
        value=1.0, limit=0.0, source=source,
    )  # fmt: skip


def _judged(case: Case, walked: Walked, crossing: Crossing, *, alone: bool) -> list[Finding]:
    """Say what an allowed crossing asks for, and what speaks against it."""
    place = (case, walked, crossing.from_m, crossing.to_m)
    name = f"{crossing.water_class} {crossing.feature_id}"
    ways = WAYS.get(crossing.water_class, WAYS["perennial"])
    drains = "how much ground drains to it is not known"
    if crossing.area_ha is not None:
        size = speak_area(1e4 * crossing.area_ha, case.units)
        drains = f"{size} drain to it by the elevations"
    found = [
        _say(
            *place, "water_crossed", "caution",
            f"crosses {name} ({crossing.crossing_id}); ask about a permit first. It could be made "
            f"{ways}. {drains[0].upper()}{drains[1:]}; {NOT_SIZED}. Take it out right after use",
            value=1.0, source=str(sources.CROSSING_REMOVED),
        )
    ]  # fmt: skip
    found += [_fault(case, walked, crossing, name, fault) for fault in faults_of(crossing)]
    if not alone and crossing.apart_m is not None and crossing.apart_m < APART_M:
        said, bound = lengths(crossing.apart_m, APART_M, case.units)
        found.append(
            _say(
                *place, "crossing_near", "caution",
                f"{said} from the next crossing, nearer than {bound}; try to do with one",
                value=crossing.apart_m, limit=APART_M, unit="m",
                source=str(sources.CROSSING_COUNT),
            )
        )  # fmt: skip
    return found


def _fault(case: Case, walked: Walked, crossing: Crossing, name: str, fault: Fault) -> Finding:
    """Put into words what speaks against one crossing."""
    level: Level = "stop"
    value = fault.value
    if fault.code == "crossing_angle":
        if value is None:
            what = f"runs along {name}; a channel is never a trail, cross it square or stay out"
        else:
            said, bound = pair(value, fault.limit, "deg")
            what = f"meets {name} at {said}; cross nearer to square, {bound} or more"
    elif value is None:
        level = "unknown"
        what = f"approaches and banks at {name} not checked, the elevations have a gap or end here"
    elif fault.code == "crossing_approach":
        said, bound = pair(value, fault.limit, "%")
        away = speak_length(APPROACH_M, case.units)
        what = f"grade of {said} within {away} of {name}, over {bound}"
    elif fault.code == "crossing_bank":
        said, bound = lengths(value, fault.limit, case.units)
        what = (
            f"a bank of {said} at {name} by the elevations, over {bound}; it would have to be "
            "cut down. Cross where banks are low, and measure there"
        )
    else:
        said, bound = lengths(value, fault.limit, case.units)
        what = (
            f"{said} of water at {name}, bank to bank, over {bound}; that asks for a built bridge"
        )
    return _say(
        case, walked, crossing.from_m, crossing.to_m, fault.code, level, what,
        value=value, limit=fault.limit, unit=fault.unit, source=fault.source,
        confirmed=fault.confirmed,
    )  # fmt: skip


def _strips(case: Case, walked: Walked, over: list[Crossing]) -> list[Finding]:
    """Find where a trail enters a water strip; straight on to a crossing it may."""
    streams = strips_crossed(case.area, case.strips)
    through = _through(walked, unary_union([s.shape for s in streams]), over) if over else []
    found: list[Finding] = []
    for strip in case.strips:
        for part in touched(walked, strip.shape):
            passes = strip in streams and any(
                way.from_m - 1 <= part.from_m and part.to_m <= way.to_m + 1 for way in through
            )
            long = speak_length(part.length_m, case.units)
            rule = strip.rule or "no local rule chosen"
            what = f"inside the water strip of {strip.feature_id} for {long} ({rule})"
            what += "; the way to a crossing you allow" if passes else "; move the trail out of it"
            found.append(
                _say(
                    case, walked, part.from_m, part.to_m, "strip_entered",
                    "caution" if passes else "stop", what,
                    value=part.length_m, limit=0.0, unit="m", source=rule,
                    confirmed=strip.confirmed,
                )
            )  # fmt: skip
    return found


def _through(walked: Walked, shape: BaseGeometry, over: list[Crossing]) -> list[Stretch]:
    """Give the ways through the strips of streams: straight, and each over some water."""
    line = walked.shape
    ways = stretches(walked.trail.line, walked.footprint.intersection(shape))
    return [
        way
        for way in ways
        if any(way.from_m - 1 <= c.at_m <= way.to_m + 1 for c in over)
        and straight(line, min(way.from_m, line.length), min(way.to_m, line.length))
    ]


def _parked(case: Case) -> list[Finding]:
    """Find outfits that winch while they stand in a strip."""
    found: list[Finding] = []
    for position in case.positions:
        outline = stand_of(case, position).outline
        for strip in case.strips:
            if not outline.intersects(strip.shape):
                continue
            found.append(
                Finding(
                    code="crossing_parked",
                    level="stop",
                    message=f"Position {position.position_id}: the outfit stands in the water "
                    f"strip of {strip.feature_id}; a strip is passed and never worked from",
                    subject_layer="winch_positions",
                    subject_id=position.position_id,
                    from_m=position.at_m,
                    to_m=position.at_m,
                    source=strip.rule or "no local rule chosen",
                    confirmed=strip.confirmed,
                    at=(position.x, position.y),
                )
            )
    return found
