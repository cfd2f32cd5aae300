"""Stem volume and green weight from species, diameter and height.

The published equations stay in the inches, feet and cubic feet they were
printed in, so they can be read against the page; everything handed in or out
is metric. Where a species, or a height, is not known a stated default steps in
and is flagged, never passed off as measured. Weights err heavy: an unknown
species takes the heaviest listed one of its group.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.sources import GREEN_WEIGHT, HEIGHT_CURVES, STEM_VOLUME, TREE_BIOMASS
from layout.species import resolve, species_table
from layout.units import CUBIC_FOOT_M3, FOOT_M

Floats = NDArray[np.float64]

SOURCES = (STEM_VOLUME, GREEN_WEIGHT, TREE_BIOMASS, HEIGHT_CURVES)

INCH_CM = 2.54
BREAST_HEIGHT_FT = 4.5
SEGMENT_IN = {"softwood": 9.0, "hardwood": 11.0}  # k of model 2; hardwood from memory


def _checked(
    species: Sequence[str], dbh_cm: ArrayLike, height_m: ArrayLike
) -> tuple[NDArray[np.int64], Floats, Floats]:
    rows = resolve(species).row
    dbh = np.broadcast_to(np.asarray(dbh_cm, dtype=float), rows.shape)
    height = np.broadcast_to(np.asarray(height_m, dtype=float), rows.shape)
    if (dbh <= 0).any():
        where = int(np.flatnonzero(dbh <= 0)[0])
        msg = f"stem {where + 1} of the list has a diameter of {dbh[where]:g} cm; give one above 0"
        raise InputError(msg)
    if (height <= 0).any():
        where = int(np.flatnonzero(height <= 0)[0])
        msg = f"stem {where + 1} of the list has a height of {height[where]:g} m; give one above 0"
        raise InputError(msg)
    return rows, dbh, height


def heights_m(
    species: Sequence[str], dbh_cm: ArrayLike, height_m: ArrayLike
) -> tuple[Floats, NDArray[np.bool_]]:
    """Fill missing heights from the default curve of the species.

    ``H = 4.5 + exp(B1 + B2 / (D + 1))``, feet and inches (Wykoff's form). The
    coefficients are from memory or ours, unverified: say "estimated" wherever
    such a height is shown.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm : array_like of float, shape (n,)
        Diameter at breast height, centimetres; NaN where not known.
    height_m : array_like of float, shape (n,)
        Total height, metres; NaN where not measured.

    Returns
    -------
    height_m : ndarray of float, shape (n,)
        Measured heights, and estimated ones in the gaps; NaN where the diameter is missing too.
    estimated : ndarray of bool, shape (n,)
        True where the curve stepped in.

    Raises
    ------
    InputError
        If a diameter or a height is zero or less.
    """
    rows, dbh, height = _checked(species, dbh_cm, height_m)
    estimated = np.isnan(height)
    curve = np.array([s.height for s in species_table()])[rows]
    feet = BREAST_HEIGHT_FT + np.exp(curve[:, 0] + curve[:, 1] / (dbh / INCH_CM + 1))
    return np.where(estimated, feet * FOOT_M, height), estimated


def stem_volume_m3(species: Sequence[str], dbh_cm: ArrayLike, height_m: ArrayLike) -> Floats:
    """Give the volume of stem wood inside bark, ground to tip.

    National-scale equations, USDA Forest Service GTR-WO-104 (Westfall et al.
    2024), table S1a: model 1 ``a D^b H^c``; model 2 the same below the joint ``k``
    and ``a k^(b-b1) D^b1 H^c`` above it; model 4 ``a D^b H^c exp(-b1 D)``.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm, height_m : array_like of float, shape (n,)
        Diameter at breast height, centimetres, and total height, metres; a
        missing height (NaN) takes the default curve of `heights_m`.

    Returns
    -------
    ndarray of float, shape (n,)
        Cubic metres; NaN where the diameter is missing. Quote it +-10 %.

    Raises
    ------
    InputError
        If a diameter or a height is zero or less.

    Examples
    --------
    >>> stem_volume_m3(["northern red oak"], [18 * 2.54], [85 * 0.3048]).round(3).tolist()
    [1.641]
    """
    rows, dbh, _ = _checked(species, dbh_cm, height_m)
    height, _ = heights_m(species, dbh_cm, height_m)
    table = species_table()
    a, b, b1, c = np.array([s.vib for s in table])[rows].T
    model = np.array([s.vib_model for s in table])[rows]
    joint = np.array([SEGMENT_IN[s.kind] for s in table])[rows]
    inches, feet = dbh / INCH_CM, height / FOOT_M
    power = inches**b
    upper = (model == 2) & (inches >= joint)
    power = np.where(upper, joint ** (b - b1) * inches**b1, power)
    power = np.where(model == 4, inches**b * np.exp(-b1 * inches), power)
    return np.asarray(a * power * feet**c * CUBIC_FOOT_M3, dtype=np.float64)


def stem_mass_kg(
    species: Sequence[str], dbh_cm: ArrayLike, height_m: ArrayLike, *, with_bark: bool = True
) -> Floats:
    """Give the green mass of the limbed stem, ground to tip.

    Stem volume times the green weight of wood, and of bark for that wood, from
    USDA Forest Service NRS-38 (Miles & Smith 2009). Single lots vary up to 20 %
    when green: carry the weight error of the settings on top.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm, height_m : array_like of float, shape (n,)
        Diameter at breast height, centimetres, and total height, metres; NaN as
        in `stem_volume_m3`.
    with_bark : bool, optional
        Count the bark.

    Returns
    -------
    ndarray of float, shape (n,)
        Kilograms; NaN where the diameter is missing.

    Raises
    ------
    InputError
        If a diameter or a height is zero or less.

    Examples
    --------
    >>> stem_mass_kg(["red oak"], [18 * 2.54], [85 * 0.3048]).round(-1).tolist()
    [2110.0]
    """
    density = np.array([s.green_kg_per_m3(with_bark=with_bark) for s in species_table()])
    volume = stem_volume_m3(species, dbh_cm, height_m)
    return np.asarray(volume * density[resolve(species).row], dtype=np.float64)


def tree_mass_kg(species: Sequence[str], dbh_cm: ArrayLike) -> Floats:
    """Give the green mass of a whole tree above ground, crown included.

    Dry mass ``exp(b0 + b1 ln D)`` of Jenkins et al. 2003 (Forest Science
    49:12-35), made green with the wood's moisture.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm : array_like of float, shape (n,)
        Diameter at breast height, centimetres.

    Returns
    -------
    ndarray of float, shape (n,)
        Kilograms; NaN where the diameter is missing.

    Raises
    ------
    InputError
        If a diameter is zero or less.
    """
    rows, dbh, _ = _checked(species, dbh_cm, np.nan)
    table = species_table()
    b0, b1 = np.array([s.biomass for s in table])[rows].T
    moisture = np.array([s.wood[1] for s in table])[rows]
    return np.asarray(np.exp(b0 + b1 * np.log(dbh)) * (1 + moisture / 100), dtype=np.float64)
