"""Trails a phone recorded: they join within its error, and only what it can tell is judged."""

import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import plan_checker
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from made_ground import area_of, at, line, strips_of, terrain_of
from made_plan import layout_only
from shapely.geometry import LineString
from test_frozen import LANDING, MAIN, METRIC, flag, settled

from layout.area import read_area
from layout.checks import check_layout
from layout.checks.bends import radius_at
from layout.errors import InputError
from layout.findings import Finding
from layout.frozen import settle
from layout.progress import Claims
from layout.records import Trail
from layout.site import Area, FixedTrail, NamedLine
from layout.walked_lines import smoothed

GENTLE = terrain_of(lambda x, y: 100 + 0.04 * y + 0.05 * x)


def walked(name: str, *points: tuple[float, float], off_m: float | None = 10.0) -> NamedLine:
    return NamedLine(name, LineString(points), f"flagged.gpx ({name})", walked_m=off_m)


def shaken(shape: LineString, seed: int, noise_m: float = 1.0, every_m: float = 5.0) -> LineString:
    """Give a line as a receiver records it: a fix now and then, each a little off."""
    along = np.linspace(0, shape.length, max(int(shape.length / every_m), 2) + 1)
    xy = shapely.get_coordinates(shapely.line_interpolate_point(shape, along))
    return LineString(xy + np.random.default_rng(seed).normal(0, noise_m, xy.shape))


def tightest(shape: LineString) -> float:
    return float(np.nanmin(radius_at(shape, np.arange(0, shape.length, 0.5))))


# --- how a walked line joins


@pytest.mark.parametrize(
    ("off_m", "joins"),
    [(10.0, True), (None, False), (1.0, False), (3.0, True)],
    ids=["walked", "drawn", "a receiver that knows better", "a receiver within its error"],
)
def test_a_walked_spur_joins_within_its_own_error(off_m: float | None, joins: bool) -> None:
    spur = walked("A", (5, 50), (25, 70), (60, 75), off_m=off_m)
    if not joins:
        with pytest.raises(InputError, match=r"5\.0 m from .*\(3 m at most\)"):
            settled(spur)
        return
    done = settled(spur)
    (trail,) = done.trails
    assert trail.line.coords[0] == (0, 50) and trail.line.coords[-1] == (60, 75)
    assert (trail.joins_id, trail.joins_at_m, trail.walked_m) == ("M", 50, off_m)
    (told,) = (f for f in done.findings if f.code == "fixed_mouth")
    assert told.level == "caution" and told.value == pytest.approx(5)
    assert "5.0 m off M" in told.message


def test_beyond_ten_metres_no_walk_joins() -> None:
    with pytest.raises(InputError, match=r"10\.5 m from .*\(10 m at most\)"):
        settled(walked("A", (10.5, 50), (30, 70), (60, 75), off_m=25.0))


def test_what_joins_as_it_lies_does_so_before_any_walk_is_moved() -> None:
    # B begins 2 m from A and 6 m from the main trail: A takes it, whichever is read first
    near = walked("B", (6, 52), (12, 90), (14, 140))
    limb = walked("A", (0.5, 40), (8, 52), (60, 60))
    for lines in ((near, limb), (limb, near)):
        trails = {t.trail_id: t for t in settled(*lines).trails}
        assert (trails["A"].joins_id, trails["B"].joins_id) == ("M", "A")


def test_a_mouth_that_could_be_anothers_is_named() -> None:
    other = walked("A", (0, 20), (16, 52), (20, 120))
    spur = walked("B", (7, 50), (9, 100), (10, 150))
    done = settled(other, spur)
    (told,) = (f for f in done.findings if f.code == "fixed_mouth" and f.subject_id == "B")
    assert "lies hardly farther" in told.message


def test_a_short_walk_beside_its_host_leads_outward() -> None:
    for points in (((4, 50), (9, 70)), ((9, 70), (4, 50))):
        done = settled(walked("A", *points))
        (trail,) = done.trails
        assert trail.joins_at_m == pytest.approx(50)
        assert any(f.code == "fixed_both_ends" for f in done.findings)


def test_a_walk_that_began_past_its_host_is_cut_at_the_last_crossing() -> None:
    spur = walked("A", (-3, 44), (2, 46), (-2, 48), (20, 70), (60, 75))
    (trail,) = settled(spur).trails
    assert not trail.line.crosses(MAIN)
    assert trail.line.coords[0][0] == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(("off_m", "joins"), [(10.0, True), (None, False)])
def test_a_walked_main_trail_is_led_up_to_its_landing(off_m: float | None, joins: bool) -> None:
    drawn = LineString([(0, 6), (0, 200)])
    done = settle(drawn, LANDING, (), Claims(), None, "area.toml", off_m)
    assert done.main is not None and done.main_walked_m == off_m
    assert done.main.coords[0] == ((0, 0) if joins else (0, 6))
    assert [f.code for f in done.findings] == (["fixed_mouth"] if joins else [])
    fixed = replace(walked("M", (0, 6), (0, 200), off_m=off_m), kind="main")
    again = settled(fixed, main=None)
    assert again.main_fixed is not None and again.main_fixed.walked_m == off_m
    assert again.main_fixed.line.coords[0] == ((0, 0) if joins else (0, 6))


# --- what of its bends is known


