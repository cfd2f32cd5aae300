"""Which trees can be winched from where, how, and what stands in the way.

`evaluate` tries every position against every marked tree and gives back every
pull the five rules allow (see `winch_rules`), and of each tree without one the
pull that got farthest. Positions are the fairlead's place; the tractor stands
ahead of it, away from the direction its rear points in. Directions are radians
counter-clockwise from grid east.
"""

import math
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import cKDTree
from shapely.geometry import LineString

from layout.errors import InputError
from layout.grid import Dem
from layout.records import Pull, Sureness, TreeStatus, WinchPosition
from layout.speech import speak_length
from layout.units import Units
from layout.winch_ground import PullGround as PullGround
from layout.winch_ground import binned
from layout.winch_ground import prepare as prepare
from layout.winch_kernel import (
    CODE_NAMES,
    LIMIT_NAMES,
    NUMBER_NAMES,
    WHOLE_NAMES,
    Land,
    lie_many,
    search,
)
from layout.winch_kernel import LAND as OFF_LAND
from layout.winch_kernel import WATER as IN_WATER
from layout.winch_rules import CAUTIONS as CAUTIONS
from layout.winch_rules import CODE
from layout.winch_rules import REASONS as REASONS
from layout.winch_rules import SHORTFALL_UNIT as SHORTFALL_UNIT
from layout.winch_rules import WinchRules as WinchRules
from layout.winch_rules import findings_from as findings_from
from layout.winch_rules import rules_from as rules_from
from layout.winch_rules import swing_limit_deg as swing_limit_deg

Floats = NDArray[np.float64]
Number = TypeVar("Number", bound=np.generic)

SURENESS: tuple[Sureness, ...] = ("sure", "tight", "doubtful")
STRAIGHT_DEG = 0.5  # nobody sees a pull this little off the axis as left or right

