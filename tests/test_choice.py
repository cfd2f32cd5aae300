"""The exact choice, against trying everything and against a second formulation and solver.

Model class: connected facility location (Gollowitzer & Ljubic 2011). The
second opinion is the plain textbook form (x <= y, y_child <= y_parent) given to
scipy's solver; it shares no row builder with ours.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from layout.choice import bound_of, choose
from layout.choice_model import Forest, objective_of
from layout.greedy import greedy
from layout.narrowed import narrowed
from layout.solver import Solver


@pytest.fixture(scope="module")
def solver() -> Iterator[Solver]:
    with Solver() as running:
        yield running


def random_forest(seed: int, segments: int, positions: int, trees: int, pairs: int) -> Forest:
    rng = np.random.default_rng(seed)
    parent = np.array([rng.integers(-1, max(i, 1)) if i else -1 for i in range(segments)])
    parent = np.minimum(parent, np.arange(segments) - 1)
    pair_set = sorted(
        {(int(rng.integers(trees)), int(rng.integers(positions))) for _ in range(pairs)}
    )
    places = 2
    classes: tuple[tuple[int, ...], ...] = ((0,), (0, 1), (1,))
    excluded = ((0, segments - 1),) if segments > 2 and seed % 2 else ()
    return Forest(
        parent=parent.astype(np.int64),
        segment_cost=rng.uniform(10, 80, segments),
        position_segment=rng.integers(-1, segments, positions),
        position_cost=np.full(positions, 2.0),
        position_class=rng.integers(-1, 3, positions),
        pair_position=np.array([p for _, p in pair_set], dtype=np.int64),
        pair_tree=np.array([t for t, _ in pair_set], dtype=np.int64),
        pair_cost=rng.uniform(1, 15, len(pair_set)),
        tree_price=np.full(trees, 60.0),
        place_segment=rng.integers(-1, segments, places),
        place_cost=rng.uniform(20, 60, places),
        class_places=classes,
        exclusions=excluded,
        conflicts=((0, segments - 2), (positions - 1, 0)) if seed % 3 == 0 else (),
    )


def cheapest_by_trying_everything(f: Forest) -> float:
    best = np.inf
    e, q = f.parent.size, f.place_segment.size
    for built in product([False, True], repeat=e):
        if any(built[s] and f.parent[s] >= 0 and not built[f.parent[s]] for s in range(e)):
            continue
        if any(built[a] and built[b] for a, b in f.exclusions):
            continue
        for opened in product([False, True], repeat=q):
            if any(
                opened[i] and f.place_segment[i] >= 0 and not built[f.place_segment[i]]
                for i in range(q)
            ):
                continue
            fixed = f.segment_cost[list(built)].sum() + f.place_cost[list(opened)].sum()
            usable = [
                p
                for p in range(f.position_segment.size)
                if (f.position_segment[p] < 0 or built[f.position_segment[p]])
                and (
                    f.position_class[p] < 0
                    or any(opened[i] for i in f.class_places[f.position_class[p]])
                )
            ]
            for chosen in product([False, True], repeat=len(usable)):
                sites = {p for p, on in zip(usable, chosen, strict=True) if on}
                if any(p in sites and built[s] for p, s in f.conflicts):
                    continue
                total = fixed + f.position_cost[sorted(sites)].sum()
                for t in range(f.tree_price.size):
                    cost = f.tree_price[t]
                    for k in np.flatnonzero(f.pair_tree == t):
                        if int(f.pair_position[k]) in sites:
                            cost = min(cost, f.pair_cost[k])
                    total += cost
                best = min(best, float(total))
    return best


@pytest.mark.parametrize("seed", range(12))
def test_small_forests_against_trying_everything(seed: int, solver: Solver) -> None:
    f = random_forest(seed, segments=5, positions=5, trees=5, pairs=12)
    found = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    assert found.objective == pytest.approx(cheapest_by_trying_everything(f), abs=1e-6)
    assert found.bound == pytest.approx(found.objective, abs=1e-5)


def textbook(f: Forest) -> float:
    """Solve x <= y, y_child <= y_parent with scipy."""
    e, q, p, k, t = (
        f.parent.size,
        f.place_segment.size,
        f.position_segment.size,
        f.pair_cost.size,
        f.tree_price.size,
    )
    n = e + q + p + k + t
    cost = np.concatenate(
        [f.segment_cost, f.place_cost, f.position_cost, f.pair_cost, f.tree_price]
    )
    rows, low, high = [], [], []

    def row(entries: list[tuple[int, float]], lo: float, hi: float) -> None:
        line = np.zeros(n)
        for column, value in entries:
            line[column] += value
        rows.append(line)
        low.append(lo)
        high.append(hi)

    for s in range(e):
        if f.parent[s] >= 0:
            row([(s, 1), (int(f.parent[s]), -1)], -np.inf, 0)
    for i in range(q):
        if f.place_segment[i] >= 0:
            row([(e + i, 1), (int(f.place_segment[i]), -1)], -np.inf, 0)
    for i in range(p):
        if f.position_segment[i] >= 0:
            row([(e + q + i, 1), (int(f.position_segment[i]), -1)], -np.inf, 0)
        if f.position_class[i] >= 0:
            row(
                [(e + q + i, 1), *[(e + j, -1) for j in f.class_places[f.position_class[i]]]],
                -np.inf,
                0,
            )
    for i in range(k):
        row([(e + q + p + i, 1), (e + q + int(f.pair_position[i]), -1)], -np.inf, 0)
    for i in range(t):
        members = [(e + q + p + int(j), 1.0) for j in np.flatnonzero(f.pair_tree == i)]
        row([*members, (e + q + p + k + i, 1.0)], 1, 1)
    for a, b in f.exclusions:
        row([(a, 1), (b, 1)], -np.inf, 1)
    for p_, s in f.conflicts:
        row([(e + q + p_, 1), (s, 1)], -np.inf, 1)
    answer = milp(
        cost,
        constraints=LinearConstraint(np.array(rows), low, high),
        bounds=Bounds(0, 1),
        integrality=np.ones(n),
    )
    assert answer.success
    return float(answer.fun)


@pytest.mark.parametrize("seed", range(6))
def test_larger_forests_against_the_textbook_form_and_scipy(seed: int, solver: Solver) -> None:
    f = random_forest(100 + seed, segments=30, positions=25, trees=25, pairs=160)
    found = choose(f, solver, time_limit_s=60, gap=0.0, seed=0)
    assert found.objective == pytest.approx(textbook(f), abs=1e-5)


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(seed=st.integers(0, 10_000))
def test_greedy_is_a_layout_and_never_better_than_the_exact_choice(
    seed: int, solver: Solver
) -> None:
    f = random_forest(seed, segments=8, positions=10, trees=10, pairs=40)
    first = greedy(f)
    check_is_layout(f, first.segments, first.places, first.tree_pair)
    best = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    check_is_layout(f, best.segments, best.places, best.tree_pair)
    assert best.objective <= first.objective + 1e-6
    assert best.objective == pytest.approx(
        objective_of(f, best.segments, best.places, best.tree_pair)
    )


def check_is_layout(
    f: Forest, segments: np.ndarray, places: np.ndarray, tree_pair: np.ndarray
) -> None:
    for s in np.flatnonzero(segments):
        assert f.parent[s] < 0 or segments[f.parent[s]]
    for i in np.flatnonzero(places):
        assert f.place_segment[i] < 0 or segments[f.place_segment[i]]
    for a, b in f.exclusions:
        assert not (segments[a] and segments[b])
    for t, k in enumerate(tree_pair):
        if k < 0:
            continue
        assert f.pair_tree[k] == t
        p = f.pair_position[k]
        assert f.position_segment[p] < 0 or segments[f.position_segment[p]]
        if f.position_class[p] >= 0:
            assert any(places[i] for i in f.class_places[f.position_class[p]])
        assert not any(p == a and segments[s] for a, s in f.conflicts)


@pytest.mark.parametrize("seed", range(5))
def test_more_candidates_never_worsen_and_fewer_never_improve(seed: int, solver: Solver) -> None:
    f = random_forest(500 + seed, segments=12, positions=14, trees=12, pairs=60)
    whole = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    keep = np.arange(f.pair_cost.size) % 3 != 0
    less = Forest(
        **{
            **{name: getattr(f, name) for name in f.__slots__},
            "pair_position": f.pair_position[keep],
            "pair_tree": f.pair_tree[keep],
            "pair_cost": f.pair_cost[keep],
        }
    )
    part = choose(less, solver, time_limit_s=20, gap=0.0, seed=0)
    assert part.objective >= whole.objective - 1e-6


def test_nothing_to_choose(solver: Solver) -> None:
    none = np.zeros(0, dtype=np.int64)
    f = Forest(none, np.zeros(0), none, np.zeros(0), none, none, none, np.zeros(0),
               np.full(3, 200.0), none, np.zeros(0))  # fmt: skip
    found = choose(f, solver, time_limit_s=5, gap=0.0, seed=0)
    assert found.objective == pytest.approx(600.0)
    assert (found.tree_pair == -1).all()


@pytest.mark.parametrize("seed", range(8))
def test_no_choice_goes_below_the_bound(seed: int, solver: Solver) -> None:
    forest = random_forest(200 + seed, 30, 40, 24, 150)
    least = bound_of(forest, solver, time_limit_s=60.0)
    best = choose(forest, solver, time_limit_s=60.0, gap=0.0, seed=0).objective
    assert 0.0 < least <= best + 1e-6
    # a bound that held for nothing would not be told from one: dearer segments raise it
    dear = replace(forest, segment_cost=forest.segment_cost * 3)
    assert bound_of(dear, solver, time_limit_s=60.0) > least


@pytest.mark.parametrize("seed", range(6))
def test_a_choice_among_part_of_a_forest_is_one_of_the_whole(seed: int, solver: Solver) -> None:
    whole = random_forest(300 + seed, 24, 30, 16, 90)
    rng = np.random.default_rng(seed)
    keep = [rng.random(n) < 0.7 for n in (24, 2, 30)]
    part = narrowed(whole, *keep)
    chosen = choose(part.forest, solver, time_limit_s=60.0, gap=0.0, seed=0)
    told = part.widened(chosen)
    check_is_layout(whole, told.segments, told.places, told.tree_pair)
    objective = objective_of(whole, told.segments, told.places, told.tree_pair)
    assert objective == pytest.approx(chosen.objective)
    assert not told.segments[~keep[0]].any()
    assert not told.places[~keep[1]].any()
    best = choose(whole, solver, time_limit_s=60.0, gap=0.0, seed=0).objective
    assert best <= objective + 1e-6
