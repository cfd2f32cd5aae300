"""Benches against hand geometry, against numbers added up, and on a whole plan."""

import math
import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import plan_checker
import plan_fixture
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_ground import (
    area_of,
    at,
    landing_of,
    line,
    main_trail,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from made_plan import layout_only
from shapely.geometry import box

from layout import benching, fairline, ground, soil, terrain
from layout.area import read_area
from layout.checks import check_layout
from layout.geometry import HEADING_RAD
from layout.outputs import closing, rows
from layout.outputs.map_marks import bench_lines
from layout.plan import Plan
from layout.settings import limits_in_force
from layout.site import ExistingTrail
from layout.speech import speak_volume

SAMPLE = Path(__file__).resolve().parents[1] / "sample_area"
SIDE_30 = settings_of(trails={"bench_up_to": "30 %"})


def side_hill(cross: float, along: float = 0.03) -> terrain.Terrain:
    """Ground that falls evenly to the west, and gently to the south."""
    return terrain_of(lambda x, y: 100 + cross * x + along * y)


# --- the section ------------------------------------------------------------------------------


def test_full_bench_by_hand() -> None:
    # 40 %, 3 m: foot of the bank 1.2 m under the ground; 1:1 meets it 2 m in, 2 m up
    one = benching.section(40.0, 3.0)
    assert float(one.uphill_m) == pytest.approx(2.0)
    assert float(one.cut_height_m) == pytest.approx(2.0)
    assert float(one.cut_m2) == pytest.approx(0.5 * 3.0 * 2.0)
    assert (float(one.fill_m2), float(one.downhill_m)) == (0.0, 0.0)
    assert float(one.width_m) == pytest.approx(5.0)


def test_balanced_bench_by_hand() -> None:
    # 25 %: bank 1 - 0.25 = 0.75, fill 1 - 0.375 = 0.625; a : b = sqrt(1.2)
    one = benching.section(25.0, 3.0)
    a = 3.0 * math.sqrt(1.2) / (1 + math.sqrt(1.2))
    b = 3.0 - a
    assert float(one.cut_height_m) == pytest.approx(0.25 * a / 0.75)
    assert float(one.cut_m2) == pytest.approx(0.25 * a * a / 1.5)
    assert float(one.downhill_m) == pytest.approx(0.25 * b * 1.5 / 0.625)
    assert float(one.fill_m2) == pytest.approx(float(one.cut_m2))


def test_level_ground_takes_nothing_and_a_cliff_takes_no_bench() -> None:
    flat = benching.section(0.0, 3.0)
    assert (float(flat.cut_m2), float(flat.fill_m2), float(flat.width_m)) == (0.0, 0.0, 3.0)
    cliff = benching.section(np.array([100.0, 150.0]), 3.0)
    assert np.isinf(cliff.cut_height_m).all() and np.isinf(cliff.width_m).all()
    assert math.isnan(float(benching.section(math.nan, 3.0).cut_m2))
    with pytest.raises(ValueError, match="above 0"):
        benching.section(20.0, 0.0)


def test_fill_that_never_meets_the_ground_makes_a_full_bench() -> None:
    # fill 1.5:1 runs beside a slope of 66.7 %: full whatever the threshold says
    steep = benching.section(70.0, 3.0, full_from_pct=90.0)
    assert float(steep.fill_m2) == 0.0
    assert float(steep.cut_height_m) == pytest.approx(0.7 * 3.0 / 0.3)
    near = benching.section(66.0, 3.0, full_from_pct=90.0)
    assert float(near.downhill_m) > 5.0 and float(near.fill_m2) > 0.0


@given(
    cross=st.floats(0.5, 60.0),
    width=st.floats(2.0, 5.0),
    cut=st.floats(0.5, 1.5),
    fill=st.floats(1.2, 2.0),
)
def test_section_equals_areas_added_up(cross: float, width: float, cut: float, fill: float) -> None:
    s = cross / 100
    made = benching.section(cross, width, cut_slope=cut, fill_slope=fill)
    if not math.isfinite(float(made.width_m)):
        assert s * cut >= 1
        return
    up, down = float(made.uphill_m), float(made.downhill_m)
    whole = s >= 0.3 or s * fill >= 1
    # x runs inward from the line where bench and ground meet; the ground is s x above the bench
    a = width if whole else _crossing(s, width, cut, fill)
    x = np.linspace(-(width - a) - down - 0.5, a + up + 0.5, 200_001)
    hill = s * x
    bank = np.where(x > a, (x - a) / cut, 0.0)
    toe = np.where(x < -(width - a), (x + (width - a)) / fill, 0.0)
    floor = bank + (0.0 if whole else 1.0) * toe
    cut_area = np.trapezoid(np.where(x >= 0, np.maximum(hill - floor, 0.0), 0.0), x)
    fill_area = (
        0.0 if whole else np.trapezoid(np.where(x <= 0, np.maximum(floor - hill, 0.0), 0.0), x)
    )
    scale = max(cut_area, 1e-3)
    assert float(made.cut_m2) == pytest.approx(cut_area, abs=2e-3 * scale + 1e-4)
    assert float(made.fill_m2) == pytest.approx(fill_area, abs=2e-3 * scale + 1e-4)
    if not whole:
        assert fill_area == pytest.approx(cut_area, abs=4e-3 * scale + 1e-4)
    assert float(made.width_m) == pytest.approx(width + up + down)
    assert up == pytest.approx(float(made.cut_height_m) * cut)


def _crossing(s: float, width: float, cut: float, fill: float) -> float:
    """Find by halving where cut and fill hold the same."""
    lo, hi = 0.0, width
    for _ in range(60):
        a = 0.5 * (lo + hi)
        more = a * a / (1 - s * cut) > (width - a) ** 2 / (1 - s * fill)
        lo, hi = (lo, a) if more else (a, hi)
    return lo


def test_a_second_section_found_by_trial_agrees() -> None:
    for cross in (20.5, 25.0, 29.5, 30.0, 42.0):
        one = benching.section(cross, 3.05)
        up, down, high = plan_checker.profile(cross / 100, 3.05)
        assert float(one.uphill_m) == pytest.approx(up, abs=0.01)
        assert float(one.downhill_m) == pytest.approx(down, abs=0.01)
        assert float(one.cut_height_m) == pytest.approx(high, abs=0.01)


def test_volumes_are_said_to_two_figures() -> None:
    assert speak_volume(0.0, "metric") == "0 m³"
    assert speak_volume(1234.0, "us") == "1,600 cu yd"


# --- along a trail ----------------------------------------------------------------------------


def bench_on(side: terrain.Terrain, trail: Any, **fields: Any) -> benching.Bench | None:
    area = area_of(side, fields.pop("settings", SIDE_30), **fields)
    stations = terrain.station_table(side, trail.line, trail.width_m)
    return benching.of_trail(area, limits_in_force(area.settings), trail, stations)


def test_bench_along_an_even_side_hill() -> None:
    side = side_hill(0.25)
    trail = main_trail((200, 50), (200, 250))
    bench = bench_on(side, trail)
    assert bench is not None
    one = benching.section(25.0, trail.width_m)
    cut, fill = bench.volume_m3(0.0, 200.0)
    assert bench.length_m == pytest.approx(200.0)
    assert cut == pytest.approx(200 * float(one.cut_m2), rel=1e-3)
    assert fill == pytest.approx(cut)
    parts = [bench.volume_m3(lo, lo + 8.0)[0] for lo in np.arange(0, 200, 8.0)]
    assert sum(parts) == pytest.approx(cut)
    assert bench.width_m(10, 20) == pytest.approx(float(one.width_m), rel=1e-3)
    # the bank lies uphill, to the east; the toe west
    west, _, east, _ = bench.shape.bounds
    assert east - at(200, 0)[0] == pytest.approx(trail.width_m / 2 + float(one.uphill_m), rel=1e-3)
    assert at(200, 0)[0] - west == pytest.approx(
        trail.width_m / 2 + float(one.downhill_m), rel=1e-3
    )
    assert bench.shape.area == pytest.approx(200 * float(one.width_m), rel=1e-3)
    assert benching.stretches(trail.line, bench)[0].length == pytest.approx(200.0)


def test_nothing_is_dug_where_none_is_allowed_or_needed() -> None:
    trail = main_trail((200, 50), (200, 250))
    assert bench_on(side_hill(0.25), trail, settings=settings_of()) is None
    assert bench_on(side_hill(0.19), trail) is None
    assert bench_on(side_hill(0.31), trail) is None
    assert bench_on(side_hill(0.25), replace(trail, benched=True)) is None
    old = ExistingTrail("old", line((201, 40), (201, 150)), benched=True)
    half = bench_on(side_hill(0.25), trail, existing=(old,))
    assert half is not None and half.length_m == pytest.approx(98.5, abs=3)


def test_wet_ground_needs_a_bench_sooner() -> None:
    wet = settings_of(trails={"bench_up_to": "30 %"}, ground={"condition": "wet"})
    trail = main_trail((200, 50), (200, 250))
    assert bench_on(side_hill(0.17), trail) is None
    assert bench_on(side_hill(0.17), trail, settings=wet) is not None


# --- checks -----------------------------------------------------------------------------------


def judged(side: terrain.Terrain, trail: Any, settings: Any = SIDE_30, *shapes: Any) -> Any:
    return check_layout(
        area_of(side, settings), side, strips_of(side, *shapes), landing_of(200, 38), [trail]
    )


def test_a_bench_is_one_caution_a_run_with_its_figures() -> None:
    trail = main_trail((200, 50), (200, 250))
    found = [f for f in judged(side_hill(0.25), trail) if f.code == "bench_needed"]
    assert len(found) == 1 and found[0].level == "caution" and not found[0].confirmed
    assert (found[0].from_m, found[0].to_m) == (pytest.approx(0), pytest.approx(200))
    assert "needs a machine that can dig, a person who has built one, and local approval" in (
        found[0].message
    )
    cut = 200 * float(benching.section(25.0, trail.width_m).cut_m2)
    assert f"{speak_volume(cut, 'us')} cut" in found[0].message


def test_a_high_bank_is_a_stop() -> None:
    # 36 % under 3.66 m: 0.36 * 3.6576 / 0.64 = 2.06 m
    settings = settings_of(trails={"bench_up_to": "40 %"})
    trail = main_trail((200, 50), (200, 250))
    (found,) = [f for f in judged(side_hill(0.36), trail, settings) if f.code == "bench_cut_high"]
    assert found.level == "stop" and found.value == pytest.approx(2.057, abs=0.01)
    faults = plan_checker.faults(area_of(side_hill(0.36), settings), None, [trail])
    assert "bench_cut" in {f.kind for f in faults}


def test_no_bench_at_all_still_stops() -> None:
    trail = main_trail((200, 50), (200, 250))
    (found,) = [
        f
        for f in judged(side_hill(0.25), trail, settings_of())
        if f.code == "cross_slope" and f.level == "stop"
    ]
    assert "allowed without a bench" in found.message
    (over,) = [f for f in judged(side_hill(0.33), trail) if f.level == "stop"]
    assert over.code == "cross_slope" and over.limit == 30.0


@pytest.mark.parametrize("east", [True, False])
def test_bank_and_toe_must_stay_out_of_strips(east: bool) -> None:
    side = side_hill(0.29)
    trail = main_trail((200, 50), (200, 250))
    one = benching.section(29.0, trail.width_m)
    reach = trail.width_m / 2 + float(one.uphill_m if east else one.downhill_m)
    for gap, hit in ((-0.2, True), (0.2, False)):
        near = reach + gap
        strip = (
            box(*at(200 + near, 100), *at(230, 140))
            if east
            else box(*at(170, 100), *at(200 - near, 140))
        )
        found = {f.code for f in judged(side, trail, SIDE_30, strip) if f.level == "stop"}
        assert ("strip_entered" in found) is hit
        second = {
            f.kind
            for f in plan_checker.faults(area_of(side, SIDE_30), None, [trail], strips=[strip])
        }
        assert ("strip" in second) is hit


# --- router and judge -------------------------------------------------------------------------


def tables(
    side: terrain.Terrain, settings: Any, *shapes: Any
) -> tuple[ground.Ground, fairline.Judge]:
    area = area_of(side, settings)
    limits = limits_in_force(settings)
    opened = ground.open_area(area, strips_of(side, *shapes))
    width = settings.trails.width_spur_m
    return (
        ground.build(area, side, opened, limits, width_m=width, weight=1.0),
        fairline.judge_for(area, side, limits, opened, width_m=width, weight=1.0),
    )


def test_zero_changes_nothing() -> None:
    side = terrain_of(lambda x, y: 100 + 0.001 * x**2 + 0.03 * y)  # 0 to 80 % across
    plain, zero = (
        tables(side, settings)
        for settings in (settings_of(), settings_of(trails={"bench_up_to": "0 %"}))
    )
    assert np.array_equal(plain[0].closed, zero[0].closed)
    assert np.array_equal(plain[0].cost, zero[0].cost)
    dug, _ = tables(side, SIDE_30)
    # what was open stays as open; more is open, and only beyond the unbenched limit
    assert (dug.closed <= plain[0].closed).all() and (dug.closed < plain[0].closed).any()


def test_table_and_judge_price_a_bench_by_its_width() -> None:
    side = side_hill(0.25, 0.0)
    table, judge = tables(side, SIDE_30)
    north = int(np.argmin(np.abs(HEADING_RAD - math.pi / 2)))
    row, col = table.cell(np.array([at(200, 200)[0]]), np.array([at(200, 200)[1]]))
    per_m = 1.5 * float(benching.section(25.0, judge.width_m).width_m)
    assert table.closed[north, row[0], col[0]] == ground.FREE
    assert table.cost[north, row[0], col[0]] == pytest.approx(per_m, rel=1e-3)
    path = np.array([at(200, 100), at(200, 150)])
    found = fairline.measure(judge, path)
    assert not found.broken.any() and found.dug.all()
    assert found.price_m2[-1] == pytest.approx(50 * per_m, rel=1e-3)
    none = fairline.measure(tables(side, settings_of())[1], path)
    assert none.broken.all() and not none.dug.any()


def test_the_bank_needs_room() -> None:
    side = side_hill(0.29, 0.0)
    half = SIDE_30.trails.width_spur_m / 2
    reach = half + float(benching.section(29.0, 2 * half).downhill_m)
    path = np.array([at(200, 100), at(200, 150)])
    for gap, broken in ((reach - 0.3, True), (reach + 0.3, False)):
        _, judge = tables(side, SIDE_30, box(*at(180, 50), *at(200 - gap, 300)))
        assert fairline.measure(judge, path).broken.any() == broken


def test_a_bank_too_high_is_closed() -> None:
    settings = settings_of(trails={"bench_up_to": "60 %"})
    table, judge = tables(side_hill(0.45, 0.0), settings)
    north = int(np.argmin(np.abs(HEADING_RAD - math.pi / 2)))
    assert (table.closed[north] == ground.CLOSED).all()
    assert fairline.measure(judge, np.array([at(200, 100), at(200, 150)])).broken.all()


# --- ground and stems -------------------------------------------------------------------------


def test_soil_counts_the_banks_once() -> None:
    side = side_hill(0.25)
    trail = main_trail((200, 50), (200, 250))
    bench = bench_on(side, trail)
    assert bench is not None
    area = area_of(side, SIDE_30)
    plain = soil.summarise(area, None, [trail], [], [], [])
    found = soil.summarise(area, None, [trail], [], [], [], {"M1": bench})
    one = benching.section(25.0, trail.width_m)
    assert found.bench_m2 == pytest.approx(200 * float(one.width_m - trail.width_m), rel=5e-3)
    assert found.main_m2 == plain.main_m2 and plain.bench_m2 == 0.0
    assert found.share_pct - plain.share_pct == pytest.approx(100 * found.bench_m2 / found.stand_m2)
    assert "Bench cut and fill are in it" in soil.share_finding(area, found).message
    assert "bench" not in soil.share_finding(area, plain).message.lower()


def test_stems_in_the_bank_come_out() -> None:
    side = side_hill(0.25)
    trail = main_trail((200, 50), (200, 250))
    one = benching.section(25.0, trail.width_m)
    inside = 200 + trail.width_m / 2 + 0.8 * float(one.uphill_m)
    trees = trees_of([{"x": inside, "y": 150.0}, {"x": 206.0, "y": 150.0}])
    for settings, count in ((SIDE_30, 1), (settings_of(), 0)):
        settings = settings.model_copy(
            update={"stand": settings.stand.model_copy(update={"position_error_m": 0.5})}
        )
        area = area_of(side, settings, trees=trees)
        found = check_layout(area, side, strips_of(side), None, [trail])
        said = [f for f in found if f.code == "stems_in_trail" and f.level == "caution"]
        assert [f.value for f in said] == [1.0] * count


def test_a_spur_pays_for_the_stems_its_bank_takes() -> None:
    side = side_hill(0.25, 0.0)
    half = SIDE_30.trails.width_spur_m / 2
    up = float(benching.section(25.0, 2 * half).uphill_m)
    path = np.array([at(200, 100), at(200, 150)])
    prices = []
    for beyond in (0.5 * up, up + 1.0):
        settings = SIDE_30.model_copy(
            update={"stand": SIDE_30.stand.model_copy(update={"position_error_m": 0.5})}
        )
        trees = trees_of([{"x": 200 + half + 0.3 + beyond, "y": 125.0}])
        area = area_of(side, settings, trees=trees)
        limits = limits_in_force(settings)
        opened = ground.open_area(area, strips_of(side))
        judge = fairline.judge_for(area, side, limits, opened, width_m=2 * half, weight=1.0)
        prices.append(fairline.measure(judge, path).price_m2[-1])
    assert prices[0] - prices[1] == pytest.approx(settings.objective.stem_removed_m2)


# --- what is written --------------------------------------------------------------------------


def test_outputs_tell_and_draw_benches() -> None:
    plain = plan_fixture.plan()
    trail = plain.trails[0]
    stations = plain.stations[trail.trail_id]
    steep = replace(stations, cross_pct=np.where(stations.at_m < 30, 25.0, 5.0))
    settings = plain.area.settings.model_copy(update={"trails": SIDE_30.trails})
    area = replace(plain.area, settings=settings)
    bench = benching.of_trail(area, limits_in_force(settings), trail, steep)
    assert bench is not None
    plan = replace(plain, benches={trail.trail_id: bench})
    assert "New bench to dig: " in closing(plan) and "New bench" not in closing(plain)
    (drawn,) = bench_lines(plan)
    assert drawn.length == pytest.approx(bench.length_m) and not bench_lines(plain)
    area_m2 = [rows.of_layer(p, "trails")[0].values["area_m2"] for p in (plan, plain)]
    assert area_m2[0] == pytest.approx(benching.footprint(trail, bench).area, abs=0.06)
    assert area_m2[0] > area_m2[1]


# --- a whole plan -----------------------------------------------------------------------------


def planned(folder: Path, bench_up_to: str, cross: str = "14 %") -> Plan:
    """Plan the sample; its own unbenched limit of 20 % leaves little that a bench would open."""
    for file in SAMPLE.iterdir():
        if file.is_file():
            shutil.copy(file, folder / file.name)
    text = (folder / "area.toml").read_text(encoding="utf-8")
    text, count = re.subn(r'bench_up_to = "[^"]*"', f'bench_up_to = "{bench_up_to}"', text)
    assert count == 1
    for key, value in (("cross_slope", cross), ("cross_slope_caution", "10 %")):
        text, count = re.subn(rf"(?m)^{key} = .*$", f'{key} = "{value}"', text)
        assert count == 1
    (folder / "area.toml").write_text(text, encoding="utf-8")
    return layout_only(read_area(folder))


@pytest.fixture(scope="module")
def benched(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("benched"), "30 %")


@pytest.fixture(scope="module")
def unbenched(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return planned(tmp_path_factory.mktemp("unbenched"), "0 %")


@pytest.mark.slow
def test_sample_with_benching_serves_at_least_as_many(benched: Plan, unbenched: Plan) -> None:
    assert not unbenched.benches and unbenched.soil.bench_m2 == 0.0
    assert [f.message for f in benched.findings if f.level == "stop"] == []
    assert plan_checker.of_plan(benched) == []
    served = [sum(t.status == "served" for t in p.trees) for p in (benched, unbenched)]
    assert served[0] >= served[1]
    assert benched.benches and any(f.code == "bench_needed" for f in benched.findings)


@pytest.mark.slow
def test_sample_as_it_is_serves_at_least_as_many(tmp_path: Path) -> None:
    served = []
    for bench_up_to in ("0 %", "30 %"):
        folder = tmp_path / bench_up_to[0]
        folder.mkdir()
        plan = planned(folder, bench_up_to, "20 %")
        served.append(sum(t.status == "served" for t in plan.trees))
        assert [f.message for f in plan.findings if f.level == "stop"] == []
    assert served[1] >= served[0]


@pytest.mark.slow
def test_sample_cut_is_what_the_ground_holds(benched: Plan) -> None:
    """Sections of the elevation grid under each bench, added up, within 15 % in all.

    The bench stands level where the plan puts it: its own height is the ground's at
    the line where cut and fill part. The grid's ground is not even across, so single
    sections differ by more; together they come out.
    """
    stated = dug = 0.0
    for trail in benched.trails:
        bench = benched.benches.get(trail.trail_id)
        if bench is None:
            continue
        stated += sum(s.cut_m3 for s in benched.steps if s.trail_id == trail.trail_id)
        stations = benched.stations[trail.trail_id]
        span = np.diff(bench.edges_m)
        for i in np.flatnonzero(bench.dug):
            dug += span[i] * _cut_of_ground(benched.terrain.smooth, stations, i, trail.width_m)
    assert stated > 0
    assert dug == pytest.approx(stated, rel=0.15)
    assert sum(s.fill_m3 for s in benched.steps) <= stated * (1 + 1e-9)


def _cut_of_ground(dem: Any, s: Any, i: int, width: float) -> float:
    """Cut of a level bench into the ground's own section, by trial and sums."""
    uphill = 1.0 if s.tilt_left[i] >= 0 else -1.0
    nx, ny = -math.sin(s.heading_rad[i]) * uphill, math.cos(s.heading_rad[i]) * uphill
    x = np.arange(-8.0, 8.0, 0.02)  # + uphill of the centre line
    hill = plan_height(dem, s.x[i] + x * nx, s.y[i] + x * ny)

    def areas(level: float) -> tuple[float, float]:
        bank = level + np.maximum(x - width / 2, 0.0)
        toe = level - np.maximum(-x - width / 2, 0.0) / 1.5
        over = np.where(x > 0, bank, level)
        under = np.where(x < 0, toe, level)
        # only out to where the surfaces first meet
        cut = hill - np.where(x > width / 2, over, level)
        past = np.cumsum((x > width / 2) & (cut <= 0)) > 0
        fill = np.where(x < -width / 2, under, level) - hill
        gone = np.cumsum(((x < -width / 2) & (fill <= 0))[::-1])[::-1] > 0
        inside = ~past & ~gone & (x >= -width / 2)
        laid = ~past & ~gone & (x <= width / 2)
        return (
            0.02 * float(np.maximum(cut, 0.0)[inside].sum()),
            0.02 * float(np.maximum(fill, 0.0)[laid].sum()),
        )

    if s.cross_pct[i] >= 30.0:
        return areas(float(np.interp(-width / 2, x, hill)))[0]
    low, high = hill.min(), hill.max()
    for _ in range(40):
        level = 0.5 * (low + high)
        cut, fill = areas(level)
        low, high = (level, high) if cut > fill else (low, level)
    return areas(0.5 * (low + high))[0]


def plan_height(dem: Any, x: Any, y: Any) -> Any:
    """Read elevations between cell centres."""
    from scipy import ndimage

    col, row = (x - dem.west_m) / dem.cell_m - 0.5, (dem.north_m - y) / dem.cell_m - 0.5
    return ndimage.map_coordinates(np.asarray(dem.z, float), [row, col], order=1, mode="nearest")


@pytest.mark.slow
def test_sample_records_add_up(benched: Plan) -> None:
    length, cut, fill = benching.totals(benched.benches)
    assert sum(s.cut_m3 for s in benched.steps) == pytest.approx(cut)
    assert sum(s.fill_m3 for s in benched.steps) == pytest.approx(fill)
    assert 0 < length < sum(t.line.length for t in benched.trails)
    wide = {s.trail_id for s in benched.steps if s.bench_width_m > 0}
    assert wide == set(benched.benches)
    assert all((s.bench_width_m > 0) == (s.cut_m3 > 0) for s in benched.steps)
    assert benched.soil.bench_m2 > 0
