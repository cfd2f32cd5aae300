"""Layers and walks made in metres, written where a test asks."""

from collections.abc import Callable
from pathlib import Path

import area_files as files
import numpy as np
import phone_files as phone
import shapely
from shapely.geometry import LineString, Polygon

from layout.errors import InputError, InputFaults
from layout.read_vector import Layer, read_layer
from layout.settings import AreaSettings
from layout.shape_kinds import Wanted
from layout.units import Units

W = "area.toml [stand] boundary:"
Points = list[tuple[float, float]]
Draw = Callable[[Path], str]


def steps(*corners: tuple[float, float], every: float = 5.0, closed: bool = True) -> Points:
    """Walk along corners, a fix every few metres."""
    line = LineString([*corners, corners[0]] if closed else corners)
    count = round(line.length / every)
    along = np.linspace(0, line.length, count + 1)[: -1 if closed else None]
    return [(p.x, p.y) for p in shapely.line_interpolate_point(line, along)]


def beside(points: Points, x: float, y: float) -> Points:
    """Shift a walk."""
    return [(a + x, b + y) for a, b in points]


def noisy(points: Points, sigma_m: float) -> Points:
    """Shake a walk as a receiver does."""
    shaken = np.array(points) + np.random.default_rng(3).normal(0, sigma_m, (len(points), 2))
    return [(float(x), float(y)) for x, y in shaken]


SQUARE: Points = [(0, 0), (100, 0), (100, 100), (0, 100)]  # one hectare
EDGE = steps(*SQUARE)
WAY_IN = steps((-60, -60), (0, 0), closed=False)  # 85 m from the road to a corner
GROUND = Polygon(phone.grid(*SQUARE))


def walk(*tracks: str) -> Draw:
    """Write tracks and waypoints as w.gpx."""

    def draw(folder: Path) -> str:
        phone.gpx(folder / "w.gpx", *tracks)
        return "w.gpx"

    return draw


def map_of(*parts: str) -> Draw:
    """Write w.kml."""

    def draw(folder: Path) -> str:
        phone.kml(folder / "w.kml", *parts)
        return "w.kml"

    return draw


def named(draw: Draw, name: str) -> Draw:
    """Name a layer or track of what is drawn."""
    return lambda folder: f"{draw(folder)}:{name}"


def layer(*shapes: shapely.Geometry | None, crs: str = "EPSG:32618") -> Draw:
    """Write shapes as w.gpkg."""

    def draw(folder: Path) -> str:
        files.write_layer(folder / "w.gpkg", list(shapes), crs=crs)
        return "w.gpkg"

    return draw


def text(name: str, content: str, encoding: str = "utf-8") -> Draw:
    """Write a file as it stands."""

    def draw(folder: Path) -> str:
        (folder / name).write_text(content, encoding=encoding)
        return name

    return draw


def here(*corners: tuple[float, float]) -> Polygon:
    """Draw a polygon by places from the corner."""
    return Polygon(phone.grid(*corners))


def read(folder: Path, name: str, wanted: Wanted = "polygon", units: Units = "metric") -> Layer:
    """Read a layer into the grid of phones."""
    return read_layer(folder, name, W, wanted, phone.GRID, units=units)


def faults_of(error: InputError) -> list[str]:
    """Give the lines of a fault without their start."""
    lines = error.faults if isinstance(error, InputFaults) else [str(error)]
    return [line.removeprefix(f"{W} ") for line in lines]


def settings_of(**tables: dict[str, str]) -> AreaSettings:
    """Make the least settings there must be, and what is given."""
    raw: dict[str, dict[str, str]] = {
        "area": {"name": "w", "units": "metric"},
        "ground": {"dem": "d.tif"},
        "stand": {"boundary": "s.gpx", "trees": "t.csv"},
    }
    return AreaSettings.model_validate({"format": 1, **raw, **tables})
