"""Everything of a plan that goes to the woods on a screen, in one order.

From the landing outward, trail by trail; on a trail the turning places and
winch positions as one comes to them, each position followed by its trees, then
the trail's water bars. The order of work itself is not known yet.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import shapely
from shapely.geometry import GeometryCollection, LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout import track_types
from layout.land import hazard_rule
from layout.outputs.device.notes import Notes
from layout.outputs.device.short_names import with_prefix
from layout.outputs.device.way_in import places
from layout.outputs.keep_off_rings import ring
from layout.outputs.stop_order import (
    SMALL_LANDING,
    TRAIL_START,
    TREE,
    TURNING_PLACE,
    WATER_BAR,
    WINCH_POSITION,
)
from layout.outputs.trailer_place import small_landing
from layout.outputs.tree_orders import keep_off, standing_hazards
from layout.outputs.words import say
from layout.records import REACHED

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import Trail, TreeOutcome, TurningPlace, WaterBar, WinchPosition

LANDING = "landing"
WAY_IN = "way in, and help"


@dataclass(frozen=True, slots=True)
class Mark:
    """One thing to be found, followed or kept off.

    Parameters
    ----------
    kind : str
        What it is, as its ``type`` in a file says.
    plan_id : str
        What the plan calls it.
    label : str
        What a receiver should call it, before it is shortened.
    note : str
        What stands beside the name.
    shape : shapely geometry
        In the area's coordinates.
    state : {"", "served", "missed", "done"}
        Of a marked tree.
    spot : Point or None
        Where a receiver shows it, if it is a place with an outline.
    first : bool
        Whether it is a marked hazard tree, which is cut before all else.
    """

    kind: str
    plan_id: str
    label: str
    note: str
    shape: BaseGeometry
    state: str = ""
    spot: Point | None = None
    first: bool = False

    def points(self) -> list[Point]:
        """Give it as points; none where it is a line to follow or keep off."""
        if self.spot is not None:
            return [self.spot]
        return [part for part in single_shapes(self.shape) if isinstance(part, Point)]

    def lines(self) -> list[LineString]:
        """Give it as lines: itself, or its edges; none where it is a place."""
        if self.spot is not None:
            return []
        return [line for part in single_shapes(self.shape) for line in _edges(part)]


def marks(plan: Plan) -> tuple[Mark, ...]:
    """Give all marks of a plan, in the order they are listed.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of Mark
        Places and trails from the landing outward, then what to keep off.
    """
    notes = Notes(plan)
    return (*_places(plan, notes), *_trails(plan, notes), *_closed(plan, notes))


def outward(trails: Sequence[Trail]) -> list[Trail]:
    """Give trails from the landing outward: each before those that leave it, nearest first."""
    names = {trail.trail_id for trail in trails}
    leaving: dict[str, list[Trail]] = defaultdict(list)
    for trail in trails:
        leaving[trail.joins_id if trail.joins_id in names else ""].append(trail)
    for name, those in leaving.items():
        if name:
            those.sort(key=lambda trail: (trail.joins_at_m or 0.0, trail.trail_id))
    out: list[Trail] = []
    waiting = leaving[""][::-1]
    while waiting:
        out.append(waiting.pop())
        waiting += leaving[out[-1].trail_id][::-1]
    return out


def single_shapes(shape: BaseGeometry) -> list[BaseGeometry]:
    """Give the points, lines and polygons of any geometry; empty ones are dropped."""
    parts = [part for part in shapely.get_parts(shape) if not part.is_empty]
    if not any(hasattr(part, "geoms") for part in parts):
        return parts
    return [inner for part in parts for inner in single_shapes(part)]


def _places(plan: Plan, notes: Notes) -> Iterator[Mark]:
    """Give the places to be found, trail by trail, and the trees no position pulls."""
    for name, note, at in places(plan):
        yield Mark(WAY_IN, name, name, note, Point(at))
    for landing in plan.landings:
        yield Mark(
            LANDING,
            landing.landing_id,
            f"LANDING{landing.landing_id[1:]}" if plan.more_landings else "LANDING",
            notes.landing(landing),
            landing.shape,
            spot=Point(landing.x, landing.y),
        )
    two = small_landing(plan)
    if two is not None and two.shape is not None:
        spot = two.shape.representative_point()
        name = two.trail_id
        yield Mark(SMALL_LANDING, name, "SMALLDG", notes.small_landing(two), two.shape, spot=spot)
    for trail in outward(plan.trails):
        if not trail.joins_id:
            name, note = trail.trail_id, say("device_start", trail=trail.trail_id)
            spot = Point(trail.line.coords[0][:2])
            yield Mark(TRAIL_START, f"{name} 0", f"{name}-0", note, spot)
    cut = plan.area.trees.marked
    left = {o.tree_id: o for o in plan.trees if cut[notes.tree_row[o.tree_id]]}
    for trail_id in ("", *(trail.trail_id for trail in outward(plan.trails))):
        stops: list[tuple[float, list[Mark]]] = []
        for place in plan.turning_places:
            if place.trail_id == trail_id:
                stops.append((place.at_m, [_turning_place(place, notes)]))
        for position in plan.positions:
            if position.trail_id == trail_id:
                pulled = [left.pop(name) for name in position.tree_ids if name in left]
                trees = [_tree(outcome, notes) for outcome in pulled]
                stops.append((position.at_m, [_winch_position(position, notes), *trees]))
        for _, them in sorted(stops, key=lambda stop: stop[0]):
            yield from them
        bars = [bar for bar in plan.bars if bar.trail_id == trail_id]
        yield from (_water_bar(bar, notes) for bar in sorted(bars, key=lambda bar: bar.at_m))
    for outcome in sorted(left.values(), key=lambda outcome: outcome.status == "done"):
        yield _tree(outcome, notes)


def _turning_place(place: TurningPlace, notes: Notes) -> Mark:
    label = f"TURN{place.place_id.removeprefix('T')}"
    note, spot = notes.turning_place(place), place.shape.representative_point()
    return Mark(TURNING_PLACE, place.place_id, label, note, place.shape, spot=spot)


def _winch_position(position: WinchPosition, notes: Notes) -> Mark:
    name = position.position_id
    note, spot = notes.winch_position(position), Point(position.x, position.y)
    return Mark(WINCH_POSITION, name, with_prefix("W", name), note, spot)


def _tree(outcome: TreeOutcome, notes: Notes) -> Mark:
    state: Literal["served", "done", "missed"] = "missed"
    if outcome.status in REACHED or outcome.status == "done":
        state = "done" if outcome.status == "done" else "served"
    label = with_prefix("T", outcome.tree_id)
    spot = _stem(notes.plan, notes.tree_row[outcome.tree_id])
    first, note = notes.comes_first(outcome), notes.tree(outcome)
    return Mark(TREE, outcome.tree_id, label, note, spot, state, first=first)


def _water_bar(bar: WaterBar, notes: Notes) -> Mark:
    number = bar.bar_id.removeprefix(f"{bar.trail_id}-B")
    whole = with_prefix("B", bar.bar_id)
    label = whole if number == bar.bar_id else f"B{bar.trail_id}-{number}"
    return Mark(WATER_BAR, bar.bar_id, label, notes.water_bar(bar), Point(bar.x, bar.y))


def _stem(plan: Plan, row: int) -> Point:
    return Point(float(plan.area.trees.x[row]), float(plan.area.trees.y[row]))


def _trails(plan: Plan, notes: Notes) -> Iterator[Mark]:
    """Give the trails, the main trail first."""
    for number, trail in enumerate(outward(plan.trails)):
        kind = track_types.SPUR if trail.joins_id else track_types.OTHER_TRAIL
        kind = kind if number else track_types.MAIN_TRAIL
        yield Mark(kind, trail.trail_id, trail.trail_id, notes.trail(trail), trail.line)


def _closed(plan: Plan, notes: Notes) -> Iterator[Mark]:
    """Give what machines, ropes or falling stems keep off."""
    area = plan.area
    for number, strip in enumerate(plan.strips, 1):
        note, edge = notes.water_strip(strip), strip.shape
        yield Mark(track_types.STRIP_EDGE, strip.feature_id, f"STRIP{number}", note, edge)
    for name, shape in area.named_keep_outs:
        yield Mark(track_types.KEEP_OUT, name, name, say("device_keep_out"), shape)
    numbers: Counter[str] = Counter()
    for hazard in area.hazards:
        numbers[hazard.kind] += 1
        name, label = hazard.hazard_id, f"{hazard.kind}{numbers[hazard.kind]}"
        parts, off = single_shapes(hazard.geometry), hazard_rule(hazard.kind).machine_m
        points = [part for part in parts if isinstance(part, Point)]
        long = [part for part in parts if not isinstance(part, Point)]
        for thing in (*points, *([GeometryCollection(long)] if long else [])):
            yield Mark(track_types.HAZARD, name, label, notes.hazard(hazard), thing)
        for point in points if off > 0 else ():
            yield Mark(track_types.HAZARD, name, label, notes.ring(hazard), point.buffer(off))
    for tree in keep_off(plan):
        name, note = tree.tree_id, notes.hazard_tree(tree)
        label = with_prefix("H", name)
        yield Mark(track_types.HAZARD_TREE, name, label, note, _stem(plan, tree.row))
        yield Mark(track_types.HAZARD_TREE, name, label, notes.tree_ring(tree), ring(tree))
    for tree in standing_hazards(plan):
        if tree.marked:
            label = with_prefix("F", tree.tree_id)  # first; the ring of one that stays has an H
            note = notes.first_ring(tree)
            yield Mark(track_types.FIRST_TREE, tree.tree_id, label, note, ring(tree))


def _edges(part: BaseGeometry) -> list[LineString]:
    """Give a line, or the edges of a polygon; nothing of a point."""
    if isinstance(part, Polygon):
        return [LineString(ring.coords) for ring in (part.exterior, *part.interiors)]
    return [LineString(part.coords)] if isinstance(part, LineString) else []
