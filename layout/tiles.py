"""Elevation rasters joined: one grid of cells from a single file or from neighbouring tiles.

Tiles must say the same CRS, cell size and unit. A tile whose grid is shifted against
the first is resampled to it, and that is told. Where tiles overlap the first named
counts; ground that no tile covers stays a gap.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import pyproj
import rasterio
from numpy.typing import NDArray
from rasterio.transform import Affine
from rasterio.windows import Window
from shapely.geometry import Polygon

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.projection import is_metric_grid, metric_grid_for
from layout.raster_head import Head
from layout.resample import between_cells

Floats32 = NDArray[np.float32]

MOST_TILES = 100
SAME = 1e-6  # of a cell: sizes that differ by less are one
ALIGNED = 0.01  # of a cell: a shift below this is how a corner was rounded
BLOCK_ROWS = 128  # rows read at once, more where the file's own blocks are taller


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A tile on the common grid.

    Parameters
    ----------
    head : Head
    col, row : int
        Cell of the common grid that its first cell lies nearest to.
    shift : tuple of float
        How far east and south of that cell its own lies, in cells; 0 where aligned.
    """

    head: Head
    col: int
    row: int
    shift: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Raster:
    """One grid of elevations, of one tile or several, before any cell is read.

    Parameters
    ----------
    tiles : tuple of Placed
        In the order named.
    name : str
        Files, for messages.
    where : str
        Start of every message: file, table and key.
    crs, target : CRS
        Its map CRS, and the one CRS of the area.
    transform : Affine
        From column and row of the common grid to `crs`.
    width, height : int
    unit, unit_fault : str
        See `Head`.
    findings : tuple of Finding
    """

    tiles: tuple[Placed, ...]
    name: str
    where: str
    crs: pyproj.CRS
    target: pyproj.CRS
    transform: Affine
    width: int
    height: int
    unit: str
    unit_fault: str
    findings: tuple[Finding, ...]

    def corner(self, col: float, row: float) -> tuple[float, float]:
        """Give the map place of a cell's upper left corner."""
        t = self.transform
        return t.a * col + t.b * row + t.c, t.d * col + t.e * row + t.f

    def outline(self) -> Polygon:
        """Outline the common grid in its own CRS."""
        w, h = self.width, self.height
        return Polygon([self.corner(*c) for c in ((0, 0), (w, 0), (w, h), (0, h))])


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """Cells of a window of the common grid.

    Parameters
    ----------
    z : ndarray of float32
        Metres, NaN where no file holds any.
    whole : bool
        The files could hold decimals, and hold none.
    origin : ndarray of uint8 or None
        Which tile each cell is from, counted from 1, 0 for none; None for one tile.
    differing : tuple of (str, ndarray of float32)
        For each pair of tiles that overlap in the window: their names, and how far
        apart they are where both have a value.
    """

    z: Floats32
    whole: bool
    origin: NDArray[np.uint8] | None
    differing: tuple[tuple[str, Floats32], ...]


def joined(heads: tuple[Head, ...]) -> Raster:
    """Lay tiles on one grid and choose the area's CRS.

    Parameters
    ----------
    heads : tuple of Head
        One at least; the first gives the grid.

    Returns
    -------
    Raster

    Raises
    ------
    InputError, InputFaults
        If a tile does not fit the first, one line each.
    """
    first = heads[0]
    faults = [fault for head in heads[1:] for fault in _misfits(first, head)]
    if faults:
        raise InputFaults(faults) if len(faults) > 1 else InputError(faults[0])
    placed = [_placed(first, head) for head in heads]
    west, north = min(p.col for p in placed), min(p.row for p in placed)
    east = max(p.col + p.head.width + (p.shift[0] > 0) for p in placed)
    south = max(p.row + p.head.height + (p.shift[1] > 0) for p in placed)
    t, (x, y) = first.transform, first.corner(west, north)
    notes = [note for p in placed for note in _shift_note(first, p)]
    unit, unit_fault = _unit(heads)
    raster = Raster(
        tiles=tuple(Placed(p.head, p.col - west, p.row - north, p.shift) for p in placed),
        name=_listed([head.name for head in heads]),
        where=first.source.where,
        crs=first.crs,
        target=first.crs,
        transform=Affine(t.a, t.b, x, t.d, t.e, y),
        width=int(east - west),
        height=int(south - north),
        unit=unit,
        unit_fault=unit_fault,
        findings=tuple(notes),
    )
    return targeted(raster, raster.outline().bounds)


