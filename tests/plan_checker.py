"""A second opinion on a whole plan, for tests.

Written from the rules and the files alone: it shares no measuring code with the
package, so that a fault would have to be made twice to go unseen. It looks for
broken limits only, and gives each the benefit of a stated slack.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

FT = 0.3048
GRADE_SLACK_PCT = 0.05
CROSS_SLACK_PCT = 0.15  # two ways of smoothing differ by less, away from gaps
LENGTH_SLACK_M = 0.6
RECORDED_MOST_DEG = 120.0  # a phone's record turns the few metres a mouth is read over
HAIRPIN_DEG = 150.0  # within 10 m of a record: no phone makes that of a trail a load follows
ANGLE_SLACK_DEG = 0.1
RADIUS_SHARE = 0.97
AREA_SLACK_M2 = 0.3
BANK_MOST_M = 1.5
HEIGHT_SLACK_M = 0.02
POOR = ("wet", "frozen")


@dataclass(frozen=True)
class Fault:
    """One broken limit: what, of whom, how much, and what was allowed."""

    kind: str
    subject: str
    value: float = math.nan
    limit: float = math.nan


def of_plan(plan: Any) -> list[Fault]:
    """Judge a finished plan."""
    return faults(
        plan.area,
        plan.landing,
        plan.trails,
        plan.positions,
        plan.pulls,
        plan.turning_places,
        [s.shape for s in plan.strips],
        plan.trees,
        plan.more_landings,
    )


def faults(
    area: Any,
    landing: Any,
    trails: Sequence[Any],
    positions: Sequence[Any] = (),
    pulls: Sequence[Any] = (),
    places: Sequence[Any] = (),
    strips: Sequence[BaseGeometry] = (),
    outcomes: Sequence[Any] = (),
    more_landings: Sequence[Any] = (),
) -> list[Fault]:
    """Judge the parts of a layout, drawn or planned."""
    view = View(area, list(trails), list(strips))
    found: list[Fault] = []
    sites = [one for one in (landing, *more_landings) if one is not None]
    by_id = {one.landing_id: one for one in sites}
    for trail in trails:
        found += trail_faults(view, trail, by_id.get(trail.landing_id, landing))
    found += network_faults(view)
    for one in sites:
        found += landing_faults(view, one)
    found += backing_faults(view, positions, places)
    found += place_faults(view, places)
    found += pull_faults(view, positions, pulls)
    found += list_faults(view, positions, pulls, outcomes)
    return found


class View:
    """The job as this checker sees it: its own sampling, its own closed ground."""

    def __init__(self, area: Any, trails: list[Any], strips: list[BaseGeometry]) -> None:
        self.area = area
        self.settings = area.settings
        self.trails = {t.trail_id: t for t in trails}
        self.strips = strips
        self.dem = area.dem
        raw = np.asarray(area.dem.z, dtype=float)
        self.raw = raw
        if area.dem.cell_m < 5:
            sigma = 1.0 / area.dem.cell_m
            known = np.isfinite(raw)
            filled = np.where(known, raw, 0.0)
            weight = ndimage.gaussian_filter(known.astype(float), sigma, mode="constant")
            blurred = ndimage.gaussian_filter(filled, sigma, mode="constant")
            full = weight > 1 - 1e-6  # beside a gap the two smoothings differ: not judged
            self.smooth = np.where(full, blurred / np.where(full, weight, 1.0), np.nan)
        else:
            self.smooth = raw
        tight = self.settings.ground.condition in POOR
        less = 5.0 if tight else 0.0
        t = self.settings.trails
        self.down = (min(t.favourable_pct, 25 - less), min(t.favourable_short_pct, 25 - less))
        self.up = (min(t.adverse_pct, 15 - less), min(t.adverse_short_pct, 15 - less))
        self.cross = min(t.cross_slope_pct, 20 - less)
        self.pull_angle = min(self.settings.winch.pull_angle_deg, 30 - less)
        land = [area.stand.buffer(0.06)]
        if not area.may_use.is_empty:
            land.append(area.may_use.buffer(0.06))
        self.land = shapely.unary_union(land)
        self.margin = self.settings.stand.setback_m
        if area.property_line is not None or self.settings.property.model_fields_set:
            self.margin = max(self.margin, self.settings.property.error_m)
        if area.property_line is None:
            self.edge = area.stand.boundary.difference(area.may_use.buffer(1.0))
        else:
            line = area.property_line
            self.edge = line.boundary if "Polygon" in line.geom_type else line

    def height(self, x: Floats, y: Floats, smooth: bool = False) -> Floats:
        """Read elevations by a spline of order one; NaN off the known ground."""
        col = (np.asarray(x) - self.dem.west_m) / self.dem.cell_m - 0.5
        row = (self.dem.north_m - np.asarray(y)) / self.dem.cell_m - 0.5
        grid = self.smooth if smooth else self.raw
        return np.asarray(
            ndimage.map_coordinates(grid, [row, col], order=1, mode="constant", cval=np.nan)
        )


def walk(line: LineString, step: float = 1.0) -> tuple[Floats, Floats, Floats]:
    """Give stations, x and y along a line, its end included."""
    at = np.append(np.arange(0, line.length - 1e-3, step), line.length)
    points = [line.interpolate(float(s)) for s in at]
    return at, np.array([p.x for p in points]), np.array([p.y for p in points])


def grades(view: View, line: LineString) -> tuple[Floats, Floats]:
    """Give stations and rise over the 10 m around each, outward, percent."""
    at, _, _ = walk(line)
    span = min(10.0, line.length)
    out = []
    for s in at:
        low = min(max(s - span / 2, 0.0), line.length - span)
        a, b = line.interpolate(low), line.interpolate(low + span)
        za, zb = view.height(np.array([a.x, b.x]), np.array([a.y, b.y]))
        out.append(100 * (zb - za) / span)
    return at, np.array(out)


def crosses(view: View, line: LineString, width: float) -> tuple[Floats, Floats]:
    """Give stations and the slope between the trail's edges, percent, never negative."""
    at, x, y = walk(line)
    across = max(width, 2 * view.dem.cell_m)
    out = []
    for s, px, py in zip(at, x, y, strict=True):
        low = min(max(s - 0.5, 0.0), max(line.length - 1, 0.0))
        a, b = line.interpolate(low), line.interpolate(min(low + 1, line.length))
        long = math.hypot(b.x - a.x, b.y - a.y) or 1.0
        nx, ny = -(b.y - a.y) / long * across / 2, (b.x - a.x) / long * across / 2
        z = view.height(np.array([px + nx, px - nx]), np.array([py + ny, py - ny]), smooth=True)
        out.append(100 * abs(z[0] - z[1]) / across)
    return at, np.array(out)


