"""The stand that is left, held against the owner's aims and the stocking chart.

It advises and never marks. What is not known is said so: a list of the marked trees
alone tells nothing of what stays.
"""

import numpy as np
from shapely.geometry.base import BaseGeometry

from layout import sources
from layout.checks.words import pair
from layout.findings import Finding
from layout.site import Area
from layout.speech import speak_basal_area, speak_diameter, speak_length
from layout.stocking import Condition
from layout.table_cells import listed
from layout.treatment import Treatment, less
from layout.units import Units

MOST_GAPS = 12  # told one by one; the rest is counted
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
    """
    found = _heights(area, treatment) + _unknown(area, treatment)
    thinned = treatment.thinning
    if thinned.removed is None or thinned.before is None:
        return found
    if thinned.after is None:
        return [*found, _told("stand_not_known", "unknown", f"{_capital(thinned.reason)}.")]
    found += _removal(area, treatment)
    found += _residual(area, treatment, thinned.after)
    found += _stocking(area, treatment, thinned.before, thinned.after)
    return found + _gaps(area, treatment, landing)


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


def _plots_say(treatment: Treatment, removed: float, units: Units) -> str:
    """Say how sure a basal area that stays is, where it comes from plots."""
    if treatment.plots is None or not treatment.thinning.from_plots:
        return ""
    left = less(treatment.plots.basal_area, removed)
    if left.low is None or left.high is None:
        return f" ({left.reason})"
    low, high = (speak_basal_area(value, units) for value in (left.low, left.high))
    return (
        f" (from {left.plots} plots: {low} to {high}, with {100 * left.confidence:.0f} % "
        "confidence)"
    )


def _low(treatment: Treatment, after: float) -> float:
    """Give the least basal area that may be left: the low end where plots tell."""
    removed = treatment.thinning.removed
    if treatment.plots is None or not treatment.thinning.from_plots or removed is None:
        return after
    left = less(treatment.plots.basal_area, removed.basal_area_m2_per_ha)
    return after if left.low is None else left.low


def _removal(area: Area, treatment: Treatment) -> list[Finding]:
    """Hold the share of basal area that goes against the most that may."""
    limit, thinned = area.settings.treatment.removal_max_pct, treatment.thinning
    if limit is None or thinned.basal_area_share is None or thinned.removed is None:
        return []
    share = round(100.0 * thinned.basal_area_share, 6)  # 33 of 100 alike are 33 %, no more
    said, bound = pair(share, limit, "%")
    worst = share
    if thinned.from_plots and treatment.plots is not None and treatment.plots.basal_area.low:
        worst = 100.0 * thinned.removed.basal_area_m2_per_ha / treatment.plots.basal_area.low
    over = worst > limit + NOISE
    tail = f", over the {bound} you set" if share > limit + NOISE else f"; {bound} is the most"
    if over and share <= limit + NOISE:
        tail = f"; by its plots it may be {min(worst, 100.0):.0f} %, over the {bound} you set"
    advice = ": leave some of them for the next time" if over else ""
    return [
        _told(
            "removal_share",
            "caution" if over else "ok",
            f"{_who(treatment)} hold {said} of the basal area{tail}{advice}.",
            value=share,
            limit=limit,
            unit="%",
            source=str(sources.REMOVAL_THIRD),
            confirmed=sources.REMOVAL_THIRD.confirmed,
        )
    ]


def _residual(area: Area, treatment: Treatment, after: Condition) -> list[Finding]:
    """Hold the basal area that stays against the least that shall."""
    limit, removed = area.settings.treatment.residual_min_m2_per_ha, treatment.thinning.removed
    if limit is None or removed is None:
        return []
    units = area.settings.area.units
    left = after.basal_area_m2_per_ha
    said, bound = speak_basal_area(left, units), speak_basal_area(limit, units)
    under = _low(treatment, left) < limit - NOISE
    sure = _plots_say(treatment, removed.basal_area_m2_per_ha, units)
    if left < limit - NOISE:
        words = f"{'just ' if said == bound else ''}below the {bound} you set: leave more standing"
    elif under:
        words = f"{bound} is the least, {NOT_RULED_OUT}"
    else:
        words = f"{bound} is the least"
    return [
        _told(
            "residual_low",
            "caution" if under else "ok",
            f"{_who(treatment)} leave {said}{sure}; {words}.",
            value=left,
            limit=limit,
            unit="m2/ha",
            source=OWN_LIMIT,
        )
    ]


def _stocking(
    area: Area, treatment: Treatment, before: Condition, after: Condition
) -> list[Finding]:
    """Hold what stays against the B-line of the stocking chart."""
    removed, line = treatment.thinning.removed, after.b_line_m2_per_ha
    units = area.settings.area.units
    left = after.basal_area_m2_per_ha
    if removed is None:
        return []
    if after.qmd_cm is None:
        return [
            _told(
                "stocking_b_line",
                "caution",
                "Nothing of the list stays: that is a clearing, no thinning.",
                value=0.0,
                unit="m2/ha",
                source=str(sources.UPLAND_STOCKING),
            )
        ]
    if line is None or after.hardwood_share is None or after.hardwood_share < CHART_SHARE:
        why = (
            f"{100 * (1 - (after.hardwood_share or 0.0)):.0f} % of what stays is softwood"
            if line is not None
            else f"the mean tree of {speak_diameter(after.qmd_cm, units)} is off the chart"
        )
        return [
            _told(
                "stocking_b_line",
                "unknown",
                f"The stocking chart is one of hardwoods and {why}, so its B-line is not used; "
                f"relative density goes from {before.relative_density:.2f} to "
                f"{after.relative_density:.2f} (1 is about the densest).",
                source=str(sources.MIXED_DENSITY),
            )
        ]
    said, bound = speak_basal_area(left, units), speak_basal_area(line, units)
    low = _low(treatment, left)
    under = low < line - NOISE
    sure = _plots_say(treatment, removed.basal_area_m2_per_ha, units)
    size = speak_diameter(after.qmd_cm, units)
    words = "under" if left < line - NOISE else "above"
    tail = ""
    if left < line - NOISE:
        below = before.b_line_m2_per_ha
        tail = (
            "; it stands under it before anything is cut"
            if below is not None and before.basal_area_m2_per_ha < below
            else ": ground and light would go unused; leave more standing"
        )
    elif under:
        tail = f", {NOT_RULED_OUT}"
    return [
        _told(
            "stocking_b_line",
            "caution" if under else "ok",
            f"{_who(treatment)} leave {said}{sure}, {after.stocking_pct:.0f} % stocking, {words} "
            f"the B-line of {bound} for a mean tree of {size}{tail}.",
            value=left,
            limit=line,
            unit="m2/ha",
            source=str(sources.UPLAND_STOCKING),
        )
    ]


def _gaps(area: Area, treatment: Treatment, landing: BaseGeometry | None) -> list[Finding]:
    """Find openings in the crowns wider than the owner wants."""
    limit, gaps = area.settings.treatment.gap_max_m, treatment.canopy.gaps
    if limit is None or gaps is None:
        return []
    units = area.settings.area.units
    wide = [(n, gap) for n, gap in enumerate(gaps, start=1) if gap.diameter_m > limit + NOISE]
    bound = speak_length(limit, units)
    what = "" if treatment.layout_counted else " (trails still to be laid out are not counted)"
    if not wide:
        largest = gaps[0].diameter_m if gaps else 0.0
        said = f"the widest is {speak_length(largest, units)} across" if gaps else "none is made"
        return [
            _told(
                "gap_wide",
                "ok",
                f"Openings in the crowns: {said}; {bound} is the widest you want{what}.",
                value=largest,
                limit=limit,
                unit="m",
                source=OWN_LIMIT,
            )
        ]
    found = []
    for number, gap in wide[:MOST_GAPS]:
        place = gap.outline.representative_point()
        ratio = gap.height_ratio
        tall = f", {ratio:.1f} times the height of the trees round it" if ratio else ""
        round_landing = landing is not None and gap.outline.intersects(landing)
        where = " round the landing" if round_landing else ""
        advice = (
            "A smaller landing, or one in the open, makes it less."
            if round_landing
            else "Leave a tree or two in it, unless you want it so."
        )
        more = len(wide) - MOST_GAPS if number == wide[0][0] else 0
        rest = f" {more} more are wider than that." if more > 0 else ""
        found.append(
            _told(
                "gap_wide",
                "caution",
                f"Opening G{number}{where} would be {speak_length(gap.diameter_m, units)} across"
                f"{tall}; {bound} is the widest you want{what}. {advice}"
                f"{rest}",
                subject_layer="gaps",
                subject_id=f"G{number}",
                value=gap.diameter_m,
                limit=limit,
                unit="m",
                source=OWN_LIMIT,
                at=(float(place.x), float(place.y)),
            )
        )
    return found
