"""Chance that a tree stands farther off, or farther to the side, than its dot says.

A tree's dot is off by a plane Gaussian error, alike in every direction: with the
stated DRMS (root of the mean square distance between dot and tree) its standard
deviation along any one direction is DRMS / sqrt(2). From that alone:

- beyond a straight line: the normal distribution, closed;
- beyond a circle: the Rice distribution, that is the non-central chi-square with
  two degrees of freedom (Rice 1945; Marcum 1960), closed;
- outside a sector, or any shape seen whole from the winch: closed along each ray
  from the winch, and Gauss-Legendre over the rays.

Real receivers err farther, more often, than a Gaussian does: what comes out here
is the least the chance can be, and has to be said so wherever it is printed.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import optimize, special, stats

from layout.records import Sureness

Floats = NDArray[np.float64]

# With one error and a straight edge 1.2 and 0.6 times the DRMS leave 4.5 and 19.8 %.
SURE_CHANCE, DOUBTFUL_CHANCE = 0.05, 0.20
TOLD_CHANCE = 0.10  # from here on a crew is told
RAYS = 64
FAR = 6.5  # standard deviations beyond which there is nothing to add up


def sigma_m(drms_m: ArrayLike) -> Floats:
    """Give the standard deviation along one direction.

    Parameters
    ----------
    drms_m : array_like of float
        Root of the mean square distance between dot and tree, metres.

    Returns
    -------
    ndarray of float
        Metres: DRMS^2 = 2 sigma^2.
    """
    return np.asarray(np.asarray(drms_m, dtype=float) / math.sqrt(2.0))


def sureness(chance: float) -> Sureness:
    """Give the word for a chance of not reaching.

    Examples
    --------
    >>> sureness(0.05), sureness(0.2), sureness(0.21)
    ('sure', 'tight', 'doubtful')
    """
    if chance <= SURE_CHANCE + 1e-12:
        return "sure"
    return "tight" if chance <= DOUBTFUL_CHANCE + 1e-12 else "doubtful"


def beyond_line(margin_m: ArrayLike, drms_m: ArrayLike) -> Floats:
    """Give the chance that a tree stands beyond a straight line.

    Parameters
    ----------
    margin_m : array_like of float
        From the dot to the line, metres; negative where the dot is beyond it.
    drms_m : array_like of float
        Position error, metres.

    Returns
    -------
    ndarray of float
        0 to 1; with no error 1 only where the dot itself is beyond.
    """
    margin, sigma = np.broadcast_arrays(np.asarray(margin_m, dtype=float), sigma_m(drms_m))
    exact = np.where(margin < 0, 1.0, 0.0)
    return np.where(sigma > 0, special.ndtr(-margin / np.where(sigma > 0, sigma, 1.0)), exact)


def beyond_circle(distance_m: ArrayLike, radius_m: ArrayLike, drms_m: ArrayLike) -> Floats:
    """Give the chance that a tree stands outside a circle about the winch.

    Parameters
    ----------
    distance_m : array_like of float
        From the centre to the dot, metres.
    radius_m : array_like of float
        Radius, metres.
    drms_m : array_like of float
        Position error, metres; of both ends together where both are uncertain.

    Returns
    -------
    ndarray of float
        0 to 1.

    Notes
    -----
    Rice (1945), Mathematical analysis of random noise, Bell System Technical Journal
    24(1); the same as Marcum's Q function of order one.
    """
    away, radius, sigma = np.broadcast_arrays(
        np.asarray(distance_m, dtype=float), np.asarray(radius_m, dtype=float), sigma_m(drms_m)
    )
    one = np.where(sigma > 0, sigma, 1.0)
    known = stats.ncx2.sf((radius / one) ** 2, 2, np.maximum((away / one) ** 2, 1e-300))
    return np.where(sigma > 0, known, np.where(away > radius, 1.0, 0.0))


def margin_for(chance: float, radius_m: float, drms_m: float) -> float:
    """Give how far inside a circle a dot must be for a chance of standing outside it.

    Parameters
    ----------
    chance : float
        Chance allowed, 0 to 1.
    radius_m, drms_m : float
        Radius and position error, metres.

    Returns
    -------
    float
        Metres; the whole radius where even a dot at the centre is not sure enough.
    """
    if not drms_m > 0:
        return 0.0
    if float(beyond_circle(0.0, radius_m, drms_m)) > chance:
        return radius_m
    low = max(0.0, radius_m - FAR * drms_m)
    far = radius_m + FAR * drms_m
    at = optimize.brentq(lambda d: float(beyond_circle(d, radius_m, drms_m)) - chance, low, far)
    return float(radius_m - at)


def rays(
    distance_m: ArrayLike, left_rad: ArrayLike, right_rad: ArrayLike, drms_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Lay rays from the winch over the part of a sector where the tree may stand.

    Parameters
    ----------
    distance_m : array_like of float, shape (n,)
        From the winch to the dots, metres.
    left_rad, right_rad : array_like of float, shape (n,)
        From the dot's bearing to the sector's edges, radians, + where the dot lies
        inside of that edge; pi each is the full circle.
    drms_m : array_like of float, shape (n,)
        Position error, metres, above 0.

    Returns
    -------
    angle_rad, weight : ndarray of float, shape (n, 64)
        Angles off the dot's bearing, + to the left, and Gauss-Legendre weights.
    """
    away, left, right, sigma = np.broadcast_arrays(
        np.atleast_1d(np.asarray(distance_m, dtype=float)),
        np.asarray(left_rad, dtype=float),
        np.asarray(right_rad, dtype=float),
        sigma_m(drms_m),
    )
    # Behind a narrow cone about the dot nothing is left to add up.
    near = FAR * sigma
    wide = np.where(away > near, np.arcsin(near / np.maximum(away, near)), math.pi)
    low, high = np.clip(-right, -wide, wide), np.clip(left, -wide, wide)
    high = np.maximum(high, low)
    node, weight = np.polynomial.legendre.leggauss(RAYS)
    half = 0.5 * (high - low)[:, None]
    return 0.5 * (high + low)[:, None] + half * node, half * weight


