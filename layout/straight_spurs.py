"""Straight spurs: one arc off the trail that is there, then a straight line.

The lattice search goes in sixteen directions and leaves a trail by the two nearest
to the angle asked for. A load is drawn most easily on a straight line, at whatever
angle the ground allows within the tolerance. So beside what the search finds, fans
of straight spurs are looked at all along every trail, and the cheapest few for each
tree are put on offer; the choice takes them or leaves them.
"""

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout.geometry import HEADING_RAD, along, at_stations, bearings, cut, wrap
from layout.ground import FREE, Ground
from layout.launches import ANGLE_RESERVE_DEG, ARC_SPARE, clear_of_kinks
from layout.network import Branch
from layout.sprouts import APART_M, SHORTEST_M, Grower, Known, blocked
from layout.winch import evaluate

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]

MOUTH_STEP_M = 4.0  # fans stand this far apart along a trail
ANGLES = 5  # to each side, evenly over the tolerance
STATION_M = 3.0  # positions looked at along a straight spur
BEST_SPURS = 2  # put on offer for each tree
CLEAR_M = 4.0  # beyond the arc, before a spur must be off the ground beside its own trail


@dataclass(frozen=True, slots=True, eq=False)
class Rays:
    """Straight spurs tried; arrays have shape (k,), points and directions (k, 2)."""

    host: Whole
    mouth_m: Floats
    start: Floats
    corner: Floats
    heading: Floats
    tangent_m: Floats  # of the arc, to each side of the corner
    arc_m: Floats  # from the mouth to where the straight line begins

    def take(self, keep: Whole) -> "Rays":
        """Give some of them."""
        return Rays(*(getattr(self, name)[keep] for name in self.__slots__))


def straight_spurs(
    grower: Grower,
    branches: list[Branch],
    closed: NDArray[np.uint8],
    *,
    offset_m: float,
    best_now: Floats,
    known: Known,
) -> list[Branch]:
    """Lay out the straight spurs worth putting on offer.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    branches : list of Branch
        The trails there are.
    closed : ndarray of uint8, shape (16, rows, cols)
        What is closed, repairs of earlier rounds included.
    offset_m : float
        Station of the first fan of each trail, metres; other rounds look between.
    best_now : ndarray of float, shape (t,)
        What each marked tree may cost; pulls that cost more are not looked at.
    known : Known
        Lines met before.

    Returns
    -------
    list of Branch
        New ones alone, each sound over its whole length; their parents are
        numbers in ``branches``.
    """
    rays = fans(grower, branches, offset_m)
    if not rays.host.size:
        return []
    ground = grower.ground.states(blocked(grower.ground, closed, [b.line for b in branches]))
    which, out_m, price = _stations(grower, ground, rays)
    if not which.size:
        return []
    heading = rays.heading[which]
    far = rays.tangent_m[which] + out_m
    x = rays.corner[which, 0] + far * np.cos(heading)
    y = rays.corner[which, 1] + far * np.sin(heading)
    if ground.passed is not None:  # on the way over water nothing is winched
        clear = ground.parked_clear(x, y, heading, grower.body_m)
        which, out_m, price, x, y = which[clear], out_m[clear], price[clear], x[clear], y[clear]
    pairs = evaluate(
        grower.pull_ground,
        grower.winch,
        x,
        y,
        rays.heading[which],
        np.full(which.size, grower.swing_deg),
        np.zeros(which.size, dtype=bool),
    )
    score = price[pairs.pos] + pairs.cost_m2
    useful = np.flatnonzero(score < best_now[pairs.tree])
    order = useful[np.lexsort((pairs.pos[useful], score[useful], pairs.tree[useful]))]
    at = pairs.pos[order]
    ends = np.searchsorted(pairs.tree[order], np.arange(best_now.size + 1))
    stops: dict[int, set[float]] = {}
    for lo, hi in itertools.pairwise(ends):
        mine = at[lo:hi]
        for _ in range(BEST_SPURS):
            if not mine.size:
                break
            p = int(mine[0])
            ray = int(which[p])
            stops.setdefault(ray, set()).add(float(rays.arc_m[ray] + out_m[p]))
            mine = mine[np.abs(x[mine] - x[p]) + np.abs(y[mine] - y[p]) >= APART_M]
    return _laid_out(rays, stops, known)


