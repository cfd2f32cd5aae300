"""Jobs at the edge of what there is to plan: each gives a plan that says what is wrong."""

import math
import resource
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import plan_checker
import pytest
import small_areas as wood_of
from made_plan import layout_only
from small_areas import CELL_M, MIDDLE, list_of, path, plot, scattered, settings_of, wood

from layout import read_area
from layout.plan import Plan
from layout.site import Area, WaterFeature

import area_files  # isort: skip


def codes(plan: Plan, level: str) -> set[str]:
    return {f.code for f in plan.findings if f.level == level}


def status_of(plan: Plan) -> dict[str, str]:
    return {o.tree_id: o.status for o in plan.trees}


def near_main(count: int = 6) -> list[dict[str, Any]]:
    """Mark a few trees beside the main trail."""
    spots = [(14.0, 30.0), (-16.0, 4.0), (20.0, 52.0), (-6.0, 22.0), (-2.0, 48.0), (8.0, -8.0)]
    return [{"x": x, "y": y, "marked": True} for x, y in spots[:count]]


@pytest.fixture(scope="module")
def plain() -> Plan:
    return layout_only(wood())


def test_no_water(plain: Plan) -> None:
    # nothing mapped: no strips, no distance to tell, and the plan does not claim more
    assert plain.strips == () and plain.landing.water_m is None
    assert "pull_water" not in codes(plain, "stop")


def test_a_brook_is_kept_off(plain: Plan) -> None:
    # across the east: the same trees, but nothing enters the strip and no rope crosses the brook
    brook = path((58, -100), (52, -20), (60, 40), (54, 100))
    area = wood(water=(WaterFeature("brook", "perennial", brook, 1.0),))
    plan = layout_only(area)
    assert plan.strips
    strip = [s.shape for s in plan.strips]
    for trail in plan.trails:
        ground = trail.line.buffer(trail.width_m / 2, cap_style="flat")
        assert all(ground.intersection(s).area < 0.3 for s in strip)
    assert not any(p.line.intersects(brook) for p in plan.pulls)
    served = [sum(o.status == "served" for o in p.trees) for p in (plan, plain)]
    assert served[0] <= served[1]
    assert plan_checker.of_plan(plan) == []


@pytest.mark.parametrize("rows", [[], scattered(marked=0, leave=20)], ids=["empty", "leave_only"])
def test_no_trees_marked(rows: list[dict[str, Any]]) -> None:
    # the main trail alone, no pulls, and a finding that says there is nothing to bring in
    plan = layout_only(wood(rows=rows))
    assert plan.pulls == () and plan.positions == () and plan.turning_places == ()
    assert [t.trail_id for t in plan.trails] == ["M"]
    assert plan.choice.objective_m2 == 0.0
    assert plan.work is not None  # what stands in the trail itself still comes out
    assert all(turn.stage == "open" for turn in plan.work.turns)
    assert {tree for turn in plan.work.turns for tree in turn.tree_ids} <= {
        o.tree_id for o in plan.trees if o.role == "in_trail"
    }
    assert any(f.code == "no_trees_marked" for f in plan.findings)


def test_one_marked_tree() -> None:
    plan = layout_only(wood(rows=near_main(1)))
    assert status_of(plan) == {"T1": "served"}
    assert len(plan.pulls) == len(plan.positions) == 1
    assert plan_checker.of_plan(plan) == []


def test_a_marked_tree_outside() -> None:
    rows = [*near_main(2), {"x": 110.0, "y": 0.0, "marked": True, "tree_id": "away"}]
    plan = layout_only(wood(rows=rows))
    outcome = next(o for o in plan.trees if o.tree_id == "away")
    assert outcome.status == "outside" and outcome.remedies[0] == "leave it standing"
    assert not any(p.tree_id == "away" for p in plan.pulls)


def test_a_marked_tree_outside_is_told_of(tmp_path: Path) -> None:
    # read from files: the caution of the reading reaches the plan's findings
    folder = area_files.tidy_area(tmp_path / "area")
    rows = (folder / "trees.csv").read_text("utf-8")
    east = area_files.WEST + 300
    away = f"away,{east},{area_files.NORTH - 200},red oak,15,cut\n"
    (folder / "trees.csv").write_text(rows + away, encoding="utf-8")
    plan = layout_only(read_area(folder))
    assert status_of(plan)["away"] == "outside"
    assert any("away" in f.message for f in plan.findings if f.level == "caution")


def test_a_landing_off_the_land() -> None:
    # west of the stand, on ground nobody gave leave for: stopped, and planned all the same
    landing = plot(-118.0, -80.0, -90.0, -54.0)
    main = path((-92.0, -62.0), (-60.0, -48.0), (-24.1, -38.4), (-10.6, -14.9), (1.7, 14.2))
    plan = layout_only(wood(rows=near_main(), landing=landing, main_trail=main))
    assert any(c.startswith("landing") for c in codes(plan, "stop"))
    assert plan.trails and plan.trees


