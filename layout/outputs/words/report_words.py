"""Words of the report."""

from collections.abc import Mapping

from layout.outputs.words.kind_words import KINDS

_TOP: Mapping[str, str] = {
    "report_title": "{area}: thinning plan",
    "report_no_name": "An area without a name",
    "report_what": "Plan for thinning with farm tractor and winch: trails, winch positions, water.",
    "report_made": "Made {date}.",
    "report_made_undated": "Date not noted.",
    "report_contents": "What is on this page",
    "report_job": "The job in short",
    "report_none_marked": "No tree of the list is marked to be cut.",
    "report_trees": "{served} of {marked} marked trees are reached",
    "report_trees_from": " from {places} ({sureness})",
    "report_no_trail": "No trail is laid out.",
    "report_trail_main": "It takes {length} of main trail",
    "report_trail_spurs": " and {length} in {spurs}",
    "report_trail_turning": ", with {places}",
    "report_ground": (
        "Trails and turning places disturb {share} of the stand's {stand} ({bare}; aim {aim}, "
        "limit {limit}), {whole} with the landing."
    ),
    "report_findings": "The checks found {stops}, {cautions} and {unknowns}.",
    "report_stop_one": "1 stop",
    "report_stop_many": "{count} stops",
    "report_caution_one": "1 caution",
    "report_caution_many": "{count} cautions",
    "report_unknown_one": "1 thing they could not check",
    "report_unknown_many": "{count} things they could not check",
    # map
    "report_map": "Map",
    "report_map_alt": (
        "Overview map of {area}, north up, over shaded ground with contour lines. It shows the "
        "stand, the landing, the main trail and its spurs, {positions} with a line to each tree "
        "pulled, {bars} and {strips}. {numbers}. The tables on this page say the same in words."
    ),
    "report_map_caption": (
        "overview.png beside this page is the same map, larger; plan.gpkg opens in a desktop GIS."
    ),
    "report_bar_one": "1 water bar",
    "report_bar_many": "{count} water bars",
    "report_strip_one": "1 water strip",
    "report_strip_many": "{count} water strips",
}

_READ_FIRST: Mapping[str, str] = {
    "report_read_first": "What to decide and read first",
    "report_decide": "Before a saw is started, decide",
    "decide_stops": "{count} stop findings: clear every one before any work.",
    "decide_stops_one": "1 stop finding: clear it before any work.",
    "decide_missed": (
        "{count} marked trees are not reached: leave them standing, or change something."
    ),
    "decide_missed_one": "1 marked tree is not reached: leave it standing, or change something.",
    "decide_costly": (
        "{count} trees take {length} of trail for themselves alone: leave them standing?"
    ),
    "decide_costly_one": "1 tree takes {length} of trail for itself alone: leave it standing?",
    "decide_doubtful": "{count} pulls are doubtful: tape them before the trail is opened.",
    "decide_doubtful_one": "1 pull is doubtful: tape it before the trail is opened.",
    "decide_in_trail": (
        "{count} unmarked stems stand in trails: the owner marks them, or the trail moves."
    ),
    "decide_in_trail_one": (
        "1 unmarked stem stands in a trail: the owner marks it, or the trail moves."
    ),
    "decide_landing": "The landing is proposed here: look at the place before all else.",
    "decide_main": "The main trail is proposed here: walk it before its spurs.",
    "decide_cautions": "{count} cautions: read the first of each kind.",
    "decide_cautions_one": "1 caution: read it.",
    "decide_unknown": "{count} things could not be checked here: look at them on the ground.",
    "decide_unknown_one": "1 thing could not be checked here: look at it on the ground.",
    "decide_walk": "Walk and flag every trail; what the ground says counts more than this page.",
    "report_stops": "Stops ({count})",
    "report_no_stops": "No check says stop. Cautions and what was not checked still stand.",
    "report_stops_lead": (
        "Past a limit, or missing what people need. No work before each is cleared."
    ),
    "report_cautions": "Cautions ({count})",
    "report_no_cautions": "No check gives a caution.",
    "report_cautions_lead": (
        "What can hurt people comes first; in each group and each kind, the farthest past its "
        "limit comes first."
    ),
    "report_unknowns": "Not checked, and why ({count})",
    "report_no_unknowns": "Every check could be made with what was given.",
    "report_unknowns_lead": "Nothing is known of these either way. Look before the first load.",
    "report_fine": "Checked, within the limits you set ({count})",
    "report_no_fine": "No check came out clean.",
    "report_off_paper": (
        "Left off paper: {what}. Open it on the screen before printing, or look in plan.gpkg."
    ),
    "report_fine_fold": "What was checked and is within the limits",
    "report_kind": "{kind} ({count})",
    "report_more": "{count} more, less grave: {kind}",
    "report_necks_one": "1 neck closes ground to marked trees; it stands under what limits you.",
    "report_necks_many": (
        "{count} necks close ground to marked trees; they stand under what limits you."
    ),
    "report_value_limit": "{value}, limit {limit}",
    "report_value": "{value}",
    "report_count": "count {value}",
    "report_limit": "limit {limit}",
    "report_source": "Source: {source}.",
    "report_unverified": "limit unverified",
    "report_group_whole": "Bears on the whole plan",
    "report_group_people": "People, machine and rope",
    "report_group_water": "Water and soil",
    "report_group_line": "Property line and closed ground",
    "report_group_trees": "Trees and corners",
    "report_group_rest": "Everything else",
    # where a finding lies
    "report_at_whole": "Whole plan",
    "report_at_settings": "area.toml, {setting}",
    "report_at_trees": "Tree {name}",
    "report_at_pulls": "Pull {name}",
    "report_at_landing": "Landing {name}",
    "report_at_turning_places": "Turning place {name}",
    "report_at_winch_positions": "Winch position {name}",
    "report_at_pull": "Tree {tree}, from {position}",
    "report_at_position": "{position} on {at}",
    "report_at_the_landing": "the landing",
    "report_at_near": "near {station}",
}

