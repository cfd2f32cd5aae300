"""The order of work: every step and load once, a spur a block, a place a line."""

import itertools
import math
import re
from collections import Counter
from dataclasses import replace
from functools import cache
from typing import get_args

import made_order
import made_work
import plan_fixture
import pytest
from crew_sheets import UNITS_PAPERS, big, clear, order_sheets, talk_sheet, with_work, words
from hypothesis import given
from hypothesis import strategies as st
from test_outputs_crew_pdf import on, said

from layout.outputs.amounts import most_load
from layout.outputs.crew.sheet import width_of
from layout.outputs.crew.talk import next_boxes
from layout.outputs.crew.tick_runs import TICK_BOX, Run, cells
from layout.outputs.crew.work_rows import Rows
from layout.outputs.crew.work_said import hours_said, spans
from layout.outputs.tree_orders import two_lengths_m
from layout.outputs.words import ENGLISH
from layout.outputs.work_blocks import AT_PLACE, blocks, numbered
from layout.plan import Plan
from layout.work_records import CutShorter, PayloadLimit, Turn, Work, WorkStep

POUND_KG = 0.45359237  # international pound, by definition


pytestmark = pytest.mark.usefixtures("book_looks")


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Give the made-up plan with its work in a full order."""
    return made_order.ordered(plan_fixture.plan())


@pytest.fixture(scope="module")
def told(plan: Plan) -> str:
    """Give the words of its order of work."""
    return words(plan)


# the steps in blocks


@cache
def _work() -> Work:
    return made_order.order(plan_fixture.plan())


@st.composite
def works(draw: st.DrawFn) -> tuple[Work, int]:
    """Draw any row of steps over a few trails, positions and loads."""
    base = _work()
    names = [str(n) for n in range(draw(st.integers(0, 12)))]
    stages = draw(st.lists(st.sampled_from(["open", "harvest", "rub"]), min_size=len(names),
                           max_size=len(names)))  # fmt: skip
    turns = tuple(
        Turn(name, n + 1, stage, f"S{n % 3}", f"W{n % 4}", 1.0, 1.0, ((f"T{n}", 1),), (f"T{n}",),
             (f"W{n % 4}",), 1.0, 1.0, 500.0, "lift")
        for n, (name, stage) in enumerate(zip(names, stages, strict=True))
    )  # fmt: skip
    steps = [WorkStep(0, "haul", "", "", (), (name,)) for name in names]
    kinds = st.sampled_from(["flag", "open", "fell", "winch", "rub", "close", "landing"])
    rest = st.builds(
        WorkStep, st.just(0), kinds, st.sampled_from(["", "S0", "S1", "S2"]),
        st.sampled_from(["", "W0", "W1", "W2"]),
        st.lists(st.sampled_from(["a", "b", "c"]), max_size=2).map(tuple),
        minutes=st.floats(0, 60), done=st.booleans(),
    )  # fmt: skip
    steps = draw(st.permutations([*steps, *draw(st.lists(rest, max_size=20))]))
    numbered = tuple(replace(step, number=n) for n, step in enumerate(steps, start=1))
    return replace(base, turns=turns, steps=numbered), len(numbered)


PLAIN = works()


@given(PLAIN)
def test_every_step_and_load_is_in_one_line_in_the_plans_order(made: tuple[Work, int]) -> None:
    work, _ = made
    found = [number for block in blocks(work) for line in block.lines for number in line.numbers]
    assert found == [step.number for step in work.steps if not step.done]
    loads = Counter(name for block in blocks(work) for name in block.turn_ids)
    assert loads == Counter(t.turn_id for t in work.turns)
    minutes = sum(step.minutes for step in work.steps if not step.done)
    assert sum(block.minutes for block in blocks(work)) == pytest.approx(minutes)
    for block in blocks(work):
        for line in block.lines:
            kinds = {next(s.kind for s in work.steps if s.number == n) for n in line.numbers}
            assert set(line.does) == kinds
            assert kinds <= set(AT_PLACE) or kinds - {"haul"} == {line.does[0]} or kinds == {"haul"}


def test_a_spur_is_one_block_and_a_position_one_line(plan: Plan) -> None:
    assert plan.work is not None
    harvest = [b for b in blocks(plan.work) if b.part == "harvest"]
    assert len({b.trail_id for b in harvest}) == len(harvest)
    lines = [line.name for b in harvest for line in b.lines if line.does[0] in AT_PLACE]
    assert len(set(lines)) == len(lines)
    assert [b.part for b in blocks(plan.work) if b.part != "harvest"] == ["flag", "open", "landing"]


def test_hazard_trees_have_a_part_of_their_own_before_the_rest(plan: Plan) -> None:
    trees = plan.area.trees
    row = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    name = trees.tree_id[row]
    bad = tuple("dead_top" if i == row else "" for i in range(len(trees.tree_id)))
    assert plan.work is not None
    first = WorkStep(0, "fell", "M1", "M1-1", (name,))
    there = with_work(
        replace(plan, area=replace(plan.area, trees=replace(trees, hazard=bad))),
        steps=(first, *plan.work.steps),
    )
    told = words(there)
    head = r"1\. Hazard trees, before any other work near them"
    assert re.search(rf"{head} ☐ M1-1 65 fell {name};", told)
    assert told.index("1. Hazard") < told.index("2. Ribbons") < told.index("3. Open")
    plain = told.replace("\N{NO-BREAK SPACE}", " ")  # and it is not named to be felled again
    assert plain.count(f"{name} (down)") == plain.count("(down)") == 1
    assert plain.index(f"fell {name}") < plain.index(f"{name} (down)")


# the sheet


@pytest.mark.parametrize(("units", "paper"), UNITS_PAPERS)
def test_every_load_and_position_stands_on_the_sheet_once(units: str, paper: str) -> None:
    plan = on(made_order.ordered(plan_fixture.plan(units)), "outputs", paper=paper)
    assert plan.work is not None
    told = words(plan)
    hauled = [name for step in plan.work.steps for name in step.turn_ids if not step.done]
    assert Counter(hauled).most_common(1)[0][1] == 1
    for name in hauled:
        assert len(re.findall(rf"☐ {name}: ", told)) == 1, name
    places = {step.position_id for step in plan.work.steps if step.kind == "fell"}
    for name in places:
        assert len(re.findall(rf"☐ {name} \d+ ", told)) == 1, name
    for step in plan.work.steps:
        if step.kind in ("fell", "rub", "open"):
            assert all(re.search(rf"\b{tree}\b", told) for tree in step.tree_ids)
    closed = [step.trail_id for step in plan.work.steps if step.kind == "close"]
    assert told.count("ruts smoothed ☐") == len(closed)


def test_what_is_done_is_told_and_no_more_in_the_order(plan: Plan) -> None:
    made = made_work.worked(plan_fixture.plan())
    assert made.work is not None and plan.work is not None
    (there,) = [t.turn_id for t in made.work.turns if t.state == "done"]
    (gone,) = [t.turn_id for t in made.work.turns if t.state == "retired"]
    told = words(made)
    assert f"Done already: loads {there}" in told and f"☐ {there}" not in told
    assert f"Load numbers no longer used: {gone}." in told and f"☐ {gone}" not in told
    halfway = tuple(
        replace(s, done=s.kind in ("flag", "open") or s.trail_id == "S4") for s in plan.work.steps
    )
    told = words(with_work(plan, steps=halfway))
    assert "Done already: trails closed S4; loads " in told
    assert "1. Harvest" in told and "Open the trails" not in told and "S4 heaviest" not in told


def test_the_heaviest_load_is_the_blocks_least_and_never_rounded_up(plan: Plan, told: str) -> None:
    assert plan.work is not None
    for block in blocks(plan.work):
        loads = [t for t in plan.work.turns if t.turn_id in block.turn_ids]
        if block.part != "harvest" or not loads:
            continue
        pounds = min(t.limit_kg for t in loads) / POUND_KG
        shown = re.search(rf"{block.trail_id} at most ([\d,]+) lb \(wheels slip, ", told)
        assert shown is not None
        number = int(shown[1].replace(",", ""))
        assert number % 50 == 0 and number <= pounds < number + 50


def headings(plan: Plan) -> str:
    """Give the words of the rows that name a trail."""
    assert plan.work is not None
    rows = Rows(plan, 265.0)
    there = [one for one in numbered(blocks(plan.work)) if one.block.part == "harvest"]
    made = [rows.harvested(one.block, one.number)[0] for one in there]
    return " ".join(line for row in made for cell in row.cells for line in cell.lines)


def test_whatever_limits_a_load_has_its_words(plan: Plan) -> None:
    assert plan.work is not None
    for limit in get_args(PayloadLimit):
        turns = tuple(replace(t, limited_by=limit) for t in plan.work.turns)
        wanted = f"({ENGLISH[f'crew_work_by_{limit}']}, " if limit else "at most 1,5"
        assert wanted in headings(with_work(plan, turns=turns))
    level = replace(plan.work.pieces[0].way, limit_trail_id="")
    pieces = tuple(replace(p, way=level) for p in plan.work.pieces)
    told = " ".join(headings(with_work(plan, pieces=pieces)).split())  # its lines one text
    assert "lb (wheels slip, on the level) " in told
    unknown = tuple(replace(t, limit_kg=math.inf) for t in plan.work.turns)
    assert "heaviest load not known: start with little" in headings(with_work(plan, turns=unknown))


@given(st.floats(0, 50_000))
def test_a_load_is_said_to_fifty_pounds_or_twenty_kilograms_below(kg: float) -> None:
    for units, one, step in (("us", POUND_KG, 50), ("metric", 1.0, 20)):
        number = int(re.sub(r"\D", "", most_load(kg, units)))  # type: ignore[arg-type]
        assert number % step == 0
        assert number * one <= kg + 1e-6 and kg < (number + step) * one + 1e-6
    assert most_load(1500 * POUND_KG, "us") == "1,500 lb"
    assert most_load(math.nan, "metric") == ""


def test_where_the_tractor_waits_is_said_at_each_position(plan: Plan, told: str) -> None:
    for group in plan.felling_groups:
        position = next(p for p in plan.positions if p.position_id == group.position_id)
        row = re.search(rf"☐ {position.position_id} \d+ ([^☐]*)☐", told)
        assert row is not None
        if group.trail_id is None:
            assert "wait off the trails;" in row[1]
        elif not group.trail_id:
            assert "wait landing;" in row[1]
        else:
            assert f"wait {group.trail_id} 100 ft;" in row[1]  # 30 m is 98 ft: to 5 ft


def test_stems_cut_shorter_and_those_nothing_helps_are_told_at_their_line(plan: Plan) -> None:
    assert plan.work is not None
    first, second = [s.tree_ids[0] for s in plan.work.steps if s.kind == "fell"][:2]
    cut = (
        CutShorter(first, "", 700.0, "lift", 900.0, (3.048, 3.048, 2.4384)),
        CutShorter(second, "", 700.0, "lift", 900.0, ()),
    )
    told = words(with_work(plan, shorter=cut))
    assert f"{first} (cut 10, 10, 8 ft lengths)" in told
    assert f"{second} (no piece light enough: leave it standing)" in told
    even = replace(cut[0], lengths_m=(2.4384, 2.4384))
    assert f"{first} (cut 8 ft lengths)" in words(with_work(plan, shorter=(even,)))
    metric = made_order.ordered(plan_fixture.plan("metric"))
    assert f"{first} (cut 2.4 m lengths)" in words(with_work(metric, shorter=(even,)))


def test_pieces_are_told_where_a_tree_is_not_whole_on_its_load(plan: Plan, told: str) -> None:
    assert plan.work is not None
    many = Counter(piece.tree_id for piece in plan.work.pieces)
    split = [
        (t.turn_id, tree, n) for t in plan.work.turns for tree, n in t.pieces if many[tree] > 1
    ]
    for load, tree, number in split:
        row = re.search(rf"☐ {load}: ([^☐]*)", told)
        assert row is not None and f"{tree} ({number})" in row[1]
    assert spans([4, 2, 3]) == "2-4"


def test_what_is_left_of_a_tree_keeps_its_numbers_when_the_rest_is_in(plan: Plan) -> None:
    assert plan.work is not None
    load = next(t for t in plan.work.turns if t.stage == "harvest")
    tree, number = load.pieces[0]

    def held(done: frozenset[tuple[str, int]]) -> str:
        area = replace(plan.area, trees=replace(plan.area.trees, done_pieces=done))
        row = re.search(rf"☐ {load.turn_id}: ([^☐]*)", words(replace(plan, area=area)))
        assert row is not None
        return row[1]

    assert f"{tree} ({number})" not in held(frozenset())
    assert f"{tree} ({number})" in held(frozenset({(tree, number + 1)}))


def test_a_small_landing_has_its_loads_marked_its_trips_and_its_boxes(plan: Plan) -> None:
    assert plan.work is not None
    assert "small" not in words(plan).replace("small wood", "")
    two = replace(made_work.two_stage(plan), chosen=True)
    first, second, *_ = [t for t in plan.work.turns if t.stage == "harvest"]
    turns = tuple(
        replace(t, ends_at="small landing") if t in (first, second) else t for t in plan.work.turns
    )
    hauled = next(k for k, s in enumerate(plan.work.steps) if second.turn_id in s.turn_ids)
    steps = (
        *plan.work.steps[:2],
        WorkStep(0, "small_open", "M1"),
        *plan.work.steps[2 : hauled + 1],
        WorkStep(0, "carry", "M1", trips=(1, 2, 3, 4), minutes=60.0),
        WorkStep(0, "small_close", "M1"),
        *plan.work.steps[hauled + 1 :],
    )
    there = with_work(
        plan, turns=turns, two_stage=two,
        steps=tuple(replace(s, number=n) for n, s in enumerate(steps, start=1)),
    )  # fmt: skip
    told = words(there)
    assert "Loads marked (small) end at the small landing, M1 625 ft" in told
    for turn in turns:
        small = turn.ends_at == "small landing"
        assert (f"☐ {turn.turn_id} (small): " in told) is small
        assert (f"☐ {turn.turn_id}: " in told) is (not small)
    made = "small landing M1 625 ft, when its trail is open; ☐ cleared and level ☐ tractor"
    assert made in told
    assert "trailer ☐ trip 1 ☐ trip 2 ☐ trip 3 ☐ trip 4 close small landing ☐ wood, bark" in told
    assert told.index(made) < told.index("(small): ") < told.index("close small landing")
    assert there.work is not None
    boxes = next_boxes(blocks(there.work))
    assert boxes.index("small landing") == 2
    assert "trailer trips" in boxes
    lying = with_work(
        plan, turns=(replace(first, state="done", ends_at="small landing"), *turns[1:])
    )  # fmt: skip
    assert f"unless the trailer has taken them on already: loads {first.turn_id}." in words(lying)


def test_where_no_place_to_wait_is_named_the_distance_is(plan: Plan, told: str) -> None:
    off = math.ceil((two_lengths_m(plan) or 0.0) / 0.3048)  # the foot, by definition
    sentence = "everybody but the faller keeps two tree lengths off, the tractor too:"
    assert f"{sentence} {off} ft for the tallest marked here" in told
    assert plan.work is not None
    bare = tuple(
        replace(s, tree_ids=() if s.kind in ("open", "rub") else s.tree_ids)
        for s in plan.work.steps
    )
    assert sentence not in words(with_work(plan, steps=bare))


def test_rub_trees_come_out_with_their_place_and_logs_when_the_trail_is_closed(told: str) -> None:
    made = made_work.worked(plan_fixture.plan())
    there = words(made)
    assert "☐ rub T1 (R1, M1 190 ft left)" in there
    assert "close S1 ☐ ruts smoothed ☐ brush laid ☐ R3 log out" in there
    assert "☐ R2, tree T4: cut if the owner marked it" in told and "☐ R4 cut or noted" in told


def test_hours_are_a_range_rounded_outward(plan: Plan, told: str) -> None:
    assert plan.work is not None
    total = plan.work.times.total
    for minutes in (5.0, 47.0, 200.0, 60 * total.productive_h):
        said_h = hours_said(plan, minutes)
        numbers = [float(n) for n in re.findall(r"[\d.]+", said_h)]
        share = minutes / 60 / total.productive_h
        assert numbers[-1] >= share * total.high_h
        assert (numbers[0] if len(numbers) == 2 else 0) <= share * total.low_h
    assert hours_said(plan, 0.0) == ""
    low, high = plan.work.times.days_low, plan.work.times.days_high
    days = re.search(r"(\d+) to (\d+) days of 6 h, never a promise", told)
    assert days is not None and int(days[1]) <= max(low, 1) and int(days[2]) >= high


@pytest.mark.parametrize(
    ("units", "paper"), [UNITS_PAPERS[0], pytest.param(*UNITS_PAPERS[1], marks=pytest.mark.slow)]
)
def test_a_big_job_is_a_few_pages(units: str, paper: str) -> None:
    plan = big(units, paper)
    assert plan.work is not None
    made = order_sheets(plan)
    assert 2 <= len(made) <= 4
    clear(made[1])
    told = " ".join(said(sheet) for sheet in made)
    for turn in plan.work.turns:
        assert len(re.findall(rf"☐ {turn.turn_id}: ", told)) == 1


# how the sheets look


@pytest.mark.slow
@pytest.mark.parametrize(("units", "paper"), UNITS_PAPERS)
def test_no_words_lie_on_others_on_any_page(units: str, paper: str) -> None:
    for sheet in order_sheets(big(units, paper)):
        clear(sheet)
    there = on(made_order.ordered(plan_fixture.plan(units)), "outputs", paper=paper)
    for sheet in order_sheets(there):
        clear(sheet)


def test_long_names_have_their_line(plan: Plan) -> None:
    assert plan.work is not None
    name = "M1-7 by the old stone wall"
    spot = plan.positions[2]
    steps = tuple(
        replace(s, position_id=name if s.position_id == spot.position_id else s.position_id)
        for s in plan.work.steps
    )
    positions = tuple(replace(p, position_id=name) if p is spot else p for p in plan.positions)
    for sheet in order_sheets(with_work(replace(plan, positions=positions), steps=steps)):
        clear(sheet)


@given(
    st.lists(st.tuples(st.text("ab 1,", max_size=30), st.booleans(), st.booleans()), max_size=12),
    st.floats(60, 220),
)
def test_runs_stay_in_their_width_and_lose_no_word(
    given_runs: list[tuple[str, bool, bool]], width: float
) -> None:
    runs = [Run(text, boxed=boxed, bold=bold) for text, boxed, bold in given_runs]
    made = cells(runs, 10.0, width, 7.6)
    assert sum(cell.lines[-1] == TICK_BOX for cell in made) == sum(run.boxed for run in runs)
    spoken = [line for cell in made for line in cell.lines if line and line != TICK_BOX]
    assert "".join(spoken).replace(" ", "") == "".join(r.words for r in runs).replace(" ", "")
    for cell in made:
        for line in cell.lines:
            wide = width_of(line, cell.size_pt or 7.6, bold=cell.bold)
            # one letter may be wider than what a box leaves
            assert len(line) <= 1 or cell.x_pt + wide <= 10.0 + width + 1e-6
    last = [(len(cell.lines), cell.x_pt) for cell in made]
    assert all(a[0] <= b[0] + len(made) for a, b in itertools.pairwise(last))


def test_no_word_of_the_workshop_and_no_promise(plan: Plan) -> None:
    for sheet in (*order_sheets(plan), talk_sheet(plan)):
        found = re.search(
            r"\bsafe(ly|ty)?\b|\bturns?\b|\bgap\b|\bbound\b|\bobjective\b|lattice|\bsolver\b"
            r"|\bincline|wedge|payload|-\d+ %",
            said(sheet).lower().replace("winch-safety", ""),
        )
        assert found is None, found
