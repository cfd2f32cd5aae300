"""How much ground each map sheet shows, at which scale, and where on the paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import product
from string import ascii_uppercase
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.outputs.crew.foot import height_pt
from layout.outputs.crew.sheet import MARGIN_PT, PAPER_IN, PT_AN_INCH, Paper
from layout.outputs.map_window import METRES_AN_INCH, Window
from layout.units import Units

if TYPE_CHECKING:
    from layout.plan import Plan

Box = tuple[float, float, float, float]

TITLE_PT = 21.0
TICK_PT = 10.0  # beside the map, for the numbers of the grid
GAP_PT = 6.0
NOTES_PT = {True: 21.0, False: 30.0}  # landscape, upright
KEY_PT = 9.0  # one line more, for what the letters of species mean
DANGER_NEAR_M = 60.0  # two tree lengths and a little; a danger this near is on the map; ours
EDGE_SHARE = 0.03  # ground shown round the work, of the longer side
OVERLAP = 0.12  # of a detail sheet, so that a tree at its edge is whole on the next
MOST_TILES = 12
# Scales of detail sheets: an inch to so many whole feet, or as a metric ruler has them. Finer
# than the last a tree's position error is wider than the names.
DETAIL_SCALES: dict[Units, tuple[int, ...]] = {
    "us": tuple(12 * feet for feet in (1000, 500, 400, 300, 200, 150, 100, 80, 60, 50, 40, 30, 20)),
    "metric": (10_000, 5000, 4000, 3000, 2500, 2000, 1500, 1250, 1000, 750, 500, 400, 250),
}
LEAST_ZOOM = 1.5  # of a detail sheet against the map of the whole


@dataclass(frozen=True, slots=True)
class Frame:
    """Where things stand on a map sheet, points from its upper left corner.

    Parameters
    ----------
    landscape : bool
        Whether the sheet lies on its long side.
    beside : bool
        Whether legend and notes stand beside the map, not below it.
    map_pt, panel_pt, notes_pt : tuple of float
        Left, top, width and height of the map, of its legend with what goes with
        it, and of the notes under all.
    """

    landscape: bool
    beside: bool
    map_pt: Box
    panel_pt: Box
    notes_pt: Box


def frames(plan: Plan, *, coded: bool) -> list[Frame]:
    """List the ways to set a map on the plan's paper, the likeliest first.

    Parameters
    ----------
    plan : Plan
        The plan.
    coded : bool
        Whether the notes say what the letters of species mean.

    Returns
    -------
    list of Frame
    """
    paper: Paper = plan.area.settings.outputs.paper
    # landscape, beside, points kept for the legend and what goes with it
    ways = ((True, False, 132.0), (True, True, 178.0), (False, False, 186.0))
    return [_frame(plan, paper, *way, coded=coded) for way in ways]


def _frame(
    plan: Plan, paper: Paper, landscape: bool, beside: bool, keep_pt: float, *, coded: bool
) -> Frame:
    short, long = (inches * PT_AN_INCH for inches in PAPER_IN[paper])
    width, height = (long, short) if landscape else (short, long)
    inner = width - 2 * MARGIN_PT
    left, top = MARGIN_PT, MARGIN_PT + TITLE_PT
    foot = height - MARGIN_PT + 8.0 - height_pt(plan, inner)
    deep = NOTES_PT[landscape] + (KEY_PT if coded else 0.0)
    notes = (left, foot - deep, inner, deep)
    bottom = notes[1] - GAP_PT
    right_pt = keep_pt + GAP_PT if beside else 0.0
    below_pt = 0.0 if beside else keep_pt + GAP_PT
    map_pt = (
        left + TICK_PT,
        top,
        inner - TICK_PT - right_pt,
        bottom - top - TICK_PT - below_pt,
    )
    if beside:
        panel = (left + inner - keep_pt, top, keep_pt, bottom - top)
    else:
        panel = (left, bottom - keep_pt, inner, keep_pt)
    return Frame(landscape, beside, map_pt, panel, notes)


def whole(plan: Plan, *, coded: bool = False) -> tuple[Frame, Window]:
    """Choose the sheet that shows stand, landing and trails largest, at a round scale.

    What is dangerous nearby is on it too.

    Parameters
    ----------
    plan : Plan
        The plan.
    coded : bool
        Whether the notes say what the letters of species mean.

    Returns
    -------
    tuple of Frame and Window
    """
    shapes = [plan.area.stand, *(landing.shape for landing in plan.landings)]
    shapes += [trail.line.buffer(trail.width_m) for trail in plan.trails]
    shapes += [place.shape for place in plan.turning_places]
    near = shapely.union_all(shapes).buffer(DANGER_NEAR_M)
    shapes += [hazard.geometry.intersection(near) for hazard in plan.area.hazards]
    west, south, east, north = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    edge = EDGE_SHARE * max(east - west, north - south)
    bounds = (west - edge, south - edge, east + edge, north + edge)
    ways = [(round_scale(_needed(bounds, frame)), frame) for frame in frames(plan, coded=coded)]
    scale, frame = min(ways, key=lambda way: way[0])
    return frame, window(frame, scale, (west + east) / 2, (south + north) / 2)


def _needed(bounds: Box, frame: Frame) -> float:
    """Give the largest scale number that still shows all of some bounds."""
    west, south, east, north = bounds
    _, _, width, height = frame.map_pt
    metres = max((east - west) / width, (north - south) / height) * PT_AN_INCH
    return metres / METRES_AN_INCH


def round_scale(needed: float) -> int:
    """Round a scale number up to one a ruler is at home with.

    Examples
    --------
    >>> round_scale(2811.0), round_scale(640.0), round_scale(12_030.0)
    (2850, 650, 12500)
    """
    step = 25 if needed < 1000 else 50 if needed < 5000 else 500
    return math.ceil(needed / step - 1e-9) * step


def detail_scales(scale: int, units: Units) -> tuple[int, ...]:
    """Give the scales for detail sheets of a map at a scale, the smallest first.

    Examples
    --------
    >>> detail_scales(3200, "us")[:3], detail_scales(600, "metric"), detail_scales(250, "us")
    ((1800, 1200, 960), (400, 250), (240,))
    """
    finer = tuple(s for s in DETAIL_SCALES[units] if s * LEAST_ZOOM <= scale)
    return finer or DETAIL_SCALES[units][-1:]


def window(frame: Frame, scale: int, x: float, y: float) -> Window:
    """Give the ground a frame shows round a place at a scale."""
    _, _, width, height = frame.map_pt
    per_pt = scale * METRES_AN_INCH / PT_AN_INCH
    half_x, half_y = width * per_pt / 2, height * per_pt / 2
    return Window(
        x - half_x,
        y - half_y,
        x + half_x,
        y + half_y,
        width / PT_AN_INCH,
        height / PT_AN_INCH,
    )


def tiles(plan: Plan, scale: int) -> tuple[Frame, list[Window]]:
    """Cover the work with detail sheets at a scale, as few as may be.

    Parameters
    ----------
    plan : Plan
        The plan.
    scale : int
        Number by which the ground is made smaller.

    Returns
    -------
    tuple of Frame and list of Window
        From west to east, north to south; each shows a marked tree or a trail.
    """
    work = _work(plan)
    best: tuple[Frame, list[Window]] | None = None
    for frame in frames(plan, coded=True):
        made = [w for w in _cover(work, frame, scale) if _outline(w).intersects(work)]
        if best is None or len(made) < len(best[1]):
            best = (frame, made)
    assert best is not None
    return best


def _cover(work: BaseGeometry, frame: Frame, scale: int) -> list[Window]:
    """Cover the bounds of a shape with windows of a frame, evenly spread."""
    west, south, east, north = work.bounds
    one = window(frame, scale, 0.0, 0.0)
    xs = _middles(west, east, one.east - one.west)
    ys = _middles(south, north, one.north - one.south)
    return [window(frame, scale, x, y) for y, x in product(reversed(ys), xs)]


def _middles(low: float, high: float, size: float) -> list[float]:
    """Spread windows of a size over a length, overlapping, their middles given."""
    step = size * (1 - OVERLAP)
    count = max(1, math.ceil((high - low - size * OVERLAP) / step - 1e-9))
    middle = (low + high) / 2
    return [middle + (k - (count - 1) / 2) * step for k in range(count)]


def _work(plan: Plan) -> BaseGeometry:
    """Give the ground that detail sheets must show: marked trees, trails, positions, landing."""
    trees = plan.area.trees
    marked = np.array([o.status not in ("leave", "done") for o in plan.trees], dtype=bool)
    shapes = list(shapely.points(trees.x[marked], trees.y[marked]))
    shapes += [trail.line for trail in plan.trails]
    shapes += [landing.shape for landing in plan.landings]
    return shapely.union_all([shape.buffer(4.0) for shape in shapes])


def _outline(ground: Window) -> Polygon:
    return box(ground.west, ground.south, ground.east, ground.north)


def letter(number: int) -> str:
    """Name a detail sheet.

    Examples
    --------
    >>> letter(0), letter(27)
    ('A', 'B2')
    """
    turn, place = divmod(number, len(ascii_uppercase))
    return ascii_uppercase[place] + (str(turn + 1) if turn else "")
