"""What ground a trail could reach, and which marked trees could be winched from it.

One search and one look-up: which states of the lattice serve which tree is
worked out once for a ground and a winch, with every rule of a pull; after that
any search is read against it. Turning places, lines that fail when laid out and
short pitches over a sustained grade are not looked at: the figures are rough,
not a plan.
"""

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.crossing_ways import build
from layout.geometry import HEADING_RAD, along, at_stations, bearings, wrap
from layout.ground import CLOSED, FREE, Ground, open_area
from layout.lattice import Field, number, parts, search
from layout.launches import LaunchRules, turn_outs
from layout.settings import Limits
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips
from layout.winch import PullGround, WinchRules, evaluate, prepare, rules_from, swing_limit_deg

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

TURN_COST_M2 = 1.0
BESIDE_M = 2.2  # trails' own ground; nothing crosses it
SPOT_STEP_M = 3.0
OUTWARD_RAD = float(np.radians(50.0))  # ways off a landing lead away from its middle
CHUNK = 150_000
THINNED_UP_TO_M = 2.1  # cells this fine: every other one stands for its neighbours


@dataclass(frozen=True, slots=True, eq=False)
class Serving:
    """Which states serve which marked tree, sorted by tree.

    Parameters
    ----------
    state : ndarray of int, shape (k,)
        States of the lattice.
    tree : ndarray of int, shape (k,)
        Row of the marked trees; never falls.
    trees : int
        Marked trees there are.
    """

    state: Ints
    tree: Ints
    trees: int

    def served(self, reached: Flags) -> Flags:
        """Tell which trees some reached state serves, shape (trees,)."""
        out = np.zeros(self.trees, dtype=bool)
        out[self.tree[reached[self.state]]] = True
        return out


