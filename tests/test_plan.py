"""Whole plans, held against a second checker, the list, and sums made by hand."""

import json
import math
import os
import subprocess
import sys
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any, get_args

import drain_checker
import networkx as nx
import numpy as np
import plan_checker
import pytest
import shapely
from made_plan import metric_plan
from shapely.geometry import LineString, Point

from layout import make_plan, read_area
from layout.plan import Plan
from layout.records import Trail, TreeStatus, WaterBar
from layout.settings import limits_in_force
from layout.soil import corridor_width_m

ROOT = Path(__file__).resolve().parents[1]
METRIC = ROOT / "tests" / "data" / "metric_area"
SAMPLE = ROOT / "sample_area"
REASONS = set(get_args(TreeStatus)) - {"served", "leave"}


AREAS = [METRIC, pytest.param(SAMPLE, marks=pytest.mark.slow)]


@pytest.fixture(scope="session", params=AREAS, ids=lambda p: p.name)
def plan(request: pytest.FixtureRequest) -> Plan:
    return metric_plan() if request.param == METRIC else make_plan(read_area(request.param))


def test_nothing_stops_it(plan: Plan) -> None:
    assert [f.message for f in plan.findings if f.level == "stop"] == []


def test_the_second_checker_finds_nothing(plan: Plan) -> None:
    # tests/plan_checker.py shares no measuring code with the package
    assert plan_checker.of_plan(plan) == []


def test_every_listed_tree_is_told_of_once_in_order(plan: Plan) -> None:
    assert tuple(o.tree_id for o in plan.trees) == plan.area.trees.tree_id


def test_marked_trees_are_served_or_say_why(plan: Plan) -> None:
    pulled = {p.tree_id: p for p in plan.pulls}
    assert len(pulled) == len(plan.pulls)
    for outcome, marked in zip(plan.trees, plan.area.trees.marked, strict=True):
        if not marked:
            assert outcome.status == "leave" and outcome.remedies == ()
            assert outcome.tree_id not in pulled
        elif outcome.tree_id in pulled:
            assert outcome.status == "served" and outcome.remedies == ()
            assert outcome.position_id == pulled[outcome.tree_id].position_id
            assert outcome.margin_m == pulled[outcome.tree_id].margin_m
        else:
            assert outcome.status in REASONS
            assert outcome.remedies[0] == "leave it standing" and len(outcome.remedies) > 1
            assert outcome.position_id == "" and outcome.margin_m is None


def test_most_trees_are_served(plan: Plan) -> None:
    # the areas were drawn so that most marked trees stand near usable ground
    assert len(plan.pulls) >= 0.9 * plan.area.trees.marked.sum()


def test_names_point_at_what_is_there(plan: Plan) -> None:
    trails = {t.trail_id: t for t in plan.trails}
    positions = {p.position_id: p for p in plan.positions}
    assert len(trails) == len(plan.trails) and len(positions) == len(plan.positions)
    for trail in plan.trails:
        assert trail.landing_id == plan.landing.landing_id
        assert (trail.joins_id == "") == (trail.kind == "main")
        assert trail.joins_id in trails or trail.kind == "main"
    for position in plan.positions:
        assert position.trail_id in trails or position.trail_id == ""
        mine = {p.tree_id for p in plan.pulls if p.position_id == position.position_id}
        assert mine == set(position.tree_ids) and mine
    assert {p.position_id for p in plan.pulls} == set(positions)
    assert {s.trail_id for s in plan.steps} == set(trails) == set(plan.stations)
    assert {b.trail_id for b in plan.bars} <= set(trails)
    assert {p.trail_id for p in plan.turning_places} <= set(trails)


def test_trails_start_on_what_they_join(plan: Plan) -> None:
    trails = {t.trail_id: t for t in plan.trails}
    for trail in plan.trails:
        start = Point(trail.line.coords[0])
        if trail.joins_id:
            host = trails[trail.joins_id].line
            assert start.distance(host) < 0.05
            assert host.interpolate(trail.joins_at_m).distance(start) < 0.05
        else:
            assert start.distance(plan.landing.shape) < 1.0