def pitches(
    at: Floats, rise: Floats, sustained: float, short: float, most: float
) -> Iterator[tuple[str, float, float]]:
    """Walk outward and yield what breaks the short-pitch rule, given slack."""
    half = np.gradient(at) if at.size > 1 else np.zeros_like(at)
    if at.size > 1:
        half[0], half[-1] = (at[1] - at[0]) / 2, (at[-1] - at[-2]) / 2
    on = rise > sustained + GRADE_SLACK_PCT
    rest, length, seen = math.inf, 0.0, False
    for i in range(at.size):
        if on[i]:
            if length == 0.0 and seen and rest < most - LENGTH_SLACK_M - 1:
                yield "pitch_too_soon", rest, most
            length += half[i]
            seen, rest = True, 0.0
            if rise[i] > short + GRADE_SLACK_PCT:
                yield "pitch_too_steep", float(rise[i]), short
        else:
            if length > most + LENGTH_SLACK_M:
                yield "pitch_too_long", length, most
            length = 0.0
            rest = (0.0 if math.isinf(rest) else rest) + half[i] if seen else math.inf
    if length > most + LENGTH_SLACK_M:
        yield "pitch_too_long", length, most


def bends(line: LineString) -> tuple[Floats, Floats]:
    """Give stations and radius from how far a 2 m chord turns to the next."""
    at = np.arange(2.0, line.length - 2.0 + 1e-9, 0.5)
    if at.size == 0:
        return at, at
    a, b, c = (
        np.array([[p.x, p.y] for p in (line.interpolate(float(s + d)) for s in at)])
        for d in (-2.0, 0.0, 2.0)
    )
    one, two = np.arctan2(*(b - a).T[::-1]), np.arctan2(*(c - b).T[::-1])
    turn = np.abs(np.angle(np.exp(1j * (two - one))))
    chord = 0.5 * (np.hypot(*(b - a).T) + np.hypot(*(c - b).T))
    return at, np.where(turn > 1e-9, chord / (2 * np.sin(np.maximum(turn, 1e-9) / 2)), np.inf)


