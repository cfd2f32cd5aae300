"""The one place that runs the chain from an area to a plan."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

import layout
from layout import (
    benching,
    drainage,
    fairline,
    ground,
    landing,
    necks,
    sites,
    soil,
    sprouts,
    terrain,
    water,
    winch,
)
from layout.checks import check_layout, check_treatment
from layout.choice_model import Choice
from layout.errors import InputError, NoWayError
from layout.findings import Finding, ordered
from layout.geometry import coordinates, cut
from layout.grow import Grown, grow
from layout.launches import LaunchRules
from layout.limits import LimitRow, what_limits
from layout.mains import candidate_mains
from layout.naming import changes
from layout.network import Branch
from layout.outcomes import outcomes
from layout.parking import park
from layout.records import (
    Change,
    ChoiceReport,
    FellingGroup,
    Landing,
    Lay,
    Pull,
    Retired,
    RubTree,
    SoilSummary,
    Trail,
    TrailStep,
    TreeOutcome,
    TurningPlace,
    WaterBar,
    WaterStrip,
    WinchPosition,
)
from layout.settings import AreaSettings, Limits, limits_in_force
from layout.site import Area
from layout.solver import Solver
from layout.standing import fixed_trails, main_of, progress_findings, with_standing
from layout.stump_work import stump_work
from layout.terrain import Stations, Terrain, station_table
from layout.trails import loads_at, name_trails, steps_of
from layout.treatment import Treatment, treat
from layout.tree_sizes import sizes_of
from layout.turning import pad_radius_m
from layout.work_records import Work

Floats = NDArray[np.float64]

FORMAT = "1"
LOAD_MOST_KG = 2000 * 0.45359237  # one sawtimber stem and at most 2,000 lb; ours
TURN_COST_M2 = 1.0  # a notch of turning; keeps lines from wavering
PLAN_REPAIRS = 3
LANDINGS_TRIED = 6  # where none is drawn and no main trail gets away from the best
TAIL_M = 0.5  # a routed main trail ends this far behind the last thing on it
MENDABLE = frozenset(
    {
        "grade_favourable",
        "grade_adverse",
        "cross_slope",
        "bench_cut_high",
        "turn_radius",
        "strip_entered",
    }
)


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A layout, checked: what is written, drawn and compared later."""

    area: Area
    terrain: Terrain
    landing: Landing
    trails: tuple[Trail, ...]
    steps: tuple[TrailStep, ...]
    positions: tuple[WinchPosition, ...]
    pulls: tuple[Pull, ...]
    trees: tuple[TreeOutcome, ...]
    turning_places: tuple[TurningPlace, ...]
    strips: tuple[WaterStrip, ...]
    bars: tuple[WaterBar, ...]
    soil: SoilSummary
    findings: tuple[Finding, ...]
    choice: ChoiceReport
    about: dict[str, str]
    stations: dict[str, Stations]
    changes: tuple[Change, ...] = ()  # since the earlier plan, where names are kept
    retired: tuple[Retired, ...] = ()
    benches: dict[str, benching.Bench] = field(default_factory=dict)  # new ones, by trail
    limits: tuple[LimitRow, ...] = ()  # what limits it, where marked trees are unserved
    rub_trees: tuple[RubTree, ...] = ()
    lays: tuple[Lay, ...] = ()  # one for each marked tree that still stands
    felling_groups: tuple[FellingGroup, ...] = ()  # one for each winch position
    treatment: Treatment | None = None  # what is taken and what is left; None: not worked out
    work: Work | None = None  # loads, order, hours; None: not worked out


