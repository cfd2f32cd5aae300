"""Where a trail goes over water: how it lies there, and what speaks against it.

Everything is read from the final line, the mapped water and the elevations, for
a line of any origin: the router asks before a line is offered, the checks ask
again afterwards. Only a stream drawn as a line may be crossed: of one drawn bank to
bank it is not known which way it runs. Ponds, wetlands, springs and wells never are,
whatever the settings say.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import sources
from layout.banks import bank_shape, drawn_parts
from layout.geometry import along, at_stations, bearings, coordinates, cut
from layout.grid import bilinear
from layout.records import Crossing, Trail
from layout.site import Area, WaterFeature
from layout.terrain import Terrain, station_table
from layout.units import FOOT_M
from layout.water_rules import STRICTEST_CLASS, WATER_CLASSES

Floats = NDArray[np.float64]

SQUARE_DEG = 90.0
TOLERANCE_DEG = 15.0  # ours
APPROACH_PCT = 10.0
APPROACH_M = 50 * FOOT_M
APPROACH_LEAST_M = 5.0  # a grade over less than half a baseline is the elevations' error
BANK_MOST_M = 3 * FOOT_M  # ours: a higher bank must be cut down to be driven
LIP_M = 2.0  # at most so much beside the water is left to the bank
BANK_RUN_M = 3.0  # ground beside the water in which its bank is looked for; ours
WIDE_MOST_M = 20 * FOOT_M  # ours: logs and mats lie across no more
APART_M = 200 * FOOT_M
STREAM_HALF_M = 5.0  # the water's direction is read over twice this; a brook wiggles
TRAIL_HALF_M = 2.0
JOIN_M = 1.0  # parts nearer than this along a trail are one
TOUCH_M2 = 0.05
SAME_PLACE_M = 0.1
NEVER = (
    "pond", "lake", "wetland", "spring", "well", "bog", "marsh", "swamp", "fen", "seep",
)  # fmt: skip


def may_be_crossed(body: WaterFeature) -> bool:
    """Tell whether trails may ever cross a water body: a stream, drawn as a line."""
    return is_stream(body) and all(
        part.geom_type == "LineString" for part in drawn_parts(body.geometry)
    )


def is_stream(body: WaterFeature) -> bool:
    """Tell whether a water body is a stream, however it is drawn.

    A class of a rule's own counts as a stream unless its name says otherwise; one that
    may say otherwise is left alone.
    """
    said = body.water_class.lower()
    return not any(word in said for word in NEVER)


@dataclass(frozen=True, slots=True, eq=False)
class Water:
    """One mapped water body.

    Parameters
    ----------
    body : WaterFeature
        As mapped.
    shape : shapely geometry
        Bank to bank; a line where no width is known, a point for a spring.
    crossed : bool
        Whether trails may ever cross it.
    """

    body: WaterFeature
    shape: BaseGeometry
    crossed: bool


def waters_of(area: Area) -> tuple[Water, ...]:
    """Give the mapped water of an area, bank to bank."""
    return tuple(Water(body, bank_shape(body), may_be_crossed(body)) for body in area.water)


def crossings_on(
    waters: Sequence[Water], terrain: Terrain, line: LineString, width_m: float
) -> tuple[Crossing, ...]:
    """Find where a line meets mapped water, and read how it lies there.

    Parameters
    ----------
    waters : sequence of Water
        From `waters_of`.
    terrain : Terrain
        The ground.
    line : LineString
        Centre line of a trail, landing end first.
    width_m : float
        Trail width, metres.

    Returns
    -------
    tuple of Crossing
        In order along the line, without names. Reaches of one stream that meet
        end to end there are one crossing.
    """
    found: list[Crossing] = []
    for water in waters:
        shape = water.shape
        if shape.geom_type.endswith("Point"):
            shape = shape.buffer(width_m / 2)
        if not line.intersects(shape):
            continue
        for from_m, to_m in stretches(line, line.intersection(shape)):
            found.append(_read(water, terrain, line, from_m, to_m, width_m))
    found.sort(key=lambda c: (c.from_m, c.to_m, c.feature_id))
    never = {water.body.feature_id for water in waters if not water.crossed}
    out: list[Crossing] = []
    for crossing in found:
        before = out[-1] if out else None
        if (
            before is not None
            and crossing.from_m <= before.to_m + JOIN_M
            and not never & {before.feature_id, crossing.feature_id}
        ):
            one = _joined(before, crossing)
            out[-1] = _measured(one, terrain, line, width_m)
        else:
            out.append(crossing)
    return tuple(out)


def crossings_of(
    area: Area,
    terrain: Terrain,
    trails: Iterable[Trail],
    area_ha: Callable[[float, float], float | None] | None = None,
) -> tuple[Crossing, ...]:
    """Name every place where the trails of a layout go over water.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job and its ground.
    trails : iterable of Trail
        Lines run landing end first.
    area_ha : callable, optional
        Gives the hectares that drain to a place (x, y), or None where not known.

    Returns
    -------
    tuple of Crossing
        X1, X2 … trail by trail.
    """
    waters = waters_of(area)
    found = [
        replace(crossing, trail_id=trail.trail_id)
        for trail in trails
        for crossing in crossings_on(waters, terrain, trail.line, trail.width_m)
    ]
    xy = np.array([(c.x, c.y) for c in found]).reshape(-1, 2)
    out: list[Crossing] = []
    for number, crossing in enumerate(found):
        others = np.delete(xy, number, axis=0)
        apart = np.hypot(*(others - xy[number]).T)
        out.append(
            replace(
                crossing,
                crossing_id=f"X{number + 1}",
                area_ha=None if area_ha is None else area_ha(crossing.x, crossing.y),
                apart_m=float(apart.min()) if apart.size else None,
            )
        )
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that speaks against a crossing; ``value`` is None where it is not known."""

    code: str
    value: float | None
    limit: float
    unit: str
    source: str
    confirmed: bool = True


