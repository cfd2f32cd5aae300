"""Grades on the crew's maps: of each trail its steepest stretch first, read for its own stretch."""

import re
from dataclasses import replace
from unittest.mock import patch

import made_plan
import names_at_marks
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Text
from shapely.geometry import LineString, Point, box
from shapely.ops import substring

from layout.grid import Dem
from layout.outputs.amounts import grade
from layout.outputs.crew import map_grades, maps
from layout.outputs.crew.map_trails import Stretch, steepest, stretches
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.crew.sheet import Line, Sheet
from layout.outputs.map_window import Window
from layout.outputs.words import say
from layout.plan import Plan
from layout.settings.limits import Limits, limits_in_force
from layout.terrain import build, station_table

SAID = re.compile(r"(?:[A-Z]+\d* )?(\d+ %) (down|up)")


pytestmark = pytest.mark.usefixtures("book_looks")


@pytest.fixture(scope="module")
def plan() -> Plan:
    return made_plan.metric_plan()


def only_map(plan: Plan) -> tuple[Sheet, Axes]:
    """Draw the one map of a set of one."""
    ((landscape, draw),) = maps.chosen(plan).drawings(plan)
    sheet = Sheet(plan.area.settings.outputs.paper, landscape)
    draw(sheet)
    sheet.figure.canvas.draw()
    (axes,) = [a for a in sheet.figure.axes if any(t.get_text() == "M" for t in a.texts)]
    return sheet, axes


def told(value_pct: float) -> tuple[str, str]:
    return grade(value_pct), "down" if value_pct < 0 else "up"


def graded(plan: Plan) -> dict[str, list[tuple[LineString | Point, float]]]:
    """Give the stretches of each trail and their steepest grades, the steepest first."""
    made = {}
    for trail in plan.trails:
        parts = stretches(plan, trail.trail_id)
        worst = [one.grade_pct for one in steepest(plan, trail, parts) if one]
        lines = [substring(trail.line, part.from_m, part.to_m) for part in parts]
        pairs = zip(lines, worst, strict=True)
        made[trail.trail_id] = sorted(pairs, key=lambda one: -abs(one[1]))
    return made


def whose(plan: Plan, axes: Axes, label: Text) -> tuple[str, int]:
    """Tell whose grade a label is read for: its trail, and of how many steeper stretches.

    A line leads there, or it is the nearest.
    """
    end = np.array(label.get_position())
    lines = [np.asarray(line.get_xydata(), dtype=float) for line in axes.lines]
    ends = [xy for xy in lines if len(xy) == 2]
    led = [xy[0] for xy in ends if np.allclose(xy[1], end, rtol=0.0, atol=1e-3)]
    rooms = axes.transData.inverted().transform(label.get_window_extent().get_points())
    at = Point(led[0]) if led else box(*rooms.ravel())
    near = [
        (line.distance(at), name, rank)
        for name, parts in graded(plan).items()
        for rank, (line, _) in enumerate(parts)
    ]
    _, name, rank = min(near)
    return name, rank


def test_a_trails_steepest_stretch_has_its_grade_before_gentler_ones(plan: Plan) -> None:
    _, axes = only_map(plan)
    there: dict[str, set[int]] = {}
    for label in axes.texts:
        if found := SAID.match(label.get_text()):
            name, rank = whose(plan, axes, label)
            assert told(graded(plan)[name][rank][1]) == found.groups()  # read for its own stretch
            there.setdefault(name, set()).add(rank)
    assert sum(len(ranks) for ranks in there.values()) > 8
    assert all(0 in ranks for ranks in there.values())
    steep = {name for name, parts in graded(plan).items() if abs(parts[0][1]) >= 10.0}
    many = {name for name, parts in graded(plan).items() if len(parts) > 1}
    assert steep & many
    assert there.keys() >= steep | many


def test_a_set_of_one_map_says_that_grades_are_left_out_where_some_are(plan: Plan) -> None:
    alone = replace(plan, trails=tuple(t for t in plan.trails if t.kind == "main"))
    steps = {step.trail_id: step for step in plan.steps}
    alone = replace(
        alone, steps=(replace(steps["M"], from_m=0.0, to_m=alone.trails[0].line.length),)
    )
    for shown, wanted in ((plan, True), (alone, False)):
        sheet, axes = only_map(shown)
        parts = sum(len(found) for found in graded(shown).values())
        written = sum(bool(SAID.match(text.get_text())) for text in axes.texts)
        assert (written < parts) is wanted
        words = " ".join(t.get_text() for t in sheet.figure.findobj(Line) if isinstance(t, Line))
        assert (say("crew_map_ungraded") in words) is wanted


