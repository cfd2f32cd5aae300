"""The map in a real browser: drawn on by mouse, finger and keys, judged, bent, undone."""

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from drawing_page import DESKTOP, PHONE, XY, Served, Sheet, missing
from numpy.testing import assert_allclose
from shapely.geometry import LineString, Point, Polygon

pytestmark = pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}")


@pytest.fixture(scope="module")
def desktop(browser: Any, server: Served) -> Iterator[Sheet]:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    yield sheet
    sheet.close()


@pytest.fixture(scope="module")
def phone(browser: Any, server: Served) -> Iterator[Sheet]:
    sheet = Sheet(browser.new_context(**PHONE), server)
    yield sheet
    sheet.close()


def ground(server: Served) -> tuple[XY, Polygon]:
    """Lower left corner of the stand, and the stand."""
    stand = server.ground.area.stand
    west, south, _, _ = stand.bounds
    return (west, south), stand


def from_corner(server: Served, *steps: XY) -> list[XY]:
    """Give places, metres east and north of the stand's lower left corner."""
    (west, south), _ = ground(server)
    return [(west + dx, south + dy) for dx, dy in steps]


def near(line: list[XY], places: list[XY], within_m: float) -> None:
    assert len(line) == len(places)
    assert_allclose(np.array(line), np.array(places), atol=within_m)


def on_edge(draft: dict[str, Any], xy: XY, server: Served) -> float:
    x, y = draft["landing"]["point"]
    half = server.ground.area.settings.landing.area_m2**0.5 / 2
    square = Polygon([(x - half, y - half), (x + half, y - half), (x + half, y + half),
                      (x - half, y + half)])  # fmt: skip
    return float(square.exterior.distance(Point(xy)))


PLACES = ((30.0, 80.0), (120.0, 85.0), (200.0, 100.0))


def test_a_landing_and_a_main_trail_by_mouse(desktop: Sheet, server: Served) -> None:
    desktop.begin()
    spot, *rest = from_corner(server, *PLACES)
    desktop.press("Landing")
    desktop.click(spot)
    pixel = desktop.page.evaluate("skidway.map.getView().getResolution()")
    assert_allclose(desktop.draft["landing"]["point"], spot, atol=pixel)
    desktop.press("Main trail or arm")
    desktop.draw(spot, *rest)
    (main,) = desktop.draft["trails"]
    assert (main["id"], main["kind"], main["joins"]) == ("M", "main", "")
    near(main["line"][1:], rest, pixel)
    # begun inside the landing, it starts on its edge
    assert on_edge(desktop.draft, main["line"][0], server) < 0.02
    length = LineString(main["line"]).length
    assert desktop.text("#sums b") == f"{length:.0f} m"
    assert desktop.page.is_enabled("#undo") and desktop.text("#save-state") == "not saved"


def test_a_landing_and_a_main_trail_by_finger(phone: Sheet, server: Served) -> None:
    phone.begin()
    spot, *rest = from_corner(server, *PLACES)
    phone.look_at(rest[0], 0.8)
    phone.press("Landing")
    phone.tap(spot)
    assert_allclose(phone.draft["landing"]["point"], spot, atol=0.8)
    phone.press("Main trail or arm")
    for xy in (spot, *rest):
        phone.tap(xy)
    phone.press("End the line")
    phone.settle()
    (main,) = phone.draft["trails"]
    near(main["line"][1:], rest, 0.8)
    # a corner is dragged by finger, then taken out by button
    phone.press("Choose and bend")
    phone.tap(((rest[0][0] + rest[1][0]) / 2, (rest[0][1] + rest[1][1]) / 2))
    there = (rest[0][0] + 10, rest[0][1] + 40)
    phone.finger(rest[0], there)
    assert_allclose(phone.trail("M")["line"][1], there, atol=2.0)
    phone.press("Remove the corner")
    assert len(phone.trail("M")["line"]) == 2
    # where a finger hides the place: the cross
    phone.press("Spur")
    phone.look_at(from_corner(server, (160.0, 92.0))[0], 0.8)
    phone.press("Begin at the cross")
    phone.look_at(from_corner(server, (170.0, 140.0))[0], 0.8)
    phone.press("Corner at the cross")
    phone.press("End the line")
    phone.settle()
    spur = phone.trail("S1")
    assert (spur["kind"], spur["joins"]) == ("spur", "M")
    assert_allclose(spur["line"][-1], from_corner(server, (170.0, 140.0))[0], atol=0.02)


