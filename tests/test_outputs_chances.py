"""Chances in the outputs: told to people in words, to programs as shares of one."""

import csv
from dataclasses import replace
from pathlib import Path

import plan_fixture
import pytest
from report_page import Page

from layout.findings import Finding
from layout.outputs import plan_json, rows, tree_table
from layout.outputs.crew import finding
from layout.outputs.crew.tree_words import reach_said
from layout.outputs.gravity import gravity
from layout.outputs.report import page as report
from layout.outputs.report.weights import group_of, title_of
from layout.plan import Plan
from layout.reach_findings import findings
from layout.records import GradeChance, Pull

STEEP = (
    GradeChance("M1", 0.31, 120.0, -18.4, 20.0, 1.9, 5.0),
    GradeChance("S1", 0.04, 10.0, -12.0, 20.0, 1.9, 5.0),
    GradeChance("S2", 0.62, 35.0, 9.2, 10.0, 1.9, 5.0),
)


@pytest.fixture(scope="module")
def plan() -> Plan:
    made = plan_fixture.plan()
    steps = tuple(replace(step, p_over_limit=0.12345) for step in made.steps)
    return replace(made, steps=steps, grade_chances=STEEP)


@pytest.fixture(scope="module")
def page(plan: Plan) -> Page:
    return Page(report.page(plan))


def test_every_tree_that_is_pulled_is_on_the_layer(plan: Plan) -> None:
    layer = rows.of_layer(plan, "reach_chance")
    assert [row.values["tree_id"] for row in layer] == [pull.tree_id for pull in plan.pulls]
    for row, pull in zip(layer, plan.pulls, strict=True):
        assert row.shape is not None and row.shape.coords[0] == pull.line.coords[-1]
        assert row.values["p_out_of_reach"] == pull.p_out_of_reach
        assert row.values["position_error_m"] > 0  # type: ignore[operator]
    said = {row.values["sure"]: row.values["said"] for row in layer}
    words = {"sure": "about 1 in 50", "tight": "about 1 in 7", "doubtful": "about 1 in 3"}
    assert said == {name: words[str(name)] for name in said} and "doubtful" in said
    bare = replace(plan, pulls=tuple(replace(p, p_out_of_reach=None) for p in plan.pulls))
    assert rows.of_layer(bare, "reach_chance") == ()


def test_trails_and_steps_carry_their_chance(plan: Plan) -> None:
    trails = {r.values["trail_id"]: r.values["p_over_limit"] for r in rows.of_layer(plan, "trails")}
    assert (trails["M1"], trails["S1"], trails["S3"]) == (0.31, 0.04, None)
    assert {r.values["p_over_limit"] for r in rows.of_layer(plan, "trail_steps")} == {0.123}


def test_the_list_of_trees_tells_it(plan: Plan, tmp_path: Path) -> None:
    tree_table.write(plan, tmp_path / "trees.csv")
    with (tmp_path / "trees.csv").open(encoding="utf-8", newline="") as file:
        listed = {row["tree_id"]: row for row in csv.DictReader(file)}
    pulled = {pull.tree_id: pull for pull in plan.pulls}
    for name, row in listed.items():
        pull = pulled.get(name)
        told = (row["p_out_of_reach"], row["p_no_position"], row["reach_said"])
        if pull is None:
            assert told == ("", "", "")
        else:
            assert (float(told[0]), float(told[1])) == (pull.p_out_of_reach, pull.p_no_position)
            assert "1 in" in told[2] or "2 in" in told[2]


def test_the_plan_as_data_holds_shares_of_one(plan: Plan) -> None:
    data = plan_json.as_data(plan, {}, ())
    assert {p["p_out_of_reach"] for p in data["pulls"]} <= {0.01, 0.12, 0.4}
    assert {p["p_no_position"] for p in data["pulls"]} <= {0.0, 0.02, 0.3}
    assert next(t["p_over_limit"] for t in data["trails"]) == 0.31


def test_the_crew_is_told_as_people_count(plan: Plan) -> None:
    found = {tree.tree_id: reach_said(tree) for tree in finding.marked(plan)}
    for pull in plan.pulls:
        said = found[pull.tree_id]
        assert "%" not in said and "0." not in said
        assert (said == "") == (pull.sure == "sure")
        if pull.sure == "doubtful":
            assert "about" in said and "tape" in said
    bare = replace(plan, pulls=tuple(replace(p, p_out_of_reach=None) for p in plan.pulls))
    assert any("doubtful" in reach_said(tree) for tree in finding.marked(bare))


def test_the_report_says_how_chances_are_meant(plan: Plan, page: Page) -> None:
    text = page.text("trees")
    assert "the least they can be" in text and "receivers err far more often" in text
    one = sum((p.p_out_of_reach or 0) > 0.1 for p in plan.pulls)
    both = sum((p.p_both_ends or 0) > 0.1 for p in plan.pulls)
    assert f"{both} trees over 1 in 10 instead of {one}" in text
    table = page.table("Doubtful pulls, the likeliest to fail first")
    doubtful = [p for p in plan.pulls if p.sure == "doubtful"]
    assert len(table.rows) == len(doubtful) > 0
    assert {row[3:] for row in table.rows} == {("about 1 in 3", "about 1 in 3")}


