"""What listed trees give when they are cut up: tree by tree, and summed.

Sums are always the sums of the trees they name. Board feet stand beside the name of
their rule, small wood beside what a stacked cord was taken to hold; a tree without a
diameter is counted and in no sum.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.bucking import Bucked, buck
from layout.cubic import cords
from layout.form_class import tree_bf
from layout.log_rules import BOARD_RULES, beyond_scribner_table
from layout.settings.work_tables import TimberTable
from layout.site import Area
from layout.stocking import called
from layout.tree_sizes import TreeSizes, sizes_of
from layout.tree_words import NO_SAW_GRADES

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

NOT_GRADED = ""


@dataclass(frozen=True, slots=True, eq=False)
class Harvest:
    """What every listed tree gives; arrays have shape (n,), NaN where not known.

    Parameters
    ----------
    log_rule : str
        Whose board feet these are; ``cubic`` or empty where there are none.
    gross_bf, net_bf : ndarray of float
        Board feet by that rule, before and after defect; NaN without a board-foot rule.
    by_form_class : ndarray of bool
        True where the board feet come from DBH and counted logs alone.
    sawlogs, pieces : ndarray of float
        How many sawlogs, and how many pieces with the small wood.
    stem_m3 : ndarray of float
        Wood of the stem inside bark, ground to tip, cubic metres.
    saw_m3, saw_net_m3, pulp_m3 : ndarray of float
        Wood in sawlogs before and after defect, and in small wood, cubic metres.
    saw_kg, pulp_kg : ndarray of float
        Green mass of both, defect not taken off.
    mass_kg : ndarray of float
        Green mass of what is winched, see `layout.tree_sizes.TreeSizes`.
    species, grade : tuple of str
        The tree each spelling was taken as; the grade, empty where none is given.
    cord_solid_m3 : float
        Wood a stacked cord was taken to hold, cubic metres.
    beyond_table : ndarray of float
        How many of its sawlogs lie outside the table the Scribner formula was fitted to;
        0 by any other rule.
    """

    log_rule: str
    gross_bf: Floats
    net_bf: Floats
    by_form_class: Mask
    sawlogs: Floats
    pieces: Floats
    stem_m3: Floats
    saw_m3: Floats
    saw_net_m3: Floats
    pulp_m3: Floats
    saw_kg: Floats
    pulp_kg: Floats
    mass_kg: Floats
    species: tuple[str, ...]
    grade: tuple[str, ...]
    cord_solid_m3: float
    beyond_table: Floats

    @property
    def in_board_feet(self) -> bool:
        """Whether there are board feet at all."""
        return self.log_rule in BOARD_RULES

    def __len__(self) -> int:
        """Count the trees."""
        return int(self.stem_m3.size)


@dataclass(frozen=True, slots=True)
class Total:
    """Sums over some trees.

    Parameters
    ----------
    name : str
        Whose: a species, a grade, or empty.
    trees, not_known : int
        How many trees, and how many of them are in no sum, having no DBH.
    sawlogs, pieces : int
        Sawlogs, and pieces with the small wood.
    gross_bf, net_bf : float or None
        Board feet by the harvest's rule; None without a board-foot rule.
    stem_m3, saw_m3, saw_net_m3, pulp_m3 : float
        As in `Harvest`, cubic metres.
    pulp_cords : float
        Small wood as stacked cords of 128 cubic feet.
    saw_kg, pulp_kg, mass_kg : float
        As in `Harvest`, kilograms.
    """

    name: str
    trees: int
    not_known: int
    sawlogs: int
    pieces: int
    gross_bf: float | None
    net_bf: float | None
    stem_m3: float
    saw_m3: float
    saw_net_m3: float
    pulp_m3: float
    pulp_cords: float
    saw_kg: float
    pulp_kg: float
    mass_kg: float


def harvest_of(area: Area, sizes: TreeSizes | None = None) -> Harvest:
    """Cut up every listed tree on paper.

    Parameters
    ----------
    area : Area
        Its tree list, and [timber] of its settings.
    sizes : TreeSizes, optional
        Of that area, where they are at hand.

    Returns
    -------
    Harvest
        Trees that stay are in it too: what stands is as much a question as what goes.
    """
    trees, timber = area.trees, area.settings.timber
    sizes = sizes_of(area) if sizes is None else sizes
    cut = cut_up(area, sizes)
    gross, net, quick = _board_feet(area, cut, sizes, _logs(area))
    known = np.isfinite(sizes.stem_m3)

    def per_tree(of_piece: ArrayLike) -> Floats:
        total = np.bincount(cut.pieces.tree, weights=of_piece, minlength=len(trees))
        return np.where(known, total, np.nan)

    is_log = cut.pieces.is_log
    return Harvest(
        log_rule=timber.rule,
        gross_bf=gross,
        net_bf=net,
        by_form_class=quick,
        sawlogs=cut.logs,
        pieces=per_tree(np.ones(len(cut.pieces))),
        stem_m3=sizes.stem_m3,
        saw_m3=cut.saw_m3,
        saw_net_m3=cut.saw_net_m3,
        pulp_m3=cut.pulp_m3,
        saw_kg=per_tree(cut.pieces.mass_kg * is_log),
        pulp_kg=per_tree(cut.pieces.mass_kg * ~is_log),
        mass_kg=sizes.mass_kg,
        species=tuple(called(name) for name in trees.species),
        grade=_grades(area),
        cord_solid_m3=timber.cord_solid_m3,
        beyond_table=per_tree(_beyond_table(timber, cut)),
    )


def cut_up(area: Area, sizes: TreeSizes, most_kg: ArrayLike = np.inf) -> Bucked:
    """Buck every listed tree, one whose grade says that it holds no sawlog into small wood.

    Parameters
    ----------
    area : Area
    sizes : TreeSizes
        Of that area.
    most_kg : array_like of float, shape (n,) or scalar, optional
        Green mass no piece of a tree should be over, as in `layout.bucking.buck`.

    Returns
    -------
    Bucked
    """
    trees = area.trees
    return buck(
        trees.species,
        trees.dbh_cm,
        sizes.heights.height_m,
        area.settings.timber,
        logs=_logs(area),
        defect_pct=trees.defect_pct,
        most_kg=most_kg,
    )


def _grades(area: Area) -> tuple[str, ...]:
    """Give each tree's grade, empty where there is none."""
    return area.trees.log_grade or (NOT_GRADED,) * len(area.trees)


