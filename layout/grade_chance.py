"""Chance that a trail's grade is over a limit when the elevations are a little wrong.

Elevation errors of near places are alike: they lie in blobs. With a standard error
sigma and an exponential correlation rho over distance, a grade over a baseline L
has the standard deviation ``sqrt(2 (1 - rho(L))) sigma / L``. How wide the blobs
are is seldom known, so the worst of `RANGES_M` counts: wider blobs carry both ends
of a baseline up and down together.

That formula holds for grades read from single cells. A trail's are read between
four, which takes a part of the error out; so its covariance is built from the very
cells and weights that were read. One place is then judged by the normal
distribution. A whole trail is drawn anew many times, all its baselines together as
they hang together, and counted: no field of the whole stand has to be drawn for it.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, sparse, special

from layout.grid import Dem

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Distance over which the correlation falls to 5 %; the range of an elevation grid is
# seldom published, these span a few cells to the size of a stand: ours.
RANGES_M = (5.0, 30.0, 120.0)
DRAWS = 4000
NOT_WORTH_DRAWING = 1e-3  # where all places together are under this, their sum is told
TINY = 1e-9
CELLS_AT_ONCE = 1000


def correlation(distance_m: ArrayLike, range_m: float) -> Floats:
    """Give how alike the elevation errors of two places are.

    Parameters
    ----------
    distance_m : array_like of float
        Between them, metres.
    range_m : float
        Practical range, metres: where the correlation is down to 5 % (exp(-3));
        0 where no two places have anything in common.

    Returns
    -------
    ndarray of float
        1 at no distance, falling to 0.
    """
    distance = np.asarray(distance_m, dtype=float)
    if range_m <= 0:
        return np.where(distance > 0, 0.0, 1.0)
    return np.asarray(np.exp(-3.0 * distance / range_m))


def grade_sd_pct(baseline_m: ArrayLike, error_m: float, range_m: float) -> Floats:
    """Give the standard deviation of a grade, percent.

    Parameters
    ----------
    baseline_m : array_like of float
        Length the grade is measured over, metres.
    error_m : float
        Standard error of one elevation, metres.
    range_m : float
        Practical range of its correlation, metres.

    Returns
    -------
    ndarray of float
        Percent.

    Examples
    --------
    >>> [round(float(grade_sd_pct(10.0, 0.1, r)), 2) for r in (0.0, 30.0)]
    [1.41, 1.12]
    """
    baseline = np.asarray(baseline_m, dtype=float)
    apart = 1.0 - correlation(baseline, range_m)
    return np.asarray(100.0 * np.sqrt(2.0 * apart) * error_m / baseline)


def worst_sd_pct(baseline_m: ArrayLike, error_m: float) -> Floats:
    """Give the largest standard deviation of a grade over `RANGES_M`, percent."""
    each = [grade_sd_pct(baseline_m, error_m, range_m) for range_m in RANGES_M]
    return np.asarray(np.max(each, axis=0))


def over_limit(
    grade_pct: ArrayLike, favourable_pct: ArrayLike, adverse_pct: ArrayLike, sd_pct: ArrayLike
) -> Floats:
    """Give the chance that single grades are over their limits.

    Parameters
    ----------
    grade_pct : array_like of float
        As measured, in the loaded direction: + adverse, - favourable.
    favourable_pct, adverse_pct : array_like of float
        Limits there, positive sizes.
    sd_pct : array_like of float
        Standard deviation of the grades.

    Returns
    -------
    ndarray of float
        0 to 1; NaN where the grade is not known.
    """
    grade, down, up, sd = np.broadcast_arrays(
        *(np.asarray(a, dtype=float) for a in (grade_pct, favourable_pct, adverse_pct, sd_pct))
    )
    one = np.where(sd > 0, sd, 1.0)
    chance = special.ndtr((-grade - down) / one) + special.ndtr((grade - up) / one)
    exact = ((-grade > down + 1e-6) | (grade > up + 1e-6)).astype(float)
    return np.where(np.isfinite(grade), np.where(sd > 0, chance, exact), np.nan)


def reading(dem: Dem, near_xy: Floats, far_xy: Floats) -> tuple[Floats, sparse.csr_array]:
    """Give the cells that grades are read from, and with what weights.

    Parameters
    ----------
    dem : Dem
        Elevation grid.
    near_xy, far_xy : ndarray of float, shape (n, 2)
        Ends of the baselines, metres, on known ground.

    Returns
    -------
    cells_xy : ndarray of float, shape (m, 2)
        Cells, in metres from the grid's corner.
    weight : sparse array, shape (n, m)
        What the rise from near to far takes of each cell's elevation.
    """
    rows, cols = dem.shape
    at, which, parts = [], [], []
    count = near_xy.shape[0]
    for sign, xy in ((1.0, far_xy), (-1.0, near_xy)):
        row, col = dem.fractional(xy[:, 0], xy[:, 1])
        r0 = np.clip(np.floor(row).astype(np.int64), 0, max(rows - 2, 0))
        c0 = np.clip(np.floor(col).astype(np.int64), 0, max(cols - 2, 0))
        for down, right in ((0, 0), (0, 1), (1, 0), (1, 1)):
            share = np.abs(1 - down - (row - r0)) * np.abs(1 - right - (col - c0))
            at.append(np.minimum(r0 + down, rows - 1) * cols + np.minimum(c0 + right, cols - 1))
            which.append(np.arange(count))
            parts.append(sign * share)
    cells, place = np.unique(np.concatenate(at), return_inverse=True)
    weight = sparse.coo_array(
        (np.concatenate(parts), (np.concatenate(which), place)), shape=(count, cells.size)
    ).tocsr()
    return np.column_stack([cells % cols, cells // cols]) * dem.cell_m, weight


def grade_covariance(
    cells_xy: Floats,
    weight: sparse.csr_array,
    baseline_m: float,
    error_m: float,
    range_m: float,
) -> Floats:
    """Give how the grades of many baselines err together.

    Parameters
    ----------
    cells_xy, weight : ndarray, sparse array
        From `reading`.
    baseline_m : float
        Length along the trail, metres; what the rise is divided by.
    error_m, range_m : float
        As in `grade_sd_pct`.

    Returns
    -------
    ndarray of float, shape (n, n)
        Percent squared.
    """
    alike = np.empty(weight.shape)
    for first in range(0, cells_xy.shape[0], CELLS_AT_ONCE):  # bounds the memory of long trails
        some = cells_xy[first : first + CELLS_AT_ONCE]
        away = np.hypot(
            np.subtract.outer(some[:, 0], cells_xy[:, 0]),
            np.subtract.outer(some[:, 1], cells_xy[:, 1]),
        )
        alike[:, first : first + CELLS_AT_ONCE] = weight @ correlation(away, range_m).T
    return np.asarray((100.0 * error_m / baseline_m) ** 2 * (weight @ alike.T))


def any_over_limit(
    grade_pct: Floats,
    favourable_pct: Floats,
    adverse_pct: Floats,
    covariance: Floats,
    rng: np.random.Generator,
    draws: int = DRAWS,
) -> float:
    """Give the chance that any of several grades is over its limit, by drawing them.

    Parameters
    ----------
    grade_pct, favourable_pct, adverse_pct : ndarray of float, shape (n,)
        As in `over_limit`; all known.
    covariance : ndarray of float, shape (n, n)
        From `grade_covariance`.
    rng : Generator
        Seeded.
    draws : int, optional
        How many.

    Returns
    -------
    float
        0 to 1. Where the single chances add up to under 0.1 % that sum, the most it
        can be, and nothing is drawn.
    """
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    single = over_limit(grade_pct, favourable_pct, adverse_pct, sd)
    if not single.size or single.sum() < NOT_WORTH_DRAWING:
        return float(single.sum())
    # Baselines moved to stay on a short line are the same twice: a hair keeps the root real.
    hair = 1e-9 * max(float(sd.max()) ** 2, TINY)
    root = linalg.cholesky(
        covariance + hair * np.eye(sd.size), lower=True, overwrite_a=True, check_finite=False
    )
    drawn = grade_pct + rng.standard_normal((draws, sd.size)) @ root.T
    over = ((-drawn > favourable_pct) | (drawn > adverse_pct)).any(axis=1)
    # never under what one place alone comes to, which is exact
    return float(max(over.mean(), single.max()))