def test_the_report_says_how_sure_grades_are(plan: Plan, page: Page) -> None:
    table = page.table("Trails that may break their limits of grade, the likeliest first")
    assert [row[0] for row in table.rows] == ["S2", "M1"]  # S1 stays under 1 in 20
    assert table.row("S2")["Measured there"] == "9 % uphill loaded"
    assert table.row("M1")["Too steep, or for too long"] == "about 1 in 3"
    assert table.row("S2")["Allowed there"] == "10 %"
    pitched = replace(plan, grade_chances=(replace(STEEP[0], p_over_limit=0.5, pitch_m=30.48),))
    row = Page(report.page(pitched)).table(table.caption).rows[0]
    assert row[-1].endswith("% for 100 ft at most")  # no limit of any length
    assert "clinometer" in page.text("layout") and "6 in" in page.text("layout")
    few = replace(plan, grade_chances=STEEP[1:2])
    assert "No trail has more than 1 chance in 20" in Page(report.page(few)).text("layout")
    none = Page(report.page(replace(plan, grade_chances=())))
    assert "How sure the grades are" not in none.text("layout")


# --- findings -----------------------------------------------------------------------------------


def with_chances(plan: Plan, some: dict[str, tuple[float, float]]) -> tuple[Pull, ...]:
    return tuple(
        replace(
            pull,
            p_out_of_reach=some.get(pull.tree_id, (0.02, 0.0))[0],
            p_no_position=some.get(pull.tree_id, (0.02, 0.0))[1],
        )
        for pull in plan.pulls
    )


def test_trees_over_one_in_ten_are_told_the_likeliest_first(plan: Plan) -> None:
    first, second, edge = (pull.tree_id for pull in plan.pulls[:3])
    some = {first: (0.21, 0.0), second: (0.5, 0.05), edge: (0.1, 0.1)}
    (told,) = findings(with_chances(plan, some))
    assert told.level == "caution" and told.subject_layer == "trees"
    assert told.value == pytest.approx(50) and told.limit == pytest.approx(10)
    assert told.message.startswith("2 trees may stand out of reach of where the plan winches them")
    assert f"{second} (about 1 in 2), {first} (about 1 in 5)." in told.message
    assert "within rope and angle of another heading or position" in told.message
    assert f"{edge} (" not in told.message  # 10 % exactly is not over it
    assert "with a tape" in told.message and "the least they can be" in told.message
    assert group_of(told) == "trees" and title_of(told.code) == "Trees that may be out of reach"
    assert title_of("grade_chance") == "Trails that may be steeper than measured"


def test_what_no_position_takes_is_told_apart(plan: Plan) -> None:
    near, far = (pull.tree_id for pull in plan.pulls[:2])
    both = findings(with_chances(plan, {near: (0.3, 0.01), far: (0.4, 0.3)}))
    assert [finding.subject_id for finding in both] == [far, near]
    assert both[0].message.startswith("1 tree may stand out of reach of every position")
    assert f"{far} (about 1 in 3)" in both[0].message  # of every position, not of its own
    assert "leave it standing if it cannot be pulled" in both[0].message
    assert both[0].at == plan.pulls[1].line.coords[-1]
    assert findings(with_chances(plan, {})) == ()
    assert findings([replace(p, p_out_of_reach=None) for p in plan.pulls]) == ()
    unasked = [replace(p, p_out_of_reach=0.2, p_no_position=None) for p in plan.pulls[:1]]
    assert "every position" in findings(unasked)[0].message


def test_a_long_list_is_cut(plan: Plan) -> None:
    many = with_chances(plan, {p.tree_id: (0.3, 0.0) for p in plan.pulls})
    twice = [*many, *(replace(p, tree_id=f"B{p.tree_id}") for p in many)]
    assert 12 < len(many) < 30 < len(twice)
    (told,) = findings(many)
    assert told.message.count("(about") == 12 and "more." not in told.message
    assert all(pull.tree_id in told.message for pull in many) and told.subject_id == ""
    (told,) = findings(twice)
    assert told.message.count("(about") == 12 and f"and {len(twice) - 30} more." in told.message


def test_what_is_likely_comes_behind_what_is_past_its_limit_by_far(plan: Plan) -> None:
    name = plan.pulls[0].tree_id
    (told,) = findings(with_chances(plan, {name: (0.3, 0.01)}))
    steep = Finding("grade_adverse", "caution", "Steep.", value=14.0, limit=10.0)
    assert gravity(told) == pytest.approx(0.3)
    assert gravity(told) < gravity(steep)
