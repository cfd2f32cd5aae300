"""Heights where none was measured: the species' curve, set to the user's own trees.

A default curve knows nothing of the site. Where the list has measured heights
the curve is raised or lowered to them: by those of the same species, else by
those of the same kind (hardwood or softwood). The curve keeps its bend; only
its level moves, by the median of the measured trees, so that one misread height
does not carry the rest. Where sawlogs were counted the tree is at least as tall as they
need. A height that was not measured is flagged, and for safety distances it errs
tall.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.sources import HEIGHT_CURVES
from layout.species import resolve, species_table
from layout.stem_sizes import BREAST_HEIGHT_M, LOG_FT, STUMP_FT, TALLEST_M, check_stems
from layout.timber import heights_m
from layout.units import FOOT_M

Floats = NDArray[np.float64]
HeightModel = Literal["calibrated", "default"]
How = Literal["measured", "species", "kind", "default", "logs", "unknown"]

SOURCES = (HEIGHT_CURVES,)

FEWEST_MEASURED = 3  # design: fewer do not move the curve
SAFETY_SHARE = 1.10  # an estimated height counts a tenth taller for distances; ours
SAWLOG_SHARE = 0.70  # counted sawlogs end at 0.60 to 0.70 of the height; from memory
# A measured height is doubted where it is off by more than both: three times the
# spread of its fellows, and a factor of 1.35. Both ours.
DOUBT_SPREADS = 3 * 1.4826  # 1.4826 turns a median deviation into a standard one
DOUBT_FACTOR = 1.35


@dataclass(frozen=True, slots=True)
class Calibration:
    """How far measured trees moved a curve.

    Parameters
    ----------
    name : str
        Species, or ``hardwood`` or ``softwood``.
    measured : int
        How many measured trees stand behind it.
    ratio : float
        Height above breast height over that of the default curve, median.
    spread : float
        Middle half of the measured ratios, upper over lower quartile.
    """

    name: str
    measured: int
    ratio: float
    spread: float


@dataclass(frozen=True, slots=True, eq=False)
class Heights:
    """A height for every stem, and how each was come by; arrays have shape (n,).

    Parameters
    ----------
    height_m : ndarray of float
        Metres; NaN where neither height nor diameter is known.
    estimated : ndarray of bool
        True where it was not measured.
    how : tuple of str
        ``measured``; estimated by the curve set to its ``species`` or ``kind``, by the
        ``default`` curve, or from its ``logs`` where they need more; ``unknown``.
    doubtful : ndarray of bool
        Measured heights far from what the other measured trees say; they are kept.
    calibrations : tuple of Calibration
        Species first, then kinds; empty where the default curve stands alone.
    """

    height_m: Floats
    estimated: NDArray[np.bool_]
    how: tuple[How, ...]
    doubtful: NDArray[np.bool_]
    calibrations: tuple[Calibration, ...]

    def for_distances_m(self) -> Floats:
        """Give heights for safety distances, erring tall.

        A measured height stands. An estimated one counts a tenth more, and at least as
        much as the tallest measured tree; an unknown one as much as the tallest of all.

        Returns
        -------
        ndarray of float, shape (n,)
            Metres; NaN where no height of the list is known.
        """
        tall = np.where(self.estimated, SAFETY_SHARE * self.height_m, self.height_m)
        measured = self.height_m[~self.estimated]
        if measured.size:
            tall = np.where(self.estimated, np.fmax(tall, measured.max()), tall)
        known = tall[np.isfinite(tall)]
        if known.size:
            tall = np.where(np.isnan(tall), known.max(), tall)
        return np.asarray(tall)

    def tallest_for_distances_m(self) -> float | None:
        """Give the tallest of `for_distances_m`, or None where no height is known."""
        tall = self.for_distances_m()
        known = tall[np.isfinite(tall)]
        return float(known.max()) if known.size else None


def fill_heights(
    species: Sequence[str],
    dbh_cm: ArrayLike,
    height_m: ArrayLike,
    *,
    logs: ArrayLike = np.nan,
    model: HeightModel = "calibrated",
    rows: Sequence[str] = (),
) -> Heights:
    """Fill missing heights from curves set to the measured trees.

    The curve of `layout.timber.heights_m` is multiplied, above breast height, by the
    median ratio of the measured heights of the same species, where there are three or
    more; else of the same kind; else it stands as it is. This is the published advice
    of fitting ``B1`` with ``B2`` fixed, with a median in place of the mean.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm : array_like of float, shape (n,)
        Diameter at breast height, centimetres; NaN where not known.
    height_m : array_like of float, shape (n,)
        Total height, metres; NaN where not measured.
    logs : array_like of float, shape (n,) or scalar
        Counted 16-ft logs, NaN where not counted: no estimate is less than they need,
        taken to end at 70 % of the height (from memory).
    model : {"calibrated", "default"}
        ``default`` leaves the curves alone (``timber.height_model``).
    rows : sequence of str, length n
        How messages call each stem.

    Returns
    -------
    Heights
        The order of the list makes no difference.

    Raises
    ------
    InputFaults
        As in `check_stems`.

    Examples
    --------
    >>> got = fill_heights(["red oak"] * 4, [30, 40, 50, 45], [20, 22, 24, float("nan")])
    >>> got.how[3], got.height_m[3].round(1).item()
    ('species', 22.6)
    """
    dbh, measured, count = check_stems(dbh_cm, height_m, logs, rows=rows)
    row = resolve(species).row
    softwood = np.array([s.kind == "softwood" for s in species_table()])[row]
    curve, _ = heights_m(species, dbh, np.full(dbh.shape, np.nan))
    ratio = (measured - BREAST_HEIGHT_M) / (curve - BREAST_HEIGHT_M)
    usable = np.isfinite(ratio)
    factor = np.ones(dbh.shape)
    how = np.where(np.isfinite(curve), "default", "unknown").astype(object)
    doubtful = np.zeros(dbh.shape, dtype=bool)
    found: list[Calibration] = []
    if model == "calibrated":
        kinds = [("hardwood", ~softwood), ("softwood", softwood)]
        names = [(species_table()[r].common_name, row == r) for r in np.unique(row)]
        # Kinds first, so that a species with trees of its own overrules its kind.
        for word, groups in (("kind", kinds), ("species", names)):
            level: list[Calibration] = []
            for name, members in groups:
                own = ratio[members & usable]
                if own.size < FEWEST_MEASURED:
                    continue
                level.append(_calibration(name, own))
                factor[members] = level[-1].ratio
                how[members & np.isfinite(curve)] = word
                doubtful[members] = _far_off(ratio[members], own)
            found = level + found
    curve = BREAST_HEIGHT_M + factor * (curve - BREAST_HEIGHT_M)
    needed = np.where(count > 0, (STUMP_FT + LOG_FT * count) * FOOT_M / SAWLOG_SHARE, np.nan)
    needed = np.minimum(needed, TALLEST_M)
    how[(needed > curve) | (np.isnan(curve) & np.isfinite(needed))] = "logs"
    estimated = np.isnan(measured)
    height = np.where(estimated, np.fmax(curve, needed), measured)
    how[~estimated] = "measured"
    return Heights(height, estimated, tuple(how), doubtful & ~estimated, tuple(found))


def _calibration(name: str, ratio: Floats) -> Calibration:
    low, middle, high = np.quantile(ratio, [0.25, 0.5, 0.75])
    return Calibration(name, int(ratio.size), float(middle), float(high / low))


def _far_off(ratio: Floats, own: Floats) -> NDArray[np.bool_]:
    """Tell which ratios lie far from the middle of their fellows."""
    off = np.abs(np.log(np.maximum(ratio, 1e-9)) - np.log(np.median(own)))
    spread = float(np.median(np.abs(np.log(own) - np.log(np.median(own)))))
    return np.asarray(off > max(DOUBT_SPREADS * spread, float(np.log(DOUBT_FACTOR))))