def test_positions_stand_on_their_trails_and_pulls_run_from_them(plan: Plan) -> None:
    trails = {t.trail_id: t for t in plan.trails}
    positions = {p.position_id: p for p in plan.positions}
    for position in plan.positions:
        spot = Point(position.x, position.y)
        if position.trail_id:
            at = trails[position.trail_id].line.interpolate(position.at_m)
            assert at.distance(spot) < 0.05
        else:
            assert plan.landing.shape.buffer(0.1).contains(spot)
    row = {t: i for i, t in enumerate(plan.area.trees.tree_id)}
    for pull in plan.pulls:
        parked, i = positions[pull.position_id], row[pull.tree_id]
        stump = (plan.area.trees.x[i], plan.area.trees.y[i])
        assert pull.line.coords[0] == pytest.approx((parked.x, parked.y), abs=0.05)
        assert pull.line.coords[-1] == pytest.approx(stump, abs=0.05)


def test_every_spur_is_there_for_something(plan: Plan) -> None:
    # at its end a spur has a winch position, a mouth or a turning place
    for trail in plan.trails:
        if trail.kind == "main":
            continue
        ends = [p.at_m for p in plan.positions if p.trail_id == trail.trail_id]
        ends += [t.joins_at_m or 0.0 for t in plan.trails if t.joins_id == trail.trail_id]
        ends += [p.at_m for p in plan.turning_places if p.trail_id == trail.trail_id]
        # the outfit that backs round a Y stands a length inside the spur
        reversing = 32.0 + plan.area.settings.tractor.length_m
        slack = reversing if any(p.kind == "y" for p in plan.turning_places) else 0.05
        if trail.line.length - max(ends) > slack:
            # longer only until the outfit is off the trail it leaves
            host = next(t for t in plan.trails if t.trail_id == trail.joins_id)
            clear_m = 0.5 * (host.width_m + plan.area.settings.tractor.width_m)
            short = trail.line.interpolate(trail.line.length - 0.6)
            assert short.distance(host.line) < clear_m, trail.trail_id


def test_loads_add_up_down_the_trails(plan: Plan) -> None:
    # every load is walked to the landing over a graph made here, a metre at a time
    trails = {t.trail_id: t for t in plan.trails}
    assert plan.work is not None
    turns = plan.work.turns
    passed: dict[tuple[str, int], int] = {}
    for turn in turns:
        name, at = turn.trail_id, turn.at_m
        while name:
            for metre in range(math.floor(at)):
                passed[name, metre] = passed.get((name, metre), 0) + 1
            name, at = trails[name].joins_id, trails[name].joins_at_m or 0.0
    for step in plan.steps:
        inner = range(math.ceil(step.from_m + 1e-6), math.floor(step.to_m - 1e-6))
        seen = max((passed.get((step.trail_id, m), 0) for m in inner), default=None)
        if seen is not None:
            assert step.loads >= seen, (step.trail_id, step.from_m)
        assert step.loads <= len(turns)
    first = [s.loads for s in plan.steps if s.trail_id == "M" and s.from_m == 0.0]
    assert first == [sum(1 for turn in turns if turn.trail_id)]
    for step in plan.steps:  # nothing passes beyond the last load or mouth
        ends = [turn.at_m for turn in turns if turn.trail_id == step.trail_id]
        ends += [t.joins_at_m or 0.0 for t in plan.trails if t.joins_id == step.trail_id]
        if step.from_m > max(ends, default=0.0) + 0.01:
            assert step.loads == 0


def test_steps_cover_each_trail(plan: Plan) -> None:
    for trail in plan.trails:
        steps = [s for s in plan.steps if s.trail_id == trail.trail_id]
        assert steps[0].from_m == 0.0
        assert steps[-1].to_m == pytest.approx(trail.line.length, abs=1e-6)
        for a, b in pairwise(steps):
            assert a.to_m == pytest.approx(b.from_m, abs=1e-9)
        assert max(s.to_m - s.from_m for s in steps) <= 10 + 1e-6


def test_the_network_is_a_tree_on_the_landing(plan: Plan) -> None:
    graph = nx.DiGraph((t.trail_id, t.joins_id or "landing") for t in plan.trails)
    assert nx.is_arborescence(graph.reverse())


def test_a_second_walk_finds_no_fault_in_the_drains(plan: Plan) -> None:
    # tests/drain_checker.py shares no measuring code with the package
    assert list(drain_checker.faults(plan)) == []