def inside_rays(
    distance_m: ArrayLike, angle_rad: Floats, radius_m: ArrayLike, drms_m: ArrayLike
) -> Floats:
    """Give the chance per radian that a tree stands on a ray, within a radius.

    Parameters
    ----------
    distance_m, drms_m : array_like of float, shape (n,)
        From the winch to the dots, and position error, metres.
    angle_rad : ndarray of float, shape (n, k)
        Rays, off the dot's bearing.
    radius_m : array_like of float, broadcast to (n, k)
        How far the ray counts, metres; may be infinite.

    Returns
    -------
    ndarray of float, shape (n, k)
        The plane Gaussian, added up along the ray in closed form.
    """
    away = np.atleast_1d(np.asarray(distance_m, dtype=float))[:, None]
    sigma = np.atleast_1d(sigma_m(drms_m))[:, None]
    along, across = away * np.cos(angle_rad) / sigma, away * np.sin(angle_rad) / sigma
    end = np.broadcast_to(np.maximum(radius_m, 0.0), angle_rad.shape) / sigma
    bell = np.exp(-0.5 * along**2) - np.exp(-0.5 * (end - along) ** 2)
    body = along * math.sqrt(2 * math.pi) * (special.ndtr(end - along) - special.ndtr(-along))
    return np.asarray(np.exp(-0.5 * across**2) * (bell + body) / (2 * math.pi))


def outside_sector(
    distance_m: ArrayLike,
    radius_m: ArrayLike | Callable[[Floats], Floats],
    left_rad: ArrayLike,
    right_rad: ArrayLike,
    drms_m: ArrayLike,
) -> Floats:
    """Give the chance that a tree stands outside a sector about the winch.

    Parameters
    ----------
    distance_m : array_like of float, shape (n,) or scalar
        From the winch to the dots, metres.
    radius_m : array_like of float, or callable
        The sector's radius, metres; infinite for a wedge. Called with the rays' angles
        off the dot's bearing, shape (n, 64), where it is another for every direction.
    left_rad, right_rad : array_like of float
        From the dot's bearing to the edges, radians, + where the dot is inside.
    drms_m : array_like of float
        Position error, metres.

    Returns
    -------
    ndarray of float, shape (n,)
        0 to 1.

    Notes
    -----
    A sector is seen whole from its apex, so along every ray the plane Gaussian is added
    up in closed form; 64 Gauss-Legendre rays leave under 1e-6.
    """
    away, left, right, drms = np.broadcast_arrays(
        np.atleast_1d(np.asarray(distance_m, dtype=float)),
        np.asarray(left_rad, dtype=float),
        np.asarray(right_rad, dtype=float),
        np.asarray(drms_m, dtype=float),
    )
    some = np.where(drms > 0, drms, 1e-6)  # no error: a micrometre decides by the dot alone
    angle, weight = rays(away, left, right, some)
    if callable(radius_m):
        radius = radius_m(angle)
    else:
        radius = np.broadcast_to(np.asarray(radius_m, dtype=float), away.shape)[:, None]
    inside = (inside_rays(away, angle, radius, some) * weight).sum(axis=1)
    return np.asarray(np.clip(1.0 - inside, 0.0, 1.0))


def spread(count: int) -> Floats:
    """Lay points that stand for a plane Gaussian error, all of the same weight.

    Parameters
    ----------
    count : int
        How many.

    Returns
    -------
    ndarray of float, shape (count, 2)
        Offsets in units of the standard deviation along one direction. Rings hold equal
        chance and turn by the golden angle, so nothing is drawn and no seed is needed.

    Notes
    -----
    Vogel (1979), A better way to construct the sunflower head, Mathematical Biosciences 44.
    """
    k = np.arange(count)
    radius = np.sqrt(-2.0 * np.log1p(-(k + 0.5) / count))
    turn = k * (math.pi * (3.0 - math.sqrt(5.0)))
    return np.column_stack([radius * np.cos(turn), radius * np.sin(turn)])
