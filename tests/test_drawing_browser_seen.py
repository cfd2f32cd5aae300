"""Nothing is out of sight or reach: on a phone, by key, with a plan of an earlier drawing."""

import json
from collections.abc import Iterator
from itertools import combinations
from typing import Any

import pytest
from drawing_page import DESKTOP, PHONE, Served, Sheet, forbid, missing, note, until
from shapely.geometry import LineString, Point

pytestmark = pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}")
PLANNED_S = 240.0
SETTLED_MS = 900  # longer than the page waits after a change before it plans anew
FINAL = (
    "(() => { const n = skidway.planned.current();"
    " return n && n.final && !skidway.planned.busy(); })()"
)
FOCUS = (
    "(() => { const a = document.activeElement;"
    " return a === document.body ? 'nowhere' : a.id || a.textContent; })()"
)


@pytest.fixture
def sheet(browser: Any, server: Served) -> Iterator[Sheet]:
    opened = Sheet(browser.new_context(**DESKTOP), server)
    yield opened
    opened.close()


@pytest.fixture
def phone(browser: Any, server: Served) -> Iterator[Sheet]:
    opened = Sheet(browser.new_context(**PHONE), server)
    yield opened
    opened.close()


def marked_tree(sheet: Sheet) -> tuple[str, tuple[float, float]]:
    """Give a marked tree far from everything that is drawn."""
    area = sheet.server.ground.area
    lines = [LineString(t["line"]) for t in sheet.draft["trails"]]
    rows = [r for r, cut in enumerate(area.trees.marked) if cut]
    place = {r: (float(area.trees.x[r]), float(area.trees.y[r])) for r in rows}
    row = max(rows, key=lambda r: min(line.distance(Point(place[r])) for line in lines))
    return area.trees.tree_id[row], place[row]


def by_key(sheet: Sheet, words: str, then: str) -> None:
    """Press a button by key; what is named has the focus when all is done."""
    sheet.page.get_by_role("button", name=words, exact=True).first.focus()
    sheet.page.keyboard.press("Enter")
    sheet.page.wait_for_timeout(500)  # what is painted anew may take the focus away again
    sheet.until(f"{FOCUS} === {json.dumps(then)}")


def a_position(sheet: Sheet) -> dict[str, Any]:
    plan = sheet.page.evaluate("skidway.planned.current()")
    return dict(max(plan["positions"], key=lambda p: p["trees"]))


def choose_position(sheet: Sheet) -> dict[str, Any]:
    spot = a_position(sheet)
    sheet.look_at(spot["at"], 0.1)
    sheet.page.focus("#map")
    sheet.page.keyboard.press("Enter")
    sheet.until("document.querySelector('.spot').textContent.includes('Winch position')")
    return spot


def test_who_works_by_key_is_never_left_nowhere(sheet: Sheet) -> None:
    _, place = marked_tree(sheet)
    sheet.look_at(place, 0.1)
    sheet.page.focus("#map")
    sheet.page.keyboard.press("Enter")
    sheet.until("document.getElementById('panel-tree').textContent.includes('Take its mark off')")
    by_key(sheet, "Take its mark off", "Mark it to be cut")
    by_key(sheet, "Mark it to be cut", "Take its mark off")
    by_key(sheet, "Another tree", "panel-tree")
    for name in ("key one", "key two"):
        sheet.page.fill("#drawing-name", name)
        sheet.press("Save")
        sheet.until(f"skidway.store.savedAs().name === {name!r}")
    sheet.page.get_by_role("tab", name="Drawings").click()
    sheet.until("!!document.querySelector('[aria-label=\"Open: key two\"]')")
    by_key(sheet, "Lay beside: key one", "Lay beside")
    by_key(sheet, "Take it off", "panel-drawings")
    by_key(sheet, "Open: key one", "Open")
    by_key(sheet, "A new drawing from the files", "A new drawing from the files")
    sheet.page.keyboard.press("Shift+Tab")
    # tabs: to the last and the first
    sheet.page.focus("#tab-drawings")
    sheet.page.keyboard.press("End")
    assert sheet.page.evaluate(FOCUS) == "tab-how"
    sheet.page.keyboard.press("Home")
    assert sheet.page.evaluate(FOCUS) == "tab-findings"


def test_the_offer_of_a_way_gives_the_focus_back_to_the_map(sheet: Sheet) -> None:
    area = sheet.server.ground.area
    spot = area.stand.representative_point()
    for words in ("Not this", "Keep it"):
        sheet.page.focus("#map")
        sheet.page.keyboard.press("b")
        sheet.look_at((spot.x, spot.y), 0.3)
        sheet.page.keyboard.press("Enter")
        sheet.until("document.querySelector('.offer button') !== null")
        by_key(sheet, words, "map")


