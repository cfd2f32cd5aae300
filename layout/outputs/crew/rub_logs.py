"""Logs laid where loads would rub against trees that stay: when each is laid, when it is out."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import RubPlace, RubTree


def logs_to_lay(plan: Plan) -> dict[str, list[tuple[RubTree, RubPlace]]]:
    """Give the logs to lay by the trail they are laid with, when it is opened.

    At a junction that is the trail that comes in: no load turns there before.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    dict of str to list of tuple
        Each log once, with the first place loads rub at.
    """
    names = {trail.trail_id for trail in plan.trails}
    made: dict[str, list[tuple[RubTree, RubPlace]]] = defaultdict(list)
    for rub in plan.rub_trees:
        if rub.kind == "bumper" and rub.places:
            at = rub.places[0]
            with_trail = at.from_id if at.from_id in names else at.trail_id
            made[with_trail].append((rub, at))
    return dict(made)


def cleared_with(plan: Plan) -> dict[str, list[RubTree]]:
    """Give what is taken away when a trail is closed, but for marked trees, by that trail.

    Loads rub there until the last of the trails it stands by is closed.

    Parameters
    ----------
    plan : Plan
        A plan whose work was worked out.

    Returns
    -------
    dict of str to list of RubTree
    """
    assert plan.work is not None
    shut = [step.trail_id for step in plan.work.steps if step.kind == "close"]
    made: dict[str, list[RubTree]] = defaultdict(list)
    for rub in plan.rub_trees:
        ranks = [shut.index(at.trail_id) for at in rub.places if at.trail_id in shut]
        if ranks and rub.kind != "marked":
            made[shut[max(ranks)]].append(rub)
    return made
