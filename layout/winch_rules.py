"""Every number a pull is judged by, gathered from the settings and the day.

The five rules of a pull, in the order they are tried:

1. reach: ground length against rope and against what a person drags out;
2. the tractor parks near level, and the rope leaves close to its long axis;
3. the load does not lie above the winch, nor would it run down on its own;
4. the corridor is clear: land, water, hazards, stems, humps;
5. winch and rope can move the load.

Tags: *practice* has no published number behind it, *ours* is our choice,
*memory* was not confirmed; all three are unverified.
"""

import math
from dataclasses import dataclass
from typing import Literal, get_args

from layout.findings import Finding
from layout.grip import RUN_FACTOR, on_the_day
from layout.pull_forces import LEVEL_CROSS_PCT, ROPE_FACTOR, anchoring_kn, full_drum_kn
from layout.reach_chance import DOUBTFUL_CHANCE, SURE_CHANCE
from layout.records import TreeStatus
from layout.settings import AreaSettings, limits_in_force
from layout.settings.limits import POOR_GROUND_POINTS, PULL_ANGLE_CEILING_DEG
from layout.sources import COMMON_PRACTICE, LOAD_ABOVE
from layout.tractor import SideLimit, side_limit_table
from layout.units import FOOT_M

CORRIDOR_STEM_M = 6 * FOOT_M  # limbed stems and logs; practice
CORRIDOR_TREE_M = 10 * FOOT_M  # whole trees with their crown; practice
ROPE_CLEAR_M = 1 * FOOT_M  # between the rope's line and a stem's bark; ours
FAIRLEAD_FREE_M = 1.5  # a stem this near the fairlead stands on the trail; half its width
STUMP_FREE_M = 3.0  # this near the stump the corridor's edge may touch what it keeps from; ours
HOOK_HEIGHT_M = 0.3  # choker above the ground at the stump; ours
EXACT_POSITION_M = 1.5  # single stems are spoken of up to this position error

# Widest angle off the parked axis, by cross slope: practice, no published number was found.
ANGLE_EDGES_PCT = (5.0, 10.0)
ANGLE_TABLE_DEG = (30.0, 20.0, 15.0)
DOWNHILL_SHARE = 0.5
ANGLE_CAUTION_DEG = 15.0

PARK_PCT = 10.0  # near level; memory
PARK_STOP_PCT = 15.0  # with the plate dug in
SWING_SLOPE_PCT = 10.0

LOAD_ABOVE_PCT = 20.0
LOAD_ABOVE_CAUTION_PCT = 10.0
UPHILL_FULL_PCT = 20.0  # where the working reach is down to uphill_reach
RUN_CAUTION_SHARE = 0.5
PROFILE_M = 1.0
LOAD_BASELINE_M = 10.0  # a stem lies over about this much ground

MOST_PIECES = 3

TIGHT_M2, DOUBTFUL_M2 = 2.0, 6.0  # paid for anything under sure; ours

Reason = Literal[
    "served",
    "no_position",
    "reach",
    "parking",
    "angle",
    "above",
    "runs",
    "water",
    "outside_land",
    "keep_out",
    "hazard",
    "no_elevation",
    "rope_stem",
    "keep_tree",
    "leave_hits",
    "hump",
    "pull",
    "not_in_stand",
]
# In the order the rules are tried: a higher code got farther.
REASON_NAMES: tuple[Reason, ...] = get_args(Reason)
CODE: dict[str, int] = {name: code for code, name in enumerate(REASON_NAMES)}
REASONS: dict[int, TreeStatus] = {
    CODE["served"]: "served",
    CODE["no_position"]: "no_trail",
    CODE["reach"]: "beyond_reach",
    CODE["parking"]: "parking",
    CODE["angle"]: "pull_angle",
    CODE["above"]: "load_above",
    CODE["runs"]: "load_above",
    CODE["water"]: "blocked_by_water",
    CODE["outside_land"]: "corridor",
    CODE["keep_out"]: "corridor",
    CODE["hazard"]: "corridor",
    CODE["no_elevation"]: "corridor",
    CODE["rope_stem"]: "corridor",
    CODE["keep_tree"]: "corridor",
    CODE["leave_hits"]: "corridor",
    CODE["hump"]: "corridor",
    CODE["pull"]: "too_heavy",
    CODE["not_in_stand"]: "outside",
}
SHORTFALL_UNIT: dict[int, str] = {
    CODE["reach"]: "m",
    CODE["parking"]: "%",
    CODE["angle"]: "deg",
    CODE["above"]: "%",
    CODE["runs"]: "%",
    CODE["water"]: "m",
    CODE["outside_land"]: "m",
    CODE["keep_out"]: "m",
    CODE["hazard"]: "m",
    CODE["no_elevation"]: "m",
    CODE["rope_stem"]: "stems",
    CODE["keep_tree"]: "stems",
    CODE["leave_hits"]: "stems",
    CODE["hump"]: "m",
    CODE["pull"]: "kN",
}

