"""Water bars, held against the printed table and cases worked by hand.

Printed source: Southern Regional Extension Forestry, online handbook,
"Watershed Management", table "Distances Between Water Bars", page as of
2012-08-30. The rows below were typed from that page, not from our code.
"""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import GeometryCollection, LineString, MultiPolygon, box

from layout import drainage
from layout.errors import BeyondTableError, InputError
from layout.records import Trail, WaterBar
from layout.terrain import Stations

FOOT_M = 0.3048  # exact by definition
PRINTED = [(2, 250), (5, 135), (10, 80), (15, 60), (20, 45), (25, 40), (30, 35), (40, 30)]


def printed_spacing_m(grade_pct: float) -> float:
    """Read the page as a person does: the first row that is steep enough."""
    return next(feet for row, feet in PRINTED if abs(grade_pct) <= row + 1e-6) * FOOT_M


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


@pytest.mark.parametrize(
    ("between_pct", "steeper_row_ft"), [(0, 250), (2.01, 135), (12, 60), (39.9, 30)]
)
def test_between_rows_takes_the_steeper_row(between_pct: float, steeper_row_ft: int) -> None:
    assert drainage.spacing(between_pct) == pytest.approx(steeper_row_ft * FOOT_M)


def test_twelve_percent_is_no_wider_than_a_line_through_the_rows_round_it() -> None:
    # Log-log through 10 % / 80 ft and 15 % / 60 ft gives 70.3 ft at 12 %.
    share = math.log(12 / 10) / math.log(15 / 10)
    drawn_ft = 80 * (60 / 80) ** share
    assert drawn_ft == pytest.approx(70.3, abs=0.05)
    assert 60 * FOOT_M - 1e-9 <= drainage.spacing(12) <= drawn_ft * FOOT_M


def test_float_noise_on_a_row_does_not_drop_to_the_next() -> None:
    assert drainage.spacing(100 * (50.1 - 50) / (1.1 - 0.1)) == pytest.approx(80 * FOOT_M)


def test_steeper_than_the_table_is_refused_in_plain_words() -> None:
    with pytest.raises(BeyondTableError, match=r"45\.0 % is steeper than the 40 %.*re-route"):
        drainage.spacing([8, 45])


def test_a_trail_off_the_dem_is_refused() -> None:
    with pytest.raises(InputError, match="leave the DEM"):
        drainage.bars(trail(), along(np.array([5.0, np.nan, 4.0])))
    gap = even(50, 5)
    gap.z[:] = np.nan
    with pytest.raises(InputError, match="S1 leaves the DEM"):
        drainage.bars(trail(), gap)


def test_a_trail_that_does_not_run_on_is_refused() -> None:
    stuck = even(50, 5)
    stuck.at_m[7] = stuck.at_m[6]
    with pytest.raises(InputError, match="two stations or more"):
        drainage.bars(trail(), stuck)


@pytest.mark.parametrize(("spacing_ft", "count"), [(80, 7)])
def test_600_ft_at_10_percent(spacing_ft: int, count: int) -> None:
    laid = drainage.bars(trail(), even(600 * FOOT_M, 10))
    assert len(laid) == count == math.ceil(600 / spacing_ft) - 1
    assert {bar.why for bar in laid} == {"spacing"}
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
    laid = drainage.bars(trail(), even(60, 10), landing_end=True, clear_from_m=12.0)
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
    laid = drainage.bars(trail(), valley, strip_edges_m=[100.0, 120.0])
    assert [bar.at_m for bar in laid if bar.why == "strip"] == [95.0, 125.0]
    # Down through it: only on the upper side. The stored line rises, so that is beyond.
    slope = even(220, 5, n=221)
    laid = drainage.bars(trail(), slope, strip_edges_m=[100.0, 120.0])
    assert [bar.at_m for bar in laid if bar.why == "strip"] == [125.0]


