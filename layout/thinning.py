"""What a marking takes out and what it leaves, by hectare.

With every stem listed, before and after are counted. With only the marked trees
listed, what stands before is not known; it comes from plots, or it is not told,
with the reason.

A stem without a DBH is no stem of nothing: it counts among the stems, and a share it
could move is given as the range it may lie in, with such stems taken as nothing and as
the largest that is known.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.stem_sizes import check_stems
from layout.stocking import CLASS_CM, Condition, basal_area_m2, condition
from layout.units import HECTARE_M2

Floats = NDArray[np.float64]
Range = tuple[float, float]
State = Callable[[Sequence[str], Floats, ArrayLike], Condition]

SURE = 0.01  # a share that what is not known moves by no more than this is told; ours
NOISE = 1e-9  # of sums in another order
MARKED_ONLY = (
    "the list holds the marked trees only; list every tree, or give plots, to know what stands "
    "before and after"
)
NO_DBH = "no tree of the list has a DBH, so neither what stands nor what is taken is known"
NOTHING_STANDS = "the plots hold no tree"
MORE_THAN_STANDS = (
    "the marked trees are more, or hold more, than the plots say stands; measure more plots, or "
    "check the stand's area"
)


@dataclass(frozen=True, slots=True)
class Thinning:
    """A stand before and after, and what is taken.

    Parameters
    ----------
    removed : Condition or None
        What is taken; None where no taken tree has a DBH.
    before, after : Condition or None
        None where it is not known, and `reason` says why. Stems of the list without a
        DBH are in neither (``without_dbh``): what stands before and after is then more.
    stems_share, basal_area_share : float or None
        Share taken of what stands before, 0 to 1; every stem is one, with a DBH or
        without. None where it is not known.
    reason : str
        Why something is None; empty where nothing is.
    from_plots : bool
        True where ``before`` is an estimate from plots and ``after`` carries its error.
    basal_area_range : tuple of float, or None
        Least and most the share of basal area may be, given stems without a DBH; the
        error of plots is not in it.
    removed_most_m2_per_ha : float or None
        Basal area taken where stems without a DBH are as large as the largest known.
    taken_without_dbh, left_without_dbh : int
        Listed stems that go, and that stay, without a DBH.
    largest_cm : float or None
        The largest DBH known, of list and plots.
    """

    removed: Condition | None
    before: Condition | None
    after: Condition | None
    stems_share: float | None
    basal_area_share: float | None
    reason: str
    from_plots: bool = False
    basal_area_range: Range | None = None
    removed_most_m2_per_ha: float | None = None
    taken_without_dbh: int = 0
    left_without_dbh: int = 0
    largest_cm: float | None = None


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
    state = partial(condition, class_cm=class_cm)
    sizes = dbh[known] if plots is None else np.concatenate([dbh[known], plots.dbh_cm])
    largest = float(sizes.max()) if sizes.size else None
    blank = Thinning(
        removed=state(names[taken].tolist(), dbh[taken], each) if (known & taken).any() else None,
        before=None,
        after=None,
        stems_share=None,
        basal_area_share=None,
        reason=MARKED_ONLY,
        removed_most_m2_per_ha=_most(dbh[taken], largest, each),
        taken_without_dbh=int((taken & ~known).sum()),
        left_without_dbh=int((~taken & ~known).sum()),
        largest_cm=largest,
    )
    if full_list:
        return _counted(blank, names, dbh, taken, each, state)
    if plots is not None:
        return _sampled(blank, plots, names[taken].tolist(), dbh[taken], each, state)
    return blank if known.any() else replace(blank, reason=NO_DBH)


def share_range(
    amount: ArrayLike, taken: ArrayLike, largest: float, before: float | None = None
) -> Range | None:
    """Give the least and the most a share taken may be, where some amounts are not known.

    Parameters
    ----------
    amount : array_like of float, shape (n,)
        Of each stem; NaN where not known.
    taken : array_like of bool, shape (n,)
        Who goes.
    largest : float
        As much as one that is not known may have; the least is 0.
    before : float, optional
        What stands before, in the same unit, where the stems do not add up to it.

    Returns
    -------
    tuple of float, or None
        Least and most, 0 to 1 where the stems add up to what stands. None where nothing
        stands.

    Examples
    --------
    >>> share_range([1.0, float("nan"), 2.0], [True, True, False], 1.0)
    (0.3333333333333333, 0.5)
    """
    each, goes = np.asarray(amount, dtype=float), np.asarray(taken, dtype=bool)
    open_ones = np.isnan(each)
    gone, whole = float(np.nansum(each[goes])), float(np.nansum(each))
    goes_more = largest * int((open_ones & goes).sum())
    stays_more = largest * int((open_ones & ~goes).sum())
    if before is not None:
        return (gone / before, (gone + goes_more) / before) if before > 0 else None
    if not whole + goes_more + stays_more > 0:
        return None
    least = gone / (whole + stays_more) if whole + stays_more > 0 else 0.0
    most = (gone + goes_more) / (whole + goes_more) if whole + goes_more > 0 else 0.0
    return least, most


def settled(found: Range | None) -> float | None:
    """Give the higher end of a range so narrow that either end will do, else None."""
    if found is None or found[1] - found[0] > SURE:
        return None
    return found[1]


def _most(dbh: Floats, largest_cm: float | None, each: float) -> float | None:
    """Give a basal area by hectare with unknown stems as large as the largest."""
    if largest_cm is None:
        return None
    return each * float(basal_area_m2(np.where(np.isnan(dbh), largest_cm, dbh)).sum())


def _counted(
    blank: Thinning,
    names: NDArray[np.object_],
    dbh: Floats,
    taken: NDArray[np.bool_],
    each: float,
    state: State,
) -> Thinning:
    """Take before and after from a list of every stem."""
    stems = float(taken.sum() / taken.size) if taken.size else None
    if blank.largest_cm is None:
        return replace(blank, stems_share=stems, reason=NO_DBH)
    after = state(names[~taken].tolist(), dbh[~taken], each)
    blind = after.qmd_cm is None and blank.left_without_dbh > 0
    nothing = blank.removed is None and blank.taken_without_dbh > 0
    found = share_range(basal_area_m2(dbh), taken, float(basal_area_m2(blank.largest_cm)))
    share = settled(found)
    return replace(
        blank,
        before=None if blind or nothing else state(names.tolist(), dbh, each),
        after=None if blind else after,
        stems_share=stems,
        basal_area_share=share,
        reason="" if share is not None else _unknown_sizes(blank),
        basal_area_range=found,
    )


def _sampled(
    blank: Thinning, plots: Standing, names: list[str], dbh: Floats, each: float, state: State
) -> Thinning:
    """Take before from plots, and take the listed stems that go off it."""
    before = state(plots.species, plots.dbh_cm, plots.per_ha)
    stems, basal = each * dbh.size, blank.removed.basal_area_m2_per_ha if blank.removed else 0.0
    largest = blank.largest_cm or 0.0
    found = share_range(
        each * basal_area_m2(dbh),
        np.ones(dbh.size, dtype=bool),
        each * float(basal_area_m2(largest)),
        before.basal_area_m2_per_ha,
    )
    known = replace(blank, before=before, from_plots=True, basal_area_range=found)
    more = 1.0 + NOISE
    if stems > more * before.stems_per_ha or basal > more * before.basal_area_m2_per_ha:
        return replace(known, reason=MORE_THAN_STANDS)
    known = replace(
        known, stems_share=min(stems / before.stems_per_ha, 1.0) if before.stems_per_ha else None
    )
    share = settled(found)
    if share is None:
        reason = _unknown_sizes(known) if blank.taken_without_dbh else NOTHING_STANDS
        return replace(known, reason=reason)
    sure = np.where(np.isnan(dbh), largest, dbh)
    after = state(
        [*plots.species, *names],
        np.concatenate([plots.dbh_cm, sure]),
        np.concatenate([plots.per_ha, np.full(sure.size, -each)]),
    )
    return replace(known, after=after, basal_area_share=share, reason="")


def _unknown_sizes(blank: Thinning) -> str:
    """Say whose diameters are missing, and what is not known for it."""
    counts = ((blank.taken_without_dbh, "go"), (blank.left_without_dbh, "stay"))
    who = " and ".join(f"{count} of the trees that {what}" for count, what in counts if count)
    lost = "what is left" if blank.from_plots else "what stands before"
    low = "; what is left is more than is told" if blank.left_without_dbh else ""
    return f"{who} have no DBH, so {lost} is not known, nor the share that is taken{low}"
