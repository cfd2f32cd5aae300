"""What one run of the checks looks at: a layout on its ground, read once.

Every trail is read again here at 1 m stations from its final line and the
elevation grid. Nothing a router knew comes along.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import benching
from layout.ground import STEM_SPACE_M
from layout.land import hazard_tree_reach_m, property_edge, setback_m, usable_land
from layout.records import (
    Landing,
    Pull,
    Trail,
    TreeOutcome,
    TurningPlace,
    WaterStrip,
    WinchPosition,
)
from layout.settings import Limits
from layout.site import Area, Trees
from layout.terrain import Stations, Terrain, station_table
from layout.units import Units
from layout.walked_lines import smoothed

Floats = NDArray[np.float64]

EDGE_PARTS = 12  # legs of an outline asked for at once
CLAIM_ERROR_M = 1.5  # nothing is said of a single stem placed worse than this


@lru_cache(maxsize=4)
def _stems(trees: Trees) -> tuple[NDArray[np.object_], shapely.STRtree]:
    """Give every tree as a point, and their index: a list is judged many times over."""
    points = np.asarray(shapely.points(trees.x, trees.y))
    return points, shapely.STRtree(points)


def _within(index: shapely.STRtree, shape: BaseGeometry, distance_m: float) -> NDArray[np.int64]:
    """Give what lies in a shape or near it, as one query of the whole would.

    A trail is long and thin: most trees of the box round it are far off. Its edge is asked for
    in short parts, whose boxes hold few.
    """
    parts = shapely.get_parts(shape)
    if any(part.geom_type != "Polygon" for part in parts):
        whole = index.query(shape, predicate="dwithin", distance=distance_m)
        return np.sort(whole).astype(np.int64)
    edges = [_in_parts(shapely.get_coordinates(ring)) for ring in shapely.get_rings(parts)]
    near: list[NDArray[np.int64]] = [
        index.query(some, predicate="dwithin", distance=distance_m)[1] for some in edges
    ]
    inside = index.query(shape, predicate="intersects")
    return np.unique(np.concatenate([inside, *near])).astype(np.int64)


def _in_parts(ring: Floats) -> NDArray[np.object_]:
    """Give an outline as lines of a few legs each, end to end."""
    legs = len(ring) - 1
    first = np.arange(0, legs, EDGE_PARTS)
    many = np.minimum(EDGE_PARTS, legs - first) + 1
    row = np.repeat(np.arange(first.size), many)
    begun = np.cumsum(many) - many
    return np.asarray(
        shapely.linestrings(ring[np.arange(row.size) - begun[row] + first[row]], indices=row)
    )


@dataclass(frozen=True, slots=True, eq=False)
class Walked:
    """One trail with its stations and the ground it covers.

    Parameters
    ----------
    trail : Trail
        As handed in.
    stations : Stations
        Read at 1 m.
    footprint : Polygon
        The line widened to the trail's width, ends cut square, with what is cut
        and filled for benches.
    bench : Bench or None
        The benches it needs and may have.
    recorded : LineString or None
        Of a trail that a phone recorded its line, smoothed over the phone's error.
    """

    trail: Trail
    stations: Stations
    footprint: BaseGeometry
    bench: benching.Bench | None = None
    recorded: LineString | None = None

    @property
    def is_drawn(self) -> bool:
        """Tell a line that is the user's own."""
        return self.trail.source in ("drawn", "fixed")

    @property
    def shape(self) -> LineString:
        """The line to read bends from: of a walk, without the wiggles of its receiver."""
        return self.trail.line if self.recorded is None else self.recorded

    @property
    def name(self) -> str:
        """What a person calls it, at the head of a sentence."""
        return self.called[0].upper() + self.called[1:]

    @property
    def called(self) -> str:
        """What a person calls it, inside a sentence."""
        return f"{'main trail' if self.trail.kind == 'main' else 'spur'} {self.trail.trail_id}"

    @property
    def length_m(self) -> float:
        """Length of the line, metres on the map."""
        return float(self.trail.line.length)

    def spot(self, at_m: float) -> tuple[float, float]:
        """Give grid x, y of a station."""
        point = self.trail.line.interpolate(at_m)
        return (float(point.x), float(point.y))