def trail_faults(view: View, trail: Any, landing: Any) -> list[Fault]:
    """Judge one trail: grades, cross slope, bends, and where it lies."""
    found: list[Fault] = []
    name, line = trail.trail_id, trail.line
    at, rise = grades(view, line)
    pitch = view.settings.trails.short_pitch_m
    for way, sign, limits in (("down", 1, view.down), ("up", -1, view.up)):
        for kind, value, limit in pitches(at, sign * rise, *limits, pitch):
            found.append(Fault(f"{kind}_{way}", name, value, limit))
    at, cross = crosses(view, line, trail.width_m)
    most = max(view.cross, view.settings.trails.bench_up_to_pct)
    steep = cross > most + CROSS_SLACK_PCT
    if not trail.benched and steep.any():
        old = [e.line.buffer(2.5) for e in view.area.existing if e.benched]
        bench = shapely.unary_union(old) if old else Polygon()
        spots = [line.interpolate(float(s)) for s in at[steep]]
        bad = [c for c, p in zip(cross[steep], spots, strict=True) if not bench.covers(p)]
        if bad:
            found.append(Fault("cross_slope", name, max(bad), most))
    if trail.source == "routed":
        least = view.settings.trails.turn_radius_m
        _, radius = bends(line)
        if radius.size and radius.min() < RADIUS_SHARE * least:
            found.append(Fault("bend", name, float(radius.min()), least))
    elif recorded(view, trail):
        turn = hairpin(line)
        if turn > HAIRPIN_DEG:
            found.append(Fault("hairpin", name, turn, HAIRPIN_DEG))
    pieces, high = benches(view, trail, at, cross)
    if high > BANK_MOST_M + HEIGHT_SLACK_M:
        found.append(Fault("bench_cut", name, high, BANK_MOST_M))
    ribbon = shapely.unary_union([line.buffer(trail.width_m / 2, cap_style="flat"), *pieces])
    for kind, shape in closed_ground(view):
        over = ribbon.intersection(shape).area
        if over > AREA_SLACK_M2 and not (kind == "strip" and view.settings.trails.crossings):
            found.append(Fault(kind, name, over, 0.0))
    outside = ribbon.difference(view.land).area
    if outside > AREA_SLACK_M2:
        found.append(Fault("outside", name, outside, 0.0))
    if not view.settings.trails.crossings:
        for water in view.area.water:
            if "Point" not in water.geometry.geom_type and line.intersects(water.geometry):
                found.append(Fault("water", name))
    if not trail.joins_id and landing is not None:
        gap = Point(line.coords[0]).distance(landing.shape)
        if gap > 1.0:
            found.append(Fault("off_landing", name, gap, 1.0))
    return found


def profile(slope: float, width: float) -> tuple[float, float, float]:
    """Give how far bank and toe reach beyond a bench, and the bank's height, metres.

    Found by trial: the bench is slid along the slope until cut and fill hold the
    same; from 30 % it is cut whole. Bank 1:1, fill 1.5:1.
    """

    def side(part: float, out: float) -> tuple[float, float, float]:
        low = slope * part  # ground against bench at the bench's own edge
        if slope * out >= 1:
            return math.inf, math.inf, math.inf
        reach = 0.0
        for step in (1.0, 0.1, 0.01, 0.001):  # walk out until the two surfaces meet
            while (reach + step) / out < low + slope * (reach + step):
                reach += step
        return 0.5 * low * (part + reach), reach, reach / out

    if slope >= 0.3 or slope * 1.5 >= 1:
        _, up, high = side(width, 1.0)
        return up, 0.0, high
    lo, hi = 0.0, width
    for _ in range(40):
        part = 0.5 * (lo + hi)
        lo, hi = (lo, part) if side(part, 1.0)[0] > side(width - part, 1.5)[0] else (part, hi)
    _, up, high = side(lo, 1.0)
    return up, side(width - lo, 1.5)[1], high


