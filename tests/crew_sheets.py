"""Crew sheets of the work, drawn for tests: their words, and that nothing lies on anything."""

import itertools
from collections.abc import Callable
from dataclasses import replace

import made_order
import numpy as np
import plan_fixture
from test_outputs_crew_pdf import on, said, texts

from layout.outputs.crew import foot, talk, work_sheet
from layout.outputs.crew.sheet import LEAST_PT, MARGIN_PT, Sheet
from layout.outputs.crew.tick_runs import BOX_OUT_PT, TICK_BOX
from layout.plan import Plan
from layout.work_records import Turn, WorkStep

UNITS_PAPERS = [("us", "letter"), ("metric", "a4")]


def drawn(plan: Plan, draws: list[Callable[[Sheet], None]]) -> list[Sheet]:
    """Draw upright sheets, each with its foot."""
    made = []
    for number, draw in enumerate(draws, start=1):
        sheet = Sheet(plan.area.settings.outputs.paper)
        draw(sheet)
        foot.draw(sheet, plan, number, 99, 3)
        made.append(sheet)
    return made


def order_sheets(plan: Plan) -> list[Sheet]:
    return drawn(plan, work_sheet.pages(plan))


def talk_sheet(plan: Plan) -> Sheet:
    (sheet,) = drawn(plan, [lambda sheet: talk.draw(sheet, plan)])
    return sheet


def words(plan: Plan) -> str:
    """Give the words of the order of work, page after page."""
    return " ".join(said(sheet) for sheet in order_sheets(plan))


def with_work(plan: Plan, **parts: object) -> Plan:
    """Give the plan with other parts of its work."""
    assert plan.work is not None
    return replace(plan, work=replace(plan.work, **parts))  # type: ignore[arg-type]


def big(units: str, paper: str) -> Plan:
    """Give a plan of 65 trails, 130 winch positions and 200 loads, all on paper only."""
    plan = made_order.ordered(plan_fixture.plan(units))
    work = plan.work
    assert work is not None
    way_of = work.pieces[0].way
    pieces, turns, steps = [], [], [WorkStep(1, "flag", minutes=300.0)]

    def step(kind: str, trail: str = "", position: str = "", trees: tuple[str, ...] = (),
             loads: tuple[str, ...] = ()) -> None:  # fmt: skip
        steps.append(WorkStep(len(steps) + 1, kind, trail, position, trees, loads, 20.0))  # type: ignore[arg-type]

    for n in range(65):
        step("open", f"S{n}")
    for n, k in itertools.product(range(65), range(2)):
        trail, position = f"S{n}", f"W{2 * n + k}"
        trees = (f"{10 * (2 * n + k)}", f"{10 * (2 * n + k) + 1}")
        step("fell", trail, position, trees)
        step("winch", trail, position, trees)
        names = []
        for load in range(1 + (20 * n + k) % 13 // 6):
            names.append(f"{len(turns) + 1}")
            held = trees[:1] if load else trees
            turns.append(
                Turn(names[-1], len(turns) + 1, "harvest", trail, position, 30.0, 200.0,
                     tuple((tree, load + 1) for tree in held), held, (position,), 500.0, 0.5,
                     700.0 + n, "front_axle")
            )  # fmt: skip
            pieces += [
                replace(work.pieces[0], tree_id=t, number=load + 1, way=way_of) for t in held
            ]
        step("haul", trail, position, (), tuple(names))
        if k:
            step("close", trail)
    step("landing")
    there = with_work(on(plan, "outputs", paper=paper), steps=tuple(steps), turns=tuple(turns),
                      pieces=tuple(pieces))  # fmt: skip
    assert 190 <= len(turns) <= 260
    return there


def clear(sheet: Sheet) -> None:
    """Hold that words lie clear of each other, of the foot and inside the paper."""
    found = [t for t in texts(sheet) if t.get_text() != TICK_BOX]
    boxes = np.array([t.get_window_extent().extents for t in found])
    margin = (MARGIN_PT - 4) * sheet.figure.dpi / 72
    assert boxes[:, 0].min() > margin and boxes[:, 2].max() < sheet.figure.bbox.width - margin
    wide = np.minimum(boxes[:, None, 2], boxes[:, 2]) - np.maximum(boxes[:, None, 0], boxes[:, 0])
    high = np.minimum(boxes[:, None, 3], boxes[:, 3]) - np.maximum(boxes[:, None, 1], boxes[:, 1])
    hits = np.argwhere(np.triu((wide > 1.5) & (high > 4.5), k=1))
    assert not [(found[i].get_text(), found[j].get_text()) for i, j in hits]
    ticks = np.array(
        [t.get_window_extent().extents for t in texts(sheet) if t.get_text() == TICK_BOX]
    ).reshape(-1, 4)
    on_box = np.minimum(boxes[:, None, 2], ticks[:, 2]) - np.maximum(boxes[:, None, 0], ticks[:, 0])
    same = np.minimum(boxes[:, None, 3], ticks[:, 3]) - np.maximum(boxes[:, None, 1], ticks[:, 1])
    # a box's glyph has air inside its width, none of which is its ink
    over = np.argwhere((on_box > 2 * BOX_OUT_PT * 150 / 72 + 1) & (same > 6.0))
    assert not [found[i].get_text() for i, _ in over]
    assert min(float(t.get_fontsize()) for t in found) >= LEAST_PT
