"""A line of words for each step of the order of work: what it says, and in whose units."""

import re
from dataclasses import replace
from typing import get_args

import made_work
import plan_fixture
import pytest
from made_jobs import Job, row, two_spurs

from layout.outputs.words import ENGLISH
from layout.outputs.words.work_words import WORK_LINES
from layout.outputs.work_lines import StepLines, step_line
from layout.plan import Plan
from layout.records import FellingGroup, RubPlace, RubTree, WaterBar
from layout.units import Units
from layout.work_records import TwoStage, WorkKind, WorkStep


def planned(job: Job, units: Units = "us", **parts: object) -> Plan:
    """Give a plan of which the trails, positions and work are a made job's."""
    job.units = units
    turns, steps = job.order()
    base = made_work.worked(plan_fixture.plan(units))
    assert base.work is not None
    return replace(
        base, area=job.area(), trails=tuple(job.trails), positions=tuple(job.positions),
        pulls=tuple(job.pulls), rub_trees=tuple(job.rubs), felling_groups=(), bars=(),
        work=replace(base.work, turns=turns, steps=steps), **parts,
    )  # fmt: skip


def lines(plan: Plan) -> list[str]:
    assert plan.work is not None
    said = StepLines(plan)
    words = [said.line(step) for step in plan.work.steps]
    assert words[0] == step_line(plan, plan.work.steps[0])
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in words]


def spoken() -> Job:
    job = two_spurs()
    job.at("W6", "S1", 20.0, "rs")
    job.load("rs", stage="rub")
    job.rub("rs", "S1", 15.0)
    for tree in ("t", "u"):
        job.trees.append({"tree_id": tree, "x": 50, "y": 50})
    job.load("t", stage="open", trail="M", at_m=9.0)
    job.load("u", stage="open", trail="M", at_m=19.0)
    return job


def test_the_whole_order_in_feet() -> None:
    bars = tuple(
        WaterBar(f"B{n}", "S1", 10.0 * n, 0.0, 0.0, 8.0, 20.0, "left") for n in range(1, 4)
    )  # fmt: skip
    group = FellingGroup("W2", ("b", "c"), 51.816, "M", 30.48, 0.0, 0.0, 40.0, (), False)
    plan = replace(planned(spoken()), bars=(*bars, replace(bars[0], trail_id="S2")),
                   felling_groups=(group,))  # fmt: skip
    assert lines(plan) == [
        "Walk and flag every trail before anything is cut",
        "Open M from the landing, 656 ft; stems out as they fall: t, u (loads D1, D2)",
        "Open S1 from M at 165 ft, 656 ft",
        "Open S2 from M at 395 ft, 656 ft",
        "W4, S2 at 100 ft: fell e",
        "W4: winch e, load by load",
        "Haul load D3 in from W4",
        "Close S2 from its far end in: ruts smoothed, 1 water bar, brush laid; not driven again",
        "W1, M at 260 ft: fell a",
        "W1: winch a, load by load",
        "Haul load D4 in from W1",
        "W3, S1 at 295 ft: fell d",
        "W3: winch d, load by load",
        "Haul load D5 in from W3",
        "W2, S1 at 130 ft: fell b, c; tractor and all others wait at M at 100 ft "
        "(two tree lengths, 170 ft)",
        "W2: winch b, c, load by load",
        "Haul load D6 in from W2",
        "Rub trees no other load will pass: fell, winch and haul rs (load D7), far ones first",
        "Close S1 from its far end in: ruts smoothed, 3 water bars, brush laid; not driven again",
        "Close M from its far end in: ruts smoothed, brush laid; not driven again",
        "Landing last: wood out, ruts smoothed, water led off, bare soil covered",
    ]  # fmt: skip


def test_metres_where_the_area_is_metric() -> None:
    said = lines(planned(spoken(), "metric"))
    assert "Open S1 from M at 50 m, 200 m" in said
    assert "Haul load D6 in from W2" in said
    assert not any(re.search(r"\d ft", line) for line in said)


