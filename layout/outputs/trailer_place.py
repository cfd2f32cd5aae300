"""The small landing in the woods, where a plan is made with one: what all outputs say of it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import shapely
from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.work_records import Turn, TwoStage

SMALL = "small landing"


def small_landing(plan: Plan) -> TwoStage | None:
    """Give the small landing of a plan; None where loads are dragged all the way."""
    two = None if plan.work is None else plan.work.two_stage
    return two if two is not None and two.chosen and two.shape is not None else None


def turns_on_it(two: TwoStage) -> bool:
    """Tell whether tractor and trailer turn round on the small landing itself."""
    return two.turn_at_m is None or two.turn_at_m == two.at_m


def ends_there(turn: Turn) -> bool:
    """Tell whether a load ends at the small landing."""
    return turn.ends_at == SMALL


def stems_on(plan: Plan) -> tuple[str, ...]:
    """Name the listed stems that stand on the small landing and that the plan leaves standing.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of str
        In the order of the list; empty without a small landing.
    """
    two = small_landing(plan)
    if two is None or not len(plan.area.trees):
        return ()
    trees = plan.area.trees
    inside = shapely.intersects_xy(two.shape, trees.x, trees.y)
    return tuple(
        outcome.tree_id
        for outcome, here, out in zip(plan.trees, inside, _gone(plan), strict=True)
        if here and not out and outcome.status == "leave" and outcome.role != "in_trail"
    )


def _gone(plan: Plan) -> list[bool]:
    done = plan.area.trees.done
    return [name in done for name in plan.area.trees.tree_id]


def small_landing_rows(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the small landing as a layer's row; none where there is none."""
    two = small_landing(plan)
    if two is not None and two.shape is not None:
        yield (
            two.shape,
            {
                "trail_id": two.trail_id,
                "at_m": two.at_m,
                "area_m2": two.shape.area,
                "turn_at_m": two.turn_at_m,
            },
        )
