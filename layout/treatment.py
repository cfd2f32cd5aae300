"""What the marking and the layout do to the stand: what goes, and what is left.

Trees that go are the marked ones and those in the way of trails, turning places and
landing, marked or not. By hectare only trees inside the stand count. Where only the
marked trees are listed, what stands comes from sample plots or is not told, with the
reason; nothing that is not known is ever a zero.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from layout.canopy import Canopy, canopy
from layout.crowns import crown_width_m
from layout.ground import STEM_SPACE_M, stems_known
from layout.harvest import Harvest, harvest_of
from layout.plots import Estimate, Plots, per_ha
from layout.site import Area
from layout.stocking import CLASS_CM, CLASS_METRIC_CM, basal_area_m2
from layout.thinning import SURE, Standing, Thinning, settled, share_range, thinning
from layout.timber import stem_volume_m3
from layout.tree_sizes import TreeSizes, plot_heights_of, sizes_of
from layout.units import HECTARE_M2

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class PlotFigures:
    """What sample plots say of a hectare before anything is cut.

    Parameters
    ----------
    stems, basal_area, wood : Estimate
        Stems, square metres and cubic metres of stem wood a hectare; heights that were
        not measured on a plot are estimated.
    """

    stems: Estimate
    basal_area: Estimate
    wood: Estimate


@dataclass(frozen=True, slots=True, eq=False)
class Treatment:
    """A stand and what is taken from it; arrays have shape (n,), a value a listed tree.

    Parameters
    ----------
    sizes : TreeSizes
        Heights, volumes, weights.
    harvest : Harvest
        What each tree gives.
    inside : ndarray of bool
        Stands in the stand.
    in_way : ndarray of bool
        Not marked, but comes out with a trail, a turning place or the landing.
    taken : ndarray of bool
        Marked, or in the way.
    singled_out : bool
        Whether trees are placed well enough to name those in the way; otherwise their
        number is an expectation.
    layout_counted : bool
        Whether the whole layout was there to be counted.
    area_m2 : float
        Of the stand, square metres.
    smallest_cm : float or None
        Least DBH of the list: what is thinner is in no figure.
    thinning : Thinning
        The stand before and after.
    wood_share, saw_share : float or None
        Share of the stem wood, and of the wood in sawlogs, that is taken, 0 to 1; None
        where what stands before is not known.
    plots : PlotFigures or None
        Where plots were given.
    canopy : Canopy
        Cover before and after, and the gaps.
    cleared : tuple of geometry
        Trails, turning places and landing it was worked out with.
    widest_m : ndarray of float
        Crown each tree counts with in what opens, were its own not known.
    """

    sizes: TreeSizes
    harvest: Harvest
    inside: Mask
    in_way: Mask
    taken: Mask
    singled_out: bool
    layout_counted: bool
    area_m2: float
    smallest_cm: float | None
    thinning: Thinning
    wood_share: float | None
    saw_share: float | None
    plots: PlotFigures | None
    canopy: Canopy
    cleared: tuple[BaseGeometry, ...]
    widest_m: Floats


def treat(
    area: Area,
    cleared: Sequence[BaseGeometry] = (),
    stated: ArrayLike | None = None,
    *,
    whole: bool = True,
) -> Treatment:
    """Work out what a marking and a layout do to the stand.

    Parameters
    ----------
    area : Area
        The job; trees that are cut already by progress.csv count as standing before.
    cleared : sequence of geometry, optional
        Trails, turning places and landing as polygons; none where nothing is laid out.
    stated : array_like of bool, shape (n,), optional
        Unmarked trees the plan itself says come out with a trail.
    whole : bool, optional
        Whether ``cleared`` is the whole layout; False where trails are still to come.

    Returns
    -------
    Treatment
        The order of the trees makes no difference beyond rounding.
    """
    trees = area.trees
    sizes = sizes_of(area)
    harvest = harvest_of(area, sizes)
    inside = np.asarray(shapely.contains_xy(area.stand, trees.x, trees.y), dtype=bool)
    in_way = _in_way(area, cleared, stated)
    taken = trees.marked | in_way
    species = np.array(trees.species, dtype=object)
    stand_m2 = float(area.stand.area)
    told = None if area.plots is None else _from_plots(area.plots, area)
    thinned = thinning(
        list(species[inside]),
        trees.dbh_cm[inside],
        taken[inside],
        stand_m2,
        full_list=trees.full_list,
        plots=None
        if area.plots is None
        else Standing(area.plots.species, area.plots.dbh_cm, area.plots.mean_per_ha()),
        class_cm=CLASS_CM if area.settings.area.units == "us" else CLASS_METRIC_CM,
    )
    wood, saw = _shares(harvest, inside, taken, stand_m2, thinned, told)
    known = trees.dbh_cm[inside & np.isfinite(trees.dbh_cm)]
    widest = _widest_m(area, thinned)
    return Treatment(
        sizes=sizes,
        harvest=harvest,
        inside=inside,
        in_way=in_way,
        taken=taken,
        singled_out=stems_known(area),
        layout_counted=whole and len(cleared) > 0,
        area_m2=stand_m2,
        smallest_cm=float(known.min()) if known.size else None,
        thinning=thinned,
        wood_share=wood,
        saw_share=saw,
        plots=told,
        canopy=canopy(
            area.stand,
            trees.x,
            trees.y,
            crown_width_m(trees.species, trees.dbh_cm),
            taken,
            full_list=trees.full_list,
            height_m=sizes.heights.height_m,
            cleared=cleared,
            widest_m=widest,
        ),
        cleared=tuple(cleared),
        widest_m=widest,
    )


def _widest_m(area: Area, thinned: Thinning) -> Floats:
    """Give the crowns trees would have that were as thick as the thickest known."""
    largest = np.nan if thinned.largest_cm is None else thinned.largest_cm
    return crown_width_m(area.trees.species, np.full(len(area.trees), largest))


def _in_way(area: Area, cleared: Sequence[BaseGeometry], stated: ArrayLike | None) -> Mask:
    """Tell which unmarked trees come out with the layout; none where only marked are listed."""
    trees = area.trees
    out = np.zeros(len(trees), dtype=bool)
    if not trees.full_list:
        return out
    stems = shapely.points(trees.x, trees.y)
    for ground in cleared:
        out |= np.asarray(shapely.dwithin(ground, stems, STEM_SPACE_M), dtype=bool)
    if stated is not None:
        out |= np.asarray(stated, dtype=bool)
    return out & ~trees.marked


def _from_plots(plots: Plots, area: Area) -> PlotFigures:
    """Work out what the plots say, with heights set to all measured trees there are."""
    heights = plot_heights_of(area)
    wood = stem_volume_m3(plots.species, plots.dbh_cm, heights.height_m)
    return PlotFigures(
        stems=per_ha(plots),
        basal_area=per_ha(plots, basal_area_m2(plots.dbh_cm)),
        wood=per_ha(plots, wood),
    )


def _shares(
    harvest: Harvest,
    inside: Mask,
    taken: Mask,
    stand_m2: float,
    thinned: Thinning,
    told: PlotFigures | None,
) -> tuple[float | None, float | None]:
    """Give the share of stem wood and of sawlogs that is taken, where trees unknown allow it."""

    def share(values: Floats, before: float | None = None) -> float | None:
        known = values[np.isfinite(values)]
        if not known.size:
            return None
        part = settled(share_range(values[inside], taken[inside], float(known.max()), before))
        return None if part is None or part > 1 + SURE else part

    if thinned.after is None:
        return None, None
    if thinned.from_plots:
        if told is None or not told.wood.mean:
            return None, None
        goes = inside & taken  # the rest of such a list says nothing of what stands
        before = told.wood.mean * stand_m2 / HECTARE_M2
        return share(np.where(goes, harvest.stem_m3, 0.0), before), None
    return share(harvest.stem_m3), share(harvest.saw_m3)


def less(estimate: Estimate, removed: float) -> Estimate:
    """Take what is known to go off what plots estimate; the interval keeps its width.

    Parameters
    ----------
    estimate : Estimate
        Before.
    removed : float
        What goes, in the same unit; counted, so without an error of its own.

    Returns
    -------
    Estimate
        No end below 0.
    """
    if estimate.mean is None:
        return estimate
    mean = max(estimate.mean - removed, 0.0)
    if estimate.low is None or estimate.high is None:
        return replace(estimate, mean=mean)
    return replace(
        estimate,
        mean=mean,
        low=max(estimate.low - removed, 0.0),
        high=max(estimate.high - removed, 0.0),
        error_pct=(estimate.error_pct or 0.0) * estimate.mean / mean if mean > 0 else None,
    )
