"""The stand that is left, held against the owner's aims and the stocking chart.

It advises and never marks. What is not known is said so: a list of the marked trees
alone tells nothing of what stays.
"""

from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from layout import sources
from layout.checks import gaps
from layout.checks.words import pair
from layout.findings import Finding, Level
from layout.site import Area
from layout.speech import speak_basal_area, speak_diameter, speak_length
from layout.stocking import Condition
from layout.table_cells import listed
from layout.thinning import MARKED_ONLY, MORE_THAN_STANDS
from layout.treatment import Treatment, less
from layout.units import Units

CHART_SHARE = 0.5  # of basal area in hardwoods, under which their chart says nothing; ours
OWN_LIMIT = "your own limit under [treatment]"
NOISE = 1e-6
NOT_RULED_OUT = "but the plots do not rule out less: leave more standing, or measure more plots"


def check(area: Area, treatment: Treatment, landing: BaseGeometry | None) -> list[Finding]:
    """Judge what a marking and a layout leave.

    Parameters
    ----------
    area : Area
        The job; its [treatment] holds the owner's aims, blank ones are not judged.
    treatment : Treatment
        Of that area.
    landing : geometry or None
        The landing, to name gaps that open round it.

    Returns
    -------
    list of Finding
        Where diameters are missing, or plots leave an aim open, the unsafe end is judged.
    """
    found = _heights(area, treatment) + _unknown(area, treatment)
    thinned = treatment.thinning
    if not (treatment.taken & treatment.inside).any():
        return found
    if thinned.reason and thinned.reason != MARKED_ONLY:
        found.append(_told("stand_not_known", "unknown", f"{_capital(thinned.reason)}."))
    found += _removal(area, treatment)
    found += _residual(area, treatment)
    if thinned.after is not None:
        found += _stocking(area, treatment, thinned.after)
    return found + gaps.check(area, treatment, landing)


def _told(code: str, level: str, message: str, **rest: object) -> Finding:
    """Make a finding about the stand as a whole."""
    return Finding(code, level, message, **rest)  # type: ignore[arg-type]


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _unknown(area: Area, treatment: Treatment) -> list[Finding]:
    """Say plainly what a list of the marked trees alone cannot tell."""
    if area.trees.full_list or not len(area.trees):
        return []
    found = []
    if treatment.plots is None:
        found.append(
            _told(
                "stand_not_known",
                "unknown",
                "Only the marked trees are listed: what stands, what is left, the share removed, "
                "stocking and the mix of kinds are not known. Measure plots ([stand] plots), or "
                "list every tree.",
            )
        )
    found.append(
        _told(
            "canopy_not_known",
            "unknown",
            "Only the marked trees are listed: cover, openings, light, and the unmarked trees that "
            "trails and landing take, are not known. Look up and around before each group is cut.",
        )
    )
    return found


def _heights(area: Area, treatment: Treatment) -> list[Finding]:
    """Ask about measured heights far from what the others say."""
    rows = np.flatnonzero(treatment.sizes.heights.doubtful)
    if not rows.size:
        return []
    units = area.settings.area.units
    names = [
        f"{area.trees.tree_id[row]} {speak_length(float(area.trees.height_m[row]), units)}"
        for row in rows
    ]
    return [
        _told(
            "height_far_off",
            "caution",
            f"{rows.size} measured heights lie far from those of like trees ({listed(names)}); "
            "they are used as written. Measure them again.",
            subject_layer="trees",
            subject_id=area.trees.tree_id[int(rows[0])],
            value=float(rows.size),
            source="three spreads and a factor of 1.35 from the others; ours",
            confirmed=False,
        )
    ]


def _who(treatment: Treatment) -> str:
    """Say who goes, to open a sentence."""
    count = int((treatment.in_way & treatment.inside).sum())
    if not count:
        return "The marked trees"
    about = "" if treatment.singled_out else "about "
    trees = f"{about}{count} unmarked tree{'s' if count > 1 else ''}"
    return f"The marked trees, with {trees} in the way of trails, turning places or landing,"


@dataclass(frozen=True, slots=True)
class _Left:
    """Basal area that stays, and how sure it is."""

    mean: float  # without stems that stay and have no DBH
    low: float | None  # None: one plot tells nothing of how far it may be off
    sure: str  # said behind the mean
    reason: str  # why there is no low end


