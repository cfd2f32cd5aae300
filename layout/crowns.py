"""How wide crowns are: from DBH, as grown in a stand, never past open-grown.

Widths are regressions on DBH alone (Bechtold 2003); single crowns are easily a
third wider or narrower. Where a curve bends down again it is held at its top, below
the 5 in at which its data begin it runs straight to nothing (both ours), and no crown
is wider than that of a tree grown in the open (Krajicek 1961, upland oaks and
hickories).
"""

import csv
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.sources import CROWN_WIDTHS, OPEN_GROWN_CROWNS
from layout.species import find, species_table
from layout.stem_sizes import check_stems
from layout.units import FOOT_M

Floats = NDArray[np.float64]

SOURCES = (CROWN_WIDTHS, OPEN_GROWN_CROWNS)

TABLE_FILE = Path(__file__).parent / "tables" / "crowns.csv"
INCH_CM = 2.54
FIRST_IN = 5.0  # the smallest trees of the inventory the widths come from
OPEN_GROWN = (3.12, 1.829)  # feet, and feet per inch of DBH


@cache
def _coefficients() -> dict[str, tuple[float, float, float]]:
    """Read the widths by inventory number, by each name, by group and by kind.

    A group answers with the mean of its listed members, a kind with the mean of all
    its own; a mean of curves is the curve of the mean coefficients.
    """
    with TABLE_FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    kind_of = {s.group: s.kind for s in species_table()}
    found: dict[str, tuple[float, float, float]] = {}
    members: dict[str, list[tuple[float, float, float]]] = {}
    for row in rows:
        curve = (float(row["b0_ft"]), float(row["b1_ft_per_in"]), float(row["b2_ft_per_in2"]))
        for name in (row["fia_code"], row["common_name"], *filter(None, row["also"].split("; "))):
            found[_plain(name)] = curve
        members.setdefault(row["group"], []).append(curve)
        members.setdefault(kind_of[row["group"]], []).append(curve)
    for name, curves in members.items():
        b0, b1, b2 = np.mean(curves, axis=0).tolist()
        found[f"any {name}"] = (b0, b1, b2)
    return found


def _plain(name: str) -> str:
    """Write a name or a number one way, however a list or a spreadsheet has it."""
    words = " ".join(name.lower().replace("-", " ").split())
    number = words.removesuffix(".0")
    return str(int(number)) if number.isdigit() else words


@cache
def _curve(name: str) -> tuple[float, float, float]:
    """Find the curve that answers for a name: the tree's own, its group's, its kind's."""
    table = _coefficients()
    met = find(name)
    row = species_table()[met.row]
    keys = (
        row.fia_code if met.how == "species" else _plain(name),
        _plain(met.name),
        f"any {row.group}",
        f"any {row.kind}",
    )
    return next(table[key] for key in keys if key in table)


def open_grown_m(dbh_cm: ArrayLike) -> Floats:
    """Give the crown width of trees grown in the open.

    ``3.12 + 1.829 D``, feet and inches, upland oaks and hickories (Krajicek and others
    1961); for other species a stand-in.

    Parameters
    ----------
    dbh_cm : array_like of float
        Diameter at breast height, centimetres.

    Returns
    -------
    ndarray of float
        Metres; NaN where the diameter is.

    Examples
    --------
    >>> (open_grown_m(18 * 2.54) / 0.3048).round(2).item()
    36.04
    """
    base, slope = OPEN_GROWN
    return np.asarray((base + slope * np.asarray(dbh_cm, dtype=float) / INCH_CM) * FOOT_M)


def crown_width_m(species: Sequence[str], dbh_cm: ArrayLike, *, rows: Sequence[str] = ()) -> Floats:
    """Give crown widths of trees grown in a stand.

    ``b0 + b1 D + b2 D^2``, feet and inches (Bechtold 2003, form with DBH only), held as
    the room's head says.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes; one without widths of its own takes its group's mean.
    dbh_cm : array_like of float, shape (n,)
        Diameter at breast height, centimetres; NaN where not known.
    rows : sequence of str, length n
        How messages call each stem.

    Returns
    -------
    ndarray of float, shape (n,)
        Metres; NaN where the diameter is.

    Raises
    ------
    InputFaults
        As in `check_stems`.

    Examples
    --------
    >>> (crown_width_m(["red oak"], [18 * 2.54]) / 0.3048).round(2).tolist()
    [31.41]
    """
    dbh, _, _ = check_stems(dbh_cm, rows=rows)
    if not dbh.size:
        return np.zeros(0)
    b0, b1, b2 = np.array([_curve(name) for name in species]).T
    inches = dbh / INCH_CM
    with np.errstate(divide="ignore"):
        top = np.where(b2 < 0, -b1 / (2.0 * b2), np.inf)
    held = np.minimum(np.maximum(inches, FIRST_IN), top)
    feet = b0 + b1 * held + b2 * held**2
    feet = feet * np.minimum(inches / FIRST_IN, 1.0)
    return np.asarray(np.minimum(feet * FOOT_M, open_grown_m(dbh)))