def faults_of(crossing: Crossing, spare: float = 0.0) -> tuple[Fault, ...]:
    """Say which limits of a crossing are not kept.

    Parameters
    ----------
    crossing : Crossing
        As read from a line.
    spare : float, optional
        Degrees, percent points and decimetres kept back from the limits.

    Returns
    -------
    tuple of Fault
        Empty where it is near square, its approaches gentle, its banks low and
        the water narrow, as far as elevations and map tell.

    Notes
    -----
    Square, firm and with gentle approaches: Indiana DNR and several states. The
    tolerance of 15 degrees, the height of bank and the width are ours.
    """
    out: list[Fault] = []
    least = SQUARE_DEG - TOLERANCE_DEG
    square, approach = sources.CROSSING_ANGLE, sources.CROSSING_APPROACH
    if crossing.angle_deg is None or crossing.angle_deg < least + spare - 1e-6:
        out.append(Fault("crossing_angle", crossing.angle_deg, least, "deg", str(square)))
    if crossing.approach_pct is None or crossing.approach_pct > APPROACH_PCT - spare + 1e-6:
        out.append(
            Fault(
                "crossing_approach", crossing.approach_pct, APPROACH_PCT, "%", str(approach),
                approach.confirmed,
            )
        )  # fmt: skip
    if crossing.bank_m is None or crossing.bank_m > BANK_MOST_M - 0.1 * spare + 1e-6:
        out.append(
            Fault(
                "crossing_bank", crossing.bank_m, BANK_MOST_M, "m", sources.COMMON_PRACTICE, False
            )
        )
    wide = crossing.to_m - crossing.from_m
    if wide > WIDE_MOST_M + 1e-6:
        out.append(Fault("crossing_wide", wide, WIDE_MOST_M, "m", sources.COMMON_PRACTICE, False))
    return tuple(out)


def stretches(line: LineString, overlap: BaseGeometry) -> list[tuple[float, float]]:
    """Give the parts of a line an overlap belongs to, those nearer than a metre as one.

    Parameters
    ----------
    line : LineString
        Centre line.
    overlap : shapely geometry
        What the line, or the ground it covers, has in common with a shape.

    Returns
    -------
    list of (float, float)
        From and to, metres along the line, in order; slivers are left out.
    """
    parts = [
        part for part in drawn_parts(overlap) if part.geom_type != "Polygon" or part.area > TOUCH_M2
    ]
    found: list[tuple[float, float]] = []
    for part in parts:
        at = shapely.line_locate_point(line, shapely.points(shapely.get_coordinates(part)))
        found.append((float(np.min(at)), float(np.max(at))))
    merged: list[tuple[float, float]] = []
    for from_m, to_m in sorted(found):
        if merged and from_m <= merged[-1][1] + JOIN_M:
            merged[-1] = (merged[-1][0], max(merged[-1][1], to_m))
        else:
            merged.append((from_m, to_m))
    return merged