def fans(grower: Grower, branches: list[Branch], offset_m: float) -> Rays:
    """Give a fan to each side at stations along every trail."""
    rules = grower.launch
    spread = max(rules.tolerance_deg - ANGLE_RESERVE_DEG, 0.0)
    angles = np.radians(np.unique(rules.angle_deg + np.linspace(-spread, spread, ANGLES)))
    angles = angles[(angles > 0) & (angles < np.pi / 2)]
    table: list[tuple[Floats, ...]] = []
    for number, branch in enumerate(branches):
        at = np.arange(offset_m, branch.length_m - 1e-6, MOUTH_STEP_M)
        at = at[at > SHORTEST_M]
        at = at[clear_of_kinks(branch.line, at, rules.radius_m)]
        if not at.size:
            continue
        place, bearing = at_stations(branch.line, at), bearings(branch.line, at)
        for turn in np.concatenate([angles, -angles]):
            tangent = ARC_SPARE * rules.radius_m * np.tan(abs(turn) / 2)
            corner = place + tangent * np.column_stack([np.cos(bearing), np.sin(bearing)])
            arc = ARC_SPARE * rules.radius_m * abs(turn)
            table.append(
                (np.full(at.size, number), at, place, corner, bearing + turn,
                 np.full(at.size, tangent), np.full(at.size, arc))
            )  # fmt: skip
    if not table:
        none = np.zeros(0)
        return Rays(none.astype(int), none, none.reshape(0, 2), none.reshape(0, 2), none, none,
                     none)  # fmt: skip
    return Rays(*(np.concatenate(column) for column in zip(*table, strict=True)))


def _stations(grower: Grower, ground: Ground, rays: Rays) -> tuple[Whole, Floats, Floats]:
    """Give the stations of rays that open ground leads to: ray, metres out, price of the way."""
    rows, cols = ground.shape
    half = ground.cell_m / 2
    reach = np.arange(half, grower.longest_m - float(rays.arc_m.min()), half)
    far = rays.tangent_m[:, None] + reach[None, :]
    r, c = ground.cell(
        rays.corner[:, :1] + far * np.cos(rays.heading)[:, None],
        rays.corner[:, 1:] + far * np.sin(rays.heading)[:, None],
    )
    on = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
    r, c = np.where(on, r, 0), np.where(on, c, 0)
    apart = np.abs(wrap(HEADING_RAD[None, :] - rays.heading[:, None]))
    near = np.argmin(apart, axis=1)[:, None]
    free = on & (ground.closed[near, r, c] == FREE)
    # beside its own trail the ground is closed to others, not to what leaves it there
    own = reach[None, :] <= CLEAR_M
    free = free | (on & own & (grower.ground.closed[near, r, c] == FREE))
    free &= reach[None, :] <= grower.longest_m - rays.arc_m[:, None]
    free = np.logical_and.accumulate(free, axis=1)
    per_m = np.where(free, ground.cost[near, r, c], 0.0).astype(float)
    turned = rays.arc_m / (ARC_SPARE * grower.launch.radius_m)
    start = grower.launch.start_cost_m2 + rays.arc_m * per_m[:, 0] + grower.judge.bend_m2 * turned
    price = start[:, None] + half * np.cumsum(per_m, axis=1)
    step = max(round(STATION_M / half), 1)
    wanted = np.zeros(reach.size, dtype=bool)
    wanted[::step] = True
    wanted &= reach >= grower.body_m  # the whole outfit stands on the straight line
    which, column = np.nonzero(free & wanted[None, :])
    return which, reach[column], price[which, column]


def _laid_out(rays: Rays, stops: dict[int, set[float]], known: Known) -> list[Branch]:
    """Make branches of the chosen rays, as far as they are sound."""
    out: list[Branch] = []
    for ray in sorted(stops):
        wanted = sorted(stops[ray])
        straight = wanted[-1] - rays.arc_m[ray] + rays.tangent_m[ray]
        heading = rays.heading[ray]
        end = rays.corner[ray] + straight * np.array([np.cos(heading), np.sin(heading)])
        line = known.curve(np.array([rays.start[ray], rays.corner[ray], end]))
        measured = known.measured(line)
        sound = measured.sound_m
        length = float(along(line)[-1])
        less = wanted[-1] - length  # the arc is laid out in chords
        kept = tuple(s - less for s in wanted if s - less <= sound + 1e-6)
        if not kept:
            continue
        branch = Branch(line, int(rays.host[ray]), float(rays.mouth_m[ray]), measured, kept)
        if kept[-1] < length - 1e-6:
            line = cut(line, 0.0, kept[-1])
            branch = replace(branch, line=line, measured=known.measured(line))
        if not branch.measured.broken.any():
            out.append(branch)
    return out
