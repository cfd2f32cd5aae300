"""Lists of a stand that one map shows: apart while that is few pages, else in the same columns."""

import re

import plan_fixture
import pytest
from crew_sheets import clear, drawn
from hypothesis import given
from hypothesis import strategies as st
from test_outputs_crew_pdf import said, texts
from test_outputs_crew_sheets import whole

from layout.outputs.crew import (
    closing_sheet,
    columns,
    flagging,
    listing,
    profiles,
    stand_sheet,
    tree_list,
    whole_lists,
    work_sheet,
)
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.sheet import Sheet
from layout.outputs.words.translations import tongue
from layout.plan import Plan
from layout.tongue import speaking

PLAIN = plan_fixture.plan("us")
LISTS = ("Flagging sheet", "Order of work", "Closing", "Marked trees", "Stand sheet")


pytestmark = pytest.mark.usefixtures("book_looks")


@pytest.fixture(scope="module", params=[("us", "letter"), ("metric", "a4")], ids=["us", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return whole(*request.param)


def cells(pages: list[listing.ListPage]) -> list[str]:
    """Give the words of all cells, a word each, of every row but titles and repeats."""
    rows = [row for page in pages for column in page.content for row in column]
    return [
        word
        for row in rows
        if not row.head
        for cell in row.cells
        for line in cell.lines
        for word in line.split()
    ]


def test_lists_are_apart_where_the_set_has_room(plan: Plan) -> None:
    made = whole_lists.pages(plan, 20)
    rooms = (flagging, profiles, work_sheet, closing_sheet, tree_list, stand_sheet)
    assert len(made) == sum(len(room.pages(plan)) for room in rooms) > 4
    told = [said(sheet) for sheet in drawn(plan, made)]
    at = [next(n for n, words in enumerate(told) if name in words[:400]) for name in LISTS]
    assert len(set(at)) == len(LISTS)  # each begins a page of its own


@pytest.mark.slow
def test_together_they_say_all_that_they_say_apart_on_fewer_pages(plan: Plan) -> None:
    """No row is lost; the profiles stand below the lists, clear of them."""
    made = whole_lists.pages(plan, 0)
    assert len(made) < len(whole_lists.pages(plan, 20))
    sheets = drawn(plan, made)
    told = " ".join(said(sheet) for sheet in sheets)
    for sheet in sheets:
        clear(sheet)
    shown = [name for name in LISTS if re.search(rf"\b{name}\b", told)]
    assert shown == list(LISTS) and "Trail profiles" in told
    assert told.index("Flagging sheet") < told.index("Order of work") < told.index("Marked trees")
    words = set(told.split())
    every = [*flagging.rows(plan), *tree_list.TreeRows(plan).rows(), *stand_sheet.rows(plan)]
    lost = {w for row in every for c in row.cells for line in c.lines for w in line.split()} - words
    assert not lost
    assert set(cells(work_sheet.pages(plan))) <= words
    assert set(cells(closing_sheet.pages(plan))) <= words


def test_profiles_go_on_a_page_of_their_own_where_the_last_list_leaves_no_room(plan: Plan) -> None:
    floor = listing.floor_pt(plan)
    assert profiles.pages(plan, floor - 60.0) == []
    page = profiles.pages(plan, 200.0)[0]
    sheet = Sheet(plan.area.settings.outputs.paper)
    page(sheet)
    high = sheet.figure.bbox.height - max(t.get_window_extent().y1 for t in texts(sheet))
    assert high / sheet.figure.dpi * 72 > 200.0


@given(
    lines=st.lists(st.integers(1, 4), min_size=1, max_size=120),
    heads=st.sets(st.integers(0, 119), max_size=10),
)
def test_level_columns_hold_the_same_rows_and_end_no_lower(
    lines: list[int], heads: set[int]
) -> None:
    """Against the plain filling: the same rows in order, no more pages, the last one shorter."""
    plan = PLAIN
    rows = [
        Row((Cell(0.0, (f"{n}",) * count),), head=n in heads and n + 1 < len(lines))
        for n, count in enumerate(lines)
    ]
    plain = listing.pages(plan, "x", ["how"], listing.NO_TITLES, rows)
    level = listing.pages(plan, "x", ["how"], listing.NO_TITLES, rows, level=True)
    assert len(level) == len(plain)
    flat = [
        [row.cells for page in pages for column in page.content for row in column[1:]]
        for pages in (plain, level)
    ]
    assert flat[0] == flat[1] == [row.cells for row in rows]
    assert level[-1].end_pt <= plain[-1].end_pt + 1e-9
    assert all(a.content == b.content for a, b in zip(plain[:-1], level[:-1], strict=True))
    tallest = max(row.height_pt for row in rows) * (2 + len(heads))
    two = [sum(row.height_pt for row in column) for column in level[-1].content]
    if len(two) == 2:
        assert abs(two[0] - two[1]) <= tallest + 1.0
    assert len(two) <= listing.COLUMNS


@pytest.mark.slow
def test_a_part_without_titles_has_none_and_a_translation_names_the_lists(plan: Plan) -> None:
    row = Row((Cell(0.0, ("a",)),))
    (page,) = listing.parts_pages(plan, "x", [listing.Part("P", (), listing.NO_TITLES, [row])])
    assert [one.cells for one in page.content[0][1:]] == [
        (Cell(0.0, ("P",), bold=True),), (Cell(0.0, ("a",)),),
    ]  # fmt: skip
    assert columns.filled([row], [0.5], 0.5) == [[row]]
    with speaking(tongue("es", plan.area.settings.area.units)):
        assert "Listas" in said(drawn(plan, whole_lists.pages(plan, 0))[0])
