"""crew_map.pdf: every sheet, each where on earth it says, readable and the same each time."""

import json
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
import pikepdf
import plan_fixture
import pyproj
import pytest
import rasterio
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from oracles import needs
from scipy import ndimage
from shapely.geometry import LineString, Point, box

from layout.area import read_area
from layout.findings import Finding
from layout.outputs import crew, fingerprint, palette
from layout.outputs.crew import book, geo, map_frames, map_sheet, maps
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.sheet import LEAST_PT, MARGIN_PT, MapFrame, Sheet
from layout.outputs.crew.species_codes import marked_species, species_codes
from layout.outputs.help_places import help_places
from layout.outputs.map_window import METRES_AN_INCH, Window
from layout.outputs.words.translations import tongue
from layout.plan import Plan, make_plan
from layout.settings import LonLat
from layout.tongue import speaking

FEW_CM = 0.05


@pytest.fixture(scope="module")
def plan() -> Plan:
    return dated(plan_fixture.plan())


@pytest.fixture(scope="module")
def pdf(plan: Plan) -> bytes:
    return crew.bound(plan)


@pytest.fixture(scope="module")
def few(plan: Plan) -> bytes:
    """Give the sheets of a plan that shows three lone winch positions."""
    return crew.bound(spots(plan))


@pytest.fixture(scope="module")
def sheets(plan: Plan) -> Iterator[list[Sheet]]:
    """Give the sheets as drawn, to look at their parts."""
    with mpl.rc_context():
        made = drawn(plan)
        for sheet in made:
            if sheet.frames:
                sheet.canvas.draw()  # a legend's words have their places only then
        yield made


def dated(plan: Plan) -> Plan:
    return replace(plan, about={**plan.about, "made": "2026-11-26T18:40:52Z"})


def drawn(plan: Plan) -> list[Sheet]:
    mpl.rcdefaults()
    mpl.rcParams.update(book.LOOK)
    made = []
    for number, (landscape, draw) in enumerate(book.drawings(plan), start=1):
        sheet = Sheet(plan.area.settings.outputs.paper, landscape)
        draw(sheet)
        book.foot.draw(sheet, plan, number, 99, 3)
        made.append(sheet)
    return made


def on(plan: Plan, table: str, **values: object) -> Plan:
    """Give a plan with other settings."""
    settings = plan.area.settings
    new = getattr(settings, table).model_copy(update=values)
    return replace(plan, area=replace(plan.area, settings=settings.model_copy(update={table: new})))


def texts(sheet: Sheet) -> list[Text]:
    found = sheet.figure.findobj(Text)
    return [t for t in found if isinstance(t, Text) and t.get_text().strip() and t.get_visible()]


def said(sheet: Sheet) -> str:
    return " ".join(t.get_text() for t in texts(sheet)).replace("\N{NO-BREAK SPACE}", " ")


def frame_of(sheet: Sheet) -> MapFrame:
    (frame,) = sheet.frames
    return frame


# what the sheets say


def test_the_sheets_come_in_their_order(sheets: list[Sheet]) -> None:
    assert "EMERGENCY" in said(sheets[0])
    assert [bool(sheet.frames) for sheet in sheets] == [False, True, *[False] * 6]
    assert "Flagging sheet" in said(sheets[2]) and "Marked trees" in said(sheets[-3])
    assert "Stand sheet" in said(sheets[-2])
    assert "Before you start" in said(sheets[-1])


def test_every_sheet_bears_the_cautions_and_its_plan(plan: Plan, sheets: list[Sheet]) -> None:
    stamp = fingerprint.of_plan(plan)[:8]
    for number, sheet in enumerate(sheets, start=1):
        words = said(sheet)
        for phrase in (
            "Not walked and flagged = not ready.",
            "A plan, not permission: local law, your own eyes and licensed advice decide.",
            "A phone dot never decides a boundary, a strip or a tree.",
            "NO LOCAL RULE CHOSEN for water strips",
            "unverified – check local rule",  # noqa: RUF001
            "2 STOP findings, page 3: read them before anything else",
            "WORKING ALONE",
            f"page {number} of 99",
            f"Maple Hill plan {stamp} of 2026-11-26 18:40 UTC settings 0000",
            "Planned for dry ground.",
        ):
            assert phrase in re.sub(" +", " ", words), (number, phrase)


