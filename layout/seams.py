"""Elevation tiles where they meet or overlap: how far they disagree."""

import numpy as np
from numpy.typing import NDArray

from layout.errors import InputError
from layout.findings import Finding

Floats32 = NDArray[np.float32]

ROUNDING_M = 0.01  # overlaps that differ by no more are the same
OVERLAP_M = 0.05  # ours: a third of the usual error of one elevation
STEP_M = 0.20  # ours: turns a grade over 10 m by two points
OTHER_DATUM_M = 2.0  # ours: more than surveys of one place differ by, so another unit or datum
FEWEST_CELLS = 10  # along a seam, below which a step may be a bank
SORT_OUT = (
    "one may be in another unit or count its heights from elsewhere. Bring them to one before "
    "they are listed"
)


def overlap_findings(differing: tuple[tuple[str, Floats32], ...], where: str) -> list[Finding]:
    """Say how far overlapping tiles differ.

    Parameters
    ----------
    differing : tuple of (str, ndarray)
        Names of two tiles, and their differences where both have a value, metres.
    where : str
        Start of a message.

    Returns
    -------
    list of Finding

    Raises
    ------
    InputError
        If two tiles differ by more than metres throughout.
    """
    found = []
    for names, difference in differing:
        size = np.abs(difference.astype(np.float64))
        largest, middle = float(size.max()), float(np.median(size))
        if middle > OTHER_DATUM_M:
            raise InputError(
                f"{where} {names} differ by {middle:.1f} m where they overlap; {SORT_OUT}"
            )
        if largest <= ROUNDING_M:
            continue
        found.append(
            Finding(
                "dem_overlap",
                "caution" if middle > OVERLAP_M else "ok",
                f"{names} overlap and differ there by up to {largest:.2f} m, half of it by "
                f"{middle:.2f} m or more; the one named first is used.",
                "ground",
                "dem",
                value=largest,
                limit=OVERLAP_M,
                unit="m",
            )
        )
    return found


def seam_findings(
    z: Floats32, origin: NDArray[np.uint8], names: tuple[str, ...], where: str
) -> list[Finding]:
    """Say where the ground steps from one tile to the next.

    A step is what remains of the rise across the seam once the rise beside it is
    taken off, in the middle of all cells along it: ground rises and falls along a
    seam, a fault of heights does not.

    Parameters
    ----------
    z : ndarray of float32, shape (rows, cols)
        Metres, NaN for gaps.
    origin : ndarray of uint8, that shape
        Tile of each cell, counted from 1, 0 for none.
    names : tuple of str
        The tiles.
    where : str
        Start of a message.

    Returns
    -------
    list of Finding

    Raises
    ------
    InputError
        If the step is one of metres.
    """
    steps: dict[tuple[int, int], list[NDArray[np.float64]]] = {}
    for cells, tile in ((z, origin), (z.T, origin.T)):
        row, col = np.nonzero(
            (tile[:, :-1] != tile[:, 1:]) & (tile[:, :-1] > 0) & (tile[:, 1:] > 0)
        )
        inner = (col >= 1) & (col + 2 < tile.shape[1])
        row, col = row[inner], col[inner]
        a, b, c, d = (cells[row, col + k].astype(np.float64) for k in (-1, 0, 1, 2))
        step = (c - b) - 0.5 * ((b - a) + (d - c))
        whole = (tile[row, col - 1] == tile[row, col]) & (tile[row, col + 1] == tile[row, col + 2])
        first, second = tile[row, col].astype(int), tile[row, col + 1].astype(int)
        step = np.where(first < second, step, -step)
        low, high = np.minimum(first, second), np.maximum(first, second)
        whole &= np.isfinite(step)
        for pair in sorted(set(zip(low[whole].tolist(), high[whole].tolist(), strict=True))):
            here = whole & (low == pair[0]) & (high == pair[1])
            steps.setdefault(pair, []).append(step[here])
    found = []
    for (one, other), parts in sorted(steps.items()):
        along = np.concatenate(parts)
        middle = abs(float(np.median(along)))
        if along.size < FEWEST_CELLS or middle <= STEP_M:
            continue
        pair_names = f"{names[one - 1]} and {names[other - 1]}"
        if middle > OTHER_DATUM_M:
            raise InputError(
                f"{where} between {pair_names} is a step of {middle:.1f} m; {SORT_OUT}"
            )
        found.append(
            Finding(
                "dem_seam",
                "caution",
                f"The ground steps by {middle:.2f} m from {names[one - 1]} to {names[other - 1]}, "
                "all along the seam; grades across it are wrong by that.",
                "ground",
                "dem",
                value=middle,
                limit=STEP_M,
                unit="m",
            )
        )
    return found
