"""What stands beside a tree or a winch position on paper and on a phone: what to do first.

Two tree lengths and one are worked by hand from heights typed in; positions from
findings as the checks give them.
"""

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import made_order
import matplotlib as mpl
import numpy as np
import plan_fixture
import pyproj
import pytest
from matplotlib.text import Text
from shapely.geometry import LineString, Point, box

from layout.drawing.network import of_plan
from layout.findings import Finding
from layout.outputs import gpx
from layout.outputs.crew import (
    book,
    columns,
    flagging,
    foot,
    letters,
    listing,
    map_frames,
    map_sheet,
    tree_list,
    tree_words,
    work_sheet,
)
from layout.outputs.crew.finding import marked
from layout.outputs.crew.ribbons import ribbons
from layout.outputs.crew.sheet import Sheet, width_of
from layout.outputs.crew.work_rows import Rows
from layout.outputs.device import degrees
from layout.outputs.device.notes import whole_file
from layout.outputs.position_cares import cares
from layout.outputs.tree_orders import barred, idle_positions, keep_off, near_hazards, orders
from layout.outputs.words import say
from layout.outputs.work_blocks import numbered
from layout.outputs.work_lines import StepLines
from layout.plan import Plan
from layout.records import Lay, WinchPosition
from layout.site import Hazard
from layout.work_records import WorkStep

FT = 0.3048


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def served(plan: Plan, count: int) -> list[int]:
    """Give rows of reached trees."""
    return [i for i, o in enumerate(plan.trees) if o.status == "served"][:count]


def listed(plan: Plan, **fields: object) -> Plan:
    """Give a plan whose tree list has other columns."""
    return replace(plan, area=replace(plan.area, trees=replace(plan.area.trees, **fields)))


def dead(plan: Plan, kinds: dict[int, str]) -> Plan:
    hazard = tuple(kinds.get(i, "") for i in range(len(plan.area.trees)))
    return listed(plan, hazard=hazard)


def by_a_wire(plan: Plan, row: int, *, height_m: float, away_m: float) -> Plan:
    """Put a wire so far to the north of one tree, whose height and place are exact."""
    height, error = plan.area.trees.height_m.copy(), plan.area.trees.position_error_m.copy()
    height[row], error[row] = height_m, 0.0
    x, y = float(plan.area.trees.x[row]), float(plan.area.trees.y[row])
    wire = LineString([(x - 0.1, y + away_m), (x + 0.1, y + away_m)])
    made = listed(plan, height_m=height, position_error_m=error)
    return replace(made, area=replace(made.area, hazards=(Hazard("H1", "wire", wire),)))


def lines(rows: Iterable[columns.Row]) -> list[str]:
    return [line for row in rows for cell in row.cells for line in cell.lines if line]


def said(draws: Iterable[object], plan: Plan) -> str:
    """Draw sheets and give their words."""
    words = []
    with mpl.rc_context():
        mpl.rcParams.update(book.LOOK)
        for draw in draws:
            sheet = Sheet(plan.area.settings.outputs.paper)
            draw(sheet)  # type: ignore[operator]
            words += [t.get_text() for t in sheet.figure.findobj(Text)]  # type: ignore[union-attr]
    return re.sub(r"\s+", " ", " ".join(words))


def points(plan: Plan, folder: Path) -> dict[str, str]:
    """Give the notes of a plan.gpx by waypoint, its stop in the order of work left out."""
    way = degrees.way(plan.area)
    assert way is not None
    gpx.write(plan, folder / "plan.gpx", way)
    space = "{http://www.topografix.com/GPX/1/1}"
    root = ElementTree.parse(folder / "plan.gpx").getroot()
    fronts = {name: front for mark, name, front in gpx.named(plan) if mark.points()}
    said = {p.findtext(f"{space}name", ""): p for p in root.iter(f"{space}wpt")}
    return {
        name.removeprefix(fronts[name]): point.findtext(f"{space}desc", "")
        for name, point in said.items()
    }


# trees near a wire or the line


