"""What the crew reads of lays and rub trees, and what it must not read."""

import re
from dataclasses import replace
from itertools import product
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import plan_fixture
import pytest
from test_outputs_orders import points

from layout.outputs.crew import listing, tree_list, tree_words
from layout.outputs.crew.finding import Found, marked
from layout.outputs.crew.sheet import width_of
from layout.outputs.lay_words import leaning
from layout.outputs.tree_orders import orders
from layout.outputs.words.crew_words import CREW
from layout.plan import Plan
from layout.records import Lay
from layout.work_records import Turn


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def said(plan: Plan, tree: Found) -> str:
    """Give all a reached tree's row says."""
    laid = {lay.tree_id: lay for lay in plan.lays}
    lines = tree_list._Lines("us", 260.0, 25.0, orders(plan), laid, leaning(plan))
    row = lines.row(tree, *lines.reached(tree))
    return " ".join(line for cell in row.cells for line in cell.lines if line)


def test_each_tree_to_cut_has_its_lay_as_a_bearing(plan: Plan) -> None:
    laid = {lay.tree_id: lay for lay in plan.lays}
    bars = {name for name, them in orders(plan).items() if any(order.bars for order in them)}
    told = {"bearing": 0, "none": 0, "against": 0}
    for tree in marked(plan):
        if tree.outcome.status != "served" or tree.tree_id in bars:
            continue
        lay, words = laid[tree.tree_id], said(plan, tree)
        if lay.azimuth_deg is None:
            told["none"] += 1
            assert " none" in words
        else:
            told["bearing"] += 1
            assert f"{round(lay.azimuth_deg) % 360:03d}\N{DEGREE SIGN}" in words
        expert = "experienced faller" in words
        assert expert == (lay.lean == "against" and lay.azimuth_deg is not None)
        told["against"] += expert
    assert min(told.values()) > 0


def test_a_rub_tree_is_cut_last_on_every_sheet(plan: Plan) -> None:
    served = next(o for o in plan.trees if o.status == "served")
    kept = replace(
        plan,
        rub_trees=(),
        trees=tuple(replace(o, role="rub") if o is served else o for o in plan.trees),
    )
    (tree,) = [t for t in marked(kept) if t.tree_id == served.tree_id]
    assert "RUB TREE: cut it last, when no load will pass it again" in said(kept, tree)
    assert "RUB TREE" not in said(plan, tree)


def rubbing(plan: Plan, protects: tuple[str, ...], after: tuple[str, ...]) -> tuple[Plan, str]:
    """Make the first reached tree a rub tree."""
    served = next(o for o in plan.trees if o.status == "served")
    rub = replace(plan.rub_trees[0], kind="marked", tree_id=served.tree_id, protects=protects,
                  cut_after=after)  # fmt: skip
    trees = tuple(replace(o, role="rub") if o is served else o for o in plan.trees)
    return replace(plan, trees=trees, rub_trees=(rub,)), served.tree_id


@pytest.mark.parametrize(
    ("protects", "after", "words"),
    [
        (("T3", "T9"), ("W4",), "RUB TREE, spares T3, T9: cut it last, after the loads of W4"),
        (("T3",), ("W4", "W2"), "RUB TREE, spares T3: cut it last, after the loads of W4, W2"),
        ((), ("W1",), "RUB TREE, spares the corner: cut it last, after the loads of W1"),
        ((), (), "RUB TREE, spares the corner: cut it last, when no load will pass it again"),
        (
            ("T3",), ("W1", "W2", "W3", "W4"),
            "RUB TREE, spares T3: cut it last, after the loads of all 4 positions past it",
        ),
    ],
)  # fmt: skip
def test_a_rub_tree_names_what_it_spares_and_whose_loads_come_first(
    plan: Plan, protects: tuple[str, ...], after: tuple[str, ...], words: str
) -> None:
    made, name = rubbing(plan, protects, after)
    assert [order.text for order in orders(made)[name] if order.kind == "last"] == [words]
    (tree,) = [t for t in marked(made) if t.tree_id == name]
    assert words in said(made, tree)


