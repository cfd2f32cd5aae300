"""What draws the marks of one map, over one another and clipped to it."""

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.outputs import palette as ink
from layout.outputs.map_looks import AREAS, LINES, line_look, point_look

Floats = NDArray[np.float64]


class Pen:
    """Draws marks on one map, all by the same factor smaller than listed."""

    def __init__(self, axes: Axes, size: float = 1.0) -> None:
        self._axes = axes
        self._size = size

    def _scaled(self, look: dict[str, Any]) -> dict[str, Any]:
        sizes = ("linewidth", "markersize", "markeredgewidth")
        return {k: v * self._size if k in sizes else v for k, v in look.items()}

    def line(self, name: str, line: LineString, zorder: float) -> None:
        """Draw a line, over a white casing or with a white core where its look has one."""
        look, casing = line_look(name)
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
        look, casing = point_look(name)
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