def benches(view: View, trail: Any, at: Floats, cross: Floats) -> tuple[list[BaseGeometry], float]:
    """Give the ground that new benches take, a piece a station, and the highest bank."""
    most = view.settings.trails.bench_up_to_pct
    old = [e.line.buffer(2.5) for e in view.area.existing if e.benched]
    bench = shapely.unary_union(old) if old else Polygon()
    pieces: list[BaseGeometry] = []
    high = 0.0
    for s, c in zip(at, cross, strict=True):
        # the slack goes to the plan: at the edge of a limit the gentler reading counts
        if trail.benched or not view.cross + CROSS_SLACK_PCT < c <= most + CROSS_SLACK_PCT:
            continue
        a = trail.line.interpolate(max(s - 0.5, 0.0))
        b = trail.line.interpolate(min(s + 0.5, trail.line.length))
        long = a.distance(b)
        if long == 0.0 or bench.covers(Point(a)):
            continue
        up, down, bank = profile((c - CROSS_SLACK_PCT) / 100, trail.width_m)
        high = max(high, bank)
        nx, ny = -(b.y - a.y) / long, (b.x - a.x) / long
        half = max(trail.width_m, 2 * view.dem.cell_m) / 2
        mx, my = (a.x + b.x) / 2, (a.y + b.y) / 2
        z = view.height(
            np.array([mx + nx * half, mx - nx * half]),
            np.array([my + ny * half, my - ny * half]),
            smooth=True,
        )
        for sign, left in ((1, True), (-1, False)):
            reach = trail.width_m / 2 + (up if (z[0] >= z[1]) == left else down)
            if math.isfinite(reach):
                short = LineString([a, b])
                pieces.append(short.buffer(sign * reach, cap_style="flat", single_sided=True))
    return pieces, high


def closed_ground(view: View) -> Iterator[tuple[str, BaseGeometry]]:
    """Yield every shape no machine may stand in."""
    for shape in view.strips:
        yield "strip", shape
    for shape in view.area.keep_out:
        yield "keep_out", shape
    if view.margin > 0 and not view.edge.is_empty:
        yield "setback", view.edge.buffer(view.margin)
    away = {
        "house": 50,
        "pipe": 10,
        "well": 50,
        "fence": 3,
        "wall": 3,
        "ledge": 15,
        "sinkhole": 50,
        "wire": 0,
        "road": 0,
        "public_trail": 0,
    }
    for hazard in view.area.hazards:
        feet = away.get(hazard.kind, 50)
        if feet:
            yield "hazard", hazard.geometry.buffer(feet * FT)
    trees = view.area.trees
    for i, kind in enumerate(trees.hazard):
        if kind and not trees.marked[i]:
            tall = trees.height_m[i]
            if not np.isfinite(tall):  # as tall as any that was measured, at the least
                known = trees.height_m[np.isfinite(trees.height_m)]
                tall = known.max() if known.size else 85 * FT
            yield "hazard_tree", Point(trees.x[i], trees.y[i]).buffer(2 * tall)


def network_faults(view: View) -> list[Fault]:
    """Judge how trails join: mouths, angles, lengths between junctions, crossings."""
    found: list[Fault] = []
    t = view.settings.trails
    children: dict[str, list[float]] = {}
    for trail in view.trails.values():
        if not trail.joins_id:
            continue
        below = view.trails.get(trail.joins_id)
        if below is None:
            found.append(Fault("joins_nothing", trail.trail_id))
            continue
        start = Point(trail.line.coords[0])
        if start.distance(below.line) > 0.15:
            found.append(Fault("mouth", trail.trail_id, start.distance(below.line), 0.1))
        at = below.line.project(start)
        if trail.joins_at_m is None or abs(at - trail.joins_at_m) > LENGTH_SLACK_M:
            found.append(Fault("joins_at", trail.trail_id, at, trail.joins_at_m or math.nan))
        children.setdefault(trail.joins_id, []).append(at)
        angle = opening(trail.line, below.line, at)
        most = 90.0
        if recorded(view, trail) or recorded(view, below):
            angle, most = min(angle, opening(trail.line, below.line, at, 2.0)), RECORDED_MOST_DEG
        if angle > most + ANGLE_SLACK_DEG:
            found.append(Fault("junction", trail.trail_id, angle, 90.0))
    for trail in view.trails.values():
        if trail.kind == "spur" and trail.source == "routed":
            knots = sorted([0.0, *children.get(trail.trail_id, []), trail.line.length])
            longest = float(np.diff(knots).max())
            if longest > t.spur_length_m + LENGTH_SLACK_M:
                found.append(Fault("spur_length", trail.trail_id, longest, t.spur_length_m))
        if not trail.line.is_simple and knot(trail.line) > (recorded(view, trail) or 0.0):
            found.append(Fault("crosses_itself", trail.trail_id))
    names = sorted(view.trails)
    for i, a in enumerate(names):
        for b in names[i + 1 :]:
            found += crossing_faults(view.trails[a], view.trails[b])
    return found


