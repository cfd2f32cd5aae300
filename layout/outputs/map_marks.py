"""Which marks of a plan a map sheet shows, and in which order they cover each other."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout import benching
from layout.outputs.about import rule_names
from layout.outputs.map_looks import sample
from layout.outputs.map_pen import Pen
from layout.outputs.map_window import Window
from layout.outputs.shape_parts import as_lines
from layout.outputs.trailer_place import small_landing
from layout.outputs.words import say
from layout.records import REACHED

if TYPE_CHECKING:
    from layout.plan import Plan

Floats = NDArray[np.float64]

PT_AN_INCH = 72.0
APART_PT = 17.0  # nearer than this on paper, marks of full size run together
SMALLEST = 0.6
IDLE = frozenset({"served", "with_trail", "leave", "done"})  # nothing is missing there
BAR_PT = 11.0  # drawn length of a water bar across its trail


def crowding(plan: Plan, window: Window) -> float:
    """Tell how much smaller than usual marks must be, so that they stay apart.

    Parameters
    ----------
    plan : Plan
        The plan.
    window : Window
        What is shown.

    Returns
    -------
    float
        1 where winch positions lie well apart on paper, down to 0.6.
    """
    xy = np.array([(p.x, p.y) for p in plan.positions])
    if len(xy) < 2:
        return 1.0
    nearest_m = np.median(cKDTree(xy).query(xy, k=2)[0][:, 1])
    apart_pt = nearest_m / window.metres_per_inch * PT_AN_INCH
    return float(np.clip(apart_pt / APART_PT, SMALLEST, 1.0))


def draw(
    axes: Axes, plan: Plan, window: Window, size: float = 1.0, *, with_stems: bool = True
) -> None:
    """Draw a plan over its relief, in the order things must cover each other.

    Parameters
    ----------
    axes : Axes
        The map, limits set, grid metres.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    size : float
        From `crowding`: what the marks of the work are drawn smaller by.
    with_stems : bool
        Whether the stems that stay are shown, where they are not in the way.
    """
    pen = Pen(axes, size)
    land = Pen(axes)
    area = plan.area
    land.areas("may_use", [area.may_use], 1.0)
    # Strips of two waters that meet are one closed piece of ground: one hatch, one edge.
    land.areas("strip", [shapely.union_all([strip.shape for strip in plan.strips])], 3.0)
    land.areas("wet_hollow", [h.shape for h in plan.channels.hollows], 2.0)
    for channel in plan.channels.lines:
        land.line("channel", channel.line, 3.9)
    for feature in area.water:
        land.thing("water", "water_point", feature.geometry, 4.0, solid=True)
    land.areas("keep_out", area.keep_out, 5.0)
    for old in area.existing:
        land.line("existing", old.line, 6.0)
    for road in area.access_road:
        land.line("road", road, 6.2)
    if with_stems:
        stems = ~area.trees.marked
        pen.points("stem", np.column_stack([area.trees.x[stems], area.trees.y[stems]]), 7.0)
    for ring in shapely.get_parts(shapely.boundary(area.stand)):
        land.line("stand", ring, 8.0)
    for line in property_lines(plan):
        land.line("property", line, 8.2)
    land.areas("landing", [landing.shape for landing in plan.landings], 9.0)
    land.areas("small_landing", small_landings(plan), 9.5)
    land.areas("turning", [place.shape for place in plan.turning_places], 10.0)
    for pull in plan.pulls:
        pen.line("pull", pull.line, 12.0)
    for bench in bench_lines(plan):
        pen.line("bench", bench, 13.0)
    for kind, zorder in (("spur", 14.0), ("main", 15.0)):
        for trail in plan.trails:
            if trail.kind == kind:
                pen.line(kind, trail.line, zorder)
    pen.points("mouth", mouths(plan), 16.0)
    for bar in bar_lines(plan, window, size):
        pen.line("bar", bar, 17.0)
    pen.points("crossing", np.array([(c.x, c.y) for c in plan.crossings]), 17.2)
    pen.points("in_trail", stems_in_the_way(plan), 17.5)
    served, unserved = marked_places(plan)
    pen.points("served", served, 18.0)
    for name, places in rub_places(plan).items():  # over the dot of a marked one
        pen.points(name, places, 18.5)
    pen.points("unserved", unserved, 19.0)
    pen.points("position", np.array([(p.x, p.y) for p in plan.positions]), 20.0)
    for hazard in area.hazards:
        land.thing("hazard", "hazard_point", hazard.geometry, 21.0)
    pen.points("stop", stops(plan), 22.0)


def marked_places(plan: Plan) -> tuple[Floats, Floats]:
    """Give the marked trees that are reached and those that are not, shape (n, 2) each."""
    trees = plan.area.trees
    xy = np.column_stack([trees.x, trees.y])
    served = np.array([outcome.status in REACHED for outcome in plan.trees], dtype=bool)
    idle = np.array([outcome.status in IDLE for outcome in plan.trees], dtype=bool)
    return xy[served], xy[~idle]


def stems_in_the_way(plan: Plan) -> Floats:
    """Give the unmarked stems a trail or a rub tree takes, shape (n, 2)."""
    trees = plan.area.trees
    taken = np.array([o.role in ("in_trail", "rub") and o.status == "leave" for o in plan.trees])
    return np.asarray(np.column_stack([trees.x, trees.y])[taken.astype(bool)])


def rub_places(plan: Plan) -> dict[str, Floats]:
    """Give the places of rub trees by the name of their mark, shape (n, 2) each.

    Marked trees that are kept till last; trees proposed, that need the owner's mark; and
    corners where a log, a high stump or another stem is to be found.
    """
    kinds = {"rub_marked": ("marked",), "rub_proposed": ("proposed",),
             "rub_other": ("bumper", "look")}  # fmt: skip
    return {
        name: np.array([(rub.x, rub.y) for rub in plan.rub_trees if rub.kind in of]).reshape(-1, 2)
        for name, of in kinds.items()
    }


def property_lines(plan: Plan) -> list[LineString]:
    """Give the drawn property line; empty where the stand's edge counts as it."""
    return [] if plan.area.property_line is None else as_lines(plan.area.property_line)


