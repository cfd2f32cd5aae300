"""Detail sheets with their lists on the back: every row once, where it lies, in one order."""

import itertools
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import made_order
import made_work
import plan_fixture
import pytest
from crew_sheets import clear, drawn, with_work
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Point, box
from test_closeout import closed
from test_outputs_crew_pdf import on, said, texts

from layout.outputs.crew import (
    book,
    closing_sheet,
    flagging,
    foot,
    listing,
    map_frames,
    map_sheet,
    maps,
    order_page,
    tree_list,
    walking,
    work_rows,
    work_sheet,
)
from layout.outputs.crew import north as grid_north
from layout.outputs.crew.detail_places import Places
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.order_page import tries
from layout.outputs.crew.ribbons import ribbons
from layout.outputs.crew.sheet import MARGIN_PT, Line, Sheet
from layout.outputs.crew.sheet_lists import SheetLists
from layout.outputs.crew.tick_runs import TICK_BOX
from layout.outputs.map_window import Window
from layout.outputs.words import ENGLISH
from layout.outputs.words.translations import tongue
from layout.outputs.work_blocks import Line as WorkLine
from layout.plan import Plan
from layout.tongue import speaking
from layout.work_records import WorkStep

SCALE = 900  # four detail sheets of the made-up plan and more
LONG_LISTS = 1500  # fewer sheets, whose lists fill a column and more


pytestmark = pytest.mark.usefixtures("book_looks")


def order_pages(plan: Plan, lists: SheetLists) -> list[listing.ListPage]:
    return min(tries(plan, lists), key=len)


def whole(units: str = "us", paper: str = "letter") -> Plan:
    """Give a plan with work, closing, and a hazard tree that comes down first."""
    plan = on(made_order.ordered(plan_fixture.plan(units)), "outputs", paper=paper)
    trees, work = plan.area.trees, plan.work
    assert work is not None
    row = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    kinds = tuple("dead_top" if i in (row, 3) else "" for i in range(len(trees)))
    plan = replace(plan, area=replace(plan.area, trees=replace(trees, hazard=kinds)))
    first = WorkStep(0, "fell", "M1", plan.trees[row].position_id, (trees.tree_id[row],))
    return closed(with_work(plan, steps=(first, *work.steps)))


def with_small_landing() -> Plan:
    """Give the plan with a small landing and its trailer's trips."""
    plan = whole()
    two = replace(made_work.two_stage(plan), chosen=True, turn_at_m=220.0)
    assert plan.work is not None
    steps = list(plan.work.steps)
    at = next(n for n, step in enumerate(steps) if step.kind == "open") + 1
    steps.insert(at, WorkStep(0, "small_open", "M1"))
    steps[-1:-1] = [WorkStep(0, "carry", trips=(1, 2)), WorkStep(0, "small_close", "M1")]
    steps = [replace(step, number=n) for n, step in enumerate(steps, start=1)]
    turns = tuple(
        replace(turn, ends_at="small landing") if n < 2 else turn
        for n, turn in enumerate(plan.work.turns)
    )
    return with_work(plan, two_stage=two, turns=turns, steps=tuple(steps))


def with_two_landings() -> Plan:
    """Give the plan worked from two landings, one after the other."""
    plan = whole()
    assert plan.work is not None
    x, y = plan_fixture.at(360, 330)
    more = replace(plan.landing, landing_id="L2", shape=Point(x, y).buffer(10), x=x, y=y)
    of = {t.trail_id: "L2" if t.trail_id in ("S3", "S4") else "L1" for t in plan.trails}
    steps = [replace(s, landing_id=of.get(s.trail_id, "L1")) for s in plan.work.steps]
    steps.append(replace(steps[-1], landing_id="L2"))
    steps.sort(key=lambda step: step.landing_id)
    steps = [replace(step, number=n) for n, step in enumerate(steps, start=1)]
    trails = tuple(replace(t, landing_id=of[t.trail_id]) for t in plan.trails)
    return closed(
        with_work(replace(plan, more_landings=(more,), trails=trails), steps=tuple(steps))
    )


