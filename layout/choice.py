"""Which segments, turning places and positions to build: exactly, or near the best.

Connected facility location on a forest of candidate segments (the model class
of Gollowitzer & Ljubic 2011). The rows of `choice_program` make the linear
relaxation tight but for what parks at a junction, so that the mixed-integer
program mostly ends at its root.
"""

import time
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout.choice_model import Choice, Forest
from layout.choice_program import Model
from layout.greedy import greedy
from layout.narrowed import narrowed
from layout.solver import Program, Solver

Flags = NDArray[np.bool_]

# Measured on forests that grew on the sample area and on the bench's rolling ground: what
# eight relaxations use under costs bent by a fifth holds a choice within half a percent of
# the best, in a tenth of the time.
TRIALS = 8
BENT = 0.2
NEAR_GAP = 1e-4  # among what they use: far less than what they miss, and found at the root


def choose(
    forest: Forest,
    solver: Solver,
    *,
    time_limit_s: float,
    gap: float,
    seed: int,
    first: Choice | None = None,
) -> Choice:
    """Choose exactly among the candidates.

    Parameters
    ----------
    forest : Forest
        The candidates.
    solver : Solver
        A running solver.
    time_limit_s : float
        Wall seconds; the best found is taken then, with its proved bound.
    gap : float
        Relative gap at which the search may stop.
    seed : int
        Random seed.
    first : Choice, optional
        A choice among these candidates to start from, its bound left out of account; one
        is made where left out.

    Returns
    -------
    Choice

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    begun = time.monotonic()
    if first is None:
        first = _near_first(forest, solver, time_limit_s, gap, seed)
    else:
        first = replace(first, bound=0.0)
    model = Model(forest)
    program = model.program(first)
    if program.cost.size == 0:
        return replace(first, stopped_by="gap")
    if not program.holds(program.start):
        # with little time and no start that keeps the rules there might be no answer at all
        program = replace(program, start=model.start(greedy(forest)))
    if within(first, gap):
        return replace(first, stopped_by="gap", size=_size(program))
    left = max(time_limit_s - (time.monotonic() - begun), 1.0)
    answer = solver.solve(program, time_limit_s=left, gap=gap, seed=seed)
    found = model.read(answer, program)
    return replace(found, bound=max(found.bound, first.bound))


def _near_first(
    forest: Forest, solver: Solver, time_limit_s: float, gap: float, seed: int
) -> Choice:
    """Give a choice near the best, by one relaxation where that proves enough."""
    begun = time.monotonic()
    plain = Near(forest, solver, trials=0, seed=seed).choose(forest, time_limit_s=time_limit_s)
    if plain.stopped_by == "time" or within(plain, gap):
        return plain
    # a good start is worth what it takes: the slowest of 20 made forests of 300 stems was
    # solved in 31 s without and in 6 with it
    left = max(time_limit_s - (time.monotonic() - begun), 1.0)
    other = Near(forest, solver, seed=seed).choose(forest, time_limit_s=left)
    best = min(plain, other, key=lambda one: one.objective)
    return replace(best, bound=max(plain.bound, other.bound))


class Near:
    """A choice near the best, over and over while more and more may not be built together.

    It is made among what linear relaxations use, and what is to be kept in any case. So
    it proves nothing beyond the bound of the relaxation.

    Parameters
    ----------
    forest : Forest
        The candidates.
    solver : Solver
        A running solver.
    seed : int
        Random seed, of the bent costs too.
    trials : int, optional
        Relaxations under bent costs, beside the plain one.
    keep : ndarray of bool, shape (e,), optional
        Segments that stay on offer whatever the relaxations use, with their positions,
        turning places and pulls.
    """

    def __init__(
        self,
        forest: Forest,
        solver: Solver,
        *,
        seed: int,
        trials: int = TRIALS,
        keep: Flags | None = None,
    ) -> None:
        self._solver, self._seed = solver, seed
        model = Model(forest)
        self._used = np.zeros(model.n, dtype=bool)
        if keep is not None:
            built = np.append(keep, True)  # the last entry stands for ROOT
            self._used[: model.e] = keep
            self._used[model.place0 : model.class0] = built[forest.place_segment]
            self._used[model.position0 : model.pair0] = built[forest.position_segment]
        rng = np.random.default_rng(seed)
        self._bent = 1.0 + BENT * rng.uniform(-1.0, 1.0, (trials, model.n))

    def choose(self, forest: Forest, *, time_limit_s: float) -> Choice:
        """Choose among what the relaxations so far use.

        Parameters
        ----------
        forest : Forest
            The candidates; more of them than at first may shut each other out.
        time_limit_s : float
            Wall seconds.

        Returns
        -------
        Choice
            With the bound of the plain relaxation; 0 where not even that was solved in time.
            ``stopped_by`` is near or time.

        Raises
        ------
        SolverError
            If the solver ends without an answer.
        """
        begun = time.monotonic()
        first = greedy(forest)
        model = Model(forest)
        program = model.program(first)
        if program.cost.size == 0:
            return replace(first, stopped_by="near")
        eased = self._solver.solve(
            _eased(program), time_limit_s=time_limit_s, gap=0.0, seed=self._seed,
            bent=self._bent * program.cost,
        )  # fmt: skip
        if eased.stopped_by != "gap":
            return replace(first, stopped_by="time", size=_size(program))
        self._bent = self._bent[:0]  # once is enough: new rules change little of what is of use
        assert eased.used is not None
        self._used |= eased.used
        left = max(time_limit_s - (time.monotonic() - begun), 1.0)
        near = self._among(model, left)
        best = near if near.objective < first.objective else first
        stopped_by = "time" if near.stopped_by == "time" or not eased.whole else "near"
        least = max(eased.bound, 0.0)
        return replace(best, bound=least, stopped_by=stopped_by, size=_size(program))

    def _among(self, model: Model, time_limit_s: float) -> Choice:
        used = self._used
        part = narrowed(
            model.forest,
            used[: model.e],
            used[model.place0 : model.class0],
            used[model.position0 : model.pair0],
        )
        small = Model(part.forest)
        program = small.program(greedy(part.forest))
        answer = self._solver.solve(
            program, time_limit_s=time_limit_s, gap=NEAR_GAP, seed=self._seed
        )
        return part.widened(small.read(answer, program))


def within(choice: Choice, gap: float) -> bool:
    """Tell whether a bound proves a choice to a relative gap.

    Parameters
    ----------
    choice : Choice
    gap : float

    Returns
    -------
    bool
    """
    return choice.objective - choice.bound <= gap * abs(choice.objective)


def _eased(program: Program) -> Program:
    """Give the linear relaxation of a program."""
    return replace(program, integral=np.zeros(program.cost.size, dtype=bool), start=None)


def _size(program: Program) -> dict[str, int]:
    return {
        "rows": int(program.row_low.size),
        "columns": int(program.cost.size),
        "nonzeros": int(program.values.size),
        "nodes": 0,
    }


def bound_of(forest: Forest, solver: Solver, *, time_limit_s: float) -> float:
    """Give what no choice among the candidates can go below, by the linear relaxation.

    Parameters
    ----------
    forest : Forest
        The candidates.
    solver : Solver
        A running solver.
    time_limit_s : float
        Wall seconds.

    Returns
    -------
    float
        Weighted square metres; 0 where the time did not suffice to prove more.

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    program = Model(forest).program(greedy(forest))
    if program.cost.size == 0:
        return 0.0
    answer = solver.solve(_eased(program), time_limit_s=time_limit_s, gap=0.0, seed=0)
    return max(answer.bound, 0.0) if answer.stopped_by == "gap" else 0.0
