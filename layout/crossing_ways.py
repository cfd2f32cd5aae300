"""Where the search may go over water: straight ways through the strips of streams.

Along every stream that may be crossed, places are tried a few metres apart. A
place is kept where a straight way of the lattice, near square to the stream,
leads from open ground to open ground over one crossing within its limits. In
the tables such a way is a row of cells open for its own heading and the
opposite one alone, so that nothing turns in a strip or follows the water. What
a crossing costs lies on the cells over the channel, and is paid once.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import ground
from layout.banks import drawn_parts
from layout.crossings import (
    APPROACH_PCT,
    BANK_MOST_M,
    SQUARE_DEG,
    STREAM_HALF_M,
    TOLERANCE_DEG,
    Water,
    crossings_on,
    faults_of,
    waters_of,
)
from layout.geometry import HEADING_RAD, MOVE_CELLS, MOVES, at_stations, bearings
from layout.ground import CLOSED, EDGE_RESERVE_M, GRADE_RESERVE_PCT, Ground, open_area
from layout.passages import Passages, strips_crossed
from layout.records import Crossing
from layout.settings import Limits
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips

Floats = NDArray[np.float64]
Cell = tuple[int, int]

APART_CELLS = 2.0  # places are tried this many cells apart along the water
LONGEST_M = 100.0  # of strip on either side of the water; ours


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """One straight way over water.

    Parameters
    ----------
    heading : int
        Of the way, 0 to 7; it is open in the opposite one too.
    ways : tuple of int
        Those of the two headings that keep the grades.
    track, beside : tuple of (int, int)
        Row and column of closed cells on the way, and of those its moves straddle.
    crossing : Crossing
        As read from the straight line.
    score : float
        The less the better.
    """

    heading: int
    ways: tuple[int, ...]
    track: tuple[Cell, ...]
    beside: tuple[Cell, ...]
    crossing: Crossing
    score: float


def over_strips(area: Area, strips: Strips) -> BaseGeometry | None:
    """Give the ground a machine may stand on and may pass over water; None where it may not.

    Parameters
    ----------
    area : Area
        The job.
    strips : Strips
        Its water strips.

    Returns
    -------
    shapely geometry or None
        Open ground with the strips of streams; the landing is no part of it.
    """
    if not area.settings.trails.crossings:
        return None
    streams = strips_crossed(area, strips.polygons)
    if not streams:
        return None
    shut = tuple(strip for strip in strips.polygons if strip not in streams)
    over = open_area(area, replace(strips, polygons=shut))
    return over if area.yard is None else over.difference(area.yard)


def passages(area: Area, terrain: Terrain, strips: Strips, width_m: float) -> Passages | None:
    """Prepare what judges ways through strips; None where trails may cross no water."""
    over = over_strips(area, strips)
    if over is None:
        return None
    inside = shapely.union_all([s.shape for s in strips_crossed(area, strips.polygons)])
    room = over.buffer(-width_m / 2)
    shapely.prepare(inside)
    shapely.prepare(room)
    cost = area.settings.objective.crossing_m2
    return Passages(waters_of(area), terrain, inside, room, width_m, cost)


def build(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    opened: BaseGeometry,
    limits: Limits,
    *,
    width_m: float,
    weight: float,
) -> Ground:
    """Fill the lattice tables, with ways over water where the user allows them.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job.
    opened : shapely geometry
        Ground a machine may stand on (`ground.open_area`).
    limits : Limits
        Limits in force today.
    width_m : float
        Trail width, metres.
    weight : float
        Objective weight of a square metre of new trail.

    Returns
    -------
    Ground
        Exactly `ground.build` where no water may be crossed.
    """
    table = ground.build(area, terrain, opened, limits, width_m=width_m, weight=weight)
    return with_ways(table, area, terrain, strips, limits, weight=weight)


def with_ways(
    table: Ground,
    area: Area,
    terrain: Terrain,
    strips: Strips,
    limits: Limits,
    *,
    weight: float,
) -> Ground:
    """Open the ways over water in the tables of open ground; see `build`."""
    over = over_strips(area, strips)
    if over is None:
        return table
    # nothing is dug in a strip
    trails = area.settings.trails.model_copy(update={"bench_up_to_pct": 0.0})
    level = replace(area, settings=area.settings.model_copy(update={"trails": trails}))
    wide = ground.build(level, terrain, over, limits, width_m=table.width_m, weight=weight)
    found = places(area, terrain, over, table, wide)
    return _opened(table, wide, found, area.settings.objective.crossing_m2)


def places(
    area: Area, terrain: Terrain, over: BaseGeometry, table: Ground, wide: Ground
) -> tuple[Place, ...]:
    """Find the ways over water that go into the tables.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its elevations.
    over : shapely geometry
        Open ground with the strips of streams.
    table, wide : Ground
        Tables of open ground, and of open ground with those strips.

    Returns
    -------
    tuple of Place
        The best first; no two of different headings share a cell of a strip.
    """
    waters = waters_of(area)
    shapely.prepare(over)
    tried: set[tuple[int, Cell]] = set()
    found: list[Place] = []
    for water in waters:
        if not water.crossed:
            continue
        for x, y, bearing in _spots(water, APART_CELLS * table.cell_m):
            row, col = (int(v) for v in table.cell(np.array(x), np.array(y)))
            for heading in range(8):
                apart = abs(math.sin(bearing - float(HEADING_RAD[heading])))
                if math.degrees(math.asin(min(apart, 1.0))) < SQUARE_DEG - TOLERANCE_DEG:
                    continue
                if (heading, (row, col)) in tried:
                    continue
                tried.add((heading, (row, col)))
                place = _place(waters, terrain, over, table, wide, (row, col), heading)
                if place is not None:
                    found.append(place)
    found.sort(key=lambda p: (p.score, p.heading, p.track))
    owner: dict[Cell, int] = {}
    kept: list[Place] = []
    for place in found:
        cells = (*place.track, *place.beside)
        if all(owner.get(cell, place.heading) == place.heading for cell in cells):
            owner |= dict.fromkeys(cells, place.heading)
            kept.append(place)
    return tuple(kept)


def _spots(water: Water, apart_m: float) -> list[tuple[float, float, float]]:
    """Give places along a stream and its direction there."""
    out: list[tuple[float, float, float]] = []
    for part in drawn_parts(water.body.geometry):
        line = shapely.get_coordinates(part)
        at = np.arange(0.5 * apart_m, part.length, apart_m)
        xy, way = at_stations(line, at), bearings(line, at, half_m=STREAM_HALF_M)
        out += list(zip(xy[:, 0].tolist(), xy[:, 1].tolist(), way.tolist(), strict=True))
    return out


def _place(
    waters: tuple[Water, ...],
    terrain: Terrain,
    over: BaseGeometry,
    table: Ground,
    wide: Ground,
    start: Cell,
    heading: int,
) -> Place | None:
    """Lay the way of one heading through one cell of the channel; None where it is not legal."""
    ahead = _walk(table, wide, start, heading)
    behind = _walk(table, wide, start, heading + 8)
    if ahead is None or behind is None:
        return None
    track = (*reversed(behind[0]), start, *ahead[0])
    beside = tuple(dict.fromkeys((*behind[1], *ahead[1])))
    shut = [cell for cell in track if not _is_open(table, cell, heading)]
    aside = [cell for cell in beside if not _is_open(table, cell, heading)]
    if start not in shut:
        return None
    ways = tuple(
        way
        for way in (heading, heading + 8)
        if all(wide.closed[way, r, c] != CLOSED for r, c in (*shut, *aside))
    )
    if not ways:
        return None
    rows, cols = np.array([track[0], track[-1]]).T
    x, y = table.centre(rows, cols)
    line = LineString(np.column_stack([x, y]))
    clear = line.buffer(table.width_m / 2 + EDGE_RESERVE_M, cap_style="flat")
    if not over.contains(clear):
        return None
    met = crossings_on(waters, terrain, line, table.width_m)
    if len(met) != 1 or faults_of(met[0], GRADE_RESERVE_PCT):
        return None
    crossing = met[0]
    assert crossing.angle_deg is not None  # or there were a fault
    assert crossing.approach_pct is not None
    assert crossing.bank_m is not None
    score = (
        (SQUARE_DEG - crossing.angle_deg) / TOLERANCE_DEG
        + crossing.approach_pct / APPROACH_PCT
        + crossing.bank_m / BANK_MOST_M
        + line.length / LONGEST_M
    )
    return Place(heading, ways, tuple(shut), tuple(aside), crossing, round(score, 9))


def _is_open(table: Ground, cell: Cell, heading: int) -> bool:
    return bool(
        table.closed[heading, *cell] != CLOSED or table.closed[heading + 8, *cell] != CLOSED
    )


def _walk(
    table: Ground, wide: Ground, start: Cell, heading: int
) -> tuple[list[Cell], list[Cell]] | None:
    """Walk off the channel until open ground: cells stepped on, the open one last, and straddled.

    None where the ground is closed for another reason than the strip, or the strip is too wide.
    """
    axis = heading % 8
    dx, dy = MOVES[heading]
    rows, cols = table.shape
    track: list[Cell] = []
    beside: list[Cell] = []
    r, c = start
    for _ in range(math.ceil(LONGEST_M / (table.cell_m * float(MOVE_CELLS[heading])))):
        if heading % 2 == 1:
            half = (0, dx // 2) if abs(dx) == 2 else (-(dy // 2), 0)
            beside += [(r + half[0], c + half[1]), (r - dy - half[0], c + dx - half[1])]
        r, c = r - dy, c + dx
        if not (1 <= r < rows - 1 and 1 <= c < cols - 1):
            return None
        track.append((r, c))
        if _is_open(table, (r, c), axis):
            return track, beside
        if not _is_open(wide, (r, c), axis):
            return None
    return None


def _opened(table: Ground, wide: Ground, found: tuple[Place, ...], crossing_m2: float) -> Ground:
    """Open the ways in the tables; every crossing is paid on the cells over the channel."""
    closed, cost = table.closed.copy(), table.cost.copy()
    extra = np.zeros(table.shape)
    for place in found:
        for cell, price in _prices(table, place, crossing_m2):
            extra[cell] = max(extra[cell], price)
    for place in found:
        for cell in (*place.track, *place.beside):
            for way in place.ways:
                closed[way, *cell] = wide.closed[way, *cell]
                cost[way, *cell] = wide.cost[way, *cell] + extra[cell]
    shut = (table.closed == CLOSED).all(axis=0) & (wide.closed != CLOSED).any(axis=0)
    return replace(table, closed=closed, cost=cost, passed=shut)


def _prices(table: Ground, place: Place, crossing_m2: float) -> list[tuple[Cell, float]]:
    """Spread what a crossing costs over the cells near the channel, by the metre.

    Weights fall off evenly to nothing a move away, and are scaled so that a way
    straight through pays the whole, neither more nor less.
    """
    move_m = float(MOVE_CELLS[place.heading]) * table.cell_m
    angle = float(HEADING_RAD[place.heading])
    shares = [(cell, 0.5 if place.heading % 2 else 1.0) for cell in place.track]
    shares += [(cell, 0.25) for cell in place.beside]
    rows, cols = np.array([cell for cell, _ in shares]).T
    x, y = table.centre(rows, cols)
    off = (x - place.crossing.x) * math.cos(angle) + (y - place.crossing.y) * math.sin(angle)
    weight = np.maximum(1.0 - np.abs(off) / move_m, 0.0)
    if not weight[: len(place.track)].any():  # no closed cell so near: all of them pay
        weight = np.ones_like(weight)
    paid = float((weight * np.array([share for _, share in shares])).sum()) * move_m
    per_m = weight * (crossing_m2 / paid)
    return [(cell, float(price)) for (cell, _), price in zip(shares, per_m, strict=True)]