@pytest.mark.parametrize(("away", "near"), [(39.9, True), (40.1, False)])
def test_a_tree_by_a_wire_is_told_so_wherever_it_is_named(
    plan: Plan, tmp_path: Path, away: float, near: bool
) -> None:
    (row,) = served(plan, 1)
    made = by_a_wire(plan, row, height_m=20.0, away_m=away)
    name = made.area.trees.tree_id[row]
    words = "NEAR wire H1, within two tree lengths: the utility drops or shields it first"
    assert (words in [order.text for order in orders(made).get(name, ())]) == near
    own = [t for t in marked(made) if t.tree_id == name]
    rows = tree_list._reached(own, tree_list._Lines("us", 271.0, 25.0, orders(made), {}, {}))
    told = " ".join(lines(rows))
    assert (words in told) == near and "☐" in told  # it is still one to cut
    assert (words in points(made, tmp_path)[name]) == near


def test_the_wire_itself_says_how_many_trees_and_what_comes_first(plan: Plan) -> None:
    (row,) = served(plan, 1)
    made = by_a_wire(plan, row, height_m=20.0, away_m=5.0)
    count = near_hazards(made)["H1"]
    stems = [
        i for i, o in enumerate(made.trees)
        if o.status != "leave" and made.area.hazards[0].geometry.distance(
            Point(made.area.trees.x[i], made.area.trees.y[i])) < 2 * 85 * FT
    ]  # fmt: skip
    assert count == len(stems) > 1  # the others were not measured and count as 85 ft
    drawings = [draw for _, draw in book.drawings(made)][1:2]
    assert f"wire H1: {count} trees near, utility drops it first" in said(drawings, made)


def by_the_line(plan: Plan, row: int, away_m: float, *, drawn: bool = True) -> Plan:
    """Put the line so far south of one tree 20 m high, whose place is exact.

    It is a surveyed line, known to 2 ft, 0.6096 m.
    """
    made = by_a_wire(plan, row, height_m=20.0, away_m=500.0)
    x, y = float(made.area.trees.x[row]), float(made.area.trees.y[row])
    line = LineString([(x - 0.1, y - away_m), (x + 0.1, y - away_m)])
    if drawn:
        return replace(made, area=replace(made.area, property_line=line))
    stand = box(x - 2000, y - away_m, x + 2000, y + 4000)
    return replace(made, area=replace(made.area, property_line=None, stand=stand))


@pytest.mark.parametrize(("away", "near"), [(20.6, True), (20.62, False)])
def test_a_tree_within_its_length_of_the_line(plan: Plan, away: float, near: bool) -> None:
    (row,) = served(plan, 1)
    made = by_the_line(plan, row, away)
    told = [order.text for order in orders(made).get(made.area.trees.tree_id[row], ())]
    assert ("NEAR THE LINE, within a tree length: do not fell it across" in told) == near


@pytest.mark.parametrize("drawn", [True, False])
@pytest.mark.parametrize(("away", "doubt"), [(0.6, True), (0.62, False)])
def test_a_tree_that_may_be_the_neighbours_has_no_box_and_no_lay(
    plan: Plan, tmp_path: Path, away: float, doubt: bool, drawn: bool
) -> None:
    row = next(r for r in served(plan, 20) if plan.lays and laid(plan, r).azimuth_deg is not None)
    made = by_the_line(plan, row, away, drawn=drawn)
    name = made.area.trees.tree_id[row]
    words = f"MAY NOT BE YOURS, {away / FT:.0f} ft from the " + (
        "line: confirm it first" if drawn
        else "stand's edge, which counts as the line: confirm it first"
    )  # fmt: skip
    assert (words in [order.text for order in orders(made).get(name, ())]) == doubt
    own = [t for t in marked(made) if t.tree_id == name]
    set_ = tree_list._Lines("us", 271.0, 25.0, orders(made), {name: laid(made, row)}, {})
    (made_row,) = tree_list._reached(own, set_)
    told = " ".join(lines([made_row]))
    bearing = f"{round(laid(made, row).azimuth_deg or 0.0) % 360:03d}\N{DEGREE SIGN}"
    assert ("\N{BALLOT BOX}" not in told) == doubt
    assert (bearing not in told.replace(tree_words.way_said(own[0]), "")) == doubt
    note = points(made, tmp_path)[name]
    assert note.startswith(f"HOLD, not to be cut as it stands; {words}") == doubt
    assert ("suggested lay" not in note) == doubt


def laid(plan: Plan, row: int) -> Lay:
    (lay,) = [lay for lay in plan.lays if lay.tree_id == plan.area.trees.tree_id[row]]
    return lay