def _read(
    water: Water, terrain: Terrain, line: LineString, from_m: float, to_m: float, width_m: float
) -> Crossing:
    body = water.body
    plain = Crossing(
        crossing_id="",
        trail_id="",
        feature_id=body.feature_id,
        water_class=body.water_class,
        at_m=0.5 * (from_m + to_m),
        from_m=from_m,
        to_m=to_m,
        x=0.0,
        y=0.0,
        angle_deg=_angle_deg(body, line, from_m, to_m) if water.crossed else None,
        approach_pct=None,
        bank_m=None,
    )
    return _measured(plain, terrain, line, width_m)


def _joined(one: Crossing, other: Crossing) -> Crossing:
    """Make one crossing of two that touch: the stricter class, the less square angle."""
    first = min(one, other, key=lambda c: (_strictness(c.water_class), c.from_m))
    angles = [c.angle_deg for c in (one, other) if c.angle_deg is not None]
    from_m, to_m = min(one.from_m, other.from_m), max(one.to_m, other.to_m)
    return replace(
        first,
        from_m=from_m,
        to_m=to_m,
        at_m=0.5 * (from_m + to_m),
        angle_deg=min(angles) if angles else None,
    )


def _strictness(water_class: str) -> int:
    known = water_class if water_class in WATER_CLASSES else STRICTEST_CLASS
    return WATER_CLASSES.index(known)


def _measured(crossing: Crossing, terrain: Terrain, line: LineString, width_m: float) -> Crossing:
    """Read place, approaches and banks of a crossing from its stretch of the line."""
    points = coordinates(line)
    (spot,) = at_stations(points, np.array([crossing.at_m]))
    return replace(
        crossing,
        x=float(spot[0]),
        y=float(spot[1]),
        approach_pct=_approach_pct(terrain, points, crossing.from_m, crossing.to_m, width_m),
        bank_m=_bank_m(terrain, points, crossing.from_m, crossing.to_m),
    )


def _angle_deg(body: WaterFeature, line: LineString, from_m: float, to_m: float) -> float | None:
    """Give the angle of trail and stream, 90 square; None where it follows the channel.

    That is: it meets the stream's own line nowhere on the stretch, or more than once.
    """
    near = LineString(
        cut(coordinates(line), max(from_m - 0.01, 0.0), min(to_m + 0.01, line.length))
    )
    angles: list[float] = []
    spots: list[Floats] = []
    for stream in drawn_parts(body.geometry):
        for part in drawn_parts(near.intersection(stream)):
            if part.geom_type != "Point":
                return None
            turn = _bearing(stream, part, STREAM_HALF_M) - _bearing(line, part, TRAIL_HALF_M)
            turn = abs((turn + np.pi) % (2 * np.pi) - np.pi)
            angles.append(float(np.degrees(min(turn, np.pi - turn))))
            spots.append(shapely.get_coordinates(part)[0])
    if not spots or float(np.ptp(np.array(spots), axis=0).max()) > SAME_PLACE_M:
        return None
    return min(angles)  # of the parts of a line that meet right there


def _bearing(line: BaseGeometry, point: BaseGeometry, half_m: float) -> float:
    at = np.atleast_1d(shapely.line_locate_point(np.array([line]), np.array([point])))
    return float(bearings(shapely.get_coordinates(line), at, half_m=half_m)[0])


def _approach_pct(
    terrain: Terrain, points: Floats, from_m: float, to_m: float, width_m: float
) -> float | None:
    """Give the steepest grade within 50 ft of either bank, the baseline kept on its own side.

    A bank is smeared over a cell of the elevations: what it takes is the bank's, not the
    approach's.
    """
    length = float(along(points)[-1])
    lip = min(terrain.dem.cell_m, LIP_M)
    worst: float | None = None
    for start, end in (
        (from_m - APPROACH_M, from_m - lip),
        (to_m + lip, to_m + APPROACH_M),
    ):
        start, end = max(start, 0.0), min(end, length)
        if end - start < APPROACH_LEAST_M:
            continue
        side = LineString(cut(points, start, end))
        steep = float(np.max(np.abs(station_table(terrain, side, width_m).grade_pct)))
        if not np.isfinite(steep):
            return None
        worst = steep if worst is None else max(worst, steep)
    return worst


def _bank_m(terrain: Terrain, points: Floats, from_m: float, to_m: float) -> float | None:
    """Give how far the higher bank stands over the lowest ground between."""
    length = float(along(points)[-1])
    start, end = max(from_m - BANK_RUN_M, 0.0), min(to_m + BANK_RUN_M, length)
    at = np.linspace(start, end, max(2, round((end - start) / 0.5) + 1))
    xy = at_stations(points, at)
    z = bilinear(terrain.dem, xy[:, 0], xy[:, 1])
    if not np.isfinite(z).all():
        return None
    return float(z.max() - z.min())