def make_plan(area: Area, *, progress: Callable[[str], None] | None = None) -> Plan:
    """Plan a job.

    Parameters
    ----------
    area : Area
        What was read from the user's folder.
    progress : callable, optional
        Told a line now and then.

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
    """
    tell = progress or (lambda line: None)
    settings = area.settings
    limits = limits_in_force(settings)
    tell("reading the ground")
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    opened = ground.open_area(area, strips)
    area, site, tries = _begun(area, shape, strips, opened, limits, tell)
    main = tries[0][0]
    fixed = fixed_trails(area, site.landing_id)
    standing = (main, *fixed)
    grower, branch = _prepare(area, shape, strips, opened, limits, main)
    known = sprouts.Known(grower)
    start = list(with_standing(grower, branch, standing))
    swing_deg = winch.swing_limit_deg(
        settings.tractor.length_m, settings.tractor.width_m, main.width_m
    )
    with Solver() as solver:
        if len(tries) > 1:
            main, start = _best_main(
                grower, tries, fixed, opened, site, swing_deg, solver, known, tell
            )
            standing = (main, *fixed)
        if benching.rule_of(settings, limits) is not None:
            # what needs no digging first: a bench then has to better a plan without one
            level, trunk = _prepare(_undug(area), shape, strips, opened, limits, main)
            start = list(
                grow(
                    level,
                    list(with_standing(level, trunk, standing)),
                    opened,
                    (site.x, site.y),
                    main_swing_deg=swing_deg,
                    pad_radius_m=pad_radius_m(settings.tractor.length_m),
                    solver=solver,
                    progress=tell,
                ).branches
            )
        closed = grower.ground.closed.copy()
        for _ in range(PLAN_REPAIRS):
            grown = grow(
                grower,
                start,
                opened,
                (site.x, site.y),
                main_swing_deg=swing_deg,
                pad_radius_m=pad_radius_m(settings.tractor.length_m),
                solver=solver,
                closed=closed,
                known=known,
                progress=tell,
            )
            if main.source == "routed":
                main, grown = _without_tail(grower, main, grown)
                standing = (main, *fixed)
            plan = _assemble(area, shape, strips, site, standing, grower, grown, tell)
            start = _mended(grower, plan, grown, closed)
            if len(start) == len(grown.branches):
                break
    return _with_limits(_at_stumps(_treated(plan), strips), strips, tell)


def _treated(plan: Plan) -> Plan:
    """Say what marking and layout take, and what they leave."""
    site = plan.landing.shape
    cleared = [benching.footprint(t, plan.benches.get(t.trail_id)) for t in plan.trails]
    cleared += [*(place.shape for place in plan.turning_places), site]
    done = treat(plan.area, cleared, [o.role == "in_trail" for o in plan.trees])
    found = check_treatment(plan.area, plan.terrain, done, site)
    return replace(plan, treatment=done, findings=ordered((*plan.findings, *found)))


def _at_stumps(plan: Plan, strips: water.Strips) -> Plan:
    """Choose rub trees, suggest lays, and say where the tractor waits while trees are felled."""
    trees, inside = plan.area.trees, [plan.landing.shape]
    inside += [place.shape for place in plan.turning_places]
    gone = ground.stems_in_trails(plan.area, plan.trails, plan.benches)
    gone |= np.asarray(shapely.contains_xy(shapely.union_all(inside), trees.x, trees.y))
    work = stump_work(
        plan.area, plan.terrain, strips, plan.landing, plan.trails, plan.stations,
        plan.positions, plan.pulls, plan.trees, gone,
    )  # fmt: skip
    return replace(
        plan,
        rub_trees=work.rub_trees,
        lays=work.lays,
        felling_groups=work.groups,
        trees=work.trees,
        findings=ordered((*plan.findings, *work.findings)),
    )


def _with_limits(plan: Plan, strips: water.Strips, tell: Callable[[str], None]) -> Plan:
    """Say what limits a plan that leaves marked trees unserved."""
    served = frozenset(pull.tree_id for pull in plan.pulls)
    if all(outcome.status in ("leave", "served") for outcome in plan.trees):
        return plan
    tell("what limits the plan")
    rows = what_limits(plan.area, plan.terrain, strips, plan.trails, served)
    found = necks.necks(plan.area, plan.terrain, strips, plan.trails, served)
    told = necks.findings(found, plan.area.settings.area.units)
    return replace(plan, limits=rows, findings=ordered((*plan.findings, *told)))


def _begun(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    opened: BaseGeometry,
    limits: Limits,
    tell: Callable[[str], None],
) -> tuple[Area, Landing, tuple[tuple[Trail, float], ...]]:
    """Settle the landing, and the main trails to try from it.

    Where neither is drawn, the first proposed landing counts that a main trail
    can get away from.
    """
    if area.landing is None:
        tell("looking for a landing")
    count = LANDINGS_TRIED if area.main_trail is None and area.main_fixed is None else 1
    refused: InputError | None = None
    for option in sites.with_landings(area, shape, strips, limits, count):
        assert option.landing is not None
        site = landing.measure(option, shape, strips, option.landing)
        if option.main_trail is not None or option.main_fixed is not None:
            return option, site, ((main_of(option, site.landing_id), 0.0),)
        tell("looking for main trails")
        try:
            return option, site, _mains_to_try(option, shape, opened, limits, site)
        except InputError as error:
            refused = refused or error
    assert refused is not None
    raise refused


