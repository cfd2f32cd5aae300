"""Second ways into spurs: off another trail near by, onto the spur where it lies already.

Trails grow as a forest, each reached one way. A join leaves a trail by an arc, as
a straight spur does, runs straight, and bends into a spur's own line; what lies
beyond stays as it is. Which joins are worth it is a choice among links that close
loops (``looped_choice``), made here without the rules of parking and turning; those
it takes are put on offer beside what is there, and the exact choice, with all
rules, takes them or leaves them.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout.choice_model import Forest
from layout.fairline import Measured
from layout.forest import Candidates
from layout.geometry import HEADING_RAD, along, at_stations, bearings, cut, wrap
from layout.ground import CLOSED
from layout.launches import ARC_SPARE
from layout.looped_choice import choose_looped
from layout.looped_model import Looped
from layout.network import Branch
from layout.row_solver import RowSolver
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.straight_spurs import Rays, fans

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LONGEST_M = 60.0  # from mouth to spur
SHARPEST_RAD = float(np.radians(75.0))  # bend into the spur's line
TRIED = 6  # joins measured onto each node, the shortest first
PROPOSALS = 4  # choices made, each without the joins of those before
CHOICE_S = 60.0  # wall seconds for each; it takes a fraction of one
CHOICE_GAP = 1e-3
FIRST_MOUTH_M = 4.0
PARALLEL = 1e-3  # sine of an angle too small to turn by


@dataclass(frozen=True, slots=True, eq=False)
class Join:
    """One second way.

    Parameters
    ----------
    host : int
        Branch it leaves.
    mouth_m : float
        Where, metres along the host.
    node : int
        Segment of the forest whose far end it leads to.
    line : ndarray of float, shape (n, 2)
        From the mouth to there.
    price_m2 : float
        What it costs.
    """

    host: int
    mouth_m: float
    node: int
    line: Floats
    price_m2: float


def second_ways(
    grower: Grower,
    branches: list[Branch],
    closed: NDArray[np.uint8],
    found: Candidates,
    known: Known,
) -> list[Join]:
    """Lay out the joins that cost less than the way there is.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    branches : list of Branch
        The chosen network.
    closed : ndarray of uint8, shape (16, rows, cols)
        What is closed, repairs of earlier growings included.
    found : Candidates
        The forest of that network.
    known : Known
        Lines met before.

    Returns
    -------
    list of Join
        Each sound over its whole length.
    """
    forest = found.forest
    place, heading = _nodes(branches, found)
    rays = fans(grower, branches, FIRST_MOUTH_M)
    spare = _ways(forest)
    mended = (closed == CLOSED) & (grower.ground.closed != CLOSED)
    above = [_hosts(branches, n) for n in range(len(branches))]
    below = np.array([[m in above[h] for m in range(len(branches))] for h in range(len(branches))])
    out: list[Join] = []
    for node in range(forest.parent.size):
        owner = int(found.segment_branch[node])
        if branches[owner].fixed or not rays.host.size:
            continue
        corner, reach_m = _meeting(rays, place[node], heading[node], grower.launch.radius_m)
        near = np.isfinite(reach_m) & ~below[rays.host, owner]
        rows = np.flatnonzero(near)
        for ray in rows[np.argsort(reach_m[rows], kind="stable")][:TRIED]:
            corners = np.array([rays.start[ray], rays.corner[ray], corner[ray], place[node]])
            line = known.curve(corners)
            measured = known.measured(line)
            price = float(measured.price_m2[-1]) + grower.launch.start_cost_m2
            if measured.broken.any() or _over(grower, mended, measured):
                continue
            if price < spare[node]:
                out.append(Join(int(rays.host[ray]), float(rays.mouth_m[ray]), node, line, price))
    return out


def with_second_ways(
    grower: Grower,
    branches: list[Branch],
    closed: NDArray[np.uint8],
    found: Candidates,
    known: Known,
    solver: Solver,
) -> list[Branch]:
    """Put the joins worth looking at on offer, beside the network there is.

    Parameters
    ----------
    grower, branches, closed, found, known
        As for `second_ways`.
    solver : Solver
        A running solver.

    Returns
    -------
    list of Branch
        The old ones first; nothing more where no join is worth it.

    Raises
    ------
    SolverError
        If a solver's process ends without an answer.
    """
    joins = second_ways(grower, branches, closed, found, known)
    out = list(branches)
    seed = grower.judge.area.settings.objective.seed
    taken: set[int] = set()
    with RowSolver() as rows:
        for _ in range(PROPOSALS if joins else 0):
            left = [j for n, j in enumerate(joins) if n not in taken]
            numbers = [n for n in range(len(joins)) if n not in taken]
            net = _network(found, left)
            choice, _ = choose_looped(
                net, solver, rows, time_limit_s=CHOICE_S, gap=CHOICE_GAP, seed=seed
            )
            first = found.forest.parent.size
            new = [numbers[a - first] for a in np.flatnonzero(choice.arcs) if a >= first]
            if not new:
                break
            taken |= set(new)
            for n in new:
                _rehang(out, branches, found, joins[n], known)
    return out


def _over(grower: Grower, mended: NDArray[np.bool_], measured: Measured) -> bool:
    """Tell whether a line goes, as it is headed, where repairs have closed the ground."""
    st = measured.stations
    rows, cols = grower.ground.shape
    r, c = grower.ground.cell(st.x, st.y)
    on = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
    apart = np.abs(wrap(HEADING_RAD[None, :] - st.heading_rad[:, None]))
    near = np.argmin(apart, axis=1)
    return bool(mended[near[on], r[on], c[on]].any())


def _nodes(branches: list[Branch], found: Candidates) -> tuple[Floats, Floats]:
    """Give where each segment ends, and the heading there."""
    count = found.segment_branch.size
    place, heading = np.zeros((count, 2)), np.zeros(count)
    for n, branch in enumerate(branches):
        mine = np.flatnonzero(found.segment_branch == n)
        if mine.size:
            place[mine] = at_stations(branch.line, found.segment_to_m[mine])
            heading[mine] = bearings(branch.line, found.segment_to_m[mine])
    return place, heading


def _ways(forest: Forest) -> Floats:
    """Give what the way from what stands to each segment's end costs."""
    out = forest.segment_cost.copy()
    for e, parent in enumerate(forest.parent):  # a parent's number is below its child's
        if parent >= 0:
            out[e] += out[parent]
    return out


