"""The one place that runs the chain from an area to a plan."""

import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from layout import benching, ground, necks, sprouts, terrain, water, winch
from layout.arm_lines import wide
from layout.arm_names import had_arms
from layout.assembly import Assembly, assemble, gap_pct
from layout.beginning import begun
from layout.checked_growth import Growth
from layout.checks import check_treatment
from layout.dry_start import dry_start
from layout.errors import InputError
from layout.findings import ordered
from layout.grow import Grown, grow
from layout.growing_ground import prepare, undug
from layout.landing_trials import Trial, Tried, best_landing, measured, refused
from layout.limits import what_limits
from layout.main_choice import best_mains, shortened
from layout.parts import parted, with_lost
from layout.plan_record import Plan
from layout.records import REACHED, Trail
from layout.roots import main_roots
from layout.settings import limits_in_force
from layout.site import Area
from layout.solver import Solver
from layout.standing import fixed_trails, with_standing
from layout.stump_work import stump_work
from layout.terrain import Terrain
from layout.treatment import treat
from layout.turning import pad_radius_m
from layout.what_if import what_if, worked_out
from layout.work import too_heavy_for_any_load, with_work

__all__ = ["LaidOut", "Plan", "gap_pct", "lay_out", "make_plan", "with_options"]


@dataclass(frozen=True, slots=True, eq=False)
class LaidOut:
    """A plan that nothing was changed in for a trial yet.

    Parameters
    ----------
    plan : Plan
        The layout, with all of its work; without options, limits and necks.
    strips : Strips
        Its water strips.
    seconds : float
        What it took.
    """

    plan: Plan
    strips: water.Strips
    seconds: float


def make_plan(
    area: Area,
    *,
    workers: int = 1,
    progress: Callable[[str], None] | None = None,
    read: tuple[Terrain, water.Strips] | None = None,
    options: bool = True,
) -> Plan:
    """Plan a job.

    Where no landing is drawn, the best few of the places proposed are each planned
    completely, and the best of these plans is given.

    Parameters
    ----------
    area : Area
        What was read from the user's folder.
    workers : int, optional
        Most processes at once; see `pool.Pool`, which says what a script must do that
        asks for more than 1. The plan is the same for any number.
    progress : callable, optional
        Told a line now and then.
    read : tuple of Terrain and Strips, optional
        Of this area, where they are at hand; landing, trails and marks do not change them.
    options : bool, optional
        Try what another rope, tool or place would change, and say what limits the plan.
        The layout is the same without.

    Returns
    -------
    Plan
        With every finding of its own checks; ``stop`` findings do not prevent it.

    Raises
    ------
    InputError
        If there is nothing to plan with (no place for a landing, no way for a main
        trail, no known ground).
    SolverError
        If the solver ends without an answer.
    WorkerError
        If a process that shared the work does.
    """
    laid = lay_out(area, workers=workers, progress=progress, read=read)
    return with_options(laid, progress=progress) if options else laid.plan


def lay_out(
    area: Area,
    *,
    workers: int = 1,
    progress: Callable[[str], None] | None = None,
    read: tuple[Terrain, water.Strips] | None = None,
) -> LaidOut:
    """Plan a job, and leave for `with_options` what another rope, tool or place would change.

    Parameters
    ----------
    area, workers, progress, read
        As `make_plan` takes them.

    Returns
    -------
    LaidOut
        The layout is final: the crew's sheets can be drawn from it already.

    Raises
    ------
    InputError, SolverError, WorkerError
        As `make_plan` does.
    """
    tell = progress or (lambda line: None)
    begun_s = time.monotonic()
    if read is None:
        tell("reading the ground")
        shape = terrain.build(area.dem)
        read = shape, water.strips(area, shape)
    shape, strips = read
    if area.landing is None:
        plan = best_landing(area, shape, strips, _tried, workers=workers, tell=tell)
    else:
        plan = _planned(area, shape, strips, tell)
    return LaidOut(plan, strips, time.monotonic() - begun_s)


def with_options(laid: LaidOut, *, progress: Callable[[str], None] | None = None) -> Plan:
    """Try what another rope, tool or place would change, and say what limits the plan.

    Parameters
    ----------
    laid : LaidOut
        What `lay_out` gave.
    progress : callable, optional
        Told a line now and then.

    Returns
    -------
    Plan
        With the same layout; options, limits and the cautions of necks are added, no
        ``stop``.
    """
    tell = progress or (lambda line: None)
    tried = what_if(laid.plan, laid.strips, own_s=laid.seconds, tell=tell)
    return _with_limits(replace(laid.plan, options=tried), laid.strips, tell)


def _tried(trial: Trial, tell: Callable[[str], None]) -> Tried:
    """Plan from one proposed landing; one that nothing can be planned from is given up."""
    try:
        plan = _planned(trial.area, trial.terrain, trial.strips, tell)
    except InputError as error:
        return refused(trial, error)
    return measured(plan, trial.strips)


