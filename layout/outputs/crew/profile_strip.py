"""One trail seen from the side, or a part of it: ground, grades and slopes across, step by step."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

import numpy as np

from layout.outputs import palette as ink
from layout.outputs.amounts import grade
from layout.outputs.crew.flagging import station_number
from layout.outputs.crew.map_trails import TICK_M
from layout.outputs.crew.sheet import LEAST_PT, Sheet, width_of
from layout.outputs.side_by_side import side_by_side
from layout.outputs.words import say
from layout.settings.limits import Limits, limits_in_force
from layout.speech import speak_length

if TYPE_CHECKING:
    from collections.abc import Callable

    from layout.plan import Plan
    from layout.records import Trail

SCALE = 1500  # along and up alike, so that a slope on paper is the slope on the ground
PT_A_M = 72 / 0.0254 / SCALE
WORD_GAP_PT, LIMIT_GAP_PT = 4.0, 2.0  # after what a part is, and after its limit
AFTER_PT = 16.0
TITLE_PT = 12.0
NAME_PT = 9.0  # of junctions and stations
NAMES_PT = 12.5  # a line of names over the ground
NAME_GAP_PT = 3.0
LEAD_PT = 6.0  # higher where a name is led to its triangle
STRAIGHT_PT = 1.0  # a name that stands so near over it needs no line
PCT_PT = 0.5  # of height for one percent
CROSS_GAP_PT, STATIONS_PT = 4.0, 14.0
LONG_M = 5.0  # between points of the ground line
BAR_PT, JUNCTION_PT = 7.0, 4.0
DOTS = (0, (1, 2))
PALE = "#c8c8c8"


@dataclass(frozen=True, slots=True)
class Strip:
    """A trail, or a part of it, from one station to another, metres."""

    trail: Trail
    from_m: float
    to_m: float


def edge_pt(plan: Plan) -> float:
    """Give the room left of every strip, for what its parts are and their limits, points."""
    limits = limits_in_force(plan.area.settings)
    grades = (limits.adverse_pct, limits.favourable_pct)
    parts = (("crew_profile_grade", grades), ("crew_profile_cross", (limits.cross_pct,)))
    room = (
        width_of(say(part), LEAST_PT) + max(width_of(grade(pct), LEAST_PT) for pct in pcts)
        for part, pcts in parts
    )
    return max(room) + WORD_GAP_PT + LIMIT_GAP_PT


def width_pt(plan: Plan, strip: Strip) -> float:
    """Give the width of a strip on paper, with what stands left of it, points."""
    return edge_pt(plan) + (strip.to_m - strip.from_m) * PT_A_M + AFTER_PT


def height_pt(plan: Plan, strip: Strip) -> float:
    """Give the height of a strip on paper, points."""
    limits = limits_in_force(plan.area.settings)
    names = _names_pt(_names(plan, strip))
    return TITLE_PT + names + _ground_pt(plan, strip) + _bands_pt(limits) + STATIONS_PT


@dataclass(frozen=True, slots=True)
class _Name:
    """The name of a junction on a strip, points from the strip's left end."""

    trail_id: str
    at_m: float
    x: float  # of the triangle
    named_x: float  # of the middle of its name
    group: int  # those that stand shoulder to shoulder stand on one line


def _names(plan: Plan, strip: Strip) -> list[_Name]:
    """Give the junctions of a strip, their names beside each other as near as there is room."""
    mine = strip.trail.trail_id
    joined = [(t.joins_at_m, t.trail_id) for t in plan.trails if t.joins_id == mine]
    inside = [
        (at_m, name)
        for at_m, name in sorted((at, name) for at, name in joined if at is not None)
        if strip.from_m <= at_m <= strip.to_m
    ]
    places = [(at_m - strip.from_m) * PT_A_M for at_m, _ in inside]
    wide = [width_of(name, NAME_PT) + NAME_GAP_PT for _, name in inside]
    stands, groups = side_by_side(places, wide)
    return [
        _Name(name, at_m, x, named_x, group)
        for (at_m, name), x, named_x, group in zip(inside, places, stands, groups, strict=True)
    ]


