"""Landings that are proposed: each planned completely, the best used, every one told."""

import json
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import report_page
import small_areas as wood_of
from pyogrio import read_dataframe
from shapely.geometry import MultiPolygon, box
from shapely.ops import unary_union
from small_areas import MIDDLE, plot, settings_of, turned, wood

import layout
from layout import landing_trials, pool, read_area
from layout.errors import InputError
from layout.ground import CAUTION_PRICE
from layout.landing_options import LandingOption, ranked
from layout.landing_trials import Trial, Tried
from layout.outputs import geopackage, map_window, option_marks, overview, plan_json
from layout.outputs.report import page
from layout.outputs.summary import closing
from layout.outputs.words import say
from layout.plan import Plan, make_plan
from layout.site import Area
from layout.water import Strips, strips

METRIC = Path(__file__).parent / "data" / "metric_area"
SCHEMA = Path(layout.__file__).parent / "tables" / "plan.schema.json"
# cautions begin where the limits stand, and wet ground costs no more than any other: a
# metre of main trail then costs its width
PLAIN = {
    "favourable_caution": "20 %",
    "favourable_short": "20 %",
    "adverse_caution": "10 %",
    "adverse_short": "10 %",
    "cross_slope_caution": "20 %",
}
WIDTH_M = 3.6
PRICE_M2 = 200.0  # the default price of a marked tree left standing
UP_PCT = 0.5  # less is level


def open_wood(marked: int = 4, half_m: float = 60.0, trails: dict[str, Any] | None = None) -> Area:
    """Give a small wood in which no stem stays."""
    rows = wood_of.scattered(marked=marked, leave=0, half_m=half_m - 8)
    stand = MultiPolygon([plot(-half_m, -half_m, half_m, half_m)])
    return wood(
        settings_of(trails=trails or {}, objective={"wet_ground": 1.0} if trails else {}),
        rows,
        stand=stand,
    )


def planned(area: Area, workers: int = 1) -> tuple[Plan, list[Tried]]:
    """Plan without landing and main trail; give also what came of every trial."""
    seen: list[Tried] = []
    real = pool.Pool.run

    def spied(crew: pool.Pool, *args: Any, **named: Any) -> list[Any]:
        answers = real(crew, *args, **named)
        seen.extend(answers)
        return answers

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pool.Pool, "run", spied)
        plan = make_plan(replace(area, landing=None, main_trail=None), workers=workers)
    return plan, seen


def as_text(plan: Plan) -> str:
    """Give everything in a plan but how long it took."""
    data = plan_json.as_data(plan, {**plan.about, "made": ""}, ())
    data["choice"].pop("seconds")
    return json.dumps(data, sort_keys=True)


def worth_again(plan: Plan) -> tuple[int, float]:
    """Judge a plan anew from its own parts: marked trees left, weighted square metres."""
    trees = plan.area.trees
    out = {pull.tree_id for pull in plan.pulls} | {
        o.tree_id for o in plan.trees if o.status == "with_trail"
    }
    marked = {name for name, mark in zip(trees.tree_id, trees.marked, strict=True) if mark}
    mains = sum(t.line.length for t in plan.trails if t.kind == "main")
    winched = marked - {pull.tree_id for pull in plan.pulls} - trees.set_aside
    return len(marked - out), (
        plan.choice.objective_m2
        - PRICE_M2 * len(winched)
        + PRICE_M2 * len(marked - out)
        + WIDTH_M * mains
        + plan.landing.shape.area
    )


