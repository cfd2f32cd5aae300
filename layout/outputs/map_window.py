"""The piece of ground a map sheet shows, and the relief under everything else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from matplotlib.axes import Axes
from shapely.geometry import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from layout import terrain
from layout.grid import Dem
from layout.outputs import palette as ink
from layout.outputs.help_places import gate
from layout.outputs.tree_orders import standing_hazards, two_lengths_m
from layout.tongue import number
from layout.tongue import unit as said_unit
from layout.units import FOOT_M, Units

if TYPE_CHECKING:
    from layout.plan import Plan

MARGIN_SHARE = 0.05  # white round the stand, of the longer side
MOST_WIDER = 1.5  # a gate that makes the map show more ground an inch than this is left out; ours
DANGER_NEAR_M = 60.0  # at least: two tree lengths where no marked tree stands any more; ours
MOST_CONTOURS = 28
INTERVALS_FT = (1, 2, 5, 10, 20, 40, 50, 100, 200, 500, 1000)
INTERVALS_M = (0.25, 0.5, 1, 2, 5, 10, 20, 25, 50, 100, 250)
INDEX_EVERY = 5
DISPLAY_SIGMA_M = 2.0  # contour lines of 1 m cells are too ragged to read unless smoothed
DARKEST = 0.62  # relief stays light, so that marks and print stand out on it
METRES_AN_INCH = 0.0254


@dataclass(frozen=True, slots=True)
class Window:
    """What a map shows: grid edges in metres and the size of the map on paper."""

    west: float
    south: float
    east: float
    north: float
    width_in: float
    height_in: float

    def shows(self, x: float, y: float) -> bool:
        """Tell whether a place lies on the map."""
        return self.west < x < self.east and self.south < y < self.north

    @property
    def metres_per_inch(self) -> float:
        """Ground metres to one inch of paper."""
        return (self.east - self.west) / self.width_in

    @property
    def scale(self) -> int:
        """Number by which the ground is made smaller, on paper of the size meant."""
        return round(self.metres_per_inch / METRES_AN_INCH)


def around(plan: Plan, width_in: float, height_in: float) -> Window:
    """Fit stand, landing, trails, the gate and what is dangerous nearby into a map of a size.

    Parameters
    ----------
    plan : Plan
        The plan.
    width_in, height_in : float
        Size of the map on paper, inches.

    Returns
    -------
    Window
        With the paper's shape and a margin all round. A gate so far off that the ground
        would be drawn much smaller for it is left out.
    """
    shapes = [plan.area.stand, *(landing.shape for landing in plan.landings)]
    shapes += [trail.line.buffer(trail.width_m) for trail in plan.trails]
    shapes += [place.shape for place in plan.turning_places]
    without = _fitted(_with_dangers(plan, shapes), width_in, height_in)
    place = gate(plan)
    if place is None:
        return without
    made = _fitted(_with_dangers(plan, [*shapes, place]), width_in, height_in)
    far = made.metres_per_inch > MOST_WIDER * without.metres_per_inch
    return without if far else made


def _with_dangers(plan: Plan, shapes: list[BaseGeometry]) -> list[BaseGeometry]:
    """Add what is dangerous within two tree lengths of work or of the way in."""
    ground = box(*shapely.total_bounds(np.array(shapes, dtype=object)))
    roads = [road.intersection(ground) for road in plan.area.access_road]
    work = shapely.union_all([*shapes, *roads])
    near = work.buffer(max(two_lengths_m(plan) or 0.0, DANGER_NEAR_M))
    wires = [hazard.geometry.intersection(near) for hazard in plan.area.hazards]
    trees = [Point(tree.x, tree.y) for tree in standing_hazards(plan)
             if work.distance(Point(tree.x, tree.y)) <= tree.reach_m]  # fmt: skip
    return [*shapes, *(wire for wire in wires if not wire.is_empty), *trees]


def _fitted(shapes: list[BaseGeometry], width_in: float, height_in: float) -> Window:
    west, south, east, north = shapely.total_bounds(np.array(shapes, dtype=object)).tolist()
    margin = MARGIN_SHARE * max(east - west, north - south)
    per_inch = max((east - west + 2 * margin) / width_in, (north - south + 2 * margin) / height_in)
    x, y = (west + east) / 2, (south + north) / 2
    half_x, half_y = per_inch * width_in / 2, per_inch * height_in / 2
    return Window(x - half_x, y - half_y, x + half_x, y + half_y, width_in, height_in)


def cropped(dem: Dem, window: Window, spare_m: float = 20.0) -> Dem:
    """Cut the elevations a window shows, with some to spare for smoothing."""
    rows, cols = dem.shape
    top = int(np.clip((dem.north_m - window.north - spare_m) // dem.cell_m, 0, rows - 1))
    bottom = int(np.clip((dem.north_m - window.south + spare_m) // dem.cell_m + 1, top + 1, rows))
    left = int(np.clip((window.west - spare_m - dem.west_m) // dem.cell_m, 0, cols - 1))
    right = int(np.clip((window.east + spare_m - dem.west_m) // dem.cell_m + 1, left + 1, cols))
    return Dem(
        np.ascontiguousarray(dem.z[top:bottom, left:right]),
        dem.west_m + left * dem.cell_m,
        dem.north_m - top * dem.cell_m,
        dem.cell_m,
    )


def draw_relief(axes: Axes, dem: Dem) -> None:
    """Shade the ground, lit from the north-west, light grey; unknown ground stays white."""
    shade = DARKEST + (1 - DARKEST) * np.clip(terrain.hillshade(dem) / 0.9, 0, 1)
    west, south, east, north = dem.bounds
    axes.imshow(
        np.ma.masked_invalid(shade),
        extent=(west, east, south, north),
        cmap="gray",
        vmin=0,
        vmax=1,
        interpolation="bilinear",
        zorder=0,
    )


@dataclass(frozen=True, slots=True)
class Contour:
    """One contour line: its height as said on the map, and whether it is a heavy one."""

    said: str
    heavy: bool
    line: LineString


def interval(dem: Dem, window: Window, units: Units) -> tuple[float, str]:
    """Choose a contour interval that is a round number in the user's units.

    Parameters
    ----------
    dem : Dem
        The cropped elevations.
    window : Window
        What is shown.
    units : {"us", "metric"}
        The user's units.

    Returns
    -------
    tuple of float and str
        Interval in metres, and as said ("10 ft").
    """
    shown = cropped(dem, window, 0.0).z
    relief_m = float(np.nanmax(shown) - np.nanmin(shown)) if np.isfinite(shown).any() else 0.0
    steps, unit_m, unit = (INTERVALS_FT, FOOT_M, "ft") if units == "us" else (INTERVALS_M, 1.0, "m")
    for step in steps:
        if relief_m / (step * unit_m) <= MOST_CONTOURS:
            break
    return step * unit_m, f"{number(step, 'g')} {said_unit(unit)}"


def contours(dem: Dem, interval_m: float, units: Units) -> list[Contour]:
    """Give contour lines for a map, every fifth a heavy one.

    Parameters
    ----------
    dem : Dem
        The cropped elevations; smoothed here, for the eye alone.
    interval_m : float
        From `interval`.
    units : {"us", "metric"}
        The user's units.

    Returns
    -------
    list of Contour
        Lowest first.
    """
    unit_m = FOOT_M if units == "us" else 1.0
    made = []
    for level, lines in terrain.contours(terrain.smoothed(dem, DISPLAY_SIGMA_M), interval_m):
        number = round(level / interval_m)
        said = f"{level / unit_m:.0f}"
        made += [Contour(said, number % INDEX_EVERY == 0, line) for line in lines.geoms]
    return made


def draw_contours(axes: Axes, lines: list[Contour]) -> None:
    """Draw contour lines, thin and heavy, in brown."""
    for contour in lines:
        axes.plot(
            *contour.line.xy,
            color=ink.CONTOUR,
            linewidth=0.9 if contour.heavy else 0.45,
            alpha=0.9,
            zorder=2,
            solid_joinstyle="round",
        )
