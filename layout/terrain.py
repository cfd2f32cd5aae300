"""Ground shape from the elevation grid: slope, aspect, shade, contours, trail stations.

Two kinds of slope live here and must not be mixed. Horn's 3 x 3 slope is for
maps and slope classes. A trail is judged by a 10 m baseline along its centre
line and by the drop across its own width, because a 3 x 3 slope on 1 m cells
carries the elevation error several times over. Router, checker and map all call
`grade_at`, `cross_at` or `station_table`, so that one trail has one answer.
"""

import math
from dataclasses import dataclass
from typing import cast

import contourpy
import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import ndimage
from shapely.geometry import LineString, MultiLineString

from layout.errors import InputError
from layout.grid import Dem, Floats, bilinear

BASELINE_M = 10.0  # a shorter one mostly measures the error of the elevations
SMOOTH_SIGMA_M = 1.0  # less leaves noise in the cross slope, more buys nothing
SMOOTH_BELOW_CELL_M = 5.0  # a cell this large has no neighbour within reach of the smoothing
SLOPE_EDGES_PCT = (10.0, 20.0, 30.0, 40.0, 60.0)
MOST_CONTOURS = 5000


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class Terrain:
    """The elevation grid as measured, and the copy cross slopes are read from.

    Parameters
    ----------
    dem : Dem
        Elevations as read.
    smooth : Dem
        The same grid after a Gaussian of sigma 1 m; NaN where ``dem`` is.
    """

    dem: Dem
    smooth: Dem


@dataclass(frozen=True, slots=True, eq=False)
class Stations:
    """What a trail line meets, station by station; every array has shape (n,).

    Parameters
    ----------
    at_m : ndarray of float
        Distance from the stored line's start (the landing end), metres on the map.
    x, y, z : ndarray of float
        Grid coordinates and elevation, metres.
    heading_rad : ndarray of float
        Direction of the stored line, counter-clockwise from grid east.
    grade_pct : ndarray of float
        Grade on the baseline in the loaded direction: + adverse, - favourable.
    cross_pct : ndarray of float
        Cross slope, unsigned.
    tilt_left : ndarray of float
        Cross slope with its sign, percent: + where the left side, looking along
        the stored line, is the higher.
    """

    at_m: Floats
    x: Floats
    y: Floats
    heading_rad: Floats
    z: Floats
    grade_pct: Floats
    cross_pct: Floats
    tilt_left: Floats

    def __len__(self) -> int:
        """Count the stations."""
        return int(self.at_m.size)


def build(dem: Dem) -> Terrain:
    """Prepare an elevation grid for reading trails.

    Parameters
    ----------
    dem : Dem
        Elevations as read.

    Returns
    -------
    Terrain
        The grid and its smoothed copy.
    """
    return Terrain(dem=dem, smooth=smoothed(dem))


def smoothed(dem: Dem, sigma_m: float = SMOOTH_SIGMA_M) -> Dem:
    """Smooth elevations with a Gaussian that steps round gaps and edges.

    Beside a gap or an edge only the known cells count, fitted by a plane with
    the same weights, so that a tilted plane stays what it is there too.

    Parameters
    ----------
    dem : Dem
        Elevations, NaN where not known.
    sigma_m : float, optional
        Standard deviation of the Gaussian, metres.

    Returns
    -------
    Dem
        The same grid; NaN exactly where ``dem`` is NaN. Cells of 5 m and more
        come back as they were.
    """
    if dem.cell_m >= SMOOTH_BELOW_CELL_M or sigma_m <= 0:
        return dem
    known = np.isfinite(dem.z)
    if not known.any():
        return dem
    sigma = sigma_m / dem.cell_m
    reach = max(1, math.ceil(4 * sigma))
    step = np.arange(-reach, reach + 1, dtype=float)
    weight = np.exp(-0.5 * (step / sigma) ** 2)
    weight /= weight.sum()
    kernels = (weight, weight * step, weight * step**2)

    def moment(values: Floats, rows: int, cols: int) -> Floats:
        part = ndimage.correlate1d(values, kernels[rows], axis=0, mode="constant")
        return np.asarray(ndimage.correlate1d(part, kernels[cols], axis=1, mode="constant"))

    offset = float(np.mean(dem.z[known], dtype=np.float64))
    z = np.where(known, dem.z.astype(np.float64) - offset, 0.0)
    plain = moment(z, 0, 0)
    mask = known.astype(np.float64)
    m00 = moment(mask, 0, 0)
    partial = known & (m00 < 1 - 1e-12)
    out = plain
    if partial.any():
        n, p, q = m00[partial], moment(mask, 1, 0)[partial], moment(mask, 0, 1)[partial]
        pp, pq = moment(mask, 2, 0)[partial], moment(mask, 1, 1)[partial]
        qq = moment(mask, 0, 2)[partial]
        z0, zp = plain[partial], moment(z, 1, 0)[partial]
        zq = moment(z, 0, 1)[partial]
        # Height at the centre of the plane of weighted least squares, by Cramer's rule.
        c0, c1, c2 = pp * qq - pq**2, pq * q - p * qq, p * pq - pp * q
        det = n * c0 + p * c1 + q * c2
        plane = (z0 * c0 + zp * c1 + zq * c2) / np.where(det > 0, det, 1.0)
        # A plane through cells on one line, or one cell, is not determined: take the mean.
        out[partial] = np.where(det > 1e-6 * n**3, plane, z0 / n)
    return dem.with_z(np.where(known, out + offset, np.nan).astype(np.float32))