def test_where_the_order_is_known_the_last_of_the_positions_is_named(plan: Plan) -> None:
    """Loads 1 to 4 stop at W1 to W4 in turn; W2 is visited again by load 5, for a rub tree."""
    one = Turn("LD1", 1, "harvest", "M1", "W1", 10.0, 10.0, (), (), ("W1",), 500.0, 0.5, 900.0, "")
    turns = [
        replace(one, turn_id=f"LD{n}", order=n, position_id=name, position_ids=(name,))
        for n, name in enumerate(("W3", "W1", "W4", "W2"), start=1)
    ]
    turns.append(replace(turns[0], turn_id="LD5", order=5, stage="rub"))
    made, name = rubbing(plan, ("T3",), ("W1", "W3", "W4", "W9"))
    work = SimpleNamespace(turns=tuple(reversed(turns)), steps=())
    told = orders(replace(made, work=work))[name]  # type: ignore[arg-type]
    assert any(
        order.text.endswith("cut it last, after the loads of W4, the last of 4 positions past it")
        for order in told
    )


def leaned(plan: Plan, row: int, deg: float, azimuth: float) -> Plan:
    trees = plan.area.trees
    lean, way = trees.lean_deg.copy(), trees.lean_azimuth_deg.copy()
    lean[row], way[row] = deg, azimuth
    listed = replace(trees, lean_deg=lean, lean_azimuth_deg=way)
    return replace(plan, area=replace(plan.area, trees=listed))


@pytest.mark.parametrize(
    ("lean", "deg", "words"),
    [
        ("upright", 0.0, "listed as upright"),
        ("with", 4.0, "leans with the lay"),
        ("side", 4.0, "leans to the side of the lay"),
        ("against", 4.0, "leans against the suggested lay: experienced faller"),
        ("unknown", np.nan, ""),
    ],
)
def test_a_known_lean_is_said_and_an_unknown_one_never_reads_as_none(
    plan: Plan, tmp_path: Path, lean: str, deg: float, words: str
) -> None:
    row = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    name = plan.trees[row].tree_id
    lays = tuple(
        replace(lay, lean=lean, azimuth_deg=40.0, why_none="") if lay.tree_id == name else lay  # type: ignore[arg-type]
        for lay in plan.lays
    )
    made = leaned(replace(plan, lays=lays), row, deg, 120.0)
    (tree,) = [t for t in marked(made) if t.tree_id == name]
    told, note = said(made, tree), points(made, tmp_path)[name]
    if words:
        assert words in told and words in note
        assert note.startswith(words) == (lean == "against")
    else:
        assert not re.search(r"\blean|upright", told)  # the head of the list says what that means
        assert "lean not known: look up" in note
    assert "suggested lay 040\N{DEGREE SIGN} from grid north" in note
    without = replace(made, lays=tuple(
        replace(lay, azimuth_deg=None, why_none="barred", barred_by=("water strip",),
                lean="unknown" if lean == "unknown" else "")
        if lay.tree_id == name else lay for lay in made.lays
    ))  # fmt: skip
    told = said(without, tree)
    toward = {"upright": "listed as upright", "unknown": ""}.get(lean, "leans toward 120")
    assert toward in told and toward in points(without, tmp_path)[name]


@pytest.mark.parametrize(
    ("why", "barred_by", "words"),
    [
        ("barred", ("water", "tree 1281 (crop)"), "no lay: could reach water, tree 1281 (crop)"),
        ("bad_tree", (), "no lay for a hazard tree"),
        ("lean", (), "no lay: leans back too far: leave it, or ask a trained faller"),
        ("lean_unknown", (), "no lay: leans back and has no DBH: measure it, or leave it"),
    ],
)
def test_a_row_without_a_lay_says_why(
    plan: Plan, tmp_path: Path, why: str, barred_by: tuple[str, ...], words: str
) -> None:
    name = next(o.tree_id for o in plan.trees if o.status == "served")
    lays = tuple(
        replace(lay, azimuth_deg=None, why_none=why, barred_by=barred_by)  # type: ignore[arg-type]
        if lay.tree_id == name else lay for lay in plan.lays
    )  # fmt: skip
    made = replace(plan, lays=lays)
    (tree,) = [t for t in marked(made) if t.tree_id == name]
    told = said(made, tree)
    assert " none" in told and words in told
    assert words in points(made, tmp_path)[name]


