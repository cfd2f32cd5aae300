"""Words of the report's parts on the work: loads, hours, machine, landing, trailer."""

from collections.abc import Mapping

_LOADS: Mapping[str, str] = {
    "report_loads": "Loads",
    "report_loads_sum": "{loads} are to come: {pieces}, {wood} of wood, {mass}.",
    "report_loads_mean": "A load weighs {mean} on average; the heaviest is {load} with {most}.",
    "report_loads_set": "What sets the heaviest load there may be: {what}.",
    "report_loads_of": "{by} ({count})",
    "report_loads_none": "No load is to come.",
    "report_load_in_one": "1 load is in already.",
    "report_load_in_many": "{count} loads are in already.",
    "report_piece_one": "1 piece",
    "report_piece_many": "{count} pieces",
    "report_at_least": "at least {amount}",
    "report_loads_cap": (
        "Loads by trail; the heaviest there may be, from its far end to the landing"
    ),
    "report_loads_show": "All {count} trails and their loads",
    "report_col_load_wood": "Wood",
    "report_col_load_most": "Heaviest load there may be",
    "report_col_set_by": "Set by",
    "report_col_set_at": "At this step",
    "report_set_on_level": "level ground",
    "report_col_travel": "Dragged to the landing",
    "report_loads_caution": (
        "The heaviest load is statics on the ground of the day, rounded down: within the limits "
        "you set for the machine, and no promise. Take less wherever it slips, lifts or tilts."
    ),
    "report_loads_error": (
        "Loads are filled with weights reckoned {error} heavier than estimated, and at most "
        "{chokers} chokers."
    ),
    "report_loads_own": (
        "A load taken up nearer the landing than the step that sets it may weigh more; turns.csv "
        "has the limit of each load."
    ),
    "report_loads_grip": (
        "Grip of the tyres and friction of a log are defaults from memory (unverified) until you "
        "set them under [tractor]."
    ),
    "report_blind_one": "1 piece has no known weight and counts as a heavy one: look, take fewer.",
    "report_blind_many": (
        "{count} pieces have no known weight and count as heavy ones: look, take fewer."
    ),
    "report_loads_dark": (
        "Up to {length} of a load's way has no known grade: it is counted as the worst that is "
        "known."
    ),
    "report_loads_done": (
        "When a load is in, write a line for it in progress.csv (id turn:{load}, state done) and "
        "plan again: what is left keeps its names."
    ),
    "report_shorter": "Stems to cut shorter ({count})",
    "report_shorter_lead": (
        "Cut as usual, a piece of these stems weighs more than any load may from where they lie."
    ),
    "report_shorter_cap": "Stems to cut shorter than usual before they are dragged",
    "report_col_piece_most": "Heaviest piece as usual",
    "report_col_cut_into": "Cut into",
    "report_cut_none": "nothing is light enough: leave it standing",
    "decide_landing_small": "The landing is smaller than decks, bucking and truck need.",
}

_EFFORT: Mapping[str, str] = {
    "report_work": "The work: hours and days",
    "report_work_whole": (
        "All of it takes {hours} with the pauses of a day, {days} of {day} hours. A range, never "
        "a promise: weather, repairs and hung trees are not in it."
    ),
    "report_work_logged": (
        "Winching and hauling rest on {loads} of your own log, which took {factor} times what the "
        "defaults say. The other kinds of work rest on defaults."
    ),
    "report_work_default": (
        "The times rest on defaults, not on your machine and crew; for most of them nobody read a "
        "source:"
    ),
    "report_work_unverified": "unverified",
    "report_col_work_kind": "Kind of work",
    "report_col_hours": "Hours, pauses in",
    "report_col_productive": "At work, pauses out",
    "report_hours_cap": "Hours by kind of work",
    "report_hours_open": "Flagging and opening trails, their stems felled",
    "report_hours_fell": "Felling, limbing, bucking",
    "report_hours_winch": "Winching",
    "report_hours_haul": "Hauling to the landing",
    "report_hours_close": "Closing trails and landing",
    "report_hours_all": "All of it",
    "report_hours_bare": "about {hours} h",
    "report_rate_in": (
        "Winching and hauling come to {rate} of wood an hour at work. Studies of farm tractors "
        "found {low} to {high}."
    ),
    "report_rate_out": (
        "Winching and hauling come to {rate} of wood an hour at work, outside the {low} to {high} "
        "that studies of farm tractors found: take these hours with care."
    ),
    "report_line": (
        "A published line for another small winch tractor at this distance says {line}, pauses in; "
        "these hours say {ours}. It is a cross-check and no limit."
    ),
    "report_line_none": (
        "No published line is held beside it: loads come from nearer or farther than it was made "
        "for."
    ),
    "report_fuel": (
        "Fuel of the tractor: {fuel}, at a default rate an hour (unverified). Saws are not in it."
    ),
    "report_fuel_own": "Fuel of the tractor: {fuel}, at the rate you gave. Saws are not in it.",
    "report_hours_note": (
        "At work means without pauses; {share} of a day is taken to be work. Hours are those of "
        "one outfit and its people."
    ),
    "report_hours_where": "Speeds, hooking and felling times stand under [work]:",
    "report_hours_settings": "settings used",
    "report_hours_log": (
        "Write down a day's loads in a table and name it as log under [work]: the hours then rest "
        "on your own."
    ),
    "report_money": "Cost and value",
    "report_money_cap": "In your own money",
    "report_col_money": "Amount",
    "report_money_cost": "Labour and machine",
    "report_money_labour": "Labour alone",
    "report_money_machine": "Machine alone",
    "report_money_fuel": "Fuel",
    "report_money_trucking": "Trucking",
    "report_money_sort": "Wood: {sort}",
    "report_money_value": "Wood in all",
    "report_money_note": (
        "From the rates and prices you gave and the ranges above; taxes are not in it."
    ),
    "report_unpriced": "No price was given for {sorts}.",
    "report_unrated": "Left blank, and in no sum: {keys}.",
    "report_rate_cost_per_hour_labour": "labour",
    "report_rate_cost_per_hour_machine": "machine",
    "report_rate_fuel": "fuel",
    "report_rate_truck_load": "trucking",
    "report_break_even": (
        "An average load just pays at {distance} of drag, its share of all costs counted: the less "
        "where the work takes long, the more where it goes fast."
    ),
    "report_break_even_some": (
        "Where the work takes long, an average load pays at no distance; where it goes fast, up to "
        "{distance} of drag."
    ),
    "report_break_even_none": (
        "At these rates and prices an average load pays at no distance, however fast the work goes."
    ),
}

