"""Bends of trails: tighter than the load follows, or than a walk's record can tell.

A phone wanders by some metres, and a line it recorded bends where the trail does
not. What is left of its bends when it is smoothed over its own error is judged like
any other; of the rest nothing is known.
"""

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from layout import sources
from layout.checks.case import Case, Walked
from layout.checks.words import lengths, on
from layout.findings import Finding, Level
from layout.geometry import at_stations, coordinates
from layout.runs import runs
from layout.units import FOOT_M

Floats = NDArray[np.float64]
Run = tuple[Level, float, float, float]  # of tight bend: how grave, from, to, least radius

RADIUS_HALF_M = 2.0  # the circle goes through the points 2 m before and after: a 4 m baseline
TRACTOR_RADIUS_M = 15 * FOOT_M  # tighter than a tractor turns on its own; memory: unverified
RADIUS_TOLERANCE = 0.02
BEND_STEP_M = 0.5  # a short arc peaks between whole metres


def radius_at(line: LineString, at_m: Floats, half_m: float = RADIUS_HALF_M) -> Floats:
    """Give the radius of the circle through three points of a line.

    Parameters
    ----------
    line : LineString
        Centre line.
    at_m : ndarray of float, shape (n,)
        Stations, metres.
    half_m : float, optional
        The outer points lie this far before and after along the line.

    Returns
    -------
    ndarray of float, shape (n,)
        Radius, metres; infinite where straight, NaN within ``half_m`` of an end.
    """
    at = np.asarray(at_m, dtype=float)
    way = coordinates(line)
    length = float(line.length)
    inside = (at >= half_m - 1e-9) & (at <= length - half_m + 1e-9)

    def points(s: Floats) -> Floats:
        return at_stations(way, s)

    a = points(np.clip(at - half_m, 0, length))
    b = points(np.clip(at, 0, length))
    c = points(np.clip(at + half_m, 0, length))
    ab, bc, ac = (np.hypot(*(q - p).T) for p, q in ((a, b), (b, c), (a, c)))
    twice = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    # three points on one line: straight on, or doubling back on itself
    ahead = ((b - a) * (c - b)).sum(axis=1) >= 0
    flat = np.where(ahead, np.inf, 0.0)
    bent = twice > 0
    radius = np.where(bent, ab * bc * ac / np.where(bent, 2.0 * twice, 1.0), flat)
    return np.asarray(np.where(inside, radius, np.nan))


def bends(case: Case, walked: Walked) -> list[Finding]:
    """Find bends tighter than the load follows, the one through the mouth included.

    Parameters
    ----------
    case : Case
        The layout.
    walked : Walked
        One trail of it.

    Returns
    -------
    list of Finding
        Of a trail that a phone recorded, only what its error leaves.
    """
    limit = case.area.settings.trails.turn_radius_m
    if walked.recorded is not None:
        sure, _ = _recorded(case, walked, limit)
        return [_bend(case, walked, "turn_radius", *run, limit) for run in sure]
    found = [
        _bend(case, walked, "turn_radius", level, from_m, to_m, least, limit)
        for level, from_m, to_m, least in _tight(walked, walked.trail.line, limit)
    ]
    mouth = _through_mouth(case, walked)
    if mouth is not None and mouth < limit * (1 - RADIUS_TOLERANCE):
        found.append(_bend(case, walked, "mouth_radius", "caution", 0.0, 0.0, mouth, limit))
    return found


def _tight(walked: Walked, line: LineString, limit_m: float) -> list[Run]:
    """List stretches of a line tighter than a limit."""
    at = np.append(
        np.arange(RADIUS_HALF_M, line.length - RADIUS_HALF_M, BEND_STEP_M),
        line.length - RADIUS_HALF_M,
    )
    at = np.unique(at[at >= RADIUS_HALF_M - 1e-9])
    if not at.size:
        return []
    radius = radius_at(line, at)
    found: list[Run] = []
    for run in runs(radius < limit_m * (1 - RADIUS_TOLERANCE), at):
        least = float(radius[run.first : run.last + 1].min())
        drivable = least >= TRACTOR_RADIUS_M
        level: Level = "caution" if walked.is_drawn and drivable else "stop"
        found.append((level, run.from_m, run.to_m, least))
    return found


