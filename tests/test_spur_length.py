"""Spurs of a length between junctions: what makes a junction, and what building one costs.

A spur longer than the limit stands only with a junction on its way, and only a spur that
something is winched from, or that bears a turning place, is one. Checked by trying everything.
"""

from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from test_choice import random_forest

from layout import uncrossed as room
from layout.choice import choose
from layout.choice_model import ROOT, Choice, Forest, objective_of
from layout.clashes import crossings, overlong
from layout.greedy import greedy
from layout.narrowed import narrowed
from layout.network import Branch
from layout.solver import Solver


@pytest.fixture(scope="module")
def solver() -> Iterator[Solver]:
    with Solver() as running:
        yield running


def beyond(f: Forest, segment: int, spot: int) -> bool:
    while spot >= 0:
        if spot == segment:
            return True
        spot = int(f.parent[spot])
    return False


def stands(f: Forest, built: Any, opened: Any, pulls: Any) -> bool:
    """Tell whether what is built has, for each segment that needs one, a junction in use."""
    for segment, others in f.needs:
        if not built[segment]:
            continue
        if not any(
            built[o]
            and (
                any(beyond(f, o, int(f.position_segment[f.pair_position[k]])) for k in pulls)
                or any(
                    on and beyond(f, o, int(s))
                    for on, s in zip(opened, f.place_segment, strict=True)
                )
            )
            for o in others
        ):
            return False
    return True


def cheapest(f: Forest) -> float:
    """Try every network with every way to take the trees from it."""
    best = np.inf
    choices = [[-1, *np.flatnonzero(f.pair_tree == t).tolist()] for t in range(f.tree_price.size)]
    for built in product([False, True], repeat=f.parent.size):
        if any(built[s] and p >= 0 and not built[p] for s, p in enumerate(f.parent)):
            continue
        if any(built[a] and built[b] for a, b in f.exclusions):
            continue
        for opened in product([False, True], repeat=f.place_segment.size):
            if any(
                on and s >= 0 and not built[s]
                for on, s in zip(opened, f.place_segment, strict=True)
            ):
                continue
            able = np.array(
                [
                    (f.position_segment[p] < 0 or built[f.position_segment[p]])
                    and (c < 0 or any(opened[q] for q in f.class_places[c]))
                    and not any(p == a and built[s] for a, s in f.conflicts)
                    for p, c in enumerate(f.position_class)
                ]
            )
            usable = [[k for k in row if k < 0 or able[f.pair_position[k]]] for row in choices]
            fixed = f.segment_cost[list(built)].sum() + f.place_cost[list(opened)].sum()
            for taken in product(*usable):
                pulls = [k for k in taken if k >= 0]
                if not stands(f, built, opened, pulls):
                    continue
                sites = {int(f.pair_position[k]) for k in pulls}
                total = fixed + f.position_cost[sorted(sites)].sum() + f.pair_cost[pulls].sum()
                total += f.tree_price[[t for t, k in enumerate(taken) if k < 0]].sum()
                best = min(best, float(total))
    return best


@pytest.mark.parametrize("seed", range(16))
def test_a_needed_junction_against_trying_everything(seed: int, solver: Solver) -> None:
    rng = np.random.default_rng(seed)
    f = random_forest(seed, segments=6, positions=5, trees=4, pairs=9)
    f = replace(f, tree_price=np.full(4, 300.0), position_segment=rng.integers(0, 6, 5))
    freely = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    built = np.flatnonzero(freely.segments)
    assert built.size
    segment = int(built[-1])
    others = [e for e in range(6) if not freely.segments[e] and rng.random() < 0.8]
    f = f.needing([(segment, tuple(others))])
    found = choose(f, solver, time_limit_s=20, gap=0.0, seed=0)
    taken = found.tree_pair[found.tree_pair >= 0]
    assert stands(f, found.segments, found.places, taken)
    told = objective_of(f, found.segments, found.places, found.tree_pair)
    assert found.objective == pytest.approx(told)
    assert found.objective == pytest.approx(cheapest(f), abs=1e-6)
    assert found.bound == pytest.approx(found.objective, abs=1e-5)
    assert found.objective >= freely.objective - 1e-9
    first = greedy(f)
    assert stands(f, first.segments, first.places, first.tree_pair[first.tree_pair >= 0])


def test_narrowed_keeps_what_is_needed(solver: Solver) -> None:
    f = replace(random_forest(3, 6, 5, 4, 9), exclusions=(), conflicts=())
    f = f.needing([(5, (1, 4))])
    keep = np.array([True, False, True, True, True, True])
    part = narrowed(f, keep, np.ones(2, dtype=bool), np.ones(5, dtype=bool)).forest
    kept = [e for e in range(6) if keep[e] and all(keep[p] for p in above(f, e))]
    if 5 in kept:
        assert part.needs == ((kept.index(5), (kept.index(4),) if 4 in kept else ()),)
    else:
        assert part.needs == ()


def above(f: Forest, e: int) -> list[int]:
    out = []
    while f.parent[e] >= 0:
        e = int(f.parent[e])
        out.append(e)
    return out


