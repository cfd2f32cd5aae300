"""Words of the order of work, a line for each step."""

from collections.abc import Mapping

WORK_LINES: Mapping[str, str] = {
    "step_done_flag": "Done: trails walked and flagged",
    "step_done_open": "Done: {trail} opened",
    "step_done_close": "Done: {trail} closed",
    "step_place": "{trail}\N{NO-BREAK SPACE}at\N{NO-BREAK SPACE}{at}",
    "step_on_landing": "the landing",
    "step_on_landing_of": "landing {landing}",
    "step_loads_one": "load {names}",
    "step_loads_many": "loads {names}",
    # before the harvest
    "step_flag_all": "Walk and flag every trail before anything is cut",
    "step_flag_some": "Walk and flag {trails} before anything is cut; the others are flagged",
    "step_hazards": (
        "Hazard trees first, before any other work near them: {trees}; all others two tree "
        "lengths off"
    ),
    "step_hazards_waiting": "Hazard trees first, before any other work near them: {trees}",
    "step_open_main": "Open {trail} from the landing, {length}",
    "step_open_spur": "Open {trail} from {place}, {length}",
    "step_open_again": "Open {trail} again, {length}: it was closed",
    "step_open_rest": "Take out the stems left in {trail}",
    "step_open_landing": "Clear the landing",
    "step_open_landing_of": "Clear landing {landing}",
    "step_flag_of": "Walk and flag {trails} before anything is cut round landing {landing}",
    "step_open_stems": "{what}; stems out as they fall: {trees} ({loads})",
    # harvest
    "step_fell": "{position}, {place}: fell {trees}",
    "step_fell_one_by_one": "{position}, {place}: fell and winch one at a time, {trees}",
    "step_fell_here": "{place}: fell {trees}",
    "step_wait": "{what}; tractor and all others wait at {place} (two tree lengths, {reach})",
    "step_wait_nowhere": (
        "{what}; tractor and all others go right off the trails (two tree lengths, {reach})"
    ),
    "step_winch": "{position}: winch {trees}, load by load",
    "step_winch_one_by_one": "{position}: each winched before the next is felled, {trees}",
    "step_haul": "Haul {loads} in from {place}",
    "step_haul_landing": "On the landing already: {loads}",
    "step_rub": (
        "Rub trees no other load will pass: fell, winch and haul {trees} ({loads}), far ones first"
    ),
    "step_rub_later": "Rub trees no other load will pass: fell and winch {trees}, far ones first",
    # a trailer from a small landing
    "step_hold": "{what}. HOLD, see the marked trees: {trees}",
    "step_to_small": "{what}, to the small landing",
    "step_some_to_small": "{what}; of these to the small landing: {names}",
    "step_small_open": "Small landing, {place}: clear and level it",
    "step_small_stems": "{what}; stems on it that are not marked: {trees} (the owner decides)",
    "step_small_turn": "{what}; turning place of tractor and trailer {place}",
    "step_small_turn_here": "on it",
    "step_carry_one": "Trailer takes the wood of the small landing on: trip {trip}",
    "step_carry_many": "Trailer takes the wood of the small landing on: trips {first} to {last}",
    "step_small_close": (
        "Small landing: bark and slash off, ruts smoothed, water led off, bare soil covered"
    ),
    # after it
    "step_close": "Close {trail} from its far end in: ruts smoothed, {bars}brush laid",
    "step_close_bars_one": "1 water bar, ",
    "step_close_bars_many": "{count} water bars, ",
    "step_close_proposed": "{what}; rub tree {tree}: cut only if the owner marked it, else noted",
    "step_close_shut": "{what}; not driven again",
    "step_landing": "Landing last: wood out, ruts smoothed, water led off, bare soil covered",
    "step_landing_of": (
        "Landing {landing} last of its part: wood out, ruts smoothed, water led off, bare soil "
        "covered"
    ),
}
