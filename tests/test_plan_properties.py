"""What must not change a plan, and what may only change it one way."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import small_areas as wood_of
from made_plan import layout_only
from small_areas import LANDING, TURNS, moved, settings_of, turned, wood

from layout import ground, sprouts, terrain, water, winch
from layout.choice import choose
from layout.choice_model import Choice, Forest
from layout.forest import Candidates, candidates
from layout.grid import bilinear
from layout.growing_ground import prepare
from layout.plan import Plan
from layout.records import Trail
from layout.settings import limits_in_force
from layout.site import Area
from layout.solver import Solver
from layout.turning import pad_radius_m

SAME = 1e-6  # of the objective: single precision in the search, not more


def worth(plan: Plan) -> tuple[int, float]:
    """Give what plans are compared by: trees not served, then the objective."""
    missed = sum(o.status not in ("served", "leave") for o in plan.trees)
    return missed, plan.choice.objective_m2


@pytest.fixture(scope="module")
def plain() -> Plan:
    return layout_only(wood())


def assert_same_worth(plan: Plan, other: Plan) -> None:
    missed, objective = worth(plan)
    assert missed == worth(other)[0]
    assert objective == pytest.approx(worth(other)[1], rel=SAME)


def test_the_wood_has_something_to_lose(plain: Plan) -> None:
    # without spurs, forks and several positions the tests below would pass on nothing
    assert len(plain.trails) >= 5
    assert any(t.joins_id.startswith("S") for t in plain.trails)
    assert len({p.trail_id for p in plain.positions}) >= 4


# a quarter turn and a mirror make every other one; the rest run where time is no matter
QUICK = ("quarter", "east_west")


@pytest.mark.parametrize(
    "way", [w if w in QUICK else pytest.param(w, marks=pytest.mark.slow) for w in TURNS]
)
def test_laid_another_way_it_is_the_same_wood(plain: Plan, way: str) -> None:
    assert_same_worth(layout_only(turned(wood(), way)), plain)


@pytest.mark.parametrize(
    ("east_m", "north_m"),
    [
        (1000.0, 0.0),
        (512 * wood_of.CELL_M, -512 * wood_of.CELL_M),
        pytest.param(-400_000.0, 3_000_000.0, marks=pytest.mark.slow),
    ],
)
def test_elsewhere_it_is_the_same_wood(plain: Plan, east_m: float, north_m: float) -> None:
    plan = layout_only(moved(wood(), east_m, north_m))
    assert_same_worth(plan, plain)
    # not only as good but the same lines: every vertex where it was
    for here, there in zip(plain.trails, plan.trails, strict=True):
        a = np.array(here.line.coords) + np.array([east_m, north_m])
        np.testing.assert_allclose(np.array(there.line.coords), a, atol=1e-6)


def test_the_order_of_the_list_does_not_matter(plain: Plan) -> None:
    rows = wood_of.scattered()
    named = [row | {"tree_id": f"T{i + 1}"} for i, row in enumerate(rows)]
    plan = layout_only(wood(rows=named[::-1]))
    assert_same_worth(plan, plain)
    assert {o.tree_id: o.status for o in plan.trees} == {o.tree_id: o.status for o in plain.trees}


def test_a_name_does_not_matter(plain: Plan) -> None:
    # ids only break ties, and this ground has none
    rows = [row | {"tree_id": f"Z{99 - i}"} for i, row in enumerate(wood_of.scattered())]
    assert_same_worth(layout_only(wood(rows=rows)), plain)


def test_a_turned_wood_is_the_same_ground() -> None:
    # the ways to lay it are right themselves: what a stem stands on does not change
    area = wood()
    here = bilinear(area.dem, area.trees.x, area.trees.y)
    for way in TURNS:
        other = turned(area, way)
        there = bilinear(other.dem, other.trees.x, other.trees.y)
        np.testing.assert_allclose(there, here, atol=1e-5)


class Nest:
    """One set of candidate trails, priced again under other rules."""

    def __init__(self, area: Area) -> None:
        self.area = area
        self.shape = terrain.build(area.dem)
        self.strips = water.strips(area, self.shape)
        self.opened = ground.open_area(area, self.strips)
        width_m = area.settings.trails.width_main_m
        assert area.main_trail is not None
        main = Trail("M", "main", "L1", area.main_trail, width_m, "drawn")
        limits = limits_in_force(area.settings)
        self.grower, branch = prepare(area, self.shape, self.strips, self.opened, limits, main)
        sprouted = sprouts.sprout(
            self.grower,
            [branch],
            self.grower.ground.closed.copy(),
            onward_m=[0.0],
            best_now=np.full(self.grower.pull_ground.marked.size, np.inf),
            known=sprouts.Known(self.grower),
        )
        self.branches = list(sprouted.branches)

    def forest(self, **tables: dict[str, object]) -> Candidates:
        """Give the forest of the same trails when winching is ruled otherwise."""
        settings = settings_of(**tables)
        grower = replace(
            self.grower,
            winch=winch.rules_from(settings),
            judge=replace(self.grower.judge, area=replace(self.area, settings=settings)),
        )
        return candidates(
            grower,
            self.branches,
            self.opened,
            (LANDING.centroid.x, LANDING.centroid.y),
            winch.swing_limit_deg(
                settings.tractor.length_m, settings.tractor.width_m, settings.trails.width_main_m
            ),
            pad_radius_m(settings.tractor.length_m),
        )


@pytest.fixture(scope="module")
def nest() -> Nest:
    # sparse ground with far trees, so that reach and price both bind
    return Nest(wood(rows=wood_of.scattered(marked=18)))


@pytest.fixture(scope="module")
def solver() -> Iterator[Solver]:
    with Solver() as running:
        yield running


def solved(solver: Solver, forest: Forest) -> tuple[int, float]:
    choice: Choice = choose(forest, solver, time_limit_s=30.0, gap=0.0, seed=0)
    assert choice.bound == pytest.approx(choice.objective, rel=1e-9)
    return int((choice.tree_pair < 0).sum()), choice.objective


def assert_never_worse(better: tuple[int, float], worse: tuple[int, float]) -> None:
    assert better[1] <= worse[1] * (1 + 1e-9)


def all_served(**tables: dict[str, object]) -> dict[str, dict[str, object]]:
    """Add the wish that every tree be served that can be: the price no longer decides."""
    return tables | {"objective": {"gap": "0 %", "serve_worth": "all"}}


def test_a_longer_reach_never_serves_fewer(nest: Nest, solver: Solver) -> None:
    served = []
    for reach in (12, 18, 24, 30):
        found = nest.forest(
            **all_served(winch={"working_reach": f"{reach} m", "uphill_reach": f"{reach} m"})
        )
        trees = found.forest.tree_price.size
        served.append(trees - solved(solver, found.forest)[0])
    assert served == sorted(served)
    assert served[0] < served[-1]  # the reach did bind


@pytest.mark.parametrize(
    ("table", "key", "values"),
    [
        ("winch", "pull_angle", ["10 deg", "20 deg", "30 deg"]),
        ("winch", "uphill_reach", ["9 m", "15 m", "24 m"]),
        ("trails", "back_up", ["20 m", "45 m", "75 m"]),
        ("winch", "leave_hits", [0, 1, 4]),
    ],
)
def test_a_stricter_limit_never_gains(
    nest: Nest, solver: Solver, table: str, key: str, values: list[object]
) -> None:
    # strict to loose: at the plain price the objective, at "all" the trees left as well
    plain = [solved(solver, nest.forest(**{table: {key: v}}).forest)[1] for v in values]
    every = [solved(solver, nest.forest(**all_served(**{table: {key: v}})).forest) for v in values]
    for strict, loose in pairwise(plain):
        assert loose <= strict * (1 + 1e-9)
    for (missed, _), (missed_loose, _) in pairwise(every):
        assert missed_loose <= missed
    assert plain[0] > plain[-1]  # the limit did bind


def test_fewer_candidates_never_gain(nest: Nest, solver: Solver) -> None:
    forest = nest.forest().forest
    whole = solved(solver, forest)
    rng = np.random.default_rng(1)
    worse = 0
    for share in (0.9, 0.7, 0.5, 0.3):
        keep = np.flatnonzero(rng.random(forest.pair_tree.size) < share)
        fewer = solved(
            solver,
            replace(
                forest,
                pair_position=forest.pair_position[keep],
                pair_tree=forest.pair_tree[keep],
                pair_cost=forest.pair_cost[keep],
            ),
        )
        assert fewer[1] >= whole[1] * (1 - 1e-9)
        worse += fewer[1] > whole[1]
    assert worse >= 2


def test_a_dearer_tree_is_never_left_sooner(nest: Nest, solver: Solver) -> None:
    left = [
        solved(solver, replace(forest, tree_price=np.full(forest.tree_price.size, price)))[0]
        for forest in [nest.forest(**all_served()).forest]
        for price in (20.0, 60.0, 120.0, 200.0, np.inf)
    ]
    assert left == sorted(left, reverse=True)
    assert left[0] > left[-1]
