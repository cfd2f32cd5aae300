"""What sample plots say of a hectare, and how sure they are.

A plot of fixed area counts the trees on it; an angle count takes a tree in by its
size, so that each stands for the same basal area (the factor). Either way a tree
stands for a number of trees a hectare, a plot gives one figure, and the spread of
the plots' figures tells how far the mean may be off.

Plots are taken as a simple random sample, areas as measured on the map; no
correction is made for trees hidden behind others or for plots over the edge.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtrit

from layout.errors import InputError
from layout.sources import PLOT_SAMPLING
from layout.stocking import basal_area_m2
from layout.units import HECTARE_M2

Floats = NDArray[np.float64]

SOURCES = (PLOT_SAMPLING,)

CONFIDENCE = 0.90  # usual for woodlots; common practice, no source
ONE_PLOT = "one plot says nothing of how far it may be off; measure two or more"
NO_PLOT = "there is no plot"


@dataclass(frozen=True, slots=True, eq=False)
class Plots:
    """Plots and the trees counted on them; p plots, m rows of trees.

    Parameters
    ----------
    plot_id : tuple of str, length p
        Names; plots without a tree are there too.
    area_m2 : ndarray of float, shape (p,)
        Area of a fixed plot, square metres; NaN for an angle count.
    factor_m2_per_ha : ndarray of float, shape (p,)
        Basal area factor of an angle count; NaN for a fixed plot.
    x, y : ndarray of float, shape (p,)
        Place as the file gives it; NaN where it does not.
    plot : ndarray of int, shape (m,)
        Which plot a row of trees stands on.
    species : tuple of str, length m
        As written.
    dbh_cm, height_m : ndarray of float, shape (m,)
        DBH; height NaN where not measured.
    count : ndarray of float, shape (m,)
        Like trees of the row.
    marked : ndarray of bool, shape (m,), or None
        Who is to be cut; None where the file does not say.
    """

    plot_id: tuple[str, ...]
    area_m2: Floats
    factor_m2_per_ha: Floats
    x: Floats
    y: Floats
    plot: NDArray[np.int64]
    species: tuple[str, ...]
    dbh_cm: Floats
    height_m: Floats
    count: Floats
    marked: NDArray[np.bool_] | None

    def __len__(self) -> int:
        """Count the plots."""
        return len(self.plot_id)

    def stems_per_ha(self) -> Floats:
        """Give what each row stands for on its own plot.

        Returns
        -------
        ndarray of float, shape (m,)
            Stems a hectare: one over the plot's area, or the factor over the tree's
            basal area, times the row's count.
        """
        area = self.area_m2[self.plot]
        counted = self.factor_m2_per_ha[self.plot] / basal_area_m2(self.dbh_cm)
        return np.asarray(self.count * np.where(np.isnan(area), counted, HECTARE_M2 / area))

    def mean_per_ha(self) -> Floats:
        """Give what each row stands for in the stand: the same, over all plots.

        Returns
        -------
        ndarray of float, shape (m,)
            Stems a hectare; the weights of `layout.stocking.condition`.
        """
        return np.asarray(self.stems_per_ha() / max(len(self), 1))


@dataclass(frozen=True, slots=True)
class Estimate:
    """A mean by hectare and the range it lies in.

    Parameters
    ----------
    mean : float or None
        None where there is no plot.
    low, high : float or None
        Ends of the confidence interval; ``low`` is never below 0. None where there are
        fewer than two plots, and `reason` says so.
    error_pct : float or None
        Half the interval in percent of the mean, before ``low`` is held at 0.
    confidence : float
        Share of such intervals that hold the true mean, 0 to 1.
    plots : int
    reason : str
        Empty where there is an interval.
    """

    mean: float | None
    low: float | None
    high: float | None
    error_pct: float | None
    confidence: float
    plots: int
    reason: str


def mean_interval(by_plot: ArrayLike, confidence: float = CONFIDENCE) -> Estimate:
    """Give the mean of plots and its interval by Student's t.

    ``mean +- t(n - 1) s / sqrt(n)``, both tails, without a correction for a finite
    stand (which errs wide).

    Parameters
    ----------
    by_plot : array_like of float, shape (p,)
        One figure a plot, none below 0.
    confidence : float, optional
        Between 0.5 and 0.999.

    Returns
    -------
    Estimate

    Raises
    ------
    InputError
        If the confidence is outside that.

    Examples
    --------
    >>> e = mean_interval([20, 24, 28, 32], confidence=0.95)
    >>> e.mean, round(e.low, 2), round(e.high, 2)
    (26.0, 17.78, 34.22)
    """
    if not 0.5 <= confidence <= 0.999:
        raise InputError(f"a confidence of {confidence:g} is not 0.5 to 0.999; 0.9 is usual")
    values = np.asarray(by_plot, dtype=float)
    n = int(values.size)
    if n == 0:
        return Estimate(None, None, None, None, confidence, 0, NO_PLOT)
    mean = float(values.mean())
    if n == 1:
        return Estimate(mean, None, None, None, confidence, 1, ONE_PLOT)
    t = float(stdtrit(n - 1, (1.0 + confidence) / 2.0))
    half = t * float(values.std(ddof=1)) / math.sqrt(n)
    error = float(100.0 * half / mean) if mean > 0 else None
    return Estimate(mean, max(mean - half, 0.0), mean + half, error, confidence, n, "")


def per_ha(
    plots: Plots,
    each: ArrayLike = 1.0,
    *,
    only: ArrayLike | None = None,
    confidence: float = CONFIDENCE,
) -> Estimate:
    """Estimate the sum of something over the trees of a hectare.

    Parameters
    ----------
    plots : Plots
    each : array_like of float, shape (m,) or scalar, optional
        What one tree of a row has: 1 counts stems, `layout.stocking.basal_area_m2`
        gives basal area, a volume gives volume.
    only : array_like of bool, shape (m,), optional
        Which rows count, say those of one species or the marked ones.
    confidence : float, optional
        As in `mean_interval`.

    Returns
    -------
    Estimate
        Plots without such a tree count as 0.

    Raises
    ------
    InputError
        As in `mean_interval`.
    """
    weight = plots.stems_per_ha() * np.broadcast_to(np.asarray(each, dtype=float), plots.plot.shape)
    if only is not None:
        weight = np.where(np.asarray(only, dtype=bool), weight, 0.0)
    return mean_interval(np.bincount(plots.plot, weights=weight, minlength=len(plots)), confidence)


def plots_needed(
    by_plot: Sequence[float], wanted_pct: float, confidence: float = CONFIDENCE
) -> int | None:
    """Tell how many plots would bring the error down to a wanted share.

    Parameters
    ----------
    by_plot : sequence of float
        One figure a plot, measured so far.
    wanted_pct : float
        Half the interval in percent of the mean.
    confidence : float, optional
        As in `mean_interval`.

    Returns
    -------
    int or None
        Plots in all, at least two; None with fewer than two plots or a mean of 0.

    Raises
    ------
    InputError
        If the wanted error is not above 0, and as in `mean_interval`.
    """
    if not wanted_pct > 0:
        raise InputError(f"an error of {wanted_pct:g} % cannot be reached; give one above 0")
    found = mean_interval(by_plot, confidence)
    if found.error_pct is None or not found.mean:
        return None
    spread_pct = 100.0 * float(np.std(by_plot, ddof=1)) / found.mean
    n = 2
    while stdtrit(n - 1, (1.0 + confidence) / 2.0) * spread_pct / np.sqrt(n) > wanted_pct:
        n = max(n + 1, int(n * 1.05))
    while n > 2 and (
        stdtrit(n - 2, (1.0 + confidence) / 2.0) * spread_pct / np.sqrt(n - 1) <= wanted_pct
    ):
        n -= 1
    return n
