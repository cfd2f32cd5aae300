"""The map for everybody: names, roles, contrast, tab order, large letters, a phone, no motion.

Contrast is computed as WCAG 2.2 defines it (success criteria 1.4.3 and 1.4.11: 4.5 to 1
for words, 3 to 1 for marks and edges). The linter is axe-core (npm, MPL-2.0), fetched
as data when the slow test runs.
"""

import re
import subprocess
import tarfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from drawing_page import DESKTOP, PHONE, Served, Sheet, missing
from oracles import fetched, needs

STATIC = Path(__file__).parents[1] / "layout" / "drawing" / "static"
pytestmark = pytest.mark.skipif(bool(missing()), reason=f"not installed: {missing()}")
AXE = "axe-core@4.14.1"

# Every control that is there, with the name the browser itself would read out.
CONTROLS = """
(() => [...document.querySelectorAll('a, button, input, select, textarea, [tabindex], [role]')]
  .filter(e => e.checkVisibility() && !['status', 'alert'].includes(e.getAttribute('role')))
  .map(e => ({
    tag: e.tagName, id: e.id, role: e.getAttribute('role'), tabindex: e.tabIndex,
    name: (e.getAttribute('aria-label')
      || (e.getAttribute('aria-labelledby') || '').split(' ')
        .map(id => document.getElementById(id)?.textContent || '').join(' ').trim()
      || [...(e.labels || [])].map(l => l.textContent).join(' ').trim()
      || e.textContent.trim() || e.title || '').trim(),
  })))()
"""
# Words and their ground, by the colours the browser has worked out.
FAINT = """
(() => {
  const rgb = c => c.match(/[0-9.]+/g).map(Number);
  const light = c => { const p = c.slice(0, 3).map(v => v / 255)
    .map(v => v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4));
    return 0.2126 * p[0] + 0.7152 * p[1] + 0.0722 * p[2]; };
  const ground = e => { for (; e; e = e.parentElement) {
    const c = rgb(getComputedStyle(e).backgroundColor);
    if (c.length < 4 || c[3] > 0.85) return c; } return [255, 255, 255]; };
  const out = []; let texts = 0;
  for (const e of document.body.querySelectorAll('*')) {
    if (!e.checkVisibility() || e.closest('.unseen, .skip')) continue;
    if (![...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) continue;
    texts += 1;
    const [a, b] = [light(rgb(getComputedStyle(e).color)), light(ground(e))].sort((x, y) => y - x);
    if ((a + 0.05) / (b + 0.05) < 4.5) out.push([((a + 0.05) / (b + 0.05)).toFixed(2),
      e.tagName + '.' + e.className + ' ' + e.textContent.slice(0, 30)]);
  }
  return {texts, out};
})()
"""


@pytest.fixture(scope="module")
def sheet(browser: Any, server: Served) -> Iterator[Sheet]:
    opened = Sheet(browser.new_context(**DESKTOP), server)
    yield opened
    opened.close()


def every_panel(sheet: Sheet) -> Iterator[str]:
    sheet.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    for tab in sheet.page.get_by_role("tab").all():
        tab.click()
        sheet.page.wait_for_timeout(60)
        yield tab.inner_text()
    sheet.page.get_by_role("tab").first.click()


def test_every_control_has_a_name_and_every_word_can_be_read(sheet: Sheet) -> None:
    for name in every_panel(sheet):
        controls = sheet.page.evaluate(CONTROLS)
        assert len(controls) > 25, name
        assert [c for c in controls if not c["name"]] == [], name
        faint = sheet.page.evaluate(FAINT)
        assert faint["texts"] > 25 and faint["out"] == [], name
    # the looking itself notices
    sheet.page.evaluate("document.getElementById('care').style.color = '#aaa'")
    assert sheet.page.evaluate(FAINT)["out"]
    sheet.page.evaluate("document.getElementById('care').style.color = ''")


