"""Positions, pulls, trees and outcomes held against each other."""

from collections import Counter

from layout.checks.case import Case
from layout.checks.words import FROM_RECORD
from layout.findings import Finding
from layout.records import WinchPosition


def books(case: Case, parked: dict[str, WinchPosition], rows: dict[str, int]) -> list[Finding]:
    """Say where the records do not agree.

    Parameters
    ----------
    case : Case
        The layout.
    parked : dict of str to WinchPosition
        Positions by name.
    rows : dict of str to int
        Rows of the tree list by tree.

    Returns
    -------
    list of Finding
        All ``record_mismatch``.
    """
    found: list[Finding] = []

    def wrong(layer: str, name: str, what: str) -> None:
        found.append(
            Finding(
                code="record_mismatch",
                level="stop",
                message=what,
                subject_layer=layer,
                subject_id=name,
                source=FROM_RECORD,
            )
        )

    for name, count in Counter(p.position_id for p in case.positions).items():
        if count > 1:
            wrong("winch_positions", name, f"Position {name} is listed {count} times")
    for tree, count in Counter(p.tree_id for p in case.pulls).items():
        if count > 1:
            wrong("pulls", tree, f"Tree {tree} is pulled {count} times")
    for pull in case.pulls:
        position = parked.get(pull.position_id)
        row = rows.get(pull.tree_id)
        if position is None:
            what = f"Pull of tree {pull.tree_id} goes to position {pull.position_id}, which is not"
            wrong("pulls", pull.tree_id, f"{what} in the layout")
        elif pull.tree_id not in position.tree_ids:
            wrong(
                "pulls",
                pull.tree_id,
                f"Position {pull.position_id} does not list tree {pull.tree_id} pulled to it",
            )
        if row is None:
            wrong("pulls", pull.tree_id, f"Tree {pull.tree_id} is not in the tree list")
        elif not case.area.trees.marked[row]:
            wrong("pulls", pull.tree_id, f"Tree {pull.tree_id} is pulled but not marked to cut")
    pulled = {p.tree_id: p.position_id for p in case.pulls}
    for position in case.positions:
        for tree in position.tree_ids:
            if pulled.get(tree) != position.position_id:
                wrong(
                    "winch_positions",
                    position.position_id,
                    f"Position {position.position_id} lists tree {tree}, but no pull leads there",
                )
    for outcome in case.outcomes:
        served = outcome.status == "served"
        if served != (outcome.tree_id in pulled):
            state = "stated served but has no pull" if served else "pulled but not stated served"
            wrong("trees", outcome.tree_id, f"Tree {outcome.tree_id} is {state}")
        elif served and outcome.position_id != pulled[outcome.tree_id]:
            wrong(
                "trees",
                outcome.tree_id,
                f"Tree {outcome.tree_id} is stated at position {outcome.position_id}, but pulled "
                f"to {pulled[outcome.tree_id]}",
            )
    return found
