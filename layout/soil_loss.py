"""How length and steepness of a slope make bare soil wash: the factor LS of two families.

LS compares a slope with one of 72.6 ft at 9 %, which has 1. Numbers stand as they were
printed, in feet. Layouts are judged by RUSLE throughout; USLE stands beside it, because
the two differ by a third on steep ground and no mixture of them is either.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.units import FOOT_M

Floats = NDArray[np.float64]
Family = Literal["RUSLE", "USLE"]

UNIT_M = 72.6 * FOOT_M  # length of the plot all others are compared with
SHORT_M = 15 * FOOT_M  # a shorter slope forms no rills, and has an equation of its own
SEAM_PCT = 9.0  # RUSLE's equation of steepness changes here


def sine(grade_pct: ArrayLike) -> Floats:
    """Give the sine of a slope's angle; up and down count alike."""
    rise = np.abs(np.asarray(grade_pct, dtype=float)) / 100
    return np.asarray(rise / np.hypot(1.0, rise))


def steepness(grade_pct: ArrayLike, family: Family = "RUSLE") -> Floats:
    """Give the factor S of a slope of 15 ft or more.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Slope, percent.
    family : {"RUSLE", "USLE"}, optional
        `layout.sources.RUSLE` or `layout.sources.USLE`.

    Returns
    -------
    ndarray of float, same shape

    Examples
    --------
    >>> steepness([5.0, 9.0, 15.0]).round(3).tolist()
    [0.569, 1.006, 1.992]
    """
    s = sine(grade_pct)
    if family == "USLE":
        return np.asarray(65.41 * s**2 + 4.56 * s + 0.065)
    gentle = np.abs(np.asarray(grade_pct, dtype=float)) < SEAM_PCT
    return np.asarray(np.where(gentle, 10.8 * s + 0.03, 16.8 * s - 0.50))


def short_steepness(grade_pct: ArrayLike) -> Floats:
    """Give RUSLE's factor S of a slope shorter than 15 ft.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Slope, percent.

    Returns
    -------
    ndarray of float, same shape
        Below 9 % more than that of a longer slope, above it less.

    Examples
    --------
    >>> short_steepness([0.0, 20.0]).round(3).tolist()
    [0.56, 1.375]
    """
    return np.asarray(3.0 * sine(grade_pct) ** 0.8 + 0.56)


def exponent(grade_pct: ArrayLike, family: Family = "RUSLE") -> Floats:
    """Give the power m of length in the factor L.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Slope, percent.
    family : {"RUSLE", "USLE"}, optional
        RUSLE's holds for ground with as many rills as not. USLE's steps are from memory;
        between two of them the steeper counts.

    Returns
    -------
    ndarray of float, same shape
    """
    if family == "USLE":
        steps = np.abs(np.asarray(grade_pct, dtype=float))
        return np.asarray(np.select([steps < 1, steps <= 3, steps <= 4.5], [0.2, 0.3, 0.4], 0.5))
    ratio = sine(grade_pct) / 0.0896 / short_steepness(grade_pct)
    return np.asarray(ratio / (1.0 + ratio))


def length_slope(length_m: ArrayLike, grade_pct: ArrayLike, family: Family = "RUSLE") -> Floats:
    """Give LS of an even slope.

    Parameters
    ----------
    length_m : array_like of float
        Length on the map, metres, from where the water starts to where it leaves.
    grade_pct : array_like of float
        Slope, percent; the two are broadcast.
    family : {"RUSLE", "USLE"}, optional

    Returns
    -------
    ndarray of float
        RUSLE under 15 ft with the equation of short slopes.

    Raises
    ------
    InputError
        If a length is negative.

    Examples
    --------
    >>> [float(length_slope(100 * FOOT_M, 15, f).round(3)) for f in ("RUSLE", "USLE")]
    [2.397, 2.559]
    """
    length = np.asarray(length_m, dtype=float)
    if (length < 0).any():
        raise InputError("a slope is no shorter than nothing; give lengths of 0 m or more")
    s = steepness(grade_pct, family)
    if family == "RUSLE":
        s = np.where(length < SHORT_M, short_steepness(grade_pct), s)
    return np.asarray((length / UNIT_M) ** exponent(grade_pct, family) * s)


def uneven_length_slope(run_m: Floats, grade_pct: Floats, family: Family = "RUSLE") -> float:
    """Give the mean LS of a slope made of pieces, each with the water of those above it.

    After `layout.sources.UNEVEN_SLOPES`. Water let off anywhere on the way never makes
    what is left wash more.

    Parameters
    ----------
    run_m : ndarray of float, shape (n,)
        Lengths of the pieces on the map, metres, from the top down.
    grade_pct : ndarray of float, shape (n,)
        Their slopes, percent.
    family : {"RUSLE", "USLE"}, optional

    Returns
    -------
    float
        As `length_slope` where all pieces slope alike, but for a slope under 15 ft
        gentler than 9 %: there the equation of longer ones stays, which gives less. The
        published one would make a slope look worse for being cut short (ours).
    """
    total = float(run_m.sum())
    if total <= 0:
        return 0.0
    s = steepness(grade_pct, family)
    if family == "RUSLE" and total < SHORT_M:
        s = np.minimum(s, short_steepness(grade_pct))
    m = exponent(grade_pct, family)
    end = np.cumsum(run_m)
    start = end - run_m
    grown = (end / UNIT_M) ** (m + 1) - (np.maximum(start, 0.0) / UNIT_M) ** (m + 1)
    return float((s * grown).sum() * UNIT_M / total)
