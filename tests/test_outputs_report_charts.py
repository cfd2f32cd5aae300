"""Pictures in the report: true to the plan's numbers, named, legible, told in words as well."""

import itertools
import re
from collections.abc import Iterator
from dataclasses import replace
from xml.etree.ElementTree import Element

import made_work
import numpy as np
import plan_fixture
import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_page import Page, words
from test_outputs_report import contrast, schemes

from layout.outputs import overview
from layout.outputs.report import looks, page, svg
from layout.plan import Plan
from layout.settings.limits import limits_in_force

BARS = ("full", "dark", "faint", "outline")


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(overview, "image", lambda plan, dpi: b"picture")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_work.worked(plan_fixture.plan())


@pytest.fixture(scope="module")
def read(plan: Plan) -> Page:
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(overview, "image", lambda plan, dpi: b"picture")
        return Page(page.page(plan))


def chart(read: Page, name: str) -> Element:
    return read.part(f"chart-{name}")


def told(read: Page, name: str) -> str:
    return words(read.part(f"chart-{name}-desc"))


def bars(drawn: Element, *looks_: str) -> list[Element]:
    return [e for e in drawn.iter("rect") if e.get("class") in looks_]


def size(element: Element, name: str) -> float:
    return float(element.get(name) or "nan")


def axis(drawn: Element, unit: str) -> dict[float, float]:
    """Give where the numbers of an axis stand in the picture."""
    return {
        float(words(e).removesuffix(unit).replace(",", "")): size(e, "x")
        for e in drawn.iter("text")
        if e.get("class") == "soft" and re.fullmatch(rf"[\d.,]+{re.escape(unit)}", words(e))
    }


def scaled(at: dict[float, float], x: float) -> float:
    """Read a value off an axis."""
    (v0, x0), (v1, x1) = min(at.items()), max(at.items())
    return v0 + (x - x0) / (x1 - x0) * (v1 - v0)


# --- what they show


def test_ground_by_use_is_as_long_as_its_share(plan: Plan, read: Page) -> None:
    drawn, soil = chart(read, "ground"), plan.soil
    at = axis(drawn, " %")
    row = [b for b in bars(drawn, *BARS) if size(b, "height") == 18.0]
    shares = [100 * m2 / soil.stand_m2 for m2 in (soil.main_m2, soil.spur_m2, soil.turning_m2)]
    start = size(row[0], "x")
    for made, share in zip(row, shares, strict=True):
        end = size(made, "x") + size(made, "width")
        assert scaled(at, end) - scaled(at, start) == pytest.approx(share, abs=0.05)
        start = end
    assert scaled(at, start) == pytest.approx(soil.share_pct, abs=0.1)
    rule = plan.area.settings.soil
    for look, value in (("aim", rule.aim_pct), ("bound", rule.limit_pct)):
        (mark,) = [e for e in drawn.iter("line") if e.get("class") == look]
        assert scaled(at, size(mark, "x1")) == pytest.approx(value, abs=0.05)
    assert "limit 15 %" in told(read, "ground")


def test_diameters_before_and_after_are_those_of_the_table(read: Page) -> None:
    drawn = chart(read, "diameters")
    (table,) = [t for t in read.tables() if t.heads[0] == "DBH class"]
    before = [b for b in bars(drawn, "outline") if size(b, "height") != 12.0]
    after = [b for b in bars(drawn, "full") if size(b, "height") != 12.0]
    scale = max(size(b, "height") for b in before)
    tall = {row[0]: float(row[1].replace(",", "")) for row in table.rows}
    for column, made in ((1, before), (3, after)):
        counts = [float(row[column].replace(",", "")) for row in table.rows]
        heights = [size(b, "height") / scale * max(tall.values()) for b in made]
        assert heights == pytest.approx([c for c in counts if c > 0], abs=0.12)
    for b, a in zip(before, after, strict=True):
        assert size(a, "height") <= size(b, "height") + 0.1
    assert "9 diameter classes, from 8 in to 24 in" in told(read, "diameters")


def test_no_picture_of_diameters_where_what_was_there_is_not_known(plan: Plan) -> None:
    assert plan.treatment is not None
    blind = replace(plan.treatment, thinning=replace(plan.treatment.thinning, before=None))
    assert 'id="chart-diameters"' not in page.page(replace(plan, treatment=blind))


