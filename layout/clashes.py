"""What may not be built together: lines that cross or leave one place side by side; long spurs."""

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.choice_model import Choice
from layout.forest import Candidates
from layout.geometry import at_stations, wrap
from layout.network import Branch

Floats = NDArray[np.float64]

MOUTH_CLEAR_M = 1.5  # lines may touch this near the mouth of one on the other
SHARED_MOUTH_M = 0.1  # two trails that begin this near each other share a mouth
SAME_PLACE_M = 1e-3
# Ours: two ways off one place that open no wider go side by side on the same ground.
OPENING_DEG = 25.0
OPENING_FROM_M, OPENING_TO_M = 5.0, 15.0  # beyond the mouth, as the check of junctions reads it


def extents(found: Candidates, branches: list[Branch], choice: Choice) -> Floats:
    """Give how far out each branch is built, metres; 0 where it is not."""
    out = np.array([b.length_m if b.standing else 0.0 for b in branches])
    for e in np.flatnonzero(choice.segments):
        n = found.segment_branch[e]
        out[n] = max(out[n], found.segment_to_m[e])
    return out


def crossings(found: Candidates, branches: list[Branch], choice: Choice) -> list[tuple[int, int]]:
    """Give pairs of chosen segments whose lines cross, or leave one place side by side."""
    extent = extents(found, branches, choice)
    chosen = [int(n) for n in np.flatnonzero(extent > 0)]
    lines = [
        branches[n].shape if branches[n].standing else branches[n].until(extent[n]).shape
        for n in chosen
    ]
    tree = shapely.STRtree(lines)
    a, b = tree.query(lines, predicate="intersects")
    out: list[tuple[int, int]] = []
    for i, j in zip(a, b, strict=True):
        if i >= j:
            continue
        m, n = chosen[i], chosen[j]
        if _side_by_side(branches, m, n):
            first = _segment_at(found, branches, choice, m, 0.0)
            second = _segment_at(found, branches, choice, n, 0.0)
            if first is not None and second is not None:
                out.append((first, second))
                continue
        touch = lines[i].intersection(lines[j])
        mouth = _mouth(branches, m, n)
        if mouth is not None:
            touch = touch.difference(mouth.buffer(MOUTH_CLEAR_M))
        if touch.is_empty:
            continue
        # of several places the first: their common middle may lie on neither line
        spots = [
            piece if piece.length == 0 else piece.interpolate(0.5, normalized=True)
            for piece in getattr(touch, "geoms", [touch])
        ]
        point = min(spots, key=lines[i].project)
        first = _segment_at(found, branches, choice, m, float(lines[i].project(point)))
        second = _segment_at(found, branches, choice, n, float(lines[j].project(point)))
        if first is None and second is None:
            continue  # both are there already: kept as drawn, the checker speaks
        if first is None or second is None:
            only = first if second is None else second
            assert only is not None
            out.append((only, only))
        else:
            out.append((first, second))
    return sorted(set(out))


def _side_by_side(branches: list[Branch], m: int, n: int) -> bool:
    """Tell whether two branches leave one place and do not open: no junction of the two."""
    one, other = branches[m], branches[n]
    if one.parent != other.parent or one.parent < 0:
        return False
    if abs(one.mouth_m - other.mouth_m) > SHARED_MOUTH_M:
        return False
    return abs(math.degrees(float(wrap(np.asarray(_heading(one) - _heading(other)))))) < OPENING_DEG


def _heading(branch: Branch) -> float:
    far = min(OPENING_TO_M, branch.length_m)
    near = min(OPENING_FROM_M, far / 2)
    (ax, ay), (bx, by) = at_stations(branch.line, np.array([near, far]))
    return math.atan2(by - ay, bx - ax)


def _mouth(branches: list[Branch], m: int, n: int) -> shapely.Point | None:
    """Give the point where one of two branches leaves the other, or both leave a third."""
    for child, host in ((m, n), (n, m)):
        if branches[child].parent == host:
            return shapely.Point(branches[child].line[0])
    first, second = shapely.Point(branches[m].line[0]), shapely.Point(branches[n].line[0])
    if branches[m].parent == branches[n].parent >= 0 and first.distance(second) <= SHARED_MOUTH_M:
        return first
    return None


