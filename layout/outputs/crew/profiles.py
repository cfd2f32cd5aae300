"""The trails seen from the side, as many strips to a page as find room."""

from __future__ import annotations

from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from layout.outputs.crew import listing, profile_strip
from layout.outputs.crew.finding import walking_order
from layout.outputs.crew.profile_strip import AFTER_PT, PT_A_M, SCALE, Strip
from layout.outputs.crew.sheet import LEADING, MARGIN_PT, PAPER_IN, PT_AN_INCH, Sheet, wrap
from layout.outputs.words import say
from layout.speech import speak_length
from layout.units import FOOT_M, Units

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan import Plan

SHORTEST_M: dict[Units, float] = {"us": 100 * FOOT_M, "metric": 30.0}  # shorter: not drawn; ours
TITLE_SIZE_PT, HOW_PT = 15.0, 8.0
TOP_PT = 46.0
GAP_PT = 5.0

Placed = tuple[Strip, float, float]


def pages(plan: Plan, from_pt: float = 0.0) -> list[Callable[[Sheet], None]]:
    """Lay the profiles out.

    Parameters
    ----------
    plan : Plan
        The plan.
    from_pt : float
        Where on the first page they begin, points from its upper edge.

    Returns
    -------
    list of callable
        One for each page; each draws it on a sheet, upright. None where every trail is short,
        or where not even the first strip has room below `from_pt`.
    """
    inner = PAPER_IN[plan.area.settings.outputs.paper][0] * PT_AN_INCH - 2 * MARGIN_PT
    how = wrap(_how(plan), inner, HOW_PT)
    first = from_pt + TOP_PT + HOW_PT * LEADING * len(how)
    floor = listing.floor_pt(plan)
    placed: list[list[Placed]] = []
    y = first
    for row in _rows(plan, _strips(plan, inner), inner):
        tall = max(profile_strip.height_pt(plan, strip) for strip in row) + GAP_PT
        if from_pt and not placed and first + tall > floor:
            return []
        if not placed or y + tall > floor:
            placed.append([])
            y = first if len(placed) == 1 else TOP_PT
        x = MARGIN_PT
        for strip in row:
            placed[-1].append((strip, x, y))
            x += profile_strip.width_pt(plan, strip)
        y += tall
    return [
        partial(
            _draw,
            plan=plan,
            strips=strips,
            how=[] if number else how,
            top_pt=TOP_PT if number else from_pt + TOP_PT,
        )
        for number, strips in enumerate(placed)
    ]


def _rows(plan: Plan, strips: list[Strip], inner_pt: float) -> list[list[Strip]]:
    """Set strips beside each other; a short one fills what an earlier row has left."""
    rows: list[list[Strip]] = []
    left: list[float] = []  # of each row
    for strip in strips:
        wide = profile_strip.width_pt(plan, strip)
        row = next((n for n, room in enumerate(left) if wide <= room), None)
        if row is None:
            rows.append([strip])
            left.append(inner_pt + AFTER_PT / 2 - wide)
        else:
            rows[row].append(strip)
            left[row] -= wide
    return rows


def _how(plan: Plan) -> str:
    """Say how to read the strips, and that short trails have none."""
    units = plan.area.settings.area.units
    shortest = SHORTEST_M[units]
    short = any(trail.line.length < shortest for trail in plan.trails)
    left = say("crew_profiles_short", length=speak_length(shortest, units)) if short else ""
    return say("crew_profiles_how", scale=SCALE, short=left)


def _strips(plan: Plan, inner_pt: float) -> list[Strip]:
    """Give the strips in the order of walking; a trail longer than the paper is cut evenly."""
    most_m = (inner_pt - profile_strip.edge_pt(plan) - AFTER_PT) / PT_A_M
    made = []
    for trail in walking_order(plan):
        length = trail.line.length
        if length < SHORTEST_M[plan.area.settings.area.units]:
            continue
        parts = int(-(-length // most_m))
        ends = [length * k / parts for k in range(parts + 1)]
        made += [Strip(trail, a, b) for a, b in pairwise(ends)]
    return made


def _draw(sheet: Sheet, plan: Plan, strips: list[Placed], how: list[str], top_pt: float) -> None:
    """Draw one page."""
    sheet.text(MARGIN_PT, top_pt - 10, say("crew_profiles"), TITLE_SIZE_PT, fontweight="bold")
    for number, line in enumerate(how):
        sheet.text(MARGIN_PT, top_pt + 4 + HOW_PT * LEADING * number, line, HOW_PT)
    for strip, x, y in strips:
        profile_strip.draw(sheet, plan, strip, x, y)