@pytest.mark.slow
def test_the_cards_of_a_position_by_key(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until(FINAL, PLANNED_S)
    choose_position(sheet)
    by_key(sheet, "Move it", "map")
    by_key(sheet, "Leave it where it is", "panel-plan")
    choose_position(sheet)
    by_key(sheet, "Nobody parks here", "panel-plan")


def test_on_a_phone_what_was_tapped_is_told_over_the_map(phone: Sheet) -> None:
    name, place = marked_tree(phone)
    phone.look_at(place, 0.1)
    phone.tap(place)
    phone.until("document.querySelector('.picked span').textContent.includes('marked to be cut')")
    assert f"Tree {name}" in phone.text(".picked") and phone.page.is_visible(".picked")
    seen = "r => { const b = document.querySelector(r).getBoundingClientRect();"
    seen += " return b.top >= 0 && b.top < innerHeight * 0.6; }"
    assert not phone.page.evaluate(seen, "#panel-tree h2")
    phone.press("See its card")
    phone.page.wait_for_timeout(300)
    assert phone.page.evaluate(seen, "#panel-tree .figures")
    assert phone.page.evaluate(FOCUS) == "panel-tree"
    phone.press("Another tree")
    assert phone.page.is_hidden(".picked")


@pytest.mark.slow
def test_on_a_phone_the_map_is_in_sight_when_a_place_is_asked_for(phone: Sheet) -> None:
    phone.press("Plan the spurs")
    phone.until(FINAL, PLANNED_S)
    spot = a_position(phone)
    phone.look_at(spot["at"], 0.1)
    phone.tap(spot["at"])
    phone.until("document.querySelector('.picked span').textContent.includes('Winch position')")
    phone.press("See its card")
    phone.page.wait_for_timeout(200)
    phone.press("Move it")
    phone.page.wait_for_timeout(300)
    box = phone.page.locator("#map").bounding_box()
    assert box is not None and box["y"] >= -1  # the whole of it
    assert "Tap where it is to be" in phone.text(".picked")
    phone.page.locator(".picked").get_by_role("button", name="Leave it where it is").click()
    assert "Tap where it is to be" not in phone.text(".picked")


@pytest.mark.slow
def test_the_map_says_that_the_plan_on_it_is_of_an_earlier_drawing(sheet: Sheet) -> None:
    older = "The plan shown is of an earlier drawing."
    plan = sheet.page.locator(".older", has_text=older)
    assert not plan.is_visible()
    sheet.press("Plan the spurs")
    sheet.until(FINAL, PLANNED_S)
    assert not plan.is_visible()
    note(sheet, "N1")  # a plan hangs on none
    sheet.page.wait_for_timeout(SETTLED_MS)
    assert not plan.is_visible() and sheet.page.evaluate(FINAL)
    forbid(sheet)  # planned anew by itself
    assert not plan.is_visible()
    sheet.until("skidway.planned.busy()")
    sheet.press("Stop planning")
    plan.wait_for(state="visible")
    sheet.press("Undo")
    plan.wait_for(state="hidden")
    sheet.press("Redo")
    plan.wait_for(state="visible")
    sheet.press("Plan again")
    assert not plan.is_visible() and sheet.page.evaluate(FOCUS) == "map"
    sheet.begin()
    assert not plan.is_visible()


@pytest.mark.slow
def test_findings_of_the_same_drawing_are_not_said_to_be_of_another(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until(FINAL, PLANNED_S)
    sheet.press("Plan the spurs")  # the same drawing once more, given up after its first look
    sheet.until("!skidway.planned.current().final", PLANNED_S)
    sheet.press("Stop planning")
    words = sheet.text("#panel-plan")
    assert "not of the drawing as it stands" not in words
    assert "of the drawing as it stands: the new plan was not proved" in words
    note(sheet, "N1")
    assert "not of the drawing as it stands" not in sheet.text("#panel-plan")
    forbid(sheet)
    assert "not of the drawing as it stands" in sheet.text("#panel-plan")


@pytest.mark.parametrize("stops", [0, 1, 3])
def test_files_with_stops_in_them_say_so(sheet: Sheet, stops: int) -> None:
    sheet.page.fill("#drawing-name", f"stops {stops}")
    sheet.press("Save")
    sheet.until(f"skidway.store.savedAs().name === 'stops {stops}'")
    sheet.page.get_by_role("tab", name="Drawings").click()
    done = {"state": "done", "step": "", "written": ["out", ["crew_map.pdf"], stops]}
    sheet.page.route("**/api/outputs", lambda route: route.fulfill(json={"job": 1}))
    sheet.page.route("**/api/replan_state", lambda route: route.fulfill(json=done))
    sheet.press(f"Make the crew's files: stops {stops}")
    sheet.until("document.querySelector('.written').textContent.includes('Written to')")
    told = sheet.page.locator(".written [role=alert]")
    assert told.count() == (1 if stops else 0)
    if stops:
        assert told.inner_text().startswith(f"{stops} finding")
        assert "nobody is to work by these files" in told.inner_text()
    sheet.page.unroute_all()


def test_a_second_wish_for_files_loses_nothing_of_the_first(sheet: Sheet) -> None:
    for k in range(4):  # a list as long as the panel is high
        sheet.page.fill("#drawing-name", f"one of many {k}")
        sheet.page.press("#drawing-name", "Enter")
        sheet.until(f"skidway.store.savedAs().name === 'one of many {k}'")
    sheet.page.get_by_role("tab", name="Drawings").click()
    answers = [{"job": 1}, {"error": "being written; wait", "status": 400}]
    states = [{"state": "running", "step": "Writing maps"}] * 3 + [
        {"state": "done", "step": "", "written": ["out", ["crew_map.pdf"], 2]}
    ]
    sheet.page.route("**/api/outputs", lambda route: route.fulfill(json=answers.pop(0)))
    sheet.page.route("**/api/replan_state", lambda route: route.fulfill(json=states.pop(0)))
    for _ in range(2):
        sheet.press("Make the crew's files: one of many 0")
    sheet.until("document.querySelector('.written').textContent.includes('being written; wait')")
    sheet.until("document.querySelector('.written').textContent.includes('Written to')")
    assert "2 findings say stop" in sheet.text(".written [role=alert]")
    assert "being written" not in sheet.text(".written")
    room = sheet.page.locator(".written").bounding_box()
    assert room is not None and room["y"] + room["height"] <= DESKTOP["viewport"]["height"] + 1
    sheet.page.unroute_all()


def test_on_a_phone_what_lies_over_the_map_lies_beside_the_rest(phone: Sheet) -> None:
    """The profile, how the planning goes and that a plan is old: none hides another."""
    phone.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    phone.until("!document.getElementById('profile').hidden")
    phone.page.evaluate(
        "() => { document.querySelector('.planning').hidden = false;"
        " document.querySelector('.planning span').textContent = 'a first look';"
        " const old = document.querySelector('.older'); old.hidden = false; }"
    )
    rooms = [
        phone.page.locator(which).first.bounding_box()
        for which in ("#profile", ".planning", ".older", ".ol-zoom")
    ]
    assert all(rooms)
    for one, other in combinations([room for room in rooms if room], 2):
        beside = one["x"] + one["width"] <= other["x"] or other["x"] + other["width"] <= one["x"]
        assert (
            beside
            or one["y"] + one["height"] <= other["y"]
            or (other["y"] + other["height"] <= one["y"])
        )
    for zoom in range(30):  # whatever length it has
        phone.page.evaluate(f"skidway.map.getView().setResolution(0.3 * 1.1 ** {zoom})")
        phone.page.evaluate("skidway.map.renderSync()")
        scale = phone.page.locator(".ol-scale-line").bounding_box()
        place = phone.page.locator(".place").bounding_box()
        assert scale and place and scale["x"] + scale["width"] <= place["x"]


def test_on_a_phone_a_compared_number_is_in_sight(phone: Sheet) -> None:
    for name in ("phone one", "phone two"):
        phone.page.fill("#drawing-name", name)
        phone.press("Save")
        phone.until(f"skidway.store.savedAs().name === {name!r}")
    phone.page.get_by_role("tab", name="Drawings").click()
    for name in ("phone one", "phone two"):
        phone.page.get_by_label(f"Compare {name}").check()
    phone.press("Compare the ticked ones")
    phone.until("!!document.querySelector('.compared td')")
    for _ in range(2):
        right = phone.page.evaluate(
            "Math.max(...[...document.querySelectorAll('.compared tr :nth-child(2)')]"
            ".map(c => c.getBoundingClientRect().right))"
        )
        assert right <= 390
        phone.page.evaluate("document.querySelector('.compared .wide').scrollLeft = 1000")
        label = phone.page.locator(".compared tr:nth-child(2) th").bounding_box()
        assert label is not None and label["x"] >= 0  # what a number is of stays in sight


def test_a_profile_nobody_judged_does_not_look_within_the_limits(sheet: Sheet) -> None:
    sheet.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    sheet.until("!document.getElementById('profile').hidden")
    dashes = (
        "() => { window.dashes = []; const set = CanvasRenderingContext2D.prototype.setLineDash;"
        " CanvasRenderingContext2D.prototype.setLineDash = function (d) {"
        " if (this.canvas.parentElement?.id === 'profile') window.dashes.push(String(d));"
        " return set.call(this, d); }; }"
    )
    sheet.page.evaluate(dashes)
    refused = {"error": "not now", "status": 400}
    sheet.page.route("**/api/judge", lambda route: route.fulfill(json=refused))
    note(sheet, "N1")
    sheet.until("document.getElementById('banner').textContent === 'not now'")
    assert "1,9" in sheet.page.evaluate("window.dashes")  # as everything that is not known
    sheet.page.unroute("**/api/judge")


def test_a_finding_that_stays_is_left_alone_and_others_are_told_anew(sheet: Sheet) -> None:
    first = "document.querySelector('#panel-findings .findings li')"
    sheet.page.evaluate(f"{first}.dataset.mine = 1")
    sheet.page.evaluate(
        "() => { const d = structuredClone(skidway.store.draft());"
        " const l = d.trails[0].line; l[l.length - 1][0] -= 20; skidway.store.commit(d); }"
    )
    sheet.settle()
    answer = sheet.page.evaluate(
        "async () => (await (await fetch('/api/judge', {method: 'POST', headers:"
        " {'Content-Type': 'application/json', 'X-Skidway-Token': location.hash.slice(1)},"
        " body: JSON.stringify({draft: skidway.store.draft()})})).json()).findings"
        ".filter(f => f.level !== 'ok').map(f => f.message)"
    )
    shown = sheet.page.locator("#panel-findings .findings li span").all_inner_texts()
    assert [words.split(" (unverified")[0] for words in shown] == [
        words.split(" (unverified")[0] for words in answer
    ]
    again = sheet.page.evaluate(f"[{first}.textContent, {first}.dataset.mine]")
    kept = sheet.page.evaluate(
        "[...document.querySelectorAll('#panel-findings .findings li')]"
        ".filter(li => li.dataset.mine).length"
    )
    assert kept == 1, again


def test_what_lies_still_keeps_its_picture_while_a_line_is_bent(sheet: Sheet) -> None:
    sheet.page.evaluate(
        "() => { window.anew = { ground: 0, plan: 0 }; const proto ="
        " CanvasRenderingContext2D.prototype; const clear = proto.clearRect;"
        " proto.clearRect = function (...room) {"
        " const [name] = (this.canvas.parentElement?.className || '').split('-sheet');"
        " if (name in window.anew) window.anew[name] += 1;"
        " return clear.apply(this, room); }; }"
    )

    def drawn(words: str = "null") -> dict[str, bool]:
        """Say which sheets were drawn anew since the last time, and for what is done now."""
        sheet.page.evaluate(words)
        sheet.settle()
        sheet.page.evaluate("skidway.map.renderSync()")
        told = sheet.page.evaluate("Object.entries(anew)")
        sheet.page.evaluate("anew.ground = anew.plan = 0")
        return {name: count > 0 for name, count in told}

    served = (
        "skidway.stems.showStatus("
        "Object.fromEntries(skidway.area.trees.id.map(id => [id, 'served'])), [])"
    )
    still = {"ground": False, "plan": False}
    until(lambda: drawn() == still)  # a page just opened may still be getting its first picture
    assert drawn(served) == {"ground": False, "plan": True}
    assert drawn() == still
    sheet.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    line, judged = sheet.trail("M")["line"], sheet.page.evaluate("skidway.delays.length")
    drawn()
    (x, y), (ax, ay) = sheet.at(line[-1]), sheet.at(line[-2])
    sheet.page.mouse.move(x - 3, y)
    sheet.page.mouse.move(x, y)
    sheet.page.mouse.down()
    sheet.page.mouse.move((x + ax) / 2 + 8, (y + ay) / 2 + 8, steps=6)
    assert drawn() == still
    assert sheet.page.evaluate("skidway.delays.length") > judged
    sheet.page.mouse.up()
    assert sheet.trail("M")["line"] != line
    drawn()
    # what changes is drawn: how strong a layer is, whether it is on, the stem meant, the view
    layer = "skidway.map.getAllLayers().find(l => l.getZIndex() === {}){}"
    dimmed = layer.format("undefined", ".setOpacity(0.5)")
    assert drawn(dimmed) == {"ground": True, "plan": False}
    assert drawn(layer.format(15, ".setVisible(false)")) == {"ground": False, "plan": True}
    assert drawn("skidway.stems.choose(0)") == {"ground": False, "plan": True}
    moved = "skidway.map.getView().adjustCenter([5, 0])"
    assert drawn(moved) == {"ground": True, "plan": True}
