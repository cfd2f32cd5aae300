"""The marks of a map sheet: one look a thing, drawn on the map and shown in its legend.

Form carries the meaning a second time (width, dash, hatch, disc against cross),
because the sheet is copied in black and white and read in the rain.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, PathPatch
from matplotlib.path import Path
from matplotlib.patheffects import Normal, Stroke, withStroke
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.outputs import palette as ink
from layout.outputs.map_window import Window
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

Floats = NDArray[np.float64]

PT_AN_INCH = 72.0
APART_PT = 17.0  # nearer than this on paper, marks of full size run together
SMALLEST = 0.6
BAR_PT = 11.0  # drawn length of a water bar across its trail

AREAS: dict[str, dict[str, Any]] = {
    "may_use": {"facecolor": "none", "edgecolor": ink.MAY_USE, "linewidth": 1.3, "linestyle": ":"},
    "strip": {
        "facecolor": (0.09, 0.40, 0.66, 0.10),
        "edgecolor": ink.WATER,
        "linewidth": 0.9,
        "hatch": "///",
    },
    "keep_out": {
        "facecolor": (1, 1, 1, 0.35),
        "edgecolor": ink.KEEP_OUT,
        "linewidth": 1.0,
        "hatch": "xxxx",
    },
    "landing": {
        "facecolor": ink.LANDING,
        "edgecolor": ink.INK,
        "linewidth": 1.8,
        "hatch": "||",
    },
    "turning": {"facecolor": ink.TURNING, "edgecolor": ink.INK, "linewidth": 0.9},
}
LINES: dict[str, dict[str, Any]] = {
    "stand": {"color": ink.STAND, "linewidth": 2.0, "dashes": (7, 2.5)},
    "water": {"color": ink.WATER, "linewidth": 2.4},
    "road": {"color": ink.ROAD, "linewidth": 3.4, "core": 1.6},
    "existing": {"color": ink.OLD_TRAIL, "linewidth": 1.5, "dashes": (2.2, 1.4)},
    "hazard": {"color": ink.HAZARD, "linewidth": 1.9, "dashes": (6, 1.6, 1, 1.6)},
    "pull": {"color": ink.PULL, "linewidth": 0.9},
    "main": {"color": ink.INK, "linewidth": 4.2, "casing": 6.2},
    "spur": {"color": ink.SPUR, "linewidth": 2.1, "casing": 4.0},
    "bar": {"color": ink.BAR, "linewidth": 2.6, "casing": 4.2},
}
POINTS: dict[str, dict[str, Any]] = {
    "stem": {"marker": "o", "markersize": 1.5, "color": ink.STEM, "markeredgewidth": 0.0},
    "in_trail": {
        "marker": "+",
        "markersize": 5.6,
        "color": ink.INK,
        "markeredgewidth": 1.3,
        "casing": 2.6,
    },
    "served": {
        "marker": "o",
        "markersize": 5.4,
        "color": ink.SERVED,
        "markeredgecolor": ink.PAPER,
        "markeredgewidth": 0.7,
    },
    "unserved": {
        "marker": "x",
        "markersize": 6.6,
        "color": ink.UNSERVED,
        "markeredgewidth": 1.9,
        "casing": 3.6,
    },
    "position": {
        "marker": "s",
        "markersize": 5.8,
        "color": ink.POSITION,
        "markeredgecolor": ink.INK,
        "markeredgewidth": 1.0,
    },
    "hazard_point": {
        "marker": "D",
        "markersize": 6.5,
        "color": ink.PAPER,
        "markeredgecolor": ink.HAZARD,
        "markeredgewidth": 1.8,
    },
    "water_point": {"marker": "o", "markersize": 5.0, "color": ink.WATER},
    "stop": {
        "marker": "8",
        "markersize": 12.0,
        "color": ink.STOP,
        "markeredgecolor": ink.PAPER,
        "markeredgewidth": 1.2,
    },
    "mouth": {
        "marker": "o",
        "markersize": 5.0,
        "color": ink.PAPER,
        "markeredgecolor": ink.INK,
        "markeredgewidth": 1.2,
    },
}


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


def draw(axes: Axes, plan: Plan, window: Window, size: float = 1.0) -> None:
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
    """
    pen = _Pen(axes, size)
    land = _Pen(axes)
    area = plan.area
    land.areas("may_use", [area.may_use], 1.0)
    # Strips of two waters that meet are one closed piece of ground: one hatch, one edge.
    land.areas("strip", [shapely.union_all([strip.shape for strip in plan.strips])], 3.0)
    for feature in area.water:
        land.thing("water", "water_point", feature.geometry, 4.0, solid=True)
    land.areas("keep_out", area.keep_out, 5.0)
    for old in area.existing:
        land.line("existing", old.line, 6.0)
    for road in area.access_road:
        land.line("road", road, 6.2)
    stems = ~area.trees.marked
    pen.points("stem", np.column_stack([area.trees.x[stems], area.trees.y[stems]]), 7.0)
    for ring in shapely.get_parts(shapely.boundary(area.stand)):
        land.line("stand", ring, 8.0)
    land.areas("landing", [plan.landing.shape], 9.0)
    land.areas("turning", [place.shape for place in plan.turning_places], 10.0)
    for pull in plan.pulls:
        pen.line("pull", pull.line, 12.0)
    for kind, zorder in (("spur", 14.0), ("main", 15.0)):
        for trail in plan.trails:
            if trail.kind == kind:
                pen.line(kind, trail.line, zorder)
    pen.points("mouth", mouths(plan), 16.0)
    for bar in bar_lines(plan, window, size):
        pen.line("bar", bar, 17.0)
    pen.points("in_trail", stems_in_the_way(plan), 17.5)
    served, unserved = marked_places(plan)
    pen.points("served", served, 18.0)
    pen.points("unserved", unserved, 19.0)
    pen.points("position", np.array([(p.x, p.y) for p in plan.positions]), 20.0)
    for hazard in area.hazards:
        land.thing("hazard", "hazard_point", hazard.geometry, 21.0)
    pen.points("stop", stops(plan), 22.0)


