"""The page says what no longer holds, plans are given up and mended, and places are told."""

import base64
import json
import re
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from drawing_page import DESKTOP, Served, Sheet, missing, until
from numpy.testing import assert_allclose
from pyproj import Transformer
from shapely.geometry import LineString, Point

from layout.drawing import keeping
from layout.drawing.planned_numbers import text_of
from layout.drawing.world_places import tiles_fit

pytestmark = pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}")
PLANNED_S = 240.0  # a plan takes seconds, and a minute on a machine that is busy
CUT_OFF = "net::ERR_"


@pytest.fixture
def sheet(browser: Any, server: Served) -> Iterator[Sheet]:
    opened = Sheet(browser.new_context(**DESKTOP), server)
    yield opened
    opened.close(expected=(CUT_OFF,))


def features(sheet: Sheet, z: int) -> int:
    script = (
        "z => skidway.map.getAllLayers().find(l => l.getZIndex() === z)"
        ".getSource().getFeatures().length"
    )
    return int(sheet.page.evaluate(script, z))


PIECES, POSITIONS, PULLS = 22, 17, 13


def test_a_verdict_that_no_longer_holds_leaves_the_page(sheet: Sheet) -> None:
    assert features(sheet, PIECES) > 0
    before = sheet.draft
    line = before["trails"][0]["line"]
    # a trail that joins one that is not there: the program refuses it in words
    stray = {"id": "S9", "kind": "spur", "line": line[:2], "joins": "nowhere"}
    sheet.page.evaluate(
        "s => skidway.store.commit({...skidway.store.draft(),"
        " trails: [...skidway.store.draft().trails, s]})",
        stray,
    )
    sheet.settle()
    assert "S9" in sheet.text("#banner")
    assert sheet.text("#sums") == "not judged"
    assert sheet.text("#findings-title") == "Not judged since your last change"
    assert features(sheet, PIECES) == 0 and sheet.page.locator(".findings li").count() == 0
    sheet.press("Undo")
    sheet.settle()
    assert sheet.text("#findings-title") != "Not judged since your last change"
    assert features(sheet, PIECES) > 0 and sheet.reach()[1] > 0
    # an answer that breaks off in the middle blocks nothing
    sheet.page.route(
        "**/api/judge",
        lambda r: r.fulfill(status=200, content_type="application/json", body='{"pieces": ['),
    )
    sheet.page.evaluate("skidway.store.commit({...skidway.store.draft(), landing: null})")
    sheet.settle()
    assert sheet.text("#sums") == "not judged" and "stopped" in sheet.text("#banner")
    sheet.page.unroute("**/api/judge")
    sheet.press("Undo")
    sheet.settle()
    assert sheet.draft == before and features(sheet, PIECES) > 0
    # lengths in feet, and kept by the browser
    metres = float(sheet.text("#sums b").removesuffix(" m").replace(",", ""))
    sheet.page.select_option("#lengths", "feet")
    sheet.settle()
    feet = float(sheet.text("#sums b").removesuffix(" ft").replace(",", ""))
    assert_allclose(feet * 0.3048, metres, atol=0.66)  # the international foot, exactly
    sheet.page.reload()
    sheet.ready()
    assert sheet.text("#sums b").endswith(" ft")


def test_findings_and_trees_are_told_in_the_units_chosen(sheet: Sheet) -> None:
    line = sheet.draft["trails"][0]["line"]
    bent = [*line[:2], [line[1][0] + 3.0, line[1][1] + 40.0]]
    sheet.page.evaluate(
        "l => { const d = structuredClone(skidway.store.draft()); d.trails[0].line = l;"
        " skidway.store.commit(d); }",
        bent,
    )
    sheet.settle()
    sheet.page.get_by_role("tab", name="Findings").click()
    metric = sheet.text("#panel-findings")
    assert re.search(r"\d m\b", metric) and not re.search(r"\d ft\b", metric)
    sheet.page.select_option("#lengths", "feet")
    sheet.settle()
    told = sheet.text("#panel-findings")
    assert re.search(r"\d ft\b", told) and not re.search(r"\d m\b", told)
    sheet.page.get_by_role("tab", name="Tree").click()
    sheet.page.fill("[aria-label='Number of a tree']", sheet.server.ground.area.trees.tree_id[0])
    sheet.press("Find it")
    sheet.until("/\\d in\\b/.test(document.getElementById('panel-tree').innerText)")
    sheet.page.select_option("#lengths", "metres")
    sheet.until("/\\d cm\\b/.test(document.getElementById('panel-tree').innerText)")


