"""Words about what would change with another rope, tool, trail or place."""

from collections.abc import Mapping

OPTIONS: Mapping[str, str] = {
    "option_worth": "Worth a thought: {change}. It brings {brings}. It needs {needs}.",
    "option_none_worth": (
        "None of the changes tried that stay where no caution begins reaches two marked trees more "
        "or saves a twentieth of the trail."
    ),
    "option_trees": "{count} trees more",
    "option_trees_one": "1 tree more",
    "option_trees_less": "{count} trees fewer",
    "option_trees_less_one": "1 tree fewer",
    "option_spurs": "{count} spurs more",
    "option_spurs_one": "1 spur more",
    "option_spurs_less": "{count} spurs fewer",
    "option_spurs_less_one": "1 spur fewer",
    "option_trail": "{length} more trail",
    "option_trail_less": "{length} less trail",
    "option_nothing": "nothing",
    "worth_all": "more than any ground",
    "worth_ground": "{ground} of ground",
    "report_of": "{part} of {whole}",
    "report_costly_more": "The {count} dearest are listed; the rest stand in plan.json.",
    "report_options": "What would change",
    "report_options_now": (
        "As the plan is: {served} of {marked} marked trees reached, {trail} of trail, {share} of "
        "the stand disturbed with the landing."
    ),
    "report_options_reach": "A trail could come to {share} of the stand.",
    "report_options_lead": (
        "One thing changed at a time, everything else as it is. What gains most stands first: a "
        "tree more counts as {worth} (serve_worth under [objective]), ground as the plan weighs "
        "it. Money is not weighed."
    ),
    "report_options_cap": "One thing changed at a time, against the plan",
    "report_col_option": "Change",
    "report_col_option_trees": "Marked trees",
    "report_col_option_spurs": "Spurs",
    "report_col_option_trail": "Trail",
    "report_col_option_ground": "Ground",
    "report_col_option_hours": "Hours",
    "report_col_option_needs": "What it needs or costs",
    "report_col_option_how": "How it is known",
    "option_how_replanned": "chosen again",
    "option_how_planned": "planned completely",
    "option_how_reach": "rough",
    "report_options_note_replanned": (
        "Chosen again: from this plan's trails and new lines grown once, exact among the lines "
        "tried, held against the same choice with nothing changed. Drainage, work and the checks "
        "of a whole plan are not in it, and a plan made anew may do better: change the setting "
        "and plan again."
    ),
    "report_options_note_reach": (
        "Rough: trees that could be reached. Turning places, soil and what a tree is worth are "
        "not weighed; trail and ground are about what the additional trees would take."
    ),
    "report_options_not_worked_out": "Not worked out: {change}: {why}.",
    "report_options_none": "There are no marked trees left to reach, so no change was tried.",
    "report_options_no_more": "None of these changes reaches another marked tree.",
    "report_options_ceiling": (
        "Ceilings on grade, cross slope and rope angle are never loosened, here or by any setting."
    ),
}