def recorded(view: View, trail: Any) -> float | None:
    """Give how far off a trail may be that came from a phone; None for any other."""
    kept = [*view.area.fixed, *([view.area.main_fixed] if view.area.main_fixed else [])]
    own = {t.trail_id: t.walked_m for t in kept}
    if trail.trail_id == "M" and trail.source == "drawn":
        return view.area.main_walked_m
    return own.get(trail.trail_id) if trail.source == "fixed" else None


def knot(line: LineString) -> float:
    """Give the size of the largest loop a line makes by crossing itself, metres."""
    faces = shapely.get_parts(shapely.polygonize([shapely.node(line)]))
    return max((2 * float(shapely.minimum_bounding_radius(face)) for face in faces), default=0.0)


def hairpin(line: LineString) -> float:
    """Give the most a line turns between 15 m before a place and 15 m after it, degrees."""
    most = 0.0
    for s in np.arange(20.0, line.length - 20.0, 1.0):
        a, b, c, d = (line.interpolate(float(s + far)) for far in (-20, -5, 5, 20))
        turn = math.atan2(d.y - c.y, d.x - c.x) - math.atan2(b.y - a.y, b.x - a.x)
        most = max(most, abs(math.degrees(math.remainder(turn, 2 * math.pi))))
    return most


def opening(spur: LineString, main: LineString, at: float, over: float = 1.0) -> float:
    """Give the angle between outbound directions by the cosine rule, degrees."""
    far = min(15.0 * over, spur.length)
    near = 5.0 * over
    a, b = spur.interpolate(min(5.0, far / 2)), spur.interpolate(far)
    c, d = main.interpolate(max(at - near, 0)), main.interpolate(min(at + near, main.length))
    u, v = np.array([b.x - a.x, b.y - a.y]), np.array([d.x - c.x, d.y - c.y])
    return math.degrees(math.acos(np.clip(u @ v / np.linalg.norm(u) / np.linalg.norm(v), -1, 1)))


def crossing_faults(one: Any, two: Any) -> list[Fault]:
    """Find where two trails meet though neither begins there."""
    meets = one.line.intersection(two.line)
    if meets.is_empty:
        return []
    mouths = [
        Point(t.line.coords[0]) for t, o in ((one, two), (two, one)) if t.joins_id == o.trail_id
    ]
    if Point(one.line.coords[0]).distance(Point(two.line.coords[0])) < 0.15:
        mouths.append(Point(one.line.coords[0]))
    reach = max(one.width_m, two.width_m) + 0.1
    near = shapely.unary_union([m.buffer(reach) for m in mouths]) if mouths else Polygon()
    rest = meets.difference(near)
    return [] if rest.is_empty else [Fault("crossing", f"{one.trail_id}+{two.trail_id}")]


