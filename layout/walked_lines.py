"""Lines as a phone brings them home: broken off, with leaps, knots and walks to and fro.

Pure geometry: nothing here is told of or refused, the readers do that. Every
distance is ours, chosen for receivers that are off by a few metres.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Place = tuple[float, float]

LEAP_M = 5_000.0  # farther between two fixes is no walk
SPIKE_M = 20.0  # a fix that leaps so far from both neighbours ...
SPIKE_STEPS = 5.0  # ... so many usual steps ...
SPIKE_SHARE = 0.35  # ... while these lie close together, is no corner
NARROW_M = 6.0  # a part of a walked piece of ground narrower than this ...
LONG_M = 25.0  # ... and longer than this was walked to and fro
THERE_AND_BACK_M = 8.0  # ground narrower than this on average was not walked round
STEP_M = 1.0  # a walk is smoothed at points so far apart
SMOOTHED_LEAST_M, SMOOTHED_MOST_M = 3.0, 8.0  # over no less, and no more, to each side
LONGEST_APART = 0.25  # share of a walk, at either end, that may be outside the round


@dataclass(frozen=True, slots=True)
class Gap:
    """A break between two pieces: how wide, and where the line goes on."""

    length_m: float
    at: Place


@dataclass(frozen=True, slots=True, eq=False)
class Round:
    """A walk closed into a piece of ground.

    Parameters
    ----------
    ground : Polygon
        Valid, without holes.
    cut : tuple of Polygon
        What was cut off or filled: knots, leaps, walks to and fro.
    loose_m2 : float
        Largest piece that hangs on by a crossing and was cut off, square metres.
    crossing : (float, float) or None
        Where the walk crosses itself, if it does.
    """

    ground: Polygon
    cut: tuple[Polygon, ...]
    loose_m2: float
    crossing: Place | None


def in_order(parts: Sequence[LineString]) -> tuple[Floats, tuple[Gap, ...]]:
    """Lay pieces end to end in the order they were walked.

    Parameters
    ----------
    parts : sequence of LineString
        At least one.

    Returns
    -------
    xy : ndarray of float, shape (n, 2)
        Points that repeat the one before left out.
    gaps : tuple of Gap
        Breaks between the pieces, one fewer than there are.
    """
    pieces = [shapely.get_coordinates(part) for part in parts]
    gaps = tuple(
        Gap(float(np.hypot(*(after[0] - before[-1]))), (float(after[0, 0]), float(after[0, 1])))
        for before, after in itertools.pairwise(pieces)
    )
    return without_repeats(np.concatenate(pieces)), gaps


def without_repeats(xy: Floats) -> Floats:
    """Leave out points that repeat the one before."""
    moved = np.hypot(*np.diff(xy, axis=0).T) > 1e-6
    return np.asarray(xy[np.concatenate([[True], moved])])


def farthest_leap(xy: Floats) -> Gap:
    """Give the longest way between two neighbouring points, and where it ends."""
    step = np.hypot(*np.diff(xy, axis=0).T)
    row = int(step.argmax())
    return Gap(float(step[row]), (float(xy[row + 1, 0]), float(xy[row + 1, 1])))


def without_spikes(xy: Floats) -> tuple[Floats, tuple[Place, ...]]:
    """Leave out single fixes that leap away and come straight back.

    A corner set by hand is kept: only a fix many usual steps away from both its
    neighbours counts.

    Parameters
    ----------
    xy : ndarray of float, shape (n, 2)

    Returns
    -------
    xy : ndarray of float, shape (m, 2)
    spikes : tuple of (float, float)
        What was left out.
    """
    if len(xy) < 4:
        return xy, ()
    step = np.hypot(*np.diff(xy, axis=0).T)
    out, back = step[:-1], step[1:]
    across = np.hypot(*(xy[2:] - xy[:-2]).T)
    least = np.minimum(out, back)
    far = max(SPIKE_M, SPIKE_STEPS * float(np.median(step)))
    spike = (least > far) & (across < SPIKE_SHARE * least)
    # Of two in a row the second is the way back, not a spike.
    spike[1:] &= ~spike[:-1]
    rows = np.flatnonzero(spike) + 1
    spots = tuple((float(x), float(y)) for x, y in xy[rows])
    return np.delete(xy, rows, axis=0), spots


def come_round(xy: Floats, near_m: float) -> tuple[int, int]:
    """Find the first and last point of the round in a walk that began or ended apart from it.

    Parameters
    ----------
    xy : ndarray of float, shape (n, 2)
    near_m : float
        The walk has come round where it passes this near to itself.

    Returns
    -------
    first, last : int
        Rows of the round; the whole walk where its ends do not come near each other.
    """
    count = len(xy)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xy, axis=0).T))])
    early = np.flatnonzero(along <= LONGEST_APART * along[-1])
    late = np.flatnonzero(along >= (1 - LONGEST_APART) * along[-1])
    away = KDTree(xy[late]).query_ball_point(xy[early], near_m)
    best, least = (0, count - 1), np.inf
    for row, near in zip(early.tolist(), away, strict=True):
        for last in late[near].tolist():
            # Where it meets itself, not a few steps before: a metre apart costs more than a step.
            apart = float(np.hypot(*(xy[row] - xy[last])))
            cost = along[row] + along[-1] - along[last] + 2.0 * apart
            if cost < least - 1e-9:
                best, least = (row, last), cost
    return best


def ground_within(xy: Floats) -> Round:
    """Close a walk into the ground it goes round.

    What the line encloses by going round it twice belongs to it; loops outside
    that hang on by a crossing, and parts too narrow to have been walked round,
    are cut off.

    Parameters
    ----------
    xy : ndarray of float, shape (n, 2)
        At least three different points; closed or not.

    Returns
    -------
    Round
        Its ground may be empty.
    """
    ring = LineString([*xy, xy[0]])
    crossing: Place | None = None
    if not ring.is_simple:
        crossing = _crossing(ring)
    faces = shapely.get_parts(shapely.polygonize([shapely.node(ring)]))
    whole = shapely.get_parts(shapely.union_all(faces))
    pieces = sorted((p for p in whole if p.geom_type == "Polygon"), key=lambda p: -p.area)
    if not pieces:
        return Round(Polygon(), (), 0.0, crossing)
    largest = Polygon(pieces[0].exterior)
    ground, cut = without_tails(largest)
    loose = max((float(piece.area) for piece in pieces[1:]), default=0.0)
    return Round(ground, (*cut, *pieces[1:]), loose, crossing)


def _crossing(ring: LineString) -> Place | None:
    """Find a place where a line meets itself: an end of a noded piece inside it."""
    ends = shapely.get_point(shapely.get_parts(shapely.node(ring)), 0)
    start = shapely.Point(ring.coords[0])
    inner = [end for end in ends if end.distance(start) > 1e-6]
    return (float(inner[0].x), float(inner[0].y)) if inner else None


def without_tails(ground: Polygon) -> tuple[Polygon, tuple[Polygon, ...]]:
    """Cut off long narrow parts of a piece of ground, and fill long narrow slits in it.

    Parameters
    ----------
    ground : Polygon
        Valid.

    Returns
    -------
    ground : Polygon
    changed : tuple of Polygon
        What was cut off or filled.
    """
    half = 0.5 * NARROW_M
    tails = _long_parts(ground.difference(_slack(ground.buffer(-half).buffer(half))))
    kept = _largest(ground.difference(shapely.union_all(tails)) if tails else ground)
    slits = _long_parts(kept.buffer(half).buffer(-half).difference(_slack(kept)))
    if slits:
        kept = _largest(shapely.union_all([kept, *(_slack(slit) for slit in slits)]))
    return Polygon(kept.exterior), (*tails, *slits)


def _slack(shape: BaseGeometry) -> BaseGeometry:
    """Widen a shape by a hair, so that what rounding leaves between two does not count."""
    return shape.buffer(0.05)


def _long_parts(shape: BaseGeometry) -> list[Polygon]:
    """Give the polygons of a shape that are longer than a rounded corner."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    return [p for p in parts if 2 * float(shapely.minimum_bounding_radius(p)) > LONG_M]


