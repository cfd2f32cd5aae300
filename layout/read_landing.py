"""The drawn landings as outlines, and other places of the settings on the grid."""

from collections.abc import Sequence
from itertools import combinations
from typing import cast

import numpy as np
import pyproj
import shapely
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.naming import main_names
from layout.polygon_mending import polygons_of
from layout.projection import WGS84, change
from layout.read_vector import ReadLayer
from layout.settings import AreaSettings, LonLat
from layout.site import Earlier, FurtherLanding

FARTHEST_GATE_M = 20_000.0  # of a gate, meeting point or helispot from the stand; ours


def landing_shapes(
    settings: AreaSettings, read: ReadLayer, crs: pyproj.CRS, name: str
) -> tuple[tuple[Polygon, ...], tuple[Finding, ...]]:
    """Take the drawn landings; a point becomes a square of the landing's area.

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
    shapes : tuple of Polygon
        In the order of the file: L1, L2 ...; empty where none is drawn.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        If they are no places, or overlap.
    """
    landing = settings.landing
    where = f"{name} [landing]"
    if landing.at is not None and landing.shape:
        raise InputError(f"{where} at: both at and shape are given; keep one of them")
    if landing.at is not None:
        spots = _on_grid(landing.at, crs, f"{where} at:")
        return _apart([square(x, y, landing.area_m2) for x, y in spots], f"{where} at:"), ()
    if not landing.shape:
        return (), ()
    layer = read("landing", "shape", landing.shape, "any")
    kinds = set(shapely.get_dimensions(layer.shapes).tolist())
    if kinds == {1} and layer.walked:  # walked round
        layer = read("landing", "shape", landing.shape, "polygon")
        kinds = {2}
    points = [shape for shape in layer.shapes if isinstance(shape, Point)]
    if points and len(points) == len(layer.shapes):
        squares = [square(float(p.x), float(p.y), landing.area_m2) for p in points]
        return _apart(squares, f"{where} shape: {layer.source}:"), layer.findings
    if kinds != {2}:
        raise InputError(
            f"{where} shape: {layer.source} must hold polygons, one for each landing, or points"
        )
    shapes, found = layer.sound("landing")
    parts = polygons_of(shapely.union_all(shapes))
    if len(parts) > 1:  # the order of the file
        parts.sort(key=lambda p: [bool(p.intersects(shape)) for shape in shapes], reverse=True)
    return tuple(parts), tuple(found)


def _on_grid(
    at: LonLat | tuple[float, float] | tuple[tuple[float, float] | LonLat, ...],
    crs: pyproj.CRS,
    where: str,
) -> list[tuple[float, float]]:
    """Give grid coordinates of one place or a list of them; the faults of all at once."""
    if isinstance(at, LonLat):
        return [place_on_grid(at, crs, where)]
    some: list[tuple[float, float] | LonLat] = []
    for one in at:
        if isinstance(one, float):  # a pair of numbers is one place
            return [place_on_grid(cast("tuple[float, float]", at), crs, where)]
        some.append(one)
    spots, faults = [], []
    for one in some:
        try:
            spots.append(place_on_grid(one, crs, where))
        except InputError as fault:
            faults.append(str(fault))
    if faults:
        raise InputFaults(faults)
    return spots


def _apart(squares: list[Polygon], where: str) -> tuple[Polygon, ...]:
    """Refuse landings round points that lie on each other."""
    for (a, one), (b, other) in combinations(enumerate(squares, start=1), 2):
        if one.intersects(other):
            raise InputError(
                f"{where} landings {a} and {b} of the list overlap, as large as area makes "
                "them; keep one of them, move one, or give a smaller area"
            )
    return tuple(squares)


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
    """Refuse a gate, meeting point or helispot that cannot be this stand's: help would go there.

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
    access = settings.access
    places = (("gate", access.gate), ("meet_at", access.meet_at), ("helispot", access.helispot))
    for key, at in places:
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


def further_landings(
    shapes: Sequence[Polygon],
    mains: Sequence[LineString | None],
    earlier: Earlier | None,
    walked_m: float | None,
) -> tuple[FurtherLanding, ...]:
    """Put the landings after the first together with their names and main trails.

    Parameters
    ----------
    shapes : sequence of Polygon
        All landings.
    mains : sequence of LineString or None
        The main trails drawn from them, or fewer.
    earlier : Earlier or None
        The earlier plan, whose names are kept.
    walked_m : float or None
        How far off the main trails may be where they were walked, metres.

    Returns
    -------
    tuple of FurtherLanding
    """
    names = main_names(len(shapes), earlier)
    lines = [*mains, *(None for _ in shapes[len(mains) :])]
    return tuple(
        FurtherLanding(f"L{n}", shape, name, line, None if line is None else walked_m)
        for n, (shape, name, line) in enumerate(zip(shapes, names, lines, strict=False), start=1)
        if n > 1
    )