def targeted(raster: Raster, bounds: tuple[float, float, float, float]) -> Raster:
    """Choose the one CRS of the area by where it lies.

    Parameters
    ----------
    raster : Raster
    bounds : tuple of float
        West, south, east, north of the place, in the raster's CRS.

    Returns
    -------
    Raster
    """
    target = metric_grid_for(raster.crs, bounds, f"{raster.where} {raster.name}:")
    return raster if target == raster.target else replace(raster, target=target)


def read_cells(raster: Raster, window: Window, metres: float) -> Joined:
    """Read a window of the common grid; a tile beside it is not opened.

    Parameters
    ----------
    raster : Raster
    window : Window
        Whole columns and rows of the common grid.
    metres : float
        Metres of the files' unit of elevations.

    Returns
    -------
    Joined

    Raises
    ------
    InputError
        If a file is damaged or does not come.
    """
    cols, rows = int(window.width), int(window.height)
    seen = _Seen()
    if len(raster.tiles) == 1:  # the window lies in it, and a second grid is spared
        c, r = int(window.col_off), int(window.row_off)
        z = _tile_cells(raster.tiles[0], (c, r, cols, rows), metres, seen)
        return Joined(z, seen.only_whole, None, ())
    z = np.full((rows, cols), np.nan, dtype=np.float32)
    origin = np.zeros((rows, cols), dtype=np.uint8)
    differing = []
    for number, tile in enumerate(raster.tiles, start=1):
        wide, tall = tile.head.width + (tile.shift[0] > 0), tile.head.height + (tile.shift[1] > 0)
        c0, r0 = max(tile.col - int(window.col_off), 0), max(tile.row - int(window.row_off), 0)
        c1 = min(tile.col - int(window.col_off) + wide, cols)
        r1 = min(tile.row - int(window.row_off) + tall, rows)
        if c1 <= c0 or r1 <= r0:
            continue
        c, r = c0 + int(window.col_off) - tile.col, r0 + int(window.row_off) - tile.row
        part = _tile_cells(tile, (c, r, c1 - c0, r1 - r0), metres, seen)
        into = z[r0:r1, c0:c1]
        from_ = origin[r0:r1, c0:c1]
        known = np.isfinite(part)
        both = known & (from_ > 0)
        for other in np.unique(from_[both]) if both.any() else ():
            pair = both & (from_ == other)
            names = f"{raster.tiles[other - 1].head.name} and {tile.head.name}"
            differing.append((names, np.asarray(part[pair] - into[pair], dtype=np.float32)))
        new = known & (from_ == 0)
        into[new] = part[new]
        from_[new] = number
    return Joined(z, seen.only_whole, origin, tuple(differing))


def _misfits(first: Head, head: Head) -> list[str]:
    """Say in what a tile does not fit the first."""
    where, a, b = head.source.where, first.name, head.name
    if not head.crs.equals(first.crs, ignore_axis_order=True):
        return [
            f"{where} {a} is in {first.crs.name}, {b} in {head.crs.name}; bring the tiles to one "
            "CRS before they are listed"
        ]
    found = []
    t, u = first.transform, head.transform
    size = math.sqrt(abs(t.determinant))
    if max(abs(t.a - u.a), abs(t.b - u.b), abs(t.d - u.d), abs(t.e - u.e)) > _tolerance(head, size):
        unit = "m" if is_metric_grid(first.crs) else "map units"
        unit = "degrees" if first.crs.is_geographic else unit
        found.append(
            f"{where} {a} has cells of {_size(t)} {unit}, {b} of {_size(u)} {unit}; list tiles "
            "of one cell size, laid the same way"
        )
    if head.unit and first.unit and head.unit != first.unit:
        found.append(
            f"{where} {a} says {first.unit} is its unit of elevations, {b} says {head.unit}; bring "
            "the tiles to one unit"
        )
    if first.heights_from and head.heights_from and first.heights_from != head.heights_from:
        found.append(
            f"{where} the heights of {a} count from {first.heights_from}, those of {b} from "
            f"{head.heights_from}; bring the tiles to one of them"
        )
    return found


def _tolerance(head: Head, size: float) -> float:
    """Give the difference of cell sizes that shifts no cell of a tile by a hundredth."""
    return max(SAME, min(ALIGNED / max(head.width, head.height), 1e-4)) * size


def _size(t: Affine) -> str:
    """Write the size of a cell, east by south, with the way it is laid where that differs."""
    if t.b == 0 and t.d == 0:
        return f"{t.a:.6g} x {-t.e:.6g}"
    return f"{math.hypot(t.a, t.d):.6g} x {math.hypot(t.b, t.e):.6g} (turned)"


