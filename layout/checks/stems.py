"""Stems that trails, turning places and landing take out, or that a trail crowds."""

import numpy as np
import shapely

from layout import sources
from layout.checks.case import CLAIM_ERROR_M, Case, Walked
from layout.checks.words import FROM_RECORD, lengths
from layout.findings import Finding
from layout.table_cells import listed
from layout.units import FOOT_M

KEEP_CLEAR_M = 3 * FOOT_M
MOST_NAMED = 12
EDGE_M = 0.05  # a stem on the very edge may be called either way


def check(case: Case) -> list[Finding]:
    """Count the unmarked stems in the way of a layout, and find keep trees a trail crowds.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        ``unknown`` where leave trees are not mapped, or not well enough.
    """
    area = case.area
    found: list[Finding] = []
    if case.trails and len(area.trees):
        found += _keep(case)
    if not case.trails:
        return found
    why = ""
    if not area.trees.full_list:
        why = "the tree list holds marked trees only"
    elif not len(area.trees):
        why = "the tree list is empty"
    elif area.settings.stand.position_error_m > CLAIM_ERROR_M:
        why = (
            f"tree positions are good to {area.settings.stand.position_error_m:.1f} m only, and "
            f"{CLAIM_ERROR_M} m is needed to speak of single stems"
        )
    if why:
        found.append(
            Finding(
                code="stems_in_trail",
                level="unknown",
                message=f"Unmarked stems in the way of trails and landing not counted: {why}",
                subject_layer="trees",
                source=sources.COMMON_PRACTICE,
            )
        )
        return found
    return found + _inside(case)


def _inside(case: Case) -> list[Finding]:
    """Count unmarked stems in the way, and hold the stated roles against them."""
    trees = case.area.trees
    standing = ~trees.marked
    inside = case.in_trail
    found: list[Finding] = []
    count = int(inside.sum())
    if count:
        share = 100.0 * count / max(int(standing.sum()), 1)
        names = listed([trees.tree_id[row] for row in np.flatnonzero(inside)], MOST_NAMED)
        rest = "; trees.csv of the plan names all" if count > MOST_NAMED else ""
        first = int(np.flatnonzero(inside)[0])
        found.append(
            Finding(
                code="stems_in_trail",
                level="caution",
                message=(
                    f"{count} unmarked {'stem stands' if count == 1 else 'stems stand'} in the way "
                    f"of trails, turning places or landing ({share:.1f} % of the unmarked: {names}"
                    f"{rest}); each needs the owner's mark"
                ),
                subject_layer="trees",
                subject_id=trees.tree_id[first],
                at=(float(trees.x[first]), float(trees.y[first])),
                value=float(count),
                limit=0.0,
                source=sources.COMMON_PRACTICE,
            )
        )
    stated = {o.tree_id: o.role for o in case.outcomes}
    rows = np.flatnonzero(inside)
    cores = [
        w.trail.line.buffer(w.trail.width_m / 2 - EDGE_M, cap_style="flat") for w in case.trails
    ]
    cores += [shape.buffer(-EDGE_M) for shape in case.cleared]
    deep = np.zeros(rows.size, dtype=bool)
    for core in cores:
        deep |= np.asarray(shapely.contains(core, case.tree_points[rows]), dtype=bool)
    for row in rows[deep]:
        name = trees.tree_id[row]
        if stated.get(name) == "leave":
            found.append(
                Finding(
                    code="record_mismatch",
                    level="stop",
                    message=(
                        f"Tree {name} is stated to stay, but a trail, turning place or landing "
                        "takes its ground"
                    ),
                    subject_layer="trees",
                    subject_id=name,
                    source=FROM_RECORD,
                    at=(float(trees.x[row]), float(trees.y[row])),
                )
            )
    return found


def _keep(case: Case) -> list[Finding]:
    """Find keep trees nearer to a trail's edge than roots bear."""
    trees = case.area.trees
    rows = np.array(
        [i for i, reason in enumerate(trees.keep) if reason and not trees.marked[i]], dtype=int
    )
    found: list[Finding] = []
    gaps = [
        shapely.distance(w.trail.line, case.tree_points[rows]) - w.trail.width_m / 2
        for w in case.trails
    ]
    crowded = rows[np.min(gaps, axis=0) < KEEP_CLEAR_M - 1e-6]
    for row in crowded.tolist():
        point = shapely.Point(float(trees.x[row]), float(trees.y[row]))
        near: list[tuple[float, Walked]] = [
            (float(w.trail.line.distance(point)) - w.trail.width_m / 2, w) for w in case.trails
        ]
        gap, walked = min(near, key=lambda item: item[0])
        if gap >= KEEP_CLEAR_M - 1e-6:
            continue
        at = float(walked.trail.line.project(point))
        said, bound = lengths(max(gap, 0.0), KEEP_CLEAR_M, case.units)
        where = "inside" if gap < 0 else f"{said} from the edge of"
        error = float(case.tree_error_m[row])
        doubt = error > CLAIM_ERROR_M
        tail = f"; its place is known to {error:.0f} m only, so look" if doubt else ""
        found.append(
            Finding(
                code="keep_tree_near",
                level="unknown" if doubt else "caution",
                message=(
                    f"Tree {trees.tree_id[row]} ({trees.keep[row]}) stands {where} "
                    f"{walked.called}; keep {bound} off its stem to spare the roots{tail}"
                ),
                subject_layer="trees",
                subject_id=trees.tree_id[row],
                from_m=at,
                to_m=at,
                value=gap,
                limit=KEEP_CLEAR_M,
                unit="m",
                source=sources.COMMON_PRACTICE,
                at=(float(point.x), float(point.y)),
            )
        )
    return found
