"""What a pull's corridor meets: edges of the land, water, hazards, trails, stems."""

from collections.abc import Callable

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout import sources
from layout.checks.case import CLAIM_ERROR_M, Case
from layout.findings import Finding, Level
from layout.land import hazard_rule
from layout.records import Pull
from layout.winch_rules import WinchRules

STEP_M = 0.25
STEM_NOISE_M = 0.01

Note = Callable[[Pull, str, str, float, float, str, sources.Source | str], None]


def corridor(case: Case, rules: WinchRules, pull: Pull, row: int, note: Note) -> list[Finding]:
    """Judge what lies in the way of one pull.

    Parameters
    ----------
    case : Case
        The layout.
    rules : WinchRules
        Limits of a pull.
    pull : Pull
        The pull.
    row : int
        Its tree's row in the tree list.
    note : callable
        Keeps a caution.

    Returns
    -------
    list of Finding
        Stops.

    Notes
    -----
    Planning closes ground by whole cells of the elevation grid, so the corridor's
    edge may pass into closed ground by up to one cell before it is a stop; the
    rope's own line may not pass into it by more than half of one.
    """
    rope = pull.line
    found: list[Finding] = []
    found += _land(case, rules, pull)
    found += _water(case, pull)
    own = {p.trail_id for p in case.positions if p.position_id == pull.position_id}
    for walked in case.trails:
        if walked.trail.trail_id not in own and rope.crosses(walked.trail.line):
            note(
                pull,
                "pull_crosses_trail",
                f"the rope crosses {walked.called}; nobody drives there meanwhile",
                1.0,
                0.0,
                "",
                sources.COMMON_PRACTICE,
            )
    return found + _stems(case, rules, pull, row, note)


def _stop(
    pull: Pull,
    code: str,
    what: str,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    level: Level = "stop",
) -> Finding:
    end = pull.line.coords[-1]
    return Finding(
        code=code,
        level=level,
        message=f"Pull of tree {pull.tree_id} to position {pull.position_id}: {what}",
        subject_layer="pulls",
        subject_id=pull.tree_id,
        value=value,
        limit=limit,
        unit=unit,
        source=sources.COMMON_PRACTICE,
        at=(float(end[0]), float(end[1])),
    )


def _lane(rules: WinchRules, rope: LineString) -> BaseGeometry:
    """Give the corridor, less the last metres at the stump."""
    short = max(rope.length - rules.stump_free_m, 0.0)
    if short <= 0:
        return LineString(rope.coords)
    part = substring(rope, 0.0, short)
    return part.buffer(rules.corridor_m / 2, cap_style="flat")


def _land(case: Case, rules: WinchRules, pull: Pull) -> list[Finding]:
    """Judge the land's edge and the keep-outs."""
    cell = case.terrain.dem.cell_m
    rope, lane = pull.line, _lane(rules, pull.line)
    found: list[Finding] = []
    if not case.land.buffer(0.5 * cell).covers(rope) or not case.land.buffer(cell).covers(lane):
        outside = float(rope.difference(case.land).length)
        what = "its corridor leaves the stand and the ground you may use"
        found.append(_stop(pull, "pull_outside", what, outside, 0.0, "m"))
    for name, shape in case.area.named_keep_outs:
        if shape.buffer(-0.5 * cell).intersects(rope) or shape.buffer(-cell).intersects(lane):
            found.append(_stop(pull, "pull_keep_out", f"its corridor enters keep-out {name}"))
    for hazard in case.area.hazards:
        rule = hazard_rule(hazard.kind)
        gap = float(hazard.geometry.distance(rope))
        if rule.rope or (gap > 0 and gap >= rule.machine_m - 0.5 * cell):
            continue
        kind = hazard.kind.replace("_", " ")
        what = f"the rope would pass {'over' if gap <= 0 else 'too near'} {kind} {hazard.hazard_id}"
        found.append(_stop(pull, "pull_hazard", what, gap, rule.machine_m, "m"))
    return found


def _water(case: Case, pull: Pull) -> list[Finding]:
    """Judge water and strips no rope may enter."""
    rope = pull.line
    found: list[Finding] = []
    for body in case.area.water:
        if not body.geometry.geom_type.endswith("Point") and rope.intersects(body.geometry):
            what = f"the rope would cross {body.water_class} {body.feature_id}"
            found.append(_stop(pull, "pull_water", what))
    dem = case.terrain.dem
    steps = max(1, int(np.ceil(rope.length / STEP_M)))
    points = shapely.get_coordinates(
        shapely.line_interpolate_point(rope, np.linspace(0.0, rope.length, steps + 1))
    )
    r = np.floor((dem.north_m - points[:, 1]) / dem.cell_m).astype(np.int64)
    c = np.floor((points[:, 0] - dem.west_m) / dem.cell_m).astype(np.int64)
    rows, cols = case.no_cable.shape
    inside = (r >= 0) & (c >= 0) & (r < rows) & (c < cols)
    barred = int(case.no_cable[r[inside], c[inside]].sum())
    long = barred * rope.length / (steps + 1)
    if long > 0.75 * dem.cell_m:
        what = "the rope would enter a water strip whose rule does not allow it, or does not say"
        found.append(_stop(pull, "pull_strip", what, long, 0.0, "m"))
    return found


def _stems(case: Case, rules: WinchRules, pull: Pull, row: int, note: Note) -> list[Finding]:
    """Count the stems a pull meets, where single stems may be spoken of."""
    trees = case.area.trees
    if not trees.full_list or case.tree_error_m[row] > CLAIM_ERROR_M:
        return []
    placed, index = case.placed_stems
    widest = float(np.nanmax(trees.dbh_cm, initial=0.0)) / 200.0
    near = index.query(
        pull.line, predicate="dwithin", distance=rules.corridor_m / 2 + rules.rope_clear_m + widest
    )
    rows = np.sort(placed[near])
    if not rows.size:
        return []
    gap = np.asarray(shapely.distance(pull.line, case.tree_points[rows]))
    gap = gap - np.nan_to_num(trees.dbh_cm[rows]) / 200.0
    found: list[Finding] = []
    for i in rows[gap < rules.rope_clear_m - STEM_NOISE_M]:
        what = f"tree {trees.tree_id[i]} stands in the rope's own line"
        found.append(_stop(pull, "pull_rope_stem", what, 1.0, 0.0))
    lane = gap < rules.corridor_m / 2 - STEM_NOISE_M
    kept = [i for i in rows[lane] if trees.keep[i]]
    for i in kept:
        what = f"it would brush tree {trees.tree_id[i]}, kept as {trees.keep[i]}"
        found.append(_stop(pull, "pull_keep_tree", what, 1.0, 0.0))
    plain = int(lane.sum()) - len(kept)
    if plain > rules.leave_hits:
        what = f"it would brush {plain} leave stems, over the {rules.leave_hits:.0f} you set"
        found.append(_stop(pull, "pull_leave_hits", what, float(plain), rules.leave_hits))
    elif plain:
        note(
            pull,
            "pull_brushes",
            "leave stems brushed by one pull: {value}",
            float(plain),
            0.0,
            "",
            sources.LEAVE_DAMAGE,
        )
    if pull.leave_hits is not None and pull.leave_hits < plain - 0.5:
        what = f"{pull.leave_hits:.0f} leave stems stated in its way, {plain} counted"
        found.append(_stop(pull, "record_mismatch", what, pull.leave_hits, float(plain)))
    return found
