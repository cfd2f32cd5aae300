"""Turn a network of branches into the arrays of the exact choice.

Every branch is cut into segments at its winch positions, mouths and turning
places. Positions that an ancestor makes pointless are dropped first.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import wishes
from layout.choice_model import BIG_PRICE, ROOT, Forest
from layout.network import Branch, depth_below_main_m, distance_out_m, way
from layout.site import Area
from layout.sprouts import Grower, Known
from layout.turning import Place, pad_room, y_place
from layout.units import FOOT_M
from layout.winch import Pairs, evaluate

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DOMINATED_M2 = 1.0  # nearer positions that are this little dearer replace farther ones
PAIRS_A_TREE = 24
PAD_STEP_M = 8.0
SPUR_PAD_STEP_M = 12.0
PAD_NEAR_M = 30.0
JUNCTION_CLEAR_M = 15 * FOOT_M + 0.05  # an outfit parks this far from a junction
SPUR_PAD_FROM = 0.5  # share of back_up below the main from which spurs get pads of their own
LANDING = -1  # branch number of the landing's own position; -2, -3 ... of further landings


@dataclass(frozen=True, slots=True, eq=False)
class Spots:
    """Winch positions tried; arrays of shape (p,). Branches below 0 are landings."""

    branch: Ints
    at_m: Floats
    x: Floats
    y: Floats
    rear_rad: Floats

    def take(self, rows: NDArray[np.int64]) -> "Spots":
        """Give some of the rows."""
        return Spots(
            self.branch[rows], self.at_m[rows], self.x[rows], self.y[rows], self.rear_rad[rows]
        )


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """A forest and what its numbers stand for."""

    forest: Forest
    spots: Spots
    pairs: Pairs  # of every allowed pull; ``kept[k]`` is the row of the forest's pair k
    kept: Ints
    kept_spot: Ints  # row in ``spots`` of the forest's position p
    segment_branch: Ints
    segment_to_m: Floats
    places: tuple[Place, ...]
    shut_out: Ints  # trees whose every allowed pull waits for a turning place


def spots_of(known: Known, branches: list[Branch], landing_xy: ArrayLike) -> Spots:
    """List the winch positions to try: the landings, and along every branch."""
    yards = np.atleast_2d(np.asarray(landing_xy, dtype=float))
    none = np.zeros(len(yards))
    parts = [(LANDING - np.arange(float(len(yards))), none, yards, none)]
    fixed_mouths: dict[int, list[float]] = {}
    for fixed in branches:
        if fixed.fixed:
            fixed_mouths.setdefault(fixed.parent, []).append(fixed.mouth_m)
    for number, branch in enumerate(branches):
        stands = known.stands(branch)
        keep = np.ones(stands.at_m.size, dtype=bool)
        for mouth_m in fixed_mouths.get(number, ()):
            keep &= np.abs(stands.at_m - mouth_m) >= JUNCTION_CLEAR_M
        if keep.any():
            parts.append(
                (
                    np.full(int(keep.sum()), float(number)),
                    stands.at_m[keep],
                    stands.xy[keep],
                    stands.rear_rad[keep],
                )
            )
    branch_of, at_m, xy, rear = (np.concatenate(c) for c in zip(*parts, strict=True))
    return Spots(branch_of.astype(np.int64), at_m, xy[:, 0].copy(), xy[:, 1].copy(), rear)


def candidates(
    grower: Grower,
    branches: list[Branch],
    opened: BaseGeometry,
    landing_xy: ArrayLike,
    main_swing_deg: float,
    pad_radius_m: float,
    known: Known | None = None,
) -> Candidates:
    """Build the forest of one round.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    branches : list of Branch
        The network; main trails have parent -1.
    opened : shapely geometry
        Ground a machine may stand on.
    landing_xy : array_like of float, shape (2,) or (k, 2)
        Where the tractor stands on the landing to winch, or on each of several.
    main_swing_deg : float
        How far it may swing off a main trail's line.
    pad_radius_m : float
        Size of a turning pad.
    known : Known, optional
        Lines met before; kept from round to round.

    Returns
    -------
    Candidates
    """
    known = Known(grower) if known is None else known
    settings = grower.judge.area.settings
    spots = spots_of(known, branches, landing_xy)
    on_main = np.array([b < 0 or branches[b].parent < 0 for b in spots.branch])
    swing = np.where(on_main, main_swing_deg, grower.swing_deg)
    for number, branch in enumerate(branches):
        if branch.swing_deg is not None:
            swing[spots.branch == number] = branch.swing_deg
    pairs = evaluate(
        grower.pull_ground,
        grower.winch,
        spots.x,
        spots.y,
        spots.rear_rad,
        swing,
        spots.branch < 0,
    )
    places = _places(grower, branches, opened, pad_radius_m, settings.trails.back_up_m, known)
    access = _access(branches, spots, places, settings.trails.back_up_m)
    price = settings.objective.serve_worth_m2
    reachable: NDArray[np.bool_] = np.asarray(access.any(axis=1))
    rows = np.flatnonzero((pairs.cost_m2 < price) & reachable[pairs.pos])
    trees = np.arange(grower.pull_ground.marked.size)
    shut = np.setdiff1d(np.intersect1d(trees, pairs.tree), pairs.tree[rows])
    kept = _thin(branches, spots, pairs, rows, access)
    least = [_least_m(known, branches, n) for n in range(len(branches))]
    return _assemble(
        grower, branches, spots, pairs, kept, access, places, least, trees.size, price, shut
    )


def _least_m(known: Known, branches: list[Branch], number: int) -> float:
    """Give how long a spur is at least: so long that the outfit has left the trail it hangs on."""
    branch = branches[number]
    if branch.standing or branch.mouth_m > branches[branch.parent].length_m - 1e-6:
        return 0.0  # it goes straight on
    return known.off_from_m(branch.line, branches[branch.parent])


def _places(
    grower: Grower,
    branches: list[Branch],
    opened: BaseGeometry,
    radius_m: float,
    back_up_m: float,
    known: Known,
) -> tuple[Place, ...]:
    out: list[Place] = []
    room = pad_room(opened, radius_m)
    deepest = [depth_below_main_m(branches, n, b.length_m) for n, b in enumerate(branches)]
    for n in range(len(branches) - 1, -1, -1):  # children come after their parents
        if branches[n].parent >= 0:
            deepest[branches[n].parent] = max(deepest[branches[n].parent], deepest[n])
    for number, branch in enumerate(branches):
        step = PAD_STEP_M if branch.parent < 0 else SPUR_PAD_STEP_M
        at = np.arange(branch.length_m, step, -step)
        if branch.parent >= 0:
            # a spur is backed into from the main unless something lies too deep for that
            if deepest[number] <= back_up_m and any(branches[q.branch].parent < 0 for q in out):
                continue
            base = depth_below_main_m(branches, number, 0.0)
            at = at[base + at >= SPUR_PAD_FROM * back_up_m]
        if not at.size:
            continue
        out += known.pads(branch.line, at, room, radius_m, number)
    for number, branch in enumerate(branches):
        if branch.parent >= 0 and deepest[number] <= back_up_m:
            continue
        tip = branch.length_m
        if any(q.branch == number and abs(q.at_m - tip) < PAD_NEAR_M for q in out):
            continue  # a level pad there does the same on less ground
        loop = known.loop(branch.line, number)
        if loop is not None:
            out.append(loop)
    for number, branch in enumerate(branches):
        if branch.parent < 0 or branches[branch.parent].parent >= 0:
            continue  # a Y is laid out on the main trail only
        if branch.mouth_m > branches[branch.parent].length_m - 1e-6:
            continue
        if any(
            q.branch == branch.parent and abs(q.at_m - branch.mouth_m) < PAD_NEAR_M for q in out
        ):
            continue  # a level pad there does the same on as little ground
        y = y_place(
            grower.judge,
            branches[branch.parent].line,
            branch.parent,
            branch.mouth_m,
            branch.line,
            number,
            grower.body_m,
        )
        if y is not None:
            out.append(y)
    return tuple(out)


def _access(
    branches: list[Branch], spots: Spots, places: tuple[Place, ...], back_up_m: float
) -> NDArray[np.bool_]:
    """Tell which places let the tractor back to each position; column 0 is the landing."""
    out = np.zeros((spots.branch.size, len(places) + 1), dtype=bool)
    hosts = sorted({p.branch for p in places})
    host = np.array([hosts.index(p.branch) for p in places], dtype=np.int64)
    place_at = np.array([p.at_m for p in places], dtype=float)
    parted = _partings(branches, hosts)
    for number in np.unique(spots.branch):
        rows = np.flatnonzero(spots.branch == number)
        if number < 0:
            out[rows, 0] = True
            continue
        at = spots.at_m[rows][:, None]
        out[rows, 0] = (distance_out_m(branches, int(number)) + at[:, 0]) <= back_up_m
        if not places:
            continue
        rest, here, there = parted[:, number, host]
        turned = np.where(np.isinf(there), place_at, there)
        # on the trail both ways share, the tractor backs from where it turned
        own = np.isinf(here)
        back = np.where(
            own,
            np.maximum(at - turned, 0.0),
            np.maximum(np.where(own, 0.0, here) - turned, 0.0) + rest + at,
        )
        out[rows, 1:] = back <= back_up_m
    return out


def _partings(branches: list[Branch], hosts: list[int]) -> Floats:
    """Give how the ways to branches and to hosts part, shape (3, branches, hosts).

    Metres of the way to the branch beyond the shared trail, and where each of the
    two leaves that. Infinite stands for the station itself, where the shared trail
    is the branch's or the host's own.
    """
    out = np.full((3, len(branches), len(hosts)), np.inf)
    chains = [way(branches, h, np.inf).legs for h in hosts]
    leaves = np.full((len(branches), len(hosts)), np.nan)  # NaN off the way to the host
    for k, chain in enumerate(chains):
        for n, left in chain:
            leaves[n, k] = left
    for n, branch in enumerate(branches):
        if branch.parent < 0:  # ways from different mains part on the landing, at its start
            leaves[n] = np.where(np.isnan(leaves[n]), 0.0, leaves[n])
    on = ~np.isnan(leaves)
    for n, branch in enumerate(branches):  # children come after their parents
        up = branch.parent
        if up < 0:
            out[0, n], out[2, n] = 0.0, leaves[n]
            continue
        # off a trail both ways share, the way to the branch leaves it at the branch's mouth
        rest = np.where(on[up], 0.0, out[0, up] + branch.mouth_m)
        here = np.where(on[up], branch.mouth_m, out[1, up])
        there = np.where(on[up], leaves[up], out[2, up])
        out[0, n] = np.where(on[n], 0.0, rest)
        out[1, n] = np.where(on[n], np.inf, here)
        out[2, n] = np.where(on[n], leaves[n], there)
    return out


def _thin(
    branches: list[Branch],
    spots: Spots,
    pairs: Pairs,
    rows: Ints,
    access: NDArray[np.bool_],
) -> Ints:
    """Drop pulls that a position nearer the landing makes as cheaply."""
    leaves = [dict(way(branches, n, np.inf).legs) for n in range(len(branches))]
    depth = spots.at_m + np.array(
        [0.0 if b < 0 else distance_out_m(branches, int(b)) for b in spots.branch]
    )
    is_main = np.array([b < 0 or branches[b].standing for b in spots.branch])
    kept: list[int] = []
    order = rows[np.lexsort((rows, depth[pairs.pos[rows]], pairs.tree[rows]))]
    bounds = np.flatnonzero(np.diff(pairs.tree[order], prepend=-1, append=-2))
    for lo, hi in itertools.pairwise(bounds):
        mine: list[int] = []
        for k in order[lo:hi]:
            p = int(pairs.pos[k])
            for j in mine:
                a = int(pairs.pos[j])
                if pairs.cost_m2[j] > pairs.cost_m2[k] + DOMINATED_M2:
                    continue
                if not is_main[a]:
                    reach = leaves[int(spots.branch[p])].get(int(spots.branch[a]))
                    if spots.branch[a] == spots.branch[p]:
                        reach = float(spots.at_m[p])
                    if reach is None or reach < spots.at_m[a] - 1e-9:
                        continue
                if (access[p] & ~access[a]).any():
                    continue
                break
            else:
                mine.append(int(k))
        mine.sort(key=lambda k: (float(pairs.cost_m2[k]), k))
        kept += mine[:PAIRS_A_TREE]
    return np.array(sorted(kept), dtype=np.int64)


def _assemble(
    grower: Grower,
    branches: list[Branch],
    spots: Spots,
    pairs: Pairs,
    kept: Ints,
    access: NDArray[np.bool_],
    places: tuple[Place, ...],
    least: list[float],
    trees: int,
    price: float,
    shut: Ints,
) -> Candidates:
    objective = grower.judge.area.settings.objective
    used: Ints = np.unique(pairs.pos[kept]).astype(np.int64)
    number_of = {int(p): i for i, p in enumerate(used)}
    wanted = _wanted(branches, spots, used, places, least)
    parent: list[int] = []
    cost: list[float] = []
    owner: list[int] = []
    to_m: list[float] = []
    at: dict[tuple[int, float], int] = {}
    for n, branch in enumerate(branches):
        if branch.standing:
            continue
        stations = wanted[n]
        if not stations:
            continue
        up = ROOT
        if not branches[branch.parent].standing:
            up = at[(branch.parent, round(branch.mouth_m, 3))]
        straight_on = branch.mouth_m > branches[branch.parent].length_m - 1e-6
        before, extra = 0.0, 0.0 if straight_on else objective.spur_start_m2
        for station in stations:
            parent.append(up)
            cost.append(
                max(branch.measured.price_at(station) - branch.measured.price_at(before), 0.0)
                + extra
            )
            owner.append(n)
            to_m.append(station)
            up = len(parent) - 1
            at[(n, round(station, 3))] = up
            before, extra = station, 0.0
    segment = np.array(
        [
            ROOT
            if spots.branch[p] < 0 or branches[spots.branch[p]].standing
            else at[(int(spots.branch[p]), _station(spots, int(p), least))]
            for p in used
        ],
        dtype=np.int64,
    )
    klass, members = _classes(access, used)
    first = {owner[e]: e for e in range(len(owner) - 1, -1, -1)}
    forest = Forest(
        parent=np.array(parent, dtype=np.int64),
        segment_cost=np.array(cost, dtype=float),
        position_segment=segment,
        position_cost=np.where(
            _opened(branches, spots, used, grower.judge.area), 0.0, objective.setup_m2
        ),
        position_class=klass,
        pair_position=np.array([number_of[int(p)] for p in pairs.pos[kept]], dtype=np.int64),
        pair_tree=pairs.tree[kept].astype(np.int64),
        pair_cost=pairs.cost_m2[kept].astype(float),
        tree_price=np.full(trees, min(price, BIG_PRICE)),
        place_segment=np.array(
            [
                ROOT
                if branches[q.needs_branch].standing
                else at[(q.needs_branch, round(q.needs_m, 3))]
                for q in places
            ],
            dtype=np.int64,
        ),
        place_cost=np.array([q.extra_m2 for q in places]),
        class_places=members,
        conflicts=_conflicts(branches, spots, used, first),
    )
    return Candidates(
        forest,
        spots,
        pairs,
        kept,
        used,
        np.array(owner, dtype=np.int64),
        np.array(to_m, dtype=float),
        places,
        shut,
    )


def _opened(branches: list[Branch], spots: Spots, used: Ints, area: Area) -> NDArray[np.bool_]:
    """Tell which positions have no set-up to pay: known on the ground, or asked for."""
    free = [(*b.opened, *wishes.stations(LineString(b.line), area)) for b in branches]
    return np.array(
        [
            spots.branch[p] >= 0
            and any(
                abs(float(spots.at_m[p]) - at) < wishes.SAME_STATION_M
                for at in free[spots.branch[p]]
            )
            for p in used
        ],
        dtype=bool,
    )


def _conflicts(
    branches: list[Branch], spots: Spots, used: Ints, first: dict[int, int]
) -> tuple[tuple[int, int], ...]:
    """Pair each position with the first segments of trails that leave too near it."""
    out: list[tuple[int, int]] = []
    branch_of, at = spots.branch[used], spots.at_m[used]
    for n, segment in first.items():
        host, mouth = branches[n].parent, branches[n].mouth_m
        if mouth > branches[host].length_m - 1e-6:
            continue  # going straight on is no junction
        near = (branch_of == host) & (np.abs(at - mouth) < JUNCTION_CLEAR_M)
        out += [(int(i), segment) for i in np.flatnonzero(near)]
    return tuple(sorted(out))


def _wanted(
    branches: list[Branch],
    spots: Spots,
    used: Ints,
    places: tuple[Place, ...],
    least: list[float],
) -> list[list[float]]:
    """Give the stations each branch is cut at; empty for a branch nothing hangs on."""
    out: list[set[float]] = [set() for _ in branches]
    for p in used:
        if spots.branch[p] >= 0:
            out[spots.branch[p]].add(_station(spots, int(p), least))
    for q in places:
        out[q.needs_branch].add(round(q.needs_m, 3))
    for n in range(len(branches) - 1, -1, -1):  # children come after their parents
        if out[n] and branches[n].parent >= 0:
            out[branches[n].parent].add(round(branches[n].mouth_m, 3))
    return [sorted(stations) for stations in out]


def _station(spots: Spots, p: int, least: list[float]) -> float:
    """Give how far out a trail is built for a position on it, metres."""
    return round(max(float(spots.at_m[p]), least[int(spots.branch[p])]), 3)


def _classes(
    access: NDArray[np.bool_], used: Ints
) -> tuple[NDArray[np.int64], tuple[tuple[int, ...], ...]]:
    """Group positions by the turning places that let the tractor in."""
    names: dict[bytes, int] = {}
    klass = np.full(used.size, -1, dtype=np.int64)
    for i, p in enumerate(used):
        if access[p, 0]:
            continue
        klass[i] = names.setdefault(access[p, 1:].tobytes(), len(names))
    members = [np.flatnonzero(np.frombuffer(key, dtype=bool)) for key in names]
    return klass, tuple(tuple(int(q) for q in row) for row in members)
