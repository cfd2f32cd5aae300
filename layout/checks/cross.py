"""Slope across a trail: where a loaded tractor leans."""

import numpy as np

from layout import benching, sources
from layout.checks.case import Case, Walked
from layout.checks.words import on, pair
from layout.findings import Finding
from layout.runs import Run, over, runs, worst
from layout.speech import speak_length, speak_volume


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
        tier, where a bench is to be dug, and on a recorded bench.
    """
    found: list[Finding] = []
    for walked in case.trails:
        found += _one(case, walked)
    return found


def _one(case: Case, walked: Walked) -> list[Finding]:
    """Judge one trail."""
    s, limits = walked.stations, case.limits
    bench = benching.on_old_bench(case.area, walked.trail, s)
    steep = over(s.cross_pct, limits.cross_pct)
    new = walked.bench
    dug = np.zeros(len(s), dtype=bool) if new is None else new.dug
    stopped = steep & ~bench & ~dug
    found = [_say(case, walked, run, "stop") for run in runs(stopped, s.at_m)]
    if new is not None:
        found += [_dig(case, walked, new, run) for run in runs(dug, s.at_m)]
    found += [_say(case, walked, run, "bench") for run in runs(steep & bench, s.at_m)]
    past = over(s.cross_pct, limits.cross_caution_pct)
    for run in runs(past, s.at_m):
        if not steep[run.first : run.last + 1].any():
            found.append(_say(case, walked, run, "care"))
    return found


def _dig(case: Case, walked: Walked, bench: benching.Bench, run: Run) -> Finding:
    """Say what one new bench takes; a bank too high is a stop."""
    units = case.units
    most = case.area.settings.trails.bench_up_to_pct
    top, high = worst(walked.stations.cross_pct, run), worst(bench.section.cut_height_m, run)
    cut_m3, fill_m3 = bench.volume_m3(run.from_m, run.to_m)
    what = (
        f"slope across the trail {top:.0f} %, within the {most:g} % you allow benching up to: "
        f"a bench {speak_length(run.length_m, units)} long, cut bank up to "
        f"{speak_length(high, units)} high, {speak_volume(cut_m3, units)} cut and "
        f"{speak_volume(fill_m3, units)} filled"
    )
    tall = high > benching.CUT_MOST_M + 1e-6
    if tall:
        bound = speak_length(benching.CUT_MOST_M, units)
        what += f"; a bank over {bound} is not for a plan like this (ours), so move the trail"
    else:
        what += "; needs a machine that can dig, a person who has built one, and local approval"
    return Finding(
        code="bench_cut_high" if tall else "bench_needed",
        level="stop" if tall else "caution",
        message=f"{on(walked, units, run.from_m, run.to_m)}: {what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=run.from_m,
        to_m=run.to_m,
        value=high if tall else top,
        limit=benching.CUT_MOST_M if tall else most,
        unit="m" if tall else "%",
        source=str(sources.BENCH_SHAPE),
        confirmed=sources.BENCH_SHAPE.confirmed,
        at=walked.spot(0.5 * (run.from_m + run.to_m)),
    )


def _say(case: Case, walked: Walked, run: Run, kind: str) -> Finding:
    """Put one run into words."""
    limits = case.limits
    top = worst(walked.stations.cross_pct, run)
    limit = limits.cross_caution_pct if kind == "care" else limits.cross_pct
    said, bound = pair(top, limit, "%")
    code, level, what = "cross_slope", "caution", f"slope across the trail {said}"
    if kind == "stop":
        most = case.area.settings.trails.bench_up_to_pct
        if most > limits.cross_pct:
            limit = most
            said, bound = pair(top, limit, "%")
            what = f"slope across the trail {said}, over the {bound} up to which you allow benching"
        else:
            what = f"{what}, over the {bound} allowed without a bench"
        level, what = "stop", f"{what}; move the trail"
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