def test_all_by_keys_alone(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    key = sheet.page.keyboard.press
    sheet.begin()
    key("Tab")  # the first stop of the page leads to the map
    key("Enter")
    assert sheet.page.evaluate("document.activeElement.id") == "map"
    for name, step in (("l", 0), ("m", 0), ("", 1), ("", 1)):
        if name:
            key(name)
        for _ in range(step):
            key("ArrowRight")
            sheet.page.wait_for_timeout(200)  # the map glides
        key("Enter")
    key("f")
    sheet.settle()
    (main,) = sheet.draft["trails"]
    assert main["id"] == "M" and len(main["line"]) >= 3
    _, y = sheet.draft["landing"]["point"]
    assert all(b[0] > a[0] for a, b in pairwise(main["line"]))
    assert all(abs(place[1] - y) < 0.5 for place in main["line"])
    # choose it, go to its last corner, move that by a metre, five metres, take it out, undo
    key("v")
    sheet.look_at((main["line"][-1][0] - 5, main["line"][-1][1]), 0.3)
    key("Enter")
    key(",")
    sheet.until("skidway.hand.corner !== null")
    end = main["line"][-1]
    key("Alt+ArrowUp")
    key("Alt+Shift+ArrowLeft")
    assert_allclose(sheet.trail("M")["line"][-1], [end[0] - 5, end[1] + 1], atol=0.011)
    key("Control+z")
    key("Control+z")
    assert sheet.trail("M")["line"] == main["line"]
    key("Backspace")
    assert len(sheet.trail("M")["line"]) == len(main["line"]) - 1
    key("Control+z")
    key("Delete")
    assert not sheet.draft["trails"]
    key("Control+z")
    assert sheet.trail("M")["line"] == main["line"]
    sheet.close()


def judged_pieces(sheet: Sheet) -> list[Any]:
    """Give the pieces that are drawn over a trail because they are not within the limits."""
    script = (
        "(() => { const l = skidway.map.getAllLayers().find(l => l.getZIndex() === 22);"
        " return l.getSource().getFeatures().map(f => f.getGeometry().getCoordinates()); })()"
    )
    return list(sheet.page.evaluate(script))


def test_a_dragged_corner_changes_what_is_found_and_undo_gives_it_back(
    desktop: Sheet, server: Served
) -> None:
    line = from_corner(server, (60.0, 80.0), (140.0, 90.0), (220.0, 95.0))
    desktop.begin(trails=[{"id": "M", "kind": "main", "line": line, "joins": ""}])
    before, found = desktop.draft, desktop.text(".findings")
    graded = judged_pieces(desktop)
    desktop.click(((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2))
    calls = server.asked.count("judge")
    there = (line[1][0] - 50, line[1][1] + 110)
    desktop.drag(line[1], there, steps=12)
    assert server.asked.count("judge") > calls + 1  # while it went, not only at its end
    after = desktop.draft
    assert_allclose(after["trails"][0]["line"][1], there, atol=1.5)
    assert after["trails"][0]["line"][::2] == before["trails"][0]["line"][::2]
    assert desktop.text(".findings") != found
    assert judged_pieces(desktop) != graded
    assert "turn" in desktop.text(".findings") or "steep" in desktop.text(".findings")
    desktop.press("Undo")
    desktop.settle()
    assert desktop.draft == before and desktop.text(".findings") == found
    desktop.press("Redo")
    desktop.settle()
    assert desktop.draft == after
    assert desktop.page.is_disabled("#redo")


def test_corners_by_button(desktop: Sheet, server: Served) -> None:
    line = from_corner(server, (60.0, 80.0), (140.0, 90.0), (220.0, 95.0))
    desktop.begin(trails=[{"id": "M", "kind": "main", "line": line, "joins": ""}])
    desktop.click(((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2))
    assert desktop.page.get_by_role("button", name="Remove the corner").is_disabled()
    desktop.click(line[1])
    desktop.press("Add a corner")
    middle = [(line[1][0] + line[2][0]) / 2, (line[1][1] + line[2][1]) / 2]
    got = desktop.trail("M")["line"]
    assert_allclose(got, [line[0], line[1], middle, line[2]], atol=0.011)
    desktop.press("Remove the corner")
    assert_allclose(desktop.trail("M")["line"], line, atol=0.011)
    desktop.press("Corner before")
    desktop.press("Remove the corner")
    assert len(desktop.trail("M")["line"]) == 2
    desktop.press("Remove the corner")  # two are the fewest
    assert len(desktop.trail("M")["line"]) == 2
    desktop.press("Remove the trail")
    assert not desktop.draft["trails"]


@pytest.mark.slow
def test_arms_and_spurs_join_what_they_start_on_and_go_along(
    desktop: Sheet, server: Served
) -> None:
    line = from_corner(server, (60.0, 80.0), (220.0, 95.0))
    desktop.begin(trails=[{"id": "M", "kind": "main", "line": line, "joins": ""}])
    mouth, tip, spur_mouth, spur_tip = from_corner(
        server, (140.0, 87.5), (170.0, 140.0), (155.0, 113.75), (200.0, 120.0)
    )
    desktop.press("Main trail or arm")
    desktop.draw((mouth[0], mouth[1] + 2), tip)
    desktop.press("Spur")
    desktop.draw(spur_mouth, spur_tip)
    arm, spur = desktop.trail("M2"), desktop.trail("S1")
    assert (arm["kind"], arm["joins"]) == ("main", "M")
    assert (spur["kind"], spur["joins"]) == ("spur", "M2")
    assert LineString(line).distance(Point(arm["line"][0])) < 0.02
    assert LineString(arm["line"]).distance(Point(spur["line"][0])) < 0.02
    # the main trail's far end is moved: the arm's mouth stays on it, and the spur's on the arm
    desktop.press("Choose and bend")
    desktop.click(from_corner(server, (100.0, 83.75))[0])
    desktop.drag(line[1], from_corner(server, (220.0, 70.0))[0])
    main = LineString(desktop.trail("M")["line"])
    assert main.distance(Point(desktop.trail("M2")["line"][0])) < 0.02
    assert LineString(desktop.trail("M2")["line"]).distance(
        Point(desktop.trail("S1")["line"][0])
    ) < 0.02  # fmt: skip
    # what hangs on a trail goes with it
    desktop.press("Remove the trail")
    assert desktop.draft["trails"] == []
    desktop.press("Undo")
    assert [t["id"] for t in desktop.draft["trails"]] == ["M", "M2", "S1"]


def test_a_line_with_many_corners_stays_as_drawn_and_can_be_bent(
    desktop: Sheet, server: Served
) -> None:
    (x, y), _ = ground(server)
    at = np.linspace(0, 200, 257)
    line = [[round(x + 50 + s, 2), round(y + 85 + 12 * np.sin(s / 40), 2)] for s in at.tolist()]
    desktop.begin(trails=[{"id": "M", "kind": "main", "line": line, "joins": ""}])
    desktop.click((line[90][0], line[90][1]))
    shown = desktop.page.evaluate(
        "(() => { const out = []; skidway.map.getLayers().forEach(l => { const s = l.getSource();"
        " if (s && s.getFeatures) for (const f of s.getFeatures())"
        " if (f.get('corner') !== undefined) out.push([f.get('corner'),"
        " ...skidway.map.getPixelFromCoordinate(f.getGeometry().getCoordinates())]); });"
        " return out; })()"
    )
    assert 4 < len(shown) < 40 and shown[0][0] == 0
    gaps = [np.hypot(b[1] - a[1], b[2] - a[2]) for a, b in pairwise(sorted(shown))]
    assert min(gaps) >= 12
    assert desktop.trail("M")["line"] == line  # choosing changes nothing
    # what is not shown goes along: no spike
    mid = line[128]
    desktop.drag((mid[0], mid[1]), (mid[0], mid[1] + 15))
    bent = desktop.trail("M")["line"]
    assert len(bent) == 257 and LineString(bent).hausdorff_distance(LineString(line)) > 8
    assert max(np.hypot(b[0] - a[0], b[1] - a[1]) for a, b in pairwise(bent)) < 3
    desktop.press("Undo")
    # fewer, only when asked for, and nowhere farther off than half a metre
    button = desktop.page.locator("#pen-bar button", has_text="Fewer corners")
    words = button.inner_text()
    button.click()
    few = desktop.trail("M")["line"]
    assert words == f"Fewer corners: {len(few)} for 257" and len(few) < 30
    assert LineString(few).hausdorff_distance(LineString(line)) <= 0.5 + 0.01
    assert few[0] == line[0] and few[-1] == line[-1]


def test_a_tree_is_chosen_marked_and_counted(desktop: Sheet, server: Served) -> None:
    area = server.ground.area
    desktop.begin()
    before = desktop.reach()
    assert before[1] == int(area.trees.marked.sum())
    (x, y), _ = ground(server)
    far = np.hypot(area.trees.x - x - 180, area.trees.y - y - 110) + 1e3 * area.trees.marked
    row = int(np.argmin(far))
    spot = (float(area.trees.x[row]), float(area.trees.y[row]))
    desktop.look_at(spot, 0.1)
    desktop.click(spot)
    desktop.page.get_by_role("button", name="Mark it to be cut").click()
    desktop.settle()
    assert desktop.draft["marks"] == {area.trees.tree_id[row]: "cut"}
    assert desktop.reach()[1] == before[1] + 1
    assert area.trees.tree_id[row] in desktop.text("#panel-tree h2")
    desktop.page.get_by_role("button", name="Take its mark off").click()
    desktop.settle()
    assert desktop.draft["marks"] == {} and desktop.reach() == before
    desktop.page.get_by_role("button", name="Another tree").click()
    desktop.page.get_by_role("tab", name="Findings").click()
    desktop.page.evaluate("skidway.map.getView().setResolution(0.8)")


@pytest.mark.slow
def test_notes_closed_ground_and_positions(desktop: Sheet, server: Served) -> None:
    desktop.begin()
    note, spot, *ring = from_corner(
        server, (100.0, 60.0), (150.0, 60.0), (180.0, 60.0), (220.0, 60.0), (220.0, 100.0)
    )
    desktop.look_at(spot, 0.8)
    desktop.press("Note")
    desktop.click(note)
    field = desktop.page.get_by_label("Words of the note")
    field.fill("  a spring <b>here</b> ")
    field.press("Tab")
    desktop.press("Winch position")
    desktop.click(spot)
    desktop.press("Forbid parking here")
    desktop.press("Close ground")
    desktop.draw(*ring)
    got = desktop.draft
    assert [n["text"] for n in got["notes"]] == ["a spring <b>here</b>"]
    assert [(p["id"], p["state"]) for p in got["positions"]] == [("P1", "forbidden")]
    (closed,) = got["keep_out"]
    near(closed["outline"], ring, 0.8)
    # a trail through it is stopped where it is
    through = from_corner(server, (160.0, 70.0), (240.0, 75.0))
    desktop.press("Main trail or arm")
    desktop.draw(*through)
    stops = desktop.page.locator(".findings .stop").all_inner_texts()
    assert any("closed" in words or "keep" in words for words in stops)
    for words, place in (("Remove the note", note), ("Remove it", spot)):
        desktop.press("Choose and bend")
        desktop.click(place)
        desktop.press(words)
    assert desktop.draft["notes"] == [] and desktop.draft["positions"] == []


def test_a_finding_leads_to_its_place(desktop: Sheet, server: Served) -> None:
    line = from_corner(server, (60.0, 80.0), (140.0, 200.0), (150.0, 90.0))
    desktop.begin(trails=[{"id": "M", "kind": "main", "line": line, "joins": ""}])
    first = desktop.page.locator(".findings button").first
    first.click()
    middle = desktop.until(
        "(() => { const v = skidway.map.getView(); return !v.getAnimating() && v.getCenter(); })()"
    )
    assert LineString(line).distance(Point(middle)) < 30
    assert desktop.page.evaluate("skidway.map.getView().getResolution()") <= 0.4
    desktop.page.evaluate("skidway.map.getView().setResolution(0.8)")
