"""Water that is on no map: possible channels, wet hollows and closed basins, from elevations.

All of it is a guess to be looked at on the ground, never a mapped water body: no
strip is kept beside it. It costs the router more, and it shows as a caution.
"""

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal
from weakref import WeakKeyDictionary

import numpy as np
import shapely
from numpy.typing import NDArray
from rasterio import features as raster
from scipy import ndimage
from shapely.geometry import LineString, MultiPolygon, Polygon, box, shape
from shapely.geometry.base import BaseGeometry

from layout.banks import bank_shape, drawn_parts
from layout.flow import LEAST_TAN, Flow, Stream, flow, grid_transform, streams, wetness
from layout.grid import Dem, Floats
from layout.site import Area, WaterFeature
from layout.terrain import Terrain, slope_pct

NEAR_M = 10.0  # a line this near mapped water is that water
AROUND_M = 50.0  # how far beyond the ground of the job lines are looked for; ours
SHORTEST_M = 15.0  # a shorter piece is left out; ours
CHANNEL_HALF_M = 2.0  # soft ground to each side of a possible channel; ours
WET_INDEX = 8.0  # mean wetness of 3 x 3 cells of 5 m from which ground counts as wet; ours
WET_AREA_M2 = 200.0  # a smaller hollow is left out; ours
LEVEL_PCT = 1.0  # flatter ground has no slope the index could be worked out from; ours
LEVEL_DRAINED_M2 = 2000.0  # there only ground that so much drains over counts; ours
BEYOND_SHARE = 0.25  # of a channel's area: so much known water that came in over the edge counts
FAIR_CELLS = 2  # cells to each side that a line of cells is averaged over

Known = tuple[float, float, tuple[WaterFeature, ...], MultiPolygon, MultiPolygon]


@dataclass(frozen=True, slots=True)
class Channel:
    """A possible channel that is not mapped, upper end first.

    Parameters
    ----------
    line : LineString
        Where water gathers.
    area_ha : float
        What drains to its lower end, hectares on the map.
    least : bool
        True where water may also come from beyond the known elevations.
    """

    line: LineString
    area_ha: float
    least: bool = False


@dataclass(frozen=True, slots=True)
class Hollow:
    """Ground that is likely wet.

    Parameters
    ----------
    kind : {"wet", "basin"}
        Wet by what drains to it and how little it falls, or the floor of a closed basin.
    shape : Polygon
        Where.
    depth_m : float
        Of a basin, below its rim; 0 otherwise.
    """

    kind: Literal["wet", "basin"]
    shape: Polygon
    depth_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Agreement:
    """How mapped streams and the elevations agree, round the ground of the job; metres.

    Parameters
    ----------
    mapped_m, mapped_seen_m : float
        Length of mapped streams, and of it with a channel in the elevations within 10 m.
    seen_m, seen_mapped_m : float
        Length of channels in the elevations, and of it within 10 m of mapped water.
    """

    mapped_m: float = 0.0
    mapped_seen_m: float = 0.0
    seen_m: float = 0.0
    seen_mapped_m: float = 0.0


@dataclass(frozen=True, eq=False)
class Channels:
    """What the elevations say of water, round the ground of a job.

    Parameters
    ----------
    lines : tuple of Channel
        Possible channels that are not mapped, largest first.
    hollows : tuple of Hollow
        Wet ground outside mapped water, largest first.
    agreement : Agreement
        With what is mapped.
    beyond : tuple of float or None
        Place on the ground of the job, away from mapped water, where the most water
        comes in over the edge of what is known; None where none worth a word does.
    """

    lines: tuple[Channel, ...] = ()
    hollows: tuple[Hollow, ...] = ()
    agreement: Agreement = field(default_factory=Agreement)
    beyond: tuple[float, float] | None = None

    @cached_property
    def soft(self) -> BaseGeometry:
        """The ground of all of it: lines 4 m wide, and hollows; may be empty."""
        lines = [channel.line.buffer(CHANNEL_HALF_M) for channel in self.lines]
        return shapely.union_all([*lines, *(hollow.shape for hollow in self.hollows)])


