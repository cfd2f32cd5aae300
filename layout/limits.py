"""What limits the user: how much more could be reached if one thing were changed by a notch.

The search is run again for each change, everything else as it is. Nothing here
goes past a ceiling: a limit of the user's own is only ever put back to its
default, and to the day's ceiling where that is lower. Reach is the most there
can be (see `reach`); what a change would cost is rough.
"""

import math
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout.crossing_ways import with_ways
from layout.geometry import coordinates
from layout.lattice import trace
from layout.option_records import LimitRow
from layout.passages import strips_crossed
from layout.reach import (
    Reached,
    Scene,
    from_lines,
    from_site,
    of_trees,
    reground,
    rewinched,
    scene,
    steps_back,
)
from layout.records import Trail
from layout.rule_changes import benching, longer_ropes, with_keys
from layout.settings import limits_in_force
from layout.site import Area
from layout.sites import propose
from layout.speech import speak_length
from layout.terrain import Terrain
from layout.units import FOOT_M, Units
from layout.water import Strips

Floats = NDArray[np.float64]

SPUR_NOTCH_M = 100 * FOOT_M
SITES_TRIED = 12
FORKS_DEEP = 3.0  # a spur off a spur off a spur; each as long as it may be
OWN_LIMITS = (  # a user's own limit below its default, and how it is called
    ("cross_slope_pct", "cross_pct", "cross slope"),
    ("favourable_pct", "favourable_pct", "grade downhill loaded"),
    ("adverse_pct", "adverse_pct", "grade uphill loaded"),
)


def what_limits(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    trails: tuple[Trail, ...] = (),
    served: frozenset[str] = frozenset(),
    without: frozenset[str] = frozenset(),
) -> tuple[LimitRow, ...]:
    """Say what could be reached as things are, and with one thing changed by a notch.

    Parameters
    ----------
    area : Area
        The job, with a landing.
    terrain, strips : Terrain, Strips
        Its ground and water strips.
    trails : tuple of Trail, optional
        Trails that stand: those of a plan, or the drawn main trail. Without
        any the search starts at the landing.
    served : frozenset of str, optional
        Trees a plan serves; they count as reached.
    without : frozenset of str, optional
        Keys of changes to leave out: they were worked out better.

    Returns
    -------
    tuple of LimitRow
        First ``as_is``, then the changes in a fixed order. Empty without a
        landing, without marked trees, or where a change does not apply to it.
    """
    if area.landing is None or not area.trees.marked.any():
        return ()
    return tuple(_Table(area, terrain, strips, trails, served, without).rows())