def landing_faults(view: View, landing: Any) -> list[Fault]:
    """Judge the landing: slope by a fit to cells, distance to strips, land."""
    if landing is None:
        return []
    found: list[Fault] = []
    shape = landing.shape
    row, col = np.indices(view.raw.shape)
    x = view.dem.west_m + (col + 0.5) * view.dem.cell_m
    y = view.dem.north_m - (row + 0.5) * view.dem.cell_m
    west, south, east, north = shape.bounds
    box = (x >= west) & (x <= east) & (y >= south) & (y <= north)
    inside = np.zeros_like(box)
    inside[box] = shapely.contains_xy(shape, x[box], y[box])
    # a plane through a handful of coarse cells says nothing of the ground between them
    if inside.sum() >= 25 and np.isfinite(view.raw[inside]).all():
        px, py, z = x[inside] - landing.x, y[inside] - landing.y, view.raw[inside]
        cov = np.cov(np.stack([px, py, z]))
        gx, gy = np.linalg.solve(cov[:2, :2], cov[:2, 2])
        slope = 100 * math.hypot(gx, gy)
        if slope > 8 + 0.5:
            found.append(Fault("landing_slope", landing.landing_id, slope, 8.0))
        if abs(slope - landing.slope_pct) > 0.5:
            found.append(Fault("landing_stated", landing.landing_id, landing.slope_pct, slope))
    for strip in view.strips:
        if shape.distance(strip) < 50 * FT - 0.1:
            found.append(Fault("landing_strip", landing.landing_id, shape.distance(strip), 50 * FT))
    if shape.difference(view.land).area > AREA_SLACK_M2:
        found.append(Fault("landing_outside", landing.landing_id))
    if view.margin > 0 and shape.distance(view.edge) < view.margin - 0.05:
        found.append(Fault("landing_setback", landing.landing_id))
    for keep_out in view.area.keep_out:
        if shape.intersection(keep_out).area > AREA_SLACK_M2:
            found.append(Fault("landing_keep_out", landing.landing_id))
    return found


def way_points(view: View, trail_id: str, at: float, step: float = 0.5) -> list[tuple[str, int]]:
    """Give the way from the landing as small steps, each with its trail's name."""
    trail = view.trails.get(trail_id)
    if trail is None:
        return []
    before = (
        way_points(view, trail.joins_id, trail.joins_at_m or 0.0, step) if trail.joins_id else []
    )
    return before + [(trail_id, i) for i in range(round(at / step))]


def backing_faults(
    view: View, positions: Sequence[Any], places: Sequence[Any], step: float = 0.5
) -> list[Fault]:
    """Count the steps of each position's way that no turning place's way shares."""
    found: list[Fault] = []
    seen: list[set[tuple[str, int]]] = [
        set(way_points(view, p.trail_id, p.at_m, step)) for p in places
    ]
    most = view.settings.trails.back_up_m
    for position in positions:
        if not position.trail_id:
            continue
        way = way_points(view, position.trail_id, position.at_m, step)
        if not way and position.at_m > step:
            found.append(Fault("no_way", position.position_id))
            continue
        alone = step * min([len(way), *(len([w for w in way if w not in s]) for s in seen)])
        if alone > most + 2 * LENGTH_SLACK_M:
            found.append(Fault("backing", position.position_id, alone, most))
        if position.back_m < alone - 3:
            found.append(Fault("backing_stated", position.position_id, position.back_m, alone))
    return found


def place_faults(view: View, places: Sequence[Any]) -> list[Fault]:
    """Judge turning places: level, and on open ground."""
    found: list[Fault] = []
    for place in places:
        if place.kind in ("pad", "loop"):
            x, y = sample(place.shape)
            z = view.height(x, y)
            if np.isfinite(z).all():
                fit = np.polynomial.polynomial.polyvander2d(x - x.mean(), y - y.mean(), [1, 1])
                slope = np.linalg.lstsq(fit[:, [0, 1, 2]], z, rcond=None)[0]
                steep = 100 * math.hypot(slope[1], slope[2])
                if steep > 10 + 0.5:
                    found.append(Fault("place_slope", place.place_id, steep, 10.0))
        for kind, shape in closed_ground(view):
            if place.shape.intersection(shape).area > AREA_SLACK_M2:
                found.append(Fault(f"place_{kind}", place.place_id))
        if place.shape.difference(view.land).area > AREA_SLACK_M2:
            found.append(Fault("place_outside", place.place_id))
    return found


def sample(shape: BaseGeometry, step: float = 1.0) -> tuple[Floats, Floats]:
    """Give points spread over a shape."""
    west, south, east, north = shape.bounds
    x, y = np.meshgrid(np.arange(west, east, step), np.arange(south, north, step))
    inside = shapely.contains_xy(shape, x, y)
    return x[inside], y[inside]


