"""Which row of the species table answers for what a list or a note calls a tree.

People write a common name, an inventory number, or the two or three letters
of their own tally. Letters mean different trees in different places, so what
they were taken as is always told. What has no row of its own is answered by
the heaviest listed one of its group, and what nobody knows by the heaviest of
all: weights err heavy, never light.
"""

import csv
import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layout.units import CUBIC_FOOT_M3, POUND_KG

TABLES = Path(__file__).parent / "tables"
SPECIES_FILE = TABLES / "species.csv"
CODES_FILE = TABLES / "field_codes.csv"
WATER_LB_FT3 = 62.4  # as in the weight table, NRS-38

OAKS = "hard maple, oak, hickory and beech"
MAPLES = "soft maple and birch"
MIXED = "mixed hardwood"
FIRS = "true fir and hemlock"
# Where a name is not in the table: which group row answers for it.
_LAST_WORD = {
    "oak": OAKS,
    "hickory": OAKS,
    "beech": OAKS,
    "maple": MAPLES,
    "birch": MAPLES,
    "aspen": "aspen",
    "cottonwood": "aspen",
    "willow": "aspen",
    "pine": "pine",
    "cedar": "pine",
    "redcedar": "pine",
    "larch": "pine",
    "tamarack": "pine",
    "spruce": "spruce",
    "fir": FIRS,
    "hemlock": FIRS,
    "ash": MIXED,
    "elm": MIXED,
    "cherry": MIXED,
}
_GENUS = {
    "quercus": OAKS,
    "carya": OAKS,
    "fagus": OAKS,
    "acer": OAKS,  # a hard maple is the heaviest of them
    "betula": MAPLES,
    "populus": "aspen",
    "fraxinus": MIXED,
    "ulmus": MIXED,
    "prunus": MIXED,
    "tilia": MIXED,
    "juglans": MIXED,
    "pinus": "pine",
    "larix": "pine",
    "picea": "spruce",
    "abies": FIRS,
    "tsuga": FIRS,
    "pseudotsuga": "douglas-fir",
}
_CODE_RANGES = (
    (10, 22, FIRS),
    (90, 98, "spruce"),
    (260, 264, FIRS),
    (201, 202, "douglas-fir"),
    (1, 299, "pine"),
    (310, 323, MAPLES),
    (370, 379, MAPLES),
    (741, 753, "aspen"),
    (400, 413, OAKS),
    (531, 531, OAKS),
    (800, 845, OAKS),
)
# Nothing at all is known: the heaviest wood in the table answers.
_UNKNOWN_GROUP = OAKS
_SHORT = {"n": "northern", "no": "northern", "e": "eastern", "am": "american", "s": "southern"}

How = Literal["species", "group", "stand_in", "unknown"]


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
        Further names.
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


@dataclass(frozen=True, slots=True)
class FieldCode:
    """Letters of a tally, the tree they are taken as, and what else they may mean.

    ``group`` is empty where the species has a row of its own.
    """

    code: str
    common_name: str
    fia_code: str
    group: str
    may_mean: str
    source: str


@dataclass(frozen=True, slots=True)
class Found:
    """What a name was taken as.

    Parameters
    ----------
    row : int
        Index into `species_table`.
    how : {"species", "group", "stand_in", "unknown"}
        ``group``: a group was named (``oak``); ``stand_in``: the tree is known
        and a group answers for it; ``unknown``: nothing was known of the name.
    name : str
        The tree it was taken as; the name itself where unknown.
    code : FieldCode or None
        The letters, where it was letters.
    """

    row: int
    how: How
    name: str
    code: FieldCode | None = None


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
            other_names=tuple(name for name in row["other_names"].split(";") if name),
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


@cache
def field_codes() -> dict[str, FieldCode]:
    """Read the letters of tallies, by the letters in lower case."""
    with CODES_FILE.open(encoding="utf-8", newline="") as file:
        return {row["code"].lower(): FieldCode(**row) for row in csv.DictReader(file)}


def _plain(name: str) -> str:
    return " ".join(re.sub(r"[\s_\-.,]+", " ", name.casefold()).split())


@cache
def _index() -> tuple[dict[str, int], dict[str, int], dict[str, int], dict[str, str]]:
    """Index names, inventory numbers and groups, and the groups of names without a row."""
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
    rowless = {_plain(c.common_name): c.group for c in field_codes().values() if c.group}
    return names, codes, groups, rowless


