"""What the exact choice is asked and what it answers, as plain arrays."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
ROOT = -1  # a parent, or a position's segment, that is there already
BIG_PRICE = 1e5  # square metres; stands in for "every tree that can be" in the program


@dataclass(frozen=True, slots=True, eq=False)
class Forest:
    """The candidates, as plain arrays.

    Parameters
    ----------
    parent : ndarray of int, shape (e,)
        Segment nearer the landing, or -1. A parent's number is below its child's.
    segment_cost : ndarray of float, shape (e,)
        Weighted square metres.
    position_segment : ndarray of int, shape (p,)
        Segment a position needs built, or -1.
    position_cost : ndarray of float, shape (p,)
        Weighted square metres of one more set-up.
    position_class : ndarray of int, shape (p,)
        Which turning places let the tractor in rear first: index into
        ``class_places``, or -1 where none is needed.
    pair_position, pair_tree : ndarray of int, shape (k,)
        Allowed pulls.
    pair_cost : ndarray of float, shape (k,)
        Weighted square metres of a pull.
    tree_price : ndarray of float, shape (t,)
        What leaving a tree standing costs; infinite where every tree must come.
    place_segment : ndarray of int, shape (q,)
        Segment a turning place needs built, or -1.
    place_cost : ndarray of float, shape (q,)
        Weighted square metres.
    class_places : tuple of tuple of int
        Turning places that open each class of positions.
    exclusions : tuple of pair of int
        Segments that may not both be built.
    needs : tuple of (int, tuple of int)
        A segment, and those of which one at least is built with it.
    conflicts : tuple of pair of int
        A position and a segment that may not both be there: the outfit parks
        clear of junctions.
    """

    parent: Ints
    segment_cost: Floats
    position_segment: Ints
    position_cost: Floats
    position_class: Ints
    pair_position: Ints
    pair_tree: Ints
    pair_cost: Floats
    tree_price: Floats
    place_segment: Ints
    place_cost: Floats
    class_places: tuple[tuple[int, ...], ...] = ()
    exclusions: tuple[tuple[int, int], ...] = ()
    needs: tuple[tuple[int, tuple[int, ...]], ...] = ()
    conflicts: tuple[tuple[int, int], ...] = ()

    def excluding(self, pairs: list[tuple[int, int]]) -> "Forest":
        """Give the same forest with more segments that may not both be built."""
        return replace(self, exclusions=self.exclusions + tuple(pairs))

    def needing(self, rows: list[tuple[int, tuple[int, ...]]]) -> "Forest":
        """Give the same forest with more segments that are built with one of others only."""
        return replace(self, needs=self.needs + tuple(rows))


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """What was chosen.

    ``tree_pair[t]`` is the pull that takes tree t, or -1. ``stopped_by`` is gap, time or
    work (lines dropped that may not stand together) for what was chosen exactly, near or
    greedy for what was not.
    """

    segments: NDArray[np.bool_]
    places: NDArray[np.bool_]
    tree_pair: Ints
    objective: float
    bound: float
    stopped_by: str
    size: dict[str, int] = field(default_factory=dict)


def objective_of(
    forest: Forest, segments: NDArray[np.bool_], places: NDArray[np.bool_], tree_pair: Ints
) -> float:
    """Add up what a choice costs, from the forest alone."""
    served = tree_pair >= 0
    total = float(forest.segment_cost[segments].sum() + forest.place_cost[places].sum())
    total += float(forest.tree_price[~served].sum()) if (~served).any() else 0.0
    if served.any():
        pairs = tree_pair[served]
        total += float(forest.pair_cost[pairs].sum())
        total += float(forest.position_cost[np.unique(forest.pair_position[pairs])].sum())
    return total


def mark_way(parent: Ints, segment: int, used: NDArray[np.bool_]) -> None:
    """Mark, in place, a segment and all between it and the landing."""
    while segment >= 0 and not used[segment]:
        used[segment] = True
        segment = int(parent[segment])


def used_segments(forest: Forest, tree_pair: Ints, places: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Give the segments that some pull or turning place needs, shape (e,)."""
    used = np.zeros(forest.parent.size, dtype=bool)
    for k in tree_pair[tree_pair >= 0]:
        mark_way(forest.parent, int(forest.position_segment[forest.pair_position[k]]), used)
    for q in np.flatnonzero(places):
        mark_way(forest.parent, int(forest.place_segment[q]), used)
    return used
