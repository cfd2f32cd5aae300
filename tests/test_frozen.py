"""What is flagged, opened or done stays as it is, and names last from plan to plan."""

import csv
import json
import math
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import jsonschema
import numpy as np
import plan_checker
import pytest
import shapely
from made_plan import layout_only
from shapely.geometry import LineString, Point, box
from small_areas import list_of

from layout.area import read_area
from layout.errors import InputError, InputFaults
from layout.frozen import landings_of, settle
from layout.naming import changes, names_for_lines, names_for_positions, new_names
from layout.outputs import closing, write_plan
from layout.plan import Plan
from layout.progress import Claims, claims, with_done, with_turns
from layout.read_progress import progress_rows
from layout.records import Retired, Trail, WinchPosition
from layout.site import Area, Earlier, EarlierPiece, EarlierTurn, NamedLine, ProgressRow
from layout.work_records import Turn

ROOT = Path(__file__).resolve().parents[1]
METRIC = ROOT / "tests" / "data" / "metric_area"
SCHEMA = ROOT / "layout" / "tables" / "plan.schema.json"
LANDING = box(-10, -20, 10, 0)
MAIN = LineString([(0, 0), (0, 200)])


def line(*points: tuple[float, float]) -> LineString:
    return LineString(points)


def named(name: str, shape: LineString, **more: object) -> NamedLine:
    return NamedLine(name, shape, f"flagged.gpx ({name})", **more)  # type: ignore[arg-type]


def settled(*lines: NamedLine, main: LineString | None = MAIN, **more: object):
    said = more.get("claims", Claims())
    return settle(main, LANDING, lines, said, more.get("earlier"), "area.toml [trails] fixed:")


def trail(name: str, shape: LineString, joins: str = "M", at: float = 0.0) -> Trail:
    kind = "spur" if joins else "main"
    return Trail(name, kind, "L1", shape, 3.2, "routed", joins, at if joins else None)


def position(
    name: str, x: float, y: float, azimuth: float = 90.0, trees: tuple[str, ...] = ()
) -> WinchPosition:
    return WinchPosition(name, "S1", "L1", 10.0, x, y, azimuth, 0.0, 0.0, 0.0, 0.0, trees)


# --- how a fixed line hangs on what is there


@pytest.mark.parametrize("drawn_outward", [True, False])
def test_a_line_runs_from_its_mouth_whichever_way_it_was_walked(drawn_outward: bool) -> None:
    outward = line((2, 50), (20, 68), (60, 75))
    shape = outward if drawn_outward else outward.reverse()
    (spur,) = settled(named("A", shape)).trails
    assert spur.line.coords[0] == (0, 50)  # brought exactly onto the main trail
    assert spur.line.coords[-1] == (60, 75)
    assert (spur.kind, spur.joins_id, spur.joins_at_m) == ("spur", "M", 50)


def test_only_the_mouth_is_moved() -> None:
    (spur,) = settled(named("A", line((0.4, 50), (20, 68), (60, 75)))).trails
    assert list(spur.line.coords)[1:] == [(20, 68), (60, 75)]


def test_a_walk_that_began_beyond_the_main_trail_is_cut_there() -> None:
    (spur,) = settled(named("A", line((-2, 48), (20, 70), (60, 75)))).trails
    assert spur.line.coords[0] == pytest.approx((0, 50), abs=1e-6)
    assert not spur.line.crosses(MAIN)


@pytest.mark.parametrize(("gap", "joins"), [(2.9, True), (3.1, False)])
def test_an_end_joins_within_three_metres(gap: float, joins: bool) -> None:
    spur = named("A", line((gap, 50), (20, 68), (60, 75)))
    if joins:
        assert settled(spur).trails[0].joins_id == "M"
    else:
        words = r"A\) joins nothing: its nearest end, at 3, 50, lies 3\.1 m from .* lead it up"
        with pytest.raises(InputError, match=words):
            settled(spur)


def test_a_line_may_hang_on_another_listed_after_it() -> None:
    fork = named("B", line((40, 72), (60, 120)))
    limb = named("A", line((0, 50), (20, 68), (60, 75)))
    first, second = settled(fork, limb).trails
    assert (first.trail_id, second.trail_id, second.joins_id) == ("A", "B", "A")
    assert first.line.distance(Point(second.line.coords[0])) < 1e-9
    assert second.joins_at_m == pytest.approx(first.line.project(Point(second.line.coords[0])))


def test_every_line_that_joins_nothing_is_named() -> None:
    with pytest.raises(InputError) as caught:
        settled(named("A", line((30, 50), (60, 75))), named("B", line((30, 90), (60, 95))))
    assert len(str(caught.value).splitlines()) == 2


def test_a_line_off_the_landing_is_a_main_trail_of_its_own() -> None:
    (arm,) = settled(named("Arm", line((80, 10), (11, -5)))).trails
    assert (arm.kind, arm.joins_id, arm.line.coords[0]) == ("main", "", (10, -5))


