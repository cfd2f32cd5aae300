"""The ground a tractor and the load it drags come over, as they drive a way.

The tractor's rear axle follows the way. The hitch lies behind the axle, so in a bend
it swings a little outside; the load hangs there by its front end, and its tail runs
along the tractrix of the hitch's way (`layout.dragging.trailed`). In a steady bend
of radius R with the hitch h behind the axle the tail settles on a circle of radius
``sqrt(R^2 + h^2 - L^2)``, ``R - sqrt(R^2 - L^2)`` inside the way where h is nothing
(Pythagoras twice). The ground between the two ways in a turn of t radians is
``L^2 t / 2``, whatever the bend: `sources.SWEEPING_TANGENTS`.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.dragging import trailed
from layout.geometry import along, at_stations

Floats = NDArray[np.float64]

STEP_M = 0.5


@dataclass(frozen=True, slots=True)
class Outfit:
    """What drives, seen from above; metres.

    Parameters
    ----------
    hitch_m : float
        Hitch behind the rear axle.
    length_m : float
        Tractor and winch, from the hitch forward.
    width_m : float
        Of the tractor.
    load_m, load_width_m : float
        Of the load, and what it takes up to both sides together.
    """

    hitch_m: float
    length_m: float
    width_m: float
    load_m: float
    load_width_m: float


def swept_pieces(way: Floats, outfit: Outfit, step_m: float = STEP_M) -> NDArray[np.object_]:
    """Give the ground that tractor and load come over on a way, piece by piece.

    Parameters
    ----------
    way : ndarray of float, shape (n, 2), n >= 2
        What the rear axle follows, in the direction of travel, metres. The load lies
        straight behind at its start.
    outfit : Outfit
        What drives.
    step_m : float, optional
        The way is read this often.

    Returns
    -------
    ndarray of Polygon, shape (k,)
        Together they are the ground; in most uses only a few of them matter.
    """
    return hulls(swept_corners(way, outfit, step_m))


def swept_corners(way: Floats, outfit: Outfit, step_m: float = STEP_M) -> Floats:
    """Give the corners of each piece of that ground, neighbours beside each other.

    Parameters
    ----------
    way, outfit, step_m
        As `swept_pieces` takes them.

    Returns
    -------
    ndarray of float, shape (k, 8, 2)
        Each piece is the `hulls` of its corners; several together are in the hull of all theirs.
    """
    hitch, tail, ahead = drawn(way, outfit, step_m)
    nose = hitch + outfit.length_m * ahead
    return np.concatenate(
        [_between(hitch, tail, outfit.load_width_m), _between(hitch, nose, outfit.width_m)]
    )


def hulls(corners: Floats) -> NDArray[np.object_]:
    """Give the hull of each row of corners.

    Parameters
    ----------
    corners : ndarray of float, shape (k, n, 2)
        Metres.

    Returns
    -------
    ndarray of geometry, shape (k,)
    """
    # lines through the corners have the same hulls as the corners, and are made far faster
    return np.asarray(shapely.convex_hull(shapely.linestrings(corners)))


def drawn(way: Floats, outfit: Outfit, step_m: float = STEP_M) -> tuple[Floats, Floats, Floats]:
    """Give hitch and tail as the axle goes along a way, and where the tractor heads.

    Parameters
    ----------
    way, outfit, step_m
        As `swept_pieces` takes them.

    Returns
    -------
    hitch, tail, ahead : ndarray of float, shape (n, 2)
        Places, metres, and unit vectors.
    """
    total = float(along(way)[-1])
    at = np.linspace(0.0, total, max(2, math.ceil(total / step_m) + 1))
    axle = at_stations(way, at)
    ahead = np.gradient(axle, axis=0)
    ahead /= np.maximum(np.hypot(ahead[:, 0], ahead[:, 1]), 1e-12)[:, None]
    hitch = axle - outfit.hitch_m * ahead
    return hitch, trailed(hitch, outfit.load_m), ahead


def between_ways_m2(load_m: float, turned_rad: float) -> float:
    """Give the ground between the ways of a load's two ends in a turn, square metres.

    Whatever the bend's radius: the load is always tangent to the way of its tail, and
    moved together its places fill a sector of its own length
    (`sources.SWEEPING_TANGENTS`). Exact where the load is as straight behind after the
    turn as before it.

    Parameters
    ----------
    load_m : float
        Length of the load, metres.
    turned_rad : float
        How far the way turns, to either side, radians.

    Examples
    --------
    >>> round(between_ways_m2(5.0, 1.0), 1)
    12.5
    """
    return 0.5 * load_m**2 * abs(turned_rad)


def _between(start: Floats, end: Floats, width_m: float) -> Floats:
    """Give the corners of what a bar of some width covers between each place and the next."""
    axis = end - start
    axis /= np.maximum(np.hypot(axis[:, 0], axis[:, 1]), 1e-12)[:, None]
    side = 0.5 * width_m * np.column_stack([-axis[:, 1], axis[:, 0]])
    corners = np.stack([start + side, start - side, end + side, end - side], axis=1)
    return np.concatenate([corners[:-1], corners[1:]], axis=1)