def _mains_to_try(
    area: Area, shape: Terrain, opened: BaseGeometry, limits: Limits, site: Landing
) -> tuple[tuple[Trail, float], ...]:
    """Lay out main trails, each with what it costs, weighted square metres."""
    try:
        found = candidate_mains(area, shape, opened, limits, site)
    except NoWayError as error:
        msg = f"[main_trail]: none is drawn, and {error}"
        raise InputError(msg) from error
    return tuple(
        (
            Trail(
                trail_id="M",
                kind="main",
                landing_id=site.landing_id,
                line=LineString(candidate.line),
                width_m=area.settings.trails.width_main_m,
                source="routed",
            ),
            candidate.cost_m2,
        )
        for candidate in found
    )


def _best_main(
    grower: sprouts.Grower,
    tries: tuple[tuple[Trail, float], ...],
    fixed: tuple[Trail, ...],
    opened: BaseGeometry,
    site: Landing,
    swing_deg: float,
    solver: Solver,
    known: sprouts.Known,
    tell: Callable[[str], None],
) -> tuple[Trail, list[Branch]]:
    """Choose spurs once on each main trail, and keep the main that does best.

    Fewest trees unserved, then least objective with the main's own cost in it.
    Gives the main trail and the branches to grow on from.
    """
    ranked: list[tuple[int, float, int]] = []
    grown_of: list[Grown] = []
    for number, (main, cost_m2) in enumerate(tries):
        line = coordinates(main.line)
        branch = Branch(line, -1, 0.0, fairline.measure(grower.judge, line), built=True)
        grown = grow(
            grower,
            list(with_standing(grower, branch, (main, *fixed))),
            opened,
            (site.x, site.y),
            main_swing_deg=swing_deg,
            pad_radius_m=pad_radius_m(grower.body_m),
            solver=solver,
            known=known,
            rounds=1,
        )
        left = int((grown.choice.tree_pair < 0).sum())
        ranked.append((left, grown.choice.objective + cost_m2, number))
        grown_of.append(grown)
        tell(
            f"main trail {number + 1} of {len(tries)}: {main.line.length:,.0f} m, "
            f"{left} trees left, {ranked[-1][1]:,.0f} m2"
        )
    best = min(ranked)[2]
    return tries[best][0], list(grown_of[best].branches)


def _without_tail(grower: sprouts.Grower, main: Trail, grown: Grown) -> tuple[Trail, Grown]:
    """Cut a routed main trail off behind the last thing on it."""
    used = [b.mouth_m for b in grown.branches if b.parent == 0]
    used += [s.at_m for s in grown.spots if s.branch == 0]
    for place in grown.places:
        if place.branch == 0:
            used.append(place.at_m)
            if place.line is not None:
                points = shapely.points(np.asarray(place.line, dtype=float))
                used += np.atleast_1d(shapely.line_locate_point(main.line, points)).tolist()
    last = max(used, default=0.0) + TAIL_M
    if not used or last >= main.line.length:
        return main, grown
    line = cut(coordinates(main.line), 0.0, last)
    trunk = replace(grown.branches[0], line=line, measured=fairline.measure(grower.judge, line))
    return (
        replace(main, line=LineString(line)),
        replace(grown, branches=(trunk, *grown.branches[1:])),
    )


def _undug(area: Area) -> Area:
    """Give the same job with no bench allowed."""
    settings = area.settings
    trails = settings.trails.model_copy(update={"bench_up_to_pct": 0.0})
    return replace(area, settings=settings.model_copy(update={"trails": trails}))


def _prepare(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    opened: BaseGeometry,
    limits: Limits,
    main: Trail,
) -> tuple[sprouts.Grower, Branch]:
    settings = area.settings
    trails, objective = settings.trails, settings.objective
    # where loads are bucked and decked no spur passes
    off = opened if area.landing is None else opened.difference(area.landing)
    table = ground.build(
        area, shape, off, limits, width_m=trails.width_spur_m, weight=objective.spur
    )
    judge = fairline.judge_for(
        area, shape, limits, off, width_m=trails.width_spur_m, weight=objective.spur
    )
    grower = sprouts.Grower(
        ground=table,
        judge=judge,
        pull_ground=winch.prepare(area, shape, strips),
        winch=winch.rules_from(settings),
        launch=LaunchRules(
            radius_m=trails.turn_radius_m,
            angle_deg=trails.junction_angle_deg,
            tolerance_deg=trails.junction_tolerance_deg,
            start_cost_m2=objective.spur_start_m2,
            turn_cost_m2=TURN_COST_M2,
        ),
        longest_m=trails.spur_length_m,
        body_m=settings.tractor.length_m,
        swing_deg=winch.swing_limit_deg(
            settings.tractor.length_m, settings.tractor.width_m, trails.width_spur_m
        ),
    )
    line = coordinates(main.line)
    return grower, Branch(line, -1, 0.0, fairline.measure(judge, line), built=True)


