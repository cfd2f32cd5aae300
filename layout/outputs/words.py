"""Every word the outputs say, in one catalogue.

Outputs hold no sentence of their own: they ask for one by its key, so that
wording is judged and translated in one place. Trees' reasons are told as what
stands in the way, never as leave to do something.
"""

from collections.abc import Mapping

ENGLISH: Mapping[str, str] = {
    # said on every sheet
    "not_walked": "Not walked and flagged = not ready.",
    "not_permission": (
        "A plan, not permission: local law, your own eyes and licensed advice decide."
    ),
    "no_rule": "NO LOCAL RULE CHOSEN for water strips",
    "unverified_rule": "Water strip rule unverified \N{EN DASH} check local rule",
    "best_found": "This is the best found among the lines tried, not the only way to lay it out.",
    "out_of_time": (
        "The search was cut short by its time limit: a longer run may reach more trees with "
        "less ground. Raise time_limit under [objective], or run it with nothing else running."
    ),
    # about table
    "azimuths": "degrees clockwise from grid north of this file's coordinate system",
    "grades": "percent in the loaded direction, toward the landing: + uphill, - downhill",
    "line_direction": "trail lines run from their landing end outward",
    # tree status
    "status_served": "reached",
    "status_leave": "stays, not marked",
    "status_beyond_reach": "farther than the rope reaches",
    "status_pull_angle": "rope angle wider than the limit",
    "status_load_above": "load would lie above the winch",
    "status_parking": "no parking place level enough in reach",
    "status_no_turning": "no turning place near enough",
    "status_corridor": "no clear way for the stem",
    "status_blocked_by_water": "water or its strip in the way",
    "status_too_heavy": "too heavy for winch or tractor",
    "status_not_worth_it": "takes more ground than the price set for a tree",
    "status_no_trail": "no trail within the limits comes near",
    "status_outside": "outside the stand",
    "status_done": "cut and out already",
    "sure_sure": "sure",
    "sure_tight": "tight",
    "sure_doubtful": "doubtful",
    # closing summary
    "served": "{area}: {served} of {marked} marked trees are reached ({sureness}).",
    "none_marked": "{area}: no tree of the list is marked to be cut.",
    "unserved_one": "1 marked tree is not reached. First remedy: leave it standing.",
    "unserved": "{count} marked trees are not reached. First remedy for each: leave it standing.",
    "reason": "  {count:>4}  {why}{next}",
    "next_remedy": " (else: {remedy})",
    "trail_lengths": "Trail: {main} of main trail, {spur} in {spurs}.",
    "no_trail": "Trail: none.",
    "benches": (
        "New bench to dig: {length}, {cut} cut and {fill} filled; bank and fill take {ground} more."
    ),
    "places": "{positions} and {turnings}.",
    "ground": "Ground disturbed by trails and turning places: {share} of the stand",
    "ground_aim": " (aim {aim}, limit {limit})",
    "ground_landing": "; {share} with the landing.",
    "steepest": "Steepest: {grades}.",
    "downhill_loaded": "{size} downhill loaded ({place})",
    "uphill_loaded": "{size} uphill loaded ({place})",
    "cross_slope": "{size} across ({place})",
    "place": "{trail} at {at}",
    "findings": "Findings: {stops} stop, {cautions} caution, {unknowns} not checked.",
    "stop": "  STOP: {message}",
    "caution": "  Caution: {message}",
    "caution_alike": " (and {count} more of this kind)",
    "caution_unverified": " [limit unverified]",
    "more_cautions": "  … and {count} more cautions, listed in the findings layer of plan.gpkg.",
    "more_cautions_one": "  … and 1 more caution, listed in the findings layer of plan.gpkg.",
    "written": "Written to {folder}: {files}.",
    "done": "{count} marked trees are cut and out already.",
    "done_one": "1 marked tree is cut and out already.",
    "changes_trails": "Since the earlier plan, trails: {what}.",
    "changes_winch_positions": "Since the earlier plan, winch positions: {what}.",
    "change_kept": "kept {names}",
    "change_moved": "same name on a new line {names}",
    "change_added": "new {names}",
    "change_retired": "gone, name not used again {names}",
    # counted things
    "spur_one": "1 spur",
    "spur_many": "{count} spurs",
    "position_one": "1 winch position",
    "position_many": "{count} winch positions",
    "turning_one": "1 turning place",
    "turning_many": "{count} turning places",
    # map
    "map_title": "{area}: overview of trails and winch positions",
    "map_served": "{served} of {marked} marked trees reached",
    "map_main": "main trail {length}",
    "map_spurs": "{spurs}, {length}",
    "map_ground": "ground disturbed {share} (limit {limit})",
    "map_findings": "{stops} stop, {cautions} caution",
    "map_landing": "landing {landing}",
    "map_legend": "What the marks mean",
    "map_scale": "About 1 : {scale:,} on letter paper",
    "map_grid_north": "grid north",
    "map_contours": "contour lines every {interval}",
    "map_stops": "{count} STOP findings: read them before anything else",
    "map_stops_one": "1 STOP finding: read it before anything else",
    "mark_stand": "edge of the stand",
    "mark_may_use": "other ground trails may use",
    "mark_water": "water",
    "mark_strip": "water strip: no machine",
    "mark_keep_out": "keep out",
    "mark_hazard": "hazard",
    "mark_existing": "old trail",
    "mark_road": "road",
    "mark_main": "main trail",
    "mark_spur": "spur, with its name",
    "mark_mouth": "where a spur leaves its trail",
    "mark_bench": "new bench to dig",
    "mark_position": "winch position",
    "mark_pull": "pull",
    "mark_served": "marked tree, reached",
    "mark_unserved": "marked tree, NOT reached",
    "mark_stem": "other stem of the list",
    "mark_in_trail": "unmarked stem in a trail",
    "mark_landing": "landing",
    "mark_turning": "turning place",
    "mark_bar": "water bar",
    "mark_stop": "place of a STOP finding",
    # legend of plan.gpkg, beyond the marks of the map
    "legend_down": "loaded downhill",
    "legend_up": "loaded uphill",
    "legend_level": "level",
    "legend_pull_sure": "pull, sure",
    "legend_pull_tight": "pull, tight: little rope to spare",
    "legend_pull_doubtful": "pull, doubtful: may not reach",
    "legend_in_trail": "stem in a trail or rub tree: the owner's mark is needed",
    "legend_caution": "place of a caution",
    "legend_unknown": "not checked",
    "legend_ok": "checked, within the limit you set",
    # what the marks of plan.gpkg look like
    "look_stand": "long dashes",
    "look_landing": "yellow, thick edge, ruled upright",
    "look_trails_main": "thickest black line",
    "look_trails_spur": "thinner black line, white edges",
    "look_trail_steps_down": "thin grey line",
    "look_trail_steps_up": "thin red line, dashed",
    "look_trail_steps_level": "dotted grey line",
    "look_winch_positions": "orange square, black edge",
    "look_pulls_sure": "thin violet line",
    "look_pulls_tight": "thin violet line, dashed",
    "look_pulls_doubtful": "thin violet line, dotted",
    "look_trees_served": "filled green disc",
    "look_trees_other_status": "red cross",
    "look_trees_leave": "small grey ring",
    "look_trees_in_trail": "ring with a cross in it",
    "look_water_strips": "blue, ruled slantwise",
    "look_turning_places": "pale violet, thin edge",
    "look_water_bars": "dark blue bar",
    "look_findings_stop": "red octagon",
    "look_findings_caution": "hollow amber triangle",
    "look_findings_unknown": "hollow black diamond",
    "look_findings_ok": "small grey dot",
    "hazard_wire": "wire",
    "hazard_pipe": "pipe",
    "hazard_well": "well",
    "hazard_road": "road",
    "hazard_house": "house",
    "hazard_public_trail": "public trail",
    "hazard_fence": "fence",
    "hazard_wall": "wall",
    "hazard_ledge": "ledge",
    "hazard_sinkhole": "sinkhole",
}


def say(key: str, **values: object) -> str:
    """Give one sentence or label of the outputs.

    Parameters
    ----------
    key : str
        Its name in the catalogue.
    **values : object
        What its places are filled with.

    Returns
    -------
    str
        The words.

    Raises
    ------
    KeyError
        If the catalogue has no such key, or a place is left unfilled.

    Examples
    --------
    >>> say("spur_many", count=7)
    '7 spurs'
    """
    return ENGLISH[key].format(**values)


def counted(thing: str, count: int) -> str:
    """Say how many of a thing there are, in the singular or plural.

    Examples
    --------
    >>> counted("position", 1)
    '1 winch position'
    """
    return say(f"{thing}_one") if count == 1 else say(f"{thing}_many", count=count)
