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

from layout.fairline import BEND_HALF_M
from layout.geometry import HEADING_RAD, along, at_stations, bearings, drop_straight, wrap
from layout.ground import FREE, Ground
from layout.lattice import number as number_of
from layout.lattice import parts
from layout.settings import Limits
from layout.terrain import Terrain, cross_at, grade_at

Floats = NDArray[np.float64]

STEP_M = 2.0  # stations a turn-out is tried from
MISMATCH_RAD = float(np.radians(7.0))  # bend left for the first lattice corner
SLACKS_M = (0.0, 0.7, 1.4, 2.1, 2.8, 3.5)
FAR_SLACKS_M = (*SLACKS_M, 4.9, 6.3, 7.7, 9.1)  # going straight on may take longer to fit
TIP_HALF_M = 0.25  # on an arc a longer chord lags behind the end's own direction
ANGLE_RESERVE_DEG = 2.0
KINK_M = 1.0  # a corner that turns as much as this many metres of the tightest arc is a kink
ARC_SPARE = 1.08  # tangents are laid out a little longer than the radius asks
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

    def take(self, keep: NDArray[np.bool_]) -> "Launches":
        """Give some of the launches."""
        return Launches(
            self.branch[keep],
            self.mouth_m[keep],
            self.state[keep],
            self.points[keep],
            self.cost[keep],
            self.length[keep],
            self.straight[keep],
        )

    def on_open(self, ground: Ground) -> "Launches":
        """Give those that enter the lattice where it is open."""
        return self.take(ground.closed[parts(ground, self.state)] == FREE)


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
    onward_m: list[float | None],
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
    onward_m : list of float or None
        For each line, the metres of spur that going straight on from its end
        adds to; None where it may not be prolonged.

    Returns
    -------
    Launches
        May be empty.
    """
    tables: list[tuple[Floats, ...]] = []
    number, at, start, bearing = _stations(lines, rules.radius_m)
    if at.size:
        for side in (1.0, -1.0):
            for row in _bend(ground, rules, number, at, start, bearing, side):
                tables.append((*row, row[5]))
    number, at, start, bearing = _tips(lines, [m is not None for m in onward_m])
    if at.size:
        before = np.array([m or 0.0 for m in onward_m])
        for row in _straight_on(ground, rules, number, at, start, bearing):
            tables.append((*row, row[5] + before[row[0].astype(np.int64)]))
    if not tables:
        return _none()
    branch, at, state, x3, y3, length, straight, notches, run = (
        np.concatenate(column) for column in zip(*tables, strict=True)
    )
    points = np.stack([x3, y3], axis=-1)
    good = _legal(ground, terrain, limits, room, points)
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
        run[good],
        straight[good],
    )


def clear_of_kinks(line: Floats, at_m: Floats, radius_m: float) -> NDArray[np.bool_]:
    """Tell where a trail has no kink just before a mouth.

    A drawn one may: the turn-out would begin in it and bend tighter than it may.
    """
    pts = drop_straight(line)
    turn = np.abs(wrap(np.diff(np.arctan2(*np.diff(pts, axis=0).T[::-1]))))
    kinks = along(pts)[1:-1][turn > KINK_M / radius_m]
    gap = at_m[:, None] - kinks[None, :]
    return np.asarray(~((gap >= -1e-6) & (gap <= BEND_HALF_M)).any(axis=1))


def _stations(lines: list[Floats], radius_m: float) -> tuple[Floats, Floats, Floats, Floats]:
    """Give line number, distance along, place and bearing of every station tried."""
    parts_of: list[tuple[Floats, Floats, Floats, Floats]] = []
    for number, line in enumerate(lines):
        at = np.arange(STEP_M, float(along(line)[-1]) - 1e-6, STEP_M)
        at = at[clear_of_kinks(line, at, radius_m)]
        parts_of.append(
            (np.full(at.size, float(number)), at, at_stations(line, at), bearings(line, at))
        )
    return _joined(parts_of)


def _tips(lines: list[Floats], wanted: list[bool]) -> tuple[Floats, Floats, Floats, Floats]:
    """Give the same of the ends of some lines."""
    parts_of: list[tuple[Floats, Floats, Floats, Floats]] = []
    for number, line in enumerate(lines):
        if wanted[number]:
            end = along(line)[-1:]
            parts_of.append(
                (
                    np.array([float(number)]),
                    end,
                    at_stations(line, end),
                    bearings(line, end, half_m=TIP_HALF_M),
                )
            )
    return _joined(parts_of)


def _joined(
    rows: list[tuple[Floats, Floats, Floats, Floats]],
) -> tuple[Floats, Floats, Floats, Floats]:
    if not rows:
        return np.zeros(0), np.zeros(0), np.zeros((0, 2)), np.zeros(0)
    number, at, start, bearing = (np.concatenate(c) for c in zip(*rows, strict=True))
    return number, at, start, bearing


def _none() -> Launches:
    empty = np.zeros(0)
    whole = np.zeros(0, dtype=np.int64)
    return Launches(whole, empty, whole, np.zeros((0, 3, 2)), empty, empty, empty)


def _bend(
    ground: Ground,
    rules: LaunchRules,
    number: Floats,
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
        spare = tangent / rules.radius_m
        out += _snap(
            ground, number, at, start, corner, heading, after, fits, tangent, 2.0, bearing, spare
        )
    return out


def _straight_on(
    ground: Ground,
    rules: LaunchRules,
    number: Floats,
    at: Floats,
    start: Floats,
    bearing: Floats,
) -> list[tuple[Floats, ...]]:
    out = []
    apart = np.abs(wrap(HEADING_RAD[None, :] - bearing[:, None]))
    for rank in range(2):
        heading = np.argsort(apart, axis=1, kind="stable")[:, rank]
        turn = np.abs(wrap(HEADING_RAD[heading] - bearing))
        fits = turn <= MISMATCH_RAD
        after = np.full(at.size, 2 * rules.radius_m * np.tan(NOTCH_RAD / 2))
        near = start + 0.5 * np.column_stack([np.cos(bearing), np.sin(bearing)])
        out += _snap(
            ground, number, at, start, near, heading, after, fits, np.zeros(at.size), 0.0,
            bearing, np.full(at.size, np.tan(MISMATCH_RAD / 2)),
        )  # fmt: skip
    return out


def _snap(
    ground: Ground,
    number: Floats,
    at: Floats,
    start: Floats,
    corner: Floats,
    heading: NDArray[np.int64],
    after: Floats,
    fits: NDArray[np.bool_],
    tangent: Floats,
    notches: float,
    bearing: Floats,
    spare: Floats,
) -> list[tuple[Floats, ...]]:
    """Bring the far ends of launches onto lattice cells, keeping the best fit of each."""
    rows, cols = ground.shape
    best = np.full(at.size, np.inf)
    keep = [np.zeros(at.size) for _ in range(4)]
    for slack in SLACKS_M if notches else FAR_SLACKS_M:
        far = corner + (after + slack)[:, None] * np.column_stack(
            [np.cos(HEADING_RAD[heading]), np.sin(HEADING_RAD[heading])]
        )
        r, c = ground.cell(far[:, 0], far[:, 1])
        x, y = ground.centre(r, c)
        leg = np.hypot(x - corner[:, 0], y - corner[:, 1])
        onward = np.arctan2(y - corner[:, 1], x - corner[:, 0])
        miss = np.abs(wrap(onward - HEADING_RAD[heading]))
        # the corner as it came out must still have room for its arc before and after it
        need = np.tan(np.abs(wrap(onward - bearing)) / 2)
        on = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
        good = fits & on & (miss <= MISMATCH_RAD) & (leg >= after - 0.05) & (need <= spare)
        good &= miss < best - 1e-9
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
            number[found],
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
    points: Floats,
) -> NDArray[np.bool_]:
    """Tell which launches keep the limits at points along them."""
    good = np.ones(len(points), dtype=bool)
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