def test_names_differ_where_controls_do(sheet: Sheet) -> None:
    for panel in every_panel(sheet):
        names = [c["name"] for c in sheet.page.evaluate(CONTROLS) if c["tag"] == "BUTTON"]
        twice = {n for n in names if names.count(n) > 1}
        assert not [n for n in twice if len(n) < 40], panel  # findings may say the same twice


def test_the_tab_key_goes_through_the_page_in_the_order_it_is_read(sheet: Sheet) -> None:
    sheet.page.evaluate("document.activeElement.blur(); skidway.bending.choose(null)")
    sheet.page.evaluate("window.getSelection().removeAllRanges()")
    sheet.page.focus("#skip-map")
    stops = [sheet.page.evaluate("document.activeElement.id || document.activeElement.className")]
    pens = []
    for _ in range(40):
        sheet.page.keyboard.press("Tab")
        where, pen, shown = sheet.page.evaluate(
            "(() => { const e = document.activeElement; const s = getComputedStyle(e);"
            " return [e.id || e.className, e.dataset.pen || '', s.outlineStyle]; })()"
        )
        assert where == "" or shown != "none" or where.startswith("skip"), where  # it is seen
        stops.append(where)
        if pen:
            pens.append(pen)
        if where.startswith("tab-"):
            break
    wanted = ["skip-map", "skip-findings", "drawing-name", "save", "plan", "map", "tab-findings"]
    assert [s for s in stops if s in wanted] == wanted
    assert len(pens) == 9
    # among the tabs arrows go, and only one of them is a stop
    sheet.page.keyboard.press("ArrowRight")
    assert sheet.page.evaluate("document.activeElement.id") == "tab-plan"
    sheet.page.keyboard.press("ArrowLeft")
    assert sheet.page.evaluate("document.activeElement.id") == "tab-findings"


def lightness(colour: str) -> float:
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: str, other: str) -> float:
    a, b = sorted((lightness(one), lightness(other)), reverse=True)
    return (a + 0.05) / (b + 0.05)


def test_contrast_is_computed_as_the_guideline_does() -> None:
    # WCAG 2.2: black on white is 21 to 1; #767676 on white is the well-known 4.54
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def palette() -> dict[str, str]:
    text = (STATIC / "looks.js").read_text(encoding="utf-8")
    inks = dict(re.findall(r'(\w+): "(#[0-9a-f]{6})"', text.split("};")[0]))
    levels = re.findall(r'(\w+): \{ colour: "(#[0-9a-f]{6})"', text)
    return inks | {f"level {name}": colour for name, colour in levels}


def test_marks_of_the_map_stand_out_from_white_and_from_the_paper() -> None:
    found = palette()
    assert len(found) > 20
    fills = {"landing", "position", "turning", "paper"}  # drawn with a dark edge
    for name, colour in found.items():
        if name in fills:
            assert contrast(colour, found["trail"]) >= 3, name
        else:
            assert contrast(colour, "#ffffff") >= 3 and contrast(colour, "#fbfaf5") >= 3, name
    for level in ("ok", "caution", "stop", "unknown"):  # white signs stand on them
        assert contrast(found[f"level {level}"], "#ffffff") >= 4.5
    css = (STATIC / "page.css").read_text(encoding="utf-8")
    edge = re.search(r"--edge: (#[0-9a-f]{6})", css)
    assert edge and contrast(edge[1], "#ffffff") >= 3 and contrast(edge[1], "#fbfaf5") >= 3


SIZES = """
(() => { const box = id => { const r = document.getElementById(id).getBoundingClientRect();
    return {top: r.top, bottom: r.bottom, left: r.left, right: r.right, height: r.height}; };
  const small = [...document.querySelectorAll('button')].filter(e => e.checkVisibility())
    .filter(e => e.getBoundingClientRect().height < 40).map(e => e.textContent);
  return {map: box('map'), tools: box('tools'), panels: box('panels'), small,
    scroll: document.documentElement.scrollWidth, width: document.documentElement.clientWidth,
    height: innerHeight}; })()
"""


