"""Loads: pieces put together under what may be dragged, and what they do to the trails.

A load takes up pieces of one trail, the farthest first, at as few winch positions as may
be: no heavier than its way allows, no more pieces than chokers. Stems out of the trail
itself, what is harvested, and rub trees make loads of their own, since their times differ;
so do spurs, each being closed before the next is begun. A stem of unknown weight comes by
itself. A stem winched straight onto the landing is a load that is there already.

Names of loads are given once, as those of trails are: sheets and ``progress.csv`` go on
naming them after the next plan.
"""

import itertools
import math
from collections.abc import Iterable, Sequence

import networkx as nx

from layout.naming import new_names
from layout.packing import Item, pack
from layout.records import Trail
from layout.settings import AreaSettings
from layout.site import Earlier, EarlierTurn
from layout.work_records import Piece, Stage, Turn

LETTER = "D"  # of a load's name: a drag
STAGES: tuple[Stage, ...] = ("open", "harvest", "rub")


def turns_of(
    settings: AreaSettings, pieces: Sequence[Piece], most_m3: float = math.inf
) -> tuple[Turn, ...]:
    """Put pieces into loads.

    Parameters
    ----------
    settings : AreaSettings
        ``winch.chokers``: most pieces in a load.
    pieces : sequence of Piece
        None heavier than its own way allows.
    most_m3 : float, optional
        Largest volume of a load, cubic metres; farm tractors drag so little that weight
        binds long before, so there is no limit by default.

    Returns
    -------
    tuple of Turn
        Without names and order. By stage and trail, from far to near; the same whatever
        order the pieces come in. Every piece is in one of them.

    Raises
    ------
    ValueError
        If a piece is heavier than its way allows, or comes twice.
    """
    if len({(piece.tree_id, piece.number) for piece in pieces}) < len(pieces):
        raise ValueError("a piece comes twice")
    groups: dict[tuple[int, str, bool], list[Piece]] = {}
    for piece in sorted(pieces, key=lambda p: (p.tree_id, p.number)):
        key = (STAGES.index(piece.stage), piece.trail_id, piece.late)
        groups.setdefault(key, []).append(piece)
    return tuple(
        _turn(load)
        for (_, trail_id, _), some in sorted(groups.items())
        for load in (_loads(settings, some, most_m3) if trail_id else _by_tree(some))
    )


def _loads(settings: AreaSettings, pieces: Sequence[Piece], most_m3: float) -> list[list[Piece]]:
    """Pack the pieces of one trail; what nobody knows the weight of comes by itself."""
    known = [piece for piece in pieces if piece.mass_known]
    groups = [known, *([piece] for piece in pieces if not piece.mass_known)]
    made = [
        [some[row] for row in rows]
        for some in groups
        for rows in pack([_item(piece) for piece in some], settings.winch.chokers, most_m3)
    ]
    return sorted(made, key=lambda load: -load[0].way.travel_m)


def _item(piece: Piece) -> Item:
    """Say what a piece is to the packing; it lies at its winch position, or where it fell."""
    return Item(
        key=(piece.tree_id, piece.number),
        mass=piece.mass_kg,
        limit=piece.way.limit_kg,
        volume=piece.wood_m3,
        group=piece.position_id or f"tree {piece.tree_id}",
        far=piece.way.travel_m,
    )


def _by_tree(pieces: Sequence[Piece]) -> list[list[Piece]]:
    """Keep each tree together that was winched onto the landing."""
    return [list(some) for _, some in itertools.groupby(pieces, key=lambda p: p.tree_id)]


def _turn(load: Sequence[Piece]) -> Turn:
    """Make a load of its pieces, in the order they are taken up."""
    far, least = load[0], min((piece.way for piece in load), key=lambda way: way.limit_kg)
    return Turn(
        turn_id="",
        order=0,
        stage=far.stage,
        trail_id=far.trail_id,
        position_id=far.position_id,
        at_m=far.at_m,
        travel_m=far.way.travel_m,
        pieces=tuple((piece.tree_id, piece.number) for piece in load),
        tree_ids=tuple(dict.fromkeys(piece.tree_id for piece in load)),
        position_ids=tuple(dict.fromkeys(p.position_id for p in load if p.position_id)),
        mass_kg=sum(piece.mass_kg for piece in load),
        wood_m3=sum(piece.wood_m3 for piece in load),
        limit_kg=least.limit_kg,
        limited_by=least.limited_by,
    )


