"""Whose mark each name on a crew's map is read for, measured on the page alone.

Nothing here asks the code that places names: boxes and lines are taken as they are written,
and held against the places of the plan's trees, winch positions and trails.
"""

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from unittest.mock import patch

import numpy as np
import shapely
from matplotlib.axes import Axes
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout.outputs import palette
from layout.outputs.crew import map_sheet, maps
from layout.outputs.crew.plain_labels import PlainLabels
from layout.outputs.crew.sheet import DPI, Sheet
from layout.outputs.map_labels import Look
from layout.outputs.tree_orders import standing_hazards, without_idle
from layout.plan import Plan

PT = DPI / 72
DOT_PT = 2.0  # of a tree's dot and a winch position's square, at least so much round the middle
SLACK_PT = 0.2


@dataclass
class Page:
    """What is written on a map: names with their boxes, and the lines that lead to marks."""

    axes: Axes | None = None
    names: list[tuple[str, Polygon, Look]] = field(default_factory=list)
    lines: dict[int, LineString] = field(default_factory=dict)


@contextmanager
def noted() -> Iterator[list[Page]]:
    """Note what is written on every map drawn meanwhile."""
    pages: list[Page] = []
    write, lead, enter = PlainLabels._write, PlainLabels._lead, PlainLabels.__init__

    def begun(self: PlainLabels, axes: Axes, *args: object, **kwargs: object) -> None:
        enter(self, axes, *args, **kwargs)  # type: ignore[arg-type]
        if not self._dry:
            pages.append(Page(axes))

    def led(self: PlainLabels, place: tuple[float, float], x: float, y: float, colour: str) -> None:
        if not self._dry:
            at = self._axes.transData.transform(place)
            pages[-1].lines[len(pages[-1].names)] = LineString(np.array([at, (x, y)]))
        lead(self, place, x, y, colour)

    def written(
        self: PlainLabels, text: str, x: float, y: float, width: float, height: float, look: Look
    ) -> None:
        if not self._dry:
            shape = box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)
            pages[-1].names.append((text, shape, look))
        write(self, text, x, y, width, height, look)

    with (
        patch.object(PlainLabels, "__init__", begun),
        patch.object(PlainLabels, "_lead", led),
        patch.object(PlainLabels, "_write", written),
    ):
        yield pages


def drawn(plan: Plan) -> list[Page]:
    """Draw the crew's maps of a plan."""
    chosen = maps.chosen(plan)
    with noted() as pages:
        for page in chosen.pages:
            sheet = Sheet(plan.area.settings.outputs.paper, page.frame.landscape)
            map_sheet.draw(sheet, plan, page, chosen.contours, chosen.interval)
    return pages


def faults(plan: Plan, page: Page) -> dict[str, list[str]]:
    """Name what is read wrong on a map.

    Parameters
    ----------
    plan : Plan
        The plan.
    page : Page
        One of its maps.

    Returns
    -------
    dict of str to list of str
        ``misread``: names nearer another mark of their kind, without a line. ``covers``: names
        on another thing's dot. ``behind``: names whose line runs behind another name.
    """
    assert page.axes is not None
    to_page = page.axes.transData.transform
    trees = plan.area.trees
    all_at = dict(zip(trees.tree_id, to_page(np.column_stack([trees.x, trees.y])), strict=True))
    hazards = {tree.tree_id for tree in standing_hazards(plan)}
    marked = {o.tree_id for o in plan.trees if o.status not in ("leave", "done")} | hazards
    tree_at = {name: Point(all_at[name]) for name in marked}
    winch_at = {p.position_id: Point(to_page((p.x, p.y))) for p in without_idle(plan).positions}
    extent = page.axes.get_window_extent()
    frame = box(*extent.extents)
    whole = {t.trail_id: to_page(np.asarray(t.line.coords)[:, :2]) for t in plan.trails}
    trails = {name: LineString(at).intersection(frame) for name, at in whole.items()}
    trails = {name: line for name, line in trails.items() if not line.is_empty}
    made: dict[str, list[str]] = {"misread": [], "covers": [], "behind": []}
    for number, (text, shape, look) in enumerate(page.names):
        first = text.split()[0].rstrip(":")
        danger = look.colour == palette.HAZARD
        kind: dict[str, BaseGeometry] = {}
        if danger and first in hazards:
            kind = {name: tree_at[name] for name in hazards}
        elif first in tree_at and "%" not in text and not text.endswith((" ft", " m")):
            kind = {**tree_at}
        elif first in winch_at and text == first:
            kind = {**winch_at}
        elif text in trails:
            kind = {**trails}
        own = kind.get(first)
        for name, at in itertools.chain(tree_at.items(), winch_at.items()):
            if name != first and shape.distance(at) < DOT_PT * PT and not _same(at, own):
                made["covers"].append(f"{text} on {name}")
        if own is None:
            continue
        reach = shape.distance(own) + SLACK_PT * PT
        near = [
            name
            for name, other in kind.items()
            if name != first and shape.distance(other) < reach and not _same(other, own)
        ]
        line = page.lines.get(number)
        if near and line is None:
            made["misread"].append(f"{text} at {near[0]}")
        if line is not None:
            others = [s for k, (_, s, _) in enumerate(page.names) if k != number]
            if shapely.intersects(others, line).any():
                made["behind"].append(text)
    return made


def _same(a: BaseGeometry, b: BaseGeometry | None) -> bool:
    """Tell whether two marks are one on paper: two winch positions at one place."""
    return isinstance(a, Point) and isinstance(b, Point) and a.distance(b) < 1.0