_found: WeakKeyDictionary[Terrain, dict[Known, Channels]] = WeakKeyDictionary()


def channels_of(area: Area, terrain: Terrain) -> Channels:
    """Find what is on no map; the elevations are read once for each terrain.

    Parameters
    ----------
    area : Area
        Its mapped water, ``water.channel_area`` and ``ground.dem_error`` are used.
    terrain : Terrain
        Its ground.

    Returns
    -------
    Channels
        Within 50 m of the ground that may be used.
    """
    settings = area.settings
    least, error = settings.water.channel_area_m2, settings.ground.dem_error_m
    asked = (least, error, area.water, area.stand, area.may_use)
    kept = _found.setdefault(terrain, {})
    if asked not in kept:
        kept[asked] = find(area, terrain.dem)
    return kept[asked]


def find(area: Area, dem: Dem) -> Channels:
    """Find possible channels, wet hollows and closed basins, and hold them against the map.

    Parameters
    ----------
    area : Area
        The job.
    dem : Dem
        Its elevations.

    Returns
    -------
    Channels
    """
    error = area.settings.ground.dem_error_m
    around = shapely.union_all([area.stand, area.may_use]).buffer(AROUND_M)
    mapped = [line for body in area.water for line in _drawn_lines(body)]
    water = flow(dem, error_m=error, passing=mapped)
    banks = [bank_shape(body) for body in area.water if body.water_class != "well"]
    ground = shapely.union_all(banks)
    every = _runs(water, area.settings.water.channel_area_m2, around, None)
    lines = _runs(water, area.settings.water.channel_area_m2, around, ground.buffer(NEAR_M))
    hollows = (*_wet(dem, error), *_basins(water))
    return Channels(
        lines=tuple(sorted(lines, key=lambda c: (-c.area_ha, *c.line.coords[0]))),
        hollows=_apart(hollows, around, ground),
        agreement=_agreement(area, dem, around, ground, every),
        beyond=_beyond(area, water, ground),
    )


def _drawn_lines(body: WaterFeature) -> list[LineString]:
    """Give the lines of a water body."""
    return [part for part in drawn_parts(body.geometry) if isinstance(part, LineString)]


def _runs(
    water: Flow, least_m2: float, around: BaseGeometry, apart: BaseGeometry | None
) -> list[Channel]:
    """Give the lines of flow in a region, less what lies too near mapped water."""
    made: list[Channel] = []
    for stream in streams(water, least_m2):
        xy = _fair(stream, water.dem.cell_m)
        keep = np.asarray(shapely.contains_xy(around, xy[:, 0], xy[:, 1]))
        if apart is not None and not apart.is_empty:
            keep &= ~np.asarray(shapely.intersects_xy(apart, xy[:, 0], xy[:, 1]))
        for first, last in _true_runs(keep):
            line = _lean(xy[first:last], 0.2 * water.dem.cell_m)
            if apart is not None and line.length < SHORTEST_M and not (first == 0 and keep.all()):
                continue
            row, col = water.dem.fractional(*stream.xy[last - 1])
            least = bool(water.from_edge[round(float(row)), round(float(col))])
            made.append(Channel(line, float(stream.area_m2[last - 1]) / 1e4, least))
    return made


