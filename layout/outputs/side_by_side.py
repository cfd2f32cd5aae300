"""Names that belong to places along a line, moved apart until none overlaps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import isotonic_regression

if TYPE_CHECKING:
    from collections.abc import Sequence

SAME = 1e-9


def side_by_side(
    places: Sequence[float],
    wide: Sequence[float],
    within: tuple[float, float] | None = None,
) -> tuple[list[float], list[int]]:
    """Move what stands in a row apart until nothing overlaps, as little as can be.

    Parameters
    ----------
    places : sequence of float
        Where the middle of each would stand, in the order they are to keep.
    wide : sequence of float
        Width of each, in the same units.
    within : tuple of float, optional
        Where the row begins and ends; what is wider than that altogether runs over its end.

    Returns
    -------
    list of float
        Where each stands: the sum of the squares of all moves is the least there is.
    list of int
        Number of the group that is moved together with it.
    """
    if not places:
        return [], []
    # without their widths those that touch stand at one place: the order is all there is to keep
    halves = np.asarray(wide) / 2
    off = np.concatenate([[0.0], np.cumsum(halves[:-1] + halves[1:])])
    kept = isotonic_regression(np.asarray(places) - off).x
    if within is not None:
        first, last = within[0] + halves[0], within[1] - halves[-1] - off[-1]
        kept = np.clip(kept, first, max(first, last))  # cut off, the least stays the least
    groups = np.concatenate([[0], np.cumsum(np.diff(kept) > SAME)])
    return (kept + off).tolist(), groups.tolist()
