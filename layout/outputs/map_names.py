"""Which names a map bears, and which give way where there is no room."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout.outputs import danger_marks, map_marks
from layout.outputs import palette as ink
from layout.outputs.map_labels import Labels, Look
from layout.outputs.map_window import Contour, Window
from layout.outputs.words import say
from layout.outputs.words import word as word_of

if TYPE_CHECKING:
    from layout.plan import Plan

MAIN = Look(11.5, bold=True, boxed=True)
SPUR = Look(10.0, bold=True, boxed=True)
LANDING = Look(10.0, bold=True)
LEAST_PT = 7.0  # of any name: smaller ones are not read on paper; ours, by looking
POSITION = Look(LEAST_PT)
HAZARD = Look(8.5, ink.HAZARD, bold=True)
KEEP_OUT = Look(8.5, bold=True)
CROSSING = Look(8.5, ink.BAR, bold=True)
HEIGHT_PT = LEAST_PT
POSITION_HIDES = 90.0  # a position unnamed is better than a tree unseen; its name is in the files
TREE_BARE_PT, POSITION_BARE_PT = 3.0, 3.6  # half of what each mark is across, and a little
CONTOUR_TRY_IN = 0.6  # a contour line is looked at for a name every so often
CONTOUR_APART_IN = 1.5


def write(
    labels: Labels, plan: Plan, window: Window, contours: list[Contour], size: float = 1.0
) -> int:
    """Write a map's names: what is dearest first, contour heights where room is left.

    Parameters
    ----------
    labels : Labels
        Places names on the map.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    contours : list of Contour
        The lines drawn.
    size : float
        What marks are drawn smaller by; names of spurs follow, down to `LEAST_PT`.

    Returns
    -------
    int
        How many winch positions found no room for their name.
    """
    enter_marks(labels, plan, window, size)
    danger_marks.name(labels, plan, window)
    spur = replace(SPUR, size_pt=max(SPUR.size_pt * size, LEAST_PT), boxed=size == 1.0)
    for landing in plan.landings:
        words = say("map_landing", landing=landing.landing_id)
        labels.beside(words, along(landing.shape), LANDING, clear_pt=3, must=True)
    for small in map_marks.small_landings(plan):
        labels.beside(say("map_small_landing"), along(small), LANDING, clear_pt=3, must=True)
    for trail in plan.trails:
        main = trail.kind == "main"
        line = trail.line
        shares = (0.5, 0.35, 0.65, 0.2, 0.8) if main else (0.12, 0.25, 0.4, 0.55, 0.7, 0.9)
        anchors = [place_on(line, share) for share in shares]
        look = MAIN if main else spur
        labels.beside(trail.trail_id, anchors, look, clear_pt=7 * size, must=True,
                      kind="trail", owner=trail.trail_id)  # fmt: skip
    for hazard in plan.area.hazards:
        word = word_of(f"hazard_{hazard.kind}", hazard.kind)
        places = [p for p in along(hazard.geometry) if window.shows(*p)]
        labels.beside(word, places, HAZARD, must=True)
    keep_outs(labels, plan, window)
    for crossing in plan.crossings:
        place = (crossing.x, crossing.y)
        labels.beside(crossing.crossing_id, [place], CROSSING, clear_pt=6 * size, must=True)
    named = 0
    for position in plan.positions:
        place = (position.x, position.y)
        named += labels.beside(
            position.position_id, [place], POSITION, clear_pt=4.5 * size,
            hide_most=POSITION_HIDES, kind="position",
        )  # fmt: skip
    heights(labels, window, contours)
    return len(plan.positions) - named


def enter_marks(
    labels: Labels, plan: Plan, window: Window, size: float, *, bare: bool = False
) -> None:
    """Enter what names had better not hide, each with its weight.

    Parameters
    ----------
    labels : Labels
        Places names on the map.
    plan : Plan
        The plan.
    window : Window
        What is shown.
    size : float
        What marks are drawn smaller by.
    bare : bool
        Whether trees and positions have their names on the map: there no other name may
        lie on their marks.
    """
    served, unserved = map_marks.marked_places(plan)
    tree_pt, position_pt = (TREE_BARE_PT * size, POSITION_BARE_PT * size) if bare else (0.0, 0.0)
    labels.avoid_points(map(tuple, unserved), 9.0 * size, 6.0, kinds=("tree",), bare_pt=tree_pt)
    labels.avoid_points(map(tuple, served), 7.0 * size, 4.0, kinds=("tree",), bare_pt=tree_pt)
    winches = [(p.x, p.y) for p in plan.positions]
    labels.avoid_points(winches, 8.0 * size, 8.0, kinds=("position",), bare_pt=position_pt)
    labels.avoid_points(map(tuple, map_marks.stops(plan)), 14.0 * size, 20.0)
    labels.avoid_points([(c.x, c.y) for c in plan.crossings], 12.0 * size, 12.0)
    for places in map_marks.rub_places(plan).values():
        labels.avoid_points(map(tuple, places), 10.0 * size, 6.0)
    for trail in plan.trails:
        corners = np.asarray(trail.line.coords)
        labels.avoid_line(corners, 5.0 * size, 4.0)
        labels.own_line("trail", trail.trail_id, corners)
    for pull in plan.pulls:
        labels.avoid_line(np.asarray(pull.line.coords), 1.0, 1.0)
    for bar in map_marks.bar_lines(plan, window, size):
        labels.avoid_line(np.asarray(bar.coords), 3.0, 6.0)
    for landing in plan.landings:
        labels.avoid_area(landing.shape, 3.0)
    for small in map_marks.small_landings(plan):
        labels.avoid_area(small, 3.0)
    for place in plan.turning_places:
        labels.avoid_line(np.asarray(place.shape.exterior.coords), 1.0, 1.0)
    for feature in plan.area.water:
        if feature.geometry.geom_type == "LineString":
            labels.avoid_line(np.asarray(feature.geometry.coords), 2.0, 1.0)


def place_on(line: LineString, share: float) -> tuple[float, float]:
    """Give the place at a share of a line's length."""
    point = line.interpolate(share, normalized=True)
    return (point.x, point.y)


