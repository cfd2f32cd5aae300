"""Ways of loads to the landing, held against a walk over every station."""

import math
import time
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import area_of, line, main_trail, settings_of, terrain_of
from shapely.geometry import LineString

from layout import benching, stability
from layout.grip import on_the_day
from layout.hauling import BENCH_CROSS_PCT, Ways, benched
from layout.payload import largest_load
from layout.records import Trail, TrailStep
from layout.settings import limits_in_force
from layout.site import ExistingTrail
from layout.terrain import Stations, station_table
from layout.work_records import Way

SETTINGS = settings_of()
LEVEL_KG = float(largest_load(SETTINGS, 0.0)[0])


def stations(grade: list[float], cross: list[float] | None = None) -> Stations:
    n = len(grade)
    blank = np.zeros(n)
    across = blank if cross is None else np.array(cross, dtype=float)
    return Stations(
        np.arange(n, dtype=float), blank, blank, blank, blank,
        np.array(grade, dtype=float), across, across,
    )  # fmt: skip


def trail(name: str, n: int, joins: str = "", at_m: float | None = None) -> Trail:
    kind = "spur" if joins else "main"
    shape = LineString([(0, 0), (n - 1, 0)])
    return Trail(name, kind, "L1", shape, 3.0, "routed", joins, at_m)


def kg_on(grade: float) -> float:
    return float(largest_load(SETTINGS, grade)[0])


def test_on_the_landing_there_is_no_way_and_the_load_of_level_ground() -> None:
    ways = Ways(SETTINGS, (), {})
    assert ways.way("", 5.0) == Way("", 0.0, 0.0, LEVEL_KG, "front_axle", "", 0.0)


def test_a_spur_and_the_trail_it_joins_by_hand() -> None:
    main = [0.0] * 5 + [6.0] + [-12.0] * 20  # a short climb at 5 m
    side = [-12.0] * 4 + [9.0] + [-12.0] * 6  # and a steeper one on the spur
    trails = (trail("S1", 11, "M", 20.0), trail("M", 26))  # the spur may stand first
    ways = Ways(SETTINGS, trails, {"M": stations(main), "S1": stations(side)})
    assert ways.way("M", 4.0).limit_kg == LEVEL_KG
    assert ways.way("M", 4.0).limit_trail_id == ""  # the landing itself is level
    past = ways.way("M", 25.0)
    assert (past.travel_m, past.limit_kg) == (25.0, kg_on(6.0))
    assert (past.limit_trail_id, past.limit_at_m, past.limited_by) == ("M", 5.0, "front_axle")
    mouth = ways.way("S1", 3.0)
    assert (mouth.travel_m, mouth.limit_kg, mouth.limit_trail_id) == (23.0, kg_on(6.0), "M")
    end = ways.way("S1", 10.0)
    assert (end.travel_m, end.limit_kg) == (30.0, kg_on(9.0))
    assert (end.limit_trail_id, end.limit_at_m) == ("S1", 4.0)
    assert kg_on(9.0) < kg_on(6.0) < LEVEL_KG


def test_between_two_stations_the_farther_one_counts() -> None:
    ways = Ways(SETTINGS, (trail("M", 4),), {"M": stations([0.0, 0.0, 10.0, 0.0])})
    assert ways.way("M", 1.0).limit_kg == LEVEL_KG
    halfway = ways.way("M", 1.4)
    assert (halfway.at_m, halfway.travel_m, halfway.limit_kg) == (1.4, 1.4, kg_on(10.0))
    beyond = ways.way("M", 99.0)
    assert (beyond.at_m, beyond.travel_m) == (3.0, 3.0)
    with pytest.raises(KeyError):
        ways.way("S9", 1.0)


def test_ground_that_is_not_known_is_as_bad_as_the_worst_that_is() -> None:
    main = [0.0, math.nan, math.nan, 3.0, 0.0]
    side = [0.0, 12.0, 0.0]
    trails = (trail("M", 5), trail("S1", 3, "M", 4.0))
    ways = Ways(SETTINGS, trails, {"M": stations(main), "S1": stations(side)})
    near = ways.way("M", 0.0)
    assert (near.limit_kg, near.unknown_m) == (LEVEL_KG, 0.0)
    past = ways.way("M", 4.0)
    assert (past.limit_kg, past.limit_at_m) == (kg_on(12.0), 1.0)
    assert past.limited_by == "front_axle"
    assert past.unknown_m == pytest.approx(2.0)
    assert ways.way("S1", 2.0).unknown_m == pytest.approx(2.0)


def test_where_no_grade_at_all_is_known_the_steepest_allowed_counts() -> None:
    limits = limits_in_force(SETTINGS)
    ways = Ways(SETTINGS, (trail("M", 3),), {"M": stations([math.nan] * 3)})
    way = ways.way("M", 2.0)
    assert way.limit_kg == kg_on(limits.adverse_short_pct)
    assert way.limited_by == "front_axle"
    (step,) = ways.with_steps([TrailStep("M", 0.0, 2.0, 0.0, 0.0)])
    assert (step.payload_kg, step.payload_by, step.front_share_pct) == (None, "", None)