def _names_pt(names: list[_Name]) -> float:
    return NAMES_PT + LEAD_PT * any(abs(name.x - name.named_x) > STRAIGHT_PT for name in names)


def _ground_pt(plan: Plan, strip: Strip) -> float:
    _, z = _ground(plan, strip)
    return float(np.ptp(z)) * PT_A_M + BAR_PT if len(z) else BAR_PT


def _bands_pt(limits: Limits) -> float:
    up, down = _reach(limits)
    return (up + down + limits.cross_pct * 1.4) * PCT_PT + CROSS_GAP_PT


def _reach(limits: Limits) -> tuple[float, float]:
    """Give how far the band of grades goes up and down, percent: a third past the limits."""
    return limits.adverse_pct * 4 / 3, limits.favourable_pct * 4 / 3


def _ground(plan: Plan, strip: Strip) -> tuple[np.ndarray, np.ndarray]:
    """Give stations and elevations of a strip, metres, where they are known."""
    stations = plan.stations[strip.trail.trail_id]
    known = np.isfinite(stations.z)
    if not known.any():
        return np.empty(0), np.empty(0)
    count = max(2, math.ceil((strip.to_m - strip.from_m) / LONG_M) + 1)
    at = np.linspace(strip.from_m, strip.to_m, count)
    return at, np.interp(at, stations.at_m[known], stations.z[known])


def draw(sheet: Sheet, plan: Plan, strip: Strip, x: float, y: float) -> None:
    """Draw a strip; x, y is its upper left corner, points."""
    _Drawing(sheet, plan, strip, x, y, edge_pt(plan)).draw()


