"""What each served tree takes for itself alone: trail and ground that would go if it were left.

The network is pruned as it stands: a tree is left out, and what then leads to no winch
position and no turning place that is needed falls away. Nothing is chosen anew, so a
new plan without the tree may save more, never less.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout.benching import Bench
from layout.grow import Grown
from layout.records import Trail, TurningPlace

TAIL_M = 0.5  # a routed main trail ends this far behind the last thing on it
NOISE_M = 0.01
BESIDE_BENCH_M = 30.0  # bank and fill of a bench lie nearer to its line than this


@dataclass(frozen=True, slots=True)
class Own:
    """What is there for one tree alone.

    Parameters
    ----------
    trail_m : float
        Trail, metres on the map.
    ground_m2 : float
        Ground under that trail, its benches and turning places, and under nothing that
        stays, square metres on the map.
    """

    trail_m: float
    ground_m2: float


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """A network pruned.

    Parameters
    ----------
    extent_m : tuple of float
        How far out each branch is needed; 0 where it is not.
    places : frozenset of int
        Turning places that are needed.
    """

    extent_m: tuple[float, ...]
    places: frozenset[int]


def opened_by(grown: Grown) -> tuple[frozenset[int] | None, ...]:
    """Give for each spot the built turning places that let the tractor in; None: needs none."""
    found, choice = grown.candidates, grown.choice
    built = {int(q): i for i, q in enumerate(np.flatnonzero(choice.places))}
    out: list[frozenset[int] | None] = []
    for spot in grown.spots:
        k = int(np.searchsorted(found.kept, spot.pairs[0]))
        klass = int(found.forest.position_class[found.forest.pair_position[k]])
        members = () if klass < 0 else found.forest.class_places[klass]
        out.append(None if klass < 0 else frozenset(built[q] for q in members if q in built))
    return tuple(out)


def pruned(
    grown: Grown,
    spots: Sequence[int],
    routed: frozenset[int],
    opens: Sequence[frozenset[int] | None],
) -> Kept:
    """Keep of a network what some winch positions need.

    Parameters
    ----------
    grown : Grown
        The chosen network.
    spots : sequence of int
        Its spots that stay.
    routed : frozenset of int
        Main trails that end where nothing more is on them; other standing trails stay whole.
    opens : sequence of frozenset of int or None
        From `opened_by`.

    Returns
    -------
    Kept
    """
    asked = [mine for s in spots if (mine := opens[s]) is not None]
    places = set(range(len(grown.places)))
    # the dearest first: what the others do as well is not needed
    for q in sorted(places, key=lambda q: (-grown.places[q].extra_m2, q)):
        if all(mine & (places - {q}) or q not in mine for mine in asked):
            places.discard(q)
    last = [0.0] * len(grown.branches)
    for s in spots:
        spot = grown.spots[s]
        if spot.branch >= 0:
            last[spot.branch] = max(last[spot.branch], spot.at_m)
    for q in places:
        place = grown.places[q]
        last[place.needs_branch] = max(last[place.needs_branch], place.needs_m, NOISE_M)
        last[place.branch] = max(last[place.branch], place.at_m)
    for n in range(len(grown.branches) - 1, -1, -1):  # children come after their parents
        branch = grown.branches[n]
        if branch.standing and n not in routed:
            last[n] = branch.length_m
        elif n in routed and last[n] > 0:
            last[n] = min(last[n] + TAIL_M, branch.length_m)
        else:
            last[n] = min(last[n], branch.length_m)
        if branch.parent >= 0 and last[n] > 0:
            last[branch.parent] = max(last[branch.parent], branch.mouth_m)
    return Kept(tuple(last), frozenset(places))


def own_of_trees(
    grown: Grown,
    trails: tuple[Trail, ...],
    places: tuple[TurningPlace, ...],
    benches: Mapping[str, Bench],
    landing: BaseGeometry,
) -> dict[int, Own]:
    """Give what each served tree takes for itself alone.

    Parameters
    ----------
    grown : Grown
        The chosen network.
    trails : tuple of Trail
        Its branches as trails, in the same order.
    places : tuple of TurningPlace
        Its turning places, in the same order.
    benches : mapping of str to Bench
        New benches, by trail.
    landing : shapely geometry
        Outline of the landing.

    Returns
    -------
    dict of int to Own
        By row of the marked trees; trees that share all they need are not in it.
    """
    routed = frozenset(
        n
        for n, (branch, trail) in enumerate(zip(grown.branches, trails, strict=True))
        if branch.standing and trail.source == "routed"
    )
    opens = opened_by(grown)
    every = range(len(grown.spots))
    whole = pruned(grown, every, routed, opens)
    out: dict[int, Own] = {}
    for s in every:
        if len(grown.spots[s].pairs) != 1:
            continue
        rest = pruned(grown, [other for other in every if other != s], routed, opens)
        tree = int(grown.candidates.pairs.tree[grown.spots[s].pairs[0]])
        trail_m = sum(whole.extent_m) - sum(rest.extent_m)
        gone = whole.places - rest.places
        if trail_m > NOISE_M or gone:
            ground = _ground_m2(whole, rest, trails, places, benches, landing)
            out[tree] = Own(max(trail_m, 0.0), ground)
    return out


def _ground_m2(
    whole: Kept,
    rest: Kept,
    trails: tuple[Trail, ...],
    places: tuple[TurningPlace, ...],
    benches: Mapping[str, Bench],
    landing: BaseGeometry,
) -> float:
    """Measure the ground that nothing else covers."""
    gone: list[BaseGeometry] = [places[q].shape for q in whole.places - rest.places]
    stays: list[BaseGeometry] = [landing, *(places[q].shape for q in rest.places)]
    for n, trail in enumerate(trails):
        bench = benches.get(trail.trail_id)
        stays += _strip(trail, bench, 0.0, rest.extent_m[n])
        if whole.extent_m[n] > rest.extent_m[n] + NOISE_M:
            gone += _strip(trail, bench, rest.extent_m[n], whole.extent_m[n])
    lost = shapely.union_all(gone)
    near = [shape for shape in stays if shape.intersects(lost)]
    return float(lost.difference(shapely.union_all(near)).area)


def _strip(trail: Trail, bench: Bench | None, from_m: float, to_m: float) -> list[BaseGeometry]:
    """Give the ground of a stretch of trail, and of the benches along it."""
    piece = substring(trail.line, from_m, to_m)
    if not isinstance(piece, LineString) or piece.length <= 0:
        return []
    out: list[BaseGeometry] = [piece.buffer(trail.width_m / 2, cap_style="flat")]
    if bench is not None:
        out.append(bench.shape.intersection(piece.buffer(BESIDE_BENCH_M, cap_style="flat")))
    return out
