"""Grades on the crew's maps: of each trail its steepest stretch first, read for its own stretch."""

import re
from dataclasses import replace
from unittest.mock import patch

import made_plan
import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.text import Text
from shapely.geometry import LineString, Point, box
from shapely.ops import substring

from layout.outputs.amounts import grade
from layout.outputs.crew import map_grades, maps
from layout.outputs.crew.map_trails import steepest, stretches
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.crew.sheet import Line, Sheet
from layout.outputs.map_window import Window
from layout.outputs.words import say
from layout.plan import Plan

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
