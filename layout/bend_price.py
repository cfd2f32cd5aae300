"""What a bend costs: the ground a load comes over beside its trail.

A log hardly leaves the trail it is drawn along. A whole tree does: in a turn of t
radians the ground between the ways of its two ends is ``L^2 t / 2``, whatever the
radius (`sources.SWEEPING_TANGENTS`). It is passed over once a load and bared nowhere,
so a square metre of it is priced like one of a winching corridor.
"""

import numpy as np

from layout.site import Area
from layout.tree_sizes import distance_heights_m


def bend_m2_per_rad(area: Area) -> float:
    """Price a radian of bend in a trail, weighted square metres.

    Parameters
    ----------
    area : Area

    Returns
    -------
    float
        0 where logs travel; where whole trees do it grows with the square of their
        length, by the middle one of the marked trees, erring tall.
    """
    if area.settings.work.extract != "tree":
        return 0.0
    tall = distance_heights_m(area)[area.trees.to_serve]
    if not tall.size:
        return 0.0
    return 0.5 * float(np.median(tall)) ** 2 * area.settings.objective.corridor