def _true_runs(keep: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give the runs of two or more True as first and last + 1."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], keep.astype(np.int8), [0]])))
    return [(a, b) for a, b in edges.reshape(-1, 2).tolist() if b - a >= 2]


def _lean(xy: Floats, tolerance_m: float) -> LineString:
    """Make a line of points, less those it can do without."""
    made = LineString(xy).simplify(tolerance_m)
    return made if isinstance(made, LineString) else LineString(xy)


def _fair(stream: Stream, cell_m: float) -> Floats:
    """Smooth a line of cells, its ends kept: steps of a grid are up to 8 % too long."""
    xy = stream.xy
    if len(xy) < 3 or cell_m > 5.0:
        return xy
    made = np.empty_like(xy)
    for i in range(len(xy)):
        reach = min(FAIR_CELLS, i, len(xy) - 1 - i)
        made[i] = xy[i - reach : i + reach + 1].mean(axis=0)
    return made


def _wet(dem: Dem, error_m: float) -> list[Hollow]:
    """Outline the ground whose wetness, averaged over its neighbours, is high.

    Level ground is wet by its index whatever drains to it: a dry plateau would be a bog.
    """
    coarse, index = wetness(dem, error_m=error_m)
    slope = slope_pct(coarse)
    drained_m2 = np.exp(index) * np.maximum(slope / 100, LEAST_TAN) * coarse.cell_m
    known = np.isfinite(index) & ((slope >= LEVEL_PCT) | (drained_m2 >= LEVEL_DRAINED_M2))
    share = ndimage.uniform_filter(known.astype(float), 3)
    mean = ndimage.uniform_filter(np.where(known, index, 0.0), 3) / np.maximum(share, 1e-9)
    return [Hollow("wet", part) for part in _outlined(coarse, known & (mean >= WET_INDEX))]


def _basins(water: Flow) -> list[Hollow]:
    """Outline the floors of closed basins."""
    return [
        Hollow("basin", part, basin.depth_m)
        for basin in water.basins
        for part in _outlined(water.dem, basin.floor)
    ]


def _outlined(dem: Dem, cells: NDArray[np.bool_]) -> list[Polygon]:
    """Draw round cells, with the steps of the grid taken off."""
    if not cells.any():
        return []
    shapes = raster.shapes(
        cells.astype(np.uint8), mask=cells, connectivity=8, transform=grid_transform(dem)
    )
    whole = shapely.union_all([shape(drawn) for drawn, _ in shapes])
    return _polygons(whole.simplify(0.75 * dem.cell_m))


def _apart(
    hollows: tuple[Hollow, ...], around: BaseGeometry, ground: BaseGeometry
) -> tuple[Hollow, ...]:
    """Keep what lies round the job and outside mapped water, and is large enough."""
    near = ground.buffer(NEAR_M)
    made = [
        Hollow(hollow.kind, part, hollow.depth_m)
        for hollow in hollows
        for part in _polygons(hollow.shape.intersection(around).difference(near))
        if part.area >= WET_AREA_M2
    ]
    return tuple(sorted(made, key=lambda h: (-h.shape.area, h.kind, *h.shape.bounds)))


def _polygons(geometry: BaseGeometry) -> list[Polygon]:
    """Give the polygons of any geometry."""
    parts = shapely.get_parts(shapely.make_valid(geometry))
    return [p for part in parts for p in shapely.get_parts(part) if isinstance(p, Polygon)]


def _beyond(area: Area, water: Flow, ground: BaseGeometry) -> tuple[float, float] | None:
    """Give where the most water of unknown origin crosses the ground of the job."""
    enough = water.area_m2 >= BEYOND_SHARE * area.settings.water.channel_area_m2
    row, col = np.nonzero(water.from_edge & enough)
    x, y = water.dem.centres()
    job = shapely.union_all([area.stand, area.may_use]).difference(ground.buffer(NEAR_M))
    here = np.flatnonzero(shapely.contains_xy(job, x[col], y[row]))
    if not here.size:
        return None
    most = here[int(np.argmax(water.area_m2[row[here], col[here]]))]
    return (float(x[col[most]]), float(y[row[most]]))


def _agreement(
    area: Area, dem: Dem, around: BaseGeometry, ground: BaseGeometry, every: list[Channel]
) -> Agreement:
    """Measure how mapped streams and channels of the elevations agree."""
    region = around.intersection(box(*dem.bounds))
    seen = shapely.union_all([channel.line for channel in every])
    seen_near = seen.buffer(NEAR_M)
    mapped_m = mapped_seen_m = 0.0
    for body in area.water:
        drawn = shapely.union_all(_drawn_lines(body)).intersection(region)
        mapped_m += float(drawn.length)
        mapped_seen_m += float(drawn.intersection(seen_near).length)
    return Agreement(
        mapped_m=mapped_m,
        mapped_seen_m=mapped_seen_m,
        seen_m=float(seen.length),
        seen_mapped_m=float(seen.intersection(ground.buffer(NEAR_M)).length),
    )
