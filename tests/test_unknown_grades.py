"""A main trail over a hole in the elevations: the plan is made, and says what it does not know."""

import json
import math
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from made_plan import layout_only
from small_areas import wood

from layout.compaction import rate_of
from layout.outputs import write_plan
from layout.plan import Plan
from layout.records import TrailStep


@pytest.fixture(scope="module")
def plan() -> Plan:
    area = wood()
    main = area.main_trail
    assert main is not None
    middle = main.interpolate(0.5, normalized=True)
    dem = area.dem
    row, col = np.indices(dem.z.shape)
    x = dem.west_m + (col + 0.5) * dem.cell_m
    y = dem.north_m - (row + 0.5) * dem.cell_m
    near = np.hypot(x - middle.x, y - middle.y) < 14
    return layout_only(replace(area, dem=replace(dem, z=np.where(near, np.nan, dem.z))))


def test_steps_without_elevations_have_no_grade(plan: Plan) -> None:
    lost = [s for s in plan.steps if math.isnan(s.grade_pct)]
    assert lost and len(lost) < len(plan.steps)
    assert {(s.payload_kg, s.payload_by, s.tip_margin_deg) for s in lost} == {(None, "", None)}
    assert all(s.trail_id == plan.trails[0].trail_id for s in lost)


def test_no_drain_is_laid_there_and_the_plan_says_where(plan: Plan) -> None:
    main = plan.trails[0].trail_id
    told = {f.code: f for f in plan.findings if f.code in ("bar_gap", "terrain_gap")}
    assert set(told) == {"bar_gap", "terrain_gap"}
    gap = told["bar_gap"]
    assert (gap.level, gap.subject_id) == ("caution", main)
    assert gap.from_m is not None and gap.to_m is not None and gap.to_m - gap.from_m > 15
    at = [bar.at_m for bar in plan.bars if bar.trail_id == main]
    assert at and not [a for a in at if gap.from_m < a < gap.to_m]
    assert all(math.isfinite(bar.grade_pct) for bar in plan.bars)
    assert plan.erosion is not None and plan.erosion.unjudged == (main,)


@pytest.mark.slow  # all the maps are drawn
def test_what_is_not_known_is_written_as_nothing(plan: Plan, tmp_path: Path) -> None:
    write_plan(plan, tmp_path / "out")
    rows = json.loads((tmp_path / "out" / "plan.json").read_text(encoding="utf-8"))["steps"]
    lost = sum(math.isnan(s.grade_pct) for s in plan.steps)
    assert sum(row["grade_pct"] is None for row in rows) == lost > 0
    layer = gpd.read_file(tmp_path / "out" / "plan.gpkg", layer="trail_steps")
    assert int(layer["grade_pct"].isna().sum()) == lost


def test_a_slope_not_known_is_pressed_as_a_steep_one(plan: Plan) -> None:
    settings, rates = plan.area.settings, plan.area.settings.soil.compaction
    nothing = plan.area.stand.buffer(-1e6)
    step = TrailStep("M", 0.0, 10.0, math.nan, math.nan)
    assert rate_of(step, settings, nothing) == rates.sloping_or_wet
    assert rate_of(replace(step, grade_pct=1.0, cross_pct=1.0), settings, nothing) == rates.flat