# hazard trees


def test_hazard_trees_come_before_all_else(plan: Plan, tmp_path: Path) -> None:
    (cut,) = served(plan, 1)
    made = dead(plan, {cut: "hung", 3: "dead_top"})
    first, stays = made.area.trees.tree_id[cut], made.area.trees.tree_id[3]
    assert not made.area.trees.marked[3]
    assert [tree.tree_id for tree in keep_off(made)] == [stays]
    words = said(tree_list.pages(made), made)
    assert f"CUT FIRST, before any other work near them: {first}." in words
    assert "HAZARD TREE (hung): cut it first" in words
    # 85 ft where it was not measured, and two lengths of it
    assert "HAZARD TREE (dead top), not marked: keep two tree lengths off, 170 ft" in words
    assert words.index("CUT FIRST") < words.index("Marked and reached")
    assert not re.search(rf"☐ {stays} ", words)
    notes = points(made, tmp_path)
    assert notes[first].startswith("HAZARD TREE (hung): cut it first")
    assert notes[f"H{stays}"].startswith(
        f"{stays}: HAZARD TREE (dead top), not marked: keep two tree lengths off"
    )


def test_a_tree_within_the_distance_of_a_hazard_tree_left_standing_is_not_one_to_cut(
    plan: Plan, tmp_path: Path
) -> None:
    """What stands 0.1 m inside its two lengths has no box; 0.1 m outside it has one."""
    (row, far, bad) = (*served(plan, 2), 3)
    trees = plan.area.trees
    off_m = next(iter(keep_off(dead(plan, {bad: "dead_top"})))).reach_m
    x, y = trees.x.copy(), trees.y.copy()
    x[bad], y[bad] = x[row] + off_m - 0.1, y[row]
    x[far], y[far] = x[bad] + off_m + 0.1, y[bad]
    made = dead(listed(plan, x=x, y=y), {bad: "dead_top"})
    name, other, hazard = (trees.tree_id[k] for k in (row, far, bad))
    (order,) = [o for o in orders(made)[name] if o.kind == "ask"]
    assert order.bars
    assert f"from HAZARD TREE {hazard} (dead top), not marked: nobody works here" in order.text
    assert not any(hazard in o.text for o in orders(made).get(other, ()))
    words = said(tree_list.pages(made), made)
    assert re.search(rf"(?<!☐ ){name} ", words) and not re.search(rf"☐ {name} ", words)
    assert re.search(rf"☐ {other} ", words)
    note = next(text for key, text in points(made, tmp_path).items() if key.endswith(name))
    assert f"HAZARD TREE {hazard}" in note
    # the order of work has no box for it, nor for its loads, and says why
    worked = made_order.ordered(made)
    assert worked.work is not None and name in barred(worked)
    rows = lines(work_sheet.rows(worked, Rows(worked, listing.column_pt(worked)),
                                 numbered(work_sheet.todo(worked))))  # fmt: skip
    told = " ".join(" ".join(rows).split())
    assert f"{name} HOLD: see the marked trees" in told.replace("\N{NO-BREAK SPACE}", " ")
    step = next(s for s in worked.work.steps if name in s.tree_ids)
    assert f"HOLD, see the marked trees: {name}" in StepLines(worked).line(step)
    at = made.trees[row].position_id
    notes = points(made, tmp_path)
    assert any(k.endswith(at) and f"HOLD, see the tree: {name}" in t for k, t in notes.items())
    done = listed(made, done=frozenset({hazard}))  # it lies: work goes on
    assert not any(hazard in o.text for o in orders(done).get(name, ()))


def test_a_tree_that_comes_out_when_its_trail_is_opened_has_one_order(
    plan: Plan, tmp_path: Path
) -> None:
    made = made_order.ordered(plan)
    work = made.work
    assert work is not None
    (row,) = served(made, 1)
    name, position = made.trees[row].tree_id, made.trees[row].position_id
    pulls = tuple(
        replace(p, sure="doubtful", p_out_of_reach=0.4) if p.tree_id == name else p
        for p in made.pulls
    )
    made = replace(made, pulls=pulls)
    before = said(tree_list.pages(made), made)
    assert f"from {position}" in points(made, tmp_path)[name] and "reach doubtful" in before
    opens = next(step for step in work.steps if step.kind == "open")
    steps = tuple(
        replace(step, tree_ids=(*step.tree_ids, name)) if step is opens else step
        for step in work.steps
    )
    opened = replace(made, work=replace(work, steps=steps))
    text = f"OUT WITH {opens.trail_id} when it is opened, not by rope"
    assert [o.text for o in orders(opened)[name] if o.kind == "open"] == [text]
    words = said(tree_list.pages(opened), opened)
    assert text in words
    assert words.count("reach doubtful") == before.count("reach doubtful") - 1
    note = points(opened, tmp_path)[name]
    assert text in note and "winch from" not in note