def test_the_cautions_go_when_what_they_warn_of_does() -> None:
    closed = on(plan_fixture.plan(rules=("a-rule",), confirmed=True), "work", crew=2)
    sheet = Sheet("letter")
    book.foot.draw(sheet, replace(closed, findings=()), 1, 1, 1)
    words = said(sheet)
    assert "Water strips by rule a-rule." in words
    assert not re.search("NO LOCAL|unverified|STOP|ALONE", words)


def test_the_emergency_sheet_stands_alone(plan: Plan, sheets: list[Sheet]) -> None:
    words = said(sheets[0])
    lon, lat = pyproj.Proj(plan.area.crs)(plan.landing.x, plan.landing.y, inverse=True)
    assert f"{lat:.5f}, {lon:.5f}" in words  # NAD83 and WGS84 agree to 2 m, the fifth decimal
    assert "42° 27.162" in words and "74° 59.836" in words
    assert "NAD83 / UTM zone 18N: 500225 E 4700041 N" in words
    for blank in (
        "Hospital", "Lock code of the gate", "Nearest phone signal", "Radio channel",
        "Who meets the ambulance", "Who is watching the clock", "Check-in times",
    ):  # fmt: skip
        assert blank in words
    assert "Bleeding kit on the person, not in the truck" in words
    assert "Working alone" in words


def test_what_is_known_of_the_access_is_printed(plan: Plan) -> None:
    told = on(on(plan, "access", gate=(500_010.0, 4_700_020.0), road_name="Silo Road",
                 meet="at the white silo", helispot=LonLat(lon=-74.99, lat=42.45)),
              "work", crew=3)  # fmt: skip
    sheet = Sheet("letter")
    book.emergency.draw(sheet, told)
    words = said(sheet)
    for phrase in ("Silo Road", "at the white silo", "42.45000, -74.99000", "42° 27.000",
                   "500010 E 4700020 N", "People on the job: 3."):  # fmt: skip
        assert phrase in words
    assert "Working alone" not in words


def test_a_meeting_point_of_its_own_has_its_coordinates(plan: Plan) -> None:
    """Given as a place, it stands between gate and landing; else the words alone stand there."""
    gate = on(plan, "access", gate=(500_010.0, 4_700_020.0), meet="at the white silo")
    told = on(gate, "access", meet_at=LonLat(lon=-74.98, lat=42.46))
    for there, wanted in ((told, True), (gate, False)):
        sheet = Sheet("letter")
        book.emergency.draw(sheet, there)
        words = said(sheet)
        assert ("42.46000, -74.98000" in words) is wanted
        assert ("Meet here" in words) is wanted
        assert "at the white silo" in words
    assert [p.kind for p in help_places(told)] == ["gate", "meet_at"]


def test_an_overfull_emergency_sheet_stays_clear_of_its_foot(plan: Plan) -> None:
    much = on(plan, "access", gate=(500_010.0, 4_700_020.0), road_name="far beyond " * 40,
              meet="at the white silo " * 40, meet_at=LonLat(lon=-74.98, lat=42.46),
              helispot=LonLat(lon=-74.99, lat=42.45))  # fmt: skip
    crs = pyproj.CRS.from_proj4("+proj=tmerc +lon_0=-75 +k=0.9999 +x_0=500000 +datum=WGS84")
    much = replace(much, area=replace(much.area, crs=crs))
    sheet = Sheet("letter")
    book.emergency.draw(sheet, much)
    floor = (MARGIN_PT + book.foot.height_pt(much, sheet.inner_pt)) * sheet.figure.dpi / 72
    lowest = min(text.get_window_extent().y0 for text in texts(sheet))
    assert lowest > floor - 10


