"""What the crew reads of lays and rub trees, and what it must not read."""

from dataclasses import replace

import plan_fixture
import pytest

from layout.outputs.crew import tree_list
from layout.outputs.crew.finding import Found, marked
from layout.outputs.tree_orders import orders
from layout.outputs.words.crew_words import CREW
from layout.plan import Plan
from layout.records import Lay


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def said(plan: Plan, tree: Found) -> str:
    """Give all a reached tree's row says."""
    laid = {lay.tree_id: lay for lay in plan.lays}
    lines = tree_list._Lines("us", 260.0, 25.0, orders(plan), laid)
    row = lines.row(tree, lines.reached(tree))
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
        trees=tuple(replace(o, role="rub") if o is served else o for o in plan.trees),
    )
    (tree,) = [t for t in marked(kept) if t.tree_id == served.tree_id]
    assert "RUB TREE: cut it last" in said(kept, tree)
    assert "RUB TREE" not in said(plan, tree)


def test_no_sheet_of_the_crew_speaks_of_wedges_or_of_lean_in_degrees(plan: Plan) -> None:
    assert not [key for key, words in CREW.items() if "wedge" in words.lower()]
    lay = Lay("T1", "W1", 12.0, 0.0, "", (), 20.0, True, "against", 171.4, "level", 3.0, (),
              wedge_lift_m=0.0432)  # fmt: skip
    assert tree_list.lay_said(lay) == "012\N{DEGREE SIGN}"
    assert tree_list.lay_said(None) == ""
