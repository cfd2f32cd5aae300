"""Trees: hazard trees, those not reached and why, and those that take much trail."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from itertools import accumulate

from layout.outputs.report import chances, stumps
from layout.outputs.report.figures import NONE, amount, ground, length, mass, worth
from layout.outputs.report.places import Places
from layout.outputs.report.tables import Column, long_table, table
from layout.outputs.report.tags import Markup, Piece, bullets, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.tree_orders import HazardTree, standing_hazards
from layout.outputs.words import say
from layout.records import TreeOutcome
from layout.sources import TWO_TREE_LENGTHS

DEAREST = 10  # trees listed by what they take in trail


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
        Hazard trees with what to do; marked trees that are not reached, by reason,
        with shortfall and remedies; pulls that may not reach; what single trees take
        in trail; rub trees, where the tractor waits, and suggested lays.
    """
    return section(
        "trees",
        say("report_trees_title"),
        _hazard_trees(tally),
        _missed(tally),
        chances.sureness(tally),
        _costly(tally),
        stumps.rubs(tally),
        stumps.waits(tally),
        stumps.lays(tally),
    )


def _hazard_trees(tally: Tally) -> Markup | None:
    """Write the hazard trees, whether each is cut first or kept off, and by how far."""
    standing = standing_hazards(tally.plan)
    if not standing:
        return None
    places = Places(tally.plan)
    missed = {outcome.tree_id for outcome in tally.missed}
    rows: list[list[Piece]] = [
        [
            tree.tree_id,
            tree.hazard,
            say(f"report_hazard_tree_{_first(tree, missed)}"),
            length(tree.reach_m, tally.units),
            places.near((tree.x, tree.y)) or NONE,
        ]
        for tree in sorted(standing, key=lambda tree: (tree.marked, tree.row))
    ]
    columns = (
        Column(say("report_col_tree")),
        Column(say("report_col_wrong")),
        Column(say("report_col_do")),
        Column(say("report_col_keep_off"), number=True),
        Column(say("report_col_where"), whole=True),
    )
    show = say("report_show_hazard_trees", count=len(rows))
    note = say("report_hazard_trees_note", source=str(TWO_TREE_LENGTHS))
    return join(
        tag("h3", say("report_hazard_trees", count=len(rows)), id="hazard-trees"),
        tag("p", tag("strong", say("report_hazard_trees_lead"))),
        long_table(show, say("report_hazard_trees_cap"), columns, rows),
        bullets([note], class_="notes"),
    )


def _first(tree: HazardTree, missed: set[str]) -> str:
    """Say what comes first at a hazard tree, as a word of the catalogue."""
    if not tree.marked:
        return "keep_off"
    return "unreached" if tree.tree_id in missed else "first"


def _missed(tally: Tally) -> Markup:
    """Write the trees not reached, the commonest reason first."""
    title = tag("h3", say("report_missed", count=len(tally.missed)), id="unserved")
    if not tally.missed:
        words = say("report_all_reached") if tally.marked else say("report_none_marked")
        return join(title, tag("p", words))
    reasons: dict[str, list[TreeOutcome]] = defaultdict(list)
    for outcome in tally.missed:
        reasons[outcome.status].append(outcome)
    pieces = [title, tag("p", tag("strong", say("report_leave_it")))]
    for status, trees in sorted(reasons.items(), key=lambda item: (-len(item[1]), item[0])):
        pieces.append(_reason(status, trees, tally))
    return join(*pieces)


def _reason(status: str, trees: Sequence[TreeOutcome], tally: Tally) -> Markup:
    """Write the trees one reason keeps from being reached."""
    why = say(f"status_{status}")
    why = why[:1].upper() + why[1:]
    shared = [r for r in trees[0].remedies if all(r in tree.remedies for tree in trees)]
    columns = [Column(say("report_col_tree"))]
    own = any(set(tree.remedies) - set(shared) for tree in trees)
    short = any(tree.shortfall is not None for tree in trees)
    trail = any(tree.marginal_trail_m is not None for tree in trees)
    columns += [Column(say("report_col_short"), number=True)] if short else []
    columns += [Column(say("report_col_would_take"), number=True)] if trail else []
    columns += [Column(say("report_col_or"))] if own else []
    rows: list[list[Piece]] = []
    for tree in sorted(trees, key=_miss):
        row: list[Piece] = [tree.tree_id]
        row += [_short(tree, tally)] if short else []
        row += [_trail(tree.marginal_trail_m, tally)] if trail else []
        row += ["; ".join(r for r in tree.remedies if r not in shared) or NONE] if own else []
        rows.append(row)
    title = say("report_reason", why=why, count=len(trees))
    if len(columns) == 1:
        names = ", ".join(tree.tree_id for tree in trees)
        listed = tag("p", say("report_which", trees=names))
    else:
        listed = long_table(
            say("report_show_trees", count=len(trees)), say("report_missed_cap"), columns, rows
        )
    remedies = tag("ol", *(tag("li", words[:1].upper() + words[1:]) for words in shared))
    return join(tag("h4", title), remedies if shared else None, listed)


def _miss(tree: TreeOutcome) -> float:
    """Give a tree's shortfall to sort by, the nearest miss first, those without last."""
    return math.inf if tree.shortfall is None else tree.shortfall


def _short(tree: TreeOutcome, tally: Tally) -> str:
    """Say by how much a tree misses what the reason asks."""
    if tree.shortfall is None:
        return NONE
    return amount(tree.shortfall, tree.shortfall_unit, tally.units)


def _trail(metres: float | None, tally: Tally) -> str:
    return NONE if metres is None else length(metres, tally.units)


def _costly(tally: Tally) -> Markup | None:
    """Write what single trees take in trail, and what leaving them saves."""
    trees = tally.costly
    if not trees:
        return None
    units = tally.units
    own_m = list(accumulate(tree.marginal_trail_m or 0.0 for tree in trees))
    rows: list[list[Piece]] = [
        [
            tree.tree_id,
            NONE if tree.mass_kg is None else mass(tree.mass_kg, units),
            length(tree.marginal_trail_m or 0.0, units),
            NONE if tree.marginal_m2 is None else ground(tree.marginal_m2, units),
            length(saved, units),
        ]
        for tree, saved in list(zip(trees, own_m, strict=True))[:DEAREST]
    ]
    columns = (
        Column(say("report_col_tree")),
        Column(say("report_col_mass"), number=True),
        Column(say("report_col_own_trail"), number=True),
        Column(say("report_col_own_ground"), number=True),
        Column(say("report_col_saved"), number=True),
    )
    saved = length(own_m[-1], units)
    price = tally.plan.area.settings.objective.serve_worth_m2
    notes = [say("report_costly_note", worth=worth(price, units))]
    if len(trees) > DEAREST:
        notes.append(say("report_costly_more", count=DEAREST))
    lead = (
        say("report_costly_one", saved=saved)
        if len(trees) == 1
        else say("report_costly_many", count=len(trees), saved=saved)
    )
    return join(
        tag("h3", say("report_costly"), id="costly"),
        tag("p", tag("strong", lead)),
        table(say("report_costly_cap"), columns, rows),
        bullets(notes, class_="notes"),
    )
