"""Which trails may be steeper than their elevations say, and where.

A whole trail is over when it breaks the rule it was planned by: steeper than the limit
of short pitches anywhere, or than the sustained one for longer than a short pitch may be.
One place is held against the limit in force there: the sustained one; inside a pitch that
is over it, and was planned as a short pitch, that of short pitches.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout.findings import Finding
from layout.geometry import coordinates
from layout.grade_chance import (
    NOT_WORTH_DRAWING,
    RANGES_M,
    GradeRule,
    breaks_rule,
    grade_covariance,
    grade_sd_pct,
    over_limit,
    reading,
)
from layout.grid import Dem
from layout.reach_chance import TOLD_CHANCE
from layout.records import GradeChance, Trail, TrailStep
from layout.runs import GRADE_NOISE_PCT, edges
from layout.settings import Limits
from layout.speech import speak_chance, speak_length, speak_station
from layout.terrain import BASELINE_M, Stations
from layout.units import INCH_M, Units

Floats = NDArray[np.float64]

SOURCE = (
    "normal error of elevations, alike over "
    f"{', '.join(f'{r:g}' for r in RANGES_M[:-1])} or {RANGES_M[-1]:g} m, the worst of them; ours"
)


@dataclass(frozen=True, slots=True, eq=False)
class TrailChances:
    """What may be over a limit of grade along one trail.

    Parameters
    ----------
    whole : GradeChance
        That it breaks the rule of grades.
    at_m, single : ndarray of float, shape (n,)
        Its stations of known grade, and the chance that each is over the limit there.
    """

    whole: GradeChance
    at_m: Floats
    single: Floats


def trail_chances(
    trails: Sequence[Trail],
    stations: Mapping[str, Stations],
    dem: Dem,
    limits: Limits,
    error_m: float,
    seed: int,
) -> dict[str, TrailChances]:
    """Say of every trail how likely it breaks the rule of grades, and where.

    Parameters
    ----------
    trails : sequence of Trail
        The trails.
    stations : mapping of str to Stations
        Their stations.
    dem : Dem
        Elevations their grades were read from.
    limits : Limits
        Limits in force.
    error_m : float
        Standard error of one elevation, metres.
    seed : int
        Of the draws; every trail is drawn from the start of it.

    Returns
    -------
    dict of str to TrailChances
        By trail; one without any known grade is left out.
    """
    found = {}
    rule = GradeRule(
        (limits.favourable_pct, limits.adverse_pct),
        (limits.favourable_short_pct, limits.adverse_short_pct),
        limits.short_pitch_m,
        BASELINE_M,
    )
    for trail in trails:
        st = stations[trail.trail_id]
        known = np.isfinite(st.grade_pct)
        if not known.any():
            continue
        at, grade = st.at_m[known], st.grade_pct[known]
        border = edges(at)
        down, up = _limits(grade, limits)
        in_pitch = (down > limits.favourable_pct) | (up > limits.adverse_pct)
        baseline = min(BASELINE_M, float(trail.line.length))
        # Errors are never unlike: no grade errs more than with ends that have nothing in common.
        most = np.full(at.size, float(grade_sd_pct(baseline, error_m, 0.0)))
        single = over_limit(grade, down, up, most)
        as_measured = float(rule.broken(grade[None], border)[0][0])
        if single.sum() < NOT_WORTH_DRAWING:  # no place at all over its limit: the most it can be
            worst = (max(float(single.sum()), as_measured), RANGES_M[0], most, single, single)
        else:
            worst = (-1.0, RANGES_M[0], most, single, single)
            cells, weight = reading(dem, *baselines(trail, at))
            for range_m in RANGES_M:
                spread = grade_covariance(cells, weight, baseline, error_m, range_m)
                sd = np.sqrt(np.maximum(np.diag(spread), 0.0))
                single = over_limit(grade, down, up, sd)
                rng = np.random.default_rng(seed)
                chance, blamed = breaks_rule(grade, border, rule, spread, rng)
                if chance > worst[0]:
                    worst = (chance, range_m, sd, single, blamed)
        chance, range_m, sd, single, blamed = worst
        # where it breaks most often; where it never does, the likeliest single place
        i = int(np.argmax(blamed + 1e-6 * single + 1e-12 * np.abs(grade)))
        whole = GradeChance(
            trail_id=trail.trail_id,
            p_over_limit=chance,
            at_m=float(at[i]),
            grade_pct=float(grade[i]),
            limit_pct=float(down[i] if grade[i] < 0 else up[i]),
            sd_pct=float(sd[i]),
            range_m=range_m,
            pitch_m=limits.short_pitch_m if in_pitch[i] else None,
        )
        found[trail.trail_id] = TrailChances(whole, at, single)
    return found


def _limits(grade_pct: Floats, limits: Limits) -> tuple[Floats, Floats]:
    """Give the limit in force at each station, downhill and uphill loaded."""
    down = np.where(
        -grade_pct > limits.favourable_pct + GRADE_NOISE_PCT,
        limits.favourable_short_pct,
        limits.favourable_pct,
    )
    up = np.where(
        grade_pct > limits.adverse_pct + GRADE_NOISE_PCT,
        limits.adverse_short_pct,
        limits.adverse_pct,
    )
    return down, up


def baselines(trail: Trail, at_m: Floats) -> tuple[Floats, Floats]:
    """Give the two places each station's grade is read from, as `layout.terrain` does.

    Parameters
    ----------
    trail : Trail
        The trail.
    at_m : ndarray of float, shape (n,)
        Stations, metres.

    Returns
    -------
    near, far : ndarray of float, shape (n, 2)
        Grid x, y, metres.
    """
    points = coordinates(trail.line)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    length = float(run[-1])
    span = min(BASELINE_M, length)
    start = np.clip(at_m - 0.5 * span, 0.0, length - span)
    near, far = (
        np.column_stack([np.interp(s, run, points[:, k]) for k in (0, 1)])
        for s in (start, start + span)
    )
    return near, far


def with_step_chances(
    steps: Iterable[TrailStep], chances: Mapping[str, TrailChances]
) -> tuple[TrailStep, ...]:
    """Say of every step how likely its steepest 10 m is over the limit there.

    Parameters
    ----------
    steps : iterable of TrailStep
        Stretches of trail.
    chances : mapping of str to TrailChances
        Of their trails.

    Returns
    -------
    tuple of TrailStep
        In the same order; None where no grade is known.
    """
    told = []
    for step in steps:
        chance = None
        if (mine := chances.get(step.trail_id)) is not None:
            inside = (mine.at_m >= step.from_m - 1e-9) & (mine.at_m <= step.to_m + 1e-9)
            chance = float(mine.single[inside].max()) if inside.any() else None
        told.append(replace(step, p_over_limit=chance))
    return tuple(told)


def findings(
    chances: Iterable[GradeChance],
    trails: Sequence[Trail],
    error_m: float,
    units: Units,
) -> tuple[Finding, ...]:
    """Tell the trails that may well be over a limit of grade.

    Parameters
    ----------
    chances : iterable of GradeChance
        The whole of each trail.
    trails : sequence of Trail
        The trails.
    error_m : float
        Standard error of one elevation, metres.
    units : {"us", "metric"}
        Units the user reads.

    Returns
    -------
    tuple of Finding
        One caution for each trail over 10 %.
    """
    by_id = {trail.trail_id: trail for trail in trails}
    found = []
    for one in chances:
        if one.p_over_limit <= TOLD_CHANCE or abs(one.grade_pct) > one.limit_pct + GRADE_NOISE_PCT:
            continue  # what is over as measured is told as such
        trail = by_id[one.trail_id]
        name = f"{'Main trail' if trail.kind == 'main' else 'Spur'} {trail.trail_id}"
        way = "downhill" if one.grade_pct < 0 else "uphill"
        allowed = f"{one.limit_pct:g} % allowed there"
        if one.pitch_m is not None:
            allowed += f" for {speak_length(one.pitch_m, units)} at most"
        at = speak_station(one.at_m, units, trail.line.length)
        spot = trail.line.interpolate(one.at_m)
        found.append(
            Finding(
                code="grade_chance",
                level="caution",
                message=(
                    f"{name}: elevations are good to {speak_error(error_m, units)} only, so "
                    "it may be too steep for longer than a short pitch may be, or steeper than "
                    f"any pitch may be ({speak_chance(one.p_over_limit)}); likeliest round "
                    f"{at}, {abs(one.grade_pct):.0f} % {way} loaded "
                    f"as measured, {allowed}. Measure it with a "
                    "clinometer when the trail is flagged, and move it if it is too steep"
                ),
                subject_layer="trails",
                subject_id=one.trail_id,
                from_m=one.at_m,
                to_m=one.at_m,
                value=100.0 * one.p_over_limit,
                limit=100.0 * TOLD_CHANCE,
                unit="%",
                source=SOURCE,
                confirmed=False,
                at=(float(spot.x), float(spot.y)),
            )
        )
    return tuple(found)


def speak_error(metres: float, units: Units) -> str:
    """Say the error of an elevation, for which feet and metres are too long.

    Examples
    --------
    >>> speak_error(0.15, "us"), speak_error(0.15, "metric")
    ('6 in', '15 cm')
    """
    return f"{metres / INCH_M:.0f} in" if units == "us" else f"{100 * metres:.0f} cm"
