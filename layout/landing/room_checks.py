"""Room on a landing and the ways to it: size, truck, road, run-in."""

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import sources
from layout.findings import Finding
from layout.grid import bilinear
from layout.landing.site_checks import Sited
from layout.settings import AreaSettings
from layout.speech import speak_area
from layout.units import FOOT_M

NOISE_PCT = 1e-6
RUN_IN_TREE_M = 60 * FOOT_M
RUN_IN_BEND_DEG = 15.0  # ours: a line that turns less than this is straight to a load
TRUCK_PCT = 10.0
TRUCK_PITCH_M = 300 * FOOT_M
TRUCK_HALF_WIDTH_M = 4 * FOOT_M
ROAD_BESIDE_M = 10.0  # a landing this near the road is on it
LEAST_SHARE = 0.9  # of the size asked for


def size(case: Sited) -> list[Finding]:
    """Judge its size and whether a truck can turn on it."""
    shape, found = case.landing.shape, []
    want = case.area.settings.landing.area_m2
    if shape.area < LEAST_SHARE * want:
        found.append(
            case.say(
                "landing_small",
                "caution",
                f"{speak_area(shape.area, case.units)}, smaller than the "
                f"{speak_area(want, case.units)} you set; winching in, bucking, decks and "
                "the truck need room apart",
                value=float(shape.area),
                limit=want,
                unit="m2",
            )
        )
    need = case.area.settings.truck.turn_radius_m + TRUCK_HALF_WIDTH_M
    room = float(shapely.maximum_inscribed_circle(shape).length)
    if room < need - 1e-6:
        found.append(
            case.say(
                "landing_truck",
                "caution",
                f"a truck cannot turn on it (needs a circle of {case.far(need)} radius, "
                f"has {case.far(room)}); say where it turns or backs in",
                value=room,
                limit=need,
                unit="m",
                source=sources.TRUCK_TURNING,
            )
        )
    return found


def road(case: Sited) -> list[Finding]:
    """Judge the way to the road: how far and how steep as the crow flies."""
    roads = [line for line in case.area.access_road if not line.is_empty]
    if not roads:
        what = "way to the road not checked; give ground.access_road"
        return [case.say("landing_road", "unknown", what)]
    line = shapely.shortest_line(case.landing.shape, shapely.union_all(roads))
    far = float(line.length)
    if far <= ROAD_BESIDE_M:
        return [
            case.say(
                "landing_road",
                "ok",
                "lies beside the road",
                value=far,
                unit="m",
                source=sources.TRUCK_GRADE,
            )
        ]
    (x0, y0), (x1, y1) = line.coords[0], line.coords[-1]
    z = bilinear(case.terrain.dem, [x0, x1], [y0, y1])
    if not np.isfinite(z).all():
        what = (
            f"{case.far(far)} from the road as the crow flies; grade not checked, "
            "the elevation grid does not reach the road"
        )
        return [case.say("landing_road", "unknown", what, value=far, unit="m")]
    grade = 100.0 * abs(float(z[1] - z[0])) / far
    steep = grade > TRUCK_PCT + NOISE_PCT
    told = f"{case.far(far)} from the road as the crow flies, at {grade:.0f} %"
    if steep and far > TRUCK_PITCH_M:
        told += (
            f"; over {TRUCK_PCT:.0f} % a truck road may run {case.far(TRUCK_PITCH_M)} "
            "at most, so it has to wind"
        )
    return [
        case.say(
            "landing_road",
            "caution" if steep and far > TRUCK_PITCH_M else "ok",
            told,
            value=grade,
            limit=TRUCK_PCT,
            unit="%",
            source=sources.TRUCK_GRADE,
        )
    ]


def run_in_m(settings: AreaSettings) -> float:
    """Give how far a main trail runs straight from the landing: a load and the tractor, metres."""
    load = max(settings.timber.log_lengths_m, default=0.0) + settings.tractor.length_m
    return max(RUN_IN_TREE_M, load) if settings.work.extract == "tree" else load


def run_in(case: Sited, main: LineString) -> list[Finding]:
    """Judge whether the main trail comes in straight for one load and the tractor."""
    need = run_in_m(case.area.settings)
    inside = main.intersection(case.landing.shape)
    start = 0.0
    if not inside.is_empty and main.length > 0:
        on = shapely.line_locate_point(main, shapely.points(shapely.get_coordinates(inside)))
        first = shapely.Point(main.coords[0][:2])
        if case.landing.shape.distance(first) < 1e-6:
            start = float(np.max(on)) if _one_piece(inside) else 0.0
    if main.length - start < need:
        long = case.far(max(main.length - start, 0.0))
        return [
            case.say(
                "landing_run_in",
                "unknown",
                f"the main trail is only {long} long outside it; the straight run-in of "
                f"{case.far(need)} was not checked",
                value=float(main.length - start),
                limit=need,
                unit="m",
            )
        ]
    bend = _widest_turn_deg(main, start, start + need)
    if bend <= RUN_IN_BEND_DEG + 1e-6:
        return []
    return [
        case.say(
            "landing_run_in",
            "caution",
            f"the main trail turns {bend:.0f} degrees in its first {case.far(need)}; "
            "a load needs that much straight to come in",
            value=bend,
            limit=RUN_IN_BEND_DEG,
            unit="deg",
        )
    ]


def unseen(case: Sited) -> list[Finding]:
    """Say what the files cannot tell."""
    seen = bool(case.area.hazards) or bool(case.area.settings.access.hazards)
    things = [] if seen else ["overhead wires", "wells and septic fields"]
    things += ["buried lines", "sight distance at the road", "soft ground"]
    listed = ", ".join(things[:-1]) + f" and {things[-1]}"
    return [
        case.say(
            "landing_not_looked_at",
            "unknown",
            f"not checked: {listed}; look before the first load",
            source=sources.LANDING_GROUND,
        )
    ]


def _one_piece(shape: BaseGeometry) -> bool:
    """Say whether a line meets the landing once only."""
    return shape.geom_type in ("LineString", "Point")


def _widest_turn_deg(line: LineString, from_m: float, to_m: float, step_m: float = 1.0) -> float:
    """Give the widest angle between any two directions of a stretch, degrees."""
    at = np.arange(from_m, to_m + 1e-9, step_m)
    points = shapely.get_coordinates(shapely.line_interpolate_point(line, at))
    legs = np.diff(points, axis=0)
    heading = np.unwrap(np.arctan2(legs[:, 1], legs[:, 0]))
    return float(np.degrees(np.ptp(heading))) if heading.size else 0.0
