"""Turning places: where the outfit can turn round, and how far it backs from there.

The tractor comes to every position rear first. From a turning place it drives
nose to the landing to where its way leaves the common part of the trail, and
backs from there on; a place beyond the position needs no backing at all.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from layout.grid import bilinear
from layout.terrain import Terrain

Floats = NDArray[np.float64]

PAD_SLOPE_PCT = 10.0  # level enough to turn on; common practice, no source
PAD_RESERVE_PCT = 0.5  # kept back, since a pad may be measured by other points than these
PAD_SPARE_M = 1.0  # a turn needs the outfit's length and this, all round
RING = 16
STEP_UP_M = 0.6  # a pad has no step in it this far off its own plane


@dataclass(frozen=True, slots=True, eq=False)
class Pads:
    """Level places beside or on a trail, one a row."""

    at_m: Floats
    x: Floats
    y: Floats
    slope_pct: Floats
    radius_m: float

    def shape(self, row: int) -> Polygon:
        """Give the outline of one pad."""
        return shapely.Point(float(self.x[row]), float(self.y[row])).buffer(self.radius_m, 16)


def pad_radius_m(outfit_length_m: float) -> float:
    """Give the radius of a pad the outfit can turn round on, metres.

    A disc as wide as the outfit is long, and a metre more, all round: room for
    a turn in three moves. Ours; no published size was found.
    """
    return outfit_length_m + PAD_SPARE_M


def pads(
    terrain: Terrain,
    opened: BaseGeometry,
    at_m: Floats,
    x: Floats,
    y: Floats,
    radius_m: float,
) -> Pads:
    """Keep the stations where a pad is level and on open ground.

    Parameters
    ----------
    terrain : Terrain
        Elevations.
    opened : shapely geometry
        Ground a machine may stand on.
    at_m, x, y : ndarray of float, shape (n,)
        Stations along a trail, and where they lie.
    radius_m : float
        Radius of the pad, metres.

    Returns
    -------
    Pads
        May be empty.
    """
    slope, rough = disc_slope(terrain, x, y, radius_m)
    room = opened.buffer(-radius_m + 0.05)
    good = (
        (slope <= PAD_SLOPE_PCT - PAD_RESERVE_PCT)
        & (rough <= STEP_UP_M)
        & np.asarray(shapely.contains_xy(room, x, y))
    )
    return Pads(at_m[good], x[good], y[good], slope[good], radius_m)


def disc_slope(terrain: Terrain, x: Floats, y: Floats, radius_m: float) -> tuple[Floats, Floats]:
    """Give the slope of the plane fitted to discs, percent, and the largest miss, metres."""
    angle = np.arange(RING) * 2 * math.pi / RING
    dx = np.concatenate([[0.0], 0.5 * radius_m * np.cos(angle), radius_m * np.cos(angle)])
    dy = np.concatenate([[0.0], 0.5 * radius_m * np.sin(angle), radius_m * np.sin(angle)])
    z = bilinear(terrain.dem, x[:, None] + dx, y[:, None] + dy)
    # the points are placed evenly round the centre, so the fit falls apart into three sums
    gx, gy = (z @ dx) / (dx @ dx), (z @ dy) / (dy @ dy)
    mean = z.mean(axis=1, keepdims=True)
    miss = np.abs(z - mean - gx[:, None] * dx - gy[:, None] * dy).max(axis=1)
    slope = 100 * np.hypot(gx, gy)
    return np.where(np.isfinite(slope), slope, np.inf), np.where(np.isfinite(miss), miss, np.inf)


@dataclass(frozen=True, slots=True)
class Way:
    """The way from the landing to a place: on each trail, how far it follows it.

    ``legs[0]`` is on the main trail; each leg is (trail number, metres along it).
    """

    legs: tuple[tuple[int, float], ...]


def backing_m(position: Way, place: Way) -> float:
    """Give how far the tractor backs from a turning place to a position, metres.

    Parameters
    ----------
    position, place : Way
        Ways from the landing along the same network of trails.
    """
    common = 0
    for (trail, to), (other, reach) in zip(position.legs, place.legs, strict=False):
        if trail != other:
            break
        if abs(to - reach) > 1e-9 or common + 1 == len(position.legs):
            # the ways part on this trail, or the position lies on it
            rest = max(to - reach, 0.0)
            return rest + sum(leg for _, leg in position.legs[common + 1 :])
        common += 1
    return sum(leg for _, leg in position.legs[common:])