def _largest(shape: BaseGeometry) -> Polygon:
    """Give the largest polygon of a shape; an empty one where it has none."""
    parts = [p for p in shapely.get_parts(shape) if p.geom_type == "Polygon"]
    return max(parts, key=lambda part: part.area, default=Polygon())


def smoothed(line: LineString, off_m: float) -> LineString:
    """Give a walked line without the wiggles a receiver puts into it.

    Every point becomes the mean of those about it, weighted by a bell of half the
    line's error to each side along it. A corner that is there stays one: where a
    walk turns back between legs 2 r apart no smoothing makes the bend wider than r.

    Parameters
    ----------
    line : LineString
        As recorded.
    off_m : float
        How far off it may be, metres.

    Returns
    -------
    LineString
        Its ends stay; the line itself where it is too short to smooth.
    """
    sigma = min(max(0.5 * off_m, SMOOTHED_LEAST_M), SMOOTHED_MOST_M)
    # Wiggles make a line longer, and the bell narrow; the second time it is as wide as meant.
    for _ in range(2):
        count = int(np.ceil(line.length / STEP_M))
        if count < 4:
            return line
        at = np.linspace(0.0, line.length, count + 1)
        xy = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
        step = line.length / count
        reach = int(np.ceil(3 * sigma / step))
        # Beyond its ends the line goes on as it came, turned about the end itself.
        width = min(reach, count)
        before = 2 * xy[0] - xy[width:0:-1]
        after = 2 * xy[-1] - xy[-2 : -2 - width : -1]
        bell = np.exp(-0.5 * (np.arange(-width, width + 1) * step / sigma) ** 2)
        long = np.concatenate([before, xy, after])
        xy = np.column_stack([np.convolve(c, bell / bell.sum(), "valid") for c in long.T])
        line = LineString(xy)
    return line


def mean_width(ground: Polygon, walked_m: float) -> float:
    """Give how wide a piece of ground is on average, by how far was walked round it, metres."""
    return 2.0 * float(ground.area) / walked_m if walked_m > 0 else 0.0


def doubles_back(xy: Floats) -> bool:
    """Tell whether a line goes out and comes back beside itself to where it began.

    Examples
    --------
    >>> doubles_back(np.array([[0.0, 0], [90, 0], [90, 3], [1, 3]]))
    True
    >>> doubles_back(np.array([[0.0, 0], [90, 0], [90, 40], [0, 40], [0, 5]]))
    False
    """
    line = LineString(xy)
    apart = float(np.hypot(*(xy[-1] - xy[0])))
    if len(xy) < 3 or apart > 0.1 * line.length:
        return False
    faces = shapely.get_parts(shapely.polygonize([shapely.node(LineString([*xy, xy[0]]))]))
    enclosed = float(shapely.area(faces).sum())
    return 2.0 * enclosed / float(line.length) < THERE_AND_BACK_M
