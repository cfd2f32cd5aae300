"""How full a stand is: numbers, basal area, stocking and density, by hectare.

Every stem counts with a weight: one over the area where all stems are listed, its
expansion where plots were measured. The stocking chart is that of upland oaks and
other central hardwoods (Gingrich 1967); for mixed stands with softwood the density
index of Ducey & Knapp (2010) is the better guide, and both are given.

The chart's formulas stay in the trees per acre and inches they were printed in.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputError
from layout.sources import DE_LIOCOURT, MIXED_DENSITY, UPLAND_STOCKING
from layout.species import find, resolve, species_table
from layout.stem_sizes import check_stems
from layout.units import ACRE_M2, HECTARE_M2, INCH_M

Floats = NDArray[np.float64]

SOURCES = (UPLAND_STOCKING, MIXED_DENSITY, DE_LIOCOURT)

INCH_CM = 100 * INCH_M
ACRE_HA = ACRE_M2 / HECTARE_M2
FT2_ACRE = 0.3048**2 / ACRE_HA  # one square foot an acre in square metres a hectare

# Percent of full stocking an acre: by tree, by inch of DBH and by square inch. The
# third is 0.00307 in some copies; only 0.00317 gives what the printed chart reads.
A_LINE = (-0.00507, 0.01698, 0.00317)
B_LINE = (0.0175, 0.0205, 0.0060)  # crown area of open-grown trees, percent of an acre
MEAN_OF_QMD = (-0.259, 0.973)  # arithmetic mean DBH from the quadratic, inches

DENSITY_SLOPE, DENSITY_BASE = 0.00218, 0.00015  # of specific gravity, and beside it
DENSITY_POWER, DENSITY_DBH_CM = 1.6, 25.0

CLASS_CM = 2 * INCH_CM  # diameter classes of two inches, as tallies have them
CLASS_METRIC_CM = 5.0  # and of five centimetres where people measure in those
FEWEST_CLASSES = 3  # fewer give no quotient


@dataclass(frozen=True, slots=True)
class SpeciesShare:
    """One species of a stand, by hectare."""

    name: str
    stems_per_ha: float
    basal_area_m2_per_ha: float


@dataclass(frozen=True, slots=True)
class DiameterClass:
    """Stems of one diameter class, by hectare; ``middle_cm`` is the class's middle."""

    middle_cm: float
    stems_per_ha: float


@dataclass(frozen=True, slots=True)
class Condition:
    """What stands on a hectare.

    Parameters
    ----------
    stems_per_ha, basal_area_m2_per_ha : float
        Of stems with a known DBH.
    qmd_cm : float or None
        Diameter of the stem of mean basal area; None where nothing stands.
    stocking_pct : float
        Percent of the A-line of the upland hardwood chart; below 0 counts as 0.
    relative_density : float
        Ducey & Knapp; 1 is about as dense as mixed stands get.
    a_line_m2_per_ha, b_line_m2_per_ha : float or None
        Basal area on both lines of the chart at this QMD.
    hardwood_share : float or None
        Of the basal area; the chart was made for hardwoods.
    species : tuple of SpeciesShare
        Largest basal area first; names tell what a spelling was taken as.
    classes : tuple of DiameterClass
        Of one width, from the smallest to the largest, empty ones between included.
    q : float or None
        Stems of a class over those of the next larger, as the whole row of classes has
        it; None with `q_reason` where it means nothing.
    q_reason : str
        Why there is no ``q``.
    without_dbh : int
        Listed stems left out because they have no DBH; every figure is then too low.
    """

    stems_per_ha: float
    basal_area_m2_per_ha: float
    qmd_cm: float | None
    stocking_pct: float
    relative_density: float
    a_line_m2_per_ha: float | None
    b_line_m2_per_ha: float | None
    hardwood_share: float | None
    species: tuple[SpeciesShare, ...]
    classes: tuple[DiameterClass, ...]
    q: float | None
    q_reason: str
    without_dbh: int


def basal_area_m2(dbh_cm: ArrayLike) -> Floats:
    """Give the area of stems at breast height.

    Parameters
    ----------
    dbh_cm : array_like of float
        Diameter at breast height, centimetres.

    Returns
    -------
    ndarray of float
        Square metres; NaN where the diameter is.
    """
    return np.asarray(np.pi / 4.0 * (np.asarray(dbh_cm, dtype=float) / 100.0) ** 2)


def qmd_cm(stems_per_ha: float, basal_area_m2_per_ha: float) -> float | None:
    """Give the diameter of the stem of mean basal area.

    Parameters
    ----------
    stems_per_ha, basal_area_m2_per_ha : float
        What stands.

    Returns
    -------
    float or None
        Centimetres; None where nothing stands.

    Examples
    --------
    >>> round(qmd_cm(100, 7.854), 2)
    31.62
    """
    if stems_per_ha <= 0 or basal_area_m2_per_ha <= 0:
        return None
    return float(100.0 * np.sqrt(4.0 / np.pi * basal_area_m2_per_ha / stems_per_ha))


