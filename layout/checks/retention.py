"""What stays in water strips, counted against what their rules ask in numbers.

A cut tree that may stand in the strip by the error of its place, or has no diameter,
is counted against what stays before anything is called well. A bound that is broken in
any case is a stop where the rule is law or rule, a caution where it advises.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from layout.checks.strip_counts import (
    Counted,
    Strip,
    cover,
    ground_m2,
    need,
    share_left,
    strips_of,
    sums,
    thick_enough,
)
from layout.checks.strip_zones import STRETCH_M, Stretch, stretches
from layout.findings import Finding, Level
from layout.rule_words import kept_words
from layout.site import Area
from layout.speech import speak_basal_area, speak_diameter, speak_length
from layout.stocking import FT2_ACRE, basal_area_m2
from layout.strip_widths import UNVERIFIED
from layout.terrain import Terrain
from layout.treatment import Treatment
from layout.units import HECTARE_M2, INCH_M
from layout.water_rules import BINDING

NOISE = 1e-9


def check(area: Area, terrain: Terrain, treatment: Treatment) -> list[Finding]:
    """Hold what stays in each water strip against its rule.

    Parameters
    ----------
    area : Area
        The job; only trees and ground of the stand count, others are not listed.
    terrain : Terrain
        Its ground.
    treatment : Treatment
        Who goes: the marked trees and those in the way of the layout.

    Returns
    -------
    list of Finding
        Nothing for a strip out of which nothing is taken, or whose rule names no
        number. Each rule is held by itself, and all it asks must hold. Where only the
        marked trees are listed what stays is not known.
    """
    found: list[Finding] = []
    for strip in strips_of(area, terrain, treatment):
        if not (strip.perhaps & treatment.taken).any():
            continue
        if not area.trees.full_list:
            found.append(_not_known(strip))
            continue
        found += [
            *_shares(strip),
            *_basal_area(strip),
            *_cover(strip),
            *_along_the_bank(strip),
        ]
    return found


def _level(strip: Strip, counted: Counted, limit: float) -> Level:
    """Judge a figure that must not be under a limit."""
    slack = NOISE * max(1.0, abs(limit))
    if counted.high < limit - slack:
        return _broken(strip)
    return "caution" if counted.low < limit - slack else "ok"


def _broken(strip: Strip) -> Level:
    """Say how grave it is that a bound is broken in any case."""
    return "stop" if strip.row.status in BINDING else "caution"


def _judged(
    strip: Strip,
    counted: Counted,
    limit: float,
    say: Callable[[float], str],
    what: str,
    unit: str,
) -> Finding:
    """Put a figure, its bound and what to do into words."""
    level = _level(strip, counted, limit)
    where = f"in the strip of {strip.body.feature_id}"
    text = f"{say(counted.listed)} {what} {where} stays; rule {strip.rule} asks {say(limit)}"
    if counted.high < limit - NOISE * max(1.0, abs(limit)):
        text += ": leave more of the marked trees there standing"
    elif level == "caution":
        text += (
            f", and it may be {say(counted.low)} by trees at the edge of the strip or without a "
            "DBH: measure those, or leave more standing"
        )
    return _finding(strip, level, text, counted.listed, limit, unit)


def _shares(strip: Strip) -> list[Finding]:
    """Hold shares of basal area, stem wood and, where no stretch is asked, of trees."""
    trees, keep = strip.area.trees, strip.keep
    asked = [
        (keep.ba_pct, basal_area_m2(trees.dbh_cm), "of the basal area"),
        (keep.volume_pct, np.asarray(strip.treatment.harvest.stem_m3), "of the stem wood"),
    ]
    if keep.trees_per_100ft is None:
        asked.append((keep.trees_pct, np.ones(len(trees)), "of the trees"))
    found = []
    for limit, amount, what in asked:
        if limit is None:
            continue
        counted = share_left(*sums(strip, amount))
        if counted is None:
            found.append(_not_known(strip, NO_SIZES))
            continue
        found.append(_judged(strip, counted, limit, _percent(limit), what + _size(strip), "%"))
    return found


def _percent(limit: float) -> Callable[[float], str]:
    """Say percentages with as many figures as part them from a limit."""

    def say(value: float) -> str:
        for digits in (0, 1, 2):
            said = f"{value:.{digits}f}"
            if (float(said) < limit) == (value < limit - NOISE):
                return f"{said} %" if value != limit else f"{limit:g} %"
        return f"just under {limit:g} %"

    return say


def _basal_area(strip: Strip) -> list[Finding]:
    """Hold the basal area an acre that stays in a strip."""
    least = strip.keep.ba_ft2_acre
    size_m2 = 0.0 if strip.cells is None else ground_m2(strip, strip.cells)
    if least is None or size_m2 <= 0:
        return []
    kept, gone = sums(strip, basal_area_m2(strip.area.trees.dbh_cm))
    if kept.high + gone.high <= 0:
        return [_not_known(strip, NO_SIZES)]
    limit, to_ha = least * FT2_ACRE, HECTARE_M2 / size_m2
    counted = Counted(kept.low * to_ha, kept.listed * to_ha, kept.high * to_ha)
    units = strip.area.settings.area.units
    bound = speak_basal_area(limit, units)

    def say(value: float) -> str:
        said = speak_basal_area(value, units)
        return f"just under {said}" if said == bound and value < limit - NOISE else said

    stands = (kept.high + gone.high) * to_ha
    what = f"of basal area{_size(strip)}"
    if stands < limit - NOISE:
        what += f" (of {say(stands)} there now)"
    return [_judged(strip, counted, limit, say, what, "m2/ha")]


def _cover(strip: Strip) -> list[Finding]:
    """Hold the share of ground under crowns that stays so."""
    limit, cells = strip.keep.cover_pct, strip.cells
    if limit is None or cells is None or not strip.here.any():
        return []
    counted = cover(strip, cells)
    if counted is None:
        return [_not_known(strip, NO_SIZES)]
    what = "of what crowns cover"
    return [_judged(strip, counted, limit, _percent(limit), what, "%")]


@dataclass(frozen=True, slots=True)
class _Along:
    """Trees that stay along one stretch of bank, and how many must."""

    level: Level
    kept: int
    need: int
    stretch: Stretch


def _along_the_bank(strip: Strip) -> list[Finding]:
    """Hold the trees that stay along each 100 ft of bank, the two sides by themselves."""
    if strip.keep.trees_per_100ft is None:
        return []
    all_along = [
        along
        for stretch in stretches(strip.area, strip.body, strip.zone)
        if (along := _along(strip, stretch)) is not None
    ]
    if not all_along:
        return []
    order = ("stop", "caution", "ok")
    all_along.sort(key=lambda a: (order.index(a.level), a.kept - a.need, a.stretch.trees[0]))
    worst, bad = all_along[0], sum(along.level != "ok" for along in all_along)
    length = speak_length(STRETCH_M, strip.area.settings.area.units)
    name = strip.body.feature_id
    where = f"on its {worst.stretch.side} side {worst.kept} stay and {worst.need} must"
    if len(all_along) == 1:
        text = f"along about {length} of {name}, out of which trees go, {where}"
    elif bad:
        text = (
            f"too few trees stay in {bad} of {len(all_along)} stretches of about {length} along "
            f"{name} out of which trees go; in the worst, {where}"
        )
    else:
        text = (
            f"enough trees stay in {len(all_along)} stretches of about {length} along {name} out "
            f"of which trees go; in the barest, {where}"
        )
    text = f"{text}. Rule {strip.rule} asks that {kept_words(strip.keep)}"
    if bad:
        text += ": leave more of the marked trees there standing"
    text = text[0].upper() + text[1:]
    tree = int(worst.stretch.trees[0])
    found = _finding(strip, worst.level, text, float(worst.kept), float(worst.need), "", tree)
    return [found]


def _along(strip: Strip, stretch: Stretch) -> _Along | None:
    """Judge one stretch; None where nothing goes out of it."""
    thick, unsure = thick_enough(strip)
    trees, taken, keep = stretch.trees, strip.treatment.taken, strip.keep
    stay = trees[strip.inside[trees] & ~taken[trees]]
    goes = trees[strip.inside[trees] & taken[trees]]
    may_go = trees[strip.perhaps[trees] & taken[trees]]
    if not may_go.size:
        return None
    kept, gone = int(thick[stay].sum()), int(thick[goes].sum())
    most, worst = kept + int(unsure[stay].sum()), int((thick | unsure)[may_go].sum())
    least = need(keep, kept + gone, stretch.length_m)
    doubtful = need(keep, kept + worst, stretch.length_m)
    if most < need(keep, most + gone, stretch.length_m):
        return _Along(_broken(strip), kept, least, stretch)
    if kept < doubtful:
        return _Along("caution", kept, doubtful, stretch)
    return _Along("ok", kept, least, stretch)


def _size(strip: Strip) -> str:
    """Say which trees count, where not all do."""
    least = strip.keep.min_dbh_in
    if not least:
        return ""
    said = speak_diameter(least * 100 * INCH_M, strip.area.settings.area.units)
    return f" of trees {said.replace('.0 in', ' in')} and over"


NO_SIZES = "no tree there has a DBH, so whether enough stays is not known. Measure them"
ONLY_MARKED = (
    "only the marked trees are listed, so whether enough stays is not known. Count what stands "
    "there, or list every tree"
)


def _not_known(strip: Strip, why: str = ONLY_MARKED) -> Finding:
    """Say that what stays cannot be counted."""
    text = (
        f"Trees go out of the strip of {strip.body.feature_id}, where rule {strip.rule} asks that "
        f"{kept_words(strip.keep)}; {why}"
    )
    return _finding(strip, "unknown", text, None, None, "")


def _finding(
    strip: Strip,
    level: Level,
    text: str,
    value: float | None,
    limit: float | None,
    unit: str,
    tree: int | None = None,
) -> Finding:
    """Make a finding; its place is a tree of the stretch, or that which goes nearest the water."""
    if tree is None:
        goes = np.flatnonzero(strip.perhaps & strip.treatment.taken)
        tree = int(goes[np.argmin(strip.zone.distance_m[goes])])
    doubt = "" if strip.row.confirmed else f" ({UNVERIFIED})"
    trees = strip.area.trees
    return Finding(
        code="strip_retention",
        level=level,
        message=text + doubt,
        subject_layer="water",
        subject_id=strip.body.feature_id,
        value=value,
        limit=limit,
        unit=unit,
        source=strip.row.source,
        confirmed=strip.row.confirmed,
        at=(float(trees.x[tree]), float(trees.y[tree])),
    )
