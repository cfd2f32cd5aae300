"""Spurs as they end up, on several made woods: no limit broken, old trails taken again.

The second opinion is `plan_checker`, which shares no measuring code with the package.
"""

from typing import Any

import numpy as np
import plan_checker
import pytest
import shapely
import small_areas as wood_of
from made_ground import area_of, at, main_trail, terrain_of, trees_of
from made_ground import settings_of as made_settings
from made_plan import layout_only
from shapely.geometry import LineString
from small_areas import settings_of, wood

from layout import fairline, ground, water
from layout.fairline import bend_radius_m
from layout.geometry import along, at_stations, coordinates, cut, fair_curve
from layout.grow import grow
from layout.growing_ground import prepare
from layout.network import Branch
from layout.plan import Plan
from layout.settings import limits_in_force
from layout.site import ExistingTrail
from layout.solver import Solver

TREES: dict[str, dict[str, Any]] = {"work": {"extract": "tree"}, "trails": {"turn_radius": "12 m"}}


def least_radius_m(plan: Plan) -> float:
    """Give the tightest bend of any spur, each followed on past its mouth."""
    by_id = {t.trail_id: t for t in plan.trails}
    least = np.inf
    for trail in plan.trails:
        if trail.kind != "spur":
            continue
        host = by_id[trail.joins_id]
        mouth = trail.joins_at_m or 0.0
        # the trail it leaves may be drawn with bends of its own: from the mouth on
        before = cut(coordinates(host.line), max(mouth - 2.0, 0.0), mouth)
        way = np.concatenate([before[:-1], coordinates(trail.line)])
        at = np.arange(min(mouth, 2.0), LineString(way).length, 0.5)
        least = min(least, float(bend_radius_m(way, at).min()))
    return least


def bend_rad(plan: Plan) -> float:
    """Give how much all spurs bend together, radians."""
    turned = 0.0
    for trail in plan.trails:
        if trail.kind == "spur":
            step = np.diff(coordinates(trail.line), axis=0)
            course = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
            turned += float(np.abs(np.diff(course)).sum())
    return turned


@pytest.mark.parametrize(
    ("seed", "tables"),
    [
        (11, {}),
        pytest.param(12, {}, marks=pytest.mark.slow),
        pytest.param(13, {}, marks=pytest.mark.slow),
        pytest.param(11, TREES, marks=pytest.mark.slow),
        pytest.param(12, TREES, marks=pytest.mark.slow),
    ],
)
def test_no_station_breaks_a_limit_and_every_bend_holds_its_radius(
    seed: int, tables: dict[str, dict[str, Any]]
) -> None:
    area = wood(settings_of(**tables), rows=wood_of.scattered(seed=seed))
    plan = layout_only(area)
    assert sum(t.kind == "spur" for t in plan.trails) >= 2
    assert plan_checker.of_plan(plan) == []
    assert not [f for f in plan.findings if f.level == "stop" and f.subject_layer == "trails"]
    assert least_radius_m(plan) >= 0.98 * area.settings.trails.turn_radius_m


@pytest.mark.slow
def test_whole_trees_are_drawn_on_less_bend_where_bends_cost(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tables = TREES | {"objective": {"serve_worth": "all"}}
    area = wood(settings_of(**tables), rows=wood_of.scattered(marked=18))
    priced = layout_only(area)
    monkeypatch.setattr("layout.fairline.bend_m2_per_rad", lambda area: 0.0)
    free = layout_only(area)
    assert len(priced.pulls) == len(free.pulls)
    assert bend_rad(priced) < bend_rad(free)


# gentle ground on which the straight way is as good as any other
GENTLE = terrain_of(lambda x, y: 100 + 0.03 * y)
STEM = main_trail((200.0, 30.0), (200.0, 200.0))
OLD = fair_curve(np.array([at(200, 52), at(200, 62), at(228, 90), at(262, 90), at(290, 118)]), 12.0)


def spurs_to_one_tree(existing: tuple[ExistingTrail, ...]) -> list[Branch]:
    """Grow to one marked tree that the main trail does not reach."""
    settings = made_settings(trails={"spur_length": "150 m"}, objective={"serve_worth": "all"})
    rows = [{"x": 300.0, "y": 150.0, "marked": True}]
    area = area_of(GENTLE, settings, trees=trees_of(rows), existing=existing)
    strips = water.strips(area, GENTLE)
    opened = ground.open_area(area, strips)
    grower, trunk = prepare(area, GENTLE, strips, opened, limits_in_force(settings), STEM)
    with Solver() as solver:
        grown = grow(
            grower, [trunk], opened, at(200, 20), main_swing_deg=10.0, pad_radius_m=6.0,
            solver=solver, rounds=2,
        )  # fmt: skip
    assert (grown.choice.tree_pair >= 0).all()
    return [b for b in grown.branches if b.parent >= 0]


def share_on_old(branches: list[Branch]) -> float:
    """Give the share of the trails that lies on the old one."""
    old, on, count = LineString(OLD), 0, 0
    for branch in branches:
        at_m = np.arange(0.0, float(along(branch.line)[-1]), 0.5)
        near = shapely.dwithin(old, shapely.points(at_stations(branch.line, at_m)), 2.0)
        on, count = on + int(near.sum()), count + at_m.size
    return on / count


def test_an_old_trail_is_taken_instead_of_a_straight_new_one() -> None:
    straight = spurs_to_one_tree(())
    again = spurs_to_one_tree((ExistingTrail("old", LineString(OLD)),))
    length = [sum(b.length_m for b in found) for found in (straight, again)]
    assert length[1] > length[0] + 3.0  # a way round
    assert share_on_old(straight) < 0.4
    assert share_on_old(again) > 0.7
    # and its metres are priced by the share set for ground driven again
    new = fairline.measure(grown_judge(()), OLD).price_m2[-1]
    old = fairline.measure(grown_judge((ExistingTrail("old", LineString(OLD)),)), OLD).price_m2[-1]
    assert old == pytest.approx(0.25 * new, rel=1e-6)


def grown_judge(existing: tuple[ExistingTrail, ...]) -> fairline.Judge:
    area = area_of(GENTLE, made_settings(), existing=existing)
    opened = ground.open_area(area, water.strips(area, GENTLE))
    return fairline.judge_for(
        area, GENTLE, limits_in_force(area.settings), opened, width_m=3.048, weight=1.0
    )
