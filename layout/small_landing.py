"""A small landing in the woods on the main trail, and the lane from there to the road landing.

The lane must suit a loaded trailer all the way: its grades, its bends, and the slope across
it, which may nowhere reach what is a caution on any trail, since a loaded trailer stands
high. The place itself is held to what any landing is:
level enough, on open ground, well outside water strips. And tractor and trailer must turn
round at both ends: on a turning place wide enough for them just beyond, or on the small
landing itself, which is then made larger by what a turn in three moves takes.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from layout.fairline import bend_radius_m
from layout.geometry import coordinates
from layout.ground import open_area
from layout.landing import plane_of
from layout.landing.site_checks import STEEP_PCT, STRIP_M
from layout.records import Landing, Trail, TurningPlace
from layout.settings import limits_in_force
from layout.site import Area, EarlierPlace
from layout.speech import speak_length, speak_station
from layout.terrain import Stations, Terrain
from layout.trailer_load import largest_trailer_load
from layout.units import Units
from layout.walked_lines import smoothed
from layout.water import Strips

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

SHORTEST_LANE_M = 50.0  # for less no trailer is hitched; ours
EVERY_M = 5.0  # stations looked at; ours
TURN_BEYOND_M = 60.0  # how far beyond the small landing the outfit may go to turn; ours
BEHIND_AXLE_M = 2.0  # what a trailer reaches beyond its axle; ours
RADIUS_TOLERANCE = 0.02  # as the checks of trails have it
AT_MOST_OFF_M = 30.0  # a place set by the user lies this near the main trail; ours
NOISE_PCT = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class SmallLanding:
    """One place a small landing could be.

    Parameters
    ----------
    trail_id, at_m : str, float
        Where on the main trail.
    shape : Polygon
        Ground it covers, trail included.
    taken_m2 : float
        What of that the trails do not take already.
    slope_pct : float
        Of the plane its ground makes.
    turn_at_m : float
        Where tractor and trailer turn round; its own station where they do so on it.
    load_kg, limited_by : float, str
        What the trailer may carry down the lane, and what sets it.
    """

    trail_id: str
    at_m: float
    shape: Polygon
    taken_m2: float
    slope_pct: float
    turn_at_m: float
    load_kg: float
    limited_by: str


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What small landings are judged on.

    Parameters
    ----------
    area, terrain, strips, landing : Area, Terrain, Strips, Landing
        The job.
    trails : tuple of Trail
    stations : mapping of str to Stations
        Of each trail, at 1 m.
    turning_places : tuple of TurningPlace
    on_bench : mapping of str to ndarray of bool, optional
        Which stations lie on a level bench: the hill's cross slope is not the trailer's.
    """

    area: Area
    terrain: Terrain
    strips: Strips
    landing: Landing
    trails: tuple[Trail, ...]
    stations: Mapping[str, Stations]
    turning_places: tuple[TurningPlace, ...] = ()
    on_bench: Mapping[str, Flags] | None = None

    @property
    def units(self) -> Units:
        """Units the user reads."""
        return self.area.settings.area.units

    @property
    def mains(self) -> tuple[Trail, ...]:
        """Main trails that start at the landing."""
        return tuple(t for t in self.trails if t.kind == "main" and not t.joins_id)


def small_landings(ground: Ground) -> tuple[tuple[SmallLanding, ...], str]:
    """Give every place on the main trail that would do.

    Parameters
    ----------
    ground : Ground

    Returns
    -------
    places : tuple of SmallLanding
        By trail, the nearest to the landing first.
    why_none : str
        What is in the way, where there is none; else empty.
    """
    if not turns_on(ground.landing.shape, ground):
        return (), "tractor and trailer have no room to turn round on the landing"
    found: list[SmallLanding] = []
    why = "no main trail starts at the landing"
    room = _Room(ground)
    for trail in ground.mains:
        lane = _Lane(ground, trail)
        spots = np.arange(SHORTEST_LANE_M, lane.far_m + 1e-9, EVERY_M)
        here = [p for at in spots.tolist() if (p := _best_shape(ground, lane, at, room))]
        found += here
        if spots.size:
            far = speak_station(lane.far_m, ground.units)
            why = (
                f"nowhere along the first {far} of {trail.trail_id} is there level, open ground "
                "of that size, with room to turn round and far enough from water"
            )
        else:
            why = lane.why
    return tuple(found), "" if found else why


