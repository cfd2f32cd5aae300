"""Proposed landings tried one by one, each with a complete plan, and the best kept."""

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from layout import crossing_ways, fairline, ground, landing, pool
from layout.choice_model import BIG_PRICE
from layout.errors import InputError
from layout.findings import Finding, ordered
from layout.geometry import coordinates
from layout.landing_options import PROPOSED, LandingOption, ranked, told
from layout.plan_record import Plan
from layout.records import REACHED
from layout.settings import limits_in_force
from layout.site import Area
from layout.sites import with_landings
from layout.terrain import Terrain
from layout.water import Strips

PLANNED = 3  # places planned completely
PROPOSED_MOST = 6  # others take the place of those no main trail gets away from
LEVEL_PCT = 0.5  # prints as 0 %
STANDS = ("leave", "done")


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """A job with one of the proposed landings, and its ground."""

    area: Area
    terrain: Terrain
    strips: Strips


@dataclass(frozen=True, slots=True, eq=False)
class Tried:
    """What came of a trial: a plan and its figures, or why there is none."""

    option: LandingOption
    plan: Plan | None
    refusal: str = ""  # as the user is told it where every trial ends so


def best_landing(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    plan_one: Callable[[Trial, pool.Tell], Tried],
    *,
    workers: int,
    tell: pool.Tell,
) -> Plan:
    """Plan a job completely from the best few of the proposed landings; keep the best plan.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job, without a landing.
    plan_one : callable
        Plans one trial, with `measured`, or gives it up, with `refused`; stands at the
        top of its module.
    workers : int
        Most processes at once. The plan is the same for any number of them.
    tell : callable
        Told a line now and then.

    Returns
    -------
    Plan
        With every place tried in ``landing_options``.

    Raises
    ------
    InputError
        If no place can hold a landing, or none of those found can be planned from.
    """
    tell("looking for a landing")
    limits = limits_in_force(area.settings)
    sites = with_landings(area, terrain, strips, limits, PROPOSED_MOST)
    waiting = [Trial(one, terrain, strips) for one in sites]
    tried: list[Tried] = []
    with pool.Pool(workers) as crew:
        while waiting and (wanted := PLANNED - sum(one.plan is not None for one in tried)) > 0:
            batch, waiting = waiting[:wanted], waiting[wanted:]
            places = "1 proposed landing" if len(batch) == 1 else f"{len(batch)} proposed landings"
            tell(f"planning from {places}")
            tried += crew.run(plan_one, batch, tell=tell)
    plans = {(one.option.x, one.option.y): one.plan for one in tried if one.plan is not None}
    if not plans:
        raise InputError(tried[0].refusal)
    options = ranked([one.option for one in tried], area.settings.area.units)
    plan = plans[options[0].x, options[0].y]
    return _said(plan, options)


def refused(trial: Trial, error: InputError) -> Tried:
    """Give up a trial, with the reason.

    Parameters
    ----------
    trial : Trial
    error : InputError
        What was raised.

    Returns
    -------
    Tried
    """
    reason = str(error.__cause__ or error)
    blank = _blank(trial.area)
    site = landing.measure(trial.area, trial.terrain, trial.strips, blank.shape)
    return Tried(replace(blank, reason=reason, slope_pct=site.slope_pct), None, str(error))


def measured(plan: Plan, strips: Strips) -> Tried:
    """Take the figures of a complete plan.

    Parameters
    ----------
    plan : Plan
        With its work.
    strips : Strips
        Its water strips.

    Returns
    -------
    Tried
    """
    soil = plan.soil
    levels = Counter(finding.level for finding in plan.findings)
    disturbed = soil.main_m2 + soil.spur_m2 + soil.turning_m2 + soil.bench_m2 + soil.landing_m2
    times = None if plan.work is None else plan.work.times.total
    option = replace(
        _blank(plan.area),
        marked=sum(outcome.status not in STANDS for outcome in plan.trees),
        slope_pct=plan.landing.slope_pct,
        tree_count=sum(outcome.status in REACHED for outcome in plan.trees),
        sure_count=sum(pull.sure == "sure" for pull in plan.pulls),
        trail_m=sum(trail.line.length for trail in plan.trails),
        disturbed_m2=disturbed,
        disturbed_pct=soil.share_with_landing_pct,
        adverse_pct=adverse_pct(plan),
        skid_m=skid_m(plan),
        low_h=None if times is None else times.low_h,
        high_h=None if times is None else times.high_h,
        stops=levels["stop"],
        cautions=levels["caution"],
        unknowns=levels["unknown"],
        objective_m2=objective_m2(plan, strips),
    )
    return Tried(option, plan)


