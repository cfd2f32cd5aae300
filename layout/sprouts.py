"""Grow candidate branches from the trails there are toward the trees not yet well served.

One search from all turn-outs gives shortest trails to everywhere. For each tree
the few best places to winch it from are traced back; together they form the
forest the exact choice picks from.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from layout.fairline import Judge, measure
from layout.geometry import (
    HEADING_RAD,
    along,
    at_stations,
    bearings,
    cut,
    fair_curve,
    wrap,
)
from layout.ground import CLOSED, Ground
from layout.lattice import Field, search, trace
from layout.launches import Launches, LaunchRules, turn_outs
from layout.network import Branch
from layout.winch import Pairs, PullGround, WinchRules, evaluate

Floats = NDArray[np.float64]

BEST_PLACES = 4  # traced back for each tree
APART_M = 10.0  # two of them nearer than this, off the same mouth, are one
TRAIL_APART_M = 2.2  # a new trail's lattice keeps this off the trails there are
REPAIRS = 4
SAME_LINE_M = 0.05  # lines this near each other are one
SHORTEST_M = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Grower:
    """What growing needs, made once a plan."""

    ground: Ground
    judge: Judge
    pull_ground: PullGround
    winch: WinchRules
    launch: LaunchRules
    longest_m: float
    body_m: float
    swing_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Sprouted:
    """What one growing gave.

    Parameters
    ----------
    branches : tuple of Branch
        Old ones first, then the new ones.
    closed : ndarray of uint8, shape (16, rows, cols)
        What is closed, with the states added whose lines broke a limit.
    settled : int
        States settled by the searches.
    survey : Pairs or None
        Pulls from everywhere a trail can reach, and for each tree the pull
        that came nearest to being allowed.
    """

    branches: tuple[Branch, ...]
    closed: NDArray[np.uint8]
    settled: int
    survey: Pairs | None


def block(ground: Ground, lines: list[Floats]) -> NDArray[np.uint8]:
    """Close the lattice beside trails that are there, so that nothing crosses them."""
    closed = ground.closed.copy()
    rows, cols = ground.shape
    zone = shapely.union_all(
        [LineString(line).buffer(TRAIL_APART_M, cap_style="flat") for line in lines]
    )
    shapely.prepare(zone)
    x, y = ground.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    gx, gy = np.broadcast_arrays(x, y)
    closed[:, np.asarray(shapely.contains_xy(zone, gx, gy))] = CLOSED
    return closed


def sprout(
    grower: Grower,
    branches: list[Branch],
    closed: NDArray[np.uint8],
    *,
    ends: list[bool],
    best_now: Floats,
) -> Sprouted:
    """Grow new candidate branches.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    branches : list of Branch
        The trails there are.
    closed : ndarray of uint8, shape (16, rows, cols)
        What is closed so far, repairs of earlier rounds included.
    ends : list of bool
        Which trails may be prolonged.
    best_now : ndarray of float, shape (t,)
        What each marked tree costs as things are; places that cost more in
        pulling alone are not looked at.

    Returns
    -------
    Sprouted
    """
    survey: Pairs | None = None
    lines = [branch.line for branch in branches]
    settled = 0
    banned: set[tuple[int, int, int]] = set()
    new: list[Branch] = []
    for turn in range(REPAIRS):
        ground = grower.ground.states(_with_blocks(grower.ground, closed, lines))
        launches = turn_outs(
            ground,
            grower.judge.terrain,
            grower.judge.limits,
            grower.judge.room,
            lines,
            grower.launch,
            ends=ends,
        )
        launches = _without(launches, banned)
        if not len(launches):
            return Sprouted(tuple(branches), closed, settled, survey)
        field = search(
            ground,
            launches.state,
            launches.cost,
            launches.length,
            launches.straight,
            radius_m=grower.launch.radius_m,
            longest_m=grower.longest_m,
            turn_cost=grower.launch.turn_cost_m2,
        )
        settled += field.settled
        targets, survey = _targets(grower, ground, field, best_now)
        new = _branches(grower, ground, field, launches, targets, branches)
        broken = _close_broken(grower, ground, closed, new, launches, banned, len(branches), lines)
        if not broken or turn == REPAIRS - 1:
            break
    sound = _sound(new, len(branches))
    return Sprouted((*branches, *sound), closed, settled, survey)


def _with_blocks(
    ground: Ground, closed: NDArray[np.uint8], lines: list[Floats]
) -> NDArray[np.uint8]:
    return np.maximum(block(ground, lines), closed)


def _without(launches: Launches, banned: set[tuple[int, int, int]]) -> Launches:
    if not banned:
        return launches
    keep = np.array(
        [
            (int(b), round(float(m) * 100), int(s)) not in banned
            for b, m, s in zip(launches.branch, launches.mouth_m, launches.state, strict=True)
        ],
        dtype=bool,
    )
    return Launches(
        launches.branch[keep],
        launches.mouth_m[keep],
        launches.state[keep],
        launches.points[keep],
        launches.cost[keep],
        launches.length[keep],
        launches.straight[keep],
    )


def _targets(
    grower: Grower, ground: Ground, field: Field, best_now: Floats
) -> tuple[list[int], Pairs | None]:
    """Choose the states worth tracing back: a few for each marked tree."""
    rows, cols = ground.shape
    state = np.flatnonzero(np.isfinite(field.cost) & (field.straight >= grower.body_m))
    if not state.size:
        return [], None
    heading, cell = state // (rows * cols), state % (rows * cols)
    x, y = ground.centre(cell // cols, cell % cols)
    pairs = evaluate(
        grower.pull_ground,
        grower.winch,
        x,
        y,
        HEADING_RAD[heading],
        np.full(state.size, grower.swing_deg),
        np.zeros(state.size, dtype=bool),
    )
    score = field.cost[state[pairs.pos]] + pairs.cost_m2
    useful = pairs.cost_m2 < best_now[pairs.tree]
    order = np.lexsort((pairs.pos, score, pairs.tree))
    taken: dict[int, list[int]] = {}
    chosen: set[int] = set()
    for k in order:
        if not useful[k]:
            continue
        mine = taken.setdefault(int(pairs.tree[k]), [])
        if len(mine) >= BEST_PLACES:
            continue
        p = int(pairs.pos[k])
        if any(abs(x[p] - x[q]) + abs(y[p] - y[q]) < APART_M for q in mine):
            continue
        mine.append(p)
        chosen.add(int(state[p]))
    return sorted(chosen), pairs


def _branches(
    grower: Grower,
    ground: Ground,
    field: Field,
    launches: Launches,
    targets: list[int],
    old: list[Branch],
) -> list[Branch]:
    """Trace targets back and lay out one fair line each, longest first."""
    rows, cols = ground.shape
    order = sorted(targets, key=lambda s: (-float(field.cost[s]), s))
    owner: dict[int, tuple[int, Floats]] = {}
    out: list[Branch] = []
    stops: dict[int, list[float]] = {}
    for target in order:
        if target in owner:
            number, xy = owner[target]
            stops[number].append(_nearest_m(out[number - len(old)].line, xy))
            continue
        chain, source = trace(field, target)
        cells = np.array(chain) % (rows * cols)
        x, y = ground.centre(cells // cols, cells % cols)
        corners = np.concatenate([launches.points[source], np.column_stack([x, y])[1:]])
        curve = fair_curve(corners, grower.launch.radius_m)
        parent, mouth = int(launches.branch[source]), float(launches.mouth_m[source])
        shared = [k for k, s in enumerate(chain) if s in owner]
        if shared:
            parent = owner[chain[shared[-1]]][0]
            split = _parting_m(curve, out[parent - len(old)].line)
            curve = cut(curve, split, float(along(curve)[-1]))
            mouth = _nearest_m(out[parent - len(old)].line, curve[0])
            curve[0] = at_stations(out[parent - len(old)].line, np.array([mouth]))[0]
        if float(along(curve)[-1]) < SHORTEST_M:
            continue
        number = len(old) + len(out)
        for k, s in enumerate(chain):
            owner.setdefault(s, (number, np.array([x[k], y[k]])))
        out.append(Branch(curve, parent, mouth, measure(grower.judge, curve)))
        stops[number] = [float(along(curve)[-1])]
    return [
        replace(branch, stops=tuple(sorted(set(stops[len(old) + k]))))
        for k, branch in enumerate(out)
    ]


def _nearest_m(line: Floats, xy: Floats) -> float:
    return float(LineString(line).project(Point(float(xy[0]), float(xy[1]))))


def _parting_m(curve: Floats, trunk: Floats) -> float:
    """Give where a curve leaves the one it starts along, metres from its start."""
    at = np.arange(0.0, float(along(curve)[-1]), 0.25)
    points = shapely.points(at_stations(curve, at))
    off = np.asarray(shapely.distance(LineString(trunk), points)) > SAME_LINE_M
    first = int(np.argmax(off)) if off.any() else at.size - 1
    return float(at[max(first - 1, 0)])


def _close_broken(
    grower: Grower,
    ground: Ground,
    closed: NDArray[np.uint8],
    new: list[Branch],
    launches: Launches,
    banned: set[tuple[int, int, int]],
    first: int,
    lines: list[Floats],
) -> int:
    """Close the states under broken stations; ban the turn-outs that break a limit."""
    count = 0
    rows, cols = ground.shape
    lead = 2.2 * grower.launch.radius_m  # about a turn-out's own length
    for branch in new:
        broken = branch.measured.broken
        if not broken.any():
            continue
        count += 1
        st = branch.measured.stations
        r, c = ground.cell(st.x[broken], st.y[broken])
        apart = np.abs(wrap(HEADING_RAD[None, :] - st.heading_rad[broken][:, None]))
        near = np.argsort(apart, axis=1, kind="stable")[:, :2]
        on = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
        for k in range(2):
            closed[near[on, k], r[on], c[on]] = CLOSED
        if branch.parent < first and st.at_m[broken].min() < lead:
            mouth = round(branch.mouth_m * 100)
            for i in np.flatnonzero(launches.branch == branch.parent):
                if round(float(launches.mouth_m[i]) * 100) == mouth:
                    banned.add((int(launches.branch[i]), mouth, int(launches.state[i])))
    return count


def _sound(new: list[Branch], first: int) -> list[Branch]:
    """Cut branches off before the first broken station; drop what hangs beyond."""
    out: list[Branch] = []
    number: dict[int, int] = {}
    for k, branch in enumerate(new):
        parent = branch.parent
        if parent >= first:
            if parent not in number:
                continue
            host = out[number[parent] - first]
            if branch.mouth_m > host.length_m + 1e-6:
                continue
            parent = number[parent]
        sound = branch.measured.sound_m
        if sound < branch.length_m - 1e-6:
            if sound < SHORTEST_M:
                continue
            branch = replace(
                branch.until(sound),
                stops=tuple(s for s in branch.stops if s <= sound),
            )
        number[first + k] = first + len(out)
        out.append(replace(branch, parent=parent))
    return out


def straight_over(line: Floats, at_m: Floats, body_m: float, most_rad: float) -> NDArray[np.bool_]:
    """Tell where the outfit, parked with its rear at a station, stands on a straight stretch."""
    rear = bearings(line, at_m)
    middle = bearings(line, np.maximum(at_m - body_m / 2, 0.0))
    front = bearings(line, np.maximum(at_m - body_m, 0.0))
    bend = np.maximum(np.abs(wrap(rear - middle)), np.abs(wrap(rear - front)))
    return np.asarray((bend <= most_rad) & (at_m >= body_m - 1e-9))
