"""The stand sheet says what the plan's treatment holds, and no zero for what is not known."""

import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import plan_fixture
import pytest
from matplotlib.text import Text
from report_plans import retreated

from layout.outputs.crew import listing, stand_sheet
from layout.outputs.crew.finding import marked
from layout.outputs.crew.sheet import Sheet, width_of
from layout.outputs.words.translations import tongue
from layout.plan import Plan
from layout.tongue import speaking

ACRE_M2, FOOT_M = 4046.8564224, 0.3048  # international acre and foot, by definition


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


def said(plan: Plan, *, by_number: bool = False) -> str:
    """Give the words of all pages, in the order they were drawn."""
    words = []
    for draw in stand_sheet.pages(plan, by_number=by_number):
        sheet = Sheet(plan.area.settings.outputs.paper)
        draw(sheet)
        words += [t.get_text() for t in sheet.figure.artists if isinstance(t, Text)]
    return " ".join(words)


def in_boards(plan: Plan, net: float) -> Plan:
    """Give the plan by a board-foot rule, so much net in every tree that has a log."""
    assert plan.treatment is not None
    harvest = plan.treatment.harvest
    each = np.where(harvest.sawlogs > 0, net, 0.0)
    ruled = replace(harvest, log_rule="doyle", gross_bf=each, net_bf=each)
    return replace(plan, treatment=replace(plan.treatment, harvest=ruled))


def test_trees_and_basal_area_are_those_of_the_list(plan: Plan) -> None:
    """Counted and summed here from the list alone: pi/4 DBH squared, by the acre."""
    trees, treatment = plan.area.trees, plan.treatment
    assert treatment is not None
    acres = plan.area.stand.area / ACRE_M2
    figures = []
    for which in (treatment.inside, treatment.inside & ~treatment.taken):
        feet = (np.pi / 4 * (trees.dbh_cm[which] / 100) ** 2).sum() / FOOT_M**2
        figures.append((f"{which.sum() / acres:.0f}", f"{feet / acres:.0f} ft²/acre"))
    words = said(plan)
    (before, basal), (after, left) = figures
    assert re.search(rf"Trees {before} \S+ {after} Basal area {basal} \S+ ft²/acre {left}", words)
    assert "B-line" in words and "Widest opening made" in words


def test_every_marked_tree_has_its_logs_in_the_order_of_the_list(plan: Plan) -> None:
    assert plan.treatment is not None
    words = said(plan)
    index = {o.tree_id: i for i, o in enumerate(plan.trees)}
    table = words[words.index("Tree by tree") :]
    names = [tree.tree_id for tree in marked(plan)]
    rows = re.findall(r"(T\d+) (\d+) ", table)
    assert [name for name, _ in rows] == names
    for name, logs in rows:
        assert int(logs) == plan.treatment.harvest.sawlogs[index[name]]


def test_by_number_nine_comes_before_ten_and_letters_have_their_place(plan: Plan) -> None:
    names = ["10", "9", "A2", "12b", "12", "a10", "12A", "100"]
    every = [tree.tree_id for tree in marked(plan)]
    new = dict(zip(every, names, strict=False))
    trees = plan.area.trees
    ids = tuple(new.get(t, t) for t in trees.tree_id)
    renamed = replace(
        plan,
        area=replace(plan.area, trees=replace(trees, tree_id=ids)),
        trees=tuple(replace(o, tree_id=new.get(o.tree_id, o.tree_id)) for o in plan.trees),
        pulls=tuple(replace(p, tree_id=new.get(p.tree_id, p.tree_id)) for p in plan.pulls),
    )
    words = said(renamed, by_number=True)
    table = words[words.index("Tree by tree") :]
    assert "By number" in table and "order of the list" not in table
    found = re.findall(r"(\w+) \d+ (?:\N{EN DASH}|[\d.,]+\*?)(?= |$)", table)
    rest = sorted((n for n in every if n not in new), key=lambda n: int(n[1:]))
    assert found == ["A2", "a10", *rest, "9", "10", "12", "12A", "12b", "100"]
    # where there is one list its order is kept, and said
    assert "In the order of the list of marked trees. *" in said(renamed)


def test_a_heading_said_again_over_a_column_keeps_air_between_its_words(plan: Plan) -> None:
    """Set as large as the numbers, "no." would run into "logs"."""
    again = next(row.again for row in stand_sheet.rows(plan) if row.again)
    headline, *titles = again
    assert headline.size_pt is None and len(titles) >= 6
    ends = []
    for cell in titles:
        size = cell.size_pt or stand_sheet.TREE_PT
        width = width_of(cell.lines[-1], size, bold=True)
        ends.append(
            (cell.x_pt - width, cell.x_pt) if cell.right else (cell.x_pt, cell.x_pt + width)
        )
    assert all(b[0] - a[1] > 2.0 for a, b in pairwise(sorted(ends)))


def test_board_feet_never_stand_without_their_rule(plan: Plan) -> None:
    assert "net bf" not in said(plan)
    words = said(in_boards(plan, 140.0))
    said_of = words.split("Doyle")
    assert "net bf" not in said_of[0] and all("net bf" in part for part in said_of[1:])
    assert len(said_of) >= 3
    assert "140*" in words and "net wood" not in words