_ORDER: Mapping[str, str] = {
    "report_order": "Order of work",
    "report_order_lead": (
        "{steps}, in this order; the crew's book has boxes to tick. It numbers the trails of the "
        "harvest, as names in plan.gpx do: that number stands in brackets."
    ),
    "report_order_harvest": "{line} (harvest {number})",
    "report_order_show": "All {count} steps",
    "report_step_one": "1 step",
    "report_step_many": "{count} steps",
    "report_step_done": "Done:",
    "report_alone": "Working alone: check in every {minutes} minutes with {watcher}.",
    "report_watcher_blank": "somebody who can come, or send help: name them before you start",
    "report_order_apart": (
        "While one fells, nobody winches or works within two tree lengths. Nobody stands below, "
        "in the bight of a rope, or between load and tractor."
    ),
    "report_order_again": (
        "Weather, a hung tree or a soft spot change it: note what is done in progress.csv and "
        "plan again."
    ),
}

_MACHINE: Mapping[str, str] = {
    "report_machine": "The machine on these trails",
    "report_machine_caution": (
        "Statics on a smooth model of the ground: a caution, not a promise. Speed, soft ground, "
        "hidden holes and a swinging load are not in it."
    ),
    "report_stands": "How the tractor stands",
    "report_stands_unknown": "How the tractor stands on these trails was not worked out.",
    "report_stands_lead": (
        "Listed where less than {tight} degrees are left of the sideways tilt kept to, or less "
        "than {light} of its weight stands on the front axle (the limit you set is {least})."
    ),
    "report_stands_cap": "Where it is tight, by trail",
    "report_stands_show": "The {count} trails where it is tight",
    "report_stands_none": "No step of these trails comes that near.",
    "report_stands_front_sets": (
        "On {count} of {all} trails the front axle sets the heaviest load: with that load {least} "
        "of the tractor's weight are left on it, and no more."
    ),
    "report_stands_rest": "Trails that come nowhere that near: {count}.",
    "report_col_tip": "Tilt left",
    "report_col_front": "On the front axle",
    "report_tip_left": "{degrees}\N{DEGREE SIGN}",
    "report_tip_over": "over by {degrees}\N{DEGREE SIGN}",
    "report_front_under": "{share}, under {least}",
    "report_front_none": "none: the nose lifts",
    "report_stands_how": (
        "The tilt kept to is the lesser of the tipping angle less {margin} degrees and {share} of "
        "it, front axle free to swing, an uphill wheel raised by {bump}."
    ),
    "report_stands_front_how": (
        "Front axle: the least of driving out empty, nose first, and dragging the heaviest load "
        "there may be; not listed where it is the front axle that sets that load. Under {least} "
        "it steers badly; with nothing left the nose rises."
    ),
    "report_pulls": "Pulls",
    "report_pulls_lead": (
        "The heaviest pull is about {most} (tree {tree}), breakout included. What gives first: "
        "{what}."
    ),
    "report_pulls_over": "{count} of {all} pulls ask for more than that.",
    "report_pulls_of": "{by} ({count})",
    "report_pull_winch": "the winch, drum full",
    "report_pull_rope": "half the rope's breaking load",
    "report_pull_anchoring": "the tyres' hold, plate not counted",
    "report_pull_front": "what the front axle must keep, plate not counted",
    "report_pull_side": "stand against a side pull",
    "report_pulls_cap": (
        "Pulls over what gives first, or near it, the hardest first: {told} of {count}"
    ),
    "report_pulls_none": "No pull comes to {share} of what gives first.",
    "report_col_pull": "It pulls about",
    "report_col_pull_most": "It holds to",
    "report_pulls_note": (
        "Over the tyres' hold, dig the plate in or tie the tractor back. A load that hangs up "
        "makes the winch pull with all it has, whatever it weighs."
    ),
    "report_block": "Snatch block",
    "report_block_lead": (
        "What block, strap and anchor tree hold when the winch pulls with all it has ({pull}). The "
        "block is rated for twice that pull."
    ),
    "report_block_cap": "By the angle between the two legs of the rope",
    "report_col_legs": "Between the legs",
    "report_col_block": "On block and tree",
    "report_col_anchor": "Tree, DBH at least",
    "report_col_load_leg": "Left on the load",
    "report_block_note": "Nobody stands inside the angle of the rope, or behind the block.",
}

