"""What the checks say of trails and landings reaches the crew where it is; what waits, waits."""

from dataclasses import replace

import made_order
import matplotlib as mpl
import numpy as np
import plan_fixture
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from layout.findings import Finding
from layout.outputs.crew import flagging, listing, north, talk
from layout.outputs.crew.columns import Row
from layout.outputs.crew.rub_logs import logs_to_lay
from layout.outputs.crew.sheet import Sheet
from layout.outputs.crew.work_rows import Rows
from layout.outputs.crew.work_sheet import todo
from layout.outputs.map_labels import Labels, Look
from layout.outputs.trail_cares import landing_cares, trail_cares
from layout.outputs.work_blocks import numbered
from layout.plan import Plan
from layout.records import RubPlace, RubTree


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_order.ordered(plan_fixture.plan())


def said(rows: list[Row]) -> list[str]:
    return [" ".join(word for cell in row.cells for word in cell.lines if word) for row in rows]


def with_findings(plan: Plan, *found: Finding) -> Plan:
    return replace(plan, findings=found)


def on_trail(code: str, trail: str, from_m: float, to_m: float, value: float) -> Finding:
    return Finding(code, "caution", "", "trails", trail, value=value, from_m=from_m, to_m=to_m)


def test_what_is_said_of_one_stretch_stands_together_the_gravest_first(plan: Plan) -> None:
    trail = plan.trails[0].trail_id
    steep = with_findings(
        plan,
        on_trail("load_may_run", trail, 30.0, 44.0, 24.0),
        on_trail("tractor_brakes", trail, 32.0, 40.0, 24.0),
        on_trail("cross_slope", trail, 70.0, 74.0, 16.0),
        on_trail("grade_chance", trail, 33.0, 33.0, 70.0),
    )
    first, second = trail_cares(steep)[trail]
    assert (first.from_m, first.to_m) == (30.0, 44.0)
    assert [words.split(":")[0].split(";")[0] for words in first.words] == [
        "24 % down", "24 % down", "may be steeper than measured (about 2 in 3)",
    ]  # fmt: skip
    assert "brakes" in first.words[0] and "nobody below" in first.words[1]
    assert (second.from_m, second.to_m) == (70.0, 74.0)
    assert second.words == ("ground 16 % across: may tip or slide",)


def test_a_wide_mouth_stands_for_itself_and_a_grade_is_not_said_twice(plan: Plan) -> None:
    trail = plan.trails[0].trail_id
    wide = on_trail("junction_angle", trail, 0.0, 15.0, 66.0)
    flat = on_trail("grade_flat", trail, 10.0, 50.0, 40.0)
    down = on_trail("grade_favourable", trail, 60.0, 80.0, 17.0)
    mouth, wet, steep = trail_cares(with_findings(plan, wide, flat, down))[trail]
    assert mouth.words == ("opens wide: loads rub at the corner",)
    assert (mouth.to_m, wet.from_m, wet.to_m) == (15.0, 10.0, 50.0)
    assert wet.words == ("nearly level, water stands: only dry or frozen",)
    assert steep.words == ("17 % down loaded, past where care begins: low gear before it",)
    runs = on_trail("load_may_run", trail, 62.0, 70.0, 17.0)
    (both,) = trail_cares(with_findings(plan, down, runs))[trail]
    assert len(both.words) == 1 and "nobody below" in both.words[0]


def test_a_trail_that_climbs_loaded_says_what_to_do_and_never_a_length_for_its_grade(
    plan: Plan,
) -> None:
    trail = plan.trails[0].trail_id
    up = on_trail("grade_adverse", trail, 20.0, 32.0, 12.7)
    chance = on_trail("grade_chance", trail, 20.0, 20.0, 21.0)
    (both,) = trail_cares(with_findings(plan, up, chance))[trail]
    assert (both.from_m, both.to_m) == (20.0, 32.0)
    assert both.words[0].startswith("13 % up loaded: front may lift; no load heavier")
    assert both.words[1].startswith("may be steeper")
    there = plan.stations[trail]
    climbs = np.where((there.at_m >= 20.0) & (there.at_m <= 32.0), 11.0, 14.0)
    walked = {**plan.stations, trail: replace(there, grade_pct=climbs)}
    long = replace(up, level="stop", value=45.0, unit="m")  # over 10 % for 45 m
    (told,) = trail_cares(replace(with_findings(plan, long), stations=walked))[trail]
    assert told.words[0].startswith("11 % up loaded")
    steepest = trail_cares(replace(with_findings(plan, long, up), stations=walked))[trail]
    assert steepest[0].words[0].startswith("13 % up loaded")


def test_every_stretch_is_told_once_on_the_list_of_its_trail(plan: Plan) -> None:
    made = []
    for trail in plan.trails:
        ends = np.linspace(0.0, trail.line.length, 5)
        made += [
            on_trail("load_may_run", trail.trail_id, a + 0.2, a + 1.0, 21.0) for a in ends[:-1]
        ]
    told = said(flagging.rows(with_findings(plan, *made)))
    assert sum("a load may push or run" in words for words in told) == len(made)
    # in two pieces, as two sheets have them, no stretch is lost or told twice
    trail, way = flagging.ways(plan)[0]
    width_pt = listing.column_pt(plan)
    there = with_findings(plan, *made)
    for cut in range(1, len(way)):
        pieces = (way[:cut], way[cut:])
        rows = [r for legs in pieces for r in flagging.stretch_rows(there, trail, legs, width_pt)]
        assert len(rows) == 4