def test_both_ends_meeting_something_is_said_and_can_be_settled() -> None:
    loop = line((0, 50), (40, 70), (1, 100))
    plain = settled(named("A", loop))
    assert plain.trails[0].joins_at_m == 50
    assert "fixed_both_ends" in {f.code for f in plain.findings}
    told = settled(named("A", loop, landing_end="last"))
    assert told.trails[0].joins_at_m == 100
    assert "fixed_both_ends" not in {f.code for f in told.findings}


def test_a_fixed_main_trail_stands_for_the_drawn_one() -> None:
    given = line((30, 180), (2, 1))
    done = settled(
        named("M", given, kind="main", width_m=4.0), named("A", line((25, 150), (80, 160)))
    )
    assert done.main is not None
    assert done.main.coords[0] == (2, 1)  # landing end first
    assert done.main_fixed is not None
    assert done.main_fixed.width_m == 4.0
    assert done.trails[0].line.distance(done.main) < 1e-9


def test_lines_without_a_name_get_one_that_was_never_used() -> None:
    old = Earlier((trail("M", MAIN, ""), trail("S4", line((0, 20), (30, 30)))), (), ())
    old = Earlier(old.trails, (), (Retired("trails", "S9"),))
    (spur,) = settled(named("", line((0, 50), (30, 75))), earlier=old).trails
    assert spur.trail_id == "S10"


def test_an_opened_fork_takes_all_it_hangs_on_along() -> None:
    limb, fork = line((0, 50), (30, 80)), line((15, 65), (15, 110))
    old = Earlier(
        (trail("M", MAIN, ""), trail("S1", limb, "M", 50), trail("S2", fork, "S1", 21.2)), ()
    )
    done = settled(claims=Claims(trails=("S2",)), earlier=old)
    assert [t.trail_id for t in done.trails] == ["S1", "S2"]
    assert [t.line for t in done.trails] == [limb, fork]
    assert done.main_fixed is None  # the drawn main trail still carries them


def test_a_redrawn_main_trail_does_not_tear_off_what_is_opened() -> None:
    old = Earlier((trail("M", MAIN, ""), trail("S1", line((0, 50), (30, 80)), "M", 50)), ())
    longer = line((0, 0), (0, 260))
    said = Claims(trails=("S1",))
    assert settled(main=longer, claims=said, earlier=old).main == longer
    elsewhere = settled(main=line((5, 0), (5, 200)), claims=said, earlier=old)
    assert elsewhere.main == MAIN
    assert "fixed_main" in {f.code for f in elsewhere.findings}


def test_a_proposed_landing_stays_where_a_kept_trail_starts() -> None:
    old = Earlier((trail("M", MAIN, ""), trail("S1", line((0, 50), (30, 80)), "M", 50)), ())
    proposed = replace(old, landing=LANDING)
    walked = named("M", line((1, 190), (1, 2)), kind="main")  # recorded walking home
    landings, told = landings_of(proposed, (walked,), Claims())
    assert landings == (LANDING,)
    assert [f.code for f in told] == ["landing_kept"]
    along = landings_of(proposed, (), Claims(trails=("S1",)))[0]
    assert along == (LANDING,)  # its main comes along
    far = named("S1", line((0, 50), (30, 80)))
    assert landings_of(proposed, (far,), Claims()) == ((), ())
    assert landings_of(old, (walked,), Claims()) == ((), ())
    assert landings_of(None, (walked,), Claims()) == ((), ())


def test_a_spur_beside_the_landing_joins_its_trail_first() -> None:
    # it starts at the landing's edge and on the trail that passes there
    host, fork = line((0, 30), (12, -2), (20, -30)), line((12, -2), (60, -2))
    walked = (named("S2", fork, kind="spur"), named("S1", host, kind="spur"))
    spurs = {t.trail_id: t for t in settled(*walked).trails}
    assert spurs["S2"].joins_id == "S1"
    (alone,) = settled(named("S2", line((10, -5), (60, -5)), kind="spur")).trails
    assert alone.joins_id == ""


def test_the_file_stands_for_the_earlier_line_of_the_same_name() -> None:
    old = Earlier((trail("M", MAIN, ""), trail("S1", line((0, 50), (30, 80)), "M", 50)), ())
    walked = line((0, 52), (30, 84))
    (spur,) = settled(named("S1", walked), claims=Claims(trails=("S1",)), earlier=old).trails
    assert spur.line == walked


# --- progress.csv


def rows_of(folder: Path, text: str) -> tuple[ProgressRow, ...]:
    (folder / "progress.csv").write_text(text, encoding="utf-8")
    rows = progress_rows(folder)
    assert rows is not None
    return rows