_DECKS: Mapping[str, str] = {
    "report_decks": "Landing and trucks",
    "report_decks_none": "No wood comes to the landing.",
    "report_sorts_cap": "What lies on the landing, by sort",
    "report_col_sort": "Sort",
    "report_col_sort_kind": "Piled as",
    "report_col_pieces": "Pieces",
    "report_col_longest": "Longest",
    "report_col_sort_mass": "It weighs, green",
    "report_col_frontage": "Deck along the road",
    "report_sorts_all": "All decks, with the room between",
    "report_sort_sawlog": "sawlogs",
    "report_sort_pulp": "small wood",
    "report_sort_stem": "stems",
    "report_sort_tree": "whole trees",
    "report_room_enough": (
        "It takes {needed} of landing ({parts}); the landing has {has}, {short} more than that."
    ),
    "report_room_short": (
        "It takes {needed} of landing ({parts}); the landing has {has}, {short} less than that: "
        "truck away as you go, or find more room."
    ),
    "report_room_deck": "decks {size}",
    "report_room_bucking": "bucking {size}",
    "report_room_turning": "the outfit's turn {size}",
    "report_room_standing": "the truck {size}",
    "report_truck_one": "1 truck load",
    "report_truck_many": "{count} truck loads",
    "report_trucks": ("{loads} of {payload} at most: {by_mass} by weight, {by_volume} by volume."),
    "report_decks_how": ("Piles are taken {height} high, {solid} of them wood, {between} apart."),
    "report_truck_default": (
        "The payload is a default for a {kind} truck (unverified): ask who hauls, and what the "
        "road's limits are that day."
    ),
    "report_decks_truck": "Truck loads here are not the tractor's loads.",
}

_TRAILER: Mapping[str, str] = {
    "report_trailer": "A trailer from a small landing in the woods",
    "report_trailer_none": "No trailer here: {why}.",
    "report_trailer_chosen": "This plan is made with it, as you set it.",
    "report_trailer_not": (
        "A comparison only: this plan drags all the way. Set use under [trailer] to plan with it."
    ),
    "report_trailer_place": (
        "Small landing: {place}, {lane} from the landing by the lane. From beyond it come "
        "{loads}, to be bucked there and to go on by trailer."
    ),
    "report_trailer_load": "The trailer may carry {load} on this lane",
    "report_trailer_by": ", set by: {by}",
    "report_trailer_rating": "the trailer's own load",
    "report_trailer_turn": "Tractor and trailer turn round: {place}.",
    "report_trailer_cap": "Dragging all the way, and with a trailer",
    "report_col_drag": "Dragged all the way",
    "report_col_trailer": "With the trailer",
    "report_trailer_hours": "Hours of bringing the wood in, felling and winching apart",
    "report_trailer_dragged": "Loads that would end at it, dragged along the lane",
    "report_trailer_trips": "Trips of the trailer",
    "report_trailer_saved": "Loaded passes along the lane",
    "report_trailer_fewer": "{count} fewer",
    "report_trailer_more": "{count} more",
    "report_trailer_ground": "Ground the small landing takes",
    "report_trailer_clean": "Share of the wood never dragged along the lane",
    "report_trailer_how": (
        "A trailer pushes downhill and tips in a side slope: its own brakes, level ground to load "
        "on, and room to turn decide, on foot."
    ),
    "report_trailer_loads": (
        "These loads end at the small landing, all others on the landing: {loads}. What limits "
        "them here, and their drag, is for the way to where they end."
    ),
    "report_trailer_unpaid": "Making the small landing and closing it are not in the hours.",
    "report_trailer_figures": (
        "Of its load, speed and limits these are defaults (unverified): {keys} under [trailer]."
    ),
}

WORK: Mapping[str, str] = {**_LOADS, **_EFFORT, **_ORDER, **_MACHINE, **_DECKS, **_TRAILER}