def partly_done() -> Plan:
    """Give the plan with a third of its steps done."""
    plan = whole("metric", "a4")
    assert plan.work is not None
    steps = tuple(replace(s, done=n % 3 == 1) for n, s in enumerate(plan.work.steps))
    return with_work(plan, steps=steps)


PLANS: dict[str, Callable[[], Plan]] = {
    "us": whole,
    "metric": lambda: whole("metric", "a4"),
    "small_landing": with_small_landing,
    "two_landings": with_two_landings,
    "partly_done": partly_done,
    "no_work": lambda: replace(whole(), work=None, closeout=None),
}


@pytest.fixture(
    scope="module",
    params=[pytest.param(name, marks=() if name == "us" else pytest.mark.slow) for name in PLANS],
)
def plan(request: pytest.FixtureRequest) -> Plan:
    made: str = request.param
    return PLANS[made]()


def windows_of(plan: Plan, scale: int = SCALE) -> list[Window]:
    windows = map_frames.tiles(plan, scale)[1]
    assert len(windows) >= (4 if scale == SCALE else 2)
    return windows


def lists_of(plan: Plan, scale: int = SCALE) -> list[list[Sheet]]:
    """Draw the lists of every detail sheet."""
    windows = windows_of(plan, scale)
    lists = SheetLists(plan, windows)
    return [drawn(plan, lists.pages(k)) for k in range(len(windows))]


def by_line(plan: Plan, sheet: Sheet, column: int | None = None) -> list[str]:
    """Give the words of the columns, a printed line each, top to bottom, without the foot."""
    width = listing.column_pt(plan)
    floor = sheet.height_pt - MARGIN_PT - foot.height_pt(plan, sheet.inner_pt)
    lines: dict[tuple[bool, float], list[tuple[float, str]]] = {}
    for text in texts(sheet):
        assert isinstance(text, Line)
        x, y = text.get_position()
        if y < MARGIN_PT + listing.TITLE_PT or y > floor + 2:
            continue
        right = x > MARGIN_PT + width + 4
        left = x - text.get_window_extent().width * 72 / sheet.figure.dpi
        at = left if text.get_ha() == "right" else x
        words = text.get_text().replace("\N{NO-BREAK SPACE}", " ")
        lines.setdefault((right, round(float(y), 1)), []).append((at, words))
    return [
        " ".join(words for _, words in sorted(told))
        for (right, _), told in sorted(lines.items())
        if column is None or right == bool(column)
    ]


def rows_said(plan: Plan, sheets: list[Sheet], names: set[str]) -> Counter[str]:
    """Count what is printed, but for headings, titles and what a new column says again."""
    titles = {
        " ".join(c.lines[0].replace("\N{NO-BREAK SPACE}", " ") for c in row.cells)
        for row in (
            flagging.titles(), tree_list.TreeRows(plan).titles(), work_sheet.titles(plan),
            closing_sheet.titles(plan),
        )
    }  # fmt: skip
    found: Counter[str] = Counter()
    for sheet in sheets:
        for words in by_line(plan, sheet):
            if words in titles or words in names or words.endswith(", continued"):
                continue
            if re.match(r"\d+ (close|trailer)", words):  # heads what has no heading on the one list
                continue
            if re.match(r"[MS]\d, continued from|[MS]\d goes on from|\d+\. |landing L\d$", words):
                continue
            words = re.sub(r"^\d+ (?=(M1|S\d|Landing)\b)", "", words)
            if re.fullmatch(rf"({TICK_BOX} [MS]\d ?)+", words):  # trails opened side by side
                found.update(re.findall(rf"{TICK_BOX} [MS]\d", words))
            else:
                found[words] += 1
    return found


