"""Poorly drained soil on a wet day: new trails, parked outfits and landings keep off it."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from made_ground import area_of, at, settings_of, strips_of, terrain_of, trees_of
from made_plan import layout_only
from shapely.geometry import Point, box
from shapely.geometry.base import BaseGeometry

from layout.area import read_area
from layout.ground import open_area
from layout.limits import what_limits
from layout.necks import necks
from layout.outcomes import WAIT
from layout.plan import Plan
from layout.site import Area, DrainageClass, SoilUnit
from layout.sites import allowed_land
from layout.soil_map import closed_soil
from layout.terrain import build
from layout.water import strips
from layout.winch import evaluate, prepare, rules_from

METRIC = Path(__file__).parent / "data" / "metric_area"
GENTLE = terrain_of(lambda x, y: 100 + 0.04 * y + 0.05 * x)
BOG = box(*at(100, 100), *at(200, 200))


def made(condition: str, drainage: DrainageClass = "poorly") -> Area:
    return area_of(
        GENTLE,
        settings_of(ground={"condition": condition}),
        soil_map=(SoilUnit("Wa", drainage, BOG),),
        trees=trees_of([{"x": 150, "y": 220, "marked": True}]),
    )


@pytest.mark.parametrize(
    ("condition", "drainage", "shut"),
    [
        ("wet", "poorly", True),
        ("wet", "very poorly", True),
        ("wet", "", True),
        ("wet", "somewhat poorly", False),
        ("wet", "well", False),
        ("dry", "poorly", False),
        ("frozen", "very poorly", False),
    ],
)
def test_only_a_wet_day_closes_only_poorly_drained_soil(
    condition: str, drainage: DrainageClass, shut: bool
) -> None:
    area, bare = made(condition, drainage), replace(made(condition), soil_map=())
    dry = strips_of(GENTLE)
    for room in (open_area, allowed_land):
        lost = room(bare, dry).difference(room(area, dry))
        assert lost.area == pytest.approx(BOG.area if shut else 0, abs=1e-6)
        assert not shut or lost.symmetric_difference(BOG).area < 1e-6


@pytest.mark.parametrize(("condition", "pulls"), [("dry", 2), ("frozen", 2), ("wet", 1)])
def test_nobody_parks_on_closed_soil(condition: str, pulls: int) -> None:
    """Two like places straight below and above a stump, one of them on the soil."""
    area = made(condition)
    ground, rules = prepare(area, GENTLE, strips_of(GENTLE)), rules_from(area.settings)
    x, y = (np.array(part) for part in zip(at(150, 199.5), at(150, 240.5), strict=True))
    rear = np.array([np.pi / 2, -np.pi / 2])
    for anyhow in (False, True):  # on a trail, and on a landing
        found = evaluate(ground, rules, x, y, rear, 20.0, anyhow)
        assert sorted(found.pos.tolist()) == [0, 1][2 - pulls :]
    alone = evaluate(ground, rules, x[:1], y[:1], rear[:1], 20.0, False)
    if condition == "wet":
        assert (alone.best_code[0], alone.best_shortfall[0]) == (3, np.inf)  # parking, no number
    else:
        assert len(alone) == 1


def on_a(condition: str) -> tuple[Area, BaseGeometry]:
    """Give the small area with soft soil across its drawn main trail, and round one tree."""
    area = read_area(METRIC)
    ground = area.settings.ground.model_copy(update={"condition": condition})
    settings = area.settings.model_copy(update={"ground": ground})
    _, south, _, north = area.stand.bounds
    band = box(560160, south, 560240, north)
    round_a_tree = Point(560107, 5400260).buffer(45)  # farther than a stem is winched
    soils = (SoilUnit("Wa", "poorly", band), SoilUnit("Fi", "very poorly", round_a_tree))
    return replace(area, settings=settings, soil_map=soils), shapely.union(band, round_a_tree)


@pytest.fixture(scope="module")
def wet() -> tuple[Plan, BaseGeometry]:
    area, soil = on_a("wet")
    return layout_only(area), soil


def test_a_plan_of_a_wet_day_keeps_off_soft_soil(wet: tuple[Plan, BaseGeometry]) -> None:
    plan, soil = wet
    spurs = [t for t in plan.trails if t.source == "routed"]
    assert spurs
    assert plan.positions
    for spur in spurs:
        covered = spur.line.buffer(spur.width_m / 2, cap_style="flat")
        assert covered.intersection(soil).area < 0.01, spur.trail_id
    for parked in plan.positions:
        assert not soil.intersects(Point(parked.x, parked.y)), parked.position_id
    for place in plan.turning_places:
        assert place.shape.intersection(soil).area < 0.01, place.trail_id


def test_a_drawn_main_trail_stays_and_is_stopped(wet: tuple[Plan, BaseGeometry]) -> None:
    plan, soil = wet
    (main,) = [t for t in plan.trails if t.trail_id == "M"]
    assert main.source == "drawn"
    assert main.line.intersects(soil)
    told = [f for f in plan.findings if f.code.startswith("soil_wet") and f.level == "stop"]
    assert [(f.code, f.subject_id) for f in told] == [("soil_wet_trail", "M")]


def test_trees_lost_to_soft_soil_may_wait(wet: tuple[Plan, BaseGeometry]) -> None:
    plan, _ = wet
    lost = [o for o in plan.trees if o.status in ("no_trail", "beyond_reach", "parking")]
    assert lost
    assert all(o.remedies[0] == "leave it standing" for o in lost)
    assert any(o.remedies[1] == WAIT for o in lost)
    assert not any(WAIT in o.remedies for o in plan.trees if o.status in ("served", "leave"))


def test_what_limits_and_necks_know_of_closed_soil() -> None:
    shares = {}
    for condition in ("frozen", "wet"):  # both hold the limits of poor ground
        area, _ = on_a(condition)
        assert closed_soil(area).is_empty == (condition == "frozen")
        terrain = build(area.dem)
        water = strips(area, terrain)
        shares[condition] = what_limits(area, terrain, water)[0].reached_pct
        assert all(not closed_soil(area).contains(Point(n.x, n.y))
                   for n in necks(area, terrain, water))  # fmt: skip
    assert shares["wet"] < shares["frozen"]
