"""The map in a notebook cell, in a real browser: the frame, its messages, its drafts."""

import shutil
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from drawing_page import DESKTOP, missing
from notebook_page import Notebook

from layout.area import read_area
from layout.drawing import keeping, widget
from layout.drawing.draft_area import draft_of
from layout.drawing.ground_read import GroundRead, ground_read
from layout.drawing.widget import DrawingMap

AREA = Path(__file__).parent / "data" / "metric_area"
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}"),
]


@pytest.fixture
def notebook(browser: Any) -> Iterator[Notebook]:
    made = Notebook(browser.new_context(**DESKTOP))
    yield made
    made.quit()


@pytest.fixture(scope="module")
def ground(tmp_path_factory: pytest.TempPathFactory) -> GroundRead:
    folder = tmp_path_factory.mktemp("cell") / "area"
    shutil.copytree(AREA, folder)
    return ground_read(read_area(folder))


@pytest.fixture
def shown(ground: GroundRead, monkeypatch: pytest.MonkeyPatch) -> Iterator[DrawingMap]:
    monkeypatch.setattr(widget, "ground_read", lambda area: ground)
    made = DrawingMap(ground.area)
    yield made
    made.close()


def noted(frame: Any, words: str) -> None:
    """Put a note beside the landing, as the page itself commits one."""
    frame.evaluate(
        """words => { const { store } = skidway; const d = store.draft();
        const at = store.round(d.trails[0].line[0]);
        const note = { id: store.nextId(d.notes, 'N'), at, text: words };
        store.commit({ ...d, notes: [...d.notes, note] }); }""",
        words,
    )


def notes(of: Any) -> list[str]:
    """Give the words of the notes a page or a widget holds."""
    if isinstance(of, DrawingMap):
        return [note.text for note in of.draft.notes]
    return [str(w) for w in of.evaluate("skidway.store.draft().notes.map(n => n.text)")]


def test_drawn_by_key_in_the_cell_and_there_in_the_notebook(
    notebook: Notebook, shown: DrawingMap
) -> None:
    frame = notebook.show(shown)
    assert frame.evaluate("origin") == "null"  # it can touch nothing of the notebook
    frame.locator("#map").focus()
    press = notebook.page.keyboard.press
    before = shown.draft
    press("s")  # a spur, off the middle of the main trail
    middle = before.trails[0].line[len(before.trails[0].line) // 2]
    for north in (0.0, 25.0, 50.0):
        at = [middle[0], middle[1] + north]
        frame.evaluate("at => skidway.map.getView().setCenter(at)", at)
        press("Enter")
    press("f")
    notebook.wait(lambda: len(shown.draft.trails) == 2)
    spur = shown.draft.trails[1]
    assert (spur.kind, spur.joins) == ("spur", "M")
    assert spur.line[-1] == pytest.approx((middle[0], middle[1] + 50.0), abs=0.01)
    notebook.wait(lambda: "Spur" in frame.inner_text("#panels"))  # judged
    press("Control+z")
    notebook.wait(lambda: shown.draft == before)


def test_set_in_the_notebook_it_stands_on_the_page_and_can_be_undone(
    notebook: Notebook, shown: DrawingMap
) -> None:
    begun = draft_of(shown.area)
    shorter = replace(begun.trails[0], line=begun.trails[0].line[:40])
    shown.draft = replace(begun, trails=(shorter,))  # before it is shown
    frame = notebook.show(shown)
    assert frame.evaluate("skidway.store.draft().trails[0].line.length") == 40
    shown.draft = begun  # and after
    notebook.wait(lambda: frame.evaluate("skidway.store.draft().trails[0].line.length") > 40)
    assert frame.inner_text("#save-state") == "not saved"
    frame.click("#undo")
    notebook.wait(lambda: len(shown.draft.trails[0].line) == 40)


def test_two_cells_of_one_map_follow_each_other(notebook: Notebook, shown: DrawingMap) -> None:
    first, second = notebook.show(shown), notebook.show(shown)
    noted(first, "wet here")
    notebook.wait(lambda: notes(second) == ["wet here"])
    noted(second, "and here")
    notebook.wait(lambda: notes(first) == ["wet here", "and here"] == notes(shown))


def test_saved_from_the_cell_and_from_the_notebook(notebook: Notebook, shown: DrawingMap) -> None:
    frame = notebook.show(shown)
    noted(frame, "a spring")
    frame.fill("#drawing-name", "North")
    frame.click("#save")
    notebook.wait(lambda: frame.inner_text("#save-state") == "version 1")
    shown.save("North")
    notebook.wait(lambda: frame.inner_text("#save-state") == "version 2")
    kept = keeping.load(shown.area.folder, shown.area.crs, "North")
    assert [note.text for note in kept.draft.notes] == ["a spring"]
    noted(frame, "a wall")
    notebook.wait(lambda: frame.inner_text("#save-state") == "not saved")
    frame.click("#save")
    notebook.wait(lambda: frame.inner_text("#save-state") == "version 3")


def test_a_cell_that_is_moved_goes_on_where_it_was(notebook: Notebook, shown: DrawingMap) -> None:
    noted(notebook.show(shown), "wet here")
    notebook.wait(lambda: notes(shown) == ["wet here"])
    # a frame moved in its document is loaded anew
    notebook.page.evaluate("document.body.prepend(document.querySelector('iframe'))")
    assert notes(notebook.frame(0)) == ["wet here"]


def test_what_was_not_saved_is_offered_again_for_its_own_area_only(
    notebook: Notebook, shown: DrawingMap, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    left = notebook.show(shown)
    noted(left, "wet here")
    notebook.wait(lambda: notes(shown) == ["wet here"])
    beside = DrawingMap(shown.area)
    frame = notebook.show(beside)
    assert notes(frame) == []
    frame.get_by_role("tab", name="Drawings").click()
    assert frame.get_by_role("button", name="Take it up").count() == 0  # its cell still stands
    notebook.page.reload()  # the kernel is started anew with it
    notebook.widgets.clear()
    folder = tmp_path / "other"
    shutil.copytree(AREA, folder)
    monkeypatch.undo()
    for area, offered in ((read_area(folder), False), (shown.area, True)):
        made = DrawingMap(area)
        frame = notebook.show(made)
        assert notes(frame) == []
        frame.get_by_role("tab", name="Drawings").click()
        button = frame.get_by_role("button", name="Take it up")
        if offered:
            button.click()
            notebook.wait(lambda made=made: notes(made) == ["wet here"])
        else:
            frame.wait_for_timeout(300)
            assert button.count() == 0
        made.close()
    beside.close()


def test_a_kernel_that_does_not_answer_is_told_and_the_drawing_stays(
    notebook: Notebook, shown: DrawingMap
) -> None:
    frame = notebook.show(shown)
    told = notebook.page.get_by_role("status")
    assert told.count() == 0
    notebook.deaf = True
    noted(frame, "wet here")
    notebook.wait(lambda: told.count() == 1)
    assert "No answer from the kernel yet" in told.inner_text()
    assert notes(frame) == ["wet here"]


def test_the_spurs_are_planned_behind_the_cell(notebook: Notebook, shown: DrawingMap) -> None:
    frame = notebook.show(shown)
    frame.click("#plan")
    notebook.wait(lambda: frame.evaluate("skidway.planned.current()?.final === true"), 300.0)
    assert "spurs" in frame.inner_text("#panel-plan").lower()