def test_the_map_says_what_a_map_must(sheets: list[Sheet]) -> None:
    words = said(sheets[1])
    for phrase in (
        "Maple Hill: crew map", "grid north", "declination ____ date", "on letter paper",
        "contour lines every 10 ft",
        "grid crosses every 100 m", "NAD83 / UTM zone 18N", "500200 E", "4700200 N",
        "STOP WORK", "ruts over 6 in deep for over 50 ft", "mud moving", "rain due", "thaw",
        "water running in the track", "wind moving the tops", "this map NAD83", "3 to 7 ft",
        "landing L1", "wire", "well", "property line", "downhill loaded", "100 ft",
    ):  # fmt: skip
        assert phrase in re.sub(r"\s+", " ", words), phrase


def test_every_name_and_number_is_on_the_map(plan: Plan, sheets: list[Sheet]) -> None:
    words = {text.get_text() for text in texts(sheets[1])}
    assert {trail.trail_id for trail in plan.trails} <= words
    assert {position.position_id for position in plan.positions} <= words
    assert {o.tree_id for o in plan.trees if o.status != "leave"} <= words


def test_the_lists_hold_every_trail_and_marked_tree(plan: Plan, sheets: list[Sheet]) -> None:
    words = " ".join(said(sheet) for sheet in sheets[2:])
    for trail in plan.trails:
        assert re.search(rf"\b{trail.trail_id}: (from|leaves)", words)
    for outcome in plan.trees:
        boxed = re.search(rf"☐ {outcome.tree_id} ", words) is not None
        assert boxed == (outcome.status == "served"), outcome.tree_id
        starts = "|".join([*(trail.trail_id for trail in plan.trails), "landing"])
        way = (
            rf"(?<!stem )\b{outcome.tree_id} ({starts}) (\d+ )?(\d+ (left|right|ahead|back)|in the)"
        )
        listed = re.search(way, words) is not None
        assert listed == (outcome.status != "leave"), outcome.tree_id
    for finding in plan.findings:
        if finding.level == "stop":
            assert finding.message in re.sub(r"\s+", " ", words)


