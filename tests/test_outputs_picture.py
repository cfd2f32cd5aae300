"""overview.png: the right size, never blank, and each thing of the plan in it."""

import itertools
import warnings
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import made_order
import matplotlib as mpl
import numpy as np
import plan_fixture
import pytest
from matplotlib import image
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from shapely.affinity import translate
from shapely.geometry import LineString, MultiPolygon, box

from layout.outputs import (
    map_labels,
    map_looks,
    map_marks,
    map_panel,
    map_window,
    overview,
    palette,
)
from layout.outputs.amounts import round_length
from layout.outputs.stop_limits import stop_limits
from layout.outputs.tree_orders import barred, without_idle
from layout.outputs.words import say
from layout.outputs.write import FILES
from layout.plan import Plan
from layout.site import Hazard


@pytest.fixture(scope="module")
def plan() -> Plan:
    return plan_fixture.plan()


@pytest.fixture(scope="module")
def page(plan: Plan) -> Iterator[Figure]:
    """Give the composed page, to look at its parts."""
    with mpl.rc_context():
        yield composed(plan)


def composed(plan: Plan) -> Figure:
    mpl.rcdefaults()
    mpl.rcParams.update(overview.LOOK)
    figure = Figure(figsize=overview.PAGE_IN, dpi=overview.DPI)
    canvas = FigureCanvasAgg(figure)
    overview._compose(figure, canvas, plan)
    canvas.draw()
    return figure


def texts(figure: Figure) -> list[Text]:
    return [t for t in figure.findobj(Text) if isinstance(t, Text) and t.get_text().strip()]


def drawn(plan: Plan, tmp_path: Path) -> np.ndarray:
    path = tmp_path / "overview.png"
    overview.write(plan, path)
    return np.asarray(image.imread(path))[:, :, :3]


def has_colour(pixels: np.ndarray, colour: str) -> bool:
    return bool((np.abs(pixels - np.array(to_rgb(colour))) < 0.012).all(axis=2).any())


def test_letter_landscape_at_200_dots_an_inch_with_every_mark_in_it(
    plan: Plan, tmp_path: Path
) -> None:
    pixels = drawn(plan, tmp_path)
    assert pixels.shape == (1700, 2200, 3)
    left, bottom, width, height = overview.MAP_IN
    map_px = pixels[
        1700 - round((bottom + height) * 200) + 5 : 1700 - round(bottom * 200) - 5,
        round(left * 200) + 5 : round((left + width) * 200) - 5,
    ]
    for name in (
        "INK", "WATER", "HAZARD", "POSITION", "SERVED", "UNSERVED", "LANDING", "TURNING", "BAR",
        "STOP", "STAND", "PROPERTY",
    ):  # fmt: skip
        assert has_colour(map_px, getattr(palette, name)), name
    grey = map_px.mean(axis=2)
    assert grey.std() > 0.1
    assert len(np.unique((grey * 255).astype(int))) > 100  # relief, not a flat ground


def test_two_drawings_are_the_same_and_leave_no_trace(plan: Plan, tmp_path: Path) -> None:
    with mpl.rc_context({"font.size": 31, "axes.facecolor": "pink", "lines.linewidth": 9}):
        before = dict(mpl.rcParams)
        odd = drawn(plan, tmp_path)
        assert dict(mpl.rcParams) == before
    np.testing.assert_array_equal(odd, drawn(plan, tmp_path))


def test_names_never_lie_on_each_other(page: Figure) -> None:
    names = [t for t in texts(page) if t.axes is page.axes[0] and t.get_text() != "!"]
    boxes = [t.get_window_extent() for t in names]
    assert len(boxes) > 30
    for i, a in enumerate(boxes):
        for j in range(i):
            b = boxes[j]
            # Slanted numbers have larger boxes than ink; none of ours may share their middles.
            wide = min(a.x1, b.x1) - max(a.x0, b.x0)
            high = min(a.y1, b.y1) - max(a.y0, b.y0)
            assert wide <= 1 or high <= 1, (names[i].get_text(), names[j].get_text())


