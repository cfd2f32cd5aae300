"""How water runs over the elevation grid: directions, the area that drains to a cell, wetness.

Hollows that are only noise are filled; a closed basin deep and wide enough to be
real keeps its water, as a kettle does. Water leaves at the edge of what is known.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio import features as raster
from rasterio.transform import Affine
from scipy import ndimage
from shapely.geometry import LineString

from layout.grid import Dem, Floats
from layout.kernels import njit

# It compiles kernels as it is loaded, and stops where the package lies in a read-only
# place and the user has no home, unless `kernels` has named a folder before.
# isort: split
import pyflwdir

from layout.terrain import slope_pct

BASIN_DEPTH_M = 0.5  # ours: a closed basin this deep is no noise of a good elevation grid
BASIN_ERRORS = 3.0  # and so many elevation errors at least
BASIN_AREA_M2 = 100.0  # ours: and this wide, four cells at least; a smaller pit is a stump hole
WETNESS_CELL_M = 5.0  # ours: what a finer cell says of wet ground is mostly noise
LEAST_TAN = 0.005  # level ground would be wet without end
MOST_NESTED = 6  # basins within basins are looked for so often

Mask = NDArray[np.bool_]
_UNKNOWN, _PIT = np.uint8(247), np.uint8(0)  # of the eight-direction code pyflwdir reads
_EIGHT = np.ones((3, 3), dtype=bool)


@dataclass(frozen=True, slots=True, eq=False)
class Basin:
    """A closed basin that keeps its water.

    Parameters
    ----------
    x, y : float
        Its lowest cell, grid metres.
    depth_m : float
        From the lowest place on its rim down to its lowest cell.
    area_m2 : float
        Ground under that level.
    floor : ndarray of bool
        The lower half of its depth, on the elevation grid: where water stands.
    """

    x: float
    y: float
    depth_m: float
    area_m2: float
    floor: Mask


@dataclass(frozen=True, slots=True, eq=False)
class Flow:
    """Water on an elevation grid; every array has the grid's shape.

    Parameters
    ----------
    dem : Dem
        Elevations as read.
    area_m2 : ndarray of float32
        Map area that drains through a cell, its own included; NaN where no
        elevation is known.
    from_edge : ndarray of bool
        Cells that water from the edge of what is known runs to: their area is the
        least, more may come from beyond.
    basins : tuple of Basin
        Closed basins that were kept, deepest first.
    downstream : ndarray of int64, shape (rows * cols,)
        Flat index of the next cell downhill; its own where the water ends or
        leaves, -1 where not known.
    """

    dem: Dem
    area_m2: NDArray[np.float32]
    from_edge: Mask
    basins: tuple[Basin, ...]
    downstream: NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Stream:
    """A line of flow between two places where lines meet, upper end first.

    Parameters
    ----------
    xy : ndarray of float, shape (n, 2)
        Cell centres, grid metres.
    area_m2 : ndarray of float, shape (n,)
        What drains through each.
    """

    xy: Floats
    area_m2: Floats


def flow(dem: Dem, *, error_m: float = 0.0, passing: Sequence[LineString] = ()) -> Flow:
    """Run water over an elevation grid, each cell to its steepest neighbour.

    Parameters
    ----------
    dem : Dem
        Elevations; NaN where not known. Gaps under 100 m² count as the nearest
        ground, and water leaves over the edges of larger ones.
    error_m : float, optional
        Error of the elevations; a basin must be three times as deep to be kept,
        and half a metre at least.
    passing : sequence of LineString, optional
        Mapped streams. A basin that one enters and leaves is no closed one, the
        stream has a way out that the elevations do not show (a culvert, mostly).

    Returns
    -------
    Flow

    Notes
    -----
    Depressions are filled as in Wang & Liu (2006), Int. J. Geogr. Inf. Sci. 20(2),
    by pyflwdir; directions are O'Callaghan & Mark's (1984) eight.
    """
    z = _bridged(dem)
    known = np.isfinite(z)
    if not known.any():
        nothing = np.full(dem.shape, np.nan, dtype=np.float32)
        return Flow(dem, nothing, np.zeros(dem.shape, bool), (), np.full(z.size, -1))
    heights = _raised(z)
    edge = known & ~ndimage.binary_erosion(known, _EIGHT)
    basins, filled, codes = _settled(dem, heights, edge, error_m, passing)
    _steepest(filled, codes)
    made = pyflwdir.from_array(codes, ftype="d8", check_ftype=False)
    area = made.upstream_area("cell").astype(np.float32) * np.float32(dem.cell_m**2)
    beyond = made.accuflux(edge.astype(np.int32), nodata=-1) > 0
    area[~known] = np.nan
    downstream = made.idxs_ds.astype(np.int64)
    downstream[~known.ravel()] = -1
    return Flow(dem, area, beyond & known, basins, downstream)


def streams(water: Flow, area_m2: float) -> tuple[Stream, ...]:
    """Give the lines along which at least so much ground drains.

    Parameters
    ----------
    water : Flow
        Where water runs.
    area_m2 : float
        Least area that makes a line.

    Returns
    -------
    tuple of Stream
        One from each head or meeting to the next meeting, where it ends in the
        first cell of the line it joins; the area there is still its own.
    """
    rows, cols = water.dem.shape
    area = np.nan_to_num(water.area_m2.ravel(), nan=-1.0)
    wet = np.flatnonzero(area >= area_m2)
    after = water.downstream[wet]
    joining = np.bincount(after[after != wet], minlength=rows * cols)
    x, y = water.dem.centres()
    made = []
    for head in wet[joining[wet] != 1].tolist():
        chain = [head]
        while (step := int(water.downstream[chain[-1]])) != chain[-1]:
            chain.append(step)
            if joining[step] != 1:
                break
        if len(chain) < 2:
            continue
        cells = np.asarray(chain)
        drained = area[cells].astype(np.float64)
        if joining[cells[-1]] > 1:
            drained[-1] = drained[-2]
        made.append(Stream(np.column_stack([x[cells % cols], y[cells // cols]]), drained))
    return tuple(made)


def wetness(dem: Dem, *, error_m: float = 0.0) -> tuple[Dem, Floats]:
    """Give the topographic wetness index on cells of about 5 m.

    Parameters
    ----------
    dem : Dem
        Elevations.
    error_m : float, optional
        Their error, for `flow`.

    Returns
    -------
    coarse : Dem
        Means of the elevations; the cells of a grid coarser than 5 m stay.
    index : ndarray of float, shape of ``coarse``
        ``ln(a / tan b)``: the area a metre of contour drains, in metres, over the
        slope; NaN beside gaps and along the edge.

    Notes
    -----
    Beven & Kirkby (1979), Hydrol. Sci. Bull. 24(1).
    """
    coarse = _coarser(dem, max(1, round(WETNESS_CELL_M / dem.cell_m)))
    tan = np.maximum(slope_pct(coarse) / 100.0, LEAST_TAN)
    area = flow(coarse, error_m=error_m).area_m2.astype(np.float64)
    return coarse, np.asarray(np.log(area / coarse.cell_m / tan))


def grid_transform(dem: Dem) -> Affine:
    """Give the grid's place as rasterio wants it."""
    return Affine(dem.cell_m, 0.0, dem.west_m, 0.0, -dem.cell_m, dem.north_m)