def _hosts(branches: list[Branch], number: int) -> set[int]:
    out = {number}
    while branches[number].parent >= 0:
        number = branches[number].parent
        out.add(number)
    return out


def _meeting(rays: Rays, place: Floats, heading: float, radius_m: float) -> tuple[Floats, Floats]:
    """Give where each ray meets the line a spur comes along, and how long the join is.

    The length is infinite where there is no room for the arcs.
    """
    ahead = np.array([np.cos(heading), np.sin(heading)])
    way = np.column_stack([np.cos(rays.heading), np.sin(rays.heading)])
    turn = np.abs(wrap(heading - rays.heading))
    cross = way[:, 0] * ahead[1] - way[:, 1] * ahead[0]
    apart = place - rays.corner
    along_side = np.abs(cross) < PARALLEL  # of a ray that never turns into the spur's line
    run = (apart[:, 0] * ahead[1] - apart[:, 1] * ahead[0]) / np.where(along_side, 1.0, cross)
    corner = rays.corner + run[:, None] * way
    back = (place - corner) @ ahead
    arc = ARC_SPARE * radius_m * np.tan(np.minimum(turn, SHARPEST_RAD) / 2)
    length = rays.tangent_m + run + back
    good = ~along_side & (turn <= SHARPEST_RAD) & (back >= arc)
    good &= (run >= rays.tangent_m + arc) & (length <= LONGEST_M)
    return corner, np.where(good, length, np.inf)


def _network(found: Candidates, joins: list[Join]) -> Looped:
    """Give the forest with its joins: node 0 is what stands, node e + 1 the end of segment e."""
    forest = found.forest
    tail = [int(p) + 1 if p >= 0 else 0 for p in forest.parent]
    tail += [_node_at(found, join.host, join.mouth_m) for join in joins]
    count = forest.parent.size
    return Looped(
        nodes=count + 1,
        tail=np.array(tail, dtype=np.int64),
        head=np.array([*range(1, count + 1), *[j.node + 1 for j in joins]], dtype=np.int64),
        arc_cost=np.concatenate([forest.segment_cost, [j.price_m2 for j in joins]]),
        position_node=forest.position_segment + 1,
        position_cost=forest.position_cost,
        pair_position=forest.pair_position,
        pair_tree=forest.pair_tree,
        pair_cost=forest.pair_cost,
        tree_price=forest.tree_price,
    )


def _node_at(found: Candidates, branch: int, at_m: float) -> int:
    """Give the first node at or beyond a station of a branch; 0 on what stands."""
    mine = np.flatnonzero(found.segment_branch == branch)
    beyond = mine[found.segment_to_m[mine] >= at_m - 1e-6]
    return int(beyond[np.argmin(found.segment_to_m[beyond])]) + 1 if beyond.size else 0


def _rehang(
    out: list[Branch], branches: list[Branch], found: Candidates, join: Join, known: Known
) -> None:
    """Add a spur led in by a join, with copies of all that hangs beyond."""
    owner, at_m = int(found.segment_branch[join.node]), float(found.segment_to_m[join.node])
    old = branches[owner]
    line = join.line
    if at_m < old.length_m - 1e-6:
        line = np.concatenate([line, cut(old.line, at_m, old.length_m)[1:]])
    measured = known.measured(line)
    if measured.broken.any():
        return
    shift = float(along(join.line)[-1]) - at_m
    stops = tuple(s + shift for s in old.stops if s >= at_m - 1e-6)
    number = {owner: len(out)}
    out.append(Branch(line, join.host, join.mouth_m, measured, stops, swing_deg=old.swing_deg))
    for n, branch in enumerate(branches):
        if branch.parent not in number or branch.fixed:
            continue
        moved = shift if branch.parent == owner else 0.0
        if branch.parent == owner and branch.mouth_m < at_m - 1e-6:
            continue
        number[n] = len(out)
        out.append(
            replace(branch, parent=number[branch.parent], mouth_m=branch.mouth_m + moved,
                    built=False)
        )  # fmt: skip
