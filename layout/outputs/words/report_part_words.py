"""Words of the report's parts: the layout, ground, water, what is new."""

from collections.abc import Mapping

_LAYOUT: Mapping[str, str] = {
    "report_layout": "The layout",
    "report_trails_title": "Trails ({count})",
    "report_trails_cap": "Trails by name",
    "report_trails_note": (
        "Grades are the steepest found on a 10 m (33 ft) baseline, in the direction a load "
        "travels; across is the slope square to the trail."
    ),
    "report_col_trail": "Trail",
    "report_col_kind": "Kind",
    "report_col_joins": "Joins",
    "report_col_length": "Length",
    "report_col_width": "Width",
    "report_col_down": "Steepest downhill loaded",
    "report_col_up": "Steepest uphill loaded",
    "report_col_cross": "Steepest across",
    "report_col_loads": "Loads",
    "report_col_class": "Soil class",
    "report_col_came": "Line",
    "report_trail_main_word": "main trail",
    "report_trail_spur_word": "spur",
    "report_came_drawn": "drawn by you",
    "report_came_routed": "proposed",
    "report_came_fixed": "flagged or opened",
    "report_all_trails": "All trails",
    "report_positions_title": "Winch positions ({count})",
    "report_no_positions": "No winch position is needed.",
    "report_positions_lead": (
        "Where the tractor parks, nose toward the landing, and the trees pulled from there."
    ),
    "report_position_idle": "not used: {trees} when the trail is opened",
    "report_positions_cap": "Winch positions and their trees",
    "report_show_positions": "All {count} winch positions",
    "report_col_position": "Position",
    "report_col_where": "Where",
    "report_col_trees": "Trees",
    "report_col_backs": "Backs up",
    "report_col_parked_cross": "Slope across the tractor",
    "report_col_parked_along": "Slope along the tractor",
    "report_turning_title": "Turning places ({count})",
    "report_turning_cap": "Where the outfit turns round",
    "report_show_turning": "All {count} turning places",
    "report_col_place": "Place",
    "report_col_at": "At",
    "report_col_slope": "Slope",
    "report_turning_landing": "the landing",
    "report_turning_pad": "level pad",
    "report_turning_y": "Y of spur and trail",
    "report_turning_loop": "loop",
}

_GROUND: Mapping[str, str] = {
    "report_soil": "Ground disturbed",
    "report_soil_within": (
        "Trails and turning places take {share} of the stand, {whole} with the landing; the aim "
        "is {aim}, the limit you set {limit}."
    ),
    "report_soil_over": (
        "Trails and turning places take {share} of the stand, over the limit of {limit} you set "
        "(aim {aim}); {whole} with the landing."
    ),
    "report_ground_cap": "Ground by what it is used for",
    "report_col_ground_kind": "Used for",
    "report_col_size": "Ground",
    "report_col_share": "Of the stand",
    "report_ground_main": "Main trail",
    "report_ground_spur": "Spurs",
    "report_ground_turning": "Turning places",
    "report_ground_bench": "Bank and fill of new benches",
    "report_ground_bare": "Counts against aim and limit",
    "report_ground_landing": "Landing",
    "report_ground_all": "With the landing",
    "report_ground_corridor": "Beside it: winching corridors",
    "report_ground_note": (
        "Ground used twice counts once. Corridors are dragged over and not driven, so they are "
        "never in the share."
    ),
    "report_soil_sources": "Limit after {limit}; aim after {aim}.",
    "report_class_cap": "Ground by how hard it is used, landing and corridors included",
    "report_col_class_name": "Class",
    "report_class_1": "1, light",
    "report_class_2": "2, moderate",
    "report_class_3": "3, heavy",
    "report_class_note": (
        "Under {first} loaded passes leave class 1, under {second} class 2, more class 2 on dry "
        "and 3 on wet ground; landing and dug ground are class 3. Those steps are ours, the "
        "classes after {source}."
    ),
    "report_benches": "Benches to dig",
    "report_benches_cap": "New bench by trail",
    "report_col_cut": "Cut",
    "report_col_fill": "Filled",
    "report_col_widest": "Widest, bank and fill included",
    "report_bench_note": "Shape of the bench: {source}.",
}