def marked_places(plan: Plan) -> tuple[Floats, Floats]:
    """Give the marked trees that are reached and those that are not, shape (n, 2) each."""
    trees = plan.area.trees
    xy = np.column_stack([trees.x, trees.y])
    served = np.array([outcome.status == "served" for outcome in plan.trees], dtype=bool)
    idle = np.array([outcome.status in ("served", "leave") for outcome in plan.trees], dtype=bool)
    return xy[served], xy[~idle]


def stems_in_the_way(plan: Plan) -> Floats:
    """Give the unmarked stems a trail or a rub tree takes, shape (n, 2)."""
    trees = plan.area.trees
    taken = np.array([o.role in ("in_trail", "rub") and o.status == "leave" for o in plan.trees])
    return np.asarray(np.column_stack([trees.x, trees.y])[taken.astype(bool)])


def mouths(plan: Plan) -> Floats:
    """Give the places where spurs leave their parents, shape (n, 2)."""
    return np.array([trail.line.coords[0][:2] for trail in plan.trails if trail.joins_id])


def stops(plan: Plan) -> Floats:
    """Give the places of stop findings, shape (n, 2)."""
    return np.array([f.at for f in plan.findings if f.level == "stop" and f.at is not None])


def bar_lines(plan: Plan, window: Window, size: float = 1.0) -> list[LineString]:
    """Give water bars as strokes across their trails, skewed toward the outlet.

    A bar is drawn longer than built, so that it shows.
    """
    half_m = 0.5 * size * BAR_PT / PT_AN_INCH * window.metres_per_inch
    lines = {trail.trail_id: trail.line for trail in plan.trails}
    made = []
    for bar in plan.bars:
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