def test_a_load_of_a_tree_to_hold_has_no_box(plan: Plan) -> None:
    made = made_order.ordered(plan)
    work = made.work
    assert work is not None
    bad = next(i for i, o in enumerate(made.trees) if o.status == "leave")
    trees = made.area.trees
    row_of = {name: i for i, name in enumerate(trees.tree_id)}
    turn = next(t for t in work.turns if t.pieces[0][0] in row_of and t.stage == "harvest")
    row = row_of[turn.pieces[0][0]]
    x, y = trees.x.copy(), trees.y.copy()
    x[bad], y[bad] = x[row] + 5.0, y[row]
    held = dead(listed(made, x=x, y=y), {bad: "split"})
    for there, boxed in ((made, True), (held, False)):
        setting = Rows(there, listing.column_pt(there))
        (line,) = [
            one for block in work_sheet.todo(there) for one in block.lines
            if turn.turn_id in one.turn_ids
        ]  # fmt: skip
        runs = {run.words.split(":")[0]: run.boxed for run in setting._loads(line)}
        assert runs[turn.turn_id] is boxed


def with_an_idle_position(made: Plan) -> tuple[Plan, WinchPosition]:
    work = made.work
    assert work is not None
    position = next(p for p in made.positions if p.trail_id and len(p.tree_ids) == 1)
    opens = next(step for step in work.steps if step.kind == "open")
    steps = tuple(
        replace(step, tree_ids=(*step.tree_ids, *position.tree_ids)) if step is opens else step
        for step in work.steps
    )
    turns = tuple(t for t in work.turns if position.position_id not in t.position_ids)
    left = {turn.turn_id for turn in turns}
    steps = tuple(
        replace(step, turn_ids=tuple(name for name in step.turn_ids if name in left))
        for step in steps
    )
    return replace(made, work=replace(work, steps=steps, turns=turns)), position


def test_a_winch_position_without_work_is_on_no_map_and_has_no_ribbon(
    plan: Plan, tmp_path: Path
) -> None:
    made = made_order.ordered(plan)
    idle, position = with_an_idle_position(made)
    name = position.position_id
    assert idle_positions(idle) == {name} and not idle_positions(made)
    frame, window = map_frames.whole(idle)
    assert frame.map_pt
    for there, shown in ((made, True), (idle, False)):
        part = map_sheet.within(there, window)
        assert (name in {p.position_id for p in part.positions}) is shown
        assert (name in {p.position_id for p in part.pulls}) is shown
        hung = " ".join(r.text for them in ribbons(there).values() for r in them)
        assert bool(re.search(rf"\b{name}\b", hung)) is shown
    notes = points(idle, tmp_path)
    unused = [key for key, text in notes.items() if "NOT USED" in text]
    assert len(unused) == 1 and unused[0].endswith(name)


def test_the_map_in_the_browser_leaves_out_positions_without_work_unless_asked_for(
    plan: Plan,
) -> None:
    made = made_order.ordered(plan)
    idle, position = with_an_idle_position(made)
    name, (tree,) = position.position_id, position.tree_ids
    whole, shown = of_plan(made), of_plan(idle)
    asked = of_plan(
        replace(idle, area=replace(idle.area, wanted_positions=((position.x + 1, position.y),)))
    )

    def names(told: dict[str, Any]) -> list[str]:
        return [p["id"] for p in told["positions"]]

    assert name in names(whole) and tree in {p["tree"] for p in whole["pulls"]}
    assert names(shown) == [one for one in names(whole) if one != name]
    assert names(asked) == names(whole)
    for told in (shown, asked):
        assert {p["tree"] for p in told["pulls"]} == {p["tree"] for p in whole["pulls"]} - {tree}
        assert ["From winch position", name] not in told["cards"][tree]["lines"]["us"]
    count = dict(shown["lines"]["us"])["Winch positions"]
    assert count == f"{len(idle.positions)}, 1 not used"
    assert dict(asked["lines"]["us"])["Winch positions"] == f"{len(idle.positions)}"


