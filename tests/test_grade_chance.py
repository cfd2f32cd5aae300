"""Chances of grades: held against whole fields of error, the table of the notes, and by hand."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from correlated_fields import fields
from hypothesis import given
from hypothesis import strategies as st
from made_ground import at, settings_of, terrain_of
from scipy import sparse
from shapely.geometry import LineString

from layout.grade_chance import (
    RANGES_M,
    GradeRule,
    breaks_rule,
    correlation,
    grade_covariance,
    grade_sd_pct,
    over_limit,
    reading,
    worst_sd_pct,
)
from layout.records import GradeChance, Trail
from layout.runs import edges, pitch_faults
from layout.settings import limits_in_force
from layout.speech import speak_chance
from layout.terrain import station_table
from layout.trail_chances import baselines, findings, trail_chances, with_step_chances
from layout.trails import steps_of

DRAWN = 300
POINT = 0.01
# Practical range, then the standard deviation over 5, 10 and 20 m and of one component of the
# 3 x 3 slope on 1 m cells; sigma 0.10 m. Section 5 of the routing notes.
TABLE = (
    (0.0, (2.83, 1.41, 0.71), 4.32),
    (5.0, (2.76, 1.41, 0.71), 4.59),
    (30.0, (1.77, 1.12, 0.66), 2.54),
    (120.0, (0.97, 0.66, 0.44), 1.34),
)


@pytest.mark.parametrize(("range_m", "sd", "_"), TABLE)
def test_the_table(range_m: float, sd: tuple[float, ...], _: float) -> None:
    got = grade_sd_pct([5.0, 10.0, 20.0], 0.10, range_m)
    assert got == pytest.approx(sd, abs=0.01)
    assert (worst_sd_pct([5.0, 10.0, 20.0], 0.10) >= got - 0.08).all()


@pytest.mark.parametrize(("range_m", "_", "horn"), TABLE)
def test_the_slope_of_nine_cells(range_m: float, _: Any, horn: float) -> None:
    # Horn's weights against the same correlation: why no limit is held against it
    x, y = (a.ravel() for a in np.meshgrid([-1.0, 0.0, 1.0], [-1.0, 0.0, 1.0]))
    weight = x * np.where(y == 0, 2.0, 1.0) / 8
    away = np.hypot(np.subtract.outer(x, x), np.subtract.outer(y, y))
    sd = 100 * math.sqrt(weight @ (0.10**2 * correlation(away, range_m)) @ weight)
    assert sd == pytest.approx(horn, abs=0.02)  # of the simulated table


def test_what_may_be_planned_for_nineteen_of_twenty() -> None:
    # the notes: at a limit of 20 % over 10 m plan 17.7 % at 0.10 m, 13.3 % at 0.29 m
    for error_m, planned in ((0.10, 17.7), (0.29, 13.3)):
        sd = grade_sd_pct(10.0, error_m, 0.0)
        assert float(over_limit(-planned, 20.0, 10.0, sd)) == pytest.approx(0.05, abs=0.002)
        assert float(over_limit(planned, 10.0, 20.0, sd)) == pytest.approx(0.05, abs=0.002)


@pytest.mark.parametrize("range_m", [5.0, 30.0])
def test_fields_err_as_said(range_m: float) -> None:
    """Whole fields drawn by Fourier transform: the closed form to a hundredth of a point."""
    rise = {5: [0.0, 0], 10: [0.0, 0], 20: [0.0, 0]}
    for z in fields((150, 150), 1.0, 0.10, range_m, 200, 2):
        for length, kept in rise.items():
            one = (z[:, length:] - z[:, :-length]) ** 2
            two = (z[length:, :] - z[:-length, :]) ** 2
            kept[0] += one.sum() + two.sum()
            kept[1] += one.size + two.size
    for length, (total, count) in rise.items():
        got = 100 * math.sqrt(total / count) / length
        assert got == pytest.approx(float(grade_sd_pct(length, 0.10, range_m)), abs=0.015)


# A trail of 150 m that climbs 15 % in its middle and bends
BENT = LineString([at(60, 60), at(110, 75), at(150, 120), at(155, 165)])


def hillside(x: Any, y: Any) -> Any:
    return 300 + 0.02 * x + 0.13 * y + 0.4 * np.sin(y / 9)


def trail(line: LineString = BENT, kind: Any = "main", name: str = "M") -> Trail:
    return Trail(name, kind, "L1", line, 3.6, "drawn")


LIMITS = limits_in_force(settings_of())


@pytest.mark.parametrize(
    "range_m", [RANGES_M[0], *(pytest.param(r, marks=pytest.mark.slow) for r in RANGES_M[1:])]
)
def test_a_trail_drawn_at_its_baselines_is_the_trail_on_whole_fields(range_m: float) -> None:
    """The grid with its error, read by the very code that reads trails, many times."""
    ground = terrain_of(hillside)
    one = trail()
    table = station_table(ground, one.line, one.width_m)
    limit = float(np.max(-table.grade_pct)) + 1.0
    cells, weight = reading(ground.dem, *baselines(one, table.at_m))
    spread = grade_covariance(cells, weight, 10.0, 0.10, range_m)
    rule = GradeRule((limit, 99.0), (limit, 99.0), 30.0, 10.0)
    stated, _ = breaks_rule(
        table.grade_pct, edges(table.at_m), rule, spread, np.random.default_rng(3)
    )
    rows, cols = np.s_[225:350], np.s_[50:165]  # what holds the trail
    # the same for too long a pitch: nothing is over the short limit, 15 m of a pitch are allowed
    lower = GradeRule((limit - 2.0, 99.0), (99.0, 99.0), 15.0, 10.0)
    longer, _ = breaks_rule(
        table.grade_pct, edges(table.at_m), lower, spread, np.random.default_rng(3)
    )
    over, long, errors = [], [], []
    for z in fields((125, 115), 1.0, 0.10, range_m, DRAWN, 4):
        wrong = ground.dem.z.copy()
        wrong[rows, cols] += z
        walked = station_table(replace(ground, dem=ground.dem.with_z(wrong)), one.line, 3.6)
        over.append(bool((-walked.grade_pct > limit).any()))
        long.append(bool(lower.broken(walked.grade_pct[None], edges(walked.at_m))[0][0]))
        errors.append(walked.grade_pct - table.grade_pct)
    noise = 2.6 * math.sqrt(stated * (1 - stated) / DRAWN)  # 99 times of 100
    assert 0.05 < stated < 0.9
    assert stated == pytest.approx(np.mean(over), abs=POINT + noise)
    noise = 2.6 * math.sqrt(longer * (1 - longer) / DRAWN)
    assert 0.05 < longer < 0.95
    assert longer == pytest.approx(np.mean(long), abs=POINT + noise)
    sd = np.sqrt(np.diag(spread))
    assert np.std(errors, axis=0) == pytest.approx(sd, rel=0.15)
    assert (sd <= grade_sd_pct(10.0, 0.10, range_m) * 1.2).all()


def pairs(near: np.ndarray) -> tuple[np.ndarray, sparse.csr_array]:
    """Read rises over 10 m to the east from single cells."""
    n = near.shape[0]
    far = near + np.array([10.0, 0.0])
    return np.concatenate([far, near]), sparse.csr_array(np.hstack([np.eye(n), -np.eye(n)]))


def test_single_places_are_the_drawn_ones() -> None:
    # far apart and few, the drawn share is that of independent places
    near = np.array([[0.0, 0.0], [5000.0, 0.0], [0.0, 9000.0]])
    spread = grade_covariance(*pairs(near), 10.0, 0.15, 30.0)
    grade, rule = np.array([-18.0, -19.0, 9.0]), GradeRule((20.0, 10.0), (20.0, 10.0), 30.0, 10.0)
    single = over_limit(grade, *rule.short_pct, float(grade_sd_pct(10.0, 0.15, 30.0)))
    any_of = 1 - np.prod(1 - single)
    border = np.arange(4.0)
    stated, _ = breaks_rule(grade, border, rule, spread, np.random.default_rng(0), draws=100_000)
    assert stated == pytest.approx(any_of, abs=0.01)


def test_drawn_shares_lie_in_their_intervals() -> None:
    # any number of draws knows a chance to two standard errors, 93 to 97 times of 100
    spread = grade_covariance(*pairs(np.zeros((1, 2))), 10.0, 0.15, 30.0)
    limits = (20.0, 99.0)
    rule, border = GradeRule(limits, limits, 30.0, 10.0), np.arange(2.0)
    sd = math.sqrt(spread[0, 0])
    within = 0
    for k in range(400):
        rng = np.random.default_rng(k)
        grade = np.array([-20.0 + sd * (k % 7 - 3) / 4])
        exact = float(over_limit(grade, *limits, sd)[0])
        drawn = (-(grade + sd * rng.standard_normal(4000)) > 20.0).mean()
        half = 1.96 * math.sqrt(exact * (1 - exact) / 4000)
        within += abs(drawn - exact) <= half
        stated, _ = breaks_rule(grade, border, rule, spread, np.random.default_rng(k), draws=4000)
        assert stated >= exact - 1e-12
    assert 0.93 <= within / 400 <= 0.97


GRADES = st.floats(-30.0, 30.0)


@given(grade=GRADES, more=st.floats(0.0, 10.0), error=st.floats(0.01, 1.0))
def test_steeper_is_never_likelier_within(grade: float, more: float, error: float) -> None:
    sd = worst_sd_pct(10.0, error)
    down = over_limit([-abs(grade), -abs(grade) - more], 20.0, 99.0, sd)
    up = over_limit([abs(grade), abs(grade) + more], 99.0, 10.0, sd)
    assert down[1] >= down[0] - 1e-12 and up[1] >= up[0] - 1e-12


@given(inside=st.floats(0.0, 20.0), error=st.floats(0.01, 1.0), more=st.floats(1.0, 3.0))
def test_worse_elevations_are_never_surer(inside: float, error: float, more: float) -> None:
    one, two = (over_limit(-20.0 + inside, 20.0, 99.0, worst_sd_pct(10.0, e)) for e in
                (error, error * more))  # fmt: skip
    assert two >= one - 1e-12


# --- trails -------------------------------------------------------------------------------------


def chances_of(rise: float, error_m: float = 0.15, **limits: Any) -> tuple[GradeChance, ...]:
    ground = terrain_of(lambda x, y: 300 + rise * y)
    one = trail(LineString([at(60, 60), at(60, 180)]))
    table = {"M": station_table(ground, one.line, 3.6)}
    made = trail_chances([one], table, ground.dem, replace(LIMITS, **limits), error_m, 0)
    return tuple(trail.whole for trail in made.values())


def test_baselines_are_where_grades_are_read() -> None:
    ground, one = terrain_of(hillside), trail()
    table = station_table(ground, one.line, one.width_m)
    near, far = baselines(one, table.at_m)
    rise = [hillside(*(xy - at(0, 0)).T) for xy in (near, far)]
    assert -10 * (rise[1] - rise[0]) == pytest.approx(table.grade_pct, abs=0.1)


def test_a_trail_says_where_and_by_how_much() -> None:
    (mild,), (near,), (past,) = (chances_of(rise) for rise in (0.08, 0.195, 0.22))
    assert 0 < mild.p_over_limit < 1e-3  # the most it can be, not drawn
    assert mild.sd_pct == pytest.approx(2.1213, abs=1e-4)  # sqrt(2) 0.15 m over 10 m
    assert near.limit_pct == 20.0 and near.grade_pct == pytest.approx(-19.5, abs=0.01)
    assert 0.5 < near.p_over_limit < 0.8  # over it in places, not always for a pitch's length
    assert past.limit_pct == 25.0  # a place in a pitch counts by the pitch's own limit
    assert past.p_over_limit > 0.9  # 120 m is no short pitch
    assert (near.pitch_m, past.pitch_m) == (None, LIMITS.short_pitch_m)
    assert near.sd_pct < float(worst_sd_pct(10.0, 0.15))  # four cells know more than one
    assert chances_of(0.195) == (near,)  # drawn the same every time


def test_an_allowed_short_pitch_is_no_likely_fault() -> None:
    # 22 % for 18, 28 and 36 m, on the 10 m baseline 20 % and more for 12, 22 and 30; 30 is allowed
    found = []
    for length in (18.0, 28.0, 36.0):
        ground = terrain_of(
            lambda x, y, top=110 + length: 300 + 0.12 * y
            + 0.10 * np.clip(y - 110, 0, top - 110)
        )  # fmt: skip
        one = trail(LineString([at(60, 60), at(60, 190)]))
        table = {"M": station_table(ground, one.line, 3.6)}
        assert float(np.max(-table["M"].grade_pct)) > 21.5
        found.append(trail_chances([one], table, ground.dem, LIMITS, 0.10, 0)["M"].whole)
    short, middle, long = (one.p_over_limit for one in found)
    assert short < middle < 0.1 and long > 0.3  # the longest easily grows past what one may be
    assert 108 - 60 < found[2].at_m < 148 - 60  # and it is told there


@given(
    grades=st.lists(st.floats(-30.0, 30.0).map(lambda g: round(g, 1)), min_size=3, max_size=60),
    pitch=st.sampled_from([3.0, 8.0, 30.0]),
)
def test_a_trail_breaks_the_rule_when_the_checks_say_so(grades: list[float], pitch: float) -> None:
    at_m, grade = np.arange(float(len(grades))), np.array(grades)
    rule = GradeRule((20.0, 10.0), (25.0, 13.0), pitch, 0.5)
    faults = [
        fault
        for sign, sustained, short in ((-1, 20.0, 25.0), (1, 10.0, 13.0))
        for fault in pitch_faults(
            at_m, sign * grade, sustained_pct=sustained, short_pct=short, short_pitch_m=pitch
        )
        if fault.kind != "soon"
    ]
    broken, steep = rule.broken(np.vstack([grade, np.zeros_like(grade)]), edges(at_m))
    assert broken.tolist() == [bool(faults), False]
    assert steep[0].tolist() == [g < -20 or g > 10 for g in grades]


@pytest.mark.parametrize(("rest", "long"), [(9, True), (10, False)])
def test_short_rests_part_no_pitch(rest: int, long: bool) -> None:
    grade = np.concatenate([np.full(12, -22.0), np.full(rest, -15.0), np.full(12, -22.0)])
    rule = GradeRule((20.0, 10.0), (25.0, 13.0), 30.0, 10.0)
    broken, _ = rule.broken(grade[None], np.arange(grade.size + 1.0))
    assert broken.tolist() == [long]


def test_perfect_elevations_leave_the_measure_to_decide() -> None:
    assert chances_of(0.2, error_m=0.0)[0].p_over_limit == 0.0  # at the limit is within it
    assert chances_of(0.199, error_m=0.0)[0].p_over_limit == 0.0
    assert chances_of(0.26, error_m=0.0)[0].p_over_limit == 1.0


def test_unknown_ground_is_passed_over() -> None:
    ground = terrain_of(lambda x, y: 300 + 0.185 * y)
    z = ground.dem.z.copy()
    z[:, :] = np.nan
    one = trail(LineString([at(60, 60), at(60, 180)]))
    blank = {"M": station_table(replace(ground, dem=ground.dem.with_z(z)), one.line, 3.6)}
    assert trail_chances([one], blank, ground.dem, LIMITS, 0.15, 0) == {}
    steps = with_step_chances(steps_of((one,), blank, {}), {})
    assert {s.p_over_limit for s in steps} == {None}


def test_steps_carry_their_own_chance() -> None:
    ground = terrain_of(lambda x, y: 300 + np.where(y < 120, 0.05, 0.19) * (y - 120))
    one = trail(LineString([at(60, 60), at(60, 180)]))
    table = {"M": station_table(ground, one.line, 3.6)}
    made = trail_chances([one], table, ground.dem, LIMITS, 0.15, 0)
    steps = with_step_chances(steps_of((one,), table, {}), made)
    told = [chance for step in steps if (chance := step.p_over_limit) is not None]
    assert len(told) == len(steps)
    assert told[0] < 1e-6 and 0.2 < told[-1] < 0.35
    assert 0 < made["M"].whole.p_over_limit < max(told)  # for long, less likely than 10 m of it


def test_findings_tell_trails_over_one_in_ten() -> None:
    one = trail(LineString([at(60, 60), at(60, 180)]))
    base = chances_of(0.195)[0]
    told = findings([base], [one], 0.15, "us")
    assert len(told) == 1
    said = told[0].message
    assert said.startswith("Main trail M: elevations are good to 6 in only")
    assert "short pitch" in said and "% downhill loaded" in said and "clinometer" in said
    assert speak_chance(base.p_over_limit) in said
    assert told[0].level == "caution" and told[0].confirmed is False and told[0].limit == 10.0
    assert findings([replace(base, p_over_limit=0.1)], [one], 0.15, "us") == ()
    # what is over as measured has a stop of its own
    assert findings([replace(base, grade_pct=-26.0, limit_pct=25.0)], [one], 0.15, "us") == ()
    pitch = findings([replace(base, limit_pct=25.0, pitch_m=30.48)], [one], 0.15, "us")[0].message
    assert "25 % allowed there for 100 ft at most" in pitch and "at most" not in said
    up = replace(base, grade_pct=9.0, limit_pct=10.0)
    metric = findings([up], [replace(one, kind="spur", trail_id="M")], 0.15, "metric")[0].message
    assert metric.startswith("Spur M: elevations are good to 15 cm only") and "uphill" in metric


def test_chances_are_said_as_people_do() -> None:
    said = [speak_chance(p) for p in np.linspace(0, 1, 201)]
    assert said[0] == "under 1 in 100" and said[-1] == "almost certain"
    assert not any("%" in words for words in said)
    assert [k for i, k in enumerate(said) if i == 0 or k != said[i - 1]] == list(
        dict.fromkeys(said)
    )  # each word once, in order
