"""All of the work of a finished layout: loads, order, hours, decks and trucks.

Runs the rooms that each do one part of it, in the one order they depend on each other:
what may be dragged from where; pieces; loads; whether a trailer is used; the order of work
and the loads' names; where the tractor waits while trees are felled; hours, decks, trucks,
money. Afterwards the passes over every step of trail, and so its soil class, are known.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout import soil
from layout.at_landings import all_together, truckings_of, with_landings
from layout.closeout import closeout_of
from layout.cycle_model import LANDING_MIN, pace_of
from layout.cycle_times import (
    Job,
    calibration_of,
    clear_minutes,
    close_minutes,
    fell_minutes,
    flag_minutes,
    pull_minutes,
    time_findings,
    times_of,
    turn_minutes,
)
from layout.erosion import with_erosion
from layout.felling_groups import felling_groups, waiting_findings
from layout.findings import Finding, ordered
from layout.ground import stems_in_trails
from layout.hauling import Ways, benched
from layout.money import fuel_litres, money_findings, money_of
from layout.pieces import begun_findings, pieces_of, too_heavy
from layout.plan_record import Plan
from layout.products import Product, products_of
from layout.pull_forces import with_limits
from layout.records import FellingGroup, TurningPlace
from layout.shorter_ways import lane_traffic, on_shorter_ways, shortened
from layout.small_landing import Ground
from layout.soil_map import wet_ground
from layout.standing import progress_findings
from layout.trailer_findings import two_stage_findings
from layout.trailer_steps import with_trailer
from layout.trails import with_loads
from layout.tree_sizes import TreeSizes, sizes_of
from layout.trucking import room_findings, truck_findings, trucking_of
from layout.turns import carried, named, traffic, turns_of
from layout.two_stage import in_use, two_stage_of
from layout.water import Strips
from layout.work_order import StepMinutes, work_order
from layout.work_records import AtLanding, CutShorter, Piece, Turn, TwoStage, Work, WorkStep

END_M = 1.0  # an earlier load's station lies this far beyond the end of its trail at most


def too_heavy_for_any_load(plan: Plan) -> frozenset[str]:
    """Name the trees winched in this layout that no cut makes light enough for their way.

    Parameters
    ----------
    plan : Plan
        A finished layout.

    Returns
    -------
    frozenset of str
    """
    heavy = too_heavy(_pieces(plan, sizes_of(plan.area), _ways(plan))[1])
    return heavy & {pull.tree_id for pull in plan.pulls}


def with_work(plan: Plan, strips: Strips) -> Plan:
    """Work out all of the work of a finished layout.

    Parameters
    ----------
    plan : Plan
        With its rub trees chosen.
    strips : Strips
        Its water strips.

    Returns
    -------
    Plan
        With its work and waiting places, with what each step and pull may bear, with
        passes, and with soil classes that follow from them.
    """
    area, settings = plan.area, plan.area.settings
    sizes, ways = sizes_of(area), _ways(plan)
    pieces, shorter = _pieces(plan, sizes, ways)
    loads = _to_landings(plan, turns_of(settings, pieces))
    job = Job(plan.trails, plan.pulls, pieces, loads)
    calibration = calibration_of(area, job)
    pace = calibration.on(pace_of(settings))
    products = products_of(area, pieces, sizes)
    trailer = None
    if settings.trailer.compare or settings.trailer.use or in_use(area) is not None:
        # of several landings the trailer serves the first
        lanes = [t for t in plan.trails if t.landing_id == plan.landing.landing_id]
        ground = Ground(
            area, plan.terrain, strips, plan.landing, tuple(lanes), plan.stations,
            plan.turning_places, _on_bench(plan),
        )  # fmt: skip
        trailer = two_stage_of(ground, job, products, pace, calibration)
        if trailer.chosen:
            loads = shortened(loads, trailer, pieces, plan.trails)
            short = _ways(plan, (trailer.trail_id, trailer.at_m or 0.0))
            loads, pieces = on_shorter_ways(loads, pieces, short)
            job = replace(job, turns=loads, pieces=pieces)
    turns, steps = _ordered(plan, loads, job, sizes)
    if trailer is not None and trailer.chosen:
        steps = with_trailer(steps, turns, trailer)
    groups = _waiting(plan, steps)
    job = replace(job, turns=turns)
    times = times_of(area, job, steps)
    before = _to_landings(plan, carried(area.earlier, turns))
    each = _trucked(plan, products, pieces, turns, before)
    trucking = each[0].trucking if len(each) == 1 else all_together(settings, each, products)
    low_l, high_l = fuel_litres(settings, times)
    work = Work(
        turns=(*turns, *before),
        pieces=pieces,
        shorter=tuple(cut for cut in shorter if cut.lengths_m),
        steps=steps,
        times=times,
        trucking=trucking,
        fuel_low_l=low_l,
        fuel_high_l=high_l,
        money=money_of(settings, times, trucking, job, pace),
        two_stage=trailer,
        at_landings=each if len(each) > 1 else (),
    )
    found = [
        *_of_heavy(plan, shorter),
        *begun_findings(pieces),
        *waiting_findings(groups),
        *time_findings(area, job, times),
        *room_findings(settings, plan.landings, each),
        *truck_findings(settings, trucking),
        *money_findings(settings, trucking),
        *(two_stage_findings(settings, trailer) if trailer is not None else ()),
    ]
    done = _driven(replace(plan, work=work, felling_groups=groups), turns, trailer, ways, found)
    done = with_erosion(done)
    return replace(done, closeout=closeout_of(done))


def _to_landings(plan: Plan, turns: Sequence[Turn]) -> tuple[Turn, ...]:
    return with_landings(turns, plan.landings, plan.trails, plan.positions, plan.area)


def _waiting(plan: Plan, steps: Sequence[WorkStep]) -> tuple[FellingGroup, ...]:
    """Find where the tractor waits: on the trails and the landing the work is done from."""
    if not plan.more_landings:
        return felling_groups(
            plan.area, plan.landing, plan.trails, plan.stations, plan.positions, steps
        )
    out: list[FellingGroup] = []
    for one in plan.landings:
        trails = [trail for trail in plan.trails if trail.landing_id == one.landing_id]
        own = [step for step in steps if step.landing_id == one.landing_id]
        others = [other for other in plan.landings if other is not one]
        found = felling_groups(
            plan.area, one, trails, plan.stations, plan.positions, own, others
        )  # fmt: skip
        out += [replace(group, landing_id=one.landing_id) for group in found]
    return tuple(out)


def _trucked(
    plan: Plan,
    products: Sequence[Product],
    pieces: Sequence[Piece],
    turns: Sequence[Turn],
    before: Sequence[Turn],
) -> tuple[AtLanding, ...]:
    """Lay out decks and load trucks, landing by landing."""
    settings = plan.area.settings
    longest = max((piece.length_m for piece in pieces), default=0.0)
    if not plan.more_landings:
        one = trucking_of(settings, plan.landing, products, longest, before)
        return (AtLanding(plan.landing.landing_id, one),)
    comes_to = {tree: turn.landing_id for turn in turns for tree in turn.tree_ids}
    most: dict[str, float] = {}
    for piece in pieces:
        name = comes_to.get(piece.tree_id, plan.landing.landing_id)
        most[name] = max(most.get(name, 0.0), piece.length_m)
    return truckings_of(settings, plan.landings, products, most, turns, before)


def _driven(
    plan: Plan, turns: Sequence[Turn], trailer: TwoStage | None, ways: Ways, found: list[Finding]
) -> Plan:
    """Count the passes, and what follows from them."""
    area = plan.area
    ahead = with_loads(plan.steps, _passing(plan, turns, trailer))
    passing = _passing(plan, [*turns, *_in_already(plan)], trailer)
    steps = ways.with_steps(soil.classed(area, with_loads(plan.steps, passing), wet_ground(area)))
    places = list(plan.turning_places)
    if trailer is not None and trailer.chosen and trailer.shape is not None:
        # driven on and piled on: ground taken as that of a turning place is
        places.append(
            TurningPlace(
                "", trailer.trail_id, trailer.at_m or 0.0, "pad", trailer.shape, float("nan")
            )
        )
    ground = soil.summarise(
        area,
        plan.landing,
        plan.trails,
        places,
        plan.pulls,
        steps,
        plan.benches,
        plan.more_landings,
    )
    found = [
        *found,
        *progress_findings(area, ahead, plan.positions),
        *_idle(plan, passing),
        soil.share_finding(area, ground),
    ]
    return replace(
        plan,
        steps=steps,
        pulls=with_limits(plan.pulls, plan.positions, area.settings),
        soil=ground,
        findings=ordered((*plan.findings, *found)),
    )


def _idle(plan: Plan, passing: Mapping[str, Sequence[tuple[float, int]]]) -> list[Finding]:
    """Name spurs that no load comes over: all their trees come out with another trail's stems."""
    return [
        Finding(
            "spur_idle",
            "caution",
            f"No load comes over {trail.trail_id}: what it was laid out for stands in the way of "
            "another trail and comes out with that. Leave this spur out.",
            "trails",
            trail.trail_id,
        )
        for trail in plan.trails
        if trail.source == "routed"
        and trail.kind == "spur"
        and not any(loads for _, loads in passing.get(trail.trail_id, ()))
    ]


