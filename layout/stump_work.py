"""What a finished layout asks at the stump: rub trees and suggested lays.

Gathered here in the one order they depend on each other: rub trees first, since they
stand while the others are felled.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layout import sources
from layout.findings import Finding
from layout.lays import lays
from layout.records import (
    Lay,
    Pull,
    RubTree,
    Trail,
    TreeOutcome,
    WinchPosition,
)
from layout.rub_trees import rub_trees, with_roles
from layout.site import Area
from layout.speech import speak_station
from layout.terrain import Terrain
from layout.units import Units
from layout.water import Strips

Mask = NDArray[np.bool_]

MOST_NAMED = 12
PRACTICE = sources.COMMON_PRACTICE


@dataclass(frozen=True, slots=True)
class StumpWork:
    """Rub trees and lays of one layout, and what is to be told of them."""

    rub_trees: tuple[RubTree, ...]
    lays: tuple[Lay, ...]
    trees: tuple[TreeOutcome, ...]  # with the role of marked rub trees
    findings: tuple[Finding, ...]


def stump_work(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    trees: tuple[TreeOutcome, ...],
    comes_out: Mask,
) -> StumpWork:
    """Work out what a finished layout asks at the stump.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job.
    trails, positions, pulls : sequences of Trail, WinchPosition, Pull
        The layout.
    trees : tuple of TreeOutcome
        One for each listed tree.
    comes_out : ndarray of bool, shape (n,)
        Listed stems, marked or not, that come out with trails, turning places and landing.

    Returns
    -------
    StumpWork
    """
    rubs = rub_trees(area, trails, positions, pulls, comes_out)
    kept = {rub.tree_id for rub in rubs if rub.kind == "marked"}
    last = np.array([name in kept for name in area.trees.tree_id], dtype=bool)
    stays = (~area.trees.marked & ~comes_out) | last
    laid = lays(area, terrain, strips, pulls, stays)
    found = [*_of_rubs(area, rubs), *_of_lays(area, laid)]
    return StumpWork(rubs, laid, with_roles(trees, rubs), tuple(found))


def _few(names: Sequence[str]) -> str:
    """Name a few of many."""
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _trees(count: int) -> str:
    return "1 tree" if count == 1 else f"{count} trees"


def _of_rubs(area: Area, rubs: Sequence[RubTree]) -> list[Finding]:
    """Say which rub trees are kept, which the owner must mark, and where a log must do."""
    units = area.settings.area.units
    found: list[Finding] = []
    marked = [rub for rub in rubs if rub.kind == "marked"]
    if marked:
        names = _few([rub.tree_id for rub in marked])
        what = f"Marked trees kept standing as rub trees till the last load has passed: {names}."
        found.append(_grouped("rub_trees_kept", "ok", what, marked, str(sources.RUB_TREES)))
    proposed = [rub for rub in rubs if rub.kind == "proposed"]
    if proposed:
        names = _few([f"{rub.tree_id} (for {_few(rub.protects)})" for rub in proposed])
        what = (
            f"Proposed as rub trees, of low value, for the sake of better ones: {names}. They are "
            "not marked: the owner's mark is needed, or a log laid there."
        )
        found.append(_grouped("rub_trees_proposed", "caution", what, proposed, PRACTICE))
    bumpers = [rub for rub in rubs if rub.kind == "bumper"]
    if bumpers:
        names = _few([f"{_place(rub, units)} (for {_few(rub.protects)})" for rub in bumpers])
        what = (
            "Loads come up against trees that stay, and no stem there will do for a rub tree: "
            f"{names}. Lay a log along the inside edge, or leave a high stump."
        )
        found.append(_grouped("rub_bumpers", "caution", what, bumpers, PRACTICE))
    looked = [rub for rub in rubs if rub.kind == "look"]
    if looked:
        why = (
            "single stems are spoken of only where trees are placed to 1.5 m (5 ft) or better"
            if area.trees.full_list
            else "only marked trees are in the list"
        )
        names = _few([_place(rub, units) for rub in looked])
        what = (
            f"Rub trees not chosen: {why}. At each mouth look on the wide corner on the "
            f"landing's side, not in the crotch: {names}."
        )
        found.append(_grouped("rub_trees_unknown", "unknown", what, looked, PRACTICE))
    return found


def _place(rub: RubTree, units: Units) -> str:
    """Say where a corner is."""
    place = rub.places[0]
    at = f"{place.trail_id} at {speak_station(place.at_m, units)}, {place.side} side"
    return f"{place.from_id} onto {at}" if place.kind == "junction" else at


def _grouped(
    code: str, level: Literal["ok", "caution", "unknown"], what: str, rubs: Sequence[RubTree],
    source: str,
) -> Finding:  # fmt: skip
    first = rubs[0]
    return Finding(
        code=code,
        level=level,
        message=what,
        subject_layer="trees" if first.tree_id else "trails",
        subject_id=first.tree_id or first.places[0].trail_id,
        value=float(len(rubs)),
        source=source,
        at=(first.x, first.y),
    )


def _of_lays(area: Area, laid: Sequence[Lay]) -> list[Finding]:
    """Say of which trees the faller must know before anything else."""
    row = {name: i for i, name in enumerate(area.trees.tree_id)}

    def told(code: str, level: Literal["caution", "stop"], what: str, which: list[Lay],
             source: str, *, confirmed: bool) -> Finding:  # fmt: skip
        at = row[which[0].tree_id]
        return Finding(
            code=code, level=level, message=what, subject_layer="trees",
            subject_id=which[0].tree_id, value=float(len(which)) if level == "caution" else None,
            source=source, confirmed=confirmed,
            at=(float(area.trees.x[at]), float(area.trees.y[at])),
        )  # fmt: skip

    found: list[Finding] = []
    bad = [lay for lay in laid if lay.why_none == "bad_tree"]
    if bad:
        what = (
            f"Hazard trees come down before any other work near them: "
            f"{_few([lay.tree_id for lay in bad])}. No lay is suggested for them; nobody else "
            "comes within two tree lengths until they lie."
        )
        source = str(sources.TWO_TREE_LENGTHS)
        found.append(told("hazard_trees_first", "caution", what, bad, source, confirmed=True))
    barred = [lay for lay in laid if lay.why_none == "barred"]
    if barred:
        met = dict.fromkeys(name for lay in barred for name in lay.barred_by)
        what = (
            f"No lay suggested for {_trees(len(barred))}: each one that suits the pull could reach "
            f"{_few(list(met))} ({_few([lay.tree_id for lay in barred])}). The faller decides at "
            "the stump, or they stay."
        )
        found.append(told("lay_barred", "caution", what, barred, PRACTICE, confirmed=False))
    against = [lay for lay in laid if lay.lean == "against" and not lay.why_none]
    if against:
        names = _few([lay.tree_id for lay in against])
        verb = "leans" if len(against) == 1 else "lean"
        what = (
            f"{_trees(len(against))} {verb} against the lay that suits the pull ({names}): for an "
            "experienced faller, or laid another way."
        )
        found.append(told("lean_against", "caution", what, against, PRACTICE, confirmed=False))
    for lay in laid:
        if lay.why_none == "lean":
            what = (
                f"Tree {lay.tree_id} leans back from every lay that suits its pull farther than "
                "wedges are meant for: leave it standing, or leave it to a trained faller to lay "
                "another way."
            )
            source = str(sources.WEDGE_LIMIT)
            found.append(told("lean_beyond_wedges", "stop", what, [lay], source, confirmed=True))
    blind = [lay for lay in laid if lay.why_none == "lean_unknown"]
    if blind:
        verb = "leans" if len(blind) == 1 else "lean"
        what = (
            f"{_trees(len(blind))} without a DBH {verb} back from every lay that suits the pull "
            f"({_few([lay.tree_id for lay in blind])}): whether wedges would do is not known, so "
            "no lay is suggested. Measure, or leave standing."
        )
        found.append(told("lean_lift_unknown", "caution", what, blind, str(sources.WEDGE_LIMIT),
                          confirmed=True))  # fmt: skip
    return found
