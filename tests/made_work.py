"""The work of the made-up plan, by hand: loads, steps, hours, trucks, a trailer.

Nothing here is worked out by the planner. Loads hold every piece once, masses and
volumes add up, and there is one of everything an output has to show: a load that is in,
a name that is gone, a stem cut shorter, one that nothing can drag.
"""

from dataclasses import replace
from itertools import groupby

from layout.plan import Plan
from layout.records import Pull, TrailStep
from layout.work_records import (
    CutShorter,
    Hours,
    Money,
    PayloadLimit,
    Piece,
    PieceKind,
    Sort,
    Stage,
    Times,
    Trucking,
    Turn,
    TwoStage,
    Way,
    Work,
    WorkStep,
)

LIMITS: tuple[PayloadLimit, ...] = (
    "front_axle", "traction", "engine", "lift", "braking", "runaway", "machine_share",
)  # fmt: skip
MAIN_KG = 1500.0
CHOKERS = 3
KINDS: tuple[PieceKind, ...] = ("sawlog", "sawlog", "pulp")


def worked(plan: Plan) -> Plan:
    """Give the plan with its steps, pulls and work filled."""
    steps = tuple(_step(step, n) for n, step in enumerate(plan.steps))
    pulls = tuple(_pull(pull, n) for n, pull in enumerate(plan.pulls))
    filled = replace(plan, steps=steps, pulls=pulls)
    return replace(filled, work=work(filled))


def _step(step: TrailStep, n: int) -> TrailStep:
    """Fill a step: every limit, margins from wide to over, one of each left unknown."""
    spur = step.trail_id != "M1"
    kg = MAIN_KG if not spur else 1100.0 - 40.0 * (n % 7)
    return replace(
        step,
        payload_kg=None if n == 3 else kg,
        payload_by="" if n == 3 else LIMITS[n % len(LIMITS)],
        tip_margin_deg=None if n == 4 else 14.0 - 2.0 * (n % 8),
        front_share_pct=None if n == 4 else 36.0 - 2.5 * (n % 8),
    )


def _pull(pull: Pull, n: int) -> Pull:
    """Fill a pull: what bounds its force."""
    by = ("winch", "rope", "anchoring", "side", "front")[n % 5]
    return replace(pull, limit_kn=None if n == 1 else 30.0 - n % 9, limited_by="" if n == 1 else by)


def way(plan: Plan, trail_id: str, at_m: float) -> Way:
    """Give the way from a place on a trail: the least of the steps it passes."""
    legs = [(trail_id, at_m)]
    trail = next(t for t in plan.trails if t.trail_id == trail_id)
    if trail.joins_id:
        legs.append((trail.joins_id, trail.joins_at_m or 0.0))
    passed = [
        step
        for leg, far in legs
        for step in plan.steps
        if step.trail_id == leg and step.from_m < far and step.payload_kg is not None
    ]
    least = min(passed, key=lambda s: s.payload_kg or 0.0)
    return Way(
        trail_id, at_m, sum(far for _, far in legs), least.payload_kg or 0.0,
        least.payload_by, least.trail_id, least.from_m,  # type: ignore[arg-type]
    )  # fmt: skip


def pieces(plan: Plan) -> tuple[Piece, ...]:
    """Give one to three pieces a pulled tree, and one from a stem in the main trail."""
    spots = {p.position_id: p for p in plan.positions}
    rub = {r.tree_id for r in plan.rub_trees}
    made = [Piece("T2", 1, "stem", "open", "M1", 90.0, "", 9.0, 0.4, 420.0, way(plan, "M1", 90.0))]
    for n, pull in enumerate(plan.pulls):
        spot = spots[pull.position_id]
        stage: Stage = "rub" if pull.tree_id in rub else "harvest"
        for k in range(1 + n % 3):
            mass_kg = 380.0 - 90.0 * k + 7.0 * (n % 5)
            made.append(
                Piece(
                    pull.tree_id, k + 1, KINDS[k], stage, spot.trail_id, spot.at_m,
                    spot.position_id, 5.0 - 0.6 * k, mass_kg / 1050.0, mass_kg,
                    way(plan, spot.trail_id, spot.at_m), mass_known=n != 2,
                )
            )  # fmt: skip
    return tuple(sorted(made, key=lambda p: (("open", "harvest", "rub").index(p.stage),
                                             p.trail_id, -p.at_m)))  # fmt: skip


