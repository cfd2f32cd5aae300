"""Winch positions and pulls put down by hand, for tests of what loads do on a layout."""

import math

from made_ground import at
from shapely.geometry import LineString

from layout.geometry import azimuth_deg
from layout.records import Pull, Trail, WinchPosition


def position(
    name: str, trail: Trail | None, at_m: float, *tree_ids: str, xy: tuple[float, float] = (0, 0)
) -> WinchPosition:
    """Put a winch position on a trail at a station; on the landing where there is no trail."""
    if trail is None:
        return WinchPosition(name, "", "L1", 0.0, *at(*xy), 0.0, 0.0, 0.0, 0.0, 0.0, tree_ids)
    spot, ahead = trail.line.interpolate(at_m), trail.line.interpolate(at_m - 0.5)
    rear = math.atan2(spot.y - ahead.y, spot.x - ahead.x)
    return WinchPosition(
        name, trail.trail_id, "L1", at_m, spot.x, spot.y, azimuth_deg(rear), 0.0, 0.0, 0.0, 0.0,
        tree_ids,
    )  # fmt: skip


def pull(tree_id: str, place: WinchPosition, x: float, y: float) -> Pull:
    """Pull a stump, in metres from the corner, to a position."""
    rope = LineString([(place.x, place.y), at(x, y)])
    return Pull(
        tree_id, place.position_id, rope.length, rope.length, 40.0, 5.0, "sure", 0.0, "straight",
        0.0, 0.0, 5.0, rope,
    )  # fmt: skip