def test_strip_edges_come_in_pairs() -> None:
    line = LineString([(0, 0), (100, 0)])
    assert drainage.strip_edges(line, box(0, 10, 100, 20)) == ()
    # Two strips that share a seam are one; the trail ends inside the last.
    strips = MultiPolygon([box(20, -5, 30, 5), box(40, -5, 45, 5), box(90, -5, 120, 5)])
    assert drainage.strip_edges(line, strips) == pytest.approx((20, 30, 40, 45, 90, 100))
    seam = GeometryCollection([box(20, -5, 30, 5), box(30, -5, 45, 5)])
    assert drainage.strip_edges(line, seam) == pytest.approx((20, 45))
    assert drainage.strip_edges(line, box(-5, -5, 10, 5)) == pytest.approx((0, 10))


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
    laid = drainage.bars(trail(), along(at * 0.1), mouths_m=free[:3])
    assert all(abs(bar.at_m - mouth) >= 5 for bar in laid for mouth in free[:3])


def walked_too_far(stations: Stations, laid: tuple[WaterBar, ...]) -> float:
    """Follow the water from each crest down, in small steps, and give the longest way.

    Written apart from the code under test: plain loops, its own table, crests by
    looking both ways from every station. 1.0 is one spacing of the table.
    """
    z, at = stations.z, stations.at_m
    stops = sorted(bar.at_m for bar in laid)

    def falls(i: int, step: int) -> bool:
        """Say whether the ground drops 0.5 m from here before it rises above here."""
        j = i + step
        while 0 <= j < z.size and z[j] <= z[i]:
            if z[i] - z[j] >= 0.5 - 1e-9:
                return True
            j += step
        return not 0 <= j < z.size

    crests = [float(at[i]) for i in range(z.size) if falls(i, -1) and falls(i, 1)]
    resets = {round(place, 9) for place in [*stops, *crests]}
    longest = way = 0.0
    for i in range(z.size - 1):
        room = min(printed_spacing_m(g) for g in stations.grade_pct[i : i + 2])
        cuts = [float(at[i]), *[s for s in stops if at[i] < s < at[i + 1]], float(at[i + 1])]
        for a, b in pairwise(cuts):
            if round(a, 9) in resets:
                way = 0.0
            way += (b - a) / room
            longest = max(longest, way)
    return longest


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
    laid = drainage.bars(trail(), stations, mouths, landing, edges)
    assert walked_too_far(stations, laid) <= 1 + 1e-6
    assert len({bar.bar_id for bar in laid}) == len(laid)
    assert all(0 < bar.at_m < length for bar in laid)
    assert list(laid) == sorted(laid, key=lambda bar: bar.at_m)


@settings(max_examples=60)
@given(legs)
def test_walking_a_rising_trail_backwards_needs_as_many_bars(z: np.ndarray) -> None:
    rising = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(z)))])
    there, back = along(rising), along(rising[::-1])
    assert len(drainage.bars(trail(), there)) == len(drainage.bars(trail(), back))


def test_the_walk_notices_a_bar_left_out() -> None:
    stations = along(np.linspace(0, 20, 201))
    laid = drainage.bars(trail(), stations)
    assert walked_too_far(stations, laid) <= 1 + 1e-6
    assert walked_too_far(stations, laid[:3] + laid[4:]) > 1.5


def test_findings_name_the_stretch_without_a_low_side() -> None:
    at = np.arange(201.0)
    tilt = np.where((at > 60) & (at < 140), 0.5, 6.0)
    laid = drainage.bars(trail(), along(at * 0.1, tilt=tilt))
    lost = [bar.at_m for bar in laid if bar.outlet == "unknown"]
    assert len(lost) >= 2
    (finding,) = drainage.outlet_findings(trail(), laid)
    assert (finding.level, finding.from_m, finding.to_m) == ("caution", lost[0], lost[-1])
    assert f"{len(lost)} water bars in a row have no clear low side" in finding.message
    assert finding.value == len(lost)
    (metric,) = drainage.outlet_findings(trail(), laid, "metric")
    assert f"Spur S1 from {lost[0]:.0f} m to {lost[-1]:.0f} m:" in metric.message
    (fine,) = drainage.outlet_findings(trail(), drainage.bars(trail(), along(at * 0.1)))
    assert fine.level == "ok"
    assert drainage.outlet_findings(trail(), ()) == ()