def turns(some: tuple[Piece, ...]) -> tuple[Turn, ...]:
    """Put the pieces of a position together, under the limit and the chokers, in order."""
    made: list[Turn] = []
    for _, alike in groupby(some, key=lambda p: (p.stage, p.position_id)):
        load: list[Piece] = []
        for piece in alike:
            full = sum(p.mass_kg for p in load) + piece.mass_kg > piece.way.limit_kg
            if load and (full or len(load) == CHOKERS):
                made.append(_turn(load, len(made) + 1))
                load = []
            load.append(piece)
        made.append(_turn(load, len(made) + 1))
    in_already = Turn(
        "LD90", 0, "harvest", "S1", "S1-1", 20.0, 82.0, (("T400", 1),), ("T400",), ("S1-1",),
        500.0, 0.5, 860.0, "traction", "done",
    )  # fmt: skip
    gone = replace(
        in_already, turn_id="LD91", pieces=(("T408", 1),), tree_ids=("T408",), state="retired"
    )
    return (*made, in_already, gone)


def _turn(load: list[Piece], order: int) -> Turn:
    """Make one load, named and ordered."""
    far = max(load, key=lambda p: p.way.travel_m)
    least = min(load, key=lambda p: p.way.limit_kg).way
    return Turn(
        f"LD{order}", order, far.stage, far.trail_id, far.position_id, far.at_m,
        far.way.travel_m, tuple((p.tree_id, p.number) for p in load),
        tuple(dict.fromkeys(p.tree_id for p in load)),
        tuple(dict.fromkeys(p.position_id for p in load if p.position_id)),
        sum(p.mass_kg for p in load), sum(p.wood_m3 for p in load),
        least.limit_kg, least.limited_by,
    )  # fmt: skip


def steps(plan: Plan, loads: tuple[Turn, ...]) -> tuple[WorkStep, ...]:
    """Give one step of every kind, and the hauling of every planned load."""
    spot = plan.positions[0]
    made = [
        WorkStep(0, "flag", minutes=90.0, done=True),
        WorkStep(0, "open", "M1", tree_ids=("T2",), turn_ids=(loads[0].turn_id,), minutes=55.0),
        WorkStep(
            0, "fell", spot.trail_id, spot.position_id, spot.tree_ids, minutes=40.0, done=True
        ),
        WorkStep(0, "winch", spot.trail_id, spot.position_id, spot.tree_ids, minutes=25.0),
    ]
    made += [
        WorkStep(0, "haul", t.trail_id, t.position_id, t.tree_ids, (t.turn_id,), 12.5)
        for t in loads
        if t.state == "planned"
    ]
    made += [
        WorkStep(0, "rub", "S1", tree_ids=("T1",), minutes=30.0),
        WorkStep(0, "close", "S1", minutes=15.0),
        WorkStep(0, "landing", minutes=45.0),
    ]
    return tuple(replace(step, number=n) for n, step in enumerate(made, start=1))


def hours(kind: str, productive_h: float) -> Hours:
    """Give a range of 35 % either way, with pauses at a productive share of 0.7."""
    return Hours(kind, productive_h, productive_h / 0.7 * 0.65, productive_h / 0.7 * 1.35)


def times() -> Times:
    """Give hours by kind that add up."""
    kinds = (
        hours("open", 3.0), hours("fell", 9.5), hours("winch", 6.5),
        hours("haul", 7.0), hours("close", 2.0),
    )  # fmt: skip
    total = hours("total", sum(k.productive_h for k in kinds))
    return Times(kinds, total, total.low_h / 6, total.high_h / 6, 1.1, False, 24.4, 31.0)


def trucking(some: tuple[Piece, ...]) -> Trucking:
    """Give two sorts that hold all the wood, on a landing that is too small."""
    logs = [p for p in some if p.kind == "sawlog"]
    rest = [p for p in some if p.kind != "sawlog"]
    sorts = (
        _sort("sugar maple", "sawlog", logs, 2140.0, 4.8),
        _sort("small wood", "pulp", rest, None, 2.1),
    )
    mass_kg = sum(s.mass_kg for s in sorts)
    return Trucking(
        sorts, 7.8, 95.0, 1250.0, 988.0, 16329.3, mass_kg / 16329.3, 1.2, 2,
        bucking_m2=260.0, turning_m2=395.0, standing_m2=500.0,
    )  # fmt: skip


def _sort(
    name: str, kind: PieceKind, some: list[Piece], net_bf: float | None, frontage_m: float
) -> Sort:
    """Sum up what lies on one pile; the weight error of 15 % is not in it."""
    return Sort(
        name, kind, len(some), sum(p.wood_m3 for p in some), sum(p.mass_kg for p in some) / 1.15,
        net_bf, 4.9 if kind == "sawlog" else 2.5, frontage_m,
    )  # fmt: skip


def shorter(plan: Plan) -> tuple[CutShorter, ...]:
    """Give a stem cut shorter, and one that nothing can drag."""
    first, second = plan.pulls[3], plan.pulls[4]
    return (
        CutShorter(first.tree_id, first.position_id, 700.0, "front_axle", 940.0, (3.05, 3.05, 2.4)),
        CutShorter(second.tree_id, second.position_id, 300.0, "lift", 1250.0, ()),
    )