def _bridged(dem: Dem) -> NDArray[np.float32]:
    """Close small gaps with the nearest elevation: a lost cell must not swallow a brook."""
    known = np.isfinite(dem.z)
    gaps, count = ndimage.label(~known, _EIGHT)
    if not count or not known.any():
        return dem.z
    size = np.bincount(gaps.ravel())
    small = size * dem.cell_m**2 < BASIN_AREA_M2
    small[0] = False
    border = np.concatenate([gaps[0], gaps[-1], gaps[:, 0], gaps[:, -1]])
    small[border] = False
    if not small.any():
        return dem.z
    row, col = ndimage.distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.where(small[gaps], dem.z[row, col], dem.z)


def _raised(z: NDArray[np.float32]) -> NDArray[np.float32]:
    """Lift elevations so that the highest is at most twice the lowest.

    Differences of two such numbers are exact (Sterbenz), so that what is filled
    is exactly level, and no rounding can send water in a circle.
    """
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    span = max(high - low, 1.0)
    return (z.astype(np.float64) - low + span).astype(np.float32)


def _settled(
    dem: Dem,
    heights: NDArray[np.float32],
    edge: Mask,
    error_m: float,
    passing: Sequence[LineString],
) -> tuple[tuple[Basin, ...], NDArray[np.float32], NDArray[np.uint8]]:
    """Fill what is noise and keep what is a basin; give basins, filled heights and directions."""
    deep = max(BASIN_DEPTH_M, BASIN_ERRORS * error_m)
    cells = max(4, int(np.ceil(BASIN_AREA_M2 / dem.cell_m**2)))
    run, ends = _mapped_cells(dem, passing)
    x, y = dem.centres()
    kept: list[Basin] = []
    outlets = np.flatnonzero(edge)
    for _ in range(MOST_NESTED):
        filled, codes = pyflwdir.fill_depressions(heights, nodata=np.nan, idxs_pit=outlets)
        depth = np.nan_to_num(filled - heights)
        hollows, count = ndimage.label(depth > 0, _EIGHT)
        if not count:
            break
        size = np.bincount(hollows.ravel())
        most = np.asarray(ndimage.maximum(depth, hollows, np.arange(count + 1)))
        real = (most >= deep) & (size >= cells)
        real[np.setdiff1d(np.unique(hollows[run]), np.unique(hollows[ends]))] = False
        real[0] = False
        found = np.flatnonzero(real)
        if not found.size:
            break
        boxes = ndimage.find_objects(hollows)
        for number in found.tolist():
            part = boxes[number - 1]
            mine = hollows[part] == number
            at = int(np.argmax(np.where(mine, depth[part], -1.0)))
            row, col = np.unravel_index(at, mine.shape)
            row, col = int(row) + part[0].start, int(col) + part[1].start
            floor = np.zeros(dem.shape, dtype=bool)
            floor[part] = mine & (depth[part] >= 0.5 * most[number])
            area = float(size[number] * dem.cell_m**2)
            kept.append(Basin(float(x[col]), float(y[row]), float(most[number]), area, floor))
            outlets = np.append(outlets, row * dem.shape[1] + col)
    else:
        filled, codes = pyflwdir.fill_depressions(heights, nodata=np.nan, idxs_pit=outlets)
    return tuple(sorted(kept, key=lambda b: (-b.depth_m, b.x, b.y))), filled, codes


