"""A suggested lay for every marked tree: tip away from the winch, butt toward it.

A suggestion for planning and no more: the faller decides at the stump, where lean,
crown, rot and wind are seen. The stem is pulled butt first, so the tree is laid away
from the winch, near the pull line going on behind the stump; the farther off it lies,
the wider its crown swings through what stays. A lay that could reach a wire, a house or
a road within two tree lengths, or the property line, water, its strip or a tree kept
for a reason within one, is not suggested; where none is left, none is.

Felling against one another (domino) and felling with the winch are not planned here.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.crowns import crown_width_m
from layout.fall_room import Room, names_near, reaching, room, stems_in
from layout.geometry import azimuth_deg
from layout.grid import bilinear
from layout.land import near_hazard_trees
from layout.place_errors import tree_error_m
from layout.records import Lay, Pull
from layout.site import Area
from layout.terrain import Terrain
from layout.tree_sizes import distance_heights_m
from layout.water import Strips
from layout.wedge import beyond_wedges, lift_m

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

SPREAD_DEG = 45  # off the pull line; up to 30 is better; from memory
EASY_DEG = 30.0
STEP_DEG = 5
AIM_DEG = 15  # a tree may come down this far off the lay that was meant; ours
# What a lay costs, in degrees off the pull line that would be as bad. Ours.
STEM_COST, CROWN_COST, STRIP_COST = 20.0, 2.0, 60.0
SIDE_COST, AGAINST_COST = 5.0, 30.0
WEDGE_COST = 1e6  # beyond wedges, or not known: only where nothing else is left
WITH_DEG, AGAINST_DEG = 45.0, 90.0  # of the natural lean; from memory
STUMP_SHARE = 1.2  # stump over DBH, erring wide; from memory 1.1 to 1.3
BASE_M = 5.0  # half the baseline on which the ground at the stump is read
LEVEL_PCT = 10.0  # under this a stem neither runs nor slides; ours
CROWN_M = 8.0  # width of a crown whose tree has no diameter; ours


@dataclass(frozen=True, slots=True)
class _Lean:
    """How a tree leans; ``known`` False where the list does not say."""

    known: bool
    lean_rad: float
    heading_rad: float

    def off_deg(self, heading_rad: float) -> float | None:
        """Give how far it leans off a direction, degrees; None where upright or not known."""
        if not self.known or self.lean_rad <= 0:
            return None
        turn = (self.heading_rad - heading_rad + math.pi) % (2 * math.pi) - math.pi
        return abs(math.degrees(turn))

    def back_m(self, heading_rad: float, height_m: float) -> float:
        """Give how far the tip hangs back from a direction of fall; 0 where it does not."""
        off = self.off_deg(heading_rad)
        if off is None or off <= AGAINST_DEG:
            return 0.0
        return height_m * math.tan(self.lean_rad) * -math.cos(math.radians(off))


def lays(
    area: Area, terrain: Terrain, strips: Strips, pulls: Sequence[Pull], stays: Mask
) -> tuple[Lay, ...]:
    """Suggest a lay for every marked tree that still stands.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job, its ground and its water strips.
    pulls : sequence of Pull
        Which trees are reached, and from where; lines run from winch to stump.
    stays : ndarray of bool, shape (n,)
        Listed stems that stand while others are felled: those that stay, and marked
        ones that are kept till last.

    Returns
    -------
    tuple of Lay
        In the order of the list. A tree that is not reached, is listed as a hazard, or
        stands within two tree lengths of one that stays, has no suggestion; nor has one
        whose every lay within 45 degrees of its pull line would meet what it must not, or
        ask more of wedges than they do, or leans back from all of them while its diameter,
        and so the lift, is not known.
    """
    trees = area.trees
    rows = np.flatnonzero(trees.to_serve)
    if not rows.size:
        return ()
    height = distance_heights_m(area)
    crown = np.nan_to_num(crown_width_m(trees.species, trees.dbh_cm), nan=CROWN_M)
    pull_of = {pull.tree_id: pull for pull in pulls}
    around = room(area, strips, stays)
    error = tree_error_m(area)
    near_bad = {near for them in near_hazard_trees(area).values() for near in them.tolist()}
    out = []
    for row in rows.tolist():
        name = trees.tree_id[row]
        x, y = float(trees.x[row]), float(trees.y[row])
        slope, down = _ground(terrain, x, y)
        lean = _lean(float(trees.lean_deg[row]), float(trees.lean_azimuth_deg[row]))
        blank = Lay(
            tree_id=name,
            position_id=pull_of[name].position_id if name in pull_of else "",
            azimuth_deg=None,
            off_pull_deg=None,
            why_none="",
            barred_by=(),
            height_m=float(height[row]),
            height_measured=bool(np.isfinite(trees.height_m[row])),
            lean="" if lean.known else "unknown",
            lean_off_deg=None,
            ground="unknown" if slope is None else "level" if slope < LEVEL_PCT else "",
            slope_pct=slope,
            in_way=None,
            near=names_near(around.bars, x, y, float(height[row]), float(error[row])),
        )
        if trees.hazard[row]:
            out.append(replace(blank, why_none="bad_tree"))
        elif row in near_bad:
            out.append(replace(blank, why_none="bad_tree_near"))
        elif name not in pull_of:
            out.append(replace(blank, why_none="not_reached"))
        else:
            tree = _Tree(
                x=x,
                y=y,
                height_m=float(height[row]),
                crown_m=float(crown[row]),
                error_m=float(error[row]),
                stump_m=STUMP_SHARE * float(trees.dbh_cm[row]) / 100,
                lean=lean,
                slope_pct=slope,
                down_rad=down,
            )
            out.append(_laid(blank, tree, _away(pull_of[name]), around, area))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class _Tree:
    """One tree to be felled, metres and radians."""

    x: float
    y: float
    height_m: float
    crown_m: float
    error_m: float
    stump_m: float  # NaN where the diameter is not known
    lean: _Lean
    slope_pct: float | None
    down_rad: float


def _lean(lean_deg: float, azimuth: float) -> _Lean:
    """Read a lean; one without the way it leans is not known, unless it is none."""
    known = lean_deg == 0 or math.isfinite(lean_deg + azimuth)
    if not known:
        return _Lean(False, 0.0, 0.0)
    pointing = azimuth if math.isfinite(azimuth) else 0.0
    return _Lean(True, math.radians(lean_deg), math.radians(90.0 - pointing))


def _away(pull: Pull) -> float:
    """Give the direction away from the winch, on behind the stump, radians."""
    (x0, y0), (x1, y1) = pull.line.coords[0][:2], pull.line.coords[-1][:2]
    return math.atan2(y1 - y0, x1 - x0)


def _ground(terrain: Terrain, x: float, y: float) -> tuple[float | None, float]:
    """Read slope, percent, and the direction straight downhill at a stump."""
    east, west, north, south = bilinear(
        terrain.smooth,
        x + np.array([BASE_M, -BASE_M, 0.0, 0.0]),
        y + np.array([0.0, 0.0, BASE_M, -BASE_M]),
    ).tolist()
    rise_x, rise_y = (east - west) / (2 * BASE_M), (north - south) / (2 * BASE_M)
    if not math.isfinite(rise_x + rise_y):
        return None, 0.0
    return 100 * math.hypot(rise_x, rise_y), math.atan2(-rise_y, -rise_x)


def _laid(blank: Lay, tree: _Tree, away: float, around: Room, area: Area) -> Lay:
    """Choose the lay that costs least among those that meet nothing they must not."""
    wide = SPREAD_DEG + AIM_DEG
    off = np.arange(-wide, wide + 1, STEP_DEG)
    heading = away + np.radians(off.astype(float))
    barred, named, cost = _barred(tree, heading, around)
    steps = AIM_DEG // STEP_DEG
    near = np.convolve(barred, np.ones(2 * steps + 1), mode="same") > 0
    cost = cost + np.abs(off) + np.maximum(np.abs(off) - EASY_DEG, 0.0)
    by_stem, kept, names = _on_stems(tree, heading, around, area)
    if by_stem is not None:
        cost = cost + kept[1]
        near = near | kept[0]
    cost = cost + np.array([_lean_cost(tree, float(h)) for h in heading])
    free = np.flatnonzero((np.abs(off) <= SPREAD_DEG) & ~near).tolist()
    met = tuple(dict.fromkeys((*named, *names)))
    if not free:
        return replace(blank, why_none="barred", barred_by=met)
    # the lesser turn, then the one to the right, where two cost the same
    best = min(free, key=lambda k: (round(float(cost[k]), 6), abs(int(off[k])), int(off[k])))
    course = float(heading[best])
    lean_off = tree.lean.off_deg(course)
    lift, past = _wedging(tree, course)
    if past:  # it costs most, so every other lay that is left is past them too
        return replace(
            blank, why_none="lean" if lift is not None else "lean_unknown", barred_by=met,
            lean="against", lean_off_deg=lean_off, wedge_lift_m=lift,
            beyond_wedges=lift is not None,
        )  # fmt: skip
    trees = area.trees
    return replace(
        blank,
        azimuth_deg=azimuth_deg(course),
        off_pull_deg=0.0 - float(off[best]),
        barred_by=met,
        lean=_lean_word(tree.lean, lean_off),
        lean_off_deg=lean_off,
        ground=_ground_word(tree, course),
        in_way=None
        if by_stem is None or around.stems is None
        else tuple(trees.tree_id[r] for r in around.stems.rows[by_stem[best]]),
        wedge_lift_m=lift,
    )


def _barred(tree: _Tree, heading: Floats, around: Room) -> tuple[Mask, list[str], Floats]:
    """Find the directions in which it would meet lines, water and strips."""
    barred = np.zeros(heading.size, dtype=bool)
    cost = np.zeros(heading.size)
    named: list[str] = []
    for bar in around.bars:
        reach = bar.lengths * tree.height_m + bar.more_m + tree.error_m
        met = reaching(bar.shape, tree.x, tree.y, heading, reach, tree.crown_m)
        if met.any():
            barred |= met
            named.append(bar.name)
    reach = tree.height_m + tree.error_m
    met = reaching(around.strips, tree.x, tree.y, heading, reach, tree.crown_m)
    if met.any() and around.strips.intersects(shapely.Point(tree.x, tree.y)):
        # it stands in the strip: then the lay that takes least of its length in there
        butt = np.tile([tree.x, tree.y], (heading.size, 1))
        tip = butt + reach * np.column_stack([np.cos(heading), np.sin(heading)])
        stems = shapely.linestrings(np.stack([butt, tip], axis=1))
        inside = shapely.length(shapely.intersection(stems, around.strips))
        cost = STRIP_COST * np.asarray(inside) / reach
    elif met.any():
        barred |= met
        named.append("water strip")
    return barred, named, cost


def _on_stems(
    tree: _Tree, heading: Floats, around: Room, area: Area
) -> tuple[Mask | None, tuple[Mask, Floats], list[str]]:
    """Find the stems in the way: which, where none may be, and what each lay costs by them."""
    none = np.zeros(heading.size, dtype=bool)
    if around.stems is None:
        return None, (none, np.zeros(heading.size)), []
    stems = around.stems
    by_stem, by_crown = stems_in(stems, tree.x, tree.y, heading, tree.height_m, tree.crown_m)
    kept = (by_stem | by_crown) & stems.barred
    cost = STEM_COST * by_stem.sum(axis=1) + CROWN_COST * by_crown.sum(axis=1)
    named = []
    for row in stems.rows[kept.any(axis=0)].tolist():
        why = area.trees.keep[row] or area.trees.hazard[row]
        named.append(f"tree {area.trees.tree_id[row]} ({why.replace('_', ' ')})")
    return by_stem, (np.asarray(kept.any(axis=1)), np.asarray(cost)), named


def _lean_cost(tree: _Tree, heading: float) -> float:
    """Price a direction by the natural lean; 0 where it is not known."""
    off = tree.lean.off_deg(heading)
    if off is None or off <= WITH_DEG:
        return 0.0
    if off <= AGAINST_DEG:
        return SIDE_COST
    return AGAINST_COST + (WEDGE_COST if _wedging(tree, heading)[1] else 0.0)


def _wedging(tree: _Tree, heading: float) -> tuple[float | None, bool]:
    """Give the wedge lift a back lean asks for, and whether no lay is to count on wedges.

    None where it hangs back by what is not known in lifts, for want of a diameter:
    that may be more than wedges are for.
    """
    back = tree.lean.back_m(heading, tree.height_m)
    if back <= 0:
        return None, False
    if not (0 < tree.stump_m < tree.height_m):
        return None, True
    return (
        float(lift_m(back, tree.height_m, tree.stump_m)),
        bool(beyond_wedges(back, tree.height_m, tree.stump_m)),
    )


def _lean_word(
    lean: _Lean, off_deg: float | None
) -> Literal["unknown", "upright", "with", "side", "against"]:
    if not lean.known:
        return "unknown"
    if off_deg is None:
        return "upright"
    return "with" if off_deg <= WITH_DEG else "side" if off_deg <= AGAINST_DEG else "against"


def _ground_word(
    tree: _Tree, heading: float
) -> Literal["unknown", "level", "uphill", "downhill", "across"]:
    """Say how the ground lies under a fall: within 45 degrees of straight down or up, or across."""
    if tree.slope_pct is None:
        return "unknown"
    if tree.slope_pct < LEVEL_PCT:
        return "level"
    down = math.cos(heading - tree.down_rad)
    return "downhill" if down > math.sqrt(0.5) else "uphill" if down < -math.sqrt(0.5) else "across"