HEADINGS = {ENGLISH[key] for key in (
    "crew_flagging", "crew_trees", "crew_work", "crew_closing", "crew_care", "crew_reached",
    "crew_hazard_trees", "crew_missed",
)}  # fmt: skip


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Write in letters so small that lines break in the same places, numbered or not."""
    monkeypatch.setattr(work_rows, "SIZES_PT", (7.3,))
    monkeypatch.setattr(closing_sheet, "SIZES_PT", (7.2,))


@pytest.mark.usefixtures("small")
def test_every_row_of_the_lists_is_on_one_sheet(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (flagging, tree_list, closing_sheet):
        monkeypatch.setattr(module, "intro", lambda *_: [])
    monkeypatch.setattr(work_sheet, "how", lambda *_: [])
    monkeypatch.setattr(work_sheet, "told", lambda *_: [])
    monkeypatch.setattr(tree_list, "keep_off_words", lambda *_: [])
    monkeypatch.setattr(flagging, "stops", lambda *_: [])
    plain = rows_said(
        plan,
        [
            sheet
            for module in (flagging, work_sheet, closing_sheet, tree_list)
            for sheet in drawn(plan, module.pages(plan))
        ],
        HEADINGS,
    )
    split = sum((rows_said(plan, own, HEADINGS) for own in lists_of(plan)), Counter[str]())
    bearings = grid_north.in_short(plan)  # over the stations of each sheet
    for how in (ENGLISH["crew_lists_order"], ENGLISH["crew_care_how"], bearings):
        for lines in (plain, split):
            for words in list(lines):
                if words in how:
                    del lines[words]
    if plan.closeout is not None:  # the sums stand on the page of the order
        assert not any(words.startswith("All ") for words in split)
        (last,) = [words for words in plain if words.startswith("All ")]
        for words in [last, *({"all", "in all"} & set(plain))]:  # the sums may take two lines
            del plain[words]
    if plan.work is not None:
        flag = [w for w in plain if w.startswith(f"{TICK_BOX} Walk and flag")]
        for words in flag:
            del plain[words]
    assert split == plain


def test_trees_stations_and_trails_are_on_the_sheet_that_shows_them(plan: Plan) -> None:
    windows = windows_of(plan)
    made = [[w for sheet in own for w in by_line(plan, sheet)] for own in lists_of(plan)]
    trees = plan.area.trees
    for outcome, x, y in zip(plan.trees, trees.x.tolist(), trees.y.tolist(), strict=True):
        if outcome.status == "leave":
            continue
        start = "|".join([*(trail.trail_id for trail in plan.trails), "landing"])
        kind = re.compile(rf"^(☐ )?{outcome.tree_id} ({start}) ")
        (on_sheet,) = [k for k, lines in enumerate(made) if any(kind.match(w) for w in lines)]
        assert on_sheet == nearest(windows, x, y), outcome.tree_id
    for trail in plan.trails:
        short = min(min(w.east - w.west, w.north - w.south) for w in windows)
        if trail.kind == "main" or trail.line.length > short:
            continue
        head = f"{trail.trail_id}: leaves"
        (on_sheet,) = [k for k, lines in enumerate(made) if any(w.startswith(head) for w in lines)]
        w = windows[on_sheet]
        inside = trail.line.intersection(box(w.west, w.south, w.east, w.north)).length
        assert inside >= trail.line.length / 2


def nearest(windows: list[Window], x: float, y: float) -> int:
    """Give the sheet that shows a place, the one with the nearest middle of several."""
    here = [k for k, w in enumerate(windows) if w.west <= x <= w.east and w.south <= y <= w.north]
    return min(here or range(len(windows)), key=lambda k: Point(x, y).distance(
        Point((windows[k].west + windows[k].east) / 2, (windows[k].south + windows[k].north) / 2)
    ))  # fmt: skip


@cache
def made_places() -> tuple[list[Window], Places]:
    plan = plan_fixture.plan()
    return windows_of(plan), Places(plan, windows_of(plan))


@given(st.floats(-400, 800), st.floats(-400, 800))
def test_a_place_is_on_the_sheet_with_the_nearest_middle(east: float, north: float) -> None:
    windows, places = made_places()
    x, y = plan_fixture.at(east, north)
    found = places.at(x, y)
    near = nearest(windows, x, y)
    middles = [Point((w.west + w.east) / 2, (w.south + w.north) / 2) for w in windows]
    assert middles[found].distance(Point(x, y)) == pytest.approx(
        middles[near].distance(Point(x, y)), abs=1e-6
    )


def test_a_main_trail_goes_on_from_sheet_to_sheet(plan: Plan) -> None:
    windows = windows_of(plan)
    (main,) = [trail for trail in plan.trails if trail.kind == "main"]
    units = plan.area.settings.area.units
    way = walking.legs(main.line, plan.stations["M1"], ribbons(plan)["M1"], units)
    pieces = Places(plan, windows).pieces(main, way)
    assert len(pieces) >= 2 and [leg for _, legs in pieces for leg in legs] == way
    for sheet, legs in pieces:
        for leg in legs:
            end = main.line.interpolate(leg.to_m)
            assert sheet == nearest(windows, end.x, end.y)
    made = [" ".join(said(sheet) for sheet in own) for own in lists_of(plan)]
    for (k, before), (n, after) in itertools.pairwise(pieces):
        at = flagging.station_number(before[-1].to_m, units, main.line.length)
        assert before[-1].to_m == after[0].from_m
        assert f"M1 goes on from {at}: sheet {map_frames.letter(n)}" in made[k]
        assert f"M1, continued from {at}, sheet {map_frames.letter(k)}" in made[n]
    assert sum("M1: from landing L1" in words for words in made) == 1


def test_the_order_names_the_sheet_whose_lists_have_each_box(plan: Plan) -> None:
    lists = SheetLists(plan, windows_of(plan))
    (page,) = drawn(plan, order_pages(plan, lists))
    clear(page)
    told = said(page)
    made = [[w for s in own for w in by_line(plan, s)] for own in lists_of(plan)]
    if plan.work is None:
        assert "How the lists are read" in told and TICK_BOX not in told
        return
    sheets = {map_frames.letter(k): lines for k, lines in enumerate(made)}
    numbers = []
    blocks = [b for b in work_sheet.todo(plan) if b.part == "harvest"]
    harvest = re.findall(rf"{TICK_BOX} (\d+) ([^({TICK_BOX}]+) \(([A-Z])\)", told)
    assert len(blocks) == len(harvest) >= 3
    windows, parked = windows_of(plan), {p.position_id: p for p in plan.positions}
    for (number, name, sheet), block in zip(harvest, blocks, strict=True):
        numbers.append(int(number))
        assert [k for k, lines in sheets.items() if any(
            re.match(rf"{number} {name}\b", words) for words in lines)] == [sheet]  # fmt: skip
        there = Counter(
            map_frames.letter(nearest(windows, parked[n].x, parked[n].y))
            for n in (line.name for line in block.lines) if n in parked
        )  # fmt: skip
        assert not there or there[sheet] == max(there.values())
    assert numbers == list(range(1, len(numbers) + 1))
    for trail, sheet in re.findall(rf"{TICK_BOX} ([MS]\d) \(([A-Z])\)", told):
        assert any(re.search(rf"{TICK_BOX} {trail}\b", w) for w in sheets[sheet])
    opened = [w for b in work_sheet.todo(plan) if b.part == "open" for w in b.lines]
    assert len(re.findall(rf"{TICK_BOX} (?:[MS]\d|small landing) \(", told)) == len(opened)
    first = [b for b in work_sheet.todo(plan) if b.part == "hazard"]
    for line in (line for block in first for line in block.lines):
        (sheet,) = re.findall(rf"{TICK_BOX} {line.name} {line.tree_ids[0]} \(([A-Z])\)", told)
        assert any(f"fell {line.tree_ids[0]};" in w for w in sheets[sheet])
    landings = re.findall(rf"{TICK_BOX} Landing \(([A-Z])\)", told)
    assert landings == [
        map_frames.letter(lists.places.landing(b.landing_id))
        for b in work_sheet.todo(plan) if b.part == "landing"
    ]  # fmt: skip


@pytest.mark.parametrize("count", range(1, 12))
def test_no_line_of_a_paragraph_is_left_alone(count: int) -> None:
    words = " ".join(["wwwwwwwwww"] * count)  # one to a line
    rows = order_page._paragraph(words, 60.0)
    held = [len(row.cells[0].lines) for row in rows]
    assert sum(held) == count and (count == 1 or min(held) > 1) and max(held) <= 4


def test_work_is_sent_to_the_sheet_where_it_is(plan: Plan) -> None:
    """A trail is opened where it begins; work at no position is where its trees stand."""
    if plan.work is None:
        return
    windows = windows_of(plan)
    lists = SheetLists(plan, windows)
    opened = {
        line.name: sheet
        for sheet, one in lists.shares
        if one.block.part == "open"
        for line in one.block.lines
        if line.does[0] == "open"
    }
    ways = {trail.trail_id: pieces for trail, pieces in lists._ways}
    assert opened and all(ways[name][0][0] == sheet for name, sheet in opened.items())
    assert any(lists.places.trails[name] != sheet for name, sheet in opened.items())
    (block, *_) = [b for b in work_sheet.todo(plan) if b.part == "harvest"]
    trees = plan.area.trees
    main = plan.trails[0]
    for row in (0, len(trees.x) - 1):
        line = WorkLine(main.trail_id, ("fell",), (trees.tree_id[row],), (), ())
        there = lists.places.block(replace(block, trail_id=main.trail_id, lines=(line,)))
        assert map_frames.letter(there) == map_frames.letter(
            lists.places.at(float(trees.x[row]), float(trees.y[row]))
        )


def test_a_trail_has_its_bars_on_the_sheet_where_it_is_closed(plan: Plan) -> None:
    if plan.work is None or plan.closeout is None:
        return
    lists = SheetLists(plan, windows_of(plan))
    closed = {
        line.name: sheet
        for sheet, one in lists.shares
        for line in one.block.lines
        if line.does[0] == "close"
    }
    count = len(windows_of(plan))
    for name, sheet in closed.items():  # most of the trail lies elsewhere than its last work
        lists.places.trails[name] = (sheet + 1) % count
    listed = {
        item.trail_id: sheet
        for sheet in range(count)
        if (part := lists._closing(sheet)) is not None
        for item in plan.closeout.items
        if any(item.trail_id in c.lines for row in part.rows for c in row.cells[:2])
    }
    assert len(closed) > 1 and {name: listed[name] for name in closed} == closed


def test_every_column_inside_a_list_begins_with_its_titles(plan: Plan) -> None:
    titles = {
        name: " ".join(c.lines[0].replace("\N{NO-BREAK SPACE}", " ") for c in row.cells)
        for name, row in (
            ("Flagging sheet", flagging.titles()),
            ("Marked trees", tree_list.TreeRows(plan).titles()),
            ("Order of work", work_sheet.titles(plan)),
            ("Closing", closing_sheet.titles(plan)),
        )
    }
    inside = 0
    for own in lists_of(plan, LONG_LISTS):
        last = ""
        for sheet, column in itertools.product(own, (0, 1)):
            lines = by_line(plan, sheet, column)
            if not lines:
                continue
            if lines[0] not in titles:
                assert lines[0] == titles[last]
                inside += 1
            last = [words for words in [last, *lines] if words in titles][-1]
    assert inside >= 2


@pytest.mark.parametrize(
    ("units", "paper", "language"),
    [
        pytest.param("us", "letter", "en", marks=pytest.mark.slow),
        pytest.param("us", "letter", "es", marks=pytest.mark.slow),
        pytest.param("metric", "a4", "en", marks=pytest.mark.slow),
        ("metric", "a4", "es"),
    ],
)
def test_lists_are_clear_in_both_languages(units: str, paper: str, language: str) -> None:
    plan = whole(units, paper)
    with speaking(tongue(language, plan.area.settings.area.units)):
        made = [sheet for own in lists_of(plan) for sheet in own]
        made += drawn(plan, order_pages(plan, SheetLists(plan, windows_of(plan))))
    for sheet in made:
        clear(sheet)
    words = " ".join(said(sheet) for sheet in made)
    spanish = language == "es"
    assert ("Not sheet by sheet" in words, "No hoja por hoja" in words) == (not spanish, spanish)
    assert ("In brackets" in words, "Entre paréntesis" in words) == (not spanish, spanish)


def test_a_sheet_with_nothing_of_its_own_says_so() -> None:
    plan = whole()
    far = Window(*plan_fixture.at(5000, 5000), *plan_fixture.at(5100, 5100), 7.0, 7.0)
    lists = SheetLists(plan, [*windows_of(plan), far])
    (sheet,) = drawn(plan, lists.pages(len(windows_of(plan))))
    assert "Nothing is listed for this sheet" in " ".join(by_line(plan, sheet))


# the book


def with_details(monkeypatch: pytest.MonkeyPatch, plan: Plan) -> maps.MapSet:
    """Have the book drawn with detail sheets, as it is where numbers have no room."""
    frame, windows = map_frames.tiles(plan, SCALE)
    wide, ground = map_frames.whole(plan)
    details = [MapPage(f"detail {k}", frame, w, numbered=True) for k, w in enumerate(windows)]
    chosen = maps.MapSet(
        (MapPage("all", wide, ground, numbered=False, tiles=tuple(windows)), *details),
        *map_sheet.contours(plan, ground),
    )
    monkeypatch.setattr(maps, "chosen", lambda _: chosen)
    return chosen


def test_the_book_has_the_maps_in_front_and_their_lists_behind(
    plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    details = len(with_details(monkeypatch, plan).pages) - 1
    told = []
    for landscape, draw in book.drawings(plan):
        sheet = Sheet(plan.area.settings.outputs.paper, landscape)
        draw(sheet)
        told.append(f"MAP {said(sheet)}" if sheet.frames else said(sheet))
    fronts = [n for n, words in enumerate(told) if words.startswith("MAP")][1:]
    assert len(fronts) == details and all(n % 2 == 0 for n in fronts)  # page 1 is number 0
    assert fronts[0] <= 8
    for k, (front, after) in enumerate(itertools.pairwise([*fronts, len(told)])):
        backs = told[front + 1 : after]
        head = f"Detail sheet {map_frames.letter(k)}: lists"
        assert backs and sum(head in words for words in backs) >= len(backs) - 1
        assert all(head in words or "Notes" in words for words in backs)
        assert head in backs[0]
    assert not any("lists" in words.split(".")[0] for words in told[: fronts[0]])
    stops = [finding.message for finding in plan.findings if finding.level == "stop"]
    full = [
        n for n, words in enumerate(told, start=1)
        if all(stop in re.sub(r"\s+", " ", words) for stop in stops)
    ]  # fmt: skip
    assert stops and full == [book.stops_page(plan)]


def test_stops_stand_at_the_head_of_the_order() -> None:
    plan = whole()
    (page,) = drawn(plan, order_pages(plan, SheetLists(plan, windows_of(plan))))
    assert by_line(plan, page)[0] == ENGLISH["crew_stops"]


def test_more_stops_than_fit_go_on_and_nothing_is_lost() -> None:
    plan = whole()
    stops = tuple(replace(f, message=f"{f.message} {n}") for n in range(60)
                  for f in plan.findings if f.level == "stop")  # fmt: skip
    there = replace(plan, findings=stops)
    made = drawn(there, order_pages(there, SheetLists(there, windows_of(there))))
    assert len(made) > 1
    words = " ".join(" ".join(by_line(there, sheet)) for sheet in made)
    assert all(stop.message in words for stop in stops)
    for sheet in made:
        clear(sheet)


def test_a_tree_its_map_does_not_show_is_told_so(plan: Plan) -> None:
    one = windows_of(plan)[:1]  # so all trees are on its list
    part = SheetLists(plan, one)._listed_trees(0)
    assert part is not None
    words = [" ".join(line for cell in row.cells for line in cell.lines) for row in part.rows]
    trees = plan.area.trees
    shown = {
        name: one[0].shows(x, y) for name, x, y in zip(trees.tree_id, trees.x, trees.y, strict=True)
    }
    told = {}
    for row, told_of in zip(part.rows, words, strict=True):
        names = [cell.lines[0] for cell in row.cells if cell.bold and cell.lines[0] in shown]
        told |= {name: "not on this map" in told_of for name in names if not row.head}
    assert set(told.values()) == {True, False}
    assert all(told[name] != shown[name] for name in told)
