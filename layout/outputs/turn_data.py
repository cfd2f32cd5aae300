"""Loads as data: the tables of plan.gpkg, and the section ``turns`` of plan.json."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from layout.outputs.numbers import rounded
from layout.outputs.stump_data import BETWEEN

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.plan import Plan
    from layout.work_records import Turn

    Made = Iterator[tuple[BaseGeometry | None, dict[str, object]]]


def turns_of(plan: Plan) -> tuple[Turn, ...]:
    """Give every load of a plan, those that are in and retired names too."""
    return () if plan.work is None else plan.work.turns


def names_by_tree(plan: Plan) -> dict[str, str]:
    """Give the names of the loads each tree comes out in; a retired load counts no more."""
    names: dict[str, list[str]] = defaultdict(list)
    for turn in turns_of(plan):
        for tree in turn.tree_ids if turn.state != "retired" else ():
            names[tree].append(turn.turn_id)
    return {tree: BETWEEN.join(found) for tree, found in names.items()}


def turn_rows(plan: Plan) -> Made:
    """Give the loads as a layer's rows."""
    for turn in turns_of(plan):
        yield (
            None,
            {
                "turn_id": turn.turn_id,
                "order": turn.order,
                "trail_id": turn.trail_id,
                "position_id": turn.position_id,
                "mass_kg": turn.mass_kg,
                "stage": turn.stage,
                "at_m": turn.at_m,
                "travel_m": turn.travel_m,
                "wood_m3": turn.wood_m3,
                "limit_kg": turn.limit_kg,
                "limited_by": turn.limited_by,
                "pieces": len(turn.pieces),
                "state": turn.state,
                "ends_at": turn.ends_at,
            },
        )


def piece_rows(plan: Plan) -> Made:
    """Give the pieces of every load; of those of an earlier plan no more than their names."""
    work = plan.work
    known = {} if work is None else {(p.tree_id, p.number): p for p in work.pieces}
    for turn in turns_of(plan):
        for tree, number in turn.pieces:
            piece = known.get((tree, number)) if turn.state == "planned" else None
            yield (
                None,
                {
                    "turn_id": turn.turn_id,
                    "tree_id": tree,
                    "piece": number,
                    "kind": "" if piece is None else piece.kind,
                    "length_m": None if piece is None else piece.length_m,
                    "wood_m3": None if piece is None else piece.wood_m3,
                    "mass_kg": None if piece is None else piece.mass_kg,
                },
            )


def turn_data(plan: Plan) -> list[dict[str, Any]]:
    """Give the loads with all they are made of."""
    return [
        {
            "turn_id": turn.turn_id,
            "order": turn.order,
            "stage": turn.stage,
            "trail_id": turn.trail_id,
            "position_id": turn.position_id,
            "at_m": rounded("at_m", turn.at_m),
            "travel_m": rounded("travel_m", turn.travel_m),
            "mass_kg": rounded("mass_kg", turn.mass_kg),
            "wood_m3": rounded("wood_m3", turn.wood_m3),
            "limit_kg": rounded("limit_kg", turn.limit_kg),
            "limited_by": turn.limited_by,
            "state": turn.state,
            "ends_at": turn.ends_at,
            "tree_ids": list(turn.tree_ids),
            "position_ids": list(turn.position_ids),
            "pieces": [[tree, number] for tree, number in turn.pieces],
            **({"landing_id": turn.landing_id} if turn.landing_id else {}),
        }
        for turn in turns_of(plan)
    ]
