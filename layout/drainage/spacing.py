"""How far apart water bars may stand, and how much of that a trail has used up.

The table stays in the feet and percent it was printed in, so it can be read
against the page. Everything else is metres and percent grade.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import BeyondTableError, InputError
from layout.sources import WATER_BARS
from layout.terrain import Stations
from layout.units import FOOT_M

Floats = NDArray[np.float64]

# Trail grade, percent -> distance to the next bar, feet. Source: WATER_BARS.
PRINTED_SPACING_FT = {2: 250, 5: 135, 10: 80, 15: 60, 20: 45, 25: 40, 30: 35, 40: 30}
GRADE_NOISE_PCT = 1e-6  # a 10 % grade computed as 10.000000001 is still the 10 % row
CREST_DROP_M = 0.5  # ours: smaller rises and falls along a trail may be noise in the elevations

_ROW_PCT = np.array(list(PRINTED_SPACING_FT), dtype=float)
_ROW_M = np.array(list(PRINTED_SPACING_FT.values())) * FOOT_M


def spacing(grade_pct: ArrayLike) -> Floats:
    """Give the widest spacing of water bars the table allows on a trail grade.

    Between two rows the steeper one counts, so the answer is never wider than
    printed. Grades gentler than the first row take the first row.

    Parameters
    ----------
    grade_pct : array_like of float, any shape
        Trail grade, percent. Uphill and downhill count alike.

    Returns
    -------
    ndarray of float, same shape
        Distance along the trail to the next bar, metres.

    Raises
    ------
    InputError
        If a grade is not known.
    BeyondTableError
        If a grade is steeper than the last row. We do not extrapolate.

    Examples
    --------
    >>> spacing([10, 12]).round(2).tolist()
    [24.38, 18.29]
    """
    steepness = np.abs(np.asarray(grade_pct, dtype=float))
    if np.isnan(steepness).any():
        raise InputError("trail grade has a gap (NaN); does the trail leave the DEM?")
    row = np.searchsorted(_ROW_PCT, steepness - GRADE_NOISE_PCT)
    if (row == _ROW_PCT.size).any():
        msg = (
            f"trail grade {steepness.max():.1f} % is steeper than the {_ROW_PCT[-1]:.0f} % "
            f"at which the table ends ({WATER_BARS}); re-route the trail"
        )
        raise BeyondTableError(msg)
    return np.asarray(_ROW_M[row])


def spacings_used(stations: Stations) -> Floats:
    """Count how many bar spacings of the table a trail has used up at each station.

    Parameters
    ----------
    stations : Stations
        What the trail meets; n stations, n >= 2.

    Returns
    -------
    ndarray of float, shape (n,)
        Running total from the trail's start. Between two stations the steeper
        grade of the two counts.

    Raises
    ------
    InputError
        If there are fewer than two stations, they do not run on, or a grade is not known.
    BeyondTableError
        If a grade is steeper than the table.
    """
    run = np.diff(stations.at_m)
    if run.size == 0 or (run <= 0).any():
        raise InputError("a trail needs two stations or more, each farther on than the last")
    room = spacing(stations.grade_pct)
    used = np.cumsum(run / np.minimum(room[:-1], room[1:]))
    return np.concatenate([[0.0], used])


def turns_of_slope(z: Floats, drop_m: float = CREST_DROP_M) -> list[int]:
    """Find where a trail tops out and bottoms out, leaving out noise.

    Parameters
    ----------
    z : ndarray of float, shape (n,)
        Elevations along the trail, metres.
    drop_m : float, optional
        A crest counts only where the trail falls at least this far from it on
        both sides before it rises above it again, metres; a low point likewise.

    Returns
    -------
    list of int
        Rising indices into ``z``: the first, every crest and low point in turn, the last.
    """
    turns = [0]
    high = low = 0
    rising: bool | None = None
    for i in range(1, z.size):
        if z[i] > z[high]:
            high = i
        if z[i] < z[low]:
            low = i
        if rising is not False and z[high] - z[i] >= drop_m:
            if rising and high > turns[-1]:
                turns.append(high)
            rising, low = False, i
            high = i
        elif rising is not True and z[i] - z[low] >= drop_m:
            if rising is False and low > turns[-1]:
                turns.append(low)
            rising, high = True, i
            low = i
    if turns[-1] != z.size - 1:
        turns.append(z.size - 1)
    return turns
