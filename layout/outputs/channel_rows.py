"""Water that is on no map, as rows of its two layers."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:
    from layout.plan import Plan

Made = Iterator[tuple[BaseGeometry | None, dict[str, object]]]


def channels(plan: Plan) -> Made:
    """Give the possible channels that are not mapped, the largest first."""
    for number, channel in enumerate(plan.channels.lines, start=1):
        yield (
            channel.line,
            {"channel_id": f"C{number}", "area_ha": channel.area_ha, "at_least": channel.least},
        )


def hollows(plan: Plan) -> Made:
    """Give the ground that is likely wet, the largest first."""
    for number, hollow in enumerate(plan.channels.hollows, start=1):
        yield (
            hollow.shape,
            {
                "hollow_id": f"H{number}",
                "kind": hollow.kind,
                "area_m2": hollow.shape.area,
                "depth_m": hollow.depth_m if hollow.kind == "basin" else None,
            },
        )
