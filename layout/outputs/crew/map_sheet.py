"""One map sheet: ground, work, names, and beside it legend, scale and when to stop."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.colors import to_rgba
from matplotlib.markers import MarkerStyle
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.transforms import Affine2D
from shapely.geometry import Point, box

from layout.outputs import danger_marks, hold_marks, map_marks, map_names, map_window
from layout.outputs.crew import map_lettering, map_side
from layout.outputs.crew.directions import direction_at
from layout.outputs.crew.flagging import LEVEL_PCT
from layout.outputs.crew.map_frames import TITLE_PT
from layout.outputs.crew.map_lettering import Lettered
from layout.outputs.crew.map_looks import (
    ARROW,
    BETWEEN,
    DOWNHILL,
    GRID,
    HELP_PLACE,
    STATION,
    TILE_EDGE,
)
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.map_trails import (
    between,
    grade_in_full,
    landing_end,
    stretches,
    ticks,
)
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.crew.sheet import LEAST_PT, MARGIN_PT, MapFrame, Sheet, shortened, width_of
from layout.outputs.help_places import help_places
from layout.outputs.map_window import Contour, Window
from layout.outputs.tree_orders import barred, standing_hazards, without_idle

if TYPE_CHECKING:
    from layout.plan import Plan

TITLE_SIZE_PT = 13.0
NOTE_SIZES_PT = (9.0, 8.0, 7.2)  # of the note over a map: the largest that has room
MOST_STEMS = 1500  # more dots than this only hide the rest
GRID_STEPS_M = (20, 50, 100, 200, 500, 1000, 2000)
GRID_APART_IN = 1.2
GRID_NUMBER_PT = 44.0  # room a grid number needs along the edge
HAZARD_MARK_PT = 6.0  # from the middle of a hazard tree's mark to its farthest corner
FINEST_MM = 0.2  # of a contour line on paper


def contours(plan: Plan, window: Window) -> tuple[list[Contour], str]:
    """Give the contour lines of the map of the whole, and their interval as said."""
    units = plan.area.settings.area.units
    dem = map_window.cropped(plan.terrain.dem, window)
    interval_m, said = map_window.interval(dem, window, units)
    return map_window.contours(dem, interval_m, units), said


def shown_contours(lines: list[Contour], window: Window) -> list[Contour]:
    """Cut contour lines to a map, no finer than print can show."""
    ground = box(window.west, window.south, window.east, window.north)
    finest_m = FINEST_MM / 1000 * window.scale
    made = []
    for contour in lines:
        cut = contour.line.simplify(finest_m).intersection(ground)
        made += [
            Contour(contour.said, contour.heavy, part)
            for part in shapely.get_parts(cut)
            if part.geom_type == "LineString" and part.length > 0
        ]
    return made


def trial(plan: Plan, page: MapPage) -> Lettered:
    """Find out whether a map's names would find room, without drawing it."""
    sheet = Sheet(plan.area.settings.outputs.paper, page.frame.landscape)
    axes = sheet.axes(*page.frame.map_pt)
    _limits(axes, page.window)
    size = map_marks.crowding(plan, page.window)
    labels = PlainLabels(axes, sheet.canvas, dry=True)
    shown = within(plan, page.window)
    map_lettering.enter(labels, shown, page, size)
    return map_lettering.dearest(labels, shown, page, size, held=barred(plan))


def within(plan: Plan, window: Window) -> Plan:
    """Give the part of a plan's work that a map shows; the ground and the trees stay whole.

    A winch position without work is on no map.
    """
    ground = box(window.west, window.south, window.east, window.north)
    trails = tuple(trail for trail in plan.trails if trail.line.intersects(ground))
    shown, plan = {trail.trail_id for trail in trails}, without_idle(plan)
    return replace(
        plan,
        trails=trails,
        steps=tuple(step for step in plan.steps if step.trail_id in shown),
        positions=tuple(p for p in plan.positions if ground.contains(Point(p.x, p.y))),
        pulls=tuple(pull for pull in plan.pulls if pull.line.intersects(ground)),
        turning_places=tuple(p for p in plan.turning_places if p.shape.intersects(ground)),
        bars=tuple(bar for bar in plan.bars if bar.trail_id in shown),
        benches={name: bench for name, bench in plan.benches.items() if name in shown},
    )


