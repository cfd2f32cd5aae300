"""report.html: whole, true to the plan, readable, and harmless whatever a name holds."""

import base64
import hashlib
import html.parser
import itertools
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import plan_fixture
import pytest
from report_page import Page, words
from report_plans import EDGES, edge_plans

from layout.findings import Finding
from layout.outputs import overview, report
from layout.outputs.report import looks, page
from layout.plan import Plan


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave the picture out; one test draws it."""
    monkeypatch.setattr(overview, "image", lambda plan, dpi: b"picture")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@pytest.fixture(scope="module")
def pages() -> dict[str, Page]:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(overview, "image", lambda plan, dpi: b"picture")
        plans = edge_plans(plan_fixture.plan())
        return {name: Page(page.page(plan)) for name, plan in plans.items()}


def made(plan: Plan) -> Page:
    return Page(page.page(plan))


def test_every_edge_is_looked_at(pages: dict[str, Page]) -> None:
    assert set(pages) == set(EDGES)


# --- the page as a page ---------------------------------------------------------------------


class Strict(html.parser.HTMLParser):
    """Reads as a browser does, and notes what opens without closing."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: Counter[str] = Counter()

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.tags[tag] += 1
        self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: object) -> None:
        assert tag in ("meta", "img", "br"), f"a browser leaves <{tag}/> open"
        self.tags[tag] += 1

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


@pytest.mark.parametrize("name", EDGES)
def test_it_is_well_formed_for_browsers_and_for_xml(pages: dict[str, Page], name: str) -> None:
    read = pages[name]
    browser = Strict()
    browser.feed(read.html)
    assert browser.open == []
    assert browser.tags == Counter(element.tag for element in read.root.iter())
    assert read.root.get("lang") == "en"
    charset = read.root.find("head/meta")
    assert charset is not None and charset.get("charset") == "utf-8"
    title = read.root.find("head/title")
    assert title is not None and words(title).endswith(": thinning plan") and len(words(title)) > 15


