"""Names, lines and lists a person made in the browser stay until that person takes them away."""

import re
from pathlib import Path
from typing import Any

import pytest
from drawing_page import DESKTOP, PHONE, Served, Sheet, missing, note, notes, until

from layout.drawing.keeping import load, versions

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}"),
]
STATIC = Path(__file__).parents[1] / "layout/drawing/static"


def field(sheet: Sheet) -> str:
    return str(sheet.page.input_value("#drawing-name"))


def saved(sheet: Sheet, name: str, version: int = 1) -> None:
    sheet.page.fill("#drawing-name", name)
    sheet.press("Save")
    sheet.until(
        f"document.getElementById('save-state').textContent === 'version {version}'"
        f" && skidway.store.savedAs().name === '{name}'"
    )


def again(sheet: Sheet) -> Sheet:
    """Open the map in a new tab of the same browser."""
    return Sheet(sheet.context, sheet.server)


# ---- the name ------------------------------------------------------------------------------


def test_a_typed_name_stays_and_is_the_one_saved_under(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    saved(sheet, "Alpha")
    sheet.page.fill("#drawing-name", "Beta")
    assert sheet.text("#save-state") == "version 1 of Alpha"
    sheet.page.focus("#map")  # the field has lost the focus
    note(sheet, "N2")
    assert field(sheet) == "Beta"
    sheet.page.reload()
    sheet.ready()
    assert field(sheet) == "Beta" and sheet.text("#save-state") == "not saved"
    sheet.press("Save")
    sheet.until("skidway.store.savedAs().name === 'Beta'")
    folder, crs = server.ground.area.folder, server.ground.area.crs
    alpha, beta = load(folder, crs, "Alpha"), load(folder, crs, "Beta")
    assert [n.note_id for n in alpha.draft.notes] == ["N1"] and alpha.version == 1
    assert [n.note_id for n in beta.draft.notes] == ["N1", "N2"] and beta.version == 1
    # opening another one brings its name along, a new one none
    sheet.page.fill("#drawing-name", "Gamma")
    sheet.page.get_by_role("tab", name="Drawings").click()
    sheet.press("Open: Alpha")
    sheet.until("skidway.store.savedAs().name === 'Alpha'")
    assert field(sheet) == "Alpha"
    sheet.press("A new drawing from the files")
    assert field(sheet) == ""
    sheet.close()


def test_a_double_click_on_save_saves_once(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    sheet.page.fill("#drawing-name", "twice")
    before = server.asked.count("save")
    sheet.page.evaluate("(() => { const s = document.getElementById('save');"
                        " s.click(); s.click(); })()")  # fmt: skip
    sheet.until("document.getElementById('save-state').textContent === 'version 1'")
    sheet.page.wait_for_timeout(200)
    assert server.asked.count("save") == before + 1
    assert sheet.page.is_hidden("#banner")
    folder = server.ground.area.folder
    assert load(folder, server.ground.area.crs, "twice").version == 1
    assert versions(folder, "twice") == ()
    note(sheet, "N2")  # and the next time it saves again
    saved(sheet, "twice", 2)
    sheet.close()


# ---- what was not saved --------------------------------------------------------------------


def test_what_a_closed_tab_held_is_offered_at_once(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    assert sheet.page.is_hidden("#left-behind")
    note(sheet, "N5")
    sheet.page.fill("#drawing-name", "half done")
    sheet.page.close()
    new = again(sheet)
    new.until("!document.getElementById('left-behind').hidden")
    assert "Not saved from last time: half done" in new.text("#left-behind")
    assert notes(new) == []
    new.press("Take up what was not saved")
    new.until("skidway.store.draft().notes.length === 1")
    assert notes(new) == ["N5"] and field(new) == "half done"
    new.until("document.getElementById('left-behind').hidden")
    new.close()


def test_nothing_is_thrown_away_without_a_question(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N6")
    sheet.page.close()
    new = again(sheet)
    new.until("!document.getElementById('left-behind').hidden")
    new.press("Leave it")
    assert new.page.is_hidden("#left-behind")
    new.page.get_by_role("tab", name="Drawings").click()
    asked: list[str] = []
    throw = new.page.get_by_role("button", name="Throw it away")
    new.page.once("dialog", lambda d: (asked.append(d.message), d.dismiss()))
    throw.click()
    new.page.wait_for_timeout(200)
    assert len(asked) == 1 and "kept nowhere else" in asked[0]
    assert throw.count() == 1
    new.page.once("dialog", lambda d: d.accept())
    throw.click()
    until(lambda: (new.page.wait_for_timeout(30), throw.count() == 0)[-1])
    new.close()


@pytest.mark.parametrize("pen", ["main", "closed"])
def test_a_line_under_way_is_there_after_a_reload(browser: Any, server: Served, pen: str) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    sheet.begin()
    x, y = sheet.page.evaluate("skidway.map.getView().getCenter()")
    places = [(x - 40, y), (x - 20, y + 15), (x + 5, y + 10)]
    sheet.page.evaluate("p => skidway.pens.take(p)", pen)
    for xy in places:
        sheet.click(xy)
    sheet.page.reload()
    sheet.ready()
    assert sheet.page.evaluate("skidway.hand.pen") == pen
    assert sheet.page.evaluate("!!skidway.hand.drawing")
    last = (x + 25, y - 10)
    sheet.click(last, twice=True)
    sheet.settle()
    if pen == "main":
        (drawn,) = sheet.draft["trails"]
        line = drawn["line"]
    else:
        (drawn,) = sheet.draft["keep_out"]
        line = drawn["outline"]
    assert len(line) == 4
    pixel = sheet.page.evaluate("skidway.map.getView().getResolution()")
    for got, wanted in zip(line, [*places, last], strict=True):
        assert got == pytest.approx(wanted, abs=1.5 * pixel)
    sheet.page.reload()  # what is ended is not begun again
    sheet.ready()
    assert not sheet.page.evaluate("!!skidway.hand.drawing")
    sheet.close()


FULL = "Storage.prototype.setItem = () => { throw new DOMException('', 'QuotaExceededError'); };"
SHUT = """for (const name of ['localStorage', 'sessionStorage']) Object.defineProperty(window, name,
  { get() { throw new DOMException('', 'SecurityError'); } });"""


@pytest.mark.parametrize("script", [FULL, SHUT], ids=["full", "shut"])
def test_a_browser_that_keeps_nothing_says_so(browser: Any, server: Served, script: str) -> None:
    context = browser.new_context(**DESKTOP)
    context.add_init_script(script)
    sheet = Sheet(context, server)
    sheet.until("!document.getElementById('keeps-nothing').hidden")
    assert "This browser keeps nothing" in sheet.text("#keeps-nothing")
    note(sheet, "N1")  # it draws all the same
    assert notes(sheet) == ["N1"]
    sheet.close()


def test_a_browser_that_is_full_later_says_so_then(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    assert sheet.page.is_hidden("#keeps-nothing")
    was = sheet.at(sheet.draft["trails"][0]["line"][0])
    sheet.page.evaluate(f"() => {{ window.taken = Storage.prototype.setItem; {FULL} }}")
    note(sheet, "N1")
    assert sheet.page.is_visible("#keeps-nothing")
    assert sheet.at(sheet.draft["trails"][0]["line"][0]) == was  # and no ground moves
    sheet.page.evaluate("() => { Storage.prototype.setItem = window.taken; }")
    note(sheet, "N2")
    assert sheet.page.is_hidden("#keeps-nothing")
    sheet.close()


# ---- lists beside the map ------------------------------------------------------------------


def test_files_and_table_stay_when_another_tab_is_looked_at(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    saved(sheet, "left")
    saved(sheet, "right")
    drawings = sheet.page.get_by_role("tab", name="Drawings")
    findings = sheet.page.get_by_role("tab", name="Findings")
    drawings.click()
    for name in ("left", "right"):
        sheet.page.get_by_label(f"Compare {name}").check()
    sheet.press("Compare the ticked ones")
    sheet.until("!!document.querySelector('.compared table')")
    # the planning itself is tested elsewhere; here its progress and its files
    states = [{"state": "running", "step": "Writing maps", "written": None}] * 3 + [
        {"state": "done", "written": ["out", ["map.pdf", "trails.gpx"]]}
    ]
    sheet.page.route("**/api/outputs", lambda r: r.fulfill(json={"job": 1}))
    sheet.page.route("**/api/replan_state", lambda r: r.fulfill(json=states.pop(0)))
    sheet.press("Make the crew's files: left")
    sheet.until("document.querySelector('.written').textContent.includes('Writing maps')")
    findings.click()
    drawings.click()
    sheet.page.wait_for_timeout(200)  # the list has come in anew
    assert "Writing maps" in sheet.text(".written")
    assert sheet.page.locator(".compared table").count() == 1
    sheet.until("document.querySelector('.written').textContent.includes('trails.gpx')")
    findings.click()
    drawings.click()
    sheet.page.wait_for_timeout(200)
    assert "map.pdf" in sheet.text(".written")
    assert sheet.page.locator(".compared td").count() > 0
    sheet.close()


# ---- what is refused -----------------------------------------------------------------------


def test_what_is_refused_in_words_leaves_the_console_alone(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    x, y = sheet.page.evaluate("skidway.map.getView().getCenter()")
    crossed = [[x, y], [x + 20, y + 20], [x + 20, y], [x, y + 20]]
    sheet.page.evaluate(
        "o => skidway.store.commit({...skidway.store.draft(), keep_out: [{id: 'K1', outline: o}]})",
        crossed,
    )
    sheet.settle()
    assert sheet.text("#sums") == "not judged" and "K1" in sheet.text("#banner")
    got = sheet.page.evaluate(
        "async d => { const { call, Refused } = await import('/api.js');"
        " try { await call('judge', { draft: d }); } catch (e) {"
        " return [e instanceof Refused, e.status, e.message]; } }",
        {"format": 2},
    )
    assert got[:2] == [True, 400] and "format 2" in got[2]
    got = sheet.page.evaluate(
        "async () => { const { picture } = await import('/api.js');"
        " try { await picture({ name: 'nothing' }); } catch (e) { return e.status; } }"
    )
    assert got == 400
    sheet.close()  # nothing is expected on the console


# ---- the profile ---------------------------------------------------------------------------

COLOURS = """() => { const c = document.querySelector('#profile canvas');
  const data = c.getContext('2d').getImageData(0, 0, c.width, c.height).data; const out = {};
  for (let k = 0; k < data.length; k += 4) if (data[k + 3] === 255) {
    const key = [data[k], data[k + 1], data[k + 2]].map(v => v.toString(16).padStart(2, '0'));
    out['#' + key.join('')] = (out['#' + key.join('')] || 0) + 1; }
  return out; }"""
PATHS = """() => { window.paths = []; const kind = CanvasRenderingContext2D.prototype;
  const [begin, line, stroke] = [kind.beginPath, kind.lineTo, kind.stroke]; let n = 0;
  kind.beginPath = function () { n = 0; return begin.call(this); };
  kind.lineTo = function (...p) { n += 1; return line.call(this, ...p); };
  kind.stroke = function (...p) { if (this.canvas.closest('#profile'))
    window.paths.push([this.strokeStyle, this.getLineDash(), n]); return stroke.call(this, ...p); };
}"""


def level_colours() -> dict[str, str]:
    text = (STATIC / "looks.js").read_text(encoding="utf-8")
    found = dict(re.findall(r'(\w+): \{ colour: "(#[0-9a-f]{6})"', text))
    (found["ok"],) = re.findall(r' trail: "(#[0-9a-f]{6})"', text)
    return found


@pytest.mark.parametrize("level", ["ok", "caution", "stop"])
def test_the_profile_is_coloured_as_the_trail_is_judged(
    browser: Any, server: Served, level: str
) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    answers: list[Any] = []

    def judged(route: Any) -> None:
        """Let one stretch of the trail, and no other, be of the level; the rest is within."""
        answer = route.fetch()
        told = answer.json()
        for piece in told["pieces"]:
            here = piece["trail"] == "M" and 20 <= piece["from_m"] < 40
            piece["level"] = level if here else "ok"
        answers.append(told)
        route.fulfill(response=answer, json=told)

    sheet.page.route("**/api/judge", judged)
    note(sheet, "N1")
    assert answers
    sheet.page.evaluate(PATHS)
    sheet.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    sheet.until("!document.getElementById('profile').hidden && paths.length > 0")
    colours, shown = level_colours(), sheet.page.evaluate(COLOURS)
    for name, colour in colours.items():
        assert (shown.get(colour, 0) > 20) == (name in ("ok", level)), (name, shown.get(colour))
    last = sheet.page.evaluate("paths")[-(1 if level == "ok" else 3) :]
    assert [p[0] for p in last].count(colours[level]) == 1
    (dash, places) = next(p[1:] for p in last if p[0] == colours[level])
    assert places > 10 and bool(dash) == (level != "ok")  # one path, so that dashes can show
    sheet.close()


# ---- keys ----------------------------------------------------------------------------------


def test_undo_works_after_a_box_is_ticked(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    sheet.page.get_by_role("tab", name="Layers").click()
    box = sheet.page.locator("#panel-layers input[type=checkbox]").first
    box.click()
    sheet.page.keyboard.press("Control+z")
    assert notes(sheet) == []
    sheet.page.keyboard.press("Control+y")
    assert notes(sheet) == ["N1"]
    sheet.page.focus("#drawing-name")  # a field undoes its own words
    sheet.page.keyboard.type("ab")
    sheet.page.keyboard.press("Control+z")
    assert notes(sheet) == ["N1"] and field(sheet) != "ab"
    sheet.close()


@pytest.mark.parametrize("kind", ["note", "position"])
def test_a_point_is_moved_by_key(browser: Any, server: Served, kind: str) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    x, y = (round(v, 2) for v in sheet.page.evaluate("skidway.map.getView().getCenter()"))
    item = {"id": "A1", "at": [x, y]} | ({"text": ""} if kind == "note" else {"state": "wanted"})
    sheet.begin(**{f"{kind}s": [item]})
    sheet.page.evaluate("k => skidway.bending.choose({kind: k, id: 'A1'})", kind)
    sheet.page.focus("#map")
    sheet.page.keyboard.press("Alt+ArrowRight")
    sheet.page.keyboard.press("Alt+Shift+ArrowDown")
    (moved,) = sheet.draft[f"{kind}s"]
    assert moved["at"] == pytest.approx([x + 1, y - 5])
    sheet.close()


# ---- the phone -----------------------------------------------------------------------------

BOXES = """() => { const box = e => { const r = e.getBoundingClientRect();
    return [r.left, r.top, r.right, r.bottom]; };
  return {place: box(document.getElementById('place')),
    scale: box(document.querySelector('.ol-scale-line')),
    ground: box(document.getElementById('map')),
    bar: [...document.getElementById('pen-bar').children].filter(e => e.checkVisibility())
      .map(box)}; }"""


def overlap(a: list[float], b: list[float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def test_nothing_lies_over_another_on_a_phone(browser: Any, server: Served) -> None:
    phone = Sheet(browser.new_context(**PHONE), server)
    phone.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    phone.page.evaluate("skidway.bending.nextCorner(1)")
    phone.page.wait_for_timeout(400)
    for resolution in (0.2, 1.0, 1.9):
        centre = phone.page.evaluate("skidway.map.getView().getCenter()")
        phone.look_at(centre, resolution)
        phone.page.wait_for_timeout(100)
        got = phone.page.evaluate(BOXES)
        assert got["place"][2] > got["place"][0] and not overlap(got["place"], got["scale"])
        assert len(got["bar"]) > 5
        for left, top, right, bottom in got["bar"]:
            assert 0 <= left < right <= 390
            assert got["ground"][1] <= top < bottom <= got["ground"][3]
            box = [left, top, right, bottom]
            assert not overlap(box, got["scale"]) and not overlap(box, got["place"])
    phone.close()


def test_escape_closes_the_offer_of_a_way(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    before = sheet.draft
    end = sheet.draft["trails"][0]["line"][-1]
    sheet.page.evaluate("skidway.pens.take('way')")
    sheet.click((end[0] - 40, end[1] + 20))
    sheet.until("[...document.querySelectorAll('.offer button')].length === 2")
    sheet.page.keyboard.press("Escape")  # the offer has the focus
    assert sheet.page.is_hidden(".offer")
    assert sheet.page.evaluate("document.activeElement.id") == "map"
    assert sheet.draft == before and sheet.page.evaluate("skidway.hand.pen") == "way"
    sheet.page.keyboard.press("Escape")
    assert sheet.page.evaluate("skidway.hand.pen") == "look"
    sheet.close()


def test_pens_off_the_edge_of_a_phone_are_pointed_at(browser: Any, server: Served) -> None:
    phone = Sheet(browser.new_context(**PHONE), server)
    sign = (
        "(() => { const s = getComputedStyle(document.getElementById('tools'), '::after');"
        " return s.content; })()"
    )
    assert phone.page.evaluate(sign) == '"\u203a"'
    phone.page.locator("#tools button").last.scroll_into_view_if_needed()
    phone.page.evaluate("() => { const t = document.getElementById('tools');"
                        " t.scrollLeft = t.scrollWidth; }")  # fmt: skip
    phone.until(f"{sign} === 'none'")
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    phone.close()
    desk = Sheet(browser.new_context(**DESKTOP), server)
    assert desk.page.evaluate(sign) == "none"
    desk.close()
