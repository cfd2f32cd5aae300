"""Start-of-day talk, the book it stands in, and rub trees on paper and phone."""

import math
import re
from dataclasses import replace

import made_order
import plan_fixture
import pytest
from crew_sheets import clear, drawn, talk_sheet, with_work
from matplotlib.text import Text
from test_outputs_crew_pdf import on, said, texts

from layout.outputs.amounts import most_load
from layout.outputs.crew import book, foot, talk, tree_list
from layout.outputs.crew.sheet import MARGIN_PT, Sheet
from layout.outputs.device.notes import Notes
from layout.outputs.tree_orders import two_lengths_m
from layout.plan import Plan
from layout.work_records import WorkStep


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Give the made-up plan with its work in a full order."""
    return made_order.ordered(plan_fixture.plan())


pytestmark = pytest.mark.usefixtures("book_looks")


# the talk


def test_the_talk_says_who_stands_where_and_when_to_stop(plan: Plan) -> None:
    """Practice items of insurers' and winch pages, and 29 CFR 1910.266 (h)(5) on chokers."""
    told = re.sub(" +", " ", said(talk_sheet(plan)))
    off = math.ceil((two_lengths_m(plan) or 0.0) / 0.3048)  # the foot, by definition
    assert 100 < off < 400
    for phrase in (
        "Start-of-day talk", "Not walked and flagged = not ready.", "fells", "winches", "Date",
        "radio channel", "Nothing moves until the signal is received and repeated.",
        "Anyone's stop is stop.", "ruts over 6 in deep for over 50 ft", "rain due", "thaw",
        "about 16 ft to the side of the winch", "never in the seat", "walks behind it",
        "in the bight", "inside the angle of a snatch block", "Choke from the uphill side",
        "every 30 min with", f"two tree lengths ({off} ft for the tallest marked here)", "signed",
        "STOP: rollover frame not confirmed", "STOP: seat belt not confirmed", "low gear",
        "belly guard: not confirmed",
        "29 CFR 1910.266 (h)(5)", "rope (unverified: sources differ)",
    ):  # fmt: skip
        assert phrase in told, phrase
    next_ones = "ribbons, open M1, open S1, open S2, open S3, open S4 and so on"
    assert f"As planned, the order of work goes on with: {next_ones}." in told


def test_what_is_next_are_the_first_boxes_not_done_hazard_trees_among_them(plan: Plan) -> None:
    assert plan.work is not None
    row = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    name = plan.area.trees.tree_id[row]
    bad = tuple("dead_top" if i == row else "" for i in range(len(plan.trees)))
    area = replace(plan.area, trees=replace(plan.area.trees, hazard=bad))
    first = WorkStep(1, "fell", "M1", "M1-1", (name,))
    flag, *rest = plan.work.steps
    steps = (flag, first, *rest)

    def told(steps: tuple[WorkStep, ...]) -> str:
        there = replace(plan, area=area, work=replace(plan.work, steps=steps))
        return re.sub("[ \u00a0]+", " ", said(talk_sheet(there)))

    assert f"goes on with: ribbons, hazard trees {name}, open M1, open S1," in told(steps)
    late = tuple(replace(s, done=s.kind in ("flag", "open", "fell")) for s in steps)
    assert "goes on with: harvest S4, harvest S3, harvest S2, harvest S1," in told(late)
    last = tuple(replace(s, done=s.kind not in ("close", "landing")) for s in steps)
    assert re.search(r"goes on with: close S4, .*close M1, (tidy|close the landing)", told(last))
    assert "goes on with: tidy and close the landing." in told(steps[-1:])


def test_the_talk_speaks_the_areas_units_and_of_its_own_machine() -> None:
    metric = on(made_order.ordered(plan_fixture.plan("metric")), "outputs", paper="a4")
    yes = dict.fromkeys(("rollover_frame", "belt", "screen", "belly_guard", "front_ballast"), "yes")
    fitted = on(on(metric, "tractor", drive="2wd", chains=True, **yes), "winch", operation="radio")
    told = re.sub(" +", " ", said(talk_sheet(on(fitted, "work", crew=3, watcher="Ann Example",
                                               check_in_min=45.0, radio_channel="7"))))  # fmt: skip
    assert "not confirmed" not in told
    assert all(f"☐ {part}" in told for part in ("rollover frame", "belly guard", "chains"))
    assert "four-wheel" not in told and "rear brakes only" in told
    assert "Winch operator with radio" in told and "ruts over 15 cm" in told
    assert "every 45 min with Ann Example" in told and "radio channel 7" in told
    assert "Alone" not in told and re.search(r"two tree lengths \(\d\d m for", told)
    assert told.count("signed") == 4  # in pairs


@pytest.mark.parametrize(("paper", "crew"), [("a4", 1), ("letter", 20)])
def test_the_talk_is_one_page_clear_of_its_foot(plan: Plan, paper: str, crew: int) -> None:
    there = on(on(plan, "outputs", paper=paper), "work", crew=crew, watcher="far beyond " * 30)
    there = on(there, "area", name="Lot of a long name " * 10)
    sheet = talk_sheet(there)
    clear(sheet)
    bare = Sheet(paper)  # type: ignore[arg-type]
    talk.draw(bare, there)
    floor = (MARGIN_PT + foot.height_pt(there, sheet.inner_pt)) * sheet.figure.dpi / 72
    assert min(text.get_window_extent().y0 for text in texts(bare)) > floor - 14