grades = st.lists(st.one_of(st.floats(-30, 20), st.just(math.nan)), min_size=1, max_size=12)


@given(grades, grades, grades, st.floats(0, 12), st.floats(0, 12), st.floats(0, 12))
def test_every_way_against_a_walk_over_all_its_stations(
    main: list[float], near: list[float], far: list[float], a: float, b: float, at: float
) -> None:
    a, b = min(a, len(main) - 1.0), min(b, len(near) - 1.0)
    at = min(at, len(far) - 1.0)
    trails = (trail("M", len(main)), trail("A", len(near), "M", a), trail("B", len(far), "A", b))
    read = {"M": main, "A": near, "B": far}
    got = Ways(SETTINGS, trails, {k: stations(v) for k, v in read.items()}).way("B", at)
    known = [g for values in read.values() for g in values if math.isfinite(g)]
    steepest = [limits_in_force(SETTINGS).adverse_short_pct]
    worst = min(kg_on(g) for g in known or steepest)
    met = [0.0]  # the landing
    for values, end in ((main, a), (near, b), (far, at)):
        met += values[: math.ceil(end - 1e-6) + 1]
    loads = [kg_on(g) if math.isfinite(g) else worst for g in met]
    assert got.limit_kg == pytest.approx(min(loads))
    assert got.travel_m == pytest.approx(a + b + at)
    if got.limit_trail_id:
        there = read[got.limit_trail_id][round(got.limit_at_m)]
        assert got.limit_kg == pytest.approx(kg_on(there) if math.isfinite(there) else worst)
    assert (got.unknown_m > 0) <= any(not math.isfinite(g) for g in met)


def test_steps_say_the_worst_of_their_stations() -> None:
    grade = [0.0, 2.0, 8.0, -20.0, math.nan, -5.0]
    cross = [0.0, 3.0, 5.0, 12.0, 4.0, 16.0]
    ways = Ways(SETTINGS, (trail("M", 6),), {"M": stations(grade, cross)})
    first, second = ways.with_steps(
        [TrailStep("M", 0.0, 3.0, 8.0, 12.0), TrailStep("M", 4.0, 5.0, -5.0, 16.0)]
    )
    tractor = on_the_day(SETTINGS)
    assert (first.payload_kg, first.payload_by) == (kg_on(8.0), "front_axle")
    assert first.tip_margin_deg == float(stability.tip_margin_deg(tractor, 12.0, 20.0))
    # the largest load leaves 20 % in front on 8 % uphill; empty up the 20 % 29 % are left
    assert first.front_share_pct == pytest.approx(20.0)
    assert second.payload_kg == kg_on(-5.0)
    assert second.tip_margin_deg == float(stability.tip_margin_deg(tractor, 16.0, 5.0))
    assert first.grade_pct == 8.0


def test_on_a_bench_the_hill_does_not_tilt_the_tractor() -> None:
    read = {"M": stations([0.0, 0.0], [30.0, 3.0])}
    on = {"M": np.array([True, True])}
    steps = [TrailStep("M", 0.0, 0.4, 0.0, 30.0), TrailStep("M", 0.6, 1.0, 0.0, 3.0)]
    hill = Ways(SETTINGS, (trail("M", 2),), read).with_steps(steps)
    bench = Ways(SETTINGS, (trail("M", 2),), read, on).with_steps(steps)
    margin = stability.tip_margin_deg(SETTINGS.tractor, [30.0, BENCH_CROSS_PCT, 3.0])
    assert [s.tip_margin_deg for s in hill] == [margin[0], margin[2]]
    assert [s.tip_margin_deg for s in bench] == [margin[1], margin[2]]


def test_benches_old_and_new_are_found() -> None:
    side = terrain_of(lambda x, y: 100 + 0.25 * x)
    settings = settings_of(trails={"bench_up_to": "40 %"})
    old = ExistingTrail("old", line((100, 50), (100, 150)), benched=True)
    area = area_of(side, settings, existing=(old,))
    trails = (main_trail((100, 50), (100, 200)), main_trail((200, 50), (200, 150), trail_id="M2"))
    read = {t.trail_id: station_table(side, t.line, t.width_m) for t in trails}
    limits = limits_in_force(settings)
    dug = {t.trail_id: benching.of_trail(area, limits, t, read[t.trail_id]) for t in trails}
    flat = benched(area, trails, read, {k: v for k, v in dug.items() if v is not None})
    assert flat["M1"].all()  # old to 152 m, dug from there on
    assert flat["M2"].all()
    without = benched(replace(area, existing=()), trails, read, {})
    assert not without["M1"].any()


def test_a_large_plan_is_read_at_once() -> None:
    rng = np.random.default_rng(7)
    trails = [trail("M", 501)]
    read = {"M": stations(rng.uniform(-20, 10, 501).tolist())}
    for i in range(64):
        trails.append(trail(f"S{i}", 32, "M", 7.5 * i))
        read[f"S{i}"] = stations(rng.uniform(-20, 10, 32).tolist())
    began = time.perf_counter()
    ways = Ways(SETTINGS, trails, read)
    for i in range(64):
        ways.way(f"S{i}", 30.0)
    assert time.perf_counter() - began < 0.2  # 0.01 s as measured
