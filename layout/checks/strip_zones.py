"""The strip one rule asks of one water body: its trees, its ground, its bank in stretches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.bank_distances import gaps_filled, near_places, near_water, window
from layout.banks import drawn_parts
from layout.divides import beyond_divide
from layout.grid import Dem, Floats
from layout.place_errors import tree_error_m
from layout.site import Area, WaterFeature
from layout.strip_widths import Asked, ends_at_divides, reach_m, zone_width
from layout.terrain import Terrain
from layout.units import FOOT_M

Mask = NDArray[np.bool_]

COMPASS = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip
STRETCH_M = 100 * FOOT_M  # what trees along a bank are counted by


@dataclass(frozen=True, slots=True, eq=False)
class Zone:
    """A strip, and how the listed trees lie to it; arrays have shape (n,), a value a tree.

    Parameters
    ----------
    inside, perhaps : ndarray of bool
        Trees that stand in it, in the stand; those that may by the error of their place.
    row : ndarray of int
        Row of the rule that holds at the tree.
    bank : ndarray of float, shape (n, 2)
        Nearest point of the bank to each tree, grid metres.
    distance_m : ndarray of float
        Map distance to it.
    widest_m : float
        Width where it is widest beside a tree that may stand in it.
    """

    inside: Mask
    perhaps: Mask
    row: NDArray[np.int64]
    bank: Floats
    distance_m: Floats
    widest_m: float


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """The ground of a strip inside the stand, cell by cell.

    Parameters
    ----------
    grid : Dem
        The part of the elevation grid the cells lie in.
    row : ndarray of int, shape of the part
        Row of the rule that holds there; -1 outside of the strip, and in the water.
    cut : ndarray of bool, shape of the part
        Cells that a divide cuts off.
    """

    grid: Dem
    row: NDArray[np.int64]
    cut: Mask


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """About 100 ft of bank on one side, and the trees of the strip along it.

    Parameters
    ----------
    trees : ndarray of int
        Indices of listed trees.
    length_m : float
        Of bank.
    side : str
        Where it lies from the water, a word of the compass.
    """

    trees: NDArray[np.int64]
    length_m: float
    side: str


def zone_of(area: Area, terrain: Terrain, body: WaterFeature, ask: Asked) -> Zone | None:
    """Find the listed trees of one strip.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its ground.
    body : WaterFeature
        The water.
    ask : Asked
        The rule's rows for it.

    Returns
    -------
    Zone or None
        None where the body has no shape.
    """
    trees, ground = area.trees, gaps_filled(terrain.dem)
    places = np.column_stack([trees.x, trees.y])
    near = near_places(body, places, ground, area.settings.ground.dem_error_m)
    if near is None:
        return None
    width, row = zone_width(ask, near.to_water_pct, near.bank_pct)
    stands = np.asarray(shapely.contains_xy(area.stand, trees.x, trees.y), dtype=bool)
    if ends_at_divides([ask]):
        stands &= ~_beyond(area, terrain, body, ask, places)
    off = near.distance_m - tree_error_m(area)
    perhaps = stands & (off <= width)
    return Zone(
        inside=stands & (near.distance_m <= width),
        perhaps=perhaps,
        row=row,
        bank=near.bank,
        distance_m=near.distance_m,
        widest_m=float(width[perhaps].max(initial=0.0)),
    )


def cells_of(area: Area, terrain: Terrain, body: WaterFeature, ask: Asked) -> Cells | None:
    """Find the ground of one strip inside the stand; see `zone_of`.

    Returns
    -------
    Cells or None
        None where the strip lies off the elevation grid.
    """
    dem, ground = terrain.dem, gaps_filled(terrain.dem)
    error_m = area.settings.ground.dem_error_m
    reach = reach_m([ask], float(np.ptp(ground.z))) + 2 * dem.cell_m
    near = near_water(body, reach, ground, dem, error_m)
    if near is None:
        return None
    part = window(ground, near.part)
    x, y = part.centres()
    places = np.column_stack([x[near.col], y[near.row]])
    width, index = zone_width(ask, near.to_water_pct, near.bank_pct)
    here = (near.distance_m <= width) & (near.distance_m > 0)
    cut = np.zeros(part.shape, dtype=bool)
    if ends_at_divides([ask]):
        beyond = beyond_divide(part, places, near.bank, here, near.touched, error_m)
        beyond &= np.array([bool(row.stops_at_divide) for row in ask.rows])[index]
        cut[near.row, near.col] = beyond
        here &= ~beyond
    here &= np.asarray(shapely.contains_xy(area.stand, *places.T), dtype=bool)
    row = np.full(part.shape, -1, dtype=np.int64)
    row[near.row[here], near.col[here]] = index[here]
    return Cells(part, row, cut)


def _beyond(area: Area, terrain: Terrain, body: WaterFeature, ask: Asked, places: Floats) -> Mask:
    """Tell which places stand on a cell of a strip that a divide cuts off."""
    out = np.zeros(len(places), dtype=bool)
    cells = cells_of(area, terrain, body, ask)
    if cells is not None and len(places):
        row, col = (np.rint(part).astype(int) for part in cells.grid.fractional(*places.T))
        on = (row >= 0) & (col >= 0) & (row < cells.cut.shape[0]) & (col < cells.cut.shape[1])
        out[on] = cells.cut[row[on], col[on]]
    return out


def stretches(area: Area, body: WaterFeature, zone: Zone) -> list[Stretch]:
    """Part the bank of one strip into stretches of about 100 ft, each side by itself.

    Parameters
    ----------
    area : Area
        The job; only bank whose strip reaches into the stand counts, since other
        trees are not listed.
    body : WaterFeature
        Lines have two sides, outlines one; a point has no bank to go along.
    zone : Zone
        Of that body.

    Returns
    -------
    list of Stretch
        Those with trees that stand in the strip, or may.
    """
    rows = np.flatnonzero(zone.perhaps)
    lines = _banks_beside(area, body, zone.widest_m)
    if not rows.size or not lines:
        return []
    stems = np.asarray(shapely.points(area.trees.x[rows], area.trees.y[rows]), dtype=object)
    nearest = np.argmin([shapely.distance(line, stems) for line, _ in lines], axis=0)
    made = []
    for number, (line, two_sided) in enumerate(lines):
        mine, points = rows[nearest == number], stems[nearest == number]
        count = max(1, round(line.length / STRETCH_M))
        at = np.asarray(shapely.line_locate_point(line, points), dtype=float)
        part = np.minimum((at / line.length * count).astype(int), count - 1)
        left = _on_the_left(line, at, points) if two_sided else np.zeros(mine.size, dtype=bool)
        for piece in range(count):
            for side in (True, False):
                here = mine[(part == piece) & (left == side)]
                if here.size:
                    made.append(Stretch(here, line.length / count, _side(area, zone, here)))
    return made


def _banks_beside(area: Area, body: WaterFeature, width_m: float) -> list[tuple[LineString, bool]]:
    """Give the lines along which bank is counted, and whether trees stand on both sides."""
    half = 0.5 * (body.bank_width_m or 0.0) if np.isfinite(body.bank_width_m or 0.0) else 0.0
    reach = area.stand.buffer(width_m + half)
    lines: list[tuple[LineString, bool]] = []
    for shape in drawn_parts(body.geometry):
        drawn: list[tuple[BaseGeometry, bool]] = [(shape, True)]
        if isinstance(shape, Polygon):
            drawn = [(ring, False) for ring in (shape.exterior, *shape.interiors)]
        for line, two_sided in drawn:
            pieces = drawn_parts(shapely.line_merge(shapely.intersection(line, reach)))
            lines += [
                (piece, two_sided)
                for piece in pieces
                if isinstance(piece, LineString) and piece.length > 0
            ]
    return lines


def _on_the_left(line: LineString, at: Floats, points: NDArray[np.object_]) -> Mask:
    """Tell on which side of a line points lie, as it is drawn."""
    before, after = (
        shapely.get_coordinates(
            shapely.line_interpolate_point(line, np.clip(at + step, 0.0, line.length))
        )
        for step in (-0.5, 0.5)
    )
    way, off = after - before, shapely.get_coordinates(points) - before
    return np.asarray(way[:, 0] * off[:, 1] - way[:, 1] * off[:, 0] > 0)


def _side(area: Area, zone: Zone, trees: NDArray[np.int64]) -> str:
    """Say on which side of the water trees stand."""
    east = float((area.trees.x[trees] - zone.bank[trees, 0]).mean())
    north = float((area.trees.y[trees] - zone.bank[trees, 1]).mean())
    return COMPASS[round(np.degrees(np.arctan2(east, north)) / 45.0) % 8]