def _passing(
    plan: Plan, turns: Sequence[Turn], trailer: TwoStage | None
) -> dict[str, list[tuple[float, int]]]:
    """Count the loads over every stretch of trail."""
    passing = traffic(plan.trails, turns)
    if trailer is None or not trailer.chosen:
        return passing
    short = [turn.state for turn in turns if turn.ends_at == "small landing"]
    # loads the trailer took on before count as dragged: its trips with them are not known
    through = short.count("planned") + min(short.count("done"), trailer.loads_in)
    return lane_traffic(passing, trailer, through)


def _in_already(plan: Plan) -> list[Turn]:
    """Give the loads that are in: their passes have pressed the ground, where their trail stays."""
    work, ends = plan.work, {trail.trail_id: trail.line.length for trail in plan.trails}
    return [
        turn
        for turn in (work.turns if work is not None else ())
        if turn.state == "done" and turn.at_m <= ends.get(turn.trail_id, -1.0) + END_M
    ]


def _ordered(
    plan: Plan, loads: Sequence[Turn], job: Job, sizes: TreeSizes
) -> tuple[tuple[Turn, ...], tuple[WorkStep, ...]]:
    """Put loads and steps in order."""
    area = plan.area
    pace = calibration_of(area, job).on(pace_of(area.settings))
    of_tree: dict[str, list[Piece]] = defaultdict(list)
    for piece in job.pieces:
        of_tree[piece.tree_id].append(piece)
    stem_m3 = dict(zip(area.trees.tree_id, sizes.stem_m3.tolist(), strict=True))

    def fell(tree: str) -> float:
        """Minutes of one tree; a hazard tree no load takes lies where it falls."""
        some = of_tree.get(tree)
        return fell_minutes(pace, some) if some else pace.fell(float(np.nan_to_num(stem_m3[tree])))

    minutes = StepMinutes(
        flag=lambda trail: flag_minutes(pace, trail),
        open=lambda trail: clear_minutes(pace, trail),
        close=lambda trail: close_minutes(pace, trail),
        fell=fell,
        pull=lambda pull: pull_minutes(pace, pull, len(of_tree.get(pull.tree_id, []))),
        turn=lambda turn: turn_minutes(pace, turn),
        landing=LANDING_MIN,
    )
    return work_order(
        area, plan.trails, plan.positions, plan.pulls, plan.rub_trees, loads, minutes,
        lambda some: named(some, area.earlier),
    )  # fmt: skip


