"""Which of the main trails tried does best, with which arms, and where each may end."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import fairline, sprouts
from layout.arm_lines import Wide
from layout.arm_names import arm_trails
from layout.arms import with_arms
from layout.choice import bound_of
from layout.geometry import coordinates, cut
from layout.grow import Grown, grow, offer
from layout.network import Branch
from layout.records import Landing, Trail
from layout.solver import Solver
from layout.standing import with_standing
from layout.turning import pad_radius_m

TAIL_M = 0.5  # a routed main trail ends this far behind the last thing on it
ROUNDS = 2  # of growing on mains and arms, before short arms are spurs like any
WITH_ARMS = 2  # of the best mains tried are carried on with their arms
BOUND_S = 120.0


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """One main trail, and the choice of one round on it, near the best.

    ``objective_m2`` holds the main's own cost.
    """

    number: int
    left: int
    objective_m2: float
    grown: Grown

    @property
    def rank(self) -> tuple[float, int, int]:
        """Least objective, trees left at their price in it; then fewest left, then the first.

        What is compared is what the bound bounds: a main dropped by its bound could
        not have been first.
        """
        return self.objective_m2, self.left, self.number


def ranked_mains(
    grower: sprouts.Grower,
    tries: Sequence[tuple[Trail, float]],
    fixed: tuple[Trail, ...],
    opened: BaseGeometry,
    site: Landing,
    swing_deg: float,
    solver: Solver,
    known: sprouts.Known,
    tell: Callable[[str], None],
) -> list[Tried]:
    """Choose spurs once on each main trail that may better those before; best first.

    What a first round offers on a main is bounded from below before it is chosen
    from. A main whose bound is no better than the best objective found is not
    solved: no choice of what that round offers would have a lower objective, the
    main's own cost in it and trees left at their price. What later rounds might
    grow is not bounded.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    tries : sequence of tuple of Trail and float
        Main trails, each with its own cost, weighted square metres.
    fixed : tuple of Trail
        What stands beside.
    opened : shapely geometry
        Ground a machine may stand on.
    site : Landing
    swing_deg : float
        How far the outfit may swing off the main trail's line.
    solver : Solver
        A running solver.
    known : Known
        Lines measured before.
    tell : callable
        Told a line about each main.

    Returns
    -------
    list of Tried
        At least one.
    """
    done: list[Tried] = []
    middle, pad_m = (site.x, site.y), pad_radius_m(grower.body_m)
    for number, (main, cost_m2) in enumerate(tries):
        said = f"main trail {number + 1} of {len(tries)}: {main.line.length:,.0f} m"
        start = _started(grower, main, (main, *fixed))
        first = offer(
            grower, start, grower.ground.closed.copy(), opened, middle,
            main_swing_deg=swing_deg, pad_radius_m=pad_m, known=known,
        )  # fmt: skip
        if done:
            least = cost_m2 + bound_of(first[1].forest, solver, time_limit_s=BOUND_S)
            if least >= min(one.objective_m2 for one in done):
                tell(f"{said}, {least:,.0f} m2 at the least: no better")
                continue
        grown = grow(
            grower, start, opened, middle, main_swing_deg=swing_deg, pad_radius_m=pad_m,
            solver=solver, known=known, rounds=1, first=first, exact=False,
        )  # fmt: skip
        left = int((grown.choice.tree_pair < 0).sum())
        done.append(Tried(number, left, grown.choice.objective + cost_m2, grown))
        tell(f"{said}, {left} trees left, {done[-1].objective_m2:,.0f} m2")
    return sorted(done, key=lambda one: one.rank)


def best_mains(
    wide: Wide,
    grower: sprouts.Grower,
    tries: tuple[tuple[Trail, float], ...],
    fixed: tuple[Trail, ...],
    opened: BaseGeometry,
    site: Landing,
    swing_deg: float,
    solver: Solver,
    known: sprouts.Known,
    tell: Callable[[str], None],
) -> tuple[tuple[Trail, ...], list[Branch]]:
    """Choose the main trail, and the arms that pay on it.

    The best mains of one round are each given their arms; of these the best is kept:
    fewest trees left, then least objective, mains' and arms' own cost in it.

    Parameters
    ----------
    wide : Wide
        Ground for arms.
    grower, tries, fixed, opened, site, swing_deg, solver, known, tell
        As `ranked_mains` takes them.

    Returns
    -------
    mains : tuple of Trail
        The main trail, then its arms.
    start : list of Branch
        What to grow on from.
    """
    ranked = ranked_mains(grower, tries, fixed, opened, site, swing_deg, solver, known, tell)
    found = []
    for one in ranked[:WITH_ARMS]:
        main, cost_m2 = tries[one.number]
        before = (main, *fixed)
        armed = with_arms(
            wide, grower, _started(grower, main, before), (one.left, one.objective_m2 - cost_m2),
            hosts=[n for n, trail in enumerate(before) if trail.kind == "main"],
            main_swing_deg=swing_deg, solver=solver, known=known, tell=tell,
        )  # fmt: skip
        found.append(((armed.left, armed.objective_m2 + cost_m2, one.number), one, armed))
    _, best, armed = min(found, key=lambda row: row[0])
    main = tries[best.number][0]
    if not armed.arms:
        return (main,), list(best.grown.branches)
    trails = arm_trails(armed.arms, (main, *fixed), main.width_m, grower.judge.area.earlier)
    grown = grow(
        grower, _started(grower, main, (main, *trails, *fixed)), opened, (site.x, site.y),
        main_swing_deg=swing_deg, pad_radius_m=pad_radius_m(grower.body_m), solver=solver,
        known=known, rounds=ROUNDS, exact=False, progress=tell,
    )  # fmt: skip
    mains, grown = shortened(grower, (main, *trails), grown)
    return as_spurs(grower, mains, grown.branches)


def as_spurs(
    grower: sprouts.Grower, mains: tuple[Trail, ...], branches: Sequence[Branch]
) -> tuple[tuple[Trail, ...], list[Branch]]:
    """Make arms no longer than a spur may be spurs, narrower and to be chosen like any.

    Parameters
    ----------
    grower : Grower
        Tables and rules of spurs.
    mains : tuple of Trail
        The main trail and its arms, the first of the branches.
    branches : sequence of Branch

    Returns
    -------
    mains : tuple of Trail
        Those that stay: the main trail, and arms that are long, that start on the
        landing, or that such an arm hangs on.
    branches : list of Branch
        In the order the choice wants them.
    """
    stay = [True] * len(mains)
    measured = [branch.measured for branch in branches]
    for n in range(len(mains) - 1, 0, -1):  # what hangs on an arm comes after it
        branch = branches[n]
        bears = any(stay[m] and branches[m].parent == n for m in range(n + 1, len(mains)))
        if branch.parent < 0 or bears or branch.length_m > grower.longest_m:
            continue
        measured[n] = fairline.measure(grower.judge, branch.line)
        stay[n] = bool(measured[n].broken.any())
    standing = [n for n, b in enumerate(branches) if b.standing and (n >= len(mains) or stay[n])]
    rest = [n for n in range(len(branches)) if n not in standing]
    number = {old: new for new, old in enumerate([*standing, *rest])}
    out = []
    for n in number:
        branch = replace(branches[n], parent=number.get(branches[n].parent, -1))
        if n < len(mains) and not stay[n]:
            branch = replace(branch, fixed=False, measured=measured[n], swing_deg=None)
        out.append(branch)
    return tuple(t for t, left in zip(mains, stay, strict=True) if left), out


def _started(grower: sprouts.Grower, main: Trail, trails: tuple[Trail, ...]) -> list[Branch]:
    """Give the trails that stand as branches, the main trail first."""
    line = coordinates(main.line)
    trunk = Branch(line, -1, 0.0, fairline.measure(grower.judge, line), built=True)
    return list(with_standing(grower, trunk, trails))


def shortened(
    grower: sprouts.Grower, mains: tuple[Trail, ...], grown: Grown, roots: int = 1
) -> tuple[tuple[Trail, ...], Grown]:
    """Cut every routed main trail off behind the last thing on it; give up arms without use.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    mains : tuple of Trail
        Main trails and arms, the first of the grown branches.
    grown : Grown
        What was grown.
    roots : int, optional
        How many of them, from the first, are no arms and stay in any case.

    Returns
    -------
    mains : tuple of Trail
    grown : Grown
    """
    out = list(mains)
    for number in range(len(out) - 1, -1, -1):  # what hangs on an arm comes after it
        if out[number].source != "routed":
            continue
        if number >= roots and not _used_m(out[number], grown, number):
            del out[number]
            grown = _without_branch(grown, number)
            continue
        out[number], grown = without_tail(grower, out[number], grown, number)
    return tuple(out), grown


def _without_branch(grown: Grown, number: int) -> Grown:
    """Take out a branch nothing hangs on."""

    def moved(n: int) -> int:
        return n - 1 if n > number else n

    return replace(
        grown,
        branches=tuple(
            replace(b, parent=moved(b.parent)) for n, b in enumerate(grown.branches) if n != number
        ),
        spots=tuple(replace(s, branch=moved(s.branch)) for s in grown.spots),
        places=tuple(
            replace(p, branch=moved(p.branch), needs_branch=moved(p.needs_branch))
            for p in grown.places
        ),
    )


def _used_m(main: Trail, grown: Grown, number: int) -> list[float]:
    """Give the stations of a main trail at which something lies or leaves, metres."""
    used = [b.mouth_m for b in grown.branches if b.parent == number]
    used += [s.at_m for s in grown.spots if s.branch == number]
    for place in grown.places:
        if place.branch == number:
            used.append(place.at_m)
            if place.line is not None:
                points = shapely.points(np.asarray(place.line, dtype=float))
                used += np.atleast_1d(shapely.line_locate_point(main.line, points)).tolist()
    return used


def without_tail(
    grower: sprouts.Grower, main: Trail, grown: Grown, number: int = 0
) -> tuple[Trail, Grown]:
    """Cut a routed main trail, the branch of a number, off behind the last thing on it."""
    used = _used_m(main, grown, number)
    last = max(used, default=0.0) + TAIL_M
    if not used or last >= main.line.length:
        return main, grown
    line = cut(coordinates(main.line), 0.0, last)
    branches = list(grown.branches)
    measured = fairline.measure(grower.judge, line)
    branches[number] = replace(branches[number], line=line, measured=measured)
    return replace(main, line=LineString(line)), replace(grown, branches=tuple(branches))