# Bits of a pull's cautions, and what each says.
PLATE_DUG_IN, WIDE_ANGLE, ABOVE, MAY_RUN, BRUSHES, BUCKED, ANCHOR, NO_MASS = (
    1 << bit for bit in range(8)
)
CAUTIONS: dict[int, str] = {
    PLATE_DUG_IN: "parked on more than 10 %: plate dug in",
    WIDE_ANGLE: "more than 15 degrees off the tractor's axis",
    ABOVE: "the load lies above the winch",
    MAY_RUN: "steep enough that the load may run on slick ground",
    BRUSHES: "brushes leave stems",
    BUCKED: "buck the stem before winching",
    ANCHOR: "pulls more than the tyres hold: plate dug in or tractor anchored",
    NO_MASS: "the stem's weight is not known",
}


@dataclass(frozen=True, slots=True)
class WinchRules:
    """All limits and prices of a pull; lengths in metres, prices in square metres.

    Parameters
    ----------
    rope_reach_m : float
        Rope less kept wraps, and the choker.
    working_reach_m, uphill_reach_m, uphill_full_pct : float
        How far rope is dragged by hand on the level, and where the stump is this far above.
    park_pct, park_stop_pct, swing_slope_pct : float
        Ground slope of the parked heading: near level, with the plate dug in, and
        where the tractor may swing off its trail.
    angle_edges_pct, angle_table_deg : tuple of float
        Widest angle by cross slope; the last angle holds above the last edge.
    downhill_share, level_cross_pct : float
        Share of the table's angle allowed towards the lower side, and the cross
        slope under which there is none.
    pull_angle_deg, angle_caution_deg : float
        Limit in force and its softer tier.
    side : SideLimit
        This machine's own limit.
    load_above_pct, load_above_caution_pct : float
        Rise of the stump over ground length.
    run_stop_pct, run_steep_pct, run_caution_pct : float
        Mean slope at which a load would run with the factor counted; slope of a
        stretch at which it would run without one; and the softer tier of a stretch.
    load_baseline_m : float
        Length of such a stretch.
    corridor_m, rope_clear_m, stump_free_m, fairlead_free_m : float
        Corridor width, room between rope and bark, the last metres at the stump
        where the corridor's edge is not judged, and those at the fairlead where
        plain stems stand on the trail.
    leave_hits, hump_m, fairlead_height_m, hook_height_m : float
        Leave stems a pull may brush; ground above the straight rope; rope ends.
    friction, breakout, weight_share : float
        Unsafe end of skid friction, share added at the start, weight with its error.
    pull_limit_kn, anchor_kn, most_pieces : float
        What winch and rope may pull; what the tyres hold lengthwise; pieces a stem
        may be bucked into.
    length_m, track_m, width_m : float
        Outfit: length, between tyres, widest part.
    sure_chance, doubtful_chance, tight_m2, doubtful_m2 : float
        Chances of a stump out of reach up to which a pull is sure, and above which it is
        doubtful, and what is paid for anything less than sure.
    pull_m2_per_m, corridor_weight, stem_brushed_m2, downhill_pull_m2 : float
        Prices of a pull.
    position_error_m, exact_m : float
        Where a tree carries no error of its own; up to which single stems count.
    profile_m : float
        Longest step between two elevations along a pull.
    """

    rope_reach_m: float
    working_reach_m: float
    uphill_reach_m: float
    pull_angle_deg: float
    side: SideLimit
    pull_limit_kn: float
    anchor_kn: float
    friction: float
    run_stop_pct: float
    run_steep_pct: float
    run_caution_pct: float
    corridor_m: float
    leave_hits: float
    hump_m: float
    fairlead_height_m: float
    length_m: float
    track_m: float
    width_m: float
    weight_share: float
    breakout: float
    pull_m2_per_m: float
    corridor_weight: float
    stem_brushed_m2: float
    downhill_pull_m2: float
    position_error_m: float
    uphill_full_pct: float = UPHILL_FULL_PCT
    park_pct: float = PARK_PCT
    park_stop_pct: float = PARK_STOP_PCT
    swing_slope_pct: float = SWING_SLOPE_PCT
    angle_edges_pct: tuple[float, float] = ANGLE_EDGES_PCT
    angle_table_deg: tuple[float, float, float] = ANGLE_TABLE_DEG
    downhill_share: float = DOWNHILL_SHARE
    level_cross_pct: float = LEVEL_CROSS_PCT
    angle_caution_deg: float = ANGLE_CAUTION_DEG
    load_above_pct: float = LOAD_ABOVE_PCT
    load_above_caution_pct: float = LOAD_ABOVE_CAUTION_PCT
    load_baseline_m: float = LOAD_BASELINE_M
    rope_clear_m: float = ROPE_CLEAR_M
    stump_free_m: float = STUMP_FREE_M
    fairlead_free_m: float = FAIRLEAD_FREE_M
    hook_height_m: float = HOOK_HEIGHT_M
    most_pieces: float = MOST_PIECES
    sure_chance: float = SURE_CHANCE
    doubtful_chance: float = DOUBTFUL_CHANCE
    tight_m2: float = TIGHT_M2
    doubtful_m2: float = DOUBTFUL_M2
    exact_m: float = EXACT_POSITION_M
    profile_m: float = PROFILE_M

    @property
    def longest_m(self) -> float:
        """Farthest any pull can go, metres along the ground."""
        return min(self.rope_reach_m, self.working_reach_m)

    def reach_m(self, rise_pct: float) -> float:
        """Give the ground length allowed where the stump lies this far above, percent."""
        share = min(max(rise_pct / self.uphill_full_pct, 0.0), 1.0)
        dragged = self.working_reach_m - share * (self.working_reach_m - self.uphill_reach_m)
        return min(self.rope_reach_m, dragged)

    def table_angle_deg(self, cross_pct: float, *, downhill: bool) -> float:
        """Give the widest angle on a cross slope, the machine's own limit included."""
        cross = abs(cross_pct)
        row = sum(cross > edge + 1e-9 for edge in self.angle_edges_pct)
        angle = self.angle_table_deg[row]
        if downhill and cross > self.level_cross_pct:
            angle *= self.downhill_share
        machine = float(self.side.at(cross, downhill=downhill and cross > 0))
        return min(angle, self.pull_angle_deg, machine)


