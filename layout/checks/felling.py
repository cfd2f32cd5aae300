"""Felling distances: marked trees that could reach a wire, a house, a road or the line.

Felling itself is not planned here. These findings say which marked trees stand
too near to be felled without someone else's say, so that nobody learns it with
the saw running.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from layout import sources
from layout.checks.case import Case
from layout.findings import Finding
from layout.land import hazard_rule
from layout.speech import speak_length
from layout.tree_sizes import distance_heights_m

Floats = NDArray[np.float64]

MOST_NAMED = 8
# Who is asked before a tree is felled within reach; common practice, no source.
ASK = {
    "wire": "the utility drops or shields the line first",
    "house": "clear the house and its people first",
    "road": "traffic is stopped, with whoever keeps the road",
    "public_trail": "the trail is closed and watched at both ends",
}


def check(case: Case) -> list[Finding]:
    """Find marked trees within felling reach of hazards and of the property line.

    Parameters
    ----------
    case : Case
        The layout; the trees still to be cut count, wherever they stand.

    Returns
    -------
    list of Finding
        One for each hazard and one for the line, naming the trees.
    """
    trees = case.area.trees
    rows = np.flatnonzero(trees.to_serve)
    if not rows.size:
        return []
    guessed = ~np.isfinite(np.asarray(trees.height_m, dtype=float)[rows])
    height = distance_heights_m(case.area)[rows]
    stems = np.asarray(shapely.points(trees.x[rows], trees.y[rows]))
    found: list[Finding] = []
    for hazard in case.area.hazards:
        lengths = hazard_rule(hazard.kind).tree_lengths
        if lengths <= 0:
            continue
        away = np.asarray(shapely.distance(stems, hazard.geometry))
        near = away < lengths * height
        if near.any():
            name = f"{hazard.kind.replace('_', ' ')} {hazard.hazard_id}"
            what = ASK.get(hazard.kind, "ask whoever owns it first")
            found.append(
                _say(case, "felling_near_hazard", rows, near, away, height, lengths, guessed,
                     f"within two tree lengths of {name}", what, str(sources.TWO_TREE_LENGTHS)),
            )  # fmt: skip
    away = np.asarray(shapely.distance(stems, case.property_edge))
    near = away < height
    if near.any():
        found.append(
            _say(case, "felling_near_line", rows, near, away, height, 1.0, guessed,
                 "within a tree length of the property line", "do not fell across the line",
                 sources.COMMON_PRACTICE),
        )  # fmt: skip
    return found


def _say(
    case: Case,
    code: str,
    rows: NDArray[np.int64],
    near: NDArray[np.bool_],
    away: Floats,
    height: Floats,
    lengths: float,
    guessed: NDArray[np.bool_],
    where: str,
    what: str,
    source: str,
) -> Finding:
    """Put the trees near one thing into a sentence."""
    ids = [case.area.trees.tree_id[row] for row in rows[near]]
    named = ", ".join(ids[:MOST_NAMED]) + (" …" if len(ids) > MOST_NAMED else "")
    tail = _taken_as(case, height[near & guessed])
    nearest = int(np.argmin(np.where(near, away, np.inf)))
    row = int(rows[nearest])
    said = speak_length(float(away[nearest]), case.units)
    count = f"{len(ids)} marked tree{'s' if len(ids) != 1 else ''}"
    stand = "stand" if len(ids) != 1 else "stands"
    return Finding(
        code=code,
        level="caution",
        message=f"{count} {stand} {where} ({named}; nearest {said}): {what}{tail}",
        subject_layer="trees",
        subject_id=case.area.trees.tree_id[row],
        value=float(away[nearest]),
        limit=float(lengths * height[nearest]),
        unit="m",
        source=source,
        confirmed=False,
        at=(float(case.area.trees.x[row]), float(case.area.trees.y[row])),
    )


def _taken_as(case: Case, heights: Floats) -> str:
    """Say as how tall trees counted that were not measured; nothing where all were."""
    if not heights.size:
        return ""
    least, most = (speak_length(float(h), case.units) for h in (heights.min(), heights.max()))
    said = most if least == most else f"{least} to {most}"
    return f"; a height not measured counts as {said}"
