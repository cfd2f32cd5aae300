"""Felling distances: marked trees that could reach a wire, a house, a road or the line.

Felling itself is not planned here. These findings say which marked trees stand
too near to be felled without someone else's say, so that nobody learns it with
the saw running.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout import sources
from layout.checks.case import Case
from layout.findings import Finding
from layout.land import hazard_rule
from layout.place_errors import line_error_m, tree_error_m
from layout.site import Area
from layout.speech import speak_length
from layout.tree_sizes import distance_heights_m

Floats = NDArray[np.float64]

MOST_NAMED = 8
LINE_LENGTHS = 1.0  # a tree that cannot reach the line is nobody else's concern; ours
# Who is asked before a tree is felled within reach; common practice, no source.
ASK = {
    "wire": "the utility drops or shields the line first",
    "house": "clear the house and its people first",
    "road": "traffic is stopped, with whoever keeps the road",
    "public_trail": "the trail is closed and watched at both ends",
}


LINE = "line"  # in place of a hazard's kind: the property line


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """Marked trees within felling reach of one thing.

    Parameters
    ----------
    kind : str
        Kind of hazard, or ``line`` for the property line.
    name : str
        The hazard's name; empty for the line.
    rows : ndarray of int, shape (k,)
        Rows of the tree list, in its order.
    away_m, height_m : ndarray of float, shape (k,)
        Distance from the thing, and height counted, metres.
    lengths : float
        Tree lengths that count as within reach.
    error_m : ndarray of float, shape (k,)
        How far off the tree's place and the thing's may be together, metres.
    """

    kind: str
    name: str
    rows: NDArray[np.int64]
    away_m: Floats
    height_m: Floats
    lengths: float
    error_m: Floats

    @property
    def reach_m(self) -> Floats:
        """How near counts as within reach, metres, shape (k,)."""
        return self.lengths * self.height_m + self.error_m


def near(area: Area, edge: BaseGeometry) -> list[Near]:
    """Find marked trees within felling reach of hazards and of the property line.

    Parameters
    ----------
    area : Area
        The job; the trees still to be cut count, wherever they stand.
    edge : shapely geometry
        The property line (`layout.land.property_edge`).

    Returns
    -------
    list of Near
        One for each hazard with such trees, then one for the line. A tree counts as
        near where it may be, given how far off its place, and the line's, may be.
    """
    trees = area.trees
    rows = np.flatnonzero(trees.to_serve)
    if not rows.size:
        return []
    height, own = distance_heights_m(area)[rows], tree_error_m(area)[rows]
    stems = np.asarray(shapely.points(trees.x[rows], trees.y[rows]))
    things = [
        (hazard.kind, hazard.hazard_id, hazard.geometry, hazard_rule(hazard.kind).tree_lengths)
        for hazard in area.hazards
    ]
    found: list[Near] = []
    for kind, name, shape, lengths in (*things, (LINE, "", edge, LINE_LENGTHS)):
        away = np.asarray(shapely.distance(stems, shape))
        error = own + (line_error_m(area) if kind == LINE else 0.0)
        all_of = Near(kind, name, rows, away, height, lengths, error)
        reached = away < all_of.reach_m
        if reached.any():
            found.append(
                Near(kind, name, rows[reached], away[reached], height[reached], lengths,
                     error[reached])
            )  # fmt: skip
    return found


def check(case: Case) -> list[Finding]:
    """Find marked trees within felling reach of hazards and of the property line.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        One for each hazard and one for the line, naming the trees.
    """
    found: list[Finding] = []
    for thing in near(case.area, case.property_edge):
        if thing.kind == LINE:
            found.append(
                _say(case, "felling_near_line", thing, "within a tree length of the property line",
                     "do not fell across the line", sources.COMMON_PRACTICE)
            )  # fmt: skip
        else:
            name = f"{thing.kind.replace('_', ' ')} {thing.name}"
            what = ASK.get(thing.kind, "ask whoever owns it first")
            found.append(
                _say(case, "felling_near_hazard", thing, f"within two tree lengths of {name}",
                     what, str(sources.TWO_TREE_LENGTHS))
            )  # fmt: skip
    return found


def _say(case: Case, code: str, thing: Near, where: str, what: str, source: str) -> Finding:
    """Put the trees near one thing into a sentence."""
    trees = case.area.trees
    ids = [trees.tree_id[row] for row in thing.rows]
    named = ", ".join(ids[:MOST_NAMED]) + (" …" if len(ids) > MOST_NAMED else "")
    guessed = ~np.isfinite(np.asarray(trees.height_m, dtype=float)[thing.rows])
    doubtful = int((thing.away_m >= thing.lengths * thing.height_m).sum())
    tail = f"; {doubtful} of them within the error of places" if doubtful else ""
    tail += _taken_as(case, thing.height_m[guessed])
    nearest = int(np.argmin(thing.away_m))
    row = int(thing.rows[nearest])
    said = speak_length(float(thing.away_m[nearest]), case.units)
    count = f"{len(ids)} marked tree{'s' if len(ids) != 1 else ''}"
    stand = "stand" if len(ids) != 1 else "stands"
    return Finding(
        code=code,
        level="caution",
        message=f"{count} {stand} {where} ({named}; nearest {said}): {what}{tail}",
        subject_layer="trees",
        subject_id=trees.tree_id[row],
        value=float(thing.away_m[nearest]),
        limit=float(thing.reach_m[nearest]),
        unit="m",
        source=source,
        confirmed=False,
        at=(float(trees.x[row]), float(trees.y[row])),
    )


def _taken_as(case: Case, heights: Floats) -> str:
    """Say as how tall trees counted that were not measured; nothing where all were."""
    if not heights.size:
        return ""
    least, most = (speak_length(float(h), case.units) for h in (heights.min(), heights.max()))
    said = most if least == most else f"{least} to {most}"
    return f"; a height not measured counts as {said}"
