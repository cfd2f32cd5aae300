"""Words of the pictures in the report, and what each of them shows for those who hear it."""

from collections.abc import Mapping

CHARTS: Mapping[str, str] = {
    "chart_map_box": "The picture of the map",
    "chart_ground": "Ground by use, as a share of the stand, against aim and limit",
    "chart_ground_told": "{parts}. Together {share}; aim {aim}, limit {limit}.",
    "chart_ground_part": "{name} {share}",
    "chart_aim": "aim {size}",
    "chart_limit": "limit {size}",
    "chart_diameters": "Trees by diameter, before and after",
    "chart_diameters_told": (
        "{count} diameter classes, from {first} to {last}. Most trees stand in the class of "
        "{fullest}: {before} before and {after} after, {unit}."
    ),
    "chart_trees_by": "trees per {area}",
    "chart_hours": "Hours by task, from the low to the high end",
    "chart_hours_axis": "hours",
    "chart_hours_told": "{parts}.",
    "chart_hours_part": "{task} {hours}",
    "chart_profiles": "Trail profiles",
    "chart_profiles_how": (
        "Each trail from the landing end, at the left, outward. On top the ground, its heights "
        "stretched to fit: a stroke under it is a water bar or dip, a triangle on it a trail that "
        "leaves. Under it the grade as a loaded tractor meets it, against the limits of the day "
        "for long stretches, then the slope across; a solid bar above one marks where it is over "
        "a limit. "
        "Short pitches have a limit of their own: what counts is what the findings say."
    ),
    "chart_profiles_more": "Show {count} more trail profiles",
    "chart_profile": "Trail {trail}",
    "chart_profile_told": (
        "Trail {trail}, {length} long: steepest {down} downhill loaded, limit {down_limit}; "
        "steepest {up} uphill loaded, limit {up_limit}. {over}"
    ),
    "chart_none_over": "No station is over either limit.",
    "chart_over": "Over a limit on {length} of it in all.",
    "chart_ground_line": "ground, {rise} from lowest to highest",
    "chart_grade_line": "grade, loaded",
    "chart_cross_line": "slope across, level at the foot",
    "chart_across": "across {grade}",
    "chart_cross_told": "Steepest across {cross}, limit {limit}.",
    "chart_bars_told_one": "1 water bar or dip.",
    "chart_bars_told_many": "{count} water bars or dips.",
    "chart_leaving_told": "Trails leave it: {where}.",
    "chart_leaves": "{trail} at {station}",
    "chart_level": "level",
    "chart_up": "up {grade}",
    "chart_down": "down {grade}",
}