def draw(sheet: Sheet, plan: Plan, page: MapPage, lines: list[Contour], interval: str) -> None:
    """Draw a map sheet.

    Parameters
    ----------
    sheet : Sheet
        An empty sheet, lying as the page's frame says.
    plan : Plan
        The plan.
    page : MapPage
        What to show.
    lines : list of Contour
        Contour lines of the map of the whole.
    interval : str
        How far apart they are.
    """
    window = page.window
    title = shortened(page.title, sheet.inner_pt, TITLE_SIZE_PT, bold=True)
    base = MARGIN_PT + TITLE_PT - 9
    sheet.text(MARGIN_PT, base, title, TITLE_SIZE_PT, fontweight="bold")
    if note := page.note or map_side.beyond(plan, window):
        room = sheet.inner_pt - width_of(title, TITLE_SIZE_PT, bold=True) - 20
        fits = (pt for pt in NOTE_SIZES_PT if width_of(note, pt) <= room)
        size_pt = next(fits, NOTE_SIZES_PT[-1])
        note = shortened(note, room, size_pt)
        sheet.text(sheet.width_pt - MARGIN_PT, base, note, size_pt, ha="right")
    axes = sheet.axes(*page.frame.map_pt)
    _limits(axes, window)
    shown = shown_contours(lines, window)
    stems = _with_stems(plan, window)
    size = map_marks.crowding(plan, window)
    whole, plan = plan, within(plan, window)
    map_window.draw_relief(axes, map_window.cropped(plan.terrain.dem, window))
    map_window.draw_contours(axes, shown)
    map_marks.draw(axes, plan, window, size, with_stems=stems)
    hold_marks.draw(axes, whole, size)
    _hatch_apart(axes)
    _stations(axes, plan, window, all_of_them=page.numbered)
    _downhill(axes, plan)
    danger_marks.draw(axes, plan, window, ring_first=page.numbered)
    for place in help_places(plan):
        look = HELP_PLACE[place.kind]
        axes.plot([place.x], [place.y], linestyle="none", zorder=21.2, **look)
    for tile in page.tiles:
        axes.add_patch(
            Rectangle(
                (tile.west, tile.south),
                tile.east - tile.west,
                tile.north - tile.south,
                facecolor="none",
                zorder=23,
                **TILE_EDGE,
            )
        )
    dangers = [(t.x, t.y) for t in standing_hazards(plan) if window.shows(t.x, t.y)]
    step_m = _grid(sheet, axes, page, dangers)
    _limits(axes, window)
    names = PlainLabels(axes, sheet.canvas)
    lettered = map_lettering.write(names, plan, page, shown, size, held=barred(whole))
    map_names.keep_outs(names, whole, window)
    map_side.draw(sheet, whole, page, lettered, interval, step_m, with_stems=stems)
    left, top, width, height = page.frame.map_pt
    bottom = sheet.height_pt - top - height
    sheet.frames.append(MapFrame(page.title, (left, bottom, left + width, bottom + height), window))


def _limits(axes: Axes, window: Window) -> None:
    """Fix what the axes show; drawing must not change it."""
    axes.set_xlim(window.west, window.east)
    axes.set_ylim(window.south, window.north)
    axes.set_xticks([])
    axes.set_yticks([])


def _hatch_apart(axes: Axes) -> None:
    """Draw hatches apart from pale grounds: on paper a ground's paleness would fade them too."""
    for patch in list(axes.patches):
        opacity = to_rgba(patch.get_facecolor())[3]
        if not patch.get_hatch() or opacity in (0.0, 1.0):
            continue
        axes.add_patch(
            PathPatch(
                patch.get_path(),
                facecolor="none",
                edgecolor=patch.get_edgecolor(),
                linewidth=0.0,
                hatch=patch.get_hatch(),
                zorder=patch.get_zorder(),
            )
        )
        patch.set_hatch("")


def _with_stems(plan: Plan, window: Window) -> bool:
    """Say whether the stems that stay are few enough to be shown."""
    trees = plan.area.trees
    inside = (
        (trees.x > window.west)
        & (trees.x < window.east)
        & (trees.y > window.south)
        & (trees.y < window.north)
    )
    return bool((inside & ~trees.marked).sum() <= MOST_STEMS)


