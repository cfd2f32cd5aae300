"""Streamside rules, and the width each asks on a slope.

Every width table seen is one of two kinds, a line ``a + b * max(0, S - S0)`` or
steps of slope, so one row form holds them all. S is the slope of the ground
between the point and the water, percent; feet and percent stay as printed, so
that a rule file can be read against its source.
"""

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError

Floats = NDArray[np.float64]

WATER_CLASSES = ("perennial", "intermittent", "ephemeral", "pond", "wetland", "spring", "well")
STRICTEST_CLASS = "perennial"  # what an unknown class counts as
SLOPE_NOISE_PCT = 1e-6  # 15 % computed as 14.9999999999 is still the printed boundary
STATUSES = ("law", "rule", "guideline", "research", "practice")
BINDING = ("law", "rule")  # statuses that forbid; the others advise


@dataclass(frozen=True, slots=True)
class Keep:
    """What must stay standing in a strip, in numbers; None where a rule names none.

    Parameters
    ----------
    ba_pct, volume_pct, trees_pct, cover_pct : float or None
        Share that stays of the basal area, the stem wood, the number of trees, the
        ground under crowns, percent of what stands before.
    ba_ft2_acre : float or None
        Least basal area that stays, square feet an acre.
    trees_per_100ft : float or None
        Least number of trees that stays along 100 ft of bank, each side by itself.
    min_dbh_in : float
        Thinner trees count for nothing of this, inches.
    """

    ba_pct: float | None = None
    volume_pct: float | None = None
    trees_pct: float | None = None
    cover_pct: float | None = None
    ba_ft2_acre: float | None = None
    trees_per_100ft: float | None = None
    min_dbh_in: float = 0.0

    def __bool__(self) -> bool:
        """Tell whether any number is named."""
        return any(
            value is not None
            for value in (
                self.ba_pct,
                self.volume_pct,
                self.trees_pct,
                self.cover_pct,
                self.ba_ft2_acre,
                self.trees_per_100ft,
            )
        )


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a rule: what it asks for one group of water classes and slopes.

    Parameters
    ----------
    water_class : tuple of str
        Classes the row speaks of.
    slope_min_pct, slope_max_pct : float
        Slopes it covers, percent; ``inf`` where it has no upper end.
    upper_inclusive : bool
        Whether the upper end itself belongs to this row or to the next.
    a_ft, b_ft_per_pct, s0_pct : float
        Width ``a + b * max(0, S - S0)``, feet.
    round_up_pct : float
        S is first rounded up to a whole multiple of this; 0 for not at all.
    min_ft, max_ft : float
        Bounds of the width.
    back_face_ft : float or None
        Width where the ground falls away from the water; None: as on level ground.
    measured : {"map", "ground"}
        Whether the width is laid along the map or along the ground.
    slope_of : {"to_water", "bank"}
        Which slope S is.
    no_machine_ft, no_bare_soil_ft, no_cut_ft : float or None
        Distances from the bank kept free of machines, of bare soil, of cutting;
        None where the rule does not say.
    cable_may_enter, bank_trees_leave : bool or None
        Whether a rope may enter the strip, whether trees at the bank must stay;
        None where the rule does not say.
    stops_at_divide : bool or None
        Whether the strip ends where water runs off to the other side; None or False:
        it goes on over a crest.
    retention : str
        What must be left standing, in words.
    keep : Keep
        The same in numbers, as far as there are any.
    status : {"law", "rule", "guideline", "research", "practice"}
        What kind of rule it is.
    source : str
        Where the numbers stand.
    confirmed : bool
        False where that place was not read.
    """

    water_class: tuple[str, ...]
    a_ft: float
    measured: Literal["map", "ground"]
    status: str
    source: str
    confirmed: bool
    slope_min_pct: float = 0.0
    slope_max_pct: float = math.inf
    upper_inclusive: bool = True
    b_ft_per_pct: float = 0.0
    s0_pct: float = 0.0
    round_up_pct: float = 0.0
    min_ft: float = 0.0
    max_ft: float = math.inf
    back_face_ft: float | None = None
    slope_of: Literal["to_water", "bank"] = "to_water"
    no_machine_ft: float | None = None
    no_bare_soil_ft: float | None = None
    no_cut_ft: float | None = None
    cable_may_enter: bool | None = None
    bank_trees_leave: bool | None = None
    stops_at_divide: bool | None = None
    retention: str = ""
    keep: Keep = Keep()

    @property
    def winching_ft(self) -> float | None:
        """Distance from the bank beyond which a rope may work in the strip, feet.

        None unless the rule says all three things: the core without cutting,
        that a rope may enter, and what becomes of bank trees.
        """
        if self.cable_may_enter and self.bank_trees_leave is not None:
            return self.no_cut_ft
        return None


@dataclass(frozen=True, slots=True)
class Rule:
    """A streamside rule as its file gives it.

    Parameters
    ----------
    name, title, jurisdiction, local_name, status : str
        Header of the file; ``local_name`` is what the strip is called there.
    rows : tuple of Row
        The rows, in the file's order.
    path : str
        The file, for messages.
    note : str
        Remarks of the file, may be empty.
    """

    name: str
    title: str
    jurisdiction: str
    local_name: str
    status: str
    rows: tuple[Row, ...]
    path: str = field(default="", compare=False)
    note: str = ""

    @property
    def classes(self) -> tuple[str, ...]:
        """Water classes the rule speaks of, in the file's order."""
        return tuple(dict.fromkeys(name for row in self.rows for name in row.water_class))

    @property
    def confirmed(self) -> bool:
        """True when the source of every row was read."""
        return all(row.confirmed for row in self.rows)

    def rows_for(self, water_class: str) -> tuple[Row, ...]:
        """Give the rows of one class, gentlest first; empty where it has none."""
        rows = [row for row in self.rows if water_class in row.water_class]
        return tuple(sorted(rows, key=lambda row: row.slope_min_pct))