def test_no_name_is_too_small_to_read_and_those_left_out_are_told(plan: Plan, page: Figure) -> None:
    # set twice as close a map has room for fewer names, not for smaller ones
    near = tuple(
        replace(p, position_id=f"{p.position_id}-{n}", x=p.x + 5.0 * n, y=p.y + 2.0 * n)
        for p in plan.positions
        for n in range(6)
    )
    crowded = replace(plan, positions=near, work=None)
    with mpl.rc_context():
        for made, shown in ((page, plan), (composed(crowded), crowded)):
            small = {t.get_text(): t.get_fontsize() for t in texts(made) if t.get_fontsize() < 7}
            assert set(small) <= {"!"}  # the sign in the mark of a stop, no name
            said = [text.get_text() for text in texts(made)]
            lost = len({p.position_id for p in shown.positions} - set(said))
            told = [words for words in said if "no room for" in words]
            assert [int(words.split()[0]) for words in told] == ([lost] if lost else [])
    assert lost > 5


def test_every_trail_the_landing_and_each_hazard_is_named(plan: Plan, page: Figure) -> None:
    said = {t.get_text() for t in texts(page)}
    assert {trail.trail_id for trail in plan.trails} <= said
    assert {"landing L1", "wire", "well"} <= said
    positions = {p.position_id for p in plan.positions}
    assert len(positions & said) >= 0.8 * len(positions)


def test_north_scale_heights_and_cautions_are_said(page: Figure) -> None:
    said = " | ".join(t.get_text() for t in texts(page))
    for words in (
        "Maple Hill: overview",
        "28 of 63 marked trees reached",
        "ground disturbed 2.4 % (limit 15 %)",
        "grid\nnorth",
        "contour lines every 10 ft",
        "NAD83 / UTM zone 18N",
        "Not walked and flagged = not ready.",
        "A plan, not permission: local law, your own eyes and licensed advice decide.",
        "2 STOP findings",
        "NO LOCAL RULE CHOSEN",
        "unverified – check local rule",  # noqa: RUF001
    ):
        assert words in said, words


def test_nothing_runs_off_the_page(page: Figure) -> None:
    width, height = (inch * overview.DPI for inch in overview.PAGE_IN)
    for text in texts(page):
        if text.axes is not page.axes[0]:  # on the map, what reaches its edge is cut there
            box_ = text.get_window_extent()
            assert box_.x0 >= 0 and box_.y0 >= 0, text
            assert box_.x1 <= width and box_.y1 <= height, text


def test_the_scale_bar_is_as_long_as_it_says(plan: Plan, page: Figure) -> None:
    window = map_window.around(plan, *overview.MAP_IN[2:])
    foot = page.axes[2]
    bar = [patch for patch in foot.patches if isinstance(patch, Rectangle)]
    assert len(bar) == map_panel.BAR_PARTS
    inches = sum(patch.get_width() for patch in bar)
    assert bar[-1].get_x() + bar[-1].get_width() < foot.get_xlim()[1] - 0.3
    said = next(t.get_text() for t in foot.texts if t.get_text().endswith(" ft"))
    assert inches * window.metres_per_inch == pytest.approx(int(said[:-3]) * 0.3048)
    # And an inch of that axes is an inch of paper, in both directions.
    box_ = foot.get_window_extent()
    assert box_.width / foot.get_xlim()[1] == pytest.approx(overview.DPI)
    assert box_.height / foot.get_ylim()[1] == pytest.approx(overview.DPI)


def test_the_map_has_one_scale_both_ways_and_holds_the_stand(plan: Plan, page: Figure) -> None:
    axes = page.axes[0]
    (x0, y0), (x1, y1) = axes.transData.transform([(500200, 4700200), (500300, 4700300)])
    assert x1 - x0 == pytest.approx(y1 - y0, rel=1e-6)
    window = map_window.around(plan, *overview.MAP_IN[2:])
    frame = box(window.west, window.south, window.east, window.north)
    assert frame.contains(plan.area.stand) and frame.contains(plan.landing.shape)


def with_gate(plan: Plan, at: tuple[float, float]) -> Plan:
    known = plan.area.settings
    access = known.access.model_copy(update={"gate": at})
    settings = known.model_copy(update={"access": access})
    return replace(plan, area=replace(plan.area, settings=settings))


def test_the_gate_and_dangers_near_the_way_in_are_on_the_map(plan: Plan) -> None:
    west, south, _, _ = plan.area.stand.bounds
    place = (west - 90.0, south + 20.0)
    wire = LineString([(place[0] - 20.0, south - 300.0), (place[0] - 20.0, south + 400.0)])
    area = replace(plan.area, hazards=(Hazard("wire-9", "wire", wire),))
    made = with_gate(replace(plan, area=area), place)
    window = map_window.around(made, *overview.MAP_IN[2:])
    assert window.shows(*place) and window.shows(wire.coords[0][0], place[1])
    assert not window.shows(place[0], south - 280.0)  # what is far off widens no map
    assert not map_window.around(plan, *overview.MAP_IN[2:]).shows(*place)
    with mpl.rc_context():
        said = [text.get_text() for text in texts(composed(made))]
    assert {"gate", "wire", "gate or road entrance"} <= set(said)
    assert not any("off this map" in text for text in said)


