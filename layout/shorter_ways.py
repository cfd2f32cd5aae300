"""Loads that end at a small landing in the woods: which, how far, what they may weigh.

They were packed for the whole way to the landing, and stay so; but what is told of them is
told of the way they are dragged.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from layout.hauling import Ways
from layout.records import Trail
from layout.work_records import Piece, Turn, TwoStage

NOISE_M = 1e-6


def entries(
    turns: Sequence[Turn], pieces: Sequence[Piece], trails: Sequence[Trail]
) -> list[tuple[str, float]]:
    """Give the main trail each load comes in by, and the first station it is on it whole.

    Parameters
    ----------
    turns : sequence of Turn
    pieces : sequence of Piece
        All that is in them.
    trails : sequence of Trail

    Returns
    -------
    list of (str, float)
        In the order of the loads; no trail for those from the landing itself, and for
        those whose pieces are not known.
    """
    by_id = {trail.trail_id: trail for trail in trails}
    at_of = {(p.tree_id, p.number): (p.trail_id, p.at_m) for p in pieces}

    def main(here: str, at: float) -> tuple[str, float]:
        while here in by_id and by_id[here].joins_id:
            here, at = by_id[here].joins_id, by_id[here].joins_at_m or 0.0
        return (here, at) if here in by_id else ("", 0.0)

    out = []
    for turn in turns:
        places = [main(*at_of[key]) for key in turn.pieces if key in at_of]
        names = {name for name, _ in places}
        out.append(min(places, key=lambda p: p[1]) if len(names) == 1 else ("", 0.0))
    return out


def ends_short(turn: Turn, name: str, at: float, trail_id: str, at_m: float) -> bool:
    """Tell whether a load ends at a small landing.

    Stems out of the trail it lies on are dragged all the way: they come out while that is
    opened, and the small landing is made afterwards.

    Parameters
    ----------
    turn : Turn
    name, at : str, float
        The main trail it comes in by and where it is on it whole, from `entries`.
    trail_id, at_m : str, float
        Of the small landing.

    Returns
    -------
    bool
    """
    if turn.stage == "open" and turn.trail_id == trail_id:
        return False
    return name == trail_id and at >= at_m - NOISE_M


def shortened(
    turns: Sequence[Turn], two: TwoStage, pieces: Sequence[Piece], trails: Sequence[Trail]
) -> tuple[Turn, ...]:
    """Give the loads as they are dragged where the small landing is used.

    Parameters
    ----------
    turns : sequence of Turn
    two : TwoStage
        Where it names no place the loads stay as they are.
    pieces : sequence of Piece
    trails : sequence of Trail

    Returns
    -------
    tuple of Turn
        Planned loads that end at the small landing say so, and travel no farther.
    """
    if two.at_m is None:
        return tuple(turns)
    where = entries(turns, pieces, trails)
    return tuple(
        replace(turn, travel_m=max(turn.travel_m - two.lane_m, 0.0), ends_at="small landing")
        if turn.state == "planned" and ends_short(turn, name, at, two.trail_id, two.at_m)
        else turn
        for turn, (name, at) in zip(turns, where, strict=True)
    )


def lane_traffic(
    loads: Mapping[str, Sequence[tuple[float, int]]], two: TwoStage, through: int | None = None
) -> dict[str, list[tuple[float, int]]]:
    """Give the passes on every stretch where the small landing is used.

    Parameters
    ----------
    loads : mapping of str to sequence of (float, int)
        For each trail, (station, loads passing on the stretch that ends there), dragged
        all the way.
    two : TwoStage
    through : int, optional
        How many of them end at the small landing; left out, those still to come.

    Returns
    -------
    dict of str to list of (float, int)
        The same, with the trailer's trips in place of the loads that end at the small
        landing.
    """
    out = {name: list(some) for name, some in loads.items()}
    if two.at_m is None or two.trail_id not in out:
        return out
    less = (two.turns_through if through is None else through) - two.trips
    new: list[tuple[float, int]] = []
    from_m = 0.0
    for to_m, count in out[two.trail_id]:
        if from_m < two.at_m - NOISE_M and two.at_m < to_m - NOISE_M:
            new += [(two.at_m, count - less), (to_m, count)]
        else:
            new.append((to_m, count - less if to_m <= two.at_m + NOISE_M else count))
        from_m = to_m
    out[two.trail_id] = new
    return out


def on_shorter_ways(
    turns: Sequence[Turn], pieces: Sequence[Piece], ways: Ways
) -> tuple[tuple[Turn, ...], tuple[Piece, ...]]:
    """Give loads and pieces with the limits of the way they are dragged.

    Parameters
    ----------
    turns : sequence of Turn
        Some end at the small landing.
    pieces : sequence of Piece
        All that is in them.
    ways : Ways
        To the small landing.

    Returns
    -------
    turns : tuple of Turn
        Those that end there may weigh what their way to it allows, never less than before.
    pieces : tuple of Piece
        Those in them, with that way.
    """
    there = {key for turn in turns if turn.ends_at != "landing" for key in turn.pieces}
    moved = tuple(
        replace(piece, way=ways.way(piece.trail_id, piece.at_m))
        if (piece.tree_id, piece.number) in there
        else piece
        for piece in pieces
    )
    way_of = {(piece.tree_id, piece.number): piece.way for piece in moved}
    out = []
    for turn in turns:
        known = [way_of[key] for key in turn.pieces if key in way_of]
        if turn.ends_at == "landing" or not known:
            out.append(turn)
            continue
        least = min(known, key=lambda way: way.limit_kg)
        out.append(replace(turn, limit_kg=least.limit_kg, limited_by=least.limited_by))
    return tuple(out), moved