def test_one_name_for_a_hazard_tree_and_another_for_a_wire(plan: Plan) -> None:
    made = dead(plan, {served(plan, 1)[0]: "hung", 3: "dead_top"})
    (_, draw), *_ = book.drawings(made)[1:]
    words = said([draw], made)
    name = made.area.trees.tree_id[3]
    assert f"{name} dead top: keep 170 ft off" in words and "hung: cut first" in words
    assert "hazard tree" in words and "wire or other danger" in words
    assert "bad tree" not in words and not re.search(r"\bhazard (?!tree)", words)


# which rows have a box


def test_a_tree_that_stays_or_is_asked_about_has_no_box(plan: Plan) -> None:
    row = served(plan, 1)[0]
    tree = next(t for t in marked(plan) if t.tree_id == plan.area.trees.tree_id[row])
    for claim, boxed in (("core", False), ("silent", False), (None, True)):
        told = {} if claim is None else {tree.tree_id: (order_of(claim),)}
        rows = tree_list._reached([tree], tree_list._Lines("us", 271.0, 25.0, told, {}, {}))
        assert ("☐" in lines(rows)) == boxed


def order_of(what: str) -> tree_list.Order:
    kind = "stay" if what == "core" else "ask"
    return tree_list.Order(kind, say(f"order_strip_{what}", water="brook"))  # type: ignore[arg-type]


# numbers are never cut in two


@pytest.mark.parametrize("name", ["12345", "123456", "12345678", "TREE-2026-0001-NORTH", "7"])
def test_a_painted_number_stands_whole_on_one_line(plan: Plan, name: str) -> None:
    row = served(plan, 1)[0]
    tree = replace(
        next(t for t in marked(plan) if t.tree_id == plan.area.trees.tree_id[row]), tree_id=name
    )
    set_ = tree_list._Lines("us", 271.0, tree_list.number_room_pt([tree]), {}, {}, {})
    (made,) = tree_list._reached([tree], set_)
    (number,) = [cell for cell in made.cells if name in cell.lines]
    ends = number.x_pt + width_of(name, made.size_pt, bold=True)
    line = number.lines.index(name)
    beside = [c.x_pt for c in made.cells if c.x_pt > number.x_pt and any(c.lines[line : line + 1])]
    assert ends <= min(beside, default=271.0)


# winch positions


def at_position(plan: Plan, code: str, value: float, level: str = "caution") -> Plan:
    place = plan.positions[0]
    finding = Finding(code, level, "…", "winch_positions", place.position_id, value=value)  # type: ignore[arg-type]
    return replace(plan, findings=(*plan.findings, finding))


@pytest.mark.parametrize(
    ("code", "value", "words"),
    [
        ("pull_load_above", 20.4, "load up to 20 % above: keep everyone off the ground below"),
        ("pull_may_run", 30.0, "ground falls 30 % to the tractor: on slick ground a log runs"),
        ("parking_slope", 12.0, "parks on 12 %: dig the butt plate in"),
    ],
)
def test_what_can_hurt_somebody_at_a_position_is_on_paper_and_phone(
    plan: Plan, tmp_path: Path, code: str, value: float, words: str
) -> None:
    place = plan.positions[0]
    made = at_position(plan, code, value)
    before, after = (said(flagging.pages(p), p) for p in (plan, made))
    assert words not in before and "Take care here" not in before.split("level loaded")[-1]
    assert words in after
    hung = {r.text.split()[0] for r in ribbons(made)[place.trail_id]}
    assert f"{place.position_id}!" in {text.split("\N{NO-BREAK SPACE}")[0] for text in hung}
    note = next(n for n in points(made, tmp_path).values() if words in n)
    assert "TAKE CARE" in note


def test_a_stop_of_a_pull_is_its_positions(plan: Plan) -> None:
    pull = plan.pulls[0]
    stop = Finding("pull_load_above", "stop", "…", "pulls", pull.tree_id, value=55.0)
    told = cares(replace(plan, findings=(stop,)))[pull.position_id]
    assert told[0].startswith("STOP") and "load up to 55 % above" in told[1]