def _stations(axes: Axes, plan: Plan, window: Window, *, all_of_them: bool) -> None:
    """Draw a stroke across each trail at every station of the map, short where it has no number."""
    units = plan.area.settings.area.units
    if all_of_them:
        short = [
            np.asarray(s.coords) for trail in plan.trails for s in between(trail, window, units)
        ]
        axes.add_collection(LineCollection(short, zorder=16.4, **BETWEEN), autolim=False)
    strokes = [
        np.asarray(tick.stroke.coords)
        for trail in plan.trails
        for tick in (*ticks(trail, window, units), *landing_end(trail, window))
    ]
    axes.add_collection(LineCollection(strokes, zorder=16.5, **STATION), autolim=False)


def _downhill(axes: Axes, plan: Plan) -> None:
    """Draw the arrows."""
    for x, y, turned in arrows(plan):
        marker = MarkerStyle(ARROW, transform=Affine2D().rotate_deg(turned))
        axes.plot([x], [y], linestyle="none", marker=marker, zorder=16.6, **DOWNHILL)


def arrows(plan: Plan) -> list[tuple[float, float, float]]:
    """Give the arrows that point downhill, one for each stretch of trail that has a grade.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of (float, float, float)
        Grid coordinates of the stretch's middle, metres, and where the arrow points,
        degrees from east, counter-clockwise.
    """
    made = []
    for trail in plan.trails:
        for stretch in stretches(plan, trail.trail_id):
            if not grade_in_full(stretch.grade_pct) or abs(stretch.grade_pct) < LEVEL_PCT:
                continue
            at_m = (stretch.from_m + stretch.to_m) / 2
            point, (dx, dy) = trail.line.interpolate(at_m), direction_at(trail.line, at_m)
            # a grade is that of the loaded trip, which runs against the line
            back = 180.0 if stretch.grade_pct < 0 else 0.0
            made.append((point.x, point.y, math.degrees(math.atan2(dy, dx)) + back))
    return made


def _grid(sheet: Sheet, axes: Axes, page: MapPage, dangers: list[tuple[float, float]]) -> int:
    """Draw grid crosses on the map and their numbers at its edge; give their distance, m.

    A number gives way to the mark of a hazard tree that reaches over the edge.
    """
    window = page.window
    left, top, width, height = page.frame.map_pt
    wanted = GRID_APART_IN * window.metres_per_inch
    step = next((s for s in GRID_STEPS_M if s >= wanted), GRID_STEPS_M[-1])
    xs = np.arange(math.ceil(window.west / step), math.floor(window.east / step) + 1) * step
    ys = np.arange(math.ceil(window.south / step), math.floor(window.north / step) + 1) * step
    x, y = (axis.ravel() for axis in np.meshgrid(xs, ys))
    axes.plot(x, y, linestyle="none", zorder=11.5, **GRID)
    per_m = width / (window.east - window.west)
    at_edge = [(left + (x - window.west) * per_m, top + (window.north - y) * per_m)
               for x, y in dangers]  # fmt: skip
    near, room = HAZARD_MARK_PT, GRID_NUMBER_PT + HAZARD_MARK_PT
    marks = []
    for east in xs.tolist():
        at = left + (east - window.west) * per_m
        marks.append((at, top + height, at, top + height + 3))
        hidden = any(y > top + height - near and -near < x - at < room for x, y in at_edge)
        if at + GRID_NUMBER_PT <= left + width and not hidden:
            sheet.text(at + 2, top + height + 7.6, f"{east:.0f} E", LEAST_PT)
    for north in ys.tolist():
        at = top + (window.north - north) * per_m
        marks.append((left - 3, at, left, at))
        hidden = any(x < left + near and -near < at - y < room for x, y in at_edge)
        if at - GRID_NUMBER_PT >= top and not hidden:
            sheet.text(left - 2, at - 2, f"{north:.0f} N", LEAST_PT, rotation=90, ha="right",
                       va="bottom")  # fmt: skip
    sheet.rules(marks, linewidths=0.8)
    return int(step)
