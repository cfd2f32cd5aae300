"""How tall and how heavy every listed tree is: the one place an area's trees are sized.

Heights are set once to the measured trees there are, those of the list and those of the
sample plots, and volumes, weights, pulls, loads and distances all start from them.
"""

from collections import deque
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from layout.heights import Heights, fill_heights
from layout.site import Area
from layout.timber import stem_mass_kg, stem_volume_m3, tree_mass_kg
from layout.units import FOOT_M

Floats = NDArray[np.float64]

# The same stems are asked for many times while a layout is judged; marks do not matter.
_kept: deque[tuple[tuple[object, ...], Heights]] = deque(maxlen=4)
_distances: deque[tuple[Heights, int, Floats]] = deque(maxlen=4)

TALL_M = 85 * FOOT_M  # where nothing is known of a tree's height: a tall one


@dataclass(frozen=True, slots=True, eq=False)
class TreeSizes:
    """Sizes of every listed tree; arrays have shape (n,), NaN where not known.

    Parameters
    ----------
    heights : Heights
        Measured, or estimated and flagged.
    stem_m3 : ndarray of float
        Wood of the stem inside bark, ground to tip, cubic metres.
    mass_kg : ndarray of float
        Green mass of what is winched and dragged, without the weight error: the limbed
        stem, or the whole tree where the settings have trees travel.
    """

    heights: Heights
    stem_m3: Floats
    mass_kg: Floats


def heights_of(area: Area) -> Heights:
    """Give a height for every listed tree.

    Parameters
    ----------
    area : Area
        ``timber.height_model`` says whether measured trees move the curves; those of
        its sample plots do as those of the list.

    Returns
    -------
    Heights
    """
    return _part(_all_heights(area), slice(len(area.trees)))


def plot_heights_of(area: Area) -> Heights:
    """Give a height for every row of the sample plots, by the same curves.

    Parameters
    ----------
    area : Area

    Returns
    -------
    Heights
        Of the rows of ``area.plots``, in their order; empty without plots.
    """
    return _part(_all_heights(area), slice(len(area.trees), None))


def _all_heights(area: Area) -> Heights:
    """Set the curves once to all measured trees there are: the list's, then the plots'."""
    trees, plots = area.trees, area.plots
    key = (trees.species, trees.dbh_cm, trees.height_m, trees.logs, plots,
           area.settings.timber.height_model)  # fmt: skip
    for one, heights in tuple(_kept):
        if all(a is b for a, b in zip(one, key, strict=True)):
            return heights
    species, dbh_cm, height_m, logs = trees.species, trees.dbh_cm, trees.height_m, trees.logs
    if plots is not None:
        species = (*species, *plots.species)
        dbh_cm = np.concatenate([dbh_cm, plots.dbh_cm])
        height_m = np.concatenate([height_m, plots.height_m])
        logs = np.concatenate([logs, np.full(plots.dbh_cm.shape, np.nan)])
    model = area.settings.timber.height_model
    made = fill_heights(species, dbh_cm, height_m, logs=logs, model=model)
    _kept.append((key, made))
    return made


def _part(heights: Heights, rows: slice) -> Heights:
    """Take some stems; the calibrations stay whole."""
    return replace(
        heights,
        height_m=heights.height_m[rows],
        estimated=heights.estimated[rows],
        how=heights.how[rows],
        doubtful=heights.doubtful[rows],
    )


def sizes_of(area: Area) -> TreeSizes:
    """Size every listed tree.

    Parameters
    ----------
    area : Area
        ``timber.bark`` says whether bark is weighed, ``work.extract`` whether crowns are.

    Returns
    -------
    TreeSizes
        The order of the list makes no difference to any tree.
    """
    trees, heights = area.trees, heights_of(area)
    tall = heights.height_m
    bark = area.settings.timber.bark
    mass = stem_mass_kg(trees.species, trees.dbh_cm, tall, with_bark=bark)
    if area.settings.work.extract == "tree":
        mass = np.fmax(mass, tree_mass_kg(trees.species, trees.dbh_cm))
    return TreeSizes(heights, stem_volume_m3(trees.species, trees.dbh_cm, tall), mass)


def distance_heights_m(area: Area) -> Floats:
    """Give every listed tree's height for safety distances, erring tall.

    A measured height stands. An estimate counts a tenth more and at least as much as
    the tallest measured tree of list and plots; where no measured tree stands behind
    it, 85 ft at least, for the default curves are unverified.

    Parameters
    ----------
    area : Area

    Returns
    -------
    ndarray of float, shape (n,)
        Metres, never NaN.
    """
    heights, listed = _all_heights(area), len(area.trees)
    for one, size, tall in tuple(_distances):
        if one is heights and size == listed:
            return tall
    tall = heights.for_distances_m()[:listed]
    loose = np.array([h not in ("measured", "species", "kind") for h in heights.how[:listed]])
    made = np.asarray(np.where(loose.astype(bool), np.fmax(tall, TALL_M), tall))
    made.setflags(write=False)  # it is given to whoever asks next
    _distances.append((heights, listed, made))
    return made