def test_small_wood_says_what_a_cord_holds(plan: Plan) -> None:
    words = said(plan)
    assert "logs net cu ft tons cords tons tons" in words
    assert "A stacked cord of 128 cu ft" in words


@pytest.mark.parametrize("extract", ["log", "tree"])
def test_what_sawlogs_small_wood_and_the_whole_weigh_is_told_apart(
    plan: Plan, extract: str
) -> None:
    """Summed here from the trees, in short tons of 2,000 lb of 0.45359237 kg."""
    settings = plan.area.settings
    work = settings.work.model_copy(update={"extract": extract})
    area = replace(plan.area, settings=settings.model_copy(update={"work": work}))
    made, marked_ones = retreated(replace(plan, area=area)), plan.area.trees.marked
    words = said(made)
    assert made.treatment is not None
    harvest = made.treatment.harvest
    figures = re.search(r"All marked (\S+) (\S+) (\S+) (\S+) (\S+) (\S+)", words)
    assert figures
    _, _, saw, cords, small, whole = (float(word.replace(",", "")) for word in figures.groups())
    for value, kg in ((saw, harvest.saw_kg), (small, harvest.pulp_kg), (whole, harvest.mass_kg)):
        assert value == pytest.approx(kg[marked_ones].sum() / (2000 * 0.45359237), rel=0.05)
    assert cords == pytest.approx(harvest.pulp_m3[marked_ones].sum() / (80 * FOOT_M**3), rel=0.05)
    assert f"sawlogs small wood {'stems' if extract == 'log' else 'trees'}" in words
    assert "Weights are green, in short tons of 2,000 lb." in words


def test_a_tree_of_over_a_thousand_board_feet_is_whole_numbered_as_the_rest(plan: Plan) -> None:
    words = said(in_boards(plan, 1094.7))
    assert "1,095*" in words and "1,090" not in words.split("Tree by tree")[1]


def test_what_is_not_known_is_no_zero(plan: Plan) -> None:
    treatment = plan.treatment
    assert treatment is not None
    thinned = replace(treatment.thinning, before=None, after=None, reason="only marked trees")
    bare = replace(treatment.canopy, cover_before=None, cover_after=None, gaps=None)
    told = said(replace(plan, treatment=replace(treatment, thinning=thinned, canopy=bare)))
    assert re.search(r"Trees – \S+ – Basal", told)  # noqa: RUF001
    assert "Only marked trees." in told and "Widest" not in told
    blind = replace(treatment.harvest, stem_m3=np.full(len(plan.trees), np.nan))
    told = said(replace(plan, treatment=replace(treatment, harvest=blind)))
    assert re.search(r"T\d+ \? \? T", told) and "have no DBH" in told


def test_there_is_no_sheet_where_nothing_was_worked_out(plan: Plan) -> None:
    assert stand_sheet.pages(replace(plan, treatment=None)) == []


def test_tree_numbers_are_as_large_as_on_the_maps(plan: Plan) -> None:
    """Nine points, as the maps have them: numbers are looked for in the rain."""
    numbers, sizes = {tree.tree_id for tree in marked(plan)}, set()
    for draw in stand_sheet.pages(plan):
        sheet = Sheet(plan.area.settings.outputs.paper)
        draw(sheet)
        lines = [line for line in sheet.figure.artists if isinstance(line, Text)]
        bold = [line for line in lines if line.get_fontweight() == "bold"]
        sizes |= {line.get_fontsize() for line in bold if line.get_text() in numbers}
    assert sizes == {9.0}


def test_a_species_is_named_as_the_list_names_it(plan: Plan) -> None:
    """One wood is not to have "beech" on the map and "American beech" in its sums."""
    trees, treatment = plan.area.trees, plan.treatment
    assert treatment is not None

    def listed(*names: str) -> Plan:
        given = tuple(names[n % len(names)] for n in range(len(trees.species)))
        told = tuple("American beech" for _ in given)
        harvest = replace(treatment.harvest, species=told)
        area = replace(plan.area, trees=replace(trees, species=given))
        return replace(plan, area=area, treatment=replace(treatment, harvest=harvest))

    assert " beech " in said(listed("beech"))
    assert "American beech" not in said(listed("beech"))
    for several in (("beech", "American beech"), ("BE",)):
        assert "American beech" in said(listed(*several))


def test_what_is_said_again_over_a_column_stays_inside_it(plan: Plan) -> None:
    """Spanish words in board feet are longer than a column is wide."""
    boards = in_boards(plan, 1234.0)
    treatment = boards.treatment
    assert treatment is not None
    harvest = replace(treatment.harvest, log_rule="international-quarter")
    there = replace(boards, treatment=replace(treatment, harvest=harvest))
    width = listing.column_pt(there)
    with speaking(tongue("es", "us")):
        rows = stand_sheet.rows(there, by_number=True)
    said_again = [cell for row in rows for cell in row.again if cell.x_pt == 0.0 and cell.lines[0]]
    assert said_again
    for cell in said_again:
        assert all(width_of(line, 9.0, bold=True) <= width for line in cell.lines)