def assert_figures(option: LandingOption, plan: Plan) -> None:
    """Hold the figures of an option against the layer rows a reader has."""
    left, objective = worth_again(plan)
    assert option.unserved == left
    assert option.objective_m2 is not None
    if plan.area.settings.trails.cross_slope_caution_pct == 20.0:
        assert option.objective_m2 == pytest.approx(objective, rel=1e-6)
    else:  # care has its price on every metre of the main trail, and its most
        mains_m2 = WIDTH_M * sum(t.line.length for t in plan.trails if t.kind == "main")
        assert 0 < option.objective_m2 - objective <= 3 * CAUTION_PRICE * mains_m2
    assert option.shape.equals(plan.landing.shape)
    assert option.sure_count == [pull.sure for pull in plan.pulls].count("sure")
    assert option.trail_m == pytest.approx(sum(t.line.length for t in plan.trails))
    whole = [t.line.buffer(t.width_m / 2, cap_style="flat") for t in plan.trails]
    ground = unary_union([*whole, *(p.shape for p in plan.turning_places), plan.landing.shape])
    assert option.disturbed_m2 == pytest.approx(ground.area, rel=1e-6)
    assert option.disturbed_pct == pytest.approx(100 * ground.area / plan.area.stand.area)
    up = whole_m = 0.0
    for step in plan.steps:
        way = step.loads * (step.to_m - step.from_m)
        whole_m += way
        up += way if step.grade_pct >= UP_PCT else 0.0
    assert option.adverse_pct == pytest.approx(100 * up / whole_m)
    assert plan.work is not None
    ways = [turn.travel_m for turn in plan.work.turns]
    assert option.skid_m == pytest.approx(sum(ways) / len(ways))
    total = plan.work.times.total
    assert (option.low_h, option.high_h) == (total.low_h, total.high_h)


@pytest.fixture(scope="module")
def small() -> tuple[Plan, list[Tried]]:
    """Plan a small wood with nothing drawn."""
    return planned(open_wood())


def test_figures_are_those_of_the_plan_itself(small: tuple[Plan, list[Tried]]) -> None:
    plan, _ = small
    used = plan.landing_options[0]
    assert used.used
    assert used.option_id == "A"
    assert used.why == ""
    assert used.tree_count == 4
    assert_figures(used, plan)


def test_a_place_without_a_way_out_is_told_with_its_reason(tmp_path: Path) -> None:
    plan, tried = planned(open_wood(half_m=50.0))  # a main trail gets away from one place alone
    assert [option.planned for option in plan.landing_options].count(True) == 1
    lost = [option for option in plan.landing_options if not option.planned]
    assert len(lost) == len(tried) - 1 >= 1
    (told,) = [f for f in plan.findings if f.code == "landing_proposed"]
    assert told in plan.area.findings
    assert "It alone could be planned: 4 of 4 marked trees" in told.message
    path = tmp_path / "plan.gpkg"
    geopackage.write(plan, path, {})
    layer = read_dataframe(path, layer="landing_options").set_index("option_id")
    assert list(layer.index) == [option.option_id for option in plan.landing_options]
    assert layer.used.tolist() == [True] + [False] * len(lost)
    assert layer.loc["A", "objective_m2"] == pytest.approx(
        plan.landing_options[0].objective_m2, abs=0.1
    )
    html = report_page.Page(page.page(plan))
    for option in lost:
        assert "no main trail gets away from the landing" in option.reason
        assert option.reason.rstrip(".") in option.why
        assert option.why in told.message
        assert option.why in closing(plan)
        assert option.why in html.text("landings")
        row = layer.loc[option.option_id]
        assert row.why == option.why
        assert row.geometry.equals(option.shape)
        assert row[["tree_count", "stops", "trail_m", "objective_m2", "low_h"]].isna().all()
        assert row.marked == 4
    table = html.table(say("report_landings_cap"))
    assert table.heads[1:] == ("A (used)", *(option.option_id for option in lost))
    assert table.row("Marked trees that come out")["A (used)"] == "4 of 4"
    data = plan_json.as_data(plan, plan.about, ("plan.json",))
    form = json.loads(SCHEMA.read_text(encoding="utf-8"))
    part = {**form, **form["properties"]["landing_options"]}
    part = {key: part[key] for key in ("$defs", "type", "items", "minItems")}
    jsonschema.Draft202012Validator(part).validate(data["landing_options"])
    assert data["landing_options"][1]["reason"] == lost[0].reason