def _unit(heads: tuple[Head, ...]) -> tuple[str, str]:
    """Settle the unit of all tiles, or say why it is not settled."""
    faulty = next((head for head in heads if head.unit_fault), None)
    silent = next((head for head in heads if not (head.unit or head.unit_fault)), None)
    saying = next((head for head in heads if head.unit), None)
    if faulty is not None:
        return "", faulty.unit_fault
    if saying is not None and silent is not None:
        return "", f"differ: {saying.name} says {saying.unit} is its unit, {silent.name} says none"
    return (saying.unit if saying is not None else ""), ""


def _placed(first: Head, head: Head) -> Placed:
    """Find a tile's place on the grid of the first."""
    back = ~first.transform
    x, y = head.transform.c, head.transform.f
    col, row = back.a * x + back.b * y + back.c, back.d * x + back.e * y + back.f
    if abs(col - round(col)) < ALIGNED and abs(row - round(row)) < ALIGNED:
        return Placed(head, round(col), round(row), (0.0, 0.0))
    east, south = math.floor(col), math.floor(row)
    return Placed(head, east, south, (col - east, row - south))


def _shift_note(first: Head, tile: Placed) -> list[Finding]:
    """Tell of a tile that had to be resampled."""
    if tile.shift == (0.0, 0.0):
        return []
    off = [min(part, 1 - part) for part in tile.shift]
    return [
        Finding(
            "dem_tile_shifted",
            "caution",
            f"The cells of {tile.head.name} lie {off[0]:.2f} of a cell east or west and "
            f"{off[1]:.2f} north or south of those of {first.name}; they were resampled to them, "
            "which smooths them a little.",
            "ground",
            "dem",
            value=max(off),
        )
    ]


def _listed(names: list[str], most: int = 3) -> str:
    """List a few files of many."""
    if len(names) <= most:
        return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f"{', '.join(names[: most - 1])} and {len(names) - most + 1} more"


class _Seen:
    """Whether all values seen so far, as the files hold them, were whole and not one."""

    def __init__(self) -> None:
        self.whole, self.low, self.high = True, math.inf, -math.inf

    def look(self, values: NDArray[np.float64]) -> None:
        """Take notice of values, gaps among them."""
        known = values[np.isfinite(values)]
        if self.whole and known.size:
            self.whole = bool((known == np.rint(known)).all())
            self.low = min(self.low, float(known.min()))
            self.high = max(self.high, float(known.max()))

    @property
    def only_whole(self) -> bool:
        """Whether no value had decimals, and there was more than one."""
        return self.whole and self.low < self.high


def _tile_cells(
    tile: Placed, part: tuple[int, int, int, int], metres: float, seen: _Seen
) -> Floats32:
    """Read columns and rows of the common grid out of one tile, counted from its own first."""
    head, (col, row, cols, rows) = tile.head, part
    with head.source.opened() as data:
        if tile.shift == (0.0, 0.0):
            return _cells(data, Window(col, row, cols, rows), metres, seen)
        # A cell of the common grid lies west and north of the tile's own by the shift.
        c0, r0 = max(col - 1, 0), max(row - 1, 0)
        c1, r1 = min(col + cols, head.width), min(row + rows, head.height)
        z = _cells(data, Window(c0, r0, max(c1 - c0, 1), max(r1 - r0, 1)), metres, seen)
    at_row = np.arange(row, row + rows) - tile.shift[1] - r0
    at_col = np.arange(col, col + cols) - tile.shift[0] - c0
    return between_cells(z, *np.meshgrid(at_row, at_col, indexing="ij"))


def _cells(data: rasterio.DatasetReader, window: Window, metres: float, seen: _Seen) -> Floats32:
    """Read cells, their scale and unit applied before they are cut to float32."""
    cols, rows = int(window.width), int(window.height)
    z = np.empty((rows, cols), dtype=np.float32)
    scale, offset = data.scales[0], data.offsets[0]
    tall = max(int(data.block_shapes[0][0]), 1)
    step = tall * max(BLOCK_ROWS // tall, 1)
    top = 0
    while top < rows:
        row = int(window.row_off) + top
        count = min(step - row % step, rows - top)  # no block of the file is asked for twice
        band = data.read(1, window=Window(window.col_off, row, cols, count), masked=True)
        values = np.ma.filled(band.astype(np.float64), np.nan)
        seen.look(values)
        if (scale, offset) != (1.0, 0.0):
            values = values * scale + offset
        values[~np.isfinite(values)] = np.nan
        with np.errstate(over="ignore"):  # what float32 cannot hold is no elevation
            rows_of_z = z[top : top + count]
            rows_of_z[...] = values * metres if metres != 1.0 else values
        rows_of_z[~np.isfinite(rows_of_z)] = np.nan
        top += count
    return z
