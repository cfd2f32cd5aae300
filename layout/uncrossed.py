"""The exact choice once more for every crossing it chose, until none is left."""

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout.choice import choose
from layout.choice_model import Choice, objective_of, used_segments
from layout.clashes import crossings, overlong
from layout.forest import Candidates
from layout.network import Branch
from layout.solver import Solver

CROSS_ROUNDS = 40


def uncrossed(
    found: Candidates,
    branches: list[Branch],
    solver: Solver,
    time_limit_s: float,
    gap: float,
    seed: int,
    longest_m: float,
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

    Returns
    -------
    Choice

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    forest = found.forest
    begun = time.monotonic()
    for _ in range(CROSS_ROUNDS):
        left = max(time_limit_s - (time.monotonic() - begun), 1.0)
        choice = choose(forest, solver, time_limit_s=left, gap=gap, seed=seed)
        long = overlong(found, branches, choice, longest_m)
        crossing = crossings(found, branches, choice)
        if not crossing and not long:
            return choice
        forest = forest.excluding(crossing).needing(long)
    # no answer without crossings in that many rounds: drop the later line of each
    keep = choice.segments.copy()
    for segment in [b for _, b in crossing] + [e for e, _ in long]:
        keep[segment] = False
    return _without_segments(found, choice, keep)


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
