"""Words of the report's parts on timber and on the stand that is left."""

from collections.abc import Mapping

_TIMBER: Mapping[str, str] = {
    "report_timber": "Timber",
    "report_timber_none": "Neither mass nor volume is known of the marked trees.",
    "report_timber_cap": "What the marked trees weigh and hold, about",
    "report_timber_served": "Reached",
    "report_timber_missed": "Not reached",
    "report_timber_in_way": "Unmarked, in the way",
    "report_timber_all": "All marked",
    "report_col_which": "Marked trees",
    "report_col_count": "How many",
    "report_col_all_mass": "All stems",
    "report_col_heaviest": "Heaviest stem",
    "report_col_volume": "Stem wood",
    "report_heaviest": "{mass} (tree {tree})",
    "report_not_known": "not known",
    "report_known_of": "{count} ({known} known)",
    "report_sum_of": "{sum} ({known} of {count} known)",
    "report_mass_stem": "Mass: whole green stem {bark}, limbs off, ground to tip.",
    "report_mass_tree": "Mass: whole green tree with its crown, for whole trees are dragged.",
    "report_with_bark": "with bark",
    "report_without_bark": "without bark",
    "report_mass_error": (
        "Single lots differ by up to a fifth: pulls and loads are reckoned with {error} more."
    ),
    "report_wood_note": (
        "Stem wood: inside bark, ground to tip, within a tenth at best; logs are less."
    ),
    "report_parts_weigh": (
        "Weights are green; sawlogs weigh with their defect. Whole stems or trees weigh more than "
        "sawlogs and small wood: what is neither stays in the woods."
    ),
    "report_boards": "No log rule is chosen, so nothing is said in board feet.",
    "report_boards_none": "The rule chosen is cubic, so nothing is said in board feet.",
    "report_products_cap": "Logs and small wood; board feet by {rule}",
    "report_products_cap_cubic": "Logs and small wood",
    "report_species_cap": "Marked trees by kind; board feet by {rule}",
    "report_species_cap_cubic": "Marked trees by kind",
    "report_grade_cap": "Marked trees by grade; board feet by {rule}",
    "report_grade_cap_cubic": "Marked trees by grade",
    "report_col_trees_which": "Trees",
    "report_col_species": "Kind",
    "report_col_log_grade": "Grade",
    "report_not_graded": "no grade given",
    "report_no_species": "kind not given",
    "report_col_sawlogs": "Sawlogs",
    "report_col_gross": "Gross, bf {rule}",
    "report_col_net": "Net, bf {rule}",
    "report_col_saw_wood": "Wood in sawlogs, gross",
    "report_col_saw_net": "Wood in sawlogs, net",
    "report_col_saw_mass": "Sawlogs weigh",
    "report_col_small": "Small wood",
    "report_col_small_mass": "Small wood weighs",
    "report_col_whole_log": "Whole stems weigh",
    "report_col_whole_tree": "Whole trees weigh",
    "report_cut_how": (
        "Logs are cut on paper by the taper of the national volume equations: nominal lengths "
        "{lengths}, {trim} trim, a stump of {stump}, sawlogs to {top} inside bark."
    ),
    "report_pulp_how": "Small wood goes on to {pulp} inside bark.",
    "report_pulp_none": "No small wood is cut, for [timber] pulp_top is 0.",
    "report_net_same": "No defect is given, so gross and net are the same.",
    "report_net_defect": (
        "Net is gross less the defect of the list; where it gives none, less {defect}."
    ),
    "report_form_class": (
        "{count} trees without a measured height go by DBH and counted logs alone (form class "
        "{form_class})."
    ),
    "report_scribner_table": (
        "{count} of the {logs} marked logs lie outside the table (12 to 44 in, 10 to 24 ft) the "
        "Scribner formula was fitted to. It is not the Decimal C table."
    ),
    "report_cord": ("A stacked cord of 128 cu ft, wood and air, is taken to hold {solid} of wood."),
    "report_heights_set": (
        "{measured} of {count} heights were measured. The others are estimated by curves set to "
        "the measured trees, and so is all that follows from them."
    ),
    "report_heights_default": (
        "{measured} of {count} heights were measured, too few to set the curves to. The others are "
        "estimated by default curves (unverified), and so is all that follows from them."
    ),
    "report_no_dbh": "{count} marked trees have no DBH and are in no sum.",
    "report_in_trail": "Unmarked stems in the way ({count})",
    "report_in_trail_lead": (
        "They stand in the way of trails, turning places or landing. Each needs the owner's mark, "
        "or what it stands in moves; none of them is marked by this plan."
    ),
}