def chart_stocking_pct(stems_per_ha: float, basal_area_m2_per_ha: float) -> float:
    """Read the upland hardwood chart: percent stocking from numbers and basal area.

    The chart's own line from QMD to mean diameter stands in for the stems (Gingrich
    1967); `condition` takes the stems themselves.

    Parameters
    ----------
    stems_per_ha, basal_area_m2_per_ha : float
        What stands.

    Returns
    -------
    float
        Percent of the A-line; 0 where nothing stands.

    Examples
    --------
    >>> round(chart_stocking_pct(200 / 0.40468564, 90 * 0.2295684), 1)
    80.4
    """
    quadratic_cm = qmd_cm(stems_per_ha, basal_area_m2_per_ha)
    if quadratic_cm is None:
        return 0.0
    return float(stems_per_ha * ACRE_HA * _a_tree(A_LINE, quadratic_cm))


def line_m2_per_ha(line: str, quadratic_cm: float) -> float:
    """Give the basal area on a line of the upland hardwood chart.

    Parameters
    ----------
    line : {"A", "B"}
        A: as full as unthinned stands get; B: crowns just close where every tree grew
        in the open. Below B ground is not used, above A trees die of crowding.
    quadratic_cm : float
        QMD, centimetres, above 0.

    Returns
    -------
    float
        Square metres a hectare.

    Raises
    ------
    InputError
        If the line is neither, or the diameter not 5 to 100 cm.

    Examples
    --------
    >>> round(line_m2_per_ha("A", 25.4) / 0.2295684, 1)
    115.4
    """
    if line not in ("A", "B"):
        raise InputError(f'the chart has the lines "A" and "B", not {line!r}')
    if not 5.0 <= quadratic_cm <= 100.0:
        raise InputError(
            f"a mean diameter of {quadratic_cm:g} cm is off the stocking chart (5 to 100 cm)"
        )
    stems_per_ha = 100.0 / _a_tree(A_LINE if line == "A" else B_LINE, quadratic_cm) / ACRE_HA
    return float(stems_per_ha * basal_area_m2(quadratic_cm))


def _a_tree(line: tuple[float, float, float], quadratic_cm: float) -> float:
    """Give percent of an acre that one tree of a QMD takes."""
    inches = quadratic_cm / INCH_CM
    mean = MEAN_OF_QMD[0] + MEAN_OF_QMD[1] * inches
    return line[0] + line[1] * mean + line[2] * inches**2


def relative_density(species: Sequence[str], dbh_cm: ArrayLike, per_ha: ArrayLike) -> float:
    """Give the density of a mixed stand as a share of the densest.

    ``sum n (0.00015 + 0.00218 SG) (D / 25)^1.6`` with stems per hectare, specific
    gravity and DBH in centimetres (Ducey & Knapp 2010).

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm, per_ha : array_like of float, shape (n,)
        DBH, centimetres, and stems per hectare each listed stem stands for.

    Returns
    -------
    float
        1 is about the densest; stems without DBH do not count.

    Examples
    --------
    >>> round(relative_density(["red oak"], [30.0], [300.0]), 4)
    0.5505
    """
    gravity = np.array([s.wood[0] for s in species_table()])[resolve(species).row]
    weight = DENSITY_BASE + DENSITY_SLOPE * gravity
    size = (np.asarray(dbh_cm, dtype=float) / DENSITY_DBH_CM) ** DENSITY_POWER
    return float(np.nansum(np.asarray(per_ha, dtype=float) * weight * size))


def diameter_classes(
    dbh_cm: ArrayLike, per_ha: ArrayLike, width_cm: float = CLASS_CM
) -> tuple[DiameterClass, ...]:
    """Sort stems into diameter classes.

    Classes are centred on whole multiples of their width, as tallies have them: the
    10-inch class holds 9.0 to below 11.0 in.

    Parameters
    ----------
    dbh_cm, per_ha : array_like of float, shape (n,)
        DBH, centimetres, and stems per hectare each stands for.
    width_cm : float, optional
        Width of a class, centimetres.

    Returns
    -------
    tuple of DiameterClass
        From the smallest occupied class to the largest, empty ones between included.
    """
    dbh = np.asarray(dbh_cm, dtype=float)
    weight = np.broadcast_to(np.asarray(per_ha, dtype=float), dbh.shape)
    known = np.isfinite(dbh)
    if not known.any():
        return ()
    index = np.floor(dbh[known] / width_cm + 0.5 + 1e-9).astype(int)
    total = np.bincount(index, weights=weight[known])
    return tuple(
        DiameterClass(float(i * width_cm), float(total[i]))
        for i in range(int(index.min()), total.size)
    )


