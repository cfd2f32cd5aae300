"""Board feet of one log by the published log rules.

The formulas stay in the inches and feet they were printed in, so that they can
be read against the page; `board_feet` and `scaled_bf` take metric. A board foot
means nothing without the name of its rule: on a small log the rules differ by half.

The Scribner rule is a table of diagrams; what stands here is the formula fitted
to it. It is not the Decimal C table, which is rounded to tens and differs from
the formula by up to a quarter on small logs.
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError, InputFaults
from layout.sources import (
    DOYLE_RULE,
    INTERNATIONAL_EIGHTH,
    INTERNATIONAL_QUARTER,
    SCRIBNER_FORMULA,
)
from layout.units import FOOT_M

Floats = NDArray[np.float64]
BoardRule = Literal["international-quarter", "scribner", "doyle"]

SOURCES = (INTERNATIONAL_QUARTER, INTERNATIONAL_EIGHTH, DOYLE_RULE, SCRIBNER_FORMULA)
BOARD_RULES: tuple[BoardRule, ...] = ("international-quarter", "scribner", "doyle")

INCH_CM = 2.54
SECTION_FT = 4.0  # the International rule saws a log in sections of this length ...
SECTION_TAPER_IN = 0.5  # ... each half an inch thicker than the one before it
QUARTER_OF_EIGHTH = 0.904762  # the statute's factor from 1/8-inch to 1/4-inch kerf
SCRIBNER_TABLE_IN = (12.0, 44.0)  # what the original table of diagrams covers
SCRIBNER_TABLE_FT = (10.0, 24.0)
LARGEST_IN = 150.0
LONGEST_FT = 60.0
NOISE = 1e-9  # 12 in turned into centimetres and back is still 12 in
MOST_FAULTS = 20


def _checked(
    diameter: ArrayLike, length: ArrayLike, *, inch: float = 1.0, foot: float = 1.0
) -> tuple[Floats, Floats]:
    """Give both in inches and feet; refuse what no log can be, all of it at once."""
    d, long = np.broadcast_arrays(
        np.asarray(diameter, dtype=float) / inch, np.asarray(length, dtype=float) / foot
    )
    faults = []
    for at in np.flatnonzero(((d < 0) | (d > LARGEST_IN)).ravel()):
        faults.append(
            f"log {at + 1}: an end of {d.ravel()[at]:g} in is outside 0 to {LARGEST_IN:g} in"
        )
    for at in np.flatnonzero(((long <= 0) | (long > LONGEST_FT)).ravel()):
        faults.append(
            f"log {at + 1}: a length of {long.ravel()[at]:g} ft is not above 0 and up to "
            f"{LONGEST_FT:g} ft"
        )
    if len(faults) > MOST_FAULTS:
        faults = [*faults[:MOST_FAULTS], f"and {len(faults) - MOST_FAULTS} more faults"]
    if faults:
        raise InputFaults(faults)
    return d, long


def international_eighth_bf(dib_in: ArrayLike, length_ft: ArrayLike) -> Floats:
    """Give board feet by the International rule with a kerf of 1/8 inch.

    ``0.22 d^2 - 0.71 d`` for each section of 4 ft, ``d`` its own small end, half an
    inch thicker from section to section (Clark 1906). What is left over at the large
    end counts by its share of 4 ft; that part is from memory.

    Parameters
    ----------
    dib_in, length_ft : array_like of float
        Diameter inside bark at the small end, inches, and nominal length, feet.

    Returns
    -------
    ndarray of float
        Board feet; NaN where an input is.

    Raises
    ------
    InputFaults
        If a diameter is negative or over 150 in, or a length not above 0 and up to 60 ft.

    Examples
    --------
    >>> international_eighth_bf(10, 16).round(2).item()
    71.44
    """
    d, length = _checked(dib_in, length_ft)
    total = np.zeros(d.shape)
    for section in range(int(np.ceil(LONGEST_FT / SECTION_FT))):
        share = np.clip((length - SECTION_FT * section) / SECTION_FT, 0.0, 1.0)
        end = d + SECTION_TAPER_IN * section
        total += share * np.maximum(0.22 * end**2 - 0.71 * end, 0.0)
    return np.asarray(np.where(np.isnan(d) | np.isnan(length), np.nan, total))


def international_quarter_bf(dib_in: ArrayLike, length_ft: ArrayLike) -> Floats:
    """Give board feet by the International rule with a kerf of 1/4 inch.

    The 1/8-inch rule times 0.904762, as Michigan Compiled Laws 290.401 (Act 208 of
    1941) and Massachusetts General Laws chapter 96 section 11A say. Not rounded;
    `scaled_bf` rounds to 5 as printed tables do.

    Parameters
    ----------
    dib_in, length_ft : array_like of float
        As in `international_eighth_bf`.

    Returns
    -------
    ndarray of float
        Board feet; NaN where an input is.

    Raises
    ------
    InputFaults
        As in `international_eighth_bf`.

    Examples
    --------
    >>> international_quarter_bf(16, 16).round(1).item()
    180.6
    """
    return np.asarray(QUARTER_OF_EIGHTH * international_eighth_bf(dib_in, length_ft))


def doyle_bf(dib_in: ArrayLike, length_ft: ArrayLike) -> Floats:
    """Give board feet by the Doyle rule, ``((D - 4) / 4)^2 L``; none at 4 inches and below.

    Parameters
    ----------
    dib_in, length_ft : array_like of float
        As in `international_eighth_bf`.

    Returns
    -------
    ndarray of float
        Board feet; NaN where an input is.

    Raises
    ------
    InputFaults
        As in `international_eighth_bf`.

    Examples
    --------
    >>> doyle_bf([4, 10, 20], 16).tolist()
    [0.0, 36.0, 256.0]
    """
    d, length = _checked(dib_in, length_ft)
    return np.asarray((np.maximum(d - 4.0, 0.0) / 4.0) ** 2 * length)


def scribner_bf(dib_in: ArrayLike, length_ft: ArrayLike) -> Floats:
    """Give board feet by the Scribner formula, ``(0.79 D^2 - 2 D - 4) L / 16``.

    Fitted by Bruce & Schumacher (1950) to the table of diagrams, which covers 12 to
    44 in and 10 to 24 ft: `beyond_scribner_table` tells where the formula goes on
    alone. Below about 3.9 in it gives nothing.

    Parameters
    ----------
    dib_in, length_ft : array_like of float
        As in `international_eighth_bf`.

    Returns
    -------
    ndarray of float
        Board feet; NaN where an input is.

    Raises
    ------
    InputFaults
        As in `international_eighth_bf`.

    Examples
    --------
    >>> scribner_bf(28, 16).round(1).item()
    559.4
    """
    d, length = _checked(dib_in, length_ft)
    return np.asarray(np.maximum(0.79 * d**2 - 2.0 * d - 4.0, 0.0) * length / 16.0)


def beyond_scribner_table(dib_cm: ArrayLike, length_m: ArrayLike) -> NDArray[np.bool_]:
    """Tell which logs lie outside the table the Scribner formula was fitted to.

    Parameters
    ----------
    dib_cm, length_m : array_like of float
        Small end inside bark, centimetres, and nominal length, metres.

    Returns
    -------
    ndarray of bool
        True outside 12 to 44 in or 10 to 24 ft; False where an input is NaN.

    Raises
    ------
    InputFaults
        As in `board_feet`.
    """
    d, length = _checked(dib_cm, length_m, inch=INCH_CM, foot=FOOT_M)
    thin, thick = SCRIBNER_TABLE_IN
    short, long = SCRIBNER_TABLE_FT
    return np.asarray(
        (d < thin - NOISE)
        | (d > thick + NOISE)
        | (length < short - NOISE)
        | (length > long + NOISE)
    )


_FORMULA = {
    "international-quarter": international_quarter_bf,
    "scribner": scribner_bf,
    "doyle": doyle_bf,
}


def board_feet(rule: BoardRule, dib_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Give board feet of logs by a rule, not rounded.

    Parameters
    ----------
    rule : {"international-quarter", "scribner", "doyle"}
        Whose board feet.
    dib_cm, length_m : array_like of float
        Diameter inside bark at the small end, centimetres, and nominal length without
        trim, metres.

    Returns
    -------
    ndarray of float
        Board feet by that rule; NaN where an input is.

    Raises
    ------
    InputError
        If the rule is not one of the three.
    InputFaults
        If a diameter is negative or over 150 in, or a length not above 0 and up to 60 ft.

    Examples
    --------
    >>> board_feet("doyle", 10 * 2.54, 16 * 0.3048).round(6).item()
    36.0
    """
    if rule not in _FORMULA:
        raise InputError(f"log rule {rule!r} must be one of {', '.join(BOARD_RULES)}")
    d, length = _checked(dib_cm, length_m, inch=INCH_CM, foot=FOOT_M)
    return _FORMULA[rule](d, length)


def scaled_bf(rule: BoardRule, dib_cm: ArrayLike, length_m: ArrayLike) -> Floats:
    """Give board feet as they are read off a printed table of the rule.

    The small end goes to the nearest whole inch first; International board feet go
    to the nearest 5, the others to the nearest board foot, halves up.

    Parameters
    ----------
    rule, dib_cm, length_m
        As in `board_feet`.

    Returns
    -------
    ndarray of float
        Board feet by that rule; NaN where an input is.

    Raises
    ------
    InputError, InputFaults
        As in `board_feet`.

    Examples
    --------
    >>> scaled_bf("international-quarter", 10.2 * 2.54, 16 * 0.3048).item()
    65.0
    """
    whole_in = np.floor(np.asarray(dib_cm, dtype=float) / INCH_CM + 0.5 + NOISE)
    step = 5.0 if rule == "international-quarter" else 1.0
    exact = board_feet(rule, whole_in * INCH_CM, length_m)
    return np.asarray(np.floor(exact / step + 0.5 + NOISE) * step)
