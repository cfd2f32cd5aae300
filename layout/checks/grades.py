"""Grades along a trail: too steep, too long, straight down the hill, too flat."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout import fall_lines, sources
from layout.checks.case import Case, Walked
from layout.checks.words import lengths, on, pair
from layout.findings import Finding
from layout.runs import PitchFault, Run, over, pitch_faults, runs, worst
from layout.speech import speak_length
from layout.units import FOOT_M

Floats = NDArray[np.float64]

FLAT_PCT = 2.0
FLAT_M = 100 * FOOT_M


@dataclass(frozen=True, slots=True)
class _Way:
    """One loaded direction with its limits."""

    word: str
    code: str
    caution_pct: float
    sustained_pct: float
    short_pct: float
    source: sources.Source


def check(case: Case) -> list[Finding]:
    """Judge the grades of every trail.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Stops, one for each way a run breaks the rule; cautions, one a run.
    """
    found: list[Finding] = []
    water = fall_lines.water_of(case.area, case.strips)
    for walked in case.trails:
        for way in _ways(case):
            found += _pitches(case, walked, way)
        found += _through_mouth(case, walked)
        found += _fall_line(case, walked, water)
        found += _flat(case, walked)
    return found


def _ways(case: Case) -> tuple[_Way, _Way]:
    limits = case.limits
    return (
        _Way(
            "downhill",
            "grade_favourable",
            limits.favourable_caution_pct,
            limits.favourable_pct,
            limits.favourable_short_pct,
            sources.TRAIL_GRADE,
        ),
        _Way(
            "uphill",
            "grade_adverse",
            limits.adverse_caution_pct,
            limits.adverse_pct,
            limits.adverse_short_pct,
            sources.FARM_TRACTOR_SLOPES,
        ),
    )


def _size(way: _Way, grade_pct: Floats) -> Floats:
    """Give the size of the grade in one loaded direction; the other one is negative."""
    return -grade_pct if way.word == "downhill" else grade_pct


def _pitches(case: Case, walked: Walked, way: _Way) -> list[Finding]:
    """Judge one trail in one loaded direction."""
    at = walked.stations.at_m
    size = _size(way, walked.stations.grade_pct)
    faults = pitch_faults(
        at,
        size,
        sustained_pct=way.sustained_pct,
        short_pct=way.short_pct,
        short_pitch_m=case.limits.short_pitch_m,
    )
    found = [_fault(case, walked, way, fault) for fault in faults]
    stopped = {i for f in faults for i in range(f.run.first, f.run.last + 1)}
    for run in runs(over(size, way.caution_pct), at):
        if stopped.isdisjoint(range(run.first, run.last + 1)):
            found.append(_caution(case, walked, way, run, worst(size, run)))
    return found


def _fault(case: Case, walked: Walked, way: _Way, fault: PitchFault) -> Finding:
    """Say how a run breaks the short-pitch rule."""
    run = fault.run
    where = on(walked, case.units, run.from_m, run.to_m)
    top, sustained = pair(fault.worst_pct, way.sustained_pct, "%")
    if fault.kind == "steep":
        said, bound = pair(fault.value, fault.limit, "%")
        why = f"{said} {way.word} loaded, over the {bound} allowed on a short pitch"
        unit = "%"
    elif fault.kind == "long":
        said, bound = lengths(fault.value, fault.limit, case.units)
        why = (
            f"over {sustained} {way.word} loaded for {said} (steepest {top}); "
            f"a short pitch is {bound} at most"
        )
        unit = "m"
    else:
        said, bound = lengths(fault.value, fault.limit, case.units)
        why = (
            f"a second pitch over {sustained} {way.word} loaded after only {said} of easier "
            f"ground; {bound} is needed between two"
        )
        unit = "m"
    source = way.source if fault.kind == "steep" else sources.TRAIL_PITCH
    return Finding(
        code=way.code,
        level="stop",
        message=f"{where}: {why}; move the trail",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=run.from_m,
        to_m=run.to_m,
        value=fault.value,
        limit=fault.limit,
        unit=unit,
        source=str(source),
        confirmed=source.confirmed,
        at=walked.spot(0.5 * (run.from_m + run.to_m)),
    )


def _caution(case: Case, walked: Walked, way: _Way, run: Run, top_pct: float) -> Finding:
    """Say a run past the caution tier that breaks no limit."""
    said, bound = pair(top_pct, way.caution_pct, "%")
    what = f"{said} {way.word} loaded at the steepest, past the {bound} where care begins"
    if top_pct > way.sustained_pct:
        what += "; a short pitch within the limit you set"
    return Finding(
        code=way.code,
        level="caution",
        message=f"{on(walked, case.units, run.from_m, run.to_m)}: {what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=run.from_m,
        to_m=run.to_m,
        value=top_pct,
        limit=way.caution_pct,
        unit="%",
        source=str(way.source),
        confirmed=way.source.confirmed,
        at=walked.spot(0.5 * (run.from_m + run.to_m)),
    )


def _through_mouth(case: Case, walked: Walked) -> list[Finding]:
    """Look for a pitch that goes on through a junction.

    A load meets the spur and the trail it joins as one descent. What each line
    does by itself is judged alone; here the two are strung together, and only
    what the joining makes worse is said.
    """
    trail = walked.trail
    below = case.by_id.get(trail.joins_id)
    if below is None or trail.joins_at_m is None:
        return []
    first, second = below.stations, walked.stations
    part = first.at_m < trail.joins_at_m - 1e-6
    at = np.concatenate([first.at_m[part], trail.joins_at_m + second.at_m])
    grade = np.concatenate([first.grade_pct[part], second.grade_pct])
    mouth = int(part.sum())
    found: list[Finding] = []
    for way in _ways(case):
        faults = pitch_faults(
            at,
            _size(way, grade),
            sustained_pct=way.sustained_pct,
            short_pct=way.short_pct,
            short_pitch_m=case.limits.short_pitch_m,
        )
        for fault in faults:
            start = fault.run.first if fault.before is None else fault.before.first
            if fault.kind == "steep" or not start < mouth <= fault.run.last:
                continue
            said, bound = lengths(fault.value, fault.limit, case.units)
            what = (
                f"runs on for {said}, and a short pitch is {bound} at most"
                if fault.kind == "long"
                else f"comes after only {said} of easier ground, and {bound} is needed"
            )
            found.append(
                Finding(
                    code=f"{way.code}_through_mouth",
                    level="caution",
                    message=(
                        f"{walked.name} at its mouth: together with {below.called} the pitch over "
                        f"{way.sustained_pct:.0f} % {way.word} loaded {what}; let loads stop "
                        "at the junction or move the mouth"
                    ),
                    subject_layer="trails",
                    subject_id=trail.trail_id,
                    from_m=0.0,
                    to_m=max(fault.run.to_m - trail.joins_at_m, 0.0),
                    value=fault.value,
                    limit=fault.limit,
                    unit="m",
                    source=str(sources.TRAIL_PITCH),
                    confirmed=sources.TRAIL_PITCH.confirmed,
                    at=walked.spot(0.0),
                )
            )
    return found


def _fall_line(case: Case, walked: Walked, water: BaseGeometry | None) -> list[Finding]:
    """Find where a trail runs down the fall line far enough to gully."""
    size = np.abs(walked.stations.grade_pct)
    found: list[Finding] = []
    for run in fall_lines.down_the_hill(case.terrain, walked.stations):
        wet = fall_lines.drains_to(water, case.terrain, walked.stations, run)
        told = f"{on(walked, case.units, run.from_m, run.to_m)}: runs down the fall line for " + (
            speak_length(run.length_m, case.units)
        )
        told += f" (steepest {worst(size, run):.0f} %), and water will follow it"
        told += (
            " straight to the water strip; move it across the slope"
            if wet
            else ("; lead it across the slope, or break it with dips")
        )
        found.append(
            Finding(
                code="fall_line",
                level="stop" if wet else "caution",
                message=told,
                subject_layer="trails",
                subject_id=walked.trail.trail_id,
                from_m=run.from_m,
                to_m=run.to_m,
                value=run.length_m,
                limit=fall_lines.LONGEST_M,
                unit="m",
                source=str(sources.FALL_LINE),
                confirmed=sources.FALL_LINE.confirmed,
                at=walked.spot(0.5 * (run.from_m + run.to_m)),
            )
        )
    return found


def _flat(case: Case, walked: Walked) -> list[Finding]:
    """Find where a trail is too flat to shed water."""
    s = walked.stations
    with np.errstate(invalid="ignore"):
        level = np.abs(s.grade_pct) < FLAT_PCT - 1e-6
    found: list[Finding] = []
    for run in runs(level, s.at_m):
        if run.length_m <= FLAT_M:
            continue
        long = speak_length(run.length_m, case.units)
        found.append(
            Finding(
                code="grade_flat",
                level="caution",
                message=(
                    f"{on(walked, case.units, run.from_m, run.to_m)}: under {FLAT_PCT:.0f} % for "
                    f"{long}; water stands there and ruts form, so drive it dry or frozen only"
                ),
                subject_layer="trails",
                subject_id=walked.trail.trail_id,
                from_m=run.from_m,
                to_m=run.to_m,
                value=run.length_m,
                limit=FLAT_M,
                unit="m",
                source=str(sources.TRAIL_DRAINS),
                confirmed=sources.TRAIL_DRAINS.confirmed,
                at=walked.spot(0.5 * (run.from_m + run.to_m)),
            )
        )
    return found