def money() -> Money:
    """Give every figure there may be, and one sort without a price."""
    return Money(
        900.0, 1870.0, 45.0, 190.0, 300.0, 1284.0, (("sugar maple", 1284.0),), ("small wood",),
        410.0, break_even_near_m=120.0, break_even_far_m=700.0,
    )  # fmt: skip


def two_stage(plan: Plan) -> TwoStage:
    """Give a small landing on the main trail, against dragging all the way."""
    spot = plan.trails[0].line.interpolate(190.0)
    return TwoStage(
        "", "M1", 190.0, spot.x, spot.y, False, 14, 4, 3200.0, "braking", 190.0,
        hours("all", 13.5), hours("all", 15.0), 10, 202.0, 30.0, 0.45, spot.buffer(8.0),
    )  # fmt: skip


def work(plan: Plan) -> Work:
    """Give all of it."""
    some = pieces(plan)
    loads = turns(some)
    return Work(
        loads, some, shorter(plan), steps(plan, loads), times(), trucking(some), 40.0, 165.0,
        money(), two_stage(plan),
    )  # fmt: skip


def wordy(plan: Plan) -> tuple[Plan, ...]:
    """Give plans that between them make the outputs say all there is to say of the work."""
    full = worked(plan)
    assert full.work is not None
    whole = full.work
    first = replace(whole.turns[0], wood_m3=float("nan"))
    dark = replace(whole.pieces[0].way, unknown_m=12.0)
    one = replace(whole.pieces[0], mass_known=False, way=dark)
    logged = replace(
        whole.times, m3_per_hour=3.0, in_band=True, published_min_per_m3=None, logged_loads=5,
        logged_factor=1.1,
    )  # fmt: skip
    two = two_stage(plan)
    hot = tuple(replace(p, pull_kn=31.0) for p in full.pulls)
    odd = tuple(
        replace(s, tip_margin_deg=-2.0, front_share_pct=-1.0) if n == 0 else
        replace(s, tip_margin_deg=9.0, front_share_pct=30.0)
        for n, s in enumerate(full.steps)
    )  # fmt: skip
    flat = tuple(replace(s, tip_margin_deg=9.0, front_share_pct=30.0) for s in full.steps)
    blank = tuple(replace(s, tip_margin_deg=None, front_share_pct=None) for s in full.steps)
    cut = whole.shorter[1]
    made_rates = ("cost_per_hour.labour", "fuel", "truck_load")
    poor = replace(money(), unrated=("cost_per_hour.machine",), break_even_m=0.0,
                   break_even_near_m=0.0, break_even_far_m=0.0)  # fmt: skip
    scarce = replace(money(), break_even_near_m=0.0)
    works = (
        whole,
        replace(whole, turns=(replace(first, pieces=(("T2", 1),)),), pieces=(one,), times=logged,
                money=replace(money(), unrated=made_rates), shorter=(cut, cut)),
        replace(whole, money=poor),
        replace(whole, turns=(whole.turns[-2], replace(first, ends_at="small landing")),
                two_stage=replace(two, chosen=True, passes_saved=-1, limited_by="rating")),
        replace(whole, turns=(whole.turns[-2],) * 2, two_stage=replace(two, why_none="Steep."),
                trucking=replace(whole.trucking, has_m2=9000.0, loads=1)),
        replace(whole, trucking=replace(whole.trucking, sorts=()), turns=(
            replace(whole.turns[0], pieces=whole.turns[0].pieces * 2, limited_by=""),)),
        replace(whole, times=replace(whole.times, total=hours("total", 0.1), days_high=0.1,
                                     days_low=0.1, kinds=(hours("open", 0.0),))),
        replace(whole, trucking=replace(whole.trucking, sorts=tuple(
            replace(whole.trucking.sorts[0], kind=kind)  # type: ignore[arg-type]
            for kind in ("stem", "tree", "pulp", "sawlog")))),
        replace(whole, money=scarce),
    )  # fmt: skip
    plans = [replace(full, work=replace(w, steps=steps(full, w.turns))) for w in works]
    settings = full.area.settings
    watched = settings.model_copy(
        update={"work": settings.work.model_copy(update={"watcher": "a neighbour"})}
    )
    plans[0] = replace(plans[0], area=replace(full.area, settings=watched))
    plans[6] = replace(plans[6], work=replace(works[6], steps=(WorkStep(1, "flag"),)))
    plans[1] = replace(plans[1], pulls=hot, steps=odd)
    plans[3] = replace(plans[3], pulls=tuple(replace(p, pull_kn=1.0) for p in full.pulls),
                       steps=flat)  # fmt: skip
    plans[4] = replace(plans[4], steps=blank)
    return tuple(plans)
