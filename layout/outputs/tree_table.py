"""trees.csv: what the plan says of every listed tree, and what the list said of it.

Text that a spreadsheet would run as a formula gets an apostrophe before it; our
reader of tree lists takes it off again (`layout.formula_marks`).
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING

from layout.outputs import kept_columns, rows
from layout.outputs.csv_cells import cell
from layout.outputs.numbers import rounded
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

FILE_NAME = "trees.csv"
HEADER = (
    "tree_id",
    "role",
    "status",
    "status_words",
    "position_id",
    "trail_id",
    "sure",
    "margin_m",
    "shortfall",
    "shortfall_unit",
    "remedies",
    "marginal_m2",
    "marginal_trail_m",
    "volume_m3",
    "mass_kg",
    "grid_x_m",
    "grid_y_m",
    "log_rule",
    "volume_bf",
    "gross_bf",
    "saw_m3",
    "pulp_m3",
    "saw_logs",
    "cut_pieces",
    "stem_height_m",
    "height_from",
    "lay_azimuth_deg",
    "turn_ids",
    "saw_net_m3",
    "p_out_of_reach",
    "p_no_position",
    "reach_said",
)
LATER = (*rows.WOOD_COLUMNS, "lay_azimuth_deg", "turn_ids", "saw_net_m3")  # as the layer has them
CHANCES = ("p_out_of_reach", "p_no_position", "said")  # as the layer of chances has them
BETWEEN_REMEDIES = "; "


def write(plan: Plan, path: Path) -> None:
    """Write one line a listed tree, in the order of the list.

    Parameters
    ----------
    plan : Plan
        The plan.
    path : Path
        The file; UTF-8, comma separated, one header line. Columns of the input
        file follow ours, prefixed ``in_`` where a name is taken.
    """
    trees = plan.area.trees
    given = kept_columns.kept(trees.table, HEADER, trees.tree_id)
    trail_of = {position.position_id: position.trail_id for position in plan.positions}
    sure_of = {pull.tree_id: pull.sure for pull in plan.pulls}
    chance_of = {row.values["tree_id"]: row.values for row in rows.of_layer(plan, "reach_chance")}
    layer = rows.of_layer(plan, "trees")
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow([*HEADER, *map(cell, given.columns)])
        for i, outcome in enumerate(plan.trees):
            ours = (
                outcome.tree_id,
                outcome.role,
                outcome.status,
                say(f"status_{outcome.status}"),
                outcome.position_id,
                trail_of.get(outcome.position_id, ""),
                sure_of.get(outcome.tree_id, ""),
                rounded("margin_m", outcome.margin_m),
                rounded("shortfall", outcome.shortfall),
                outcome.shortfall_unit,
                BETWEEN_REMEDIES.join(outcome.remedies),
                rounded("marginal_m2", outcome.marginal_m2),
                rounded("marginal_trail_m", outcome.marginal_trail_m),
                rounded("volume_m3", outcome.volume_m3),
                rounded("mass_kg", outcome.mass_kg),
                rounded("grid_x_m", float(trees.x[i])),
                rounded("grid_y_m", float(trees.y[i])),
                *(layer[i].values[name] for name in LATER),
                *(chance_of.get(outcome.tree_id, {}).get(name) for name in CHANCES),
            )
            writer.writerow([*map(cell, ours), *map(cell, given.iloc[i])])
