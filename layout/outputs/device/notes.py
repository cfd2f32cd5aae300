"""What a phone or receiver says of each thing of a plan, in a line or two.

Sizes are in the area's units and grades in words, never with a sign.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString, Point

from layout.land import hazard_rule
from layout.outputs import bar_facts, fingerprint, steepness
from layout.outputs.about import rule_names, rule_words
from layout.outputs.amounts import grade, most_load
from layout.outputs.crew.tree_words import dbh_said
from layout.outputs.device.kind_said import hazard_word, plain_kind
from layout.outputs.device.stump_notes import StumpNotes
from layout.outputs.device.way_in import meeting
from layout.outputs.position_cares import cares
from layout.outputs.tree_orders import (
    HazardTree,
    barred,
    first_said,
    idle_positions,
    keep_off_said,
    near_hazards,
    near_said,
    orders,
    standing_hazards,
    until_down_said,
)
from layout.outputs.words import ENGLISH, counted, say
from layout.rule_files import NO_RULE_CHOSEN
from layout.speech import speak_area, speak_length, speak_station
from layout.units import FOOT_M, Units

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import (
        Landing,
        Trail,
        TreeOutcome,
        TurningPlace,
        WaterBar,
        WaterStrip,
        WinchPosition,
    )
    from layout.site import Hazard
    from layout.work_records import Turn, TwoStage

# One step of a grown person, metres and as said; common practice, no source.
STEP: dict[Units, tuple[float, str]] = {"us": (2.5 * FOOT_M, "2.5 ft"), "metric": (0.75, "0.75 m")}
LEVEL_BELOW_PCT = 0.5  # prints as 0 %
BETWEEN = "; "


def whole_file(plan: Plan, shift_m: float | None) -> tuple[str, ...]:
    """Say what holds for a whole file that goes to the woods.

    Parameters
    ----------
    plan : Plan
        The plan.
    shift_m : float or None
        How far off the change of datum may be, metres; None where that is little.

    Returns
    -------
    tuple of str
        Sentences, the gravest first.
    """
    units = plan.area.settings.area.units
    stops = sum(finding.level == "stop" for finding in plan.findings)
    rules = rule_names(plan)
    said = [say("not_walked"), say("not_permission")]
    if stops:
        said.append(f"{say('map_stops_one') if stops == 1 else say('map_stops', count=stops)}.")
    if rules:
        said.append(say("rule_named", rules=rules))
    said += [f"{words}." for words in rule_words(plan)]
    said += [f"{words[:1].upper()}{words[1:]}." for words in meeting(plan)]
    said.append(say("device_dot"))
    if shift_m is not None:
        said.append(say("device_shift", error=speak_length(shift_m, units)))
    said.append(say("device_plan", plan=fingerprint.of_plan(plan)[: fingerprint.SHOWN]))
    return (*said, say("device_pace", step=STEP[units][1]))


class Notes:
    """Says what stands beside the name of each thing of one plan.

    Parameters
    ----------
    plan : Plan
        The plan.

    Attributes
    ----------
    plan : Plan
        The plan.
    units : {"us", "metric"}
        What the notes speak.
    tree_row : dict of str to int
        Rows of the tree list by tree id.
    """

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.units = plan.area.settings.area.units
        self.tree_row = {name: row for row, name in enumerate(plan.area.trees.tree_id)}
        self._pulls = {pull.tree_id: pull for pull in plan.pulls}
        self._stump = StumpNotes(plan)
        self._orders, self._cares, self._near = orders(plan), cares(plan), near_hazards(plan)
        self._ends = {trail.trail_id: trail.line.length for trail in plan.trails}
        self._first = {tree.tree_id: tree for tree in standing_hazards(plan) if tree.marked}
        self._loads: dict[str, int] = defaultdict(int)
        for step in plan.steps:
            self._loads[step.trail_id] = max(self._loads[step.trail_id], step.loads)
        self._stops = Counter(
            finding.subject_id
            for finding in plan.findings
            if finding.level == "stop" and finding.subject_layer == "trails"
        )
        self._turns: dict[str, list[Turn]] = defaultdict(list)
        for turn in () if plan.work is None else plan.work.turns:
            for name in turn.position_ids if turn.state == "planned" else ():
                self._turns[name].append(turn)

    def landing(self, landing: Landing) -> str:
        """Say size and slope of a landing."""
        return say(
            "device_landing",
            area=speak_area(landing.shape.area, self.units),
            slope=grade(landing.slope_pct),
        )

    def small_landing(self, two: TwoStage) -> str:
        """Say where the small landing is, its size, what ends there, where the outfit turns."""
        at_m = two.at_m or 0.0
        turn_m = at_m if two.turn_at_m is None else two.turn_at_m
        area = 0.0 if two.shape is None else two.shape.area
        return BETWEEN.join(
            [
                say("device_small_landing", place=self._place(two.trail_id, at_m)),
                speak_area(area, self.units),
                say("device_small_loads", loads=counted("device_loads", two.turns_through)),
                say("device_small_turn", place=self._place(two.trail_id, turn_m)),
            ]
        )

    def trail(self, trail: Trail) -> str:
        """Say what a trail is, its size, its steepest places and what is to be done on it."""
        loads = self._loads[trail.trail_id]
        said = [
            self._what(trail),
            say(
                "device_size",
                length=speak_length(trail.line.length, self.units),
                width=speak_length(trail.width_m, self.units),
            ),
            say("device_steepest", grades=", ".join(self._steepest(trail))),
        ]
        if loads:
            said.append(counted("device_loads", loads))
        if trail.source == "fixed":
            said.append(say("device_kept"))
        if trail.trail_id in self.plan.benches:
            said.append(say("device_bench"))
        if self._stops[trail.trail_id]:
            said.insert(0, counted("device_stops", self._stops[trail.trail_id]))
        return BETWEEN.join(said)

    def _what(self, trail: Trail) -> str:
        if trail.joins_id and trail.joins_at_m is not None:
            return say("device_spur", place=self._place(trail.joins_id, trail.joins_at_m))
        first = next(t for t in self.plan.trails if not t.joins_id)
        return say("device_main_trail") if trail is first else say("device_trail")

    def _steepest(self, trail: Trail) -> list[str]:
        """Say the steepest grades both ways and across; what prints as 0 % is left out."""
        most = steepness.of(self.plan, trail)
        sizes = {
            "downhill": most.downhill_pct,
            "uphill": most.uphill_pct,
            "across": most.across_pct,
        }
        said = [
            say(f"device_grade_{way}", size=grade(size))
            for way, size in sizes.items()
            if size >= LEVEL_BELOW_PCT
        ]
        return said or [say("device_level")]

    def turning_place(self, place: TurningPlace) -> str:
        """Say what kind of turning place it is, where, and how level."""
        return BETWEEN.join(
            [
                say(f"device_turning_{place.kind}"),
                self._place(place.trail_id, place.at_m),
                say("device_slope", size=grade(place.slope_pct)),
            ]
        )

    def winch_position(self, position: WinchPosition) -> str:
        """Say where the outfit parks, how it gets there, and which trees it pulls."""
        place = self._place(position.trail_id, position.at_m)
        if not position.trail_id and self.plan.more_landings:
            place = say("device_on_landing_of", landing=position.landing_id)
        said = [place]
        if position.tree_ids:
            count, names = len(position.tree_ids), ", ".join(position.tree_ids)
            said.append(
                say("device_trees_one", names=names)
                if count == 1
                else say("device_trees_many", count=count, names=names)
            )
        if position.position_id in idle_positions(self.plan):
            return BETWEEN.join([say("device_idle"), *said])
        said += self._position_loads(position.position_id)
        if position.back_m >= 1.0:
            said.append(say("device_back", length=speak_length(position.back_m, self.units)))
        said.append(say("device_rear", azimuth=f"{position.rear_azimuth_deg % 360:.0f}"))
        said.append(say("device_grade_across", size=grade(position.cross_pct)))
        if held := [name for name in position.tree_ids if name in barred(self.plan)]:
            said.insert(0, say("device_hold", names=", ".join(held)))
        if told := self._cares.get(position.position_id):
            said.insert(0, say("device_care", cares="; ".join(told)))
        return BETWEEN.join(said)

    def _position_loads(self, name: str) -> list[str]:
        """Say which loads are taken up at a position, and how heavy one may be."""
        turns = self._turns[name]
        if not turns:
            return []
        names = ", ".join(turn.turn_id for turn in turns)
        said = [say(f"device_load_{'one' if len(turns) == 1 else 'many'}", names=names)]
        if most := most_load(min(turn.limit_kg for turn in turns), self.units):
            said.append(say("device_load_most", load=most))
        return [", ".join(said)]

    def water_bar(self, bar: WaterBar) -> str:
        """Say where a bar goes, and to which side its water leaves."""
        why = bar.why if f"device_bar_{bar.why}" in ENGLISH else "spacing"
        said = [
            say(f"device_bar_{why}") if bar.kind == "bar" else bar_facts.what(bar),
            self._place(bar.trail_id, bar.at_m),
            say(f"device_outlet_{bar.outlet}"),
        ]
        if bar.kind != "grade_break":
            said.append(say("device_skew", angle=f"{bar.skew_deg:.0f}"))
        if bar.bar_set:
            said.append(bar_facts.when(bar))
        if room := bar_facts.room(bar, self.units):
            said.append(room)
        if abs(bar.grade_pct) >= LEVEL_BELOW_PCT:
            way = "uphill" if bar.grade_pct > 0 else "downhill"
            said.append(say(f"device_grade_{way}", size=grade(bar.grade_pct)))
        return BETWEEN.join(said)

    def tree(self, outcome: TreeOutcome) -> str:
        """Say what stem a marked tree is, what it asks for, and who pulls it or why nobody does."""
        trees, row = self.plan.area.trees, self.tree_row[outcome.tree_id]
        said = [self._stem(row)]
        pull = self._pulls.get(outcome.tree_id)
        orders_of = self._orders.get(outcome.tree_id, ())
        if outcome.status == "done":
            said.append(say("status_done"))
        elif outcome.status == "with_trail":
            said.append(say("status_with_trail"))
            said += self._nearest(Point(float(trees.x[row]), float(trees.y[row])))
        elif outcome.status != "served":
            said.append(say("device_not_reached", why=say(f"status_{outcome.status}")))
            if outcome.remedies:
                said.append(say("device_first_remedy", remedy=outcome.remedies[0]))
            said += self._nearest(Point(float(trees.x[row]), float(trees.y[row])))
        elif pull is not None and not any(order.kind == "open" for order in orders_of):
            said.append(
                say("device_winch", position=pull.position_id, sure=say(f"sure_{pull.sure}"))
            )
            said.append(
                say(
                    "device_pull",
                    length=speak_length(pull.ground_m, self.units),
                    paces=self._paces(pull.ground_m),
                    side=say(f"device_pull_{pull.side}"),
                )
            )
        if outcome.status == "done":
            return BETWEEN.join(said)
        held = outcome.tree_id in barred(self.plan)
        first, after = self._stump.of(outcome.tree_id, barred=held)
        told = [order.text for order in orders_of]
        if tree := self._first.get(outcome.tree_id):
            told.insert(1, until_down_said(tree, self.plan))
        if held:
            told.insert(0, say("device_held"))
        return BETWEEN.join([*told, *first, *said, *after])

    def hazard_tree(self, tree: HazardTree) -> str:
        """Say what stem it is, and how far to keep off a hazard tree that stays."""
        return BETWEEN.join([keep_off_said(tree, self.plan), self._stem(tree.row)])

    def tree_ring(self, tree: HazardTree) -> str:
        """Say what the ring round a hazard tree is."""
        return BETWEEN.join([keep_off_said(tree, self.plan), say("device_tree_ring")])

    def first_ring(self, tree: HazardTree) -> str:
        """Say what the ring round a hazard tree is that is cut first."""
        return BETWEEN.join(
            [first_said(tree.hazard), until_down_said(tree, self.plan), say("device_tree_ring")]
        )

    def comes_first(self, outcome: TreeOutcome) -> bool:
        """Tell whether a marked tree is a hazard tree that still stands: it is cut first."""
        bad = bool(self.plan.area.trees.hazard[self.tree_row[outcome.tree_id]])
        return bad and outcome.status != "done"

    def _stem(self, row: int) -> str:
        trees = self.plan.area.trees
        species = trees.species[row] or say("device_species_missing")
        dbh_cm = float(trees.dbh_cm[row])
        if not math.isfinite(dbh_cm):
            return f"{species}, {say('device_dbh_missing')}"
        unit = "in" if self.units == "us" else "cm"
        return f"{species}, {dbh_said(dbh_cm, self.units)} {unit}"

    def _nearest(self, point: Point) -> list[str]:
        """Say how to walk to a stem from the nearest trail; nothing where there is none."""
        trails = self.plan.trails
        if not trails:
            return []
        trail = min(trails, key=lambda t: (t.line.distance(point), t.trail_id))
        at_m = float(trail.line.project(point))
        left = lies_left(trail.line, at_m, point)
        return [
            say(
                "device_nearest",
                paces=self._paces(float(trail.line.distance(point))),
                side=say("device_left") if left else say("device_right"),
                place=self._place(trail.trail_id, at_m),
            )
        ]

    def _paces(self, metres: float) -> str:
        return counted("device_paces", round(metres / STEP[self.units][0]))

    def water_strip(self, strip: WaterStrip) -> str:
        """Say what strip it is, and by which rule."""
        said = [
            say("device_strip", water=plain_kind(strip.water_class)),
            say("no_rule")
            if strip.rule == NO_RULE_CHOSEN
            else say("device_strip_rule", rule=strip.rule),
        ]
        if not strip.confirmed:
            said.append(say("unverified_rule"))
        return BETWEEN.join(said)

    def hazard(self, hazard: Hazard) -> str:
        """Say what a hazard is and what it asks for."""
        rule = hazard_rule(hazard.kind)
        said = [hazard_word(hazard.kind)]
        if rule.machine_m > 0:
            off = speak_length(rule.machine_m, self.units)
            said.append(say("device_machine_off", distance=off))
        if not rule.rope:
            said.append(say("device_no_rope"))
        if rule.tree_lengths > 0:
            said.append(say("device_fell_away"))
        if count := self._near[hazard.hazard_id]:
            said.append(near_said(hazard.kind, count))
        if len(said) > 1:
            said.append(say("device_ours"))
        return BETWEEN.join(said)

    def ring(self, hazard: Hazard) -> str:
        """Say what the ring round a hazard is that is a point."""
        off = speak_length(hazard_rule(hazard.kind).machine_m, self.units)
        return say("device_ring", kind=hazard_word(hazard.kind), distance=off)

    def _place(self, trail_id: str, at_m: float) -> str:
        if not trail_id:
            return say("device_on_landing")
        said = speak_station(at_m, self.units, self._ends.get(trail_id, math.inf))
        return say("device_at", trail=trail_id, station=said)


def lies_left(line: LineString, at_m: float, point: Point) -> bool:
    """Tell whether a point lies to the left of a line, walked from its first end.

    Parameters
    ----------
    line : LineString
        The line.
    at_m : float
        Where the point is nearest, metres along it.
    point : Point
        The point.
    """
    ahead = shapely.line_interpolate_point(line, [max(at_m - 1.0, 0.0), at_m + 1.0])
    (x0, y0), (x1, y1) = shapely.get_coordinates(ahead)
    dx, dy = np.subtract(shapely.get_coordinates(point)[0], (x0, y0))
    return bool((x1 - x0) * dy - (y1 - y0) * dx > 0)
