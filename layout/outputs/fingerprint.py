"""A fingerprint of what a plan lays out, to tell two plans of one area apart on paper."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

import shapely
from shapely.geometry.base import BaseGeometry

if TYPE_CHECKING:
    from layout.plan import Plan

SHOWN = 8


def of_plan(plan: Plan) -> str:
    """Give the fingerprint of landing, trails, winch positions, bars and trees.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        SHA-256 in hexadecimal figures; places count to the centimetre. The same
        layout has the same fingerprint whenever and wherever it is made.
    """
    whole = hashlib.sha256()
    for line in _lines(plan):
        whole.update(line.encode("utf-8", "surrogatepass") + b"\n")
    return whole.hexdigest()


def of_settings(plan: Plan) -> str:
    """Give the fingerprint of the settings a plan was made with.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    str
        What the plan says itself, otherwise SHA-256 of all its settings, in
        hexadecimal figures.
    """
    given = plan.about.get("settings_sha256")
    if given:
        return given
    whole = plan.area.settings.model_dump_json()
    return hashlib.sha256(whole.encode("utf-8")).hexdigest()


def _lines(plan: Plan) -> Iterator[str]:
    """Say every part of a layout in a line of its own."""
    for landing in plan.landings:
        yield f"landing {landing.landing_id} {_places(landing.shape)}"
    for trail in plan.trails:
        joins = f"{trail.joins_id} {trail.joins_at_m or 0.0:.2f}"
        yield f"trail {trail.trail_id} {trail.width_m:.2f} {joins} {_places(trail.line)}"
    for spot in plan.positions:
        where = f"{spot.x:.2f} {spot.y:.2f} {spot.rear_azimuth_deg:.1f}"
        yield f"position {spot.position_id} {spot.trail_id} {where} {' '.join(spot.tree_ids)}"
    for place in plan.turning_places:
        yield f"turning {place.place_id} {place.kind} {_places(place.shape)}"
    for bar in plan.bars:
        yield f"bar {bar.bar_id} {bar.x:.2f} {bar.y:.2f} {bar.outlet}"
    trees = plan.area.trees
    xy = zip(trees.x.tolist(), trees.y.tolist(), strict=True)
    at = dict(zip(trees.tree_id, xy, strict=True))
    for tree in plan.trees:
        x, y = at[tree.tree_id]
        yield f"tree {tree.tree_id} {x:.2f} {y:.2f} {tree.status} {tree.role} {tree.position_id}"


def _places(shape: BaseGeometry) -> str:
    """Give the corners of a shape to the centimetre."""
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in shapely.get_coordinates(shape).tolist())
