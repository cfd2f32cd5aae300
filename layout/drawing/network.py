"""A layout, finished or on the way, as the page draws it."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import Any, get_args

import numpy as np
from shapely.geometry import LineString, Point

from layout.drawing.ground_layers import line
from layout.drawing.judge import told
from layout.drawing.plain import plain
from layout.grow import Grown
from layout.outputs.tree_orders import Order, barred, orders, without_idle
from layout.outputs.words import say
from layout.outputs.work_amounts import force
from layout.plan_record import Plan
from layout.records import REACHED, Pull, TreeOutcome, WinchPosition
from layout.site import Area
from layout.speech import speak_chance, speak_length
from layout.units import Units
from layout.winch import SURENESS
from layout.wishes import WISHED_OFF_M

BOTH: tuple[Units, ...] = get_args(Units)  # figures are told in either, as the page is set


def of_grown(area: Area, grown: Grown) -> dict[str, Any]:
    """Give a choice that is not checked yet: lines, positions, pulls, and what is served.

    Parameters
    ----------
    area : Area
        With the draft in it.
    grown : Grown
        What was chosen so far.

    Returns
    -------
    dict
        As `of_plan`, without names, findings and cards.
    """
    rows = np.flatnonzero(area.trees.to_serve)
    pairs = grown.candidates.pairs
    pulls, positions = [], []
    for number, spot in enumerate(grown.spots, start=1):
        at = [round(spot.x, 2), round(spot.y, 2)]
        positions.append({"id": f"W{number}", "trail": "", "at": at, "trees": len(spot.pairs)})
        for k in spot.pairs:
            row = rows[int(pairs.tree[k])]
            stump = [round(float(area.trees.x[row]), 2), round(float(area.trees.y[row]), 2)]
            pulls.append(
                {
                    "tree": area.trees.tree_id[row],
                    "position": f"W{number}",
                    "line": [at, stump],
                    "sure": SURENESS[int(pairs.sure[k])],
                    "chance": None,
                }
            )
    served = {pull["tree"] for pull in pulls}
    spurs = sum(b.length_m for b in grown.branches if b.parent >= 0)
    return {
        "final": False,
        "trails": [
            {
                "id": f"{n}",
                "kind": "main" if branch.parent < 0 else "spur",
                "line": line(LineString(branch.line)),
                "source": "drawn" if branch.standing else "routed",
            }
            for n, branch in enumerate(grown.branches)
        ],
        "positions": positions,
        "pulls": pulls,
        "turning": [{"outline": line(place.shape.exterior)} for place in grown.places],
        "trees": {
            area.trees.tree_id[row]: "served" if area.trees.tree_id[row] in served else "no_trail"
            for row in rows
        },
        "held": [],
        "cards": {},
        "findings": [],
        "units": area.settings.area.units,
        "lines": {
            units: [
                ["Marked trees served", f"{len(served)} of {rows.size}"],
                ["Spurs", speak_length(spurs, units)],
                ["Winch positions", f"{len(positions)}"],
            ]
            for units in BOTH
        },
        "words": "",
    }


def of_plan(plan: Plan) -> dict[str, Any]:
    """Give a finished plan.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    dict
        Plain JSON values. Winch positions nothing is pulled to are left out, as on the
        written maps, but for those the user asked for.
    """
    units = plan.area.settings.area.units
    worked = without_idle(plan)
    working = {position.position_id for position in worked.positions}
    positions = _shown(plan, working)
    pull_of = {pull.tree_id: pull for pull in worked.pulls}
    taken = Counter(pull.position_id for pull in worked.pulls)
    marked = [o for o in plan.trees if o.status != "leave"]
    told_of, held = orders(plan), barred(plan)
    return {
        "final": True,
        "trails": [
            {
                "id": t.trail_id,
                "kind": t.kind,
                "line": line(t.line),
                "joins": t.joins_id,
                "source": t.source,
            }
            for t in plan.trails
        ],
        "positions": [
            {
                "id": p.position_id,
                "trail": p.trail_id,
                "at": [round(p.x, 2), round(p.y, 2)],
                "trees": taken[p.position_id],
            }
            for p in positions
        ],
        "pulls": [
            {
                "tree": p.tree_id,
                "position": p.position_id,
                "line": line(p.line),
                "sure": p.sure,
                "chance": plain(p.p_out_of_reach),
            }
            for p in worked.pulls
        ],
        "turning": [{"outline": line(place.shape.exterior)} for place in plan.turning_places],
        "trees": {o.tree_id: o.status for o in marked},
        "held": sorted(held),
        "cards": {
            o.tree_id: _card(o, pull_of.get(o.tree_id), told_of, held, working) for o in marked
        },
        "findings": [told(finding) for finding in plan.findings],
        "units": units,
        "lines": {told_in: _lines(plan, marked, told_in, len(positions)) for told_in in BOTH},
        "words": _proof(plan),
    }


def _shown(plan: Plan, working: Collection[str]) -> list[WinchPosition]:
    """Give the positions with work, and the idle ones the user asked for."""
    wished = [Point(place) for place in plan.area.wanted_positions]
    return [
        p
        for p in plan.positions
        if p.position_id in working
        or any(place.distance(Point(p.x, p.y)) <= WISHED_OFF_M for place in wished)
    ]


def _lines(plan: Plan, marked: Sequence[TreeOutcome], units: Units, shown: int) -> list[list[str]]:
    reached = sum(o.status in REACHED for o in marked)
    main = sum(t.line.length for t in plan.trails if t.kind == "main")
    spurs = sum(t.line.length for t in plan.trails if t.kind == "spur")
    sure = [sum(p.sure == word for p in plan.pulls) for word in SURENESS]
    lines = [
        ["Marked trees reached", f"{reached} of {len(marked)}"],
        ["Sure, tight, doubtful", ", ".join(str(n) for n in sure)],
        ["Main trail and arms", speak_length(main, units)],
        ["Spurs", speak_length(spurs, units)],
        ["Winch positions", _counted(len(plan.positions), shown)],
        ["Ground disturbed", f"{plan.soil.share_pct:.1f} %"],
        ["The same with the landing", f"{plan.soil.share_with_landing_pct:.1f} %"],
    ]
    if plan.work is not None and plan.work.times is not None:
        hours = plan.work.times.total
        lines.append(["Hours", f"{hours.low_h:.0f} to {hours.high_h:.0f}"])
        lines.append(["Loads", f"{len(plan.work.turns)}"])
    return lines


def _counted(every: int, shown: int) -> str:
    return f"{every}" if shown == every else f"{every}, {every - shown} not used"


def _proof(plan: Plan) -> str:
    gap = plan.choice.gap_pct
    proved = "no better choice exists" if gap < 0.05 else f"none is better by more than {gap:.1f} %"
    return (
        f"The best found among the lines tried; of the lines of the round chosen from {proved}. "
        "Where you can deviate: any line that stays within the limits as you draw it."
    )


def _card(
    outcome: TreeOutcome,
    pull: Pull | None,
    told_of: Mapping[str, Sequence[Order]],
    held: Collection[str],
    working: Collection[str],
) -> dict[str, Any]:
    return {
        "title": say(f"status_{outcome.status}").capitalize(),
        # what the crew's sheets say of it, the tree to hold told apart as they do
        "hold": outcome.tree_id in held,
        "orders": [f"{order.text}." for order in told_of.get(outcome.tree_id, ())],
        "lines": {units: _card_lines(outcome, pull, units, working) for units in BOTH},
        "serve": list(outcome.remedies),
    }


def _card_lines(
    outcome: TreeOutcome, pull: Pull | None, units: Units, working: Collection[str]
) -> list[list[str]]:
    lines: list[list[str]] = []
    if outcome.position_id in working:  # one without work pulls no tree
        lines.append(["From winch position", outcome.position_id])
    if pull is not None:
        lines += [
            ["Rope along the ground", speak_length(pull.ground_m, units)],
            ["Left of the reach", speak_length(pull.margin_m, units)],
            ["Angle of the rope", f"{pull.angle_deg:.0f} degrees to the {pull.side}"],
            ["How sure", say(f"sure_{pull.sure}")],
        ]
        if pull.p_out_of_reach is not None:
            lines.append(["Chance it is out of reach", speak_chance(pull.p_out_of_reach)])
        if pull.pull_kn == pull.pull_kn:
            lines.append(["Pull needed", force(pull.pull_kn, units)])
    return lines