_STAND: Mapping[str, str] = {
    "report_stand": "The stand that is left",
    "report_stand_list": (
        "Counted from the tree list: {trees} trees in {area}, from {least} DBH up; what is thinner "
        "is in no figure."
    ),
    "report_plot_one": "1 plot",
    "report_plot_many": "{count} plots",
    "report_plots_note": (
        "Plots tell little of single kinds and classes: one they caught too little of stands open."
    ),
    "report_stand_plots": (
        "What stands before comes from {plots}. What is taken is counted from the list, and "
        "what is left is the difference."
    ),
    "report_stand_taken": "Taken from the stand: {marked} marked",
    "report_stand_way": (
        ", and {count} unmarked ones in the way of trails, turning places or landing"
    ),
    "report_stand_way_about": (
        ", and about {count} unmarked ones in the way of trails, turning places or landing: trees "
        "are not placed well enough to name them"
    ),
    "report_stand_cap": "The stand before and after, by the {area}",
    "report_by_acre": "acre",
    "report_by_hectare": "hectare",
    "report_col_measure": "Measure",
    "report_col_before": "Before",
    "report_col_taken": "Taken",
    "report_col_after": "After",
    "report_row_trees": "Trees",
    "report_row_basal": "Basal area",
    "report_row_qmd": "Mean tree, by basal area (QMD)",
    "report_row_stocking": "Stocking, upland hardwood chart",
    "report_row_a_line": "A-line at this mean tree: full",
    "report_row_b_line": "B-line at this mean tree: crowns just close",
    "report_row_density": "Relative density, mixed stands (1 is full)",
    "report_row_hardwood": "Hardwood, of basal area",
    "report_row_cover": "Ground under crowns",
    "report_row_q_us": "q: trees of a 2 in class over those of the next",
    "report_row_q_metric": "q: trees of a 5 cm class over those of the next",
    "report_shares": "Taken: {shares}.",
    "report_share_trees": "{share} of the trees",
    "report_share_basal": "{share} of the basal area",
    "report_share_wood": "{share} of the stem wood",
    "report_share_saw": "{share} of the wood in sawlogs",
    "report_chart_note": (
        "The chart is one of upland hardwoods; with much softwood the relative density is the "
        "better guide."
    ),
    "report_q_note": "No q {when}: {reason}.",
    "report_q_before": "before",
    "report_q_after": "after",
    "report_mix_cap": "Kinds by basal area, {unit}",
    "report_basal_us": "ft² by the acre",
    "report_basal_metric": "m² by the hectare",
    "report_col_share_after": "Share after",
    "report_classes_cap": "Trees by diameter class, by the {area}",
    "report_col_class_dbh": "DBH class",
    "report_plots_cap": "What {plots} told, by the {area}, with {confidence} % confidence",
    "report_col_mean": "Mean",
    "report_col_low": "Low",
    "report_col_high": "High",
    "report_row_wood": "Stem wood",
    "report_row_basal_after": "Basal area after",
    "report_canopy_title": "Canopy and openings",
    "report_cover": (
        "Crowns cover {before} of the stand before and {after} after. That leaves open sky "
        "straight above {sky} of it: an estimate of the light that comes to the floor, no more."
    ),
    "report_gaps_none": "No opening wider than a trail is made.",
    "report_gaps_cap": "Openings that are made, the widest first; trails and landing counted",
    "report_col_gap": "Opening",
    "report_col_across": "Across",
    "report_col_height_ratio": "Times the height round it",
    "report_col_sky": "Sky seen from its middle",
    "report_col_near": "Where",
    "report_gaps_more": "{count} narrower ones are in the layer gaps of plan.gpkg.",
    "report_gaps_note": (
        "Across: of the circle of the same area. Crown widths are regressions on DBH, single "
        "crowns are easily a third wider or narrower."
    ),
    "report_gap_thumb": "Rule of thumb by times the height, {state}: {what}.",
    "report_unknown_title": "What cannot be known, or is not judged",
    "report_unknown_list": "{reason}.",
    "report_aims_blank": ("Not judged, for it is not set under [treatment]: {aims}."),
    "report_aim_residual_min": "least basal area left (residual_min)",
    "report_aim_removal_max": "most basal area removed (removal_max)",
    "report_aim_gap_max": "widest opening (gap_max)",
    "report_aim_leave_damage_max": "most leave trees damaged (leave_damage_max)",
    "report_without_dbh": (
        "{count} listed trees have no DBH: they are in no figure here, so all of them are too low."
    ),
}

STAND: Mapping[str, str] = {**_TIMBER, **_STAND}
