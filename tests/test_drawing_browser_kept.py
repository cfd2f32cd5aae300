"""Nothing drawn in the browser is lost, and nobody but the page gets in."""

import http.server
import json
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from drawing_page import DESKTOP, TOKEN, Served, Sheet, missing, note, notes, until

from layout.drawing.keeping import load

pytestmark = pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}")
STOPPED = "Failed to load resource: net::"  # what the browser itself says of a stopped server


def name_and_save(sheet: Sheet, name: str) -> None:
    sheet.page.fill("#drawing-name", name)
    sheet.press("Save")


@pytest.mark.slow
def test_a_page_left_open_lives_through_a_restart(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    name_and_save(sheet, "first try")
    sheet.until("document.getElementById('save-state').textContent === 'version 1'")
    crs = server.ground.area.crs
    kept = load(server.ground.area.folder, crs, "first try")
    assert kept.draft.as_json() == {**sheet.draft, "name": "first try"}
    server.stop()
    note(sheet, "N2")
    sheet.until("!document.getElementById('banner').hidden")
    assert "kept in this browser" in sheet.text("#banner")
    sheet.press("Save")  # in vain, and nothing is lost by it
    assert sheet.text("#save-state") == "not saved"
    port = server.key.port
    server.start()
    assert server.key.port == port
    sheet.until("document.getElementById('banner').hidden")  # it finds the program by itself
    note(sheet, "N3")
    sheet.press("Save")
    sheet.until("document.getElementById('save-state').textContent === 'version 2'")
    assert [n.note_id for n in load(server.ground.area.folder, crs, "first try").draft.notes] == [
        "N1", "N2", "N3",
    ]  # fmt: skip
    sheet.close(expected=(STOPPED,))


@pytest.mark.slow
def test_an_earlier_version_is_taken_up_and_none_is_written_over(
    browser: Any, server: Served
) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    name_and_save(sheet, "ridge way")
    sheet.until("document.getElementById('save-state').textContent === 'version 1'")
    first = sheet.draft
    sheet.page.get_by_role("tab", name="Drawings").click()
    sheet.until("document.getElementById('panel-drawings').textContent.includes('ridge way')")
    chooser = sheet.page.get_by_label("An earlier version of ridge way")
    assert chooser.count() == 0  # there is none yet
    note(sheet, "N2")
    sheet.press("Save")
    sheet.until("document.getElementById('save-state').textContent === 'version 2'")
    second = sheet.draft
    chooser.select_option("1")
    sheet.until("skidway.store.draft().notes.length === 1")
    assert sheet.draft["notes"] == first["notes"] and sheet.draft["trails"] == first["trails"]
    assert sheet.text("#save-state") == "not saved"
    assert "Version 1 of ridge way is on the map" in sheet.text("#panel-drawings")
    sheet.press("Undo")
    assert sheet.draft["notes"] == second["notes"]
    assert sheet.text("#save-state") == "version 2"
    sheet.press("Redo")
    sheet.press("Save")
    sheet.until("document.getElementById('save-state').textContent === 'version 3'")
    folder, crs = server.ground.area.folder, server.ground.area.crs
    for version, wanted in ((None, first), (2, second), (1, first)):
        kept = load(folder, crs, "ridge way", version)
        assert [n.note_id for n in kept.draft.notes] == [n["id"] for n in wanted["notes"]]
    sheet.close()


@pytest.mark.slow
def test_a_reload_keeps_what_is_not_saved(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    before = sheet.draft
    sheet.page.reload()
    sheet.ready()
    assert sheet.draft == before and sheet.text("#save-state") == "not saved"
    # a tab closed without saving is offered again, and one that is open is not
    other = sheet.context.new_page()
    other.goto(server.door.address)
    other_sheet = Sheet.__new__(Sheet)
    other_sheet.page, other_sheet.context, other_sheet.server = other, sheet.context, server
    other_sheet.ready()
    note(other_sheet, "N7")
    drawings = sheet.page.get_by_role("tab", name="Drawings")
    drawings.click()
    sheet.until("!!document.querySelector('#panel-drawings h2')")
    assert "Not saved, from other tabs" not in sheet.text("#panel-drawings")
    other.close()
    until(lambda: (drawings.click(), sheet.page.wait_for_timeout(60),
                   "Not saved, from other tabs" in sheet.text("#panel-drawings"))[-1])  # fmt: skip
    sheet.page.once("dialog", lambda d: d.accept())
    sheet.press("Take it up")
    sheet.until("skidway.store.draft().notes.length === 1")
    assert notes(sheet) == ["N7"]
    sheet.close()


@pytest.mark.slow
def test_two_tabs_do_not_write_over_each_other(browser: Any, server: Served) -> None:
    one = Sheet(browser.new_context(**DESKTOP), server)
    note(one, "N1")
    name_and_save(one, "shared")
    one.until("document.getElementById('save-state').textContent === 'version 1'")
    # the other tab has the same drawing open; it is a copy of the tab, with its memory
    two = Sheet(browser.new_context(**DESKTOP), server)
    two.page.get_by_role("tab", name="Drawings").click()
    two.page.get_by_role("button", name="Open: shared").click()
    two.until("skidway.store.savedAs().version === 1")
    note(one, "N2")
    one.press("Save")
    one.until("document.getElementById('save-state').textContent === 'version 2'")
    note(two, "N3")
    two.press("Save")
    two.until("!document.getElementById('banner').hidden")
    assert "shared" in two.text("#banner")
    assert notes(two) == ["N1", "N3"] and two.text("#save-state") == "not saved"
    name_and_save(two, "shared too")  # under another name it goes
    two.until("document.getElementById('save-state').textContent === 'version 1'")
    folder, crs = server.ground.area.folder, server.ground.area.crs
    for name, wanted in (("shared", ["N1", "N2"]), ("shared too", ["N1", "N3"])):
        assert [n.note_id for n in load(folder, crs, name).draft.notes] == wanted
    one.close()
    two.close()


@pytest.mark.slow
def test_what_is_drawn_while_it_is_being_saved_counts_as_not_saved(
    browser: Any, server: Served
) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    note(sheet, "N1")
    sheet.page.route("**/api/save", lambda route: (note(sheet, "N2"), route.continue_())[1])
    name_and_save(sheet, "quick")
    sheet.until("skidway.store.savedAs().version === 1")
    assert sheet.text("#save-state") == "not saved" and notes(sheet) == ["N1", "N2"]
    sheet.page.unroute("**/api/save")
    sheet.press("Save")
    sheet.until("document.getElementById('save-state').textContent === 'version 2'")
    sheet.close()


@pytest.fixture
def stranger() -> Iterator[str]:
    """Another page on this computer, as any program may serve one."""

    class Page(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:  # the name the library calls
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(b"<!doctype html><title>other</title><p>another page</p>")

        def log_message(self, *words: Any) -> None:
            del words

    other = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Page)
    thread = threading.Thread(target=other.serve_forever, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{other.server_address[1]}/"
    other.shutdown()
    thread.join(5)
    other.server_close()


ASK = """async ([address, heads, body, mode]) => {
  try {
    const got = await fetch(address, {method: 'POST', headers: heads, body, mode});
    if (got.type === 'opaque') return 'opaque';
    return got.ok ? (await got.json()).status : got.status;
  } catch { return 'refused'; }
}"""


def test_another_page_gets_nothing_even_with_the_key(
    browser: Any, server: Served, stranger: str
) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(stranger)
    own = f"http://127.0.0.1:{server.key.port}"
    before = len(server.asked)
    heads = {"Content-Type": "application/json", "X-Skidway-Token": TOKEN}
    assert page.evaluate(ASK, [own + "/api/area", heads, "{}", "cors"]) == "refused"
    # what a form could send needs no leave to be sent; it is neither let in nor shown
    plain = {"Content-Type": "text/plain"}
    save = json.dumps({"draft": {}, "name": "stolen", "based_on": None})
    assert page.evaluate(ASK, [own + "/api/save", plain, save, "no-cors"]) == "refused"
    assert page.evaluate(ASK, [own + "/api/save", plain, save, "cors"]) == "refused"
    # nor can it hold the page in a frame
    page.evaluate(
        "a => { const f = document.createElement('iframe'); f.src = a; document.body.append(f); }",
        server.door.address,
    )
    page.wait_for_timeout(300)
    framed = [f for f in page.frames if f != page.main_frame]
    assert all(f.url.startswith("chrome-error:") for f in framed)
    assert len(server.asked) == before
    assert not (server.ground.area.folder / "drawings" / "stolen.gpkg").exists()
    context.close()


@pytest.mark.slow
def test_our_page_without_its_key_or_with_too_much(browser: Any, server: Served) -> None:
    context = browser.new_context()
    page = context.new_page()
    own = f"http://127.0.0.1:{server.key.port}"
    page.goto(own + "/")  # no key behind the #
    until(lambda: page.is_visible("#banner"))
    assert "key" in page.inner_text("#banner")
    heads = {"Content-Type": "application/json", "X-Skidway-Token": TOKEN}
    before = len(server.asked)
    huge = '{"x": "' + "y" * (5 << 20) + '"}'
    for address, sent, body, wanted in (
        ("/api/area", {**heads, "X-Skidway-Token": "k" * 48}, "{}", 401),
        ("/api/area", {**heads, "Content-Type": "text/plain"}, "{}", 415),
        ("/api/judge", heads, huge, 413),
        ("/api/../../etc/passwd", heads, "{}", 405),
        ("/api/load/..%2f..%2farea", heads, "{}", 405),
    ):
        assert page.evaluate(ASK, [own + address, sent, body, "cors"]) in (wanted, "refused", 404)
    assert len(server.asked) == before
    for name in ("../area", "..", "a/b", "/etc/passwd", "a\\..\\b", "x" * 41):
        body = json.dumps({"name": name})
        assert page.evaluate(ASK, [own + "/api/load", heads, body, "cors"]) == 400
    # a strange name that leads here, as a poisoned name server may give, is told nothing
    assert page.goto(f"http://localhost:{server.key.port}/").status == 200
    assert page.goto(f"http://house.example:{server.key.port}/").status == 421
    context.close()