def test_the_second_walk_notices_what_is_wrong(plan: Plan) -> None:
    def kinds(bars: Iterable[WaterBar]) -> set[str]:
        return {kind for kind, *_ in drain_checker.faults(replace(plan, bars=tuple(bars)))}

    spaced = next(n for n, b in enumerate(plan.bars) if b.why == "spacing")
    assert "too far" in kinds(b for n, b in enumerate(plan.bars) if n != spaced)
    other = {"left": "right", "right": "left", "unknown": "unknown"}
    turned = kinds(replace(b, outlet=other[b.outlet]) for b in plan.bars)  # type: ignore[arg-type]
    assert {"outlet is not below the trail", "bar does not fall"} <= turned
    assert "off its trail" in kinds(replace(b, x=b.x + 1) for b in plan.bars)
    assert "no low point" in kinds(replace(b, kind="grade_break") for b in plan.bars[:1])


def ribbon(line: LineString, width: float) -> Any:
    return line.buffer(width / 2, cap_style="flat", quad_segs=16)


def test_soil_share_by_hand(plan: Plan) -> None:
    # a union of everything driven, once: shapes that overlap count once
    trails = [ribbon(t.line, t.width_m) for t in plan.trails]
    places = [p.shape for p in plan.turning_places]
    stand = plan.area.stand.area
    driven = shapely.union_all([*trails, *places]).difference(plan.landing.shape).area
    together = shapely.union_all([*trails, *places, plan.landing.shape]).area
    assert plan.soil.stand_m2 == pytest.approx(stand, rel=1e-9)
    # the landing's ground may count with either; ends and mouths are joined within a metre
    slack = 100 * (2.0 * len(trails) + 4.0) / stand
    on_landing = shapely.union_all([*trails, *places]).intersection(plan.landing.shape).area
    assert 100 * driven / stand - slack <= plan.soil.share_pct
    assert plan.soil.share_pct <= 100 * (driven + on_landing) / stand + slack
    assert plan.soil.share_with_landing_pct == pytest.approx(100 * together / stand, abs=slack)
    parts = plan.soil.main_m2 + plan.soil.spur_m2 + plan.soil.turning_m2
    assert parts == pytest.approx(plan.soil.share_pct * stand / 100, rel=1e-6)


def test_the_choice_is_proved(plan: Plan) -> None:
    assert plan.choice.gap_pct <= plan.area.settings.objective.gap_pct + 1e-9
    assert plan.choice.bound_m2 <= plan.choice.objective_m2 + 1e-6
    assert plan.choice.stopped_by == "gap"


def over(size: Any, caution: float, stop: float) -> Any:
    """Give how far past the softer limit, as a share of the way to the harder one."""
    return np.maximum(size - caution, 0.0) / (stop - caution)


def on_old_trail(plan: Plan, line: LineString, at: Any) -> Any:
    """Tell which stations lie within 2 m of an old trail and within 23 degrees of its way."""
    out = np.zeros(len(at), dtype=bool)
    for old in plan.area.existing:
        for i, metre in enumerate(at):
            spot = line.interpolate(metre)
            if old.line.distance(spot) > 2.0:
                continue
            there = old.line.project(spot)
            a, b = line.interpolate(max(metre - 0.5, 0)), line.interpolate(metre + 0.5)
            c, d = old.line.interpolate(max(there - 1, 0)), old.line.interpolate(there + 1)
            u, v = np.array([b.x - a.x, b.y - a.y]), np.array([d.x - c.x, d.y - c.y])
            along = abs(u @ v) / max(np.linalg.norm(u) * np.linalg.norm(v), 1e-9)
            out[i] |= along >= math.cos(math.radians(23.0))
    return out


def on_wet_ground(plan: Plan, trail: Trail, at: Any) -> Any:
    """Tell where a trail touches 2 m to each side of a possible channel, or a wet hollow."""
    wet = [(channel.line, 2.0) for channel in plan.channels.lines]
    wet += [(hollow.shape, 0.0) for hollow in plan.channels.hollows]
    spots = [trail.line.interpolate(metre) for metre in at]
    half = trail.width_m / 2
    return np.array([any(w.distance(s) <= half + soft for w, soft in wet) for s in spots])


