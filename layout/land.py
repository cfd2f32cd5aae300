"""Where the user's land ends, and what on it machines, ropes and landings keep from.

The table of hazards stands here once; router, winching, landing and checks read
it. Distances are ours, to be on the careful side; no published set was found.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.site import Area
from layout.tree_sizes import distance_heights_m
from layout.units import FOOT_M

SLIVER_M = 0.05  # outlines drawn against each other miss by this much and mean nothing by it
SHARED_EDGE_M = 1.0  # a stand's edge this near a may_use polygon is the same edge
TREE_LENGTHS = 2.0


@dataclass(frozen=True, slots=True)
class HazardRule:
    """What one kind of hazard asks for.

    Parameters
    ----------
    machine_m : float
        Machines, trails and parked outfits stay this far away, metres.
    tree_lengths : float
        Tree lengths within which felling needs the owner of the thing.
    rope : bool
        Whether a rope may pass over or under it.
    landing_m : float
        A landing stays this far away, metres.
    """

    machine_m: float
    tree_lengths: float
    rope: bool
    landing_m: float


HAZARD_RULES: dict[str, HazardRule] = {
    "wire": HazardRule(0.0, TREE_LENGTHS, False, 50 * FOOT_M),
    "house": HazardRule(50 * FOOT_M, TREE_LENGTHS, False, 50 * FOOT_M),
    "road": HazardRule(0.0, TREE_LENGTHS, False, 0.0),
    "public_trail": HazardRule(0.0, TREE_LENGTHS, False, 0.0),
    "pipe": HazardRule(10 * FOOT_M, 0.0, True, 25 * FOOT_M),
    "well": HazardRule(50 * FOOT_M, 0.0, True, 100 * FOOT_M),
    "fence": HazardRule(3 * FOOT_M, 0.0, False, 3 * FOOT_M),
    "wall": HazardRule(3 * FOOT_M, 0.0, False, 3 * FOOT_M),
    "ledge": HazardRule(15 * FOOT_M, 0.0, False, 15 * FOOT_M),
    "sinkhole": HazardRule(50 * FOOT_M, 0.0, False, 50 * FOOT_M),
}
STRICTEST = HazardRule(
    machine_m=max(rule.machine_m for rule in HAZARD_RULES.values()),
    tree_lengths=TREE_LENGTHS,
    rope=False,
    landing_m=max(rule.landing_m for rule in HAZARD_RULES.values()),
)


def hazard_rule(kind: str) -> HazardRule:
    """Give the rule of a kind; an unknown kind takes the strictest of every column."""
    return HAZARD_RULES.get(kind, STRICTEST)


def usable_land(area: Area) -> BaseGeometry:
    """Give the stand and ``may_use`` as one shape, hairline gaps closed."""
    parts = [area.stand.buffer(SLIVER_M)]
    if not area.may_use.is_empty:
        parts.append(area.may_use.buffer(SLIVER_M))
    return shapely.union_all(parts)


def property_edge(area: Area) -> BaseGeometry:
    """Give the line the setback is measured from.

    The property line where one is given; otherwise the stand's edge, without
    the part shared with ``may_use``.
    """
    line = area.property_line
    if line is not None:
        return line.boundary if line.geom_type in ("Polygon", "MultiPolygon") else line
    edge = area.stand.boundary
    if area.may_use.is_empty:
        return edge
    return edge.difference(area.may_use.buffer(SHARED_EDGE_M))


def setback_m(area: Area) -> float:
    """Give how far machines keep from the property line, metres.

    The set distance, or the line's own error where that is larger. Where no
    line is given the stand's edge counts as it, and its error too as soon as
    anything is said of it under [property].
    """
    distance = float(area.settings.stand.setback_m)
    if area.property_line is not None or area.settings.property.model_fields_set:
        distance = max(distance, float(area.settings.property.error_m))
    return distance


def hazard_trees(area: Area) -> NDArray[np.int64]:
    """Give the rows of standing hazard trees that stay: those not marked to be cut."""
    bad = _bad(area.trees.hazard)
    return bad[~area.trees.marked[bad]]


@lru_cache(maxsize=8)
def _bad(hazard: tuple[str, ...]) -> NDArray[np.int64]:
    """Give the rows that name a hazard; asked many times while a line is dragged."""
    rows = np.flatnonzero([bool(kind) for kind in hazard])
    rows.setflags(write=False)
    return rows


def hazard_tree_reach_m(area: Area) -> NDArray[np.float64]:
    """Give two tree lengths of every tree, metres, shape (n,).

    A height that was not measured errs tall (`layout.tree_sizes.distance_heights_m`).
    """
    return np.asarray(TREE_LENGTHS * distance_heights_m(area))


def near_hazard_trees(area: Area) -> dict[int, NDArray[np.int64]]:
    """Give the marked trees that stand where everybody keeps off a hazard tree that stays.

    Parameters
    ----------
    area : Area
        The job.

    Returns
    -------
    dict of int to ndarray of int
        By the row of each hazard tree that still stands and is not marked: the rows of the
        trees still to be served within its two tree lengths.
    """
    trees, reach = area.trees, hazard_tree_reach_m(area)
    near = {}
    for row in hazard_trees(area).tolist():
        if trees.tree_id[row] not in trees.done:
            off = np.hypot(trees.x - trees.x[row], trees.y - trees.y[row])
            near[row] = np.flatnonzero(trees.to_serve & (off < reach[row]))
    return near


def closed_by_hazards(area: Area, *, landing: bool = False) -> BaseGeometry:
    """Give the ground that hazards close to machines.

    Parameters
    ----------
    area : Area
        The job.
    landing : bool, optional
        Give what is closed to a landing instead.

    Returns
    -------
    shapely geometry
        Mapped hazards with their distances, and two tree lengths round every
        hazard tree that stays; may be empty.
    """
    shapes: list[BaseGeometry] = []
    for hazard in area.hazards:
        rule = hazard_rule(hazard.kind)
        distance = max(rule.landing_m, rule.machine_m) if landing else rule.machine_m
        if distance > 0:
            shapes.append(hazard.geometry.buffer(distance))
    reach = hazard_tree_reach_m(area)
    for row in hazard_trees(area):
        centre = shapely.Point(float(area.trees.x[row]), float(area.trees.y[row]))
        shapes.append(centre.buffer(float(reach[row])))
    return shapely.union_all(shapes)