@dataclass(frozen=True, eq=False)
class Case:
    """A layout and all that it is judged by."""

    area: Area
    terrain: Terrain
    limits: Limits
    strips: tuple[WaterStrip, ...]
    no_cable: NDArray[np.bool_]
    landing: Landing | None
    trails: tuple[Walked, ...]
    positions: tuple[WinchPosition, ...]
    pulls: tuple[Pull, ...]
    turning_places: tuple[TurningPlace, ...]
    outcomes: tuple[TreeOutcome, ...]
    more_landings: tuple[Landing, ...] = ()

    @property
    def landings(self) -> tuple[Landing, ...]:
        """All landings; empty where none is chosen yet."""
        return () if self.landing is None else (self.landing, *self.more_landings)

    def landing_named(self, landing_id: str) -> Landing | None:
        """Give a landing by its name; the first where there is none of it."""
        return next((one for one in self.landings if one.landing_id == landing_id), self.landing)

    @property
    def units(self) -> Units:
        """Units the user reads."""
        return self.area.settings.area.units

    @cached_property
    def by_id(self) -> dict[str, Walked]:
        """Trails by name."""
        return {w.trail.trail_id: w for w in self.trails}

    @cached_property
    def tree_error_m(self) -> Floats:
        """Error of every tree's place: its own where stated, or the list's, shape (n,)."""
        own = np.asarray(self.area.trees.position_error_m, dtype=float)
        return np.where(np.isfinite(own), own, self.area.settings.stand.position_error_m)

    @cached_property
    def hazard_reach_m(self) -> Floats:
        """Two tree lengths of every tree, erring tall, metres, shape (n,)."""
        return hazard_tree_reach_m(self.area)

    @cached_property
    def tree_points(self) -> NDArray[np.object_]:
        """Every tree as a point, shape (n,)."""
        return _stems(self.area.trees)[0]

    @cached_property
    def in_trail(self) -> NDArray[np.bool_]:
        """Leave stems that come out with the layout, shape (n,).

        Inside a trail, a turning place or the landing, so near the edge that its roots go
        (`layout.ground.STEM_SPACE_M`), or stated so.
        """
        stated = {o.tree_id for o in self.outcomes if o.role == "in_trail"}
        inside = np.zeros(len(self.area.trees), dtype=bool)
        if stated:
            inside[:] = [name in stated for name in self.area.trees.tree_id]
        if not inside.size:
            return inside
        _, index = _stems(self.area.trees)
        for shape in (*(walked.footprint for walked in self.trails), *self.cleared):
            inside[_within(index, shape, STEM_SPACE_M)] = True
        return inside & ~self.area.trees.marked

    @property
    def cleared(self) -> tuple[BaseGeometry, ...]:
        """What is cleared besides trails: turning places and the landings."""
        places = tuple(place.shape for place in self.turning_places)
        return (*places, *(landing.shape for landing in self.landings))

    @cached_property
    def placed_stems(self) -> tuple[NDArray[np.int64], shapely.STRtree]:
        """Rows and index of the leave stems that stay and are placed well enough to name."""
        good = ~self.area.trees.marked & (self.tree_error_m <= CLAIM_ERROR_M) & ~self.in_trail
        rows = np.flatnonzero(good)
        return rows, shapely.STRtree(self.tree_points[rows])

    @cached_property
    def land(self) -> BaseGeometry:
        """Ground the user may use: the stand and ``may_use``, hairline gaps closed."""
        return usable_land(self.area)

    @cached_property
    def property_edge(self) -> BaseGeometry:
        """The line the setback is measured from."""
        return property_edge(self.area)

    @cached_property
    def setback_m(self) -> float:
        """Distance machines keep from the property line, metres."""
        return setback_m(self.area)


def walk(
    area: Area, terrain: Terrain, limits: Limits, trails: Sequence[Trail]
) -> tuple[Walked, ...]:
    """Read every trail at 1 m stations.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its ground.
    limits : Limits
        Limits in force today.
    trails : sequence of Trail
        Lines run landing end first.

    Returns
    -------
    tuple of Walked
        In the order given.
    """
    made: list[Walked] = []
    for trail in trails:
        stations = station_table(terrain, trail.line, trail.width_m)
        bench = benching.of_trail(area, limits, trail, stations)
        off_m = area.walked_m(trail.trail_id) if trail.source != "routed" else None
        recorded = None if off_m is None else smoothed(trail.line, off_m)
        made.append(Walked(trail, stations, benching.footprint(trail, bench), bench, recorded))
    return tuple(made)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of a trail, metres from its landing end."""

    from_m: float
    to_m: float

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return self.to_m - self.from_m


def stretches(line: LineString, overlap: BaseGeometry, join_m: float = 1.0) -> tuple[Stretch, ...]:
    """Say which parts of a trail an overlap with its footprint belongs to.

    Parameters
    ----------
    line : LineString
        Centre line.
    overlap : shapely geometry
        Footprint cut by whatever it must not touch; may be empty.
    join_m : float, optional
        Parts nearer than this are one part, metres.

    Returns
    -------
    tuple of Stretch
        In order along the line.
    """
    found: list[Stretch] = []
    for part in shapely.get_parts(overlap):
        if part.is_empty:
            continue
        at = shapely.line_locate_point(line, shapely.points(shapely.get_coordinates(part)))
        found.append(Stretch(float(np.min(at)), float(np.max(at))))
    merged: list[Stretch] = []
    for piece in sorted(found, key=lambda s: (s.from_m, s.to_m)):
        if merged and piece.from_m <= merged[-1].to_m + join_m:
            merged[-1] = Stretch(merged[-1].from_m, max(merged[-1].to_m, piece.to_m))
        else:
            merged.append(piece)
    return tuple(merged)