def small_landing_at(ground: Ground, x: float, y: float) -> tuple[tuple[SmallLanding, ...], str]:
    """Judge the place the user set.

    Parameters
    ----------
    ground : Ground
    x, y : float
        Grid coordinates, metres.

    Returns
    -------
    places : tuple of SmallLanding
        One, or none.
    why_none : str
        What is in the way, where it will not do; else empty.
    """
    if not ground.mains:
        return (), "no main trail starts at the landing"
    if not turns_on(ground.landing.shape, ground):
        return (), "tractor and trailer have no room to turn round on the landing"
    spot = shapely.Point(x, y)
    trail = min(ground.mains, key=lambda t: (t.line.distance(spot), t.trail_id))
    off, at = float(trail.line.distance(spot)), float(trail.line.project(spot))
    if not off <= AT_MOST_OFF_M:
        return (), (
            f"the place set lies {speak_length(off, ground.units)} from the main trail; "
            f"{speak_length(AT_MOST_OFF_M, ground.units)} at most"
        )
    lane = _Lane(ground, trail)
    if at > lane.far_m:
        return (), lane.why
    if at < SHORTEST_LANE_M:
        return (), (
            f"the place set lies {speak_station(at, ground.units)} from the landing; for less "
            f"than {speak_length(SHORTEST_LANE_M, ground.units)} a trailer saves nothing"
        )
    place = _best_shape(ground, lane, at, _Room(ground))
    if place is None:
        return (), (
            "the place set has no level, open ground of that size, with room to turn round and "
            "far enough from water"
        )
    return (place,), ""


def small_landing_kept(ground: Ground, kept: EarlierPlace) -> tuple[tuple[SmallLanding, ...], str]:
    """Judge the lane from a small landing that is in use; its own ground is taken as it is.

    Parameters
    ----------
    ground : Ground
    kept : EarlierPlace

    Returns
    -------
    places : tuple of SmallLanding
        One, or none.
    why_none : str
        What is in the way, where the lane will not do; else empty.
    """
    trail = next((t for t in ground.mains if t.trail_id == kept.trail_id), None)
    if trail is None:
        return (), f"no main trail {kept.trail_id} starts at the landing any more"
    lane, at = _Lane(ground, trail), min(kept.at_m, trail.line.length)
    if at > lane.far_m + EVERY_M:
        return (), lane.why
    plane, turn_at = plane_of(ground.terrain.dem, kept.shape), _turn_at(ground, lane, at)
    place = SmallLanding(
        trail.trail_id,
        at,
        kept.shape,
        float(kept.shape.difference(_Room(ground).trails).area),
        math.nan if plane is None else plane.slope_pct,
        at if turn_at is None else turn_at,
        *lane.load(at),
    )
    return (place,), ""


class _Lane:
    """The main trail as a trailer meets it, from the landing outward."""

    def __init__(self, ground: Ground, trail: Trail) -> None:
        settings = ground.area.settings
        trailer, units = settings.trailer, ground.units
        self.trail, st = trail, ground.stations[trail.trail_id]
        self.at = st.at_m
        flat = None if ground.on_bench is None else ground.on_bench.get(trail.trail_id)
        cross = st.cross_pct if flat is None else np.where(flat, 0.0, st.cross_pct)
        off = ground.area.walked_m(trail.trail_id) if trail.source != "routed" else None
        line = trail.line if off is None else smoothed(trail.line, off)
        radius = bend_radius_m(coordinates(line), st.at_m * line.length / trail.line.length)
        kg, by = largest_trailer_load(settings, st.grade_pct)
        kg = np.where(np.isfinite(kg), kg, 0.0)
        self.kg = np.minimum.accumulate(kg)
        worst = np.maximum.accumulate(np.where(kg <= self.kg, np.arange(kg.size), 0))
        self.by = by[worst]
        most = trailer.turn_radius_m * (1 - RADIUS_TOLERANCE)
        # a slope that is a caution for a dragged load is too much for one that stands high; ours
        across_pct = limits_in_force(settings).cross_caution_pct
        bars: list[tuple[Flags, str]] = [
            (~np.isfinite(st.grade_pct), "its grade is not known from {at} on"),
            (
                st.grade_pct > trailer.uphill_pct + NOISE_PCT,
                f"it climbs more than {trailer.uphill_pct:.0f} % loaded at {{at}}",
            ),
            (
                -st.grade_pct > trailer.downhill_pct + NOISE_PCT,
                f"it falls more than {trailer.downhill_pct:.0f} % loaded at {{at}}",
            ),
            (
                radius < most,
                "it bends tighter than "
                f"{speak_length(trailer.turn_radius_m, units)} of radius at {{at}}",
            ),
            (
                ~(cross <= across_pct + NOISE_PCT),
                f"the slope across it is over {across_pct:.0f} % at {{at}}, too much for a load "
                "that stands high",
            ),
            (self.kg <= 0, "tractor and brakes hold no loaded trailer at {at}"),
        ]
        ends = [(float(self.at[np.argmax(bad)]), words) for bad, words in bars if bad.any()]
        self.far_m, self.why = float(self.at[-1]), "the main trail is too short for a trailer"
        if ends:
            self.far_m, words = min(ends, key=lambda e: e[0])
            where = speak_station(self.far_m, units)
            self.why = f"the lane, {trail.trail_id}, does not suit a trailer: {words}".format(
                at=where
            )

    def load(self, at_m: float) -> tuple[float, str]:
        """Give what may be carried from a station to the landing, and what sets it."""
        row = max(int(np.searchsorted(self.at, at_m - 1e-9)), 0)
        row = min(row, self.kg.size - 1)
        return float(self.kg[row]), str(self.by[row])


