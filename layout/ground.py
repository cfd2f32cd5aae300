"""Where a trail's centre line may run, heading by heading, and what a metre costs.

Everything a step of the search must obey is brought here into two tables over
(heading, row, column) of a lattice: ``closed`` and ``cost``. The search itself
knows no rule. Grades and cross slopes are read from the full elevation grid
with the functions the checker uses.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout import benching
from layout.channels import channels_of
from layout.geometry import HEADING_RAD, wrap
from layout.grid import Dem
from layout.land import closed_by_hazards, property_edge, setback_m, usable_land
from layout.records import Trail
from layout.settings import Limits
from layout.site import Area
from layout.soil_map import WET, closed_soil, drained_as
from layout.terrain import Terrain, cross_at, grade_at
from layout.water import Strips

Floats = NDArray[np.float64]

FREE, SHORT_ONLY, CLOSED = 0, 1, 2
LATTICE_M = 2.0  # on fine grids; as good layouts as 1 m at a quarter of the states
LATTICE_COARSE_M = 2.5  # on grids of cells over 2 m
# A straight baseline in a table is not the baseline along a curve: keep a little back.
GRADE_RESERVE_PCT = 0.25
EDGE_RESERVE_M = 0.25
STEM_CLAIM_ERROR_M = 1.5  # single stems are spoken of up to this position error
CAUTION_PRICE = 0.5  # a metre at the stop costs half as much again as one below the caution
OLD_NEAR_M = 2.0  # a cell this near an old trail, and a heading along it, lies on it
OLD_ALONG_RAD = float(np.radians(23.0))
KEEP_CLEAR_M = 0.92  # 3 ft from a keep tree's bark; practice, to spare its roots
STEM_SPACE_M = 0.3  # a stem this near the edge of what is cleared comes out with it


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """A lattice of cells with what each heading may do there.

    Parameters
    ----------
    west_m, north_m, cell_m : float
        Upper left corner and cell size of the lattice, metres.
    closed : ndarray of uint8, shape (16, rows, cols)
        0 free, 1 on a short pitch only, 2 closed. Row 0 is north.
    cost : ndarray of float32, shape (16, rows, cols)
        Square metres of ground a metre of trail takes, weighted.
    width_m : float
        Trail width the tables were made for.
    passed : ndarray of bool, shape (rows, cols), or None
        Cells of strips, that may be passed on the way over water and are never
        stood on; None where no water may be crossed.
    """

    west_m: float
    north_m: float
    cell_m: float
    closed: NDArray[np.uint8]
    cost: NDArray[np.float32]
    width_m: float
    passed: NDArray[np.bool_] | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the lattice."""
        return (int(self.closed.shape[1]), int(self.closed.shape[2]))

    def centre(self, row: NDArray[np.int64], col: NDArray[np.int64]) -> tuple[Floats, Floats]:
        """Give x and y of cell centres, metres."""
        return (
            np.asarray(self.west_m + (np.asarray(col) + 0.5) * self.cell_m, dtype=np.float64),
            np.asarray(self.north_m - (np.asarray(row) + 0.5) * self.cell_m, dtype=np.float64),
        )

    def cell(self, x: Floats, y: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Give row and column of the cells points lie in (may be off the lattice)."""
        return (
            np.floor((self.north_m - np.asarray(y)) / self.cell_m).astype(np.int64),
            np.floor((np.asarray(x) - self.west_m) / self.cell_m).astype(np.int64),
        )

    def parked_clear(
        self, x: Floats, y: Floats, heading_rad: Floats, body_m: float
    ) -> NDArray[np.bool_]:
        """Tell where an outfit of a length stands clear of strips that may be passed.

        Parameters
        ----------
        x, y, heading_rad : ndarray of float, shape (n,)
            Where its rear stands, and the heading away from the landing.
        body_m : float
            Its length, toward the landing.

        Returns
        -------
        ndarray of bool, shape (n,)
        """
        if self.passed is None:
            return np.ones(np.shape(x), dtype=bool)
        clear = np.ones(np.shape(x), dtype=bool)
        for share in (0.0, 0.5, 1.0):
            row, col = self.cell(
                x - share * body_m * np.cos(heading_rad), y - share * body_m * np.sin(heading_rad)
            )
            row, col = np.clip(row, 0, self.shape[0] - 1), np.clip(col, 0, self.shape[1] - 1)
            clear &= ~self.passed[row, col]
        return clear

    def states(self, closed: NDArray[np.uint8]) -> "Ground":
        """Give the same ground with another table of what is closed."""
        return replace(self, closed=closed)


def lattice_cell_m(dem: Dem) -> float:
    """Choose the lattice cell: a whole multiple or share of the elevation cell."""
    if dem.cell_m <= LATTICE_M:
        return dem.cell_m * max(1, round(LATTICE_M / dem.cell_m))
    return dem.cell_m / max(1, round(dem.cell_m / LATTICE_COARSE_M))


def open_area(area: Area, strips: Strips) -> BaseGeometry:
    """Give the ground a machine may stand on: land, strips, setback and keep-outs.

    On a wet day soil that is mapped as poorly drained is no part of it.

    Parameters
    ----------
    area : Area
        The job.
    strips : Strips
        Its water strips.

    Returns
    -------
    Polygon or MultiPolygon
        May be empty.
    """
    land = usable_land(area)
    if area.property_line is not None and area.property_line.geom_type.endswith("Polygon"):
        # ground of ours ends at the line, except where a permission is held
        land = shapely.union_all([land.intersection(area.property_line), area.may_use])
    barred = [
        property_edge(area).buffer(setback_m(area)),
        closed_by_hazards(area),
        _keep_trees(area),
        closed_soil(area),
        *area.keep_out,
        *[strip.shape for strip in strips.polygons],
    ]
    return land.difference(shapely.union_all(barred))


def _keep_trees(area: Area) -> BaseGeometry:
    """Give the ground round keep trees that machines stay off, to spare their roots."""
    trees = area.trees
    rows = [i for i, word in enumerate(trees.keep) if word and not trees.marked[i]]
    if not rows or not stems_known(area):
        return shapely.Point()
    radius = KEEP_CLEAR_M + np.nan_to_num(trees.dbh_cm[rows]) / 200
    discs = shapely.buffer(np.asarray(shapely.points(trees.x[rows], trees.y[rows])), radius)
    return shapely.union_all(discs)


def trail_area(opened: BaseGeometry, width_m: float) -> BaseGeometry:
    """Give where a centre line may run so that the whole width stays on open ground."""
    return opened.buffer(-(width_m / 2 + EDGE_RESERVE_M))


def build(
    area: Area,
    terrain: Terrain,
    opened: BaseGeometry,
    limits: Limits,
    *,
    width_m: float,
    weight: float,
) -> Ground:
    """Fill the lattice tables for trails of one width.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its elevations.
    opened : shapely geometry
        Ground a machine may stand on (`open_area`).
    limits : Limits
        Limits in force today.
    width_m : float
        Trail width, metres.
    weight : float
        Objective weight of a square metre of new trail.

    Returns
    -------
    Ground
    """
    dem = terrain.dem
    cell = lattice_cell_m(dem)
    frame = shapely.union_all([area.stand, area.may_use]).bounds
    # snapped to the elevation grid's own corner so that a shift by whole cells changes nothing
    col0 = int(np.floor((frame[0] - dem.west_m) / cell)) - 1
    row0 = int(np.floor((dem.north_m - frame[3]) / cell)) - 1
    cols = int(np.ceil((frame[2] - dem.west_m) / cell)) + 1 - col0
    rows = int(np.ceil((dem.north_m - frame[1]) / cell)) + 1 - row0
    west, north = dem.west_m + col0 * cell, dem.north_m - row0 * cell
    x = west + (np.arange(cols) + 0.5) * cell
    y = north - (np.arange(rows) + 0.5) * cell
    gx, gy = np.meshgrid(x, y)

    room = trail_area(opened, width_m)
    shapely.prepare(room)
    inside = np.asarray(shapely.contains_xy(room, gx, gy))
    closed = np.full((16, rows, cols), CLOSED, dtype=np.uint8)
    cost = np.zeros((16, rows, cols), dtype=np.float32)
    stems = _stem_cost(area, gx, gy, inside, width_m)
    old, benched = _old_trails(area, gx, gy, inside)

    px, py = gx[inside], gy[inside]
    soft = wet_factor(area, wet_reach(area, terrain, width_m), px, py)
    rule = benching.rule_of(area.settings, limits)
    free_m = None if rule is None else _free_m(opened, px, py)
    for heading in range(8):
        angle = float(HEADING_RAD[heading])
        grade = grade_at(terrain, px, py, angle)  # loaded direction of a trail led outward
        cross = cross_at(terrain, px, py, angle, width_m)
        on_old = old[heading][inside]
        flat_bench = benched[heading][inside]
        cross = np.where(flat_bench, np.minimum(cross, 0.0), cross)
        level, dug = cross, None
        if rule is not None and free_m is not None:
            # on a bench the outfit stands level; what is left to judge is the grade
            dug = rule.digs(cross, GRADE_RESERVE_PCT)
            level = np.where(dug, 0.0, cross)
            made = benching.section(np.where(dug, cross, 0.0), width_m)
            fits = (made.cut_height_m <= benching.CUT_MOST_M) & (
                free_m >= benching.reach_m(made, width_m) + EDGE_RESERVE_M
            )
            dig_m2 = np.where(fits, made.width_m, 0.0) * area.settings.objective.benched
        for way, signed in ((heading, grade), (heading + 8, -grade)):
            flag, dear = _judge(signed, level, limits)
            per_m = width_m * weight * dear
            per_m = np.where(on_old, per_m * area.settings.objective.existing, per_m)
            if dug is not None:
                flag = np.where(dug & ~fits, CLOSED, flag).astype(np.uint8)
                per_m = np.where(dug, dig_m2 * dear, per_m)
            closed[way][inside] = flag
            cost[way][inside] = per_m * soft + stems[inside]
    return Ground(west, north, cell, closed, cost, width_m)


def _judge(grade: Floats, cross: Floats, limits: Limits) -> tuple[NDArray[np.uint8], Floats]:
    """Flag each cell for one heading and price what lies past the caution."""
    favourable, adverse = np.maximum(-grade, 0.0), np.maximum(grade, 0.0)
    reserve = GRADE_RESERVE_PCT
    sustained = (favourable <= limits.favourable_pct - reserve) & (
        adverse <= limits.adverse_pct - reserve
    )
    short = (favourable <= limits.favourable_short_pct - reserve) & (
        adverse <= limits.adverse_short_pct - reserve
    )
    level = cross <= limits.cross_pct - reserve
    flag = np.where(sustained & level, FREE, np.where(short & level, SHORT_ONLY, CLOSED))
    flag = np.where(np.isfinite(grade) & np.isfinite(cross), flag, CLOSED).astype(np.uint8)
    past = (
        _past(favourable, limits.favourable_caution_pct, limits.favourable_pct)
        + _past(adverse, limits.adverse_caution_pct, limits.adverse_pct)
        + _past(cross, limits.cross_caution_pct, limits.cross_pct)
    )
    return flag, 1.0 + CAUTION_PRICE * np.nan_to_num(past)


def _free_m(opened: BaseGeometry, x: Floats, y: Floats) -> Floats:
    """Give how far points on open ground lie from what is closed, metres."""
    edge = opened.boundary
    shapely.prepare(edge)
    return np.asarray(shapely.distance(edge, shapely.points(x, y)), dtype=float)


def _past(value: Floats, caution: float, stop: float) -> Floats:
    """Give how far a value lies between caution and stop, 0 to 1 and beyond."""
    return np.maximum(value - caution, 0.0) / max(stop - caution, 1e-6)


def wet_reach(area: Area, terrain: Terrain, width_m: float) -> BaseGeometry | None:
    """Give where a centre line is when its trail touches wet ground.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its elevations.
    width_m : float
        Trail width.

    Returns
    -------
    geometry or None
        Possible channels, wet hollows, floors of closed basins and soil that is mapped as
        poorly drained, widened and prepared; None where there is none.
    """
    soft = channels_of(area, terrain).soft.union(drained_as(area, WET))
    reach = soft.buffer(width_m / 2)
    shapely.prepare(reach)
    return None if reach.is_empty else reach


def wet_factor(area: Area, reach: BaseGeometry | None, x: Floats, y: Floats) -> Floats:
    """Give how much dearer a trail is at points for the wet ground under it.

    Parameters
    ----------
    area : Area
        Its ``objective.wet_ground`` is the price.
    reach : geometry or None
        From `wet_reach`.
    x, y : ndarray of float, shape (n,)
        Points of the centre line, metres.

    Returns
    -------
    ndarray of float, shape (n,)
        1 on ground that is not known to be wet.
    """
    if reach is None:
        return np.ones(x.shape)
    wet = np.asarray(shapely.contains_xy(reach, x, y))
    return np.where(wet, area.settings.objective.wet_ground, 1.0)


def _stem_cost(
    area: Area, gx: Floats, gy: Floats, inside: NDArray[np.bool_], width_m: float
) -> Floats:
    """Price the leave stems a metre of trail through each cell would take out.

    Used only where single stems are known well enough; the exact count is made
    on the finished line.
    """
    out = np.zeros_like(gx)
    trees = area.trees
    if not stems_known(area):
        return out
    standing = ~trees.marked
    if not standing.any() or not inside.any():
        return out
    reach = width_m / 2 + STEM_SPACE_M
    price = area.settings.objective.stem_removed_m2
    cells = np.asarray(shapely.points(gx[inside], gy[inside]))
    tree = shapely.STRtree(np.asarray(shapely.points(trees.x[standing], trees.y[standing])))
    hit, _ = tree.query(cells, predicate="dwithin", distance=reach)
    count = np.bincount(hit, minlength=len(cells)).astype(float)
    out[inside] = price * count / (np.pi / 2 * reach)  # mean chord of a disc
    return out


def stems_known(area: Area) -> bool:
    """Tell whether claims about single stems may be made."""
    return bool(
        area.trees.full_list
        and len(area.trees) > 0
        and area.settings.stand.position_error_m <= STEM_CLAIM_ERROR_M
    )


def stems_in_trails(
    area: Area,
    trails: Sequence[Trail],
    benches: Mapping[str, benching.Bench],
    cleared: Sequence[BaseGeometry] = (),
) -> NDArray[np.bool_]:
    """Tell which listed stems come out with trails and what else is cleared.

    Parameters
    ----------
    area : Area
        The job.
    trails : sequence of Trail
    benches : mapping of str to Bench
        New benches, by trail.
    cleared : sequence of geometry, optional
        Turning places and landing.

    Returns
    -------
    ndarray of bool, shape (n,)
        Marked or not: those inside, or within 0.3 m of the edge. All False where single
        stems are not known well enough.
    """
    out = np.zeros(len(area.trees), dtype=bool)
    if not stems_known(area):
        return out
    stems = shapely.points(area.trees.x, area.trees.y)
    for trail in trails:
        out |= np.asarray(shapely.dwithin(trail.line, stems, trail.width_m / 2 + STEM_SPACE_M))
    for shape in (*(bench.shape for bench in benches.values()), *cleared):
        out |= np.asarray(shapely.dwithin(shape, stems, STEM_SPACE_M))
    return out


def _old_trails(
    area: Area, gx: Floats, gy: Floats, inside: NDArray[np.bool_]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Mark the cells and headings that follow an old trail, and a sound bench."""
    rows, cols = gx.shape
    old = np.zeros((8, rows, cols), dtype=bool)
    benched = np.zeros_like(old)
    cells = np.flatnonzero(inside.ravel())
    points = np.asarray(shapely.points(gx.ravel()[cells], gy.ravel()[cells]))
    for trail in area.existing:
        near = np.asarray(shapely.dwithin(trail.line, points, OLD_NEAR_M))
        hit, on = cells[near], points[near]
        if not hit.size:
            continue
        at = np.asarray(shapely.line_locate_point(trail.line, on))
        ahead = shapely.line_interpolate_point(trail.line, np.minimum(at + 1, trail.line.length))
        behind = shapely.line_interpolate_point(trail.line, np.maximum(at - 1, 0.0))
        bearing = np.arctan2(
            shapely.get_y(ahead) - shapely.get_y(behind),
            shapely.get_x(ahead) - shapely.get_x(behind),
        )
        for heading in range(8):
            apart = np.abs(wrap(HEADING_RAD[heading] - bearing))
            along = hit[np.minimum(apart, np.pi - apart) <= OLD_ALONG_RAD]
            old[heading].reshape(-1)[along] = True
            if trail.benched:
                benched[heading].reshape(-1)[along] = True
    return old, benched
