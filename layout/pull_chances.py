"""Chance that a chosen pull fails because its tree stands off its dot.

Two rules of a pull hang on where the stump really is: reach and angle. Both are
read on the ground itself: along every ray from the fairlead the rope ends where
the ground length first passes what is allowed there, so humps and uphill slopes
count as they lie. Ground that is not known ends a ray.

Three chances are told, each the least it can be (see `reach_chance`):

- of the pull as planned, the outfit parked as the plan has it;
- the same where the position, too, was found with a receiver as good as the
  tree's; left out of the first, because sheets set positions out by tape from the
  landing or a junction;
- that no chosen position takes the tree, each swung as far as its trail lets it.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout.grid import bilinear
from layout.reach_chance import inside_rays, rays, sigma_m, spread, sureness
from layout.records import Pull, Trail, WinchPosition
from layout.winch import park, swing_limit_deg
from layout.winch_ground import PullGround
from layout.winch_rules import WinchRules

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Sector = tuple[float, float]  # radians counter-clockwise from east, from and to

NODES = 2048  # places a tree may stand at, all of the same weight: good to half a point
HARDLY = 0.005  # what one position almost surely takes is not asked of the others
TABLE_RAYS = 360
SWING_STEP_DEG = 3.0
TURN_STEP_DEG = 10.0
AT_ONCE = 128  # pulls worked out together: bounds the memory
NO_ERROR_M = 1e-6
BOTH_ENDS = 2.0**0.5  # two errors alike and apart add up by their squares


def reach_edge_m(
    ground: PullGround, rules: WinchRules, x: Floats, y: Floats, bearing_rad: Floats
) -> Floats:
    """Give how far out a stump may stand for the rope to reach it, ray by ray.

    Parameters
    ----------
    ground : PullGround
        The ground.
    rules : WinchRules
        The rules.
    x, y : ndarray of float, shape (n,)
        Fairleads, metres.
    bearing_rad : ndarray of float, shape (n, k)
        Rays, radians counter-clockwise from grid east.

    Returns
    -------
    ndarray of float, shape (n, k)
        Metres on the map. A ray ends where the rope first falls short, also where it
        would reach again farther on.
    """
    at = np.append(np.arange(0.0, rules.longest_m, rules.profile_m), rules.longest_m)
    px = x[:, None, None] + np.cos(bearing_rad)[:, :, None] * at
    py = y[:, None, None] + np.sin(bearing_rad)[:, :, None] * at
    z = bilinear(ground.dem, px, py)
    length = np.zeros_like(z)
    length[:, :, 1:] = np.cumsum(np.hypot(np.diff(at), np.diff(z, axis=2)), axis=2)
    with np.errstate(invalid="ignore", divide="ignore"):
        rise_pct = np.nan_to_num(100.0 * (z - z[:, :, :1]) / length, nan=0.0)
    share = np.clip(rise_pct / rules.uphill_full_pct, 0.0, 1.0)
    dragged = rules.working_reach_m - share * (rules.working_reach_m - rules.uphill_reach_m)
    left = np.minimum(rules.rope_reach_m, dragged) - length
    left = np.where(np.isfinite(left), left, -np.inf)
    fails = left < 0.0
    fails[:, :, 0] = False
    first = np.where(fails.any(axis=2), fails.argmax(axis=2), at.size - 1)[:, :, None]
    before = np.maximum(first - 1, 0)
    had = np.maximum(np.take_along_axis(left, before, axis=2)[:, :, 0], 0.0)
    lacks = np.take_along_axis(left, first, axis=2)[:, :, 0]
    low, high = at[before[:, :, 0]], at[first[:, :, 0]]
    part = np.where(lacks >= 0, 1.0, np.where(np.isinf(lacks), 0.0, had / (had - lacks + 1e-12)))
    return np.asarray(low + part * (high - low))


def with_chances(
    ground: PullGround,
    rules: WinchRules,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
) -> tuple[Pull, ...]:
    """Fill the chances of chosen pulls, and the words that follow from them.

    Parameters
    ----------
    ground, rules : PullGround, WinchRules
        What the pulls were found on and with.
    trails, positions : sequence of Trail and of WinchPosition
        Where the outfit parks.
    pulls : sequence of Pull
        Chosen pulls.

    Returns
    -------
    tuple of Pull
        In the same order.
    """
    if not pulls:
        return ()
    row = {name: i for i, name in enumerate(ground.tree_ids)}
    tree = np.array([row[pull.tree_id] for pull in pulls])
    at = {position.position_id: i for i, position in enumerate(positions)}
    pos = np.array([at[pull.position_id] for pull in pulls])
    error = ground.position_error_m[tree]
    one = out_of_reach(ground, rules, positions, pos, tree, error)
    both = out_of_reach(ground, rules, positions, pos, tree, error * BOTH_ENDS)
    none = one.copy()  # what one position takes, all of them do
    asked = np.flatnonzero(one > HARDLY)
    if asked.size:
        rest = no_position(ground, rules, trails, positions, tree[asked])
        none[asked] = np.minimum(rest, one[asked])  # the two sums differ by a little
    return tuple(
        replace(
            pull,
            sure=sureness(float(one[i])),
            p_out_of_reach=float(one[i]),
            p_both_ends=float(both[i]),
            p_no_position=float(none[i]),
        )
        for i, pull in enumerate(pulls)
    )


def out_of_reach(
    ground: PullGround,
    rules: WinchRules,
    positions: Sequence[WinchPosition],
    pos: NDArray[np.int64],
    tree: NDArray[np.int64],
    error_m: Floats,
) -> Floats:
    """Give the chance that stumps are beyond the rope or past the angle of a parked outfit.

    Parameters
    ----------
    ground, rules : PullGround, WinchRules
        The ground and the rules.
    positions : sequence of WinchPosition
        Where outfits are parked, and how they point.
    pos, tree : ndarray of int, shape (n,)
        Row of ``positions``, and row of the marked trees of ``ground``.
    error_m : ndarray of float, shape (n,)
        Position error (DRMS) of the tree, or of both ends together, metres.

    Returns
    -------
    ndarray of float, shape (n,)
        0 to 1.
    """
    px = np.array([p.x for p in positions])
    py = np.array([p.y for p in positions])
    sectors = _parked_sectors(ground, rules, positions)
    out = np.empty(pos.size)
    for start in range(0, pos.size, AT_ONCE):
        some = slice(start, start + AT_ONCE)
        p, t, error = pos[some], tree[some], np.maximum(error_m[some], NO_ERROR_M)
        dx, dy = ground.x[t] - px[p], ground.y[t] - py[p]
        away, bearing = np.hypot(dx, dy), np.arctan2(dy, dx)
        # on the fairlead itself any bearing is as good
        bearing = np.where(away > 0, bearing, sectors[p].mean(axis=1))
        right = _turn(bearing - sectors[p, 0])
        left = _turn(sectors[p, 1] - bearing)
        angle, weight = rays(away, left + 1e-9, right + 1e-9, error)
        edge = reach_edge_m(ground, rules, px[p], py[p], bearing[:, None] + angle) + 1e-9
        out[some] = 1.0 - (inside_rays(away, angle, edge, error) * weight).sum(axis=1)
    return np.clip(out, 0.0, 1.0)


def no_position(
    ground: PullGround,
    rules: WinchRules,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    tree: NDArray[np.int64],
) -> Floats:
    """Give the chance that stumps are out of reach or past the angle of every position.

    Parameters
    ----------
    ground, rules : PullGround, WinchRules
        The ground and the rules.
    trails, positions : sequence of Trail and of WinchPosition
        Where the outfit parks. It may swing as far as the trail is wide where the ground
        is level enough; on the landing it turns to any side.
    tree : ndarray of int, shape (n,)
        Rows of the marked trees of ``ground``.

    Returns
    -------
    ndarray of float, shape (n,)
        0 to 1, added up over 2,048 places a tree may stand at.
    """
    sigma = sigma_m(ground.position_error_m[tree])
    nodes = spread(NODES)
    taken = np.zeros((tree.size, NODES), dtype=np.bool_)
    width = {trail.trail_id: trail.width_m for trail in trails}
    beside: Floats = np.linspace(0.0, 2 * np.pi, TABLE_RAYS + 1, dtype=np.float64)
    for position in positions:
        x, y = np.array([position.x]), np.array([position.y])
        far = np.hypot(ground.x[tree] - position.x, ground.y[tree] - position.y)
        near = np.flatnonzero(far <= rules.longest_m + 4.0 * sigma)
        if not near.size:
            continue
        dx = ground.x[tree[near], None] + sigma[near, None] * nodes[:, 0] - position.x
        dy = ground.y[tree[near], None] + sigma[near, None] * nodes[:, 1] - position.y
        bearing = np.arctan2(dy, dx) % (2 * np.pi)
        edge = reach_edge_m(ground, rules, x, y, beside[None, :])[0]
        reached = np.hypot(dx, dy) <= np.interp(bearing, beside, edge) + 1e-9
        straight = np.zeros_like(reached)
        for low, high in _sectors(ground, rules, position, width.get(position.trail_id)):
            straight |= (bearing - low) % (2 * np.pi) <= high - low
        taken[near] |= reached & straight
    return np.asarray(1.0 - taken.mean(axis=1))


def _turn(angle_rad: Floats) -> Floats:
    """Bring angles between minus and plus half a turn."""
    return np.asarray((angle_rad + np.pi) % (2 * np.pi) - np.pi)


def _parked_sectors(
    ground: PullGround, rules: WinchRules, positions: Sequence[WinchPosition]
) -> Floats:
    """Give the allowed angle of every outfit as parked: from and to, radians, shape (p, 2)."""
    rear = np.radians(90.0 - np.array([p.rear_azimuth_deg for p in positions]))
    return np.array(
        [
            _sector(ground, rules, position, float(angle))
            for position, angle in zip(positions, rear, strict=True)
        ]
    ).reshape(len(positions), 2)


def _sector(
    ground: PullGround, rules: WinchRules, position: WinchPosition, rear_rad: float
) -> Sector:
    """Give the allowed angle about one parked heading."""
    lie = park(ground, rules, position.x, position.y, rear_rad)
    cross, tilt = float(lie.cross_pct), float(lie.tilt_left_pct)
    if not np.isfinite(cross):
        return (rear_rad, rear_rad)
    left = rules.table_angle_deg(cross, downhill=tilt < 0)
    right = rules.table_angle_deg(cross, downhill=tilt > 0)
    return (rear_rad - np.radians(right), rear_rad + np.radians(left))


def _sectors(
    ground: PullGround, rules: WinchRules, position: WinchPosition, width_m: float | None
) -> list[Sector]:
    """Give every angle a position can serve: as parked, and turned where that is allowed."""
    rear = float(np.radians(90.0 - position.rear_azimuth_deg))
    most = rules.park_stop_pct if width_m is None else rules.park_pct
    if width_m is None:  # on the landing
        turned = rear + np.radians(np.arange(0.0, 360.0, TURN_STEP_DEG))
    else:
        line = rear - np.radians(position.swing_deg)
        slope = float(park(ground, rules, position.x, position.y, line).slope_pct)
        swing = swing_limit_deg(rules.length_m, rules.width_m, width_m)
        if not slope <= rules.swing_slope_pct + 1e-9 or swing <= 0:
            return [_sector(ground, rules, position, rear)]
        steps = 2 * int(np.ceil(swing / SWING_STEP_DEG)) + 1
        turned = line + np.radians(np.linspace(-swing, swing, steps))
    lie = park(ground, rules, position.x, position.y, turned)
    level = np.maximum(np.abs(lie.along_pct), lie.cross_pct) <= most + 1e-9
    return [
        _sector(ground, rules, position, rear),
        *(_sector(ground, rules, position, float(angle)) for angle in turned[level]),
    ]