def turns_on(shape: Polygon, ground: Ground) -> bool:
    """Tell whether tractor and trailer can turn round inside an outline.

    On a circle of the trailer's bend and half the outfit's width, or in three moves: drive
    past, back in at right angles, drive out. The curves of that lie in a rectangle twice the
    radius long and, from the middle of the way, the radius and what stands behind the axle
    deep; derived.

    Parameters
    ----------
    shape : Polygon
    ground : Ground

    Returns
    -------
    bool
    """
    settings = ground.area.settings
    radius = settings.trailer.turn_radius_m
    circle = shapely.maximum_inscribed_circle(shape)
    if circle.length >= radius + settings.tractor.width_m / 2:
        return True
    long, deep = 2 * radius, radius + BEHIND_AXLE_M + settings.tractor.width_m / 2
    block = shapely.box(-long / 2, -deep / 2, long / 2, deep / 2)
    frame = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape))
    lean = math.degrees(math.atan2(frame[1, 1] - frame[0, 1], frame[1, 0] - frame[0, 0]))
    centres = (shapely.Point(circle.coords[0]), shape.centroid)
    turned = (
        affinity.translate(affinity.rotate(block, lean + angle, (0, 0)), spot.x, spot.y)
        for spot in centres
        for angle in range(0, 180, 15)
    )
    return any(shape.buffer(1e-6).covers(one) for one in turned)


class _Room:
    """Where a small landing may lie, and what of it the trails take already."""

    def __init__(self, ground: Ground) -> None:
        strips = [strip.shape.buffer(STRIP_M) for strip in ground.strips.polygons]
        barred = shapely.union_all([*strips, ground.landing.shape])
        self.opened = open_area(ground.area, ground.strips).difference(barred)
        shapely.prepare(self.opened)
        self.trails: BaseGeometry = shapely.union_all(
            [t.line.buffer(t.width_m / 2, cap_style="flat") for t in ground.trails]
        )


def _turn_at(ground: Ground, lane: _Lane, at_m: float) -> float | None:
    """Give the nearest turning place at or just beyond a station that a trailer can use."""
    settings = ground.area.settings
    radius = settings.trailer.turn_radius_m
    good = []
    for place in ground.turning_places:
        on = place.trail_id == lane.trail.trail_id
        beyond = place.at_m - at_m
        if not on or not -EVERY_M <= beyond <= TURN_BEYOND_M or place.at_m > lane.far_m:
            continue
        if place.line is None:
            wide = turns_on(place.shape, ground)
        else:
            points = coordinates(place.line)
            stations = np.arange(0.0, place.line.length + 1e-9, 0.5)
            tight = float(bend_radius_m(points, stations).min())
            wide = tight >= radius * (1 - RADIUS_TOLERANCE)
        if wide:
            good.append(place.at_m)
    return min(good, key=lambda m: abs(m - at_m)) if good else None


def _best_shape(ground: Ground, lane: _Lane, at_m: float, room: _Room) -> SmallLanding | None:
    """Give the most level shape at a station that lies on open ground; None without any."""
    turn_at = _turn_at(ground, lane, at_m)
    best: SmallLanding | None = None
    for shape in _shapes(ground, lane.trail, at_m, turns=turn_at is None):
        if not room.opened.covers(shape):
            continue
        plane = plane_of(ground.terrain.dem, shape)
        if plane is None or plane.slope_pct > STEEP_PCT + NOISE_PCT:
            continue
        if best is None or plane.slope_pct < best.slope_pct - 1e-9:
            kg, by = lane.load(at_m)
            best = SmallLanding(
                trail_id=lane.trail.trail_id,
                at_m=at_m,
                shape=shape,
                taken_m2=float(shape.difference(room.trails).area),
                slope_pct=plane.slope_pct,
                turn_at_m=at_m if turn_at is None else turn_at,
                load_kg=kg,
                limited_by=by,
            )
    return best


def _shapes(ground: Ground, trail: Trail, at_m: float, *, turns: bool) -> Iterator[Polygon]:
    """Give rectangles beside a station, one to each side, from the trail's far edge inward."""
    trailer = ground.area.settings.trailer
    side = math.sqrt(trailer.area_m2)
    long, deep = side, side - trail.width_m / 2
    if turns:
        long = max(side, 2 * trailer.turn_radius_m)
        deep = trailer.turn_radius_m + BEHIND_AXLE_M + trailer.area_m2 / long
    here = trail.line.interpolate(at_m)
    before, after = (
        trail.line.interpolate(min(max(at_m + off, 0.0), trail.line.length))
        for off in (-long / 2, long / 2)
    )
    heading = math.degrees(math.atan2(after.y - before.y, after.x - before.x))
    for low, high in ((-trail.width_m / 2, deep), (-deep, trail.width_m / 2)):
        flat = shapely.box(here.x - long / 2, here.y + low, here.x + long / 2, here.y + high)
        yield affinity.rotate(flat, heading, (here.x, here.y))
