"""Cubic contents of one log from its diameters, and the cords and tons they make."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError, InputFaults
from layout.sources import CUBIC_FORMULAS
from layout.units import CORD_FT3, CUBIC_FOOT_M3, INCH_M, SHORT_TON_KG

Floats = NDArray[np.float64]

SOURCES = (CUBIC_FORMULAS,)

LARGEST_CM = 150 * 100 * INCH_M
LONGEST_M = 60.0
NOISE = 1e-9
MOST_FAULTS = 20


def _checked(diameters_cm: tuple[ArrayLike, ...], length_m: ArrayLike) -> list[Floats]:
    """Give end areas, square metres, and the length last; refuse what no log can be."""
    *across, length = np.broadcast_arrays(
        *(np.asarray(v, dtype=float) for v in (*diameters_cm, length_m))
    )
    bad_length = (length <= 0) | (length > LONGEST_M)
    bad_end = np.any([(d < 0) | (d > LARGEST_CM) for d in across], axis=0)
    faults = []
    for at in np.flatnonzero(bad_length | bad_end).tolist():
        ends = ", ".join(f"{d.ravel()[at]:g}" for d in across)
        faults.append(
            f"log {at + 1}: {ends} cm across and {length.ravel()[at]:g} m long is no log; give 0 "
            f"to {LARGEST_CM:g} cm and up to {LONGEST_M:g} m"
        )
    if len(faults) > MOST_FAULTS:
        faults = [*faults[:MOST_FAULTS], f"and {len(faults) - MOST_FAULTS} more faults"]
    if faults:
        raise InputFaults(faults)
    return [*(np.asarray(np.pi / 4.0 * (d / 100.0) ** 2) for d in across), length]


def smalian_m3(small_cm: ArrayLike, large_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Give a log's volume from both end areas, ``L (As + Al) / 2``.

    Parameters
    ----------
    small_cm, large_cm, length_m : array_like of float
        Diameters inside bark at both ends, centimetres, and the length, metres.

    Returns
    -------
    ndarray of float
        Cubic metres; NaN where an input is.

    Raises
    ------
    InputFaults
        If a diameter is not 0 to 381 cm (150 in), or a length not above 0 and up to 60 m.
    """
    small, large, length = _checked((small_cm, large_cm), length_m)
    return np.asarray(length * (small + large) / 2.0)


def huber_m3(middle_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Give a log's volume from the area at its middle, ``L Am``.

    Parameters
    ----------
    middle_cm, length_m : array_like of float
        Diameter inside bark half way, centimetres, and the length, metres.

    Returns
    -------
    ndarray of float
        Cubic metres; NaN where an input is.

    Raises
    ------
    InputFaults
        As in `smalian_m3`.
    """
    middle, length = _checked((middle_cm,), length_m)
    return np.asarray(length * middle)


def newton_m3(
    small_cm: ArrayLike, middle_cm: ArrayLike, large_cm: ArrayLike, length_m: ArrayLike
) -> Floats:
    """Give a log's volume from three areas, ``L (As + 4 Am + Al) / 6``.

    Parameters
    ----------
    small_cm, middle_cm, large_cm, length_m : array_like of float
        Diameters inside bark, centimetres, and the length, metres.

    Returns
    -------
    ndarray of float
        Cubic metres; NaN where an input is.

    Raises
    ------
    InputFaults
        As in `smalian_m3`.
    """
    small, middle, large, length = _checked((small_cm, middle_cm, large_cm), length_m)
    return np.asarray(length * (small + 4.0 * middle + large) / 6.0)


def cords(solid_m3: ArrayLike, cord_solid_m3: float) -> Floats:
    """Give stacked cords of 128 cubic feet, wood and air.

    Parameters
    ----------
    solid_m3 : array_like of float
        Solid wood, cubic metres.
    cord_solid_m3 : float
        Solid wood in one stacked cord, cubic metres (``timber.cord_solid``).

    Returns
    -------
    ndarray of float
        Cords.

    Raises
    ------
    InputError
        If a cord is to hold no wood, or more than its 128 cubic feet.

    Examples
    --------
    >>> cords(160 * 0.3048**3, 80 * 0.3048**3).round(6).item()
    2.0
    """
    if not 0.0 < cord_solid_m3 <= CORD_FT3 * CUBIC_FOOT_M3 * (1 + NOISE):
        raise InputError(
            f"a stacked cord cannot hold {cord_solid_m3 / CUBIC_FOOT_M3:g} cubic feet of wood; "
            f"give more than 0 and at most {CORD_FT3}"
        )
    return np.asarray(np.asarray(solid_m3, dtype=float) / cord_solid_m3)


def short_tons(mass_kg: ArrayLike) -> Floats:
    """Give short tons of 2,000 lb.

    Parameters
    ----------
    mass_kg : array_like of float
        Kilograms.

    Returns
    -------
    ndarray of float
        Short tons.
    """
    return np.asarray(np.asarray(mass_kg, dtype=float) / SHORT_TON_KG)