@dataclass
class _Drawing:
    """A strip being drawn."""

    sheet: Sheet
    plan: Plan
    strip: Strip
    left: float
    top: float
    edge: float  # left of the ground

    def draw(self) -> None:
        """Draw all of it, from the top down."""
        trail, units = self.strip.trail, self.plan.area.settings.area.units
        limits = limits_in_force(self.plan.area.settings)
        length = speak_length(trail.line.length, units)
        title = say("crew_profile_title", trail=trail.trail_id, length=length)
        if self.strip.from_m > 0:
            title = say("crew_continued", trail=trail.trail_id)
        self.sheet.text(self.left, self.top + 9, title, 9.0, fontweight="bold")
        y = self.top + TITLE_PT + _names_pt(_names(self.plan, self.strip))
        self._ground(y)
        y += _ground_pt(self.plan, self.strip)
        up, down = _reach(limits)
        zero = y + up * PCT_PT
        self._label(zero, say("crew_profile_grade"))
        self._band(zero, (limits.adverse_pct, -limits.favourable_pct), "grade_pct", (up, down))
        y = zero + down * PCT_PT + CROSS_GAP_PT + limits.cross_pct * 1.4 * PCT_PT
        self._label(y, say("crew_profile_cross"))
        self._band(y, (limits.cross_pct,), "cross_pct", (limits.cross_pct * 1.4, 0.0))
        self._stations(y)

    def _x(self, at_m: float) -> float:
        return self.left + self.edge + (at_m - self.strip.from_m) * PT_A_M

    def _label(self, y: float, words: str) -> None:
        self.sheet.text(self.left, y + 2, words, LEAST_PT)

    def _inside(self, at_m: float) -> bool:
        return self.strip.from_m <= at_m <= self.strip.to_m

    def _ground(self, y: float) -> None:
        """Draw the ground, water bars under it and junctions over it."""
        at, z = _ground(self.plan, self.strip)
        if not len(at):
            self._label(y, say("crew_grade_unknown"))
            return
        high = float(z.max())
        points = [(self._x(a), y + (high - h) * PT_A_M) for a, h in zip(at, z, strict=True)]
        self.sheet.rules([(*a, *b) for a, b in pairwise(points)], linewidths=1.6)

        def ground_at(at_m: float) -> tuple[float, float]:
            return self._x(at_m), y + (high - float(np.interp(at_m, at, z))) * PT_A_M

        mine = self.strip.trail.trail_id
        bars = [
            ground_at(bar.at_m)
            for bar in self.plan.bars
            if bar.trail_id == mine and self._inside(bar.at_m)
        ]
        self.sheet.rules([(x, h, x, h + BAR_PT) for x, h in bars], colors=ink.BAR, linewidths=1.8)
        names = _names(self.plan, self.strip)
        half = JUNCTION_PT / 2
        for name in names:
            x, tip = ground_at(name.at_m)
            tip -= 1.5
            back = tip - JUNCTION_PT
            self.sheet.rules([(x, tip, x - half, back), (x, tip, x + half, back),
                              (x - half, back, x + half, back)], linewidths=0.8)  # fmt: skip
        for _, group in groupby(names, key=lambda name: name.group):
            self._write(list(group), ground_at)

    def _write(self, names: list[_Name], ground_at: Callable[[float], tuple[float, float]]) -> None:
        """Write names that stand shoulder to shoulder on one line, led to their triangles."""
        half = width_of(names[-1].trail_id, NAME_PT) / 2
        reach = (names[0].named_x - half, *(name.x for name in names), names[-1].named_x + half)
        ground = min(ground_at(self.strip.from_m + x / PT_A_M)[1] for x in reach)
        back = ground - 1.5 - JUNCTION_PT
        led = any(abs(name.x - name.named_x) > STRAIGHT_PT for name in names)
        line = back - 1.5 - LEAD_PT * led
        start = self.left + self.edge
        for name in names:
            x, over = start + name.x, start + name.named_x
            if led:
                top = ground_at(name.at_m)[1] - 1.5 - JUNCTION_PT
                self.sheet.rules([(x, top, over, line + 1)], linewidths=0.4)
            self.sheet.text(over, line, name.trail_id, NAME_PT, ha="center")

    def _band(
        self, zero: float, limits: tuple[float, ...], what: str, reach: tuple[float, float]
    ) -> None:
        """Draw what each step has, pale within its limit and black over it."""
        end = self._x(self.strip.to_m)
        start = self._x(self.strip.from_m)
        for step in self.plan.steps:
            value = float(getattr(step, what))
            a, b = max(step.from_m, self.strip.from_m), min(step.to_m, self.strip.to_m)
            if step.trail_id != self.strip.trail.trail_id or b <= a or not math.isfinite(value):
                continue
            over = any(value > limit > 0 or value < limit < 0 for limit in limits)
            shown = min(max(value, -reach[1]), reach[0]) * PCT_PT
            self.sheet.box(self._x(a), zero - max(shown, 0.0), (b - a) * PT_A_M, abs(shown),
                           facecolor=ink.INK if over else PALE, linewidth=0.3)  # fmt: skip
        self.sheet.rules([(start, zero, end, zero)], linewidths=0.6)
        for limit in limits:
            y = zero - limit * PCT_PT
            self.sheet.rules([(start, y, end, y)], linestyles=[DOTS], linewidths=0.8)
            self.sheet.text(start - LIMIT_GAP_PT, y + 2.5, grade(limit), LEAST_PT, ha="right")

    def _stations(self, y: float) -> None:
        """Write stations under a strip."""
        units = self.plan.area.settings.area.units
        step, last = TICK_M[units], self.strip.to_m
        first = math.ceil(self.strip.from_m / step - 1e-9)
        marks = [k * step for k in range(first, math.floor(last / step + 1e-9) + 1)]
        if abs(last - self.strip.trail.line.length) < 0.5:
            marks = [m for m in marks if (last - m) * PT_A_M > width_of("0000", NAME_PT)] + [last]
        for at in marks:
            x, end = self._x(at), self.strip.trail.line.length
            self.sheet.rules([(x, y, x, y + 3)])
            self.sheet.text(x, y + 12, station_number(at, units, end), NAME_PT, ha="center")
