"""Arms: more main trails, where one line cannot serve the stand.

Lines as wide as the main trail are searched for from all the turn-outs of the mains that
stand and from the landing's other run-ins, out to groups of marked trees far from them.
A few that keep clear of each other are put on offer at their full price, with spurs grown
off all of them; the exact choice takes an arm only where what hangs on it pays for it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import fairline, lattice
from layout.fairline import Judge
from layout.far_ends import GROUPS, drawn, ends, groups, marked_xy
from layout.geometry import HEADING_RAD, along, bearings, cut, fair_curve, wrap
from layout.ground import CLOSED, Ground
from layout.grow import grow, offer
from layout.landing import run_in_m
from layout.launches import LaunchRules, turn_outs
from layout.mains import BAND_SHARE, LEFT_M2, SPUR_SHARE, wide_ground
from layout.naming import SAME_TRAIL_M, apart_m, new_names, used_names
from layout.network import Branch
from layout.records import Landing, Trail
from layout.run_ins import RunIns, run_ins
from layout.settings import Limits
from layout.site import Area, Earlier
from layout.solver import Solver
from layout.sprouts import Grower, Known, block, close_states
from layout.terrain import Terrain
from layout.turning import pad_radius_m
from layout.water import Strips

Floats = NDArray[np.float64]

MOST_ARMS = 6
PASSES = 4
REPAIRS = 6
SHORTEST_ARM_M = 60.0  # what is shorter is a spur's work; ours
APART_M = 8.0  # lines offered together keep this far from each other
TURNED_RAD = math.radians(40.0)  # run-ins this far from the mains' own
LEAST_GAIN_M2 = 1.0
GAP = 0.01  # near enough to see whether an arm pays; the plan's own choice is made afterwards
TAIL_M = 0.5  # an arm ends this far behind the last thing on it


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


@dataclass(frozen=True, slots=True, eq=False)
class Armed:
    """Main trails with their arms, and what a layout on them is worth after one round.

    Parameters
    ----------
    arms : tuple of Arm
        ``parent`` counts the mains handed in first, then the arms.
    left : int
        Marked trees left, the arms standing.
    objective_m2 : float
        With the arms' own cost.
    """

    arms: tuple[Arm, ...]
    left: int
    objective_m2: float


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


def with_arms(
    ground: Wide,
    grower: Grower,
    mains: Sequence[Branch],
    before: tuple[int, float],
    *,
    hosts: Sequence[int] = (0,),
    main_swing_deg: float,
    solver: Solver,
    known: Known,
    tell: Callable[[str], None],
) -> Armed:
    """Lay out the arms that pay.

    Parameters
    ----------
    ground : Wide
        Ground for arms.
    grower : Grower
        Tables and rules of spurs.
    mains : sequence of Branch
        The main trail, and whatever else stands.
    before : tuple of int and float
        Trees left, and the objective, of one round on these alone.
    hosts : sequence of int, optional
        Which of them arms may leave: main trails.
    main_swing_deg : float
        How far the outfit may swing off a main trail's line.
    solver : Solver
        A running solver.
    known : Known
        Spurs measured before.
    tell : callable
        Told a line about each pass.

    Returns
    -------
    Armed
        Without arms where none pays. Optimal only among the lines put on offer.
    """
    standing, arms = list(mains), list[Arm]()
    first = len(standing)
    left, worth = before
    sunk = 0.0
    for _ in range(PASSES):
        ways = [*hosts, *range(first, len(standing))]
        offered = offered_arms(ground, standing, ways)[: MOST_ARMS - len(arms)]
        while offered:
            left_now, total, taken = _judged(
                ground, grower, standing, offered, main_swing_deg, solver, known
            )
            long = [arm for arm in taken if float(along(arm.line)[-1]) >= SHORTEST_ARM_M]
            if len(long) == len(taken):
                break
            # what is taken for a few metres only is no arm: judged again without it
            offered = [arm for arm in offered if any(_along(o.line, arm.line) for o in long)]
        if not offered or not taken or sunk + total > worth - LEAST_GAIN_M2:
            break
        left, worth = left_now, sunk + total
        sunk += sum(arm.cost_m2 for arm in taken)
        arms += taken
        standing += [_branch(ground, arm, main_swing_deg, paid=True) for arm in taken]
        tell(
            f"{len(arms)} {'arm' if len(arms) == 1 else 'arms'}: "
            f"{sum(float(along(a.line)[-1]) for a in arms):,.0f} m, {left} trees left, "
            f"{worth:,.0f} m2"
        )
        if len(arms) >= MOST_ARMS:
            break
    assert all(arm.parent < first + n for n, arm in enumerate(arms))
    return Armed(tuple(arms), left, worth)


def _branch(ground: Wide, arm: Arm, swing_deg: float, *, paid: bool) -> Branch:
    """Give an arm as a branch; one that is only offered hangs on the main, to be chosen or not."""
    measured = fairline.measure(ground.judge, arm.line)
    if paid:
        measured = replace(measured, price_m2=np.zeros_like(measured.price_m2))
    parent = arm.parent if paid else max(arm.parent, 0)
    return Branch(
        arm.line, parent, arm.mouth_m, measured, built=True,
        fixed=paid and parent >= 0, swing_deg=swing_deg,
    )  # fmt: skip


def _along(line: Floats, arm: Floats) -> bool:
    """Tell whether a chosen line is an arm as far as it goes; a spur may share its turn-out."""
    n = min(len(line), len(arm)) - 1
    return n > 0 and bool(np.allclose(line[:n], arm[:n]))


def _judged(
    ground: Wide,
    grower: Grower,
    standing: list[Branch],
    offered: list[Arm],
    main_swing_deg: float,
    solver: Solver,
    known: Known,
) -> tuple[int, float, list[Arm]]:
    """Choose exactly among spurs and arms; give trees left, objective, and the arms taken."""
    branches = [*standing, *(_branch(ground, arm, main_swing_deg, paid=False) for arm in offered)]
    middle = (ground.landing.x, ground.landing.y)
    pad_m = pad_radius_m(grower.body_m)
    first = offer(
        grower, branches, grower.ground.closed.copy(), ground.opened, middle,
        main_swing_deg=main_swing_deg, pad_radius_m=pad_m, known=known,
    )  # fmt: skip
    grown = grow(
        replace(grower, longest_m=math.inf),  # arms may be longer than a spur; spurs are held above
        branches,
        ground.opened,
        middle,
        main_swing_deg=main_swing_deg,
        pad_radius_m=pad_m,
        solver=solver,
        known=known,
        rounds=1,
        first=first,
        gap=GAP,
    )
    taken: list[Arm] = []
    for arm in offered:
        built = [b for b in grown.branches[len(standing) :] if _along(b.line, arm.line)]
        if built:
            end = min(max(b.length_m for b in built) + TAIL_M, float(along(arm.line)[-1]))
            line = cut(arm.line, 0.0, end)
            price = float(fairline.measure(ground.judge, line).price_m2[-1])
            taken.append(Arm(line, arm.parent, arm.mouth_m, price))
    left = int((grown.choice.tree_pair < 0).sum())
    return left, float(grown.choice.objective), taken


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
                radius_m=judge.radius_m, longest_m=math.inf, turn_cost=1.0,
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
        turn_cost_m2=1.0,
    )


def arm_trails(
    armed: Armed, mains: Sequence[Trail], width_m: float, earlier: Earlier | None
) -> tuple[Trail, ...]:
    """Give arms as trails: M2, M3 ..., or the name each had in the earlier plan.

    Parameters
    ----------
    armed : Armed
        The arms.
    mains : sequence of Trail
        The trails that stood before, in the order of the branches.
    width_m : float
        Width of a main trail.
    earlier : Earlier or None
        The earlier plan.

    Returns
    -------
    tuple of Trail
        Each after the one it joins.
    """
    names = [trail.trail_id for trail in mains]
    fresh = new_names("M", {*used_names(earlier), *names, "M1"})
    old = [t for t in (earlier.trails if earlier else ()) if t.kind == "main"]
    out: list[Trail] = []
    for arm in armed.arms:
        line = LineString(arm.line)
        kept = [t.trail_id for t in old if t.trail_id not in names and _near(t.line, line)]
        names.append(kept[0] if kept else next(fresh))
        out.append(
            Trail(
                trail_id=names[-1],
                kind="main",
                landing_id=mains[0].landing_id,
                line=line,
                width_m=width_m,
                source="routed",
                joins_id="" if arm.parent < 0 else names[arm.parent],
                joins_at_m=None if arm.parent < 0 else arm.mouth_m,
            )
        )
    return tuple(out)


def had_arms(earlier: Earlier | None) -> bool:
    """Tell whether the earlier plan laid out arms: they are looked for again beside a kept main.

    Parameters
    ----------
    earlier : Earlier or None
        The earlier plan.

    Returns
    -------
    bool
    """
    trails = () if earlier is None else earlier.trails
    return any(t.kind == "main" and t.source == "routed" and t.trail_id != "M" for t in trails)


def _near(old: LineString, new: LineString) -> bool:
    return bool(old.dwithin(new, SAME_TRAIL_M)) and apart_m(old, new) <= SAME_TRAIL_M