# the book


@pytest.fixture(scope="module")
def book_sheets(plan: Plan) -> list[Sheet]:
    """Give every sheet of the book of a lone crew, as drawn."""
    return sheets_of(on(plan, "work", crew=1, watcher=""))


def sheets_of(there: Plan) -> list[Sheet]:
    made = []
    for number, (landscape, draw) in enumerate(book.drawings(there), start=1):
        sheet = Sheet("letter", landscape)
        draw(sheet)
        foot.draw(sheet, there, number, 99, 3)
        if sheet.frames:
            sheet.canvas.draw()  # a legend's words have their places only then
        made.append(sheet)
    return made


@pytest.mark.slow
def test_talk_follows_the_emergency_sheet_and_the_order_stands_before_the_trees(
    plan: Plan, book_sheets: list[Sheet]
) -> None:
    made = [said(sheet) for sheet in book_sheets]
    titles = ("EMERGENCY", "Start-of-day talk", "crew map", "Flagging sheet", "Order of work",
              "Marked trees", "Before you start")  # fmt: skip
    at = [next(n for n, told in enumerate(made) if title in told) for title in titles]
    assert at == sorted(at) and at[:3] == [0, 1, 2]
    # where there is room the stand has paper of its own, else it stands above the profiles
    for title in ("Stand sheet", "Trail profiles"):
        assert at[-2] <= next(n for n, told in enumerate(made) if title in told) < at[-1]
    assert "Flagging sheet" in made[book.stops_page(plan) - 1]
    assert all("WORKING ALONE: check in every 30 min with" in told for told in made)
    assert len(made) == book.MOST_PAGES
    bare = [said(sheet) for sheet in sheets_of(replace(plan, work=None))]
    assert not any("Start-of-day talk" in told or "Order of work" in told for told in bare)


def test_a_lone_crew_reads_who_watches_on_every_foot(plan: Plan) -> None:
    for crew, watcher, phrase in (
        (1, "Ann Example", "check in every 20 min with Ann Example"), (2, "Ann Example", None),
    ):  # fmt: skip
        there = on(plan, "work", crew=crew, watcher=watcher, check_in_min=20.0)
        sheet = Sheet("letter")
        foot.draw(sheet, there, 1, 1, 1)
        assert (phrase in said(sheet)) if phrase else "ALONE" not in said(sheet)
        emergency = Sheet("letter")
        book.emergency.draw(emergency, there)
        assert "Ann Example" in said(emergency)


# rub trees on maps, in the list and in the files for a phone


def test_rub_trees_have_their_marks_and_names_on_the_map(
    plan: Plan, book_sheets: list[Sheet]
) -> None:
    (sheet,) = [sheet for sheet in book_sheets if sheet.frames]
    lines = [line for axes in sheet.figure.axes[1:2] for line in axes.lines]
    for kind, marker in (("marked", "p"), ("proposed", None), ("bumper", None), ("look", None)):
        rub = next(r for r in plan.rub_trees if r.kind == kind)
        there = [
            line for line in lines
            if (rub.x, rub.y) in set(zip(line.get_xdata(), line.get_ydata(), strict=True))
        ]  # fmt: skip
        marks = {
            line.get_marker() if isinstance(line.get_marker(), str) else None for line in there
        }
        assert marker in marks, kind
    told = {t.get_text() for t in texts(sheet)}
    assert {"R2", "R3", "R4", "T1"} <= told and "R1" not in told  # R1 is the tree T1
    legend = {t.get_text().replace("\n", " ") for t in texts(sheet) if isinstance(t, Text)}
    assert {"rub tree: cut last", "proposed rub tree", "corner: log or stem"} <= legend


def test_the_tree_list_says_which_trees_are_cut_last(plan: Plan) -> None:
    row = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    trees = tuple(replace(o, role="rub") if i == row else o for i, o in enumerate(plan.trees))
    told = " ".join(said(s) for s in drawn(plan, tree_list.pages(replace(plan, trees=trees))))
    name = plan.trees[row].tree_id
    assert re.search(rf"☐ {name} [^☐]*RUB TREE[^☐]*: cut it last", told)


def test_a_phone_says_the_loads_of_a_position_and_how_heavy(plan: Plan) -> None:
    assert plan.work is not None
    notes = Notes(plan)
    spot = next(p for p in plan.positions if p.position_id == "M1-1")
    loads = [t for t in plan.work.turns if "M1-1" in t.position_ids]
    most = most_load(min(t.limit_kg for t in loads), "us")
    names = ", ".join(t.turn_id for t in loads)
    kind = "load" if len(loads) == 1 else "loads"
    assert f"{kind} {names}, at most {most} a load" in notes.winch_position(spot)
    in_already = tuple(replace(t, state="done") for t in plan.work.turns)
    assert "load" not in Notes(with_work(plan, turns=in_already)).winch_position(spot)
    assert "load" not in Notes(replace(plan, work=None)).winch_position(spot)