def pull_faults(view: View, positions: Sequence[Any], pulls: Sequence[Any]) -> list[Fault]:
    """Judge every pull from its two ends."""
    found: list[Fault] = []
    parked = {p.position_id: p for p in positions}
    s = view.settings
    rope = s.winch.cable_m - 0.5 * s.winch.wraps_kept + s.winch.choker_m
    by_name = {name: i for i, name in enumerate(view.area.trees.tree_id)}
    for position in positions:
        found += parking_faults(view, position)
    for pull in pulls:
        position = parked.get(pull.position_id)
        if position is None or pull.tree_id not in by_name:
            found.append(Fault("pull_from_nowhere", pull.tree_id))
            continue
        row = by_name[pull.tree_id]
        x = np.linspace(position.x, view.area.trees.x[row], 200)
        y = np.linspace(position.y, view.area.trees.y[row], 200)
        far = math.hypot(x[-1] - x[0], y[-1] - y[0])
        n = max(2, math.ceil(far) + 1)
        xs, ys = np.linspace(x[0], x[-1], n), np.linspace(y[0], y[-1], n)
        z = view.height(xs, ys)
        if not np.isfinite(z).all():
            continue
        ground = sum(
            math.dist((xs[i], ys[i], z[i]), (xs[i + 1], ys[i + 1], z[i + 1])) for i in range(n - 1)
        )
        rise = z[-1] - z[0]
        above = 100 * rise / max(ground, 1e-9)
        steepness = min(max(above / 20, 0), 1)
        reach = min(
            rope,
            s.winch.working_reach_m
            + steepness
            * (min(s.winch.uphill_reach_m, s.winch.working_reach_m) - s.winch.working_reach_m),
        )
        if ground > reach + 0.1:
            found.append(Fault("reach", pull.tree_id, ground, reach))
        for kind, said, true in (
            ("map_m", pull.map_m, far),
            ("ground_m", pull.ground_m, ground),
            ("rise_m", pull.rise_m, rise),
        ):
            if abs(said - true) > LENGTH_SLACK_M:
                found.append(Fault(f"stated_{kind}", pull.tree_id, said, true))
        if above > 20 + 0.1:
            found.append(Fault("load_above", pull.tree_id, above, 20.0))
        found += angle_faults(view, position, pull, x[-1], y[-1])
        found += way_faults(view, pull, row, LineString([(x[0], y[0]), (x[-1], y[-1])]))
    return found


def lie(view: View, position: Any) -> tuple[float, float]:
    """Give the slope along and across a parked outfit, percent; across + left higher."""
    t = view.settings.tractor
    azimuth = math.radians(position.rear_azimuth_deg)
    east, north = math.sin(azimuth), math.cos(azimuth)
    mx, my = position.x - east * t.length_m / 2, position.y - north * t.length_m / 2
    long, wide = max(t.length_m, 2 * view.dem.cell_m), max(t.track_m, 2 * view.dem.cell_m)
    # looking back over the winch, left is a quarter turn counter-clockwise
    x = np.array(
        [mx + east * long / 2, mx - east * long / 2, mx - north * wide / 2, mx + north * wide / 2]
    )
    y = np.array(
        [my + north * long / 2, my - north * long / 2, my + east * wide / 2, my - east * wide / 2]
    )
    z = view.height(x, y, smooth=True)
    return float(100 * (z[0] - z[1]) / long), float(100 * (z[2] - z[3]) / wide)


def parking_faults(view: View, position: Any) -> list[Fault]:
    """Judge how level a position is, and whether it lies on its trail."""
    along, across = lie(view, position)
    found = [
        Fault("parking", position.position_id, abs(value), 15.0)
        for value in (along, across)
        if abs(value) > 15 + CROSS_SLACK_PCT
    ]
    trail = view.trails.get(position.trail_id)
    if trail is not None:
        spot = trail.line.interpolate(position.at_m)
        if spot.distance(Point(position.x, position.y)) > 1.0:
            found.append(Fault("position_off_trail", position.position_id))
    return found


