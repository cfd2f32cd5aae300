"""Openings in the crowns, held against the widest the owner wants, with the trees to leave."""

import math
from typing import Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from layout.crowns import crown_width_m
from layout.findings import Finding
from layout.gap_trees import Crowns, Keeping, keeping
from layout.ground import STEM_SPACE_M
from layout.site import Area
from layout.speech import speak_length
from layout.table_cells import listed
from layout.treatment import Treatment
from layout.units import Units

MOST_GAPS = 12  # told one by one; the rest is counted
OWN_LIMIT = "your own limit under [treatment]"
NOISE = 1e-6
CLOSED_M = 1.0  # what is left is no opening
HERE_M = 2.0  # a tree this near the middle of an opening stands there
WINDS = (
    "east", "north-east", "north", "north-west", "west", "south-west", "south", "south-east",
)  # fmt: skip


def check(area: Area, treatment: Treatment, landing: BaseGeometry | None) -> list[Finding]:
    """Find openings in the crowns wider than the owner wants.

    Parameters
    ----------
    area : Area
        The job; ``treatment.gap_max`` is the owner's, blank is not judged.
    treatment : Treatment
        Of that area.
    landing : geometry or None
        The landing, to name openings round it.

    Returns
    -------
    list of Finding
        One an opening, with its place and the trees to leave; one where none is too
        wide. A list of the marked trees alone tells nothing of crowns: none.
    """
    limit, gaps = area.settings.treatment.gap_max_m, treatment.canopy.gaps
    if limit is None or not area.trees.full_list:
        return []
    if gaps is None:
        return [_told("unknown", f"Openings in the crowns not known: {treatment.canopy.reason}.")]
    units = area.settings.area.units
    wide = [(n, gap) for n, gap in enumerate(gaps, start=1) if gap.diameter_m > limit + NOISE]
    bound = speak_length(limit, units)
    what = "" if treatment.layout_counted else " (trails still to be laid out are not counted)"
    blind = _blind(treatment)
    if not wide:
        largest = gaps[0].diameter_m if gaps else 0.0
        said = f"the widest is {speak_length(largest, units)} across" if gaps else "none is made"
        words = f"Openings in the crowns: {said}; {bound} is the widest you want{what}.{blind}"
        return [_told("ok", words, largest, limit)]
    crowns = _crowns(area, treatment)
    found = []
    for number, gap in wide[:MOST_GAPS]:
        ratio = gap.height_ratio
        tall = f", {ratio:.1f} times the height of the trees round it" if ratio else ""
        round_landing = landing is not None and gap.outline.intersects(landing)
        where = " round the landing" if round_landing else ""
        first = number == wide[0][0]
        more = len(wide) - MOST_GAPS if first else 0
        rest = f" {more} more are wider than that." if more > 0 else ""
        kept = keeping(gap, crowns, area.stand, treatment.cleared, limit)
        middle = gap.outline.representative_point()
        at = (float(middle.x), float(middle.y))
        words = (
            f"Opening G{number}{where} would be {speak_length(gap.diameter_m, units)} across"
            f"{tall}{'' if round_landing else _near(area, at)}; {bound} is the widest you want"
            f"{what}. {_advice(area, treatment, kept, round_landing=round_landing)}{rest}"
            f"{blind if first else ''}"
        )
        found.append(_told("caution", words, gap.diameter_m, limit, f"G{number}", at))
    return found


def _told(
    level: Literal["ok", "caution", "unknown"],
    words: str,
    value: float | None = None,
    limit: float | None = None,
    name: str = "",
    at: tuple[float, float] | None = None,
) -> Finding:
    """Put a finding on openings together."""
    return Finding(
        "gap_wide",
        level,
        words,
        subject_layer="gaps" if name else "",
        subject_id=name,
        value=value,
        limit=limit,
        unit="m" if value is not None else "",
        source=OWN_LIMIT,
        at=at,
    )


def _crowns(area: Area, treatment: Treatment) -> Crowns:
    """Give the crowns as the openings were measured with, and who could be left standing."""
    trees = area.trees
    width = crown_width_m(trees.species, trees.dbh_cm)
    stems = np.asarray(shapely.points(trees.x, trees.y))
    may = trees.to_serve & np.isfinite(width)  # whose crown is not known is not held out as a cure
    may &= np.array([not kind for kind in trees.hazard], dtype=bool)
    for ground in treatment.cleared:
        may &= ~np.asarray(shapely.dwithin(ground, stems, STEM_SPACE_M), dtype=bool)
    guess = np.isnan(width) & treatment.taken
    width = np.where(guess, treatment.widest_m, width)
    return Crowns(trees.x, trees.y, width, treatment.taken, may)


def _blind(treatment: Treatment) -> str:
    """Say that crowns were guessed, or that some are missing."""
    canopy = treatment.canopy
    missing = canopy.without_crown - canopy.guessed
    said = ""
    if canopy.guessed:
        said += (
            f" Trees that go and have no DBH ({canopy.guessed}) count with the widest crown known."
        )
    if missing:
        said += f" Trees that stay and have no DBH ({missing}) close nothing here."
    return said


def _near(area: Area, at: tuple[float, float]) -> str:
    """Say where the middle of an opening is: from the nearest marked tree, whose number shows."""
    trees = area.trees
    rows = np.flatnonzero(trees.to_serve)
    if not rows.size:
        return ""
    east, north = at[0] - trees.x[rows], at[1] - trees.y[rows]
    away = np.hypot(east, north)
    nearest = int(np.lexsort((rows, away))[0])
    name, far = trees.tree_id[int(rows[nearest])], float(away[nearest])
    if far < HERE_M:
        return f", round tree {name}"
    return f", its middle {_from(float(east[nearest]), float(north[nearest]), _units(area))} {name}"


def _units(area: Area) -> Units:
    return area.settings.area.units


def _from(east_m: float, north_m: float, units: Units) -> str:
    """Say how far and which way something is from a tree, by grid north."""
    eighth = round(math.degrees(math.atan2(north_m, east_m)) / 45) % 8
    return f"{speak_length(math.hypot(east_m, north_m), units)} {WINDS[eighth]} of tree"


def _advice(area: Area, treatment: Treatment, kept: Keeping, *, round_landing: bool) -> str:
    """Name the trees that would close it most, or say what else would."""
    smaller = "A smaller landing, or one in the open, makes it less." if round_landing else ""
    if not kept.rows:
        known = " of known DBH" if treatment.canopy.guessed else ""
        return smaller or f"No marked tree{known} in it would close it much by staying."
    names = listed(area.trees.tree_id[row] for row in kept.rows)
    if kept.diameter_m < CLOSED_M:
        return f"Leaving {names} standing would close it. {smaller}".strip()
    across = speak_length(kept.diameter_m, _units(area))
    limit_m = area.settings.treatment.gap_max_m or 0.0
    enough = "" if kept.diameter_m <= limit_m + NOISE else ", and no farther with so few"
    return f"Leaving {names} standing would bring it to {across}{enough}. {smaller}".strip()