def test_one_at_a_time_says_so_in_both_steps() -> None:
    job = two_spurs(work_style="tree-by-tree")
    said = lines(planned(job))
    assert "W2, S1 at 130 ft: fell and winch one at a time, b, c" in said
    assert "W2: each winched before the next is felled, b, c" in said


@pytest.mark.parametrize(
    ("trail", "at_m", "place"),
    [
        ("", 0.0, "wait at the landing (two tree lengths, 170 ft)"),
        (None, None, "go right off the trails (two tree lengths, 170 ft)"),
    ],
)
def test_where_everybody_waits(trail: str | None, at_m: float | None, place: str) -> None:
    group = FellingGroup("W2", ("b",), 51.816, trail, at_m, None, None, None, (), True)
    said = lines(replace(planned(two_spurs()), felling_groups=(group,)))
    assert f"W2, S1 at 130 ft: fell b, c; tractor and all others {place}" in said


def test_hazard_trees_keep_all_others_off() -> None:
    job = two_spurs()
    job.at("W5", "S1", 60.0, "h", "k", hazards="h")
    job.load("h", "k")
    assert lines(planned(job))[1] == (
        "Hazard trees first, before any other work near them: h; all others two tree lengths off"
    )


def test_hazard_trees_say_where_the_tractor_waits() -> None:
    job = two_spurs()
    job.at("W5", "S1", 60.0, "h", "k", hazards="h")
    job.load("h", "k")
    on_landing = FellingGroup("W5", ("h",), 51.816, "", 0.0, 0.0, 0.0, 80.0, (), False)
    beside = FellingGroup("W5", ("k",), 51.816, "S1", 30.48, 0.0, 0.0, 40.0, (), False)
    said = lines(replace(planned(job), felling_groups=(on_landing, beside)))
    assert said[1] == (
        "Hazard trees first, before any other work near them: h; tractor and all others wait at "
        "the landing (two tree lengths, 170 ft)"
    )
    after = "W5, S1 at 195 ft: fell k; tractor and all others wait at S1 at 100 ft"
    assert any(line.startswith(after) for line in said)


def test_what_is_done_and_what_is_left_of_it() -> None:
    job = two_spurs()
    job.progress = (row("S1", "opened"), row("S2", "done"))
    job.trees.append({"tree_id": "t", "x": 50, "y": 50})
    job.load("t", stage="open", trail="S1", at_m=9.0)
    job.trail("S9", "M", 20.0)
    job.at("W9", "S9", 20.0, "z")
    job.load("z")
    said = lines(planned(job))
    assert said[:5] == [
        "Done: M opened",
        "Walk and flag S9 before anything is cut; the others are flagged",
        "Open S9 from M at 65 ft, 656 ft",
        "Take out the stems left in S1; stems out as they fall: t (load D1)",
        "Open S2 again, 656 ft: it was closed",
    ]
    job.turns = [turn for turn in job.turns if turn.trail_id != "S2"]
    assert "Done: S2 closed" in lines(planned(job))


def test_all_flagged_is_said_as_done() -> None:
    job = two_spurs()
    job.progress = tuple(row(name, "flagged") for name in ("M", "S1", "S2"))
    assert lines(planned(job))[0] == "Done: trails walked and flagged"


def test_a_proposed_rub_tree_is_told_where_the_last_load_has_passed_it() -> None:
    spots = (
        RubPlace("bend", "S1", 20.0, "", "left"),
        RubPlace("junction", "M", 50.0, "S1", "left"),
    )
    rub = RubTree("R9", "proposed", "77", 0.0, 0.0, 50.0, spots, ("a",), ("W2",))
    told = [line for line in lines(replace(planned(two_spurs()), rub_trees=(rub,))) if "77" in line]
    assert told == [
        "Close M from its far end in: ruts smoothed, brush laid; rub tree 77: cut only if the "
        "owner marked it, else noted; not driven again"
    ]


def test_work_on_the_landing_itself() -> None:
    job = Job()
    job.trees.append({"tree_id": "y", "x": 50, "y": 50})
    job.load("y", stage="open")
    job.at("W1", "", 0.0, "a")
    job.load("a")
    said = lines(planned(job))
    assert said[0] == "Clear the landing; stems out as they fall: y (load D1)"
    assert said[1] == "W1, the landing: fell a"
    assert said[3] == "On the landing already: load D2"


