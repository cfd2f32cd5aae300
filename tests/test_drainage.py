"""Water bars, held against the printed tables and cases worked by hand.

Printed sources: Southern Regional Extension Forestry, online handbook,
"Watershed Management", table "Distances Between Water Bars", page as of
2012-08-30; waterbreaks by erosion hazard, California Code of Regulations, title 14,
section 934.6(e). The rows below were typed from those pages, not from our code. The
formula of dips, 400 / grade + 100 ft, is from memory. A whole plan is walked in
test_drainage_plan.py.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from drain_checker import FOOT_M, PRINTED, printed_spacing_m, walked_too_far
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, box

from layout import drainage
from layout.errors import BeyondTableError, InputError
from layout.records import Trail, WaterBar
from layout.terrain import Stations

WATERBREAKS_FT = {  # grades up to 10, 11 to 25, 26 to 50, above
    "extreme": (100, 75, 50, 50),
    "high": (150, 100, 75, 50),
    "moderate": (200, 150, 100, 75),
    "low": (300, 200, 150, 100),
}


def trail(joins: str = "", width_m: float = 3.0) -> Trail:
    return Trail("S1", "spur", "L1", LineString([(0, 0), (1, 0)]), width_m, "routed", joins)


def along(z: np.ndarray, step_m: float = 1.0, tilt: float | np.ndarray = 5.0) -> Stations:
    """Make a straight trail to the east; the grade at a station is that of its steeper side."""
    at = np.arange(z.size) * step_m
    step = np.diff(z) / step_m * 100
    before, after = np.r_[step[0], step], np.r_[step, step[-1]]
    rise = np.where(np.abs(before) > np.abs(after), before, after)
    lean = np.broadcast_to(np.asarray(tilt, dtype=float), z.shape).copy()
    return Stations(at, at, np.zeros_like(at), np.zeros_like(at), z, -rise, np.abs(lean), lean)


def even(length_m: float, grade_pct: float, n: int = 201) -> Stations:
    at = np.linspace(0, length_m, n)
    return along(at * grade_pct / 100, step_m=length_m / (n - 1))


@pytest.mark.parametrize(("grade_pct", "feet"), PRINTED)
def test_every_printed_row(grade_pct: int, feet: int) -> None:
    assert drainage.spacing(grade_pct) == pytest.approx(feet * FOOT_M, rel=1e-12)
    assert drainage.spacing(-grade_pct) == pytest.approx(feet * FOOT_M, rel=1e-12)


def test_twelve_percent_lies_on_a_line_through_the_rows_round_it() -> None:
    # Log-log through 10 % / 80 ft and 15 % / 60 ft: 80 (60/80) ^ (ln 1.2 / ln 1.5) = 70.3 ft.
    assert drainage.spacing(12) / FOOT_M == pytest.approx(70.3, abs=0.05)
    assert 60 < drainage.spacing(12) / FOOT_M < 80


def test_gentler_than_the_table_takes_its_first_row() -> None:
    assert drainage.spacing([0, 1, -1.9]) == pytest.approx(250 * FOOT_M)


@given(st.floats(-40, 40))
def test_between_rows_log_log_and_never_wider_on_steeper_ground(grade: float) -> None:
    assert drainage.spacing(grade) == pytest.approx(printed_spacing_m(grade), rel=1e-9)
    assert drainage.spacing(max(abs(grade) - 1, 0)) >= drainage.spacing(grade) - 1e-9


@pytest.mark.parametrize("hazard", WATERBREAKS_FT)
def test_every_cell_of_the_hazard_table(hazard: Any) -> None:
    for grades, feet in zip(
        [(0, 8, 10), (10.01, 11, 25), (25.01, 26, 50), (51, 60)],
        WATERBREAKS_FT[hazard],
        strict=True,
    ):
        for grade in grades:
            for sign in (1, -1):
                got = drainage.hazard_spacing(sign * grade, hazard)
                assert got == pytest.approx(feet * FOOT_M), (hazard, grade)


def test_worked_cells_of_the_hazard_table() -> None:
    asked = [("high", 15, 100), ("moderate", 60, 75), ("extreme", 30, 50), ("low", 8, 300)]
    for hazard, grade, feet in asked:
        got = drainage.hazard_spacing(grade, hazard)  # type: ignore[arg-type]
        assert got == pytest.approx(feet * FOOT_M)
    assert np.isinf(drainage.hazard_spacing(8, ""))


@given(st.floats(-40, 40), st.sampled_from(sorted(WATERBREAKS_FT)))
def test_the_closer_table_wins(grade: float, hazard: Any) -> None:
    steep = abs(grade)
    column = sum(steep > end + 1e-6 for end in (10, 25, 50))
    by_hand = min(printed_spacing_m(grade), WATERBREAKS_FT[hazard][column] * FOOT_M)
    assert drainage.spacing(grade, drainage.Tables(hazard)) == pytest.approx(by_hand, rel=1e-9)


def test_where_the_hazard_is_closer_and_where_the_grade_is() -> None:
    extreme = drainage.Tables("extreme")
    # 2 %: 250 ft by grade, 100 by hazard; 20 %: 45 by grade, 75 by hazard
    assert drainage.spacing(2, extreme) == pytest.approx(100 * FOOT_M)
    assert drainage.spacing(20, extreme) == pytest.approx(45 * FOOT_M)


@pytest.mark.parametrize(("grade", "feet"), [(4, 200), (5, 180), (8, 150), (10, 140), (2, 300)])
def test_dips_stand_400_over_grade_plus_100_feet_apart(grade: float, feet: float) -> None:
    assert drainage.dip_spacing(grade) == pytest.approx(feet * FOOT_M)
    assert drainage.dip_spacing(-grade) == pytest.approx(feet * FOOT_M)


def test_the_stricter_of_two_printed_limits_of_a_dip_counts() -> None:
    # Vermont: below 10 %; Texas: up to 12 %, and rolling dips up to 15 %
    broad = [drainage.dip_allowed(g, "broad") for g in (9, 10, 11, 13)]
    assert broad == [True, False, False, False]
    assert [drainage.dip_allowed(g, "rolling") for g in (13, -15, 15.1)] == [True, True, False]


def test_dips_stand_in_place_of_bars_only_where_asked_for_and_gentle() -> None:
    by_hand = [
        (2.9, "", ""),
        (3, "broad", "broad"),
        (5, "broad", "broad"),
        (5.1, "", "rolling"),
        (15, "", "rolling"),
        (16, "", ""),
    ]
    for grade, broad, rolling in by_hand:
        assert drainage.dip_form(grade, "") == ""
        assert drainage.dip_form(-grade, "broad") == broad
        assert drainage.dip_form(grade, "rolling") == rolling
    asked, high = drainage.Tables(dips="broad"), drainage.Tables("high", "broad")
    assert drainage.spacing(4, asked) == pytest.approx(200 * FOOT_M)
    assert drainage.spacing(4, high) == pytest.approx(150 * FOOT_M)
    assert drainage.spacing(8, asked) == pytest.approx(printed_spacing_m(8))
    # 1,000 ft at 4 %: dips at 200 ft, so four; bars at 157 ft, so six
    laid = drainage.bars(trail(), even(1000 * FOOT_M, 4), tables=asked)
    assert [(bar.kind, bar.bar_set, bar.length_m) for bar in laid] == [
        ("dip", "before_use", None)
    ] * 4
    bars = drainage.bars(trail(), even(1000 * FOOT_M, 4))
    assert [bar.kind for bar in bars] == ["bar"] * 6


def test_float_noise_on_a_row_does_not_drop_to_the_next() -> None:
    assert drainage.spacing(100 * (50.1 - 50) / (1.1 - 0.1)) == pytest.approx(80 * FOOT_M)


def test_steeper_than_the_table_is_refused_in_plain_words() -> None:
    with pytest.raises(BeyondTableError, match=r"45\.0 % is steeper than the 40 %.*re-route"):
        drainage.bar_spacing([8, 45])
    with pytest.raises(InputError, match="leave the DEM"):
        drainage.spacing([8, np.nan])


def test_beyond_the_table_bars_stand_as_in_its_last_row_and_stop_the_work() -> None:
    # 40 m at 10 %, 30 m at 60 %, 40 m at 10 %; the last printed row is 40 %: 30 ft
    rise = np.r_[0.0, np.full(40, 0.1), np.full(30, 0.6), np.full(40, 0.1)]
    met = along(np.cumsum(rise))
    laid = drainage.bars(trail(), met)
    steep = [bar.at_m for bar in laid if 40 <= bar.at_m <= 70]
    assert len(steep) >= 3
    assert np.diff(steep).max() <= 30 * FOOT_M + 1e-9
    assert drainage.spacing(60) == pytest.approx(30 * FOOT_M)
    (stop,) = drainage.stretch_findings(trail(), met, "metric")
    assert (stop.code, stop.level, stop.subject_id) == ("bar_beyond_table", "stop", "S1")
    assert (stop.value, stop.limit) == (pytest.approx(60), 40)
    assert stop.from_m == pytest.approx(40, abs=1)
    assert stop.to_m == pytest.approx(70, abs=1)
    assert stop.message.startswith("Spur S1 from 40 m to 70 m: up to 60 % steep")
    assert "9 m apart as in its last row" in stop.message
    assert drainage.stretch_findings(trail(), even(100, 40)) == ()


def with_gap(met: Stations, from_m: float, to_m: float) -> Stations:
    inside = (met.at_m > from_m) & (met.at_m < to_m)
    holed = {
        name: np.where(inside, np.nan, getattr(met, name))
        for name in ("z", "grade_pct", "cross_pct", "tilt_left")
    }
    return replace(met, **holed)


def test_no_drain_lies_in_a_gap_of_the_elevations_and_one_stands_on_either_side() -> None:
    met = with_gap(even(200, 10), 80, 110)
    at = [bar.at_m for bar in drainage.bars(trail(), met)]
    assert not [a for a in at if 80 < a < 110]
    assert {80.0, 110.0} <= set(at)
    assert [bar.bar_id for bar in drainage.bars(trail(), met)] == [
        f"S1-B{n + 1}" for n in range(len(at))
    ]
    # outside the gap no more than 80 ft lie between two, nor before the ends
    for lo, hi in ((0.0, 80.0), (110.0, 200.0)):
        mine = [lo, *(a for a in at if lo <= a <= hi), hi]
        assert np.diff(mine).max() <= 80 * FOOT_M + 1e-9
    (told,) = drainage.stretch_findings(trail(), met, "metric")
    assert (told.code, told.level) == ("bar_gap", "caution")
    assert told.message.startswith("Spur S1 from 80 m to 110 m: drains not laid out")
    assert drainage.stretch_findings(trail(), even(200, 10)) == ()


def test_no_bar_beside_a_gap_lies_on_the_landing_or_in_a_junction() -> None:
    places = drainage.Places(landing_end=True, clear_from_m=7.0, mouths_m=[112.0])
    met = with_gap(with_gap(even(200, 10), 2, 4), 80, 110)
    at = [bar.at_m for bar in drainage.bars(trail(), met, places)]
    assert min(at) >= 7.0 and 80.0 in at
    assert not [a for a in at if abs(a - 112.0) < 5.0]


def test_a_trail_with_no_known_ground_has_no_drains_and_says_so() -> None:
    lost = with_gap(even(50, 5), -1, 51)
    assert drainage.bars(trail(), lost) == ()
    assert [f.code for f in drainage.stretch_findings(trail(), lost)] == ["bar_gap"]
    assert drainage.bars(trail(), along(np.array([5.0, np.nan, 4.0]))) == ()


def test_a_trail_that_does_not_run_on_is_refused() -> None:
    stuck = even(50, 5)
    stuck.at_m[7] = stuck.at_m[6]
    with pytest.raises(InputError, match="two stations or more"):
        drainage.bars(trail(), stuck)


@pytest.mark.parametrize("hazard", ["", *WATERBREAKS_FT])
def test_600_ft_at_10_percent(hazard: Any) -> None:
    # At 10 % the grade table's 80 ft is closer than any hazard's.
    laid = drainage.bars(trail(), even(600 * FOOT_M, 10), tables=drainage.Tables(hazard))
    assert len(laid) == 7 == math.ceil(600 / 80) - 1
    assert {bar.why for bar in laid} == {"spacing"}
    assert all(bar.spacing_m == pytest.approx(80 * FOOT_M) for bar in laid)


@pytest.mark.parametrize(
    ("hazard", "spacing_ft", "count"),
    [("extreme", 100, 5), ("high", 150, 3), ("moderate", 200, 2), ("low", 250, 2), ("", 250, 2)],
)
def test_600_ft_at_2_percent_by_hazard(hazard: Any, spacing_ft: int, count: int) -> None:
    # Bars only between the ends: ceil(600 / spacing) - 1. The low hazard's 300 ft is wider
    # than the grade table's 250.
    laid = drainage.bars(trail(), even(600 * FOOT_M, 2), tables=drainage.Tables(hazard))
    assert len(laid) == count == math.ceil(600 / spacing_ft) - 1
    assert all(bar.spacing_m == pytest.approx(spacing_ft * FOOT_M) for bar in laid)


def test_a_whole_number_of_spacings_needs_one_bar_fewer() -> None:
    assert len(drainage.bars(trail(), even(800 * FOOT_M, 10))) == 9
    assert len(drainage.bars(trail(), even(801 * FOOT_M, 10))) == 10
    assert drainage.bars(trail(), even(80 * FOOT_M, 10)) == ()


def test_elevations_that_wobble_less_than_the_noise_start_no_new_total() -> None:
    # 240 m at 1 % with 0.1 m of wobble: ten of the little rises are local crests.
    at = np.arange(241.0)
    z = at * 0.01 + 0.1 * np.sin(at)
    local = (z[1:-1] > z[:-2]) & (z[1:-1] > z[2:])
    assert local.sum() > 10
    assert drainage.turns_of_slope(z) == [0, 240]
    level = along(z)
    level.grade_pct[:] = -1.0
    # 250 ft = 76.2 m, so 240 m take three bars.
    assert len(drainage.bars(trail(), level)) == 3


def test_crest_and_low_point_are_found() -> None:
    z = np.interp(np.arange(301), [0, 100, 200, 300], [0, 8, 2, 9])
    assert drainage.turns_of_slope(z) == [0, 100, 200, 300]
    laid = drainage.bars(trail(), along(z))
    low = [bar for bar in laid if bar.why == "low_point"]
    assert [bar.at_m for bar in low] == [200.0]
    # its water leaves to the low side: nothing is built there
    assert (low[0].kind, low[0].outlet, low[0].bar_set) == ("grade_break", "right", "")
    assert low[0].length_m is None
    # where the ground is level across, the water stands there: a bar leads it out
    flat = drainage.bars(trail(), along(z, tilt=0.0))
    (low_bar,) = [bar for bar in flat if bar.why == "low_point"]
    assert (low_bar.kind, low_bar.outlet, low_bar.bar_set) == ("bar", "unknown", "shutdown")


def test_a_dent_less_deep_than_the_noise_is_no_grade_break() -> None:
    # 10 % down outward with a rise of 0.4 m in it; half a metre counts
    for rise, count in [(0.4, 0), (0.6, 1)]:
        z = np.interp(np.arange(201), [0, 100, 110, 200], [20, 10, 10 + rise, 1])
        laid = drainage.bars(trail(), along(z))
        assert sum(bar.kind == "grade_break" for bar in laid) == count


def test_a_bar_stands_before_a_low_far_end() -> None:
    falling = along(np.linspace(6, 0, 101))
    assert drainage.bars(trail(), falling)[-1].why == "end"
    assert 100 - 2 - 8 <= drainage.bars(trail(), falling)[-1].at_m <= 98
    assert "end" not in {bar.why for bar in drainage.bars(trail(), even(100, 6))}


def test_the_two_sets() -> None:
    spur = drainage.bars(trail("M1"), even(150, 6))
    assert [bar.bar_set for bar in spur] == ["shutdown"] + ["closeout"] * (len(spur) - 1)
    assert len(spur) > 2
    assert {bar.bar_set for bar in drainage.bars(trail(), even(150, 12))} == {"shutdown"}
    held = drainage.amounts(spur)
    assert (held.shutdown, held.closeout) == (1, len(spur))
    # (3 + 2 x 0.3) / cos 30 = 4.157 m a bar
    assert held.closeout_m == pytest.approx(4.1569 * len(spur), abs=1e-3)
    assert held.shutdown_m == pytest.approx(4.1569, abs=1e-4)


def test_a_bar_reaches_beyond_both_edges() -> None:
    assert drainage.bar_length_m(3.0, 0.0) == pytest.approx(3.0 / math.cos(math.radians(30)))
    (bar, *_) = drainage.bars(trail(), even(150, 12))
    path = replace(trail(), line=LineString([(0, 0), (150, 0)]))
    line = drainage.bar_line(path, bar)
    assert line is not None and line.length == pytest.approx(bar.length_m)
    (x0, y0), (x1, y1) = line.coords
    # outlet right of the stored line, which rises east: the lower end lies south and west
    assert (y0, y1) == pytest.approx((1.8, -1.8)) and x1 < x0
    assert math.degrees(math.atan2(x0 - x1, y0 - y1)) == pytest.approx(30)


@pytest.mark.parametrize("rise", [0.3, -0.3])
def test_a_bump_at_the_start_is_no_crest(rise: float) -> None:
    z = np.r_[0, rise, np.linspace(0, -10 * np.sign(rise), 50)]
    assert drainage.turns_of_slope(z) == [0, 51]


def test_spur_water_is_turned_off_above_the_mouth() -> None:
    spur = trail(joins="M1", width_m=3.0)
    laid = drainage.bars(spur, even(20, 6))
    assert [(bar.why, bar.bar_id) for bar in laid] == [("spur_mouth", "S1-B1")]
    # Clear of the main by 5 m along, and its askew near end too: 1.5 m x tan 30.
    assert laid[0].at_m == pytest.approx(5 + 1.5 * math.tan(math.pi / 6))
    assert [bar.why for bar in drainage.bars(trail(), even(20, 6))] == []


def test_a_bar_stands_above_the_landing() -> None:
    laid = drainage.bars(
        trail(), even(60, 10), drainage.Places(landing_end=True, clear_from_m=12.0)
    )
    assert laid[0].why == "landing"
    assert laid[0].at_m == pytest.approx(12 + 1.5 * math.tan(math.pi / 6))


def test_a_very_short_spur_keeps_its_bar_on_itself() -> None:
    assert [bar.at_m for bar in drainage.bars(trail(joins="M1"), even(8, 6))] == [4.0]


def test_clear_from_measures_the_near_edge() -> None:
    # At 45 degrees the centre line is s / sqrt 2 from the axis of a strip 2 m to each
    # side; the edge of a 3 m trail is off it where s / sqrt 2 - 2 >= 1.5: s >= 4.95.
    main = box(-50, -2, 50, 2)
    spur = LineString([(0, 0), (20, 20)])
    assert drainage.clear_from(spur, main, 3.0) == 5.0
    assert drainage.clear_from(LineString([(0, 0), (20, 0)]), main, 3.0) == 20.0


def test_bars_stand_before_a_strip_on_the_side_the_water_comes_from() -> None:
    # Down into a strip at 100..120 and up out of it: a bar on both sides.
    valley = along(np.interp(np.arange(221), [0, 110, 220], [7, 1, 7]))
    laid = drainage.bars(trail(), valley, drainage.Places(strip_edges_m=[100.0, 120.0]))
    assert [bar.at_m for bar in laid if bar.why == "strip"] == [95.0, 125.0]
    # Down through it: only on the upper side. The stored line rises, so that is beyond.
    slope = even(220, 5, n=221)
    laid = drainage.bars(trail(), slope, drainage.Places(strip_edges_m=[100.0, 120.0]))
    assert [bar.at_m for bar in laid if bar.why == "strip"] == [125.0]


@pytest.mark.parametrize("hazard", ["", "extreme"])
def test_no_dip_is_dug_in_a_strip(hazard: Any) -> None:
    """A dip cuts into the ground; a bar in its place keeps the closer spacing of bars.

    At 4 %: dips 200 ft, bars 157 ft by the grade table; at 8 % rolling dips stand as bars do.
    """
    tables = drainage.Tables(hazard, "rolling")
    room = {g: float(drainage.spacing(g, drainage.Tables(hazard))) for g in (4.0, 8.0)}
    for grade, bar_m in room.items():
        slope = even(600, grade, n=601)
        free = drainage.bars(trail(), slope, tables=tables)
        assert {bar.kind for bar in free} == {"dip"}
        for edges in ([200.0, 320.0], [320.0, 200.0, 0.0, 40.0]):
            laid = drainage.bars(trail(), slope, drainage.Places(strip_edges_m=edges), tables)
            inside = [bar for bar in laid if 195.01 < bar.at_m < 324.99]
            assert len([bar for bar in inside if bar.why == "spacing"]) >= 2
            assert {(bar.kind, bar.length_m is None) for bar in inside} == {("bar", False)}
            assert [bar.spacing_m for bar in inside] == pytest.approx([bar_m] * len(inside))
            assert max(np.diff([bar.at_m for bar in inside])) <= bar_m + 1e-6
            assert {bar.kind for bar in laid if bar.at_m > 326} == {"dip"}


def test_strip_edges_come_in_pairs() -> None:
    line = LineString([(0, 0), (100, 0)])
    assert drainage.edges(line, box(0, 10, 100, 20)) == ()
    # Two strips that share a seam are one; the trail ends inside the last.
    strips = MultiPolygon([box(20, -5, 30, 5), box(40, -5, 45, 5), box(90, -5, 120, 5)])
    assert drainage.edges(line, strips) == pytest.approx((20, 30, 40, 45, 90, 100))
    seam = GeometryCollection([box(20, -5, 30, 5), box(30, -5, 45, 5)])
    assert drainage.edges(line, seam) == pytest.approx((20, 45))
    assert drainage.edges(line, box(-5, -5, 10, 5)) == pytest.approx((0, 10))


@pytest.mark.parametrize(("tilt", "side"), [(6, "right"), (-6, "left"), (1, "unknown")])
def test_the_outlet_is_on_the_lower_side(tilt: float, side: str) -> None:
    assert drainage.outlet_side(tilt) == side
    laid = drainage.bars(trail(), along(np.linspace(0, 10, 101), tilt=tilt))
    assert {bar.outlet for bar in laid} == {side}


def test_a_bar_moves_uphill_to_find_its_low_side() -> None:
    at = np.arange(101.0)
    everywhere = drainage.bars(trail(), along(at * 0.1))
    first = max(bar.at_m for bar in everywhere)
    flat_here = np.where(np.abs(at - first) < 3, 0.0, 6.0)
    moved = max(b.at_m for b in drainage.bars(trail(), along(at * 0.1, tilt=flat_here)))
    assert first < moved <= first + 8  # stored lines run landing end first: uphill is farther
    assert drainage.outlet_side(float(np.interp(moved, at, flat_here))) == "right"


def test_a_bar_stays_where_it_is_due_when_no_low_side_is_near() -> None:
    at = np.arange(101.0)
    first = max(bar.at_m for bar in drainage.bars(trail(), along(at * 0.1)))
    flat_here = np.where(np.abs(at - first) < 10, 0.0, 6.0)
    laid = drainage.bars(trail(), along(at * 0.1, tilt=flat_here))
    assert max(bar.at_m for bar in laid) == pytest.approx(first)
    assert laid[-1].outlet == "unknown"


def test_spaced_bars_keep_off_junctions() -> None:
    at = np.arange(201.0)
    free = [bar.at_m for bar in drainage.bars(trail(), along(at * 0.1))]
    laid = drainage.bars(trail(), along(at * 0.1), drainage.Places(free[:3]))
    assert all(abs(bar.at_m - mouth) >= 5 for bar in laid for mouth in free[:3])


def too_far(stations: Stations, laid: tuple[WaterBar, ...]) -> float:
    return walked_too_far(
        stations.at_m.tolist(),
        stations.z.tolist(),
        stations.grade_pct.tolist(),
        [bar.at_m for bar in laid],
    )


legs = st.lists(st.tuples(st.integers(3, 60), st.floats(-38, 38)), min_size=1, max_size=12).map(
    lambda runs: np.concatenate(
        [[0.0], np.cumsum(np.concatenate([np.full(n, g / 100) for n, g in runs]))]
    )
)


@settings(max_examples=60)
@given(legs, st.sampled_from([0.0, 5.0]), st.booleans(), st.data())
def test_no_water_runs_farther_than_the_table_allows(
    z: np.ndarray, tilt: float, landing: bool, data: st.DataObject
) -> None:
    length = z.size - 1
    marks = st.lists(st.floats(0, length), max_size=4)
    mouths, edges = data.draw(marks), data.draw(marks)
    stations = along(z, tilt=np.where(np.arange(z.size) % 17 < 9, tilt, 0.0))
    laid = drainage.bars(trail(), stations, drainage.Places(mouths, landing, strip_edges_m=edges))
    assert too_far(stations, laid) <= 1 + 1e-6
    assert len({bar.bar_id for bar in laid}) == len(laid)
    assert all(0 < bar.at_m < length for bar in laid)
    assert list(laid) == sorted(laid, key=lambda bar: bar.at_m)


@settings(max_examples=60)
@given(legs)
def test_walking_a_rising_trail_backwards_needs_as_many_bars(z: np.ndarray) -> None:
    rising = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(z)))])
    there, back = (
        [bar for bar in drainage.bars(trail(), along(way)) if bar.why == "spacing"]
        for way in (rising, rising[::-1])
    )
    # the bar before the low end, walked backwards, may save one
    assert len(there) - 1 <= len(back) <= len(there)


def test_the_walk_notices_a_bar_left_out() -> None:
    stations = along(np.linspace(0, 20, 201))
    laid = drainage.bars(trail(), stations)
    assert too_far(stations, laid) <= 1 + 1e-6
    assert too_far(stations, laid[:3] + laid[4:]) > 1.5


def test_findings_name_the_stretch_without_a_low_side() -> None:
    at = np.arange(201.0)
    tilt = np.where((at > 60) & (at < 140), 0.5, 6.0)
    laid = drainage.bars(trail(), along(at * 0.1, tilt=tilt))
    lost = [bar.at_m for bar in laid if bar.outlet == "unknown"]
    assert len(lost) >= 2
    (finding,) = drainage.outlet_findings(trail(), laid)
    assert (finding.level, finding.from_m, finding.to_m) == ("caution", lost[0], lost[-1])
    assert f"{len(lost)} drains in a row have no clear low side" in finding.message
    assert finding.value == len(lost)
    (metric,) = drainage.outlet_findings(trail(), laid, "metric")
    assert f"Spur S1 from {lost[0]:.0f} m to {lost[-1]:.0f} m:" in metric.message
    (fine,) = drainage.outlet_findings(trail(), drainage.bars(trail(), along(at * 0.1)))
    assert fine.level == "ok"
    assert drainage.outlet_findings(trail(), ()) == ()
