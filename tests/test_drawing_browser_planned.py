"""From the page: the best way to a place, a plan in the background, drawings compared, files."""

import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from drawing_page import DESKTOP, PHONE, Served, Sheet, missing
from shapely.geometry import LineString, Point

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}"),
]
PLANNED_S = 240.0  # a plan takes seconds, and a minute on a machine that is busy


@pytest.fixture
def sheet(browser: Any, server: Served) -> Iterator[Sheet]:
    opened = Sheet(browser.new_context(**DESKTOP), server)
    yield opened
    opened.close()


def beside_main(sheet: Sheet, share: float, off_m: float) -> tuple[float, float]:
    main = LineString(sheet.trail("M")["line"])
    a = main.interpolate(share, normalized=True)
    b = main.interpolate(share + 0.01, normalized=True)
    x, y = b.x - a.x, b.y - a.y
    size = np.hypot(x, y)
    return a.x - y / size * off_m, a.y + x / size * off_m


def test_the_best_way_is_shown_first_and_kept_when_wanted(sheet: Sheet) -> None:
    before = sheet.draft
    place = beside_main(sheet, 0.7, 45.0)
    sheet.press("Best way to here")
    sheet.click(place)
    sheet.until("!!document.querySelector('.offer button')")
    assert sheet.draft == before  # shown, not kept
    sheet.press("Not this")
    assert sheet.draft == before
    sheet.press("Best way to here")
    sheet.click(place)
    sheet.until("!!document.querySelector('.offer button')")
    sheet.press("Keep it")
    sheet.settle()
    spur = sheet.trail("S1")
    assert (spur["kind"], spur["joins"]) == ("spur", "M")
    assert LineString(spur["line"]).distance(Point(place)) < 6
    assert not [w for w in sheet.page.locator(".findings .stop").all_inner_texts() if "S1" in w]
    sheet.press("Undo")
    sheet.settle()
    assert sheet.draft == before