def test_a_rope_over_another_trail_names_it(plan: Plan) -> None:
    """A rope drawn square across the main trail from a spur's position, and back along it."""
    other = plan.trails[0]
    spot = next(p for p in plan.positions if p.trail_id != other.trail_id)
    pull = next(p for p in plan.pulls if p.position_id == spot.position_id)
    over = other.line.interpolate(0.5, normalized=True)
    far = np.array([2 * over.x - spot.x, 2 * over.y - spot.y])
    across = replace(pull, line=LineString([(spot.x, spot.y), far]))
    told = cares(replace(plan, pulls=(across,), findings=()))
    assert any("rope crosses" in w and other.trail_id in w for w in told[spot.position_id])
    assert not cares(replace(plan, pulls=(), findings=()))


# the foot, the start and the end of a trail, letters


def test_two_plans_of_the_same_settings_have_two_stamps(plan: Plan) -> None:
    """A position moved by a metre, a tree left standing, another morning: each shows."""
    spot = plan.positions[0]
    moved = replace(plan, positions=(replace(spot, x=spot.x + 1.0), *plan.positions[1:]))
    tree = next(o for o in plan.trees if o.status == "served")
    kept = tuple(replace(o, status="corridor") if o is tree else o for o in plan.trees)
    stamps = {foot.stamped(p) for p in (plan, moved, replace(plan, trees=kept))}
    assert len(stamps) == 3
    assert foot.stamped(plan) == foot.stamped(plan_fixture.plan())
    morning, evening = (
        foot.stamped(replace(plan, about={"made": f"2026-11-26T{hour}:40:52Z"}))
        for hour in ("08", "18")
    )
    assert "2026-11-26 08:40 UTC" in morning and morning != evening
    assert foot.stamped(plan).split()[1] in " ".join(whole_file(plan, None))


def test_the_chip_of_stops_names_the_page_that_says_them(plan: Plan) -> None:
    sheets = book.drawings(plan)
    page = book.stops_page(plan)
    told = said([sheets[page - 1][1]], plan)
    assert all(f.message in told for f in plan.findings if f.level == "stop")
    sheet = Sheet("letter")
    foot.draw(sheet, plan, 1, len(sheets), page)
    words = [t.get_text() for t in sheet.figure.findobj(Text)]  # type: ignore[union-attr]
    assert f"2 STOP findings, page {page}: read them before anything else" in words


@pytest.mark.parametrize("ground", ["dry", "wet", "frozen"])
def test_sheets_say_for_which_ground_they_were_planned(plan: Plan, ground: str) -> None:
    settings = plan.area.settings
    table = settings.ground.model_copy(update={"condition": ground})
    area = replace(plan.area, settings=settings.model_copy(update={"ground": table}))
    made = replace(plan, area=area)
    sheet = Sheet("letter")
    foot.draw(sheet, made, 1, 9, 3)
    words = [t.get_text() for t in sheet.figure.findobj(Text)]  # type: ignore[union-attr]
    assert f"Planned for {ground} ground." in words
    assert f"ground no longer {ground}, as planned for" in said([book.drawings(made)[1][1]], made)


def test_station_0_is_told_on_paper_and_phone_and_marked_on_the_map(
    plan: Plan, tmp_path: Path
) -> None:
    main = plan.trails[0]
    x, y = main.line.coords[0]
    words = said(flagging.pages(plan), plan)
    lon, lat = pyproj.Proj(plan.area.crs)(x, y, inverse=True)
    assert f"Station 0 is at {lat:.5f}, {lon:.5f}, NAD83 / UTM zone 18N: {x:.0f} E {y:.0f}" in words
    # 14 m straight north of the landing's middle, in single steps of 2.5 ft
    assert (x, y) == plan_fixture.at(225, 55) and plan.landing.y == plan_fixture.at(0, 41)[1]
    assert f"{round(14 / (2.5 * FT))} paces 000° from the middle of landing L1" in words
    assert "station 0 of trail M1" in points(plan, tmp_path)["M1-0"]
    assert re.search(r"\bM1 0\b", said([book.drawings(plan)[1][1]], plan))


