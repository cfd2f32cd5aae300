"""Washing and compaction, against published factors, slopes known beforehand and sums by hand.

LS by RUSLE (Renard and others 1997) and by USLE (Wischmeier & Smith 1978). Classes and the
mark they are held against are ours.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_ground import at, line, main_trail, settings_of, terrain_of
from shapely.geometry import LineString, MultiPolygon, box

from layout import soil_loss
from layout.compaction import compaction_of, concentrated, rate_of
from layout.erosion import (
    K_DEFAULT,
    erosion_findings,
    erosion_of,
    worst_stretches,
)
from layout.erosion_records import Erosion, wash_class
from layout.errors import InputError
from layout.records import Trail, TrailStep, WaterBar
from layout.settings import AreaSettings
from layout.settings.choice_tables import SoilTable
from layout.soil_loss import length_slope, uneven_length_slope
from layout.terrain import Stations, Terrain, station_table

FT = 0.3048
NONE = MultiPolygon()
OURS = settings_of()


# --- the published factors ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length_ft", "grade_pct", "family", "ls"),
    [
        # Check 31 of the trade page: recomputed there from the printed equations.
        (72.6, 9, "RUSLE", 1.006),
        (100, 15, "RUSLE", 2.397),
        (100, 15, "USLE", 2.559),
        (50, 20, "RUSLE", 2.223),
        (50, 20, "USLE", 2.884),
    ],
)
def test_ls_of_the_two_families(length_ft: float, grade_pct: float, family: Any, ls: float) -> None:
    assert float(length_slope(length_ft * FT, grade_pct, family)) == pytest.approx(ls, abs=6e-4)


def test_the_two_families_are_not_mixed() -> None:
    # A published calculator puts RUSLE's power of length to USLE's steepness: 2.624.
    mixed = (100 / 72.6) ** soil_loss.exponent(15.0) * soil_loss.steepness(15.0, "USLE")
    assert float(mixed) == pytest.approx(2.624, abs=1e-3)
    for family in ("RUSLE", "USLE"):
        assert float(length_slope(100 * FT, 15, family)) != pytest.approx(2.624, abs=0.05)


@pytest.mark.parametrize(
    ("grade_pct", "power"),
    [(0.5, 0.2), (1, 0.3), (3, 0.3), (3.2, 0.4), (4.5, 0.4), (4.7, 0.5), (5, 0.5), (30, 0.5)],
)
def test_powers_of_length_of_the_older_family(grade_pct: float, power: float) -> None:
    assert float(soil_loss.exponent(grade_pct, "USLE")) == power


def test_steepness_by_hand() -> None:
    # sin(atan 0.05) = 0.049938, sin(atan 0.20) = 0.196116
    assert float(soil_loss.steepness(5)) == pytest.approx(10.8 * 0.049938 + 0.03, abs=1e-5)
    assert float(soil_loss.steepness(20)) == pytest.approx(16.8 * 0.196116 - 0.50, abs=1e-5)
    assert float(soil_loss.steepness(-20)) == float(soil_loss.steepness(20))
    # The seam at 9 % all but closes: 0.9981 below, 1.0060 above.
    below, above = soil_loss.steepness([9 - 1e-9, 9])
    assert (below, above) == (pytest.approx(0.998, abs=1e-3), pytest.approx(1.006, abs=1e-3))


def test_slopes_under_15_ft_have_their_own_steepness() -> None:
    power = soil_loss.exponent(20.0)
    short = (14.9 / 72.6) ** power * (3 * 0.196116**0.8 + 0.56)
    long = (15.1 / 72.6) ** power * (16.8 * 0.196116 - 0.5)
    assert float(length_slope(14.9 * FT, 20)) == pytest.approx(float(short), rel=1e-5)
    assert float(length_slope(15.1 * FT, 20)) == pytest.approx(float(long), rel=1e-5)
    # Gentle ground: the published equation would make it worse for being short; ours does not.
    one = uneven_length_slope(np.array([4.0]), np.array([3.0]))
    assert one < float(length_slope(4.0, 3.0))
    assert one == pytest.approx(
        float((4.0 / soil_loss.UNIT_M) ** soil_loss.exponent(3.0) * soil_loss.steepness(3.0))
    )


def test_no_slope_is_shorter_than_nothing() -> None:
    with pytest.raises(InputError, match="0 m or more"):
        length_slope(-1, 10)
    assert uneven_length_slope(np.zeros(1), np.array([10.0])) == 0.0


@pytest.mark.parametrize("family", ["RUSLE", "USLE"])
@pytest.mark.parametrize("grade", [4.0, 15.0])
def test_an_even_slope_in_pieces_is_the_even_slope(family: Any, grade: float) -> None:
    runs = np.array([3.0, 20.0, 0.5, 17.0])
    whole = float(length_slope(runs.sum(), grade, family))
    assert uneven_length_slope(runs, np.full(4, grade), family) == pytest.approx(whole)


def test_a_slope_steep_at_its_foot_washes_more_than_one_steep_at_its_head() -> None:
    runs, grades = np.array([30.0, 30.0]), np.array([5.0, 20.0])
    convex = uneven_length_slope(runs, grades)
    concave = uneven_length_slope(runs, grades[::-1])
    assert convex > concave
    # By hand: S and m of each piece, lengths 0 to 30 and 30 to 60 m.
    m5, m20 = (float(m) for m in soil_loss.exponent(grades))
    s5, s20 = (float(s) for s in soil_loss.steepness(grades))
    u = 72.6 * FT
    by_hand = (
        s5 * 30 ** (m5 + 1) / u**m5 + s20 * (60 ** (m20 + 1) - 30 ** (m20 + 1)) / u**m20
    ) / 60
    assert convex == pytest.approx(by_hand)


pieces = st.lists(st.tuples(st.floats(0.2, 30), st.floats(0, 60)), min_size=1, max_size=12)


@settings(max_examples=60)
@given(pieces, st.floats(0, 1), st.sampled_from(["RUSLE", "USLE"]))
def test_letting_water_off_never_makes_a_slope_worse(
    slope: list[tuple[float, float]], share: float, family: Any
) -> None:
    runs, grades = (np.array(part) for part in zip(*slope, strict=True))
    cut = share * runs.sum()
    edges = np.concatenate([[0.0], np.cumsum(runs)])

    def part(lo: float, hi: float) -> float:
        size = np.clip(np.minimum(edges[1:], hi) - np.maximum(edges[:-1], lo), 0, None)
        kept = size > 0
        return uneven_length_slope(size[kept], grades[kept], family) * (hi - lo)

    total = float(edges[-1])
    assert part(0, cut) + part(cut, total) <= part(0, total) * (1 + 1e-9) + 1e-12


# --- trails on known ground --------------------------------------------------------------------


def bar(at_m: float, name: str = "M1") -> WaterBar:
    return WaterBar(f"B{at_m:g}", name, at_m, 0, 0, -10, 24.4, "left")


def judged(
    ground: Terrain,
    *bars: float,
    trail: Trail | None = None,
    given: AreaSettings = OURS,
    steps: tuple[TrailStep, ...] = (),
) -> Erosion:
    trail = trail or main_trail((200, 50), (200, 250))
    stations = {trail.trail_id: station_table(ground, trail.line, trail.width_m)}
    marks = [bar(s, trail.trail_id) for s in bars]
    return erosion_of(given, [trail], stations, marks, steps, NONE, 1e5)


TEN = terrain_of(lambda x, y: 100 + 0.10 * y)  # falls 10 % to the landing
ROOF = terrain_of(lambda x, y: 100 - 0.10 * abs(y - 150))  # crest at the trail's middle


def test_an_even_trail_by_the_formula() -> None:
    found = judged(TEN, 24.384, 48.768, 73.152, 97.536, 121.92, 146.304, 170.688, 195.072)
    (row,) = found.trails
    assert row.longest_run_m == pytest.approx(200)
    assert row.longest_barred_m == pytest.approx(80 * FT)
    assert row.ls_run == pytest.approx(float(length_slope(200, 10)), rel=1e-6)
    last = 200 - 8 * 24.384
    wanted = (8 * 24.384 * length_slope(80 * FT, 10) + last * length_slope(last, 10)) / 200
    assert row.ls_barred == pytest.approx(float(wanted), rel=1e-6)
    # Bare, default soil, bars 80 ft apart at 10 %: the mark itself.
    full = [s for s in found.stretches if s.to_m - s.from_m > 24]
    assert len(full) == 8
    assert [s.bare for s in full] == pytest.approx([1.0] * 8, rel=1e-6)
    assert {wash_class(s.bare) for s in full} == {"moderate"}
    assert [s.covered for s in full] == pytest.approx([0.10 / 0.45] * 8, rel=1e-6)
    assert row.open == pytest.approx(
        float(length_slope(200, 10) / length_slope(80 * FT, 10)), rel=1e-6
    )
    assert found.whole is not None
    assert found.whole.barred == pytest.approx(row.barred)
    assert found.family == "RUSLE"
    usle = sum(float(length_slope(s.to_m - s.from_m, 10, "USLE")) * (s.to_m - s.from_m)
               for s in found.stretches)  # fmt: skip
    assert found.other_ratio == pytest.approx(usle / 200 / row.ls_barred, rel=1e-6)


def test_a_crest_parts_the_water() -> None:
    (row,) = judged(ROOF).trails
    assert row.longest_run_m == pytest.approx(100, abs=2)
    # The 10 m baseline rounds the crest off, so a little less than two even slopes.
    assert row.ls_run == pytest.approx(float(length_slope(100, 10)), rel=0.02)


def test_water_runs_the_way_the_trail_falls() -> None:
    # Steep at the landing end: the foot of the slope where the trail falls to the landing.
    foot = terrain_of(lambda x, y: 100 + np.where(y < 150, 0.20 * (y - 150), 0.05 * (y - 150)))
    toward = main_trail((200, 50), (200, 250))
    away = main_trail((200, 250), (200, 50))
    assert judged(foot, trail=toward).trails[0].ls_run == pytest.approx(
        judged(foot, trail=away).trails[0].ls_run
    )
    head = terrain_of(lambda x, y: 100 + np.where(y < 150, 0.05 * (y - 150), 0.20 * (y - 150)))
    assert judged(foot).trails[0].ls_run > 1.2 * judged(head).trails[0].ls_run


UNEVEN = terrain_of(lambda x, y: 100 + 0.12 * y + 1.5 * np.sin(y / 9) + 0.04 * x)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.5, 199.5), max_size=8), st.floats(0.5, 199.5))
def test_one_more_bar_never_raises_anything(some: list[float], more: float) -> None:
    before, after = judged(UNEVEN, *some), judged(UNEVEN, *some, more)
    assert after.trails[0].barred <= before.trails[0].barred * (1 + 1e-9)
    assert after.trails[0].covered <= before.trails[0].covered * (1 + 1e-9)
    assert after.trails[0].open == before.trails[0].open
    assert before.trails[0].barred <= before.trails[0].open * (1 + 1e-9)


def test_closer_bars_wash_less() -> None:
    said = [judged(TEN, *np.arange(gap, 199, gap)).trails[0].barred for gap in (60, 40, 20, 10, 5)]
    assert said == sorted(said, reverse=True)
    assert said[0] > 2 * said[-1]


def test_soil_and_cover_move_the_index_in_proportion() -> None:
    plain = judged(TEN, 50, 100, 150)
    other = settings_of(soil={"k_factor": 0.16, "cover": {"bare": 0.9, "closed": 0.05}})
    moved = judged(TEN, 50, 100, 150, given=other)
    assert moved.trails[0].open == pytest.approx(plain.trails[0].open)  # half of K, twice C
    assert moved.trails[0].covered == pytest.approx(plain.trails[0].covered / 4)
    assert plain.k_default and not moved.k_default


def test_the_default_soil_is_the_setting_s() -> None:
    assert SoilTable().k_factor == K_DEFAULT


def test_a_trail_off_the_elevations_is_named_and_not_judged() -> None:
    trail = main_trail((200, 50), (200, 250))
    holed = station_table(TEN, trail.line, trail.width_m)
    z = holed.z.copy()
    z[40] = math.nan
    broken = Stations(
        holed.at_m, holed.x, holed.y, holed.heading_rad, z, holed.grade_pct, holed.cross_pct,
        holed.tilt_left,
    )  # fmt: skip
    found = erosion_of(OURS, [trail], {"M1": broken}, [], [], NONE, 1e5)
    assert (found.whole, found.trails, found.unjudged) == (None, (), ("M1",))
    (said,) = erosion_findings(OURS, found)
    assert (said.code, said.level) == ("soil_wash_unknown", "unknown")
    assert "M1" in said.message


# --- findings ----------------------------------------------------------------------------------

STEEP = terrain_of(lambda x, y: 100 + 0.18 * y)


def test_the_worst_stretches_are_told_and_what_to_do() -> None:
    found = judged(STEEP, 40, 75, 100, 130, 170)
    said = [f for f in erosion_findings(OURS, found) if f.code == "soil_wash"]
    assert [f.level for f in said] == ["caution"] * 3
    assert (said[0].from_m, said[0].to_m) in {(0, 40), (130, 170)}
    assert said[0].value is not None
    assert said[0].value >= (said[1].value or 0)
    assert "cover it with tops and branches" in said[0].message
    rest = len(worst_stretches(found)) - 3
    assert rest > 0
    assert f"{rest} more like" in said[-1].message
    assert not any("tonne" in f.message or "ton " in f.message for f in said)
    assert not any(f.confirmed for f in said)
    # Without any bar even cover does not bring it down.
    (one,) = [f for f in erosion_findings(OURS, judged(STEEP)) if f.code == "soil_wash"]
    assert "even covered it stays high" in one.message


def test_the_default_soil_is_never_called_yours() -> None:
    (said,) = [f for f in erosion_findings(OURS, judged(TEN, 50)) if f.code == "soil_k_default"]
    assert said.level == "unknown"
    assert "0.32 is the default, not your soil" in said.message
    own = settings_of(soil={"k_factor": 0.28})
    codes = {f.code for f in erosion_findings(own, judged(TEN, 50, given=own))}
    assert "soil_k_default" not in codes


def test_gentle_trails_are_told_as_such() -> None:
    flat = terrain_of(lambda x, y: 100 + 0.03 * y)
    (said,) = [f for f in erosion_findings(OURS, judged(flat, 70, 140)) if f.code == "soil_wash"]
    assert said.level == "ok"
    assert "safe" not in said.message


# --- compaction --------------------------------------------------------------------------------


def step(loads: int, grade: float = 0, cross: float = 0, from_m: float = 0) -> TrailStep:
    shape = line((200, 50 + from_m), (200, 60 + from_m))
    return TrailStep("M1", from_m, from_m + 10, grade, cross, loads=loads, line=shape)


@pytest.mark.parametrize(
    ("made", "condition", "rate"),
    [
        (step(1), "dry", 0.25),
        (step(1, grade=-9.9, cross=9.9), "dry", 0.25),
        (step(1, grade=-10), "dry", 0.50),
        (step(1, cross=10), "dry", 0.50),
        (step(1), "wet", 0.50),
        (step(1), "frozen", 0.25),
        (step(1, from_m=100), "dry", 0.50),  # in the wet hollow
    ],
)
def test_rates(made: TrailStep, condition: str, rate: float) -> None:
    hollow = box(*at(0, 145), *at(400, 400))
    assert rate_of(made, settings_of(ground={"condition": condition}), hollow) == rate


def test_compaction_of_a_trail_by_hand() -> None:
    trail = Trail("M1", "main", "L1", LineString([at(200, 50), at(200, 80)]), 4.0, "routed")
    steps = [step(12), step(6, grade=15, from_m=10), step(0, from_m=20)]
    (row,), whole = compaction_of(OURS, [trail], steps, NONE)
    expected = 1 - math.exp(-3)  # both: 12 on the flat at 0.25, 6 on a slope at 0.50
    assert row.share == pytest.approx(2 * expected / 3)
    assert (row.loads_mean, row.loads_most) == (pytest.approx(6), 12)
    assert (row.area_m2, row.done_m2) == (pytest.approx(120), pytest.approx(80))
    assert replace(whole, trail_id="M1") == row
    (none,), _ = compaction_of(OURS, [trail], [], NONE)
    assert (none.share, none.area_m2) == (0.0, 0.0)


def test_driving_few_trails_saves_ground() -> None:
    trail = Trail("M1", "main", "L1", LineString([at(200, 50), at(200, 80)]), 4.0, "routed")
    found = concentrated(OURS, [trail], [step(24), step(30, from_m=10)], NONE, 1e4)
    # Half of 24 and of 30 loads still press it wholly: twice the trail, twice the ground.
    assert found.planned_m2 == pytest.approx(80)
    assert found.spread_m2 == pytest.approx(160)
    # 12 loads on the flat: 95 % as planned; 6 each, spread, do not come so far ...
    few = concentrated(OURS, [trail], [step(12)], NONE, 1e4)
    assert (few.planned_m2, few.spread_m2) == (pytest.approx(40), 0.0)
    # ... and still press more ground all together.
    assert few.planned_whole_m2 == pytest.approx(40 * (1 - math.exp(-3)))
    assert few.spread_whole_m2 == pytest.approx(80 * (1 - math.exp(-1.5)))


@settings(max_examples=40)
@given(st.lists(st.integers(0, 60), min_size=1, max_size=8), st.floats(0.05, 1.0))
def test_spreading_loads_out_never_presses_less_ground(loads: list[int], rate: float) -> None:
    trail = main_trail((200, 50), (200, 250))
    given_rates = settings_of(soil={"compaction": {"flat": rate, "sloping_or_wet": 2 * rate}})
    steps = [step(n, from_m=10.0 * i) for i, n in enumerate(loads)]
    found = concentrated(given_rates, [trail], steps, NONE, 1e4)
    assert found.spread_whole_m2 >= found.planned_whole_m2 - 1e-9
