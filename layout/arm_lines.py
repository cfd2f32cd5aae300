"""Lines to try as arms: as wide as a main trail, off the mains that stand and off the landing.

They are searched for from all the turn-outs of the mains and from the landing's other
run-ins, out to groups of marked trees far from what stands.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import fairline, lattice
from layout.fairline import Judge
from layout.far_ends import GROUPS, drawn, ends, groups, marked_xy
from layout.geometry import HEADING_RAD, along, bearings, fair_curve, wrap
from layout.ground import CLOSED, Ground
from layout.landing import run_in_m
from layout.launches import LaunchRules, turn_outs
from layout.mains import BAND_SHARE, LEFT_M2, SPUR_SHARE, TURN_COST_M2, wide_ground
from layout.network import Branch
from layout.records import Landing
from layout.run_ins import RunIns, run_ins
from layout.settings import Limits
from layout.site import Area
from layout.sprouts import block, close_states
from layout.terrain import Terrain
from layout.water import Strips

Floats = NDArray[np.float64]

REPAIRS = 6
SHORTEST_ARM_M = 60.0  # what is shorter is a spur's work; ours
APART_M = 8.0  # lines offered together keep this far from each other
TURNED_RAD = math.radians(40.0)  # run-ins this far from the mains' own


@dataclass(frozen=True, slots=True, eq=False)
class Wide:
    """Ground and rules for lines as wide as a main trail."""

    table: Ground
    judge: Judge
    opened: BaseGeometry
    landing: Landing


@dataclass(frozen=True, slots=True, eq=False)
class Arm:
    """One arm: its line, landing end first, the main it leaves (-1: the landing), and where."""

    line: Floats
    parent: int
    mouth_m: float
    cost_m2: float


def wide(
    area: Area,
    terrain: Terrain,
    opened: BaseGeometry,
    limits: Limits,
    landing: Landing,
    strips: Strips,
) -> Wide:
    """Prepare the ground for arms.

    Parameters
    ----------
    area, terrain, opened, limits, landing, strips
        As `mains.candidate_mains` takes them.

    Returns
    -------
    Wide
    """
    table, judge = wide_ground(area, terrain, opened, limits, strips)
    rows, cols = table.shape
    x, y = np.broadcast_arrays(*table.centre(np.arange(rows)[:, None], np.arange(cols)[None, :]))
    yard = landing.shape.buffer(judge.width_m / 2)
    shapely.prepare(yard)
    inside = np.asarray(shapely.contains_xy(yard, x, y))
    closed = table.closed.copy()
    closed[:, inside] = CLOSED  # no trail leads over the landing
    return Wide(table.states(closed), judge, opened, landing)


def offered_arms(
    ground: Wide, standing: Sequence[Branch], hosts: Sequence[int] = (0,)
) -> list[Arm]:
    """Lay out arms to try, the most promising first, each clear of the others.

    Parameters
    ----------
    ground : Wide
        Ground for arms.
    standing : sequence of Branch
        Trails that stand; those that leave the landing have parent -1.
    hosts : sequence of int, optional
        Which of them arms may leave.

    Returns
    -------
    list of Arm
        Every one keeps the limits at 1 m stations.
    """
    judge, area = ground.judge, ground.judge.area
    xy = marked_xy(area)
    if not len(xy):
        return []
    trees = np.asarray(shapely.points(xy))
    lines = [branch.line for branch in standing]
    apart = np.min([shapely.distance(LineString(line), trees) for line in lines], axis=0)
    band = BAND_SHARE * area.settings.winch.working_reach_m
    far = xy[apart > 2 * band]
    parted = groups(far, (ground.landing.x, ground.landing.y), GROUPS)
    if not parted:
        return []
    found = _sound_arms(ground, standing, hosts, far, parted)
    return _clear_of_each_other(judge, found, trees, apart)


def _clear_of_each_other(
    judge: Judge, found: list[Arm], trees: NDArray[np.object_], apart: Floats
) -> list[Arm]:
    """Take the line that saves most by a soft guess, then the next that keeps clear of it."""
    settings = judge.area.settings
    band = BAND_SHARE * settings.winch.working_reach_m
    per_m = SPUR_SHARE * settings.trails.width_spur_m * settings.objective.spur

    def spurs_m2(away: Floats) -> Floats:
        return np.minimum(per_m * np.maximum(away - band, 0.0), LEFT_M2)

    shapes = [LineString(arm.line) for arm in found]
    reach = [np.asarray(shapely.distance(shape, trees), dtype=float) for shape in shapes]
    left = list(range(len(found)))
    taken: list[int] = []
    while left:
        gain = [
            float((spurs_m2(apart) - spurs_m2(np.minimum(apart, reach[k]))).sum())
            - found[k].cost_m2
            for k in left
        ]
        best = int(np.argmax(gain))
        if gain[best] <= 0:
            break
        k = left[best]
        taken.append(k)
        apart = np.minimum(apart, reach[k])
        left = [m for m in left if shapes[m].distance(shapes[k]) > APART_M]
    return [found[k] for k in taken]


def _sound_arms(
    ground: Wide,
    standing: Sequence[Branch],
    hosts: Sequence[int],
    far: Floats,
    parted: list[Floats],
) -> list[Arm]:
    """Search, lay out, measure, close what breaks a limit, and search again."""
    judge = ground.judge
    kept: dict[bytes, Arm] = {}
    blocked = np.maximum(block(ground.table, [b.line for b in standing]), ground.table.closed)
    starts = _starts(ground, standing, hosts)
    for way in (ground.table, drawn(ground.table, far)):
        closed = blocked.copy()
        for _ in range(REPAIRS):
            mine: dict[bytes, Arm] = {}
            table = way.states(closed)
            field = lattice.search(
                table, starts.state, starts.cost, starts.length, starts.straight,
                radius_m=judge.radius_m, longest_m=math.inf, turn_cost=TURN_COST_M2,
                short_pitch_m=judge.limits.short_pitch_m,
            )  # fmt: skip
            broken = False
            for state in ends(table, field, judge, ground.opened, parted):
                chain, source = lattice.trace(field, state)
                _, row, col = lattice.parts(table, np.array(chain))
                corners = np.concatenate(
                    [starts.corners[source], np.column_stack(table.centre(row, col))]
                )
                line = fair_curve(corners, judge.radius_m)
                measured = fairline.measure(judge, line)
                bad = measured.broken
                if bad.any():
                    st = measured.stations
                    shut = close_states(way, closed, st.x[bad], st.y[bad], st.heading_rad[bad])
                    broken = broken or shut > 0
                elif float(along(line)[-1]) >= SHORTEST_ARM_M:
                    mine[line.tobytes()] = Arm(
                        line, int(starts.parent[source]), float(starts.mouth_m[source]),
                        float(measured.price_m2[-1]),
                    )  # fmt: skip
            kept.update(mine)
            if not broken:
                break
    return sorted(kept.values(), key=lambda arm: (arm.cost_m2, arm.line.tobytes()))


@dataclass(frozen=True, slots=True, eq=False)
class _Starts:
    """Ways to begin an arm; arrays of shape (k,), corners before the lattice point of each."""

    state: NDArray[np.int64]
    cost: Floats
    length: Floats
    straight: Floats
    parent: NDArray[np.int64]
    mouth_m: Floats
    corners: list[Floats]


def _starts(ground: Wide, standing: Sequence[Branch], hosts: Sequence[int]) -> _Starts:
    """List the turn-outs of the mains, and the landing's run-ins away from theirs."""
    judge, settings = ground.judge, ground.judge.area.settings
    out = turn_outs(
        ground.table, judge.terrain, judge.limits, judge.room,
        [standing[n].line for n in hosts], _rules(judge), onward_m=[None] * len(hosts),
    )  # fmt: skip
    host = np.array(hosts, dtype=np.int64)
    ins = run_ins(ground.table, judge, ground.landing, run_in_m(settings))
    ins = ins.take(_other_ways(ins, standing))
    per_m = judge.width_m * judge.weight
    many = len(ins.state)
    return _Starts(
        np.concatenate([out.state, ins.state]),
        np.concatenate([out.cost, per_m * ins.length_m]),
        np.concatenate([out.length, ins.length_m]),
        np.concatenate([out.straight, ins.length_m]),
        np.concatenate([host[out.branch], np.full(many, -1)]),
        np.concatenate([out.mouth_m, np.zeros(many)]),
        [*(points[:2] for points in out.points), *(point[None, :] for point in ins.start)],
    )


def _other_ways(ins: RunIns, standing: Sequence[Branch]) -> NDArray[np.int64]:
    """Give the run-ins that lead well away from those of the mains."""
    heading = HEADING_RAD[ins.state % 16]
    good = np.ones(heading.size, dtype=bool)
    for branch in standing:
        if branch.parent < 0:
            own = float(bearings(branch.line, np.array([1.0]))[0])
            good &= np.abs(wrap(heading - own)) >= TURNED_RAD
    return np.flatnonzero(good)


def _rules(judge: Judge) -> LaunchRules:
    trails, objective = judge.area.settings.trails, judge.area.settings.objective
    return LaunchRules(
        radius_m=trails.turn_radius_m,
        angle_deg=trails.junction_angle_deg,
        tolerance_deg=trails.junction_tolerance_deg,
        start_cost_m2=objective.spur_start_m2,
        turn_cost_m2=TURN_COST_M2,
    )
