"""In what order findings are read: what can hurt people first, and by how far within that.

Which kind belongs to which group is ours, after what can go wrong if it is left.
A kind that no group knows goes by what it speaks of; what speaks of machine,
rope or trail counts with people, the careful side.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from layout.outputs.gravity import by_kind
from layout.outputs.words import ENGLISH, say

if TYPE_CHECKING:
    from layout.findings import Finding

# A group's name, and how the codes in it begin; the first group that fits counts.
GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "whole",
        ("search_cut", "dem_", "elevation_", "terrain_gap", "limits_lowered", "record_", "key_",
         "drawing_"),
    ),
    (
        "line",
        ("property_", "setback", "beyond_property", "tree_near_line", "felling_near_line",
         "outside_land", "keep_out", "trees_outside", "outline_off_land"),
    ),
    (
        "water",
        ("water_", "strip_", "crossing_", "bank_", "no_local_rule", "rule_", "no_water",
         "bar_", "fall_line", "grade_flat", "soil_", "landing_seep", "landing_draw",
         "landing_strip"),
    ),
    (
        "people",
        ("grade_", "cross_slope", "parking_", "pull_load", "pull_may", "pull_angle", "pull_force",
         "pull_hazard", "pull_hump", "pull_reach", "pull_crosses", "pull_anchoring", "side_pull",
         "snatch_", "rope_", "winch_", "tractor_", "load_", "trailer_", "cut_shorter", "lone_",
         "felling_", "hazard_",
         "landing_hazard", "landing_truck", "landing_run_in", "landing_road", "bench_", "backing_",
         "turning_", "position_", "wires_", "tops_", "lean_", "lay_", "buried_", "ground_not",
         "landing_not"),
    ),
    (
        "trees",
        ("pull_brushes", "pull_leave", "pull_keep", "stems_", "keep_tree", "leave_", "rub_",
         "junction_", "trees_", "reach_", "no_trees", "waypoint_", "done_", "neck", "stocking_",
         "removal_", "residual_", "gap_", "stand_", "canopy_", "plots_", "height_", "log_grade"),
    ),
)  # fmt: skip
ORDER = ("whole", "people", "water", "line", "trees", "rest")
_BY_SUBJECT = {
    "trails": "people",
    "winch_positions": "people",
    "pulls": "people",
    "turning_places": "people",
    "water": "water",
    "trees": "trees",
}


def group_of(finding: Finding) -> str:
    """Give the group a finding is read in, one of `ORDER`."""
    for name, beginnings in GROUPS:
        if finding.code.startswith(beginnings):
            return name
    return _BY_SUBJECT.get(finding.subject_layer, "rest")


def grouped(findings: Iterable[Finding]) -> dict[str, dict[str, list[Finding]]]:
    """Gather findings of one level by group, and in each by kind, the gravest first.

    Parameters
    ----------
    findings : iterable of Finding
        Of one level.

    Returns
    -------
    dict of str to dict of str to list of Finding
        Groups in `ORDER`, those without findings left out.
    """
    found: dict[str, dict[str, list[Finding]]] = {}
    for code, alike in by_kind(findings).items():
        found.setdefault(group_of(alike[0]), {})[code] = alike
    return {name: found[name] for name in ORDER if name in found}


def title_of(code: str) -> str:
    """Say a kind of finding in words; a kind without words of its own is read off its code."""
    if f"kind_{code}" in ENGLISH:
        return say(f"kind_{code}")
    return code.replace("_", " ").capitalize()
