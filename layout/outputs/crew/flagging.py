"""The flagging sheet: every trail, station by station, for whoever hangs the ribbons."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from layout.outputs import coordinates
from layout.outputs.amounts import grade
from layout.outputs.crew import listing, north
from layout.outputs.crew.columns import Cell, Row
from layout.outputs.crew.directions import bearing_deg, natural, paces, said_bearing, whole
from layout.outputs.crew.finding import walking_order
from layout.outputs.crew.ribbons import leaves_to, ribbons
from layout.outputs.crew.sheet import LEAST_PT, wrap
from layout.outputs.crew.stop_rows import HEAD_PT, SIZE_PT, stops, title
from layout.outputs.crew.walking import STEEP_PCT, STEP_M, Leg, legs
from layout.outputs.position_cares import cares
from layout.outputs.trail_cares import landing_cares, trail_cares
from layout.outputs.tree_orders import idle_positions
from layout.outputs.words import say
from layout.records import Trail
from layout.speech import speak_length, speak_station, station_feet, whole_length
from layout.terrain import BASELINE_M
from layout.tongue import number as said_number
from layout.tongue import unit as said_unit
from layout.units import Units

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from layout.plan import Plan

LEVEL_PCT = 0.5  # what rounds to 0 % is level
# Where the parts of a row stand, points from the column's left edge.
CARE_PLACE_PT, CARE_PT = 34.0, 82.0
END_M = 0.05  # legs that come this near to it go to the end of their trail
TO_PT, BEARING_PT, DISTANCE_PT, GRADE_PT, RIBBON_PT = 26.0, 29.0, 71.0, 75.0, 123.0
PAINTED_PT = 9.0  # stations are written on ribbons


def pages(plan: Plan) -> list[listing.ListPage]:
    """Lay the flagging sheet out.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    list of ListPage
    """
    return listing.pages(plan, say("crew_flagging"), intro(plan), titles(), rows(plan))


def titles() -> Row:
    """Give the titles of the parts of a row."""
    said = (
        (TO_PT, say("crew_leg_to"), True),
        (BEARING_PT, say("crew_leg_bearing"), False),
        (DISTANCE_PT, say("crew_leg_level"), True),
        (GRADE_PT, say("crew_leg_grade"), False),
        (RIBBON_PT, say("crew_leg_ribbons"), False),
    )
    return Row(tuple(Cell(x, (words,), bold=True, right=r) for x, words, r in said), LEAST_PT)


def intro(plan: Plan) -> list[str]:
    """Give the paragraphs above the columns: how to read them, and north."""
    units = plan.area.settings.area.units
    step, pitch = speak_length(STEP_M[units], units), speak_length(BASELINE_M, units)
    there = {bar.kind for bar in plan.bars}
    drains = "".join(
        say(f"crew_flagging_{kind}") for kind in ("dip", "grade_break") if kind in there
    )
    return [
        say("crew_flagging_how", step=step, pitch=pitch, steep=grade(STEEP_PCT), drains=drains),
        say("crew_north", turned=_turned(plan), magnetic=north.magnetic(plan)),
    ]


def _turned(plan: Plan) -> str:
    """Say how grid north lies against true north at the landing."""
    turn = coordinates.grid_turn_deg(plan.area.crs, plan.landing.x, plan.landing.y)
    if not math.isfinite(turn):
        return say("crew_north_unknown")
    size = said_number(abs(turn), ".1f")
    if round(abs(turn), 1) == 0:
        return say("crew_north_true")
    east = turn > 0
    return say("crew_north_east" if east else "crew_north_west", size=size)


def rows(plan: Plan, head_pt: float = HEAD_PT) -> list[Row]:
    """Give what says stop, then the rows of every trail, under a heading each."""
    width_pt = listing.column_pt(plan)
    made = stops(plan, width_pt)
    for trail, way in ways(plan):
        made += starts(plan, trail, width_pt, head_pt)
        made += stations(plan, trail, way, width_pt)
        made += stretch_rows(plan, trail, way, width_pt)
    return [*made, *care_rows(plan, width_pt)]


def ways(plan: Plan) -> list[tuple[Trail, list[Leg]]]:
    """Give every trail with its legs, in the order of the sheets."""
    units, hung = plan.area.settings.area.units, ribbons(plan)
    return [
        (trail, legs(trail.line, plan.stations[trail.trail_id], hung[trail.trail_id], units))
        for trail in walking_order(plan)
    ]


def starts(plan: Plan, trail: Trail, width_pt: float, head_pt: float = HEAD_PT) -> list[Row]:
    """Give the heading of a trail, and where its station 0 is."""
    return [title(heading(plan, trail), width_pt, head_pt), *_start(plan, trail, width_pt)]


def stations(plan: Plan, trail: Trail, way: Sequence[Leg], width_pt: float) -> list[Row]:
    """Give a row for each of some legs of a trail that follow each other."""
    units = plan.area.settings.area.units
    again = (Cell(0.0, (say("crew_continued", trail=trail.trail_id),), bold=True),)
    return [
        replace(_row(leg, units, width_pt, trail.line.length), again=again if k else ())
        for k, leg in enumerate(way)
    ]


def stretch_rows(plan: Plan, trail: Trail, way: Sequence[Leg], width_pt: float) -> list[Row]:
    """Give the stretches of some legs of a trail on which somebody could be hurt, a row each."""
    units, end_m = plan.area.settings.area.units, trail.line.length
    last = not way or way[-1].to_m >= end_m - END_M
    rows = []
    for stretch in trail_cares(plan).get(trail.trail_id, []):
        if not way or stretch.from_m < way[0].from_m:
            continue
        if stretch.from_m >= way[-1].to_m and not last:
            continue
        ends = [station_number(at_m, units, end_m) for at_m in (stretch.from_m, stretch.to_m)]
        place = say("crew_care_stretch", at=ends[0]) if ends[0] == ends[1] else say(
            "crew_care_stretch_to", at=ends[0], to=ends[1]
        )  # fmt: skip
        rows.append(Row(_cared(place, stretch.words, width_pt), SIZE_PT))
    return rows


def care_rows(plan: Plan, width_pt: float, names: Collection[str] | None = None) -> list[Row]:
    """Give what can hurt somebody on a landing and at winch positions, a row each.

    Parameters
    ----------
    plan : Plan
        The plan.
    width_pt : float
        Width of a list column.
    names : collection of str, optional
        The landings and positions asked for; all of them if not given.

    Returns
    -------
    list of Row
        Under a heading of their own; empty where nothing is to be said.
    """
    idle = idle_positions(plan)
    told = {
        name: said
        for name, said in cares(plan).items()
        if name not in idle and (names is None or name in names)
    }
    yards = {n: s for n, s in landing_cares(plan).items() if names is None or n in names}
    if not (told or yards):
        return []
    units = plan.area.settings.area.units
    end_of = {trail.trail_id: trail.line.length for trail in plan.trails}
    rows = [
        title(say("crew_care"), width_pt),
        Row((Cell(0.0, tuple(wrap(say("crew_care_how"), width_pt, SIZE_PT))),), SIZE_PT),
    ]
    again = (Cell(0.0, (say("crew_care_continued"),), bold=True),)
    for name, said in yards.items():
        rows.append(Row(_cared(name, said, width_pt), SIZE_PT, again=again))
    for position in sorted(plan.positions, key=lambda p: natural(p.position_id)):
        name = position.position_id
        if name not in told:
            continue
        end = end_of.get(position.trail_id)
        there = say("device_on_landing")
        if plan.more_landings:
            there = say("device_on_landing_of", landing=position.landing_id)
        place = there if end is None else say(
            "crew_care_at", trail=position.trail_id, at=station_number(position.at_m, units, end)
        )  # fmt: skip
        rows.append(Row(_cared(name, told[name], width_pt, place), SIZE_PT, again=again))
    return rows


def _cared(name: str, said: Sequence[str], width_pt: float, place: str = "") -> tuple[Cell, ...]:
    """Set what can hurt somebody beside the name of where, and the place of that if given."""
    first = wrap(place, CARE_PT - CARE_PLACE_PT - 2, PAINTED_PT) if place else []
    words = wrap(say("crew_between").join(said), width_pt - CARE_PT, SIZE_PT)
    return (
        Cell(0.0, (name,), bold=True, size_pt=PAINTED_PT),
        Cell(CARE_PLACE_PT, tuple(first), size_pt=PAINTED_PT),
        Cell(CARE_PT, tuple(words)),
    )


def _start(plan: Plan, trail: Trail, width_pt: float) -> list[Row]:
    """Say where station 0 of a trail from the landing is, for whoever stands at neither."""
    if trail.joins_id:
        return []
    x, y = trail.line.coords[0][:2]
    said = coordinates.spoken((x, y), plan.area.crs)
    units = plan.area.settings.area.units
    site = plan.landing_of(trail.landing_id)
    dx, dy = x - site.x, y - site.y
    words = [
        say("crew_start", places=", ".join(part for part in (said.degrees, said.grid) if part)),
        say(
            "crew_start_landing",
            landing=trail.landing_id,
            paces=paces(math.hypot(dx, dy), units),
            bearing=said_bearing(bearing_deg(dx, dy)),
        ),
    ]
    gate = plan.area.settings.access.gate
    if gate is not None:
        east, north = coordinates.grid_of(gate, plan.area.crs)
        if math.isfinite(east):
            far = whole(math.hypot(x - east, y - north), units)
            bearing = said_bearing(bearing_deg(x - east, y - north))
            words.append(say("crew_start_gate", distance=far, bearing=bearing))
    lines = wrap("; ".join(words) + ".", width_pt, SIZE_PT)
    return [Row((Cell(0.0, tuple(lines)),), SIZE_PT)]


def heading(plan: Plan, trail: Trail) -> str:
    """Say what a trail is, where it starts and how long it is."""
    units = plan.area.settings.area.units
    facts = {
        "trail": trail.trail_id,
        "length": speak_length(trail.line.length, units),
        "width": speak_length(trail.width_m, units),
    }
    parent = next((t for t in plan.trails if t.trail_id == trail.joins_id), None)
    if parent is None or trail.joins_at_m is None:
        words = say("crew_from_landing", landing=trail.landing_id, **facts)
    else:
        words = say(
            "crew_from_trail",
            parent=parent.trail_id,
            at=speak_station(trail.joins_at_m, units, parent.line.length),
            side=say(f"crew_side_{leaves_to(parent.line, trail.joins_at_m, trail.line)}"),
            **facts,
        )
    return words + (say("crew_fixed") if trail.source == "fixed" else "")


def _row(leg: Leg, units: Units, width_pt: float, end_m: float) -> Row:
    """Write one leg: where it ends, bearing, distance, grade, ribbons."""
    hung = say("crew_between").join(
        f"{station_number(ribbon.at_m, units, end_m)}\N{NO-BREAK SPACE}{ribbon.text}"
        for ribbon in leg.ribbons
    )
    words = [grade_said(leg.told_pct)]
    if leg.steepest_pct is not None:
        same = leg.steepest_pct * leg.grade_pct > 0 and abs(leg.grade_pct) >= LEVEL_PCT
        most = grade(leg.steepest_pct) if same else grade_said(leg.steepest_pct)
        words += wrap(say("crew_steepest", grade=most), RIBBON_PT - GRADE_PT - 2, SIZE_PT)
    lines = tuple(wrap(hung, width_pt - RIBBON_PT, PAINTED_PT))
    return Row(
        (
            Cell(TO_PT, (station_number(leg.to_m, units, end_m),), bold=True, right=True,
                 size_pt=PAINTED_PT),
            Cell(BEARING_PT, (said_bearing(leg.bearing_deg),), size_pt=SIZE_PT),
            Cell(DISTANCE_PT, (_narrow(leg.straight_m, units),), right=True, size_pt=SIZE_PT),
            Cell(GRADE_PT, tuple(words), size_pt=SIZE_PT),
            Cell(RIBBON_PT, lines, size_pt=PAINTED_PT),
        ),
        PAINTED_PT if len(lines) > 1 else SIZE_PT,  # air between lines of large letters
    )  # fmt: skip


def _narrow(metres: float, units: Units) -> str:
    """Say a length in a narrow column, where a language may have a shorter unit."""
    unit = said_unit("ft.").rstrip(".") if units == "us" else "m"
    return f"{whole_length(metres, units)} {unit}"


def station_number(metres: float, units: Units, end_m: float = math.inf) -> str:
    """Give a station as it is painted: feet to 5, or whole metres, without a unit.

    Parameters
    ----------
    metres : float
        Distance along the trail.
    units : {"us", "metric"}
        What is painted.
    end_m : float
        Where the trail ends, as `layout.speech.station_feet` takes it.

    Examples
    --------
    >>> station_number(30.4, "us"), station_number(30.4, "metric")
    ('100', '30')
    """
    return f"{station_feet(metres, end_m)}" if units == "us" else f"{metres:.0f}"


def grade_said(value_pct: float) -> str:
    """Say a grade of the loaded trip in words, never with a sign.

    Examples
    --------
    >>> grade_said(-12.4), grade_said(3.0), grade_said(0.2)
    ('12 % down', '3 % up', 'level')
    """
    if not math.isfinite(value_pct):
        return say("crew_grade_unknown")
    if abs(value_pct) < LEVEL_PCT:
        return say("crew_grade_level")
    down = value_pct < 0
    return say("crew_grade_down" if down else "crew_grade_up", size=grade(value_pct))
