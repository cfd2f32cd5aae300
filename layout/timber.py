"""Stem volume and green weight from species, diameter and height.

The published equations stay in the inches, feet and cubic feet they were
printed in, so they can be read against the page; everything handed in or out
is metric. Where a species, or a height, is not known a stated default steps in
and is flagged, never passed off as measured. Weights err heavy: an unknown
species takes the heaviest listed one of its group.
"""

import csv
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.sources import GREEN_WEIGHT, HEIGHT_CURVES, STEM_VOLUME, TREE_BIOMASS
from layout.units import CUBIC_FOOT_M3, FOOT_M, POUND_KG

Floats = NDArray[np.float64]

SOURCES = (STEM_VOLUME, GREEN_WEIGHT, TREE_BIOMASS, HEIGHT_CURVES)
SPECIES_FILE = Path(__file__).parent / "tables" / "species.csv"

INCH_CM = 2.54
WATER_LB_FT3 = 62.4  # as in the weight table, NRS-38
BREAST_HEIGHT_FT = 4.5
SEGMENT_IN = {"softwood": 9.0, "hardwood": 11.0}  # k of model 2; hardwood from memory

# Where a name or a code is not in the table: which group row answers for it.
_LAST_WORD = {
    "oak": "hard maple, oak, hickory and beech",
    "hickory": "hard maple, oak, hickory and beech",
    "beech": "hard maple, oak, hickory and beech",
    "maple": "soft maple and birch",
    "birch": "soft maple and birch",
    "aspen": "aspen",
    "cottonwood": "aspen",
    "willow": "aspen",
    "pine": "pine",
    "cedar": "pine",
    "larch": "pine",
    "tamarack": "pine",
    "spruce": "spruce",
    "fir": "true fir and hemlock",
    "hemlock": "true fir and hemlock",
    "ash": "mixed hardwood",
    "elm": "mixed hardwood",
    "cherry": "mixed hardwood",
}
_CODE_RANGES = (
    (10, 22, "true fir and hemlock"),
    (90, 98, "spruce"),
    (260, 264, "true fir and hemlock"),
    (201, 202, "douglas-fir"),
    (1, 299, "pine"),
    (310, 323, "soft maple and birch"),
    (370, 379, "soft maple and birch"),
    (741, 753, "aspen"),
    (400, 413, "hard maple, oak, hickory and beech"),
    (531, 531, "hard maple, oak, hickory and beech"),
    (800, 845, "hard maple, oak, hickory and beech"),
)
# Nothing at all is known: the heaviest wood in the table answers.
_UNKNOWN_GROUP = "hard maple, oak, hickory and beech"


@dataclass(frozen=True, slots=True)
class Species:
    """One row of the species table; coefficients in inches, feet, cubic feet.

    Parameters
    ----------
    fia_code : str
        Number of the national inventory; empty for a row that stands for a group.
    common_name, group, kind : str
        Name, biomass group, and ``hardwood`` or ``softwood``.
    other_names : tuple of str
        Further names and tally letters.
    vib_model : int
        Form of the equation of stem wood inside bark: 1, 2 or 4.
    vib, vob : tuple of float
        ``a, b, b1, c`` of stem wood, and ``a, b, c`` of wood and bark.
    rob, rib : tuple of float
        ``alpha, beta`` of the volume ratio along the stem, with and without bark.
    wood, bark : tuple of float
        Specific gravity, moisture (percent) and, for bark, its share of the wood's
        volume (percent).
    biomass, height : tuple of float
        ``b0, b1`` of the whole tree's dry mass; ``b1, b2`` of the height curve.
    source : str
        Where each of these comes from; ``memory`` and ``ours`` are unverified.
    """

    fia_code: str
    common_name: str
    other_names: tuple[str, ...]
    group: str
    kind: str
    vib_model: int
    vib: tuple[float, float, float, float]
    vob: tuple[float, float, float]
    rob: tuple[float, float]
    rib: tuple[float, float]
    wood: tuple[float, float]
    bark: tuple[float, float, float]
    biomass: tuple[float, float]
    height: tuple[float, float]
    source: str

    @property
    def stands_for_group(self) -> bool:
        """Tell whether this row answers for a group, not for one species."""
        return self.fia_code == ""

    def green_kg_per_m3(self, *, with_bark: bool) -> float:
        """Give green weight per cubic metre of stem *wood*, with its bark or without."""
        gravity, moisture = self.wood
        pounds = gravity * WATER_LB_FT3 * (1 + moisture / 100)
        if with_bark:
            gravity, moisture, share = self.bark
            pounds += gravity * WATER_LB_FT3 * (1 + moisture / 100) * share / 100
        return pounds * POUND_KG / CUBIC_FOOT_M3