def _mapped_cells(dem: Dem, lines: Sequence[LineString]) -> tuple[Mask, Mask]:
    """Give the cells mapped streams run through, and those where they begin and end."""
    run, ends = np.zeros(dem.shape, dtype=bool), np.zeros(dem.shape, dtype=bool)
    if not lines:
        return run, ends
    burnt = raster.rasterize(
        lines, out_shape=dem.shape, transform=grid_transform(dem), all_touched=True, dtype="uint8"
    )
    tips = np.array([c[:2] for line in lines for c in (line.coords[0], line.coords[-1])])
    row, col = (np.rint(a).astype(int) for a in dem.fractional(tips[:, 0], tips[:, 1]))
    here = (row >= 0) & (col >= 0) & (row < dem.shape[0]) & (col < dem.shape[1])
    ends[row[here], col[here]] = True
    return burnt.astype(bool), ends


def _coarser(dem: Dem, factor: int) -> Dem:
    """Average blocks of cells; a block less than half known is not known."""
    if factor == 1:
        return dem
    rows, cols = (-(-n // factor) for n in dem.shape)
    padded = np.full((rows * factor, cols * factor), np.nan)
    padded[: dem.shape[0], : dem.shape[1]] = dem.z
    blocks = padded.reshape(rows, factor, cols, factor)
    known = np.isfinite(blocks).sum(axis=(1, 3))
    total = np.nansum(blocks, axis=(1, 3))
    enough = 2 * known >= factor**2
    z = np.where(enough, total / np.maximum(known, 1), np.nan).astype(np.float32)
    return Dem(np.ascontiguousarray(z), dem.west_m, dem.north_m, dem.cell_m * factor)


@njit
def _steepest(z: NDArray[np.float32], codes: NDArray[np.uint8]) -> None:
    """Turn each cell to its steepest lower neighbour, in place; level ones stay as they are.

    Filling alone leads to the *lowest* neighbour, which favours the diagonals.
    Beyond the edge the ground is taken to go on as it comes, so that water
    crosses the edge and does not gather along it.
    """
    rows, cols = z.shape
    drs = (0, 1, 1, 1, 0, -1, -1, -1)
    dcs = (1, 1, 0, -1, -1, -1, 0, 1)
    for r in range(rows):
        for c in range(cols):
            here = z[r, c]
            if np.isnan(here):
                continue
            best, code, out = 0.0, -1, False
            for k in range(8):
                rn, cn = r + drs[k], c + dcs[k]
                inside = 0 <= rn < rows and 0 <= cn < cols and not np.isnan(z[rn, cn])
                if inside:
                    drop = here - z[rn, cn]
                else:
                    beyond = np.nan
                    if k % 2:  # straight out from the two cells beside it, the higher
                        for a, b, d, e in ((0, cn - c, rn - r, 0), (rn - r, 0, 0, cn - c)):
                            ra, ca, ri, ci = r + a, c + b, r + a - d, c + b - e
                            if (
                                0 <= ra < rows
                                and 0 <= ca < cols
                                and 0 <= ri < rows
                                and 0 <= ci < cols
                            ):
                                guess = 2 * z[ra, ca] - z[ri, ci]
                                if np.isnan(beyond) or guess > beyond:
                                    beyond = guess
                    ro, co = 2 * r - rn, 2 * c - cn
                    if np.isnan(beyond) and 0 <= ro < rows and 0 <= co < cols:
                        beyond = 2 * here - z[ro, co]
                    drop = here - beyond
                if k % 2:
                    drop *= 0.7071067811865476
                if drop > best:
                    best, code, out = drop, k, not inside
            if out:
                codes[r, c] = 0
            elif code >= 0:
                codes[r, c] = 1 << code
