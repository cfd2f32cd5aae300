"""One stem, in the words of the sheets: what it is, how large, and what is known against it."""

import math
from typing import Any

from layout.errors import InputError
from layout.land import hazard_tree_reach_m, near_hazard_trees
from layout.outputs.tree_orders import first_said, hazard_said
from layout.outputs.wood_amounts import wood
from layout.outputs.words import say
from layout.site import Area
from layout.speech import speak_diameter, speak_length, speak_load
from layout.tree_sizes import TreeSizes

Lines = list[list[str]]


def card(area: Area, sizes: TreeSizes, tree_id: str) -> dict[str, Any]:
    """Describe one stem of the list.

    Parameters
    ----------
    area : Area
        With the draft's marks.
    sizes : TreeSizes
        Of the same trees.
    tree_id : str

    Returns
    -------
    dict
        Plain JSON values.

    Raises
    ------
    InputError
        If the list has no such tree.
    """
    trees, units = area.trees, area.settings.area.units
    if tree_id not in trees.tree_id:
        raise InputError(f"tree: {tree_id[:30]!r} is not in the list")
    row = trees.tree_id.index(tree_id)
    dbh, height = float(trees.dbh_cm[row]), float(sizes.heights.height_m[row])
    stem, mass = float(sizes.stem_m3[row]), float(sizes.mass_kg[row])
    estimated = bool(sizes.heights.estimated[row])
    error = float(trees.position_error_m[row])
    lines: Lines = [
        ["Species", trees.species[row] or "not known"],
        ["Diameter at breast height", _known(dbh, lambda v: speak_diameter(v, units))],
        [
            "Height, estimated" if estimated else "Height, measured",
            _known(height, lambda v: speak_length(v, units)),
        ],
        ["Wood of the stem, inside bark", _known(stem, lambda v: wood(v, units))],
        ["Green weight as it travels", _known(mass, lambda v: speak_load(v, units))],
        ["Its dot may be off by", _known(error, lambda v: speak_length(v, units))],
    ]
    if trees.keep[row]:
        lines.append(["To be kept as", trees.keep[row].replace("_", " ")])
    if trees.hazard[row]:
        lines.append(["Hazard", trees.hazard[row].replace("_", " ")])
    done = tree_id in trees.done
    if done:
        lines.append(["State", "cut and out already"])
    return {
        "id": tree_id,
        "row": row,
        "at": [float(trees.x[row]), float(trees.y[row])],
        "lines": lines,
        "mark": "cut" if trees.marked[row] else "leave",
        "may_mark": not done,
        "care": [] if done else _care(area, row),
    }


def _care(area: Area, row: int) -> list[str]:
    """Say what is to be known before anybody works at a tree, dangers first."""
    trees, units = area.trees, area.settings.area.units
    said: list[str] = []
    kind = trees.hazard[row]
    if kind and trees.marked[row]:
        said.append(f"{first_said(kind)}.")
    elif kind:
        off = speak_length(float(hazard_tree_reach_m(area)[row]), units)
        words = say("order_keep_off", kind=hazard_said(kind), distance=off)
        said.append(f"{words}. Nobody works there until it is down.")
    for bad, near in near_hazard_trees(area).items():
        if row in near.tolist():
            away = math.hypot(trees.x[row] - trees.x[bad], trees.y[row] - trees.y[bad])
            said.append(
                "HOLD: "
                + say(
                    "order_inside",
                    tree=trees.tree_id[bad],
                    kind=hazard_said(trees.hazard[bad]),
                    away=speak_length(away, units),
                )
                + "."
            )
    if trees.keep[row]:
        said.append("It is to be kept: marking it needs the owner's word.")
    return said


def _known(value: float, speak: Any) -> str:
    return str(speak(value)) if math.isfinite(value) else "not known"