def test_trees_without_a_winch_position_and_rub_trees_whose_load_waits() -> None:
    job = two_spurs()
    job.trees.append({"tree_id": "x", "x": 50, "y": 50, "marked": True})
    job.load("x", trail="S2", at_m=15.0)
    job.at("W6", "S1", 20.0, "rs")
    job.at("W7", "M", 30.0, "rm")
    job.load("rs", "rm", stage="rub")
    job.rub("rs", "S1", 15.0)
    job.rub("rm", "M", 25.0)
    said = lines(planned(job))
    assert "S2: fell x" in said
    assert "Haul load D2 in from S2" in said
    assert "Rub trees no other load will pass: fell and winch rs, far ones first" in said


def test_every_step_of_a_whole_plan_is_one_short_line() -> None:
    for units in get_args(Units):
        plan = made_work.worked(plan_fixture.plan(units))
        assert plan.work is not None
        kinds = set()
        trailer = (
            WorkStep(1, "small_open", "M1"), WorkStep(2, "carry", "M1", trips=(1, 2, 3)),
            WorkStep(3, "small_close", "M1"),
        )  # fmt: skip
        for step in (*plan.work.steps, *trailer):
            line = step_line(plan, step)
            kinds.add(step.kind)
            assert line and "\n" not in line and not line.endswith(".")
            assert len(line) < 220, line
            for name in (*step.turn_ids, step.position_id):
                assert name in line
        assert kinds == set(get_args(WorkKind))


def test_a_long_name_is_not_torn_apart() -> None:
    job = two_spurs()
    job.at("W5", "S2", 60.0, "North 12")
    job.load("North 12")
    plan = planned(job)
    assert plan.work is not None
    said = [step_line(plan, step) for step in plan.work.steps]
    assert any("fell North\N{NO-BREAK SPACE}12" in line for line in said)


def test_no_word_of_it_is_left_out_of_the_catalogue_or_promises_too_much() -> None:
    assert set(WORK_LINES.items()) <= set(ENGLISH.items())
    for words in WORK_LINES.values():
        assert not re.search(r"\b(safe|safely|permitted|approved|turn|turns)\b", words.lower())


def test_a_small_landing_is_told_from_its_making_to_its_closing() -> None:
    plan = made_work.worked(plan_fixture.plan())
    assert plan.work is not None
    two = replace(made_work.two_stage(plan), chosen=True)
    first = next(t for t in plan.work.turns if t.state == "planned")
    turns = tuple(replace(t, ends_at="small landing") if t is first else t for t in plan.work.turns)
    named = first.turn_id
    other = next(t.turn_id for t in turns if t.state == "planned" and t.turn_id != named)
    steps = (
        WorkStep(1, "small_open", "M1"),
        WorkStep(2, "haul", "S1", turn_ids=(named,)),
        WorkStep(3, "haul", "S1", turn_ids=(named, other)),
        WorkStep(4, "carry", "M1", trips=(1,)),
        WorkStep(5, "carry", "M1", trips=(2, 3, 4)),
        WorkStep(6, "small_close", "M1"),
    )

    def told(two: TwoStage) -> list[str]:
        work = replace(plan.work, two_stage=two, turns=turns, steps=steps)  # type: ignore[type-var]
        return lines(replace(plan, work=work))

    said = told(two)
    assert said[0].startswith("Small landing, M1 at 625 ft: clear and level it; ")
    assert said[0].endswith("turning place of tractor and trailer M1 at 100 ft")
    assert said[1].endswith(", to the small landing")
    assert said[2].endswith(f"; of these to the small landing: {named}")
    assert said[3:5] == [
        "Trailer takes the wood of the small landing on: trip 1",
        "Trailer takes the wood of the small landing on: trips 2 to 4",
    ]
    assert said[5].startswith("Small landing: bark and slash off")
    here = told(replace(two, turn_at_m=two.at_m))
    assert here[0].endswith("turning place of tractor and trailer on it")
