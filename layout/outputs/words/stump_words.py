"""Words of rub trees, suggested lays and where everything waits while trees are felled."""

from collections.abc import Mapping

STUMP: Mapping[str, str] = {
    # report: rub trees
    "report_rub_title": "Rub trees ({count})",
    "report_rub_lead": (
        "A load swings in on the inside of every bend. What it meets first takes the rub, and the "
        "trees behind are spared. A rub tree is cut when no load will pass again, or it is noted "
        "that it stays; this plan marks none."
    ),
    "report_rub_none": (
        "No listed tree stands where loads {length} long come in on a bend, as drawn. Look at "
        "every corner all the same."
    ),
    "report_rub_cap": "What loads rub against, from the landing outward",
    "report_rub_show": "All {count}",
    "report_rub_load": (
        "Loads are taken as {length} long and as following the tractor on the trail's line; longer "
        "ones, and slopes across the trail, bring them in farther."
    ),
    "report_rub_sides": "Left and right are seen looking away from the landing.",
    "report_rub_own": "Under {dbh} a stem bends over and is not taken; that limit is ours.",
    "report_col_rub": "Name",
    "report_col_rub_what": "What",
    "report_col_rub_where": "Where",
    "report_col_spares": "Spares",
    "report_col_cut_when": "Cut when",
    "report_rub_marked": "tree {tree}: marked, kept till last",
    "report_rub_proposed": "tree {tree}: proposed, the owner's mark is needed",
    "report_rub_bumper": "a log along the inside, or a high stump",
    "report_rub_look": "look for a stem, marked ones first",
    "report_rub_at_junction": "{spur} onto {station}, {side}",
    "report_rub_at_bend": "{station}, {side}",
    "report_rub_at_pull": "beside pulls to {position}",
    "report_side_left": "left side",
    "report_side_right": "right side",
    "report_rub_corner": "the corner",
    "report_rub_after_one": "the loads of {positions} are in",
    "report_rub_after_many": "the last load is past it ({count} winch positions)",
    "report_rub_after_none": "nothing else passes it",
    # report: lays
    "report_lays_title": "Suggested lays ({count})",
    "report_lays_lead": (
        "A lay is a suggestion for planning; the faller decides at the stump. Bearings are "
        "grid bearings of the tip."
    ),
    "report_lays_fold": "The planner's table of lays ({count} trees)",
    "report_lays_cap": "Suggested lays, in the order of the list",
    "report_col_lay": "Suggested lay",
    "report_col_off_pull": "Off the pull line",
    "report_col_lean": "Lean to it",
    "report_col_fall_ground": "Ground it falls on",
    "report_col_in_way": "Trees in its way",
    "report_col_within": "Within two lengths",
    "report_col_wedge": "Wedges would lift",
    "report_off_left": "{degrees} left",
    "report_off_right": "{degrees} right",
    "report_off_none": "on it",
    "report_no_lay_not_reached": "none: not reached",
    "report_no_lay_bad_tree_near": "none: near a hazard tree that is not marked",
    "report_no_lay_bad_tree": "none: hazard tree, comes down first",
    "report_no_lay_barred": "none: could reach {what}",
    "report_no_lay_lean": "none: leans back too far for wedges",
    "report_no_lay_lean_unknown": "none: leans back, and no DBH to tell whether wedges would do",
    "report_lean_unknown": "unknown: look",
    "report_lean_upright": "upright",
    "report_lean_with": "with it",
    "report_lean_side": "to the side",
    "report_lean_against": "against it: experienced faller",
    "report_falls_unknown": "unknown",
    "report_falls_level": "near level",
    "report_falls_uphill": "uphill, may slide back",
    "report_falls_downhill": "downhill, may run on",
    "report_falls_across": "across, may roll",
    "report_in_way_unknown": "unknown",
    "report_lays_how": (
        "The tip points away from the winch, at most 45 degrees off the pull line, so that the "
        "crown swings little when the butt is pulled."
    ),
    "report_lays_keeps_off": (
        "None is suggested that could reach a wire, a house, a road or a trail of the public "
        "within two tree lengths, or the property line, water, its strip or a tree kept for a "
        "reason within one. A height not measured counts a tenth more, and no less than the "
        "tallest one measured."
    ),
    "report_lays_wedges": (
        "Wedge figures are arithmetic of a lever for whoever plans; they stand on no crew sheet "
        "and say nothing of rot, wind or frost."
    ),
    "report_lays_scope": (
        "Felling one tree with another (domino) and felling with the winch are not planned here."
    ),
    # report: who waits where
    "report_waits_title": "Where the tractor waits",
    "report_waits_lead": (
        "While the trees of a position are felled, the tractor and everyone but the faller stay "
        "two tree lengths away, and farther off where it is steep below the trees. Fell the group, "
        "then bring the tractor."
    ),
    "report_waits_cap": "In the order of work: trees felled together, and where the tractor waits",
    "report_waits_show": "All {count} positions",
    "report_col_waits": "Tractor waits at",
    "report_col_reach": "Two tree lengths",
    "report_col_drive": "Drive from there",
    "report_col_nobody": "Nobody works meanwhile at",
    "report_waits_nowhere": "nowhere on the trails: drive right off",
    "report_waits_landing": "the landing",
    # read first
    "decide_rub": "{count} rub trees are proposed: mark them, or lay logs there.",
    "decide_rub_one": "1 rub tree is proposed: mark it, or lay a log there.",
    "decide_against": "{count} trees lean against their suggested lay: who fells them?",
    "decide_against_one": "1 tree leans against its suggested lay: who fells it?",
}
