"""Board feet of a standing tree from DBH and counted logs alone: the quick way.

Mesavage & Girard's tables of 1946 give board feet by DBH and number of 16-ft
logs for one form class: the diameter inside bark at the top of the first log, in
percent of DBH. The cells here are from memory; the column of one log was held
against the log rules, the others against Wiant's regression. Where a height is
known or can be estimated, `layout.bucking` is better: it cuts the user's own log
lengths from the tree's own taper.
"""

import csv
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.log_rules import BOARD_RULES, BoardRule
from layout.sources import FORM_CLASS_REGRESSION, FORM_CLASS_TABLES
from layout.stem_sizes import check_stems

Floats = NDArray[np.float64]
How = Literal["table", "regression", "no logs", "outside", "unknown"]

SOURCES = (FORM_CLASS_TABLES, FORM_CLASS_REGRESSION)

TABLE_FILE = Path(__file__).parent / "tables" / "form_class_78.csv"
INCH_CM = 2.54
LOG_COUNTS = np.arange(1.0, 4.5, 0.5)
TABLE_FORM_CLASS = 78.0
SHARE_A_CLASS = 0.03  # one form class is worth 3 % of the volume
# Below 12 in the regression is up to a quarter too high (Doyle); the tables it was
# fitted to end at 40 in and 6 logs.
REGRESSION_IN = (12.0, 40.0)
REGRESSION_LOGS = (1.0, 6.0)
NOISE = 1e-9

# Rows: a0 a1 a2, b0 b1 b2, c0 c1 c2. Scribner's b0 is printed 3.02988 as well, but
# only 3.02888 gives the printed examples.
_WIANT: dict[BoardRule, tuple[tuple[float, float, float], ...]] = {
    "international-quarter": (
        (-13.35212, 9.58615, 1.52968),
        (1.79620, -2.59995, -0.27465),
        (0.04482, 0.45997, -0.00961),
    ),
    "scribner": (
        (-22.50365, 17.53508, -0.59242),
        (3.02888, -4.34381, -0.02302),
        (-0.01969, 0.51593, -0.02035),
    ),
    "doyle": (
        (-29.37337, 41.51275, 0.55743),
        (2.78043, -8.77272, -0.04516),
        (0.04177, 0.59042, -0.01578),
    ),
}


@cache
def _table(rule: BoardRule) -> tuple[Floats, Floats]:
    """Read one rule's table: DBH of its rows, and cells, NaN where blank."""
    with TABLE_FILE.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["rule"] == rule]
    columns = [f"logs_{count:g}".replace(".", "_") for count in LOG_COUNTS]
    dbh = np.array([float(row["dbh_in"]) for row in rows])
    cells = [[float(row[c]) if row[c] else np.nan for c in columns] for row in rows]
    return dbh, np.array(cells)


def regression_bf(rule: BoardRule, dbh_in: ArrayLike, logs: ArrayLike) -> Floats:
    """Give Wiant's regression of the tables for form class 78, as printed.

    ``V = (a0 + a1 L + a2 L^2) + (b0 + b1 L + b2 L^2) D + (c0 + c1 L + c2 L^2) D^2``
    (Wiant 1986). Good to about 4 % of the tables from 12 in up; not below.

    Parameters
    ----------
    rule : {"international-quarter", "scribner", "doyle"}
        Whose board feet.
    dbh_in, logs : array_like of float
        DBH in inches and number of 16-ft logs.

    Returns
    -------
    ndarray of float
        Board feet; whatever the formula gives outside its range.

    Raises
    ------
    InputError
        If the rule is not one of the three.

    Examples
    --------
    >>> regression_bf("international-quarter", 24, 2.5).round(3).item()
    519.665
    """
    if rule not in _WIANT:
        raise InputError(f"log rule {rule!r} must be one of {', '.join(BOARD_RULES)}")
    d, count = np.asarray(dbh_in, dtype=float), np.asarray(logs, dtype=float)
    powers = [k0 + k1 * count + k2 * count**2 for k0, k1, k2 in _WIANT[rule]]
    return np.asarray(powers[0] + powers[1] * d + powers[2] * d**2)