class _Table:
    """One table in the making: the ground as it is, and each change of it."""

    def __init__(
        self,
        area: Area,
        terrain: Terrain,
        strips: Strips,
        trails: tuple[Trail, ...],
        served: frozenset[str],
        without: frozenset[str],
    ) -> None:
        self.without = without
        self.area, self.terrain, self.strips = area, terrain, strips
        self.limits = limits_in_force(area.settings)
        self.lines = [coordinates(trail.line) for trail in trails]
        self.units: Units = area.settings.area.units
        everything = scene(area, terrain, strips, self.limits, width_m=self._width())
        self.marked = int(everything.pulls.marked.size)
        planned = np.array([t in served for t in everything.pulls.tree_ids], dtype=bool)
        self.now = self._reach(everything)
        self.count = int((self.now.trees | planned).sum())
        # the changes are asked about the others only
        self.given = of_trees(everything, np.flatnonzero(~(self.now.trees | planned)))

    def rows(self) -> list[LimitRow]:
        """Give the rows."""
        out = [LimitRow("as_is", "as things are", self.now.share_pct, self.count, self.marked)]
        if self.count == self.marked:
            return out
        out += self._winch()
        out += self._spurs()
        out += self._benching()
        out += self._crossings()
        out += self._own_limits()
        out += self._landing()
        return out

    def _width(self) -> float:
        trails = self.area.settings.trails
        return trails.width_spur_m if self.lines else trails.width_main_m

    def _reach(self, given: Scene, longest_m: float | None = None, **tables: Any) -> Reached:
        assert given.area.landing is not None
        if not self.lines:
            return from_site(given, *given.area.landings)
        middles = [(one.centroid.x, one.centroid.y) for one in given.area.landings]
        return from_lines(
            given,
            self.lines,
            middles,
            longest_m=FORKS_DEEP
            * (given.area.settings.trails.spur_length_m if longest_m is None else longest_m),
            **tables,
        )

    def _row(
        self, key: str, change: str, given: Scene, reached: Reached, cost: str = "",
        *, trails: bool = True,
    ) -> LimitRow:  # fmt: skip
        more = reached.trees
        length = _trail_m(given, reached, more) if trails and more.any() else None
        return LimitRow(
            key,
            change,
            reached.share_pct,
            self.count + reached.count,
            self.marked,
            reached.count,
            length,
            None if length is None else length * given.ground.width_m,
            cost,
        )

    def _winch(self) -> list[LimitRow]:
        out = []
        for rope in longer_ropes(self.area):
            if rope.key not in self.without:
                given = rewinched(self.given, rope.area)
                out.append(self._row(rope.key, rope.change, given, self._reach(given), rope.needs))
        return out

    def _spurs(self) -> list[LimitRow]:
        if not self.lines or not math.isfinite(self.area.settings.trails.spur_length_m):
            return []
        longest = self.area.settings.trails.spur_length_m + SPUR_NOTCH_M
        return [
            self._row(
                "spur_plus_100ft",
                f"spurs {speak_length(SPUR_NOTCH_M, self.units)} longer",
                self.given,
                self._reach(self.given, longest),
                "more trail, and longer backing or more turning places",
            )
        ]

    def _benching(self) -> list[LimitRow]:
        bench = benching(self.area)
        if bench is None or bench.key in self.without:
            return []
        given = reground(self.given, self.limits, bench.area, self.given.opened)
        return [self._row(bench.key, bench.change, given, self._reach(given), bench.needs)]

    def _crossings(self) -> list[LimitRow]:
        given = self.given
        if not self.lines or given.area.settings.trails.crossings:
            return []
        area = with_keys(self.area, "trails", crossings=True)
        if not strips_crossed(area, self.strips.polygons):
            return []
        crossed = with_ways(given.ground, area, self.terrain, self.strips, self.limits, weight=1.0)
        reached = self._reach(given, ground=crossed)
        return [
            self._row(
                "crossings",
                "stream crossings allowed",
                given,
                reached,
                "crossings built and taken out again, most often with a permit; only near "
                "square, between low banks, with gentle approaches",
            )
        ]

    def _own_limits(self) -> list[LimitRow]:
        """Put limits the user set below their default back to it, never past the day's ceiling."""
        out = []
        fields = type(self.area.settings.trails).model_fields
        for name, limit, words in OWN_LIMITS:
            usual = float(fields[name].default)
            area = with_keys(self.area, "trails", **{name: usual})
            limits = limits_in_force(area.settings)
            if getattr(limits, limit) <= getattr(self.limits, limit) + 1e-9:
                continue
            given = reground(self.given, limits, area, self.given.opened)
            out.append(
                self._row(
                    f"default_{name.removesuffix('_pct')}",
                    f"your own limit of {getattr(self.limits, limit):.0f} % {words} back at the "
                    f"usual {getattr(limits, limit):.0f} %",
                    given,
                    self._reach(given),
                    "steeper work than you set out to do; within the day's ceiling",
                )
            )
        return out

    def _landing(self) -> list[LimitRow]:
        assert self.area.landing is not None
        wide = scene(
            self.area, self.terrain, self.strips, self.limits,
            width_m=self.area.settings.trails.width_main_m,
        )  # fmt: skip
        free = replace(self.area, main_trail=None)
        sites = propose(
            free, self.terrain, self.strips, self.limits, 1, most_tried=SITES_TRIED, given=wide
        )
        if not sites or any(sites[0].shape.intersects(one) for one in self.area.landings):
            return []
        site = sites[0]
        reached = from_site(wide, site.shape)
        # another landing serves other trees; what the plan serves now is no part of it
        return [
            LimitRow(
                "landing_moved",
                f"the landing at [{site.x:.0f}, {site.y:.0f}], with a main trail of its own",
                reached.share_pct,
                reached.count,
                site.marked,
                reached.count - self.count,
                None,
                self.area.settings.landing.area_m2,
                "another landing, another main trail, and the way in for a truck",
            )
        ]


def _trail_m(given: Scene, reached: Reached, more: NDArray[np.bool_]) -> float | None:
    """Give the metres of trail some trees would take, ways in common counted once."""
    field = reached.field
    body = given.area.settings.tractor.length_m
    states: set[int] = set()
    total = 0.0
    state, tree = given.serving.state, given.serving.tree
    for t in np.flatnonzero(more):
        mine = state[tree == t]
        mine = mine[np.isfinite(field.cost[mine]) & (field.straight[mine] >= body)]
        if not mine.size:
            continue
        target = int(mine[np.lexsort((mine, field.cost[mine]))[0]])
        chain, _ = trace(field, target)
        legs = steps_back(given, field, chain)
        for leg, here in zip(legs, chain[1:], strict=True):
            if here not in states:
                states.add(here)
                total += float(leg)
    return total if total > 0 else None
