"""Words of the crew's sheets of the work: order of work, start-of-day talk, rub trees."""

from collections.abc import Mapping

CREW_WORK: Mapping[str, str] = {
    # order of work
    "crew_work": "Order of work",
    "crew_work_how": (
        "From the first box to the last, in this order. The box before a winch position: its "
        "trees are felled and winched, {style}. The box before a load: it lies on the landing. "
        "After a load's number stand its trees; (1) is the piece at the butt, (2) the next; "
        "? = weight not known. Wait: where tractor and everybody but the faller stay while its "
        "trees are felled, two tree lengths off. At most: the heaviest load for its whole way, "
        "estimated, rounded down; in brackets what sets it, and where. Take less wherever it "
        "slips, lifts or tilts. Heavier pieces are cut shorter, as said at their line. A phone's "
        "names begin with a trail's number, 00 before the harvest. Note done loads and trees in "
        "progress.csv and plan again."
    ),
    "crew_work_apart": (
        "Where trees are felled and no place to wait is named (opening trails, rub trees), "
        "everybody but the faller keeps two tree lengths off, the tractor too: {off} for the "
        "tallest marked here, farther on a slope."
    ),
    "crew_work_style_tree": "one tree after the other",
    "crew_work_style_group": "all felled first, then winched",
    "crew_work_hours": "All of it: about {hours}, {days} of {day} h, never a promise.",
    "crew_work_days": "{low} to {high} days",
    "crew_work_range": "{low} to {high} h",
    "crew_work_short": "under {high} h",
    "crew_work_small_landing": (
        "Loads marked (small) end at the small landing, {place}: their box means they lie there. "
        "The trailer takes their wood on. All other loads go to the landing."
    ),
    "crew_work_small_lying": (
        "On the small landing, unless the trailer has taken them on already: loads {loads}."
    ),
    "crew_work_small": "small landing",
    "crew_work_small_at": "{place}, when its trail is open;",
    "crew_work_small_cleared": "cleared and level",
    "crew_work_small_turn": "tractor and trailer: room to come round at {place}",
    "crew_work_small_stems": "stems on it, not marked: {trees}, the owner decides",
    "crew_work_carry": "trailer",
    "crew_work_trip": "trip\N{NO-BREAK SPACE}{trip}",
    "crew_work_small_close": "close small landing",
    "crew_work_small_bark": "wood, bark, slash off",
    "crew_work_small_ruts": "ruts smoothed",
    "crew_work_small_water": "water led off",
    "crew_work_small_cover": "bare soil covered",
    "crew_work_done": "Done already: {what}.",
    "crew_work_done_loads": "loads {loads}",
    "crew_work_done_trees": "trees {trees}",
    "crew_work_done_trails": "trails closed {trails}",
    "crew_work_retired": "Load numbers no longer used: {loads}.",
    "crew_work_col_place": "winch",
    "crew_work_col_what": "trees, where the tractor waits, loads",
    "crew_work_part_flag": "{number}. Ribbons",
    "crew_work_part_hazard": "{number}. Hazard trees, before any other work near them",
    "crew_work_part_open": "{number}. Open trails, near to far, stems out",
    "crew_work_part_harvest_far": "{number}. Harvest, far to near, one trail after the other",
    "crew_work_part_harvest_near": "{number}. Harvest, near to far, one trail after the other",
    "crew_work_part_from": "{part} — landing {landing}",
    "crew_work_part_own": "{number}. Landing {landing}, last of its part",
    "crew_work_part_landing": "{number}. Landing, last of all",
    "crew_work_landing": "Landing",
    "crew_work_here": "fell",
    "crew_work_again": "{trail}, continued",
    "crew_work_most": "at most {load} ({by}, {place})",
    "crew_work_most_level": "at most {load} ({by}, on the level)",
    "crew_work_most_plain": "at most {load}",
    "crew_work_most_unknown": "heaviest load not known: start with little",
    "crew_work_most_short": "at\N{NO-BREAK SPACE}most\N{NO-BREAK SPACE}{load};",
    "crew_work_by_traction": "wheels slip",
    "crew_work_by_front_axle": "front lifts",
    "crew_work_by_engine": "engine power",
    "crew_work_by_lift": "three-point lift",
    "crew_work_by_braking": "brakes",
    "crew_work_by_runaway": "load runs on",
    "crew_work_by_machine_share": "2/3 of the outfit",
    "crew_work_place": "{trail}\N{NO-BREAK SPACE}{at}",
    "crew_work_wait": "wait {place};",
    "crew_work_wait_landing": "wait landing;",
    "crew_work_wait_nowhere": "wait off the trails;",
    "crew_work_fell": "fell {trees};",
    "crew_work_winch": "winch {trees};",
    "crew_work_trees": "{trees};",
    "crew_work_load": "{load}: {trees}",
    "crew_work_load_small": "{load}\N{NO-BREAK SPACE}(small): {trees}",
    "crew_work_piece": "{tree}\N{NO-BREAK SPACE}({pieces})",
    "crew_work_cut": " (cut {lengths} lengths)",
    "crew_work_hold": "{tree} HOLD: see the marked trees",
    "crew_work_down": "\N{NO-BREAK SPACE}(down)",
    "crew_work_cut_none": " (no piece light enough: leave it standing)",
    "crew_work_rub": "rub",
    "crew_work_rub_tree": "{tree} ({rub}, {place}\N{NO-BREAK SPACE}{side}){to};",
    "crew_work_rub_to": " to\N{NO-BREAK SPACE}{position}",
    "crew_work_rub_all": "rub trees of {trail}",
    "crew_work_close": "close {trail}",
    "crew_work_close_ruts": "ruts smoothed",
    "crew_work_close_bars_one": "1 bar",
    "crew_work_close_bars_many": "{count} bars",
    "crew_work_close_brush": "brush laid",
    "crew_work_lay_log": "{rub}: lay a log at {place}, {side}",
    "crew_work_close_bumper": "{rub} log out",
    "crew_work_close_look": "{rub} cut or noted",
    "crew_work_close_proposed": "{rub}, tree {tree}: cut if the owner marked it",
    # start-of-day talk
    "crew_talk": "Start-of-day talk",
    "crew_talk_how": (
        "Read it out before the first engine starts, every day and after every change. Fill in, "
        "tick, sign. Local law and licensed training go before anything here."
    ),
    "crew_talk_date": "Date",
    "crew_talk_weather": "weather, ground",
    "crew_talk_today": "Today's trails and winch positions",
    "crew_talk_next": "As planned, the order of work goes on with: {boxes}.",
    "crew_talk_and_so_on": "{boxes} and so on",
    "crew_talk_box_flag": "ribbons",
    "crew_talk_box_hazard": "hazard trees{trees}",
    "crew_talk_box_open": "open\N{NO-BREAK SPACE}{trail}",
    "crew_talk_box_small": "small landing",
    "crew_talk_box_carry": "trailer trips",
    "crew_talk_box_harvest": "harvest\N{NO-BREAK SPACE}{trail}",
    "crew_talk_box_close": "close\N{NO-BREAK SPACE}{trail}",
    "crew_talk_box_landing": "tidy and close the landing",
    "crew_talk_trail": "trail",
    "crew_talk_positions": "positions",
    "crew_talk_who": "Who does what",
    "crew_talk_fells": "fells",
    "crew_talk_winches": "winches",
    "crew_talk_drives": "drives",
    "crew_talk_first_aid": "first aid",
    "crew_talk_kit": "bleeding kit on each person, emergency sheet filled in",
    "crew_talk_apart": (
        "While one fells, nobody winches or works within two tree lengths ({off} for the "
        "tallest marked here), farther on a slope, and nobody stands below."
    ),
    "crew_talk_checks": "Check-ins",
    "crew_talk_every": "every {minutes} min with",
    "crew_talk_phone": "phone",
    "crew_talk_first": "first at",
    "crew_talk_missed": (
        "One missed: the watcher calls. No answer: the watcher acts as the emergency sheet says."
    ),
    "crew_talk_alone": (
        "Alone: no felling and no winching when the watcher cannot be reached, or out of signal."
    ),
    "crew_talk_signals": "Signals",
    "crew_talk_channel": "radio channel",
    "crew_talk_hand": "Shown and shown back:",
    "crew_talk_hand_1": "pull",
    "crew_talk_hand_2": "slack",
    "crew_talk_hand_3": "stop",
    "crew_talk_hand_4": "come",
    "crew_talk_hand_5": "help",
    "crew_talk_signal_1": "Nothing moves until the signal is received and repeated.",
    "crew_talk_signal_2": "Anyone's stop is stop. Not seen, not heard or not understood is stop.",
    "crew_talk_stop": "Stop work when",
    "crew_talk_stop_more": "a tree hangs, a rope or hook is damaged, somebody is out of sight",
    "crew_talk_stand": "Where people stand",
    "crew_talk_stand_mechanical": (
        "Winch operator: about {side} to the side of the winch, off the rope's line, never in the "
        "seat."
    ),
    "crew_talk_stand_radio": (
        "Winch operator with radio: where load and rope are seen, off the rope's line, never "
        "below the load."
    ),
    "crew_talk_stand_follow": (
        "Whoever follows a load walks behind it; on uphill pulls behind it and to the side."
    ),
    "crew_talk_stand_never": (
        "Never between load and tractor, beside a short log, below a load, in the bight or over a "
        "tight rope."
    ),
    "crew_talk_stand_block": (
        "Never inside the angle of a snatch block: block, strap and tree carry up to twice the "
        "pull."
    ),
    "crew_talk_stand_back": (
        "Everyone else: one and a half rope lengths from a tight rope (unverified: sources differ)."
    ),
    "crew_talk_choke": "Choker work",
    "crew_talk_choke_1": "Choke from the uphill side or the end; chock what could roll first.",
    "crew_talk_choke_2": "Tractor stopped, rope slack. Step clear, then give the signal.",
    "crew_talk_choke_3": "Gloves, no loose clothing, hands off a moving rope.",
    "crew_talk_tractor": "Tractor, before starting",
    "crew_talk_not_confirmed": "STOP: {part} not confirmed",
    "crew_talk_part_rollover_frame": "rollover frame",
    "crew_talk_part_belt": "seat belt",
    "crew_talk_part_screen": "rear screen",
    "crew_talk_part_belly_guard": "belly guard",
    "crew_talk_part_front_ballast": "front ballast",
    "crew_talk_not_known": "{part}: not confirmed",
    "crew_talk_check_chains": "chains",
    "crew_talk_check_brakes": "brakes, both wheels",
    "crew_talk_check_rope": "rope, hooks, chokers",
    "crew_talk_check_plate": "butt plate down to winch",
    "crew_talk_check_plate_always": "plate dug in at EVERY pull, or tied back",
    "crew_talk_downhill": (
        "Downhill loaded: low gear before the slope, {drive}never clutch; trouble: lower the load."
    ),
    "crew_talk_downhill_four": "four-wheel drive in, ",
    "crew_talk_downhill_two": "rear brakes only, so less load, ",
    "crew_talk_sign": "Heard and understood",
    "crew_talk_name": "name",
    "crew_talk_signed": "signed",
    "crew_talk_sources": "After {titles}; where no source is named, common practice.",
    # foot
    "crew_alone_chip": "WORKING ALONE: check in every {minutes} min with {watcher}",
}