class Winching(Protocol):
    """What it takes to say what a parked winch serves; every `Scene` is one."""

    @property
    def area(self) -> Area:
        """With its settings."""

    @property
    def pulls(self) -> PullGround:
        """The ground a rope crosses."""

    @property
    def winch(self) -> WinchRules:
        """Its reach and limits."""

    @property
    def swing_deg(self) -> float:
        """How far off its trail a parked tractor can turn, degrees."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Ground, winch and rules a reach is asked of."""

    area: Area
    terrain: Terrain
    strips: Strips
    opened: BaseGeometry
    limits: Limits
    ground: Ground
    pulls: PullGround
    winch: WinchRules
    serving: Serving
    in_stand: Flags  # cells of the lattice, shape (rows, cols)

    @property
    def swing_deg(self) -> float:
        """How far off its trail a parked tractor can turn, degrees."""
        tractor = self.area.settings.tractor
        return swing_limit_deg(tractor.length_m, tractor.width_m, self.ground.width_m)

    @property
    def rules(self) -> LaunchRules:
        """What a turn-out must keep."""
        trails, objective = self.area.settings.trails, self.area.settings.objective
        return LaunchRules(
            radius_m=trails.turn_radius_m,
            angle_deg=trails.junction_angle_deg,
            tolerance_deg=trails.junction_tolerance_deg,
            start_cost_m2=objective.spur_start_m2,
            turn_cost_m2=TURN_COST_M2,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Reached:
    """What one search could reach.

    Parameters
    ----------
    field : Field
        The search.
    share_pct : float
        Share of the stand's cells a trail's centre line can come to, percent.
    trees : ndarray of bool, shape (t,)
        Marked trees that could be winched from there, from the trails that
        stand, or from the landing.
    """

    field: Field
    share_pct: float
    trees: Flags

    @property
    def count(self) -> int:
        """Count the trees."""
        return int(self.trees.sum())


def scene(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    limits: Limits,
    *,
    width_m: float | None = None,
    opened: BaseGeometry | None = None,
) -> Scene:
    """Prepare the ground for searches of reach.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job.
    limits : Limits
        Limits in force today.
    width_m : float, optional
        Trail width, metres; that of spurs where left out.
    opened : shapely geometry, optional
        Ground a machine may stand on, where it is not what `open_area` gives.

    Returns
    -------
    Scene
    """
    settings = area.settings
    width = settings.trails.width_spur_m if width_m is None else width_m
    room = open_area(area, strips) if opened is None else opened
    table = build(area, terrain, strips, room, limits, width_m=width, weight=1.0)
    pulls = prepare(area, terrain, strips)
    rows, cols = table.shape
    gx, gy = (np.ascontiguousarray(a) for a in np.broadcast_arrays(
        *table.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    ))  # fmt: skip
    shapely.prepare(area.stand)
    inside = np.asarray(shapely.contains_xy(area.stand, gx, gy))
    made = Scene(
        area, terrain, strips, room, limits, table, pulls, rules_from(settings),
        Serving(np.zeros(0, np.int64), np.zeros(0, np.int64), pulls.marked.size), inside,
    )  # fmt: skip
    return replace(made, serving=_serving(made))


def rewinched(given: Scene, area: Area) -> Scene:
    """Give the same ground with the winch of other settings."""
    made = replace(given, area=area, winch=rules_from(area.settings))
    return replace(made, serving=_serving(made))


def of_trees(given: Scene, rows: Ints) -> Scene:
    """Give the same ground with some of the marked trees only.

    Parameters
    ----------
    given : Scene
        The scene.
    rows : ndarray of int
        Rows of its marked trees, rising.

    Returns
    -------
    Scene
    """
    serving = given.serving
    keep = np.isin(serving.tree, rows)
    found = Serving(serving.state[keep], np.searchsorted(rows, serving.tree[keep]), int(rows.size))
    return replace(given, pulls=given.pulls.of_trees(rows), serving=found)


def reground(given: Scene, limits: Limits, area: Area, opened: BaseGeometry) -> Scene:
    """Give the same trees and winch on ground with other limits or other closed land."""
    table = build(
        area, given.terrain, given.strips, opened, limits, width_m=given.ground.width_m, weight=1.0
    )
    made = replace(given, area=area, limits=limits, ground=table, opened=opened)
    return replace(made, serving=_serving(made))


def _serving(given: Scene) -> Serving:
    """Judge every open state against every marked tree."""
    table = given.ground
    free_now = table.closed == FREE
    if table.passed is not None:  # on the way over water nothing is winched
        free_now &= ~table.passed
    free = np.flatnonzero(np.ascontiguousarray(free_now.transpose(1, 2, 0)).reshape(-1))
    if given.ground.cell_m <= THINNED_UP_TO_M:  # every other cell, as on a chessboard
        cell = free // 16
        free = free[(cell // table.shape[1] + cell % table.shape[1]) % 2 == 0]
    swing = given.swing_deg
    states: list[Ints] = []
    trees: list[Ints] = []
    for first in range(0, free.size if given.pulls.marked.size else 0, CHUNK):
        some = free[first : first + CHUNK]
        heading, row, col = parts(table, some)
        x, y = table.centre(row, col)
        pairs = evaluate(
            given.pulls, given.winch, x, y, HEADING_RAD[heading], swing, np.zeros(some.size, bool)
        )
        states.append(some[pairs.pos])
        trees.append(pairs.tree.astype(np.int64))
    if not states:
        return given.serving
    state, tree = np.concatenate(states), np.concatenate(trees)
    order = np.lexsort((state, tree))
    return Serving(state[order], tree[order], given.pulls.marked.size)


def from_lines(
    given: Scene,
    lines: list[Floats],
    landing_xy: ArrayLike | None,
    *,
    longest_m: float,
    ground: Ground | None = None,
) -> Reached:
    """Search from the turn-outs of trails that stand.

    Parameters
    ----------
    given : Scene
        Ground and winch.
    lines : list of ndarray, each of shape (n, 2)
        Trails, landing end first.
    landing_xy : array_like of float, shape (2,) or (k, 2), or None
        Where the tractor winches from on the landing, or on each of several.
    longest_m : float
        Longest trail off a turn-out, metres.
    ground : Ground, optional
        Other tables to search on; turn-outs keep those of the scene.

    Returns
    -------
    Reached
    """
    zone = shapely.union_all(
        [LineString(line).buffer(BESIDE_M, cap_style="flat") for line in lines]
    )
    beside = _cells_in(given.ground, zone)
    table = given.ground if ground is None else ground
    closed = table.closed.copy()
    closed[:, beside] = CLOSED
    blocked = table.states(closed)
    room = given.opened.buffer(-given.ground.width_m / 2)
    shapely.prepare(room)
    starts = turn_outs(
        given.ground,
        given.terrain,
        given.limits,
        room,
        lines,
        given.rules,
        onward_m=[0.0] * len(lines),
    ).on_open(blocked)
    field = _search(given, blocked, starts.state, starts.cost, starts.length, starts.straight,
                    longest_m)  # fmt: skip
    trees = given.serving.served(_parked(given, field)) | from_spots(given, lines, landing_xy)
    return Reached(field, _share_pct(given, field, beside), trees)


def from_site(given: Scene, *sites: Polygon) -> Reached:
    """Search from a landing outward, or from several, trails of any length.

    Parameters
    ----------
    given : Scene
        Ground and winch, tables of the main trail's width.
    *sites : Polygon
        Outline of each landing.

    Returns
    -------
    Reached
    """
    states = np.concatenate([ways_off(given.ground, site) for site in sites])
    none = np.zeros(states.size)
    field = _search(given, given.ground, states, none, none, none, np.inf)
    trees = given.serving.served(_parked(given, field))
    if trees.size:
        middles = [(site.centroid.x, site.centroid.y) for site in sites]
        trees = trees | from_spots(given, [], middles)
    own = _cells_in(given.ground, shapely.union_all(sites))
    return Reached(field, _share_pct(given, field, own), trees)


def metres_out(given: Scene, reached: Reached) -> Floats:
    """Give the least length of trail to each marked tree that a search reaches.

    Parameters
    ----------
    given : Scene
    reached : Reached
        From a landing.

    Returns
    -------
    ndarray of float, shape (t,)
        Metres; 0 from the landing itself, infinite for trees it does not reach.
    """
    far = np.full(reached.trees.size, np.inf)
    state, tree = given.serving.state, given.serving.tree
    on = np.isfinite(reached.field.cost[state])
    np.minimum.at(far, tree[on], reached.field.length[state[on]].astype(float))
    return np.where(reached.trees, np.where(np.isfinite(far), far, 0.0), np.inf)


def comes_into(given: Scene, reached: Reached, ground: BaseGeometry) -> bool:
    """Tell whether a trail a search reached has its centre line on some ground."""
    cells = np.isfinite(reached.field.cost).reshape(*given.ground.shape, 16).any(axis=2)
    return bool((cells & _cells_in(given.ground, ground)).any())


def ways_off(ground: Ground, site: Polygon) -> Ints:
    """Give the open states on a landing's edge that lead away from its middle."""
    edge = site.boundary.buffer(0.75 * ground.cell_m)
    west, south, east, north = edge.bounds
    (top, bottom), (left, right) = ground.cell(np.array([west, east]), np.array([north, south]))
    rows, cols = ground.shape
    r, c = np.meshgrid(
        np.arange(max(int(top), 0), min(int(bottom) + 1, rows)),
        np.arange(max(int(left), 0), min(int(right) + 1, cols)),
        indexing="ij",
    )
    x, y = ground.centre(r, c)
    near = np.asarray(shapely.contains_xy(edge, x, y))
    row, col = r[near].astype(np.int64), c[near].astype(np.int64)
    out = np.arctan2(y[near] - site.centroid.y, x[near] - site.centroid.x)
    apart = np.abs(wrap(HEADING_RAD[:, None] - out[None, :]))
    heading, k = np.nonzero((apart <= OUTWARD_RAD) & (ground.closed[:, row, col] == FREE))
    return number(ground, heading.astype(np.int64), row[k], col[k])


def from_spots(given: Winching, lines: list[Floats], landing_xy: ArrayLike | None) -> Flags:
    """Tell which marked trees can be winched from trails that stand, and from the landing."""
    trees = np.zeros(given.pulls.marked.size, dtype=bool)
    body = given.area.settings.tractor.length_m
    none = np.zeros((0, 2))
    xy = [none if landing_xy is None else np.atleast_2d(np.asarray(landing_xy, dtype=float))]
    rear = [np.zeros(len(xy[0]))]
    for line in lines:
        at = np.arange(float(along(line)[-1]), body, -SPOT_STEP_M)
        xy.append(at_stations(line, at))
        rear.append(bearings(line, at))
    places = np.concatenate(xy)
    if not len(places) or not trees.size:
        return trees
    anyhow = np.zeros(len(places), dtype=bool)
    anyhow[: len(xy[0])] = True
    pairs = evaluate(
        given.pulls, given.winch, places[:, 0], places[:, 1], np.concatenate(rear),
        given.swing_deg, anyhow,
    )  # fmt: skip
    trees[pairs.tree] = True
    return trees


def steps_back(given: Scene, field: Field, chain: list[int]) -> Floats:
    """Give the lengths of the legs between the states of a chain, metres, shape (n - 1,)."""
    _, row, col = parts(given.ground, np.array(chain))
    x, y = given.ground.centre(row, col)
    return np.hypot(np.diff(x), np.diff(y))


def _search(
    given: Scene, table: Ground, states: Ints, cost: Floats, length: Floats, straight: Floats,
    longest_m: float,
) -> Field:  # fmt: skip
    return search(
        table,
        states,
        cost,
        length,
        straight,
        radius_m=given.area.settings.trails.turn_radius_m,
        longest_m=longest_m,
        turn_cost=TURN_COST_M2,
    )


def _parked(given: Scene, field: Field) -> Flags:
    """Tell at which states the outfit can stand straight."""
    return np.isfinite(field.cost) & (field.straight >= given.area.settings.tractor.length_m)


def _cells_in(ground: Ground, shape: BaseGeometry) -> Flags:
    """Tell which cells lie inside a shape, shape (rows, cols)."""
    rows, cols = ground.shape
    shapely.prepare(shape)
    x, y = ground.centre(np.arange(rows)[:, None], np.arange(cols)[None, :])
    gx, gy = np.broadcast_arrays(x, y)
    return np.asarray(shapely.contains_xy(shape, gx, gy))


def _share_pct(given: Scene, field: Field, own: Flags) -> float:
    """Give the share of the stand's cells that are reached or trails' own, percent."""
    come = np.isfinite(field.cost).reshape(*given.ground.shape, 16).any(axis=2) | own
    cells = int(given.in_stand.sum())
    return 100.0 * float((come & given.in_stand).sum()) / max(cells, 1)