@given(st.integers(0, 2**32 - 1), st.sampled_from([2.0, 5.0, 10.0]))
def test_smoothing_takes_the_noise_out_of_a_straight_walk(seed: int, every_m: float) -> None:
    walk = shaken(LineString([(0, 0), (120, 0)]), seed, 1.0, every_m)
    calm = smoothed(walk, 10.0)
    assert tightest(calm) > 6.0
    assert calm.coords[0] == pytest.approx(walk.coords[0])
    assert calm.coords[-1] == pytest.approx(walk.coords[-1])
    assert np.abs(shapely.get_coordinates(calm)[:, 1]).max() <= 5.0


@given(st.integers(0, 2**32 - 1), st.floats(1.5, 3.5))
def test_no_smoothing_opens_a_hairpin(seed: int, radius: float) -> None:
    # By hand: the legs lie 2 r apart, so no turn between them is wider than r.
    turn = [(60 + radius * math.cos(a), radius * math.sin(a)) for a in np.linspace(-1.57, 1.57, 9)]
    pin = LineString([(0, -radius), *turn, (0, radius)])
    assert tightest(smoothed(pin, 10.0)) <= radius + 0.1
    assert tightest(smoothed(shaken(pin, seed, 0.5), 10.0)) < 15 * 0.3048


def test_a_line_too_short_to_smooth_stays() -> None:
    short = LineString([(0, 0), (3, 0)])
    assert smoothed(short, 10.0) is short


def judged(shape: LineString, off_m: float | None, *, main: bool = False) -> tuple[Finding, ...]:
    area: Area = area_of(GENTLE)
    kept = FixedTrail("M" if main else "A", "main", shape, walked_m=off_m)
    if main:
        area = replace(area, main_trail=shape, main_fixed=kept, main_walked_m=off_m)
    else:
        area = replace(area, fixed=(kept,))
    trail = Trail(kept.trail_id, "main", "L1", shape, 3.6, "fixed")
    return check_layout(area, GENTLE, strips_of(GENTLE), None, (trail,))


@pytest.mark.parametrize("main", [False, True])
def test_wiggles_of_a_phone_are_told_once_as_not_known(main: bool) -> None:
    walk = shaken(line((200, 60), (200, 260)), 4)
    found = judged(walk, 10.0, main=main)
    assert not [f for f in found if f.code == "turn_radius"]
    (told,) = (f for f in found if f.code == "bends_not_known")
    assert told.level == "unknown" and "recorded by a phone" in told.message
    # the same line drawn by hand is taken at its word
    drawn = judged(walk, None, main=main)
    assert [f for f in drawn if f.code == "turn_radius" and f.level == "stop"]
    assert not [f for f in drawn if f.code == "bends_not_known"]


def test_a_hairpin_somebody_walked_is_still_a_stop() -> None:
    pin = line((200, 60), (200, 200), (203, 206), (206, 200), (206, 60))
    for seed in range(5):
        walk = shaken(pin, seed, 0.7)
        found = judged(walk, 10.0)
        stops = [f for f in found if f.code == "turn_radius" and f.level == "stop"]
        assert len(stops) == 1
        assert stops[0].from_m is not None and stops[0].to_m is not None
        middle = 0.5 * (stops[0].from_m + stops[0].to_m)
        assert walk.interpolate(middle).distance(shapely.Point(at(203, 204))) < 10
        assert plan_checker.hairpin(walk) > plan_checker.HAIRPIN_DEG


def test_a_wide_turn_on_record_is_no_fault_though_smoothing_draws_it_in() -> None:
    # A half circle of 13 m where 25 ft are wanted, a point a metre: nothing to tell at all.
    half = [(200 + 13 * math.cos(a), 150 + 13 * math.sin(a)) for a in np.linspace(0, math.pi, 42)]
    walk = line((213, 60), *half, (187, 60))
    assert not [f for f in judged(walk, 10.0) if f.code in ("turn_radius", "bends_not_known")]


def test_grades_of_a_walk_are_judged_as_ever() -> None:
    ramp = terrain_of(lambda x, y: 100 + 0.30 * y)
    walk = shaken(line((200, 60), (200, 260)), 4)
    area = replace(area_of(ramp), fixed=(FixedTrail("A", "main", walk, walked_m=10.0),))
    trail = Trail("A", "main", "L1", walk, 3.6, "fixed")
    found = check_layout(area, ramp, strips_of(ramp), None, (trail,))
    assert [f for f in found if f.code == "grade_favourable" and f.level == "stop"]


# --- a whole area


@pytest.mark.slow
def test_a_layout_walked_with_a_phone_is_planned_without_a_row_of_stops(tmp_path: Path) -> None:
    lot = Path(shutil.copytree(METRIC, tmp_path / "lot"))
    area = read_area(lot)
    main = area.main_trail
    assert main is not None
    spur = _spur_of(main)
    flag(lot, {"M": shaken(main, 1), "A": shaken(spur, 2)}, area.crs)
    plan = layout_only(read_area(lot))
    assert {"M", "A"} <= {t.trail_id for t in plan.trails if t.source == "fixed"}
    assert not [f for f in plan.findings if f.code == "turn_radius" and f.subject_id in "MA"]
    assert [f.level for f in plan.findings if f.code == "bends_not_known"] == ["unknown"]
    assert plan_checker.of_plan(plan) == []


def _spur_of(main: LineString) -> LineString:
    """Give a spur that begins 5 m off the main trail, as a phone may have it."""
    mouth = main.interpolate(100)
    dx, dy = np.subtract(main.interpolate(101).coords[0], main.interpolate(99).coords[0]) / 2
    return LineString(
        [
            (mouth.x + along * dx - out * dy, mouth.y + along * dy + out * dx)
            for along, out in ((0, 5), (25, 18), (50, 22))
        ]
    )