@pytest.mark.parametrize("name", EDGES)
def test_headings_tables_and_links_can_be_walked_without_sight(
    pages: dict[str, Page], name: str
) -> None:
    read = pages[name]
    levels = [int(e.tag[1]) for e in read.root.iter() if re.fullmatch(r"h[1-6]", e.tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b <= a + 1 for a, b in itertools.pairwise(levels)), "a level is skipped"
    assert all(words(e) for e in read.root.iter() if re.fullmatch(r"h[1-6]", e.tag))
    ids = [e.get("id") for e in read.root.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    for element in read.root.iter():
        if element.tag == "a":
            assert (element.get("href") or "")[1:] in ids and words(element)
        if element.get("aria-labelledby"):
            assert set((element.get("aria-labelledby") or "").split()) <= set(ids)
        if element.get("role") == "region":
            assert element.get("tabindex") == "0" and element.get("aria-label")
        if element.tag == "details":
            assert element[0].tag == "summary" and words(element[0])
        if element.tag in ("ul", "ol"):
            assert len(element) and {child.tag for child in element} == {"li"}
    for table in read.root.iter("table"):
        assert [child.tag for child in table][:3] == ["caption", "thead", "tbody"]
        assert all(th.get("scope") == "col" and words(th) for th in table.findall("thead/tr/th"))
        for row in (*table.findall("tbody/tr"), *table.findall("tfoot/tr")):
            assert row[0].tag == "th" and row[0].get("scope") == "row" and words(row[0])
            assert all(cell.tag == "td" for cell in row[1:])
    (picture,) = read.root.iter("img")
    assert len(picture.get("alt") or "") > 100
    list(read.tables())  # as many cells as heads


def test_it_loads_nothing_and_runs_nothing(plan: Plan) -> None:
    read = made(plan)
    assert not list(read.root.iter("script"))
    allowed = {"src", "href", "alt", "id", "class", "lang", "scope", "role", "tabindex"}
    allowed |= {"content", "name", "charset", "http-equiv", "width", "height"}
    allowed |= {"aria-label", "aria-labelledby", "aria-describedby"}
    drawn = {"viewBox", "d", "x", "y", "x1", "x2", "y1", "y2", "text-anchor"}
    inside = {child for svg in read.root.iter("svg") for child in svg.iter()}
    for element in read.root.iter():
        assert set(element.attrib) <= allowed | (drawn if element in inside else set())
        assert (element.get("href") or "#").startswith("#")
        assert (element.get("src") or "data:image/png;base64,").startswith("data:image/png;base64,")
        assert element.tag not in ("link", "iframe", "object", "embed", "base", "form")
        if element in inside:  # nothing that could run, load or hold a page of its own
            assert element.tag in ("svg", "title", "desc", "line", "path", "rect", "text")
    assert not re.search(r"url\(|@import|expression|http", read.style)
    (policy,) = [
        m.get("content") or ""
        for m in read.root.iter("meta")
        if m.get("http-equiv") == "Content-Security-Policy"
    ]
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    digest = base64.b64encode(hashlib.sha256(read.style.encode()).digest()).decode()
    assert rules == {
        "default-src": "'none'",
        "style-src": f"'sha256-{digest}'",
        "img-src": "data:",
        "base-uri": "'none'",
        "form-action": "'none'",
    }


NASTY = '"><script>alert("1")</script> & \'x\' <img src=x onerror=1> {name} \x07\u202e ]]> -->'


def test_what_a_user_wrote_is_only_ever_text(plan: Plan) -> None:
    said = NASTY.replace("\x07", "\ufffd").replace("\u202e", "\ufffd")
    trails = tuple(replace(t, trail_id=t.trail_id.replace("S1", NASTY)) for t in plan.trails)
    stations = {k.replace("S1", NASTY): v for k, v in plan.stations.items()}
    strips = (replace(plan.strips[0], feature_id=NASTY, rule=NASTY, water_class=NASTY),)
    marked = next(o for o in plan.trees if o.status == "beyond_reach")
    trees = tuple(
        replace(o, tree_id=NASTY, remedies=(*o.remedies, NASTY)) if o is marked else o
        for o in plan.trees
    )
    finding = Finding(NASTY, "stop", NASTY, NASTY, NASTY, unit=NASTY, source=NASTY, value=1.0)
    hard = replace(
        plan, trails=trails, stations=stations, steps=(), bars=(), strips=strips, trees=trees,
        findings=(finding,), positions=(replace(plan.positions[0], position_id=NASTY),), pulls=(),
        about={**plan.about, "version": NASTY, "made": "<b>2026"},
        rub_trees=(replace(plan.rub_trees[0], tree_id=NASTY, cut_after=(NASTY,)),),
        lays=(replace(plan.lays[0], tree_id=NASTY, position_id=NASTY, in_way=(NASTY,)),),
        felling_groups=(replace(plan.felling_groups[0], position_id=NASTY, tree_ids=(NASTY,)),),
    )  # fmt: skip
    hard = replace(
        hard,
        area=replace(
            hard.area,
            settings=hard.area.settings.model_copy(
                update={
                    "area": hard.area.settings.area.model_copy(update={"name": NASTY}),
                    "access": hard.area.settings.access.model_copy(update={"road_name": NASTY}),
                }
            ),
        ),
    )
    read = made(hard)
    browser = Strict()
    browser.feed(read.html)
    assert browser.tags == Counter(e.tag for e in read.root.iter())
    assert not {"script", "b"} & set(browser.tags) and browser.tags["img"] == 1
    assert read.text().count(" ".join(said.split())) >= 8
    heading = read.root.find("body/header/h1")
    assert heading is not None and words(heading) == " ".join(said.split())
    assert not re.search(r"[\x00-\x08\u202a-\u202e\ud800-\udfff]", read.html)


def test_half_a_character_does_not_stop_the_report(plan: Plan, tmp_path: Path) -> None:
    odd = replace(plan, findings=(Finding("odd", "caution", "A half \ud83d sign."),))
    report.write(odd, tmp_path / "report.html")
    assert "A half \ufffd sign." in (tmp_path / "report.html").read_text(encoding="utf-8")


def test_the_picture_is_inside_and_the_page_stays_small(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    report.write(plan, tmp_path / "report.html")
    assert (tmp_path / "report.html").stat().st_size < 3_000_000
    read = Page((tmp_path / "report.html").read_text(encoding="utf-8"))
    (picture,) = read.root.iter("img")
    data = base64.b64decode((picture.get("src") or "").partition(",")[2], validate=True)
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    size = int.from_bytes(data[16:20], "big"), int.from_bytes(data[20:24], "big")
    assert size == (int(picture.get("width") or 0), int(picture.get("height") or 0))
    assert "28 of 63 marked trees reached" in (picture.get("alt") or "")


def test_two_pages_of_one_plan_are_the_same(plan: Plan) -> None:
    assert page.page(plan) == page.page(plan_fixture.plan())


# --- colours --------------------------------------------------------------------------------


def luminance(colour: str) -> float:
    """Relative luminance of sRGB, as WCAG 2 defines it."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_by_the_published_extremes() -> None:
    # WCAG 2: black on white is 21 to 1; #767676 is the lightest grey that passes AA on white.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


def schemes(style: str) -> dict[str, dict[str, str]]:
    """Read the colours by day and by night out of the style as written."""
    found = re.findall(r":root \{([^}]*)\}", style)
    day, night = (dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", block)) for block in found)
    return {"day": day, "night": night}


def text_pairs(style: str) -> Iterator[tuple[str, str]]:
    """Give each colour text is written in, with every ground it may lie on."""
    grounds = {"paper", "panel"}
    for rule in re.findall(r"\{([^{}]*)\}", style):
        text = re.search(r"(?<![-a-z])color: var\(--([a-z-]+)\)", rule)
        ground = re.search(r"background: var\(--([a-z-]+)\)", rule)
        if text:
            for name in {ground[1]} if ground else grounds:
                yield text[1], name
        elif ground:
            yield "ink", ground[1]
            yield "link", ground[1] if ground[1] in grounds else "paper"


@pytest.mark.parametrize("scheme", ["day", "night"])
def test_every_text_stands_out_from_its_ground(scheme: str) -> None:
    style = looks.style("letter")
    colours = schemes(style)[scheme]
    assert set(colours) == set(looks.COLOURS)
    pairs = set(text_pairs(style))
    assert {
        ("paper", "ink"),
        ("soft", "panel"),
        ("open", "open-ground"),
        ("ink", "stop-ground"),
    } <= (pairs)
    for text, ground in sorted(pairs):
        assert contrast(colours[text], colours[ground]) >= 4.5, (scheme, text, ground)


def test_every_colour_is_used_and_paper_takes_those_of_the_day() -> None:
    style = looks.style("a4")
    used = set(re.findall(r"var\(--([a-z-]+)\)", style))
    assert used == set(looks.COLOURS)
    assert "@media screen and (prefers-color-scheme: dark)" in style
    assert "size: a4" in style and "size: letter" in looks.style("letter")
    assert "<" not in style and "&" not in style
