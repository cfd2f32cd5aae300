"""How to find each marked tree from the trail: station, side, paces, bearing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import Point

from layout.outputs.crew.directions import Side, bearing_deg, direction_at, natural, paces, side_of
from layout.outputs.tree_orders import keep_off

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import Trail, TreeOutcome


@dataclass(frozen=True, slots=True)
class Found:
    """One tree that still stands, and the way to it.

    Parameters
    ----------
    tree_id, species : str
        As listed.
    dbh_cm : float
        NaN where not given.
    hazard : str
        Kind of hazard, or empty.
    outcome : TreeOutcome
        What the plan says of it.
    sure : str
        ``sure``, ``tight`` or ``doubtful``; empty where it is not reached.
    chance : float or None
        That it stands out of reach; None where that is not known.
    trail_id : str
        The nearest trail; empty where there is none, and the way starts at the landing.
    start : str
        Name of the trail, or of the landing.
    at_m : float
        Station on that trail from which to pace.
    end_m : float
        Where that trail ends.
    side : {"left", "right", "ahead", "back", "on"}
        Looking outward from the landing.
    paces : int
        Single steps from the trail's centre line.
    bearing_deg : float
        Grid bearing from there to the tree.
    """

    tree_id: str
    species: str
    dbh_cm: float
    hazard: str
    outcome: TreeOutcome
    sure: str
    chance: float | None
    trail_id: str
    start: str
    at_m: float
    end_m: float
    side: Side
    paces: int
    bearing_deg: float


def marked(plan: Plan) -> list[Found]:
    """Say how to find every marked tree that still stands.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of Found
        In the order they are met: the main trail outward, then each spur.
    """
    return _found(plan, [o for o in plan.trees if o.status not in ("leave", "done")])


def unmarked_hazards(plan: Plan) -> list[Found]:
    """Say how to find every hazard tree that is not marked, in the order they are met."""
    names = {tree.tree_id for tree in keep_off(plan)}
    return _found(plan, [o for o in plan.trees if o.tree_id in names])


def _found(plan: Plan, wanted: list[TreeOutcome]) -> list[Found]:
    """Say how to find some trees."""
    units = plan.area.settings.area.units
    trees = plan.area.trees
    row = {tree_id: i for i, tree_id in enumerate(trees.tree_id)}
    trails = walking_order(plan)
    lines = np.array([trail.line for trail in trails], dtype=object)
    sure_of = {pull.tree_id: pull.sure for pull in plan.pulls}
    chance_of = {pull.tree_id: pull.p_out_of_reach for pull in plan.pulls}
    ranked: list[tuple[int, float, Found]] = []
    for outcome in wanted:
        i = row[outcome.tree_id]
        tree = Point(float(trees.x[i]), float(trees.y[i]))
        n, trail_id, at_m, end_m = -1, "", 0.0, 0.0
        site = min(plan.landings, key=lambda one: tree.distance(one.shape))
        start, look = Point(site.x, site.y), (0.0, 1.0)
        if len(trails):
            n = int(shapely.distance(lines, tree).argmin())
            line = trails[n].line
            trail_id, at_m, end_m = trails[n].trail_id, float(line.project(tree)), line.length
            start, look = line.interpolate(at_m), direction_at(line, at_m)
        dx, dy = tree.x - start.x, tree.y - start.y
        found = Found(
            tree_id=outcome.tree_id,
            species=trees.species[i],
            dbh_cm=float(trees.dbh_cm[i]),
            hazard=trees.hazard[i],
            outcome=outcome,
            sure=sure_of.get(outcome.tree_id, ""),
            chance=chance_of.get(outcome.tree_id),
            trail_id=trail_id,
            start=trail_id or site.landing_id,
            at_m=at_m,
            end_m=end_m,
            side=side_of(look, dx, dy),
            paces=paces(math.hypot(dx, dy), units),
            bearing_deg=bearing_deg(dx, dy),
        )
        ranked.append((n, at_m, found))
    ranked.sort(key=lambda item: (item[0], item[1], natural(item[2].tree_id)))
    return [found for _, _, found in ranked]


def walking_order(plan: Plan) -> list[Trail]:
    """Give the trails in the order of the sheets: main trails, then spurs by name."""
    return sorted(plan.trails, key=lambda t: (t.kind != "main", natural(t.trail_id)))
