"""Which trees of an opening would close it most if they stayed.

One tree after another is put back: the crown whose staying leaves the narrowest
opening, then the one that does so beside it. Only a few trees, those with the most
crown in the opening, are tried, and what is left is measured as the opening was.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry.base import BaseGeometry

from layout.canopy import Gap
from layout.crown_grid import NECK_M, Grid, grid_over, parted

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

MOST_TRIED = 8  # trees put back in turn; each is a measuring of the opening
MOST_KEPT = 3
LEAST_GAIN = 0.05  # of the diameter: a crown that narrows it by less is not named; ours


@dataclass(frozen=True, slots=True, eq=False)
class Crowns:
    """Crowns over a stand; arrays have shape (n,).

    Parameters
    ----------
    x, y, width_m : ndarray of float
        Where the trees stand and how wide their crowns are, metres; NaN where not known.
    gone : ndarray of bool
        Who is taken.
    may_stay : ndarray of bool
        Which of those could be left standing: not on cleared ground, not cut already.
    """

    x: Floats
    y: Floats
    width_m: Floats
    gone: Mask
    may_stay: Mask


@dataclass(frozen=True, slots=True)
class Keeping:
    """Trees whose staying narrows an opening most.

    Parameters
    ----------
    rows : tuple of int
        Rows of the list, the one that does most first; empty where none helps.
    diameter_m : float
        Diameter of the widest opening then left there, as `layout.canopy.Gap` has it.
    """

    rows: tuple[int, ...]
    diameter_m: float


def keeping(
    gap: Gap,
    crowns: Crowns,
    stand: BaseGeometry,
    cleared: Sequence[BaseGeometry],
    limit_m: float,
) -> Keeping:
    """Find the trees to leave in an opening, till it is narrow enough or three are named.

    Parameters
    ----------
    gap : Gap
        Of `layout.canopy.canopy`, from the same stand, crowns and cleared ground.
    crowns : Crowns
        Of the list.
    stand : geometry
        The stand, metres.
    cleared : sequence of geometry
        Trails and landing as polygons.
    limit_m : float
        Narrow enough, metres.

    Returns
    -------
    Keeping
        The order of the list makes no difference.
    """
    whole = grid_over(stand)
    west, south, east, north = gap.outline.bounds
    beside = 2.0 * NECK_M + 4.0 * whole.cell_m  # past where open ground bears on this opening
    grid = whole.window((west - beside, south - beside, east + beside, north + beside))
    ground = shapely.union_all(list(cleared))
    opened = _opened(grid, crowns, stand, ground)
    label = parted(opened, grid.cell_m)
    inside = label[grid.covered(gap.outline) & (label > 0)]
    if not inside.size:
        return Keeping((), gap.diameter_m)
    part = label == np.bincount(inside).argmax()

    tried = _candidates(grid, crowns, part)
    kept: list[int] = []
    width = gap.diameter_m
    while tried and len(kept) < MOST_KEPT and width > limit_m:
        left = [_across_m(opened & ~disc, part, grid.cell_m) for _, disc in tried]
        best = int(np.argmin(left))  # the first of equals: with the most crown in the opening
        if left[best] > width * (1.0 - LEAST_GAIN):
            break
        row, disc = tried.pop(best)
        kept.append(row)
        opened, width = opened & ~disc, left[best]
    return Keeping(tuple(kept), width)


def _opened(grid: Grid, crowns: Crowns, stand: BaseGeometry, ground: BaseGeometry) -> Mask:
    """Tell which cells stand open, as `layout.canopy` does."""
    known = np.isfinite(crowns.width_m) & (crowns.width_m > 0)
    near = known & _near(grid, crowns)
    kept, lost = near & ~crowns.gone, near & crowns.gone
    x, y, width = crowns.x, crowns.y, crowns.width_m
    under = grid.discs(x[kept], y[kept], width[kept])
    opened = grid.discs(x[lost], y[lost], width[lost]) | grid.covered(ground)
    return opened & ~under & grid.covered(stand)


def _near(grid: Grid, crowns: Crowns) -> Mask:
    """Tell whose crowns may reach the grid."""
    half = np.nan_to_num(crowns.width_m) / 2.0
    east = grid.west_m + grid.cols * grid.cell_m
    south = grid.north_m - grid.rows * grid.cell_m
    return np.asarray(
        (crowns.x + half >= grid.west_m)
        & (crowns.x - half <= east)
        & (crowns.y + half >= south)
        & (crowns.y - half <= grid.north_m)
    )


def _candidates(grid: Grid, crowns: Crowns, part: Mask) -> list[tuple[int, Mask]]:
    """Give the trees with the most crown in an opening, and the cells under each."""
    found = []
    for row in np.flatnonzero(crowns.gone & crowns.may_stay & _near(grid, crowns)).tolist():
        at = slice(row, row + 1)
        disc = grid.discs(crowns.x[at], crowns.y[at], crowns.width_m[at])
        cells = int((disc & part).sum())
        if cells:
            place = (float(crowns.x[row]), float(crowns.y[row]))
            found.append((-cells, place, row, disc))
    found.sort(key=lambda one: one[:3])
    return [(row, disc) for _, _, row, disc in found[:MOST_TRIED]]


def _across_m(opened: Mask, part: Mask, cell_m: float) -> float:
    """Measure the widest opening left within a part: the diameter of a circle of its area."""
    label = np.where(part, parted(opened, cell_m), 0)
    most = 0
    for number in np.unique(label[label > 0]).tolist():
        pieces, count = ndimage.label(label == number)
        if count:
            most = max(most, int(np.bincount(pieces.ravel())[1:].max()))
    return float(np.sqrt(4.0 * most * cell_m**2 / np.pi))
