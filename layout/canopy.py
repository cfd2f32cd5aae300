"""How much sky the crowns leave open, before and after, and the gaps that open.

Crowns are discs laid on a fine grid over the stand: where discs overlap the ground
is covered once. A gap is ground that loses its last crown to the marked trees, and
ground cleared for trails and landing that no kept crown reaches over. Passages
narrower than a small crown do not tie gaps together: a trail is no gap, though
what stands open beside it is.

Trees outside the stand are not known, so cover at its edge is a little too low.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from rasterio import features
from shapely.geometry import MultiPolygon, Polygon, shape
from shapely.geometry.base import BaseGeometry

from layout.crown_grid import Grid, grid_over, parted
from layout.errors import InputError

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SURE = 0.01  # a share of cover that what is not known moves by no more than this is told; ours
MARKED_ONLY = (
    "the list holds the marked trees only; the crowns that stay are not known, so neither are "
    "cover and gaps"
)
NO_CROWNS = "no tree of the list has a DBH to take a crown from"
NO_CROWN_GOES = "trees that go have no DBH, so how much was under crowns before is not known"


@dataclass(frozen=True, slots=True)
class Gap:
    """Ground that stands open after the work.

    Parameters
    ----------
    outline : Polygon
        Traced on the grid, corners eased.
    area_m2, diameter_m : float
        Area, and diameter of the circle of that area.
    edge_height_m : float or None
        Mean height of the trees left around it.
    height_ratio : float or None
        Diameter over that height.
    sky_share : float or None
        Share of the sky seen from its middle, see `sky_seen`.
    """

    outline: Polygon
    area_m2: float
    diameter_m: float
    edge_height_m: float | None
    height_ratio: float | None
    sky_share: float | None


@dataclass(frozen=True, slots=True)
class Canopy:
    """Cover and gaps of a stand.

    Parameters
    ----------
    cover_before, cover_after : float or None
        Share of the stand under a crown, 0 to 1; None where `reason` says why not.
    gaps : tuple of Gap, or None
        What opens, the largest first.
    without_crown : int
        Listed trees left out because they have no DBH; cover is then too low.
    guessed : int
        Those of them that go and count as the widest crown in what opens.
    cell_m : float or None
        Side of the grid's cells.
    reason : str
        Why nothing is told; empty where it is.
    """

    cover_before: float | None
    cover_after: float | None
    gaps: tuple[Gap, ...] | None
    without_crown: int
    cell_m: float | None
    reason: str
    guessed: int = 0

    @property
    def open_sky_before(self) -> float | None:
        """Share of the stand with open sky straight above: an estimate of light, no more."""
        return None if self.cover_before is None else 1.0 - self.cover_before

    @property
    def open_sky_after(self) -> float | None:
        """Share of the stand with open sky straight above: an estimate of light, no more."""
        return None if self.cover_after is None else 1.0 - self.cover_after

    @property
    def largest_gap(self) -> Gap | None:
        """The largest gap that opens, or None."""
        return self.gaps[0] if self.gaps else None


def sky_seen(diameter_m: ArrayLike, height_m: ArrayLike) -> Floats:
    """Give the share of an evenly bright sky that reaches the middle of a round gap.

    ``r^2 / (r^2 + H^2)`` on level ground within walls that let nothing through: the
    view factor of a disc overhead. Derived, an estimate; leaves do let light through.

    Parameters
    ----------
    diameter_m, height_m : array_like of float
        Of the gap, and of the trees round it, metres.

    Returns
    -------
    ndarray of float
        0 to 1.

    Examples
    --------
    >>> sky_seen(40.0, 20.0).item()
    0.5
    """
    radius = np.asarray(diameter_m, dtype=float) / 2.0
    return np.asarray(radius**2 / (radius**2 + np.asarray(height_m, dtype=float) ** 2))


def canopy(
    stand: Polygon | MultiPolygon,
    x: ArrayLike,
    y: ArrayLike,
    width_m: ArrayLike,
    cut: ArrayLike,
    *,
    full_list: bool,
    height_m: ArrayLike = np.nan,
    cleared: Sequence[BaseGeometry] = (),
    widest_m: ArrayLike = np.nan,
) -> Canopy:
    """Work out cover before and after, and the gaps that open.

    Parameters
    ----------
    stand : Polygon or MultiPolygon
        In the area's grid, metres.
    x, y : array_like of float, shape (n,)
        Where the trees stand, metres.
    width_m : array_like of float, shape (n,)
        Crown widths of `layout.crowns.crown_width_m`; NaN where not known.
    cut : array_like of bool, shape (n,)
        Who is taken. Trees on cleared ground are taken too, marked or not.
    full_list : bool
        Whether the list holds every stem, or the marked ones only.
    height_m : array_like of float, shape (n,) or scalar, optional
        Total heights, metres; NaN where not known.
    cleared : sequence of geometry, optional
        Trails and landing as polygons.
    widest_m : array_like of float, shape (n,) or scalar, optional
        As wide as a crown that is not known may be. Of trees that go it counts in what
        opens; cover before is then told only where it hardly matters.

    Returns
    -------
    Canopy
        The order of the trees makes no difference.

    Raises
    ------
    InputError
        If the stand has no area.
    """
    if not stand.area > 0:
        raise InputError("the stand has no area, so no share of it can be under crowns")
    px, py, width = (np.asarray(v, dtype=float) for v in (x, y, width_m))
    known = np.isfinite(width) & (width > 0) & np.isfinite(px) & np.isfinite(py)
    missing = int((~known).sum())
    if not full_list:
        return Canopy(None, None, None, missing, None, MARKED_ONLY)
    if not known.any():
        return Canopy(None, None, None, missing, None, NO_CROWNS)
    grid = grid_over(stand)
    open_ground = shapely.union_all([g for g in cleared if not g.is_empty])
    gone = np.asarray(cut, dtype=bool) | shapely.contains_xy(open_ground, px, py)
    widest = np.broadcast_to(np.asarray(widest_m, dtype=float), px.shape)
    guess = gone & ~known & np.isfinite(widest) & np.isfinite(px) & np.isfinite(py)
    leave, gone = known & ~gone, known & gone
    inside = grid.covered(stand)
    cells = int(inside.sum())
    if not cells:
        raise InputError(f"a stand of {stand.area:.2g} square metres is too small for crowns")
    kept, lost = (
        grid.discs(px[leave], py[leave], width[leave]),
        grid.discs(px[gone], py[gone], width[gone]),
    )
    may_be = grid.discs(px[guess], py[guess], widest[guess]) & ~(kept | lost) & inside
    opened = (lost | may_be | grid.covered(open_ground)) & ~kept & inside
    blind = float(may_be.sum() / cells) > SURE
    heights = np.broadcast_to(np.asarray(height_m, dtype=float), px.shape)
    edge = (px[leave], py[leave], width[leave], heights[leave])
    return Canopy(
        cover_before=None if blind else float(((kept | lost) & inside).sum() / cells),
        cover_after=float((kept & inside).sum() / cells),
        gaps=_gaps(opened, grid, edge),
        without_crown=missing,
        cell_m=grid.cell_m,
        reason=f"{int(guess.sum())} {NO_CROWN_GOES}" if blind else "",
        guessed=int(guess.sum()),
    )


def _gaps(opened: Mask, grid: Grid, edge: tuple[Floats, Floats, Floats, Floats]) -> tuple[Gap, ...]:
    """Part the open ground at its necks and measure each part, the largest first."""
    label = parted(opened, grid.cell_m)
    traced = features.shapes(label, mask=label > 0, connectivity=4, transform=grid.transform)
    # Of a part that a crown cuts in two only the larger counts; the rest is a sliver.
    parts: dict[int, Polygon] = {}
    for ring, number in traced:
        part = cast(Polygon, shape(ring))
        if number not in parts or part.area > parts[number].area:
            parts[number] = part
    found = [_measured(parts[number], grid.cell_m, edge) for number in sorted(parts)]
    return tuple(sorted(found, key=lambda gap: -gap.area_m2))


def _measured(part: Polygon, cell_m: float, edge: tuple[Floats, Floats, Floats, Floats]) -> Gap:
    """Measure one gap."""
    eased = part.simplify(cell_m)
    across = float(np.sqrt(4.0 * part.area / np.pi))
    height = _edge_height_m(part, cell_m, edge)
    return Gap(
        outline=eased if isinstance(eased, Polygon) and not eased.is_empty else part,
        area_m2=float(part.area),
        diameter_m=across,
        edge_height_m=height,
        height_ratio=across / height if height else None,
        sky_share=float(sky_seen(across, height)) if height else None,
    )


def _edge_height_m(
    gap: BaseGeometry, cell_m: float, edge: tuple[Floats, Floats, Floats, Floats]
) -> float | None:
    """Give the mean height of the kept trees whose crowns reach the gap."""
    x, y, width, height = edge
    west, south, east, north = gap.bounds
    most = float(width.max(initial=0.0)) / 2.0 + cell_m
    near = np.isfinite(height) & (x >= west - most) & (x <= east + most)
    near &= (y >= south - most) & (y <= north + most)
    if near.any():
        away = shapely.distance(shapely.points(x[near], y[near]), gap)
        around = height[near][away <= width[near] / 2.0 + cell_m]
        if around.size:
            return float(around.mean())
    known = height[np.isfinite(height)]
    return float(known.mean()) if known.size else None