def test_no_word_of_the_workshop_and_no_promise(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        words = said(sheet).lower()
        found = re.search(
            r"\bsafe(ly|ty)?\b(?! and health)|\bturns?\b|\bgap\b|\bbound\b|\bobjective\b|lattice"
            r"|\bsolver\b|\bincline|\bRUSLE\b|-\d+ %",
            words.replace("us occupational safety and health administration", ""),
        )
        assert found is None, found


# how they look


def test_nothing_is_printed_smaller_than_seven_points(sheets: list[Sheet]) -> None:
    for sheet in sheets:
        small = [t.get_text() for t in texts(sheet) if float(t.get_fontsize()) < LEAST_PT]
        assert not small


def test_names_and_numbers_are_of_nine_points_where_they_fit(
    plan: Plan, sheets: list[Sheet]
) -> None:
    numbers = {o.tree_id for o in plan.trees} | {p.position_id for p in plan.positions}
    sizes = [t.get_fontsize() for t in texts(sheets[1]) if t.get_text() in numbers]
    assert sum(size >= 9 for size in sizes) >= 0.8 * len(sizes)


def test_no_words_lie_on_others_or_run_off_the_paper(sheets: list[Sheet]) -> None:
    for number, sheet in enumerate(sheets):
        width, height = sheet.figure.bbox.width, sheet.figure.bbox.height
        found = [t for t in texts(sheet) if t.get_text() not in ("!", "☐")]
        boxes = np.array([t.get_window_extent().extents for t in found])
        assert boxes[:, :2].min() > 0, number
        assert boxes[:, 2].max() < width and boxes[:, 3].max() < height, number
        wide = np.minimum(boxes[:, None, 2], boxes[:, 2]) - np.maximum(
            boxes[:, None, 0], boxes[:, 0]
        )
        high = np.minimum(boxes[:, None, 3], boxes[:, 3]) - np.maximum(
            boxes[:, None, 1], boxes[:, 1]
        )
        # Lines of a paragraph may touch, and a slanted number's box is larger than its ink.
        hits = np.argwhere(np.triu((wide > 1.5) & (high > 4.5), k=1))
        assert not [(found[i].get_text(), found[j].get_text()) for i, j in hits], number


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_every_frame_lies_within_the_paper_clear_of_panel_and_foot(plan: Plan, paper: str) -> None:
    there = on(plan, "outputs", paper=paper)
    for frame in map_frames.frames(there, coded=True):
        sheet = Sheet(paper, frame.landscape)  # type: ignore[arg-type]
        map_box, panel, notes = (
            box(x, y, x + w, y + h) for x, y, w, h in (frame.map_pt, frame.panel_pt, frame.notes_pt)
        )
        foot_pt = book.foot.height_pt(there, sheet.inner_pt)
        room = box(
            MARGIN_PT,
            MARGIN_PT,
            sheet.width_pt - MARGIN_PT,
            sheet.height_pt - MARGIN_PT + 8 - foot_pt,
        )
        assert room.contains(map_box) and room.contains(panel) and room.buffer(1).contains(notes)
        assert notes.distance(map_box) > 6 and notes.distance(panel) >= 5.9
        assert map_box.distance(panel) >= 5.9
        assert map_box.area > 0.35 * sheet.width_pt * sheet.height_pt


@pytest.mark.slow
def test_the_panel_keeps_its_place_on_every_kind_of_sheet(plan: Plan) -> None:
    long = on(plan, "water", rules=("slope-50-2-over-10", "a-rule-with-a-long-name-of-its-own"))
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(book.LOOK)
        for frame in map_frames.frames(long, coded=True):
            sheet = Sheet("letter", frame.landscape)
            ground = map_frames.window(frame, 2500, *plan_fixture.at(210, 190))
            page = MapPage("map", frame, ground, numbered=True)
            map_sheet.draw(sheet, long, page, [], "10 ft")
            sheet.canvas.draw()
            x, y, w, h = (value * sheet.figure.dpi / 72 for value in frame.panel_pt)
            top = sheet.figure.bbox.height - y
            for axes in sheet.figure.axes[2:]:
                legend = axes.get_legend()
                parts = legend.get_texts() if legend else axes.texts
                for part in parts:
                    extent = part.get_window_extent()
                    assert extent.x0 >= x - 1 and extent.x1 <= x + w + 1, part.get_text()
                    assert extent.y0 >= top - h - 6 and extent.y1 <= top + 1, part.get_text()
            _, notes, _, deep = (value * sheet.figure.dpi / 72 for value in frame.notes_pt)
            lowest = min(t.get_window_extent().y0 for t in sheet.figure.artists)
            assert lowest >= sheet.figure.bbox.height - notes - deep - 1
            box_ = next(p for p in sheet.figure.axes[0].patches if isinstance(p, Rectangle))
            scale_axes = sheet.figure.axes[-1]
            extents = [text.get_window_extent() for text in scale_axes.texts]
            stop = box_.get_window_extent()
            assert not any(stop.overlaps(extent) for extent in extents)
            assert stop.y0 >= top - h - 2


def test_the_scale_is_what_it_says_on_this_paper(plan: Plan, sheets: list[Sheet]) -> None:
    frame = frame_of(sheets[1])
    left, bottom, right, top = frame.box_pt
    scale = int(re.search(r"1 : ([\d,]+) on letter", said(sheets[1]))[1].replace(",", ""))  # type: ignore[index]
    metres = (right - left) / 72 * METRES_AN_INCH * scale
    assert frame.window.east - frame.window.west == pytest.approx(metres)
    assert frame.window.north - frame.window.south == pytest.approx(
        (top - bottom) / 72 * METRES_AN_INCH * scale
    )
    stand = plan.area.stand.bounds
    assert frame.window.west < stand[0] and stand[2] < frame.window.east


def test_a4_is_said_where_a4_is_meant(plan: Plan) -> None:
    frame, window = map_frames.whole(on(plan, "outputs", paper="a4"))
    sheet = Sheet("a4", frame.landscape)
    map_sheet.draw(sheet, plan, MapPage("m", frame, window, numbered=False), [], "10 ft")
    assert "on A4 paper" in said(sheet) and "letter" not in said(sheet)


# the file


def test_papers_sizes_and_pages(plan: Plan, pdf: bytes, sheets: list[Sheet]) -> None:
    with pikepdf.open(BytesIO(pdf)) as file:
        sizes = [tuple(float(v) for v in page.MediaBox)[2:] for page in file.pages]
        assert file.pdf_version == "1.7"
        title, language = str(file.docinfo["/Title"]), str(file.Root.Lang)
    assert sizes == [(s.width_pt, s.height_pt) for s in sheets]
    assert {tuple(sorted(size)) for size in sizes} == {(612.0, 792.0)}
    assert title == "Maple Hill: crew map" and language == "en"
    assert len(pdf) < 1_000_000


def test_two_files_are_the_same_and_leave_no_trace(plan: Plan, few: bytes) -> None:
    with mpl.rc_context({"font.size": 31, "axes.facecolor": "pink", "pdf.fonttype": 3}):
        before = dict(mpl.rcParams)
        assert crew.bound(spots(plan)) == few
        assert dict(mpl.rcParams) == before
    with pikepdf.open(BytesIO(few)) as file:
        assert str(file.docinfo["/CreationDate"]) == "D:20261126184052Z"


def test_names_can_be_searched_for(plan: Plan, pdf: bytes, tmp_path: Path) -> None:
    needs("pdftotext")
    path = tmp_path / "crew_map.pdf"
    path.write_bytes(pdf)
    ran = subprocess.run(
        ["pdftotext", "-f", "2", "-l", "2", path, "-"], capture_output=True, text=True, check=True
    )
    words = set(ran.stdout.split())
    assert {o.tree_id for o in plan.trees if o.status != "leave"} <= words
    assert {p.position_id for p in plan.positions} <= words
    assert {"S1", "S4", "wire-1:", "well-1"} <= words
    assert "Not walked and flagged = not ready." in ran.stdout


def viewports(pdf: bytes) -> list[list[Any]]:
    with pikepdf.open(BytesIO(pdf)) as file:
        return [[plain(view) for view in page.obj.get("/VP", [])] for page in file.pages]


def plain(thing: Any) -> Any:
    """Give dictionaries, lists and words of a PDF as Python's own."""
    if isinstance(thing, pikepdf.Dictionary):
        return {key: plain(value) for key, value in thing.items()}
    if isinstance(thing, pikepdf.Array):
        return [plain(value) for value in thing]
    return str(thing) if isinstance(thing, pikepdf.String | pikepdf.Name) else float(thing)


def test_only_map_sheets_have_a_place_on_earth(pdf: bytes) -> None:
    found = viewports(pdf)
    assert [len(views) for views in found] == [0, 1, 0, 0, 0, 0, 0, 0]
    measure = found[1][0]["/Measure"]
    assert measure["/GCS"]["/EPSG"] == 26918
    assert measure["/GCS"]["/WKT"].startswith('PROJCS["NAD_1983_UTM_Zone_18N"')
    assert measure["/LPTS"] == [0, 0, 0, 1, 1, 1, 1, 0]


def test_points_of_the_frame_come_back_to_the_centimetre(pdf: bytes, sheets: list[Sheet]) -> None:
    """From the dictionary's degrees alone, by PROJ, as a reader of the file would."""
    (view,) = viewports(pdf)[1]
    degrees = np.array(view["/Measure"]["/GPTS"], dtype=float).reshape(4, 2)
    x, y = pyproj.Proj(pyproj.CRS.from_epsg(26918))(degrees[:, 1], degrees[:, 0])
    ground = frame_of(sheets[1]).window
    assert x == pytest.approx([ground.west, ground.west, ground.east, ground.east], abs=0.001)
    assert y == pytest.approx([ground.south, ground.north, ground.north, ground.south], abs=0.001)
    left, bottom, right, top = (float(value) for value in view["/BBox"])
    assert (left, bottom, right, top) == pytest.approx(frame_of(sheets[1]).box_pt, abs=1e-3)


def spots(plan: Plan) -> Plan:
    """Give a plan whose map shows three lone winch positions."""
    places = [plan_fixture.at(90, 100), plan_fixture.at(340, 120), plan_fixture.at(200, 330)]
    positions = tuple(
        replace(plan.positions[0], position_id=f"W{n}", x=x, y=y)
        for n, (x, y) in enumerate(places, start=1)
    )
    area = replace(plan.area, hazards=(), water=(), keep_out=(), existing=())
    trees = tuple(replace(o, status="leave", role="leave") for o in plan.trees)
    bare = bare_of_work(replace(plan, area=area, trees=trees, findings=()))
    return replace(bare, positions=positions)


def bare_of_work(plan: Plan) -> Plan:
    return replace(plan, trails=(), steps=(), positions=(), pulls=(), turning_places=(),
                   bars=(), strips=(), stations={})  # fmt: skip


def test_three_marks_lie_where_gdal_reads_them(plan: Plan, few: bytes, tmp_path: Path) -> None:
    """Debian's GDAL places the page; the middles of the drawn marks are found in its picture."""
    needs("gdalinfo", "gdal_translate")
    there = spots(plan)
    path, picture = tmp_path / "crew_map.pdf", tmp_path / "map.tif"
    path.write_bytes(few)
    info = json.loads(
        subprocess.run(
            ["gdalinfo", "-json", f"PDF:2:{path}"], capture_output=True, text=True, check=True
        ).stdout
    )
    assert 'ID["EPSG",26918]' in info["coordinateSystem"]["wkt"]
    _, ground = map_frames.whole(there, coded=True)
    neat = np.array(re.findall(r"(\d{6}\.\d+) (\d{7}\.\d+)", info["metadata"][""]["NEATLINE"]))
    corners = {tuple(np.round(corner, 0)) for corner in neat.astype(float)}
    wanted = {(x, y) for x in (ground.west, ground.east) for y in (ground.south, ground.north)}
    for x, y in wanted:
        assert min(np.hypot(x - a, y - b) for a, b in corners) < 1.0
    subprocess.run(
        ["gdal_translate", "-q", "--config", "GDAL_PDF_DPI", "300", f"PDF:2:{path}", picture],
        check=True,
        capture_output=True,
    )
    with rasterio.open(picture) as file:
        bands, place = file.read(), file.transform
        assert file.crs.to_epsg() == 26918
    colour = np.array(palette.rgb(palette.POSITION))[:, None, None]
    marks, count = ndimage.label((np.abs(bands[:3].astype(int) - colour) < 12).all(axis=0))
    sizes = ndimage.sum_labels(np.ones_like(marks), marks, range(1, count + 1))
    middles = ndimage.center_of_mass(marks > 0, marks, np.argsort(-sizes) + 1)
    found = [place @ (col + 0.5, row + 0.5) for row, col in middles]
    for position in there.positions:  # the mark in the legend is one more
        off = min(np.hypot(x - position.x, y - position.y) for x, y in found)
        assert off < 0.25, (position.position_id, off)


def test_a_grid_without_a_number_is_told_in_words(plan: Plan) -> None:
    crs = pyproj.CRS.from_proj4(
        "+proj=tmerc +lat_0=42 +lon_0=-75.1 +x_0=500000 +y_0=4650000 +ellps=GRS80 +units=m"
    )
    window = Window(500_000, 4_700_000, 500_400, 4_700_300, 4, 3)
    frame = MapFrame("m", (10, 10, 298, 226), window)
    blank = BytesIO()
    with pikepdf.new() as file:
        file.add_blank_page(page_size=(400, 300))
        file.save(blank)
    (view,) = viewports(geo.placed([blank.getvalue()], [[frame]], crs))[0]
    assert "/EPSG" not in view["/Measure"]["/GCS"]
    assert "Transverse_Mercator" in view["/Measure"]["/GCS"]["/WKT"]
    nowhere = pyproj.CRS.from_epsg(2334)  # a grid that does not reach there
    assert viewports(geo.placed([blank.getvalue()], [[frame]], nowhere)) == [[]]


# hard cases


def test_a_plan_without_trails_or_reached_trees_still_has_its_sheets(plan: Plan) -> None:
    trees = tuple(
        o if o.status == "leave" else replace(o, status="no_trail", position_id="")
        for o in plan.trees
    )
    area = replace(plan.area, water=(), hazards=())
    bare = bare_of_work(replace(plan, trees=trees, area=area))
    with mpl.rc_context():
        made = drawn(bare)
    words = " ".join(said(sheet) for sheet in made)
    assert "Trail: none." in words and "No marked tree is reached." in words
    assert "leave it standing" in words


@pytest.mark.slow
def test_one_tree_none_marked_and_hard_names(plan: Plan) -> None:
    one = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    trees = tuple(
        o if i == one else replace(o, status="leave", position_id="", role="leave")
        for i, o in enumerate(plan.trees)
    )
    assert crew.bound(replace(plan, trees=trees)).startswith(b"%PDF")
    none = tuple(replace(o, status="leave", position_id="") for o in plan.trees)
    assert crew.bound(replace(plan, trees=none, pulls=(), positions=())).startswith(b"%PDF")
    name = "Lot $5 & $6 \\frac{1}{2} 山林 " + "long " * 40
    stops = tuple(Finding("x", "stop", f"Stop number {n}: " + "much " * 40) for n in range(60))
    hard = replace(plan_fixture.plan(name=name), findings=stops)
    ids = {t.trail_id: f"{t.trail_id} along the old stone wall" for t in hard.trails}
    hard = replace(
        hard,
        trails=tuple(
            replace(t, trail_id=ids[t.trail_id], joins_id=ids.get(t.joins_id, ""))
            for t in hard.trails
        ),
        positions=tuple(replace(p, trail_id=ids[p.trail_id]) for p in hard.positions),
        bars=tuple(replace(b, trail_id=ids[b.trail_id]) for b in hard.bars),
        steps=tuple(replace(s, trail_id=ids[s.trail_id]) for s in hard.steps),
        stations={ids[name]: table for name, table in hard.stations.items()},
        turning_places=(),
    )
    assert crew.bound(hard).startswith(b"%PDF")


@pytest.mark.slow
@pytest.mark.parametrize(("area", "paper"), [("sample_area", 612), ("tests/data/metric_area", 595)])
def test_whole_plans_make_a_set_to_carry(area: str, paper: int, tmp_path: Path) -> None:
    """Eight pages and some detail sheets with their lists; every number on a detail map."""
    needs("pdftotext")
    made = make_plan(read_area(Path(__file__).parents[1] / area))
    path = tmp_path / "crew_map.pdf"
    path.write_bytes(crew.bound(made))
    assert path.stat().st_size < 5_000_000
    with pikepdf.open(path) as file:
        sizes = [[float(v) for v in page.MediaBox][2:] for page in file.pages]
        maps_ = [number for number, page in enumerate(file.pages, start=1) if "/VP" in page.obj]
    assert {round(min(size)) for size in sizes} == {paper}
    details = len(maps_) - 1
    # names of 9 points and ruler scales take more detail sheets than names of 7 did
    before = maps_[1] - 1 if details else len(sizes)
    assert maps_[0] == 3 and before <= 8 and details <= 8
    assert all(number % 2 for number in maps_[1:])  # in front, its lists on the back
    ran = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True)
    pages = ran.stdout.split("\f")
    assert "Order of work" in pages[3] if details else "Flagging sheet" in pages[3]
    on_maps = {word for number in maps_ for word in pages[number - 1].split()}
    assert {o.tree_id for o in made.trees if o.status != "leave"} <= on_maps
    assert {trail.trail_id for trail in made.trails} <= on_maps
    spanish = on(made, "outputs", language="es")
    with mpl.rc_context(), speaking(tongue("es", made.area.settings.area.units)):
        mpl.rcdefaults()
        mpl.rcParams.update(book.LOOK)
        front = [lies for lies, _ in book.drawings(spanish)]
    assert (front.index(True, 3) if details else len(front)) <= 8  # longer words, no more pages