def _gradient(dem: Dem) -> tuple[Floats, Floats]:
    """Give Horn's rise per metre toward east and north.

    East skips the column through the cell and north its row, so a gap there shows
    in one of the two only; what is made of both is NaN without nine known cells.
    """
    rows, cols = dem.shape
    east = np.full((rows, cols), np.nan)
    north = np.full((rows, cols), np.nan)
    if rows < 3 or cols < 3:
        return east, north
    z = dem.z.astype(np.float64)
    nw, n, ne = z[:-2, :-2], z[:-2, 1:-1], z[:-2, 2:]
    w, centre, e = z[1:-1, :-2], z[1:-1, 1:-1], z[1:-1, 2:]
    sw, s, se = z[2:, :-2], z[2:, 1:-1], z[2:, 2:]
    scale = 1.0 / (8.0 * dem.cell_m)
    gap = centre - centre  # 0, or NaN where the middle cell itself is not known
    east[1:-1, 1:-1] = ((ne + 2 * e + se) - (nw + 2 * w + sw)) * scale + gap
    north[1:-1, 1:-1] = ((nw + 2 * n + ne) - (sw + 2 * s + se)) * scale + gap
    return east, north


def slope_pct(dem: Dem) -> Floats:
    """Give the slope of the ground by Horn's 3 x 3 method.

    Parameters
    ----------
    dem : Dem
        Elevation grid.

    Returns
    -------
    ndarray of float, shape (rows, cols)
        Slope, percent; NaN on the outer ring and beside gaps.

    Notes
    -----
    Horn (1981), "Hill shading and the reflectance map", Proc. IEEE 69(1).
    """
    east, north = _gradient(dem)
    return np.asarray(100.0 * np.hypot(east, north))


def aspect_deg(dem: Dem) -> Floats:
    """Give the direction the ground faces (downhill) by Horn's 3 x 3 method.

    Parameters
    ----------
    dem : Dem
        Elevation grid.

    Returns
    -------
    ndarray of float, shape (rows, cols)
        Degrees clockwise from grid north, 0 <= aspect < 360; NaN on exact flats,
        on the outer ring and beside gaps.
    """
    east, north = _gradient(dem)
    aspect = np.degrees(np.arctan2(-east, -north)) % 360.0
    aspect[aspect >= 360.0] = 0.0  # -1e-17 % 360 is 360 in floating point
    return np.asarray(np.where((east == 0) & (north == 0), np.nan, aspect))


