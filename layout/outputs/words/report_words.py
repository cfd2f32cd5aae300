"""Words of the report."""

from collections.abc import Mapping

from layout.outputs.words.kind_words import KINDS
from layout.outputs.words.report_chart_words import CHARTS
from layout.outputs.words.report_part_words import PARTS
from layout.outputs.words.report_soil_words import SOIL
from layout.outputs.words.report_stand_words import STAND
from layout.outputs.words.report_work_words import WORK
from layout.outputs.words.stump_words import STUMP

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
    "decide_hazard_work": (
        "{count} hazard trees that are not marked have work planned near them: mark them to be cut "
        "first, or unmark what stands near."
    ),
    "decide_hazard_work_one": (
        "1 hazard tree that is not marked has work planned near it: mark it to be cut first, or "
        "unmark what stands near."
    ),
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
        "{count} unmarked stems stand in the way of trails, turning places or landing: the owner "
        "marks them, or what they stand in moves."
    ),
    "decide_in_trail_one": (
        "1 unmarked stem stands in the way of a trail, turning place or landing: the owner marks "
        "it, or what it stands in moves."
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
        "Left off paper: {what}. Open it on the screen before printing, or look in {file}."
    ),
    "report_fine_fold": "What was checked and is within the limits",
    "report_kind": "{kind} ({count})",
    "report_cautions_rest_one": "Show 1 more caution, of a kind that comes after these",
    "report_cautions_rest_many": "Show {count} more cautions, of kinds that come after these",
    "report_more": "{count} more, less grave: {kind}",
    "report_necks_one": "1 neck closes ground to marked trees; it stands under what would change.",
    "report_necks_many": (
        "{count} necks close ground to marked trees; they stand under what would change."
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
    "report_at_gaps": "Opening {name}",
    "report_at_plots": "Plot {name}",
    "report_at_turning_places": "Turning place {name}",
    "report_at_winch_positions": "Winch position {name}",
    "report_at_pull": "Tree {tree}, from {position}",
    "report_at_position": "{position} on {at}",
    "report_at_the_landing": "the landing",
    "report_at_near": "near {station}",
}

_TREES: Mapping[str, str] = {
    "report_trees_title": "Trees",
    "report_hazard_trees": "Hazard trees ({count})",
    "report_hazard_trees_lead": (
        "Before all else: nobody works, stops or parks within the distance beside a hazard tree "
        "while it stands."
    ),
    "report_hazard_trees_cap": "Hazard trees that stand, those not marked first",
    "report_show_hazard_trees": "The {count} hazard trees",
    "report_col_wrong": "What is wrong",
    "report_col_do": "What to do",
    "report_col_keep_off": "Keep off",
    "report_hazard_tree_first": "marked: cut first",
    "report_hazard_tree_unreached": "marked, not reached: cut first all the same",
    "report_hazard_tree_keep_off": "not marked: keep off, or mark it and cut it first",
    "report_hazard_trees_note": (
        "Keep off two tree lengths; a height that was not measured errs tall. Source: {source}."
    ),
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
    "report_col_from": "Winched from",
    "report_costly": "Trees that take much trail",
    "report_costly_one": "Leave this tree standing: saves at least {saved} of trail.",
    "report_costly_many": "Leave these {count} trees standing: saves at least {saved} of trail.",
    "report_costly_cap": "Trail that is there for one tree alone, the longest first",
    "report_col_mass": "Stem weighs about",
    "report_col_own_trail": "Trail of its own",
    "report_col_own_ground": "Ground of its own",
    "report_col_saved": "Saved with those above",
    "report_costly_note": (
        "Trail, benches and turning places that would go if the tree were left, with all else as "
        "it is. The price of leaving a tree is {worth} as the plan weighs it: serve_worth under "
        "[objective]. Lower it and plan again to leave such trees."
    ),
}

_LIMITS: Mapping[str, str] = {
    "report_necks_title": "Necks ({count})",
    "report_necks_lead": (
        "Short places where marked trees lie behind ground over a limit. Not a way to drive: the "
        "limit stays. What may reach the trees instead stands with each."
    ),
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
        "The layout is optimal among the candidates of the round it was chosen from, to within "
        "{gap} %."
    ),
    "proof_not": (
        "The layout is not proved optimal among the candidates of the round it was chosen from: "
        "it is at most {gap} % from it."
    ),
    "proof_means": (
        "Candidates are the lines, positions and turning places that were tried. Another line that "
        "was not tried may be better; the ground on foot decides. Objective: ground disturbed, and "
        "what else [objective] prices, all in square metres."
    ),
    "proof_cap": "The round of the search the layout was chosen from",
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
    "proof_stopped_work": "lines that may not stand together, dropped after as many rounds as "
    "there are",
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
    **PARTS,
    **CHARTS,
    **SOIL,
    **STAND,
    **STUMP,
    **WORK,
    **_END,
    **KINDS,
}
