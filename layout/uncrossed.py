"""The choice once more for every crossing it chose, until none is left."""

import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout.choice import Near, choose
from layout.choice_model import Choice, Forest, objective_of, used_segments
from layout.clashes import crossings, overlong
from layout.forest import Candidates
from layout.network import Branch
from layout.solver import Solver

CROSS_ROUNDS = 40

Chooser = Callable[[Forest, float], Choice]  # of a forest, in so many seconds


def uncrossed(
    found: Candidates,
    branches: list[Branch],
    solver: Solver,
    time_limit_s: float,
    gap: float,
    seed: int,
    longest_m: float,
    first: Choice | None = None,
) -> Choice:
    """Choose, and choose again until no chosen lines cross and no spur is too long.

    Parameters
    ----------
    found : Candidates
        The forest on offer.
    branches : list of Branch
        Its branches.
    solver : Solver
        A running solver.
    time_limit_s : float
        Wall seconds for all choices together.
    gap : float
        Relative gap at which a choice may stop.
    seed : int
        Random seed.
    longest_m : float
        Longest spur between junctions, metres.
    first : Choice, optional
        A choice to start from that keeps all of this; its bound is not used.

    Returns
    -------
    Choice

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """

    def exactly(forest: Forest, left_s: float) -> Choice:
        return choose(forest, solver, time_limit_s=left_s, gap=gap, seed=seed, first=first)

    return _until_clear(found, branches, time_limit_s, longest_m, exactly)[0]


def nearly_uncrossed(
    found: Candidates,
    branches: list[Branch],
    solver: Solver,
    time_limit_s: float,
    seed: int,
    longest_m: float,
) -> tuple[Choice, Candidates]:
    """Choose near the best until no chosen lines cross, what is marked built kept on offer.

    Parameters
    ----------
    found, branches, solver, time_limit_s, seed, longest_m
        As `uncrossed` takes them.

    Returns
    -------
    choice : Choice
        Its bound holds among the candidates given back.
    found : Candidates
        Those on offer, with what was found out about which may not be built together.

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    built = np.array([branch.built for branch in branches], dtype=bool)
    keep = built[found.segment_branch]
    near = Near(found.forest, solver, seed=seed, keep=keep)

    def nearly(forest: Forest, left_s: float) -> Choice:
        return near.choose(forest, time_limit_s=left_s)

    choice, forest = _until_clear(found, branches, time_limit_s, longest_m, nearly)
    return choice, replace(found, forest=forest)


def _until_clear(
    found: Candidates,
    branches: list[Branch],
    time_limit_s: float,
    longest_m: float,
    chooser: Chooser,
) -> tuple[Choice, Forest]:
    forest = found.forest
    begun = time.monotonic()
    for _ in range(CROSS_ROUNDS):
        choice = chooser(forest, max(time_limit_s - (time.monotonic() - begun), 1.0))
        long = overlong(found, branches, choice, longest_m)
        crossing = crossings(found, branches, choice)
        if not crossing and not long:
            return choice, forest
        forest = forest.excluding(crossing).needing(long)
    # no answer without crossings in that many rounds: drop the later line of each
    keep = choice.segments.copy()
    for segment in [b for _, b in crossing] + [e for e, _ in long]:
        keep[segment] = False
    return _without_segments(found, choice, keep), forest


def _without_segments(found: Candidates, choice: Choice, keep: NDArray[np.bool_]) -> Choice:
    forest = found.forest
    for e in range(keep.size):
        if forest.parent[e] >= 0 and not keep[forest.parent[e]]:
            keep[e] = False
    places = choice.places & np.array(
        [s < 0 or keep[s] for s in forest.place_segment], dtype=bool
    ).reshape(choice.places.shape)
    opened = [any(places[q] for q in members) for members in forest.class_places]
    pair = choice.tree_pair.copy()
    for t, k in enumerate(pair):
        if k < 0:
            continue
        position = forest.pair_position[k]
        segment, klass = forest.position_segment[position], forest.position_class[position]
        # what no built trail leads to, or no turning place lets the tractor into, serves nothing
        if (segment >= 0 and not keep[segment]) or (klass >= 0 and not opened[klass]):
            pair[t] = -1
    keep &= used_segments(forest, pair, places)
    objective = objective_of(forest, keep, places, pair)
    return replace(
        choice, segments=keep, tree_pair=pair, places=places, objective=objective, stopped_by="work"
    )