def test_on_a_phone_the_map_comes_first_and_pens_lie_under_the_thumb(
    browser: Any, server: Served
) -> None:
    phone = Sheet(browser.new_context(**PHONE), server)
    got = phone.page.evaluate(SIZES)
    assert got["scroll"] <= got["width"] == 390
    assert got["map"]["top"] < 110 and got["map"]["height"] > 0.6 * got["height"]
    assert got["tools"]["bottom"] == pytest.approx(got["height"], abs=1)
    assert got["panels"]["top"] > got["map"]["bottom"]
    assert got["small"] == []  # a finger's width
    # the count of what is found leads to the list, a finding leads back to the map
    phone.page.click("#to-findings")
    phone.until("document.getElementById('panels').getBoundingClientRect().top < 400")
    phone.page.locator(".findings button").first.click()
    phone.until("document.getElementById('map').getBoundingClientRect().top > -40")
    # buttons of the chosen trail do not bury the map
    phone.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    assert phone.page.evaluate("document.getElementById('pen-bar').clientHeight") < 90
    phone.close()


@pytest.mark.slow
def test_letters_twice_as_large(server: Served, browser: Any) -> None:
    # Twice the letter size, in a page that is laid out for letters of the usual size.
    sheet = Sheet(browser.new_context(**DESKTOP), server)
    sheet.page.evaluate("document.documentElement.style.fontSize = '200%'")
    sheet.page.evaluate("skidway.map.updateSize()")
    got = sheet.page.evaluate(SIZES)
    assert got["scroll"] <= got["width"]
    assert got["map"]["right"] - got["map"]["left"] > 250 and got["map"]["height"] > 300
    sheet.close()
    # and the whole page zoomed to twice its size: half the room
    zoomed = Sheet(browser.new_context(viewport={"width": 640, "height": 400},
                                       device_scale_factor=2), server)  # fmt: skip
    got = zoomed.page.evaluate(SIZES)
    assert got["scroll"] <= got["width"] and got["map"]["height"] > 200
    zoomed.close()


@pytest.mark.slow
def test_nothing_moves_for_those_who_want_it_so(browser: Any, server: Served) -> None:
    sheet = Sheet(browser.new_context(**DESKTOP, reduced_motion="reduce"), server)
    sheet.page.evaluate("skidway.bending.choose({kind: 'trail', id: 'M'})")
    sheet.press("Corner after")
    assert not sheet.page.evaluate("skidway.map.getView().getAnimating()")
    sheet.press("+")
    assert not sheet.page.evaluate("skidway.map.getView().getAnimating()")
    sheet.close()


def axe() -> str:
    def fetch(folder: Path) -> None:
        needs("npm")
        done = subprocess.run(["npm", "pack", "--silent", AXE], cwd=folder, capture_output=True,
                              text=True, timeout=300, check=False)  # fmt: skip
        if done.returncode:
            pytest.skip(f"{AXE} cannot be fetched: {done.stderr.strip()[-300:]}")
        (archive,) = folder.glob("*.tgz")
        with tarfile.open(archive) as packed:
            member = packed.extractfile("package/axe.min.js")
            assert member is not None
            (folder / "axe.min.js").write_bytes(member.read())
        archive.unlink()

    return (fetched("axe-core-4.14.1", fetch) / "axe.min.js").read_text(encoding="utf-8")


@pytest.mark.slow
@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_a_linter_of_accessibility_finds_nothing(browser: Any, server: Served, size: str) -> None:
    sheet = Sheet(browser.new_context(**(DESKTOP if size == "desktop" else PHONE)), server)
    source = axe()
    sheet.page.evaluate(source + "; 0")
    for name in every_panel(sheet):
        told = sheet.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        assert len(told["passes"]) > 15
        found = [(v["id"], [n["target"] for n in v["nodes"]][:3]) for v in told["violations"]]
        assert found == [], name
    sheet.page.evaluate("document.getElementById('plan').textContent = ''")
    told = sheet.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert "button-name" in {v["id"] for v in told["violations"]}
    sheet.close()