def mouths(plan: Plan) -> Floats:
    """Give the places where spurs leave their parents, shape (n, 2)."""
    return np.array([trail.line.coords[0][:2] for trail in plan.trails if trail.joins_id])


def stops(plan: Plan) -> Floats:
    """Give the places of stop findings, shape (n, 2)."""
    return np.array([f.at for f in plan.findings if f.level == "stop" and f.at is not None])


def small_landings(plan: Plan) -> list[Polygon]:
    """Give the small landing a trailer takes wood on from, if there is one."""
    two = small_landing(plan)
    return [] if two is None or two.shape is None else [two.shape]


def bench_lines(plan: Plan) -> list[LineString]:
    """Give the stretches of trail where a new bench is dug; drawn as ticks to both sides."""
    lines = {trail.trail_id: trail.line for trail in plan.trails}
    return [
        stretch
        for trail_id, bench in sorted(plan.benches.items())
        for stretch in benching.stretches(lines[trail_id], bench)
    ]


def bar_lines(plan: Plan, window: Window, size: float = 1.0) -> list[LineString]:
    """Give water bars and dips as strokes across their trails, skewed toward the outlet.

    A bar is drawn longer than built, so that it shows. Low points that drain by
    themselves are not drawn: there is nothing to build.
    """
    half_m = 0.5 * size * BAR_PT / PT_AN_INCH * window.metres_per_inch
    lines = {trail.trail_id: trail.line for trail in plan.trails}
    made = []
    for bar in plan.bars:
        if bar.kind == "grade_break":
            continue
        line = lines[bar.trail_id]
        near = line.interpolate(max(bar.at_m - 1.0, 0.0))
        far = line.interpolate(min(bar.at_m + 1.0, line.length))
        along = math.atan2(far.y - near.y, far.x - near.x)
        # The outlet end is the lower one: toward the landing unless loads climb there.
        toward_landing = 1 if bar.grade_pct <= 0 else -1
        left = 1 if bar.outlet != "right" else -1
        across = along + math.radians(90.0 + toward_landing * left * bar.skew_deg)
        dx, dy = half_m * math.cos(across), half_m * math.sin(across)
        made.append(LineString([(bar.x - dx, bar.y - dy), (bar.x + dx, bar.y + dy)]))
    return made


def legend_entries(
    plan: Plan, window: Window, *, with_stems: bool = True
) -> tuple[list[Artist], list[str]]:
    """Give one sample and one text for each kind of thing this map shows.

    Parameters
    ----------
    plan : Plan
        The plan.
    window : Window
        What is shown: a wire beyond the map's edge is not in its legend.
    with_stems : bool
        Whether the stems that stay are shown.

    Returns
    -------
    tuple of list of Artist and list of str
        Both in the legend's order.
    """
    area = plan.area
    served, unserved = marked_places(plan)
    frame = box(window.west, window.south, window.east, window.north)

    def seen(shapes: Iterable[BaseGeometry]) -> bool:
        return any(shape.intersects(frame) for shape in shapes)

    shown = (
        ("main", any(trail.kind == "main" for trail in plan.trails)),
        ("spur", any(trail.kind == "spur" for trail in plan.trails)),
        ("mouth", len(mouths(plan)) > 0),
        ("bench", bool(plan.benches)),
        ("landing", True),
        ("small_landing", seen(small_landings(plan))),
        ("turning", bool(plan.turning_places)),
        ("position", bool(plan.positions)),
        ("pull", bool(plan.pulls)),
        ("served", len(served) > 0),
        ("unserved", len(unserved) > 0),
        ("in_trail", len(stems_in_the_way(plan)) > 0),
        *((n, seen(map(Point, xy.tolist()))) for n, xy in rub_places(plan).items()),
        ("stem", with_stems and not bool(area.trees.marked.all())),
        ("bar", any(bar.kind != "grade_break" for bar in plan.bars)),
        ("crossing", seen(Point(c.x, c.y) for c in plan.crossings)),
        ("stop", len(stops(plan)) > 0),
        ("water", seen(feature.geometry for feature in area.water)),
        ("strip", seen(strip.shape for strip in plan.strips)),
        ("channel", seen(channel.line for channel in plan.channels.lines)),
        ("wet_hollow", seen(hollow.shape for hollow in plan.channels.hollows)),
        ("keep_out", seen(area.keep_out)),
        ("hazard", seen(hazard.geometry for hazard in area.hazards)),
        ("stand", True),
        ("property", seen(property_lines(plan))),
        ("may_use", seen([area.may_use])),
        ("existing", seen(old.line for old in area.existing)),
        ("road", seen(area.access_road)),
    )
    names = [name for name, there in shown if there]
    texts = {name: say(f"mark_{name}") for name in names}
    if any(bar.kind == "dip" for bar in plan.bars):
        texts["bar"] = say("mark_bar_dip")
    if "strip" in texts and (rules := rule_names(plan)):
        texts["strip"] = say("mark_strip_rule", rules=rules.replace(" + ", " +\n"))
    return [sample(name) for name in names], list(texts.values())