_WATER: Mapping[str, str] = {
    "report_water": "Water",
    "report_strips_title": "Water strips ({count})",
    "report_no_water": (
        "No water is mapped, so no strip is kept. Draw every brook, spring and wet spot that is "
        "on the ground."
    ),
    "report_no_strips": "The mapped water asks for no strip on this ground.",
    "report_strips_lead": "No machine, no landing and no bare soil in a strip.",
    "report_strips_cap": "Strips by the rule that asks for them",
    "report_show_strips": "All {count} strips",
    "report_col_water": "Water",
    "report_col_water_class": "Class",
    "report_col_rule": "Rule",
    "report_col_rule_state": "Source of the rule",
    "report_rule_read": "read",
    "report_rule_unverified": "unverified, check local rule",
    "report_bars_title": "Water bars and other drains ({count})",
    "report_drain_one": "1 drain",
    "report_drain_many": "{count} drains",
    "report_no_bars": "No water bar is placed.",
    "report_bars_lead": "{bars}: {reasons}.",
    "report_bars_of": "{count} {why}",
    "report_open_outlet_one": "1 has no clear low side: choose its outlet on the ground.",
    "report_open_outlet_many": (
        "{count} have no clear low side: choose their outlets on the ground."
    ),
    "report_bars_cap": "Water bars, on each trail from its landing end outward",
    "report_show_bars": "All {count} drains",
    "report_bars_note": (
        "Two sets. Before every shutdown or rain: bars above the landing, at spurs' mouths, before "
        "strips and crossings, at low points and on grades over {steep}, and every bar of a "
        "section that is finished. At closeout: all. Left and right are seen looking away from the "
        "landing. Lay each {skew} across the trail, both ends beyond its edges, the outlet onto "
        "whole forest floor; move it uphill, never down, to find its outlet. Which bars belong to "
        "the first set is ours, unverified."
    ),
    "report_bars_hazard_open": (
        "Erosion hazard not given: spacing by the grade table alone. Where the ground has been "
        "rated, set erosion_hazard under [soil]."
    ),
    "report_bars_hazard": (
        "Erosion hazard {hazard}: spacing by the grade table or by 14 CCR 934.6, whichever is "
        "closer. That is a rule of northern California: check the local one."
    ),
    "report_amounts_cap": "Drains to build, trail by trail",
    "report_col_shutdown": "Before every shutdown or rain",
    "report_col_closeout": "In all at closeout",
    "report_col_dips": "Dips, shaped before use",
    "report_col_breaks": "Low points to keep open",
    "report_amounts_all": "All trails",
    "report_amount": "{count} ({length})",
    "report_col_drain": "What",
    "report_col_bar_length": "Length",
    "report_col_room": "Below it",
    "report_no_room": "nothing near",
    "report_col_bar": "Bar",
    "report_col_grade": "Grade there",
    "report_col_spacing": "Next within",
    "report_col_outlet": "Opens to",
    "report_col_why": "Why",
    "report_outlet_left": "left",
    "report_outlet_right": "right",
    "report_outlet_unknown": "choose on the ground",
    "report_why_spacing": "by the spacing table",
    "report_why_spur_mouth": "at a spur's mouth",
    "report_why_landing": "above the landing",
    "report_why_strip": "before a water strip",
    "report_why_end": "at a trail's low end",
    "report_why_crossing": "before a crossing",
    "report_why_low_point": "at a low point",
    "report_sources_are": "Sources: {sources}.",
}

_SINCE: Mapping[str, str] = {
    "report_proposed": "What was given and what is proposed",
    "report_landing_proposed": (
        "Landing: none was drawn. This plan proposes one; look at it, then draw it."
    ),
    "report_landing_drawn": "Landing: as you drew it.",
    "report_main_routed": (
        "Main trail: none was drawn. This plan proposes one; walk and flag it, then draw it."
    ),
    "report_main_drawn": "Main trail: kept exactly as it was given.",
    "report_fixed_one": "1 trail is flagged or opened already and stays as it is.",
    "report_fixed_many": "{count} trails are flagged or opened already and stay as they are.",
    "report_rule_left_out": "Water rule: none was chosen; a careful stand-in is used.",
    "report_line_left_out": "Property line: none was given; the stand's edge counts as the line.",
    "report_list_marked": (
        "Tree list: only marked trees are in it, so nothing is known of the trees that stay."
    ),
    "report_since": "Changes since the earlier plan",
    "report_since_lead": "What is flagged, opened or done keeps its name and its line.",
    "report_since_cap": "Names kept, new and gone",
    "report_since_trails": "Trails {change}",
    "report_since_winch_positions": "Winch positions {change}",
    "report_since_kept": "kept",
    "report_since_moved": "with the same name on a new line",
    "report_since_added": "new",
    "report_since_retired": "gone, name not used again",
    "report_col_what": "What",
    "report_col_names": "Names",
}

PARTS: Mapping[str, str] = {**_LAYOUT, **_GROUND, **_WATER, **_SINCE}