def test_a_hole_in_the_elevations(plain: Plan) -> None:
    # a hole under the longest spur of the plain plan: no trail and no rope enters it
    spur = max((t for t in plain.trails if t.kind == "spur"), key=lambda t: t.line.length)
    spot = spur.line.interpolate(0.6, normalized=True)
    hole = spot.buffer(9.0)
    z = wood_of.relief().z.copy()
    area = wood()
    x, y = np.meshgrid(*area.dem.centres())
    gone = np.hypot(x - spot.x, y - spot.y) < 9.0
    assert gone.sum() > 20
    z[gone] = np.nan
    plan = layout_only(replace(area, dem=area.dem.with_z(z)))
    for trail in plan.trails:
        assert not trail.line.intersects(hole.buffer(-CELL_M))
    for pull in plan.pulls:
        assert not pull.line.intersects(hole.buffer(-CELL_M))
    assert "no_elevation" in {f.code for f in plan.findings} or not codes(plan, "stop")
    assert plan_checker.of_plan(plan) == []


def test_a_stand_in_two_parts() -> None:
    # a gap nobody may cross: trees of the far part have no trail, or none near enough
    near, far = plot(-84, -84, 30, 84), plot(60, -84, 84, 84)
    rows = [*near_main(3), *({"x": 72.0, "y": y, "marked": True} for y in (-40.0, 0.0, 40.0))]
    stand = near.union(far)
    plan = layout_only(wood(rows=rows, stand=stand))
    status = status_of(plan)
    assert [status[f"T{i}"] for i in (1, 2, 3)] == ["served"] * 3
    assert {status[f"T{i}"] for i in (4, 5, 6)} <= {"no_trail", "beyond_reach", "corridor"}
    assert not any(t.line.intersects(far) for t in plan.trails)
    assert plan_checker.of_plan(plan) == []


def test_only_the_marked_trees_listed() -> None:
    # what is not listed is not known: no figure of leave stems, above all not nought
    rows = [r for r in scattered() if r["marked"]]
    area = wood(settings_of(stand={"list": "marked"}))
    plan = layout_only(replace(area, trees=list_of(rows, full_list=False)))
    assert plan.pulls
    assert all(p.leave_hits is None for p in plan.pulls)
    assert not any(o.role in ("in_trail", "rub") for o in plan.trees)
    assert "unknown" in {f.level for f in plan.findings if "leave" in f.message}


@pytest.mark.slow
def test_poor_positions() -> None:
    # 5 m of error: no claim about any single stem, fewer sure pulls, a margin that says so
    rows = scattered()
    sure = layout_only(wood(settings_of(stand={"position_error": "1 m"}), rows))
    poor = layout_only(wood(settings_of(stand={"position_error": "5 m"}), rows))
    assert any(o.role == "in_trail" for o in sure.trees) or sure.pulls
    assert not any(o.role == "in_trail" for o in poor.trees)
    for pull in poor.pulls:
        chance = pull.p_out_of_reach
        assert chance is not None
        assert pull.sure == ("sure" if chance <= 0.05 else "doubtful" if chance > 0.2 else "tight")
    share = [np.mean([p.sure == "sure" for p in plan.pulls]) for plan in (sure, poor)]
    assert share[1] < share[0]


def test_wet_ground_lowers_the_limits(plain: Plan) -> None:
    wet = layout_only(wood(settings_of(ground={"condition": "wet"})))
    for trail in wet.trails:
        stations = wet.stations[trail.trail_id]
        if trail.source == "routed":
            assert stations.cross_pct.max() <= 15 + 0.1  # 5 points under the dry ceiling
    assert all(p.angle_deg <= 25 + 0.1 for p in wet.pulls)
    assert any("lowered" in f.code or "wet" in f.message for f in wet.findings)
    assert plan_checker.of_plan(wet) == []
    missed = [sum(o.status not in ("served", "leave") for o in p.trees) for p in (wet, plain)]
    assert (missed[0], wet.choice.objective_m2) >= (missed[1], plain.choice.objective_m2)


def in_feet(text: str) -> str:
    """Write a length in feet, to the nanometre."""
    return f'"{float(text) / 0.3048:.12f} ft"'