def swing_limit_deg(length_m: float, width_m: float, trail_width_m: float) -> float:
    """Give how far a tractor can swing off its trail's line and still stand on it.

    The largest ``s`` with ``L sin s + W cos s <= trail width``.

    Parameters
    ----------
    length_m, width_m : float
        Outfit, metres.
    trail_width_m : float
        Trail, metres.

    Returns
    -------
    float
        Degrees; 0 where the trail is no wider than the tractor.

    Examples
    --------
    >>> round(swing_limit_deg(5.0, 1.8, 12 * 0.3048)), round(swing_limit_deg(5.0, 1.8, 10 * 0.3048))
    (24, 15)
    """
    if trail_width_m <= width_m:
        return 0.0
    diagonal = math.hypot(length_m, width_m)
    if trail_width_m >= diagonal:
        return 90.0
    return math.degrees(math.asin(trail_width_m / diagonal) - math.atan2(width_m, length_m))


def rules_from(settings: AreaSettings) -> WinchRules:
    """Gather the rules of a pull from the settings and the day's condition.

    Parameters
    ----------
    settings : AreaSettings
        Read settings.

    Returns
    -------
    WinchRules
        On wet or frozen ground with the lower friction, grip and angle.
    """
    winch, tractor, price = settings.winch, on_the_day(settings), settings.objective
    poor = settings.ground.condition in ("wet", "frozen")
    low, high = tractor.skid_friction
    # A straight pull keeps its ceiling also where a block is at hand for other pulls.
    ceiling = PULL_ANGLE_CEILING_DEG - (POOR_GROUND_POINTS if poor else 0.0)
    return WinchRules(
        rope_reach_m=winch.rope_reach_m,
        working_reach_m=winch.working_reach_m,
        uphill_reach_m=min(winch.uphill_reach_m, winch.working_reach_m),
        pull_angle_deg=min(limits_in_force(settings).pull_angle_deg, ceiling),
        side=side_limit_table(tractor, winch.pull_rating_kn),
        pull_limit_kn=min(full_drum_kn(winch), winch.rope_breaking_kn / ROPE_FACTOR),
        anchor_kn=float(anchoring_kn(tractor)),
        friction=high,
        run_stop_pct=100 * low / RUN_FACTOR,
        run_steep_pct=100 * low,
        run_caution_pct=100 * low * RUN_CAUTION_SHARE,
        corridor_m=CORRIDOR_TREE_M if settings.work.extract == "tree" else CORRIDOR_STEM_M,
        leave_hits=float(winch.leave_hits),
        hump_m=winch.hump_m,
        fairlead_height_m=tractor.fairlead_height_m,
        length_m=tractor.length_m,
        track_m=tractor.track_m,
        width_m=tractor.width_m,
        weight_share=1 + settings.timber.weight_error_pct / 100,
        breakout=settings.work.breakout,
        pull_m2_per_m=price.pull_m2_per_m,
        corridor_weight=price.corridor,
        stem_brushed_m2=price.stem_brushed_m2,
        downhill_pull_m2=price.downhill_pull_m2,
        position_error_m=settings.stand.position_error_m,
    )