def rows_at(rows: tuple[Row, ...], slope_pct: ArrayLike) -> NDArray[np.int64]:
    """Find which row speaks of each slope.

    Parameters
    ----------
    rows : tuple of Row
        Rows of one class, gentlest first (`Rule.rows_for`).
    slope_pct : array_like of float, any shape
        Slope, percent; negative counts as level.

    Returns
    -------
    ndarray of int, same shape
        Index into ``rows``.
    """
    slope = np.maximum(np.asarray(slope_pct, dtype=float), 0.0)
    index = np.zeros(slope.shape, dtype=np.int64)
    for row in rows[:-1]:
        edge = row.slope_max_pct
        # A computed slope a hair off the printed boundary is on the boundary.
        past = (
            slope > edge + SLOPE_NOISE_PCT
            if row.upper_inclusive
            else slope >= edge - SLOPE_NOISE_PCT
        )
        index += past
    return index


def row_width_ft(row: Row, slope_pct: Floats) -> Floats:
    """Give the width one row asks, feet, as the rule measures it; see `width_ft`."""
    slope = np.maximum(slope_pct, 0.0)
    if row.round_up_pct > 0:
        slope = np.ceil((slope - SLOPE_NOISE_PCT) / row.round_up_pct) * row.round_up_pct
    width = row.a_ft + row.b_ft_per_pct * np.maximum(slope - row.s0_pct, 0.0)
    width = np.clip(width, row.min_ft, row.max_ft)
    if row.back_face_ft is not None:
        width = np.where(slope_pct < 0, row.back_face_ft, width)
    return np.asarray(width)


def width_ft(rule: Rule, water_class: str, slope_pct: ArrayLike) -> Floats:
    """Give the width of the strip a rule asks for.

    Parameters
    ----------
    rule : Rule
        The rule.
    water_class : str
        Class of the water; one the rule has no row for counts as perennial.
    slope_pct : array_like of float, any shape
        Slope of the ground between the point and the water, percent; negative
        where the ground falls away from the water (the back face).

    Returns
    -------
    ndarray of float, same shape
        Width from the bank, feet, along the map or the ground as the row says.

    Raises
    ------
    InputError
        If a slope is not a number.

    Examples
    --------
    >>> from layout.rule_files import load_rule
    >>> width_ft(load_rule("slope-50-2-over-10"), "perennial", [0, 27]).tolist()
    [50.0, 84.0]
    """
    slope, rows, index = _looked_up(rule, water_class, slope_pct)
    out = np.empty(slope.shape)
    for number, row in enumerate(rows):
        here = index == number
        out[here] = row_width_ft(row, slope[here])
    return out


def map_width_ft(rule: Rule, water_class: str, slope_pct: ArrayLike) -> Floats:
    """Give the width of the strip as it shows on a map.

    A width laid along the ground covers less map, ``w / sqrt(1 + (S / 100)**2)``.

    Parameters
    ----------
    rule : Rule
        The rule.
    water_class : str
        Class of the water; one the rule has no row for counts as perennial.
    slope_pct : array_like of float, any shape
        Slope of the ground between the point and the water, percent; negative
        where the ground falls away from the water.

    Returns
    -------
    ndarray of float, same shape
        Width from the bank on the map, feet.

    Raises
    ------
    InputError
        If a slope is not a number.
    """
    width = width_ft(rule, water_class, slope_pct)
    _, rows, _ = _looked_up(rule, water_class, 0.0)
    return as_map(rows[0], width, np.asarray(slope_pct, dtype=float))


def as_map(row: Row, width: Floats, slope_pct: Floats) -> Floats:
    """Turn a width as the row measures it into map distance."""
    if row.measured == "map":
        return width
    return np.asarray(width / np.sqrt(1.0 + (slope_pct / 100.0) ** 2))


def _looked_up(
    rule: Rule, water_class: str, slope_pct: ArrayLike
) -> tuple[Floats, tuple[Row, ...], NDArray[np.int64]]:
    slope = np.asarray(slope_pct, dtype=float)
    if np.isnan(slope).any():
        msg = "a slope to the water is not a number; is there a gap in the elevations?"
        raise InputError(msg)
    rows = rule.rows_for(water_class) or rule.rows_for(STRICTEST_CLASS)
    return slope, rows, rows_at(rows, slope)
