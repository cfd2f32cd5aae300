"""What the plan says of every tree of the list: served, or why not and what would."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from layout.grow import Grown
from layout.marginal import Own
from layout.records import Pull, TreeOutcome, TreeStatus
from layout.soil_map import closed_soil
from layout.sprouts import Grower
from layout.winch import REASONS, SHORTFALL_UNIT, Pairs, remedies

Floats = NDArray[np.float64]

TOO_HEAVY_REMEDIES = (
    "leave it standing",
    "a heavier tractor, or one with better grip and brakes",
    "a less steep way to the landing",
)
# Soil that is closed on a wet day may be why a tree has one of these, and comes first where
# nothing else can help: no trail can be led nearer over it, and nobody parks on it.
WAITING_HELPS: frozenset[TreeStatus] = frozenset(
    {"no_trail", "beyond_reach", "parking", "pull_angle", "load_above", "no_turning", "corridor",
     "not_worth_it"}
)  # fmt: skip
WAITING_FIRST: frozenset[TreeStatus] = frozenset({"no_trail", "beyond_reach", "parking"})
NOTHING_OWN = Own(0.0, 0.0)
WAIT = "wait for dry or frozen ground, which opens the poorly drained soil near it"


def outcomes(
    grower: Grower,
    grown: Grown,
    pulls: tuple[Pull, ...],
    in_trail: NDArray[np.bool_],
    mass_kg: Floats,
    volume_m3: Floats,
    own: Mapping[int, Own],
) -> tuple[TreeOutcome, ...]:
    """Give one outcome for each listed tree, in the list's order.

    Parameters
    ----------
    grower, grown : Grower, Grown
        How the network came about.
    pulls : tuple of Pull
        The pulls of the plan.
    in_trail : ndarray of bool, shape (n,)
        Stems in the way of trails, turning places or landing (`ground.stems_in_trails`).
    mass_kg, volume_m3 : ndarray of float, shape (n,)
        Of every listed tree; NaN where unknown.
    own : mapping of int to Own
        What each served tree takes for itself alone (`marginal.own_of_trees`).

    Returns
    -------
    tuple of TreeOutcome
    """
    area = grower.judge.area
    by_tree = {p.tree_id: p for p in pulls}
    misses = _misses(grower, grown)
    row_of = {int(row): t for t, row in enumerate(grower.pull_ground.marked)}
    units = area.settings.area.units
    land = shapely.union_all([area.stand, area.may_use])
    inside = np.asarray(shapely.contains_xy(land, area.trees.x, area.trees.y))
    behind = _behind_closed_soil(grower, grown)
    out: list[TreeOutcome] = []
    for i, tree_id in enumerate(area.trees.tree_id):
        weight = _known(mass_kg[i])
        volume = _known(volume_m3[i])
        if not area.trees.marked[i]:
            role = "in_trail" if in_trail[i] else "leave"
            out.append(
                TreeOutcome(tree_id, "leave", role, mass_kg=weight, volume_m3=volume)  # type: ignore[arg-type]
            )
            continue
        base = TreeOutcome(tree_id, "served", "cut", mass_kg=weight, volume_m3=volume)
        if tree_id in area.trees.done:
            out.append(replace(base, status="done"))
            continue
        if tree_id in by_tree:
            pull = by_tree[tree_id]
            alone = own.get(row_of[i], NOTHING_OWN)
            out.append(
                replace(
                    base,
                    position_id=pull.position_id,
                    margin_m=pull.margin_m,
                    marginal_m2=alone.ground_m2,
                    marginal_trail_m=alone.trail_m,
                )
            )
            continue
        status, shortfall, unit = (
            misses.get(row_of[i], ("no_trail", None, "")) if i in row_of else ("outside", None, "")
        )
        if not inside[i]:
            status, shortfall, unit = "outside", None, ""
        if in_trail[i] and tree_id not in area.trees.set_aside:
            out.append(replace(base, status="with_trail"))
            continue
        if tree_id in area.trees.set_aside:
            out.append(replace(base, status="too_heavy", remedies=TOO_HEAVY_REMEDIES))
            continue
        wanted = _cheapest(grown, row_of[i]) if status == "not_worth_it" else (None, None)
        ways = remedies(status, shortfall, units)
        if behind[i] and status in WAITING_HELPS:
            at = 1 if status in WAITING_FIRST else len(ways)
            ways = (*ways[:at], WAIT, *ways[at:])
        out.append(
            replace(
                base,
                status=status,
                shortfall=shortfall,
                shortfall_unit=unit,
                remedies=ways,
                marginal_m2=wanted[0],
                marginal_trail_m=wanted[1],
            )
        )
    return tuple(out)


def _behind_closed_soil(grower: Grower, grown: Grown) -> NDArray[np.bool_]:
    """Tell which trees closed soil may keep from being served, shape (n,).

    It lies within the longest reach, or between the tree and the nearest trail.
    """
    area = grower.judge.area
    soil = closed_soil(area)
    if soil.is_empty:
        return np.zeros(len(area.trees), dtype=bool)
    shapely.prepare(soil)
    stumps = np.asarray(shapely.points(area.trees.x, area.trees.y))
    trails = shapely.union_all([LineString(branch.line) for branch in grown.branches])
    near = shapely.dwithin(soil, stumps, grower.winch.longest_m)
    between = shapely.intersects(soil, shapely.shortest_line(stumps, trails))
    return np.asarray(near | between)


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _misses(grower: Grower, grown: Grown) -> dict[int, tuple[TreeStatus, float | None, str]]:
    """Give for each marked tree without a pull what came nearest to serving it."""
    found, choice = grown.candidates, grown.choice
    worth = grower.judge.area.settings.objective.serve_worth_m2
    out: dict[int, tuple[TreeStatus, float | None, str]] = {}
    offered = set(found.forest.pair_tree.tolist())
    surveys = [s for s in (found.pairs, grown.survey) if s is not None]
    for t in range(choice.tree_pair.size):
        if choice.tree_pair[t] >= 0:
            continue
        if t in offered:
            out[t] = ("not_worth_it", max(_cheapest(grown, t)[0] - worth, 0.0), "m2")
        elif t in set(found.shut_out.tolist()) or any((s.tree == t).any() for s in surveys):
            out[t] = ("no_turning", None, "")
        else:
            out[t] = _nearest(surveys, t)
    return out


def _nearest(surveys: list[Pairs], t: int) -> tuple[TreeStatus, float | None, str]:
    """Give the reason of the pull that got farthest through the rules."""
    code, shortfall = 0, np.inf
    for survey in surveys:
        reached = int(survey.best_code[t])
        short = float(survey.best_shortfall[t])
        if reached > code or (reached == code and short < shortfall):
            code, shortfall = reached, short
    return (
        REASONS.get(code, "no_trail"),
        float(shortfall) if np.isfinite(shortfall) else None,
        SHORTFALL_UNIT.get(code, ""),
    )


def _cheapest(grown: Grown, t: int) -> tuple[float, float]:
    """Give what serving a tree would take on top of what is built: m2, and metres of trail."""
    forest, choice = grown.candidates.forest, grown.choice
    best = (np.inf, 0.0)
    for k in np.flatnonzero(forest.pair_tree == t):
        segment = int(forest.position_segment[forest.pair_position[k]])
        cost = float(forest.pair_cost[k] + forest.position_cost[forest.pair_position[k]])
        trail_m = 0.0
        while segment >= 0 and not choice.segments[segment]:
            cost += float(forest.segment_cost[segment])
            trail_m += _length_m(grown, segment)
            segment = int(forest.parent[segment])
        best = min(best, (cost, trail_m))
    return float(best[0]), float(best[1])


def _length_m(grown: Grown, segment: int) -> float:
    """Give the length of one segment, metres."""
    found = grown.candidates
    up = int(found.forest.parent[segment])
    same = up >= 0 and found.segment_branch[up] == found.segment_branch[segment]
    return float(found.segment_to_m[segment] - (found.segment_to_m[up] if same else 0.0))
