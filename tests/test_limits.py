"""What limits the user, on ground parted by a known bank."""

import json
import math
import re
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_ground import (
    area_of,
    at,
    line,
    main_trail,
    settings_of,
    strips_of,
    terrain_of,
    trees_of,
)
from shapely.geometry import MultiPolygon, box

import layout
from layout.limit_words import said
from layout.limits import what_limits
from layout.option_records import LimitRow
from layout.settings import limits_in_force
from layout.site import Area, WaterFeature
from layout.steep_ground import steep_share
from layout.terrain import Terrain

STAND = MultiPolygon([box(*at(100, 60), *at(300, 300))])
MAIN = main_trail((200, 80), (200, 150))
CEILING = {"cross": 20.0, "favourable": 25.0, "adverse": 15.0}


def banked(slope_pct: float, height_m: float = 6.0) -> Terrain:
    """Give gentle ground with a bank across it at y = 200, of one slope all along."""
    run = 100 * height_m / slope_pct

    def height(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        return 100 + 0.02 * y + height_m * np.clip((y - 200) / run, 0, 1)

    return terrain_of(height)


def job(terrain: Terrain, trees: list[tuple[float, float]], **tables: Any) -> Area:
    return area_of(
        terrain,
        settings_of(**tables),
        trees=trees_of([{"x": x, "y": y, "marked": True} for x, y in trees]),
        stand=STAND,
        landing=box(*at(190, 70), *at(210, 82)),
        main_trail=MAIN.line,
    )


def table(area: Area, terrain: Terrain, **kept: Any) -> dict[str, LimitRow]:
    rows = what_limits(area, terrain, strips_of(terrain), (MAIN,), **kept)
    return {row.key: row for row in rows}


NEAR = [(180.0, 120.0), (220.0, 130.0)]
WALL = banked(60.0)  # 10 m wide, no limit lets a trail up
FAR_OVER = [(170.0, 265.0), (200.0, 270.0), (230.0, 265.0)]  # 55 m beyond the bank and more


def test_all_served_needs_no_changes() -> None:
    rows = table(job(WALL, NEAR), WALL)
    assert list(rows) == ["as_is"]
    assert rows["as_is"].trees == rows["as_is"].marked == 2


def test_a_bank_no_change_opens_keeps_its_trees() -> None:
    rows = table(job(WALL, [*NEAR, *FAR_OVER]), WALL)
    assert rows["as_is"].trees == 2
    assert 40 < rows["as_is"].reached_pct < 65
    assert {row.trees for row in rows.values() if row.key.startswith(("spur", "bench"))} == {2}


def test_rope_reaches_by_the_metre() -> None:
    """Spurs end 55 m beyond the main trail, so the rope from there decides."""
    ground = terrain_of(lambda x, y: 100 + 0.03 * y)
    area = job(ground, [(200.0, 263.0)], trails={"spur_length": "60 ft"})
    rows = table(area, ground)
    counts = [rows[f"reach_plus_{n}m"].trees for n in (10, 20, 30)]
    assert rows["as_is"].trees == 0
    assert counts == sorted(counts)
    assert counts[0] == 0
    assert counts[-1] == 1
    assert "98 ft" in rows["reach_plus_30m"].change


def test_benching_opens_a_side_slope() -> None:
    """A hillside of 26 %: nothing may be driven across it, and 26 % is too steep to go up."""
    hill = banked(26.0, 40.0)
    area = job(hill, [*NEAR, (150.0, 262.0), (250.0, 262.0)])
    rows = table(area, hill)
    assert rows["bench_to_30"].reached_pct > rows["as_is"].reached_pct
    assert "digs" in rows["bench_to_30"].cost


def test_a_benched_job_is_not_offered_benches() -> None:
    area = job(WALL, [*NEAR, *FAR_OVER], trails={"bench_up_to": "30 %"})
    assert "bench_to_30" not in table(area, WALL)


def test_crossings_only_where_a_strip_is_and_they_are_not_allowed() -> None:
    ground = terrain_of(lambda x, y: 100 + 0.03 * y)
    brook = WaterFeature("brook-1", "perennial", line((0, 200), (400, 200)), bank_width_m=2.0)
    area = replace(job(ground, [*NEAR, *FAR_OVER]), water=(brook,))
    strips = strips_of(ground, box(*at(0, 190), *at(400, 210)))
    rows = {r.key: r for r in what_limits(area, ground, strips, (MAIN,))}
    assert rows["as_is"].trees == 2
    assert rows["crossings"].trees == 5
    assert rows["crossings"].trail_m is not None
    assert rows["crossings"].trail_m > 30
    assert "permit" in rows["crossings"].cost
    pond = replace(area, water=(replace(brook, water_class="pond"),))
    assert "crossings" not in {r.key for r in what_limits(pond, ground, strips, (MAIN,))}
    allowed = job(ground, [*NEAR, *FAR_OVER], trails={"crossings": True})
    found = what_limits(replace(allowed, water=(brook,)), ground, strips, (MAIN,))
    assert [(r.key, r.trees) for r in found] == [("as_is", 5)]


def test_no_crossing_over_a_deep_channel() -> None:
    """A ditch 2 m deep: its banks are over the 3 ft a crossing may have."""
    ground = terrain_of(lambda x, y: 100 + 0.03 * y - 2.0 * (np.abs(y - 200) < 2))
    brook = WaterFeature("brook-1", "intermittent", line((0, 200), (400, 200)))
    area = replace(job(ground, [*NEAR, *FAR_OVER]), water=(brook,))
    strips = strips_of(ground, box(*at(0, 190), *at(400, 210)))
    rows = {r.key: r for r in what_limits(area, ground, strips, (MAIN,))}
    assert rows["crossings"].trees == rows["as_is"].trees == 2


def test_longer_spurs_reach_farther() -> None:
    ground = terrain_of(lambda x, y: 100 + 0.03 * y)
    area = job(ground, [*NEAR, *FAR_OVER], trails={"spur_length": "60 ft"})
    rows = table(area, ground)
    assert rows["spur_plus_100ft"].reached_pct > rows["as_is"].reached_pct
    assert rows["spur_plus_100ft"].trees > rows["as_is"].trees


@pytest.mark.parametrize("condition", ["dry", "wet", "frozen"])
def test_no_row_passes_a_ceiling(condition: str) -> None:
    """Limits set low come back to their default, and not past the day's ceiling."""
    low = {"cross_slope": "8 %", "cross_slope_caution": "6 %"}
    hill = banked(24.0, 40.0)
    area = job(hill, [*NEAR, *FAR_OVER], trails=low, ground={"condition": condition})
    rows = table(area, hill)
    less = 0.0 if condition == "dry" else 5.0
    words = rows["default_cross_slope"].change
    assert f"usual {CEILING['cross'] - less:.0f} %" in words
    assert "default_adverse" not in rows
    assert "default_favourable" not in rows
    assert rows["default_cross_slope"].reached_pct >= rows["as_is"].reached_pct


def test_nothing_loosens_limits_that_stand_at_their_default() -> None:
    rows = table(job(WALL, [*NEAR, *FAR_OVER]), WALL)
    assert not [key for key in rows if key.startswith("default")]
    words = " ".join(row.change for row in rows.values())
    for forbidden in ("pull angle", "grade", "uphill loaded", "downhill loaded"):
        assert forbidden not in words


def test_trees_a_plan_serves_count() -> None:
    area = job(WALL, [*NEAR, *FAR_OVER])
    rows = table(area, WALL, served=frozenset(("T3",)))
    assert rows["as_is"].trees == 3


def test_the_arithmetic_of_steep_ground() -> None:
    """Half of the stand at 40 %, half at 10 %."""
    ground = terrain_of(lambda x, y: 100 + 0.1 * x + 0.3 * np.maximum(x - 200, 0))
    area = job(ground, NEAR)
    limits = limits_in_force(area.settings)
    told = steep_share(area, ground, limits)
    assert told.favourable_pct == pytest.approx(math.hypot(20, 20))
    assert told.adverse_pct == pytest.approx(math.hypot(10, 20))
    assert told.steeper_pct == pytest.approx(50, abs=1.5)
    assert "no ground over 28 %" in told.words(limits)


def test_said_in_both_units_and_deterministic() -> None:
    area = job(WALL, [*NEAR, *FAR_OVER])
    strips = strips_of(WALL)
    rows = what_limits(area, WALL, strips, (MAIN,))
    assert rows == what_limits(area, WALL, strips, (MAIN,))
    us = said(rows, "us")
    assert us[0].startswith("What limits you: as things are")
    assert "2 of 5 marked trees" in us[0]
    assert len(us) == len(rows) + 1
    assert not any("safe " in text.lower() for text in us)
    assert said((), "us") == []


def test_no_landing_or_no_marked_tree_gives_no_rows() -> None:
    area = job(WALL, NEAR)
    strips = strips_of(WALL)
    assert what_limits(replace(area, landing=None), WALL, strips, (MAIN,)) == ()
    assert what_limits(replace(area, trees=trees_of()), WALL, strips, (MAIN,)) == ()


def test_rows_fit_the_schema_of_the_plan() -> None:
    schema = json.loads(
        (Path(layout.__file__).parent / "tables" / "plan.schema.json").read_text(encoding="utf-8")
    )
    form = schema["$defs"]["limit"]
    rows = what_limits(job(WALL, [*NEAR, *FAR_OVER]), WALL, strips_of(WALL), (MAIN,))
    assert len(rows) > 3
    for row in rows:
        data = asdict(row)
        assert set(data) == set(form["required"]) == set(form["properties"])
        assert re.fullmatch(form["properties"]["key"]["pattern"], row.key)
        assert 0 <= row.reached_pct <= 100
    assert schema["properties"]["limits"]["items"] == {"$ref": "#/$defs/limit"}