def hillshade(dem: Dem, azimuth_deg: float = 315.0, altitude_deg: float = 45.0) -> Floats:
    """Give the brightness of the ground lit from one side.

    Parameters
    ----------
    dem : Dem
        Elevation grid.
    azimuth_deg : float, optional
        Where the light comes from, clockwise from grid north.
    altitude_deg : float, optional
        Height of the light above the horizon.

    Returns
    -------
    ndarray of float, shape (rows, cols)
        0 dark to 1 bright; NaN on the outer ring and beside gaps.
    """
    east, north = _gradient(dem)
    azimuth, altitude = math.radians(azimuth_deg), math.radians(altitude_deg)
    light_e = math.sin(azimuth) * math.cos(altitude)
    light_n = math.cos(azimuth) * math.cos(altitude)
    bright = (math.sin(altitude) - east * light_e - north * light_n) / np.sqrt(
        1 + east**2 + north**2
    )
    return np.asarray(np.clip(bright, 0.0, 1.0))


def slope_classes(dem: Dem, edges_pct: tuple[float, ...] = SLOPE_EDGES_PCT) -> NDArray[np.int8]:
    """Sort the ground into slope classes for a map.

    Parameters
    ----------
    dem : Dem
        Elevation grid.
    edges_pct : tuple of float, optional
        Rising class edges, percent; a slope on an edge belongs to the steeper class.

    Returns
    -------
    ndarray of int8, shape (rows, cols)
        0 for slopes under the first edge up to ``len(edges_pct)``; -1 where not known.
    """
    slope = slope_pct(dem)
    classes = np.searchsorted(np.asarray(edges_pct), slope, side="right")
    return np.where(np.isnan(slope), -1, classes).astype(np.int8)


def contours(dem: Dem, interval_m: float) -> list[tuple[float, MultiLineString]]:
    """Draw contour lines.

    Parameters
    ----------
    dem : Dem
        Elevation grid.
    interval_m : float
        Height between lines, metres; lines lie on whole multiples of it.

    Returns
    -------
    list of (float, MultiLineString)
        Level in metres and its lines, lowest first; levels without a line are
        left out.

    Raises
    ------
    InputError
        If the interval is not positive, or would draw more than 5000 levels.
    """
    if not (math.isfinite(interval_m) and interval_m > 0):
        msg = f"contour interval is {interval_m:g} m; give a height above 0"
        raise InputError(msg)
    rows, cols = dem.shape
    if rows < 2 or cols < 2 or not np.isfinite(dem.z).any():
        return []
    low, high = float(np.nanmin(dem.z)), float(np.nanmax(dem.z))
    first, last = math.ceil(low / interval_m), math.floor(high / interval_m)
    if last - first >= MOST_CONTOURS:
        msg = (
            f"a contour interval of {interval_m:g} m draws {last - first + 1} levels between "
            f"{low:.0f} and {high:.0f} m; give a wider one"
        )
        raise InputError(msg)
    x, y = dem.centres()
    generator = contourpy.contour_generator(
        x, y, np.ma.masked_invalid(dem.z.astype(np.float64)), line_type=contourpy.LineType.Separate
    )
    drawn: list[tuple[float, MultiLineString]] = []
    for number in range(first, last + 1):
        level = number * interval_m
        parts = cast("list[Floats]", generator.lines(level))
        # Two equal points are left where a line only touches a cell corner.
        lines = [LineString(p) for p in parts if np.ptp(p, axis=0).max() > 0]
        if lines:
            drawn.append((level, MultiLineString(lines)))
    return drawn


def grade_at(
    terrain: Terrain,
    x: ArrayLike,
    y: ArrayLike,
    heading_rad: ArrayLike,
    baseline_m: float = BASELINE_M,
) -> Floats:
    """Give the trail grade on a straight baseline centred on each point.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    x, y, heading_rad : array_like of float, shapes that broadcast
        Grid coordinates, metres, and direction *away from the landing*
        (the stored line's), counter-clockwise from grid east.
    baseline_m : float, optional
        Length of the baseline, metres.

    Returns
    -------
    ndarray of float, broadcast shape
        Grade in the loaded direction, percent: ground rising along the heading
        is favourable, negative. NaN where an end leaves the known ground.
    """
    x, y, heading = (np.asarray(a, dtype=float) for a in (x, y, heading_rad))
    dx, dy = 0.5 * baseline_m * np.cos(heading), 0.5 * baseline_m * np.sin(heading)
    ahead, behind = bilinear(terrain.dem, x + dx, y + dy), bilinear(terrain.dem, x - dx, y - dy)
    return np.asarray(-100.0 * (ahead - behind) / baseline_m)


