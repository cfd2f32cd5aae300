"""A finished network chosen again under a changed rule, and what it then comes to.

From the plan's network new lines are grown once and the choice is made among all of
them, exactly. Lines are held to every limit at 1 m stations, as in a plan; drainage, the
work and the checks of a whole plan are not worked out.
"""

from dataclasses import dataclass, replace

import numpy as np

from layout.benching import of_trail, rule_of
from layout.finished_network import Network
from layout.forest import candidates
from layout.ground import stems_in_trails
from layout.grow import Grown, grow
from layout.main_choice import shortened
from layout.network import Branch, distance_out_m
from layout.option_records import OptionRow
from layout.records import Trail, TurningPlace
from layout.settings import limits_in_force
from layout.soil import summarise
from layout.solver import Solver
from layout.sprouts import Sprouted, sprout
from layout.terrain import station_table
from layout.trails import name_trails


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a network comes to.

    Parameters
    ----------
    trees : int
        Marked trees reached: winched, or in the way of trail, pad or landing.
    spurs : int
        Spurs.
    trail_m, ground_m2, share_pct : float
        Trail; ground under trails, benches, turning places and landing; and its share
        of the stand, percent.
    skid_m, pull_m : float or None
        Mean way from a tree's winch position to the landing, and mean pull along the
        ground; None without pulls.
    weighed_m2 : float
        Ground as the plan weighs it: objective of the choice.
    """

    trees: int
    spurs: int
    trail_m: float
    ground_m2: float
    share_pct: float
    skid_m: float | None
    pull_m: float | None
    weighed_m2: float


def against(row: OptionRow, reached: int, base: Outcome, now: Outcome) -> OptionRow:
    """Fill a row with what a change makes other.

    Parameters
    ----------
    row : OptionRow
        Key, words and needs of the change.
    reached : int
        Marked trees the plan itself reaches.
    base, now : Outcome
        The choice made again with nothing changed, and with the change.

    Returns
    -------
    OptionRow
    """
    both = base.skid_m is not None and now.skid_m is not None
    return replace(
        row,
        trees=reached + now.trees - base.trees,
        more_trees=now.trees - base.trees,
        more_spurs=now.spurs - base.spurs,
        trail_m=now.trail_m - base.trail_m,
        ground_m2=now.ground_m2 - base.ground_m2,
        share_points=now.share_pct - base.share_pct,
        skid_m=(now.skid_m or 0.0) - (base.skid_m or 0.0) if both else None,
        pull_m=(now.pull_m or 0.0) - (base.pull_m or 0.0) if both else None,
        gain_m2=base.weighed_m2 - now.weighed_m2,
    )


def offered(network: Network) -> list[Branch]:
    """Grow new lines once from a network; its own come first.

    Parameters
    ----------
    network : Network

    Returns
    -------
    list of Branch
    """
    grower, branches = network.grower, list(network.branches)
    worth = network.area.settings.objective.serve_worth_m2
    onward = [0.0 if b.parent < 0 else None if b.fixed else b.length_m for b in branches]
    grown = sprout(
        grower,
        branches,
        grower.ground.closed.copy(),
        onward_m=onward,
        best_now=np.full(grower.pull_ground.marked.size, worth),
        known=network.known,
    )
    return list(grown.branches)


def joined(first: list[Branch], second: list[Branch], shared: int) -> list[Branch]:
    """Put two sets of lines grown from one network together.

    Parameters
    ----------
    first, second : list of Branch
        From `offered`.
    shared : int
        Branches of the network, which both begin with.

    Returns
    -------
    list of Branch
    """
    shift = len(first) - shared
    more = [
        replace(b, parent=b.parent + shift if b.parent >= shared else b.parent)
        for b in second[shared:]
    ]
    return [*first, *more]


def chosen(network: Network, lines: list[Branch], solver: Solver) -> tuple[Outcome, Grown]:
    """Choose among lines under a network's rules, and add up what comes of it.

    Parameters
    ----------
    network : Network
        Its rules count.
    lines : list of Branch
        From `offered`, of this network or of one whose ground is the same.
    solver : Solver
        A running solver.

    Returns
    -------
    outcome : Outcome
    grown : Grown
        The network chosen.

    Raises
    ------
    SolverError
        If the solver ends without an answer.
    """
    grower, known, xy = network.grower, network.known, network.yards
    swing, radius = network.main_swing_deg, network.pad_radius_m
    found = candidates(grower, lines, network.opened, xy, swing, radius, known)
    grown = grow(
        grower,
        lines,
        network.opened,
        xy,
        main_swing_deg=swing,
        pad_radius_m=radius,
        solver=solver,
        known=known,
        rounds=1,
        first=(Sprouted(tuple(lines), grower.ground.closed, 0, None), found),
    )
    roots = sum(not trail.joins_id for trail in network.standing)
    standing, grown = shortened(grower, network.standing, grown, roots)
    return _added_up(network, grown, standing), grown


def _added_up(network: Network, grown: Grown, standing: tuple[Trail, ...]) -> Outcome:
    area, plan = network.area, network.plan
    trails = name_trails(grown.branches, standing, width_spur_m=area.settings.trails.width_spur_m)
    places = tuple(
        TurningPlace(f"T{n}", trails[p.branch].trail_id, p.at_m, p.kind, p.shape, p.slope_pct)
        for n, p in enumerate(grown.places, start=1)
    )
    limits = limits_in_force(area.settings)
    benches = {}
    if rule_of(area.settings, limits) is not None:
        for trail in trails:
            stations = station_table(plan.terrain, trail.line, trail.width_m)
            bench = of_trail(area, limits, trail, stations)
            if bench is not None:
                benches[trail.trail_id] = bench
    soil = summarise(area, plan.landing, trails, places, (), (), benches, plan.more_landings)
    pulled = grown.choice.tree_pair >= 0
    row = network.grower.pull_ground.marked
    reached = np.zeros(len(area.trees), dtype=bool)
    reached[row[pulled]] = True
    cleared = [*(place.shape for place in places), *(one.shape for one in plan.landings)]
    in_way = stems_in_trails(area, trails, benches, cleared)
    reached[row] |= in_way[row]
    pairs = grown.candidates.pairs
    ways: list[float] = []
    pulls: list[float] = []
    branches = list(grown.branches)
    for spot in grown.spots:
        out = 0.0 if spot.branch < 0 else distance_out_m(branches, spot.branch) + spot.at_m
        ways += [out] * len(spot.pairs)
        pulls += [float(pairs.ground_m[k]) for k in spot.pairs]
    bare = soil.main_m2 + soil.spur_m2 + soil.turning_m2 + soil.bench_m2 + soil.landing_m2
    return Outcome(
        trees=int(reached.sum()),
        spurs=sum(trail.kind == "spur" for trail in trails),
        trail_m=float(sum(trail.line.length for trail in trails)),
        ground_m2=bare,
        share_pct=soil.share_with_landing_pct,
        skid_m=float(np.mean(ways)) if ways else None,
        pull_m=float(np.mean(pulls)) if pulls else None,
        weighed_m2=grown.choice.objective,
    )
