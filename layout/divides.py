"""Where a strip ends at a divide: ground whose water runs off to the other side.

A crest between a place and the water is not enough: water goes round a knoll. A place
lies beyond a divide only where the straight way to the bank climbs over ground that is
surely higher than both, and where the water of the place never comes back into the
strip.
"""

import numpy as np
from numpy.typing import NDArray

from layout.flow import flow
from layout.grid import Dem, Floats, bilinear

CREST_PCT = 2.0  # least fall from crest to place, along the whole way; ours, as for a back face
CREST_ERRORS = 3.0  # and so many elevation errors at least, or noise would cut a strip short
Mask = NDArray[np.bool_]


def beyond_divide(
    ground: Dem, places: Floats, bank: Floats, strip: Mask, wet: Mask, error_m: float
) -> Mask:
    """Tell which places of a strip lie beyond a divide.

    Parameters
    ----------
    ground : Dem
        Elevations of the strip and what surrounds it, without gaps.
    places, bank : ndarray of float, shape (n, 2)
        Cell centres, and the nearest point of the bank to each, grid metres.
    strip : ndarray of bool, shape (n,)
        Which of them lie in the strip as it would be without the divide.
    wet : ndarray of bool, shape of the grid
        Cells the water itself touches.
    error_m : float
        Error of the elevations, metres.

    Returns
    -------
    ndarray of bool, shape (n,)
        False wherever it is in doubt.
    """
    hidden = np.zeros(strip.shape, dtype=bool)
    at = np.flatnonzero(strip)
    hidden[at] = _over_a_crest(ground, places[at], bank[at], error_m)
    if not hidden.any():
        return hidden
    row, col = (np.rint(part).astype(np.int64) for part in ground.fractional(*places.T))
    flat = row * ground.shape[1] + col
    near_side = wet.ravel().copy()
    near_side[flat[strip & ~hidden]] = True
    return np.asarray(hidden & ~_comes_to(ground, near_side, error_m)[flat])


def _over_a_crest(ground: Dem, places: Floats, bank: Floats, error_m: float) -> Mask:
    """Tell where the straight way to the bank climbs over ground higher than both its ends."""
    west, south, east, north = ground.bounds
    half = 0.5 * ground.cell_m

    def height(points: Floats) -> Floats:
        return bilinear(
            ground,
            np.clip(points[:, 0], west + half, east - half),
            np.clip(points[:, 1], south + half, north - half),
        )

    way = places - bank
    run = np.hypot(way[:, 0], way[:, 1])
    low, foot = height(places), height(bank)
    crest = np.maximum(low, foot)
    steps = int(np.ceil(run.max(initial=0.0) / ground.cell_m))
    for step in range(1, steps):
        crest = np.maximum(crest, height(bank + step / steps * way))
    sure = CREST_ERRORS * error_m
    falls = crest - low > np.maximum(0.01 * CREST_PCT * run, sure)
    return np.asarray(falls & (crest - foot > sure))


def _comes_to(ground: Dem, goal: Mask, error_m: float) -> Mask:
    """Tell of every cell whether its water comes to one of the goal's, flat, (rows * cols,)."""
    ends = np.arange(goal.size)
    after = flow(ground, error_m=error_m).downstream
    after = np.where(after < 0, ends, after)
    comes = goal.copy()
    for _ in range(int(goal.size).bit_length()):  # each time twice as far down
        comes = comes | comes[after]
        after = after[after]
    return comes
