"""The page speaks of what is chosen and drawn now, and the ground stays under the hand."""

import io
import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from drawing_page import DESKTOP, PHONE, XY, Served, Sheet, forbid, missing
from matplotlib.image import imread
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon

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


def lone_trees(sheet: Sheet) -> list[tuple[str, XY]]:
    """Give marked trees a click cannot mistake for a trail, the landing or another tree."""
    area = sheet.server.ground.area
    places = np.column_stack([area.trees.x, area.trees.y])
    drawn = [LineString(t["line"]) for t in sheet.draft["trails"]] + [area.landing]
    out = []
    for row in np.flatnonzero(area.trees.marked):
        away = np.hypot(*(places - places[row]).T)
        away[row] = np.inf
        place = Point(places[row])
        if away.min() > 3.0 and all(shape.distance(place) > 12 for shape in drawn):
            out.append((area.trees.tree_id[row], (place.x, place.y)))
    return out


def click_tree(sheet: Sheet, place: XY) -> None:
    sheet.look_at(place, 0.15)
    sheet.click(place)


def around(sheet: Sheet, place: XY, half: int) -> NDArray[np.float64]:
    """Give the pixels about a place of the ground, rows downwards."""
    x, y = sheet.at(place)
    clip = {"x": round(x) - half, "y": round(y) - half, "width": 2 * half, "height": 2 * half}
    return np.asarray(imread(io.BytesIO(sheet.page.screenshot(clip=clip)))[..., :3], dtype=float)


def bow_tie(middle: XY, size: float = 12.0) -> list[XY]:
    """Corners of an outline that crosses itself."""
    x, y = middle
    return [(x, y), (x + size, y + size), (x + size, y), (x, y + size)]


def refuse(words: str) -> Any:
    """Refuse in words, as the program answers its own page."""
    body = json.dumps({"error": words, "status": 400})
    return lambda route: route.fulfill(content_type="application/json", body=body)


def test_the_panel_speaks_of_the_tree_that_has_the_ring(sheet: Sheet) -> None:
    (one, at_one), (other, at_other) = lone_trees(sheet)[:2]
    click_tree(sheet, at_one)
    sheet.until(
        f"document.querySelector('#panel-tree h2').textContent === 'Tree {one}: marked to be cut'"
    )
    # ground closed by an outline that crosses itself: nothing of it can be judged
    away = (at_one[0] + 30, at_one[1] + 20)
    sheet.look_at(away, 0.15)
    sheet.press("Close ground")
    sheet.draw(*bow_tie(away))
    sheet.until("!document.getElementById('banner').hidden")
    sheet.press("Choose and bend")
    click_tree(sheet, at_other)
    sheet.until(
        f"document.querySelector('#panel-tree h2').textContent === 'Tree {other}: marked to be cut'"
    )
    sheet.press("Take its mark off")
    assert sheet.draft["marks"] == {other: "leave"}
    sheet.until(f"document.querySelector('#panel-tree h2').textContent === 'Tree {other}: stays'")
    # what cannot be told is said under the name of the tree that was asked for
    sheet.page.route("**/api/tree", refuse("not to be had today"))
    click_tree(sheet, at_one)
    sheet.until("document.getElementById('panel-tree').textContent.includes('not to be had today')")
    words = sheet.text("#panel-tree")
    assert one in words and other not in words and "mark" not in words
    sheet.page.unroute("**/api/tree")


def test_a_tree_is_let_go_when_another_drawing_is_opened(sheet: Sheet) -> None:
    _, place = lone_trees(sheet)[0]
    sheet.look_at(place, 0.15)
    sheet.page.wait_for_timeout(600)
    plain = around(sheet, place, 24)
    waiting: list[Any] = []
    sheet.page.route("**/api/tree", lambda route: waiting.append(route))
    sheet.click(place)
    sheet.page.mouse.move(5, 5)
    for _ in range(200):
        if waiting:
            break
        sheet.page.wait_for_timeout(20)
    sheet.page.wait_for_timeout(600)
    assert np.abs(around(sheet, place, 24) - plain).max() > 0.3  # the ring
    sheet.page.evaluate("skidway.store.open({...skidway.store.draft(), notes: []}, 'another', 1)")
    waiting[0].continue_()
    sheet.settle()
    sheet.page.wait_for_timeout(600)
    assert sheet.text("#panel-tree h2") == "A tree"
    assert np.abs(around(sheet, place, 24) - plain).max() < 0.1
    sheet.page.unroute("**/api/tree")


