"""The few counts the report comes back to, taken once from the plan."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from layout.checks import words
from layout.records import REACHED, Sureness, TreeOutcome
from layout.speech import speak_station
from layout.units import Units

if TYPE_CHECKING:
    from layout.findings import Finding, Level
    from layout.plan import Plan

COSTLY_M = 10.0  # ours: trail for one tree alone that is worth a second look


@dataclass(frozen=True, eq=False)
class Tally:
    """A plan, counted."""

    plan: Plan

    @property
    def units(self) -> Units:
        """Units the user reads."""
        return self.plan.area.settings.area.units

    @cached_property
    def marked(self) -> tuple[TreeOutcome, ...]:
        """Marked trees that still stand."""
        return tuple(o for o in self.plan.trees if o.status not in ("leave", "done"))

    @cached_property
    def missed(self) -> tuple[TreeOutcome, ...]:
        """Marked trees that are not reached."""
        return tuple(o for o in self.marked if o.status not in REACHED)

    @property
    def served(self) -> int:
        """How many marked trees are reached."""
        return len(self.marked) - len(self.missed)

    @cached_property
    def ends(self) -> dict[str, float]:
        """Where each trail ends, metres: no station is said that lies past it."""
        return {trail.trail_id: trail.line.length for trail in self.plan.trails}

    def station(self, trail_id: str, at_m: float) -> str:
        """Say a distance along a trail, in the user's units."""
        return speak_station(at_m, self.units, self.ends.get(trail_id, math.inf))

    def stretch(self, trail_id: str, from_m: float, to_m: float) -> str:
        """Say a stretch of a trail: "at 120 ft", or "from 120 ft to 185 ft"."""
        return words.place(self.units, from_m, to_m, self.ends.get(trail_id, math.inf))

    @cached_property
    def done(self) -> int:
        """How many marked trees are cut and out already."""
        return sum(o.status == "done" for o in self.plan.trees)

    @cached_property
    def sure(self) -> Counter[Sureness]:
        """Pulls by how sure they are to reach."""
        return Counter(pull.sure for pull in self.plan.pulls)

    @cached_property
    def in_trail(self) -> tuple[str, ...]:
        """Names of unmarked stems in the way of trails, turning places or landing."""
        return tuple(o.tree_id for o in self.plan.trees if o.role == "in_trail")

    @cached_property
    def costly(self) -> tuple[TreeOutcome, ...]:
        """Trees reached by trail of their own, the longest first."""
        own = [
            o for o in self.marked if o.status == "served" and (o.marginal_trail_m or 0) >= COSTLY_M
        ]
        return tuple(sorted(own, key=lambda o: (-(o.marginal_trail_m or 0.0), o.tree_id)))

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """Findings in the plan's order, each an object of its own even where two are equal."""
        return tuple(replace(finding) for finding in self.plan.findings)

    @cached_property
    def by_level(self) -> dict[Level, tuple[Finding, ...]]:
        """Findings by level, in the plan's order."""
        found = self.findings
        return {
            "stop": tuple(f for f in found if f.level == "stop"),
            "caution": tuple(f for f in found if f.level == "caution"),
            "unknown": tuple(f for f in found if f.level == "unknown"),
            "ok": tuple(f for f in found if f.level == "ok"),
        }

    def trail_m(self, kind: str) -> float:
        """Give the length of the trails of a kind, metres."""
        return sum(t.line.length for t in self.plan.trails if t.kind == kind)

    @property
    def landing_proposed(self) -> bool:
        """Tell whether the landing is this plan's own proposal."""
        given = self.plan.area.settings.landing
        return given.at is None and not given.shape

    @property
    def main_routed(self) -> bool:
        """Tell whether the main trail is this plan's own."""
        return any(t.kind == "main" and t.source == "routed" for t in self.plan.trails)
