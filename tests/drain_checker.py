"""A second opinion on drains: walks every trail and looks at every outlet, in plain steps.

Shares no measuring code with the package: own table, own elevations (see plan_checker),
crests by looking both ways from every station.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import plan_checker
import shapely
from shapely.geometry import LineString, Point

FOOT_M = 0.3048  # exact by definition
NOISE_M = 0.5  # a rise or fall less than this is no crest and no low point
# Southern Regional Extension Forestry, "Distances Between Water Bars", typed from the page.
PRINTED = [(2, 250), (5, 135), (10, 80), (15, 60), (20, 45), (25, 40), (30, 35), (40, 30)]
SKEW = math.radians(30)


def printed_spacing_m(grade_pct: float) -> float:
    """Read the page as a person does, and draw a line on log paper between two rows."""
    steep = max(abs(grade_pct), 2.0)
    for (low, near), (high, far) in pairwise(PRINTED):
        if steep <= high + 1e-6:
            share = math.log(steep / low) / math.log(high / low)
            return near * (far / near) ** share * FOOT_M
    raise AssertionError(grade_pct)


def falls(z: Sequence[float], i: int, step: int) -> bool:
    """Say whether the ground drops half a metre from here before it rises above here."""
    j = i + step
    while 0 <= j < len(z) and z[j] <= z[i]:
        if z[i] - z[j] >= NOISE_M - 1e-9:
            return True
        j += step
    return not 0 <= j < len(z)


def walked_too_far(
    at: Sequence[float],
    z: Sequence[float],
    grade_pct: Sequence[float],
    stops: Iterable[float],
    room_m: Callable[[float], float] = printed_spacing_m,
) -> float:
    """Follow the water along a trail from each crest and drain, and give the longest way.

    1.0 is one spacing of the table.
    """
    placed = sorted(stops)
    crests = [float(at[i]) for i in range(len(z)) if falls(z, i, -1) and falls(z, i, 1)]
    resets = {round(place, 9) for place in [*placed, *crests]}
    longest = way = 0.0
    for i in range(len(z) - 1):
        room = min(room_m(g) for g in grade_pct[i : i + 2])
        cuts = [float(at[i]), *[s for s in placed if at[i] < s < at[i + 1]], float(at[i + 1])]
        for a, b in pairwise(cuts):
            if round(a, 9) in resets:
                way = 0.0
            way += (b - a) / room
            longest = max(longest, way)
    return longest


def faults(
    plan: Any, room_m: Callable[[float], float] = printed_spacing_m
) -> Iterator[tuple[str, str, float]]:
    """Yield what is wrong with the drains of a plan: of what kind, which, and by how much."""
    strips = [strip.shape for strip in plan.strips]
    view = plan_checker.View(plan.area, list(plan.trails), strips)
    for trail in plan.trails:
        mine = [bar for bar in plan.bars if bar.trail_id == trail.trail_id]
        at, x, y = plan_checker.walk(trail.line)
        z = view.height(x, y)
        _, rise = plan_checker.grades(view, trail.line)
        longest = walked_too_far(
            at.tolist(), z.tolist(), rise.tolist(), [bar.at_m for bar in mine], room_m
        )
        if longest > 1 + 1e-3:
            yield ("too far", trail.trail_id, longest)
        for bar in mine:
            spot = trail.line.interpolate(bar.at_m)
            if spot.distance(Point(bar.x, bar.y)) > 0.05:
                yield ("off its trail", bar.bar_id, spot.distance(Point(bar.x, bar.y)))
            if bar.kind == "grade_break":
                k = int(np.abs(at - bar.at_m).argmin())
                up = [-float(h) for h in z]
                if not (falls(up, k, -1) and falls(up, k, 1)):
                    yield ("no low point", bar.bar_id, bar.at_m)
            if bar.outlet != "unknown":
                yield from _outlet_faults(plan, view, trail, bar)


def _outlet_faults(
    plan: Any, view: plan_checker.View, trail: Any, bar: Any
) -> Iterator[tuple[str, str, float]]:
    end, start = outlet(trail, bar)
    spots = [end, Point(bar.x, bar.y), start]
    heights = view.height(*np.array([(p.x, p.y) for p in spots]).T, smooth=True)
    down, middle, high = heights.tolist()
    if not down < middle:
        yield ("outlet is not below the trail", bar.bar_id, down - middle)
    if not down < high:
        yield ("bar does not fall", bar.bar_id, down - high)
    beds = [(t.trail_id, t.line.buffer(t.width_m / 2, cap_style="flat")) for t in plan.trails]
    closed = [("landing", plan.landing.shape), *(("strip", s.shape) for s in plan.strips), *beds]
    for name, shape in closed:
        if shape.buffer(-0.01).intersects(end):
            yield (f"opens into {name}", bar.bar_id, 0.0)
    if bar.meets and bar.room_m is not None:
        # water cannot come to a thing sooner than straight, nor go unseen 50 m round it
        what = next((s for n, s in closed if n == bar.meets), None)
        if what is not None and bar.meets != "strip" and what.distance(end) > bar.room_m + 0.05:
            yield ("meets sooner than straight", bar.bar_id, bar.room_m)


def outlet(trail: Any, bar: Any) -> tuple[Point, Point]:
    """Give the lower and the upper end of a bar: 30 degrees off square, 0.3 m past the edges."""
    line: LineString = trail.line
    a, b = (line.interpolate(min(max(bar.at_m + d, 0.0), line.length)) for d in (-0.5, 0.5))
    ahead = complex(b.x - a.x, b.y - a.y)
    ahead /= abs(ahead)
    down_trail = -ahead if bar.grade_pct <= 0 else ahead
    aside = ahead * (1j if bar.outlet == "left" else -1j)
    half = (trail.width_m / 2 + 0.3) / math.cos(SKEW)
    way = half * (math.cos(SKEW) * aside + math.sin(SKEW) * down_trail)
    ends = [Point(bar.x + s * way.real, bar.y + s * way.imag) for s in (1, -1)]
    assert shapely.distance(*ends) > trail.width_m
    return ends[0], ends[1]
