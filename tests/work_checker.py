"""A second opinion on the work of a plan, for tests: loads, traffic and order.

Written from the rules alone. Payloads are not looked up: each load is set on the
tractor at every metre of its way, on grades sampled here, and forces and moments are
balanced by solving for them; the share of mass, front axle, traction and lift must hold.
"""

import math
from collections import Counter
from typing import Any

import numpy as np
from plan_checker import Fault, View, grades
from shapely.geometry import Point

from layout.trail_states import trail_states
from layout.tree_sizes import distance_heights_m

SLACK = 1.005  # of a mass: two ways of reading a grade differ by less
FRONT_SLACK = 0.004  # of the unladen weight


def of_work(plan: Any) -> list[Fault]:
    """Judge the work of a finished plan."""
    work = plan.work
    turns = [t for t in work.turns if t.state == "planned"]
    return [
        *_conserved(plan, work, turns),
        *_held(plan, turns),
        *_passes(plan, [*turns, *(t for t in work.turns if t.state == "done")]),
        *_ordered(plan, work, turns),
        *_waiting(plan, work),
    ]


def _conserved(plan: Any, work: Any, turns: list[Any]) -> list[Fault]:
    """Every piece in exactly one load; every served tree in one at least."""
    found = []
    hauled = Counter(piece for turn in turns for piece in turn.pieces)
    listed = Counter((p.tree_id, p.number) for p in work.pieces)
    for key in hauled.keys() | listed.keys():
        if hauled[key] != 1 or listed[key] != 1:
            found.append(Fault("piece", f"{key[0]}/{key[1]}", hauled[key], 1))
    carried = {tree for tree, _ in hauled}
    done = {tree for tree, _ in plan.area.trees.done_pieces}
    for outcome in plan.trees:
        if outcome.status == "served" and outcome.tree_id not in carried | done:
            found.append(Fault("served_not_hauled", outcome.tree_id))
    mass = {(p.tree_id, p.number): p.mass_kg for p in work.pieces}
    for turn in turns:
        own = sum(mass.get(piece, math.nan) for piece in turn.pieces)
        if not math.isclose(own, turn.mass_kg, rel_tol=1e-9, abs_tol=1e-6):
            found.append(Fault("turn_mass", turn.turn_id, turn.mass_kg, own))
        if turn.trail_id and len(turn.pieces) > plan.area.settings.winch.chokers:
            found.append(Fault("chokers", turn.turn_id, len(turn.pieces)))
    return found


def _stations(plan: Any, turn: Any) -> list[tuple[str, float]]:
    """Follow a load to the landing: each trail with the station it enters at."""
    trails = {t.trail_id: t for t in plan.trails}
    out, name, at = [], turn.trail_id, turn.at_m
    while name:
        out.append((name, at))
        name, at = trails[name].joins_id, trails[name].joins_at_m or 0.0
    return out


def _held(plan: Any, turns: list[Any]) -> list[Fault]:
    """Set each load on the tractor at every metre it is dragged over."""
    view = View(plan.area, list(plan.trails), [s.shape for s in plan.strips])
    tractor = plan.area.settings.tractor
    by_trail = {t.trail_id: grades(view, t.line) for t in plan.trails}
    found = []
    for turn in turns:
        if turn.mass_kg > tractor.load_max * tractor.mass_kg * SLACK:
            found.append(Fault("share", turn.turn_id, turn.mass_kg))
        if turn.mass_kg > turn.limit_kg * (1 + 1e-9):
            found.append(Fault("limit", turn.turn_id, turn.mass_kg, turn.limit_kg))
        way = _stations(plan, turn)
        travel = sum(at for _, at in way)
        if turn.ends_at == "small landing":
            travel -= plan.work.two_stage.at_m
        if abs(travel - turn.travel_m) > 0.05:
            found.append(Fault("travel", turn.turn_id, turn.travel_m, travel))
        for name, until in way:
            at, grade = by_trail[name]
            passed = (at <= until + 0.5) & np.isfinite(grade)
            if turn.ends_at == "small landing" and name == plan.work.two_stage.trail_id:
                passed &= at >= plan.work.two_stage.at_m - 0.5
            here = -grade[passed]  # sampled outward
            if here.size:
                found += _drag(plan, turn, float(here.max()))
    return found