def _meet(a: Run, b: Run, within_m: float) -> bool:
    """Tell whether two stretches lie within a distance of each other."""
    return a[1] - within_m <= b[2] and b[1] - within_m <= a[2]


def _recorded(case: Case, walked: Walked, limit_m: float) -> tuple[list[Run], bool]:
    """Give the bends of a walk that its phone's error leaves, and whether it hides others."""
    off_m = case.area.walked_m(walked.trail.trail_id) or 0.0
    scale = walked.length_m / walked.shape.length
    raw = _tight(walked, walked.trail.line, limit_m)
    sure = [
        (level, from_m * scale, to_m * scale, least)
        for level, from_m, to_m, least in _tight(walked, walked.shape, limit_m)
    ]
    # Smoothing draws a wide turn in: what the record itself has wide enough is no fault.
    sure = [run for run in sure if any(_meet(run, other, off_m) for other in raw)]
    mouth = _through_mouth(case, walked)
    hidden = mouth is not None and mouth < limit_m * (1 - RADIUS_TOLERANCE)
    hidden |= not all(any(_meet(run, other, off_m) for run in sure) for other in raw)
    return sure, hidden


def not_known(case: Case) -> list[Finding]:
    """Say once of which trails a phone's record hides the bends.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        One at most.
    """
    limit = case.area.settings.trails.turn_radius_m
    hidden = [
        walked
        for walked in case.trails
        if walked.recorded is not None and _recorded(case, walked, limit)[1]
    ]
    if not hidden:
        return []
    names = ", ".join(sorted(walked.trail.trail_id for walked in hidden))
    what, were = ("Trail", "was") if len(hidden) == 1 else ("Trails", "were")
    one = hidden[0]
    return [
        Finding(
            code="bends_not_known",
            level="unknown",
            message=f"{what} {names} {were} recorded by a phone: bends and grades over short "
            "lengths cannot be judged from it; measure them on the ground",
            subject_layer="trails",
            subject_id=one.trail.trail_id if len(hidden) == 1 else "",
            source=sources.COMMON_PRACTICE,
            at=one.spot(0.5 * one.length_m),
        )
    ]


def _bend(
    case: Case,
    walked: Walked,
    code: str,
    level: Level,
    from_m: float,
    to_m: float,
    radius_m: float,
    limit_m: float,
) -> Finding:
    """Put one bend into words."""
    said, bound = lengths(radius_m, limit_m, case.units)
    what = "bend" if code == "turn_radius" else "bend through the mouth"
    return Finding(
        code=code,
        level=level,
        message=(
            f"{on(walked, case.units, from_m, to_m)}: {what} of {said} radius, "
            f"tighter than the {bound} you set; widen it or plan a rub tree"
        ),
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=from_m,
        to_m=to_m,
        value=radius_m,
        limit=limit_m,
        unit="m",
        source=sources.COMMON_PRACTICE,
        confirmed=False,
        at=walked.spot(0.5 * (from_m + to_m)),
    )


def _through_mouth(case: Case, walked: Walked) -> float | None:
    """Give the tightest radius of the way from a spur onto the trail it joins."""
    trail = walked.trail
    below = case.by_id.get(trail.joins_id)
    if below is None or trail.joins_at_m is None or walked.length_m < 2 * RADIUS_HALF_M:
        return None
    back = 2 * RADIUS_HALF_M
    if trail.joins_at_m < RADIUS_HALF_M:
        return None
    before = np.arange(max(trail.joins_at_m - back, 0.0), trail.joins_at_m - 1e-6, 0.5)
    after = np.arange(0.0, min(back, walked.length_m) + 1e-6, 0.5)
    way = LineString(
        np.concatenate(
            [
                shapely.get_coordinates(shapely.line_interpolate_point(below.trail.line, before)),
                shapely.get_coordinates(shapely.line_interpolate_point(trail.line, after)),
            ]
        )
    )
    at = np.arange(RADIUS_HALF_M, way.length - RADIUS_HALF_M + 1e-9, 0.5)
    return float(np.nanmin(radius_at(way, at))) if at.size else None
