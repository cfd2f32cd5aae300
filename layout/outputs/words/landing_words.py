"""Words for landings that were tried and held against each other."""

from collections.abc import Mapping

LANDINGS: Mapping[str, str] = {
    "mark_landing_option": "landing tried,\nnot used",
    "look_landing_options_used": "no fill, thick black edge",
    "look_landing_options_other": "no fill, thin dashed grey edge",
    "legend_landing_option_used": "landing tried: this plan is made with it",
    "legend_landing_option_other": "landing tried, not used",
    "landing_tried_one": "Landing: none was drawn. Only one place was found to plan from; "
    "stand there before you draw it.",
    "landing_tried": "Landing: none was drawn. {places}, and {used} is used. {others}",
    "landing_place_one": "1 place was planned completely",
    "landing_place_many": "{count} places were planned completely",
    "landing_tried_other": "{option}: {why}",
    "report_landings": "Landings that were tried",
    "report_landings_lead": "No landing was drawn, so the likeliest places were looked for and a "
    "complete plan was made from each: trails, positions, loads, order and hours. The plan on this "
    "page is the one with the fewest stop findings; among equals, the one that leaves the fewest "
    "marked trees, and then the one that takes the least ground and work, weighed as your settings "
    "say. Nobody has stood at any of them.",
    "report_landings_cap": "The same stand from each landing",
    "report_landings_reasons": "Why the others are not used",
    "report_landings_reason": "{option}, at [{x:.0f}, {y:.0f}]: {why}",
    "report_landings_skid": "Mean drag: along the trails to the landing, each load counted once, "
    "whatever it weighs. Uphill: share of all the metres that loads travel.",
    "report_landings_weighed": "Weighed ground: new trail, landing, stems that go, pulls and "
    "set-ups, each at the price your settings give it, and marked trees left standing at theirs. "
    "It is good for comparing and for nothing else.",
    "report_landings_findings": "Findings are those of each layout; what limits it was looked at "
    "for the one that is used alone. The outlines are in plan.gpkg, layer landing_options.",
    "report_landings_one_time": "Time ended a search on this page's plan; with more time another "
    "landing might do better.",
    "report_option_used": "{option} (used)",
    "report_option_place": "Place",
    "report_option_at": "[{x:.0f}, {y:.0f}]",
    "report_option_slope": "Slope",
    "report_option_trees": "Marked trees that come out",
    "report_option_sure": "Pulls that are sure",
    "report_option_trail": "Trail",
    "report_option_ground": "Ground disturbed, landing in",
    "report_option_ground_is": "{ground}, {share} of the stand",
    "report_option_adverse": "Dragged uphill",
    "report_option_skid": "Mean drag of a load",
    "report_option_hours": "Hours of work",
    "report_option_findings": "Stop, caution, not checked",
    "report_option_findings_are": "{stops}, {cautions}, {unknowns}",
    "report_option_weighed": "Weighed ground",
}
