"""Trails over water, as rows of their layer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from layout.outputs.schema import BY_NAME

if TYPE_CHECKING:
    from layout.plan import Plan


def crossings(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the crossings of a plan, trail by trail."""
    for crossing in plan.crossings:
        names = (name for name, _ in BY_NAME["crossings"].columns)
        yield Point(crossing.x, crossing.y), {name: getattr(crossing, name) for name in names}
