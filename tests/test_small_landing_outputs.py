"""A small landing in every output that leads somebody there; nowhere without one."""

from dataclasses import replace
from pathlib import Path

import made_order
import made_work
import matplotlib as mpl
import plan_fixture
import pytest
from crew_sheets import with_work
from test_outputs_crew_pdf import said

from layout.outputs import map_marks, payloads, rows
from layout.outputs.crew import book, maps, ribbons
from layout.outputs.crew.sheet import Sheet
from layout.outputs.device.marks import marks
from layout.outputs.report import trailer
from layout.outputs.report.tally import Tally
from layout.outputs.stop_order import SMALL_LANDING
from layout.outputs.trailer_place import stems_on
from layout.outputs.turn_table import write
from layout.outputs.words import say
from layout.plan import Plan
from layout.site import Trees


def ordered() -> Plan:
    return made_order.ordered(plan_fixture.plan())


@pytest.fixture(scope="module")
def there() -> Plan:
    """Give the made-up plan with a small landing on M1 at 190 m and two loads that end there."""
    plan = ordered()
    assert plan.work is not None
    two = replace(made_work.two_stage(plan), chosen=True, turn_at_m=220.0)
    turns = tuple(
        replace(turn, ends_at="small landing") if n < 2 else turn
        for n, turn in enumerate(plan.work.turns)
    )
    return with_work(plan, two_stage=two, turns=turns)


def without() -> tuple[Plan, Plan]:
    plan = ordered()
    return plan, with_work(plan, two_stage=made_work.two_stage(plan))


def test_the_geopackage_has_its_outline(there: Plan) -> None:
    assert there.work is not None
    assert there.work.two_stage is not None
    (row,) = rows.of_layer(there, "small_landing")
    assert row.shape is not None
    assert row.shape.equals(there.work.two_stage.shape)
    assert row.values["trail_id"] == "M1"
    assert (row.values["at_m"], row.values["turn_at_m"]) == (190.0, 220.0)
    assert row.values["area_m2"] == pytest.approx(row.shape.area, abs=0.1)
    ends = [row.values["ends_at"] for row in rows.of_layer(there, "turns")]
    assert ends[:3] == ["small landing", "small landing", "landing"]
    for plan in without():
        assert rows.of_layer(plan, "small_landing") == ()


def test_turns_csv_says_where_each_load_ends(there: Plan, tmp_path: Path) -> None:
    write(there, tmp_path / "turns.csv")
    header, *lines = (tmp_path / "turns.csv").read_text(encoding="utf-8").splitlines()
    assert header.endswith(",state,ends_at")
    assert [line.rpartition(",")[2] for line in lines[:3]] == [
        "small landing", "small landing", "landing",
    ]  # fmt: skip


def test_the_map_shows_it_and_its_legend_says_what_it_is(there: Plan) -> None:
    words = say("mark_small_landing")
    for plan, shown in ((there, True), *((plan, False) for plan in without())):
        with mpl.rc_context():
            mpl.rcdefaults()
            mpl.rcParams.update(book.LOOK)
            page = maps.chosen(plan)
            (_, draw), *_ = page.drawings(plan)
            sheet = Sheet("letter", page.pages[0].frame.landscape)
            draw(sheet)
        told = said(sheet)
        assert ("small landing" in told) is shown
        _, texts = map_marks.legend_entries(plan, page.pages[0].window)
        assert (words in texts) is shown


def test_ribbons_hang_where_it_lies_and_where_the_trailer_comes_round(there: Plan) -> None:
    hung = {r.at_m: r.text.replace("\u00a0", " ") for r in ribbons.ribbons(there)["M1"]}
    assert hung[190.0] == "small landing"
    assert hung[220.0] == "turning place of the trailer"
    assert there.work is not None
    assert there.work.two_stage is not None
    here = with_work(there, two_stage=replace(there.work.two_stage, turn_at_m=190.0))
    hung = {r.at_m: r.text.replace("\u00a0", " ") for r in ribbons.ribbons(here)["M1"]}
    assert hung[190.0] == "small landing, turning place of the trailer"
    told = [r.text for plan in without() for some in ribbons.ribbons(plan).values() for r in some]
    assert not [text for text in told if "small" in text]


def test_phones_find_it(there: Plan) -> None:
    (mark,) = [m for m in marks(there) if m.kind == SMALL_LANDING]
    assert mark.spot is not None
    assert mark.shape.contains(mark.spot)
    assert len(mark.label) <= 8
    for words in ("small landing, M1 at 625 ft", "14 loads end here", "M1 at 720 ft"):
        assert words in mark.note, words
    assert not [m for plan in without() for m in marks(plan) if m.kind == SMALL_LANDING]


def test_the_report_names_the_loads_that_end_there(there: Plan) -> None:
    assert there.work is not None
    first, second, *_ = [turn.turn_id for turn in there.work.turns]
    told = str(trailer.part(Tally(there)))
    assert f"end at the small landing, all others on the landing: {first}, {second}." in told
    assert "Tractor and trailer turn round:" in told
    assert "These loads end" not in str(trailer.part(Tally(without()[1])))


def test_spurs_beyond_it_are_held_to_the_way_to_it(there: Plan) -> None:
    assert there.work is not None
    assert there.work.two_stage is not None
    far = max((t for t in there.trails if t.joins_id == "M1"), key=lambda t: t.joins_at_m or 0.0)
    at_m = (far.joins_at_m or 0.0) - 5.0
    steps = tuple(
        replace(s, payload_kg=300.0 if s.trail_id == "M1" and s.to_m < at_m - 15 else 800.0,
                payload_by="traction")
        for s in there.steps
    )  # fmt: skip
    two = replace(there.work.two_stage, at_m=at_m)
    short = replace(with_work(there, two_stage=two), steps=steps)
    long = replace(with_work(there, two_stage=None), steps=steps)
    assert payloads.to_landing(long)[far.trail_id].kg == 300.0
    assert payloads.to_landing(short)[far.trail_id].kg == 800.0
    near = min((t for t in there.trails if t.joins_id == "M1"), key=lambda t: t.joins_at_m or 0.0)
    for name in ("M1", near.trail_id):
        assert payloads.to_landing(short)[name] == payloads.to_landing(long)[name]


def test_stems_that_stand_on_it_are_named_to_the_owner(there: Plan) -> None:
    assert there.work is not None
    assert there.work.two_stage is not None
    assert there.work.two_stage.shape is not None
    spot = there.work.two_stage.shape.centroid
    trees: Trees = there.area.trees
    row = next(i for i, o in enumerate(there.trees) if (o.status, o.role) == ("leave", "leave"))
    x, y = trees.x.copy(), trees.y.copy()
    x[row], y[row] = spot.x, spot.y
    moved = replace(there, area=replace(there.area, trees=replace(trees, x=x, y=y)))
    assert trees.tree_id[row] in stems_on(moved)
    gone = replace(moved.area.trees, done=frozenset({trees.tree_id[row]}))
    assert trees.tree_id[row] not in stems_on(replace(moved, area=replace(moved.area, trees=gone)))
    assert stems_on(without()[0]) == ()