def test_hours_reach_from_low_to_high(plan: Plan, read: Page) -> None:
    assert plan.work is not None
    drawn = chart(read, "hours")
    at = axis(drawn, "")
    made = bars(drawn, "full")
    for b, kind in zip(made, plan.work.times.kinds, strict=True):
        assert scaled(at, size(b, "x")) == pytest.approx(kind.low_h, abs=0.1)
        end = size(b, "x") + size(b, "width")
        assert scaled(at, end) == pytest.approx(kind.high_h, abs=0.1)
    assert "Felling, limbing, bucking 8 to 19 h" in told(read, "hours")


def test_without_work_no_hours_are_drawn() -> None:
    assert 'id="chart-hours"' not in page.page(plan_fixture.plan())


def points(drawn: Element, look: str) -> np.ndarray:
    (made,) = [e for e in drawn.iter("path") if e.get("class") == look]
    pairs = re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", made.get("d") or "")
    return np.array(pairs, dtype=float)


def profile(read: Page, trail: str) -> Element:
    (found,) = [
        e for e in read.root.iter("figure")
        if (e.get("id") or "").startswith("chart-profile") and words(e[0]) == f"Trail {trail}"
    ]  # fmt: skip
    return found


def test_a_profile_is_the_trails_own_ground_and_grade(plan: Plan, read: Page) -> None:
    limits = limits_in_force(plan.area.settings)
    for trail in plan.trails:
        drawn, stations = profile(read, trail.trail_id), plan.stations[trail.trail_id]
        at = axis(drawn, " ft")
        ground, grades = points(drawn, "ground"), points(drawn, "grade")
        along = np.array([scaled(at, x) for x in ground[:, 0]]) * 0.3048
        assert along[-1] == pytest.approx(trail.line.length, abs=0.6)
        z = np.interp(along, stations.at_m, stations.z)
        rise = ground[0, 1] - ground[:, 1]  # y runs down the page
        stretch = np.ptp(ground[:, 1]) / np.ptp(stations.z)
        np.testing.assert_allclose(rise, (z - z[0]) * stretch, atol=1.0)
        level, up, down = lines_of(drawn)
        per_pct = (down - up) / (limits.adverse_pct + limits.favourable_pct)
        assert level - up == pytest.approx(limits.adverse_pct * per_pct, abs=0.2)
        meant = np.interp(along, stations.at_m, stations.grade_pct)
        np.testing.assert_allclose((level - grades[:, 1]) / per_pct, meant, atol=0.6)


def lines_of(drawn: Element) -> tuple[float, float, float]:
    """Give where level ground and the two limits are drawn."""
    up, down = sorted(size(e, "y1") for e in drawn.iter("line") if e.get("class") == "limit")
    (name,) = [e for e in drawn.iter("text") if words(e) == "level"]
    return size(name, "y") - 4.0, up, down


def test_a_profile_holds_cross_slope_bars_and_junctions(plan: Plan, read: Page) -> None:
    limits = limits_in_force(plan.area.settings)
    for trail in plan.trails:
        drawn, stations = profile(read, trail.trail_id), plan.stations[trail.trail_id]
        at, ground, across = axis(drawn, " ft"), points(drawn, "ground"), points(drawn, "across")
        (limit,) = [size(e, "y1") for e in drawn.iter("line") if e.get("class") == "crosslimit"]
        foot = max(size(e, "y1") for e in drawn.iter("line") if size(e, "y1") == size(e, "y2"))
        along = np.array([scaled(at, x) for x in across[:, 0]]) * 0.3048
        meant = np.interp(along, stations.at_m, stations.cross_pct)
        read_off = (foot - across[:, 1]) / (foot - limit) * limits.cross_pct
        np.testing.assert_allclose(read_off, meant, atol=0.6)
        mine = [bar.at_m for bar in plan.bars if bar.trail_id == trail.trail_id]
        strokes = [e for e in drawn.iter("line") if e.get("class") == "drain"]
        where = sorted(scaled(at, size(e, "x1")) * 0.3048 for e in strokes)
        assert where == pytest.approx(sorted(mine), abs=0.3)
        for stroke in strokes:  # each hangs from the ground
            level = np.interp(size(stroke, "x1"), ground[:, 0], ground[:, 1])
            assert size(stroke, "y1") == pytest.approx(level, abs=1.0)
        spurs = {t.trail_id: t.joins_at_m for t in plan.trails if t.joins_id == trail.trail_id}
        tips = [float((e.get("d") or "M0").split()[0][1:]) for e in drawn.iter("path")
                if e.get("class") == "mouth"]  # fmt: skip
        places = [scaled(at, x) * 0.3048 for x in tips]
        assert places == pytest.approx(sorted(v for v in spurs.values() if v is not None), abs=0.3)
        (said,) = [words(e) for e in drawn.iter("desc")]
        assert f"limit {limits.cross_pct:g} %." in said
        assert all(re.search(rf"\b{name} at \d+ ft", said) for name in spurs)
    assert {"S1", "S2"} & {words(e) for e in profile(read, "M1").iter("text")}


