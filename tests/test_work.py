"""The work of whole plans, held against a second opinion that shares no code with it."""

import functools
import math
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import plan_checker
import pytest
import work_checker
from made_plan import layout_only, metric_plan

import layout
from layout.harvest import harvest_of
from layout.outputs import plan_json
from layout.plan import Plan
from layout.records import REACHED
from layout.trails import with_loads
from layout.turns import traffic

METRIC = Path(__file__).parent / "data" / "metric_area"


@functools.cache
def planned() -> Plan:
    return metric_plan()


def test_a_second_opinion_finds_nothing_in_the_work_of_a_plan() -> None:
    plan = planned()
    assert plan.work is not None
    assert plan.work.turns
    assert work_checker.of_work(plan) == []


@pytest.mark.parametrize(
    ("what", "kind"),
    [
        ({"mass_kg": 9000.0}, "turn_mass"),
        ({"pieces": ()}, "piece"),
        ({"travel_m": 3.0}, "travel"),
        ({"turn_id": "D9999"}, "hauled"),
    ],
)
def test_the_second_opinion_sees_a_fault(what: dict[str, object], kind: str) -> None:
    plan = planned()
    assert plan.work is not None
    turns = (replace(plan.work.turns[0], **what), *plan.work.turns[1:])  # type: ignore[arg-type]
    spoiled = replace(plan, work=replace(plan.work, turns=turns))
    assert kind in {fault.kind for fault in work_checker.of_work(spoiled)}


def test_the_second_opinion_sees_steps_out_of_order() -> None:
    plan = planned()
    assert plan.work is not None
    steps = tuple(
        replace(step, number=n) for n, step in enumerate(reversed(plan.work.steps), start=1)
    )
    spoiled = replace(plan, work=replace(plan.work, steps=steps))
    kinds = {fault.kind for fault in work_checker.of_work(spoiled)}
    assert {"closed_trail_driven", "hauled_before_felled", "landing_last"} <= kinds


def test_the_second_opinion_sees_a_tractor_where_it_cannot_be() -> None:
    plan = planned()
    assert plan.work is not None
    shut = next(step for step in plan.work.steps if step.kind == "close")
    trail = next(t for t in plan.trails if t.trail_id == shut.trail_id)
    spot = trail.line.interpolate(1.0)
    there = {"trail_id": trail.trail_id, "at_m": 1.0, "x": spot.x, "y": spot.y}
    *others, last = plan.felling_groups
    spoiled = replace(plan, felling_groups=(*others, replace(last, **there)))
    kinds = {fault.kind for fault in work_checker.of_work(spoiled)}
    assert "waits_on_closed_trail" in kinds
    tree = plan.area.trees.tree_id.index(last.tree_ids[0])
    x, y = float(plan.area.trees.x[tree]), float(plan.area.trees.y[tree])
    spoiled = replace(plan, felling_groups=(*others, replace(last, x=x, y=y)))
    kinds = {fault.kind for fault in work_checker.of_work(spoiled)}
    assert "waits_under_tree" in kinds
    spoiled = replace(plan, felling_groups=(*others, replace(last, trail_id=None)))
    assert "no_waiting_place" in {fault.kind for fault in work_checker.of_work(spoiled)}


def test_mass_out_equals_mass_in() -> None:
    plan = planned()
    assert plan.work is not None
    harvest = harvest_of(plan.area)
    row = {name: i for i, name in enumerate(plan.area.trees.tree_id)}
    served = {o.tree_id for o in plan.trees if o.status in REACHED or o.role == "in_trail"}
    share = 1 + plan.area.settings.timber.weight_error_pct / 100
    bucked = sum(
        float(harvest.saw_kg[row[name]] + harvest.pulp_kg[row[name]]) for name in sorted(served)
    )
    hauled = sum(turn.mass_kg for turn in plan.work.turns)
    assert {tree for turn in plan.work.turns for tree in turn.tree_ids} == served
    assert hauled == pytest.approx(bucked * share, rel=1e-9)


def test_steps_of_time_add_up_to_the_hours() -> None:
    plan = planned()
    assert plan.work is not None
    steps = sum(step.minutes for step in plan.work.steps) / 60
    assert steps == pytest.approx(plan.work.times.total.productive_h, rel=1e-9)


def test_passes_follow_from_the_loads() -> None:
    plan = planned()
    assert plan.work is not None
    again = with_loads(plan.steps, traffic(plan.trails, plan.work.turns))
    assert [step.loads for step in again] == [step.loads for step in plan.steps]
    ends = sum(
        max((s.loads for s in plan.steps if s.trail_id == t.trail_id), default=0)
        for t in plan.trails
        if not t.joins_id
    )
    from_trails = [turn for turn in plan.work.turns if turn.trail_id]
    assert ends == len(from_trails)


