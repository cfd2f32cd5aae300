"""Unmarked stems in the way: one set for outcomes, checks, stand and lists.

A stem within 0.3 m of the edge of what is cleared comes out with it (ours). Places are
drawn by hand, so every distance is arithmetic.
"""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from made_ground import area_of, at, landing_of, main_trail, settings_of, terrain_of, trees_of
from made_plan import layout_only
from shapely.geometry import Point, Polygon
from small_areas import LANDING, list_of, scattered, wood
from test_checks_trails import judged, of, only, pad

from layout import treatment
from layout.forest import PAD_STEP_M
from layout.ground import stems_in_trails
from layout.plan import Plan
from layout.records import TreeOutcome
from layout.site import Area

GENTLE = terrain_of(lambda x, y: 100 + 0.04 * y + 0.05 * x)
MAIN = main_trail((200, 50), (200, 250))
YARD = landing_of(200, 40)  # 187.5 to 212.5 by 27.5 to 52.5
PAD = Point(at(230, 180)).buffer(6, quad_segs=64)
ROWS: list[dict[str, Any]] = [
    {"tree_id": "middle of the landing", "x": 190, "y": 30},
    {"tree_id": "just off the landing", "x": 187.3, "y": 30},
    {"tree_id": "off the landing", "x": 187.1, "y": 30},
    {"tree_id": "on the pad", "x": 232, "y": 180},
    {"tree_id": "just off the pad", "x": 236.2, "y": 180},
    {"tree_id": "off the pad", "x": 236.4, "y": 180},
    {"tree_id": "in the trail", "x": 201.7, "y": 100},
    {"tree_id": "far off", "x": 100, "y": 300},
    {"tree_id": "marked", "x": 195, "y": 35, "marked": True},
]
GOES = ("middle of the landing", "just off the landing", "on the pad", "just off the pad",
        "in the trail")  # fmt: skip


def ground_of(error: str = "1 m") -> Area:
    settings = settings_of(stand={"position_error": error})
    return area_of(GENTLE, settings, trees=trees_of(ROWS))


def test_stems_on_landing_and_turning_places_are_in_the_way_as_those_in_trails_are() -> None:
    area = ground_of()
    out = stems_in_trails(area, [MAIN], {}, [PAD, YARD.shape])
    names = np.array([row["tree_id"] for row in ROWS])
    assert tuple(names[out]) == (*GOES, "marked")
    only_trail = stems_in_trails(area, [MAIN], {})
    assert tuple(names[only_trail]) == ("in the trail",)
    poor = ground_of("5 m")
    assert not stems_in_trails(poor, [MAIN], {}, [PAD, YARD.shape]).any()


def test_the_stand_takes_the_very_stems_that_are_named() -> None:
    area = ground_of()
    named = stems_in_trails(area, [MAIN], {}, [PAD, YARD.shape]) & ~area.trees.marked
    cleared = [MAIN.line.buffer(MAIN.width_m / 2, cap_style="flat"), PAD, YARD.shape]
    assert treatment.treat(area, cleared, named).in_way.tolist() == named.tolist()


def outcomes(gone: tuple[str, ...]) -> list[TreeOutcome]:
    return [
        TreeOutcome(str(row["tree_id"]), "leave", "in_trail" if row["tree_id"] in gone else "leave")
        for row in ROWS[:-1]
    ]


def test_the_check_counts_them_and_catches_one_that_is_said_to_stay() -> None:
    area = ground_of()
    parts: dict[str, Any] = {"landing": YARD, "turning_places": [pad("M1", 130, PAD)]}
    told = judged(GENTLE, MAIN, area=area, trees=outcomes(GOES), **parts)
    found = only(told, "stems_in_trail", "caution")
    assert found.value == 5
    assert "in the way of trails, turning places or landing" in found.message
    assert "owner's mark" in found.message
    assert not of(told, "record_mismatch")
    told = judged(GENTLE, MAIN, area=area, trees=outcomes(("in the trail",)), **parts)
    assert {f.subject_id for f in of(told, "record_mismatch", "stop")} == {
        "middle of the landing", "on the pad",
    }  # fmt: skip


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Plan a small wood with stems on its drawn landing, and where its pads will lie."""
    first = layout_only(wood())
    west, south, _, top = LANDING.bounds
    x0, y0 = np.array([500_000.0, 4_700_000.0])
    rows = scattered()
    rows += [
        {"tree_id": "yard", "x": west + 5 - x0, "y": south + 5 - y0},
        {"tree_id": "edge", "x": west - 0.2 - x0, "y": top - 5 - y0},
    ]
    # a pad shuns a stem, and a spur may go over it: some all round, and round its neighbours
    for place in first.turning_places:
        x, y = place.shape.centroid.coords[0]
        rows += [
            {
                "tree_id": f"pad {place.place_id} {step:+d} {east:+.0f} {north:+.0f}",
                "x": x + east - x0,
                "y": y + north + step * PAD_STEP_M - y0,
            }
            for step in (-1, 0, 1)
            for east in (-3.5, 3.5)
            for north in (-3.5, 3.5)
        ]
    area = wood()
    return layout_only(replace(area, trees=list_of(rows)))


def near(plan: Plan, shape: Polygon) -> set[str]:
    trees = plan.area.trees
    return {
        name
        for name, x, y, cut in zip(trees.tree_id, trees.x, trees.y, trees.marked, strict=True)
        if not cut and shape.distance(Point(x, y)) <= 0.3
    }


@pytest.mark.slow
def test_a_whole_plan_says_one_set_of_them_everywhere(plan: Plan) -> None:
    roles = {o.tree_id for o in plan.trees if o.role == "in_trail"}
    yard = near(plan, plan.landing.shape)
    assert {"yard", "edge"} <= yard
    pads = set().union(*(near(plan, place.shape) for place in plan.turning_places))
    trails = set().union(*(near(plan, t.line.buffer(t.width_m / 2)) for t in plan.trails))
    assert pads - yard - trails  # or nothing is shown of turning places
    assert roles == yard | pads | trails
    assert plan.treatment is not None
    ids = np.array(plan.area.trees.tree_id)
    assert set(ids[plan.treatment.in_way]) == roles
    (found,) = [f for f in plan.findings if f.code == "stems_in_trail"]
    assert found.value == len(roles)
    assert not [f for f in plan.findings if f.code == "record_mismatch"]