def objective_m2(plan: Plan, strips: Strips) -> float:
    """Give what a plan takes, with all that differs from landing to landing counted.

    Parameters
    ----------
    plan : Plan
        With its work.
    strips : Strips
        Its water strips.

    Returns
    -------
    float
        Weighted square metres: the objective of the choice; the main trail at its own
        price; the landing and the stems that have to leave it. Each marked tree left
        standing counts once, also one that was set aside because no load could hold it;
        one that comes out with a trail does not.
    """
    area, prices = plan.area, plan.area.settings.objective
    price = min(prices.serve_worth_m2, BIG_PRICE)
    pulled = {pull.tree_id for pull in plan.pulls}
    names = np.array(area.trees.tree_id, dtype=object)[area.trees.to_serve]
    in_choice = sum(name not in pulled for name in names.tolist())
    left = sum(outcome.status not in (*REACHED, *STANDS) for outcome in plan.trees)
    yards = [one.shape for one in plan.landings]
    cleared = ground.stems_in_trails(area, (), {}, yards) & ~area.trees.marked
    return (
        plan.choice.objective_m2
        + price * (left - in_choice)
        + _main_m2(plan, strips)
        + prices.landing * sum(shape.area for shape in yards)
        + prices.stem_removed_m2 * int(cleared.sum())
    )


def _main_m2(plan: Plan, strips: Strips) -> float:
    """Price the main trail as the search for it did; one that is there is paid for."""
    mains = [t for t in plan.trails if t.kind == "main" and t.source != "fixed"]
    area = plan.area
    opened = ground.open_area(area, strips)
    total = 0.0
    for main in mains:
        judge = fairline.judge_for(
            area, plan.terrain, limits_in_force(area.settings), opened,
            width_m=main.width_m, weight=area.settings.objective.main,
            passages=crossing_ways.passages(area, plan.terrain, strips, main.width_m),
        )  # fmt: skip
        total += float(fairline.measure(judge, coordinates(main.line)).price_m2[-1])
    return total


def adverse_pct(plan: Plan) -> float | None:
    """Give the share of the loaded metres that go uphill.

    Parameters
    ----------
    plan : Plan
        With the loads that pass each step of its trails.

    Returns
    -------
    float or None
        Percent: length of each step that rises toward the landing, times the loads over
        it, of all steps whose grade is known. None where no load passes any.
    """
    known = [step for step in plan.steps if step.loads and math.isfinite(step.grade_pct)]
    whole = sum((step.to_m - step.from_m) * step.loads for step in known)
    up = sum((s.to_m - s.from_m) * s.loads for s in known if s.grade_pct >= LEVEL_PCT)
    return 100.0 * up / whole if whole > 0 else None


def skid_m(plan: Plan) -> float | None:
    """Give the mean way of a load along the trails to the landing.

    Parameters
    ----------
    plan : Plan
        With its work.

    Returns
    -------
    float or None
        Metres, each load counted once, whatever it weighs; loads that are in are left
        out. None without loads.
    """
    turns = () if plan.work is None else plan.work.turns
    ways = [turn.travel_m for turn in turns if turn.state == "planned"]
    return sum(ways) / len(ways) if ways else None


def _blank(area: Area) -> LandingOption:
    """Give an option of which only the place is known."""
    assert area.landing is not None
    middle = area.landing.centroid
    trees = area.trees
    marked = sum(
        bool(mark) and name not in trees.done
        for mark, name in zip(trees.marked, trees.tree_id, strict=True)
    )
    return LandingOption("", area.landing, middle.x, middle.y, math.nan, marked)


def _said(plan: Plan, options: tuple[LandingOption, ...]) -> Plan:
    """Put the comparison into the plan, and into what is said of its landing."""

    def anew(found: tuple[Finding, ...]) -> tuple[Finding, ...]:
        return tuple(
            told(plan.area, options, one)
            if (one.code, one.subject_id) == (PROPOSED, plan.landing.landing_id)
            else one
            for one in found
        )

    return replace(
        plan,
        area=replace(plan.area, findings=anew(plan.area.findings)),
        findings=ordered(anew(plan.findings)),
        landing_options=options,
    )