def legend_entries(plan: Plan, window: Window) -> tuple[list[Artist], list[str]]:
    """Give one sample and one text for each kind of thing this map shows.

    Parameters
    ----------
    plan : Plan
        The plan.
    window : Window
        What is shown: a wire beyond the map's edge is not in its legend.

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
        ("landing", True),
        ("turning", bool(plan.turning_places)),
        ("position", bool(plan.positions)),
        ("pull", bool(plan.pulls)),
        ("served", len(served) > 0),
        ("unserved", len(unserved) > 0),
        ("in_trail", len(stems_in_the_way(plan)) > 0),
        ("stem", not bool(area.trees.marked.all())),
        ("bar", bool(plan.bars)),
        ("stop", len(stops(plan)) > 0),
        ("water", seen(feature.geometry for feature in area.water)),
        ("strip", seen(strip.shape for strip in plan.strips)),
        ("keep_out", seen(area.keep_out)),
        ("hazard", seen(hazard.geometry for hazard in area.hazards)),
        ("stand", True),
        ("may_use", seen([area.may_use])),
        ("existing", seen(old.line for old in area.existing)),
        ("road", seen(area.access_road)),
    )
    names = [name for name, there in shown if there]
    return [_sample(name) for name in names], [say(f"mark_{name}") for name in names]


def _sample(name: str) -> Artist:
    """Draw the mark of a thing as the legend shows it."""
    if name in AREAS:
        return Patch(**AREAS[name])
    if name in POINTS:
        look, casing = _point_look(name)
        sample = Line2D([], [], linestyle="none", **look)
    else:
        look, casing = _line_look(name)
        sample = Line2D([], [], **look)
        if "core" in LINES[name]:
            sample.set_path_effects(_core(name))
    if casing:
        sample.set_path_effects([withStroke(linewidth=casing, foreground=ink.CASING)])
    return sample


def _point_look(name: str) -> tuple[dict[str, Any], float]:
    look = dict(POINTS[name])
    return look, look.pop("casing", 0.0)


def _line_look(name: str) -> tuple[dict[str, Any], float]:
    look = dict(LINES[name])
    look.pop("core", None)
    casing = look.pop("casing", 0.0)
    dashes = look.pop("dashes", None)
    if dashes is not None:
        look["linestyle"] = (0, dashes)
    return look, casing


def _core(name: str) -> list[Any]:
    """Give the white middle of a line drawn double."""
    return [Normal(), Stroke(linewidth=LINES[name]["core"], foreground=ink.CASING)]


class _Pen:
    """Draws marks on one map, all by the same factor smaller than listed."""

    def __init__(self, axes: Axes, size: float = 1.0) -> None:
        self._axes = axes
        self._size = size

    def _scaled(self, look: dict[str, Any]) -> dict[str, Any]:
        sizes = ("linewidth", "markersize", "markeredgewidth")
        return {k: v * self._size if k in sizes else v for k, v in look.items()}

    def line(self, name: str, line: LineString, zorder: float) -> None:
        """Draw a line, over a white casing or with a white core where its look has one."""
        look, casing = _line_look(name)
        x, y = np.asarray(line.coords, dtype=float)[:, :2].T
        style: Any = {"solid_capstyle": "round", "solid_joinstyle": "round"}
        if casing:
            wide = casing * self._size
            self._axes.plot(x, y, color=ink.CASING, linewidth=wide, zorder=zorder - 0.5, **style)
        self._axes.plot(x, y, zorder=zorder, **style, **self._scaled(look))
        if "core" in LINES[name]:
            core = LINES[name]["core"] * self._size
            self._axes.plot(x, y, color=ink.CASING, linewidth=core, zorder=zorder + 0.1, **style)

    def points(self, name: str, xy: Floats, zorder: float) -> None:
        """Draw marks of one kind, shape (n, 2)."""
        if len(xy) == 0:
            return
        look, casing = _point_look(name)
        x, y = xy.T
        if casing:
            under = self._scaled(look | {"color": ink.CASING, "markeredgewidth": casing})
            self._axes.plot(x, y, linestyle="none", zorder=zorder - 0.1, **under)
        self._axes.plot(x, y, linestyle="none", zorder=zorder, **self._scaled(look))
        if name == "stop":
            for at_x, at_y in xy.tolist():
                self._axes.text(
                    at_x,
                    at_y,
                    "!",
                    color=ink.PAPER,
                    fontsize=9 * self._size,
                    fontweight="bold",
                    ha="center",
                    va="center_baseline",
                    zorder=zorder + 0.1,
                    clip_on=True,
                )

    def areas(self, name: str, shapes: Iterable[BaseGeometry], zorder: float) -> None:
        """Draw the polygons of some shapes."""
        for shape in shapes:
            for part in shapely.get_parts(shape):
                if isinstance(part, Polygon) and not part.is_empty:
                    self._axes.add_patch(PathPatch(_path(part), zorder=zorder, **AREAS[name]))

    def thing(
        self, line: str, point: str, shape: BaseGeometry, zorder: float, *, solid: bool = False
    ) -> None:
        """Draw what may be points, lines or areas, with one look for each."""
        for part in shapely.get_parts(shape):
            if part.geom_type == "Point":
                self.points(point, np.array([(part.x, part.y)]), zorder)
            elif part.geom_type == "Polygon":
                if solid:
                    fill = {"facecolor": LINES[line]["color"], "alpha": 0.45, "linewidth": 0}
                    self._axes.add_patch(PathPatch(_path(part), zorder=zorder - 0.2, **fill))
                self.line(line, LineString(part.exterior.coords), zorder)
            else:
                self.line(line, part, zorder)


def _path(polygon: Polygon) -> Path:
    """Turn a polygon with its holes into one path."""
    rings: Sequence[Any] = (polygon.exterior, *polygon.interiors)
    return Path.make_compound_path(
        *(Path(np.asarray(ring.coords, dtype=float)[:, :2], closed=True) for ring in rings)
    )
