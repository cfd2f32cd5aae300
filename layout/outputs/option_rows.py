"""Landings that were tried, as rows of their layer and as data of plan.json."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from shapely.geometry.base import BaseGeometry

from layout.outputs.schema import BY_NAME

if TYPE_CHECKING:
    from layout.plan import Plan


def landing_options(plan: Plan) -> Iterator[tuple[BaseGeometry | None, dict[str, object]]]:
    """Give the landings tried, the one used first; none where a landing was drawn."""
    for option in plan.landing_options:
        names = (name for name, _ in BY_NAME["landing_options"].columns)
        yield option.shape, {name: getattr(option, name) for name in names}