@pytest.mark.slow
def test_crowded_numbers_go_on_detail_sheets(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """Four hundred marked trees: each has its number on some detail sheet, none on the whole."""
    monkeypatch.setattr(maps, "FULL", 0.05)  # some of these sheets are fuller, some are not
    trees = tuple(
        o if o.status != "leave" or i % 5 == 0 else replace(o, status="no_trail")
        for i, o in enumerate(plan.trees)
    )
    crowded = replace(plan, trees=trees)
    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(book.LOOK)
        chosen = maps.chosen(crowded)
        whole, *details = chosen.pages
        assert 2 <= len(details) <= map_frames.MOST_TILES
        assert not whole.numbered and len(whole.tiles) == len(details)
        made = []
        for landscape, draw in chosen.drawings(crowded):
            sheet = Sheet("letter", landscape)
            draw(sheet)
            made.append({text.get_text() for text in texts(sheet)})
    marked = {o.tree_id for o in trees if o.status != "leave"}
    species = dict(zip(plan.area.trees.tree_id, plan.area.trees.species, strict=True))
    codes = species_codes(marked_species(crowded))
    lettered = {f"{name} {codes[species[name]]}" for name in marked}
    with_species = [sum(words.split(":")[0] in lettered for words in told) for told in made[1:]]
    full = [not page.coded for page in details]  # numbers alone where too many stand
    assert any(full) and not all(full)
    assert not any(n for n, bare in zip(with_species, full, strict=True) if bare)
    assert all(n for n, bare in zip(with_species, full, strict=True) if not bare)
    # after its number stand a tree's species and why it is not reached
    numbers = [{words.split(" ")[0].rstrip(":") for words in told} for told in made]
    assert marked <= set().union(*numbers[1:])
    assert not marked & numbers[0]
    assert {"sheet A", "sheet B"} <= made[0]
    assert any("detail sheets A" in words for words in made[0])


def test_dangers_near_the_work_are_on_the_map_and_far_ones_do_not_shrink_it(plan: Plan) -> None:
    def shown(x: float) -> Window:
        wire = replace(plan.area.hazards[0], geometry=Point(plan_fixture.at(x, 200)))
        return map_frames.whole(replace(plan, area=replace(plan.area, hazards=(wire,))))[1]

    near, far = shown(-10.0), shown(-200.0)
    assert near.west < plan_fixture.at(-10.0, 0)[0] and near.scale >= far.scale
    none = map_frames.whole(replace(plan, area=replace(plan.area, hazards=())))[1]
    assert far.scale == none.scale


def test_detail_sheets_cover_the_work_with_some_to_spare(plan: Plan) -> None:
    for scale in (1500, 900, 600):
        _, windows = map_frames.tiles(plan, scale)
        assert {round(w.scale) for w in windows} == {scale}
        shown = [box(w.west, w.south, w.east, w.north) for w in windows]
        trees = plan.area.trees
        for i, outcome in enumerate(plan.trees):
            if outcome.status != "leave":
                place = Point(float(trees.x[i]), float(trees.y[i])).buffer(3)
                assert any(ground.contains(place) for ground in shown)
        for trail in plan.trails:
            rest = trail.line
            for ground in shown:
                rest = rest.difference(ground)
            assert rest.is_empty
        if len(shown) > 1:
            assert all(any(a.overlaps(b) for b in shown if b is not a) for a in shown)


def test_contour_lines_are_no_finer_than_print(plan: Plan) -> None:
    frame, window = map_frames.whole(plan)
    lines, interval = map_sheet.contours(plan, window)
    assert interval == "10 ft"
    cut = map_sheet.shown_contours(lines, window)
    ground = box(window.west, window.south, window.east, window.north).buffer(0.01)
    assert all(ground.contains(line.line) for line in cut)
    points = [sum(len(c.line.coords) for c in some) for some in (lines, cut)]
    assert points[1] < 0.6 * points[0]
    far = max(c.line.hausdorff_distance(LineString(c.line.coords)) for c in cut)
    assert far < FEW_CM
    assert frame.landscape