_CODES = np.array([CODE[name] for name in CODE_NAMES], dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Parking:
    """How the outfit lies where it is parked; arrays have the shape of the places.

    Parameters
    ----------
    along_pct : ndarray of float
        Slope under its length: + where the rear is the lower end (loaded travel
        goes uphill), - where it is the higher.
    cross_pct : ndarray of float
        Slope under its track, unsigned.
    tilt_left_pct : ndarray of float
        The same signed: + where the left side, looking back, is the higher.
    slope_pct : ndarray of float
        The steepest slope of the plane it stands on.
    ok : ndarray of bool
        Along and cross are at most 15 %; false where the ground is not known.
    caution : ndarray of bool
        Allowed, but more than 10 %: plate dug in.
    """

    along_pct: Floats
    cross_pct: Floats
    tilt_left_pct: Floats
    slope_pct: Floats
    ok: NDArray[np.bool_]
    caution: NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """Every allowed pull, and of each tree what came nearest.

    Arrays down to ``sure`` have one entry for each allowed pair of position and
    tree, position by position; the three ``best`` ones one for each marked tree.

    Parameters
    ----------
    pos, tree : ndarray of int
        Row of the positions handed in, and row of ``ground.marked``.
    swing_deg : ndarray of float
        How far the rear is swung off the direction handed in, + to the left looking back.
    angle_deg, angle_limit_deg : ndarray of float
        Rope to the parked axis, after the swing, and what is allowed there.
    to_left_deg : ndarray of float
        The same angle signed: + to the left looking back.
    map_m, ground_m, reach_m, margin_m : ndarray of float
        Length on the map and along the ground; what is allowed; and how far the
        stump may be from its dot before the pull is not: the lesser of the reach
        that is left and the room to the edge of the allowed angle.
    rise_m : ndarray of float
        Ground at the stump minus ground at the fairlead.
    hits : ndarray of float
        Leave stems brushed, counted or expected; NaN where leave stems are not known.
    pull_kn : ndarray of float
        Pull needed for the heaviest piece; NaN where the weight is not known.
    pieces : ndarray of int
        Pieces the stem is bucked into before winching.
    cross_pct, along_pct : ndarray of float
        As in `Parking`, in the parked heading.
    caution : ndarray of int
        Sum of bits, keys of `CAUTIONS`.
    cost_m2 : ndarray of float
        What the pull costs the objective.
    sure : ndarray of int
        Place in `SURENESS`.
    best_code : ndarray of int
        Key of `REASONS`: served, or the rule at which the pull that got farthest failed.
    best_shortfall : ndarray of float
        By how much, in `SHORTFALL_UNIT`; 0 where served, inf where there is no number.
    best_pos : ndarray of int
        At which position (of a served tree the cheapest); -1 without any.
    """

    pos: NDArray[np.int32]
    tree: NDArray[np.int32]
    swing_deg: Floats
    angle_deg: Floats
    angle_limit_deg: Floats
    to_left_deg: Floats
    map_m: Floats
    ground_m: Floats
    reach_m: Floats
    margin_m: Floats
    rise_m: Floats
    hits: Floats
    pull_kn: Floats
    pieces: NDArray[np.int32]
    cross_pct: Floats
    along_pct: Floats
    caution: NDArray[np.int32]
    cost_m2: Floats
    sure: NDArray[np.int32]
    best_code: NDArray[np.int64]
    best_shortfall: Floats
    best_pos: NDArray[np.int64]

    def __len__(self) -> int:
        """Count the allowed pairs."""
        return int(self.pos.size)


def park(
    ground: PullGround, rules: WinchRules, x: ArrayLike, y: ArrayLike, rear_rad: ArrayLike
) -> Parking:
    """Tell how an outfit would lie at places, from the smoothed ground.

    Parameters
    ----------
    ground : PullGround
        The ground.
    rules : WinchRules
        Outfit and limits.
    x, y, rear_rad : array_like of float, shapes that broadcast
        Fairlead, metres, and the direction the rear points in.

    Returns
    -------
    Parking
        Arrays of the broadcast shape.
    """
    px, py, rear = np.broadcast_arrays(*(np.asarray(a, dtype=float) for a in (x, y, rear_rad)))
    rise, tilt = lie_many(
        _land(ground),
        _own(np.ravel(px), np.float64),
        _own(np.ravel(py), np.float64),
        _own(np.ravel(rear), np.float64),
        rules.length_m,
        rules.track_m,
    )
    along = -100.0 * rise.reshape(px.shape)
    tilted = 100.0 * tilt.reshape(px.shape)
    worst = np.maximum(np.abs(along), np.abs(tilted))
    ok = worst <= rules.park_stop_pct + 1e-9
    return Parking(
        along_pct=along,
        cross_pct=np.abs(tilted),
        tilt_left_pct=tilted,
        slope_pct=np.hypot(along, tilted),
        ok=ok,
        caution=ok & (worst > rules.park_pct + 1e-9),
    )


def evaluate(
    ground: PullGround,
    rules: WinchRules,
    x: ArrayLike,
    y: ArrayLike,
    rear_rad: ArrayLike,
    swing_max_deg: ArrayLike,
    any_heading: ArrayLike,
) -> Pairs:
    """Find every allowed pull between positions and marked trees.

    Parameters
    ----------
    ground : PullGround
        Made by `prepare`.
    rules : WinchRules
        Made by `rules_from`.
    x, y : array_like of float, shape (p,)
        Fairleads, metres.
    rear_rad : array_like of float, shape (p,)
        Where the rear points with the tractor along its trail.
    swing_max_deg : array_like of float, shape (p,) or scalar
        Widest swing to either side the trail's width allows; used only where the
        ground lies at most 10 % any way.
    any_heading : array_like of bool, shape (p,) or scalar
        True on the landing: the rear is turned straight at the tree where the
        tractor can park so.

    Returns
    -------
    Pairs
        Allowed pairs and, tree by tree, the farthest refusal.

    Raises
    ------
    InputError
        If the arrays do not match, or a place or direction is not a number.
    """
    px, py, rear = (_own(np.ravel(np.asarray(a)), np.float64) for a in (x, y, rear_rad))
    if not px.size == py.size == rear.size:
        msg = f"positions do not match: {px.size} x, {py.size} y and {rear.size} directions"
        raise InputError(msg)
    if not np.isfinite(px + py + rear).all():
        raise InputError("a winch position has no place or direction (NaN); leave it out")
    swing = _own(np.broadcast_to(np.asarray(swing_max_deg), px.shape), np.float64)
    free = _own(np.broadcast_to(np.asarray(any_heading), px.shape), np.bool_)
    shut = _own(shapely.intersects_xy(ground.no_parking, px, py), np.bool_)
    trees = binned(
        ground.x, ground.y, max(rules.longest_m / 2, 1.0), _reachable(ground.dem, rules.longest_m)
    )
    stems = ground.stems
    numbers, wholes, code, short, pos = search(
        np.array([getattr(rules, name) for name in LIMIT_NAMES], dtype=np.float64),
        (
            np.array(rules.angle_edges_pct),
            np.array(rules.angle_table_deg),
            rules.side.step_pct,
            np.array(rules.side.downhill_deg),
            np.array(rules.side.uphill_deg),
        ),
        _land(ground),
        (px, py, rear, swing, free, shut),
        (
            _own(ground.x, np.float64),
            _own(ground.y, np.float64),
            _own(ground.mass_kg, np.float64),
            _own(ground.position_error_m, np.float64),
            _own(ground.exact, np.bool_),
            (trees.first, trees.items, trees.west_m, trees.north_m, trees.bin_m),
        ),
        (
            stems.x,
            stems.y,
            stems.radius_m,
            stems.keep,
            float(stems.radius_m.max()) if stems.radius_m.size else 0.0,
            (
                stems.bins.first,
                stems.bins.items,
                stems.bins.west_m,
                stems.bins.north_m,
                stems.bins.bin_m,
            ),
        ),
        (
            float(ground.density_per_m2),
            float(ground.density_vague_per_m2),
            float(ground.stem_width_m),
            bool(ground.leave_known),
        ),
        _CODES,
    )
    _tell_far_trees(ground, rules, px, py, code, short, pos)
    number = dict(zip(NUMBER_NAMES, numbers, strict=True))
    whole = dict(zip(WHOLE_NAMES, wholes, strict=True))
    return Pairs(**number, **whole, best_code=code, best_shortfall=short, best_pos=pos)


def _reachable(dem: Dem, longest_m: float) -> tuple[float, float, float, float]:
    """Bound the places a rope can come to: it starts on the elevations."""
    west, south, east, north = dem.bounds
    return west - longest_m, south - longest_m, east + longest_m, north + longest_m


def _tell_far_trees(
    ground: PullGround,
    rules: WinchRules,
    x: Floats,
    y: Floats,
    code: NDArray[np.int64],
    short: Floats,
    pos: NDArray[np.int64],
) -> None:
    """Give trees that no position came near to their reason and shortfall, in place."""
    far = np.flatnonzero(code == CODE["no_position"])
    if far.size and x.size:
        away, nearest = cKDTree(np.column_stack([x, y])).query(
            np.column_stack([ground.x[far], ground.y[far]])
        )
        code[far] = CODE["reach"]
        short[far] = away - rules.longest_m
        pos[far] = nearest
    unserved = code != CODE["served"]
    # Where the stump itself stands decides before any pull does.
    for stands_on, reason in ((OFF_LAND, "not_in_stand"), (IN_WATER, "water")):
        there = unserved & (ground.stands_on == stands_on)
        short[there & (code != CODE[reason])] = np.inf
        code[there] = CODE[reason]


def _land(ground: PullGround) -> Land:
    """Bundle the grids for the kernel."""
    dem = ground.dem
    return (
        _own(dem.z, np.float32),
        _own(ground.smooth.z, np.float32),
        float(dem.west_m),
        float(dem.north_m),
        float(dem.cell_m),
        _own(ground.closed, np.uint8),
    )


def _own(array: NDArray[Any], kind: type[Number]) -> NDArray[Number]:
    """Give an array as the kernel was compiled for.

    A write-protected array is another kind to the compiler: it would start again.
    """
    return np.require(array, dtype=kind, requirements=["C", "W"])


def to_pull(
    ground: PullGround, rules: WinchRules, position: WinchPosition, pairs: Pairs, index: int
) -> Pull:
    """Put one allowed pair into a record.

    Parameters
    ----------
    ground : PullGround
        The ground the pairs were found on.
    rules : WinchRules
        The rules they were found with.
    position : WinchPosition
        Record of the position ``pairs.pos[index]``.
    pairs : Pairs
        Allowed pairs.
    index : int
        Row of ``pairs``.

    Returns
    -------
    Pull
        ``side`` is as the operator sees it from the seat, looking back over the winch.

    Raises
    ------
    InputError
        If the position is farther from the stump than the pair is long.
    """
    tree = int(pairs.tree[index])
    line = LineString([(position.x, position.y), (ground.x[tree], ground.y[tree])])
    map_m = float(pairs.map_m[index])
    if abs(line.length - map_m) > 0.01 or map_m > rules.longest_m + 1e-9:
        msg = (
            f"position {position.position_id} is {line.length:.2f} m from tree "
            f"{ground.tree_ids[tree]}, the pair says {map_m:.2f} m; it belongs to another position"
        )
        raise InputError(msg)
    hits = float(pairs.hits[index])
    to_left = float(pairs.to_left_deg[index])
    return Pull(
        tree_id=ground.tree_ids[tree],
        position_id=position.position_id,
        map_m=map_m,
        ground_m=float(pairs.ground_m[index]),
        reach_m=float(pairs.reach_m[index]),
        margin_m=float(pairs.margin_m[index]),
        sure=SURENESS[int(pairs.sure[index])],
        angle_deg=float(pairs.angle_deg[index]),
        side="straight" if abs(to_left) < STRAIGHT_DEG else "left" if to_left > 0 else "right",
        rise_m=float(pairs.rise_m[index]),
        leave_hits=None if math.isnan(hits) else hits,
        pull_kn=float(pairs.pull_kn[index]),
        line=line,
        pieces=int(pairs.pieces[index]),
    )


def cautions(bits: int) -> tuple[str, ...]:
    """Spell out the cautions of a pull.

    Examples
    --------
    >>> cautions(16 + 32)
    ('brushes leave stems', 'buck the stem before winching')
    """
    return tuple(words for bit, words in CAUTIONS.items() if bits & bit)


LEAVE_IT = "leave it standing"


def remedies(status: TreeStatus, shortfall: float | None, units: Units) -> tuple[str, ...]:
    """Say what would serve a tree that has no pull, the plainest first.

    Parameters
    ----------
    status : str
        Why the tree is not served.
    shortfall : float or None
        By how much the rule is missed, in the unit of the reason; lengths in metres.
    units : {"us", "metric"}
        How lengths are said.

    Returns
    -------
    tuple of str
        Empty for a tree that is served or not marked; otherwise "leave it standing" first.
    """
    if status in ("served", "leave"):
        return ()
    known = shortfall is not None and math.isfinite(shortfall) and shortfall > 0
    number = float(shortfall) if shortfall is not None and known else 0.0
    length = speak_length(number, units)
    return (LEAVE_IT, *_ways_out(status, number if known else None, length))


def _ways_out(status: TreeStatus, number: float | None, length: str) -> tuple[str, ...]:
    """Give the remedies of one reason after the first."""
    told = number is not None
    if status == "beyond_reach":
        nearer = f"bring a trail {length} nearer" if told else "bring a trail nearer"
        return (nearer, "a longer rope, where it can still be dragged out by hand")
    if status == "pull_angle":
        # every swing the trail's width lets was tried already, so turning more is no way out
        return ("a spur that points at it", "a snatch block set by someone trained")
    if status == "load_above":
        return (
            "winch it uphill from a trail above",
            "winch it level, across the slope",
            "a snatch block set off to the side, by someone trained",
        )
    if status == "parking":
        return ("a level place to park nearby", "a small bench, if the soil takes it")
    if status == "no_turning":
        return ("a level turning place nearer", "a longer backing distance, if it can be driven")
    if status == "corridor":
        return (
            "a position on another side of it",
            "fell it toward the trail, so that the near end lies clear",
            "a snatch block to bend the rope, set by someone trained",
        )
    if status == "blocked_by_water":
        return (
            "a position on its own side of the water",
            "ask what the local water rule allows for winching out of a strip",
        )
    if status == "too_heavy":
        buck = "buck it into shorter logs"
        if number is None:
            return (buck, "a stronger winch")
        return (buck, f"a winch that pulls {math.ceil(number - 1e-9)} kN more")
    if status == "not_worth_it":
        return ("raise serve_worth if the tree is worth the extra trail",)
    if status == "outside":
        return ("check its coordinates and the boundary on the ground",)
    return ("lay a trail within reach of it",)