def along(shape: BaseGeometry) -> list[tuple[float, float]]:
    """Give places to name a thing at: at a point, along a line, round an area."""
    places: list[tuple[float, float]] = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Point":
            places.append((part.x, part.y))
            continue
        line = part.exterior if part.geom_type == "Polygon" else part
        spots = shapely.line_interpolate_point(line, np.linspace(0.1, 0.9, 9), normalized=True)
        places += [(spot.x, spot.y) for spot in spots]
    return places


def keep_outs(labels: Labels, plan: Plan, window: Window) -> None:
    """Name the ground to keep out of, as every file does.

    Parameters
    ----------
    labels : Labels
        Places names on the map.
    plan : Plan
        The whole plan: the names go by its order.
    window : Window
        What is shown.
    """
    for name, shape in plan.area.named_keep_outs:
        places = [p for p in along(shape) if window.shows(*p)]
        if places:
            labels.beside(name, places, KEEP_OUT, must=True)


def heights(
    labels: Labels, window: Window, contours: list[Contour], size_pt: float = HEIGHT_PT
) -> None:
    """Write heights on contour lines, turned along them, heavy lines first."""
    step_m = CONTOUR_TRY_IN * window.metres_per_inch
    reach_m = 0.12 * window.metres_per_inch
    written: dict[str, list[tuple[float, float]]] = {}
    for contour in sorted(contours, key=lambda c: not c.heavy):
        line = contour.line
        apart_m = CONTOUR_APART_IN * window.metres_per_inch * (1 if contour.heavy else 2.5)
        for at in np.arange(step_m / 2, line.length, step_m).tolist():
            near = line.interpolate(max(at - reach_m, 0.0))
            here, far = line.interpolate(at), line.interpolate(min(at + reach_m, line.length))
            chord = math.hypot(far.x - near.x, far.y - near.y)
            place = (here.x, here.y)
            mine = written.setdefault(contour.said, [])
            if (
                chord < 1.8 * reach_m  # too bent to write on
                or not window.shows(*place)
                or any(math.dist(place, other) < apart_m for other in mine)
            ):
                continue
            turn = math.degrees(math.atan2(far.y - near.y, far.x - near.x))
            upright = (turn + 90) % 180 - 90
            if labels.on(contour.said, place, Look(size_pt, ink.CONTOUR, rotation_deg=upright)):
                mine.append(place)