def test_rows_as_people_write_them(tmp_path: Path) -> None:
    text = '\ufeffID;Date;Note;State\nT1;11/2;"over; the\nwall";Done\n\ntrail:S1;;;\n'
    assert rows_of(tmp_path, text) == (
        ProgressRow(3, "T1", "done"),
        ProgressRow(5, "S1", "", "trail"),
    )
    (tmp_path / "progress.csv").unlink()
    assert progress_rows(tmp_path) is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no column id in its first line"),
        ("tree,date\nT1,\n", "no column id in its first line"),
        ("id,state\nT1,finished\n", "line 2: state 'finished' is not known; write flagged"),
        ("id,note\n,out\n", "line 2: the id is blank"),
        ("id,note\nT1,by the wall, north\n", "line 2: 3 cells under 2 headings"),
    ],
)
def test_bad_rows_are_refused(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        rows_of(tmp_path, text)


def test_all_bad_rows_are_told_together(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        rows_of(tmp_path, "id,state\nT1,x\n,done\n")
    assert len(str(caught.value).splitlines()) == 2


EARLIER = Earlier(
    (trail("M", MAIN, ""), trail("S1", line((0, 50), (30, 80)), "M", 50)),
    (position("W1", 20, 70, trees=("T1", "T2")),),
    (Retired("winch_positions", "W7", "S1", ("T3",)), Retired("trails", "S5")),
    (EarlierTurn("L1", "S1", "W1", ("T2",)),),
)


def said(*rows: tuple[str, str]) -> Claims:
    made = [ProgressRow(n, name, state) for n, (name, state) in enumerate(rows, 2)]  # type: ignore[arg-type]
    return claims(made, ["T1", "T2", "T3", "T4"], ["T4"], EARLIER)


def test_what_a_row_means() -> None:
    assert said(("T1", "")).done == ("T1",)
    assert said(("T1", "flagged")).done == ()
    assert said(("S1", "")).trails == ("S1",)
    opened = said(("W1", "opened"))
    assert (opened.trails, opened.positions, opened.done) == (("S1",), {"W1"}, ())
    assert said(("W1", "done")).done == ("T1", "T2")
    assert said(("L1", "")).done == ("T2",)
    assert said(("L1", "")).trails == ("S1",)
    gone = said(("W7", "done"))  # out of use since, and still understood
    assert (gone.done, gone.trails, gone.findings[0].code) == (("T3",), ("S1",), "trees_done")


def test_a_load_that_is_carried_on_is_in_as_well() -> None:
    carried = said(("L1", "carried"))
    assert (carried.done, carried.turns, carried.carried) == (("T2",), {"L1"}, {"L1"})
    assert said(("L1", "done")).carried == frozenset()
    told = with_turns(EARLIER, carried.turns, carried.carried)
    assert told is not None
    assert (told.turns[0].state, told.turns[0].carried) == ("done", True)
    for name, kind in (("T1", "tree"), ("S1", "trail"), ("W1", "position")):
        with pytest.raises(InputFaults, match=f"line 2: {name} is a {kind}; only a load is"):
            said((name, "carried"))


def test_a_load_of_a_plan_before_the_last_is_told_where_its_stem_was_cut_otherwise() -> None:
    old = EarlierTurn("D1", "S1", "W1", ("T2",), (("T2", 1),), "retired", wood_m3=0.4)
    rows = [ProgressRow(2, "D1", "done")]
    for wood, codes in ((0.4, set()), (0.25, {"load_cut_otherwise"})):
        rest = tuple(EarlierPiece("T2", n, "sawlog", 3.0, wood, 300.0) for n in (1, 2))
        plan = replace(EARLIER, turns=(old,), pieces=rest)
        found = claims(rows, ["T1", "T2", "T3", "T4"], [], plan).findings
        assert {f.code for f in found if f.level == "caution"} == codes


def test_every_unknown_id_is_told() -> None:
    found = said(("T9", ""), ("S9", "opened"), ("S5", "opened")).findings
    assert [f.subject_id for f in found if f.code == "progress_unknown"] == ["T9", "S9", "S5"]
    assert "line 2: T9 is in neither" in found[0].message
    assert "no plan holds any more" in found[2].message


def test_a_done_tree_that_was_not_marked_is_told() -> None:
    assert [f.code for f in said(("T4", "done")).findings] == ["trees_done", "done_unmarked"]


def load(
    name: str, *pieces: tuple[str, int], state: str = "planned", spot: str = "W1"
) -> EarlierTurn:
    trees = tuple(dict.fromkeys(tree for tree, _ in pieces))
    return EarlierTurn(name, "S1", spot, trees, pieces, state, position_ids=(spot,))  # type: ignore[arg-type]


WITH_LOADS = replace(
    EARLIER,
    turns=(
        load("D1", ("T1", 1)), load("D2", ("T1", 2), ("T2", 1)), load("D3", ("T2", 2)),
        load("D4", ("T3", 1), state="done", spot="W7"), load("D5", ("T3", 2), spot="W7"),
        load("D6", ("T2", 1), ("T2", 2), state="retired"), load("D7", ("T4", 1), state="retired"),
    ),
)  # fmt: skip


def of_loads(*rows: str | tuple[str, str]) -> Claims:
    made = [
        ProgressRow(n, *((row, "") if isinstance(row, str) else row))  # type: ignore[arg-type]
        for n, row in enumerate(rows, 2)
    ]
    return claims(made, ["T1", "T2", "T3", "T4"], [], WITH_LOADS)


def test_a_load_brings_pieces_in_and_a_tree_is_done_with_its_last() -> None:
    first = of_loads("D1")
    assert (first.done, first.pieces, first.turns) == ((), {("T1", 1)}, {"D1"})
    assert (first.trails, first.positions) == (("S1",), {"W1"})  # its position stays as it is
    assert [f.code for f in first.findings] == ["trees_partly_done"]
    assert (
        "1 tree is partly in by progress.csv; the rest is planned on: T1"
        in first.findings[0].message
    )
    second = of_loads("D1", "D2")
    assert (second.done, second.pieces) == (("T1",), {("T2", 1)})
    assert of_loads("D1", "D2", "D3").done == ("T1", "T2")
    # nothing of the position is left to pull: its name is not kept for that
    assert of_loads("D1", "D2", "D3").positions == set()
    assert of_loads(("D1", "flagged")).pieces == frozenset()
    assert of_loads(("D1", "flagged")).positions == {"W1"}


def test_a_tree_named_itself_is_done_whatever_loads_say() -> None:
    said_of = of_loads("T1", "D2")
    assert (said_of.done, said_of.pieces) == (("T1",), {("T2", 1)})
    # what it was to come in with is in too
    assert said_of.turns == {"D1", "D2"}


def test_a_load_that_was_in_before_counts_only_while_its_row_is_there() -> None:
    assert of_loads("D4").pieces == {("T3", 1)}  # D5 is still to come
    assert of_loads("D4", "D5").done == ("T3",)
    assert of_loads("D5").pieces == {("T3", 2)}
    assert of_loads().pieces == frozenset()


def test_loads_of_plans_before_the_last_are_known() -> None:
    """What was cut on an older sheet is in, though the last plan packs it another way."""
    old = of_loads("D6")
    assert (old.done, old.turns) == (("T2",), {"D6"})
    assert [f.code for f in old.findings] == ["trees_done"]
    assert of_loads("D7").done == ("T4",)  # in no load of the last plan


def test_what_is_in_is_told_to_list_and_earlier_plan() -> None:
    trees = list_of([{"tree_id": f"T{n}", "x": n, "y": 0.0} for n in (1, 2, 3)])
    part = with_done(trees, ["T1"], [("T2", 1)])
    assert (part.done, part.done_pieces) == ({"T1"}, {("T2", 1)})
    assert part.marked.tolist() == [True, True, False]  # both are felled
    assert part.to_serve.tolist() == [False, True, False]
    assert with_done(trees, []) is trees
    told = with_turns(WITH_LOADS, {"D1", "D7"})
    assert told is not None
    assert {t.turn_id: t.state for t in told.turns} == {
        "D1": "done", "D2": "planned", "D3": "planned", "D4": "retired", "D5": "planned",
        "D6": "retired", "D7": "done",
    }  # fmt: skip
    assert with_turns(None, {"D1"}) is None


def test_a_name_of_two_things_is_asked_about() -> None:
    row = ProgressRow(2, "S1", "")
    with pytest.raises(InputError, match="tree and of a trail; write tree:S1 or trail:S1"):
        claims([row], ["S1"], [], EARLIER)
    assert claims([ProgressRow(2, "S1", "", "tree")], ["S1"], [], EARLIER).done == ("S1",)


# --- names


def test_names_go_on_after_the_highest_ever_used() -> None:
    old = Earlier((trail("S2", line((0, 0), (0, 50))),), (), (Retired("trails", "S7"),))
    lines = [line((90, 0), (90, 50)), line((0.5, 0), (0.5, 50)), line((50, 0), (50, 50))]
    assert names_for_lines(lines, ["M"], old) == ["S8", "S2", "S9"]
    assert names_for_lines(lines, ["M", "S2"], old) == ["S8", "S9", "S10"]
    assert names_for_lines(lines, ["M"], None) == ["S1", "S2", "S3"]
    assert next(new_names("S", ["S", "Sx3", "XS9"])) == "S1"


@pytest.mark.parametrize(
    ("x", "azimuth", "name"),
    [(1.9, 99.0, "W4"), (2.1, 90.0, "W5"), (0.0, 101.0, "W5"), (0.0, 81.0, "W4")],
)
def test_a_position_keeps_its_name_within_two_metres_and_ten_degrees(
    x: float, azimuth: float, name: str
) -> None:
    old = Earlier((), (position("W4", 0, 0, 90.0),))
    assert names_for_positions([(x, 0.0, azimuth)], old) == [name]


def test_headings_are_compared_round_the_compass() -> None:
    old = Earlier((), (position("W1", 0, 0, 358.0),))
    assert names_for_positions([(0.0, 0.0, 3.0)], old) == ["W1"]


def test_the_nearest_takes_the_name_and_an_opened_one_before_all() -> None:
    old = Earlier((), (position("W1", 0, 0), position("W2", 1, 0)))
    places = [(0.9, 0.0, 90.0), (1.2, 0.0, 90.0)]
    assert names_for_positions(places, old) == ["W2", "W1"]
    assert names_for_positions(places[:1], old, frozenset({"W1"})) == ["W1"]


def test_a_flagged_position_finds_its_name_again_and_others_do_not() -> None:
    gone = Retired("winch_positions", "W3", "S1", (), 10.0, 0.0, 0.0, 90.0)
    old = Earlier((), (), (gone,))
    assert names_for_positions([(0.0, 0.0, 90.0)], old) == ["W4"]
    assert names_for_positions([(0.0, 0.0, 90.0)], old, frozenset({"W3"})) == ["W3"]


def test_what_has_changed_is_listed() -> None:
    kept, moved = line((0, 0), (0, 50)), line((9, 0), (9, 50))
    old = Earlier(
        (trail("S1", kept), trail("S2", moved), trail("S3", moved)),
        (position("W1", 0, 0, trees=("T1",)),),
        (Retired("trails", "S0"), Retired("trails", "S9")),
    )
    now = (trail("S1", kept), trail("S2", line((10, 0), (10, 50))), trail("S9", kept))
    listed, retired = changes(old, now, (position("W2", 5, 5),))
    assert [(c.name, c.change) for c in listed] == [
        ("S1", "kept"), ("S2", "moved"), ("S9", "added"), ("S3", "retired"),
        ("W2", "added"), ("W1", "retired"),
    ]  # fmt: skip
    assert retired == (
        Retired("trails", "S0"),
        Retired("trails", "S3"),
        Retired("winch_positions", "W1", "S1", ("T1",), 10.0, 0.0, 0.0, 90.0),
    )
    assert changes(None, now, ()) == ((), ())


# --- whole areas


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    """Give a folder with a plan in it, and the plan."""
    folder = tmp_path_factory.mktemp("areas") / "lot"
    shutil.copytree(METRIC, folder)
    plan = layout_only(read_area(folder))
    write_plan(plan, folder / "out")
    return folder, plan


@pytest.fixture
def lot(planned: tuple[Path, Plan], tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned[0], tmp_path / "lot"))


def note(folder: Path, *rows: str) -> None:
    (folder / "progress.csv").write_text(
        "\n".join(["id,date,note,state", *rows]) + "\n", encoding="utf-8"
    )


def rewrite_trees(folder: Path, edit: Callable[[list[dict[str, str]]], None]) -> None:
    path = folder / "trees.csv"
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    edit(rows)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def unmark_every_third(rows: list[dict[str, str]], but: set[str]) -> None:
    cut = [row for row in rows if row["mark"] == "cut" and row["tree_id"] not in but]
    for row in cut[::3]:
        row["mark"] = "leave"


def farthest(a: LineString, b: LineString) -> float:
    """Give how far corresponding corners lie apart."""
    assert len(a.coords) == len(b.coords)
    return float(np.abs(np.array(a.coords) - np.array(b.coords)).max())


def written(folder: Path) -> dict:
    return json.loads((folder / "out" / "plan.json").read_text(encoding="utf-8"))


def part_of_a_tree(plan: Plan) -> Turn:
    """Give a load off a spur that brings a tree in no more than half."""
    assert plan.work is not None
    rides = Counter(tree for turn in plan.work.turns for tree in turn.tree_ids)
    spurs = {t.trail_id for t in plan.trails if t.joins_id == "M"}
    return next(
        turn
        for turn in plan.work.turns
        if turn.trail_id in spurs and all(rides[tree] > 1 for tree in turn.tree_ids)
    )


def assert_loads_last(before: Plan, after: Plan, hauled: Turn) -> None:
    """One load is in: the rest of its trees is planned, and names stand for what they stood for."""
    assert before.work is not None
    assert after.work is not None
    old = {t.turn_id: t for t in before.work.turns}
    now = {t.turn_id: t for t in after.work.turns}
    assert set(old) <= set(now)  # none is forgotten
    assert (now[hauled.turn_id].state, now[hauled.turn_id].pieces) == ("done", hauled.pieces)
    planned = [t for t in after.work.turns if t.state == "planned"]
    out = {piece for t in planned for piece in t.pieces}
    assert not out & set(hauled.pieces)
    assert set(hauled.tree_ids) <= {tree for tree, _ in out}
    highest = max(int(name[1:]) for name in old)
    for turn in planned:
        if turn.turn_id in old:
            assert set(turn.pieces) == set(old[turn.turn_id].pieces)
        else:
            assert int(turn.turn_id[1:]) > highest
    for turn in after.work.turns:
        if turn.state != "planned":
            by_hand = set(turn.tree_ids) <= after.area.trees.done
            came = turn.turn_id == hauled.turn_id or by_hand
            assert turn.state == ("done" if came else "retired")


@pytest.mark.slow
def test_an_opened_spur_and_all_names_survive_a_new_plan(
    planned: tuple[Path, Plan], lot: Path
) -> None:
    before = planned[1]
    spur = next(t for t in before.trails if t.kind == "spur" and t.joins_id == "M")
    parked = next(p for p in before.positions if p.trail_id == spur.trail_id)
    tree = next(p for p in before.positions if p.trail_id not in ("", spur.trail_id)).tree_ids[0]
    hauled = part_of_a_tree(before)
    note(
        lot, f"{spur.trail_id},2026-11-01,,opened", f"{parked.position_id},,,flagged", f"{tree},,,",
        f"{hauled.turn_id},2026-11-02,,done",
    )  # fmt: skip
    keep = {tree, *parked.tree_ids, *hauled.tree_ids}
    rewrite_trees(lot, lambda rows: unmark_every_third(rows, keep))

    second = layout_only(read_area(lot))
    now = {t.trail_id: t for t in second.trails}
    assert now[spur.trail_id].source == "fixed"
    assert farthest(now[spur.trail_id].line, spur.line) <= 0.0006  # plan.json is in millimetres
    assert now[spur.trail_id].joins_id == "M"
    assert parked.position_id in {p.position_id for p in second.positions}
    outcome = next(t for t in second.trees if t.tree_id == tree)
    assert (outcome.status, outcome.role, outcome.position_id) == ("done", "cut", "")
    assert not [p for p in second.pulls if p.tree_id == tree]
    assert plan_checker.of_plan(second) == []

    assert second.area.trees.done_pieces == set(hauled.pieces)
    assert_loads_last(before, second, hauled)

    # a name stands for the same thing, or was never there
    old = {t.trail_id: t.line for t in before.trails}
    highest = max(int(name[1:]) for name in old if name != "M")
    for name, t in now.items():
        if name in old:
            assert t.line.hausdorff_distance(old[name]) <= 3.01
        else:
            assert int(name[1:]) > highest
    gone = set(old) - set(now)
    assert gone  # fewer trees need fewer trails; the case would prove nothing otherwise
    assert gone <= {r.name for r in second.retired}
    assert {c.name for c in second.changes if c.layer == "trails"} == set(old) | set(now)

    # and in the files, the words, and the plan after that
    write_plan(second, lot / "out")
    data = written(lot)
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(data)
    assert {row["name"] for row in data["retired"]} == {r.name for r in second.retired}
    words = closing(second)
    assert "Since the earlier plan, trails: kept M, " in words
    assert "1 marked tree is cut and out already." in words
    shutil.copy(METRIC / "trees.csv", lot / "trees.csv")
    third = layout_only(read_area(lot))
    assert not [f for f in third.findings if f.code == "progress_unknown"]
    assert_loads_last(second, third, hauled)
    assert (
        farthest(
            next(t.line for t in third.trails if t.trail_id == spur.trail_id),
            now[spur.trail_id].line,
        )
        <= 0.0006
    )
    never = {r.name for r in second.retired}
    assert not never & {t.trail_id for t in third.trails}
    assert not never & {p.position_id for p in third.positions}
    assert never <= {r.name for r in third.retired}


@pytest.mark.slow
def test_a_folder_without_any_of_it_is_planned_as_before(
    planned: tuple[Path, Plan], lot: Path
) -> None:
    area = read_area(lot)
    assert (area.earlier, area.fixed, area.main_fixed, area.trees.done) == (None, (), None, set())
    data = written(lot)
    assert "changes" not in data
    assert "retired" not in data
    rewrite_trees(lot, lambda rows: unmark_every_third(rows, set()))
    plan = layout_only(read_area(lot))
    spurs = sum(t.kind == "spur" for t in plan.trails)
    assert {t.trail_id for t in plan.trails} == {"M", *(f"S{n + 1}" for n in range(spurs))}
    assert (plan.changes, plan.retired) == ((), ())


def flag(folder: Path, lines: dict[str, LineString], crs: object, **columns: list[str]) -> None:
    table = gpd.GeoDataFrame(
        {"name": list(lines), **columns}, geometry=list(lines.values()), crs=crs
    )
    table.to_crs("EPSG:4326").to_file(
        folder / "flagged.gpx", driver="GPX", layer="tracks", engine="pyogrio",
        FORCE_GPX_TRACK="YES",
    )  # fmt: skip
    text = (folder / "area.toml").read_text(encoding="utf-8")
    text = text.replace("[trails]\n", '[trails]\nfixed = "flagged.gpx"\n')
    (folder / "area.toml").write_text(text, encoding="utf-8")


@pytest.mark.slow
def test_a_walked_file_comes_back_line_for_line(planned: tuple[Path, Plan], lot: Path) -> None:
    before = planned[1]
    shutil.rmtree(lot / "out")
    roots = [t for t in before.trails if t.joins_id == "M"]
    limb = next(t for t in before.trails if t.joins_id not in ("", "M"))
    host = next(t for t in before.trails if t.trail_id == limb.joins_id)
    other = next(t for t in roots if t is not host)
    lines = {"North arm": limb.line.reverse(), "S7": host.line.reverse(), "B": other.line}
    flag(lot, lines, before.area.crs)

    area = read_area(lot)
    assert not [f for f in area.findings if f.code == "key_not_used"]
    assert {(t.trail_id, t.joins_id) for t in area.fixed} == {
        ("North arm", "S7"), ("S7", "M"), ("B", "M"),
    }  # fmt: skip
    plan = layout_only(area)
    now = {t.trail_id: t for t in plan.trails}
    for name, was in (("North arm", limb), ("S7", host), ("B", other)):
        assert now[name].source == "fixed"
        assert now[name].line.hausdorff_distance(was.line) < 0.02  # what degrees in GPX allow
        below = now[now[name].joins_id].line
        assert below.distance(Point(now[name].line.coords[0])) < 0.011
        assert now[name].joins_at_m == pytest.approx(was.joins_at_m, abs=0.05)
    routed = [t.trail_id for t in plan.trails if t.source == "routed"]
    assert sorted(int(name[1:]) for name in routed) == list(range(8, 8 + len(routed)))
    assert [f for f in plan.findings if f.level == "stop"] == []


@pytest.mark.slow
def test_a_fixed_spur_nobody_needs_stays(planned: tuple[Path, Plan], lot: Path) -> None:
    before = planned[1]
    spur = next(t for t in before.trails if t.joins_id == "M")
    flag(lot, {"Idle": spur.line}, before.area.crs)
    shutil.rmtree(lot / "out")

    def one_tree(rows: list[dict[str, str]]) -> None:
        near = [r for r in rows if r["mark"] == "cut"]
        far = max(near, key=lambda r: Point(float(r["x"]), float(r["y"])).distance(spur.line))
        for row in near:
            row["mark"] = "cut" if row is far else "leave"

    rewrite_trees(lot, one_tree)
    plan = layout_only(read_area(lot))
    idle = next(t for t in plan.trails if t.trail_id == "Idle")
    assert not [p for p in plan.positions if p.trail_id == "Idle"]
    assert idle.line.hausdorff_distance(spur.line) < 0.02
    assert plan.choice.objective_m2 < 200 + 1e-6  # one tree's price at most: the spur costs nothing


@pytest.mark.slow
def test_a_bad_fixed_line_is_judged_not_refused(planned: tuple[Path, Plan], lot: Path) -> None:
    main = planned[1].trails[0].line
    mouth = main.interpolate(100)
    dx, dy = np.subtract(main.interpolate(101).coords[0], main.interpolate(99).coords[0]) / 2
    corner = (mouth.x - dy * 20, mouth.y + dx * 20)
    hook = line(mouth.coords[0], corner, (corner[0] - dx * 20, corner[1] - dy * 20))
    flag(lot, {"Hook": hook}, planned[1].area.crs)
    plan = layout_only(read_area(lot))
    codes = {f.code for f in plan.findings if f.subject_id == "Hook" and f.level != "ok"}
    assert "turn_radius" in codes
    assert "Hook" in {t.trail_id for t in plan.trails}


@pytest.mark.slow
def test_widths_kinds_and_faults_of_the_file(planned: tuple[Path, Plan], lot: Path) -> None:
    crs = planned[1].area.crs
    main = planned[1].trails[0].line
    mouth = main.interpolate(60)
    spur = line(mouth.coords[0], (mouth.x + 25, mouth.y + 10))
    dx, dy = np.subtract(main.interpolate(61).coords[0], main.interpolate(59).coords[0]) / 2
    away = shapely.affinity.translate(
        line((0, 0), (-dy * 9, dx * 9)), mouth.x - dy * 9, mouth.y + dx * 9
    )

    def given(*rows: tuple[str, LineString, str, str]) -> Area:
        names, shapes, kinds, widths = zip(*rows, strict=True)
        gpd.GeoDataFrame(
            {"trail_id": names, "kind": kinds, "width_ft": widths}, geometry=list(shapes), crs=crs
        ).to_file(lot / "fixed.gpkg", engine="pyogrio")
        return read_area(lot)

    text = (lot / "area.toml").read_text(encoding="utf-8")
    (lot / "area.toml").write_text(
        text.replace("[trails]\n", '[trails]\nfixed = "fixed.gpkg"\n'), encoding="utf-8"
    )
    area = given(("M", main.reverse(), "", "14"), ("A", spur, "spur", "9"))
    assert area.main_fixed is not None
    assert area.main_fixed.width_m == pytest.approx(14 * 0.3048)
    assert area.fixed[0].width_m == pytest.approx(9 * 0.3048)
    assert area.main_trail is not None
    assert area.main_trail.equals_exact(main, 1e-6)
    with pytest.raises(InputError, match=r"row 2 \(A\): the name stands twice"):
        given(("A", spur, "", ""), ("A", spur, "", ""))
    with pytest.raises(InputError, match=r"row 2 \(B\) is a second main trail"):
        given(("A", main, "main", ""), ("B", main, "main", ""))
    with pytest.raises(InputError, match="kind 'road' is not known"):
        given(("A", spur, "road", ""))
    with pytest.raises(InputError, match=r"is 2\.0 m long; a trail has 3 m at least"):
        given(("A", line((mouth.x, mouth.y), (mouth.x + 2, mouth.y)), "", ""))
    with pytest.raises(InputError, match=r"A\) joins nothing: its nearest end, at \d+, \d+"):
        given(("A", away, "", ""))


@pytest.mark.slow
def test_work_and_plan_that_do_not_agree_are_told(planned: tuple[Path, Plan], lot: Path) -> None:
    before = planned[1]
    idle = next(p for p in before.positions if len(p.tree_ids) == 1 and p.trail_id != "M")
    used = next(t for t in before.trails if t.joins_id == "M" and t.trail_id != idle.trail_id)
    note(lot, f"{idle.position_id},,,flagged", f"{idle.tree_ids[0]},,,", f"{used.trail_id},,,done")
    plan = layout_only(read_area(lot))
    told = {
        f.code: f.subject_id
        for f in plan.findings
        if f.code in ("position_idle", "done_trail_used")
    }
    assert told == {"position_idle": idle.position_id, "done_trail_used": used.trail_id}
    write_plan(plan, lot / "out")
    note(lot, f"{idle.position_id},,,flagged")  # the tree was not out after all
    again = layout_only(read_area(lot))
    assert idle.position_id in {p.position_id for p in again.positions}


def test_the_earlier_plan_is_found_after_a_half_done_swap(lot: Path) -> None:
    note(lot, "S1,,,opened")
    (lot / "out").rename(lot / "out.previous")
    area = read_area(lot)
    assert [t.trail_id for t in area.fixed] == ["S1"]


def test_a_damaged_earlier_plan_is_told_only_where_it_matters(lot: Path) -> None:
    (lot / "out" / "plan.json").write_text("{", encoding="utf-8")
    assert read_area(lot).earlier is None
    note(lot, "S1,,,opened")
    with pytest.raises(InputError, match=r"out/plan\.json is damaged .* names cannot be kept"):
        read_area(lot)


def test_loads_of_the_earlier_plan_are_read_with_all_there_is_to_them(
    planned: tuple[Path, Plan], lot: Path
) -> None:
    spot, other, *_ = [p for p in planned[1].positions if p.trail_id]
    (one, *_), (two, *_) = spot.tree_ids, other.tree_ids
    both = [spot.position_id, other.position_id]
    data = written(lot)
    plain = {
        "stage": "harvest", "trail_id": spot.trail_id, "position_id": spot.position_id,
        "at_m": 12.5, "travel_m": 80.0, "mass_kg": 640.0, "wood_m3": 0.6, "limit_kg": 700.0,
        "limited_by": "front_axle", "state": "planned", "position_ids": [spot.position_id],
    }  # fmt: skip
    data["turns"] = [
        {"turn_id": "D1", "order": 1, "tree_ids": [one], "pieces": [[one, 1]], **plain},
        {"turn_id": "D2", "order": 2, "tree_ids": [one, two], "pieces": [[one, 2], [two, 1]],
         **plain, "position_ids": both},
        {"turn_id": "D9", "order": 0, "tree_ids": [two], "pieces": [[two, 1]], **plain,
         "state": "retired", "limit_kg": None},
    ]  # fmt: skip
    (lot / "out" / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    note(lot, "D1,2026-11-20,,done")
    area = read_area(lot)
    assert area.earlier is not None
    assert area.earlier.turns[0] == EarlierTurn(
        "D1", spot.trail_id, spot.position_id, (one,), ((one, 1),), "done", "harvest", 12.5, 80.0,
        (spot.position_id,), 640.0, 0.6, 700.0, "front_axle",
    )  # fmt: skip
    assert (area.earlier.turns[2].state, area.earlier.turns[2].limit_kg) == ("retired", math.inf)
    assert (area.trees.done, area.trees.done_pieces) == (frozenset(), {(one, 1)})
    assert area.opened_positions == {spot.position_id}
    assert spot.trail_id in {t.trail_id for t in area.fixed} | {"M"}
    # both are done with the second load, and no name is unknown
    note(lot, "D1,,,", "turn:D2,,,", "D9,,,flagged")
    again = read_area(lot)
    assert again.trees.done == {one, two}
    assert not [f for f in again.findings if f.code == "progress_unknown"]
    # the loads are known without a progress.csv as well, for their names
    (lot / "progress.csv").unlink()
    assert read_area(lot).earlier is not None


def test_without_an_earlier_plan_every_trail_named_is_told(lot: Path) -> None:
    shutil.rmtree(lot / "out")
    note(lot, "S1,,,opened", "W2,,,done")
    found = [f for f in read_area(lot).findings if f.code == "progress_unknown"]
    assert [f.subject_id for f in found] == ["S1", "W2"]
    assert "holds no earlier plan" in found[0].message
