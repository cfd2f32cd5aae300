"""What each layer of plan.gpkg holds, in one sentence each."""

from collections.abc import Mapping

LAYER_WORDS: Mapping[str, str] = {
    "layer_stand": "The stand as it was given, one feature; its area in hectares.",
    "layer_landing": (
        "One area a landing: slope in percent, area in square metres, distance to water in metres."
    ),
    "layer_trails": (
        "One line a skid trail, drawn from the landing outward: lengths in metres, steepest grades "
        "of the loaded trip and slope across in percent over 10 m, areas in square metres, "
        "angle at its mouth in degrees, payload in kilograms."
    ),
    "layer_trail_steps": (
        "One line for each 10 m of trail or less: grade of the loaded trip in percent, plus uphill "
        "and minus downhill, distances in metres, tip margin in degrees, earth in cubic metres, "
        "payload in kilograms."
    ),
    "layer_winch_positions": (
        "One point where the tractor parks to winch: distance along its trail in metres, slopes in "
        "percent, angles in degrees from grid north or the trail, and its stop: its trail's "
        "number in the harvest, as on paper, and letters; empty where it is not used."
    ),
    "layer_pulls": (
        "One line a pull, from the winch position to the tree: lengths in metres, forces in "
        "kilonewtons, angles in degrees, chances as shares of one."
    ),
    "layer_trees": (
        "One point a tree of the list, the list's own columns first: what is planned for it, wood "
        "in board feet and cubic metres, mass in kilograms, lengths in metres, lay in degrees from "
        "grid north."
    ),
    "layer_water_strips": (
        "One area a strip along water that machines keep out of, with its rule and whether that "
        "rule was confirmed."
    ),
    "layer_turning_places": (
        "One area where the tractor turns: distance along its trail in metres, slope in percent."
    ),
    "layer_water_bars": (
        "One point a water bar, dip or low point: distances in metres, grade of the trail in "
        "percent, skew in degrees off square."
    ),
    "layer_findings": (
        "One point a finding that has a place, and a row without a place for each other one: "
        "distances along its trail in metres, value and limit in the unit named beside them."
    ),
    "layer_keep_out": (
        "One area a piece of ground no machine may enter, as it was drawn, named as in the files "
        "for the phone."
    ),
    "layer_hazards": (
        "One point, line or area for each mapped danger, such as a wire, a well or a road, as it "
        "was given."
    ),
    "layer_hazard_trees": (
        "One point a hazard tree that still stands: marked ones are cut first; how far everybody "
        "keeps off while it stands in metres."
    ),
    "layer_hazard_rings": (
        "One area round each hazard tree that still stands, two tree lengths in radius, given in "
        "metres: nobody works inside while it stands, or, where marked, until it lies."
    ),
    "layer_property_line": (
        "The property line as it was drawn, no feature where the stand's edge counts as it; its "
        "error in metres."
    ),
    "layer_crossings": (
        "One point where a trail crosses water: distances in metres, angle in degrees, grade of "
        "the approach in percent, drained area in hectares."
    ),
    "layer_gaps": (
        "One area a wide opening in the crowns once the marked trees are out: diameter in metres, "
        "area in square metres."
    ),
    "layer_rub_trees": (
        "One point a tree or corner that loads rub along, to be cut last, proposed or looked for: "
        "distances in metres."
    ),
    "layer_reach_chance": (
        "One point a tree that is pulled: how likely the rope does not reach it, as a share of "
        "one, errors in metres."
    ),
    "layer_channels": (
        "One line a possible channel worked out from elevations and on no map: drained area in "
        "hectares."
    ),
    "layer_wet_hollows": (
        "One area that is likely wet or holds water, worked out from elevations: area in square "
        "metres, depth in metres."
    ),
    "layer_small_landing": (
        "The small landing a trailer takes wood on from, where one is planned: distances along its "
        "trail in metres, area in square metres."
    ),
    "layer_landing_options": (
        "One area a landing that was tried: lengths in metres, areas in square metres, shares and "
        "slopes in percent, time in hours."
    ),
    "layer_turns": (
        "One row a load dragged to the landing, in the order of work: mass in kilograms, distances "
        "in metres, wood in cubic metres."
    ),
    "layer_turn_pieces": (
        "One row a piece of a load: length in metres, wood in cubic metres, mass in kilograms."
    ),
}