def _logs(area: Area) -> Floats:
    """Give each tree's counted logs: none where its grade says so, NaN where not counted."""
    low = np.array([word in NO_SAW_GRADES for word in _grades(area)], dtype=bool)
    return np.where(low, 0.0, area.trees.logs)


def _board_feet(
    area: Area, cut: Bucked, sizes: TreeSizes, logs: Floats
) -> tuple[Floats, Floats, Mask]:
    """Give gross and net board feet; counted logs without a height go by the form class."""
    timber, trees = area.settings.timber, area.trees
    if timber.rule not in BOARD_RULES:
        return cut.gross_bf, cut.net_bf, np.zeros(len(trees), dtype=bool)
    quick, _ = tree_bf(timber.rule, trees.dbh_cm, logs, timber.form_class)
    by_class = sizes.heights.estimated & np.isfinite(quick) & (logs > 0) & (cut.logs > 0)
    lost = np.where(np.isnan(trees.defect_pct), timber.defect_pct, trees.defect_pct) / 100.0
    gross = np.where(by_class, quick, cut.gross_bf)
    net = np.where(by_class, quick * (1.0 - lost), cut.net_bf)
    return gross, net, by_class


def _beyond_table(timber: TimberTable, cut: Bucked) -> Mask:
    """Tell which pieces are logs the Scribner formula was not fitted to."""
    out = np.zeros(len(cut.pieces), dtype=bool)
    if timber.rule == "scribner":
        logs = cut.pieces.is_log
        out[logs] = beyond_scribner_table(cut.pieces.small_end_cm[logs], cut.pieces.length_m[logs])
    return out


def total(harvest: Harvest, which: ArrayLike, name: str = "") -> Total:
    """Sum up some trees.

    Parameters
    ----------
    harvest : Harvest
    which : array_like of bool, shape (n,)
        Who counts.
    name : str, optional
        What the sum is called.

    Returns
    -------
    Total
        The order of the list makes no difference beyond rounding.
    """
    chosen = np.asarray(which, dtype=bool)
    known = chosen & np.isfinite(harvest.stem_m3)

    def add(values: Floats) -> float:
        return float(values[known].sum())

    boards = harvest.in_board_feet
    pulp = add(harvest.pulp_m3)
    return Total(
        name=name,
        trees=int(chosen.sum()),
        not_known=int((chosen & ~known).sum()),
        sawlogs=round(add(harvest.sawlogs)),
        pieces=round(add(harvest.pieces)),
        gross_bf=add(harvest.gross_bf) if boards else None,
        net_bf=add(harvest.net_bf) if boards else None,
        stem_m3=add(harvest.stem_m3),
        saw_m3=add(harvest.saw_m3),
        saw_net_m3=add(harvest.saw_net_m3),
        pulp_m3=pulp,
        pulp_cords=float(cords(pulp, harvest.cord_solid_m3)),
        saw_kg=add(harvest.saw_kg),
        pulp_kg=add(harvest.pulp_kg),
        mass_kg=add(harvest.mass_kg),
    )


def by_species(harvest: Harvest, which: ArrayLike) -> tuple[Total, ...]:
    """Sum up some trees by species, the most wood first."""
    return _by(harvest, which, harvest.species)


def by_grade(harvest: Harvest, which: ArrayLike) -> tuple[Total, ...]:
    """Sum up some trees by grade, the most wood first; the name is empty for no grade."""
    return _by(harvest, which, harvest.grade)


def _by(harvest: Harvest, which: ArrayLike, names: Sequence[str]) -> tuple[Total, ...]:
    """Sum up by a word each tree carries."""
    chosen = np.asarray(which, dtype=bool)
    words = np.array(names, dtype=object)
    sums = [
        total(harvest, chosen & (words == word), str(word))
        for word in dict.fromkeys(words[chosen].tolist())
    ]
    return tuple(sorted(sums, key=lambda t: (-t.stem_m3, t.name)))