def test_marked_trees_show_without_the_others(sheet: Sheet) -> None:
    """Two boxes; a stem that is not on the map is not what a click means."""
    area = sheet.server.ground.area
    stays = int(np.flatnonzero(~area.trees.marked)[0])
    place = [float(area.trees.x[stays]), float(area.trees.y[stays])]
    assert sheet.page.evaluate("p => skidway.stems.at(p, 0.1)", place) == stays
    sheet.page.get_by_role("tab", name="Layers").click()
    sheet.page.get_by_label("Stems that stay", exact=True).uncheck()
    assert sheet.page.evaluate("p => skidway.stems.at(p, 0.1)", place) != stays
    marked = int(np.flatnonzero(area.trees.marked)[0])
    place = [float(area.trees.x[marked]), float(area.trees.y[marked])]
    assert sheet.page.evaluate("p => skidway.stems.at(p, 0.1)", place) == marked
    sheet.page.get_by_label("Marked trees", exact=True).uncheck()
    assert sheet.page.evaluate("p => skidway.stems.at(p, 0.1)", place) is None


BESIDE = """() => skidway.map.getAllLayers().filter(l => l.getZIndex() === 14)
  .flatMap(l => l.getSource().getFeatures()).map(f => {
    const style = [f.getStyle()].flat().at(-1);
    return [f.getGeometry().getType(), style?.getText?.()?.getText() ?? "",
      style?.getStroke?.()?.getLineDash?.() ?? [], f.getGeometry().getExtent().slice(0, 2)]; })"""


def test_a_drawing_laid_beside_shows_notes_marks_and_planned_spurs(sheet: Sheet) -> None:
    area, desk = sheet.server.ground.area, sheet.server.desk
    row = int(np.flatnonzero(~area.trees.marked)[3])
    x, y = float(area.trees.x[row]), float(area.trees.y[row])
    draft = sheet.draft | {
        "marks": {area.trees.tree_id[row]: "cut"},
        "notes": [{"id": "N1", "at": [x + 20, y], "text": "soft ground"}],
    }
    desk.save({"draft": draft, "name": "beside", "based_on": None})
    kept = keeping.load(area.folder, area.crs, "beside")
    desk._spurs[text_of(kept.draft)] = [[[x, y], [x + 30, y + 30]]]
    sheet.page.get_by_role("tab", name="Drawings").click()
    sheet.press("Lay beside: beside")
    sheet.until("document.querySelector('.compared').textContent.includes('lies beside')")
    shown = sheet.page.evaluate(BESIDE)
    points = {words: place for kind, words, _, place in shown if kind == "Point"}
    assert_allclose(points["+"], [x, y], atol=0.01)
    assert_allclose(points["soft ground"], [x + 20, y], atol=0.01)
    assert ["LineString", "", [1, 7], [x, y]] in [[*one[:3], one[3]] for one in shown]
    words = sheet.text(".compared")
    for part in ("Its notes", "marks (+) or unmarks", "Dotted lines are the spurs"):
        assert part in words
    sheet.page.wait_for_timeout(400)
    sheet.page.evaluate(
        "p => { skidway.map.getView().setCenter(p); skidway.map.getView().setResolution(0.15); }",
        [x, y],
    )
    assert not sheet.draft["notes"]  # it is shown, not taken over
    sheet.press("Take it off")
    assert not sheet.page.evaluate(BESIDE)


HEIGHTS = """() => skidway.map.getAllLayers().flatMap(l => l.getSource()?.getFeatures?.() ?? [])
  .map(f => f.getStyle()?.getText?.()).filter(t => t?.getPlacement() === "line")
  .map(t => t.getText())"""


def test_every_fifth_contour_says_its_height(sheet: Sheet) -> None:
    ground = sheet.server.ground.terrain.smooth.z
    told = [words.split() for words in sheet.page.evaluate(HEIGHTS)]
    assert told and {unit for _, unit in told} == {"m"}
    levels = [float(number) for number, _ in told]
    sheet.page.get_by_role("tab", name="Layers").click()
    words = sheet.text("#panel-layers")
    (apart,) = re.findall(r"Contours, every ([\d.]+) m", words)
    assert_allclose(np.mod(levels, 5 * float(apart)), 0, atol=1e-6)
    assert np.nanmin(ground) < min(levels) and max(levels) < np.nanmax(ground)
    sheet.page.select_option("#lengths", "feet")
    feet = [words.split() for words in sheet.page.evaluate(HEIGHTS)]
    assert {unit for _, unit in feet} == {"ft"}
    assert all(number.isdigit() for number, _ in feet), feet  # drawn at metres: no tenths of a foot
    assert_allclose([float(n) * 0.3048 for n, _ in feet], levels, atol=0.1525)  # half a foot


