"""The shape of trails and how they meet: junctions, mouths, crossings; bends are read beside."""

import math
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString

from layout import sources
from layout.checks.bends import bends, not_known
from layout.checks.case import Case, Walked
from layout.checks.words import lengths, on, pair, place
from layout.findings import Finding, Level

JUNCTION_FROM_M, JUNCTION_TO_M = 5.0, 15.0  # where the spur's own bearing is read
JUNCTION_MAIN_M = 5.0  # and the main's, to each side of the mouth
SQUARE_DEG = 90.0
ANGLE_NOISE_DEG = 1e-6
RECORDED_DEG = 30.0  # a phone's record turns the 10 m the angle is read over by so much; ours
MOUTH_M = 0.1
LANDING_M = 1.0  # a main trail begins this near the landing's outline
STATION_M = 0.5  # stated and measured stations may differ by half a station


def check(case: Case) -> list[Finding]:
    """Judge the lines of every trail and how they join.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Drawn and fixed trails get cautions for bends and length where routed
        ones get stops: their lines are the user's.
    """
    found: list[Finding] = []
    for walked in case.trails:
        found += bends(case, walked)
        found += _start(case, walked)
        found += _junction(case, walked)
        found += _spur_length(case, walked)
        if not walked.shape.is_simple:
            at_m = _first_crossing_m(walked.shape) * walked.length_m / walked.shape.length
            where = f"crosses itself {place(case.units, at_m, at_m, walked.length_m)}"
            found.append(_plain(case, walked, "trail_crosses_itself", where, at_m))
    return found + not_known(case) + _crossings(case)


def _first_crossing_m(line: LineString) -> float:
    """Give how far along a line it first meets itself, metres; 0 if it nowhere does."""
    ends = shapely.get_coordinates(line)
    legs = np.asarray(shapely.linestrings(np.stack([ends[:-1], ends[1:]], axis=1)))
    run = np.concatenate([[0.0], np.cumsum(shapely.length(legs))])
    first, second = shapely.STRtree(legs).query(legs, predicate="intersects")
    met: list[float] = []
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        shared = legs[i].intersection(legs[j])
        if j > i + 1 or (j == i + 1 and shared.length > 0):  # neighbours share an end
            spots = shapely.points(shapely.get_coordinates(shared))
            met.append(float(run[i] + shapely.line_locate_point(legs[i], spots).min()))
    return min(met, default=0.0)


def _plain(case: Case, walked: Walked, code: str, what: str, at_m: float = 0.0) -> Finding:
    """Give a stop that needs no number."""
    return Finding(
        code=code,
        level="stop",
        message=f"{walked.name}: {what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=at_m,
        to_m=at_m,
        source=sources.COMMON_PRACTICE,
        at=walked.spot(at_m),
    )


def _start(case: Case, walked: Walked) -> list[Finding]:
    """Say when a trail does not begin where it says it does."""
    trail = walked.trail
    first = shapely.Point(trail.line.coords[0][:2])
    if not trail.joins_id:
        site = case.landing_named(trail.landing_id)
        if site is None:
            return []
        gap = float(first.distance(site.shape))
        if gap <= LANDING_M:
            return []
        said = lengths(gap, LANDING_M, case.units)[0]
        whose = f"landing {site.landing_id}" if case.more_landings else "the landing"
        return [_plain(case, walked, "starts_off_landing", f"begins {said} away from {whose}")]
    below = case.by_id.get(trail.joins_id)
    if below is None:
        return [
            _plain(
                case,
                walked,
                "joins_nothing",
                f"joins a trail {trail.joins_id} that is not in the layout",
            )
        ]
    gap = float(first.distance(below.trail.line))
    found: list[Finding] = []
    if gap >= MOUTH_M:
        found.append(
            _plain(
                case,
                walked,
                "mouth_off_trail",
                f"its mouth lies {gap:.2f} m off {below.called}; join the lines",
            )
        )
    at = float(below.trail.line.project(first))
    if trail.joins_at_m is None or abs(at - trail.joins_at_m) > STATION_M:
        stated = "nowhere" if trail.joins_at_m is None else f"{trail.joins_at_m:.1f} m"
        found.append(
            _plain(
                case,
                walked,
                "record_mismatch",
                f"stated to join {below.called} at {stated}, but meets it at {at:.1f} m",
            )
        )
    return found


def junction_deg(spur: LineString, main: LineString, at_m: float) -> float:
    """Give the angle between the outbound bearings of spur and main at a mouth.

    Parameters
    ----------
    spur, main : LineString
        Both landing end first; the spur begins at the mouth.
    at_m : float
        Station of the mouth on the main, metres.

    Returns
    -------
    float
        0 parallel, 90 square, above 90 facing the landing, degrees. The spur's
        bearing is read 5 to 15 m beyond the mouth, the main's over 5 m to each
        side of it; a spur shorter than 15 m is read over its far half.
    """
    far = min(JUNCTION_TO_M, float(spur.length))
    near = min(JUNCTION_FROM_M, far / 2)
    lo, hi = max(at_m - JUNCTION_MAIN_M, 0.0), min(at_m + JUNCTION_MAIN_M, float(main.length))

    def bearing(line: LineString, start: float, end: float) -> float:
        a, b = line.interpolate(start), line.interpolate(end)
        return math.atan2(b.y - a.y, b.x - a.x)

    turn = bearing(spur, near, far) - bearing(main, lo, hi)
    return abs(math.degrees((turn + math.pi) % (2 * math.pi) - math.pi))


