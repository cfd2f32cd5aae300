"""The exact choice on forests that fork, by trying everything; and its quick rivals.

Trees here can be pulled to both arms of a fork and to the stem below it, which
is where a choice branch by branch goes wrong.
"""

import itertools
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from made_forests import forest_of
from numpy.typing import NDArray

from layout.choice import choose
from layout.choice_model import Forest
from layout.greedy import greedy
from layout.solver import Solver

sys.path.append(str(Path(__file__).parent / "bench"))

from pruning import prune
from test_choice import check_is_layout

Flags = NDArray[np.bool_]


@pytest.fixture(scope="module")
def solver() -> Iterator[Solver]:
    with Solver() as running:
        yield running


def forked(seed: int) -> Forest:
    r"""Make a trunk that forks twice and one spur that does not, a place on every end.

    ::

              3   4     5
               \ /     /
                1     2        6
                 \   /         |
                   0           |
        ===========main trail======
    """
    rng = np.random.default_rng(seed)
    parent = np.array([-1, 0, 0, 1, 1, 2, -1])
    positions, trees = 8, 7  # a position at the end of each segment, one on the main trail
    pairs = []
    for t in range(trees):
        arms = rng.permutation(positions)[: rng.integers(2, 5)]
        pairs += [(t, int(p)) for p in sorted(arms)]
    return Forest(
        parent=parent,
        segment_cost=rng.uniform(5, 60, parent.size),
        position_segment=np.array([0, 1, 2, 3, 4, 5, 6, -1]),
        position_cost=np.full(positions, 2.0),
        position_class=np.array([-1, -1, -1, 0, 1, 1, -1, -1]),
        pair_position=np.array([p for _, p in pairs]),
        pair_tree=np.array([t for t, _ in pairs]),
        pair_cost=rng.uniform(1, 15, len(pairs)),
        tree_price=rng.uniform(20, 70, trees),
        place_segment=np.array([1, 0]),
        place_cost=rng.uniform(5, 40, 2),
        class_places=((0,), (0, 1)),
        exclusions=((3, 6),) if seed % 2 else (),
        conflicts=((0, 2),) if seed % 3 == 0 else (),
    )


def subsets(n: int) -> Iterator[Flags]:
    for bits in itertools.product([False, True], repeat=n):
        yield np.array(bits, dtype=bool)


def by_trying_everything(f: Forest) -> float:
    """Give the least objective over all sets of segments, places and positions."""
    e, q, p = f.parent.size, f.place_segment.size, f.position_segment.size
    cost = np.full((f.tree_price.size, p), np.inf)
    cost[f.pair_tree, f.pair_position] = f.pair_cost
    sites = np.array(list(subsets(p)))
    # what pulls and set-ups cost for every set of positions, whatever is built
    open_cost = np.where(sites[:, None, :], cost[None], np.inf).min(axis=2)
    pulls = np.minimum(open_cost, f.tree_price).sum(axis=1) + sites @ f.position_cost
    best = np.inf
    for built in subsets(e):
        if (built & (f.parent >= 0) & ~built[f.parent]).any():
            continue
        if any(built[a] and built[b] for a, b in f.exclusions):
            continue
        for places in subsets(q):
            if (places & (f.place_segment >= 0) & ~built[f.place_segment]).any():
                continue
            opened = np.array([any(places[i] for i in c) for c in f.class_places] + [True])
            usable = np.append(built, True)[f.position_segment] & opened[f.position_class]
            for position, segment in f.conflicts:
                usable[position] &= not built[segment]
            good = ~(sites & ~usable).any(axis=1)
            fixed = f.segment_cost[built].sum() + f.place_cost[places].sum()
            best = min(best, float(fixed + pulls[good].min()))
    return best


@pytest.mark.parametrize("seed", range(16))
def test_forks_by_trying_everything(seed: int, solver: Solver) -> None:
    f = forked(seed)
    found = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    check_is_layout(f, found.segments, found.places, found.tree_pair)
    assert found.objective == pytest.approx(by_trying_everything(f), abs=1e-6)
    assert found.bound == pytest.approx(found.objective, abs=1e-5)


def test_the_forks_are_worth_trying(solver: Solver) -> None:
    # both arms of a fork, one arm alone and no arm at all are right somewhere
    arms = set()
    for seed in range(16):
        built = choose(forked(seed), solver, time_limit_s=20, gap=0.0, seed=0).segments
        arms.add((bool(built[1]), bool(built[2])))
    assert len(arms) >= 3


@pytest.mark.parametrize("seed", range(16))
def test_pruning_keeps_a_layout_and_never_worsens_it(seed: int, solver: Solver) -> None:
    f = forked(seed)
    first = greedy(f)
    pruned = prune(f, first)
    check_is_layout(f, pruned.segments, pruned.places, pruned.tree_pair)
    best = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    assert best.objective - 1e-6 <= pruned.objective <= first.objective + 1e-9


def test_a_made_forest_is_chosen_at_the_root_and_under_its_rivals(solver: Solver) -> None:
    f = forest_of(60, 3)
    assert (np.bincount(f.parent[f.parent >= 0]) > 1).sum() > 10  # it forks
    found = choose(f, solver, time_limit_s=30, gap=0.0, seed=0)
    assert found.bound == pytest.approx(found.objective, rel=1e-6)
    assert found.size["nodes"] <= 1
    quick = greedy(f)
    pruned = prune(f, quick)
    assert found.objective < pruned.objective < quick.objective
