"""One stem, in the words of the sheets: what it is, how large, and what is known against it."""

import math
from typing import Any

from layout.errors import InputError
from layout.outputs.wood_amounts import wood
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
        "care": (
            "It is to be kept: marking it needs the owner's word."
            if trees.keep[row]
            else "A hazard tree: nobody works within two tree lengths until it is down."
            if trees.hazard[row] and not trees.marked[row]
            else ""
        ),
    }


def _known(value: float, speak: Any) -> str:
    return str(speak(value)) if math.isfinite(value) else "not known"