def test_the_landings_edge_is_a_ribbon_where_the_trail_leaves_it(plan: Plan) -> None:
    main = plan.trails[0]
    longer = replace(main, line=LineString([plan_fixture.at(225, 50), *main.line.coords]))
    made = replace(plan, trails=(longer, *plan.trails[1:]))
    edge = [r for r in ribbons(made)["M1"] if r.text == "EDGE OF LANDING"]
    assert [r.at_m for r in edge] == pytest.approx([4.0])  # from y = 50 to the edge at 54
    assert not any(r.text == "EDGE OF LANDING" for them in ribbons(plan).values() for r in them)


@pytest.mark.parametrize(("end_ft", "last"), [(103.0, "103"), (107.0, "107"), (105.0, "105")])
def test_no_station_lies_past_the_end_of_its_trail(end_ft: float, last: str) -> None:
    assert flagging.station_number(end_ft * FT, "us", end_ft * FT) == last
    assert flagging.station_number(50 * FT, "us", end_ft * FT) == "50"


def test_letters_the_font_has_not_are_told_of_and_never_boxes() -> None:
    """A box would come with a warning, and warnings are errors here."""
    plain, odd = plan_fixture.plan(name="Lot Érable"), plan_fixture.plan(name="Lot 山林 $5")
    assert letters.told(plain) == ""
    assert letters.told(odd) == "? stands for a letter this print lacks: U+5C71 U+6797"
    sheet = Sheet("letter")
    foot.draw(sheet, odd, 1, 9, 3)
    sheet.canvas.draw()
    words = " ".join(t.get_text() for t in sheet.figure.findobj(Text))  # type: ignore[union-attr]
    assert "Lot ?? $5" in words and letters.told(odd) in words
    assert width_of("山", 8.0) == width_of("?", 8.0)


def test_the_note_on_grades_stands_only_where_a_grade_does(plan: Plan) -> None:
    note = "12 % down: downhill loaded."
    unknown = tuple(replace(step, grade_pct=np.nan) for step in plan.steps)
    for made, told in ((plan, True), (replace(plan, steps=unknown), False)):
        words = said([book.drawings(made)[1][1]], made)
        assert (note in words) == told
        rest = words.replace(note, "").replace("5 % up: uphill loaded.", "")
        assert bool(re.search(r"\d % (downhill loaded|uphill loaded|down|up)\b", rest)) == told


def test_a_phone_tells_no_station_past_the_end_either(plan: Plan, tmp_path: Path) -> None:
    spot = plan.positions[0]
    line = LineString([(spot.x, spot.y - 103 * FT), (spot.x, spot.y)])
    trails = tuple(replace(t, line=line) if t.trail_id == spot.trail_id else t for t in plan.trails)
    moved = replace(plan, trails=trails, positions=(replace(spot, at_m=103 * FT),), bars=())
    notes = points(replace(moved, pulls=(), turning_places=()), tmp_path)
    assert any(f"{spot.trail_id} at 103 ft;" in note for note in notes.values())


def order_rows(made: Plan) -> str:
    """Give all the order of work says."""
    setting = Rows(made, listing.column_pt(made))
    rows = work_sheet.rows(made, setting, numbered(work_sheet.todo(made)))
    return " ".join(" ".join(lines(rows)).split()).replace("\N{NO-BREAK SPACE}", " ")


def test_a_hazard_tree_that_is_held_is_never_said_to_be_cut_first_without_it(plan: Plan) -> None:
    (row, bad) = (served(plan, 1)[0], 3)
    x, y = plan.area.trees.x.copy(), plan.area.trees.y.copy()
    x[bad], y[bad] = x[row] + 6.0, y[row]
    made = made_order.ordered(dead(listed(plan, x=x, y=y), {bad: "dead_top", row: "hung"}))
    name = made.area.trees.tree_id[row]
    assert name in barred(made)
    assert made.work is not None
    first = WorkStep(0, "fell", "M1", "M1-1", (name,))
    made = replace(made, work=replace(made.work, steps=(first, *made.work.steps)))
    words = said(tree_list.pages(made), made)
    assert re.search(rf"CUT FIRST, before any other work near them: [^.]*{name} HOLD", words)
    assert f"{name} HOLD: see the marked trees" in order_rows(made)
    assert f"{name} (down)" not in order_rows(made)