def findings_from(settings: AreaSettings) -> tuple[Finding, ...]:
    """Say what the rules of winching cannot judge, or judge against the machine.

    Parameters
    ----------
    settings : AreaSettings
        Read settings.

    Returns
    -------
    tuple of Finding
        Pulls through a snatch block and winched logs, which are not worked out, and the
        machine's own side limit. What the outfit's figures say by themselves is told when
        they are read.
    """
    winch = settings.winch
    found: list[Finding] = []
    if winch.snatch_block:
        found.append(
            Finding(
                "snatch_block",
                "unknown",
                "Pulls through a snatch block are not worked out: only straight pulls are "
                "planned, held to the angle without a block. Choose block trees on the ground.",
                source=str(LOAD_ABOVE),
                confirmed=False,
            )
        )
    if winch.winch_form == "log":
        found.append(
            Finding(
                "winch_form",
                "unknown",
                "Logs are winched, but where they will lie is not worked out: every pull is "
                "checked to the stump, with the whole stem's weight. Lay the tree toward the "
                "tractor where that helps.",
                source=COMMON_PRACTICE,
                confirmed=False,
            )
        )
    level = side_limit_table(on_the_day(settings), winch.pull_rating_kn).uphill_deg[0]
    if level < min(ANGLE_TABLE_DEG[0], winch.pull_angle_deg):
        found.append(
            Finding(
                "side_pull",
                "caution",
                f"At the winch's full rated pull this tractor holds {level:.0f} degrees off its "
                "axis on level ground, plate not counted; pulls are held to that. A heavier "
                "tractor, better grip or a smaller winch allows more.",
                value=level,
                limit=min(ANGLE_TABLE_DEG[0], winch.pull_angle_deg),
                unit="deg",
                source="statics of sliding and tipping, factor 1.5 (ours)",
            )
        )
    return tuple(found)
