"""The short places that close the ground to trees that stay unserved.

A second search may pass ground over a limit, at a price for each metre and each
point of it. Where its ways to unserved trees do so, something short may stand
between the trails and many trees: a neck. It is never a way to drive; what is
said is where it lies and what could be done instead. Ground that is closed for
another reason (strips, setback, keep-outs, hazards, soft soil on a wet day) is not passed at all.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point

from layout.findings import Finding
from layout.geometry import HEADING_RAD, along, coordinates
from layout.ground import FREE, SHORT_ONLY, Ground, trail_area
from layout.lattice import Field, parts, trace
from layout.reach import Reached, Scene, from_lines, from_site, of_trees, scene
from layout.records import Trail
from layout.settings import limits_in_force
from layout.site import Area
from layout.speech import speak_length, speak_station
from layout.terrain import Terrain, cross_at, grade_at
from layout.units import Units
from layout.water import Strips

Floats = NDArray[np.float64]

METRE_M2 = 40.0  # what a metre over a limit costs, in square metres of trail; ours
POINT_M2 = 10.0  # and each point over it; ours
MOST_OVER_PCT = 30.0  # ours: nobody asks what lies behind a cliff
JOINED_M = 10.0  # stretches with less than this between them are one neck
SAME_M = 15.0  # necks of several ways nearer than this are one
MOST = 8
KINDS = ("cross slope", "grade downhill loaded", "grade uphill loaded")
CODES = ("cross", "favourable", "adverse")


@dataclass(frozen=True, slots=True)
class Neck:
    """One short place that closes the ground.

    Parameters
    ----------
    x, y : float
        Its middle, metres.
    length_m : float
        How long it is.
    kind : str
        ``cross``, ``favourable`` or ``adverse``: the limit that closes it most.
    value_pct, limit_pct : float
        The worst there, and the limit in force.
    tree_ids : tuple of str
        Unserved trees behind it, in the list's order.
    trail_id : str
        Nearest trail; empty without any.
    at_m : float or None
        Its station nearest to the neck.
    away_m : float or None
        How far the neck lies from there.
    """

    x: float
    y: float
    length_m: float
    kind: str
    value_pct: float
    limit_pct: float
    tree_ids: tuple[str, ...]
    trail_id: str
    at_m: float | None
    away_m: float | None


def necks(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    trails: tuple[Trail, ...] = (),
    served: frozenset[str] = frozenset(),
) -> tuple[Neck, ...]:
    """Find the places that close the ground to unserved trees.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job, with a landing.
    trails : tuple of Trail, optional
        Trails that stand. Without any the search starts at the landing.
    served : frozenset of str, optional
        Trees a plan serves.

    Returns
    -------
    tuple of Neck
        Those with most trees behind them first, at most eight.
    """
    if area.landing is None or not area.trees.marked.any():
        return ()
    limits = limits_in_force(area.settings)
    tracks = area.settings.trails
    given = scene(
        area, terrain, strips, limits,
        width_m=tracks.width_spur_m if trails else tracks.width_main_m,
    )  # fmt: skip
    lines = [coordinates(trail.line) for trail in trails]
    now = _reach(given, lines, given.ground)
    planned = np.array([t in served for t in given.pulls.tree_ids], dtype=bool)
    missed = np.flatnonzero(~(now.trees | planned))
    if not missed.size:
        return ()
    some = of_trees(given, missed)
    over = _over(some)
    priced = _priced(some.ground, over)
    reached = _reach(some, lines, priced)
    places: list[_Place] = []
    for t in np.flatnonzero(reached.trees):
        way = _way(some, reached.field, int(t))
        if way is not None:
            _note(places, _stretches(some, over, way), some.pulls.tree_ids[int(t)])
    told = [_told(some, place, trails) for place in places]
    told.sort(key=lambda n: (-len(n.tree_ids), n.length_m, n.y, n.x))
    return tuple(told[:MOST])


def findings(found: tuple[Neck, ...], units: Units) -> tuple[Finding, ...]:
    """Say necks as findings.

    Parameters
    ----------
    found : tuple of Neck
        From `necks`.
    units : {"us", "metric"}
        How lengths are said.

    Returns
    -------
    tuple of Finding
        One caution each.
    """
    return tuple(
        Finding(
            "neck",
            "caution",
            _words(neck, units),
            "trails" if neck.trail_id else "",
            neck.trail_id,
            neck.at_m,
            neck.at_m,
            neck.value_pct,
            neck.limit_pct,
            "%",
            "ours: a search that prices what the limits close; never a way to drive",
            at=(neck.x, neck.y),
        )
        for neck in found
    )


def _words(neck: Neck, units: Units) -> str:
    count = len(neck.tree_ids)
    behind = "1 unserved tree lies" if count == 1 else f"{count} unserved trees lie"
    where = f"at [{neck.x:.0f}, {neck.y:.0f}]"
    if neck.trail_id and neck.at_m is not None and neck.away_m is not None:
        where = (
            f"{speak_length(neck.away_m, units)} from {neck.trail_id} at "
            f"{speak_station(neck.at_m, units)}"
        )
    kind = KINDS[CODES.index(neck.kind)]
    ways = ["another landing", "an arm round it"]
    if neck.kind == "cross":
        ways.append("a bench dug where the ground can carry one")
    ways.append("winching across it")
    return (
        f"A neck not to be driven, {where}: {speak_length(neck.length_m, units)} of ground closed "
        f"by {kind}, {neck.value_pct:.0f} % against the {neck.limit_pct:.0f} % limit that stays; "
        f"{behind} behind it. What may reach them: {', '.join(ways[:-1])}, or {ways[-1]}."
    )


def _reach(given: Scene, lines: list[Floats], table: Ground) -> Reached:
    assert given.area.landing is not None
    if not lines:
        return from_site(replace(given, ground=table), *given.area.landings)
    middles = [(one.centroid.x, one.centroid.y) for one in given.area.landings]
    return from_lines(given, lines, middles, longest_m=math.inf, ground=table)


@dataclass(frozen=True, slots=True, eq=False)
class _Over:
    """Points over the limits, by heading and cell; infinite where not to be passed."""

    points: Floats  # shape (16, rows, cols)
    kind: NDArray[np.int8]
    value: Floats


def _over(given: Scene) -> _Over:
    """Measure by how much each closed state passes the limits."""
    table, limits = given.ground, given.limits
    rows, cols = table.shape
    x, y = table.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    gx, gy = np.broadcast_arrays(x, y)
    room = trail_area(given.opened, table.width_m)
    shapely.prepare(room)
    inside = np.asarray(shapely.contains_xy(room, gx, gy))
    points = np.full((16, rows, cols), np.inf)
    kind = np.zeros((16, rows, cols), dtype=np.int8)
    value = np.zeros((16, rows, cols))
    most = (limits.cross_pct, limits.favourable_pct, limits.adverse_pct)
    px, py = gx[inside], gy[inside]
    for heading in range(8):
        angle = float(HEADING_RAD[heading])
        grade = grade_at(given.terrain, px, py, angle)
        cross = cross_at(given.terrain, px, py, angle, table.width_m)
        for way, signed in ((heading, grade), (heading + 8, -grade)):
            sizes = np.stack([cross, np.maximum(-signed, 0.0), np.maximum(signed, 0.0)])
            past = sizes - np.array(most)[:, None]
            worst = np.argmax(np.where(np.isfinite(past), past, np.inf), axis=0)
            pick = np.arange(worst.size)
            by = past[worst, pick]
            points[way][inside] = np.where(
                np.isfinite(by) & (by <= MOST_OVER_PCT), np.maximum(by, 0.0), np.inf
            )
            kind[way][inside] = worst
            value[way][inside] = sizes[worst, pick]
    # what is open, if only for a short pitch, is no neck
    points[table.closed == FREE] = 0.0
    points[table.closed == SHORT_ONLY] = 0.0
    return _Over(points, kind, value)


def _priced(table: Ground, over: _Over) -> Ground:
    """Open what only a limit closes, at a price."""
    passable = np.isfinite(over.points)
    closed = np.where(passable, FREE, table.closed).astype(np.uint8)
    plain = np.where(table.cost > 0, table.cost, np.float32(table.width_m))
    # where the tables are closed and yet nothing is over, a reserve is all that is missing
    extra = np.where(over.points > 0, METRE_M2 + POINT_M2 * over.points, 0.0)
    cost = np.where(passable, plain + extra, table.cost).astype(np.float32)
    return replace(table, closed=closed, cost=cost)


def _way(given: Scene, field: Field, t: int) -> Floats | None:
    """Give the cheapest way to where a tree could be winched, as (heading, row, col) by metre."""
    mine = given.serving.state[given.serving.tree == t]
    body = given.area.settings.tractor.length_m
    mine = mine[np.isfinite(field.cost[mine]) & (field.straight[mine] >= body)]
    if not mine.size:
        return None
    chain, _ = trace(field, int(mine[np.lexsort((mine, field.cost[mine]))[0]]))
    heading, row, col = parts(given.ground, np.array(chain))
    x, y = given.ground.centre(row, col)
    out = [np.array([[heading[0], x[0], y[0]]], dtype=float)]
    for k in range(1, len(chain)):
        leg = math.hypot(x[k] - x[k - 1], y[k] - y[k - 1])
        share = np.arange(1, max(round(leg), 1) + 1) / max(round(leg), 1)
        out.append(
            np.column_stack(
                [
                    np.full(share.size, float(heading[k])),
                    x[k - 1] + share * (x[k] - x[k - 1]),
                    y[k - 1] + share * (y[k] - y[k - 1]),
                ]
            )
        )
    return np.concatenate(out)


@dataclass(slots=True, eq=False)
class _Place:
    """One neck in the making."""

    points: Floats
    length_m: float
    kind: int
    value: float
    over: float
    trees: list[str]

    @property
    def middle(self) -> Floats:
        return np.asarray(self.points.mean(axis=0))


def _stretches(given: Scene, over: _Over, way: Floats) -> list[_Place]:
    """Cut out of a way the stretches over a limit."""
    heading = way[:, 0].astype(np.int64)
    row, col = given.ground.cell(way[:, 1], way[:, 2])
    by = over.points[heading, row, col]
    bad = np.flatnonzero(by > 0)
    if not bad.size:
        return []
    at = along(way[:, 1:])
    ends = np.flatnonzero(np.diff(at[bad]) > JOINED_M)
    first = np.concatenate([[0], ends + 1])
    last = np.concatenate([ends, [bad.size - 1]])
    out = []
    for a, b in zip(first, last, strict=True):
        mine = bad[a : b + 1]
        worst = mine[int(np.argmax(np.where(np.isfinite(by[mine]), by[mine], -1.0)))]
        key = heading[worst], row[worst], col[worst]
        out.append(
            _Place(
                way[mine, 1:],
                float(at[mine[-1]] - at[mine[0]]) + 1.0,
                int(over.kind[key]),
                float(over.value[key]),
                float(by[worst]),
                [],
            )
        )
    return out


def _note(places: list[_Place], found: list[_Place], tree_id: str) -> None:
    """Add a tree to the necks its way passes; ways through the same place share one."""
    for place in found:
        for known in places:
            if float(np.hypot(*(known.middle - place.middle))) <= SAME_M:
                if tree_id not in known.trees:
                    known.trees.append(tree_id)
                known.length_m = max(known.length_m, place.length_m)
                if place.over > known.over:
                    known.kind, known.value, known.over = place.kind, place.value, place.over
                break
        else:
            place.trees.append(tree_id)
            places.append(place)


def _told(given: Scene, place: _Place, trails: tuple[Trail, ...]) -> Neck:
    x, y = (float(v) for v in place.points[len(place.points) // 2])
    most = (given.limits.cross_pct, given.limits.favourable_pct, given.limits.adverse_pct)
    trail_id, at_m, away_m = "", None, None
    if trails:
        spot = Point(x, y)
        near = min(trails, key=lambda t: (t.line.distance(spot), t.trail_id))
        line = LineString(coordinates(near.line))
        trail_id, at_m, away_m = near.trail_id, float(line.project(spot)), line.distance(spot)
    return Neck(
        x, y, place.length_m, CODES[place.kind], place.value, most[place.kind],
        tuple(place.trees), trail_id, at_m, away_m,
    )  # fmt: skip
