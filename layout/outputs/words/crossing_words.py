"""Words for trails over water, on the map, in the GeoPackage and in the report."""

from collections.abc import Mapping

CROSSINGS: Mapping[str, str] = {
    "mark_crossing": "crossing of water",
    "look_crossings": "white triangle on its point, dark blue edge",
    "kind_crossing_angle": "Crossing not square",
    "kind_crossing_approach": "Approach to a crossing",
    "kind_crossing_bank": "Bank at a crossing",
    "kind_crossing_near": "Crossings near each other",
    "kind_crossing_parked": "Winching from a water strip",
    "kind_crossing_wide": "Water too wide to cross",
    "report_crossings_title": "Crossings of water ({count})",
    "report_crossings_lead": "Every crossing of mapped water, by the final lines and the "
    "elevations. Measure angle, approaches and banks on the ground, and ask about a permit before "
    "anything is built. Nothing here sizes a pipe or a span: the local rule says what it must "
    "carry, and a licensed person or the forestry agency sizes it. Take every temporary crossing "
    "out right after use.",
    "report_crossings_barred": "Crossings are not allowed here (trails.crossings): these are STOP "
    "findings.",
    "report_show_crossings": "Show {count} crossings",
    "report_crossings_cap": "Angle: 90 degrees is square. Approach: steepest grade within "
    "{approach} of either bank. Bank: the higher one over the lowest ground between. Limits: "
    "{angle} degrees, {grade} %, {bank}, and {wide} of water. "
    "The approach is unverified; the bank, the width and how far off square are ours.",
    "report_col_crossing": "Crossing",
    "report_col_crossing_angle": "Angle",
    "report_col_approach": "Approach",
    "report_col_bank": "Bank",
    "report_col_wide": "Bank to bank",
    "report_col_drains": "Drains to it",
    "report_crossing_degrees": "{angle}\N{DEGREE SIGN}",
    "report_crossing_grade": "{grade} %",
    "report_crossing_unknown": "not known",
}