@dataclass(frozen=True, slots=True, eq=False)
class Resolved:
    """Which row of the table answers for each stem; arrays have shape (n,).

    Parameters
    ----------
    row : ndarray of int
        Index into `species_table`.
    generic : ndarray of bool
        True where the species was not found and a group answers for it.
    """

    row: NDArray[np.int64]
    generic: NDArray[np.bool_]


def _number(text: str) -> float:
    return float(text) if text else math.nan


@cache
def species_table() -> tuple[Species, ...]:
    """Read the species table.

    Returns
    -------
    tuple of Species
        In the order of the file, group rows last.
    """
    with SPECIES_FILE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return tuple(
        Species(
            fia_code=row["fia_code"],
            common_name=row["common_name"],
            other_names=tuple(row["other_names"].split(";")),
            group=row["group"],
            kind=row["kind"],
            vib_model=int(row["vib_model"]),
            vib=(
                float(row["vib_a"]),
                float(row["vib_b"]),
                _number(row["vib_b1"]),
                float(row["vib_c"]),
            ),
            vob=(_number(row["vob_a"]), _number(row["vob_b"]), _number(row["vob_c"])),
            rob=(_number(row["rob_alpha"]), _number(row["rob_beta"])),
            rib=(_number(row["rib_alpha"]), _number(row["rib_beta"])),
            wood=(float(row["wood_sg"]), float(row["wood_mc_pct"])),
            bark=(float(row["bark_sg"]), float(row["bark_mc_pct"]), float(row["bark_pct"])),
            biomass=(float(row["biomass_b0"]), float(row["biomass_b1"])),
            height=(float(row["height_b1"]), float(row["height_b2"])),
            source=row["source"],
        )
        for row in rows
    )


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[\s_\-.,]+", " ", name.casefold()).split())


@cache
def _index() -> tuple[dict[str, int], dict[str, int], dict[str, int]]:
    names: dict[str, int] = {}
    codes: dict[str, int] = {}
    groups: dict[str, int] = {}
    for i, species in enumerate(species_table()):
        for name in (species.common_name, *species.other_names):
            names.setdefault(_plain(name), i)
        if species.stands_for_group:
            groups[species.group] = i
        else:
            codes[species.fia_code] = i
    return names, codes, groups


@cache
def _resolve_one(name: str) -> tuple[int, bool]:
    names, codes, groups = _index()
    plain = _plain(name)
    table = species_table()
    if re.fullmatch(r"\d+( 0)?", plain):  # a code, perhaps written by a spreadsheet as 833.0
        code = int(plain.split()[0])
        if str(code) in codes:
            return codes[str(code)], False
        group = next((g for low, high, g in _CODE_RANGES if low <= code <= high), "")
        return groups[group or ("mixed hardwood" if code > 299 else _UNKNOWN_GROUP)], True
    if plain in names:
        row = names[plain]
        return row, table[row].stands_for_group
    words = plain.split()
    return groups[_LAST_WORD.get(words[-1] if words else "", _UNKNOWN_GROUP)], True


def lookup(name: str) -> Species:
    """Find the row of the table that answers for a species.

    Parameters
    ----------
    name : str
        Common name, tally letters or inventory code; case, spaces and dashes do not matter.

    Returns
    -------
    Species
        The species itself, or the row of its group (``stands_for_group``).

    Examples
    --------
    >>> lookup(" RED  oak").common_name, lookup("833").common_name
    ('northern red oak', 'northern red oak')
    >>> lookup("pitch pine").common_name
    'pine, any'
    """
    return species_table()[_resolve_one(name)[0]]


def resolve(species: Sequence[str]) -> Resolved:
    """Find the row that answers for each stem of a list.

    Parameters
    ----------
    species : sequence of str, length n
        Common names, tally letters or inventory codes, mixed as they come.

    Returns
    -------
    Resolved
        Rows, and which of them are stand-ins.
    """
    found = [_resolve_one(name) for name in species]
    return Resolved(
        row=np.array([row for row, _ in found], dtype=np.int64),
        generic=np.array([generic for _, generic in found], dtype=np.bool_),
    )


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
