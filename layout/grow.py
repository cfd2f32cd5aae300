"""Grow, choose, regrow: the spurs of a plan.

A small candidate forest regrown several times beats one big forest by far.
Every round offers new branches off all trails chosen so far, and a choice
near the best takes or leaves them together with what is there. What the best
round offered is chosen from exactly in the end.
"""

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

from layout.choice import within
from layout.choice_model import Choice
from layout.clashes import extents
from layout.fairline import measure
from layout.forest import Candidates, candidates
from layout.geometry import along
from layout.greedy import greedy
from layout.network import Branch
from layout.second_thoughts import part, spurs_by_cost
from layout.solver import Solver
from layout.sprouts import BEST_PLACES, Grower, Known, Sprouted, sprout
from layout.straight_spurs import straight_spurs
from layout.turning import Place
from layout.uncrossed import nearly_uncrossed, uncrossed
from layout.winch import Pairs

Floats = NDArray[np.float64]

MOST_ROUNDS = 8
ENOUGH_GAIN = 0.001  # two rounds that gain less end the growing
GROWING_SHARE = 0.7  # of the time limit: the exact choice in the end needs the rest
HALVES = 2  # of the spurs are thought over in turn: no end before both were
MORE_PLACES = 6  # traced back for each tree while spurs are thought over
FAN_OFFSETS_M = (2.0, 4.0, 3.0, 5.0)  # round by round straight spurs leave from other stations


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """One chosen winch position."""

    branch: int
    at_m: float
    x: float
    y: float
    pairs: tuple[int, ...]  # rows of ``Grown.candidates.pairs``


@dataclass(frozen=True, slots=True, eq=False)
class Grown:
    """The chosen network.

    ``history`` holds the objective of each round's choice near the best; that of the
    exact choice in the end is ``choice``'s own.
    """

    branches: tuple[Branch, ...]
    spots: tuple[Spot, ...]
    places: tuple[Place, ...]
    candidates: Candidates
    choice: Choice
    rounds: int
    history: tuple[float, ...]
    settled: int
    survey: Pairs | None  # pulls from everywhere the last search reached
    seconds: float
    closed: NDArray[np.uint8]  # with what growing itself had to close