def test_the_objective_added_up_by_hand(plan: Plan) -> None:
    # from the records, the settings and the other checker's grades alone; the prices are
    # the rules of the design. A tractor parked for two stems turns a little after the
    # choice, and where an old trail begins is judged in two ways
    area, settings = plan.area, plan.area.settings
    price, limits = settings.objective, limits_in_force(settings)
    view = plan_checker.View(area, list(plan.trails), [])
    hosts = {t.trail_id: t for t in plan.trails}
    leave = [
        Point(x, y)
        for x, y, marked in zip(area.trees.x, area.trees.y, area.trees.marked, strict=True)
        if not marked
    ]
    known = area.trees.full_list and settings.stand.position_error_m <= 1.5
    total = 0.0
    for trail in plan.trails:
        if trail.kind == "main":
            continue  # drawn: there whatever is chosen
        at, rise = plan_checker.grades(view, trail.line)
        _, cross = plan_checker.crosses(view, trail.line, trail.width_m)
        past = over(rise, limits.favourable_caution_pct, limits.favourable_pct)
        past += over(-rise, limits.adverse_caution_pct, limits.adverse_pct)
        past += over(cross, limits.cross_caution_pct, limits.cross_pct)
        metre = trail.width_m * price.spur * (1 + 0.5 * past)
        metre = np.where(on_old_trail(plan, trail.line, at), metre * price.existing, metre)
        metre = np.where(on_wet_ground(plan, trail, at), metre * price.wet_ground, metre)
        total += float(np.trapezoid(metre, at))
        if known:
            # flat ends: what stands behind a mouth comes out with the trail it opens on
            near = ribbon(trail.line, trail.width_m + 0.6)
            total += price.stem_removed_m2 * sum(near.contains(stem) for stem in leave)
        if trail.joins_at_m < hosts[trail.joins_id].line.length - 0.001:
            total += price.spur_start_m2
    strips = {t.trail_id: ribbon(t.line, t.width_m) for t in plan.trails}
    for spot in plan.turning_places:
        beside = [strips[spot.trail_id]]
        if spot.kind == "y":
            beside = list(strips.values())
        total += spot.shape.difference(shapely.union_all(beside)).area
    for pull in plan.pulls:
        total += price.pull_m2_per_m * pull.ground_m
        total += price.corridor * corridor_width_m(settings) * pull.map_m
        total += price.stem_brushed_m2 * (pull.leave_hits or 0.0)
        total += price.downhill_pull_m2 * (pull.rise_m > 0)
        total += {"sure": 0.0, "tight": 2.0, "doubtful": 6.0}[pull.sure]
    total += price.setup_m2 * len({(p.trail_id, round(p.at_m, 2)) for p in plan.positions})
    missed = sum(o.status not in ("served", "leave") for o in plan.trees)
    total += price.serve_worth_m2 * missed
    spare = 0.015 if plan.area.existing else 0.005
    assert plan.choice.objective_m2 == pytest.approx(total, rel=spare)


def as_text(plan: Plan) -> str:
    """Write down all a plan decides, to the last digit; not when or how long."""
    return json.dumps(
        {
            "trails": [(t.trail_id, t.joins_id, t.joins_at_m, t.line.wkb_hex) for t in plan.trails],
            "positions": [repr(p) for p in plan.positions],
            "pulls": [(p.tree_id, p.position_id, p.line.wkb_hex, p.margin_m) for p in plan.pulls],
            "trees": [repr(o) for o in plan.trees],
            "places": [(p.place_id, p.at_m, p.shape.wkb_hex) for p in plan.turning_places],
            "bars": [repr(b) for b in plan.bars],
            "findings": [repr(f) for f in plan.findings],
            "objective": plan.choice.objective_m2.hex(),
            "soil": repr(plan.soil),
        }
    )


@pytest.mark.slow
def test_planned_again_it_is_the_same(plan: Plan) -> None:
    assert as_text(make_plan(read_area(plan.area.folder))) == as_text(plan)


AGAIN = """
import sys
from pathlib import Path
from layout import make_plan, read_area
from test_plan import as_text
sys.stdout.write(as_text(make_plan(read_area(Path(sys.argv[1])))))
"""


@pytest.mark.slow
def test_in_another_process_it_is_the_same(plan: Plan) -> None:
    # another seed of the hash orders every set of words another way
    folders = os.pathsep.join([str(ROOT), str(ROOT / "tests")])
    done = subprocess.run(
        [sys.executable, "-c", AGAIN, str(plan.area.folder)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=True,
        timeout=600,
        env=os.environ | {"PYTHONHASHSEED": "12345", "PYTHONPATH": folders},
    )
    assert done.stdout == as_text(plan)