def _assemble(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    site: Landing,
    standing: tuple[Trail, ...],
    grower: sprouts.Grower,
    grown: Grown,
    tell: Callable[[str], None],
) -> Plan:
    settings = area.settings
    trails = name_trails(
        grown.branches,
        standing,
        width_spur_m=settings.trails.width_spur_m,
        earlier=area.earlier,
    )
    positions, pulls = park(grower, grown, trails)
    places = tuple(
        TurningPlace(
            place_id=f"T{number}",
            trail_id=trails[p.branch].trail_id,
            at_m=p.at_m,
            kind=p.kind,
            shape=p.shape,
            slope_pct=p.slope_pct,
            line=None if p.line is None else LineString(p.line),
        )
        for number, p in enumerate(grown.places, start=1)
    )
    stations = {t.trail_id: station_table(shape, t.line, t.width_m) for t in trails}
    limits = limits_in_force(settings)
    benches = {
        t.trail_id: bench
        for t in trails
        if (bench := benching.of_trail(area, limits, t, stations[t.trail_id])) is not None
    }
    sizes = sizes_of(area)
    loads = _loads(positions, area, sizes.mass_kg)
    passing = loads_at(trails, positions, loads)
    steps = soil.classed(area, steps_of(trails, stations, passing, benches), _wet(area))
    in_trail = ground.stems_in_trails(area, trails, benches)
    trees = outcomes(grower, grown, pulls, in_trail, sizes.mass_kg, sizes.stem_m3)
    tell("drainage and checks")
    bars, bar_findings = _drainage(area, strips, site, trails, stations)
    since, retired = changes(area.earlier, trails, positions)
    summary = soil.summarise(area, site, trails, places, pulls, steps, benches)
    findings = [
        *area.findings,
        *strips.findings,
        *landing.check(area, shape, strips, site),
        *check_layout(area, shape, strips, site, trails, positions, pulls, places, trees),
        *bar_findings,
        *progress_findings(area, steps, positions),
        *winch.findings_from(settings),
        soil.share_finding(area, summary),
        *_cut_short(grown),
    ]
    return Plan(
        area=area,
        terrain=shape,
        landing=site,
        trails=trails,
        steps=steps,
        positions=positions,
        pulls=pulls,
        trees=trees,
        turning_places=places,
        strips=strips.polygons,
        bars=bars,
        soil=summary,
        findings=ordered(findings),
        choice=_report(grown, settings),
        about=_about(area, grown),
        stations=stations,
        changes=since,
        retired=retired,
        benches=benches,
    )


def _loads(positions: tuple[WinchPosition, ...], area: Area, mass_kg: Floats) -> dict[str, int]:
    """Count loads: a stem each, and one more for every 2,000 lb begun."""
    share = 1.0 + area.settings.timber.weight_error_pct / 100
    row = {tree_id: i for i, tree_id in enumerate(area.trees.tree_id)}
    out = {}
    for position in positions:
        weights = [mass_kg[row[t]] * share for t in position.tree_ids]
        out[position.position_id] = sum(
            max(1, int(np.ceil(w / LOAD_MOST_KG))) if np.isfinite(w) else 1 for w in weights
        )
    return out


def _wet(area: Area) -> BaseGeometry:
    """Give the mapped wet ground: a step of trail that touches it counts as wet."""
    return shapely.union_all([w.geometry for w in area.water if w.water_class == "wetland"])