def test_a_hazard_tree_two_lengths_from_work_is_on_the_map(plan: Plan) -> None:
    listed, (_, south, east, _) = plan.area.trees, plan.area.stand.bounds
    bad = next(i for i, marked in enumerate(listed.marked) if not marked)
    x, y = listed.x.copy(), listed.y.copy()
    for off_m, there in ((45.0, True), (80.0, False)):
        x[bad], y[bad] = east + off_m, south + 100.0
        hazard = tuple("dead_top" if i == bad else "" for i in range(len(listed)))
        trees = replace(listed, x=x.copy(), y=y.copy(), hazard=hazard)
        made = replace(plan, area=replace(plan.area, trees=trees))
        window = map_window.around(made, *overview.MAP_IN[2:])
        assert (window.east > x[bad]) == there


def test_a_gate_far_off_is_told_and_makes_no_map_smaller(plan: Plan) -> None:
    west, south, _, _ = plan.area.stand.bounds
    made = with_gate(plan, (west - 2000.0, south))
    size = overview.MAP_IN[2:]
    assert map_window.around(made, *size) == map_window.around(plan, *size)
    far_ft = np.hypot(plan.landing.x - west + 2000.0, plan.landing.y - south) / 0.3048
    with mpl.rc_context():
        said = [text.get_text() for text in texts(composed(made))]
    assert f"gate: {far_ft:,.0f} ft from the landing, off this map" in said
    assert "gate or road entrance" not in said


def test_a_position_nothing_is_pulled_to_is_not_on_the_map(plan: Plan) -> None:
    made = made_order.ordered(plan)
    assert made.work is not None
    spot = next(p for p in made.positions if p.trail_id and len(p.tree_ids) == 1)
    opens = next(step for step in made.work.steps if step.kind == "open")
    steps = tuple(
        replace(step, tree_ids=(*step.tree_ids, *spot.tree_ids)) if step is opens else step
        for step in made.work.steps
    )
    turns = tuple(t for t in made.work.turns if spot.position_id not in t.position_ids)
    idle = replace(made, work=replace(made.work, steps=steps, turns=turns))
    for there, count in ((made, 0), (idle, 1)):
        left = without_idle(there)
        assert len(left.positions) == len(there.positions) - count
        assert len(left.pulls) == len(there.pulls) - count
        with mpl.rc_context():
            figure = composed(there)
        drawn_at = {
            (x, y)
            for line in figure.axes[0].lines
            if line.get_marker() == "s"
            for x, y in zip(line.get_xdata(), line.get_ydata(), strict=True)
        }
        assert ((spot.x, spot.y) in drawn_at) == (count == 0)
        said = " ".join(text.get_text() for text in texts(figure))
        assert ("1 of them not used" in said) == (count == 1)


def test_a_tree_to_hold_has_a_mark_of_its_own(plan: Plan, page: Figure) -> None:
    listed = plan.area.trees
    row = next(i for i, o in enumerate(plan.trees) if o.status == "served")
    bad = next(i for i, marked in enumerate(listed.marked) if not marked)
    x, y = listed.x.copy(), listed.y.copy()
    x[bad], y[bad] = x[row] + 6.0, y[row]
    hazard = tuple("split" if i == bad else "" for i in range(len(listed)))
    trees = replace(listed, x=x, y=y, hazard=hazard)
    made = replace(plan, area=replace(plan.area, trees=trees))
    held = barred(made)
    assert listed.tree_id[row] in held and not barred(plan)
    with mpl.rc_context():
        figure = composed(made)
    (marks,) = [line for line in figure.axes[0].lines if line.get_marker() is map_looks.NO_ENTRY]
    there = {one.tree_id for one in made.trees if one.status not in ("leave", "done")}
    want = [(px, py) for t, px, py in zip(trees.tree_id, x, y, strict=True)
            if t in held & there]  # fmt: skip
    assert list(zip(marks.get_xdata(), marks.get_ydata(), strict=True)) == want
    told = "marked, but HOLD: see tree list"
    assert told in {text.get_text() for text in texts(figure)}
    assert told not in {text.get_text() for text in texts(page)}