@pytest.mark.parametrize("view", [DESKTOP, PHONE], ids=["desk", "phone"])
def test_words_over_the_map_move_no_ground(browser: Any, server: Served, view: Any) -> None:
    sheet = Sheet(browser.new_context(**view), server)
    (_, place) = lone_trees(sheet)[0]
    sheet.look_at(place, 0.2)
    was = sheet.at(place)
    sheet.page.evaluate(
        "s => skidway.store.commit({...skidway.store.draft(),"
        " trails: [...skidway.store.draft().trails, s]})",
        {"id": "S9", "kind": "spur", "line": [place, [place[0] + 9, place[1]]], "joins": "none"},
    )
    sheet.settle()
    assert sheet.page.is_visible("#banner") and "S9" in sheet.text("#banner")
    assert sheet.at(place) == was
    sheet.page.evaluate("skidway.store.undo()")
    sheet.settle()
    assert not sheet.page.is_visible("#banner") and sheet.at(place) == was
    sheet.close()


def test_an_outline_is_not_told_off_before_it_is_ended(sheet: Sheet) -> None:
    _, place = lone_trees(sheet)[0]
    sheet.look_at(place, 0.2)
    corners = bow_tie(place)
    sheet.press("Close ground")
    for corner in corners:
        sheet.click(corner)
        sheet.settle()
        assert not sheet.page.is_visible("#banner")
    sheet.press("End the line")
    sheet.settle()
    assert "crosses itself" in sheet.text("#banner")
    (closed,) = sheet.draft["keep_out"]
    np.testing.assert_allclose(closed["outline"], corners, atol=0.21)  # a pixel


def test_a_best_way_is_offered_for_the_drawing_that_stands(sheet: Sheet) -> None:
    whole = sheet.draft
    main = LineString(sheet.trail("M")["line"])
    sheet.begin(**{**whole, "trails": []})
    sheet.page.evaluate("d => skidway.store.commit(d)", whole)
    sheet.settle()
    a, b = main.interpolate(0.7, normalized=True), main.interpolate(0.71, normalized=True)
    size = np.hypot(b.x - a.x, b.y - a.y)
    place = (a.x - (b.y - a.y) / size * 40, a.y + (b.x - a.x) / size * 40)
    sheet.press("Best way to here")
    sheet.click(place)
    sheet.until("!!document.querySelector('.offer button')")
    sheet.press("Undo")
    sheet.settle()
    assert sheet.draft["trails"] == []
    assert sheet.page.locator(".offer button").count() == 0
    assert "drawing has changed" in sheet.text(".offer")
    # one that is still looked for when the drawing changes is not offered either
    sheet.press("Redo")
    sheet.settle()
    waiting: list[Any] = []
    sheet.page.route("**/api/way", lambda route: waiting.append(route))
    sheet.click(place)
    for _ in range(200):
        if waiting:
            break
        sheet.page.wait_for_timeout(20)
    sheet.press("Undo")
    waiting[0].continue_()
    sheet.settle()
    sheet.page.wait_for_timeout(1500)
    assert sheet.page.locator(".offer button").count() == 0
    sheet.page.unroute("**/api/way")
    sheet.press("Redo")
    sheet.click(place)
    sheet.until("!!document.querySelector('.offer button')")
    sheet.press("Keep it")
    sheet.settle()
    assert sheet.trail("S1")["joins"] == "M" and sheet.page.is_hidden(".offer")