@pytest.mark.slow
def test_whoever_does_the_work_the_plan_is_the_same(small: tuple[Plan, list[Tried]]) -> None:
    plan, _ = small
    other, _ = planned(open_wood(), workers=2)
    assert as_text(other) == as_text(plan)
    for one, two in zip(plan.landing_options, other.landing_options, strict=True):
        for field in fields(one):
            assert getattr(one, field.name) == getattr(two, field.name), field.name


def test_mirrored_ground_has_the_mirrored_landing(small: tuple[Plan, list[Tried]]) -> None:
    plan, _ = small
    other = make_plan(replace(turned(open_wood(), "east_west"), landing=None, main_trail=None))
    here, there = plan.landing_options[0], other.landing_options[0]
    assert there.x - MIDDLE[0] == pytest.approx(MIDDLE[0] - here.x, abs=1e-6)
    assert there.y == pytest.approx(here.y, abs=1e-6)
    assert there.objective_m2 == pytest.approx(here.objective_m2, rel=1e-6)
    assert there.tree_count == here.tree_count
    assert there.slope_pct == pytest.approx(here.slope_pct, abs=1e-6)


def option(x: float, y: float, trees: int | None = 5, objective: float = 900.0) -> LandingOption:
    shape = box(x - 10, y - 10, x + 10, y + 10)
    if trees is None:
        return LandingOption("", shape, x, y, 3.0, 6, reason="no way out")
    return LandingOption(
        "", shape, x, y, 3.0, 6, tree_count=trees, sure_count=1, objective_m2=objective
    )


def test_fewest_unserved_comes_first_then_the_objective_then_the_place() -> None:
    cheap, served = option(0, 0, 4, 100.0), option(0, 90, 5, 900.0)
    dear, shut = option(0, 180, 5, 960.0), option(0, 270, None)
    for listed in ([cheap, served, dear, shut], [shut, dear, served, cheap]):
        best = ranked(listed, "metric")
        assert [o.y for o in best] == [90, 180, 0, 270]
        assert [o.option_id for o in best] == ["A", "B", "C", "D"]
        assert [o.used for o in best] == [True, False, False, False]
        assert [o.why for o in best] == [
            "",
            "It serves as many trees and takes 60 m² more, ground and work weighed as the "
            "settings say.",
            "It leaves 1 more marked tree unserved.",
            "Nothing can be planned from it: no way out.",
        ]
    barred = replace(option(0, 360, 6, 50.0), stops=1)  # serves more, and must not be driven
    best = ranked([barred, served], "metric")
    assert [o.y for o in best] == [90, 360]
    assert best[1].why == "Its plan has 1 more stop finding."
    twins = [option(50, 10), option(40, 10), option(90, 5)]
    best = ranked(twins, "us")
    assert [(o.x, o.y) for o in best] == [(90, 5), (40, 10), (50, 10)]
    assert "little between them" in best[1].why
    assert [(o.x, o.y) for o in ranked(twins[::-1], "us")] == [(o.x, o.y) for o in best]


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[Trial]:
    """Give what is asked for, with sites at hand and no planning."""
    area = open_wood()
    sites = tuple(replace(area, landing=option(70.0 * k, 0).shape) for k in range(5))
    monkeypatch.setattr(landing_trials, "with_landings", lambda *_: sites)
    return []


def trial_of(asked: list[Trial], plan: Plan, shut: tuple[int, ...]) -> Any:
    """Make something that plans a trial: the sites of some numbers have no way out."""

    def plan_one(trial: Trial, tell: Any) -> Tried:
        asked.append(trial)
        shape = trial.area.landing
        assert shape is not None
        k = round(shape.centroid.x / 70)
        if k in shut:
            return landing_trials.refused(trial, InputError(f"[x]: no way out of {k}"))
        return Tried(replace(option(shape.centroid.x, 0, 5, 900 - k), shape=shape), plan)

    return plan_one