def quotient(classes: Sequence[DiameterClass]) -> tuple[float | None, str]:
    """Give the quotient between diameter classes, or why there is none.

    The slope of log numbers over diameter, each class weighted by its numbers, turned
    into stems of one class over those of the next larger. Textbook form, from memory.

    Parameters
    ----------
    classes : sequence of DiameterClass
        Of equal width; empty ones are skipped.

    Returns
    -------
    q : float or None
    reason : str
        Empty where there is a quotient.
    """
    held = [c for c in classes if c.stems_per_ha > 0]
    if len(held) < FEWEST_CLASSES:
        are = "class holds" if len(held) == 1 else "classes hold"
        return None, f"only {len(held)} diameter {are} stems; {FEWEST_CLASSES} are needed"
    middle = np.array([c.middle_cm for c in held])
    stems = np.array([c.stems_per_ha for c in held])
    slope = float(np.polyfit(middle, np.log(stems), 1, w=np.sqrt(stems / stems.max()))[0])
    if slope > -1e-9:  # per centimetre; level but for rounding
        return None, "large stems are as many as small ones; a quotient says nothing of them"
    width = float(np.diff([c.middle_cm for c in classes]).min())
    return float(np.exp(-slope * width)), ""


def condition(
    species: Sequence[str],
    dbh_cm: ArrayLike,
    per_ha: ArrayLike,
    *,
    rows: Sequence[str] = (),
    class_cm: float = CLASS_CM,
) -> Condition:
    """Sum up what stands.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm : array_like of float, shape (n,)
        DBH, centimetres; NaN where not known.
    per_ha : array_like of float, shape (n,) or scalar
        Stems per hectare each listed stem stands for. Stems to be taken off again may
        count below 0; what comes out below 0 is then shown as 0.
    rows : sequence of str, length n
        How messages call each stem.
    class_cm : float, optional
        Width of a diameter class, centimetres.

    Returns
    -------
    Condition

    Raises
    ------
    InputFaults
        As in `check_stems`.
    """
    dbh, _, _ = check_stems(dbh_cm, rows=rows)
    known = np.isfinite(dbh)
    weight = np.where(known, np.broadcast_to(np.asarray(per_ha, dtype=float), dbh.shape), 0.0)
    stems = float(weight.sum())
    area = np.nan_to_num(basal_area_m2(dbh)) * weight
    basal = float(area.sum())
    inches = np.nan_to_num(dbh) / INCH_CM
    k0, k1, k2 = A_LINE
    stocking = float((weight * (k0 + k1 * inches + k2 * inches**2)).sum() * ACRE_HA)
    quadratic = qmd_cm(stems, basal)
    on_chart = quadratic is not None and 5.0 <= quadratic <= 100.0
    soft = np.array([s.kind == "softwood" for s in species_table()])[resolve(species).row]
    classes = tuple(
        DiameterClass(c.middle_cm, max(c.stems_per_ha, 0.0))
        for c in diameter_classes(dbh, weight, class_cm)
    )
    q, reason = quotient(classes)
    return Condition(
        stems_per_ha=max(stems, 0.0),
        basal_area_m2_per_ha=max(basal, 0.0),
        qmd_cm=quadratic,
        stocking_pct=max(stocking, 0.0),
        relative_density=max(relative_density(species, dbh, weight), 0.0),
        a_line_m2_per_ha=line_m2_per_ha("A", quadratic) if quadratic and on_chart else None,
        b_line_m2_per_ha=line_m2_per_ha("B", quadratic) if quadratic and on_chart else None,
        hardwood_share=float(np.clip(area[~soft].sum() / basal, 0, 1)) if basal > 0 else None,
        species=_shares(species, weight, area),
        classes=classes,
        q=q,
        q_reason=reason,
        without_dbh=int((~known).sum()),
    )


def _shares(species: Sequence[str], weight: Floats, area: Floats) -> tuple[SpeciesShare, ...]:
    """Add up by species, the largest first; spellings of one tree count as one."""
    stems: dict[str, float] = {}
    basal: dict[str, float] = {}
    for name, w, a in zip(species, weight.tolist(), area.tolist(), strict=True):
        told = called(name)
        stems[told] = stems.get(told, 0.0) + w
        basal[told] = basal.get(told, 0.0) + a
    shares = [SpeciesShare(n, max(stems[n], 0.0), max(basal[n], 0.0)) for n in stems]
    return tuple(sorted(shares, key=lambda s: (-s.basal_area_m2_per_ha, s.name)))


def called(name: str) -> str:
    """Give the one name by which sums go for all spellings of a tree.

    Examples
    --------
    >>> called("RO"), called("N. red oak"), called("gumbo limbo")
    ('northern red oak', 'northern red oak', 'gumbo limbo')
    """
    found = find(name)
    return found.name if found.how != "species" else species_table()[found.row].common_name
