"""How far a dragged load cuts inside a bend.

The front of the load follows the trail behind the tractor; its tail follows the
front. What lies on the ground behind a hitch runs along a tractrix: it always
moves toward the point that pulls it. So the tail comes round on the inside of every
bend, and the whole length sweeps the corner between. A log with its weight spread
over its length cuts in a little less than this; what is on the inside is told of
rather than left out.
"""

import math

import numpy as np
from numpy.typing import NDArray

from layout.geometry import along, at_stations

Floats = NDArray[np.float64]

STEP_M = 0.5
LOAD_PARTS = 20  # a long load is read at this many points, and its way no finer


def trailed(way: Floats, length_m: float) -> Floats:
    """Give where the tail of a load is as its front moves along a way.

    At the start the load lies straight behind the first leg. On each leg the angle
    between load and leg falls by ``tan(a/2) = tan(a0/2) exp(-s/L)``, the tractrix of
    a point drawn on a straight line; nothing is stepped.

    Parameters
    ----------
    way : ndarray of float, shape (n, 2), n >= 2
        What the front follows, in the direction of travel, metres.
    length_m : float
        Length of the load, metres.

    Returns
    -------
    ndarray of float, shape (n, 2)
        The tail when the front is at each point of the way.
    """
    legs = np.diff(way, axis=0)
    run = np.hypot(legs[:, 0], legs[:, 1])
    heading = np.arctan2(legs[:, 1], legs[:, 0])
    points = np.empty(len(way))  # direction from tail to front
    points[0] = pointing = float(heading[0])
    for i, (course, far) in enumerate(zip(heading.tolist(), run.tolist(), strict=True)):
        off = (pointing - course + math.pi) % (2 * math.pi) - math.pi
        off = 2 * math.atan(math.tan(off / 2) * math.exp(-far / length_m))
        points[i + 1] = pointing = course + off
    return np.asarray(way - length_m * np.column_stack([np.cos(points), np.sin(points)]))


def cut_in(way: Floats, length_m: float) -> tuple[Floats, Floats, Floats]:
    """Measure how far a load leaves the line its front follows, to each side.

    Parameters
    ----------
    way : ndarray of float, shape (n, 2), n >= 2
        In the direction of travel, metres; read every half metre, or every twentieth
        of the load where that is more.
    length_m : float
        Length of the load, metres.

    Returns
    -------
    at_m, left_m, right_m : ndarray of float, shape (k,)
        Stations along the way, and how far any part of the load comes to its left and
        to its right there, looking the way it travels; 0 where it does not.
    """
    total, step = float(along(way)[-1]), max(STEP_M, length_m / LOAD_PARTS)
    at = np.linspace(0.0, total, max(2, math.ceil(total / step) + 1))
    front = at_stations(way, at)
    tangent = np.gradient(front, axis=0)
    tangent /= np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-12)[:, None]
    share = np.linspace(0.0, 1.0, math.ceil(length_m / step) + 1)[:, None]
    load = front[:, None] + share * (trailed(front, length_m) - front)[:, None]
    # the part of the way behind the front that some point of the load can be nearest to
    behind = np.arange(math.ceil(1.2 * length_m / max(at[1], 1e-9)) + 1)
    near = np.maximum(np.arange(at.size)[:, None] - behind, 0)
    gap = load[:, :, None] - front[near][:, None]
    vertex = np.take_along_axis(near, np.argmin((gap**2).sum(axis=3), axis=2), axis=1)
    off = load - front[vertex]
    side = tangent[vertex, 0] * off[..., 1] - tangent[vertex, 1] * off[..., 0]
    left, right = np.zeros(at.size), np.zeros(at.size)
    on = vertex > 0  # what still lies behind the start has no station
    np.maximum.at(left, vertex[on], np.maximum(side, 0.0)[on])
    np.maximum.at(right, vertex[on], np.maximum(-side, 0.0)[on])
    return at, left, right