def grow(
    grower: Grower,
    mains: list[Branch],
    opened: BaseGeometry,
    landing_xy: ArrayLike,
    *,
    main_swing_deg: float,
    pad_radius_m: float,
    solver: Solver,
    closed: NDArray[np.uint8] | None = None,
    known: Known | None = None,
    rounds: int = MOST_ROUNDS,
    first: tuple[Sprouted, Candidates] | None = None,
    exact: bool = True,
    think_over: bool = True,
    progress: Callable[[str], None] | None = None,
) -> Grown:
    """Choose the spurs, turning places and positions of a plan.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    mains : list of Branch
        Main trails, kept as they are, and any spurs to start from.
    opened : shapely geometry
        Ground a machine may stand on.
    landing_xy : array_like of float, shape (2,) or (k, 2)
        Where the tractor stands on the landing to winch, or on each of several.
    main_swing_deg : float
        How far the outfit may swing off a main trail's line.
    pad_radius_m : float
        Size of a turning pad, metres.
    solver : Solver
        A running solver.
    closed : ndarray of uint8, shape (16, rows, cols), optional
        States closed beyond the ground's own table, by earlier repairs.
    known : Known, optional
        Lines measured by an earlier growing.
    rounds : int
        Most rounds.
    first : tuple of Sprouted and Candidates, optional
        What the first round offers, where `offer` made it already.
    exact : bool, optional
        Choose exactly in the end, within the user's gap. Without, the choice proves no
        more than the relaxation's bound: enough to see which lines are of use.
    think_over : bool, optional
        Set spurs apart while others grow, once growing on gains no more.
    progress : callable, optional
        Told a line about each round.

    Returns
    -------
    Grown

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    begun = time.monotonic()
    objective = grower.judge.area.settings.objective
    growing_s = objective.time_limit_s * (GROWING_SHARE if exact else 1.0)
    closed = (grower.ground.closed if closed is None else closed).copy()
    branches = list(mains)
    best: Grown | None = None
    small, settled = 0, 0
    survey: Pairs | None = None
    cut_short = False
    history: list[float] = []
    known = Known(grower) if known is None else known
    loose: frozenset[int] = frozenset()
    thoughts = 0 if think_over else HALVES
    for turn in range(rounds):
        if turn == 0 and first is not None:
            sprouted, found = first
        else:
            sprouted, found = offer(
                grower, branches, closed, opened, landing_xy,
                main_swing_deg=main_swing_deg, pad_radius_m=pad_radius_m, known=known, turn=turn,
                loose=loose,
            )  # fmt: skip
        offered, closed = list(sprouted.branches), sprouted.closed
        settled += sprouted.settled
        survey = sprouted.survey or survey
        if turn == 0:
            # the limit is for choosing: what a first run compiles must not eat into it
            greedy(found.forest)
            begun = time.monotonic()
        left = max(growing_s - (time.monotonic() - begun), 1.0)
        choice, found = nearly_uncrossed(
            found, offered, solver, left, objective.seed, grower.longest_m
        )
        branches, spots, places = trimmed(grower, offered, found, choice)
        history.append(choice.objective)
        before = choice.objective if best is None else best.choice.objective
        if best is None or choice.objective < best.choice.objective - 1e-9:
            best = Grown(
                tuple(branches), spots, places, found, choice, turn + 1,
                tuple(history), settled, survey, time.monotonic() - begun, closed,
            )  # fmt: skip
            best_offered = offered
        else:
            branches = list(best.branches)
        if progress is not None:
            served = int((choice.tree_pair >= 0).sum())
            progress(
                f"round {turn + 1}: {len(offered)} lines offered, "
                f"{served} trees served, {choice.objective:,.0f} m2"
            )
        gain = (before - best.choice.objective) / max(abs(before), 1.0) if turn else 1.0
        small = small + 1 if gain < ENOUGH_GAIN else 0
        if small >= 2 and thoughts >= HALVES:
            break
        loose = frozenset()
        if think_over and (small or thoughts):  # growing on gains no more: think over what is there
            pulled = Counter(s.branch for s in best.spots for _ in s.pairs)
            dear = spurs_by_cost(branches, pulled)
            half = (len(dear) + 1) // 2
            loose = frozenset(dear[half:] if thoughts % HALVES else dear[:half])
            thoughts += 1
        if time.monotonic() - begun > growing_s and turn + 1 < rounds:
            cut_short = True
            break
    assert best is not None  # the first round always ends with one
    # a last round that time ended says nothing of what it might have gained
    cut_short = cut_short or choice.stopped_by == "time"
    if exact:
        left = max(objective.time_limit_s - (time.monotonic() - begun), 1.0)
        best = _settled(grower, best, best_offered, solver, left)
        if progress is not None:
            how = "chosen exactly" if best.choice.stopped_by == "gap" else "chosen once more"
            progress(f"{how}: {best.choice.objective:,.0f} m2")
    stopped_by = "time" if cut_short else best.choice.stopped_by
    return replace(
        best,
        choice=replace(best.choice, stopped_by=stopped_by),
        rounds=len(history),
        history=tuple(history),
        settled=settled,
        survey=survey,
        seconds=time.monotonic() - begun,
        closed=closed,
    )


def _settled(
    grower: Grower, near: Grown, offered: list[Branch], solver: Solver, left_s: float
) -> Grown:
    """Choose exactly among what the best round offered."""
    objective = grower.judge.area.settings.objective
    gap = objective.gap_pct / 100
    kept = near.choice
    if kept.stopped_by == "near" and within(kept, gap):
        return replace(near, choice=replace(kept, stopped_by="gap"))
    # lines were dropped for want of rounds: what is left may not keep every rule
    sound = kept.stopped_by != "work"
    choice = uncrossed(
        near.candidates, offered, solver, left_s, gap, objective.seed, grower.longest_m,
        kept if sound else None,
    )  # fmt: skip
    bound = max(choice.bound, kept.bound)  # the relaxation's holds for either
    better = choice.objective < kept.objective - 1e-9
    if better or (not sound and choice.stopped_by != "work"):
        branches, spots, places = trimmed(grower, offered, near.candidates, choice)
        near = replace(near, branches=tuple(branches), spots=spots, places=places)
        kept = choice
    elif sound:
        kept = replace(kept, stopped_by=choice.stopped_by)
    kept = replace(kept, bound=bound)
    if kept.stopped_by == "time" and within(kept, gap):
        kept = replace(kept, stopped_by="gap")
    return replace(near, choice=kept)


def offer(
    grower: Grower,
    branches: list[Branch],
    closed: NDArray[np.uint8],
    opened: BaseGeometry,
    landing_xy: ArrayLike,
    *,
    main_swing_deg: float,
    pad_radius_m: float,
    known: Known,
    turn: int = 0,
    loose: frozenset[int] = frozenset(),
) -> tuple[Sprouted, Candidates]:
    """Make what one round offers; parameters as in `grow`.

    ``turn`` is the number of the round, ``loose`` the spurs others grow in place of.
    """
    parted = part(branches, loose)
    kept = list(parted.kept)
    worth = grower.judge.area.settings.objective.serve_worth_m2
    best_now = np.full(grower.pull_ground.marked.size, worth)
    sprouted = sprout(
        grower,
        kept,
        closed,
        onward_m=[_onward_m(b) for b in kept],
        best_now=best_now,
        known=known,
        most=MORE_PLACES if loose else BEST_PLACES,
    )
    straight = straight_spurs(
        grower,
        kept,
        sprouted.closed,
        offset_m=FAN_OFFSETS_M[turn % len(FAN_OFFSETS_M)],
        best_now=best_now,
        known=known,
    )
    offered = parted.put_back([*sprouted.branches, *straight], branches)
    sprouted = replace(sprouted, branches=tuple(offered))
    found = candidates(grower, offered, opened, landing_xy, main_swing_deg, pad_radius_m, known)
    return sprouted, found


def _onward_m(branch: Branch) -> float | None:
    """Give the metres of spur that prolonging a branch adds to; a fixed one ends where it ends."""
    if branch.parent < 0:
        return 0.0
    return None if branch.fixed else branch.length_m


def trimmed(
    grower: Grower, branches: list[Branch], found: Candidates, choice: Choice
) -> tuple[list[Branch], tuple[Spot, ...], tuple[Place, ...]]:
    """Keep what is chosen: cut branches to length, join those that only go on.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    branches : list of Branch
        Those on offer.
    found : Candidates
        The forest made of them.
    choice : Choice
        What was chosen of it.

    Returns
    -------
    list of Branch
        The network built.
    tuple of Spot
        Positions in use.
    tuple of Place
        Turning places built.
    """
    extent = extents(found, branches, choice)
    used: dict[int, list[int]] = {}
    for k in choice.tree_pair[choice.tree_pair >= 0]:
        used.setdefault(int(found.forest.pair_position[k]), []).append(int(k))
    stops: dict[int, set[float]] = {}
    for p in used:
        row = found.kept_spot[p]
        stops.setdefault(int(found.spots.branch[row]), set()).add(float(found.spots.at_m[row]))
    # a branch whose built end is nothing but the mouth of another goes on as that other
    carries: dict[int, int] = {}
    for n, branch in enumerate(branches):
        host = branch.parent
        if (
            extent[n] > 0
            and host >= 0
            and not branches[host].standing
            and not branch.fixed
            and host not in carries
            and abs(branch.mouth_m - extent[host]) < 1e-3
        ):
            carries[host] = n
    place: dict[int, tuple[int, float]] = {}  # old branch -> new branch, stations added
    out: list[Branch] = []
    carried = set(carries.values())
    for n, branch in enumerate(branches):
        if extent[n] <= 0 or n in carried:
            continue
        pieces: list[Floats] = []
        offset, link = 0.0, n
        wanted: set[float] = set()
        while True:
            piece = (
                branches[link].line
                if branches[link].standing
                else (branches[link].until(extent[link]).line)
            )
            pieces.append(piece if not pieces else piece[1:])
            place[link] = (len(out), offset)
            wanted |= {s + offset for s in stops.get(link, ())}
            if link not in carries:
                break
            offset += float(along(piece)[-1])
            link = carries[link]
        line = branch.line if branch.standing else np.concatenate(pieces)
        same = len(pieces) == 1 and line.shape == branch.line.shape
        parent, mouth = branch.parent, branch.mouth_m
        if parent >= 0:
            new_host, shift = place[parent]
            parent, mouth = new_host, mouth + shift
        out.append(
            replace(
                branch,
                line=line,
                parent=parent,
                mouth_m=mouth,
                measured=branch.measured if same else measure(grower.judge, line),
                stops=tuple(sorted(wanted | set(branch.opened))),
                built=True,
            )
        )
    spots = []
    for p in sorted(used):
        row = found.kept_spot[p]
        n, at = int(found.spots.branch[row]), float(found.spots.at_m[row])
        if n >= 0:  # else on a landing
            n, shift = place[n]
            at += shift
        spots.append(
            Spot(
                n,
                at,
                float(found.spots.x[row]),
                float(found.spots.y[row]),
                tuple(int(found.kept[k]) for k in used[p]),
            )
        )
    places = []
    for q in np.flatnonzero(choice.places):
        spot = found.places[q]
        n, shift = place[spot.branch]
        needs, further = place[spot.needs_branch]
        places.append(
            replace(
                spot,
                branch=n,
                at_m=spot.at_m + shift,
                needs_branch=needs,
                needs_m=spot.needs_m + further,
            )
        )
    return out, tuple(spots), tuple(places)
