"""The best way to one place: from the landing, or by a turn-out off a trail that is there.

The same search, fair curve and measurement as for trails that are chosen, for a
person who points at a place and asks how a trail would get there.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout import crossing_ways, fairline, lattice
from layout.errors import NoWayError
from layout.fairline import Judge, Measured
from layout.geometry import along, fair_curve
from layout.ground import FREE, Ground
from layout.landing import run_in_m
from layout.launches import LaunchRules, turn_outs
from layout.mains import TURN_COST_M2
from layout.records import Landing
from layout.run_ins import run_ins
from layout.settings import Limits
from layout.site import Area
from layout.speech import speak_length
from layout.sprouts import blocked, close_states
from layout.terrain import Terrain
from layout.water import Strips

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR_CELLS = 1.5  # a way that ends within so many cells of the place leads there
REPAIRS = 12
LEAD_RADII = 2.2  # about a turn-out's own length


@dataclass(frozen=True, slots=True, eq=False)
class WayGround:
    """Tables and judge for ways of one width."""

    area: Area
    terrain: Terrain
    limits: Limits
    room: BaseGeometry
    table: Ground
    judge: Judge
    longest_m: float


@dataclass(frozen=True, slots=True, eq=False)
class WayTo:
    """A way found.

    Parameters
    ----------
    line : ndarray of float, shape (n, 2)
        Landing end first.
    host : int
        Number of the trail it leaves, as handed in; -1 for the landing.
    measured : Measured
        Nothing in it is broken.
    """

    line: Floats
    host: int
    measured: Measured


@dataclass(frozen=True, slots=True, eq=False)
class _Starts:
    """Where a search begins; arrays of shape (k,), ``points`` one array each."""

    state: Ints
    cost: Floats
    length: Floats
    straight: Floats
    host: Ints
    points: tuple[Floats, ...]


def way_ground(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    opened: BaseGeometry,
    limits: Limits,
    *,
    main: bool,
) -> WayGround:
    """Prepare the ground for ways of a main trail's or a spur's width.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job.
    opened : geometry
        Ground a machine may stand on.
    limits : Limits
        Limits in force today.
    main : bool
        Whether it is for main trails; a spur has its longest length.

    Returns
    -------
    WayGround
    """
    trails, objective = area.settings.trails, area.settings.objective
    width = trails.width_main_m if main else trails.width_spur_m
    weight = objective.main if main else objective.spur
    table = crossing_ways.build(area, terrain, strips, opened, limits, width_m=width, weight=weight)
    judge = fairline.judge_for(
        area, terrain, limits, opened, width_m=width, weight=weight,
        passages=crossing_ways.passages(area, terrain, strips, width),
        strips=strips.polygons,
    )  # fmt: skip
    longest = math.inf if main else trails.spur_length_m
    return WayGround(area, terrain, limits, opened, table, judge, longest)


def way_to(
    given: WayGround, landing: Landing | None, lines: Sequence[Floats], xy: tuple[float, float]
) -> WayTo:
    """Find the best way to a place.

    Parameters
    ----------
    given : WayGround
    landing : Landing or None
        Where a way begins if no trail is handed in.
    lines : sequence of ndarray, each of shape (n, 2)
        Trails that are there, landing end first; the way leaves one of them.
    xy : tuple of float
        The place, metres.

    Returns
    -------
    WayTo

    Raises
    ------
    NoWayError
        If none gets there within the limits; says how near one comes.
    """
    starts = _off_trails(given, lines) if lines else _off_landing(given, landing)
    closed = given.table.closed.copy()
    alive = np.ones(starts.state.size, dtype=bool)
    for _ in range(REPAIRS):
        now = blocked(given.table, closed, list(lines)) if lines else closed
        ground = given.table.states(now)
        open_ = np.flatnonzero(alive & _free(ground, starts.state))
        if not open_.size:
            break
        field = lattice.search(
            ground, starts.state[open_], starts.cost[open_], starts.length[open_],
            starts.straight[open_], radius_m=given.judge.radius_m, longest_m=given.longest_m,
            turn_cost=TURN_COST_M2, short_pitch_m=given.limits.short_pitch_m,
        )  # fmt: skip
        way, start = _traced(given, ground, field, starts, open_, xy)
        bad = way.measured.broken
        if not bad.any():
            return way
        st = way.measured.stations
        new = close_states(given.table, closed, st.x[bad], st.y[bad], st.heading_rad[bad])
        if not new or st.at_m[bad].min() < LEAD_RADII * given.judge.radius_m:
            alive[start] = False  # what breaks a limit is the start itself
    msg = "no way there keeps the limits all along: each one found breaks one when measured"
    raise NoWayError(msg)


def _off_landing(given: WayGround, landing: Landing | None) -> _Starts:
    if landing is None:
        msg = "draw a landing first: the way has to begin somewhere"
        raise NoWayError(msg)
    need = run_in_m(given.area.settings)
    ins = run_ins(given.table, given.judge, landing, need)
    if not ins.state.size:
        units = given.area.settings.area.units
        msg = f"no straight run-in of {speak_length(need, units)} leaves the landing in any heading"
        raise NoWayError(msg)
    return _Starts(
        ins.state,
        given.judge.width_m * given.judge.weight * ins.length_m,
        ins.length_m,
        ins.length_m,
        np.full(ins.state.size, -1, dtype=np.int64),
        tuple(ins.start[k : k + 1] for k in range(ins.state.size)),
    )


def _off_trails(given: WayGround, lines: Sequence[Floats]) -> _Starts:
    trails, objective = given.area.settings.trails, given.area.settings.objective
    rules = LaunchRules(
        radius_m=trails.turn_radius_m,
        angle_deg=trails.junction_angle_deg,
        tolerance_deg=trails.junction_tolerance_deg,
        start_cost_m2=objective.spur_start_m2,
        turn_cost_m2=TURN_COST_M2,
    )
    found = turn_outs(
        given.table, given.terrain, given.limits, given.judge.room, list(lines), rules,
        onward_m=[None] * len(lines),
    )  # fmt: skip
    if not len(found):
        msg = "no turn-out off the trails that are drawn keeps the limits; bend them, or draw it"
        raise NoWayError(msg)
    return _Starts(
        found.state, found.cost, found.length, found.straight,
        np.asarray(found.branch, dtype=np.int64), tuple(found.points),
    )  # fmt: skip


def _free(ground: Ground, state: Ints) -> NDArray[np.bool_]:
    heading, row, col = lattice.parts(ground, state)
    return np.asarray(ground.closed[heading, row, col] == FREE)


def _traced(
    given: WayGround, ground: Ground, field: lattice.Field, starts: _Starts, open_: Ints,
    xy: tuple[float, float],
) -> tuple[WayTo, int]:  # fmt: skip
    rows, cols = ground.shape
    by_cell = field.cost.reshape(rows * cols, 16)
    cost = by_cell.min(axis=1)
    cells = np.flatnonzero(np.isfinite(cost))
    units = given.area.settings.area.units
    if not cells.size:
        msg = "no way gets off the landing or the trails within the limits"
        raise NoWayError(msg)
    x, y = ground.centre(cells // cols, cells % cols)
    apart = np.hypot(x - xy[0], y - xy[1])
    if apart.min() > NEAR_CELLS * ground.cell_m:
        far = speak_length(float(apart.min()), units)
        msg = (
            f"no way within the limits comes nearer than {far}; ask for a place nearer by, give "
            "the trail an arm, or look at slope, strips and closed ground between"
        )
        raise NoWayError(msg)
    near = np.flatnonzero(apart <= max(NEAR_CELLS * ground.cell_m, float(apart.min()) + 1e-9))
    cell = int(cells[near[int(np.argmin(cost[cells[near]]))]])
    state = cell * 16 + int(np.argmin(by_cell[cell]))
    chain, source = lattice.trace(field, state)
    start = int(open_[source])
    _, row, col = lattice.parts(ground, np.array(chain))
    points = np.column_stack(ground.centre(row, col))
    head = starts.points[start]
    corners = np.concatenate([head, points if starts.host[start] < 0 else points[1:]])
    line = fair_curve(corners, given.judge.radius_m)
    if float(along(line)[-1]) <= 0:
        msg = "the place lies where the way would begin"
        raise NoWayError(msg)
    way = WayTo(line, int(starts.host[start]), fairline.measure(given.judge, line))
    return way, start
