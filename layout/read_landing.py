"""A drawn landing and a drawn main trail, as one outline and one line."""

from collections.abc import Callable

import numpy as np
import pyproj
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from layout import track_types
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.polygon_mending import polygons_of
from layout.projection import WGS84, change
from layout.read_features import cell, track_type
from layout.read_lines import lines_of, walked_note, whole_line
from layout.read_vector import Layer
from layout.settings import AreaSettings, LonLat
from layout.shape_kinds import Wanted
from layout.speech import speak_length
from layout.walked_lines import doubles_back

ReadLayer = Callable[[str, str, str, Wanted], Layer]

SHORTEST_MAIN_M = 10.0  # a trail grade is measured over 10 m
NEAR_M = 20.0  # an end this near the landing may be the one that starts there; ours
FARTHEST_GATE_M = 20_000.0  # of a gate or helispot from the stand; ours
EQUAL_M = 5.0  # and of two ends that differ by less neither is nearer


def landing_shape(
    settings: AreaSettings, read: ReadLayer, crs: pyproj.CRS, name: str
) -> tuple[Polygon | None, tuple[Finding, ...]]:
    """Take the drawn landing; a point becomes a square of the landing's area.

    Parameters
    ----------
    settings : AreaSettings
    read : callable
        Reads a layer: table, key, text, kind of shapes wanted.
    crs : CRS
        The area's CRS.
    name : str
        The settings file, for messages.

    Returns
    -------
    shape : Polygon or None
        None where none is drawn.
    findings : tuple of Finding

    Raises
    ------
    InputError
        If it is no one place.
    """
    landing = settings.landing
    where = f"{name} [landing]"
    if landing.at is not None and landing.shape:
        raise InputError(f"{where} at: both at and shape are given; keep one of them")
    if landing.at is not None:
        return square(*place_on_grid(landing.at, crs, f"{where} at:"), landing.area_m2), ()
    if not landing.shape:
        return None, ()
    layer = read("landing", "shape", landing.shape, "any")
    kinds = set(shapely.get_dimensions(layer.shapes).tolist())
    if kinds == {1} and layer.walked:  # walked round
        layer = read("landing", "shape", landing.shape, "polygon")
        kinds = {2}
    point = layer.shapes[0]
    if len(layer.shapes) == 1 and isinstance(point, Point):
        return square(float(point.x), float(point.y), landing.area_m2), layer.findings
    if kinds != {2}:
        raise InputError(f"{where} shape: {layer.source} must hold one polygon, or one point")
    shapes, found = layer.sound("landing")
    parts = polygons_of(shapely.union_all(shapes))
    if len(parts) != 1:
        raise InputError(
            f"{where} shape: {layer.source} holds {len(parts)} separate polygons; "
            "one landing is planned at a time, keep one"
        )
    return parts[0], tuple(found)


def place_on_grid(
    at: tuple[float, float] | LonLat, crs: pyproj.CRS, where: str
) -> tuple[float, float]:
    """Give grid coordinates of a place in the settings."""
    if isinstance(at, LonLat):
        move = change(WGS84, crs, (at.lon, at.lat, at.lon, at.lat), where)
        x, y = move(np.array([at.lon]), np.array([at.lat]))
        return float(x[0]), float(y[0])
    x_m, y_m = at
    if abs(x_m) <= 180 and abs(y_m) <= 90:
        raise InputError(
            f"{where} [{x_m:g}, {y_m:g}] looks like degrees; write {{lon = ..., lat = ...}}"
        )
    return x_m, y_m


def emergency_places(
    settings: AreaSettings, stand: MultiPolygon, crs: pyproj.CRS, name: str
) -> None:
    """Refuse a gate or helispot that cannot be this stand's: help would be sent there.

    Parameters
    ----------
    settings : AreaSettings
    stand : MultiPolygon
        In the area's CRS.
    crs : CRS
    name : str
        The settings file, for messages.

    Raises
    ------
    InputFaults
        One line a place that is no place, or lies over 20 km from the stand.
    """
    faults = []
    for key, at in (("gate", settings.access.gate), ("helispot", settings.access.helispot)):
        if at is None:
            continue
        where = f"{name} [access] {key}:"
        try:
            x, y = place_on_grid(at, crs, where)
        except InputError as fault:
            faults.append(str(fault))
            continue
        off_m = float(stand.distance(Point(x, y))) if np.isfinite([x, y]).all() else np.inf
        if off_m > FARTHEST_GATE_M:
            faults.append(
                f"{where} lies {off_m / 1000:.0f} km from the stand, at {x:.0f}, {y:.0f} in "
                f"{crs.name}; help would be sent there. [x, y] are metres of that grid, degrees "
                "are written {lon = ..., lat = ...}"
            )
    if faults:
        raise InputFaults(faults)


def square(x: float, y: float, area_m2: float) -> Polygon:
    """Give a square round a point."""
    half = float(np.sqrt(area_m2)) / 2
    return box(x - half, y - half, x + half, y + half)


