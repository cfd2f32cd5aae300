"""Chances in words: trees that may not be reached, trails that may be too steep."""

from collections.abc import Mapping

CHANCES: Mapping[str, str] = {
    # the layer of trees with their chance
    "look_reach_sure": "small hollow violet circle",
    "look_reach_tight": "violet circle with a dot",
    "look_reach_doubtful": "large filled violet circle",
    "legend_reach_sure": "tree, surely in reach: out of it in 1 case of 20 at most",
    "legend_reach_tight": "tree that may be out of reach: up to 1 case of 5",
    "legend_reach_doubtful": "tree that may well be out of reach: more than 1 case of 5",
    # crew sheets
    "crew_reach_tight": "reach tight: little rope to spare",
    "crew_reach_doubtful": "reach doubtful: the rope may not come so far",
    "crew_reach_tight_chance": "reach tight: out of reach {chance}",
    "crew_reach_doubtful_chance": "reach doubtful: out of reach {chance}, tape it before felling",
    # report
    "report_sureness": "Trees that may be out of reach",
    "report_all_sure": "Every tree that is pulled is surely in reach, as its place is stated.",
    "report_sureness_lead": (
        "A dot on a map is not a tree: it may stand beyond the rope, or too far to the side, of "
        "where it is to be winched, the tractor parked as planned. Sure: 1 in 20 at most. "
        "Tight: up to 1 in 5. Doubtful: more. Measure those with a tape before felling."
    ),
    "report_sureness_how": (
        "Worked out from how far off the trees' places are said to be, alike to every side, on "
        "the ground as the elevations have it. Source: {source}."
    ),
    "report_sureness_least": (
        "The chances are the least they can be: under trees receivers err far more often than "
        "this reckons. Of 100 trees told as 1 in 5, 20 or more are out of reach."
    ),
    "report_sureness_ends": (
        "Winch positions count as set out by tape from the landing or a junction, without an "
        "error of their own. Found by a receiver as good as the trees': {both} trees over 1 in 10 "
        "instead of {one}."
    ),
    "report_sureness_cap": "Doubtful pulls, the likeliest to fail first",
    "report_show_pulls": "The {count} doubtful pulls",
    "report_tight": "Tight ({count}): {trees}.",
    "report_tight_tree": "{tree} ({chance})",
    "report_col_margin": "Rope to spare",
    "report_col_out": "Out of reach",
    "report_col_none": "Of every position",
    "report_grades_sure": "How sure the grades are",
    "report_grades_lead": (
        "Elevations are good to {error}, so at worst a grade over {baseline} is good to {sd} "
        "points, two times of three. A clinometer on the ground knows better."
    ),
    "report_grades_how": "Source: {source}. Unverified: nobody states how far the errors reach.",
    "report_grades_fine": "No trail has more than 1 chance in 20 of breaking its limits of grade.",
    "report_grades_cap": "Trails that may break their limits of grade, the likeliest first",
    "report_grade_down": "{size} downhill loaded",
    "report_grade_up": "{size} uphill loaded",
    "report_grade_pitch": "{limit} for {length} at most",
    "report_col_over": "Too steep, or for too long",
    "report_col_likeliest": "Likeliest",
    "report_col_measured": "Measured there",
    "report_col_allowed": "Allowed there",
    # kinds of findings
    "kind_reach_chance": "Trees that may be out of reach",
    "kind_grade_chance": "Trails that may be steeper than measured",
}