@pytest.mark.slow
def test_ground_in_reach_is_of_the_drawing_and_a_refusal_is_told(sheet: Sheet) -> None:
    sheet.begin()
    sheet.page.get_by_role("tab", name="Layers").click()
    box = sheet.page.get_by_label("Ground a trail can reach", exact=True)
    box.check()
    sheet.until("document.getElementById('panel-layers').textContent.includes('draw a landing')")
    box.uncheck()
    west, south, east, north = sheet.server.ground.area.stand.bounds
    spot = [(west + east) / 2, (south + north) / 2]
    sheet.page.evaluate(
        "p => skidway.store.commit({...skidway.store.draft(), landing: {point: p}})", spot
    )
    box.check()
    sheet.until(
        "skidway.map.getAllLayers().filter(l => l.getSource() && l.getSource().getImageExtent"
        " && l.getVisible()).length >= 3"
    )
    assert "draw a landing" not in sheet.text("#panel-layers")


@pytest.mark.slow
def test_a_winch_position_of_the_plan_is_forbidden_or_moved(sheet: Sheet) -> None:
    sheet.press("Plan the spurs")
    sheet.until(
        "(() => { const n = skidway.planned.current(); return n && n.final; })()", PLANNED_S
    )
    plan = sheet.page.evaluate("skidway.planned.current()")
    spots = np.array([p["at"] for p in plan["positions"]])
    gaps = np.hypot(*(spots[:, None] - spots[None]).T) + 1e6 * np.eye(len(spots))
    one = plan["positions"][int(np.argmax(gaps.min(axis=0)))]
    sheet.look_at(one["at"], 0.15)
    sheet.click(one["at"])
    card = sheet.text("#panel-plan")
    trees = [p["tree"] for p in plan["pulls"] if p["position"] == one["id"]]
    assert f"Winch position {one['id']}" in card and one["trail"] in card
    assert all(tree in card for tree in trees) and len(trees) == one["trees"]
    sheet.press("Nobody parks here")
    (kept,) = sheet.draft["positions"]
    assert kept["state"] == "forbidden"
    assert_allclose(kept["at"], one["at"], atol=0.011)
    sheet.press("Stop planning")
    sheet.press("Undo")
    sheet.settle()
    assert sheet.draft["positions"] == []
    # moved: one step of the drawing
    sheet.click(one["at"])
    sheet.press("Move it")
    assert "Click where it is to be" in sheet.text("#panel-plan")
    sheet.press("Leave it where it is")
    sheet.click(one["at"])
    sheet.press("Move it")
    there = (one["at"][0] + 12, one["at"][1] - 9)
    sheet.click(there)
    old, new = sheet.draft["positions"]
    assert (old["state"], new["state"]) == ("forbidden", "wanted")
    assert_allclose(old["at"], one["at"], atol=0.011)
    assert_allclose(new["at"], there, atol=0.3)
    sheet.press("Undo")
    assert sheet.draft["positions"] == []


@pytest.mark.slow
def test_saving_plans_nothing_anew_and_another_drawing_takes_the_plan_off(
    sheet: Sheet, server: Served
) -> None:
    sheet.press("Plan the spurs")
    sheet.until(
        "(() => { const n = skidway.planned.current(); return n && n.final; })()", PLANNED_S
    )
    assert features(sheet, PULLS) > 0 and features(sheet, POSITIONS) > 0
    asked = server.asked.count("replan")
    sheet.page.fill("#drawing-name", "kept")
    sheet.press("Save")
    sheet.until("skidway.store.savedAs().version === 1")
    sheet.page.wait_for_timeout(300)
    assert server.asked.count("replan") == asked
    assert "Planning" not in sheet.text("#panel-plan")
    sheet.begin()
    assert features(sheet, PULLS) == features(sheet, POSITIONS) == 0
    assert sheet.page.evaluate("skidway.planned.current()") is None
    sheet.page.wait_for_timeout(300)
    assert server.asked.count("replan") == asked
    # what another tab plans takes its place, and it is said
    follows = server.asked.count("replan_state")
    sheet.press("Plan the spurs")
    until(lambda: server.asked.count("replan_state") > follows)  # asked before the other tab
    server.desk.replan({"draft": sheet.draft, "seq": 1})
    sheet.until("document.getElementById('panel-plan').textContent.includes('another tab')")
    calls = server.asked.count("replan_state")
    sheet.page.wait_for_timeout(1200)
    assert server.asked.count("replan_state") == calls


