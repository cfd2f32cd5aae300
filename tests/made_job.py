"""A job put down by hand: trails, pulls, pieces and loads whose sums are known."""

from typing import Any

from made_ground import at, main_trail, spur
from shapely.geometry import LineString

from layout.cycle_model import LANDING_MIN
from layout.cycle_times import (
    Job,
    calibrated_pace,
    clear_minutes,
    close_minutes,
    fell_minutes,
    flag_minutes,
    pull_minutes,
    turn_minutes,
)
from layout.records import Pull, Trail
from layout.site import Area
from layout.work_records import Piece, PieceKind, Stage, Turn, Way, WorkStep

MAIN = main_trail((200, 20), (200, 320))  # 300 m to the north
SPUR = spur("S1", MAIN, 200.0, (240, 260))  # leaves it at station 200, 56.57 m long


def way(trail_id: str, at_m: float, travel_m: float, limit_kg: float = 1500.0) -> Way:
    """Give the way of a place to the landing."""
    return Way(trail_id, at_m, travel_m, limit_kg, "traction", trail_id, at_m)


def piece(
    tree_id: str, number: int = 1, *, kind: PieceKind = "sawlog", stage: Stage = "harvest",
    trail_id: str = "M1", at_m: float = 100.0, travel_m: float | None = None,
    position_id: str = "M1-1", length_m: float = 5.0, wood_m3: float = 0.5, mass_kg: float = 575.0,
) -> Piece:  # fmt: skip
    """Make a piece; 0.5 m3 of 1,000 kg/m3 and 15 % of error where nothing is said."""
    there = way(trail_id, at_m, at_m if travel_m is None else travel_m)
    return Piece(
        tree_id, number, kind, stage, trail_id, at_m, position_id, length_m, wood_m3, mass_kg, there
    )


def pull(tree_id: str, ground_m: float = 30.0, **more: Any) -> Pull:
    """Make a pull to the level."""
    plain: dict[str, Any] = {"position_id": "M1-1", "rise_m": 0.0, "pieces": 1}
    given = plain | more
    line = LineString([at(200, 100), at(200 + ground_m, 100)])
    return Pull(
        tree_id, given["position_id"], ground_m, ground_m, 40.0, 5.0, "sure", 0.0, "straight",
        given["rise_m"], 0.0, 5.0, line, pieces=given["pieces"],
    )  # fmt: skip


def turn(name: str, *some: Piece, **more: Any) -> Turn:
    """Load some pieces."""
    far = max(some, key=lambda p: p.way.travel_m)
    given: dict[str, Any] = {"state": "planned"} | more
    return Turn(
        name, 1, far.stage, far.trail_id, far.position_id, far.at_m, far.way.travel_m,
        tuple((p.tree_id, p.number) for p in some), tuple(dict.fromkeys(p.tree_id for p in some)),
        tuple(dict.fromkeys(p.position_id for p in some if p.position_id)),
        sum(p.mass_kg for p in some), sum(p.wood_m3 for p in some), 1500.0, "traction",
        given["state"],
    )  # fmt: skip


def job(
    loads: dict[str, tuple[Piece, ...]], pulls: tuple[Pull, ...] = (),
    trails: tuple[Trail, ...] = (MAIN,), **more: Any,
) -> Job:  # fmt: skip
    """Make a job of loads by name."""
    return Job(
        trails,
        pulls,
        tuple(p for some in loads.values() for p in some),
        tuple(turn(name, *some) for name, some in loads.items()),
        **more,
    )


def order(area: Area, some: Job) -> tuple[WorkStep, ...]:
    """Put a job in a plain order: ribbons, each trail opened, each load by itself, closing."""
    pace = calibrated_pace(area, some)
    pull_of = {pull.tree_id: pull for pull in some.pulls}
    of_tree: dict[str, list[Piece]] = {}
    for one in some.pieces:
        of_tree.setdefault(one.tree_id, []).append(one)
    steps = [WorkStep(1, "flag", minutes=sum(flag_minutes(pace, t) for t in some.trails))]
    steps += [WorkStep(1, "open", t.trail_id, minutes=clear_minutes(pace, t)) for t in some.trails]
    begun: set[str] = set()
    for turn in some.ahead:
        trees = tuple(tree for tree in turn.tree_ids if tree not in begun)
        begun |= set(trees)
        felled = sum(fell_minutes(pace, of_tree[tree]) for tree in trees)
        winched = sum(
            pull_minutes(pace, pull_of[tree], len(of_tree[tree])) for tree in trees
            if tree in pull_of
        )  # fmt: skip
        hauled = turn_minutes(pace, turn)
        all_in_one = felled + winched + hauled
        if turn.stage != "harvest":
            steps.append(
                WorkStep(1, turn.stage, turn.trail_id, "", trees, (turn.turn_id,), all_in_one)
            )
            continue
        steps += [
            WorkStep(1, "fell", tree_ids=trees, minutes=felled),
            WorkStep(1, "winch", tree_ids=trees, minutes=winched),
            WorkStep(1, "haul", turn_ids=(turn.turn_id,), minutes=hauled),
        ]
    steps += [WorkStep(1, "close", t.trail_id, minutes=close_minutes(pace, t)) for t in some.trails]
    return (*steps, WorkStep(1, "landing", minutes=LANDING_MIN))
