"""How tall and how heavy every listed tree is: the one place an area's trees are sized.

Heights are set to the measured trees of the list once, and volumes, weights, pulls,
loads and distances all start from them.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.heights import Heights, fill_heights
from layout.site import Area
from layout.timber import stem_mass_kg, stem_volume_m3, tree_mass_kg
from layout.units import FOOT_M

Floats = NDArray[np.float64]

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
        ``timber.height_model`` says whether measured trees move the curves.

    Returns
    -------
    Heights
    """
    trees = area.trees
    return fill_heights(
        trees.species,
        trees.dbh_cm,
        trees.height_m,
        logs=trees.logs,
        model=area.settings.timber.height_model,
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
    """Give every tree's height for safety distances, erring tall.

    A measured height stands. An estimate counts a tenth more and at least as much as
    the tallest measured tree; where no measured tree stands behind it, 85 ft at least,
    for the default curves are unverified.

    Parameters
    ----------
    area : Area

    Returns
    -------
    ndarray of float, shape (n,)
        Metres, never NaN.
    """
    heights = heights_of(area)
    tall = heights.for_distances_m()
    loose = np.array([how not in ("measured", "species", "kind") for how in heights.how])
    return np.asarray(np.where(loose.astype(bool), np.fmax(tall, TALL_M), tall))
