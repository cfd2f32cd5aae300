"""How a new trail leaves one that is there: turn-outs, and going straight on.

A turn-out starts along the old trail's own direction and bends away by about
45 degrees to the side, opening away from the landing, so that a loaded outfit
merges gently on its way in. It ends in a lattice state the search goes on from.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.geometry import HEADING_RAD, along, at_stations, bearings, wrap
from layout.ground import FREE, Ground
from layout.lattice import number as number_of
from layout.lattice import parts
from layout.settings import Limits
from layout.terrain import Terrain, cross_at, grade_at

Floats = NDArray[np.float64]

STEP_M = 2.0  # stations a turn-out is tried from
MISMATCH_RAD = float(np.radians(7.0))  # bend left for the first lattice corner
SLACKS_M = (0.0, 0.7, 1.4, 2.1, 2.8, 3.5)
ANGLE_RESERVE_DEG = 2.0
ARC_SPARE = 1.05  # tangents are laid out a little longer than the radius asks
SAMPLES = 8
NOTCH_RAD = float(np.arctan(0.5))


@dataclass(frozen=True, slots=True, eq=False)
class Launches:
    """Ways off the trails there are; arrays of shape (k,).

    ``points`` holds mouth, corner and lattice point of each, shape (k, 3, 2).
    """

    branch: NDArray[np.int64]
    mouth_m: Floats
    state: NDArray[np.int64]
    points: Floats
    cost: Floats
    length: Floats
    straight: Floats

    def __len__(self) -> int:
        """Count the launches."""
        return int(self.state.size)


@dataclass(frozen=True, slots=True)
class LaunchRules:
    """What a launch must keep."""

    radius_m: float
    angle_deg: float
    tolerance_deg: float
    start_cost_m2: float
    turn_cost_m2: float


def turn_outs(
    ground: Ground,
    terrain: Terrain,
    limits: Limits,
    room: BaseGeometry,
    lines: list[Floats],
    rules: LaunchRules,
    *,
    ends: list[bool],
) -> Launches:
    """Lay out every turn-out of some trails, both sides, at stations 2 m apart.

    Parameters
    ----------
    ground : Ground
        The lattice.
    terrain, limits : Terrain, Limits
        For grade and cross slope along the turn-out itself.
    room : shapely geometry
        Where a centre line may run; prepared.
    lines : list of ndarray, each of shape (n, 2)
        Trails, landing end first.
    rules : LaunchRules
        Radius, angles and prices.
    ends : list of bool
        Which lines may be prolonged straight on.

    Returns
    -------
    Launches
        May be empty.
    """
    tables: list[tuple[Floats, ...]] = []
    for number, line in enumerate(lines):
        length = float(along(line)[-1])
        at = np.arange(STEP_M, length - 1e-6, STEP_M)
        if at.size:
            start = at_stations(line, at)
            bearing = bearings(line, at)
            for side in (1.0, -1.0):
                tables += _bend(ground, rules, number, at, start, bearing, side)
        if ends[number]:
            tip = at_stations(line, np.array([length]))
            bearing = bearings(line, np.array([length]), half_m=1.0)
            tables += _straight_on(ground, rules, number, np.array([length]), tip, bearing)
    if not tables:
        return _none()
    branch, at, state, x3, y3, length, straight, notches = (
        np.concatenate(column) for column in zip(*tables, strict=True)
    )
    points = np.stack([x3, y3], axis=-1)
    good = _legal(ground, terrain, limits, room, state, points)
    per_m = ground.cost[parts(ground, state.astype(np.int64))]
    # going straight on opens no junction
    start = np.where(notches > 0, rules.start_cost_m2, 0.0)
    cost = per_m * length + start + notches * rules.turn_cost_m2
    return Launches(
        branch[good].astype(np.int64),
        at[good],
        state[good].astype(np.int64),
        points[good],
        cost[good],
        length[good],
        straight[good],
    )


def _none() -> Launches:
    empty = np.zeros(0)
    whole = np.zeros(0, dtype=np.int64)
    return Launches(whole, empty, whole, np.zeros((0, 3, 2)), empty, empty, empty)


def _bend(
    ground: Ground,
    rules: LaunchRules,
    number: int,
    at: Floats,
    start: Floats,
    bearing: Floats,
    side: float,
) -> list[tuple[Floats, ...]]:
    out = []
    wanted = bearing + side * np.radians(rules.angle_deg)
    apart = np.abs(wrap(HEADING_RAD[None, :] - wanted[:, None]))
    for rank in range(2):
        heading = np.argsort(apart, axis=1, kind="stable")[:, rank]
        turn = np.abs(wrap(HEADING_RAD[heading] - bearing))
        fits = np.abs(np.degrees(turn) - rules.angle_deg) <= (
            rules.tolerance_deg - ANGLE_RESERVE_DEG
        )
        tangent = ARC_SPARE * rules.radius_m * np.tan(turn / 2)
        corner = start + tangent[:, None] * np.column_stack([np.cos(bearing), np.sin(bearing)])
        after = tangent + rules.radius_m * np.tan(NOTCH_RAD / 2)
        out += _snap(ground, number, at, start, corner, heading, after, fits, tangent, 2.0)
    return out


def _straight_on(
    ground: Ground,
    rules: LaunchRules,
    number: int,
    at: Floats,
    start: Floats,
    bearing: Floats,
) -> list[tuple[Floats, ...]]:
    out = []
    apart = np.abs(wrap(HEADING_RAD[None, :] - bearing[:, None]))
    for rank in range(2):
        heading = np.argsort(apart, axis=1, kind="stable")[:, rank]
        turn = np.abs(wrap(HEADING_RAD[heading] - bearing))
        fits = turn <= 2 * MISMATCH_RAD
        after = np.full(at.size, 2 * rules.radius_m * np.tan(NOTCH_RAD / 2))
        near = start + 0.5 * np.column_stack([np.cos(bearing), np.sin(bearing)])
        out += _snap(ground, number, at, start, near, heading, after, fits, np.zeros(at.size), 0.0)
    return out


def _snap(
    ground: Ground,
    number: int,
    at: Floats,
    start: Floats,
    corner: Floats,
    heading: NDArray[np.int64],
    after: Floats,
    fits: NDArray[np.bool_],
    tangent: Floats,
    notches: float,
) -> list[tuple[Floats, ...]]:
    """Bring the far ends of launches onto lattice cells, keeping the best fit of each."""
    rows, cols = ground.shape
    best = np.full(at.size, np.inf)
    keep = [np.zeros(at.size) for _ in range(4)]
    for slack in SLACKS_M:
        far = corner + (after + slack)[:, None] * np.column_stack(
            [np.cos(HEADING_RAD[heading]), np.sin(HEADING_RAD[heading])]
        )
        r, c = ground.cell(far[:, 0], far[:, 1])
        x, y = ground.centre(r, c)
        leg = np.hypot(x - corner[:, 0], y - corner[:, 1])
        miss = np.abs(wrap(np.arctan2(y - corner[:, 1], x - corner[:, 0]) - HEADING_RAD[heading]))
        on = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
        good = fits & on & (miss <= MISMATCH_RAD) & (leg >= after - 0.05) & (miss < best - 1e-9)
        best = np.where(good, miss, best)
        state = number_of(ground, heading, np.clip(r, 0, rows - 1), np.clip(c, 0, cols - 1))
        for column, value in zip(keep, (state, x, y, leg), strict=True):
            column[good] = value[good]
    found = np.isfinite(best)
    if not found.any():
        return []
    state, x, y, leg = (column[found] for column in keep)
    lead = np.hypot(*(corner - start)[found].T)
    # a rounded corner is shorter than its two tangents by this much
    saved = 2 * tangent[found] * (1 - np.pi / 4 / (2 * np.tan(np.pi / 8))) if notches else 0.0
    return [
        (
            np.full(int(found.sum()), float(number)),
            at[found],
            state,
            np.column_stack([start[found, 0], corner[found, 0], x]),
            np.column_stack([start[found, 1], corner[found, 1], y]),
            lead + leg - saved,
            leg - tangent[found],
            np.full(int(found.sum()), notches),
        )
    ]


def _legal(
    ground: Ground,
    terrain: Terrain,
    limits: Limits,
    room: BaseGeometry,
    state: Floats,
    points: Floats,
) -> NDArray[np.bool_]:
    """Tell which launches keep the limits at points along them."""
    good = ground.closed[parts(ground, state.astype(np.int64))] == FREE
    start, corner, far = points[:, 0], points[:, 1], points[:, 2]
    for a, b in ((start, corner), (corner, far)):
        heading = np.arctan2(b[:, 1] - a[:, 1], b[:, 0] - a[:, 0])
        for share in (np.arange(SAMPLES // 2) + 0.5) / (SAMPLES // 2):
            x, y = (a + share * (b - a)).T
            grade = grade_at(terrain, x, y, heading)
            cross = cross_at(terrain, x, y, heading, ground.width_m)
            good &= (
                (-grade <= limits.favourable_pct)
                & (grade <= limits.adverse_pct)
                & (cross <= limits.cross_pct)
                & np.asarray(shapely.contains_xy(room, x, y))
            )
    return good