def angle_faults(view: View, position: Any, pull: Any, x: float, y: float) -> list[Fault]:
    """Judge the angle off the parked axis by the practice table."""
    azimuth = math.degrees(math.atan2(x - position.x, y - position.y))
    off = (azimuth - position.rear_azimuth_deg + 180) % 360 - 180  # + clockwise: to the right
    _, across = lie(view, position)
    if not math.isfinite(across):
        return []
    cross = abs(across)
    slack = CROSS_SLACK_PCT
    most = 30.0 if cross <= 5 + slack else 20.0 if cross <= 10 + slack else 15.0
    downhill = (off > 0 and across > 0) or (off < 0 and across < 0)
    if downhill and cross > 1 + slack:
        most /= 2
    most = min(most, view.pull_angle)
    found: list[Fault] = []
    if abs(off) > most + ANGLE_SLACK_DEG:
        found.append(Fault("angle", pull.tree_id, abs(off), most))
    if abs(abs(off) - pull.angle_deg) > 1.0:
        found.append(Fault("stated_angle", pull.tree_id, pull.angle_deg, abs(off)))
    return found


def way_faults(view: View, pull: Any, row: int, rope: LineString) -> list[Fault]:
    """Judge what the rope passes: land, water, closed ground, stems."""
    found: list[Fault] = []
    cell = view.dem.cell_m
    if rope.difference(view.land.buffer(cell)).length > 0:
        found.append(Fault("rope_outside", pull.tree_id))
    for water in view.area.water:
        if "Point" not in water.geometry.geom_type and rope.intersects(water.geometry):
            found.append(Fault("rope_water", pull.tree_id))
    for shape in view.area.keep_out:
        if rope.intersects(shape.buffer(-cell)):
            found.append(Fault("rope_keep_out", pull.tree_id))
    for hazard in view.area.hazards:
        if hazard.kind not in ("pipe", "well") and rope.intersects(hazard.geometry):
            found.append(Fault("rope_hazard", pull.tree_id))
    trees = view.area.trees

    def error(i: int) -> float:
        own = float(trees.position_error_m[i])
        return own if math.isfinite(own) else float(view.settings.stand.position_error_m)

    if not trees.full_list or error(row) > 1.5:
        return found
    near = [
        i
        for i in range(len(trees.tree_id))
        if not trees.marked[i]
        and error(i) <= 1.5
        and rope.distance(Point(trees.x[i], trees.y[i])) < 2.0
        and not in_trail(view, i)
    ]
    for i in near:
        bark = rope.distance(Point(trees.x[i], trees.y[i])) - np.nan_to_num(trees.dbh_cm[i]) / 200
        if bark < 1 * FT - 0.03:
            found.append(Fault("rope_stem", pull.tree_id))
        if trees.keep[i] and bark < 3 * FT - 0.03:
            found.append(Fault("keep_tree", pull.tree_id))
    return found


def in_trail(view: View, row: int) -> bool:
    """Tell whether a stem comes out with a trail."""
    spot = Point(view.area.trees.x[row], view.area.trees.y[row])
    return any(t.line.distance(spot) < t.width_m / 2 for t in view.trails.values())


def list_faults(
    view: View, positions: Sequence[Any], pulls: Sequence[Any], outcomes: Iterable[Any]
) -> list[Fault]:
    """Hold the lists against each other."""
    found: list[Fault] = []
    trees = view.area.trees
    pulled = [p.tree_id for p in pulls]
    found += [Fault("pulled_twice", t) for t in sorted({t for t in pulled if pulled.count(t) > 1})]
    listed = [t for p in positions for t in p.tree_ids]
    if sorted(listed) != sorted(pulled):
        found.append(Fault("positions_and_pulls", "lists"))
    marked = {trees.tree_id[i] for i in range(len(trees.tree_id)) if trees.marked[i]}
    found += [Fault("pulled_unmarked", t) for t in pulled if t not in marked]
    told = {o.tree_id: o for o in outcomes}
    if told:
        found += [Fault("no_outcome", t) for t in sorted(marked - set(told))]
        served = {t for t, o in told.items() if o.status == "served"}
        found += [Fault("served_and_pulled", t) for t in sorted(served ^ set(pulled))]
    return found