def test_a_plan_is_made_beside_and_the_newest_drawing_wins(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until("!!skidway.planned.current()", PLANNED_S)
    # one tree more to cut: planned again, of the new drawing
    area = sheet.server.ground.area
    row = int(np.flatnonzero(~area.trees.marked)[40])
    name = area.trees.tree_id[row]
    sheet.page.evaluate(
        "n => skidway.store.commit({...skidway.store.draft(), marks: {[n]: 'cut'}})", name
    )
    sheet.until(
        "(() => { const n = skidway.planned.current(); return n && n.final"
        f" && {name!r} in n.trees && skidway.planned.delays.done.length > 0; }})()"
    )
    assert sheet.page.evaluate("skidway.planned.current().pulls.length") > 5
    assert "before your last change" not in sheet.text("#panel-plan")
    sheet.press("Undo")
    assert "before your last change" in sheet.text("#panel-plan") or "Planning" in sheet.text(
        "#panel-plan"
    )


def test_a_planning_can_be_followed_and_stopped_by_key_and_read_meanwhile(sheet: Sheet) -> None:
    """What is shown is not made anew at every look: focus and place stay."""
    sheet.press("Plan the spurs")
    sheet.until("!!document.querySelector('#panel-plan .busy:not([hidden])')")
    stop = sheet.page.get_by_role("button", name="Stop planning")
    stop.focus()
    sheet.until("!!skidway.planned.current()", PLANNED_S)
    assert "Findings of the plan" not in sheet.text("#panel-plan")  # a first look has none
    sheet.page.evaluate("document.querySelector('#panel-plan .figures').dataset.mine = 1")
    sheet.page.wait_for_timeout(1000)
    assert not sheet.page.evaluate("skidway.planned.current().final")
    assert sheet.page.evaluate("!!document.querySelector('#panel-plan [data-mine]')")
    assert sheet.page.evaluate("document.activeElement.textContent") == "Stop planning"
    sheet.page.keyboard.press("Enter")
    sheet.until("!document.querySelector('#panel-plan .busy:not([hidden])')")
    assert sheet.page.evaluate("document.activeElement.id") == "panel-plan"
    # several changes close together are one planning
    sheet.press("Plan the spurs")
    sheet.until("skidway.planned.current() && skidway.planned.current().final", PLANNED_S)
    asked = sheet.server.asked.count("replan")
    for step in range(3):
        sheet.page.evaluate(
            "k => { const d = structuredClone(skidway.store.draft());"
            " d.trails[0].line.at(-1)[0] -= 0.1 * (k + 1); skidway.store.commit(d); }",
            step,
        )
        sheet.page.wait_for_timeout(100)
    sheet.page.wait_for_timeout(1200)
    assert sheet.server.asked.count("replan") == asked + 1


def test_findings_of_the_plan_before_stay_and_say_so_until_the_new_ones_come(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until("skidway.planned.current() && skidway.planned.current().final", PLANNED_S)
    sheet.until("document.querySelectorAll('#panel-plan .findings li').length > 3")
    words = sheet.page.locator("#panel-plan .findings li").all_inner_texts()
    assert "earlier" not in sheet.text("#panel-plan")
    row = "document.querySelectorAll('#panel-plan .findings li')[2]"
    sheet.page.evaluate(f"{row}.scrollIntoView()")
    place = sheet.page.evaluate(f"{row}.getBoundingClientRect().top")
    assert sheet.page.evaluate("document.getElementById('panels').scrollTop") > 50
    sheet.page.evaluate(
        "() => { const d = structuredClone(skidway.store.draft());"
        " d.trails[0].line.at(-1)[0] -= 1; skidway.store.commit(d); }"
    )
    assert "Findings of the earlier plan" in sheet.text("#panel-plan")
    sheet.until("!skidway.planned.current().final", PLANNED_S)  # the first look of the new one
    sheet.page.wait_for_timeout(100)
    assert sheet.page.locator("#panel-plan .findings li").all_inner_texts() == words
    assert sheet.page.locator("#panel-plan .findings.earlier").count() == 1
    assert "earlier plan" in sheet.text("#panel-plan h3")
    now = sheet.page.evaluate(f"{row}.getBoundingClientRect().top")
    assert abs(now - place) < 10  # the line that is read stays where it was
    sheet.until("skidway.planned.current().final", PLANNED_S)
    sheet.until("!document.querySelector('#panel-plan .findings.earlier')")
    assert "earlier" not in sheet.text("#panel-plan h3")
    sheet.press("Undo")  # the planning is not waited for
    assert "Findings of the earlier plan" in sheet.text("#panel-plan")
    sheet.begin()
    assert not sheet.page.locator("#panel-plan .findings li").count()


def test_the_plan_of_a_tree_is_told_in_the_units_chosen(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until("skidway.planned.current() && skidway.planned.current().final", PLANNED_S)
    name = sheet.page.evaluate("skidway.planned.current().pulls[0].tree")
    sheet.page.get_by_role("tab", name="Tree").click()
    sheet.page.fill("[aria-label='Number of a tree']", name)
    sheet.press("Find it")
    sheet.until("document.getElementById('panel-tree').innerText.includes('Rope along the ground')")
    sheet.page.select_option("#lengths", "feet")
    sheet.until("/\\d ft\\b/.test(document.getElementById('panel-tree').innerText)")
    words = sheet.page.locator("#panel-tree").inner_text()
    assert not re.search(r"\d (m|kN|cm)\b", words), words


def test_on_a_phone_a_planning_is_seen_over_the_map(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**PHONE), server)
    sheet.press("Plan the spurs")
    chip = sheet.page.locator(".planning")
    chip.wait_for(state="visible")
    width = sheet.page.viewport_size["width"]
    for where in (chip, sheet.page.locator("#lengths"), sheet.page.locator("#sums > :last-child")):
        box = where.bounding_box()
        assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= width
    sheet.until("skidway.planned.current() && skidway.planned.current().final", PLANNED_S)
    sheet.until("document.querySelector('.planning').textContent.includes('Marked trees reached')")
    sheet.press("See the plan")
    assert not chip.is_visible()
    assert sheet.page.locator("#panel-plan").is_visible()
    sheet.close()


def test_drawings_are_compared_and_the_crews_files_are_made(sheet: Sheet, server: Served) -> None:
    for name, cut in (("as it is", 0), ("shorter", 2)):
        draft = sheet.draft
        line = draft["trails"][0]["line"]
        draft["trails"][0]["line"] = line[: len(line) - cut * (len(line) // 6)]
        sheet.page.evaluate("d => skidway.store.commit(d)", draft)
        sheet.settle()
        sheet.page.fill("#drawing-name", name)
        sheet.press("Save")
        sheet.until(f"skidway.store.savedAs().name === {name!r}")
    sheet.page.get_by_role("tab", name="Drawings").click()
    for name in ("as it is", "shorter"):
        sheet.page.get_by_label(f"Compare {name}").check()
    sheet.press("Compare the ticked ones")
    sheet.until("!!document.querySelector('.compared table')")
    table = sheet.text(".compared")
    assert "as it is" in table and "shorter" in table
    sheet.page.get_by_label("Compare shorter").uncheck()
    sheet.page.select_option("#lengths", "feet")  # the table stays the one asked for
    sheet.until("document.querySelector('.compared').textContent.includes(' ft')")
    assert "shorter" in sheet.text(".compared table")
    sheet.press("Lay beside: shorter")
    sheet.until("document.querySelector('.compared').textContent.includes('lies beside')")
    sheet.press("Make the crew's files: as it is")
    sheet.until("document.querySelector('.written').textContent.includes('Written to')"
                " || !!document.querySelector('.written .told')",
        PLANNED_S,)  # fmt: skip
    assert "Written to the folder out" in sheet.text(".written"), sheet.text(".written")
    written = server.ground.area.folder / "out"
    assert (written / "plan.gpkg").exists()
    assert "plan.gpkg" in sheet.text(".written")