def test_a_finger_begins_on_the_edge_it_tapped(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**PHONE), server)
    west, south, east, north = server.ground.area.stand.bounds
    x, y = (west + east) / 2, (south + north) / 2
    ring = [[x - 20, y - 15], [x + 20, y - 15], [x + 20, y + 15], [x - 20, y + 15]]
    sheet.begin(landing={"outline": ring})
    sheet.look_at((x + 20, y), 0.75)
    sheet.page.evaluate("skidway.pens.take('main')")
    tapped = (x + 20 + 1.25, y + 15 - 13.0)  # 13 m from the corner is 17 pixels
    sheet.tap(tapped)
    sheet.tap((x + 90, y + 10))
    sheet.page.evaluate("skidway.pens.endLine()")
    sheet.settle()
    start = Point(sheet.trail("M")["line"][0])
    assert Polygon(ring).exterior.distance(start) < 0.02
    assert start.distance(Point(x + 20, y + 2)) < 0.8  # a pixel
    sheet.close()


def test_the_mark_of_a_finding_stands_above_its_tree(sheet: Sheet) -> None:
    _, place = lone_trees(sheet)[0]
    judged: list[dict[str, Any]] = []

    def with_finding(route: Any) -> None:
        got = route.fetch()
        told = got.json()
        judged.append(told)
        for finding in told["findings"]:
            finding["at"] = None
        told["findings"].append({
            "level": "caution", "message": "of this tree", "at": list(place), "confirmed": True,
        })  # fmt: skip
        route.fulfill(response=got, body=json.dumps(told))

    sheet.look_at(place, 0.2)
    sheet.page.mouse.move(5, 5)
    sheet.page.wait_for_timeout(600)
    sheet.page.evaluate(
        "skidway.map.getAllLayers().find(l => l.getZIndex() === 40).setVisible(false)"
    )
    sheet.page.route("**/api/judge", with_finding)
    note = {"id": "N1", "at": [place[0] + 60, place[1]], "text": ""}
    sheet.page.evaluate("n => skidway.store.commit({...skidway.store.draft(), notes: [n]})", note)
    sheet.settle()
    sheet.page.wait_for_timeout(600)
    half = 40
    without = around(sheet, place, half)
    sheet.page.evaluate(
        "skidway.map.getAllLayers().find(l => l.getZIndex() === 40).setVisible(true)"
    )
    sheet.page.wait_for_timeout(600)
    changed = np.abs(around(sheet, place, half) - without).max(axis=2) > 0.05
    assert judged and changed.any()
    rows, columns = np.nonzero(changed)
    assert rows.max() <= half + 3  # nothing below the place but the stem's round end
    disc = changed[half - 9 : half + 9, half - 9 : half + 9]
    assert disc.mean() < 0.2  # the stem is all that crosses the tree
    assert 14 < half - rows.mean() < 34 and abs(columns.mean() - half) < 2
    sheet.page.unroute("**/api/judge")


def test_the_tint_of_reach_says_that_it_is_of_an_earlier_drawing(sheet: Sheet) -> None:
    sheet.page.get_by_role("tab", name="Layers").click()
    sheet.page.get_by_label("Ground a trail can reach", exact=True).check()
    pictures = "l => l.getVisible() && l.getSource() && l.getSource().getImageExtent"
    sheet.until(f"skidway.map.getAllLayers().filter({pictures}).length === 3")
    assert sheet.page.is_hidden(".older") and "earlier drawing" not in sheet.text("#panel-layers")
    _, place = lone_trees(sheet)[0]
    note = {"id": "N1", "at": list(place), "text": "nothing to do with reach"}
    sheet.page.evaluate("n => skidway.store.commit({...skidway.store.draft(), notes: [n]})", note)
    assert sheet.page.is_hidden(".older")
    x, y = place
    closed = {"id": "K1", "outline": [[x, y], [x + 9, y], [x + 9, y + 9]]}
    sheet.page.evaluate(
        "k => skidway.store.commit({...skidway.store.draft(), keep_out: [k]})", closed
    )
    assert "earlier drawing" in sheet.text(".older")
    assert "earlier drawing" in sheet.text("#panel-layers")
    sheet.press("Count it again")
    sheet.until("document.querySelector('.older').hidden")
    assert "earlier drawing" not in sheet.text("#panel-layers")
    sheet.press("Undo")
    assert sheet.page.is_visible(".older")
    sheet.press("Redo")
    assert sheet.page.is_hidden(".older")
    sheet.press("Undo")
    sheet.page.get_by_label("Ground a trail can reach", exact=True).uncheck()
    assert sheet.page.is_hidden(".older")


