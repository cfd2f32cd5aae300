"""The made-up hillside of the sample area: elevations of a woodlot that is nowhere.

A long slope with benches and scarps, a brook cut into its foot, a draw, a ridge,
a hollow, a hayfield terrace and an old benched road. All coordinates here are
local metres; the grid's lower left corner is (0, SOUTH_M).
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import CubicSpline
from scipy.ndimage import gaussian_filter, gaussian_filter1d
from scipy.spatial import KDTree
from shapely.geometry import LineString, Polygon

Floats = NDArray[np.float64]
Points = list[tuple[float, float]]

COLS, ROWS, SOUTH_M = 700, 540, -30.0
SEED = 7


@dataclass(frozen=True)
class Landform:
    """Elevations with the local coordinates of their cell centres, each (rows, cols)."""

    x: Floats
    y: Floats
    z: Floats

    def at(self, x: ArrayLike, y: ArrayLike, sigma_m: float = 0.0) -> Floats:
        """Read the nearest cell, from a smoothed copy where a sigma is given."""
        z = gaussian_filter(self.z, sigma_m) if sigma_m > 0 else self.z
        cell = float(self.x[0, 1] - self.x[0, 0])
        col = np.round((np.asarray(x) - self.x[0, 0]) / cell).astype(int)
        row = np.round((self.y[0, 0] - np.asarray(y)) / cell).astype(int)
        return np.asarray(
            z[np.clip(row, 0, z.shape[0] - 1), np.clip(col, 0, z.shape[1] - 1)], dtype=float
        )

    def with_z(self, z: Floats) -> "Landform":
        """Give the same places at other elevations."""
        return Landform(self.x, self.y, z)

    def slope_pct(self, sigma_m: float = 1.0) -> Floats:
        """Give the slope of lightly smoothed ground, percent."""
        cell = float(self.x[0, 1] - self.x[0, 0])
        north, east = np.gradient(gaussian_filter(self.z, sigma_m / cell), cell)
        return np.asarray(100.0 * np.hypot(north, east))


def fair_line(points: Points, step_m: float = 2.0) -> Floats:
    """Draw one smooth curve through control points, as vertices about a step apart."""
    knots = np.asarray(points, dtype=float)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(knots, axis=0).T))])
    at = np.linspace(0.0, along[-1], int(along[-1] // step_m) + 2)
    return np.asarray(CubicSpline(along, knots)(at))


def field(
    rng: np.random.Generator,
    shape: tuple[int, int],
    shortest: float,
    longest: float,
    steepness: float = 3.0,
) -> Floats:
    """Draw a random surface of unit spread holding wavelengths between two bounds, in cells."""
    rows, cols = shape[0] * 2, shape[1] * 2  # twice as large, so that no edge meets its opposite
    freq = np.hypot(np.fft.fftfreq(rows)[:, None], np.fft.rfftfreq(cols)[None, :])
    freq[0, 0] = 1e-9
    band = _rise(np.log(freq * longest) / 0.12) * _rise(-np.log(freq * shortest) / 0.12)
    band[0, 0] = 0.0
    white = np.fft.rfft2(rng.standard_normal((rows, cols)))
    out = np.fft.irfft2(white * band * freq ** (-steepness / 2), s=(rows, cols))
    out = out[: shape[0], : shape[1]]
    return np.asarray((out - out.mean()) / out.std())


def _rise(u: ArrayLike) -> Floats:
    """Go smoothly from 0 to 1."""
    return np.asarray(1.0 / (1.0 + np.exp(-np.clip(u, -50.0, 50.0))))


def _soft(u: ArrayLike, k: float) -> Floats:
    """Give the larger of 0 and u, with the corner rounded over about k."""
    return np.asarray(k * np.log1p(np.exp(np.clip(np.asarray(u) / k, -50.0, 50.0))))


def _step(u: Floats, height_m: float, width_m: float, span_m: float) -> Floats:
    """Steepen the slope at u = 0 and flatten it around, leaving it as it was beyond."""
    ramp = (_soft(u + span_m / 2, span_m / 12) - _soft(u - span_m / 2, span_m / 12)) / span_m
    return np.asarray(height_m * (_rise(u / width_m) - ramp))


def bed_profile(land: Landform, line: Floats, drop: ArrayLike, least_fall: float) -> Floats:
    """Give bed elevations below the ground along a line that never rises downstream."""
    bed = np.minimum.accumulate(land.at(line[:, 0], line[:, 1], 4.0) - drop)
    bed = gaussian_filter1d(bed, 12, mode="nearest")
    fall = least_fall * np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    return np.asarray(np.minimum.accumulate(bed + fall) - fall)


def _nearest(land: Landform, line: Floats) -> tuple[Floats, NDArray[np.intp]]:
    distance, index = KDTree(line).query(np.column_stack([land.x.ravel(), land.y.ravel()]))
    return distance.reshape(land.x.shape), index.reshape(land.x.shape)


def carve(
    land: Landform, line: Floats, bed: Floats, half_bed_m: float, bank: float, reach_m: float
) -> Landform:
    """Cut a valley whose walls rise from its bed at one slope, rounded where they meet ground."""
    distance, index = _nearest(land, line)
    wall = gaussian_filter(bed[index], 2) + bank * np.clip(distance - half_bed_m, 0.0, None)
    cut = land.z - _soft(land.z - wall, 0.9)
    share = _rise((reach_m - distance) / 3.0)
    return land.with_z(land.z * (1 - share) + cut * share)


def bench(land: Landform, line: Floats, half_width_m: float) -> Landform:
    """Cut and fill a level road bed along a line, as old hauling roads were."""
    distance, index = _nearest(land, line)
    bed = gaussian_filter1d(land.at(line[:, 0], line[:, 1], 2.0), 8, mode="nearest")
    share = _rise((half_width_m + 0.6 - distance) / 0.35)
    return land.with_z(land.z * (1 - share) + gaussian_filter(bed[index], 1.5) * share)


def ease_along(land: Landform, line: Floats, sigma_m: float, reach_m: float) -> Landform:
    """Take the humps out of the ground along a line, fading with distance from it."""
    distance, index = _nearest(land, line)
    raw = land.at(line[:, 0], line[:, 1], 3.0)
    step = float(np.hypot(*(line[1] - line[0])))
    even = gaussian_filter1d(_prolonged(raw), sigma_m / step)[len(raw) : -len(raw)]
    change = gaussian_filter((even - raw)[index], 6)
    return land.with_z(land.z + change * np.exp(-0.5 * (distance / reach_m) ** 2))


def _prolonged(values: Floats) -> Floats:
    """Continue a profile by its own mirror images through both ends."""
    before, after = 2 * values[0] - values[:0:-1], 2 * values[-1] - values[-2::-1]
    return np.concatenate([[before[0]], before, values, after, [after[-1]]])


def level(land: Landform, x: float, y: float, radius_m: float, slope: float = 0.055) -> Landform:
    """Ease a patch of ground to a small tilt in its own direction."""
    distance = np.hypot(land.x - x, land.y - y)
    near = distance <= radius_m * 1.3
    design = np.column_stack([np.ones(near.sum()), land.x[near] - x, land.y[near] - y])
    height, east, north = np.linalg.lstsq(design, land.z[near], rcond=None)[0]
    shrink = min(1.0, slope / float(np.hypot(east, north)))
    plane = height + shrink * (east * (land.x - x) + north * (land.y - y))
    share = _rise((radius_m - distance) / (radius_m * 0.16))
    kept = 0.2 * (land.z - gaussian_filter(land.z, 3))
    return land.with_z(land.z * (1 - share) + (plane + kept) * share)


def hillside(brook: Floats, hayfield: Polygon) -> Landform:
    """Build the long slope, its benches and scarps, the ridge and the hayfield terrace."""
    rng = np.random.default_rng(SEED)
    shape = (ROWS, COLS)
    x = np.tile(np.arange(COLS) + 0.5, (ROWS, 1))
    y = np.tile((ROWS + SOUTH_M - np.arange(ROWS) - 0.5)[:, None], (1, COLS))
    broad = field(rng, shape, 130, 480)
    rolling = field(rng, shape, 40, 130)
    small = field(rng, shape, 14, 40)
    micro = field(rng, shape, 5, 14, steepness=2.0)
    sway = field(rng, shape, 60, 220)
    fade = field(rng, shape, 70, 260)

    foot = gaussian_filter1d(np.interp(x[0], brook[::-1, 0], brook[::-1, 1]), 25)[None, :]
    up = y - foot
    # Contours wander: s is how far up the slope a place is.
    s = y - 24 * np.sin((x - 70) / 150) - 9 * np.sin(x / 57 + 1) * _rise((x - 130) / 20)
    s = s + 7 * broad
    z = 300 + 0.030 * x + 0.088 * _soft(s - 150, 25)
    z = z + 14.0 * (1 - np.exp(-_soft(up, 6) / 37)) + 0.025 * _soft(up, 8)
    z = z + 0.14 * _soft(-up - 6, 10)

    def strength(*points: tuple[float, float]) -> Floats:
        at, value = zip(*points, strict=True)
        return np.clip(gaussian_filter(np.interp(x, at, value), 14) * (1 + 0.22 * fade), 0, 1.35)

    gaps_low = strength(
        (0, 0.3), (120, 0.5), (170, 1), (240, 0.95), (300, 0.12), (375, 0.1),
        (430, 0.85), (520, 1), (600, 0.8), (700, 0.5),
    )  # fmt: skip
    gaps_scarp = strength(
        (0, 0.2), (110, 0.5), (160, 1), (300, 1.05), (350, 0.5), (395, 0.08),
        (480, 0.05), (550, 0.1), (640, 0.7), (700, 0.6),
    )  # fmt: skip
    gaps_high = strength(
        (0, 0.9), (90, 0.7), (190, 0.1), (300, 0.1), (390, 0.6), (520, 0.8), (700, 0.2)
    )
    z = z + gaps_low * _step(s - 244 - 8 * sway, 12.5, 9.5, 108)
    z = z + gaps_scarp * _step(s - 318 - 8 * sway, 15.0, 8.0, 112)
    z = z + gaps_high * _step(s - 392 + 6 * sway, 15.0, 9.0, 104)

    ridge = LineString(fair_line([(430, 455), (505, 412), (580, 388), (720, 372)]))
    off = shapely.distance(ridge, shapely.points(x, y))
    z = z + 6 * _rise((x - 520) / 45) * np.exp(-((off / 60) ** 2))
    z = z - 0.17 * _rise((x - 470) / 40) * _soft(y - 432, 10)

    terrace = gaussian_filter(shapely.contains_xy(hayfield.buffer(6), x, y).astype(float), 9)
    calm = gaussian_filter(z, 14)
    z = z + (0.6 * rolling + 0.10 * small + 0.022 * micro) * (1 - terrace)
    centre = hayfield.centroid
    base = float(Landform(x, y, calm).at(centre.x, centre.y))
    plane = base + 0.020 * (x - centre.x) + 0.030 * (y - centre.y)
    mown = plane + 0.12 * rolling + 0.02 * small + 0.006 * micro
    return Landform(x, y, z * (1 - terrace) + mown * terrace)