_TREES: Mapping[str, str] = {
    "report_trees_title": "Trees",
    "report_missed": "Not reached ({count})",
    "report_all_reached": "Every marked tree is reached.",
    "report_leave_it": "The first remedy for each: leave it standing.",
    "report_reason": "{why} ({count})",
    "report_which": "Trees: {trees}.",
    "report_show_trees": "The {count} trees",
    "report_missed_cap": "Trees this keeps from being reached",
    "report_col_tree": "Tree",
    "report_col_short": "Misses it by",
    "report_col_would_take": "Trail it would take",
    "report_col_or": "Or",
    "report_sureness": "Pulls with little rope to spare",
    "report_all_sure": "Every pull has rope to spare.",
    "report_sureness_lead": (
        "Doubtful pulls may not reach, tight ones have little to spare: trees stand as far off "
        "their mapped place as the list's error. Tape them before the trail is opened."
    ),
    "report_sureness_cap": "Doubtful pulls, least rope to spare first",
    "report_show_pulls": "The {count} doubtful pulls",
    "report_tight": "Tight ({count}): {trees}.",
    "report_col_from": "Winched from",
    "report_col_margin": "Rope to spare",
    "report_costly": "Trees that take much trail",
    "report_costly_one": "Leave this tree standing: saves at least {saved} of trail.",
    "report_costly_many": "Leave these {count} trees standing: saves at least {saved} of trail.",
    "report_costly_cap": "Trail that is there for one tree alone, the longest first",
    "report_col_mass": "Stem weighs about",
    "report_col_own_trail": "Trail of its own",
    "report_col_own_ground": "Counts as ground",
    "report_col_saved": "Saved with those above",
    "report_costly_note": (
        "Ground is counted as the plan weighs it: soft ground and stems in the way count for more "
        "than their size."
    ),
}

_LIMITS: Mapping[str, str] = {
    "report_limits": "What limits you",
    "report_limits_none": "Every marked tree is reached, so no change was tried.",
    "report_limits_lead": (
        "One thing changed at a time, by one notch, everything else as it is: what it would bring "
        "and what it would cost."
    ),
    "report_limits_cap": "Changes by one notch",
    "report_col_change": "Change",
    "report_col_more": "More trees",
    "report_col_winchable": "Trees that could be winched",
    "report_col_reached": "Stand a trail could come to",
    "report_col_about_trail": "Trail, about",
    "report_col_about_ground": "Ground, about",
    "report_col_cost": "What it costs beside that",
    "report_of": "{part} of {whole}",
    "report_limits_no_more": "None of these changes reaches another marked tree.",
    "report_limits_rough": (
        "Rough figures: turning places, soil and what a tree is worth are not weighed in them."
    ),
    "report_limits_ceiling": (
        "Ceilings on grade, cross slope and rope angle are never loosened, here or by any setting."
    ),
    "report_necks_title": "Necks ({count})",
    "report_necks_lead": (
        "Short places where marked trees lie behind ground over a limit. Not a way to drive: the "
        "limit stays. What may reach the trees instead stands with each."
    ),
}

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
    "report_bars_title": "Water bars ({count})",
    "report_no_bars": "No water bar is placed.",
    "report_bars_lead": "{bars}: {reasons}.",
    "report_bars_of": "{count} {why}",
    "report_open_outlet_one": "1 has no clear low side: choose its outlet on the ground.",
    "report_open_outlet_many": (
        "{count} have no clear low side: choose their outlets on the ground."
    ),
    "report_bars_cap": "Water bars, on each trail from its landing end outward",
    "report_show_bars": "All {count} water bars",
    "report_bars_note": (
        "Build them at closeout, and temporary ones at any shutdown or before rain. Left and right "
        "are seen looking away from the landing. Lay each {skew} across the trail, and "
        "move it uphill, never down, to find its outlet."
    ),
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
    "report_why_end": "at a trail's end",
    "report_why_low_point": "at a low point",
    "report_sources_are": "Sources: {sources}.",
}

