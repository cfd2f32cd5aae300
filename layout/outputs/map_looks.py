"""One look for each kind of thing on a map, and the same look in its legend.

Form carries the meaning a second time (width, dash, hatch, disc against cross),
because the sheet is copied in black and white and read in the rain.
"""

from typing import Any

from matplotlib.artist import Artist
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.path import Path
from matplotlib.patheffects import Normal, Stroke, withStroke
from matplotlib.transforms import Affine2D

from layout.outputs import palette as ink

# A log that lies along the inside of a corner, seen from above.
LOG = Path([(-1, -0.36), (1, -0.36), (1, 0.36), (-1, 0.36), (-1, -0.36)], closed=True)
# Five sides as of a marked rub tree, but on its point: told apart without colour or fill.
ON_POINT = Path.unit_regular_polygon(5).transformed(Affine2D().rotate_deg(180))
# A bar across a ring: told from every disc and cross without colour.
NO_ENTRY = Path.make_compound_path(Path.unit_circle(), Path([(-0.62, 0.0), (0.62, 0.0)]))
# Two posts and a bar between them.
GATE_BARS = Path(
    [(-1, -0.8), (-1, 0.8), (1, -0.8), (1, 0.8), (-1, 0.35), (1, 0.35), (-1, -0.35), (1, -0.35)],
    [Path.MOVETO, Path.LINETO] * 4,
)

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
    "wet_hollow": {
        "facecolor": "none",
        "edgecolor": ink.WATER,
        "linewidth": 0.8,
        "linestyle": ":",
        "hatch": "..",
    },
    "small_landing": {
        "facecolor": ink.LANDING,
        "edgecolor": ink.INK,
        "linewidth": 1.8,
        "linestyle": "--",
        "hatch": "--",
    },
    "landing_option": {
        "facecolor": "none",
        "edgecolor": ink.OLD_TRAIL,
        "linewidth": 1.0,
        "linestyle": "--",
    },
    "turning": {"facecolor": ink.TURNING, "edgecolor": ink.INK, "linewidth": 0.9},
}
LINES: dict[str, dict[str, Any]] = {
    "stand": {"color": ink.STAND, "linewidth": 2.0, "dashes": (7, 2.5)},
    "property": {"color": ink.PROPERTY, "linewidth": 1.7, "dashes": (9, 2, 1.4, 2, 1.4, 2)},
    "water": {"color": ink.WATER, "linewidth": 2.4},
    # dots of a line: water that is on no map must not look like water that is
    "channel": {"color": ink.WATER, "linewidth": 2.2, "dashes": (0.9, 1.1), "casing": 3.4},
    "road": {"color": ink.ROAD, "linewidth": 3.4, "core": 1.6},
    "existing": {"color": ink.OLD_TRAIL, "linewidth": 1.5, "dashes": (2.2, 1.4)},
    "hazard": {"color": ink.HAZARD, "linewidth": 1.9, "dashes": (6, 1.6, 1, 1.6)},
    "pull": {"color": ink.PULL, "linewidth": 0.9},
    "main": {"color": ink.INK, "linewidth": 4.2, "casing": 6.2},
    "spur": {"color": ink.SPUR, "linewidth": 2.1, "casing": 4.0},
    "bench": {"color": ink.BENCH, "linewidth": 11.0, "dashes": (0.25, 0.25)},
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
    # five sides round a tree's own mark; dark where it is marked to be cut
    "rub_marked": {
        "marker": "p",
        "markersize": 12.0,
        "color": ink.RUB,
        "markeredgecolor": ink.PAPER,
        "markeredgewidth": 0.8,
    },
    "rub_proposed": {
        "marker": ON_POINT,
        "markersize": 9.4,
        "color": ink.PAPER,
        "markeredgecolor": ink.RUB,
        "markeredgewidth": 1.5,
        "casing": 3.4,
    },
    "rub_other": {
        "marker": LOG,
        "markersize": 10.0,
        "color": ink.PAPER,
        "markeredgecolor": ink.RUB,
        "markeredgewidth": 1.5,
        "casing": 3.4,
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
    "hold": {
        "marker": NO_ENTRY,
        "markersize": 9.6,
        "color": ink.PAPER,
        "markeredgecolor": ink.UNSERVED,
        "markeredgewidth": 2.2,
    },
    "gate": {
        "marker": GATE_BARS,
        "markersize": 13.0,
        "color": ink.INK,
        "fillstyle": "none",
        "markeredgecolor": ink.INK,
        "markeredgewidth": 2.0,
    },
    "position": {
        "marker": "s",
        "markersize": 5.8,
        "color": ink.POSITION,
        "markeredgecolor": ink.INK,
        "markeredgewidth": 1.0,
    },
    # on its point: no mark beside it is
    "crossing": {
        "marker": "v",
        "markersize": 9.0,
        "color": ink.PAPER,
        "markeredgecolor": ink.BAR,
        "markeredgewidth": 1.9,
        "casing": 3.6,
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


def sample(name: str) -> Artist:
    """Draw the mark of a thing as the legend shows it."""
    if name in AREAS:
        return Patch(**AREAS[name])
    if name in POINTS:
        look, casing = point_look(name)
        made = Line2D([], [], linestyle="none", **look)
    else:
        look, casing = line_look(name)
        made = Line2D([], [], **look)
        if "core" in LINES[name]:
            made.set_path_effects(_core(name))
    if casing:
        made.set_path_effects([withStroke(linewidth=casing, foreground=ink.CASING)])
    return made


def point_look(name: str) -> tuple[dict[str, Any], float]:
    """Give how a point mark is drawn, and the width of its white casing, points; 0 for none."""
    look = dict(POINTS[name])
    return look, look.pop("casing", 0.0)


def line_look(name: str) -> tuple[dict[str, Any], float]:
    """Give how a line is drawn, and the width of its white casing, points; 0 for none."""
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
