"""Rub trees: what loads rub against, so that the trees behind it are spared.

At each corner that loads cut, a stem on the inside is looked for that the load
meets before it meets the trees that stay. A marked one is kept standing till the
last load has passed. A low-value one may be proposed, where it spares a better tree;
it is the owner who marks it. Where no stem will do, a log laid along the inside edge
or the high stump of a tree cut there does as well.

Never taken: a tree kept for a reason, a hazard tree, one that may be the
neighbour's, one inside a trail, one too thin to hold.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.ground import stems_known
from layout.land import property_edge
from layout.place_errors import tree_error_m
from layout.records import Pull, RubPlace, RubTree, Trail, TreeOutcome, WinchPosition
from layout.rub_places import Bend, bends, passing
from layout.site import Area
from layout.species import resolve, species_table
from layout.tree_sizes import distance_heights_m
from layout.units import FOOT_M, INCH_M
from layout.winch_rules import (
    CORRIDOR_STEM_M,
    CORRIDOR_TREE_M,
    EXACT_POSITION_M,
    FAIRLEAD_FREE_M,
    ROPE_CLEAR_M,
)

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

LEAST_DBH_M = 6 * INCH_M  # a thinner stem bends over; ours
CULL_DEFECT_PCT = 50.0  # as much rot or crook as sound wood: a cull; from memory
HARM_M = 15 * FOOT_M  # sources.DAMAGE_ZONE: most harm is done this near the centre line
BEHIND_M = 0.3  # a tree counts as behind the rub tree if it stands no nearer than this; ours
AHEAD_M = 10.0  # along a pull the load meets the rub tree at most this long before; ours
MOST_AT_ONE = 3
# What a spared tree counts for: a keep tree before plain ones, those before culls. Ours.
WORTH_KEEP, WORTH_PLAIN, WORTH_LOW = 10.0, 1.0, 0.1


@dataclass(frozen=True, slots=True, eq=False)
class _Stems:
    """The stems of the list as the choice sees them; arrays have shape (n,)."""

    ids: tuple[str, ...]
    x: Floats
    y: Floats
    radius: Floats
    worth: Floats  # of a tree that stays; 0 for those that go
    marked: Mask  # may be kept standing for a while
    low: Mask  # may be proposed
    index: shapely.STRtree


def rub_trees(
    area: Area,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    comes_out: Mask,
) -> tuple[RubTree, ...]:
    """Choose rub trees for a finished layout.

    Parameters
    ----------
    area : Area
        The job.
    trails, positions, pulls : sequences of Trail, WinchPosition, Pull
        The layout; loads travel from the positions to the landing.
    comes_out : ndarray of bool, shape (n,)
        Listed stems, marked or not, that come out when trails, turning places and landing
        are opened.

    Returns
    -------
    tuple of RubTree
        R1, R2 … from the landing outward. Where single stems cannot be spoken of
        (not every stem listed, or places known to worse than 1.5 m) each mouth is
        named as a place to look.
    """
    if not positions:
        return ()
    length = load_length_m(area)
    if not stems_known(area):
        mouths = [b for b in bends(trails, positions, (), length) if b.kind == "junction"]
        return _named([_at_corner("look", b, b.deepest_m, ()) for b in mouths], trails, positions)
    stems = _stems(area, comes_out)
    half = 0.5 * lane_m(area)
    found: list[RubTree] = []
    for bend in bends(trails, positions, pulls, length):
        found += _for_bend(bend, stems, length, half)
    by_id = {trail.trail_id: trail for trail in trails}
    where = {position.position_id: position for position in positions}
    lanes = [(pull, lane) for pull in pulls if (lane := _lane(pull, stems, half)).at_risk.any()]
    # what is pulled past trees that stay is no rub tree for others: each would wait for the other
    waiting = {pull.tree_id for pull, _ in lanes}
    for pull, lane in lanes:
        position = where[pull.position_id]
        place = _pull_place(pull, position, by_id.get(position.trail_id))
        found += _for_pull(pull, place, stems, lane, waiting)
    return _named(_merged(found), trails, positions)


def load_length_m(area: Area) -> float:
    """Give the length of the longest load that travels the trails, metres.

    The longest log with its trim; where whole trees travel, the tallest marked one.
    """
    timber = area.settings.timber
    if area.settings.work.extract == "tree":
        tall = distance_heights_m(area)[area.trees.to_serve]
        if tall.size:
            return float(tall.max())
    return max(timber.log_lengths_m) + timber.trim_m


def low_value(area: Area) -> Mask:
    """Tell which stems hold no sawlog: under sawlog size, or at least half defect.

    Returns
    -------
    ndarray of bool, shape (n,)
        False where the diameter is not known.
    """
    trees, least = area.trees, area.settings.timber.min_sawlog_dbh
    soft = np.array([s.kind == "softwood" for s in species_table()])[resolve(trees.species).row]
    small = trees.dbh_cm / 100 < np.where(soft, least.softwood_m, least.hardwood_m)
    return np.asarray(np.isfinite(trees.dbh_cm) & (small | (trees.defect_pct >= CULL_DEFECT_PCT)))


def with_roles(trees: tuple[TreeOutcome, ...], rubs: Sequence[RubTree]) -> tuple[TreeOutcome, ...]:
    """Give the outcomes with the role ``rub`` for marked trees that are kept till last.

    A proposed one keeps the role it has: it is not marked.
    """
    names = {rub.tree_id for rub in rubs if rub.kind == "marked"}
    return tuple(replace(t, role="rub") if t.tree_id in names else t for t in trees)


def lane_m(area: Area) -> float:
    """Give the width a load takes up beside its line."""
    return CORRIDOR_TREE_M if area.settings.work.extract == "tree" else CORRIDOR_STEM_M


def _stems(area: Area, comes_out: Mask) -> _Stems:
    """Sort the stems into those that stay, those that may be rub trees, and the rest."""
    trees = area.trees
    dbh = np.asarray(trees.dbh_cm, dtype=float) / 100
    keep = np.array([bool(reason) for reason in trees.keep], dtype=bool)
    hazard = np.array([bool(kind) for kind in trees.hazard], dtype=bool)
    own = np.asarray(trees.position_error_m, dtype=float)
    placed = ~(np.nan_to_num(own) > EXACT_POSITION_M)
    low = low_value(area)
    stays = ~trees.marked & ~comes_out & placed
    worth = np.where(keep, WORTH_KEEP, np.where(low, WORTH_LOW, WORTH_PLAIN))
    points = np.asarray(shapely.points(trees.x, trees.y))
    # a tree nearer the line than both are known may not be the owner's to rub
    line = np.asarray(shapely.distance(points, property_edge(area))) - tree_error_m(area)
    surely_own = line >= area.settings.property.error_m
    inside = np.asarray(shapely.contains_xy(area.stand, trees.x, trees.y))
    holds = placed & ~comes_out & ~keep & ~hazard & surely_own & inside & (dbh >= LEAST_DBH_M)
    return _Stems(
        ids=trees.tree_id,
        x=np.asarray(trees.x, dtype=float),
        y=np.asarray(trees.y, dtype=float),
        radius=np.nan_to_num(dbh) / 2,
        worth=np.where(stays, worth, 0.0),
        marked=holds & trees.to_serve,
        low=holds & stays & low,
        index=shapely.STRtree(points),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Lane:
    """Stems that a load meets, in the order of ``rows``; arrays have shape (k,)."""

    rows: NDArray[np.int64]
    at: Floats  # along the way, metres; what is met first has the lower one
    bark: Floats  # from the way's line to the bark
    met: Mask  # the load, as drawn, comes up against it
    at_risk: Mask  # stays, and stands where loads do most of their harm

    def only(self, which: Mask) -> "_Lane":
        """Give some of them."""
        return _Lane(
            self.rows[which],
            self.at[which],
            self.bark[which],
            self.met[which],
            self.at_risk[which],
        )


def _for_bend(bend: Bend, stems: _Stems, length_m: float, half_m: float) -> list[RubTree]:
    """Choose for one corner: marked stems, else low-value ones, else a log or a high stump."""
    widest = float(stems.radius.max(initial=0.0))
    reach = max(float(bend.inside_m.max()) + half_m, HARM_M) + widest
    rows = np.sort(stems.index.query(bend.stretch, predicate="dwithin", distance=reach))
    at, off, inside = bend.beside(stems.x[rows], stems.y[rows])
    bark = off - stems.radius[rows]
    met = (off > 0) & (bark <= inside + half_m)
    near = met | ((off > 0) & (bark <= HARM_M))
    rows, met = rows[near], met[near]
    lane = _Lane(rows, at[near], bark[near], met, stems.worth[rows] > 0)
    corner = np.hypot(stems.x[rows] - bend.x, stems.y[rows] - bend.y)
    may = np.array([stems.ids[row] != bend.tree_id for row in rows], dtype=bool)
    chosen, left = _choose(stems, lane, may, corner, before_m=length_m, after_m=length_m)
    found = [
        _at_stem(stems, int(rows[k]), bend.place(float(lane.at[k])), spared) for k, spared in chosen
    ]
    if bend.kind == "pull":
        return found
    free = np.flatnonzero(stems.marked[rows] & met)
    if not chosen and free.size:  # nothing to spare but the corner itself
        k = int(free[np.argmin(corner[free])])
        found.append(_at_stem(stems, int(rows[k]), bend.place(float(lane.at[k])), ()))
    still = np.flatnonzero(left & met & (stems.worth[rows] >= WORTH_PLAIN))
    if still.size:
        spared = tuple(stems.ids[row] for row in rows[still])
        found.append(_at_corner("bumper", bend, float(lane.at[still].mean()), spared))
    return found


def _lane(pull: Pull, stems: _Stems, half_m: float) -> _Lane:
    """Find the stems beside a pull; the load starts at the stump."""
    widest = float(stems.radius.max(initial=0.0))
    rows = np.sort(stems.index.query(pull.line, predicate="dwithin", distance=half_m + widest))
    points = np.asarray(shapely.points(stems.x[rows], stems.y[rows]))
    out = np.asarray(shapely.line_locate_point(pull.line, points))
    gap = np.asarray(shapely.distance(pull.line, points))
    near = (out > FAIRLEAD_FREE_M) & (out < pull.line.length - 1e-6)
    bark = gap - stems.radius[rows]
    near &= bark < half_m
    rows, at, bark = rows[near], pull.line.length - out[near], bark[near]
    return _Lane(rows, at, bark, np.ones(rows.size, dtype=bool), stems.worth[rows] > 0)


def _for_pull(
    pull: Pull, place: RubPlace, stems: _Stems, lane: _Lane, waiting: set[str]
) -> list[RubTree]:
    """Choose for one pull: a stem on the same side that the load meets first."""
    (x0, y0), (x1, y1) = pull.line.coords[0][:2], pull.line.coords[-1][:2]
    x, y = stems.x[lane.rows], stems.y[lane.rows]
    left = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) > 0
    own = np.array([stems.ids[row] in waiting for row in lane.rows], dtype=bool)
    found: list[RubTree] = []
    for side in (left, ~left):
        part = lane.only(side)
        may = ~own[side] & (part.bark >= ROPE_CLEAR_M)
        chosen, _ = _choose(stems, part, may, part.bark, before_m=0.0, after_m=AHEAD_M)
        found += [_at_stem(stems, int(part.rows[k]), place, spared) for k, spared in chosen]
    return found


def _choose(
    stems: _Stems, lane: _Lane, may: Mask, nearness: Floats, *, before_m: float, after_m: float
) -> tuple[list[tuple[int, tuple[str, ...]]], Mask]:
    """Take stems until nothing is left that one could spare.

    A stem spares what stands behind it, seen from the way, up to ``before_m`` before
    and ``after_m`` after it along the way. Marked stems come first, since they cost
    nothing; a low-value one is taken only where the load as drawn comes up against it
    and against a better tree.
    """
    left = lane.at_risk.copy()
    worth = stems.worth[lane.rows]
    behind = lane.bark[None, :] >= lane.bark[:, None] - BEHIND_M
    ahead = lane.at[None, :] - lane.at[:, None]
    spares = behind & (ahead >= -before_m) & (ahead <= after_m)
    np.fill_diagonal(spares, val=False)
    chosen: list[tuple[int, tuple[str, ...]]] = []
    for pool, counted, least in (
        (stems.marked[lane.rows] & may, np.ones_like(lane.met), 0.0),
        (stems.low[lane.rows] & may & lane.met, lane.met, WORTH_PLAIN),
    ):
        while len(chosen) < MOST_AT_ONE and pool.any():
            gain = (spares & left & counted) @ worth
            rank = [
                (-gain[k], nearness[k], stems.ids[lane.rows[k]], int(k))
                for k in np.flatnonzero(pool)
                if gain[k] > 0 and gain[k] >= least
            ]
            if not rank:
                break
            k = min(rank)[3]
            spared = np.flatnonzero(spares[k] & left)
            chosen.append((k, tuple(stems.ids[lane.rows[j]] for j in spared)))
            left[spared] = left[k] = pool[k] = False
    return chosen, left


def _pull_place(pull: Pull, position: WinchPosition, host: Trail | None) -> RubPlace:
    """Say where a pull is: at its winch position, to the side the stump lies on."""
    side = 0.0
    if host is not None:
        ahead = host.line.interpolate(min(position.at_m + 1.0, float(host.line.length)))
        back = host.line.interpolate(max(position.at_m - 1.0, 0.0))
        x, y = pull.line.coords[-1][:2]
        side = (ahead.x - back.x) * (y - position.y) - (ahead.y - back.y) * (x - position.x)
    name = pull.position_id
    return RubPlace("pull", position.trail_id, position.at_m, name, "left" if side > 0 else "right")


def _at_stem(stems: _Stems, row: int, place: RubPlace, spared: tuple[str, ...]) -> RubTree:
    return RubTree(
        rub_id="",
        kind="marked" if stems.marked[row] else "proposed",
        tree_id=stems.ids[row],
        x=float(stems.x[row]),
        y=float(stems.y[row]),
        out_m=0.0,
        places=(place,),
        protects=spared,
    )


def _at_corner(
    kind: Literal["bumper", "look"], bend: Bend, along_m: float, spared: tuple[str, ...]
) -> RubTree:
    x, y = bend.edge(along_m)
    return RubTree("", kind, "", x, y, 0.0, (bend.place(along_m),), spared)


def _merged(found: Sequence[RubTree]) -> list[RubTree]:
    """Bring together what one stem does at several places, and one log for the same trees."""
    out: dict[tuple[str, ...], RubTree] = {}
    for number, rub in enumerate(found):
        name = (rub.tree_id,) if rub.tree_id else (rub.kind, *(rub.protects or (str(number),)))
        if name in out:
            old = out[name]
            rub = replace(
                old,
                places=tuple(dict.fromkeys((*old.places, *rub.places))),
                protects=tuple(dict.fromkeys((*old.protects, *rub.protects))),
            )
        out[name] = rub
    # one that is itself to be cut in the end is spared for nothing
    taken = {rub.tree_id for rub in out.values() if rub.tree_id}
    return [
        replace(rub, protects=tuple(t for t in rub.protects if t not in taken))
        for rub in out.values()
    ]


def _named(
    found: Sequence[RubTree], trails: Sequence[Trail], positions: Sequence[WinchPosition]
) -> tuple[RubTree, ...]:
    """Give names from the landing out, and say after whose loads each may be cut."""
    by_id = {trail.trail_id: trail for trail in trails}
    kept = {rub.tree_id for rub in found if rub.kind == "marked"}
    ordinary = [p for p in positions if not kept.issuperset(p.tree_ids)]
    made = []
    for rub in found:
        after = chain.from_iterable(_loads_past(place, by_id, ordinary) for place in rub.places)
        made.append(
            replace(
                rub,
                out_m=max(_out_m(place, by_id) for place in rub.places),
                protects=tuple(sorted(rub.protects)),
                cut_after=tuple(dict.fromkeys(after)),
            )
        )
    made.sort(key=lambda r: (round(r.out_m, 3), r.tree_id, round(r.x, 3), round(r.y, 3)))
    return tuple(replace(rub, rub_id=f"R{n}") for n, rub in enumerate(made, start=1))


def _loads_past(
    place: RubPlace, trails: Mapping[str, Trail], positions: Sequence[WinchPosition]
) -> tuple[str, ...]:
    """Name the positions whose loads touch a place."""
    past = passing(trails, positions, place.trail_id, place.at_m)
    if place.kind == "pull":
        return tuple(p.position_id for p in positions if p.position_id == place.from_id)
    return past


def _out_m(place: RubPlace, trails: Mapping[str, Trail]) -> float:
    """Give the travel from a place to the landing, metres."""
    out, here = place.at_m, trails.get(place.trail_id)
    while here is not None and here.joins_id in trails:
        out += here.joins_at_m or 0.0
        here = trails[here.joins_id]
    return out
