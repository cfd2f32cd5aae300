"""How far off the places of trees and of the property line may be, metres.

A distance between a tree and something mapped is as uncertain as both places. Where
somebody could be hurt, or wronged, the two errors are added: the tree may stand nearer
by all of that.
"""

import numpy as np
from numpy.typing import NDArray

from layout.site import Area

Floats = NDArray[np.float64]


def tree_error_m(area: Area) -> Floats:
    """Give the error of every tree's place: its own where stated, or the list's.

    Parameters
    ----------
    area : Area
        ``stand.position_error`` is the list's.

    Returns
    -------
    ndarray of float, shape (n,)
        Metres.
    """
    own = np.asarray(area.trees.position_error_m, dtype=float)
    return np.where(np.isfinite(own), own, area.settings.stand.position_error_m)


def line_error_m(area: Area) -> float:
    """Give the error of the line that felling and machines keep from.

    Where no line is given the stand's edge counts as it: without an error, until
    anything is said of it under [property].

    Parameters
    ----------
    area : Area

    Returns
    -------
    float
        Metres.
    """
    if area.property_line is None and not area.settings.property.model_fields_set:
        return 0.0
    return float(area.settings.property.error_m)
