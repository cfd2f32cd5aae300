"""Slope across a trail: where a loaded tractor leans."""

import numpy as np
import shapely
from numpy.typing import NDArray

from layout import sources
from layout.checks.case import Case, Walked
from layout.checks.words import on, pair
from layout.findings import Finding
from layout.geometry import bearings, coordinates, wrap
from layout.runs import Run, over, runs, worst

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ON_BENCH_M = 2.0  # a trail within this of an old bench's line lies on it
ALONG_BENCH_RAD = np.radians(30.0)


def check(case: Case) -> list[Finding]:
    """Judge the cross slope of every trail.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        One a run: stops over the limit in force; cautions past the softer
        tier, where benching is allowed, and on a recorded bench.
    """
    found: list[Finding] = []
    for walked in case.trails:
        found += _one(case, walked)
    return found


def on_bench(case: Case, walked: Walked) -> Flags:
    """Say which stations lie on a bench known to be sound, shape (n,)."""
    s = walked.stations
    if walked.trail.benched:
        return np.ones(len(s), dtype=bool)
    here = np.zeros(len(s), dtype=bool)
    points = shapely.points(s.x, s.y)
    for old in case.area.existing:
        if not old.benched:
            continue
        near = np.asarray(shapely.dwithin(points, old.line, ON_BENCH_M))
        if not near.any():
            continue
        at = np.asarray(shapely.line_locate_point(old.line, points))
        apart = np.abs(wrap(bearings(coordinates(old.line), at, 2.0) - s.heading_rad))
        here |= near & (np.minimum(apart, np.pi - apart) <= ALONG_BENCH_RAD)
    return here


def _one(case: Case, walked: Walked) -> list[Finding]:
    """Judge one trail."""
    s, limits = walked.stations, case.limits
    bench = on_bench(case, walked)
    steep = over(s.cross_pct, limits.cross_pct)
    allowed_pct = case.area.settings.trails.bench_up_to_pct
    dug = steep & ~bench & ~over(s.cross_pct, allowed_pct)
    stopped = steep & ~bench & ~dug
    found = [_say(case, walked, run, "stop") for run in runs(stopped, s.at_m)]
    found += [_say(case, walked, run, "dig") for run in runs(dug, s.at_m)]
    found += [_say(case, walked, run, "bench") for run in runs(steep & bench, s.at_m)]
    past = over(s.cross_pct, limits.cross_caution_pct)
    for run in runs(past, s.at_m):
        if not steep[run.first : run.last + 1].any():
            found.append(_say(case, walked, run, "care"))
    return found


def _say(case: Case, walked: Walked, run: Run, kind: str) -> Finding:
    """Put one run into words."""
    limits = case.limits
    top = worst(walked.stations.cross_pct, run)
    limit = limits.cross_caution_pct if kind == "care" else limits.cross_pct
    said, bound = pair(top, limit, "%")
    code, level, what = "cross_slope", "caution", f"slope across the trail {said}"
    if kind == "stop":
        level, what = "stop", f"{what}, over the {bound} allowed without a bench; move the trail"
    elif kind == "dig":
        code = "cross_slope_bench"
        most = case.area.settings.trails.bench_up_to_pct
        limit, what = most, f"{what}; needs a bench dug (you allow benching up to {most:.0f} %)"
    elif kind == "bench":
        code = "cross_slope_on_bench"
        what = (
            f"{what} by the elevation grid, on a bench recorded as sound; "
            "look at its width and outer edge before driving"
        )
    else:
        what = f"{what}, past the {bound} where care begins"
    source = sources.FARM_TRACTOR_SLOPES
    return Finding(
        code=code,
        level="stop" if level == "stop" else "caution",
        message=f"{on(walked, case.units, run.from_m, run.to_m)}: {what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=run.from_m,
        to_m=run.to_m,
        value=top,
        limit=limit,
        unit="%",
        source=str(source),
        confirmed=source.confirmed,
        at=walked.spot(0.5 * (run.from_m + run.to_m)),
    )
