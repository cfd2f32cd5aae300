"""Rub trees, suggested lays and waiting places as data: for plan.gpkg and plan.json."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from layout.outputs.numbers import rounded

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import FellingGroup, Lay, RubTree

BETWEEN = " "  # names hold no blank


def rub_rows(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the rub trees as a layer's rows; one that serves several places names its first."""
    for rub in plan.rub_trees:
        first = rub.places[0]
        yield (
            Point(rub.x, rub.y),
            {
                "rub_id": rub.rub_id,
                "kind": rub.kind,
                "tree_id": rub.tree_id,
                "place": first.kind,
                "trail_id": first.trail_id,
                "at_m": first.at_m,
                "side": first.side,
                "from_id": first.from_id,
                "protects": BETWEEN.join(rub.protects),
                "cut_after": BETWEEN.join(rub.cut_after),
                "out_m": rub.out_m,
            },
        )


def azimuths(plan: Plan) -> dict[str, float | None]:
    """Give the suggested lay of every marked tree, degrees clockwise from grid north."""
    return {lay.tree_id: lay.azimuth_deg for lay in plan.lays}


def rub_data(plan: Plan) -> list[dict[str, Any]]:
    """Give the rub trees with all their places."""
    return [_rub(rub) for rub in plan.rub_trees]


def lay_data(plan: Plan) -> list[dict[str, Any]]:
    """Give the suggested lays: the planner's table, wedge lift included."""
    return [_lay(lay) for lay in plan.lays]


def group_data(plan: Plan) -> list[dict[str, Any]]:
    """Give where everything else waits while trees are felled."""
    return [_group(group) for group in plan.felling_groups]


def _rub(rub: RubTree) -> dict[str, Any]:
    return {
        "rub_id": rub.rub_id,
        "kind": rub.kind,
        "tree_id": rub.tree_id,
        "x_m": rounded("x_m", rub.x),
        "y_m": rounded("y_m", rub.y),
        "out_m": rounded("out_m", rub.out_m),
        "places": [
            {
                "kind": place.kind,
                "trail_id": place.trail_id,
                "at_m": rounded("at_m", place.at_m),
                "from_id": place.from_id,
                "side": place.side,
            }
            for place in rub.places
        ],
        "protects": list(rub.protects),
        "cut_after": list(rub.cut_after),
    }


def _lay(lay: Lay) -> dict[str, Any]:
    return {
        "tree_id": lay.tree_id,
        "position_id": lay.position_id,
        "azimuth_deg": rounded("azimuth_deg", lay.azimuth_deg),
        "off_pull_deg": rounded("off_pull_deg", lay.off_pull_deg),
        "why_none": lay.why_none,
        "barred_by": list(lay.barred_by),
        "height_m": rounded("height_m", lay.height_m),
        "height_measured": lay.height_measured,
        "lean": lay.lean,
        "lean_off_deg": rounded("lean_off_deg", lay.lean_off_deg),
        "ground": lay.ground,
        "slope_pct": rounded("slope_pct", lay.slope_pct),
        "in_way": None if lay.in_way is None else list(lay.in_way),
        "near": list(lay.near),
        "wedge_lift_m": None if lay.wedge_lift_m is None else round(lay.wedge_lift_m, 4),
        "beyond_wedges": lay.beyond_wedges,
    }


def _group(group: FellingGroup) -> dict[str, Any]:
    named = {"landing_id": group.landing_id} if group.landing_id else {}
    return {
        "position_id": group.position_id,
        "tree_ids": list(group.tree_ids),
        "reach_m": rounded("reach_m", group.reach_m),
        "trail_id": group.trail_id,
        "at_m": rounded("at_m", group.at_m),
        "x_m": rounded("x_m", group.x),
        "y_m": rounded("y_m", group.y),
        "travel_m": rounded("travel_m", group.travel_m),
        "clear_positions": list(group.clear_positions),
        "clear_landing": group.clear_landing,
        **named,
    }