def branch(xy: list[tuple[float, float]], parent: int, mouth_m: float) -> Branch:
    return Branch(np.array(xy, dtype=float), parent, mouth_m, cast(Any, None))


def made() -> tuple[Any, list[Branch]]:
    """Make a main; a spur of 100 m; one that goes on from its end for 60 m; two stubs beside it."""
    branches = [
        branch([(0, 0), (300, 0)], -1, 0.0),
        branch([(100, 0), (100, 100)], 0, 100.0),
        branch([(100, 100), (100, 160)], 1, 100.0),
        branch([(100, 40), (120, 40)], 1, 40.0),
        branch([(100, 130), (120, 130)], 2, 30.0),
        branch([(100, 100), (120, 100)], 1, 100.0),
    ]
    found = SimpleNamespace(
        segment_branch=np.array([1, 1, 2, 2, 3, 4, 5]),
        segment_to_m=np.array([60.0, 100.0, 30.0, 60.0, 20.0, 20.0, 20.0]),
    )
    return found, branches


def chosen(*segments: int) -> Choice:
    on = np.zeros(max(7, *segments), dtype=bool)
    on[list(segments)] = True
    return cast(Any, SimpleNamespace(segments=on))


def test_lengths_of_spurs_that_go_on_add_up() -> None:
    found, branches = made()
    # 160 m in one, too long for 120 m: the stubs at 40 and 100 m each part it soon enough
    assert overlong(found, branches, chosen(0, 1, 2, 3), 120.0) == [(2, (4, 6))]
    # a stub at 130 m is no help: the way to it is too long itself
    assert overlong(found, branches, chosen(0, 1, 2, 3, 5), 120.0) == [(2, (4, 6))]
    assert overlong(found, branches, chosen(0, 1, 2, 3, 4), 120.0) == []
    assert overlong(found, branches, chosen(0, 1, 2, 3, 6), 120.0) == []
    assert overlong(found, branches, chosen(0, 1, 2, 3), 161.0) == []
    assert overlong(found, branches, chosen(0, 1, 2), 120.0) == [(2, (4, 6))]


def test_a_choice_with_a_spur_too_long_is_made_again_and_proved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # the second spur is said to be too long once, with the first to part it
    forest = Forest(
        parent=np.array([ROOT, ROOT]),
        segment_cost=np.array([250.0, 12.0]),
        position_segment=np.array([0, 1]),
        position_cost=np.array([1.0, 1.0]),
        position_class=np.array([-1, -1]),
        pair_position=np.array([0, 1]),
        pair_tree=np.array([0, 1]),
        pair_cost=np.array([2.0, 3.0]),
        tree_price=np.array([200.0, 200.0]),
        place_segment=np.zeros(0, dtype=np.int64),
        place_cost=np.zeros(0),
    )
    said = iter([[(1, (0,))], []])
    monkeypatch.setattr(room, "crossings", lambda *_: [])
    monkeypatch.setattr(room, "overlong", lambda *_: next(said))
    with Solver() as solver:
        choice = room.uncrossed(
            cast(Any, SimpleNamespace(forest=forest)), [], solver, 10.0, 0.0, 0, 100.0
        )
    # both spurs and both trees 269; the first tree with its spur 453; nothing 400
    assert choice.segments.tolist() == [True, True]
    assert choice.objective == pytest.approx(250 + 12 + 2 + 2 + 3)
    assert choice.bound == pytest.approx(choice.objective)


def test_two_ways_side_by_side_off_one_tip_are_no_junction() -> None:
    found, branches = made()
    # the last stub now lies 3 degrees off the spur that goes on: both drive on one strip
    branches[5] = branch([(100, 100), (101, 119.9)], 1, 100.0)
    assert overlong(found, branches, chosen(0, 1, 2, 3, 6), 120.0) == [(2, (4,))]
    assert crossings(found, branches, chosen(0, 1, 2, 6)) == [(2, 6)]
    # opened by 45 degrees it is one
    branches[5] = branch([(100, 100), (114, 114)], 1, 100.0)
    assert overlong(found, branches, chosen(0, 1, 2, 3, 6), 120.0) == []
    assert crossings(found, branches, chosen(0, 1, 2, 6)) == []


def test_lines_that_meet_twice_are_shut_out_where_they_do() -> None:
    branches = [
        branch([(0, 0), (300, 0)], -1, 0.0),
        branch([(100, 0), (100, 100)], 0, 100.0),
        branch([(120, 0), (120, 20), (90, 20), (90, 80), (120, 80)], 0, 120.0),
    ]
    found = SimpleNamespace(
        segment_branch=np.array([1, 1, 1, 2, 2, 2]),
        segment_to_m=np.array([10.0, 30.0, 100.0, 30.0, 60.0, 130.0]),
    )
    # the first crossing lies 20 m out on the one and 40 m out on the other
    assert crossings(found, branches, chosen(0, 1, 2, 3, 4, 5)) == [(1, 4)]