def test_a_landing_says_what_to_take_care_of(plan: Plan) -> None:
    name = plan.landing.landing_id
    wet = Finding("water_hollow_landing", "caution", "", "landing", name)
    there = with_findings(plan, wet, replace(wet, code="landing_truck"))
    assert len(landing_cares(there)[name]) == 2
    width_pt = listing.column_pt(plan)
    assert any(w.startswith(f"{name} ") and "wet" in w for w in
               said(flagging.care_rows(there, width_pt, {name})))  # fmt: skip
    assert not any(w.startswith(f"{name} ") for w in
                   said(flagging.care_rows(there, width_pt, {"elsewhere"})))  # fmt: skip


def test_the_talk_asks_for_the_plate_where_tyres_alone_do_not_hold(plan: Plan) -> None:
    slips = Finding("pull_anchoring", "caution", "", "pulls", "")
    for found, words in (((slips,), "at EVERY pull"), ((), "butt plate down")):
        sheet = Sheet("letter", landscape=False)
        talk.draw(sheet, replace(plan, findings=found))
        assert any(words in line.get_text() for line in sheet.figure.findobj(mpl.text.Text))


def test_a_log_is_laid_with_the_trail_that_comes_in_and_has_a_ribbon(plan: Plan) -> None:
    spur = next(t for t in plan.trails if t.joins_id)
    at = RubPlace("junction", spur.joins_id, spur.joins_at_m or 0.0, spur.trail_id, "left")
    log = RubTree("R9", "bumper", "", *spur.line.coords[0][:2], 10.0, (at,))
    there = replace(plan, rub_trees=(log,))
    assert logs_to_lay(there) == {spur.trail_id: [(log, at)]}
    rows = Rows(there, listing.column_pt(plan))
    opened = [one.block for one in numbered(todo(there)) if one.block.part == "open"]
    told = [words for block in opened for words in said(rows.opened(block))]
    (line,) = [words for words in told if "R9: lay a log" in words]
    assert spur.trail_id in line and "left" in line
    assert any(
        "R9\N{NO-BREAK SPACE}log\N{NO-BREAK SPACE}left" in w for w in said(flagging.rows(there))
    )


def test_wood_of_free_trees_has_its_box_on_a_load_with_one_that_waits(plan: Plan) -> None:
    assert plan.work is not None
    turn = next(t for t in plan.work.turns if len({tree for tree, _ in t.pieces}) > 1)
    held, *free = dict.fromkeys(tree for tree, _ in turn.pieces)
    rows = Rows(plan, listing.column_pt(plan))
    rows._barred = frozenset({held})
    line = next(
        line for one in numbered(todo(plan)) for line in one.block.lines
        if turn.turn_id in line.turn_ids
    )  # fmt: skip
    run = next(r for r in rows._loads(line) if turn.turn_id in r.words)
    assert run.boxed and "HOLD" in run.words and free[0] in run.words
    rows._barred = frozenset({held, *free})
    run = next(r for r in rows._loads(line) if turn.turn_id in r.words)
    assert not run.boxed and "HOLD" not in run.words


@pytest.mark.parametrize(
    ("declination", "turn", "compass"),
    [
        (-12.5, 0.0, "plus 12.5"),
        (3.0, 0.0, "minus 3.0"),
        (None, 0.0, "____"),
        (-12.5, 1.0, "plus 13.5"),
    ],
)
def test_a_compass_reads_the_grid_bearing_and_turn_less_declination(
    plan: Plan,
    monkeypatch: pytest.MonkeyPatch,
    declination: float | None,
    turn: float,
    compass: str,
) -> None:
    """FM 3-25.26, chapter 6 (from memory): magnetic = true - declination, + to the east."""
    monkeypatch.setattr(north, "grid_turn_deg", lambda *place: turn)
    table = plan.area.settings.outputs.model_copy(update={"declination_deg": declination})
    settings = plan.area.settings.model_copy(update={"outputs": table})
    there = replace(plan, area=replace(plan.area, settings=settings))
    assert f"By compass: {compass}" in north.in_short(there)


def test_a_name_nearer_to_another_mark_has_a_line_to_its_own() -> None:
    figure = Figure(figsize=(6, 6), dpi=72)
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 432), ylim=(0, 432))

    def lines(marks: list[tuple[float, float]]) -> int:
        axes.clear()
        axes.set(xlim=(0, 432), ylim=(0, 432))
        labels = Labels(axes, canvas)
        labels.avoid_points(marks, 4.0, 0.0)
        labels.beside("W30", [(200.0, 200.0)], Look(9.0), clear_pt=12.0, must=True)
        return len(axes.lines)

    assert lines([(200.0, 200.0)]) == 0
    # where the right side is another's, there is room on the left
    assert lines([(200.0, 200.0), (212.0, 200.0)]) == 0
    others = [(200.0 + 12.0 * x, 200.0 + 12.0 * y) for x in range(-9, 10) for y in range(-9, 10)]
    assert lines(others) == 2  # nearer to another wherever it stands: a line, and its casing