def _junction(case: Case, walked: Walked) -> list[Finding]:
    """Judge the angle at which a spur leaves."""
    trail = walked.trail
    below = case.by_id.get(trail.joins_id)
    if below is None or trail.joins_at_m is None:
        return []
    limits = case.area.settings.trails
    recorded = walked.recorded is not None or below.recorded is not None
    scale = below.shape.length / below.length_m  # 1 but for a walk, which smoothing shortens
    angle = junction_deg(walked.shape, below.shape, trail.joins_at_m * scale)
    widest = limits.junction_angle_deg + limits.junction_tolerance_deg
    at = place(case.units, trail.joins_at_m, trail.joins_at_m, below.length_m)
    where = f"{walked.name}, leaving {below.called} {at}"
    level: Level
    if recorded and SQUARE_DEG < angle <= SQUARE_DEG + RECORDED_DEG:
        level, limit = "caution", widest
        said, bound = pair(angle, limit, "deg")
        what = (
            f"opens at {said} by a phone's record, wider than {bound}; see on the ground that it "
            "does not face the landing"
        )
    elif angle > SQUARE_DEG + ANGLE_NOISE_DEG:
        level, limit = "stop", SQUARE_DEG
        said, _ = pair(angle, limit, "deg")
        what = f"opens at {said} and faces the landing; loads cannot swing in, turn it round"
    elif angle > widest + ANGLE_NOISE_DEG:
        level, limit = "caution", widest
        said, bound = pair(angle, limit, "deg")
        what = f"opens at {said}, wider than {bound}; loads will rub at the corner"
    else:
        level, limit = "ok", widest
        what = f"opens at {angle:.0f} degrees, within the {widest:.0f} you set"
    return [
        Finding(
            code="junction_angle",
            level=level,
            message=f"{where}: {what}",
            subject_layer="trails",
            subject_id=trail.trail_id,
            from_m=0.0,
            to_m=min(JUNCTION_TO_M, walked.length_m),
            value=angle,
            limit=limit,
            unit="deg",
            source=sources.COMMON_PRACTICE,
            confirmed=False,
            at=walked.spot(0.0),
        )
    ]


def _spur_length(case: Case, walked: Walked) -> list[Finding]:
    """Judge the length of a spur between junctions."""
    if walked.trail.kind != "spur":
        return []
    limit = case.area.settings.trails.spur_length_m
    mouths = sorted(
        w.trail.joins_at_m
        for w in case.trails
        if w.trail.joins_id == walked.trail.trail_id and w.trail.joins_at_m is not None
    )
    knots = [0.0, *mouths, walked.length_m]
    found: list[Finding] = []
    for start, end in pairwise(knots):
        if end - start <= limit + 1e-6:
            continue
        said, bound = lengths(end - start, limit, case.units)
        found.append(
            Finding(
                code="spur_length",
                level="caution" if walked.is_drawn else "stop",
                message=(
                    f"{on(walked, case.units, start, end)}: {said} between junctions, "
                    f"longer than the {bound} you set"
                ),
                subject_layer="trails",
                subject_id=walked.trail.trail_id,
                from_m=start,
                to_m=end,
                value=end - start,
                limit=limit,
                unit="m",
                source="setting trails.spur_length",
                at=walked.spot(0.5 * (start + end)),
            )
        )
    return found


def _crossings(case: Case) -> list[Finding]:
    """Find trails that meet elsewhere than at a mouth."""
    found: list[Finding] = []
    lines = [w.trail.line for w in case.trails]
    if len(lines) < 2:
        return found
    tree = shapely.STRtree(lines)
    pairs = tree.query(lines, predicate="intersects")
    for i, j in sorted({(int(a), int(b)) for a, b in pairs.T if a < b}):
        first, second = case.trails[i], case.trails[j]
        mouths = _mouths(first, second) + _mouths(second, first) + _shared(first, second)
        meets = first.trail.line.intersection(second.trail.line)
        reach = max(first.trail.width_m, second.trail.width_m)
        for part in shapely.get_parts(meets):
            # a spur leaves nearly parallel: its first metres may graze the trail it joins
            if any(part.hausdorff_distance(mouth) <= reach for mouth in mouths):
                continue
            spot = shapely.get_coordinates(part)[0]
            at_first = float(first.trail.line.project(shapely.Point(spot)))
            at_second = float(second.trail.line.project(shapely.Point(spot)))
            found.append(
                Finding(
                    code="trails_cross",
                    level="stop",
                    message=(
                        f"{first.name} {place(case.units, at_first, at_first, first.length_m)} "
                        f"meets {second.called} "
                        f"{place(case.units, at_second, at_second, second.length_m)} away from "
                        "any mouth; let one of them end there or lead them apart"
                    ),
                    subject_layer="trails",
                    subject_id=first.trail.trail_id,
                    from_m=at_first,
                    to_m=at_first,
                    source=sources.COMMON_PRACTICE,
                    at=(float(spot[0]), float(spot[1])),
                )
            )
    return found


def _mouths(spur: Walked, other: Walked) -> list[shapely.Point]:
    """Give the mouth of one trail on another, if that is where it begins."""
    if spur.trail.joins_id != other.trail.trail_id:
        return []
    return [shapely.Point(spur.trail.line.coords[0][:2])]


def _shared(first: Walked, second: Walked) -> list[shapely.Point]:
    """Give the common start of two trails that leave one place."""
    a = shapely.Point(first.trail.line.coords[0][:2])
    b = shapely.Point(second.trail.line.coords[0][:2])
    return [a] if a.distance(b) <= MOUTH_M else []
