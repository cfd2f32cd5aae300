"""Words for drains across trails, in the table of them, the report and on the phone."""

from collections.abc import Mapping

BARS: Mapping[str, str] = {
    "bar_what_bar": "water bar",
    "bar_what_dip_broad": "broad-based dip",
    "bar_what_dip_rolling": "rolling dip",
    "bar_what_grade_break": "low point that drains by itself: keep its outlet open",
    "bar_set_shutdown": "before every shutdown or rain, and at closeout",
    "bar_set_closeout": "when its section is finished",
    "bar_set_before_use": "shaped before loads pass",
    "bar_room": "{distance} of ground before {what}",
    "bar_meets_landing": "the landing",
    "bar_meets_strip": "the water strip",
    "bar_meets_water": "the water",
    "bar_meets_trail": "trail {trail}",
    "bar_meets_same": "the same trail again",
}