def traffic(trails: Sequence[Trail], turns: Iterable[Turn]) -> dict[str, list[tuple[float, int]]]:
    """Add up the loads that pass, down the trail graph to the landing.

    Parameters
    ----------
    trails : sequence of Trail
        The network.
    turns : iterable of Turn
        Each counts from its farthest piece, but for retired ones and those that came
        over a trail that is no more.

    Returns
    -------
    dict
        For each trail, (station, loads passing on the stretch that ends there) in rising
        order of station; nothing passes beyond the last.
    """
    by_id = {trail.trail_id: trail for trail in trails}
    starts = [
        (turn.trail_id, round(turn.at_m, 3))
        for turn in turns
        if turn.state != "retired" and turn.trail_id in by_id
    ]
    stations = {name: {0.0} for name in by_id}
    for name, at_m in starts:
        stations[name].add(at_m)
    for trail in trails:
        if trail.joins_id:
            stations[trail.joins_id].add(_mouth(trail)[1])
    graph: nx.DiGraph[tuple[str, float]] = nx.DiGraph()
    for name, marks in stations.items():
        ordered = sorted(marks)
        graph.add_nodes_from((name, at_m) for at_m in ordered)
        graph.add_edges_from(((name, b), (name, a)) for a, b in itertools.pairwise(ordered))
        if by_id[name].joins_id:
            graph.add_edge((name, 0.0), _mouth(by_id[name]))
    passing = dict.fromkeys(graph.nodes, 0)
    for start in starts:
        passing[start] += 1
    for node in nx.topological_sort(graph):
        for after in graph.successors(node):
            passing[after] += passing[node]
    return {
        name: [(at_m, passing[(name, at_m)]) for at_m in sorted(marks) if at_m > 0]
        for name, marks in stations.items()
    }


def _mouth(trail: Trail) -> tuple[str, float]:
    """Give where a trail joins another."""
    return trail.joins_id, round(trail.joins_at_m or 0.0, 3)


def named(turns: Sequence[Turn], earlier: Earlier | None) -> tuple[str, ...]:
    """Name loads: one with the pieces of an earlier one keeps its name, others get new ones.

    Parameters
    ----------
    turns : sequence of Turn
        In the order new names are given.
    earlier : Earlier or None
        The earlier plan.

    Returns
    -------
    tuple of str
        One a load; new ones go on after the highest number ever used.
    """
    before = () if earlier is None else earlier.turns
    kept: dict[frozenset[tuple[str, int]], str] = {}
    # of two with the same pieces the one that was to be hauled is on the sheets
    for old in sorted(before, key=lambda t: t.state != "planned"):
        if old.pieces:
            kept.setdefault(frozenset(old.pieces), old.turn_id)
    fresh = new_names(LETTER, (old.turn_id for old in before))
    return tuple(kept.get(frozenset(turn.pieces)) or next(fresh) for turn in turns)


def carried(earlier: Earlier | None, turns: Sequence[Turn]) -> tuple[Turn, ...]:
    """Give the earlier loads that a new plan has to go on knowing.

    Parameters
    ----------
    earlier : Earlier or None
        The earlier plan, told by `layout.progress.with_turns` what is in.
    turns : sequence of Turn
        Of the new plan, named.

    Returns
    -------
    tuple of Turn
        In the order of the earlier plan and with no place in the new order: ``done``
        those that are in, ``retired`` all others whose name is no longer used.
    """
    now = {turn.turn_id for turn in turns}
    before = () if earlier is None else earlier.turns
    return tuple(_again(old) for old in before if old.turn_id not in now)


def _again(old: EarlierTurn) -> Turn:
    return Turn(
        turn_id=old.turn_id,
        order=0,
        stage=old.stage,
        trail_id=old.trail_id,
        position_id=old.position_id,
        at_m=old.at_m,
        travel_m=old.travel_m,
        pieces=old.pieces,
        tree_ids=old.tree_ids,
        position_ids=old.position_ids,
        mass_kg=old.mass_kg,
        wood_m3=old.wood_m3,
        limit_kg=old.limit_kg,
        limited_by=old.limited_by,
        state="done" if old.state == "done" else "retired",
        ends_at=old.ends_at,
    )