def test_another_place_takes_the_turn_of_one_without_a_way_out(
    asked: list[Trial], small: tuple[Plan, list[Tried]]
) -> None:
    plan, _ = small
    for shut, tried in (((), 3), ((0,), 4), ((0, 3), 5), ((1, 2, 3, 4), 5)):
        asked.clear()
        made = landing_trials.best_landing(
            open_wood(), plan.terrain, strips_of(plan), trial_of(asked, plan, shut),
            workers=1, tell=lambda line: None,
        )  # fmt: skip
        assert len(asked) == len(made.landing_options) == tried
        assert sum(not o.planned for o in made.landing_options) == len(
            [k for k in shut if k < tried]
        )


def test_where_no_place_has_a_way_out_the_first_reason_is_the_fault(
    asked: list[Trial], small: tuple[Plan, list[Tried]]
) -> None:
    plan, _ = small
    with pytest.raises(InputError, match=r"\[x\]: no way out of 0"):
        landing_trials.best_landing(
            open_wood(), plan.terrain, strips_of(plan), trial_of(asked, plan, (0, 1, 2, 3, 4)),
            workers=1, tell=lambda line: None,
        )  # fmt: skip
    assert len(asked) == 5


def strips_of(plan: Plan) -> Strips:
    return strips(plan.area, plan.terrain)


def test_only_what_is_not_used_is_marked_on_the_overview(small: tuple[Plan, list[Tried]]) -> None:
    plan, _ = small
    window = map_window.around(plan, 8.0, 6.7)
    shown = option_marks.shown(plan, window)
    assert [o.option_id for o in shown] == [o.option_id for o in plan.landing_options[1:]]
    _, texts = option_marks.legend_entries(plan, window)
    assert texts == [say("mark_landing_option")]
    drawn = replace(plan, landing_options=())
    assert option_marks.legend_entries(drawn, window) == ([], [])
    assert overview.image(plan, 50) != overview.image(drawn, 50)


def test_a_drawn_landing_has_no_other_beside_it(small: tuple[Plan, list[Tried]]) -> None:
    drawn = replace(small[0], landing_options=())
    data = plan_json.as_data(drawn, drawn.about, ("plan.json",))
    assert "landing_options" not in data
    assert "Landing: none was drawn" not in closing(drawn)
    assert 'id="landings"' not in page.page(drawn)


@pytest.mark.slow
def test_the_best_of_three_by_their_own_numbers() -> None:
    """Judge three complete plans anew; the one used is the best of them, however made."""
    area = open_wood(6, 84.0, PLAIN)
    plan, tried = planned(area)
    plans = [one.plan for one in tried if one.plan is not None]
    assert len(plans) == 3
    assert_figures(plan.landing_options[0], plan)
    by_place = {(o.x, o.y): o for o in plan.landing_options}
    for one in plans:
        assert_figures(by_place[one.landing.x, one.landing.y], one)
    stops = [sum(f.level == "stop" for f in one.findings) for one in plans]
    assert stops == [0, 0, 0]
    best = min(plans, key=lambda one: (worth_again(one)[0], round(worth_again(one)[1], 2)))
    assert (best.landing.x, best.landing.y) == (plan.landing.x, plan.landing.y)
    assert len({round(worth_again(one)[1]) for one in plans}) == 3  # there was something to choose
    for workers in (2, 3):
        assert as_text(planned(area, workers)[0]) == as_text(plan)


@pytest.mark.slow
def test_an_area_from_files_is_planned_the_same_by_any_number_of_processes() -> None:
    area = read_area(METRIC)
    one, two = planned(area), planned(area, 2)
    assert as_text(one[0]) == as_text(two[0])
    assert len(one[0].landing_options) >= 3
    left = [o.unserved for o in one[0].landing_options]
    assert left == sorted(left)