def test_a_box_says_when_work_stops_in_letters_to_be_read(plan: Plan) -> None:
    wordy = plan.area.settings.ground.model_copy(update={"condition": "frozen"})
    settings = plan.area.settings.model_copy(update={"ground": wordy})
    wet = replace(plan, area=replace(plan.area, settings=settings))
    for there in (plan, wet):
        with mpl.rc_context():
            figure = composed(there)
        boxed = [
            axes for axes in figure.axes
            if any("STOP WORK" in text.get_text() for text in axes.texts)
        ]  # fmt: skip
        (axes,) = boxed
        told = " ".join(text.get_text() for text in axes.texts)
        assert say("crew_between").join(stop_limits(there)) in told
        edge = axes.get_window_extent()
        for text in axes.texts:
            # as narrow as the report shows the picture: 44 rem of 16 px, 96 of them an inch
            assert text.get_fontsize() * 44 * 16 / 96 / overview.PAGE_IN[0] >= 7.0
            there_px = text.get_window_extent()
            assert edge.x0 <= there_px.x0 and there_px.x1 <= edge.x1
            assert edge.y0 <= there_px.y0 and there_px.y1 <= edge.y1
        rows = sorted({round(text.get_window_extent().y0) for text in axes.texts})
        assert len(rows) == 1 or min(b - a for a, b in itertools.pairwise(rows)) > 5
        others = [a.get_window_extent() for a in figure.axes if a is not axes]
        assert not any(edge.overlaps(other) for other in others)


def test_the_legend_shows_what_is_there_and_nothing_else(plan: Plan) -> None:
    window = map_window.around(plan, *overview.MAP_IN[2:])
    _, full = map_marks.legend_entries(plan, window)
    assert "water strip: no machine" in full and "marked tree, NOT reached" in full
    assert "unmarked stem in the way" in full  # one of the list is
    area = replace(plan.area, water=(), keep_out=(), hazards=(), existing=(), access_road=(),
                   may_use=MultiPolygon(), property_line=None)  # fmt: skip
    bare = replace(plan, area=area, strips=(), bars=(), turning_places=(), findings=())
    _, few = map_marks.legend_entries(bare, window)
    assert "property line" in full
    gone = {"water strip: no machine", "keep out", "hazard", "water bar", "property line"}
    assert not gone & set(few)
    far = tuple(replace(h, geometry=translate(h.geometry, 9000)) for h in plan.area.hazards)
    _, beyond = map_marks.legend_entries(
        replace(plan, area=replace(plan.area, hazards=far)), window
    )
    assert "hazard" in full and "hazard" not in beyond


def test_the_map_names_the_rule_of_the_strips(plan: Plan) -> None:
    window = map_window.around(plan, *overview.MAP_IN[2:])
    chosen = plan_fixture.plan(rules=("montana", "slope-50-2-over-10"), confirmed=True)
    _, said = map_marks.legend_entries(chosen, window)
    assert "water strip: no machine\n(rule montana +\nslope-50-2-over-10)" in said
    open_one = plan_fixture.plan(rules=("california",))
    assert "Water strip rule california unverified – check local rule" in (  # noqa: RUF001
        map_panel.open_questions(open_one)
    )


def test_marks_shrink_where_positions_crowd(plan: Plan) -> None:
    window = map_window.around(plan, *overview.MAP_IN[2:])
    assert map_marks.crowding(plan, window) == 1
    first = plan.positions[0]
    crowd = tuple(replace(first, x=first.x + 3 * k) for k in range(9))
    assert map_marks.crowding(replace(plan, positions=crowd), window) == map_marks.SMALLEST
    assert map_marks.crowding(replace(plan, positions=crowd[:1]), window) == 1


def test_form_tells_marks_apart_without_colour() -> None:
    forms = [(look["marker"], look["color"] == palette.PAPER) for look in map_looks.POINTS.values()]
    keys = [n for n in map_looks.POINTS if n not in ("water_point", "stem", "mouth")]
    assert len({map_looks.POINTS[n]["marker"] for n in keys}) == len(keys)
    assert len(forms) == len(map_looks.POINTS)
    lines = [
        (look["linewidth"], look.get("dashes"), look.get("core"))
        for look in map_looks.LINES.values()
    ]
    assert len(set(lines)) == len(lines)
    hatches = [look.get("hatch") for look in map_looks.AREAS.values() if look.get("hatch")]
    assert len(set(hatches)) == len(hatches)