def _drag(plan: Any, turn: Any, grade_pct: float) -> list[Fault]:
    """Balance forces and moments of tractor and load on one grade, friction at its high end."""
    t, load = plan.area.settings.tractor, turn.mass_kg
    slope = math.atan(grade_pct / 100)
    weight, lifted = t.mass_kg, t.lifted_share * load
    drag = load * math.sin(slope) + t.skid_friction[1] * (load - lifted) * math.cos(slope)
    # unknowns: front and rear axle load; rows: forces square to the ground, moments about
    # the rear wheels' contact
    sums = np.array([[1.0, 1.0], [t.wheelbase_m, 0.0]])
    ahead = t.front_share_pct / 100 * t.wheelbase_m
    right = np.array(
        [
            (weight + lifted) * math.cos(slope),
            weight * math.cos(slope) * ahead
            - weight * math.sin(slope) * t.cg_height_m
            - lifted * math.cos(slope) * t.load_behind_axle_m
            - drag * t.hitch_height_m,
        ]
    )
    front, rear = np.linalg.solve(sums, right)
    found = []
    least = t.front_min_pct / 100 * weight
    if front < least - FRONT_SLACK * weight:
        found.append(Fault("front_axle", turn.turn_id, front / weight, least / weight))
    driven = front + rear if t.drive == "4wd" else rear
    needed = drag + weight * math.sin(slope)
    if plan.area.settings.ground.condition == "dry" and needed > t.traction * driven * SLACK:
        found.append(Fault("traction", turn.turn_id, needed, t.traction * driven))
    if lifted > t.lift_rating_kg * SLACK:
        found.append(Fault("lift", turn.turn_id, lifted, t.lift_rating_kg))
    return found


def _passes(plan: Any, turns: list[Any]) -> list[Fault]:
    """Count the loads over each step once more, load by load."""
    found = []
    ends = {t.trail_id: t.line.length for t in plan.trails}
    there = [t for t in turns if not t.trail_id or t.at_m <= ends.get(t.trail_id, -1) + 1]
    ways = [(turn.ends_at == "small landing", _stations(plan, turn)) for turn in there]
    two = plan.work.two_stage
    small = two if two is not None and two.chosen and not two.why_none else None
    for step in plan.steps:
        lane = small is not None and step.trail_id == small.trail_id
        # beyond the small landing what ends there passes too, before it the trailer
        spots = [(step.from_m, False)]
        if lane and step.from_m < small.at_m - 1e-3:
            spots = [(step.from_m, True)]
            spots += [(small.at_m, False)] if small.at_m < step.to_m - 1e-3 else []
        own = max(
            sum(
                any(name == step.trail_id and at > spot + 1e-3 for name, at in way)
                for short, way in ways
                if not (short and before)
            )
            + (small.trips if before else 0)
            for spot, before in spots
        )
        if own != step.loads:
            found.append(Fault("loads", f"{step.trail_id} {step.from_m:.0f}", step.loads, own))
    if small is not None:
        trips = [n for step in plan.work.steps for n in step.trips]
        if trips != list(range(1, small.trips + 1)):
            found.append(Fault("trips", "each once", len(trips), small.trips))
    return found


