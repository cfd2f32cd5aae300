"""Marked trees with their chance of being out of reach, as rows of a layer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from layout.place_errors import tree_error_m
from layout.speech import speak_chance

if TYPE_CHECKING:
    from layout.plan import Plan

DIGITS = 3  # of a share of one: a chance is not known better


def reach(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the trees that are pulled and whose chance is known, in the order of the pulls."""
    error = dict(zip(plan.area.trees.tree_id, tree_error_m(plan.area), strict=True))
    for pull in plan.pulls:
        if pull.p_out_of_reach is None:
            continue
        yield (
            Point(pull.line.coords[-1][:2]),
            {
                "tree_id": pull.tree_id,
                "position_id": pull.position_id,
                "sure": pull.sure,
                "p_out_of_reach": pull.p_out_of_reach,
                "said": speak_chance(pull.p_out_of_reach),
                "p_both_ends": pull.p_both_ends,
                "p_no_position": pull.p_no_position,
                "position_error_m": float(error[pull.tree_id]),
            },
        )


def share(chance: float | None) -> float | None:
    """Round a chance of a trail.

    Examples
    --------
    >>> share(0.12345), share(None)
    (0.123, None)
    """
    return None if chance is None else round(chance, DIGITS)