def test_a_tree_says_that_its_plan_is_of_an_earlier_drawing(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until(
        "(() => { const n = skidway.planned.current(); return n && n.final; })()", PLANNED_S
    )
    cards = sheet.page.evaluate("skidway.planned.current().cards")
    name, place = next((n, p) for n, p in lone_trees(sheet) if cards[n]["lines"]["metric"])
    sheet.page.route("**/api/replan", refuse("no planning today"))
    click_tree(sheet, place)
    if f"Tree {name}" not in sheet.text("#panel-tree"):  # a winch position lay nearer
        sheet.page.get_by_role("tab", name="Tree").click()
        sheet.page.get_by_label("Number of a tree").fill(name)
        sheet.press("Find it")
    title = cards[name]["title"]
    sheet.until(f"document.querySelector('#panel-tree h3')?.textContent === {title!r}")
    assert "earlier drawing" not in sheet.text("#panel-tree")
    note = {"id": "N1", "at": [place[0] + 30, place[1]], "text": ""}
    sheet.page.evaluate("n => skidway.store.commit({...skidway.store.draft(), notes: [n]})", note)
    sheet.settle()
    assert "earlier drawing" not in sheet.text("#panel-tree")  # a plan hangs on no note
    forbid(sheet)
    sheet.until("document.getElementById('panel-tree').textContent.includes('earlier drawing')")
    sheet.press("Undo")
    sheet.until("!document.getElementById('panel-tree').textContent.includes('earlier drawing')")
    assert title in sheet.text("#panel-tree")
    sheet.press("Take its mark off")
    sheet.until(f"document.querySelector('#panel-tree h2').textContent === 'Tree {name}: stays'")
    words = sheet.text("#panel-tree")
    assert title not in words and "winch position" not in words.lower()
    sheet.page.unroute("**/api/replan")


def test_the_key_draws_the_signs_as_the_map_does(sheet: Sheet) -> None:
    sheet.page.get_by_role("tab", name="Layers").click()
    sheet.page.get_by_text("What the signs mean", exact=True).click()
    colours: dict[str, set[str]] = {}
    script = (
        "() => [...document.querySelectorAll('.sign-key li')].map(li => { const c ="
        " li.querySelector('canvas'); const d = c.getContext('2d').getImageData(0, 0, c.width,"
        " c.height).data; const out = new Set(); for (let k = 0; k < d.length; k += 4)"
        " if (d[k + 3] > 60) out.add([d[k], d[k + 1], d[k + 2]].join()); return"
        " [li.textContent, [...out]]; })"
    )
    for words, seen in sheet.page.evaluate(script):
        colours[words] = set(seen)
    assert len(colours) == sheet.page.locator(".sign-key li").count() > 10
    assert all(colours.values()), [words for words, seen in colours.items() if not seen]
    # the tree in its place on the map: the colours of its disc are those of the key
    tree = sheet.server.ground.area.trees.tree_id.index(lone_trees(sheet)[0][0])
    _, place = lone_trees(sheet)[0]
    assert sheet.page.evaluate("k => skidway.stems.marked(k)", tree)
    sheet.look_at(place, 0.15)
    sheet.page.wait_for_timeout(600)
    hollow = colours["Marked tree, out of reach of what is drawn"]
    disc = (around(sheet, place, 8) * 255).round().astype(int).reshape(-1, 3)
    on_map = {",".join(str(v) for v in pixel) for pixel in disc}
    assert {"255,255,255", "11,107,88"} <= hollow & on_map  # white within a green ring
    full = colours["Marked tree in reach; once planned: one the plan serves"]
    assert "11,107,88" in full and "255,255,255" not in full
