"""Grow candidate branches from the trails there are toward the trees not yet well served.

One search from all turn-outs gives shortest trails to everywhere. For each tree
the few best places to winch it from are traced back; together they form the
forest the choice picks from.
"""

import itertools
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from layout.geometry import HEADING_RAD, along, at_stations, cut, wrap
from layout.ground import CLOSED, Ground
from layout.lattice import Field, parts, search, trace
from layout.launches import Launches, turn_outs
from layout.line_memory import Grower, Known
from layout.network import Branch
from layout.winch import Pairs, evaluate

__all__ = ["Grower", "Known", "Sprouted", "block", "blocked", "close_states", "sprout"]

Floats = NDArray[np.float64]

BEST_PLACES = 4  # traced back for each tree
APART_M = 10.0  # two of them nearer than this, off the same mouth, are one
TRAIL_APART_M = 2.2  # a new trail's lattice keeps this off the trails there are
REPAIRS = 2  # searches a round; more changed no plan of the bench
SAME_LINE_M = 0.01  # lines this near each other are one; more would leave a kink at the fork
AT_START_M = 0.05  # a mouth this near a trunk's own start lies on what the trunk hangs on
SHORTEST_M = 3.0
PARTING_M = 8.0  # lines part this near to their last common lattice point


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
    onward_m: list[float | None],
    best_now: Floats,
    known: Known,
    most: int = BEST_PLACES,
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
    onward_m : list of float or None
        For each trail, the metres of spur that prolonging it adds to; None
        where it may not be prolonged.
    best_now : ndarray of float, shape (t,)
        What each marked tree costs as things are; places that cost more in
        pulling alone are not looked at.
    known : Known
        Lines met before; kept from round to round.
    most : int
        Places traced back for each tree.

    Returns
    -------
    Sprouted
    """
    survey: Pairs | None = None
    lines = [branch.line for branch in branches]
    settled = 0
    banned: set[tuple[int, int, int]] = set()
    new: list[Branch] = []
    every = turn_outs(
        grower.ground,
        grower.judge.terrain,
        grower.judge.limits,
        grower.judge.room,
        lines,
        grower.launch,
        onward_m=onward_m,
    )
    for turn in range(REPAIRS):
        ground = grower.ground.states(blocked(grower.ground, closed, lines))
        launches = _without(every.on_open(ground), banned)
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
            short_pitch_m=grower.judge.limits.short_pitch_m,
        )
        settled += field.settled
        targets, survey = _targets(grower, ground, field, best_now, most)
        new = _branches(grower, ground, field, launches, targets, branches, known)
        broken = _close_broken(grower, ground, closed, new, launches, banned, len(branches), lines)
        if not broken or turn == REPAIRS - 1:
            break
    sound = _sound(new, len(branches))
    return Sprouted((*branches, *sound), closed, settled, survey)


def blocked(ground: Ground, closed: NDArray[np.uint8], lines: list[Floats]) -> NDArray[np.uint8]:
    """Give what is closed, the ground beside the trails there are added."""
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
    return launches.take(keep)


def _targets(
    grower: Grower, ground: Ground, field: Field, best_now: Floats, most: int
) -> tuple[list[int], Pairs | None]:
    """Choose the states worth tracing back: a few for each marked tree."""
    state = np.flatnonzero(np.isfinite(field.cost) & (field.straight >= grower.body_m))
    if not state.size:
        return [], None
    heading, row, col = parts(ground, state)
    x, y = ground.centre(row, col)
    if ground.passed is not None:  # on the way over water nothing is winched
        clear = ground.parked_clear(x, y, HEADING_RAD[heading], grower.body_m)
        state, heading, x, y = state[clear], heading[clear], x[clear], y[clear]
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
    useful = np.flatnonzero(pairs.cost_m2 < best_now[pairs.tree])
    order = useful[np.lexsort((pairs.pos[useful], score[useful], pairs.tree[useful]))]
    at = pairs.pos[order]
    ends = np.searchsorted(pairs.tree[order], np.arange(best_now.size + 1))
    chosen: set[int] = set()
    for lo, hi in itertools.pairwise(ends):
        mine = at[lo:hi]
        for _ in range(most):  # the best, then the best of those well apart from it
            if not mine.size:
                break
            p = int(mine[0])
            chosen.add(int(state[p]))
            mine = mine[np.abs(x[mine] - x[p]) + np.abs(y[mine] - y[p]) >= APART_M]
    return sorted(chosen), pairs


def _branches(
    grower: Grower,
    ground: Ground,
    field: Field,
    launches: Launches,
    targets: list[int],
    old: list[Branch],
    known: Known,
) -> list[Branch]:
    """Trace targets back and lay out one fair line each, longest first."""
    order = sorted(targets, key=lambda s: (-float(field.cost[s]), s))
    owner: dict[int, tuple[int, Floats]] = {}
    out: list[Branch] = []
    wholes: dict[int, Floats] = {}
    stops: dict[int, list[float]] = {}
    for target in order:
        if target in owner:
            number, xy = owner[target]
            stops[number].append(_nearest_m(out[number - len(old)].line, xy))
            continue
        chain, source = trace(field, target)
        _, row, col = parts(ground, np.array(chain))
        x, y = ground.centre(row, col)
        corners = np.concatenate([launches.points[source], np.column_stack([x, y])[1:]])
        curve = known.curve(corners)
        parent, mouth = int(launches.branch[source]), float(launches.mouth_m[source])
        shared = [k for k, s in enumerate(chain) if s in owner]
        whole = curve
        if shared:
            trunk = owner[chain[shared[-1]]][0]
            last = np.array([x[shared[-1]], y[shared[-1]]])
            split = _parting_m(curve, wholes[trunk], last)
            curve = cut(curve, split, float(along(curve)[-1]))
            # the lines may part before the trunk's own mouth, on what the trunk hangs on
            parent, mouth = trunk, _nearest_m(out[trunk - len(old)].line, curve[0])
            while mouth < AT_START_M and out[parent - len(old)].parent >= len(old):
                parent = out[parent - len(old)].parent
                mouth = _nearest_m(out[parent - len(old)].line, curve[0])
            if mouth < AT_START_M:  # apart from the very turn-out on: a trail of its own
                parent, mouth = int(launches.branch[source]), float(launches.mouth_m[source])
                curve = whole
            else:
                curve[0] = at_stations(out[parent - len(old)].line, np.array([mouth]))[0]
        if float(along(curve)[-1]) < SHORTEST_M:
            continue
        number = len(old) + len(out)
        wholes[number] = whole
        for k, s in enumerate(chain):
            owner.setdefault(s, (number, np.array([x[k], y[k]])))
        out.append(Branch(curve, parent, mouth, known.measured(curve)))
        stops[number] = [float(along(curve)[-1])]
    return [
        replace(branch, stops=tuple(sorted(set(stops[len(old) + k]))))
        for k, branch in enumerate(out)
    ]


def _nearest_m(line: Floats, xy: Floats) -> float:
    return float(LineString(line).project(Point(float(xy[0]), float(xy[1]))))


def _parting_m(curve: Floats, trunk: Floats, last: Floats) -> float:
    """Give where a curve leaves the one it starts along, metres from its start.

    ``last`` is the last lattice point the two have in common; they part a
    corner's length before or after it.
    """
    near = _nearest_m(curve, last)
    end = float(along(curve)[-1])
    at = np.arange(max(near - PARTING_M, 0.0), min(near + PARTING_M, end), 0.25)
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
    lead = 2.2 * grower.launch.radius_m  # about a turn-out's own length
    for branch in new:
        broken = branch.measured.broken
        if not broken.any():
            continue
        count += 1
        st = branch.measured.stations
        close_states(ground, closed, st.x[broken], st.y[broken], st.heading_rad[broken])
        if branch.parent < first and st.at_m[broken].min() < lead:
            mouth = round(branch.mouth_m * 100)
            for i in np.flatnonzero(launches.branch == branch.parent):
                if round(float(launches.mouth_m[i]) * 100) == mouth:
                    banned.add((int(launches.branch[i]), mouth, int(launches.state[i])))
    return count


def close_states(
    ground: Ground, closed: NDArray[np.uint8], x: Floats, y: Floats, heading_rad: Floats
) -> int:
    """Close, in place, the two headings nearest to each point's own; give how many newly."""
    rows, cols = ground.shape
    r, c = ground.cell(x, y)
    apart = np.abs(wrap(HEADING_RAD[None, :] - heading_rad[:, None]))
    near = np.argsort(apart, axis=1, kind="stable")[:, :2]
    on = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
    before = int((closed == CLOSED).sum())
    for k in range(2):
        closed[near[on, k], r[on], c[on]] = CLOSED
    return int((closed == CLOSED).sum()) - before


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
