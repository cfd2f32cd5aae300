"""A forest with some of its candidates left out, and what is chosen there told of the whole."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout.choice_model import Choice, Forest, Ints

Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Narrowed:
    """Part of a forest; ``segment``, ``pair`` and ``place`` give the numbers in the whole."""

    forest: Forest
    segment: Ints
    place: Ints
    pair: Ints
    whole: Forest

    def widened(self, choice: Choice) -> Choice:
        """Give a choice of the part as one of the whole."""
        segments = np.zeros(self.whole.parent.size, dtype=bool)
        segments[self.segment[choice.segments]] = True
        places = np.zeros(self.whole.place_segment.size, dtype=bool)
        places[self.place[choice.places]] = True
        pairs = np.append(self.pair, -1)  # -1 stays -1
        return replace(choice, segments=segments, places=places, tree_pair=pairs[choice.tree_pair])


def narrowed(forest: Forest, segments: Flags, places: Flags, positions: Flags) -> Narrowed:
    """Leave out what is not marked, and what needs it.

    Parameters
    ----------
    forest : Forest
        The whole.
    segments, places, positions : ndarray of bool, shapes (e,), (q,), (p,)
        What may stay. A segment stays only with all between it and the landing.

    Returns
    -------
    Narrowed
    """
    f = forest
    stays = segments.copy()
    for e in range(stays.size):  # a parent's number is below its child's
        if f.parent[e] >= 0 and not stays[f.parent[e]]:
            stays[e] = False
    built = np.append(stays, True)  # the last entry stands for ROOT
    keep_place = places & built[f.place_segment]
    open_class = np.array([any(keep_place[q] for q in members) for members in f.class_places])
    reached = np.append(open_class, True).astype(bool)
    keep_position = positions & built[f.position_segment] & reached[f.position_class]
    keep_pair = keep_position[f.pair_position]
    segment, place = np.flatnonzero(stays), np.flatnonzero(keep_place)
    position, pair = np.flatnonzero(keep_position), np.flatnonzero(keep_pair)
    new_segment, new_place = _numbers(stays), _numbers(keep_place)
    new_position = _numbers(keep_position)
    part = Forest(
        parent=new_segment[f.parent[segment]],
        segment_cost=f.segment_cost[segment],
        position_segment=new_segment[f.position_segment[position]],
        position_cost=f.position_cost[position],
        position_class=f.position_class[position],
        pair_position=new_position[f.pair_position[pair]],
        pair_tree=f.pair_tree[pair],
        pair_cost=f.pair_cost[pair],
        tree_price=f.tree_price,
        place_segment=new_segment[f.place_segment[place]],
        place_cost=f.place_cost[place],
        class_places=tuple(
            tuple(int(new_place[q]) for q in members if keep_place[q]) for members in f.class_places
        ),
        exclusions=tuple(
            (int(new_segment[a]), int(new_segment[b]))
            for a, b in f.exclusions
            if stays[a] and stays[b]
        ),
        needs=tuple(
            (int(new_segment[a]), tuple(int(new_segment[b]) for b in others if stays[b]))
            for a, others in f.needs
            if stays[a]
        ),
        conflicts=tuple(
            (int(new_position[p]), int(new_segment[e]))
            for p, e in f.conflicts
            if keep_position[p] and stays[e]
        ),
    )
    return Narrowed(part, segment, place, pair, forest)


def _numbers(keep: Flags) -> Ints:
    """Give each kept row its new number; the last entry stands for -1."""
    out = np.full(keep.size + 1, -1, dtype=np.int64)
    out[:-1][keep] = np.arange(int(keep.sum()))
    return out
