"""Rub trees, lays and waiting places of the made-up plan: one of every kind, by hand."""

import math
from typing import Any, Literal

from layout.records import (
    FellingGroup,
    Lay,
    Pull,
    RubPlace,
    RubTree,
    Trail,
    TreeOutcome,
    WinchPosition,
)
from layout.site import Area

LEANS: tuple[Literal["unknown", "upright", "with", "side", "against"], ...] = (
    "unknown", "upright", "with", "side", "against",
)  # fmt: skip
FALLS: tuple[Literal["unknown", "level", "uphill", "downhill", "across"], ...] = (
    "unknown", "level", "uphill", "downhill", "across",
)  # fmt: skip
NONE: tuple[Literal["bad_tree", "barred", "lean", "lean_unknown"], ...] = (
    "bad_tree", "barred", "lean", "lean_unknown",
)  # fmt: skip


def stumps(
    place: Area,
    lines: tuple[Trail, ...],
    positions: tuple[WinchPosition, ...],
    pulls: tuple[Pull, ...],
    outcomes: tuple[TreeOutcome, ...],
) -> dict[str, Any]:
    """Give the three as a plan takes them."""
    return {
        "rub_trees": rubs(place, lines, positions),
        "lays": lays(pulls, outcomes),
        "felling_groups": groups(lines, positions),
    }


def rubs(
    place: Area, lines: tuple[Trail, ...], positions: tuple[WinchPosition, ...]
) -> tuple[RubTree, ...]:
    """Give one of each kind, at a mouth, a bend and a pull."""
    ids = place.trees.tree_id
    main, spur = lines[0], lines[1]
    mouth = RubPlace("junction", main.trail_id, 58.0, spur.trail_id, "left")
    bend = RubPlace("bend", spur.trail_id, 42.0, "", "right")
    pull = RubPlace("pull", positions[0].trail_id, positions[0].at_m, positions[0].position_id,
                    "left")  # fmt: skip
    names = tuple(p.position_id for p in positions)
    x, y = place.trees.x, place.trees.y
    return (
        RubTree("R1", "marked", ids[0], x[0], y[0], 58.0, (mouth, bend), (ids[1],), names[:6]),
        RubTree("R2", "proposed", ids[3], x[3], y[3], 60.0, (pull,), (ids[4], ids[5]), names[:1]),
        RubTree("R3", "bumper", "", x[6] + 2, y[6], 100.0, (bend,), (ids[6],), names[1:3]),
        RubTree("R4", "look", "", x[7] + 2, y[7], 110.0, (mouth,)),
    )


def lays(pulls: tuple[Pull, ...], outcomes: tuple[TreeOutcome, ...]) -> tuple[Lay, ...]:
    """Give a lay for every marked tree: all leans, all slopes, and each reason for none."""
    pull_of = {pull.tree_id: pull for pull in pulls}
    made: list[Lay] = []
    n = 0
    for outcome in (o for o in outcomes if o.status != "leave"):
        pull = pull_of.get(outcome.tree_id)
        n += pull is not None
        if pull is None or n % 6 == 5:
            why = "not_reached" if pull is None else NONE[(n // 6) % 4]
            made.append(
                Lay(outcome.tree_id, "" if pull is None else pull.position_id, None, None, why,
                    ("wire wire-1",) if why == "barred" else (), 25.0, False,
                    "against" if why.startswith("lean") else "unknown", None, "", 12.0, None,
                    wedge_lift_m=0.06 if why == "lean" else None, beyond_wedges=why == "lean")
            )  # fmt: skip
            continue
        (x0, y0), (x1, y1) = pull.line.coords[0][:2], pull.line.coords[-1][:2]
        lean = LEANS[n % 5]
        off = (0.0, 15.0, -20.0)[n % 3]
        way = (math.degrees(math.atan2(x1 - x0, y1 - y0)) + off) % 360
        near = ("wire wire-1",) if n % 7 == 0 else ()
        in_way = None if n % 4 == 0 else (outcomes[1].tree_id,) if n % 4 == 1 else ()
        made.append(
            Lay(outcome.tree_id, pull.position_id, way, off, "", near, 24.0, bool(n % 2), lean,
                30.0 if lean not in ("unknown", "upright") else None, FALLS[n % 5], 11.0, in_way,
                near, 0.023 if lean == "against" else None)
        )  # fmt: skip
    return tuple(made)


def groups(
    lines: tuple[Trail, ...], positions: tuple[WinchPosition, ...]
) -> tuple[FellingGroup, ...]:
    """Give a waiting place to every position: on a trail, on the landing, and none."""
    made = []
    for n, position in enumerate(positions):
        trail, at_m = (("", 0.0), (lines[0].trail_id, 30.0), (None, None))[n % 3]
        x, y = (None, None) if trail is None else (position.x + 30, position.y)
        made.append(
            FellingGroup(
                position.position_id, position.tree_ids, 50.0, trail, at_m, x, y,
                None if trail is None else 40.0 + n,
                tuple(p.position_id for p in positions[:n % 3]), n % 4 == 0,
            )
        )  # fmt: skip
    return tuple(made)
