"""What no stem can measure: told of a whole list at once, each with its row.

Volume, taper, stocking and crowns all start from a diameter and a height. A
zero, a height in the wrong unit or a log count that does not fit the tree gives
a figure that looks like any other, so it is refused before anything is worked
out. A blank (NaN) is no fault: it is unknown, and stays so.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputFaults
from layout.units import FOOT_M, INCH_M

Floats = NDArray[np.float64]

BREAST_HEIGHT_M = 4.5 * FOOT_M
LARGEST_DBH_CM = 305.0  # 120 in, as the tree list takes it
TALLEST_M = 122.0  # 400 ft
LOG_FT = 16.0  # a counted log, without trim
STUMP_FT = 1.0
MOST_LOGS = 12
MOST_FAULTS = 20


def _text(value: float) -> str:
    """Write a measure as people do: two decimals at most."""
    return f"{round(value, 2):g}"


def check_stems(
    dbh_cm: ArrayLike,
    height_m: ArrayLike = np.nan,
    logs: ArrayLike = np.nan,
    *,
    rows: Sequence[str] = (),
) -> tuple[Floats, Floats, Floats]:
    """Refuse sizes that no stem has.

    Parameters
    ----------
    dbh_cm : array_like of float, shape (n,)
        Diameter at breast height, centimetres; NaN where not known.
    height_m : array_like of float, shape (n,) or scalar
        Total height, metres; NaN where not measured.
    logs : array_like of float, shape (n,) or scalar
        Counted 16-ft logs; NaN where not counted.
    rows : sequence of str, length n
        How messages call each stem, like ``trees.csv line 7``; left out: ``stem 7``.

    Returns
    -------
    dbh_cm, height_m, logs : ndarray of float, shape (n,)
        The same, broadcast.

    Raises
    ------
    InputFaults
        Every diameter not above 0 and up to 305 cm, height not above breast height (4.5 ft) and
        up to 122 m, and log count that is negative, over 12 or too long for its tree; at most
        twenty lines of it.
    """
    dbh = np.atleast_1d(np.asarray(dbh_cm, dtype=float))
    height = np.broadcast_to(np.asarray(height_m, dtype=float), dbh.shape)
    count = np.broadcast_to(np.asarray(logs, dtype=float), dbh.shape)
    needs_m = (STUMP_FT + LOG_FT * count) * FOOT_M
    bad_dbh = (dbh <= 0) | (dbh > LARGEST_DBH_CM)
    bad_height = (height <= BREAST_HEIGHT_M) | (height > TALLEST_M)
    bad_count = (count < 0) | (count > MOST_LOGS)
    too_long = ~bad_height & ~bad_count & (count > 0) & (needs_m > height * (1 + 1e-9))
    faults = []
    for at in np.flatnonzero(bad_dbh | bad_height | bad_count | too_long).tolist():
        where = rows[at] if len(rows) else f"stem {at + 1}"
        if bad_dbh[at]:
            faults.append(
                f"{where}: a DBH of {_text(dbh[at])} cm ({_text(dbh[at] / 100 / INCH_M)} in) is "
                f"not above 0 and up to {LARGEST_DBH_CM:g} cm; measure again or leave it blank"
            )
        if bad_height[at]:
            faults.append(
                f"{where}: a height of {_text(height[at])} m ({_text(height[at] / FOOT_M)} ft) is "
                f"not above breast height (4.5 ft) and up to {TALLEST_M:g} m; is it in the other "
                "unit?"
            )
        if bad_count[at]:
            faults.append(
                f"{where}: {_text(count[at])} logs is not 0 to {MOST_LOGS}; give the count of "
                "16-ft logs"
            )
        if too_long[at]:
            faults.append(
                f"{where}: {_text(count[at])} logs of 16 ft over a stump need "
                f"{_text(needs_m[at] / FOOT_M)} ft, the tree is {_text(height[at] / FOOT_M)} ft "
                "high; correct the logs or the height"
            )
    if len(faults) > MOST_FAULTS:
        faults = [*faults[:MOST_FAULTS], f"and {len(faults) - MOST_FAULTS} more faults"]
    if faults:
        raise InputFaults(faults)
    return dbh, height, count
