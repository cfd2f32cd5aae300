"""Rub trees, lays and waiting places of a whole plan, measured again from its geometry."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from made_plan import metric_plan
from shapely.geometry import LineString, Point

from layout.ground import stems_in_trails
from layout.land import property_edge
from layout.outputs import rows
from layout.plan import Plan
from layout.rub_trees import rub_trees
from layout.tree_sizes import distance_heights_m

METRIC = Path(__file__).parent / "data" / "metric_area"


@pytest.fixture(scope="module")
def plan() -> Plan:
    return metric_plan()


def test_every_marked_tree_has_a_lay_away_from_its_winch_and_inside_the_line(plan: Plan) -> None:
    trees, pull_of = plan.area.trees, {p.tree_id: p for p in plan.pulls}
    marked = [name for name, cut in zip(trees.tree_id, trees.marked, strict=True) if cut]
    assert [lay.tree_id for lay in plan.lays] == marked
    edge, height = property_edge(plan.area), distance_heights_m(plan.area)
    given = 0
    for lay in plan.lays:
        i = trees.tree_id.index(lay.tree_id)
        assert lay.lean == "unknown"  # the list says nothing of lean
        assert lay.height_m == pytest.approx(height[i])
        if lay.tree_id not in pull_of:
            assert (lay.azimuth_deg, lay.why_none) == (None, "not_reached")
            continue
        if lay.azimuth_deg is None:
            assert (lay.why_none, lay.barred_by) == ("barred", ("property line",))
            continue
        given += 1
        (x0, y0), (x1, y1) = pull_of[lay.tree_id].line.coords
        away = math.degrees(math.atan2(x1 - x0, y1 - y0))
        assert abs((lay.azimuth_deg - away + 180) % 360 - 180) <= 45 + 1e-6
        for turn in (-15, 0, 15):
            a = math.radians(lay.azimuth_deg + turn)
            tip = (x1 + height[i] * math.sin(a), y1 + height[i] * math.cos(a))
            assert not LineString([(x1, y1), tip]).intersects(edge)
    assert given >= 15


def test_the_tractor_waits_two_lengths_off_on_a_trail_or_the_landing(plan: Plan) -> None:
    trees, lines = plan.area.trees, {t.trail_id: t.line for t in plan.trails}
    reach = 2 * distance_heights_m(plan.area)
    assert plan.work is not None
    felled = [step.position_id for step in plan.work.steps if step.kind == "fell"]
    assert [g.position_id for g in plan.felling_groups] == list(dict.fromkeys(felled))
    for group in plan.felling_groups:
        assert group.trail_id is not None
        assert group.x is not None
        assert group.y is not None
        spot = Point(group.x, group.y)
        if group.trail_id:
            assert lines[group.trail_id].distance(spot) < 0.05
            assert lines[group.trail_id].project(spot) == pytest.approx(group.at_m, abs=0.1)
        else:
            assert plan.landing.shape.contains(spot)
        assert not (group.clear_landing and plan.landing.shape.intersects(spot))
        rows_of = [trees.tree_id.index(name) for name in group.tree_ids]
        for i in rows_of:
            assert math.hypot(trees.x[i] - group.x, trees.y[i] - group.y) >= reach[i]
        near = {
            p.position_id
            for p in plan.positions
            if any(math.hypot(trees.x[i] - p.x, trees.y[i] - p.y) < reach[i] for i in rows_of)
        }
        assert near - {group.position_id} <= set(group.clear_positions)


def test_roles_layers_and_records_say_the_same(plan: Plan) -> None:
    kept = {rub.tree_id for rub in plan.rub_trees if rub.kind == "marked"}
    assert {o.tree_id for o in plan.trees if o.role == "rub"} == kept
    lay_of = {lay.tree_id: lay.azimuth_deg for lay in plan.lays}
    for outcome, row in zip(plan.trees, rows.of_layer(plan, "trees"), strict=True):
        want = lay_of.get(outcome.tree_id)
        assert row.values["lay_azimuth_deg"] == (
            None if want is None else pytest.approx(want, abs=0.06)
        )
        assert row.values["role"] == outcome.role


def test_whole_trees_come_in_farther_than_logs_and_what_is_spared_stays(plan: Plan) -> None:
    settings = plan.area.settings
    work = settings.work.model_copy(update={"extract": "tree"})
    area = replace(plan.area, settings=settings.model_copy(update={"work": work}))
    out = stems_in_trails(area, plan.trails, plan.benches)
    logs = rub_trees(plan.area, plan.trails, plan.positions, plan.pulls, out)
    whole = rub_trees(area, plan.trails, plan.positions, plan.pulls, out)
    assert logs == plan.rub_trees
    assert len(whole) > len(logs)
    names, places = {p.position_id for p in plan.positions}, plan.area.trees
    for rub in whole:
        assert {"look"} != {rub.kind}
        assert set(rub.cut_after) <= names
        for name in rub.protects:
            i = places.tree_id.index(name)
            assert not places.marked[i]
            assert not out[i]
    assert [rub.out_m for rub in whole] == sorted(rub.out_m for rub in whole)