def tree_bf(
    rule: BoardRule, dbh_cm: ArrayLike, logs: ArrayLike, form_class: float = TABLE_FORM_CLASS
) -> tuple[Floats, tuple[How, ...]]:
    """Give gross board feet of trees of which only DBH and logs are known.

    Between the table's cells it is interpolated; where the table has none, the
    regression steps in from 12 to 40 in and 1 to 6 logs. Another form class moves the
    volume by 3 % a class.

    Parameters
    ----------
    rule : {"international-quarter", "scribner", "doyle"}
        Whose board feet.
    dbh_cm, logs : array_like of float, shape (n,)
        DBH, centimetres, and number of 16-ft logs, halves allowed.
    form_class : float, optional
        Girard form class (``timber.form_class``).

    Returns
    -------
    board_feet : ndarray of float, shape (n,)
        Gross, by that rule; NaN where neither table nor regression reaches.
    how : tuple of str, length n
        ``table``, ``regression``, ``no logs``, ``outside`` or ``unknown``.

    Raises
    ------
    InputError
        If the rule is not one of the three, or the form class not 60 to 95.
    InputFaults
        As in `check_stems`.

    Examples
    --------
    >>> tree_bf("doyle", [16 * 2.54, 17 * 2.54], [2, 2])
    (array([116., 140.]), ('table', 'table'))
    """
    if rule not in _WIANT:
        raise InputError(f"log rule {rule!r} must be one of {', '.join(BOARD_RULES)}")
    if not 60 <= form_class <= 95:
        raise InputError(f"a form class of {form_class:g} is not 60 to 95; 78 is usual")
    dbh, _, count = check_stems(dbh_cm, logs=logs)
    d = dbh / INCH_CM
    table = _interpolated(rule, d, count)
    low, high = REGRESSION_IN
    few, many = REGRESSION_LOGS
    fits = (d >= low - NOISE) & (d <= high + NOISE) & (count >= few) & (count <= many)
    how = np.full(d.shape, "outside", dtype=object)
    how[fits] = "regression"
    how[np.isfinite(table)] = "table"
    how[count == 0] = "no logs"
    how[np.isnan(d) | np.isnan(count)] = "unknown"
    volume = np.where(fits, regression_bf(rule, d, count), np.nan)
    volume = np.where(np.isfinite(table), table, volume)
    volume = np.where(how == "no logs", 0.0, volume)
    scale = 1.0 + SHARE_A_CLASS * (form_class - TABLE_FORM_CLASS)
    return np.asarray(volume * scale), tuple(how)


def _interpolated(rule: BoardRule, dbh_in: Floats, logs: Floats) -> Floats:
    """Interpolate between four cells; NaN where one that counts is blank or missing."""
    rows, cells = _table(rule)
    r = np.interp(dbh_in, rows, np.arange(rows.size), left=np.nan, right=np.nan)
    c = np.interp(logs, LOG_COUNTS, np.arange(LOG_COUNTS.size), left=np.nan, right=np.nan)
    inside = np.isfinite(r) & np.isfinite(c)
    # 12 in turned into centimetres and back is still the 12 in row
    r, c = np.where(inside, r, 0.0), np.where(inside, c, 0.0)
    r = np.where(np.abs(r - np.rint(r)) < 1e-6, np.rint(r), r)
    r0, c0 = np.floor(r).astype(int), np.floor(c).astype(int)
    r1, c1 = np.ceil(r).astype(int), np.ceil(c).astype(int)
    down, right = r - r0, c - c0
    near = cells[r0, c0] * (1 - right) + cells[r0, c1] * right
    far = cells[r1, c0] * (1 - right) + cells[r1, c1] * right
    return np.asarray(np.where(inside, near * (1 - down) + far * down, np.nan))