def _planned(
    asked: Area, shape: Terrain, strips: water.Strips, tell: Callable[[str], None]
) -> Plan:
    """Plan a job from its landings, all of the work included."""
    settings = asked.settings
    limits = limits_in_force(settings)
    opened = ground.open_area(asked, strips)
    settled = parted(asked, shape, strips, opened, limits, tell)
    area, (site, *more_sites), first = settled.area, settled.sites, settled.shares[0]
    fixed = fixed_trails(area, site.landing_id)
    swing_deg = winch.swing_limit_deg(
        settings.tractor.length_m, settings.tractor.width_m, settings.trails.width_main_m
    )
    spots = [(one.x, one.y) for one in settled.sites]
    with Solver() as solver:
        if len(settled.shares) == 1:
            _, tries = begun(first.area, shape, strips, opened, limits, tell)
            tries = tuple(
                (replace(t, trail_id=first.main_id, landing_id=first.site.landing_id), c)
                for t, c in tries
            )
            more: tuple[Trail, ...] = ()
            rooted = 1
        else:
            roots = main_roots(
                settled.shares, shape, strips, opened, limits, swing_deg, solver, tell
            )
            area = replace(area, findings=(*area.findings, *roots.findings))
            tries, more = ((roots.mains[0], 0.0),), (*roots.mains[1:], *roots.arms)
            rooted = len(roots.mains)
        main = tries[0][0]
        mains = (main, *more)
        swing_deg = winch.swing_limit_deg(
            settings.tractor.length_m, settings.tractor.width_m, main.width_m
        )
        grower, branch = prepare(area, shape, strips, opened, limits, main)
        known = sprouts.Known(grower)
        start = list(with_standing(grower, branch, (*mains, *fixed)))
        if len(settled.shares) == 1 and (main.source == "routed" or had_arms(area.earlier)):
            room = wide(area, shape, opened, limits, first.site, strips)
            mains, start = best_mains(
                room, grower, tries, fixed, opened, first.site, swing_deg, solver, known, tell
            )
            main = mains[0]
        if benching.rule_of(settings, limits) is not None:
            # what needs no digging first: a bench then has to better a plan without one
            level, trunk = prepare(undug(area), shape, strips, opened, limits, main)
            start = dry_start(
                level, list(with_standing(level, trunk, (*mains, *fixed))), strips, opened, limits,
                main, spots, swing_deg=swing_deg, solver=solver, known=sprouts.Known(level),
                tell=tell,
            )  # fmt: skip
            start = list(
                grow(
                    level,
                    start,
                    opened,
                    spots,
                    main_swing_deg=swing_deg,
                    pad_radius_m=pad_radius_m(settings.tractor.length_m),
                    solver=solver,
                    exact=False,
                    progress=tell,
                ).branches
            )
        else:
            start = dry_start(
                grower, start, strips, opened, limits, main, spots,
                swing_deg=swing_deg, solver=solver, known=known, tell=tell,
            )  # fmt: skip

        def assembled(grown: Grown) -> Assembly:
            nonlocal mains  # cut off behind the last thing on them, for good
            mains, grown = shortened(grower, mains, grown, roots=rooted)
            standing = (*mains, *fixed)
            return assemble(area, shape, strips, site, standing, grower, grown, tuple(more_sites))

        growth = Growth(grower, opened, spots, swing_deg, solver, known, tell)
        plan = growth.plan(start, assembled)
    heavy = too_heavy_for_any_load(plan)
    if heavy:
        # no trail is built for what no load could hold: planned again without them
        tell("leaving stems that are too heavy")
        trees = replace(asked.trees, set_aside=asked.trees.set_aside | heavy)
        return _planned(replace(asked, trees=trees), shape, strips, tell)
    tell("order of work")
    plan = replace(plan, trees=with_lost(plan.trees, settled.lost))
    return with_work(_at_stumps(_treated(plan), strips), strips)


def _treated(plan: Plan) -> Plan:
    """Say what marking and layout take, and what they leave."""
    yards = [landing.shape for landing in plan.landings]
    cleared = [benching.footprint(t, plan.benches.get(t.trail_id)) for t in plan.trails]
    cleared += [*(place.shape for place in plan.turning_places), *yards]
    done = treat(plan.area, cleared, [o.role == "in_trail" for o in plan.trees])
    found = check_treatment(plan.area, plan.terrain, done, plan.yard)
    return replace(plan, treatment=done, findings=ordered((*plan.findings, *found)))


def _at_stumps(plan: Plan, strips: water.Strips) -> Plan:
    """Choose rub trees and suggest lays."""
    inside = [*(one.shape for one in plan.landings), *(q.shape for q in plan.turning_places)]
    gone = ground.stems_in_trails(plan.area, plan.trails, plan.benches, inside)
    work = stump_work(
        plan.area, plan.terrain, strips, plan.trails, plan.positions, plan.pulls, plan.trees, gone
    )  # fmt: skip
    return replace(
        plan,
        rub_trees=work.rub_trees,
        lays=work.lays,
        trees=work.trees,
        findings=ordered((*plan.findings, *work.findings)),
    )


def _with_limits(plan: Plan, strips: water.Strips, tell: Callable[[str], None]) -> Plan:
    """Say what limits a plan that leaves marked trees unserved."""
    served = frozenset(pull.tree_id for pull in plan.pulls)
    if all(outcome.status in REACHED | {"leave"} for outcome in plan.trees):
        return plan
    tell("what limits the plan")
    better = worked_out(plan.options)
    rows = what_limits(plan.area, plan.terrain, strips, plan.trails, served, better)
    found = necks.necks(plan.area, plan.terrain, strips, plan.trails, served)
    told = necks.findings(found, plan.area.settings.area.units)
    return replace(plan, limits=rows, findings=ordered((*plan.findings, *told)))