@pytest.mark.parametrize("room", [True, False])
def test_where_the_steepest_has_no_room_no_gentler_one_is_written(plan: Plan, room: bool) -> None:
    trails = [t for t in plan.trails if len(graded(plan)[t.trail_id]) > 1]
    steepest = {
        f"{name} {trail.line.project(Point(parts[0][0].coords[0])):.1f}"
        for trail in trails
        for name, parts in [(trail.trail_id, graded(plan)[trail.trail_id])]
    }
    tried: list[str] = []

    def beside(self: PlainLabels, words: str, *_: object, owner: str, **__: object) -> bool:
        tried.append(owner)
        return room or owner not in steepest

    figure = Sheet(plan.area.settings.outputs.paper)
    labels = PlainLabels(figure.axes(40, 40, 360, 360), figure.canvas)
    bounds = LineString([p for t in trails for p in t.line.coords]).buffer(9).bounds
    with patch.object(PlainLabels, "beside", beside):
        done, left = map_grades.write(
            labels, replace(plan, trails=tuple(trails)), Window(*bounds, 5, 5), numbered=True
        )
    everything = sum(len(graded(plan)[t.trail_id]) for t in trails)
    assert len(steepest) == len(trails) > 2
    assert (done, left) == ((everything, 0) if room else (0, everything))
    assert set(tried[: len(trails)]) <= steepest
    assert set(tried) <= steepest or room


def on_ramps(plan: Plan, *ramps: tuple[float, float]) -> Plan:
    """Give the plan with one trail, due north over ramps that begin at a place, each a rise in %.

    The trail starts at (30, 50) and is 100 m long; before the first ramp the ground is level.
    """
    at = 400 - np.arange(400) - 0.5 - 50
    z = sum(np.clip(at - from_m, 0, None) * rise / 100 for from_m, rise in ramps)
    ground = build(Dem(np.repeat(z[:, None], 60, axis=1).astype(np.float32), 0.0, 400.0, 1.0))
    trail = replace(plan.trails[0], line=LineString([(30, 50), (30, 150)]))
    stations = {trail.trail_id: station_table(ground, trail.line, 3.0)}
    return replace(plan, trails=(trail,), stations=stations)


def test_a_gentle_stretch_does_not_borrow_the_grade_of_its_neighbour(plan: Plan) -> None:
    there = on_ramps(plan, (0, 2), (40, 12), (60, -12))  # 14 % from 40 to 60 m
    parts = [Stretch(0, 40, -2.0), Stretch(40, 60, -14.0), Stretch(60, 100, -2.0)]
    (trail,) = there.trails
    first, pitch, last = steepest(there, trail, parts)
    assert first and pitch and last
    assert [one.grade_pct for one in (first, pitch, last)] == pytest.approx([-2, -14, -2], abs=0.5)
    assert pitch.at_m[0] == pytest.approx(50, abs=5.0)
    assert all(40 <= at <= 60 for at in pitch.at_m)
    assert all(at <= 40 for at in first.at_m)
    assert all(at >= 60 for at in last.at_m)


def test_a_pitch_where_two_stretches_meet_is_in_one_of_them(plan: Plan) -> None:
    there = on_ramps(plan, (0, 2), (45, 16), (55, -15))
    parts = [Stretch(0, 50, -2.0), Stretch(50, 100, -3.0)]
    (trail,) = there.trails
    found = [one.grade_pct for one in steepest(there, trail, parts) if one]
    assert min(found) == pytest.approx(-18, abs=1.0)  # a little smoothed
    assert min(found) == there.stations[trail.trail_id].grade_pct.min()


def test_a_grade_is_of_what_the_sheet_shows_and_stands_where_it_occurs(plan: Plan) -> None:
    there = on_ramps(plan, (0, 5), (70, 3))
    (trail,) = there.trails
    parts = [Stretch(0, 100, -6.0)]
    for south, north, wanted in ((40, 200, -8), (40, 105, -5)):
        window = Window(0, south, 60, north, 6, 6)
        (one,) = steepest(there, trail, parts, window)
        assert one
        assert one.grade_pct == pytest.approx(wanted, abs=0.3)
        assert all((at >= 70) is (wanted == -8) for at in one.at_m)
        assert window.shows(30, 50 + one.at_m[0])
    assert steepest(there, trail, parts, Window(0, 300, 60, 360, 6, 6)) == [None]


