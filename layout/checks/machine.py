"""How the tractor stands and pulls along each trail, by statics.

All of it is a caution and none a promise: soft ground, speed, a stump under the load and a
swinging tail are not in the figures. What front axle, brakes and a log that could run by
itself allow comes from the same rules that bound every load.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout import benching, sources
from layout.checks.case import Case, Walked
from layout.checks.words import on, pair
from layout.findings import Finding, Level
from layout.grip import RUN_FACTOR, on_the_day
from layout.hauling import level_cross_pct
from layout.payload import (
    all_wheels_may_brake,
    braking_kg,
    holds_pct,
    largest_load,
    smallest_log_kg,
)
from layout.pull_forces import with_limits
from layout.runs import Run, over, runs, worst
from layout.settings.tractor_table import TractorTable
from layout.speech import speak_length, speak_load
from layout.stability import allowed_deg, bump_deg, first_phase_tip_deg, front_share_pct
from layout.units import INCH_M

Floats = NDArray[np.float64]

STATICS = "statics; frictions and the machine's figures are from memory or the user's"
LIMIT_WORDS = {
    "traction": "the grip of the tyres",
    "front_axle": "a light front axle",
    "engine": "the engine",
    "lift": "the three-point lift",
    "braking": "the hold of the brakes",
    "machine_share": "the machine's own weight",
}


@dataclass(frozen=True, slots=True)
class _Said:
    """One result on one run of a trail, before it is put in its place."""

    run: Run
    code: str
    level: Level
    what: str
    value: float
    limit: float
    unit: str
    source: sources.Source | str = STATICS


def check(case: Case) -> list[Finding]:
    """Judge tilt, front axle, loads, brakes and run-away on every trail, and the hold of pulls.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        One a run of stations and reason; one for all pulls.
    """
    tractor = on_the_day(case.area.settings)
    found = [
        _placed(case, walked, said)
        for walked in case.trails
        for rule in (_tilt, _front, _small_loads, _brakes, _run_away)
        for said in rule(case, walked, tractor)
    ]
    return found + _anchoring(case)


def _placed(case: Case, walked: Walked, said: _Said) -> Finding:
    """Put one result into words and on its place."""
    run, source = said.run, said.source
    return Finding(
        code=said.code,
        level=said.level,
        message=f"{on(walked, case.units, run.from_m, run.to_m)}: {said.what}",
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=run.from_m,
        to_m=run.to_m,
        value=said.value,
        limit=said.limit,
        unit=said.unit,
        source=str(source),
        confirmed=isinstance(source, sources.Source) and source.confirmed,
        at=walked.spot(0.5 * (run.from_m + run.to_m)),
    )


def _tilt(case: Case, walked: Walked, tractor: TractorTable) -> Iterator[_Said]:
    """Find where a wheel on a hump tilts the tractor past what is kept to."""
    s = walked.stations
    bench = benching.on_old_bench(case.area, walked.trail, s)
    if walked.bench is not None:
        bench = bench | walked.bench.dug
    across = np.degrees(np.arctan(level_cross_pct(s.cross_pct, bench) / 100))
    tilt, kept = across + bump_deg(tractor), allowed_deg(tractor, s.grade_pct)
    bump = speak_length(tractor.wheel_bump_m, case.units)
    if case.units == "us":
        bump = f"{tractor.wheel_bump_m / INCH_M:.0f} in"
    for run in runs(over(tilt - kept, 0.0), s.at_m):
        i = run.first + int(np.nanargmax((tilt - kept)[run.first : run.last + 1]))
        value, limit = float(tilt[i]), float(kept[i])
        said, bound = pair(value, math.floor(limit), "deg")
        tips = float(first_phase_tip_deg(tractor, s.grade_pct[i]))
        what = (
            f"slope across and a wheel {bump} up on a hump or stump tilt the tractor {said}, past "
            f"the {bound} kept to (standing still it tips from {tips:.0f} on); level the wheel "
            "tracks before the first load, or move the trail"
        )
        yield _Said(
            run, "tractor_tilt", "caution", what, value, limit, "deg", sources.STATIC_TIPPING
        )


def _front(case: Case, walked: Walked, tractor: TractorTable) -> Iterator[_Said]:
    """Find where the front axle is too light going out empty, the nose up."""
    s, least = walked.stations, tractor.front_min_pct
    share = front_share_pct(tractor, -s.grade_pct)
    for run in runs(over(least - share, 0.0), s.at_m):
        i = run.first + int(np.nanargmin(share[run.first : run.last + 1]))
        said, bound = pair(float(share[i]), least, "%")
        what = (
            f"climbed empty, nose first, on {abs(s.grade_pct[i]):.0f} % the front axle carries "
            f"{said} of the machine, under {bound}; put ballast on the front, or back up here"
        )
        yield _Said(
            run, "tractor_front_light", "stop", what, float(share[i]), least, "%",
            sources.FRONT_AXLE,
        )  # fmt: skip


def _small_loads(case: Case, walked: Walked, tractor: TractorTable) -> Iterator[_Said]:
    """Find where hardly anything can be dragged."""
    settings, s = case.area.settings, walked.stations
    useful = smallest_log_kg(settings)
    kg, by = largest_load(settings, s.grade_pct)
    # what brakes or run-away forbid altogether is said by the two rules below
    told = (by == "runaway") | ((by == "braking") & (kg <= 0))
    length = speak_length(min(settings.timber.log_lengths_m), case.units)
    for run in runs(over(useful - kg, 0.0) & ~told, s.at_m):
        i = run.first + int(np.nanargmin(kg[run.first : run.last + 1]))
        way = "uphill" if s.grade_pct[i] > 0 else "downhill"
        what = (
            f"{abs(s.grade_pct[i]):.0f} % {way} loaded, and {LIMIT_WORDS[str(by[i])]} lets "
            f"{speak_load(float(kg[i]), case.units)} be dragged at most, less than a small "
            f"{length} sawlog weighs: almost nothing comes over it, so move the trail"
        )
        yield _Said(run, "tractor_small_load", "caution", what, float(kg[i]), useful, "kg")


def _brakes(case: Case, walked: Walked, tractor: TractorTable) -> Iterator[_Said]:
    """Find where the brakes as they are do not hold what may be dragged downhill."""
    s, rear = walked.stations, not tractor.four_wheel_braking
    down, most = -s.grade_pct, holds_pct(tractor, all_wheels=not rear)
    if rear and all_wheels_may_brake(tractor):
        kg, _ = largest_load(case.area.settings, s.grade_pct)
        held = braking_kg(tractor, s.grade_pct / 100, all_wheels=False)
        for run in runs(over(kg - held, 0.0), s.at_m):
            value = worst(down, run)
            what = (
                f"{value:.0f} % downhill loaded, and braking on the rear wheels alone may not hold "
                f"it ({math.floor(most)} % for the tractor by itself); engage four-wheel drive and "
                "a low gear before the pitch, and do not clutch on it"
            )
            yield _Said(run, "tractor_brakes", "caution", what, value, most, "%")
        most = holds_pct(tractor, all_wheels=True)
    for run in runs(over(down, most), s.at_m):
        value = worst(down, run)
        said, bound = pair(value, math.floor(most + 1e-9), "%")
        what = f"{said} downhill loaded, and brakes hold the tractor on {bound}; move the trail"
        yield _Said(run, "tractor_brakes", "stop", what, value, most, "%")


def _run_away(case: Case, walked: Walked, tractor: TractorTable) -> Iterator[_Said]:
    """Find where a load that is let go may run down the trail by itself."""
    s, low = walked.stations, 100 * tractor.skid_friction[0]
    down = -s.grade_pct
    for run in runs(over(down, low / RUN_FACTOR), s.at_m):
        value = worst(down, run)
        runs_off = value > low + 1e-6
        limit = low if runs_off else low / RUN_FACTOR
        said, bound = pair(value, math.floor(limit + 1e-9), "%")
        what = (
            f"{said} downhill loaded, over the {bound} from which a log runs by itself; move the "
            "trail"
            if runs_off
            else f"{said} downhill loaded, past {bound}: on slick ground a load may push, or run "
            "when it is let go; no stop on it, and nobody below"
        )
        yield _Said(
            run, "load_may_run", "stop" if runs_off else "caution", what, value, limit, "%",
            sources.SLIDING_LOGS,
        )  # fmt: skip


def _anchoring(case: Case) -> list[Finding]:
    """Say how many pulls ask for more than tyres and stand by themselves hold where it parks."""
    limited = with_limits(case.pulls, case.positions, case.area.settings)
    known = [pull for pull in limited if pull.limit_kn is not None]
    hard = [pull for pull in known if pull.pull_kn > (pull.limit_kn or 0.0) * (1 + 1e-9)]
    if not hard:
        return []
    worst_pull = max(hard, key=lambda pull: pull.pull_kn)
    held = min(pull.limit_kn or 0.0 for pull in hard)
    asked, hold = pair(worst_pull.pull_kn, math.floor(held), "kN")
    nose = sum(pull.limited_by == "front" for pull in hard)
    light = (
        f"; on {nose} of them the front axle gets too light before the tyres slip: dig in or tie "
        "before any of those, and put ballast on the front"
        if nose
        else ""
    )
    return [
        Finding(
            code="pull_anchoring",
            level="caution",
            message=(
                f"{len(hard)} of {len(limited)} pulls ask for more than the tyres alone hold where "
                f"the tractor parks: up to {asked}, where as little as {hold} is held. Dig the "
                f"butt plate in for every pull, or tie the tractor back{light}"
            ),
            subject_layer="pulls",
            value=worst_pull.pull_kn,
            limit=held,
            unit="kN",
            source=STATICS,
            confirmed=False,
        )
    ]