def main_trail_line(
    settings: AreaSettings, read: ReadLayer, landing: Polygon | None, name: str
) -> tuple[LineString | None, tuple[Finding, ...]]:
    """Take the drawn main trail, landing end first.

    Parameters
    ----------
    settings : AreaSettings
    read : callable
        Reads a layer.
    landing : Polygon or None
        The end nearer to it comes first.
    name : str
        The settings file, for messages.

    Returns
    -------
    line : LineString or None
        None where none is drawn.
    findings : tuple of Finding

    Raises
    ------
    InputError
        If the layer is no one line.
    """
    text = settings.main_trail.line
    if not text:
        return None, ()
    where = f"{name} [main_trail] line:"
    layer = read("main_trail", "line", text, "line")
    found = list(layer.findings)
    shapes = _main_of(layer)
    if not shapes:
        raise InputError(
            f"{where} {layer.source} holds no main trail, only spurs and edges to keep off; "
            "record one, or take the key out"
        )
    line = _one_line(layer, shapes, where, found)
    if line.length < SHORTEST_MAIN_M:
        raise InputError(
            f"{where} {layer.source} is {speak_length(line.length, layer.units)} long; grades are "
            f"measured over {speak_length(SHORTEST_MAIN_M, layer.units)}, draw it longer"
        )
    if landing is None:
        found.append(
            Finding(
                "main_trail_direction",
                "caution",
                f"No landing is drawn, so {layer.source} is taken to start at the landing.",
                "trails",
                "main",
            )
        )
        return line, tuple(found)
    return _landing_end_first(line, landing, layer, found), tuple(found)


def _one_line(
    layer: Layer, shapes: list[BaseGeometry], where: str, found: list[Finding]
) -> LineString:
    """Take the one line of a main trail, every point as drawn."""
    merged = lines_of(shapely.line_merge(shapely.union_all(shapes, grid_size=None)))
    simple = all(shapely.is_simple(shape) for shape in shapes)
    if not simple:  # joining would cut it at its crossings
        merged = [line for shape in shapes for line in lines_of(shape)]
    if len(shapes) == 1 and layer.walked:
        merged = [
            whole_line(
                shapes[0], where, layer.source, found, code="main_trail_joined", units=layer.units
            )
        ]
    if len(merged) != 1:
        names = [cell(layer, row, "name") for row in range(len(layer.table))]
        names = [name for name in names if name]
        listed = f" ({', '.join(names)})" if names and layer.walked else ""
        one = f'; to take one, name it, like "{layer.source}:{names[0]}"' if listed else ""
        raise InputError(
            f"{where} {layer.source} holds {len(merged)} lines{listed} that do not join end to "
            f"end; draw the main trail as one line{one}"
        )
    if not simple:
        found.append(
            Finding(
                "main_trail_crosses",
                "caution",
                f"{layer.source} crosses itself; the loop is kept as drawn. Is it meant?",
                "trails",
                "main",
            )
        )
    line = merged[0]
    if doubles_back(np.asarray(line.coords)[:, :2]):
        raise InputError(
            f"{where} {layer.source} goes out and comes back beside itself; keep one way of it, "
            "from the landing outward"
        )
    if layer.walked:
        found.append(walked_note("main_trail_walked", layer.source, layer.error_m, layer.units))
    return line


def _landing_end_first(
    line: LineString, landing: Polygon, layer: Layer, found: list[Finding]
) -> LineString:
    """Turn a main trail so that it starts at the landing, and say when it was turned."""
    start_m, end_m = (Point(line.coords[k]).distance(landing) for k in (0, -1))
    if abs(start_m - end_m) <= EQUAL_M and max(start_m, end_m) <= NEAR_M:
        found.append(
            Finding(
                "main_trail_ends",
                "caution",
                f"Both ends of {layer.source} lie by the landing, so it is taken from the end it "
                "was drawn from. Turn it round if loads leave by the other.",
                "trails",
                "main",
                at=(float(line.coords[0][0]), float(line.coords[0][1])),
            )
        )
        return line
    if end_m >= start_m:
        return line
    found.append(
        Finding(
            "main_trail_turned",
            "ok",
            f"{layer.source} was drawn toward the landing; it is taken from the landing outward.",
            "trails",
            "main",
        )
    )
    return line.reverse()


def _main_of(layer: Layer) -> list[BaseGeometry]:
    """Give the lines that may be the main trail: where tracks say what they are, those."""
    types = [track_type(layer, row) for row in range(len(layer.table))]
    if track_types.MAIN_TRAIL in types:
        return [
            s for s, what in zip(layer.shapes, types, strict=True) if what == track_types.MAIN_TRAIL
        ]
    other = track_types.NO_TRAIL | {track_types.SPUR, track_types.OTHER_TRAIL}
    return [s for s, what in zip(layer.shapes, types, strict=True) if what not in other]
