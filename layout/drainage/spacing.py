"""How far apart drains across a trail may stand: water bars, waterbreaks by hazard, dips.

Every table stays in the feet and percent it was printed in, so it can be read
against the page. Everything else is metres and percent grade.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import BeyondTableError, InputError
from layout.sources import WATER_BARS
from layout.units import FOOT_M

Floats = NDArray[np.float64]
Hazard = Literal["", "low", "moderate", "high", "extreme"]
Dips = Literal["", "broad", "rolling"]
DipForm = Literal["broad", "rolling"]

# Trail grade, percent -> distance to the next bar, feet. Source: WATER_BARS.
PRINTED_SPACING_FT = {2: 250, 5: 135, 10: 80, 15: 60, 20: 45, 25: 40, 30: 35, 40: 30}
# The largest distance between waterbreaks, feet, at grades up to 10, 25 and 50 percent and
# above. Source: WATERBREAKS; two of its metric cells are misprinted, the feet are not.
PRINTED_WATERBREAKS_FT: dict[Hazard, tuple[int, int, int, int]] = {
    "extreme": (100, 75, 50, 50),
    "high": (150, 100, 75, 50),
    "moderate": (200, 150, 100, 75),
    "low": (300, 200, 150, 100),
}
_CLASS_ENDS_PCT = np.array([10.0, 25.0, 50.0])
GRADE_NOISE_PCT = 1e-6  # a 10 % grade computed as 10.000000001 is still the 10 % row

# Dips. Source: DIPS; the formula is from memory. Of two printed limits for a broad-based dip
# (below 10 %, up to 12 %) the stricter counts.
BROAD_BELOW_PCT = 10.0
ROLLING_MOST_PCT = 15.0
BROAD_FROM_PCT, BROAD_TO_PCT = 3.0, 5.0  # where one takes the place of bars, if asked for; ours

_LOG_PCT = np.log(np.array(list(PRINTED_SPACING_FT), dtype=float))
_LOG_M = np.log(np.array(list(PRINTED_SPACING_FT.values())) * FOOT_M)
_FIRST_PCT, _LAST_PCT = min(PRINTED_SPACING_FT), max(PRINTED_SPACING_FT)
BEYOND_TABLE_PCT = float(_LAST_PCT)  # steeper, no spacing of bars is published


@dataclass(frozen=True, slots=True)
class Tables:
    """Which tables a trail's drains are held to.

    Parameters
    ----------
    hazard : {"", "low", "moderate", "high", "extreme"}
        Erosion hazard of the ground; empty where it is not known, and the grade
        table stands alone.
    dips : {"", "broad", "rolling"}
        Dips wanted in place of bars: broad-based ones where the grade is 3 to 5 %;
        with ``rolling``, rolling ones as well up to 15 %.
    """

    hazard: Hazard = ""
    dips: Dips = ""


def bar_spacing(grade_pct: ArrayLike) -> Floats:
    """Give the widest spacing of water bars the grade table allows.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Trail grade, percent. Uphill and downhill count alike.

    Returns
    -------
    ndarray of float, same shape
        Distance along the trail to the next bar, metres: the printed one at a row's
        grade, a straight line through the logarithms of both between two rows. Grades
        gentler than the first row take the first row.

    Raises
    ------
    InputError
        If a grade is not known.
    BeyondTableError
        If a grade is steeper than the last row. We do not extrapolate.

    Examples
    --------
    >>> bar_spacing([10, 12]).round(2).tolist()
    [24.38, 21.43]
    """
    steepness = _steepness(grade_pct)
    if beyond_table(steepness).any():
        msg = (
            f"trail grade {steepness.max():.1f} % is steeper than the {_LAST_PCT} % "
            f"at which the table ends ({WATER_BARS}); re-route the trail"
        )
        raise BeyondTableError(msg)
    at = np.log(np.clip(steepness, _FIRST_PCT, _LAST_PCT))
    return np.asarray(np.exp(np.interp(at, _LOG_PCT, _LOG_M)))


def beyond_table(grade_pct: ArrayLike) -> NDArray[np.bool_]:
    """Tell which grades are steeper than the last row of the grade table.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Trail grade, percent; one that is not known (NaN) is not.

    Returns
    -------
    ndarray of bool, same shape
    """
    return np.asarray(np.abs(np.asarray(grade_pct, dtype=float)) > _LAST_PCT + GRADE_NOISE_PCT)


def hazard_spacing(grade_pct: ArrayLike, hazard: Hazard) -> Floats:
    """Give the largest distance between waterbreaks that an erosion hazard allows.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Trail grade, percent. A grade between two printed classes takes the steeper.
    hazard : {"low", "moderate", "high", "extreme", ""}
        Class of the ground; empty: not known, nothing is asked.

    Returns
    -------
    ndarray of float, same shape
        Metres; inf where the hazard is not known.

    Raises
    ------
    InputError
        If a grade is not known.

    Examples
    --------
    >>> (hazard_spacing([8, 15, 60], "high") / 0.3048).round().tolist()
    [150.0, 100.0, 50.0]
    """
    steepness = _steepness(grade_pct)
    if not hazard:
        return np.full(steepness.shape, math.inf)
    row_m = np.array(PRINTED_WATERBREAKS_FT[hazard]) * FOOT_M
    return np.asarray(row_m[np.searchsorted(_CLASS_ENDS_PCT, steepness - GRADE_NOISE_PCT)])


def dip_spacing(grade_pct: ArrayLike) -> Floats:
    """Give the spacing of broad-based dips: 400 / grade + 100, in feet and percent.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Trail grade, percent; grades under 2 % count as 2 %, where the table begins.

    Returns
    -------
    ndarray of float, same shape
        Metres. Whether a dip may be built there at all is `dip_allowed`.

    Notes
    -----
    The formula is from memory, unverified.

    Examples
    --------
    >>> (dip_spacing([4, 10]) / 0.3048).round(6).tolist()
    [200.0, 140.0]
    """
    return np.asarray((400.0 / np.maximum(_steepness(grade_pct), 2.0) + 100.0) * FOOT_M)


def dip_allowed(grade_pct: float, form: DipForm) -> bool:
    """Tell whether a trail is gentle enough for a dip.

    Parameters
    ----------
    grade_pct : float
        Trail grade, percent.
    form : {"broad", "rolling"}
        Broad-based below 10 % (another source says up to 12 %), rolling up to 15 %.

    Examples
    --------
    >>> [dip_allowed(g, "broad") for g in (9, 11, 13)], dip_allowed(15, "rolling")
    ([True, False, False], True)
    """
    if form == "broad":
        return abs(grade_pct) < BROAD_BELOW_PCT - GRADE_NOISE_PCT
    return abs(grade_pct) <= ROLLING_MOST_PCT + GRADE_NOISE_PCT


def dip_form(grade_pct: float, dips: Dips) -> DipForm | Literal[""]:
    """Say which dip takes the place of a bar on a grade, empty where none does.

    Parameters
    ----------
    grade_pct : float
        Trail grade, percent.
    dips : {"", "broad", "rolling"}
        Which are wanted.
    """
    steepness = abs(grade_pct)
    if not dips or steepness < BROAD_FROM_PCT - GRADE_NOISE_PCT:
        return ""
    if steepness <= BROAD_TO_PCT + GRADE_NOISE_PCT:
        return "broad"
    return "rolling" if dips == "rolling" and dip_allowed(steepness, "rolling") else ""


def spacing(grade_pct: ArrayLike, tables: Tables | None = None) -> Floats:
    """Give the widest spacing of drains that all the tables in force allow.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Trail grade, percent.
    tables : Tables, optional
        Hazard and dips; the grade table of bars alone where left out.

    Returns
    -------
    ndarray of float, same shape
        Metres to the next drain. The closer of grade table and hazard table; where
        broad-based dips take the place of bars, their own spacing stands for the
        grade table's. A rolling dip keeps the spacing of bars: none of its own is
        published. Grades steeper than the grade table take its last row, which is not
        a spacing anybody published for them: `beyond_table` says where, and whoever
        lays out drains there must stop the work.

    Raises
    ------
    InputError
        If a grade is not known.
    """
    tables = tables or Tables()
    room = bar_spacing(np.minimum(_steepness(grade_pct), _LAST_PCT))
    if tables.dips:
        steepness = _steepness(grade_pct)
        broad = (steepness >= BROAD_FROM_PCT - GRADE_NOISE_PCT) & (
            steepness <= BROAD_TO_PCT + GRADE_NOISE_PCT
        )
        room = np.where(broad, dip_spacing(grade_pct), room)
    return np.asarray(np.minimum(room, hazard_spacing(grade_pct, tables.hazard)))


def _steepness(grade_pct: ArrayLike) -> Floats:
    steepness = np.abs(np.asarray(grade_pct, dtype=float))
    if np.isnan(steepness).any():
        raise InputError("trail grade has a gap (NaN); does the trail leave the DEM?")
    return np.asarray(steepness)
