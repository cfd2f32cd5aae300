"""From chosen spots to parked outfits: one heading for as many pulls as it can serve.

The choice lets every pull have its own swing. On the ground the outfit parks
once and pulls several stems, so pulls of one spot are brought together on as
few headings as their limits allow; every heading is one winch position.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from layout.forest import LANDING
from layout.geometry import azimuth_deg
from layout.grow import Grown, Spot
from layout.naming import names_for_positions
from layout.network import way
from layout.records import Pull, Trail, WinchPosition
from layout.sprouts import Grower
from layout.turning import Way, backing_m
from layout.winch import Pairs, evaluate, to_pull

Floats = NDArray[np.float64]

SAME_SWING_DEG = 0.5


@dataclass(frozen=True, slots=True)
class _Parked:
    spot: Spot
    swing_deg: float
    rear_rad: float
    rows: tuple[int, ...]  # rows of the fixed-heading evaluation


def park(
    grower: Grower,
    grown: Grown,
    trails: tuple[Trail, ...],
    landing_ids: Sequence[str] = (),
) -> tuple[tuple[WinchPosition, ...], tuple[Pull, ...]]:
    """Give the winch positions and pulls of a chosen network.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    grown : Grown
        The chosen network.
    trails : tuple of Trail
        Its trails, in the order of its branches.
    landing_ids : sequence of str, optional
        The landings, in the order their places were given to `grow`; that of the first
        trail where there is one alone.

    Returns
    -------
    positions : tuple of WinchPosition
        W1, W2 … from the landing outward, trail by trail; one that stands where
        the earlier plan had one keeps its name.
    pulls : tuple of Pull
        One for each tree served, in the order of the positions.
    """
    tries: list[tuple[Spot, float, float]] = []
    for spot in grown.spots:
        tries += [(spot, swing, rear) for swing, rear in _headings(grown, spot)]
    pairs = evaluate(
        grower.pull_ground,
        grower.winch,
        np.array([s.x for s, _, _ in tries]),
        np.array([s.y for s, _, _ in tries]),
        np.array([rear for _, _, rear in tries]),
        np.zeros(len(tries)),
        np.zeros(len(tries), dtype=bool),
    )
    rows: dict[tuple[int, int], int] = {
        (int(p), int(t)): k for k, (p, t) in enumerate(zip(pairs.pos, pairs.tree, strict=True))
    }
    parked: list[_Parked] = []
    for spot in grown.spots:
        mine = [i for i, (s, _, _) in enumerate(tries) if s is spot]
        trees = sorted({int(grown.candidates.pairs.tree[k]) for k in spot.pairs})
        parked += _cover(spot, [tries[i] for i in mine], mine, trees, rows)
    order = sorted(
        range(len(parked)),
        key=lambda i: (
            parked[i].spot.branch >= 0,
            _trail_rank(trails, parked[i].spot.branch),
            parked[i].spot.at_m,
            parked[i].swing_deg,
        ),
    )
    yards = landing_ids or (trails[0].landing_id,)
    positions: list[WinchPosition] = []
    pulls: list[Pull] = []
    area = grower.judge.area
    names = names_for_positions(
        [(parked[i].spot.x, parked[i].spot.y, azimuth_deg(parked[i].rear_rad)) for i in order],
        area.earlier,
        area.opened_positions,
    )
    for name, i in zip(names, order, strict=True):
        position, its = _records(grower, grown, trails, yards, parked[i], pairs, name)
        positions.append(position)
        pulls += its
    return tuple(positions), tuple(pulls)


def _trail_rank(trails: tuple[Trail, ...], branch: int) -> tuple[int, int]:
    """Sort trails as their names read: mains first, then S1, S2 … S10."""
    if branch < 0:
        return (0, LANDING - branch)
    name = trails[branch].trail_id
    digits = "".join(c for c in name if c.isdigit())
    return (0 if trails[branch].kind == "main" else 1, int(digits or 0))


def _headings(grown: Grown, spot: Spot) -> list[tuple[float, float]]:
    """Give the swings worth trying at a spot, degrees, and the rear's angle with each."""
    pairs, spots = grown.candidates.pairs, grown.candidates.spots
    out: list[tuple[float, float]] = []
    for k in spot.pairs:
        line = float(spots.rear_rad[pairs.pos[k]])
        swing = float(pairs.swing_deg[k])
        out.append((swing, line + np.radians(swing)))
    swings = sorted({s for s, _ in out})
    if spot.branch >= 0:
        line = float(spots.rear_rad[pairs.pos[spot.pairs[0]]])
        between = [0.0, *((a + b) / 2 for a, b in pairwise(swings))]
        out += [(s, line + float(np.radians(s))) for s in between]
    kept: list[tuple[float, float]] = []
    for swing, rear in sorted(out, key=lambda sr: (abs(sr[0]), sr[0])):
        if all(abs(swing - s) > SAME_SWING_DEG for s, _ in kept):
            kept.append((swing, rear))
    # the exact headings of the choice stay in, so that every pull has one that serves it
    chosen = {(s, r) for s, r in out[: len(spot.pairs)]}
    return kept + [sr for sr in sorted(chosen) if sr not in kept]


def _cover(
    spot: Spot,
    tries: list[tuple[Spot, float, float]],
    numbers: list[int],
    trees: list[int],
    rows: dict[tuple[int, int], int],
) -> list[_Parked]:
    """Take the heading that serves most of what is left, again and again."""
    left, out = set(trees), []
    while left:
        best, served = -1, set[int]()
        for i, number in enumerate(numbers):
            can = {t for t in left if (number, t) in rows}
            if len(can) > len(served):
                best, served = i, can
        if best < 0:
            break
        _, swing, rear = tries[best]
        out.append(
            _Parked(spot, swing, rear, tuple(rows[(numbers[best], t)] for t in sorted(served)))
        )
        left -= served
    return out


def _records(
    grower: Grower,
    grown: Grown,
    trails: tuple[Trail, ...],
    landing_ids: Sequence[str],
    parked: _Parked,
    pairs: Pairs,
    name: str,
) -> tuple[WinchPosition, list[Pull]]:
    spot, first = parked.spot, parked.rows[0]
    marked = grower.pull_ground.marked
    ids = grower.judge.area.trees.tree_id
    on_landing = spot.branch < 0
    position = WinchPosition(
        position_id=name,
        trail_id="" if on_landing else trails[spot.branch].trail_id,
        landing_id=landing_ids[LANDING - spot.branch]
        if on_landing
        else trails[spot.branch].landing_id,
        at_m=spot.at_m,
        x=spot.x,
        y=spot.y,
        rear_azimuth_deg=azimuth_deg(parked.rear_rad),
        swing_deg=0.0 if on_landing else parked.swing_deg,
        cross_pct=float(pairs.cross_pct[first]),
        along_pct=float(pairs.along_pct[first]),
        back_m=0.0 if on_landing else back_m(grown, spot),
        tree_ids=tuple(ids[marked[pairs.tree[k]]] for k in parked.rows),
    )
    pulls = [to_pull(grower.pull_ground, grower.winch, position, pairs, k) for k in parked.rows]
    return position, pulls


def back_m(grown: Grown, spot: Spot) -> float:
    """Give the shortest backing to a spot from a built turning place or the landing, metres."""
    branches = list(grown.branches)
    here = way(branches, spot.branch, spot.at_m)
    root = here.legs[0][0]
    places = [Way(((root, 0.0),))]
    places += [way(branches, p.branch, p.at_m) for p in grown.places]
    return min(backing_m(here, place) for place in places)
