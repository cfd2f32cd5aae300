"""How a tractor stands on a slope: tipping sideways, and the weight left on its front axle.

A first phase of tipping, the conservative one: the front axle swings on its pivot, so the
tractor turns over the line from a rear tyre's outer edge to that pivot until the axle meets
its stop. With the rear axle ``L`` behind the pivot of height ``p``, the centre of gravity
``x`` ahead of the rear axle and ``h`` high, tyre edges ``T`` apart and the nose ``G`` down
(rise over run), it begins on the cross slope::

    tan(beta) = (T/2) (L - x - G (h - p)) / (L h - p x)

On the level lengthwise that is ``(T/2) (1 - x/L) / (h - p x/L)``; as one rigid body
``T / (2 h)``. These are upper bounds (Spencer and Gilfillan 1976): what is kept to is the
lesser of the static angle less a margin and of a share of it, and a wheel raised by
``wheel_bump`` takes ``asin(bump / T)`` off that. Nothing here promises that a tractor
stands: speed, soft ground, turning and a swinging load are not in it.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.settings.tractor_table import TractorTable

Floats = NDArray[np.float64]


def rigid_tip_deg(track_m: float, cg_height_m: float) -> float:
    """Give the side slope at which a rigid tractor stands on the point of tipping.

    Parameters
    ----------
    track_m, cg_height_m : float
        Between tyre contact centres, and height of the centre of gravity, metres.

    Returns
    -------
    float
        Degrees.

    Examples
    --------
    >>> round(rigid_tip_deg(1.5, 0.85), 1)
    41.4
    """
    return math.degrees(math.atan2(track_m / 2, cg_height_m))


def first_phase_tip_deg(tractor: TractorTable, grade_pct: ArrayLike = 0.0) -> Floats:
    """Give the side slope at which the tractor begins to tip, its front axle free.

    Parameters
    ----------
    tractor : TractorTable
        Dimensions and front axle's share.
    grade_pct : array_like of float, any shape, optional
        Grade lengthwise, percent, its size: the nose is taken to point down, which brings
        the weight to where the three points of support are narrow. No load is counted.

    Returns
    -------
    ndarray of float, same shape
        Degrees, 0 at least.
    """
    grade = np.abs(np.asarray(grade_pct, dtype=float)) / 100
    base, height, pivot = tractor.wheelbase_m, tractor.cg_height_m, tractor.pivot_height_m
    ahead = tractor.front_share_pct / 100 * base
    holds = base - ahead - grade * max(height - pivot, 0.0)
    angle = np.degrees(np.arctan2(tractor.track_m / 2 * holds, base * height - pivot * ahead))
    return np.asarray(np.maximum(angle, 0.0), dtype=np.float64)


def allowed_deg(tractor: TractorTable, grade_pct: ArrayLike = 0.0) -> Floats:
    """Give the sideways tilt kept to: the lesser of the static angle less a margin and a share.

    Parameters
    ----------
    tractor : TractorTable
        Dimensions, ``tip_margin`` and ``tip_share``.
    grade_pct : array_like of float, any shape, optional
        Grade lengthwise, percent.

    Returns
    -------
    ndarray of float, same shape
        Degrees, 0 at least.
    """
    rigid = rigid_tip_deg(tractor.track_m, tractor.cg_height_m)
    static = np.minimum(first_phase_tip_deg(tractor, grade_pct), rigid)
    kept = np.minimum(static - tractor.tip_margin_deg, static * tractor.tip_share)
    return np.asarray(np.maximum(kept, 0.0), dtype=np.float64)


def bump_deg(tractor: TractorTable) -> float:
    """Give the tilt of one wheel raised by ``wheel_bump``, degrees."""
    return math.degrees(math.asin(min(tractor.wheel_bump_m / tractor.track_m, 1.0)))


def tip_margin_deg(
    tractor: TractorTable, cross_pct: ArrayLike, grade_pct: ArrayLike = 0.0
) -> Floats:
    """Give what is left of the tilt kept to, the uphill wheel on a bump.

    Parameters
    ----------
    tractor : TractorTable
        The machine.
    cross_pct : array_like of float
        Cross slope, percent, unsigned; NaN gives NaN.
    grade_pct : array_like of float, optional
        Grade lengthwise, percent; shapes broadcast.

    Returns
    -------
    ndarray of float, broadcast shape
        Degrees; negative where more tilt than that is to be met.
    """
    cross = np.degrees(np.arctan(np.abs(np.asarray(cross_pct, dtype=float)) / 100))
    return np.asarray(allowed_deg(tractor, grade_pct) - bump_deg(tractor) - cross)


def front_share_pct(
    tractor: TractorTable, grade_pct: ArrayLike, load_kg: ArrayLike = 0.0
) -> Floats:
    """Give what stands on the front axle, percent of the whole unladen mass.

    The force square to the ground, over the weight of tractor, winch and ballast: the same
    share that ``front_share`` is on the level without a load, and that ``front_min`` bounds.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day; the high end of skid friction counts.
    grade_pct : array_like of float
        Grade in the direction the nose points, percent, + nose up; NaN gives NaN.
    load_kg : array_like of float, optional
        Load dragged behind, kilograms; shapes broadcast.

    Returns
    -------
    ndarray of float, broadcast shape
        Percent; negative where the nose would rise off the ground.
    """
    grade = np.asarray(grade_pct, dtype=float) / 100
    cos = 1 / np.sqrt(1 + grade**2)
    sin, lifted = grade * cos, tractor.lifted_share
    base = tractor.wheelbase_m
    ahead = tractor.front_share_pct / 100 * base
    back = (sin + tractor.skid_friction[1] * (1 - lifted) * cos) * tractor.hitch_height_m
    back += lifted * tractor.load_behind_axle_m * cos
    share = np.asarray(load_kg, dtype=float) / tractor.mass_kg
    front = ahead * cos - tractor.cg_height_m * sin - share * back
    return np.asarray(100 * front / base, dtype=np.float64)


def least_front_share_pct(
    tractor: TractorTable, grade_pct: ArrayLike, load_kg: ArrayLike
) -> Floats:
    """Give the least share on the front axle over the two ways of a load.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    grade_pct : array_like of float
        Grade in the loaded direction, percent, + uphill. Going out empty the tractor meets
        it the other way round, and is taken to drive nose first.
    load_kg : array_like of float
        Largest load there, kilograms; shapes broadcast.

    Returns
    -------
    ndarray of float, broadcast shape
        Percent of the whole unladen mass.
    """
    grade = np.asarray(grade_pct, dtype=float)
    empty, loaded = front_share_pct(tractor, -grade), front_share_pct(tractor, grade, load_kg)
    return np.asarray(np.minimum(empty, loaded))
