"""A trailer's steps among the others: the small landing made, emptied and closed in order."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
import work_checker
from made_plan import layout_only

import layout
from layout.plan import Plan
from layout.trailer_steps import with_trailer
from layout.work_records import Turn, TwoStage, WorkKind, WorkStep

METRIC = Path(__file__).parent / "data" / "metric_area"


def load(name: str, wood: float = 1.0, *, short: bool = True) -> Turn:
    return Turn(
        name, 0, "harvest", "S1", "W1", 10.0, 50.0, ((name, 1),), (name,), ("W1",), 500.0, wood,
        900.0, "traction", ends_at="small landing" if short else "landing",
    )  # fmt: skip


def order(*acts: tuple[WorkKind, str] | tuple[WorkKind, str, str]) -> list[WorkStep]:
    return [
        WorkStep(k, act[0], act[1], turn_ids=tuple(act[2].split()) if len(act) > 2 else ())
        for k, act in enumerate(acts, start=1)
    ]


def told(steps: tuple[WorkStep, ...]) -> list[str]:
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    return [
        f"{s.kind} {s.trail_id} {' '.join(map(str, s.trips or s.turn_ids))}".rstrip() for s in steps
    ]


PLAIN = order(
    ("flag", ""), ("open", "M"), ("open", "S1"), ("haul", "S1", "D1"), ("haul", "S1", "D2"),
    ("close", "S1"), ("haul", "M", "D3"), ("close", "M"), ("landing", ""),
)  # fmt: skip


def test_the_small_landing_is_made_emptied_and_closed_in_its_place() -> None:
    two = TwoStage("", "M", 90.0, chosen=True, trips=3, carrying_min=60.0)
    steps = with_trailer(PLAIN, [load("D1"), load("D2"), load("D3", short=False)], two)
    assert told(steps) == [
        "flag", "open M", "small_open M", "open S1", "haul S1 D1", "haul S1 D2", "close S1",
        "carry M 1 2 3", "small_close M", "haul M D3", "close M", "landing",
    ]  # fmt: skip
    assert [s.minutes for s in steps if s.kind == "carry"] == [60.0]


def test_a_small_landing_in_use_is_not_made_again() -> None:
    two = TwoStage("", "M", 90.0, chosen=True, trips=3, carrying_min=60.0, in_use=True, loads_in=2)
    steps = with_trailer(PLAIN, [load("D1"), load("D2"), load("D3", short=False)], two)
    assert "small_open M" not in told(steps)
    assert [s.trips for s in steps if s.kind == "carry"] == [(1, 2, 3)]


def test_what_lies_at_the_small_landing_is_carried_before_its_trail_is_closed() -> None:
    two = TwoStage("", "M", 90.0, chosen=True, trips=2, carrying_min=60.0, in_use=True, loads_in=2)
    none = [load("D3", short=False)]
    assert told(with_trailer(PLAIN, none, two))[-5:] == [
        "haul M D3", "carry M 1 2", "small_close M", "close M", "landing",
    ]  # fmt: skip
    assert told(with_trailer(PLAIN[-1:], none, two)) == ["carry M 1 2", "small_close M", "landing"]
    assert told(with_trailer((), none, two)) == ["carry M 1 2", "small_close M"]
    idle = replace(two, trips=0, loads_in=0)
    assert with_trailer(PLAIN, none, idle) == tuple(PLAIN)


def test_a_small_landing_that_fills_is_emptied_each_time() -> None:
    two = TwoStage("", "M", 90.0, chosen=True, trips=3, carrying_min=60.0, fillings=2)
    steps = with_trailer(PLAIN, [load("D1", 2.0), load("D2"), load("D3", short=False)], two)
    assert told(steps)[4:10] == [
        "haul S1 D1", "carry M 1 2", "haul S1 D2", "close S1", "carry M 3", "small_close M",
    ]  # fmt: skip
    assert [s.minutes for s in steps if s.kind == "carry"] == pytest.approx([40.0, 20.0])
    dark = with_trailer(PLAIN, [load("D1", math.nan), load("D2", math.nan)], two)
    assert "carry M 1 2 3" in told(dark)


def test_where_its_trail_is_open_already_it_is_made_before_the_first_load() -> None:
    steps = [
        WorkStep(1, "open", "M", done=True), WorkStep(2, "flag"), WorkStep(3, "fell", "M", "W9"),
        WorkStep(4, "haul", "S1", turn_ids=("D1",)), WorkStep(5, "close", "M"),
    ]  # fmt: skip
    two = TwoStage("", "M", 90.0, chosen=True, trips=1)
    assert told(with_trailer(steps, [load("D1")], two)) == [
        "open M", "flag", "fell M", "small_open M", "haul S1 D1", "carry M 1", "small_close M",
        "close M",
    ]  # fmt: skip


def test_without_a_load_that_ends_there_nothing_is_added() -> None:
    two = TwoStage("", "M", 90.0, chosen=True, trips=1)
    assert with_trailer(PLAIN, [load("D1", short=False)], two) == tuple(PLAIN)


def with_a_trailer() -> Plan:
    area = layout.read_area(METRIC)
    trailer = area.settings.trailer.model_copy(
        update={"use": True, "braked": True, "downhill_pct": 15.0}
    )
    settings = area.settings.model_copy(update={"trailer": trailer})
    return layout_only(replace(area, settings=settings))


@pytest.mark.slow
def test_a_second_opinion_finds_nothing_in_a_plan_with_a_trailer() -> None:
    plan = with_a_trailer()
    assert plan.work is not None
    assert plan.work.two_stage is not None
    assert plan.work.two_stage.chosen
    kinds = [step.kind for step in plan.work.steps]
    assert {"small_open", "carry", "small_close"} <= set(kinds)
    short = [turn for turn in plan.work.turns if turn.ends_at == "small landing"]
    assert len(short) == plan.work.two_stage.turns_through
    assert 0 < len(short) < len(plan.work.turns)
    assert work_checker.of_work(plan) == []
    # what limits a load lies on the way it is dragged
    way_of = {(p.tree_id, p.number): p.way for p in plan.work.pieces}
    for turn in short:
        assert turn.limit_kg == min(way_of[key].limit_kg for key in turn.pieces)
        for key in turn.pieces:
            way = way_of[key]
            at_m = plan.work.two_stage.at_m or 0.0
            assert way.limit_trail_id != "M" or way.limit_at_m > at_m - 1.5
    spoiled = tuple(s for s in plan.work.steps if s.kind != "carry")
    faults = work_checker.of_work(replace(plan, work=replace(plan.work, steps=spoiled)))
    assert {"wood_left_on_small_landing", "trips"} <= {fault.kind for fault in faults}
