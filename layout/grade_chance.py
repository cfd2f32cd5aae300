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
they hang together, and the draws are counted in which it breaks the rule it was planned
by: over the limit of short pitches, or over the sustained one for longer than a short
pitch may be. No field of the whole stand has to be drawn for it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import linalg, sparse, special

from layout.grid import Dem

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Distance over which the correlation falls to 5 %; the range of an elevation grid is
# seldom published, these span a few cells to the size of a stand: ours.
RANGES_M = (5.0, 30.0, 120.0)
DRAWS = 10_000  # a share is known to half a point, one standard error
FIRST_DRAWS, RARE = 2000, 0.005  # under one in 200 of the first, a standard error of 0.16 points
NOT_WORTH_DRAWING = 1e-3  # where all places together are under this, their sum is told
TINY = 1e-9
NOISE_PCT, LENGTH_NOISE_M = 1e-6, 1e-6  # a 20 % grade computed as 20.0000001 is still 20 %
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
    exact = ((-grade > down + NOISE_PCT) | (grade > up + NOISE_PCT)).astype(float)
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


@dataclass(frozen=True, slots=True, eq=False)
class GradeRule:
    """What grades a trail may have.

    Parameters
    ----------
    sustained_pct, short_pct : tuple of float
        Limits of any length and of short pitches, favourable and adverse, positive sizes.
    short_pitch_m : float
        Longest pitch over the sustained limit, metres.
    bridged_m : float
        Ground under the sustained limit that parts no pitch, metres: errors of the
        elevations would break a long steep stretch into short ones. The rest that the
        rule asks for between two pitches is not drawn; where it lacks as measured the
        checks stop the trail.
    """

    sustained_pct: tuple[float, float]
    short_pct: tuple[float, float]
    short_pitch_m: float
    bridged_m: float

    def broken(self, grade_pct: Floats, border_m: Floats) -> tuple[Flags, Flags]:
        """Say which of several trails over the same stations break the rule.

        Parameters
        ----------
        grade_pct : ndarray of float, shape (k, n)
            One trail a row: + adverse, - favourable, percent.
        border_m : ndarray of float, shape (n + 1,)
            Station i stands for ``border_m[i]`` to ``border_m[i + 1]``, metres.

        Returns
        -------
        broken : ndarray of bool, shape (k,)
            The trails that break it.
        steep : ndarray of bool, shape (k, n)
            Stations over the sustained limit.
        """
        broken = np.zeros(grade_pct.shape[0], dtype=bool)
        steep = np.zeros(grade_pct.shape, dtype=bool)
        for sign, sustained, short in zip(
            (-1.0, 1.0), self.sustained_pct, self.short_pct, strict=True
        ):
            size = sign * grade_pct
            over = size > sustained + NOISE_PCT
            broken |= (size > short + NOISE_PCT).any(axis=1)
            broken |= self._longest(over, border_m) > self.short_pitch_m + LENGTH_NOISE_M
            steep |= over
        return broken, steep

    def _longest(self, over: Flags, border_m: Floats) -> Floats:
        """Give each row's longest pitch, metres, its short rests bridged."""
        row, station = np.nonzero(over)
        longest = np.zeros(over.shape[0])
        if not row.size:
            return longest
        begun, ended = border_m[station], border_m[station + 1]
        anew = np.ones(row.size, dtype=bool)
        rest = begun[1:] - ended[:-1]
        anew[1:] = (row[1:] != row[:-1]) | (rest >= self.bridged_m - LENGTH_NOISE_M)
        first = np.flatnonzero(anew)
        last = np.append(first[1:], row.size) - 1
        np.maximum.at(longest, row[first], ended[last] - begun[first])
        return longest


def breaks_rule(
    grade_pct: Floats,
    border_m: Floats,
    rule: GradeRule,
    covariance: Floats,
    rng: np.random.Generator,
    draws: int = DRAWS,
) -> tuple[float, Floats]:
    """Give the chance that a trail breaks the rule of grades, by drawing it.

    Parameters
    ----------
    grade_pct : ndarray of float, shape (n,)
        As in `over_limit`; all known.
    border_m : ndarray of float, shape (n + 1,)
        As in `GradeRule.broken`.
    rule : GradeRule
        What is allowed.
    covariance : ndarray of float, shape (n, n)
        From `grade_covariance`.
    rng : Generator
        Seeded.
    draws : int, optional
        How many at most; a trail that seldom breaks it needs fewer.

    Returns
    -------
    chance : float
        0 to 1; never under what one place alone comes to, which is exact.
    blamed : ndarray of float, shape (n,)
        Share of draws that break the rule with this station over the sustained limit.
    """
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    single = over_limit(grade_pct, *rule.short_pct, sd)
    # Baselines moved to stay on a short line are the same twice: a hair keeps the root real.
    hair = 1e-9 * max(float(sd.max()) ** 2, TINY)
    root = linalg.cholesky(
        covariance + hair * np.eye(sd.size), lower=True, overwrite_a=True, check_finite=False
    )
    blamed, count, done = np.zeros(sd.size), 0, 0
    for some in (min(FIRST_DRAWS, draws), draws - FIRST_DRAWS):
        if some <= 0 or (done and count < RARE * done):
            break  # a share so small is known well enough by now
        drawn = grade_pct + rng.standard_normal((some, sd.size)) @ root.T
        broken, steep = rule.broken(drawn, border_m)
        blamed += steep[broken].sum(axis=0)
        count += int(broken.sum())
        done += some
    return float(max(count / done, single.max())), blamed / done