def _left(treatment: Treatment, units: Units) -> _Left | None:
    """Give the basal area that stays; None where it is not known at all."""
    thinned = treatment.thinning
    if not thinned.from_plots:
        if thinned.after is None:
            return None
        mean = thinned.after.basal_area_m2_per_ha
        return _Left(mean, mean, _uncounted(thinned.left_without_dbh), "")
    most = thinned.removed_most_m2_per_ha
    if treatment.plots is None or most is None or thinned.reason == MORE_THAN_STANDS:
        return None
    left = less(treatment.plots.basal_area, most)
    if left.mean is None:
        return None
    guessed = _guessed(treatment, units) if thinned.after is None else ""
    if left.low is None or left.high is None:
        return _Left(left.mean, None, f" ({left.reason}{guessed})", left.reason)
    low, high = (speak_basal_area(value, units) for value in (left.low, left.high))
    sure = (
        f" (from {left.plots} plots: {low} to {high}, with {100 * left.confidence:.0f} % "
        f"confidence{guessed})"
    )
    return _Left(left.mean, left.low, sure, "")


def _uncounted(count: int) -> str:
    """Say how many that stay are in no figure."""
    if not count:
        return ""
    return f" ({_trees(count)} that stay{'s' if count == 1 else ''} without a DBH not counted)"


def _guessed(treatment: Treatment, units: Units) -> str:
    """Say as how thick trees count that go and have no DBH."""
    thinned = treatment.thinning
    if not thinned.taken_without_dbh or thinned.largest_cm is None:
        return ""
    return (
        f"; {_trees(thinned.taken_without_dbh)} that go without a DBH taken as thick as the "
        f"thickest known, {speak_diameter(thinned.largest_cm, units)}"
    )


def _trees(count: int) -> str:
    return f"{count} tree{'s' if count != 1 else ''}"


def _removal(area: Area, treatment: Treatment) -> list[Finding]:
    """Hold the share of basal area that goes against the most that may."""
    limit, thinned = area.settings.treatment.removal_max_pct, treatment.thinning
    if limit is None or thinned.basal_area_range is None:
        return []
    # 33 of 100 alike are 33 %, no more
    least, most = (round(100.0 * part, 6) for part in thinned.basal_area_range)
    if thinned.basal_area_share is not None:
        least = most
    said, bound = pair(most, limit, "%")
    worst, open_why = _by_plots(treatment, most)
    level: Level = "ok"
    tail = f"; {bound} is the most"
    if least != most:
        said = f"{least:.0f} to {said}"
        blind = thinned.taken_without_dbh + thinned.left_without_dbh
        have = "have" if blind != 1 else "has"
        tail = f", for {_trees(blind)} {have} no DBH{_as_thick(treatment, area)}{tail}"
    if least > 100.0 + NOISE:
        said = "more than all"
    if least > limit + NOISE:
        level, tail = "caution", f", over the {bound} you set: leave some of them for the next time"
    elif most > limit + NOISE:
        level, tail = "caution", f"{tail}: measure them, or leave some of the marked standing"
    elif worst > limit + NOISE:
        level = "caution"
        tail = (
            f"; by its plots it may be {min(worst, 100.0):.0f} %, over the {bound} you set: leave "
            "some of them for the next time"
        )
    elif open_why or (thinned.removed is None and thinned.taken_without_dbh):
        level, tail = "unknown", tail + (f"; {open_why}" if open_why else "")
    return [
        _told(
            "removal_share",
            level,
            f"{_who(treatment)} hold {said} of the basal area{tail}.",
            value=most,
            limit=limit,
            unit="%",
            source=str(sources.REMOVAL_THIRD),
            confirmed=sources.REMOVAL_THIRD.confirmed,
        )
    ]


def _as_thick(treatment: Treatment, area: Area) -> str:
    """Say how thick a tree may be that has no DBH."""
    largest = treatment.thinning.largest_cm
    if largest is None:
        return ""
    return f" (up to {speak_diameter(largest, area.settings.area.units)}, the thickest known)"


def _by_plots(treatment: Treatment, most: float) -> tuple[float, str]:
    """Give the share at the low end of the plots, percent, or why there is no such end."""
    thinned, told = treatment.thinning, treatment.plots
    if not thinned.from_plots or told is None or thinned.removed_most_m2_per_ha is None:
        return most, ""
    low = told.basal_area.low
    if thinned.reason == MORE_THAN_STANDS:
        return most, "the plots and the list do not go together"
    if low is None:
        return most, told.basal_area.reason
    gone = thinned.removed_most_m2_per_ha
    if gone <= 0:
        return 0.0, ""
    return (100.0 * gone / low if low > gone else 100.0), ""


