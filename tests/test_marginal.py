"""What a tree takes for itself alone, against a network pruned by hand."""

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import shapely
from made_ground import area_of, at, line, main_trail, settings_of, spur, terrain_of, trees_of
from made_plan import layout_only
from shapely.geometry import MultiPolygon, Point, box
from shapely.ops import substring

from layout.grow import Grown
from layout.marginal import Own, own_of_trees, pruned
from layout.plan_record import Plan
from layout.records import TurningPlace

STEP_M = 0.05


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Give a plan with trees far off on both sides, some alone and some in twos."""
    ground = terrain_of(lambda x, y: 100 + 0.04 * y + 0.02 * x)
    places = [(140, 120), (255, 140), (262, 146), (150, 190), (260, 210), (200, 240), (130, 235),
              (134, 241), (275, 255)]  # fmt: skip
    area = area_of(
        ground,
        settings_of(objective={"serve_worth": "all"}, trails={"back_up": "900 ft"}),
        trees=trees_of([{"x": x, "y": y, "marked": True} for x, y in places]),
        stand=MultiPolygon([box(*at(100, 60), *at(300, 300))]),
        landing=box(*at(190, 70), *at(210, 82)),
        main_trail=line((200, 80), (200, 200)),
    )
    return layout_only(area)


def used(plan: Plan, without: str = "") -> dict[str, np.ndarray]:
    """Walk from every position to the landing, marking each step of trail walked on."""
    trails = {trail.trail_id: trail for trail in plan.trails}
    marks = {n: np.zeros(int(t.line.length / STEP_M) + 2, dtype=bool) for n, t in trails.items()}
    for pull in plan.pulls:
        if pull.tree_id == without:
            continue
        position = next(p for p in plan.positions if p.position_id == pull.position_id)
        name, at_m = position.trail_id, position.at_m
        while name:
            marks[name][: round(at_m / STEP_M)] = True
            name, at_m = trails[name].joins_id, trails[name].joins_at_m or 0.0
    marks["M"][:] = True  # drawn: it is there whatever is winched
    return marks


def test_each_tree_against_the_network_pruned_by_hand(plan: Plan) -> None:
    assert not plan.turning_places, "else this walk would have to ask what needs them"
    whole, seen = used(plan), 0
    for outcome in plan.trees:
        if outcome.status != "served":
            continue
        rest = used(plan, outcome.tree_id)
        lost = {name: whole[name] & ~rest[name] for name in whole}
        metres = STEP_M * sum(int(gone.sum()) for gone in lost.values())
        assert outcome.marginal_trail_m == pytest.approx(metres, abs=0.3), outcome.tree_id
        assert outcome.marginal_m2 == pytest.approx(ground_m2(plan, lost, rest), abs=1.5)
        seen += metres > 5
    assert seen >= 3


def ground_m2(plan: Plan, lost: dict[str, np.ndarray], rest: dict[str, np.ndarray]) -> float:
    """Count points on a grid that lie on lost trail and on none that stays."""
    going, staying = [], [plan.landing.shape]
    for trail in plan.trails:
        for marks, into in ((lost[trail.trail_id], going), (rest[trail.trail_id], staying)):
            if marks.any():
                first, last = np.flatnonzero(marks)[[0, -1]]
                piece = substring(trail.line, first * STEP_M, (last + 1) * STEP_M)
                into.append(piece.buffer(trail.width_m / 2, cap_style="flat"))
    if not going:
        return 0.0
    gone, left = shapely.union_all(going), shapely.union_all(staying)
    west, south, east, north = gone.bounds
    x, y = np.meshgrid(np.arange(west, east, 0.2) + 0.1, np.arange(south, north, 0.2) + 0.1)
    on = shapely.contains_xy(gone, x, y) & ~shapely.contains_xy(left, x, y)
    return float(0.04 * on.sum())


def test_a_tree_that_shares_its_position_takes_nothing_alone(plan: Plan) -> None:
    count = {p.position_id: len(p.tree_ids) for p in plan.positions}
    shared = [o for o in plan.trees if o.status == "served" and count[o.position_id] > 1]
    assert shared
    assert {(o.marginal_trail_m, o.marginal_m2) for o in shared} == {(0.0, 0.0)}


MAIN = main_trail((0, 0), (0, 100), source="drawn")
SPUR = spur("S1", MAIN, 50.0, (80, 50))


def branch(length_m: float, parent: int, mouth_m: float) -> SimpleNamespace:
    return SimpleNamespace(
        length_m=length_m, parent=parent, mouth_m=mouth_m, standing=parent < 0, fixed=False
    )


def by_hand(classes: list[int], class_places: tuple[tuple[int, ...], ...]) -> Grown:
    """Give one spur of 80 m: a tree winched at 30 m, one at 80 m, a pad at 60 m."""
    spots = [
        SimpleNamespace(branch=1, at_m=30.0, pairs=(0,)),
        SimpleNamespace(branch=1, at_m=80.0, pairs=(1,)),
    ]
    pad = SimpleNamespace(
        branch=1, at_m=60.0, needs_branch=1, needs_m=60.0, extra_m2=50.0, kind="pad"
    )
    forest = SimpleNamespace(
        position_class=np.array(classes), pair_position=np.array([0, 1]), class_places=class_places
    )
    found = SimpleNamespace(
        kept=np.array([0, 1]), forest=forest, pairs=SimpleNamespace(tree=np.array([0, 1]))
    )
    made = SimpleNamespace(
        branches=(branch(100.0, -1, 0.0), branch(80.0, 0, 50.0)),
        spots=tuple(spots),
        places=(pad,),
        candidates=found,
        choice=SimpleNamespace(places=np.array([True])),
    )
    return cast(Grown, made)


def own(grown: Grown, main: Any = MAIN) -> dict[int, Own]:
    pad = TurningPlace("T1", "S1", 60.0, "pad", Point(*at(60, 56)).buffer(3.0), 2.0)
    return own_of_trees(grown, (main, SPUR), (pad,), {}, box(*at(-10, -20), *at(10, -5)))


def test_a_turning_place_goes_with_the_only_tree_that_needs_it() -> None:
    """The far one needs the pad: without it 50 m of spur go and the pad; without the near one 0."""
    told = own(by_hand([-1, 0], ((0,),)))
    assert list(told) == [1]
    assert told[1].trail_m == pytest.approx(50.0)
    disc = Point(0, 0).buffer(3.0).area  # its middle lies 6 m off the line: beside the trail
    assert told[1].ground_m2 == pytest.approx(50.0 * SPUR.width_m + disc, abs=0.5)


def test_a_turning_place_another_needs_holds_the_trail_up_to_it() -> None:
    told = own(by_hand([0, 0], ((0,),)))
    assert told[1].trail_m == pytest.approx(20.0)  # from the pad on
    assert told[1].ground_m2 == pytest.approx(20.0 * SPUR.width_m, abs=0.5)


def test_a_routed_main_is_shortened_and_a_drawn_one_is_not() -> None:
    grown = by_hand([-1, 0], ((0,),))
    opens = (None, frozenset({0}))
    assert pruned(grown, [0], frozenset(), opens).extent_m == (100.0, 30.0)
    assert pruned(grown, [0], frozenset({0}), opens).extent_m == (50.5, 30.0)
    assert pruned(grown, [], frozenset({0}), opens).extent_m == (0.0, 0.0)
