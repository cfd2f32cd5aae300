"""Hazard trees that still stand, as rows of plan.gpkg, and the ring everybody keeps out of."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from shapely.geometry import Point, Polygon

from layout.outputs.tree_orders import (
    HazardTree,
    first_said,
    keep_off_said,
    standing_hazards,
    until_down_said,
)

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.plan import Plan

CORNERS_A_QUARTER = 16
BETWEEN = "; "


def ring(tree: HazardTree) -> Polygon:
    """Draw the ring round a hazard tree.

    Parameters
    ----------
    tree : HazardTree
        The tree.

    Returns
    -------
    Polygon
        Of 64 corners, none of its edges nearer to the stem than two tree lengths.
    """
    outside = tree.reach_m / math.cos(math.pi / (4 * CORNERS_A_QUARTER))
    return Point(tree.x, tree.y).buffer(outside, quad_segs=CORNERS_A_QUARTER)


def hazard_tree_rows(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the hazard trees that stand: those cut first, and those kept off."""
    for tree in standing_hazards(plan):
        said = keep_off_said(tree, plan)
        if tree.marked:
            said = BETWEEN.join([first_said(tree.hazard), until_down_said(tree, plan)])
        yield (
            Point(tree.x, tree.y),
            {
                "tree_id": tree.tree_id,
                "hazard": tree.hazard,
                "marked": tree.marked,
                "keep_off_m": tree.reach_m,
                "said": said,
            },
        )


def ring_rows(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the rings round hazard trees that stand: marked ones only until they lie."""
    for tree in standing_hazards(plan):
        yield (
            ring(tree),
            {
                "tree_id": tree.tree_id,
                "hazard": tree.hazard,
                "keep_off_m": tree.reach_m,
                "marked": tree.marked,
            },
        )
