"""Words of the crew's pages before the start, of trail profiles, of north and of translations."""

from collections.abc import Mapping

CREW_PAGES: Mapping[str, str] = {
    # of a book that is not in English
    "crew_translation": "",
    "crew_quoted": "{words}",
    # emergency sheet
    "crew_usng": "US National Grid (the same as MGRS): {grid}",
    # lists of a stand that one map shows
    "crew_lists_whole": "Lists",
    # lists of one detail sheet, and what holds for all of them
    "crew_lists": "Detail sheet {sheet}: lists",
    "crew_notes": "Notes",
    "crew_notes_how": (
        "What is otherwise on the ground than on the sheets: trail and station, or tree."
    ),
    "crew_lists_none": (
        "Nothing is listed for this sheet: what it shows is on the lists of the sheets beside it."
    ),
    "crew_lists_order": (
        "Not sheet by sheet: trails are opened and harvested in the order of the page Order of "
        "work. A number before a trail is its place in the harvest, counted over all sheets."
    ),
    "crew_lists_from": "{trail}, continued from {at}, sheet {sheet}",
    "crew_lists_to": "{trail} goes on from {at}: sheet {sheet}",
    "crew_lists_how": "How the lists are read",
    "crew_order_how": (
        "Tick from the first box to the last, in this order. In brackets: the detail sheet whose "
        "lists say what is done there."
    ),
    "crew_order_on": "{what}\N{NO-BREAK SPACE}({sheet})",
    "crew_work_block": "{number}\N{NO-BREAK SPACE}{trail}",
    # before the work starts
    "crew_before": "Before you start",
    "crew_before_how": (
        "Fill in what concerns this job and strike out the rest. Nothing here says what the law "
        "asks for: ask whoever is in charge of each."
    ),
    "crew_before_notice": "Harvest notice: to whom, date",
    "crew_before_permits": "Permits (water, crossings, roads): numbers",
    "crew_before_bond": "Road bond or agreement",
    "crew_before_utility": "Buried lines located: request, date",
    "crew_before_neighbours": "Neighbours told: who, when",
    "crew_before_line": "Property line looked at on the ground with",
    "crew_before_insurance": "Insurance: company, policy, ends",
    "crew_before_inspects": "Who inspects, and when",
    "crew_before_owner": "Owner: phone",
    "crew_before_trucker": "Trucker or buyer: phone",
    "crew_before_weather": "Who decides to stop for weather",
    "crew_before_spill": "Spill and fire kit: where it is",
    # which north
    "crew_north_blank": (
        "Magnetic declination: ________ on date ________ (write it in, and allow for it, before "
        "using a compass)."
    ),
    "crew_north_magnetic": (
        "Magnetic declination {declination}, from the settings: a compass reads the grid bearing "
        "{turn}. Check it for the present year."
    ),
    "crew_north_more": "plus {size}\N{DEGREE SIGN}",
    "crew_north_less": "minus {size}\N{DEGREE SIGN}",
    "crew_north_same": "as it is",
    "crew_declination_east": "{size}\N{DEGREE SIGN} east",
    "crew_declination_west": "{size}\N{DEGREE SIGN} west",
    "crew_map_declination_set": "declination {declination} (from settings)",
    # trail profiles
    "crew_profiles": "Trail profiles",
    "crew_profiles_how": (
        "Each trail seen from the side, from its landing end outward, 1 : {scale} along and up. "
        "Under it, step by step: grade in the loaded direction (up the paper = uphill, down = "
        "downhill), and slope across. Dotted: limit of long stretches; black: over it. Stroke "
        "under the ground: water bar. Triangle: a spur leaves. By the elevations: measure with a "
        "clinometer.{short}"
    ),
    "crew_profiles_short": " Trails shorter than {length} are not drawn.",
    "crew_profile_title": "{trail}: {length}",
    "crew_profile_grade": "grade",
    "crew_profile_cross": "across",
}
