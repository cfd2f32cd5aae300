"""How far a wedge must lift to bring a leaning tree over: a lever of the tree's height.

The stump from the front of the hinge to its back edge goes so many times into the
height of the tree; each inch of lift there moves the tip that many inches. The
figures are geometry for planning. They say nothing of rot, crown weight, wind or
frost, and never that a tree can be felled: that is judged at the tree, by who is
trained to.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputFaults
from layout.sources import WEDGE_LEVER, WEDGE_LIMIT
from layout.units import INCH_M

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SOURCES = (WEDGE_LEVER, WEDGE_LIMIT)

MOST_LIFT_M = 2 * INCH_M  # more back lean than this is no tree for wedges


def segments(height_m: ArrayLike, stump_m: ArrayLike) -> Floats:
    """Tell how often the stump goes into the height: the lever's length.

    Parameters
    ----------
    height_m, stump_m : array_like of float
        Height of the tree, and the stump from the front of the hinge to its back edge,
        metres.

    Returns
    -------
    ndarray of float
        Movement of the tip over lift at the back of the stump.

    Raises
    ------
    InputFaults
        If one is not above 0, or a stump is as long as its tree is high.

    Examples
    --------
    >>> segments(100 * 0.3048, 24 * 0.0254).round(6).item()
    50.0
    """
    height, stump = np.broadcast_arrays(
        np.asarray(height_m, dtype=float), np.asarray(stump_m, dtype=float)
    )
    bad = np.flatnonzero(((height <= 0) | (stump <= 0) | (stump >= height)).ravel()).tolist()
    if bad:
        raise InputFaults(
            [
                f"stem {at + 1}: a height of {height.ravel()[at]:g} m over a stump of "
                f"{stump.ravel()[at]:g} m is no standing tree"
                for at in bad[:20]
            ]
        )
    return np.asarray(height / stump)


def lift_m(back_lean_m: ArrayLike, height_m: ArrayLike, stump_m: ArrayLike) -> Floats:
    """Give the lift at the back of the stump that takes up a back lean.

    Parameters
    ----------
    back_lean_m : array_like of float
        How far the tip hangs back of the stump, metres; 0 or less needs no lift.
    height_m, stump_m : array_like of float
        As in `segments`.

    Returns
    -------
    ndarray of float
        Metres; the saw kerf is not in it. Over `MOST_LIFT_M` wedges are not enough.

    Raises
    ------
    InputFaults
        As in `segments`.

    Examples
    --------
    >>> (lift_m(3 * 0.3048, 60 * 0.3048, 18 * 0.0254) / 0.0254).round(6).item()
    0.9
    """
    lean = np.maximum(np.asarray(back_lean_m, dtype=float), 0.0)
    return np.asarray(lean / segments(height_m, stump_m))


def beyond_wedges(back_lean_m: ArrayLike, height_m: ArrayLike, stump_m: ArrayLike) -> Mask:
    """Tell which trees lean back farther than wedges are meant for.

    Parameters
    ----------
    back_lean_m, height_m, stump_m : array_like of float
        As in `lift_m`.

    Returns
    -------
    ndarray of bool
        True over 2 inches of lift; False where an input is NaN.

    Raises
    ------
    InputFaults
        As in `segments`.
    """
    return np.asarray(lift_m(back_lean_m, height_m, stump_m) > MOST_LIFT_M + 1e-9)