def test_where_a_trail_ends_in_a_pitch_its_grade_stands_on_it(plan: Plan) -> None:
    there = on_ramps(plan, (0, 2), (88, 16))
    (trail,) = there.trails
    (one,) = steepest(there, trail, [Stretch(0, 100, -4.0)])
    assert one
    assert one.grade_pct == pytest.approx(-18, abs=0.3)
    assert one.at_m[0] == pytest.approx(95, abs=0.5)  # the middle of the last 10 m, not the end
    assert all(at > 89 for at in one.at_m)


def asked_on_the_whole(
    plan: Plan, limits: Limits, without: str | None = None
) -> list[tuple[str, float, bool]]:
    """Give what a map of the whole is asked to bear: trail, grade and whether it must."""
    tried: list[tuple[str, float, bool]] = []

    def beside(
        self: PlainLabels, words: str, *_: object, trail: str, must: bool, **__: object
    ) -> bool:
        found = SAID.search(words)
        assert words.startswith(f"{trail} ")  # near each other there: all are named
        size = float(found[1].split()[0]) * (-1 if found[2] == "down" else 1) if found else 0.0
        if (trail, size, must) not in tried:
            tried.append((trail, size, must))
        return must if trail != without else False

    figure = Sheet(plan.area.settings.outputs.paper)
    labels = PlainLabels(figure.axes(40, 40, 360, 360), figure.canvas)
    bounds = LineString([p for t in plan.trails for p in t.line.coords]).buffer(9).bounds
    with (
        patch.object(PlainLabels, "beside", beside),
        patch.object(map_grades, "limits_in_force", lambda _: limits),
    ):
        map_grades.write(labels, plan, Window(*bounds, 5, 5), numbered=False)
    return tried


def test_on_the_whole_map_what_is_past_its_limit_comes_first_and_must_be_there(plan: Plan) -> None:
    limits = replace(limits_in_force(plan.area.settings), favourable_pct=14.0, adverse_pct=12.0)
    tried = asked_on_the_whole(plan, limits)
    past = [(name, size) for name, size, must in tried if must and name != "M"]
    assert [name for name, _ in past] == ["S8", "S7", "S4"]  # 14.6 % up; 14.3 and 14.2 % down
    order = [name for name, _, _ in tried]
    assert max(order.index(name) for name, _ in past) < order.index("M")
    length = {trail.trail_id: trail.line.length for trail in plan.trails}
    assert length["S7"] < map_grades.SHORT_STRETCH_M  # short, but past its limit
    rest = [name for name, _, must in tried if not must and name not in {"M", *dict(past)}]
    assert rest == ["S2", "S9"]  # the longer spurs, steepest first
    assert all(length[name] >= map_grades.SHORT_STRETCH_M for name in rest)


def test_on_the_whole_map_no_gentler_spur_hides_that_one_past_its_limit_is_missing(
    plan: Plan,
) -> None:
    limits = replace(limits_in_force(plan.area.settings), favourable_pct=14.0, adverse_pct=12.0)
    for without, others in ((None, {"S2", "S9"}), ("S8", set())):
        tried = asked_on_the_whole(plan, limits, without)
        assert {name for name, _, _ in tried} == {"M", "S4", "S7", "S8"} | others


def test_on_the_whole_map_nothing_is_called_level(plan: Plan) -> None:
    flat = {
        name: replace(known, grade_pct=np.full(len(known), 0.2))
        for name, known in plan.stations.items()
        if name != "M"
    }
    level = replace(plan, stations={**plan.stations, **flat})
    tried = asked_on_the_whole(level, limits_in_force(plan.area.settings))
    assert {name for name, _, _ in tried} == {"M"}


def test_every_grade_a_line_leads_to_bears_its_trails_name(plan: Plan) -> None:
    pages = names_at_marks.drawn(plan)
    led = [
        (page, page.names[number][0], line) for page in pages for number, line in page.lines.items()
    ]
    grades = [(page, said, line) for page, said, line in led if "%" in said]
    assert len(grades) > 3
    for page, said, line in grades:
        assert page.axes is not None
        name = said.split()[0]
        own = next(trail.line for trail in plan.trails if trail.trail_id == name)
        start = page.axes.transData.inverted().transform(line.coords[0])
        assert own.distance(Point(start)) < 0.01