def _spellings(name: str) -> list[str]:
    """Give the ways one name may be meant: as it stands, turned round, singular, in full."""
    plain = _plain(name)
    ways = [plain]
    if name.count(",") == 1:  # "oak, red"
        last, _, first = name.partition(",")
        ways.append(_plain(f"{first} {last}"))
    words = plain.split()
    if len(words) > 1 and words[0] in _SHORT:  # "N. red oak"
        ways.append(" ".join([_SHORT[words[0]], *words[1:]]))
    return ways + [way[:-1] for way in ways if way.endswith("s") and len(way) > 3]


def _exact(name: str) -> Found | None:
    """Find a name, or letters, that stand in a table."""
    names, codes, groups, rowless = _index()
    table = species_table()
    for way in _spellings(name):
        if way in names:
            row = names[way]
            return Found(row, "group" if table[row].stands_for_group else "species", way)
        if way in rowless:
            return Found(groups[rowless[way]], "stand_in", way)
    code = field_codes().get(_plain(name))
    if code is None:
        return None
    if code.group:
        return Found(groups[code.group], "stand_in", code.common_name, code)
    if not code.fia_code:
        return Found(names[_plain(code.common_name)], "group", code.common_name, code)
    return Found(codes[code.fia_code], "species", code.common_name, code)


@cache
def find(name: str) -> Found:
    """Find what answers for a name, and say how it was found.

    Parameters
    ----------
    name : str
        Common name, tally letters or inventory number; case, spaces and dashes do not matter.

    Returns
    -------
    Found

    Examples
    --------
    >>> find("RO").name, find("RO").how
    ('northern red oak', 'species')
    >>> find("SM").code.may_mean
    'silver maple or soft maple'
    >>> find("gumbo limbo").how
    'unknown'
    """
    _, codes, groups, _ = _index()
    plain = _plain(name)
    table = species_table()
    if re.fullmatch(r"[0-9]+( 0)?", plain):  # a number, perhaps written by a spreadsheet as 833.0
        code = int(plain.split()[0]) if len(plain) < 9 else 0
        if str(code) in codes:
            row = codes[str(code)]
            return Found(row, "species", table[row].common_name)
        group = next((g for low, high, g in _CODE_RANGES if low <= code <= high), "")
        known = group or (MIXED if 299 < code < 1000 else "")
        how: How = "stand_in" if known else "unknown"
        return Found(groups[known or _UNKNOWN_GROUP], how, name)
    exact = _exact(name)
    if exact is not None:
        return exact
    words = plain.split()
    for way in (plain, *_spellings(name)):
        last = _LAST_WORD.get(way.split()[-1] if way else "")
        if last:
            return Found(groups[last], "stand_in", way)
    genus = _GENUS.get(words[0] if words else "")
    if genus:
        return Found(groups[genus], "stand_in", plain)
    return Found(groups[_UNKNOWN_GROUP], "unknown", name)


def is_known(name: str) -> bool:
    """Tell whether a name, or letters, stand in our tables as they are."""
    return _exact(name) is not None


def letters_told(names: Sequence[str]) -> tuple[list[str], bool]:
    """Say what the letters of a list were taken as.

    Parameters
    ----------
    names : sequence of str
        Species as a list has them.

    Returns
    -------
    lines : list of str
        One for each code, with how many trees have it.
    doubtful : bool
        Whether one of them means another tree elsewhere.

    Examples
    --------
    >>> letters_told(["RO", "BE", "ro", "red oak"])
    (['BE is American beech (1)', 'RO is northern red oak, not southern red oak (2)'], True)
    """
    count = Counter(code for name in names if (code := find(name).code) is not None)
    lines = [
        f"{code.code} is {code.common_name}"
        + (f", not {code.may_mean}" if code.may_mean else "")
        + f" ({count[code]})"
        for code in sorted(count, key=lambda code: code.code)
    ]
    return lines, any(code.may_mean for code in count)


def lookup(name: str) -> Species:
    """Find the row of the table that answers for a species.

    Parameters
    ----------
    name : str
        Common name, tally letters or inventory number; case, spaces and dashes do not matter.

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
    return species_table()[find(name).row]


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
    found = [find(name) for name in species]
    return Resolved(
        row=np.array([f.row for f in found], dtype=np.int64),
        generic=np.array([f.how != "species" for f in found], dtype=np.bool_),
    )
