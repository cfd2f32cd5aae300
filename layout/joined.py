"""A grown network with second ways into its spurs put on offer, and chosen from once more."""

from collections.abc import Callable
from dataclasses import replace

from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from layout.forest import candidates
from layout.grow import Grown, trimmed
from layout.joins import with_second_ways
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.uncrossed import uncrossed


def joined(
    grower: Grower,
    grown: Grown,
    opened: BaseGeometry,
    landing_xy: ArrayLike,
    *,
    main_swing_deg: float,
    pad_radius_m: float,
    solver: Solver,
    known: Known,
    progress: Callable[[str], None],
) -> Grown:
    """Choose again among what was grown and second ways into its spurs.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    grown : Grown
        What `grow` gave.
    opened, landing_xy, main_swing_deg, pad_radius_m, solver, known
        As for `grow`.
    progress : callable
        Told a line where there was a choice.

    Returns
    -------
    Grown
        ``grown`` itself where nothing is gained.

    Raises
    ------
    SolverError
        If a solver's process ends without an answer.
    """
    branches = list(grown.branches)
    found = candidates(grower, branches, opened, landing_xy, main_swing_deg, pad_radius_m, known)
    offered = with_second_ways(grower, branches, grown.closed, found, known, solver)
    if len(offered) == len(branches):
        return grown
    found = candidates(grower, offered, opened, landing_xy, main_swing_deg, pad_radius_m, known)
    objective = grower.judge.area.settings.objective
    choice = uncrossed(
        found,
        offered,
        solver,
        objective.time_limit_s,
        objective.gap_pct / 100,
        objective.seed,
        grower.longest_m,
    )
    progress(f"second ways: {len(offered)} lines offered, {choice.objective:,.0f} m2")
    if choice.objective > grown.choice.objective - 1e-9:
        return grown
    if grown.choice.stopped_by == "time":  # growing was cut short all the same
        choice = replace(choice, stopped_by="time")
    built, spots, places = trimmed(grower, offered, found, choice)
    return replace(
        grown,
        branches=tuple(built),
        spots=spots,
        places=places,
        candidates=found,
        choice=choice,
        rounds=grown.rounds + 1,
    )