def test_key_colours_also_differ_in_grey() -> None:
    def grey(colour: str) -> float:
        return float(np.dot(to_rgb(colour), (0.299, 0.587, 0.114)))

    assert abs(grey(palette.POSITION) - grey(palette.INK)) > 0.4
    assert abs(grey(palette.LANDING) - grey(palette.STAND)) > 0.4
    assert grey(palette.SERVED) < 0.4 and grey(palette.STOP) < 0.4


@pytest.mark.parametrize("units", ["us", "metric"])
def test_contours_are_round_in_the_users_units(plan: Plan, units: str) -> None:
    window = map_window.around(plan, *overview.MAP_IN[2:])
    dem = map_window.cropped(plan.terrain.dem, window)
    step_m, said = map_window.interval(dem, window, units)  # type: ignore[arg-type]
    number, unit = said.split()
    assert step_m == pytest.approx(float(number) * {"ft": 0.3048, "m": 1.0}[unit])
    lines = map_window.contours(dem, step_m, units)  # type: ignore[arg-type]
    levels = {int(line.said) for line in lines}
    assert 5 <= len(levels) <= map_window.MOST_CONTOURS + 4
    assert all(level % float(number) == 0 for level in levels)
    heavy = {int(line.said) for line in lines if line.heavy}
    assert heavy == {level for level in levels if level % (5 * float(number)) == 0}


def test_a_water_bar_drains_to_its_outlet(plan: Plan) -> None:
    # On a trail climbing north, an outlet on the left (west) lies lower, that is south.
    window = map_window.around(plan, *overview.MAP_IN[2:])
    for bar, line in zip(plan.bars, map_marks.bar_lines(plan, window), strict=True):
        (x0, y0), (x1, y1) = line.coords
        west_is_lower = (y0 < y1) == (x0 < x1)
        assert west_is_lower == (bar.outlet == "left"), bar.bar_id


def test_hard_names_and_bare_plans_still_draw(plan: Plan, tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        name = "Lot $5 & $6 \\frac{1}{2} 山林 " + "long " * 40
        drawn(plan_fixture.plan(name=name), tmp_path)
    bare = replace(plan, trails=(), steps=(), positions=(), pulls=(), turning_places=(),
                   strips=(), bars=(), findings=(), stations={})  # fmt: skip
    assert drawn(bare, tmp_path).std() > 0.1


def test_unknown_ground_stays_white(plan: Plan, tmp_path: Path) -> None:
    z = plan.area.dem.z.copy()
    z[:, :] = np.nan
    terrain = replace(plan.terrain, dem=plan.area.dem.with_z(z))
    pixels = drawn(replace(plan, terrain=terrain), tmp_path)
    assert not has_colour(pixels, palette.CONTOUR)


def test_crowded_names_give_way() -> None:
    figure = Figure(figsize=(4, 4), dpi=100)
    canvas = FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
    labels = map_labels.Labels(axes, canvas)
    place = (0.5, 0.5)
    written = [labels.beside(f"name {i}", [place], map_labels.Look(9)) for i in range(60)]
    assert written[0] and not all(written)
    assert labels.beside("must be read", [place], map_labels.Look(9), must=True)
    boxes = [t.get_window_extent() for t in axes.texts]
    for i, a in enumerate(boxes):
        assert not any(a.overlaps(b) for b in boxes[:i])
    assert not labels.beside("off the map", [(5.0, 5.0)], map_labels.Look(9))


def test_round_lengths_never_pass_the_bound() -> None:
    for units, unit_m in (("us", 0.3048), ("metric", 1.0)):
        for most in (3.0, 10.0, 47.0, 100.0, 333.0, 5000.0):
            length, said = round_length(most, units)  # type: ignore[arg-type]
            assert most / 2.6 < length <= most
            assert length == pytest.approx(float(said.split()[0].replace(",", "")) * unit_m)


def test_names_of_our_files_are_plain() -> None:
    for name in FILES:
        stem, _, ending = name.partition(".")
        assert stem.isascii() and stem.replace("_", "").isalnum() and ending.isalnum()


def test_open_questions_are_none_when_all_is_answered(plan: Plan) -> None:
    closed = plan_fixture.plan(rules=("a-rule",), confirmed=True)
    assert list(map_panel.open_questions(replace(closed, findings=()))) == []