def test_feet_and_metres_give_the_same_plan(tmp_path: Path) -> None:
    lengths = {
        "stand__setback": "3",
        "stand__position_error": "1",
        "trails__width_main": "3.6",
        "trails__width_spur": "3.2",
        "trails__turn_radius": "8",
        "trails__spur_length": "80",
        "winch__cable": "38",
        "winch__choker": "2",
        "winch__working_reach": "30",
        "winch__uphill_reach": "25",
    }
    plans = []
    for units in ("metric", "us"):
        tables = {k: f'"{v} m"' if units == "metric" else in_feet(v) for k, v in lengths.items()}
        folder = area_files.tidy_area(tmp_path / units, area__units=f'"{units}"', **tables)
        plans.append(layout_only(read_area(folder)))
    metric, us = plans
    assert metric.pulls
    assert us.choice.objective_m2 == pytest.approx(metric.choice.objective_m2, rel=1e-9)
    assert status_of(us) == status_of(metric)
    for a, b in zip(metric.trails, us.trails, strict=True):
        assert a.line.equals_exact(b.line, 1e-6)
    assert [(f.code, f.level) for f in us.findings] == [(f.code, f.level) for f in metric.findings]
    # and each speaks its own: no feet in a metric plan, no metres in the other
    told = [" ".join(f.message for f in p.findings if f.code != "no_local_rule") for p in plans]
    assert " ft" not in told[0]
    assert " m;" not in told[1] and " m " not in told[1]


@pytest.mark.slow
def test_every_tree_that_can_be(plain: Plan) -> None:
    rows = [{**r, "marked": r["marked"] or i < 20} for i, r in enumerate(scattered())]
    some = layout_only(wood(settings_of(objective={"serve_worth": "40 m^2"}), rows))
    every = layout_only(wood(settings_of(objective={"serve_worth": "all"}), rows))
    missed = ["not_worth_it" in status_of(p).values() for p in (some, every)]
    assert missed == [True, False]
    # no price of a tree left standing stands in the objective
    assert math.isfinite(every.choice.objective_m2)
    assert len(every.pulls) > len(some.pulls)


def test_a_main_shorter_than_its_baseline() -> None:
    # some 0.3 ha: a main of 8 m, trees winched to it and to the landing
    rows = [{"x": x, "y": y, "marked": True} for x, y in ((-30.0, -32.0), (-12.0, -64.0))]
    plan = layout_only(
        wood(
            rows=rows,
            stand=wood_of.MultiPolygon([plot(-58, -84, -6, -24)]),
            main_trail=path((-31.3, -58.2), (-28.0, -51.0)),
        )
    )
    assert plan.trails[0].line.length < 10
    assert {o.status for o in plan.trees} <= {"served", *plan_checker_reasons()}
    assert all(math.isfinite(s.grade_pct) for s in plan.steps)
    assert plan_checker.of_plan(plan) == []


def plan_checker_reasons() -> set[str]:
    """Give the fixed list of reasons of the design."""
    return {
        "beyond_reach", "pull_angle", "load_above", "parking", "no_turning", "corridor",
        "blocked_by_water", "too_heavy", "not_worth_it", "no_trail",
    }  # fmt: skip


@pytest.mark.slow
def test_eight_hundred_acres(capsys: pytest.CaptureFixture[str]) -> None:
    # a smoke test of size: 324 ha at 5 m cells, one main, trees along it
    half = 900.0
    dem = wood_of.relief(cell_m=5.0, half_m=half + 50)
    rows = scattered(marked=300, leave=0, half_m=half - 10, apart_m=9.0)
    main = path(*[(-31.3 + 0.11 * (y + 58.2), y) for y in np.arange(-58.2, 800, 40.0)])
    area: Area = wood(
        settings_of(objective={"time_limit": "60 s", "gap": "0.1 %"}),
        rows,
        dem=dem,
        stand=wood_of.MultiPolygon([plot(-half, -half, half, half)]),
        main_trail=main,
    )
    assert area.stand.area / 4046.86 == pytest.approx(800, abs=5)
    begun = time.monotonic()
    plan = layout_only(area)
    seconds = time.monotonic() - begun
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    with capsys.disabled():
        print(f"\n800 acres: {seconds:.0f} s, peak {peak_mb:.0f} MB, {len(plan.pulls)} served")
    assert len(plan.trees) == 300 and plan.pulls
    assert MIDDLE[0] - half <= plan.landing.x <= MIDDLE[0] + half


@pytest.mark.parametrize("kind", ["y", "loop"])
def test_where_no_pad_is_level_a_y_or_a_loop_turns_the_outfit(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # 9.65 % all over: too steep for a pad, within the 10 % that holds uphill
    made = wood(settings=settings_of(trails={"back_up": "20 m"}))
    n = made.dem.shape[0]
    north = wood_of.HALF_M - (np.arange(n) + 0.5) * CELL_M
    z = np.repeat((300 + 0.0965 * north)[:, None], n, axis=1).astype(np.float32)
    if kind == "loop":
        monkeypatch.setattr("layout.forest.y_place", lambda *a: None)
    plan = layout_only(replace(made, dem=made.dem.with_z(z)))
    assert {place.kind for place in plan.turning_places} == {kind}
    assert any(tree.status == "served" for tree in plan.trees)
    stops = {f.code for f in plan.findings if f.level == "stop"}
    assert stops == {"landing_slope"}  # the landing is on the same slope
    assert {fault.kind for fault in plan_checker.of_plan(plan)} == {"landing_slope"}