def test_every_step_and_pull_says_what_it_bears() -> None:
    plan = planned()
    assert all(step.payload_kg is not None and step.payload_by for step in plan.steps)
    assert all(
        pull.limit_kn is not None and pull.limit_kn > 0 and pull.limited_by for pull in plan.pulls
    )
    assert plan.work is not None
    for turn in plan.work.turns:
        assert turn.mass_kg <= turn.limit_kg * (1 + 1e-9)


@pytest.mark.slow
def test_a_lighter_tractor_needs_more_loads() -> None:
    plan = planned()
    tractor = plan.area.settings.tractor
    light = tractor.model_copy(update={"mass_kg": tractor.mass_kg / 2})
    small = plan.area.settings.model_copy(update={"tractor": light})
    other = layout_only(replace(plan.area, settings=small))
    assert other.work is not None
    assert plan.work is not None
    wood = sum(t.wood_m3 for t in other.work.turns) / max(len(other.work.turns), 1)
    usual = sum(t.wood_m3 for t in plan.work.turns) / len(plan.work.turns)
    assert wood < usual
    assert work_checker.of_work(other) == []
    assert all(math.isfinite(t.mass_kg) for t in other.work.turns)


def moved(plan: Plan, tree: str, at_m: float, dbh_cm: float) -> layout.Area:
    """Put a marked tree on the main trail."""
    trees = plan.area.trees
    spot, row = plan.trails[0].line.interpolate(at_m), trees.tree_id.index(tree)
    here = np.arange(len(trees)) == row
    return replace(
        plan.area,
        trees=replace(
            trees,
            x=np.where(here, spot.x, trees.x),
            y=np.where(here, spot.y, trees.y),
            dbh_cm=np.where(here, dbh_cm, trees.dbh_cm),
        ),
    )


@pytest.mark.slow
def test_a_marked_tree_in_the_trail_comes_out_when_it_is_opened() -> None:
    plan = layout_only(moved(planned(), "T053", 100.0, 90.0))
    outcome = next(o for o in plan.trees if o.tree_id == "T053")
    assert (outcome.status, outcome.remedies) == ("with_trail", ())
    assert plan.work is not None
    loads = [turn for turn in plan.work.turns if "T053" in turn.tree_ids]
    assert loads and all(turn.stage == "open" for turn in loads)
    assert work_checker.of_work(plan) == [] == plan_checker.of_plan(plan)


@pytest.mark.slow
def test_no_trail_is_built_for_what_no_load_could_hold() -> None:
    settings = planned().area.settings
    weak = settings.model_copy(
        update={
            "tractor": settings.tractor.model_copy(update={"drive": "2wd"}),
            "ground": settings.ground.model_copy(update={"condition": "frozen"}),
        }
    )
    plan = layout_only(replace(planned().area, settings=weak))
    heavy = {o.tree_id for o in plan.trees if o.status == "too_heavy"}
    assert len(heavy) > 5
    used = {turn.trail_id for turn in plan.work.turns} if plan.work is not None else set()
    spurs = {t.trail_id for t in plan.trails if t.kind == "spur"}
    assert spurs <= used
    subjects = {f.subject_id for f in plan.findings if f.subject_layer == "winch_positions"}
    assert subjects <= {p.position_id for p in plan.positions}
    assert work_checker.of_work(plan) == [] == plan_checker.of_plan(plan)


@pytest.mark.slow
def test_loads_that_are_in_have_pressed_the_ground(tmp_path: Path) -> None:
    folder = tmp_path / "area"
    shutil.copytree(METRIC, folder, ignore=shutil.ignore_patterns("out*"))
    first = layout_only(layout.read_area(folder))
    (folder / "out").mkdir()
    told = plan_json.as_data(first, {}, ())
    plan_json.write(told, folder / "out" / plan_json.FILE_NAME)
    assert first.work is not None
    some = first.work.turns[:10]
    rows = "".join(f"turn:{turn.turn_id},2026-11-26,,done\n" for turn in some)
    (folder / "progress.csv").write_text(f"id,date,note,state\n{rows}", encoding="utf-8")
    second = layout_only(layout.read_area(folder))
    assert second.work is not None
    assert {t.turn_id for t in second.work.turns if t.state == "done"} == {
        turn.turn_id for turn in some
    }
    assert work_checker.of_work(second) == []
    main = [max(s.loads for s in p.steps if s.trail_id == "M") for p in (first, second)]
    assert main[1] >= main[0] - 1  # as many as before, but for another packing