def _residual(area: Area, treatment: Treatment) -> list[Finding]:
    """Hold the basal area that stays against the least that shall."""
    limit, units = area.settings.treatment.residual_min_m2_per_ha, area.settings.area.units
    left = _left(treatment, units)
    if limit is None or left is None:
        return []
    said, bound = speak_basal_area(left.mean, units), speak_basal_area(limit, units)
    level: Level = "ok"
    words = f"{bound} is the least"
    if left.mean < limit - NOISE:
        level = "caution"
        words = f"{'just ' if said == bound else ''}below the {bound} you set: leave more standing"
    elif left.low is None:
        level, words = "unknown", f"{words}, and how far this may be off is not known"
    elif left.low < limit - NOISE:
        level, words = "caution", f"{words}, {NOT_RULED_OUT}"
    return [
        _told(
            "residual_low",
            level,
            f"{_who(treatment)} leave {said}{left.sure}; {words}.",
            value=left.mean,
            limit=limit,
            unit="m2/ha",
            source=OWN_LIMIT,
        )
    ]


def _stocking(area: Area, treatment: Treatment, after: Condition) -> list[Finding]:
    """Hold what stays against the B-line of the stocking chart."""
    line = after.b_line_m2_per_ha
    sure = treatment.thinning.basal_area_share is not None  # or before is more than is known
    before = treatment.thinning.before if sure else None
    units = area.settings.area.units
    left = _left(treatment, units)
    if left is None:
        return []
    if after.qmd_cm is None:
        return [_no_mean_tree(after)]
    if line is None or after.hardwood_share is None or after.hardwood_share < CHART_SHARE:
        why = (
            f"{100 * (1 - (after.hardwood_share or 0.0)):.0f} % of what stays is softwood"
            if line is not None
            else f"the mean tree of {speak_diameter(after.qmd_cm, units)} is off the chart"
        )
        goes = "is" if before is None else f"goes from {before.relative_density:.2f} to"
        return [
            _told(
                "stocking_b_line",
                "unknown",
                f"The stocking chart is one of hardwoods and {why}, so its B-line is not used; "
                f"relative density {goes} {after.relative_density:.2f} (1 is about the densest)"
                f"{_uncounted(treatment.thinning.left_without_dbh)}.",
                source=str(sources.MIXED_DENSITY),
            )
        ]
    said, bound = speak_basal_area(left.mean, units), speak_basal_area(line, units)
    size = speak_diameter(after.qmd_cm, units)
    level: Level = "ok"
    words, tail = "above", ""
    if left.mean < line - NOISE:
        level, words = "caution", "under"
        below = None if before is None else before.b_line_m2_per_ha
        tail = (
            "; it stands under it before anything is cut"
            if before is not None and below is not None and before.basal_area_m2_per_ha < below
            else ": ground and light would go unused; leave more standing"
        )
    elif left.low is None:
        level, tail = "unknown", ", and how far this may be off is not known"
    elif left.low < line - NOISE:
        level, tail = "caution", f", {NOT_RULED_OUT}"
    return [
        _told(
            "stocking_b_line",
            level,
            f"{_who(treatment)} leave {said}{left.sure}, {after.stocking_pct:.0f} % stocking, "
            f"{words} the B-line of {bound} for a mean tree of {size}{tail}.",
            value=left.mean,
            limit=line,
            unit="m2/ha",
            source=str(sources.UPLAND_STOCKING),
        )
    ]


def _no_mean_tree(after: Condition) -> Finding:
    """Say that nothing stays, or that the plots are too rough to tell what does."""
    source = str(sources.UPLAND_STOCKING)
    if after.basal_area_m2_per_ha > NOISE:
        words = (
            "By number the marked trees are all the plots hold, by basal area they are not, so the "
            "mean tree that stays and its B-line are not known. Measure more plots."
        )
        return _told("stocking_b_line", "unknown", words, source=source)
    words = "Nothing of the stand stays: that is a clearing, no thinning."
    return _told("stocking_b_line", "caution", words, value=0.0, unit="m2/ha", source=source)
