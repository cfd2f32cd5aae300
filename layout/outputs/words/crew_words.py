"""Words of the crew sheets on paper."""

from collections.abc import Mapping

CREW: Mapping[str, str] = {
    # foot of every sheet
    "crew_phone_dot": "A phone dot never decides a boundary, a strip or a tree.",
    "crew_ground": "Planned for {ground} ground.",
    "crew_letters": "? stands for a letter this print lacks: {codes}",
    "crew_stops_one": "1 STOP finding, page {page}: read it before anything else",
    "crew_stops_many": "{count} STOP findings, page {page}: read them before anything else",
    "crew_page": "page {page} of {pages}",
    "crew_stamp": "   plan {plan} of {made}   settings {settings}",
    "crew_stamp_undated": "   plan {plan}   settings {settings}",
    "crew_side_left": "left",
    "crew_side_right": "right",
    "crew_side_ahead": "ahead",
    "crew_side_back": "back",
    # emergency sheet
    "crew_emergency": "EMERGENCY",
    "crew_emergency_keep": "Fill in before work starts. One sheet on each person.",
    "crew_call": "Call",
    "crew_call_note": (
        "Write in the emergency number of the place: 911 in the United States and Canada, "
        "112 in most of Europe."
    ),
    "crew_place_road": "Road",
    "crew_place_meet": "Meet at",
    "crew_place_meet_at": "Meet here",
    "crew_place_gate": "Gate",
    "crew_place_landing": "Landing",
    "crew_place_helispot": "Helicopter",
    "crew_blank_place_gate": "Read it off a phone there before work starts: latitude, longitude.",
    "crew_blank_place_helispot": (
        "An open, level spot of about 100 x 100 ft (30 x 30 m), no wires; the pilot decides."
    ),
    "crew_coordinates_note": (
        "Degrees are WGS84, latitude first, twice: decimal degrees, then degrees and decimal "
        "minutes. Ask which one they want."
    ),
    "crew_degrees_unknown": "degrees not known for this grid: read them off a phone",
    "crew_say_title": "Say this, slowly, and have it read back:",
    "crew_say_1": "Logging accident. We are at (road, gate and landing above). Read the numbers.",
    "crew_say_2": "What happened: struck by a tree or limb, saw cut, rolled tractor, rope or hook.",
    "crew_say_3": "How many are hurt. Awake? Breathing? Bleeding hard? Trapped?",
    "crew_say_4": "Somebody will stand at the meeting place and lead you in. Say who.",
    "crew_say_5": "The gate, the lock, the kind of road; whether an ambulance can drive it.",
    "crew_say_6": "The number of this phone. Do not hang up first. People on the job: {crew}.",
    "crew_fill_in": "Fill in before the first cut:",
    "crew_blank_hospital": "Hospital",
    "crew_blank_hospital_phone": "its phone",
    "crew_blank_signal": "Nearest phone signal",
    "crew_blank_lock": "Lock code of the gate",
    "crew_blank_ambulance": "Who meets the ambulance",
    "crew_blank_ambulance_phone": "phone",
    "crew_blank_watcher": "Who is watching the clock",
    "crew_blank_watcher_phone": "phone",
    "crew_blank_checks": "Check-in times",
    "crew_blank_radio": "Radio channel",
    "crew_blank_crew": "On the job today",
    "crew_blank_crew_phones": "phones",
    "crew_bleeding": (
        "Bleeding kit on the person, not in the truck: pressure dressing and tourniquet, "
        "where either hand reaches them."
    ),
    "crew_alone": (
        "Working alone: {source} asks for another person within sight or hearing. Do not fell "
        "or winch without check-in times and somebody who comes when one is missed."
    ),
    "crew_hazards": "Dangers that were given for this ground: {hazards}. There may be others.",
    "crew_hazards_way_in": "Over or across the way in: {hazards}; lower what is raised.",
    "crew_hazards_none": (
        "No wires, pipes, wells or other dangers were given for this ground: that means not "
        "checked, not none."
    ),
    "crew_hazard_tree_one": "1 hazard tree",
    "crew_hazard_tree_many": "{count} hazard trees",
    # maps
    "crew_map": "{area}: crew map",
    "crew_map_detail": "{area}: detail sheet {sheet}",
    "crew_map_numbers": "All numbers and names: detail sheets {sheets}",
    "crew_map_scale": "1 : {scale} on {paper} paper",
    "crew_map_scale_feet": "{scale}: 1 in = {feet} ft",
    "crew_paper_letter": "letter",
    "crew_paper_a4": "A4",
    "crew_map_grid": "grid crosses every {step} m",
    "crew_map_declination": "declination ____ date ____",
    "crew_map_station": "station every {step}",
    "crew_map_station_between": "station every {each}, a number every {step}",
    "crew_map_number": "123: number painted on a tree",
    "crew_map_number_species": "123 RM: tree number, species",
    "crew_map_hazard_tree": "hazard tree",
    "crew_map_ring": "keep off: hazard tree, not marked",
    "crew_map_danger": "wire or other danger",
    "crew_map_hold": "{tree} HOLD",
    "crew_map_why": "{tree}: {why}",
    "crew_map_why_beyond_reach": "too far",
    "crew_map_why_pull_angle": "angle too wide",
    "crew_map_why_load_above": "load above winch",
    "crew_map_why_parking": "no level place",
    "crew_map_why_no_turning": "no turning near",
    "crew_map_why_corridor": "no clear way",
    "crew_map_why_blocked_by_water": "water in the way",
    "crew_map_why_too_heavy": "too heavy",
    "crew_map_why_not_worth_it": "takes too much ground",
    "crew_map_why_no_trail": "no trail near",
    "crew_map_why_outside": "outside stand",
    "crew_map_species": "Species: {letters}.",
    "crew_map_bare": "What is not beside a tree's number, as its species, is in the list.",
    "crew_map_first": "{tree} {kind}: cut first",
    "crew_map_off": "{tree} {kind}: keep {distance} off",
    "crew_map_reach": "{thing}: {trees}, {first} first",
    "crew_map_near_one": "1 tree near",
    "crew_map_near_many": "{count} trees near",
    "crew_map_first_wire": "utility drops it",
    "crew_map_first_house": "clear it",
    "crew_map_first_road": "stop traffic",
    "crew_map_first_public_trail": "close it",
    "crew_map_first_other": "ask its owner",
    "crew_map_detail_edge": "edge of a detail sheet",
    "crew_map_downhill": "arrow on a trail: downhill",
    "crew_map_beyond": "HAZARD TREES near, off this sheet: {trees}",
    "crew_map_ring_first": "keep off until it lies: hazard tree, cut first",
    "crew_map_no_room_hazard": "No room for the name of danger {names}: see its triangle or line.",
    "crew_map_no_room_station": "A stroke without a number: count from the next one that has it.",
    "crew_map_grades": (
        "12 % down: downhill loaded. 5 % up: uphill loaded. Each at the steepest there."
    ),
    "crew_map_grade_of": "{trail} {grade}",
    "crew_map_ungraded": "Some stretches have no grade here: see the flagging sheet.",
    "crew_map_unnamed": (
        "Not every position, turning place and grade has room for its name here: see the detail "
        "sheets."
    ),
    "crew_map_no_room": "No room for the name of {names}: its place is on the flagging sheet.",
    "crew_map_lines": "Lines are not a survey; the property line may be {error} off{edge}.",
    "crew_map_stand_counts": " (none was drawn: the stand's edge counts as it)",
    "crew_map_dot": "{shift}A phone dot may lie {dot} off under trees.",
    "crew_map_datum": (
        "Phones use WGS84, this map {datum}: for that alone a dot may lie {off} off (from memory, "
        "unverified). "
    ),
    "crew_datum_us": "3 to 7 ft",
    "crew_datum_metric": "1 to 2 m",
    "crew_dot_us": "15 to 40 ft",
    "crew_dot_metric": "5 to 12 m",
    "crew_tile": "sheet {sheet}",
    "crew_grade_full_down": "{size} downhill loaded",
    "crew_grade_full_up": "{size} uphill loaded",
    "crew_stop_title": "STOP WORK, put in bars, go home:",
    "crew_stop_1": "ruts over {depth} deep for over {length}",
    "crew_stop_2": "mud moving",
    "crew_stop_3": "water running in the track",
    "crew_stop_4": "rain due",
    "crew_stop_5": "thaw",
    "crew_stop_6": "ice on the ground or the wood",
    "crew_stop_7": "wind moving the tops",
    "crew_stop_ground": "ground no longer {ground}, as planned for",
    # flagging sheet
    "crew_flagging": "Flagging sheet",
    "crew_flagging_how": (
        "Start at the landing and walk outward. Each row leads from the station before it to the "
        "one it names (every {step} along the trail, more on bends): grid bearing, straight level "
        "distance, mean grade (from {steep} on the steepest {pitch}), and what gets a ribbon on "
        "the way, each after its station. Down = downhill loaded, up = uphill loaded, toward the "
        "landing; most = the steepest {pitch}, as on maps and strips; a shorter row may be "
        "steeper. Left and right look outward. S5 left: spur S5 leaves to the left. W5: winch "
        "position; rear: where the tractor's rear points if parked off the line; W5!: see Take "
        "care here, after the trails. Bar left: water bar, outlet on the left, built when "
        "its section is finished; BAR: put in before every shutdown or rain as well; bar ?: find "
        "the outlet on the ground.{drains} Stem: an unmarked tree in the way, cut only with the "
        "owner's mark. Where the line does not fit the ground, flag it where it does and plan "
        "again from there."
    ),
    "crew_flagging_dip": " Dip: shape it before loads pass.",
    "crew_flagging_grade_break": (" Low: a low point that drains by itself, keep its outlet open."),
    "crew_north": ("Bearings are grid degrees; {turned}. {magnetic}"),
    "crew_north_short": "Bearings are grid. True: {true}. By compass: {compass}.",
    "crew_north_unknown": "how grid north lies against true north is not known here",
    "crew_north_true": "grid north is true north here",
    "crew_north_east": "grid north lies {size} degrees east of true north here",
    "crew_north_west": "grid north lies {size} degrees west of true north here",
    "crew_stops": "STOP: settle these before anything else",
    "crew_leg_to": "to",
    "crew_leg_bearing": "grid",
    "crew_leg_level": "level",
    "crew_leg_grade": "loaded",
    "crew_leg_ribbons": "ribbons",
    "crew_from_landing": "{trail}: from landing {landing}, {length} long, {width} wide",
    "crew_from_trail": ("{trail}: leaves {parent} at {at} {side}, {length} long, {width} wide"),
    "crew_start": "Station 0 is at {places}",
    "crew_start_landing": "{paces} paces {bearing} from the middle of landing {landing}",
    "crew_start_gate": "{distance} {bearing} from the gate, straight",
    "crew_continued": "{trail}, continued",
    "crew_care": "Take care here",
    "crew_care_how": (
        "Landings and winch positions marked ! above, and what can hurt somebody there. A place "
        "that is not listed still needs your own eyes."
    ),
    "crew_care_continued": "Take care here, continued",
    "crew_care_at": "{trail}\N{NO-BREAK SPACE}{at}",
    "crew_care_stretch": "! at {at}",
    "crew_care_stretch_to": "! {at}\N{EN DASH}{to}",
    "crew_ribbon_care": "{position}!",
    "crew_fixed": ", on the ground already",
    "crew_between": " \N{MIDDLE DOT} ",
    "crew_grade_down": "{size} down",
    "crew_grade_up": "{size} up",
    "crew_grade_level": "level",
    "crew_grade_unknown": "not known",
    "crew_steepest": "most {grade}",
    "crew_ribbon_junction_left": "{trail}\N{NO-BREAK SPACE}left",
    "crew_ribbon_junction_right": "{trail}\N{NO-BREAK SPACE}right",
    "crew_ribbon_swung": "{position}\N{NO-BREAK SPACE}rear\N{NO-BREAK SPACE}{rear}",
    "crew_ribbon_turn_landing": "{place} turning on the landing",
    "crew_ribbon_small_landing": "small\N{NO-BREAK SPACE}landing",
    "crew_ribbon_small_landing_turn": (
        "small\N{NO-BREAK SPACE}landing, turning\N{NO-BREAK SPACE}place\N{NO-BREAK SPACE}of"
        "\N{NO-BREAK SPACE}the\N{NO-BREAK SPACE}trailer"
    ),
    "crew_ribbon_trailer_turn": (
        "turning\N{NO-BREAK SPACE}place\N{NO-BREAK SPACE}of\N{NO-BREAK SPACE}the"
        "\N{NO-BREAK SPACE}trailer"
    ),
    "crew_ribbon_turn_pad": "{place}\N{NO-BREAK SPACE}turning\N{NO-BREAK SPACE}pad",
    "crew_ribbon_turn_y": "{place}\N{NO-BREAK SPACE}turning\N{NO-BREAK SPACE}Y",
    "crew_ribbon_turn_loop": "{place}\N{NO-BREAK SPACE}turning\N{NO-BREAK SPACE}loop",
    "crew_ribbon_bar_left": "bar\N{NO-BREAK SPACE}left",
    "crew_ribbon_bar_right": "bar\N{NO-BREAK SPACE}right",
    "crew_ribbon_bar_unknown": "bar\N{NO-BREAK SPACE}?",
    "crew_ribbon_early_left": "BAR\N{NO-BREAK SPACE}left",
    "crew_ribbon_early_right": "BAR\N{NO-BREAK SPACE}right",
    "crew_ribbon_early_unknown": "BAR\N{NO-BREAK SPACE}?",
    "crew_ribbon_dip_left": "dip\N{NO-BREAK SPACE}left",
    "crew_ribbon_dip_right": "dip\N{NO-BREAK SPACE}right",
    "crew_ribbon_dip_unknown": "dip\N{NO-BREAK SPACE}?",
    "crew_ribbon_grade_break_left": "low\N{NO-BREAK SPACE}left",
    "crew_ribbon_grade_break_right": "low\N{NO-BREAK SPACE}right",
    "crew_ribbon_bench_starts": "bench starts",
    "crew_ribbon_bench_ends": "bench ends",
    "crew_ribbon_strip_here": "EDGE OF WATER STRIP crosses",
    "crew_ribbon_strip_near": "edge of water strip {distance} {side}",
    "crew_ribbon_landing": "EDGE OF LANDING",
    "crew_ribbon_rub_marked": "{rub}\N{NO-BREAK SPACE}={tree}\N{NO-BREAK SPACE}{side}",
    "crew_ribbon_rub_proposed": "{rub}\N{NO-BREAK SPACE}={tree}?\N{NO-BREAK SPACE}{side}",
    "crew_ribbon_rub_bumper": "{rub}\N{NO-BREAK SPACE}log\N{NO-BREAK SPACE}{side}",
    "crew_ribbon_rub_look": "{rub}\N{NO-BREAK SPACE}rub\N{NO-BREAK SPACE}{side}",
    "crew_ribbon_stem": "stem\N{NO-BREAK SPACE}{tree}",
    # list of marked trees
    "crew_trees": "Marked trees",
    "crew_trees_how": (
        "Go to the station on the trail, look outward from the landing, and pace to the side "
        "named, along the grid bearing. 1 pace = one single step of {pace} (common practice, no "
        "source): count your own over {over} and correct. Tick the box only when painted number, "
        "species and DBH match; if they do not, leave it and ask. No box: not to be cut as it "
        "stands; its row says why. Lay: grid bearing in which the tip might fall, a suggestion; "
        "the faller decides at the stump; none: none is suggested, its row says why. Where a row "
        "says nothing of lean, the lean is not known: look up. Tight, doubtful: it may "
        "stand out of reach, at the least as often as said; no word: 1 in 20 at most."
    ),
    "crew_keep_off": (
        "While a tree is felled, the tractor and everyone but the faller stay two tree lengths "
        "off: {distance} for the tallest one marked here."
    ),
    "crew_lay_none": "none",
    "crew_none_reached": "No marked tree is reached.",
    "crew_col_number": "no.",
    "crew_col_what": "DBH",
    "crew_species_key": "Letters before the DBH: {letters}.",
    "crew_tree_dbh": "DBH {dbh} {unit}",
    "crew_col_at": "trail, {unit}",
    "crew_col_way": "paces, grid",
    "crew_col_position": "winch",
    "crew_col_lay": "lay",
    "crew_way": "{paces} {side} {bearing}",
    "crew_way_plain": "{paces}, {bearing}",
    "crew_way_on": "in the trail",
    "crew_hazard_trees": "Hazard trees: before all else",
    "crew_first": "Marked, CUT FIRST, before any other work near them: {trees}.",
    "crew_off_sheet": "not on this map: see the map of the whole",
    "crew_held": "Marked, but HOLD: not to be cut as they stand",
    "crew_reached": "Marked and reached",
    "crew_missed": "Marked, NOT reached: no rope is pulled to these",
    "crew_why": "{why}. First remedy: {first}.{other}",
    "crew_or_else": " Otherwise: {remedy}.",
    "crew_leave_it": "leave it standing",
    # stand sheet
    "crew_stand": "Stand sheet",
    "crew_stand_how": (
        "What stands, what is taken and what is left. All of it is estimates; heights are "
        "estimated where not measured. It gives nobody leave to cut: the list of marked trees and "
        "the paint do."
    ),
    "crew_widest": "Widest opening made, trails and landing counted: about {across} across.",
    "crew_products": "Marked trees by kind; sawlogs in board feet, {rule}",
    "crew_products_cubic": "Marked trees by kind; sawlogs in cubic measure",
    "crew_col_logs": "sawlogs",
    "crew_col_logs_short": "logs",
    "crew_col_net": "net bf",
    "crew_col_net_us": "net cu ft",
    "crew_col_net_metric": "net m³",
    "crew_col_small": "small wood",
    "crew_col_small_us": "cords",
    "crew_col_small_metric": "m³",
    "crew_col_ton_us": "tons",
    "crew_col_ton_metric": "t",
    "crew_whole_log": "stems",
    "crew_whole_tree": "trees",
    "crew_weights_log": "Weights are green, in {ton}. Stems: whole, ground to tip, as winched.",
    "crew_weights_tree": "Weights are green, in {ton}. Trees: whole, with their crowns.",
    "crew_ton_us": "short tons of 2,000 lb",
    "crew_ton_metric": "tonnes",
    "crew_solid": "Small wood is solid wood: no stacking factor is in it.",
    "crew_not_known": "What cannot be known, or is estimated",
    "crew_least": "Trees under {least} DBH were not listed and are in no figure.",
    "crew_estimates": (
        "{measured} of {count} heights were measured. Any other height, and all wood, weights and "
        "crowns, are estimates."
    ),
    "crew_by_tree": "Tree by tree; board feet, {rule}",
    "crew_by_tree_cubic": "Tree by tree; cubic measure",
    "crew_by_tree_list": "In the order of the list of marked trees.",
    "crew_by_tree_number": (
        "By number; which sheet has a tree, and whether it has a box there, say the lists of the "
        "sheets."
    ),
    "crew_by_tree_how": (
        "* height estimated; ? DBH not known. A tree that has no box in its list is not to be cut "
        "as it stands."
    ),
}