def tilt_at(
    terrain: Terrain, x: ArrayLike, y: ArrayLike, heading_rad: ArrayLike, width_m: float
) -> Floats:
    """Give the signed cross slope over a trail's width, from the smoothed ground.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    x, y, heading_rad : array_like of float, shapes that broadcast
        Grid coordinates, metres, and heading, counter-clockwise from grid east.
    width_m : float
        Trail width, metres; two cells are used where that is more.

    Returns
    -------
    ndarray of float, broadcast shape
        Percent, + where the left side is the higher; NaN off the known ground.
    """
    x, y, heading = (np.asarray(a, dtype=float) for a in (x, y, heading_rad))
    across = max(width_m, 2.0 * terrain.smooth.cell_m)
    dx, dy = -0.5 * across * np.sin(heading), 0.5 * across * np.cos(heading)
    sides = bilinear(terrain.smooth, np.stack([x + dx, x - dx]), np.stack([y + dy, y - dy]))
    return np.asarray(100.0 * (sides[0] - sides[1]) / across)


def cross_at(
    terrain: Terrain, x: ArrayLike, y: ArrayLike, heading_rad: ArrayLike, width_m: float
) -> Floats:
    """Give the unsigned cross slope over a trail's width; see `tilt_at`.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    x, y, heading_rad : array_like of float, shapes that broadcast
        Grid coordinates, metres, and heading, counter-clockwise from grid east.
    width_m : float
        Trail width, metres; two cells are used where that is more.

    Returns
    -------
    ndarray of float, broadcast shape
        Percent, never negative; NaN off the known ground.
    """
    return np.asarray(np.abs(tilt_at(terrain, x, y, heading_rad, width_m)))


def station_table(
    terrain: Terrain, line: LineString, width_m: float, step_m: float = 1.0
) -> Stations:
    """Read a trail line station by station.

    Parameters
    ----------
    terrain : Terrain
        The ground.
    line : LineString
        Centre line, landing end first, grid coordinates in metres.
    width_m : float
        Trail width, metres.
    step_m : float, optional
        Distance between stations, metres; the line's end is always a station.

    Returns
    -------
    Stations
        Grades use a 10 m baseline along the line, moved to stay on it near the
        ends; a line under 10 m uses its whole length. Values are NaN where the
        line leaves the known ground.

    Raises
    ------
    InputError
        If the line has no length, or the step is not positive.
    """
    points = np.asarray(line.coords, dtype=float)[:, :2]
    run = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    length = float(run[-1])
    if length <= 0 or not math.isfinite(length):
        msg = "a trail line has no length; give at least two different points"
        raise InputError(msg)
    if not step_m > 0:
        msg = f"station step is {step_m:g} m; give a distance above 0"
        raise InputError(msg)
    at: Floats = np.arange(math.floor(length / step_m) + 1, dtype=np.float64) * np.float64(step_m)
    # A last stub of a millimetre would be the same place twice.
    at = at[at < length - 1e-3 * min(step_m, length)]
    at = np.append(at, length)

    def place(s: Floats) -> tuple[Floats, Floats]:
        return np.interp(s, run, points[:, 0]), np.interp(s, run, points[:, 1])

    def ends(span: float) -> tuple[Floats, Floats]:
        start = np.clip(at - 0.5 * span, 0.0, length - span)
        return start, start + span

    x, y = place(at)
    baseline = min(BASELINE_M, length)
    near, far = ends(baseline)
    # one reading of the grid for all three: a line is short, and each call costs as much
    spots = np.concatenate([place(near), place(far), (x, y)], axis=1)
    z_near, z_far, z = bilinear(terrain.dem, *spots).reshape(3, -1)
    # The heading is taken over one step, so a kink in a drawn line is shared out.
    near, far = ends(min(step_m, length))
    (x0, y0), (x1, y1) = place(near), place(far)
    heading = np.arctan2(y1 - y0, x1 - x0)
    tilt = tilt_at(terrain, x, y, heading, width_m)
    return Stations(
        at_m=at,
        x=x,
        y=y,
        heading_rad=heading,
        z=z.copy(),
        grade_pct=-100.0 * (z_far - z_near) / baseline,
        cross_pct=np.abs(tilt),
        tilt_left=tilt,
    )
