"""Names on the crew's maps are read for their own mark: nearest to it, or led to it by a line."""

from dataclasses import replace

import made_order
import numpy as np
import plan_fixture
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from names_at_marks import drawn, faults
from shapely.geometry import LineString, Point, box

from layout.outputs.crew.map_trails import Stretch, steepest, stretches
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.map_labels import CLEAN, Look
from layout.outputs.name_marks import crosses
from layout.outputs.steepness import of
from layout.plan import Plan

FEW_BEHIND = 0.02  # of all names: in the densest places a line has no other way


pytestmark = pytest.mark.usefixtures("book_looks")


@pytest.fixture(scope="module", params=["us", "metric"])
def plan(request: pytest.FixtureRequest) -> Plan:
    return made_order.ordered(plan_fixture.plan(request.param))


def test_every_name_is_read_for_its_own_mark(plan: Plan) -> None:
    pages = drawn(plan)
    found = [faults(plan, page) for page in pages]
    assert sum(len(page.names) for page in pages) > 60
    assert [one["covers"] for one in found if one["covers"]] == []
    assert [one["misread"] for one in found if one["misread"]] == []
    behind = sum(len(one["behind"]) for one in found)
    assert behind <= FEW_BEHIND * sum(len(page.names) for page in pages)


places = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=2, max_size=25, unique=True
)


@settings(deadline=None, max_examples=60)
@given(places)
def test_numbers_of_trees_that_stand_close_are_never_mistaken(grid: list[tuple[int, int]]) -> None:
    figure = Figure(figsize=(6, 6), dpi=150)
    axes = figure.add_axes((0, 0, 1, 1), xlim=(0, 432), ylim=(0, 432))
    labels = PlainLabels(axes, FigureCanvasAgg(figure))
    dots = [(100.0 + 4.0 * x, 100.0 + 4.0 * y) for x, y in grid]
    labels.avoid_points(dots, 7.0, 4.0, kinds=("tree",), bare_pt=3.0)
    for number, dot in enumerate(dots):
        lines, texts = len(axes.lines), len(axes.texts)
        done = labels.beside(f"{1000 + number} RM", [dot], Look(9.0), clear_pt=4.4, must=True,
                             hide_most=CLEAN, kind="tree")  # fmt: skip
        if not done:
            continue
        made, px = axes.texts[texts], 150 / 72
        own, *others = (Point(np.array(at) * px) for at in (dot, *(o for o in dots if o != dot)))
        name = box(*made.get_window_extent().extents)
        assert all(name.distance(other) > 2.0 * px for other in others)
        led = len(axes.lines) > lines
        assert led or all(name.distance(own) < name.distance(other) for other in others)


def test_a_map_says_of_a_trail_what_lists_and_findings_say(plan: Plan) -> None:
    steeper = 0
    for trail in plan.trails:
        parts = stretches(plan, trail.trail_id)
        worst = [one.grade_pct for one in steepest(plan, trail, parts) if one]
        assert len(worst) == len(parts)
        listed = of(plan, trail)
        most = max(listed.downhill_pct, listed.uphill_pct)
        assert max(map(abs, worst)) == pytest.approx(most, abs=1e-9)
        assert most == pytest.approx(np.abs(plan.stations[trail.trail_id].grade_pct).max())
        steeper += most > max(abs(part.grade_pct) for part in parts) + 0.5
    assert steeper > 0  # a mean would have said less


def test_a_stretch_on_unknown_ground_has_no_grade(plan: Plan) -> None:
    trail = plan.trails[0]
    unknown = Stretch(0.0, 20.0, float("nan"))
    assert steepest(replace(plan, stations={}), trail, [unknown]) == [None]
    assert steepest(plan, trail, [unknown]) == [None]


@given(*[st.tuples(st.integers(0, 9), st.integers(0, 9))] * 2)
def test_a_line_behind_a_name_is_seen(a: tuple[int, int], b: tuple[int, int]) -> None:
    name = (2.531, 3.472, 6.513, 5.524)  # no corner on a line between whole numbers
    line = LineString([a, b]) if a != b else Point(a)
    wanted = bool(line.intersects(box(*name)))
    assert crosses(np.array(a, dtype=float), np.array(b, dtype=float), np.array([name])) is wanted


def test_a_line_to_a_station_crosses_no_other_trail(plan: Plan) -> None:
    led = 0
    for page in drawn(plan):
        assert page.axes is not None
        to_ground = page.axes.transData.inverted().transform
        for number, line in page.lines.items():
            if not page.names[number][0].endswith((" ft", " m")):
                continue
            led += 1
            mark, end = to_ground(np.array(line.coords))
            away = {t.trail_id: t.line.distance(Point(mark)) for t in plan.trails}
            own = min(away, key=lambda name: away[name])
            assert not [
                trail.trail_id
                for trail in plan.trails
                if trail.trail_id != own and trail.line.crosses(LineString([mark, end]))
            ]
    assert led > 1


def test_the_steepest_of_a_trail_does_not_depend_on_the_units(plan: Plan) -> None:
    table = plan.area.settings.area
    for trail in plan.trails:
        said = set()
        for units in ("us", "metric"):
            settings = plan.area.settings.model_copy(
                update={"area": table.model_copy(update={"units": units})}
            )
            there = replace(plan, area=replace(plan.area, settings=settings))
            said.add(of(there, trail))
        assert len(said) == 1