def _ordered(plan: Any, work: Any, turns: list[Any]) -> list[Fault]:
    """Walk the order of work: nothing before it can be done, nothing twice, nothing lost."""
    found: list[Fault] = []
    trails = {t.trail_id: t for t in plan.trails}
    by_id = {t.turn_id: t for t in turns}
    if len(by_id) != len(turns):
        found.append(Fault("turn_id", "twice"))
    felled = {tree for tree, _ in plan.area.trees.done_pieces}
    closed: set[str] = set()
    opened: list[str] = []
    hauled: list[str] = []
    small, lying = "", set[str]()
    for number, step in enumerate(work.steps, start=1):
        if step.number != number:
            found.append(Fault("step_number", str(step.number), number))
        if step.done:
            opened += [step.trail_id] if step.kind == "open" else []
            continue
        if step.kind in ("fell", "rub", "open"):
            felled |= set(step.tree_ids)
        if step.kind == "open":
            parent = trails[step.trail_id].joins_id if step.trail_id else ""
            if parent and parent not in opened:
                found.append(Fault("opened_before_parent", step.trail_id))
            opened.append(step.trail_id)
            closed.discard(step.trail_id)  # loads still come over what was closed
        if step.kind == "close":
            closed.add(step.trail_id)
        if step.kind == "small_open":
            small = "open"
            if step.trail_id not in opened:
                found.append(Fault("small_landing_before_trail", step.trail_id))
        elif step.kind in ("carry", "small_close"):
            if step.trail_id in closed or small != "open":
                found.append(Fault("small_landing_not_there", step.kind))
            lying = set[str]() if step.kind == "carry" else lying
            small = "closed" if step.kind == "small_close" else small
            if small == "closed" and lying:
                found.append(Fault("wood_left_on_small_landing", sorted(lying)[0]))
        for name in step.turn_ids:
            turn = by_id.get(name)
            if turn is None:
                found.append(Fault("unknown_turn", name))
                continue
            hauled.append(name)
            if turn.ends_at == "small landing":
                lying.add(name)
                if small != "open":
                    found.append(Fault("small_landing_not_there", name))
            crossed = {trail for trail, _ in _stations(plan, turn)}
            if crossed & closed:
                found.append(Fault("closed_trail_driven", name))
            early = set(turn.tree_ids) - felled
            if early:
                found.append(Fault("hauled_before_felled", f"{name} {sorted(early)[0]}"))
    if Counter(hauled) != Counter(by_id.keys()):
        found.append(Fault("hauled", "each once", len(hauled), len(by_id)))
    if lying or small == "open":
        found.append(Fault("small_landing_left", small))
    left = [s for s in work.steps if not s.done]
    if left and left[-1].kind != "landing":
        found.append(Fault("landing_last", left[-1].kind))
    orders = [by_id[name].order for name in hauled if name in by_id]
    if orders != sorted(orders):
        found.append(Fault("order", "not the order hauled"))
    return found


def _waiting(plan: Any, work: Any) -> list[Fault]:
    """Stand where the tractor waits at every felling step: on open ground, out of every circle."""
    found: list[Fault] = []
    trails = {t.trail_id: t for t in plan.trails}
    trees = plan.area.trees
    row = {name: i for i, name in enumerate(trees.tree_id)}
    heights = distance_heights_m(plan.area)
    own = np.asarray(trees.position_error_m, dtype=float)
    off = np.where(np.isfinite(own), own, plan.area.settings.stand.position_error_m)
    groups = [(set(group.tree_ids), group) for group in plan.felling_groups]
    drivable = set(trail_states(plan.area, plan.trails).opened)
    for step in work.steps:
        name = f"step {step.number}"
        if step.kind == "open":
            drivable.add(step.trail_id)
        elif step.kind == "close":
            drivable.discard(step.trail_id)
        if step.kind != "fell" or step.done:
            continue
        mine = [group for names, group in groups if set(step.tree_ids) <= names]
        if len(mine) != 1:
            found.append(Fault("waiting_group", name, len(mine), 1))
            continue
        spot = mine[0]
        if spot.trail_id is None:
            continue  # driven right off: a finding says so
        here = Point(spot.x, spot.y)
        if spot.trail_id == "":
            if spot.clear_landing or not plan.landing_of(spot.landing_id).shape.covers(here):
                found.append(Fault("waits_on_busy_landing", name))
        else:
            if trails[spot.trail_id].line.distance(here) > 0.05:
                found.append(Fault("waits_off_its_trail", name))
            way = spot.trail_id
            while way:
                if way not in drivable:
                    found.append(Fault("waits_on_closed_trail", f"{name} {way}"))
                way = trails[way].joins_id
        for tree in mine[0].tree_ids:
            i = row[tree]
            away = math.hypot(trees.x[i] - spot.x, trees.y[i] - spot.y)
            if away < 2 * heights[i] + off[i] - 1e-6:
                found.append(Fault("waits_under_tree", f"{name} {tree}", away))
    lost = any(group.trail_id is None for _, group in groups)
    told = any(finding.code == "no_waiting_place" for finding in plan.findings)
    if lost != told:
        found.append(Fault("no_waiting_place", "told", int(told), int(lost)))
    return found
