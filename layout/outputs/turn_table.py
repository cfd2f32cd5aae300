"""turns.csv: the loads of the job, one a line, in the order they come in.

It is written anew by every plan. What is done stands in the user's own progress.csv.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from layout.outputs.amounts import most_load
from layout.outputs.csv_cells import cell
from layout.outputs.load_facts import in_order, limit_words, load_words
from layout.outputs.numbers import rounded
from layout.outputs.report.figures import length
from layout.outputs.stump_data import BETWEEN

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "turns.csv"
HEADER = (
    "turn_id",
    "order",
    "stage",
    "trail_id",
    "position_ids",
    "tree_ids",
    "pieces",
    "mass_kg",
    "mass_words",
    "wood_m3",
    "travel_m",
    "travel_words",
    "limit_kg",
    "limit_words",
    "limited_by",
    "limited_by_words",
    "state",
    "ends_at",
)


def write(plan: Plan, path: Path) -> None:
    """Write one line a load, those to come first, in their order.

    Parameters
    ----------
    plan : Plan
        The plan; without its work there is only the header.
    path : Path
        The file; UTF-8, comma separated, one header line.
    """
    units = plan.area.settings.area.units
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADER)
        for turn in in_order(plan):
            ours = (
                turn.turn_id,
                turn.order or None,
                turn.stage,
                turn.trail_id,
                BETWEEN.join(turn.position_ids),
                BETWEEN.join(turn.tree_ids),
                len(turn.pieces),
                rounded("mass_kg", turn.mass_kg),
                load_words(turn, units),
                rounded("wood_m3", turn.wood_m3),
                rounded("travel_m", turn.travel_m),
                length(turn.travel_m, units),
                rounded("limit_kg", turn.limit_kg),
                most_load(turn.limit_kg, units),
                turn.limited_by,
                limit_words(turn.limited_by),
                turn.state,
                turn.ends_at,
            )
            writer.writerow(map(cell, ours))
