"""What spurs grow on: the tables of the ground, the rules, and the main trail to begin with."""

import math
from dataclasses import replace

from shapely.geometry.base import BaseGeometry

from layout import crossing_ways, fairline, sprouts, water, winch
from layout.geometry import coordinates
from layout.launches import LaunchRules
from layout.network import Branch
from layout.records import Trail
from layout.settings import Limits
from layout.site import Area
from layout.terrain import Terrain

NOTCH_RAD = math.pi / 8
TURN_COST_M2 = 1.0  # a notch of turning; keeps lines from wavering


def prepare(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    opened: BaseGeometry,
    limits: Limits,
    main: Trail,
) -> tuple[sprouts.Grower, Branch]:
    """Lay out the tables of the ground and the rules, and the main trail as the first branch.

    Parameters
    ----------
    area, shape, strips, limits : Area, Terrain, Strips, Limits
        The job.
    opened : geometry
        Where machines may be.
    main : Trail
        The main trail.

    Returns
    -------
    grower : Grower
    trunk : Branch
    """
    settings = area.settings
    trails, objective = settings.trails, settings.objective
    # where loads are bucked and decked no spur passes
    off = opened if area.yard is None else opened.difference(area.yard)
    table = crossing_ways.build(
        area, shape, strips, off, limits, width_m=trails.width_spur_m, weight=objective.spur
    )
    judge = fairline.judge_for(
        area, shape, limits, off, width_m=trails.width_spur_m, weight=objective.spur,
        passages=crossing_ways.passages(area, shape, strips, trails.width_spur_m),
    )  # fmt: skip
    grower = sprouts.Grower(
        ground=table,
        judge=judge,
        pull_ground=winch.prepare(area, shape, strips),
        winch=winch.rules_from(settings),
        launch=LaunchRules(
            radius_m=trails.turn_radius_m,
            angle_deg=trails.junction_angle_deg,
            tolerance_deg=trails.junction_tolerance_deg,
            start_cost_m2=objective.spur_start_m2,
            turn_cost_m2=max(TURN_COST_M2, judge.bend_m2 * NOTCH_RAD),
        ),
        longest_m=trails.spur_length_m,
        body_m=settings.tractor.length_m,
        swing_deg=winch.swing_limit_deg(
            settings.tractor.length_m, settings.tractor.width_m, trails.width_spur_m
        ),
    )
    line = coordinates(main.line)
    return grower, Branch(line, -1, 0.0, fairline.measure(judge, line), built=True)


def undug(area: Area) -> Area:
    """Give the same job with no bench allowed."""
    settings = area.settings
    trails = settings.trails.model_copy(update={"bench_up_to_pct": 0.0})
    return replace(area, settings=settings.model_copy(update={"trails": trails}))
