"""Where a finding lies, as a person in the woods looks for it: trail and station."""

from __future__ import annotations

import math
from functools import cached_property
from typing import TYPE_CHECKING

from shapely.geometry import Point

from layout.checks import words
from layout.outputs.words import say
from layout.speech import speak_station

if TYPE_CHECKING:
    from layout.findings import Finding
    from layout.plan import Plan
    from layout.records import WinchPosition

NEAR_M = 150.0  # a trail farther off is no help in finding a place


class Places:
    """The places of one plan, found by name."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.units = plan.area.settings.area.units

    @cached_property
    def _ends(self) -> dict[str, float]:
        return {trail.trail_id: trail.line.length for trail in self.plan.trails}

    @cached_property
    def _positions(self) -> dict[str, WinchPosition]:
        return {p.position_id: p for p in self.plan.positions}

    @cached_property
    def _position_of_tree(self) -> dict[str, str]:
        return {pull.tree_id: pull.position_id for pull in self.plan.pulls}

    def of(self, finding: Finding) -> str:
        """Say where a finding lies.

        Parameters
        ----------
        finding : Finding
            Of this plan.

        Returns
        -------
        str
            "S12 from 65 ft to 70 ft", "W13 on S5 at 190 ft", "tree 17, near S4 at
            120 ft"; "whole plan" where it has no place.
        """
        layer, name = finding.subject_layer, finding.subject_id
        if layer == "trails" and name:
            return self._stretch(name, finding.from_m, finding.to_m)
        if layer == "winch_positions" and name in self._positions:
            return self.position(name)
        if layer == "pulls" and name in self._position_of_tree:
            where = self.position(self._position_of_tree[name])
            return say("report_at_pull", tree=name, position=where)
        if layer == "settings":
            return say("report_at_settings", setting=name)
        what = say("report_at_whole")
        if name:
            what = name if layer not in _NAMED else say(f"report_at_{layer}", name=name)
        near = "" if layer == "landing" else self.near(finding.at)
        if near and not name:
            return near
        return f"{what}, {near}" if near else what

    def station(self, trail_id: str, at_m: float) -> str:
        """Say a place on a trail; on the landing where it has no trail."""
        if not trail_id:
            return say("report_at_the_landing")
        return say(
            "place",
            trail=trail_id,
            at=speak_station(at_m, self.units, self._ends.get(trail_id, math.inf)),
        )

    def position(self, position_id: str) -> str:
        """Say a winch position and where it lies."""
        position = self._positions[position_id]
        at = self.station(position.trail_id, position.at_m)
        return say("report_at_position", position=position_id, at=at)

    def knows(self, position_id: str) -> bool:
        """Tell whether the plan still has a winch position of this name."""
        return position_id in self._positions

    def _stretch(self, trail_id: str, from_m: float | None, to_m: float | None) -> str:
        """Say a trail, or a stretch of it."""
        if from_m is None:
            return trail_id
        end_m = self._ends.get(trail_id, math.inf)
        stretch = words.place(self.units, from_m, from_m if to_m is None else to_m, end_m)
        return f"{trail_id} {stretch}"

    def near(self, at: tuple[float, float] | None) -> str:
        """Say the station nearest to a place; empty where no trail is near."""
        if at is None or not self.plan.trails:
            return ""
        spot = Point(at)
        trail = min(self.plan.trails, key=lambda t: (t.line.distance(spot), t.trail_id))
        if trail.line.distance(spot) > NEAR_M:
            return ""
        station = self.station(trail.trail_id, float(trail.line.project(spot)))
        return say("report_at_near", station=station)


_NAMED = frozenset(
    {"trees", "pulls", "landing", "turning_places", "winch_positions", "gaps", "plots"}
)
