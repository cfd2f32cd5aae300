"""Straight ways off a landing: where a main trail begins."""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.fairline import Judge
from layout.geometry import HEADING_RAD, MOVE_CELLS
from layout.ground import FREE, GRADE_RESERVE_PCT, Ground
from layout.records import Landing
from layout.terrain import BASELINE_M, cross_at, grade_at

Floats = NDArray[np.float64]

CORNER_RAD = math.atan(0.5)  # the widest turn of the lattice
OFF_CENTRE = 0.25  # the run-in points at the landing's middle, within this share of its size


@dataclass(frozen=True, slots=True, eq=False)
class RunIns:
    """Straight ways off the landing; arrays of shape (k,)."""

    start: Floats  # (k, 2), on the landing's outline
    state: NDArray[np.int64]
    length_m: Floats

    def take(self, rows: NDArray[np.int64]) -> "RunIns":
        """Give some of them."""
        return RunIns(self.start[rows], self.state[rows], self.length_m[rows])


def run_ins(table: Ground, judge: Judge, landing: Landing, need_m: float) -> RunIns:
    """Find the straight ways off a landing, in each of the 16 headings.

    A way ends in a lattice point from which, looking back, the landing lies
    at least ``need_m`` and the tangent of a first corner away, and its line
    passes near the landing's middle.

    Parameters
    ----------
    table : Ground
        Lattice at the main trail's width.
    judge : Judge
        What the line is judged by.
    landing : Landing
    need_m : float
        Least straight length, metres.

    Returns
    -------
    RunIns
        May be empty.
    """
    rows, cols = table.shape
    shape = landing.shape
    least = need_m + 2 * judge.radius_m * math.tan(CORNER_RAD / 2)
    x, y = table.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    gx, gy = (a.ravel() for a in np.broadcast_arrays(x, y))
    reach = least + MOVE_CELLS.max() * table.cell_m
    near = np.asarray(shapely.dwithin(shape, shapely.points(gx, gy), reach))
    near &= ~np.asarray(shapely.contains_xy(shape, gx, gy))
    cells = np.flatnonzero(near)
    side = OFF_CENTRE * math.sqrt(shape.area)
    tables: list[tuple[Floats, NDArray[np.int64], Floats]] = []
    for heading, angle in enumerate(HEADING_RAD):
        ux, uy = math.cos(angle), math.sin(angle)
        px, py = gx[cells], gy[cells]
        ahead = (px - landing.x) * ux + (py - landing.y) * uy
        off = np.abs((py - landing.y) * ux - (px - landing.x) * uy)
        free = table.closed[heading].ravel()[cells] == FREE
        pick = (ahead > 0) & (off <= side) & free
        if not pick.any():
            continue
        px, py, mine = px[pick], py[pick], cells[pick]
        back = np.stack(
            [np.column_stack([px, py]), np.column_stack([px - reach * ux, py - reach * uy])], axis=1
        )
        meets = shapely.intersection(shapely.linestrings(back), shape)
        far = np.asarray(shapely.distance(shapely.points(px, py), meets), dtype=float)
        lane = MOVE_CELLS[heading] * table.cell_m
        good = (far >= least) & (far < least + lane + 1e-9)  # NaN where it misses the landing
        px, py, far, mine = px[good], py[good], far[good], mine[good]
        good = _legal(judge, px, py, far, float(angle))
        start = np.column_stack([px - far * ux, py - far * uy])
        tables.append((start[good], mine[good] * 16 + heading, far[good]))
    if not tables:
        return RunIns(np.zeros((0, 2)), np.zeros(0, dtype=np.int64), np.zeros(0))
    return RunIns(*(np.concatenate(column) for column in zip(*tables, strict=True)))


def _legal(judge: Judge, x: Floats, y: Floats, far: Floats, angle: float) -> NDArray[np.bool_]:
    """Tell which run-ins ending at points keep the sustained limits all along."""
    if not x.size:
        return np.zeros(0, dtype=bool)
    lim, reserve = judge.limits, GRADE_RESERVE_PCT
    back = np.arange(0.0, float(far.max()) + 1.0)[None, :]
    back = np.minimum(back, far[:, None])
    px, py = x[:, None] - back * math.cos(angle), y[:, None] - back * math.sin(angle)
    # as the checker does it: the baseline moves to stay on the line near its start
    middle = np.minimum(back, far[:, None] - BASELINE_M / 2)
    grade = grade_at(
        judge.terrain,
        x[:, None] - middle * math.cos(angle),
        y[:, None] - middle * math.sin(angle),
        angle,
    )
    cross = cross_at(judge.terrain, px, py, angle, judge.width_m)
    good = (
        (-grade <= lim.favourable_pct - reserve)
        & (grade <= lim.adverse_pct - reserve)
        & (cross <= lim.cross_pct - reserve)
        & np.asarray(shapely.contains_xy(judge.room, px, py))
    )
    return np.asarray(good.all(axis=1))