def test_the_head_of_the_list_says_how_far_off_all_keep_and_what_silence_means(
    plan: Plan,
) -> None:
    """Two lengths of the tallest: 30.2 m measured, so 60.4 m or 198.2 ft, rounded up."""
    trees = plan.area.trees
    tall = np.where(np.arange(len(trees)) == 0, 30.2, 10.0)
    for units, far in (("us", "199 ft"), ("metric", "61 m")):
        settings = plan.area.settings
        table = settings.area.model_copy(update={"units": units})
        area = replace(plan.area, trees=replace(trees, height_m=tall),
                       settings=settings.model_copy(update={"area": table}))  # fmt: skip
        assert trees.to_serve[0]
        words = " ".join(tree_list.intro(replace(plan, area=area)))
        assert f"everyone but the faller stay two tree lengths off: {far} for the tallest" in words
        assert "Where a row says nothing of lean, the lean is not known" in words
        assert "none: none is suggested, its row says why" in words


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_no_title_of_a_column_runs_into_the_next_or_past_its_rule(plan: Plan, paper: str) -> None:
    outputs = plan.area.settings.outputs.model_copy(update={"paper": paper})
    area = replace(plan.area, settings=plan.area.settings.model_copy(update={"outputs": outputs}))
    width = listing.column_pt(replace(plan, area=area))
    for units, codes in product(("us", "metric"), (None, {"red oak": "RO"})):
        lines = tree_list._Lines(units, width, 25.0, {}, {}, {}, codes)  # type: ignore[arg-type]
        ends = 0.0
        for cell in lines.titles().cells:
            wide = width_of(cell.lines[0], lines.titles().size_pt, bold=True)
            start = cell.x_pt - wide if cell.right else cell.x_pt
            assert start >= ends + 1.5 or not ends
            ends = start + wide
        assert ends <= width


def test_no_sheet_of_the_crew_speaks_of_wedges_or_of_lean_in_degrees(plan: Plan) -> None:
    assert not [key for key, words in CREW.items() if "wedge" in words.lower()]
    lay = Lay("T1", "W1", 12.0, 0.0, "", (), 20.0, True, "against", 171.4, "level", 3.0, (),
              wedge_lift_m=0.0432)  # fmt: skip
    assert tree_words.lay_said(lay) == "012\N{DEGREE SIGN}"
    assert tree_words.lay_said(None) == ""


@pytest.mark.parametrize("coded", [False, True])
def test_the_way_to_a_tree_is_written_large_and_stays_in_its_columns(
    plan: Plan, coded: bool
) -> None:
    listed = tree_list.TreeRows(plan, coded=coded)
    width = listing.column_pt(plan)
    there = {tree.tree_id: tree for tree in marked(plan)}
    seen = set()
    for row in listed.rows():
        first = [cell for cell in row.cells if cell.lines[0].strip(tree_list.TICK_BOX)]
        numbers = {cell.lines[0] for cell in first} & set(there)
        if not numbers or row.head:
            continue
        seen |= numbers
        tree = there[numbers.pop()]
        assert all((cell.size_pt or row.size_pt) >= 9.0 for cell in first)
        ends = 0.0
        for cell in sorted(first, key=lambda c: c.x_pt - c.right * width_of(c.lines[0], 9.0)):
            wide = width_of(cell.lines[0], 9.0, bold=cell.bold)
            start = cell.x_pt - wide if cell.right else cell.x_pt
            assert start >= ends + 2.0 or not ends, tree.tree_id
            ends = start + wide
        assert ends <= width
        words = " ".join(line for cell in row.cells for line in cell.lines)
        size = tree_words.dbh_said(tree.dbh_cm, "us")
        kind = {"sugar maple": "SM", "red oak": "RO"}[tree.species]
        assert (f" {kind} {size} " if coded else f"{tree.species}, DBH {size} in") in words
    assert seen == set(there)
    key = "Letters before the DBH: RO red oak, SM sugar maple."
    assert (key in listed.intro()) == coded
