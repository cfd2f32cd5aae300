"""What the rows of progress.csv speak of: stems, trails, positions and turns.

A turn that is in has brought its pieces in. A tree is done when all of its pieces are, or
where it is named itself; until then what is left of it is planned on.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from layout.errors import InputFaults
from layout.findings import Finding
from layout.site import LOAD_IN, Earlier, EarlierTurn, ProgressRow, Trees

PROGRESS = "progress.csv"
MOST_NAMED = 30
SAME_M3, SAME_SHARE = 0.002, 0.02  # wood that differs by less is the same; ours


@dataclass(frozen=True, slots=True)
class Claims:
    """What is done, and what of the earlier plan is on the ground."""

    done: tuple[str, ...] = ()  # tree ids of the list
    trails: tuple[str, ...] = ()
    positions: frozenset[str] = frozenset()
    findings: tuple[Finding, ...] = ()
    pieces: frozenset[tuple[str, int]] = frozenset()  # in already, of trees that are not done
    turns: frozenset[str] = frozenset()  # loads that are in
    carried: frozenset[str] = frozenset()  # those of them a trailer has taken on to the landing


def claims(
    rows: Sequence[ProgressRow],
    tree_ids: Sequence[str],
    unmarked: Iterable[str],
    earlier: Earlier | None,
    fixed: Iterable[str] = (),
) -> Claims:
    """Sort the rows by what they name.

    A tree or turn is done unless its state says less. A trail that is flagged,
    opened or done stays as it is. A position keeps its trail; where it is said
    to be done, so are the trees the earlier plan pulled to it. A turn keeps its
    trail, and the positions it stopped at while one of their trees still stands; one that
    is ``carried`` is in as well.

    Parameters
    ----------
    rows : sequence of ProgressRow
    tree_ids : sequence of str
        The tree list.
    unmarked : iterable of str
        Those of them that are not marked to be cut.
    earlier : Earlier or None
        The earlier plan.
    fixed : iterable of str
        Trails of the user's own file: kept anyway.

    Returns
    -------
    Claims
        A row that names nothing known is told of, each by itself.

    Raises
    ------
    InputFaults
        If an id names two different things, or one that is no load is ``carried``.
    """
    listed, kept = set(tree_ids), set(fixed)
    trails = {t.trail_id for t in earlier.trails} if earlier else set[str]()
    spots = {
        **{old.name: (old.trail_id, old.tree_ids) for old in (earlier.retired if earlier else ())
           if old.layer == "winch_positions"},
        **{p.position_id: (p.trail_id, p.tree_ids) for p in (earlier.positions if earlier else ())},
    }  # fmt: skip
    gone = {old.name for old in (earlier.retired if earlier else ()) if old.layer == "trails"}
    turns = {turn.turn_id: turn for turn in (earlier.turns if earlier else ())}
    known: dict[str, set[str]] = {
        "tree": listed,
        "trail": trails | kept,
        "position": set(spots),
        "turn": set(turns),
    }
    done: dict[str, None] = {}
    frozen: dict[str, None] = {}
    opened: set[str] = set()
    found: list[Finding] = []
    faults: list[str] = []
    came_in: dict[str, None] = {}
    stops: dict[str, None] = {}
    taken: set[str] = set()
    for row in rows:
        kinds = [k for k, names in known.items() if row.name in names and row.kind in ("", k)]
        if len(kinds) > 1:
            faults.append(
                f"{PROGRESS} line {row.line}: {row.name} is the name of a "
                f"{' and of a '.join(kinds)}; write {' or '.join(f'{k}:{row.name}' for k in kinds)}"
            )
        elif not kinds:
            found.append(_unknown(row, retired=row.name in gone, planned=earlier is not None))
        elif row.state == "carried" and kinds != ["turn"]:
            faults.append(
                f"{PROGRESS} line {row.line}: {row.name} is a {kinds[0]}; only a load is carried. "
                "Write flagged, opened or done, or leave it blank"
            )
        elif kinds == ["tree"]:
            if row.state in ("", "done"):
                done[row.name] = None
        elif kinds == ["trail"]:
            if row.name not in kept:
                frozen[row.name] = None
        elif kinds == ["position"]:
            trail, trees = spots[row.name]
            opened.add(row.name)
            if trail and trail not in kept:
                frozen[trail] = None
            if row.state == "done":
                done |= dict.fromkeys(t for t in trees if t in listed)
        else:
            turn = turns[row.name]
            if turn.trail_id and turn.trail_id not in kept:
                frozen[turn.trail_id] = None
            stops |= dict.fromkeys(turn.position_ids or (turn.position_id,))
            if row.state in LOAD_IN:
                came_in[row.name] = None
            if row.state == "carried":
                taken.add(row.name)
    if faults:
        raise InputFaults(faults)
    by_hand = set(done)
    pieces, whole = _brought_in(came_in, turns)
    done |= dict.fromkeys(tree for tree in whole if tree in listed)
    left = frozenset(key for key in pieces if key[0] in listed and key[0] not in done)
    standing = listed - set(done)
    # where nothing is left to pull the ribbon may come down
    opened |= {name for name in stops if name and standing & set(spots.get(name, ("", listed))[1])}
    found += _cut_since(came_in, turns, earlier)
    come = {
        name
        for name, turn in turns.items()
        if turn.state != "retired" and turn.pieces and by_hand >= set(turn.tree_ids)
    }
    found += _told(tuple(done), {tree for tree, _ in left}, set(unmarked))
    return Claims(
        tuple(done),
        tuple(frozen),
        frozenset(opened),
        tuple(found),
        left,
        frozenset(come | {*came_in}),
        frozenset(taken),
    )


def _brought_in(
    came_in: Iterable[str], turns: Mapping[str, EarlierTurn]
) -> tuple[set[tuple[str, int]], list[str]]:
    """Give the pieces of some turns, and the trees that have none left elsewhere.

    What a tree is made of is what the loads of the earlier plan hold of it. Where it was
    in that plan no more, the loads retired since say it.
    """
    pieces = {piece for name in came_in for piece in turns[name].pieces}
    made_of: dict[str, set[tuple[str, int]]] = {}
    for retired in (False, True):
        parts: dict[str, set[tuple[str, int]]] = {}
        for turn in turns.values():
            for piece in turn.pieces if (turn.state == "retired") == retired else ():
                parts.setdefault(piece[0], set()).add(piece)
        made_of = parts | made_of
    trees = dict.fromkeys(tree for name in came_in for tree in turns[name].tree_ids)
    # a load that does not say its pieces brings whole trees
    return pieces, [tree for tree in trees if made_of.get(tree, set()) <= pieces]


def _cut_since(
    came_in: Iterable[str], turns: Mapping[str, EarlierTurn], earlier: Earlier | None
) -> list[Finding]:
    """Tell of loads of a plan before the last whose stems the last one cut otherwise."""
    held = {(p.tree_id, p.number): p.wood_m3 for p in (earlier.pieces if earlier else ())}
    found = []
    for name in came_in:
        turn = turns[name]
        if turn.state != "retired" or not turn.pieces or not set(turn.pieces) <= held.keys():
            continue
        now = sum(held[piece] for piece in turn.pieces)
        if abs(now - turn.wood_m3) > SAME_M3 + SAME_SHARE * turn.wood_m3:
            found.append(
                Finding(
                    "load_cut_otherwise",
                    "caution",
                    f"{PROGRESS}: load {name} is of a plan before the last, which cut its stems "
                    f"({_listed(turn.tree_ids)}) otherwise; what is left of them is counted by "
                    "piece and may be off. Look at what lies there, and tick a tree off itself "
                    "once all of it is in.",
                    "turns",
                    name,
                    value=now,
                    limit=turn.wood_m3,
                    unit="m3",
                    source="ours",
                )
            )
    return found


def with_done(trees: Trees, done: Iterable[str], pieces: Iterable[tuple[str, int]] = ()) -> Trees:
    """Give a tree list that knows which of its stems, and which pieces, are out already."""
    gone, parts = frozenset(done), frozenset(pieces)
    if not gone and not parts:
        return trees
    felled = gone | {tree for tree, _ in parts}
    cut = np.array([name in felled for name in trees.tree_id], dtype=bool)
    return replace(trees, done=gone, done_pieces=parts, marked=trees.marked | cut)


def with_turns(
    earlier: Earlier | None, came_in: Collection[str], taken: Collection[str] = ()
) -> Earlier | None:
    """Give the earlier plan told which of its loads are in, and carried on, by now."""
    if earlier is None:
        return None
    turns = []
    for turn in earlier.turns:
        if turn.turn_id in came_in:
            turns.append(replace(turn, state="done", carried=turn.turn_id in taken))
        elif turn.state == "done":  # the row that said so is gone
            turns.append(replace(turn, state="retired"))
        else:
            turns.append(turn)
    return replace(earlier, turns=tuple(turns))


def _unknown(row: ProgressRow, *, retired: bool, planned: bool) -> Finding:
    """Tell of a row that names nothing."""
    if retired:
        why = "is a trail no plan holds any more; its line is not known here"
    elif planned:
        why = "is in neither the tree list nor the earlier plan"
    else:
        why = "is not in the tree list, and the out folder holds no earlier plan"
    return Finding(
        "progress_unknown",
        "caution",
        f"{PROGRESS} line {row.line}: {row.name} {why}; nothing is kept for it. Correct the id, "
        "or give the trail's line in [trails] fixed.",
        "input",
        row.name,
    )


def _told(done: Sequence[str], begun: set[str], unmarked: set[str]) -> list[Finding]:
    """Name the stems that are out already."""
    found = []
    if done:
        found.append(
            Finding(
                "trees_done",
                "ok",
                f"{_count(done)} done by {PROGRESS} and not planned again: {_listed(done)}.",
                "trees",
                value=float(len(done)),
            )
        )
    if begun:
        found.append(
            Finding(
                "trees_partly_done",
                "ok",
                f"{_count(sorted(begun))} partly in by {PROGRESS}; the rest is planned on: "
                f"{_listed(sorted(begun))}.",
                "trees",
                value=float(len(begun)),
            )
        )
    odd = [name for name in (*done, *sorted(begun)) if name in unmarked]
    if odd:
        found.append(
            Finding(
                "done_unmarked",
                "caution",
                f"{PROGRESS}: {_count(odd)} done and not marked to be cut in the list; counted as "
                f"cut: {_listed(odd)}.",
                "trees",
                value=float(len(odd)),
            )
        )
    return found


def _count(names: Sequence[str]) -> str:
    return "1 tree is" if len(names) == 1 else f"{len(names)} trees are"


def _listed(names: Sequence[str]) -> str:
    more = len(names) - MOST_NAMED
    return ", ".join(names[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")