def _segment_at(
    found: Candidates, branches: list[Branch], choice: Choice, n: int, at_m: float
) -> int | None:
    if branches[n].standing:
        return None
    mine = [int(e) for e in np.flatnonzero(choice.segments) if found.segment_branch[e] == n]
    beyond = [e for e in mine if found.segment_to_m[e] >= at_m - 1e-6]
    return min(beyond, key=lambda e: float(found.segment_to_m[e])) if beyond else mine[-1]


def overlong(
    found: Candidates, branches: list[Branch], choice: Choice, longest_m: float
) -> list[tuple[int, tuple[int, ...]]]:
    """Give chosen segments that lie too far from the last junction.

    A branch that leaves another at its very end goes on as that one: their
    lengths add up, although each was within the limit when it was grown. A
    junction on the way would make two spurs of it: with each segment stand those
    of which one at least is built wherever that segment may be.
    """
    extent = extents(found, branches, choice)
    chosen = [n for n in range(len(branches)) if extent[n] > 0 and not branches[n].standing]
    # the way since the last junction to each branch's mouth: branch, from, to
    before: dict[int, list[tuple[int, float, float]]] = {n: [] for n in range(len(branches))}
    out: list[tuple[int, tuple[int, ...]]] = []
    for n in chosen:  # a parent comes before its children
        host, mouth = branches[n].parent, branches[n].mouth_m
        if not branches[host].standing and abs(mouth - extent[host]) < SAME_PLACE_M:
            others = [m for m in chosen if branches[m].parent == host and m != n]
            at_mouth = [
                m
                for m in others
                if abs(branches[m].mouth_m - mouth) < SAME_PLACE_M
                and not _side_by_side(branches, m, n)
            ]
            earlier = [branches[m].mouth_m for m in others if branches[m].mouth_m < mouth - 1e-3]
            if not at_mouth:
                since = max(earlier) if earlier else 0.0
                before[n] = [*([] if earlier else before[host]), (host, since, mouth)]
        mouths = sorted({branches[m].mouth_m for m in chosen if branches[m].parent == n})
        from_m, way = 0.0, before[n]
        for to_m in [m for m in mouths if m < extent[n] - SAME_PLACE_M] + [float(extent[n])]:
            gone = sum(b - a for _, a, b in way)
            if gone + to_m - from_m > longest_m + SAME_PLACE_M:
                at_m = from_m + max(longest_m - gone, 0.0) + 0.01
                segment = _segment_at(found, branches, choice, n, at_m)
                if segment is not None:
                    out.append((segment, _parting(found, branches, [*way, (n, from_m, at_m)])))
                break
            from_m, way = to_m, []
    return out


def _parting(
    found: Candidates, branches: list[Branch], way: list[tuple[int, float, float]]
) -> tuple[int, ...]:
    """Give the segments on offer that leave a way between its ends, each a junction there."""
    out: set[int] = set()
    for (n, from_m, to_m), onward in zip(way, [*way[1:], None], strict=True):
        if onward is not None:
            # the way turns off here: what goes straight on makes a junction of the place
            mine = np.flatnonzero(found.segment_branch == n)
            beyond = mine[found.segment_to_m[mine] > to_m + SAME_PLACE_M]
            out |= {int(beyond[np.argmin(found.segment_to_m[beyond])])} if beyond.size else set()
        for m, branch in enumerate(branches):
            if branch.parent != n or (onward is not None and m == onward[0]):
                continue
            if onward is not None and _side_by_side(branches, m, onward[0]):
                continue
            last = to_m + SAME_PLACE_M if onward is not None else to_m
            if from_m + SAME_PLACE_M < branch.mouth_m <= last:
                mine = np.flatnonzero(found.segment_branch == m)
                out |= {int(mine[np.argmin(found.segment_to_m[mine])])} if mine.size else set()
    return tuple(sorted(out))
