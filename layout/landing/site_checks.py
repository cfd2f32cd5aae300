"""The ground a landing lies on: its slope, draws, strips, seeps, lines and hazards."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from layout import sources
from layout.findings import Finding, Level
from layout.grid import bilinear
from layout.land import (
    TREE_LENGTHS,
    hazard_rule,
    hazard_tree_reach_m,
    hazard_trees,
    property_edge,
    setback_m,
    usable_land,
)
from layout.landing.measures import Plane, plane_of
from layout.records import Landing
from layout.site import Area
from layout.speech import speak_area, speak_length
from layout.terrain import Terrain
from layout.units import FOOT_M, Units
from layout.water import Strips

FLAT_PCT, GOOD_PCT, STEEP_PCT = 2.0, 5.0, 8.0
NOISE_PCT = 1e-6
STATED_PCT = 0.5
STRIP_M = 50 * FOOT_M
TOUCH_M2 = 0.05
DRAW_REACH_M = 50 * FOOT_M  # ours: how far beyond the outline the hollow is looked for
DRAW_PCT = 5.0  # ours: both sides lean in by this much
SEEP_REACH_M = 100 * FOOT_M  # ours
WET_CLASSES = ("spring", "seep", "wetland")


@dataclass(frozen=True, slots=True, eq=False)
class Sited:
    """A landing with the ground it is judged on."""

    area: Area
    terrain: Terrain
    strips: Strips
    landing: Landing

    @property
    def units(self) -> Units:
        """Units the user reads."""
        return self.area.settings.area.units

    def far(self, metres: float) -> str:
        """Say a length."""
        return speak_length(metres, self.units)

    def say(
        self,
        code: str,
        level: Level,
        what: str,
        *,
        value: float | None = None,
        limit: float | None = None,
        unit: str = "",
        source: sources.Source | str = sources.COMMON_PRACTICE,
    ) -> Finding:
        """Put one result into words."""
        return Finding(
            code=code,
            level=level,
            message=f"Landing {self.landing.landing_id}: {what}",
            subject_layer="landing",
            subject_id=self.landing.landing_id,
            value=value,
            limit=limit,
            unit=unit,
            source=str(source),
            confirmed=source.confirmed if isinstance(source, sources.Source) else True,
            at=(self.landing.x, self.landing.y),
        )


def slope(case: Sited) -> list[Finding]:
    """Judge the slope of the plane under it."""
    plane = plane_of(case.terrain.dem, case.landing.shape)
    if plane is None:
        what = "slope not checked, the elevation grid does not cover all of it"
        return [case.say("landing_slope", "unknown", what)]
    pct = plane.slope_pct
    level: Level
    if pct > STEEP_PCT + NOISE_PCT:
        level, limit = "stop", STEEP_PCT
        what = f"slopes {pct:.1f} %, over {STEEP_PCT:.0f} %; find flatter ground"
    elif pct > GOOD_PCT + NOISE_PCT:
        level, limit = "caution", GOOD_PCT
        what = f"slopes {pct:.1f} %, past the {GOOD_PCT:.0f} % where care begins"
    elif pct < FLAT_PCT - NOISE_PCT:
        level, limit = "caution", FLAT_PCT
        what = f"slopes {pct:.1f} %, under {FLAT_PCT:.0f} %; water stands on it"
    else:
        level, limit = "ok", GOOD_PCT
        what = f"slopes {pct:.1f} %, between {FLAT_PCT:.0f} and {GOOD_PCT:.0f} %"
    return [
        case.say(
            "landing_slope",
            level,
            what,
            value=pct,
            limit=limit,
            unit="%",
            source=sources.LANDING_SLOPE,
        ),
        *_stated(case, pct),
        *_draw(case, plane),
    ]


def _stated(case: Sited, pct: float) -> list[Finding]:
    """Hold the slope the record states against the ground."""
    stated = case.landing.slope_pct
    if abs(stated - pct) <= STATED_PCT:
        return []
    return [
        case.say(
            "record_mismatch",
            "stop",
            f"slope stated as {stated:.1f} %, measured {pct:.1f} %",
            value=stated,
            limit=pct,
            unit="%",
            source="the record held against its own geometry",
        )
    ]


def _draw(case: Sited, plane: Plane) -> list[Finding]:
    """Look for a hollow: ground that leans in from two opposite sides, and falls out nowhere.

    A nearly level outline has no sure fall, so four directions are tried. Where
    the ground falls away to both sides at right angles to that, it is a saddle.
    """
    reach = math.sqrt(case.landing.shape.area / math.pi) + DRAW_REACH_M
    x, y = case.landing.x, case.landing.y
    turn = plane.downhill_rad + np.arange(8) * math.pi / 4
    ring = bilinear(case.terrain.dem, x + reach * np.cos(turn), y + reach * np.sin(turn))
    lean = 100.0 * (ring - float(bilinear(case.terrain.dem, x, y))) / reach
    if not np.isfinite(lean).all():
        what = "not checked whether it lies in a draw, the elevation grid ends too near"
        return [case.say("landing_draw", "unknown", what)]
    lower, higher = np.minimum(lean[:4], lean[4:]), np.maximum(lean[:4], lean[4:])
    saddle = np.roll(higher, 2) < 0
    across = float(np.where(saddle, -np.inf, lower).max())
    if across < DRAW_PCT - NOISE_PCT:
        return []
    return [
        case.say(
            "landing_draw",
            "caution",
            f"lies in a draw, the ground leans in from both sides by {across:.0f} % or more; "
            "water gathers there",
            value=across,
            limit=DRAW_PCT,
            unit="%",
            source=sources.LANDING_GROUND,
        )
    ]


def water(case: Sited) -> list[Finding]:
    """Judge the distance to strips, and seeps above."""
    found: list[Finding] = []
    for strip in case.strips.polygons:
        gap = float(case.landing.shape.distance(strip.shape))
        if gap >= STRIP_M - 1e-6:
            continue
        where = "reaches into" if gap <= 0 else f"lies {case.far(gap)} from"
        found.append(
            case.say(
                "landing_strip",
                "stop",
                f"{where} the water strip of {strip.feature_id}; "
                f"{case.far(STRIP_M)} outside it is the least",
                value=gap,
                limit=STRIP_M,
                unit="m",
                source=sources.LANDING_WATER,
            )
        )
    dem = case.terrain.dem
    middle_m = float(bilinear(dem, case.landing.x, case.landing.y))
    for feature in case.area.water:
        gap = float(case.landing.shape.distance(feature.geometry))
        if feature.water_class not in WET_CLASSES or gap > SEEP_REACH_M:
            continue
        spot = feature.geometry.representative_point()
        if not float(bilinear(dem, spot.x, spot.y)) > middle_m:
            continue
        found.append(
            case.say(
                "landing_seep",
                "caution",
                f"lies {case.far(gap)} below {feature.water_class} {feature.feature_id}; "
                "it will not dry",
                value=gap,
                limit=SEEP_REACH_M,
                unit="m",
                source=sources.LANDING_GROUND,
            )
        )
    return found


def land(case: Sited) -> list[Finding]:
    """Judge whether it lies on ground the user may use."""
    shape, found = case.landing.shape, []
    outside = float(shape.difference(usable_land(case.area)).area)
    if outside > TOUCH_M2:
        found.append(
            case.say(
                "landing_outside",
                "stop",
                f"{speak_area(outside, case.units)} of it lies outside the stand and the ground "
                "you may use; move it, or add the ground to may_use with permission",
                value=outside,
                limit=0.0,
                unit="m2",
            )
        )
    distance = setback_m(case.area)
    gap = float(shape.distance(property_edge(case.area)))
    if distance > 0 and gap < distance - 1e-6:
        edge = "property line" if case.area.property_line is not None else "stand's edge"
        found.append(
            case.say(
                "landing_setback",
                "stop",
                f"{case.far(gap)} from the {edge}; machines keep {case.far(distance)} off it",
                value=gap,
                limit=distance,
                unit="m",
            )
        )
    for name, closed in case.area.named_keep_outs:
        if shape.intersection(closed).area > TOUCH_M2:
            found.append(case.say("landing_keep_out", "stop", f"reaches into keep-out {name}"))
    return found


def hazards(case: Sited) -> list[Finding]:
    """Judge mapped hazards, and hazard trees that stay."""
    found: list[Finding] = []
    for hazard in case.area.hazards:
        rule = hazard_rule(hazard.kind)
        limit = max(rule.landing_m, rule.machine_m)
        gap = float(case.landing.shape.distance(hazard.geometry))
        if limit <= 0 or gap >= limit - 1e-6:
            continue
        kind = hazard.kind.replace("_", " ")
        where = "lies under" if kind == "wire" and gap <= 0 else f"lies {case.far(gap)} from"
        found.append(
            case.say(
                "landing_hazard",
                "stop",
                f"{where} {kind} {hazard.hazard_id}; keep {case.far(limit)} off it",
                value=gap,
                limit=limit,
                unit="m",
            )
        )
    trees, reach = case.area.trees, hazard_tree_reach_m(case.area)
    for row in hazard_trees(case.area):
        point = shapely.Point(float(trees.x[row]), float(trees.y[row]))
        gap = float(case.landing.shape.distance(point))
        if gap >= reach[row]:
            continue
        tall = case.far(float(reach[row]) / TREE_LENGTHS)
        guess = "" if math.isfinite(trees.height_m[row]) else f", taken as {tall} tall"
        found.append(
            case.say(
                "landing_hazard_tree",
                "stop",
                f"lies {case.far(gap)} from tree {trees.tree_id[row]} "
                f"({trees.hazard[row]}{guess}), which stays; keep two tree lengths off, "
                f"{case.far(float(reach[row]))}, or mark it and cut it first",
                value=gap,
                limit=float(reach[row]),
                unit="m",
                source=sources.TWO_TREE_LENGTHS,
            )
        )
    return found