@pytest.mark.slow
def test_a_spur_whose_first_corner_goes_stays_on_what_it_left(sheet: Sheet, server: Served) -> None:
    west, south, _, _ = server.ground.area.stand.bounds
    line = [[west + 60, south + 80], [west + 220, south + 95]]
    mouth = [west + 140, south + 87.5]
    spur = [mouth, [west + 150, south + 110], [west + 190, south + 130]]
    sheet.begin(trails=[
        {"id": "M", "kind": "main", "line": line, "joins": ""},
        {"id": "S1", "kind": "spur", "line": spur, "joins": "M"},
    ])  # fmt: skip
    sheet.click((west + 170, south + 120))
    sheet.click((mouth[0], mouth[1]))
    assert sheet.page.evaluate("skidway.hand.corner") == 0
    sheet.press("Remove the corner")
    got = sheet.trail("S1")
    assert got["joins"] == "M" and len(got["line"]) == 2 and got["line"][1] == spur[2]
    main = LineString(line)
    assert main.distance(Point(got["line"][0])) < 0.02
    foot = main.interpolate(main.project(Point(spur[1])))  # the nearest place of the main trail
    assert_allclose(got["line"][0], [foot.x, foot.y], atol=0.011)


# one pixel of dark green
PIXEL = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkaPhfDwADgwGAWjR9awAAAABJRU5ErkJggg=="
)


@pytest.mark.slow
def test_places_and_tiles_lie_where_the_reference_program_has_them(
    browser: Any, server: Served
) -> None:
    area = server.ground.area
    west, south, east, north = area.dem.bounds
    world = Transformer.from_crs(area.crs, 4326, always_xy=True)
    web = Transformer.from_crs(area.crs, 3857, always_xy=True)
    fit = tiles_fit(area.crs, area.dem.bounds)
    out, left = (int(k) for k in np.flatnonzero(area.trees.marked)[:2])
    context = browser.new_context(**DESKTOP)

    def with_tiles(route: Any) -> None:
        got = route.fetch()
        told = got.json() | {"tiles": "/tile/{z}/{x}/{y}.png", "tiles_fit": fit}
        told["trees"]["done"][out] = 1
        route.fulfill(response=got, body=json.dumps(told))

    asked: list[str] = []
    context.route("**/api/area", with_tiles)

    def tile(route: Any) -> None:
        asked.append(route.request.url)
        route.fulfill(body=PIXEL, content_type="image/png")

    context.route("**/tile/**", tile)
    sheet = Sheet(context, server)
    for u, v in ((0.0, 0.0), (0.3, 0.8), (0.5, 0.5), (1.0, 0.2)):
        x, y = west + u * (east - west), south + v * (north - south)
        script = (
            "p => { const c = skidway.map.getView().getProjection();"
            " const w = ol.proj.transform(p, c, 'EPSG:3857');"
            " return [w, ol.proj.transform(w, 'EPSG:3857', c)]; }"
        )
        there, back = sheet.page.evaluate(script, [x, y])
        assert_allclose(there, web.transform(x, y), atol=0.1)
        assert_allclose(back, [x, y], atol=1e-3)
    # a tree that is out already bears no mark
    assert sheet.page.evaluate("ks => ks.map(skidway.stems.marked)", [out, left]) == [False, True]
    # the place box, to five decimals: about a metre
    middle = ((west + east) / 2, (south + north) / 2)
    sheet.look_at(middle, 0.5)
    sheet.until("document.getElementById('place').textContent.includes('°')")
    lon, lat = world.transform(*middle)
    words = sheet.text("#place")
    assert f"{abs(lat):.4f}" in words and f"{abs(lon):.4f}" in words, words
    # tiles are asked for once the layer is switched on, and not before
    assert not asked
    sheet.page.get_by_role("tab", name="Layers").click()
    sheet.page.get_by_label("Background from the address you gave", exact=True).check()
    sheet.until("skidway.map.getAllLayers().some(l => l.getZIndex() === -1 && l.getVisible())")
    for _ in range(100):
        if asked:
            break
        sheet.page.wait_for_timeout(50)
    z, tx, ty = (int(n) for n in asked[0].removesuffix(".png").split("/")[-3:])
    side = 2 * 20037508.342789244 / 2**z  # EPSG:3857's square, halved z times
    mx, my = web.transform(*middle)
    assert abs(tx - (mx + 20037508.342789244) / side) < 8
    assert abs(ty - (20037508.342789244 - my) / side) < 8
    sheet.close()
