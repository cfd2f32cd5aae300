"""Words of the files for a phone or receiver: short, for a small screen."""

from collections.abc import Mapping

DEVICE: Mapping[str, str] = {
    # of the file as a whole
    "device_title": "{area}: skid trails, winch positions, marked trees, water bars",
    "device_order": (
        "Places are listed in the order of work: a name begins with the number its trail has in "
        "the harvest on paper, 00 before the harvest; letters tell stops of one number apart. "
        "Then comes the tree (T), winch position (W) or water bar (B), where a name is long "
        "without that letter. "
        "Without a number: no work planned there."
    ),
    "device_day": (
        "Day {day} of the work alone, by the middle of the estimated hours; a slower day moves "
        "all that follow."
    ),
    "device_listed": "Listed from the landing outward, trail by trail.",
    "device_plan": "Plan {plan}, as the foot of each paper sheet says.",
    "device_pace": "One pace is one step of {step}.",
    "device_paces_one": "1 pace",
    "device_paces_many": "{count} paces",
    "device_dot": (
        "A dot on a screen never decides a boundary, a water strip or a tree: look for flags and "
        "paint, and check that species and DBH match."
    ),
    "device_shift": (
        "Everything may be off by {error} more, from the change of coordinate system."
    ),
    # where something is
    "device_at": "{trail} at {station}",
    "device_on_landing": "on the landing",
    "device_on_landing_of": "on landing {landing}",
    "device_left": "left",
    "device_right": "right",
    # where people come in, and help
    "device_gate": "gate or road entrance",
    "device_road": "road: {road}",
    "device_meet": "help is met: {meet}",
    "device_meet_at": "place where help is met, as it was given",
    "device_helispot": "open spot for a helicopter, as it was given",
    "device_not_looked_at": "wires and trees round it not looked at here",
    # landing, trails and turning places
    "device_landing": "landing, {area}, slope {slope}",
    "device_small_landing": "small landing, {place}, made when its trail is open",
    "device_small_loads": "{loads} end here, the trailer takes their wood on",
    "device_small_turn": "turning place of tractor and trailer {place}",
    "device_start": "station 0 of trail {trail}: hang the first ribbon here",
    "device_main_trail": "main trail",
    "device_spur": "spur off {place}",
    "device_trail": "trail from the landing",
    "device_size": "{length} long, {width} wide",
    "device_steepest": "steepest {grades}",
    "device_grade_downhill": "{size} downhill loaded",
    "device_grade_uphill": "{size} uphill loaded",
    "device_level": "level",
    "device_grade_across": "{size} across",
    "device_kept": "flagged or opened already, kept as it is",
    "device_bench": "new bench to dig",
    "device_stops_one": "1 STOP finding",
    "device_stops_many": "{count} STOP findings",
    "device_loads_one": "1 load",
    "device_loads_many": "{count} loads",
    "device_turning_landing": "turning place on the landing",
    "device_turning_pad": "turning place, level pad",
    "device_turning_y": "turning place, Y of spur and trail",
    "device_turning_loop": "turning place, loop",
    "device_slope": "slope {size}",
    # winch positions
    "device_load_one": "load {names}",
    "device_load_many": "loads {names}",
    "device_load_most": "at most {load} a load",
    "device_back": "back in {length}",
    "device_rear": "rear points {azimuth}\N{DEGREE SIGN} from grid north",
    "device_idle": "NOT USED: its trees come out when their trail is opened",
    "device_hold": "HOLD, see the tree: {names}",
    "device_held": "HOLD, not to be cut as it stands",
    "device_trees_one": "1 tree: {names}",
    "device_trees_many": "{count} trees: {names}",
    # trees
    "device_species_missing": "species not given",
    "device_dbh_missing": "DBH not given",
    "device_winch": "winch from {position}, {sure}",
    "device_pull": "{length}, {paces}, {side}",
    "device_pull_left": "left as seen from the seat, looking back",
    "device_pull_right": "right as seen from the seat, looking back",
    "device_pull_straight": "straight back",
    "device_not_reached": "NOT reached: {why}",
    "device_first_remedy": "first remedy: {remedy}",
    "device_nearest": "{paces} {side} of {place}, walking out",
    "device_care": "TAKE CARE: {cares}",
    # what holds for one marked tree before it is cut; on paper too
    "order_first": "HAZARD TREE ({kind}): cut it first, before any other work near it",
    "order_last": "RUB TREE{spares}: cut it last, {when}",
    "order_spares": ", spares {trees}",
    "order_spares_corner": ", spares the corner",
    "order_last_never": "when no load will pass it again",
    "order_last_of": "after the loads of {positions}",
    "order_last_named": "after the loads of {position}, the last of {count} positions past it",
    "order_last_many": "after the loads of all {count} positions past it",
    "order_line": "MAY NOT BE YOURS, {line}: confirm it first",
    "order_line_drawn": "{away} from the line",
    "order_line_edge": "{away} from the stand's edge, which counts as the line",
    "order_keep_off": "HAZARD TREE ({kind}), not marked: keep two tree lengths off, {distance}",
    "order_inside": (
        "{away} from HAZARD TREE {tree} ({kind}), not marked: nobody works here before it is down"
    ),
    "order_open": "OUT WITH {trail} when it is opened, not by rope",
    "order_strip_core": (
        "WATER STRIP of {water}, where its rule lets nothing be cut: leave it standing"
    ),
    "order_strip_bank": "BANK of {water}, whose trees must stay: leave it standing",
    "order_strip_words": (
        "WATER STRIP of {water}: its rule says what must stay there: ask before it is cut"
    ),
    "order_strip_silent": (
        "WATER STRIP of {water}: its rule does not say what may be cut there: ask before it is cut"
    ),
    "order_near": "NEAR {thing}, within two tree lengths: {ask}",
    "order_near_line": "NEAR THE LINE, within a tree length: do not fell it across",
    "order_map": "{trees}: {ask}",
    "order_near_trees_one": "1 marked tree could reach it",
    "order_near_trees_many": "{count} marked trees could reach it",
    "order_ask_wire": "the utility drops or shields it first",
    "order_ask_house": "clear the house and its people first",
    "order_ask_road": "traffic is stopped first, with whoever keeps the road",
    "order_ask_public_trail": "the trail is closed and watched at both ends first",
    "order_ask_other": "ask whoever owns it first",
    # lean, and why no lay is suggested; on paper too
    "lean_toward": "leans toward {azimuth}\N{DEGREE SIGN}",
    "lean_upright": "listed as upright",
    "lean_with": "leans with the lay",
    "lean_side": "leans to the side of the lay",
    "lean_against": "leans against the suggested lay: experienced faller",
    "no_lay_barred": "no lay: could reach {what}",
    "no_lay_bad_tree_near": "no lay so near a hazard tree",
    "no_lay_bad_tree": "no lay for a hazard tree",
    "no_lay_lean": "no lay: leans back too far: leave it, or ask a trained faller",
    "no_lay_lean_unknown": "no lay: leans back and has no DBH: measure it, or leave it",
    "device_lean_unknown": "lean not known: look up",
    "device_lay": "suggested lay {azimuth}\N{DEGREE SIGN} from grid north",
    "tree_hazard_dead_top": "dead top",
    "tree_hazard_dead": "dead",
    "tree_hazard_hung": "hung",
    "tree_hazard_split": "split",
    "tree_hazard_rot": "rot",
    "tree_hazard_vine": "vines",
    "tree_hazard_wire": "wire",
    # what to take care of at one winch position; on paper too
    "care_stop": "STOP finding: not before it is settled",
    "care_pull_load_above": "load up to {size} above: keep everyone off the ground below",
    "care_pull_may_run": "ground falls {size} to the tractor: on slick ground a log runs",
    "care_crosses": "rope crosses {trails}: nobody drives there meanwhile",
    "care_parking_slope": "parks on {size}: dig the butt plate in",
    "care_pull_angle": "rope up to {degrees}\N{DEGREE SIGN} off the tractor's axis",
    "care_tractor_brakes": (
        "{size} down: rear brakes may not hold; four-wheel drive and a low gear before it, "
        "no clutch"
    ),
    "care_load_may_run": "{size} down: a load may push or run; no stop on it, nobody below",
    "care_grade_favourable": "{size} down loaded, past where care begins: low gear before it",
    "care_grade_adverse": (
        "{size} up loaded: front may lift; no load heavier than listed, nobody in line behind"
    ),
    "care_grade_flat": "nearly level, water stands: only dry or frozen",
    "care_junction_angle": "opens wide: loads rub at the corner",
    "care_grade_chance": "may be steeper than measured ({chance}): check it when you flag it",
    "care_cross_slope": "ground {size} across: may tip or slide",
    "care_water_channel_trail": "possible channel, not mapped: if water runs, it is a crossing",
    "care_water_hollow_trail": "floor of a closed basin: only dry or frozen",
    "care_water_hollow_landing": "part of it is likely wet: decks and machines off that part",
    "care_landing_truck": "a truck cannot turn on it: settle where it turns",
    "care_landing_decks": "too small for all the wood at once: trucks before it is full",
    "care_position_near_bend": "near a bend: winch from straight trail",
    "care_position_near_junction": "near a junction: clear of it is better",
    # water bars
    "device_bar_spacing": "water bar",
    "device_bar_landing": "water bar above the landing",
    "device_bar_spur_mouth": "water bar at the spur's mouth",
    "device_bar_strip": "water bar before the water strip",
    "device_bar_low_point": "water bar at a low point",
    "device_bar_crossing": "water bar before the crossing",
    "device_bar_end": "water bar at the trail's low end",
    "device_outlet_left": "water to the left, walking out",
    "device_outlet_right": "water to the right, walking out",
    "device_outlet_unknown": "outlet side not known: choose it on the ground",
    "device_skew": "turned {angle}\N{DEGREE SIGN} off square",
    # what to keep off
    "device_strip": "edge of the water strip ({water}): no machine inside",
    "device_strip_rule": "rule {rule}",
    "device_keep_out": "no machine inside",
    "device_machine_off": "no machine within {distance}",
    "device_no_rope": "no rope over or under it",
    "device_fell_away": "no felling within two tree lengths before its owner is asked",
    "device_ours": "our limits, unverified",
    "device_until_down": "keep {distance} off until it lies: cut first",
    "device_tree_ring": "nobody works inside this ring while it stands",
    "device_ring": "{kind}: no machine inside, {distance}; our limit, unverified",
    # folders of plan.kml
    "kml_folder_stand": "Edge of the stand",
    "kml_folder_landing": "Landing",
    "kml_folder_small_landing": "Small landing",
    "kml_folder_access": "Way in, and help",
    "kml_folder_starts": "Where trails start",
    "kml_folder_main_trail": "Main trail",
    "kml_folder_spurs": "Spurs",
    "kml_folder_turning": "Turning places",
    "kml_folder_positions": "Winch positions",
    "kml_folder_served": "Marked trees, reached",
    "kml_folder_missed": "Marked trees, NOT reached",
    "kml_folder_done": "Cut and out already",
    "kml_folder_pulls": "Pulls",
    "kml_folder_bars": "Water bars",
    "kml_folder_strips": "Water strips",
    "kml_folder_keep_out": "Keep out",
    "kml_folder_hazards": "Wires and other dangers",
    "kml_folder_hazard_trees": "Hazard trees",
    "kml_folder_first_rings": "Hazard trees cut first: keep off until they lie",
    "kml_folder_stops": "STOP findings",
    "kml_folder_cautions": "Cautions",
    "kml_folder_unknowns": "Not checked",
    # names of things in plan.kml
    "kml_name_landing": "Landing {name}",
    "kml_name_small_landing": "Small landing on {name}",
    "kml_name_access": "{name}",
    "kml_name_starts": "{name}",
    "kml_name_main_trail": "{name}",
    "kml_name_spurs": "{name}",
    "kml_name_turning": "Turning place {name}",
    "kml_name_positions": "{name}",
    "kml_name_served": "Tree {name}",
    "kml_name_first": "HAZARD TREE {name}, cut it first",
    "kml_name_missed": "Tree {name}, NOT reached",
    "kml_name_done": "Tree {name}, out already",
    "kml_name_bars": "Water bar {name}",
    "kml_name_strips": "Water strip {name}",
    "kml_name_keep_out": "{name}",
    "kml_name_hazards": "{name}",
    "kml_name_hazard_trees": "Hazard tree {name}",
    "kml_stop_hazard": "order of work on paper: hazard trees, before all else",
    "kml_stop_open": "order of work on paper: open trails",
    "kml_stop_harvest": "order of work on paper: harvest number {number}",
    "kml_stop_landing": "order of work on paper: landing, last",
    "kml_name_first_rings": "Keep off HAZARD TREE {name} until it lies",
    "kml_pull": "{position} to tree {tree}",
    "kml_level_stop": "STOP",
    "kml_level_caution": "Caution",
    "kml_level_unknown": "Not checked",
    # where the files are left out
    "device_left_out": (
        "plan.gpx and plan.kml are left out: where {crs} lies on the globe is not known here to "
        "{most}, and a dot that far off is worse than none. Bring the elevation raster into UTM on "
        "WGS 84 or NAD83 with a program that has the grid for the shift, and plan again."
    ),
    # files on request
    "extra_not_written": (
        "{option}: the file would be in degrees, and where {crs} lies on the globe is not known "
        "here to {most}; leave {option} out, or bring the elevation raster into UTM on WGS 84 or "
        "NAD83 with a program that has the grid for the shift."
    ),
    "extra_no_days": "no file by day: the hours of the work were not worked out",
    "raster_slope_title": "slope class of the ground, by Horn's 3 x 3 method",
    "raster_slope": "{low} % up to, but not, {high} %",
    "raster_slope_over": "{low} % and steeper",
    "raster_strips_title": "water strip a cell touches, by number; 0 none",
    "raster_strip": "{name} ({water}), rule {rule}",
    "raster_strip_unverified": "{name} ({water}), rule {rule}, unverified",
    "raster_reach_title": (
        "rope left for a stem here, from the planned winch positions as parked; its weight is "
        "not asked"
    ),
}
