"""What a marking takes out and what it leaves, by hectare.

With every stem listed, before and after are counted. With only the marked trees
listed, what stands before is not known; it comes from plots, or it is not told,
with the reason.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.stem_sizes import check_stems
from layout.stocking import CLASS_CM, Condition, condition
from layout.units import HECTARE_M2

Floats = NDArray[np.float64]

MARKED_ONLY = (
    "the list holds the marked trees only; list every tree, or give plots, to know what stands "
    "before and after"
)
NO_DBH = "no tree of the list has a DBH"
MORE_THAN_STANDS = (
    "the marked trees hold more than the plots say stands; measure more plots, or check the "
    "stand's area"
)


@dataclass(frozen=True, slots=True)
class Thinning:
    """A stand before and after, and what is taken.

    Parameters
    ----------
    removed : Condition or None
        What is taken; None where no marked tree has a DBH.
    before, after : Condition or None
        None where it is not known, and `reason` says why.
    stems_share, basal_area_share : float or None
        Share taken of what stands before, 0 to 1.
    reason : str
        Why something is None; empty where nothing is.
    from_plots : bool
        True where ``before`` is an estimate from plots and ``after`` carries its error.
    """

    removed: Condition | None
    before: Condition | None
    after: Condition | None
    stems_share: float | None
    basal_area_share: float | None
    reason: str
    from_plots: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """Stems from plots, each with what it stands for; arrays have shape (m,)."""

    species: tuple[str, ...]
    dbh_cm: Floats
    per_ha: Floats


def thinning(
    species: Sequence[str],
    dbh_cm: ArrayLike,
    cut: ArrayLike,
    area_m2: float,
    *,
    full_list: bool,
    plots: Standing | None = None,
    rows: Sequence[str] = (),
    class_cm: float = CLASS_CM,
) -> Thinning:
    """Compare a stand before and after its marked trees are gone.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm : array_like of float, shape (n,)
        DBH, centimetres; NaN where not known.
    cut : array_like of bool, shape (n,)
        Who is taken: the marked trees, and those in the way of the layout.
    area_m2 : float
        Area of the stand, square metres.
    full_list : bool
        Whether the list holds every stem, or the marked ones only.
    plots : Standing, optional
        What stands before, where the list does not tell; not asked with a full list.
    rows : sequence of str, length n
        How messages call each stem.
    class_cm : float, optional
        Width of a diameter class, centimetres.

    Returns
    -------
    Thinning

    Raises
    ------
    InputError
        If the area is not above 0.
    InputFaults
        As in `check_stems`.
    """
    if not area_m2 > 0:
        raise InputError(f"a stand of {area_m2:g} square metres has no figures by hectare")
    dbh, _, _ = check_stems(dbh_cm, rows=rows)
    taken = np.asarray(cut, dtype=bool)
    each = HECTARE_M2 / area_m2
    known = np.isfinite(dbh)
    names = np.array(species, dtype=object)

    def state(who: Sequence[str], thick_cm: ArrayLike, per_ha: ArrayLike) -> Condition:
        return condition(who, thick_cm, per_ha, class_cm=class_cm)

    removed = state(list(names[taken]), dbh[taken], each) if (known & taken).any() else None
    if not known.any():
        return Thinning(None, None, None, None, None, NO_DBH)
    if full_list:
        before = state(species, dbh, each)
        after = state(list(names[~taken]), dbh[~taken], each)
        return _shares(removed, before, after, "", from_plots=False)
    if plots is None:
        return Thinning(removed, None, None, None, None, MARKED_ONLY)
    before = state(plots.species, plots.dbh_cm, plots.per_ha)
    marked = taken & known
    after = state(
        [*plots.species, *names[marked]],
        np.concatenate([plots.dbh_cm, dbh[marked]]),
        np.concatenate([plots.per_ha, np.full(int(marked.sum()), -each)]),
    )
    if removed is not None and removed.basal_area_m2_per_ha > before.basal_area_m2_per_ha:
        return Thinning(removed, before, None, None, None, MORE_THAN_STANDS, from_plots=True)
    return _shares(removed, before, after, "", from_plots=True)


def _shares(
    removed: Condition | None, before: Condition, after: Condition, reason: str, *, from_plots: bool
) -> Thinning:
    stems = removed.stems_per_ha if removed else 0.0
    basal = removed.basal_area_m2_per_ha if removed else 0.0
    stems_share = min(stems / before.stems_per_ha, 1.0) if before.stems_per_ha else None
    return Thinning(
        removed,
        before,
        after,
        stems_share,
        basal / before.basal_area_m2_per_ha if before.basal_area_m2_per_ha else None,
        reason,
        from_plots,
    )
