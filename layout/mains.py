"""Main trails to try where none is drawn: straight off the landing, out among the marked trees.

One search from the landing reaches everywhere; ends are spread over the trees,
and the few lines that differ enough and promise most are handed to the choice,
which decides. What is scored here only says which lines are worth that.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import crossing_ways, fairline, lattice
from layout.errors import NoWayError
from layout.fairline import Judge, Measured
from layout.geometry import (
    HEADING_RAD,
    MOVE_CELLS,
    along,
    at_stations,
    fair_curve,
)
from layout.ground import FREE, GRADE_RESERVE_PCT, Ground
from layout.landing import run_in_m
from layout.records import Landing
from layout.settings import Limits
from layout.site import Area
from layout.soil_map import closed_soil
from layout.sprouts import close_states
from layout.terrain import BASELINE_M, Terrain, cross_at, grade_at
from layout.turning import pad_radius_m, pad_room, pads
from layout.water import Strips

Floats = NDArray[np.float64]

TURN_COST_M2 = 1.0
CORNER_RAD = math.atan(0.5)  # the widest turn of the lattice
OFF_CENTRE = 0.25  # the run-in points at the landing's middle, within this share of its size
GROUPS = 10  # ends tried
NEAR_END_M = 45.0  # a main ends within this of the middle of its group of trees
NO_PAD_M2 = 60.0  # an end without room to turn is worth this much less
DRAWN_M = 25.0  # marked trees this near draw a main to themselves
DRAWN_MOST = 0.6  # share of a metre's price that many near trees take off, in the search
DRAWN_HALF = 4.0  # trees at which half of that is reached
REPAIRS = 8
SAME_M = 5.0  # a main this near another follows it
SAME_SHARE = 0.65  # and is the same trail if it follows it this far
BAND_SHARE = 0.5  # a main serves without spurs what stands within this share of the cable's reach
SPUR_SHARE = 0.25  # about four trees share a spur
LEFT_M2 = 150.0  # a tree too far off counts as left standing
SHORTEST_M = 30.0
WORTH_A_TRY = 2.0  # a score this many times the best one is not tried


@dataclass(frozen=True, slots=True, eq=False)
class RunIns:
    """Straight ways off the landing; arrays of shape (k,)."""

    start: Floats  # (k, 2), on the landing's outline
    state: NDArray[np.int64]
    length_m: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """One main trail to try.

    Parameters
    ----------
    line : ndarray of float, shape (n, 2)
        Centre line from the landing's outline outward.
    measured : Measured
        Measured at the main trail's width; nothing is broken.
    score_m2 : float
        What a layout on it might take; only good for comparing.
    """

    line: Floats
    measured: Measured
    score_m2: float

    @property
    def cost_m2(self) -> float:
        """What the line itself costs, weighted square metres."""
        return float(self.measured.price_m2[-1])


def candidate_mains(
    area: Area,
    terrain: Terrain,
    opened: BaseGeometry,
    limits: Limits,
    landing: Landing,
    strips: Strips,
    *,
    most: int = 4,
) -> tuple[Candidate, ...]:
    """Lay out a few distinct main trails from a landing.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its elevations.
    opened : shapely geometry
        Ground a machine may stand on (`ground.open_area`).
    limits : Limits
        Limits in force today.
    landing : Landing
        Where they start.
    strips : Strips
        Water strips, for where they may be passed.
    most : int
        How many at most.

    Returns
    -------
    tuple of Candidate
        Best score first; every one keeps the limits at 1 m stations.

    Raises
    ------
    NoWayError
        If no line leaves the landing within the limits.
    """
    settings = area.settings
    width, weight = settings.trails.width_main_m, settings.objective.main
    table = crossing_ways.build(area, terrain, strips, opened, limits, width_m=width, weight=weight)
    judge = fairline.judge_for(
        area, terrain, limits, opened, width_m=width, weight=weight,
        passages=crossing_ways.passages(area, terrain, strips, width),
    )  # fmt: skip
    ins = run_ins(table, judge, landing, run_in_m(settings))
    if not ins.state.size:
        msg = (
            f"no straight run-in of {run_in_m(settings):.1f} m leaves the landing "
            f"{_within(limits)}; {_closes(area, limits)}"
        )
        raise NoWayError(msg)
    found = _sound_lines(table, judge, opened, ins)
    if not found:
        msg = f"no main trail gets away from the landing {_within(limits)}; {_closes(area, limits)}"
        raise NoWayError(msg)
    scored = [Candidate(line, m, score_m2(judge, line, m)) for line, m in found]
    scored.sort(key=lambda c: (c.score_m2, float(along(c.line)[-1]), c.line.tobytes()))
    taken: list[Candidate] = []
    for candidate in scored:
        if candidate.score_m2 > WORTH_A_TRY * scored[0].score_m2:
            break
        if len(taken) < most and all(
            overlap(candidate.line, other.line) < SAME_SHARE for other in taken
        ):
            taken.append(candidate)
    return tuple(taken)


def _within(limits: Limits) -> str:
    return (
        f"within the limits you set (favourable {limits.favourable_pct:g} %, adverse "
        f"{limits.adverse_pct:g} %, cross slope {limits.cross_pct:g} %)"
    )


def _closes(area: Area, limits: Limits) -> str:
    """Say which ground the limits close in every direction: the root of their squares."""
    steepest = math.hypot(limits.favourable_pct, limits.cross_pct)
    climbing = math.hypot(limits.adverse_pct, limits.cross_pct)
    soil = (
        "; poorly drained soil is closed on a wet day"
        if closed_soil(area).intersects(area.stand)
        else ""
    )
    return (
        f"together they close all ground steeper than {steepest:.0f} % in every direction, and "
        f"over {climbing:.0f} % where loads climb; move the landing, draw a main trail, "
        f"or look at strips, setback and keep_out around it{soil}"
    )


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


def groups(area: Area, from_xy: tuple[float, float], most: int = GROUPS) -> list[Floats]:
    """Part the marked trees into groups around trees far from each other.

    The first is the tree farthest from a point; each further one is farthest
    from those before. A group is the trees nearest to its own; ties go to the
    earlier tree of the list.

    Returns
    -------
    list of ndarray of float, shape (k, 2)
        Places of each group's trees.
    """
    trees = area.trees
    xy = np.column_stack([trees.x[trees.marked], trees.y[trees.marked]])
    if not len(xy):
        return []
    first = int(np.argmax(np.hypot(*(xy - np.array(from_xy)).T)))
    seeds = [first]
    apart = np.hypot(*(xy - xy[first]).T)
    while len(seeds) < most and apart.max() > 2 * DRAWN_M:
        seeds.append(int(np.argmax(apart)))
        apart = np.minimum(apart, np.hypot(*(xy - xy[seeds[-1]]).T))
    nearest = np.argmin(
        np.hypot(xy[:, None, 0] - xy[seeds][None, :, 0], xy[:, None, 1] - xy[seeds][None, :, 1]),
        axis=1,
    )
    return [xy[nearest == k] for k in range(len(seeds))]


def _drawn(table: Ground, area: Area) -> Ground:
    """Make metres among many marked trees cheaper in the search, so that mains pass there."""
    trees = area.trees
    rows, cols = table.shape
    x, y = table.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    gx, gy = (a.ravel() for a in np.broadcast_arrays(x, y))
    marked = np.asarray(shapely.points(trees.x[trees.marked], trees.y[trees.marked]))
    cells = np.asarray(shapely.points(gx, gy))
    hit, _ = shapely.STRtree(marked).query(cells, predicate="dwithin", distance=DRAWN_M)
    near = np.bincount(hit, minlength=len(cells)).reshape(rows, cols)
    off = DRAWN_MOST * near / (near + DRAWN_HALF)
    cost = (table.cost * (1.0 - off)).astype(np.float32)
    return replace(table, cost=cost)


def _sound_lines(
    table: Ground, judge: Judge, opened: BaseGeometry, ins: RunIns
) -> list[tuple[Floats, Measured]]:
    """Search, lay out, measure, close what breaks a limit, and search again."""
    area = judge.area
    parted = groups(area, (float(ins.start[0, 0]), float(ins.start[0, 1])))
    ways = [table, _drawn(table, area)] if parted else []
    closed = table.closed.copy()
    kept: dict[bytes, tuple[Floats, Measured]] = {}
    for _ in range(REPAIRS):
        broken = False
        kept = {}
        for way in ways:
            lattice_now = way.states(closed)
            field = _search(lattice_now, judge, ins)
            for state in _ends(lattice_now, field, judge, opened, parted):
                line = _line(lattice_now, field, judge, ins, state)
                measured = fairline.measure(judge, line)
                bad = measured.broken
                if bad.any():
                    broken = True
                    st = measured.stations
                    close_states(table, closed, st.x[bad], st.y[bad], st.heading_rad[bad])
                elif float(along(line)[-1]) >= SHORTEST_M:
                    kept[line.tobytes()] = (line, measured)
        if not broken:
            break
    return list(kept.values())


def _search(table: Ground, judge: Judge, ins: RunIns) -> lattice.Field:
    per_m = judge.width_m * judge.weight
    return lattice.search(
        table,
        ins.state,
        per_m * ins.length_m,
        ins.length_m,
        ins.length_m,
        radius_m=judge.radius_m,
        longest_m=math.inf,
        turn_cost=TURN_COST_M2,
        short_pitch_m=judge.limits.short_pitch_m,
    )


def _ends(
    table: Ground,
    field: lattice.Field,
    judge: Judge,
    opened: BaseGeometry,
    parted: list[Floats],
) -> list[int]:
    """Choose one end for each group: cheap to reach, near its middle, with room to turn."""
    rows, cols = table.shape
    by_cell = field.cost.reshape(rows * cols, 16)
    best = np.argmin(by_cell, axis=1)
    cost = by_cell[np.arange(rows * cols), best]
    cells = np.flatnonzero(np.isfinite(cost))
    if table.passed is not None:  # a trail does not end in a strip
        cells = cells[~table.passed.ravel()[cells]]
    if not cells.size:
        return []
    x, y = table.centre(cells // cols, cells % cols)
    settings = judge.area.settings
    per_m = settings.trails.width_spur_m * settings.objective.spur
    radius = pad_radius_m(settings.tractor.length_m)
    out: list[int] = []
    for trees in parted:
        apart = np.hypot(x - trees[:, 0].mean(), y - trees[:, 1].mean())
        near = np.flatnonzero(apart <= max(NEAR_END_M, float(apart.min()) + table.cell_m))
        level = pads(
            judge.terrain, pad_room(opened, radius), near.astype(float), x[near], y[near], radius
        )
        price = cost[cells[near]] + apart[near] * per_m + NO_PAD_M2
        price[np.isin(near, level.at_m.astype(np.int64))] -= NO_PAD_M2
        cell = int(cells[near[int(np.argmin(price))]])
        out.append(cell * 16 + int(best[cell]))
    return sorted(set(out))


def _line(table: Ground, field: lattice.Field, judge: Judge, ins: RunIns, state: int) -> Floats:
    chain, source = lattice.trace(field, state)
    _, row, col = lattice.parts(table, np.array(chain))
    corners = np.concatenate(
        [ins.start[source : source + 1], np.column_stack(table.centre(row, col))]
    )
    return fair_curve(corners, judge.radius_m)


def overlap(line: Floats, other: Floats) -> float:
    """Give the share of a line that follows another, 0 to 1."""
    at = np.arange(0.0, float(along(line)[-1]), 1.0)
    points = shapely.points(at_stations(line, at))
    return float(np.mean(shapely.dwithin(LineString(other), points, SAME_M)))


def score_m2(judge: Judge, line: Floats, measured: Measured) -> float:
    """Guess what a layout on a main trail takes, weighted square metres.

    The main itself, and for each marked tree outside the band the main serves
    by cable a share of a straight spur to it, at most the price of a tree left
    standing. Soft: no limit is looked at; the choice compares what counts.
    """
    settings, trees = judge.area.settings, judge.area.trees
    marked = shapely.points(trees.x[trees.marked], trees.y[trees.marked])
    apart = np.asarray(shapely.distance(LineString(line), marked), dtype=float)
    band = BAND_SHARE * settings.winch.working_reach_m
    per_m = SPUR_SHARE * settings.trails.width_spur_m * settings.objective.spur
    spurs = np.minimum(per_m * np.maximum(apart - band, 0.0), LEFT_M2)
    return float(measured.price_m2[-1] + spurs.sum())