def test_every_trail_that_leaves_another_is_named_however_many_leave_it(plan: Plan) -> None:
    """27 of them, crowded: names on no other name, none off the picture, each with its line."""
    main = plan.trails[0]
    spur = next(t for t in plan.trails if t.joins_id == main.trail_id)
    end = main.line.length
    many = tuple(
        replace(spur, trail_id=f"S{40 + n}", joins_at_m=end * (0.5 + 0.5 * n / 27))
        for n in range(27)
    )
    there = [t for t in plan.trails if t.joins_id != main.trail_id]
    stations = plan.stations | {t.trail_id: plan.stations[spur.trail_id] for t in many}
    crowded = replace(plan, trails=(*there, *many), stations=stations)
    drawn = profile(Page(page.page(crowded)), main.trail_id)
    ids = {t.trail_id for t in many}
    named = [e for e in drawn.iter("text") if words(e) in ids]
    assert sorted(words(e) for e in named) == sorted(ids)
    half = svg.wide("S40") / 2
    spots = [(size(e, "x"), size(e, "y")) for e in named]
    assert all(half <= x <= svg.WIDTH - half for x, _ in spots)
    for (x, y), (u, v) in itertools.combinations(spots, 2):
        assert abs(x - u) >= 2 * half or abs(y - v) >= svg.LETTER
    lines = [e.get("d") or "" for e in drawn.iter("path") if e.get("class") == "lead"]
    assert len(lines) == 27
    for d in lines:  # none runs through a name
        at = np.array(re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", d), dtype=float)
        for (x0, y0), (x1, y1) in itertools.pairwise(at):
            for share in np.linspace(0.0, 1.0, 50):
                x, y = x0 + share * (x1 - x0), y0 + share * (y1 - y0)
                assert not any(abs(x - u) < half and v - 10 < y < v for u, v in spots)


def test_a_bar_over_a_limit_lies_on_no_words(plan: Plan) -> None:
    stations = plan.stations["S2"]
    steep = replace(stations, grade_pct=np.full_like(stations.grade_pct, -23.0),
                    cross_pct=np.full_like(stations.cross_pct, 30.0))  # fmt: skip
    drawn = profile(Page(page.page(replace(plan, stations={**plan.stations, "S2": steep}))), "S2")
    marks = bars(drawn, "over")
    assert len(marks) == 2  # over the grade's limit, and over that of the slope across
    for mark in marks:
        top, foot = size(mark, "y"), size(mark, "y") + size(mark, "height")
        for text in drawn.iter("text"):  # letters are 13 high, a quarter of that under the line
            y = size(text, "y")
            assert foot <= y - 10.5 or top >= y + 3.5, words(text)
        for stroke in drawn.iter("line"):
            if stroke.get("class") == "drain":
                assert size(stroke, "y2") <= top


def test_where_a_grade_is_over_its_limit_it_is_marked_and_told(plan: Plan) -> None:
    stations = plan.stations["S2"]
    grades = np.where((stations.at_m >= 20) & (stations.at_m <= 45), -23.0, stations.grade_pct)
    steep = replace(plan, stations={**plan.stations, "S2": replace(stations, grade_pct=grades)})
    read = Page(page.page(steep))
    drawn = profile(read, "S2")
    (mark,) = bars(drawn, "over")
    at = axis(drawn, " ft")
    start = scaled(at, size(mark, "x")) * 0.3048
    end = scaled(at, size(mark, "x") + size(mark, "width")) * 0.3048
    assert (start, end) == (pytest.approx(20, abs=0.5), pytest.approx(45, abs=0.5))
    (said,) = [words(e) for e in drawn.iter("desc")]
    assert "steepest 23 % downhill loaded, limit 20 %" in said
    assert re.search(r"Over a limit on 8[0-9] ft of it in all\.", said)
    assert bars(profile(read, "S3"), "over") == []
    order = [words(e[0]) for e in read.root.iter("figure") if "profile" in (e.get("id") or "")]
    assert order[:2] == ["Trail M1", "Trail S2"]  # the main trail, then the steepest for its limit


def test_unknown_ground_is_a_gap_and_a_trail_without_ground_has_no_picture(plan: Plan) -> None:
    stations = plan.stations["S1"]
    hole = np.where((stations.at_m > 30) & (stations.at_m < 50), np.nan, stations.z)
    blank = np.full_like(plan.stations["S2"].grade_pct, np.nan)
    made = {
        **plan.stations,
        "S1": replace(stations, z=hole, grade_pct=np.where(np.isnan(hole), np.nan, 5.0)),
        "S2": replace(plan.stations["S2"], grade_pct=blank),
    }
    text = page.page(replace(plan, stations=made))
    (ground,) = [e for e in profile(Page(text), "S1").iter("path") if e.get("class") == "ground"]
    assert (ground.get("d") or "").count("M") == 2
    assert "Trail S2</figcaption>" not in text and "nan" not in text.lower().split("<svg")[1]


def test_many_trails_are_folded_away(plan: Plan) -> None:
    some = plan.trails[1:]
    many = [replace(some[n % 4], trail_id=f"S{n + 1}") for n in range(60)]
    stations = {t.trail_id: plan.stations[some[n % 4].trail_id] for n, t in enumerate(many)}
    text = page.page(replace(plan, trails=(plan.trails[0], *many),
                             stations={**stations, "M1": plan.stations["M1"]}))  # fmt: skip
    assert text.count('id="chart-profile-') == 61 * 3  # a figure, its title, its words
    assert "Show 58 more trail profiles" in text
    assert len(text.encode()) < 1_500_000


# --- for everybody


def pictures(read: Page) -> Iterator[tuple[Element, Element]]:
    for figure in read.root.iter("figure"):
        for drawn in figure.iter("svg"):
            yield figure, drawn


def test_every_picture_has_a_name_and_is_told_in_words(read: Page) -> None:
    found = list(pictures(read))
    assert len(found) >= 8
    for figure, drawn in found:
        assert drawn.get("role") == "img"
        title, desc = (read.part(name) for name in (drawn.get("aria-labelledby") or "").split())
        assert (title.tag, desc.tag) == ("title", "desc") and len(words(desc)) > 40
        assert words(title) == words(figure[0]) and figure[0].tag == "figcaption"
        numbers = {words(e) for e in drawn.iter("text")}
        assert len(numbers) > 4


def test_words_of_a_picture_lie_inside_it_and_not_on_each_other(read: Page) -> None:
    for figure, drawn in pictures(read):
        _, _, width, height = map(float, (drawn.get("viewBox") or "").split())
        boxes = []
        for text in drawn.iter("text"):
            wide, x, y = svg.wide(words(text)) * 0.93, size(text, "x"), size(text, "y")
            left = (
                x - {"start": 0.0, "middle": 0.5, "end": 1.0}[text.get("text-anchor") or ""] * wide
            )
            assert left >= 0 and left + wide <= width and 9 <= y <= height, words(text)
            boxes.append((left, y - 10, left + wide, y, words(text)))
        for a, b in itertools.combinations(boxes, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (figure.get("id"), a[4], b[4])


@pytest.mark.parametrize("scheme", ["day", "night"])
def test_marks_stand_out_from_their_ground_as_much_as_marks_must(scheme: str) -> None:
    """WCAG 2.2, success criterion 1.4.11: 3 to 1 for what is needed to understand a picture."""
    style = looks.style("letter")
    colours = schemes(style)[scheme]
    rules = re.findall(r"\.chart \.([a-z]+) \{([^}]*)\}", style)
    seen = 0
    for name, rule in rules:
        for colour in re.findall(r"(?:fill|stroke): var\(--([a-z-]+)\)", rule):
            if name != "grid":  # helps the eye, and every value is told beside it
                assert contrast(colours[colour], colours["paper"]) >= 3.0, name
                seen += 1
    assert seen >= 9
    full, dark = colours["link"], colours["ink"]
    faint = colours["soft"]
    assert contrast(full, dark) > 1.25 and contrast(dark, faint) > 1.25


@given(st.floats(1e-3, 1e6))
def test_steps_of_an_axis_are_round_and_reach_the_most(most: float) -> None:
    steps = svg.round_steps(most)
    assert steps[0] == 0 and steps[-1] >= most - 1e-9 * most - 1e-9 and 2 <= len(steps) <= 12
    step = steps[1]
    assert f"{step:.0e}"[0] in "125" and steps[-1] - step < most


def test_two_pages_are_the_same(plan: Plan, read: Page) -> None:
    assert page.page(plan) == read.html