_TIMBER: Mapping[str, str] = {
    "report_timber": "Timber",
    "report_timber_none": "Neither mass nor volume is known of the marked trees.",
    "report_timber_cap": "What the marked trees weigh and hold, about",
    "report_timber_served": "Reached",
    "report_timber_missed": "Not reached",
    "report_col_which": "Marked trees",
    "report_col_count": "How many",
    "report_col_all_mass": "All stems",
    "report_col_heaviest": "Heaviest stem",
    "report_col_volume": "Stem wood",
    "report_heaviest": "{mass} (tree {tree})",
    "report_not_known": "not known",
    "report_sum_of": "{sum} ({known} of {count} known)",
    "report_timber_note": (
        "Mass: whole green stem with bark, limbs off, ground to tip; single lots differ by up to a "
        "fifth. Stem wood: inside bark, ground to tip, within a tenth at best; logs are less."
    ),
    "report_boards": "No log rule is chosen, so nothing is said in board feet.",
    "report_boards_rule": (
        "Nothing is said in board feet yet; the log rule chosen for it is {rule}."
    ),
    "report_in_trail": "Unmarked stems in trails ({count})",
    "report_in_trail_lead": (
        "They stand where a trail runs. Each needs the owner's mark, or the trail moves; none of "
        "them is marked by this plan."
    ),
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

_END: Mapping[str, str] = {
    "report_closing": "What holds for every plan",
    "closing_walk": (
        "The elevation grid does not show rocks, soft spots, old wire or dead tops. Walk every "
        "line, flag it, and move it where the ground asks; then draw what was flagged and check "
        "it again."
    ),
    "closing_within": (
        "\N{LEFT DOUBLE QUOTATION MARK}Within the limit you set\N{RIGHT DOUBLE QUOTATION MARK} "
        "means just that: the number was held against your limit. It does not say that nothing "
        "can happen."
    ),
    "closing_phone": "A dot on a phone never decides a boundary, a water strip or a tree.",
    "closing_proposes": "The plan proposes. It marks no tree; that is the owner's to do.",
    "closing_falling": (
        "Felling is not part of this plan; the faller decides at the stump. Where a limit and what "
        "you see disagree, the careful one counts."
    ),
    "report_sources": "Sources",
    "report_sources_lead": (
        "What the limits and figures on this page stand on. What is marked unverified was not read "
        "at its source. Limits that are common practice without a source say so where they stand."
    ),
    "report_source_unread": "unverified",
    "report_settings": "Settings used",
    "report_settings_cap": "Settings that differ from their default",
    "report_settings_default": "Every setting is as it comes.",
    "report_col_key": "Setting",
    "report_col_used": "Used",
    "report_col_default": "Default",
    "report_open_settings": "Defaults in use that are unverified ({count})",
    "report_open_settings_lead": (
        "Nobody read a source for these. Put your own figures in their place where you have them."
    ),
    "report_open_settings_fold": "The settings, by table",
    "report_not_given": "not given",
    "report_yes": "yes",
    "report_no": "no",
    "report_no_bound": "no limit",
    "report_appendix": "Appendix: how the layout was found",
    "proof_optimal": (
        "The layout is optimal among the candidates of the last round, to within {gap} %."
    ),
    "proof_not": (
        "The layout is not proved optimal among the candidates of the last round: it is at most "
        "{gap} % from it."
    ),
    "proof_means": (
        "Candidates are the lines, positions and turning places that were tried. Another line that "
        "was not tried may be better; the ground on foot decides. Objective: ground disturbed, and "
        "what else [objective] prices, all in square metres."
    ),
    "proof_cap": "The last round of the search",
    "proof_col_what": "Figure",
    "proof_col_is": "Value",
    "proof_objective": "Objective",
    "proof_bound": "Bound: no choice among the candidates is less",
    "proof_gap": "Gap between the two",
    "proof_rounds": "Rounds of growing and choosing",
    "proof_segments": "Candidate segments of trail",
    "proof_positions": "Candidate winch positions",
    "proof_pairs": "Candidate pulls, a tree from a position",
    "proof_model": "Model",
    "proof_model_size": (
        "{rows} rows \N{MULTIPLICATION SIGN} {columns} columns, {nonzeros} nonzeros"
    ),
    "proof_seconds": "Time taken",
    "proof_stopped": "Stopped by",
    "proof_stopped_gap": "the gap asked for was reached",
    "proof_stopped_time": "the time limit",
    "proof_seed": "Seed",
    "proof_crs": "Coordinate system",
    "proof_version": "Version of skidway",
    "proof_settings_sha256": "Settings, SHA-256",
}

REPORT: Mapping[str, str] = {
    **_TOP,
    **_READ_FIRST,
    **_TREES,
    **_LIMITS,
    **_LAYOUT,
    **_GROUND,
    **_WATER,
    **_TIMBER,
    **_SINCE,
    **_END,
    **KINDS,
}
