"""Where the tractor parks to winch: level, on its trail, clear of bends and mouths.

The fairlead stands at the position; the outfit reaches its own length from
there toward the landing, in the parked heading.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Polygon

from layout import sources
from layout.checks.bends import radius_at
from layout.checks.case import Case, Walked
from layout.checks.words import lengths, pair
from layout.findings import Finding, Level
from layout.grid import bilinear
from layout.records import WinchPosition
from layout.units import FOOT_M
from layout.winch_rules import PARK_PCT, PARK_STOP_PCT, swing_limit_deg

CLEAR_M = 15 * FOOT_M
BEND_SHARE = 1.25  # a bend within a quarter of the tightest allowed is a bend to keep clear of
STATED_PCT = 0.5
STATED_DEG = 3.0  # a trail's direction at a point of a bend can be read in more than one way
STATED_M = 0.5
OFF_LINE_M = 0.5


@dataclass(frozen=True, slots=True)
class Stand:
    """How a parked outfit lies, read from the smoothed ground.

    Parameters
    ----------
    rear_rad : float
        Direction the rear points, counter-clockwise from grid east.
    along_pct : float
        Grade in the parked heading, loaded direction: rear higher is negative.
    cross_pct : float
        Unsigned.
    left_higher_pct : float
        + where the left side, seen from the seat looking back, is the higher.
    outline : Polygon
        The ground the outfit covers.
    """

    rear_rad: float
    along_pct: float
    cross_pct: float
    left_higher_pct: float
    outline: Polygon


def stand_of(case: Case, position: WinchPosition, rear_rad: float | None = None) -> Stand:
    """Read how the outfit lies at a position.

    Parameters
    ----------
    case : Case
        The layout.
    position : WinchPosition
        Where the fairlead stands.
    rear_rad : float, optional
        Parked heading; the stated one unless given.

    Returns
    -------
    Stand
        Slopes are NaN where the elevation grid has a gap.
    """
    tractor, dem = case.area.settings.tractor, case.terrain.smooth
    rear = math.radians(90.0 - position.rear_azimuth_deg) if rear_rad is None else rear_rad
    back = np.array([math.cos(rear), math.sin(rear)])
    left = np.array([-back[1], back[0]])
    fairlead = np.array([position.x, position.y])
    middle = fairlead - 0.5 * tractor.length_m * back
    half_long = 0.5 * max(tractor.length_m, 2 * dem.cell_m)
    half_wide = 0.5 * max(tractor.track_m, 2 * dem.cell_m)
    points = np.array(
        [
            middle + half_long * back,
            middle - half_long * back,
            middle + half_wide * left,
            middle - half_wide * left,
        ]
    )
    rear_z, nose_z, left_z, right_z = bilinear(dem, points[:, 0], points[:, 1])
    tilt = 100.0 * float(left_z - right_z) / (2 * half_wide)
    half = 0.5 * tractor.width_m * left
    nose = fairlead - tractor.length_m * back
    return Stand(
        rear_rad=rear,
        along_pct=-100.0 * float(rear_z - nose_z) / (2 * half_long),
        cross_pct=abs(tilt),
        left_higher_pct=tilt,
        outline=Polygon([fairlead + half, fairlead - half, nose - half, nose + half]),
    )


def check(case: Case) -> list[Finding]:
    """Judge every winch position.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Stops over a limit and where a record does not say what the ground
        says; cautions past the softer tier.
    """
    found: list[Finding] = []
    for position in case.positions:
        stand = stand_of(case, position)
        found += _level(case, position, stand)
        walked = case.by_id.get(position.trail_id)
        if walked is not None:
            found += _on_trail(case, position, stand, walked)
            found += _clear(case, position, walked)
        elif not position.trail_id:
            found += _on_landing(case, position, stand)
    return found


def say(
    position: WinchPosition,
    code: str,
    level: Level,
    what: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
) -> Finding:
    """Put one result of a position into words."""
    return Finding(
        code=code,
        level=level,
        message=f"Position {position.position_id}: {what}",
        subject_layer="winch_positions",
        subject_id=position.position_id,
        from_m=position.at_m if position.trail_id else None,
        to_m=position.at_m if position.trail_id else None,
        value=value,
        limit=limit,
        unit=unit,
        source=sources.COMMON_PRACTICE,
        confirmed=False,
        at=(position.x, position.y),
    )


def _level(case: Case, position: WinchPosition, stand: Stand) -> list[Finding]:
    """Judge how level it stands, and whether the record says the same."""
    found: list[Finding] = []
    if not (math.isfinite(stand.along_pct) and math.isfinite(stand.cross_pct)):
        what = "parking slope not checked, the elevation grid has a gap"
        return [say(position, "parking_slope", "unknown", what)]
    for name, value, stated in (
        ("across", stand.cross_pct, position.cross_pct),
        ("along", abs(stand.along_pct), abs(position.along_pct)),
    ):
        if value > PARK_STOP_PCT + 1e-6:
            said, bound = pair(value, PARK_STOP_PCT, "%")
            what = f"parks on {said} {name} its axis, over {bound}; park where it is more level"
            found.append(say(position, "parking_slope", "stop", what, value, PARK_STOP_PCT, "%"))
        elif value > PARK_PCT + 1e-6:
            said, bound = pair(value, PARK_PCT, "%")
            what = f"parks on {said} {name} its axis, past {bound}; dig the butt plate in"
            found.append(say(position, "parking_slope", "caution", what, value, PARK_PCT, "%"))
        if abs(value - stated) > STATED_PCT:
            what = f"slope {name} its axis stated as {stated:.1f} %, measured {value:.1f} %"
            found.append(say(position, "record_mismatch", "stop", what, stated, value, "%"))
    return found


def _on_trail(case: Case, position: WinchPosition, stand: Stand, walked: Walked) -> list[Finding]:
    """Judge whether the outfit stands on its trail, at its station, within its swing."""
    found: list[Finding] = []
    tractor, trail = case.area.settings.tractor, walked.trail
    point = shapely.Point(position.x, position.y)
    off = float(trail.line.distance(point))
    at = float(trail.line.project(point))
    if off > OFF_LINE_M + 1e-6 or abs(at - position.at_m) > OFF_LINE_M:
        what = (
            f"stated on {walked.called} at {position.at_m:.1f} m, but lies {off:.1f} m beside "
            f"{at:.1f} m"
        )
        found.append(say(position, "record_mismatch", "stop", what, at, position.at_m, "m"))
    outbound = bearing_rad(walked, position.at_m)
    swing = wrapped(stand.rear_rad - outbound)
    if abs(abs(math.degrees(swing)) - abs(position.swing_deg)) > STATED_DEG:
        what = (
            f"stated to swing {abs(position.swing_deg):.0f} degrees off its trail, "
            f"but points {abs(math.degrees(swing)):.0f} degrees off it"
        )
        found.append(
            say(
                position,
                "record_mismatch",
                "stop",
                what,
                position.swing_deg,
                math.degrees(swing),
                "deg",
            )
        )
    most = swing_limit_deg(tractor.length_m, tractor.width_m, trail.width_m)
    if abs(math.degrees(swing)) > most + STATED_DEG:
        said, bound = pair(abs(math.degrees(swing)), most, "deg")
        what = f"swings {said} off its trail, and only {bound} fit on its width"
        found.append(
            say(
                position,
                "outline_off_trail",
                "stop",
                what,
                abs(math.degrees(swing)),
                most,
                "deg",
            )
        )
    return found


def _clear(case: Case, position: WinchPosition, walked: Walked) -> list[Finding]:
    """Find bends and mouths too near."""
    mouths = [0.0] if walked.trail.joins_id else []
    mouths += [
        w.trail.joins_at_m
        for w in case.trails
        if w.trail.joins_id == walked.trail.trail_id and w.trail.joins_at_m is not None
    ]
    found: list[Finding] = []
    near = min((abs(m - position.at_m) for m in mouths), default=math.inf)
    if near < CLEAR_M - 1e-6:
        said, bound = lengths(near, CLEAR_M, case.units)
        what = f"{said} from a junction; {bound} clear of it is better"
        found.append(say(position, "position_near_junction", "caution", what, near, CLEAR_M, "m"))
    at = np.arange(position.at_m - CLEAR_M, position.at_m + CLEAR_M + 1e-9, 0.5)
    least = float(np.nanmin(radius_at(walked.trail.line, at), initial=np.inf))
    if walked.recorded is not None:  # a walk without its wiggles is shorter
        at *= walked.recorded.length / walked.length_m
        least = max(least, float(np.nanmin(radius_at(walked.recorded, at), initial=np.inf)))
    bend = BEND_SHARE * case.area.settings.trails.turn_radius_m
    if least < bend:
        said, bound = lengths(least, bend, case.units)
        away = lengths(CLEAR_M, CLEAR_M, case.units)[1]
        what = f"within {away} of a bend of {said} radius; winch from straight trail"
        found.append(say(position, "position_near_bend", "caution", what, least, bend, "m"))
    return found


def _on_landing(case: Case, position: WinchPosition, stand: Stand) -> list[Finding]:
    """Judge a position on the landing, where any heading will do."""
    site = case.landing_named(position.landing_id)
    if site is None:
        return [say(position, "position_no_way", "stop", "stands on a landing that is not there")]
    point = shapely.Point(position.x, position.y)
    found: list[Finding] = []
    if site.shape.distance(point) > OFF_LINE_M:
        what = "stated on the landing, but lies outside it"
        found.append(say(position, "record_mismatch", "stop", what))
    if not case.land.covers(stand.outline):
        what = "the outfit would stand partly outside the ground you may use"
        found.append(say(position, "outline_off_land", "stop", what))
    return found


def bearing_rad(walked: Walked, at_m: float) -> float:
    """Give the outbound direction of a trail at a station, radians."""
    line = walked.trail.line
    a = line.interpolate(max(at_m - 0.5, 0.0))
    b = line.interpolate(min(at_m + 0.5, float(line.length)))
    return math.atan2(b.y - a.y, b.x - a.x)


def wrapped(angle_rad: float) -> float:
    """Bring an angle into [-pi, pi)."""
    return (angle_rad + math.pi) % (2 * math.pi) - math.pi
