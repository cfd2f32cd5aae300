"""A length no network of trails can be shorter than, from plane geometry alone."""

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse.csgraph import minimum_spanning_tree
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

TOUCH_M = 1e-3  # terminals this near each other are not both chosen


def least_length_m(landing: BaseGeometry, stems: Floats, reach_m: float) -> float:
    """Give a lower bound on the trail length of any layout that serves some stems.

    Every stem given is served from a place on a trail, at most ``reach_m`` away
    in the plane; the trails hang together and start on the landing. So the
    network N is a connected set that meets every *terminal*: the landing, and
    for each stem the disc of radius ``reach_m`` around it.

    Take any of the terminals (fewer can only lower what N must do), and
    let a moat of width r grow around each; terminals whose moats meet count as
    one from then on. Terminals less than 2 r apart have met, so the moats of
    the k(r) groups left are disjoint. While k(r) > 1, N meets each group and
    also something outside its moat (another group). The distance to the group
    grows no faster than one walks along N, and N is connected, so within every
    shell from r to r + dr around a group lies at least dr of N. Hence

        length(N) >= integral of k(r) dr over all r with k(r) > 1.

    With w the gaps along a minimum spanning tree of the terminals (a gap is the
    distance less the radii, never under 0), groups meet at r = w / 2, and k(r) is
    one more than the gaps wider than 2 r. So the integral is

        sum(w) / 2 + max(w) / 2.

    One stem gives its distance to the landing less the reach, as it must.

    Stems are added far ones first, and the best bound of all these choices is
    taken: near ones close the gaps, so more stems are not always better.

    Parameters
    ----------
    landing : shapely geometry
        Where trails start.
    stems : ndarray of float, shape (n, 2)
        Places of the stems served from trails.
    reach_m : float
        Longest pull.

    Returns
    -------
    float
        Metres.
    """
    if not len(stems):
        return 0.0
    out = np.maximum(shapely.distance(landing, shapely.points(stems)) - reach_m, 0.0)
    apart = np.hypot(*(stems[:, None, :] - stems[None, :, :]).transpose(2, 0, 1))
    between = np.maximum(apart - 2 * reach_m, 0.0)
    chosen: list[int] = []
    nearest = out  # of each stem to the terminals chosen so far
    best = 0.0
    while nearest.max() > TOUCH_M:
        chosen.append(int(np.argmax(nearest)))
        nearest = np.minimum(nearest, between[chosen[-1]])
        best = max(best, _moats_m(out[chosen], between[np.ix_(chosen, chosen)]))
    return best


def _moats_m(out: Floats, between: Floats) -> float:
    n = len(out)
    gap = np.zeros((n + 1, n + 1))
    gap[0, 1:], gap[1:, 1:] = out, between
    tree = minimum_spanning_tree(gap).data
    return float(tree.sum() + tree.max()) / 2