def _drainage(
    area: Area,
    strips: water.Strips,
    site: Landing,
    trails: tuple[Trail, ...],
    stations: dict[str, Stations],
) -> tuple[tuple[WaterBar, ...], list[Finding]]:
    bars: list[WaterBar] = []
    findings: list[Finding] = []
    by_id = {t.trail_id: t for t in trails}
    closed = shapely.union_all([strip.shape for strip in strips.polygons])
    units = area.settings.area.units
    for trail in trails:
        mouths = [t.joins_at_m or 0.0 for t in trails if t.joins_id == trail.trail_id]
        host = by_id.get(trail.joins_id)
        start = site.shape if host is None else soil.strip(host.line, host.width_m)
        clear = drainage.clear_from(trail.line, start, trail.width_m)
        laid = drainage.bars(
            trail,
            stations[trail.trail_id],
            mouths,
            landing_end=host is None,
            strip_edges_m=drainage.strip_edges(trail.line, closed),
            clear_from_m=clear,
        )
        bars += laid
        findings += drainage.outlet_findings(trail, laid, units)
    return tuple(bars), findings


def _mended(
    grower: sprouts.Grower, plan: Plan, grown: Grown, closed: NDArray[np.uint8]
) -> list[Branch]:
    """Drop the spurs the checker stops, and close the lattice under the place.

    Gives the branches to grow on from; as many as there were when nothing is
    left to mend.
    """
    number = {t.trail_id: n for n, t in enumerate(plan.trails) if _ours(t)}
    dropped: set[int] = set()
    for finding in plan.findings:
        n = number.get(finding.subject_id)
        if finding.level != "stop" or finding.code not in MENDABLE or n is None:
            continue
        dropped.add(n)
        if finding.from_m is not None and finding.to_m is not None:
            st = plan.stations[finding.subject_id]
            hit = (st.at_m >= finding.from_m - 1) & (st.at_m <= finding.to_m + 1)
            sprouts.close_states(grower.ground, closed, st.x[hit], st.y[hit], st.heading_rad[hit])
    kept: dict[int, int] = {}
    out: list[Branch] = []
    for n, branch in enumerate(grown.branches):
        if n in dropped or (branch.parent >= 0 and branch.parent not in kept):
            continue
        kept[n] = len(out)
        out.append(replace(branch, parent=kept.get(branch.parent, -1)))
    return out


def _ours(trail: Trail) -> bool:
    """Tell whether a trail may be given up and laid out anew: a spur of this plan."""
    return trail.source == "routed" and trail.kind == "spur"


def _cut_short(grown: Grown) -> list[Finding]:
    """Say that time ended the search: what is told of single trees may be the clock's doing."""
    if grown.choice.stopped_by != "time":
        return []
    return [
        Finding(
            code="search_cut_short",
            level="caution",
            message=(
                "The search was ended by its time limit before it had settled: trees may be "
                "unreached, or trail too long, for want of time and not of ground. Raise "
                "time_limit under [objective], or plan again with nothing else running"
            ),
            source="ours",
        )
    ]


def _report(grown: Grown, settings: AreaSettings) -> ChoiceReport:
    found, choice = grown.candidates, grown.choice
    return ChoiceReport(
        objective_m2=choice.objective,
        bound_m2=choice.bound,
        gap_pct=gap_pct(choice),
        rounds=grown.rounds,
        segments=int(found.forest.parent.size),
        positions=int(found.forest.position_segment.size),
        pairs=int(found.forest.pair_cost.size),
        rows=choice.size.get("rows", 0),
        columns=choice.size.get("columns", 0),
        nonzeros=choice.size.get("nonzeros", 0),
        seconds=grown.seconds,
        stopped_by=choice.stopped_by,
        seed=settings.objective.seed,
    )


def gap_pct(choice: Choice) -> float:
    """Give the proved gap of a choice, percent of its objective."""
    return 100 * max(choice.objective - choice.bound, 0.0) / max(abs(choice.objective), 1e-9)


def _about(area: Area, grown: Grown) -> dict[str, str]:
    choice = grown.choice
    return {
        "format": FORMAT,
        "program": "skidway",
        "version": layout.__version__,
        "made": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "area": area.settings.area.name,
        "crs": area.crs.to_string(),
        "units": area.settings.area.units,
        "azimuths": "grid, degrees clockwise from grid north",
        "objective_m2": f"{choice.objective:.3f}",
        "bound_m2": f"{choice.bound:.3f}",
        "gap_pct": f"{gap_pct(choice):.4f}",
        "rounds": str(grown.rounds),
        "seed": str(area.settings.objective.seed),
        "stopped_by": choice.stopped_by,
        "words": "best found among the lines tried; optimal among the candidates of the last round",
    }