def _ways(plan: Plan, ends_at: tuple[str, float] | None = None) -> Ways:
    return Ways(plan.area.settings, plan.trails, plan.stations, _on_bench(plan), ends_at)


def _on_bench(plan: Plan) -> dict[str, NDArray[np.bool_]]:
    return benched(plan.area, plan.trails, plan.stations, plan.benches)


def _pieces(
    plan: Plan, sizes: TreeSizes, ways: Ways
) -> tuple[tuple[Piece, ...], tuple[CutShorter, ...]]:
    yards = [landing.shape for landing in plan.landings]
    cleared = [*(place.shape for place in plan.turning_places), *yards]
    stems = stems_in_trails(plan.area, plan.trails, plan.benches, cleared)
    return pieces_of(
        plan.area, sizes, plan.positions, plan.pulls, plan.trails, ways, plan.rub_trees, stems
    )


def _of_heavy(plan: Plan, shorter: Sequence[CutShorter]) -> list[Finding]:
    """Name the stems that are cut shorter than usual to be light enough."""
    cut = [one for one in shorter if one.lengths_m]
    if not cut:
        return []
    names = ", ".join(one.tree_id for one in cut[:12])
    more = f" and {len(cut) - 12} more" if len(cut) > 12 else ""
    return [
        Finding(
            "cut_shorter",
            "caution",
            f"{'1 stem gives' if len(cut) == 1 else f'{len(cut)} stems give'} a piece heavier than "
            f"a load may be on its way: cut shorter ({names}{more}). The order of work says how.",
            "trees",
            cut[0].tree_id,
            value=float(len(cut)),
            source="statics; frictions from memory",
            confirmed=False,
        )
    ]
