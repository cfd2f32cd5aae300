"""Hazard trees that nobody marked: they stand on, and whoever works near them must know.

That a trail or the landing comes too near one is told where the trail and the
landing are judged. This says once of all of them how far everybody keeps off, also
where no trail is near: the faller and whoever pulls the rope go farther than trails.
"""

from __future__ import annotations

import math

import numpy as np

from layout import sources
from layout.checks.case import Case
from layout.findings import Finding
from layout.land import near_hazard_trees
from layout.speech import speak_length

MOST_NAMED = 12


def check(case: Case) -> list[Finding]:
    """Find hazard trees that stand and are not marked to be cut.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        One caution for all of them, the farthest reaching first, and one for each within
        whose distance work is planned; empty where there is none. Two tree lengths after
        `layout.sources.TWO_TREE_LENGTHS`.
    """
    trees = case.area.trees
    cut = near_hazard_trees(case.area)
    rows = np.array(list(cut), dtype=int)
    if not rows.size:
        return []
    reach = case.hazard_reach_m
    rows = rows[np.lexsort((rows, -reach[rows]))]
    named = _listed(
        [
            f"{trees.tree_id[row]} ({trees.hazard[row].replace('_', ' ')}, "
            f"{speak_length(float(reach[row]), case.units)})"
            for row in rows
        ]
    )
    guessed = not np.isfinite(np.asarray(trees.height_m, dtype=float)[rows]).all()
    tail = "; a height not measured errs tall" if guessed else ""
    one = rows.size == 1
    first = int(rows[0])
    return [
        Finding(
            code="hazard_trees_standing",
            level="caution",
            message=(
                f"{rows.size} hazard tree{' stands and is' if one else 's stand and are'} not "
                f"marked: {named}. Everybody keeps two tree lengths off, the "
                f"distance beside {'it' if one else 'each'}{tail}; or mark "
                f"{'it' if one else 'them'} and cut {'it' if one else 'them'} before any other "
                "work near"
            ),
            subject_layer="trees",
            subject_id=trees.tree_id[first],
            value=float(rows.size),
            source=str(sources.TWO_TREE_LENGTHS),
            at=(float(trees.x[first]), float(trees.y[first])),
        ),
        *(
            found
            for row in rows.tolist()
            if (found := _work_inside(case, row, cut[row].tolist())) is not None
        ),
    ]


def _work_inside(case: Case, row: int, near: list[int]) -> Finding | None:
    """Tell of the marked trees and winch positions within the distance of one of them."""
    trees, reach_m = case.area.trees, float(case.hazard_reach_m[row])
    x, y = float(trees.x[row]), float(trees.y[row])
    cut = [trees.tree_id[k] for k in near]
    parked = [p.position_id for p in case.positions if math.hypot(p.x - x, p.y - y) < reach_m]
    told = [
        f"{word}{'s' if len(names) > 1 else ''} {_listed(names)}"
        for word, names in (("marked tree", cut), ("winch position", parked))
        if names
    ]
    if not told:
        return None
    return Finding(
        code="hazard_work_inside",
        level="caution",
        message=(
            f"Work is planned within {speak_length(reach_m, case.units)} of hazard tree "
            f"{trees.tree_id[row]}, which is not marked: {' and '.join(told)}. Nobody works there "
            "before it is down: mark it and have it cut first by who can, or unmark those trees"
        ),
        subject_layer="trees",
        subject_id=trees.tree_id[row],
        value=float(len(cut) + len(parked)),
        source=str(sources.TWO_TREE_LENGTHS),
        at=(x, y),
    )


def _listed(names: list[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{', '.join(names[:MOST_NAMED])}{more}"
