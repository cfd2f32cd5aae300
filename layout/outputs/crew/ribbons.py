"""What gets a ribbon along a trail, each thing with its station and the side it is on."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout import benching, drainage
from layout.outputs.crew.directions import direction_at, natural, said_bearing, side_of, whole
from layout.outputs.position_cares import cares
from layout.outputs.trailer_place import small_landing, turns_on_it
from layout.outputs.tree_orders import idle_positions
from layout.outputs.words import say
from layout.records import Trail
from layout.units import Units

if TYPE_CHECKING:
    from layout.plan import Plan

NEAR_STRIP_M = 10.0  # a strip's edge this near to the centre line is flagged with the trail; ours
STRIP_EVERY_M = 15.0
SAME_M = 1e-6
SPUR_LOOK_M = 5.0  # a spur's side is judged this far along it
SWUNG_DEG = 5.0  # a tractor parked straighter along the trail needs no bearing
TAKEN = ("in_trail", "rub")


@dataclass(frozen=True, slots=True)
class Ribbon:
    """One thing to flag: its station in metres, and what to write on the ribbon."""

    at_m: float
    text: str


def ribbons(plan: Plan) -> dict[str, list[Ribbon]]:
    """List what gets a ribbon along each trail.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to list of Ribbon
        By trail: the landing's edge, junctions, winch positions, turning places, water
        bars, ends of benches, rub trees, strip edges and unmarked stems in the way, in
        order of station.
    """
    closed, watched = strip_ground(plan), cares(plan)
    stems = _stems(plan)
    hung = {}
    for trail in plan.trails:
        found = [
            *_landing_edge(plan, trail),
            *_junctions(plan, trail),
            *_positions(plan, trail, watched),
            *_places(plan, trail),
            *_small_landing(plan, trail),
            *_bars(plan, trail),
            *_benches(plan, trail),
            *_rubs(plan, trail),
            *_strips(trail, closed, plan.area.settings.area.units),
            *stems.get(trail.trail_id, []),
        ]
        hung[trail.trail_id] = sorted(found, key=lambda r: (r.at_m, r.text))
    return hung


def leaves_to(parent: LineString, at_m: float, child: LineString) -> str:
    """Say to which side of a trail another leaves it, looking outward: left or right."""
    mouth = parent.interpolate(at_m)
    far = child.interpolate(min(SPUR_LOOK_M, child.length))
    dx, dy = direction_at(parent, at_m)
    across = dx * (far.y - mouth.y) - dy * (far.x - mouth.x)
    return "left" if across > 0 else "right"


def strip_ground(plan: Plan) -> BaseGeometry:
    """Give all water strips as one shape."""
    return shapely.union_all([strip.shape for strip in plan.strips])


def _landing_edge(plan: Plan, trail: Trail) -> list[Ribbon]:
    """Say where a trail that begins on the landing leaves it."""
    site = plan.landing_of(trail.landing_id).shape
    edge = trail.line.intersection(site.boundary)
    if trail.joins_id or edge.is_empty or not site.covers(Point(trail.line.coords[0])):
        return []
    at_m = max(float(trail.line.project(Point(xy))) for xy in shapely.get_coordinates(edge))
    return [Ribbon(at_m, say("crew_ribbon_landing"))]


def _junctions(plan: Plan, trail: Trail) -> list[Ribbon]:
    out = []
    for other in plan.trails:
        if other.joins_id == trail.trail_id and other.joins_at_m is not None:
            side = leaves_to(trail.line, other.joins_at_m, other.line)
            words = say(f"crew_ribbon_junction_{side}", trail=other.trail_id)
            out.append(Ribbon(other.joins_at_m, words))
    return out


def _positions(plan: Plan, trail: Trail, watched: Container[str]) -> list[Ribbon]:
    out, idle = [], idle_positions(plan)
    for position in plan.positions:
        if position.trail_id != trail.trail_id or position.position_id in idle:
            continue
        words = position.position_id
        if words in watched:
            words = say("crew_ribbon_care", position=words)
        if abs(position.swing_deg) >= SWUNG_DEG:
            rear = said_bearing(position.rear_azimuth_deg)
            words = say("crew_ribbon_swung", position=words, rear=rear)
        out.append(Ribbon(position.at_m, words))
    return out


def _places(plan: Plan, trail: Trail) -> list[Ribbon]:
    return [
        Ribbon(place.at_m, say(f"crew_ribbon_turn_{place.kind}", place=place.place_id))
        for place in plan.turning_places
        if place.trail_id == trail.trail_id
    ]


def _small_landing(plan: Plan, trail: Trail) -> list[Ribbon]:
    """Say where the small landing lies, and where tractor and trailer turn round."""
    two = small_landing(plan)
    if two is None or two.at_m is None or two.trail_id != trail.trail_id:
        return []
    if turns_on_it(two) or two.turn_at_m is None:
        return [Ribbon(two.at_m, say("crew_ribbon_small_landing_turn"))]
    return [
        Ribbon(two.at_m, say("crew_ribbon_small_landing")),
        Ribbon(two.turn_at_m, say("crew_ribbon_trailer_turn")),
    ]


def _bars(plan: Plan, trail: Trail) -> list[Ribbon]:
    out = []
    for bar in plan.bars:
        if bar.trail_id == trail.trail_id:
            kind = "early" if bar.bar_set == "shutdown" else bar.kind
            out.append(Ribbon(bar.at_m, say(f"crew_ribbon_{kind}_{bar.outlet}")))
    return out


def _benches(plan: Plan, trail: Trail) -> list[Ribbon]:
    bench = plan.benches.get(trail.trail_id)
    if bench is None:
        return []
    out = []
    for stretch in benching.stretches(trail.line, bench):
        ends = sorted(trail.line.project(Point(stretch.coords[k])) for k in (0, -1))
        out += [
            Ribbon(ends[0], say("crew_ribbon_bench_starts")),
            Ribbon(ends[1], say("crew_ribbon_bench_ends")),
        ]
    return out


def _rubs(plan: Plan, trail: Trail) -> list[Ribbon]:
    """Say where loads rub: on which tree or laid log, and on which side it stands."""
    return [
        Ribbon(
            at.at_m,
            say(f"crew_ribbon_rub_{rub.kind}", rub=rub.rub_id, tree=rub.tree_id,
                side=say(f"crew_side_{at.side}")),
        )
        for rub in plan.rub_trees
        for at in rub.places
        if at.trail_id == trail.trail_id
    ]  # fmt: skip


def _strips(trail: Trail, closed: BaseGeometry, units: Units) -> list[Ribbon]:
    """Say where a trail goes into or out of a strip, and where a strip's edge is near."""
    if closed.is_empty or trail.line.distance(closed) > NEAR_STRIP_M:
        return []
    out = [
        Ribbon(at_m, say("crew_ribbon_strip_here"))
        for at_m in drainage.edges(trail.line, closed)
        if SAME_M < at_m < trail.line.length - SAME_M  # not where it starts or ends inside one
    ]
    edge = shapely.boundary(closed)
    near: list[float] = []
    for a in np.arange(0.0, trail.line.length, STRIP_EVERY_M).tolist():
        piece = substring(trail.line, a, min(a + STRIP_EVERY_M, trail.line.length))
        if piece.distance(edge) > NEAR_STRIP_M or piece.intersects(closed):
            continue
        here, there = shapely.shortest_line(piece, edge).coords
        at_m = float(trail.line.project(Point(here)))
        way = (there[0] - here[0], there[1] - here[1])
        side = side_of(direction_at(trail.line, at_m), *way)
        told = bool(near) and at_m - near[-1] < STRIP_EVERY_M / 2  # at a seam of two pieces
        if side in ("left", "right") and not told:
            near.append(at_m)
            off, where = whole(float(np.hypot(*way)), units), say(f"crew_side_{side}")
            out.append(Ribbon(at_m, say("crew_ribbon_strip_near", distance=off, side=where)))
    return out


def _stems(plan: Plan) -> dict[str, list[Ribbon]]:
    """Name the unmarked stems trails would take, by trail: each needs the owner's mark."""
    out: dict[str, list[Ribbon]] = {}
    if not plan.trails:
        return out
    trees = plan.area.trees
    row = {tree_id: i for i, tree_id in enumerate(trees.tree_id)}
    lines = np.array([trail.line for trail in plan.trails], dtype=object)
    taken = [o.tree_id for o in plan.trees if o.role in TAKEN and o.status == "leave"]
    for tree_id in sorted(taken, key=natural):
        point = Point(float(trees.x[row[tree_id]]), float(trees.y[row[tree_id]]))
        trail = plan.trails[int(shapely.distance(lines, point).argmin())]
        words = say("crew_ribbon_stem", tree=tree_id)
        at_m = float(trail.line.project(point))
        out.setdefault(trail.trail_id, []).append(Ribbon(at_m, words))
    return out
