"""The heading lattice: shortest trails whose heading turns a notch at a time.

A state is (heading, row, column) with 16 headings; a step goes straight on or
turns one notch and then holds the new heading long enough for the curve at the
corner to keep its radius. Every limit is in the tables that are handed in.

Ground flagged for short pitches only is entered as part of a pitch: metres in a
row on flagged moves are counted, and after a pitch as many metres must be free
of them before the next. A move that touches a flagged state at either end, or
at a cell it straddles, counts in full, so a pitch is never longer than counted.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.geometry import MOVE_CELLS, MOVES, repeats
from layout.ground import CLOSED, FREE, SHORT_ONLY, Ground
from layout.kernels import njit

Floats = NDArray[np.float64]
Table = NDArray[np.float32]
Whole = NDArray[np.int64]
Ints = NDArray[np.int32]

_DX = np.array([m[0] for m in MOVES], dtype=np.int64)
_DY = np.array([-m[1] for m in MOVES], dtype=np.int64)  # rows grow southward


@dataclass(frozen=True, slots=True, eq=False)
class Pitches:
    """Ways of a search that counts pitches: a state may be reached in several manners.

    Parameters
    ----------
    state, parent : ndarray of int32, shape (k,)
        State of each way, and the way before; ``-2 - k`` at source k.
    cheapest : ndarray of int32, shape (states,)
        The cheapest way to each state; -1 where there is none.
    """

    state: Ints
    parent: Ints
    cheapest: Ints


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """What one search found; every array has one entry a state.

    States are numbered ``(row * cols + col) * 16 + heading``.

    Parameters
    ----------
    cost : ndarray of float32
        Weighted square metres from the source; infinite where not reached.
    parent : ndarray of int32
        State before; ``-2 - k`` at source k, -1 where not reached. Follow it
        with `trace`, which knows of pitches.
    length : ndarray of float32
        Metres of trail from the source's mouth.
    straight : ndarray of float32
        Metres since the last corner.
    settled : int
        States taken off the queue; with pitches, ways.
    pitches : Pitches or None
        Where pitches were counted, the ways there are.
    """

    cost: NDArray[np.float32]
    parent: Ints
    length: NDArray[np.float32]
    straight: NDArray[np.float32]
    settled: int
    pitches: Pitches | None = None


def search(
    ground: Ground,
    states: NDArray[np.int64],
    start_cost: Floats,
    start_length: Floats,
    start_straight: Floats,
    *,
    radius_m: float,
    longest_m: float,
    turn_cost: float,
    short_pitch_m: float = 0.0,
) -> Field:
    """Find the cheapest trail from any source to every state.

    Parameters
    ----------
    ground : Ground
        Tables of what is closed and what a metre costs.
    states : ndarray of int, shape (k,)
        State each source enters the lattice at; those not free are left out.
    start_cost, start_length, start_straight : ndarray of float, shape (k,)
        Cost, metres of trail and metres since the last corner there.
    radius_m : float
        Least turn radius, metres.
    longest_m : float
        Longest trail from its mouth, metres.
    turn_cost : float
        Weighted square metres a notch of turning costs.
    short_pitch_m : float
        Longest pitch, and least ground between two; 0 keeps off the states
        flagged for short pitches altogether.

    Returns
    -------
    Field
    """
    rows, cols = ground.shape
    pitched = short_pitch_m > 0 and bool((ground.closed == SHORT_ONLY).any())
    shut = ground.closed == CLOSED if pitched else ground.closed != FREE
    price = np.where(shut, np.float32(np.inf), ground.cost)
    least = float(price.min())
    bucket = max(least * ground.cell_m, 1e-3) if np.isfinite(least) else 1.0
    move_m, first_leg = MOVE_CELLS * ground.cell_m, repeats(ground.cell_m, radius_m)
    by_cell = np.ascontiguousarray(price.transpose(1, 2, 0)).reshape(-1)
    flag = np.ascontiguousarray(ground.closed.transpose(1, 2, 0)).reshape(-1)
    one, leg, kind = _legs(by_cell, flag, _DX, _DY, move_m, first_leg, rows, cols)
    free = np.ascontiguousarray(np.flatnonzero(flag[states] == FREE))
    begin = (
        np.ascontiguousarray(states, dtype=np.int64),
        free,
        np.ascontiguousarray(start_cost, dtype=np.float64),
        np.ascontiguousarray(start_length, dtype=np.float64),
        np.ascontiguousarray(start_straight, dtype=np.float64),
    )
    shift = (_DY * cols + _DX) * 16
    if not pitched:
        # what belongs to one state lies together: one fetch from memory a step
        entry = np.zeros((one.size, 4), np.float32)
        link = entry.view(np.int32)
        entry[:, 0] = np.inf
        link[:, 1] = -1
        settled = _spread(
            one, leg, entry, link, *begin,
            shift, move_m, first_leg, float(longest_m), float(turn_cost), bucket,
        )  # fmt: skip
        cost, _, length, straight = (np.ascontiguousarray(c) for c in entry.T)
        return Field(cost, np.ascontiguousarray(link[:, 1]), length, straight, int(settled))
    state, parent, values, cheapest, settled = _spread_pitches(
        one, kind, *begin,
        shift, move_m, first_leg, cols, float(longest_m), float(turn_cost), bucket,
        float(short_pitch_m),
    )  # fmt: skip
    reached = cheapest >= 0
    way = cheapest[reached]
    tables = [np.full(one.size, blank, np.float32) for blank in (np.inf, 0.0, 0.0)]
    for table, column in zip(tables, values[way, :3].T, strict=True):
        table[reached] = column
    before = np.full(one.size, -1, np.int32)
    before[reached] = np.where(parent[way] >= 0, state[np.maximum(parent[way], 0)], parent[way])
    pitches = Pitches(state, parent, cheapest)
    return Field(tables[0], before, tables[1], tables[2], int(settled), pitches)


def number(
    ground: Ground,
    heading: NDArray[np.int64],
    row: NDArray[np.int64],
    col: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Give the numbers of states."""
    return (row * ground.shape[1] + col) * 16 + heading


def parts(
    ground: Ground, state: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64]]:
    """Give heading, row and column of states."""
    cell = state // 16
    return state % 16, cell // ground.shape[1], cell % ground.shape[1]


def trace(field: Field, state: int) -> tuple[list[int], int]:
    """Give the states from a source to a state, and the source's number."""
    ways = field.pitches
    link = field.parent if ways is None else ways.parent
    chain = [state if ways is None else int(ways.cheapest[state])]
    before = int(link[chain[0]])
    while before >= 0:
        chain.append(before)
        before = int(link[before])
    if ways is not None:
        chain = [int(ways.state[w]) for w in chain]
    return chain[::-1], -2 - before


@njit
def _legs(
    price: Table,
    flag: NDArray[np.uint8],
    dx: Whole,
    dy: Whole,
    move_m: Floats,
    first_leg: Whole,
    rows: int,
    cols: int,
) -> tuple[Table, Table, NDArray[np.uint8]]:
    # What one move straight on costs from every state, and what the first leg
    # after a turn into it does; infinite where it leaves open ground or the
    # lattice, so that the search itself needs no rows and columns.
    n = price.size
    one = np.full(n, np.inf, np.float32)
    leg = np.full(n, np.inf, np.float32)
    kind = np.zeros(n, np.uint8)
    for r in range(rows):
        for c in range(cols):
            for g in range(16):
                rr = r + dy[g]
                cc = c + dx[g]
                if rr < 0 or cc < 0 or rr >= rows or cc >= cols:
                    continue
                here = (r * cols + c) * 16 + g
                if price[here] == np.inf:
                    continue
                there = (rr * cols + cc) * 16 + g
                total = 0.5 * (price[here] + price[there])
                short = flag[here] == 1 or flag[there] == 1
                if g % 2 == 1:
                    # a long move straddles two cells: both must be open, both are paid
                    half = dx[g] // 2 * 16 if abs(dx[g]) == 2 else dy[g] // 2 * cols * 16
                    total = 0.5 * total + 0.25 * (price[here + half] + price[there - half])
                    short = short or flag[here + half] == 1 or flag[there - half] == 1
                one[here] = total * move_m[g]
                kind[here] = 1 if short else 0
    for s in range(n):
        g = s & 15
        shift = (dy[g] * cols + dx[g]) * 16
        total = one[s]
        at = s
        for _ in range(1, first_leg[g]):
            if total == np.inf:
                break
            at += shift
            total += one[at]
        leg[s] = total
    return one, leg, kind


@njit
def _spread(
    one: Table,
    leg: Table,
    entry: Table,
    link: NDArray[np.int32],
    states: Whole,
    free: Whole,
    start_cost: Floats,
    start_length: Floats,
    start_straight: Floats,
    shift: Whole,
    move_m: Floats,
    first_leg: Whole,
    longest_m: float,
    turn_cost: float,
    bucket: float,
) -> int:
    # Buckets no wider than the cheapest step: whatever is taken from the
    # current one is final, as in Dial's variant of Dijkstra's method.
    # ``entry`` holds cost, parent (as an integer, through ``link``), length and
    # metres since the last corner of each state.
    n = one.size
    done = np.zeros(n, np.uint8)
    pool = np.empty((max(1024, n // 2), 2), np.int32)
    used = 0
    heads = np.full(4096, -1, np.int32)
    highest = 0
    scale = 1.0 / bucket
    leg_m = move_m * first_leg
    leg_shift = shift * first_leg
    for k in free:
        s = states[k]
        if start_cost[k] >= entry[s, 0] or start_length[k] > longest_m:
            continue
        entry[s, 0] = start_cost[k]
        link[s, 1] = -2 - k
        entry[s, 2] = start_length[k]
        entry[s, 3] = start_straight[k]
        b = int(entry[s, 0] * scale)
        if b >= heads.size:
            heads = np.concatenate((heads, np.full(b + 1024, -1, np.int32)))
        if used >= pool.shape[0]:
            pool = np.concatenate((pool, np.empty_like(pool)))
        pool[used, 0] = s
        pool[used, 1] = heads[b]
        heads[b] = used
        used += 1
        highest = max(highest, b)
    settled = 0
    b = 0
    while b <= highest:
        while heads[b] >= 0:
            top = heads[b]
            heads[b] = pool[top, 1]
            s = pool[top, 0]
            if done[s] == 1:
                continue
            done[s] = 1
            settled += 1
            h = s & 15
            cell = s - h
            from_cost = entry[s, 0]
            from_length = entry[s, 2]
            for turn in range(-1, 2):
                if turn == 0:
                    step = one[s]
                    t = s + shift[h]
                    reach = from_length + move_m[h]
                else:
                    g = (h + turn) & 15
                    step = leg[cell + g] + turn_cost
                    t = cell + g + leg_shift[g]
                    reach = from_length + leg_m[g]
                # an infinite step may end off the lattice: not looked up
                if step == np.inf or reach > longest_m:
                    continue
                value = np.float32(from_cost + step)
                if value >= entry[t, 0]:
                    continue
                entry[t, 0] = value
                link[t, 1] = s
                entry[t, 2] = reach
                entry[t, 3] = entry[s, 3] + move_m[h] if turn == 0 else reach - from_length
                nb = max(int(value * scale), b)
                if nb >= heads.size:
                    heads = np.concatenate((heads, np.full(nb + 1024, -1, np.int32)))
                if used >= pool.shape[0]:
                    pool = np.concatenate((pool, np.empty_like(pool)))
                pool[used, 0] = t
                pool[used, 1] = heads[nb]
                heads[nb] = used
                used += 1
                highest = max(highest, nb)
        b += 1
    return settled


@njit
def _spread_pitches(
    one: Table,
    kind: NDArray[np.uint8],
    states: Whole,
    free: Whole,
    start_cost: Floats,
    start_length: Floats,
    start_straight: Floats,
    shift: Whole,
    move_m: Floats,
    first_leg: Whole,
    cols: int,
    longest_m: float,
    turn_cost: float,
    bucket: float,
    short_pitch_m: float,
) -> tuple[NDArray[np.int32], NDArray[np.int32], Table, NDArray[np.int32], int]:
    # The same search over ways: a way is a state with a manner (0 free to begin
    # a pitch, 1 in one, 2 recovering from one) and a mark (metres used, metres
    # still to recover). Among ways of a state one gives way to another that
    # costs no more and is free, or is in the same manner with no larger mark.
    n = one.size
    cheapest = np.full(n, -1, np.int32)
    last_of = np.full(n, -1, np.int32)  # settled ways of a state, chained by ``link[:, 3]``
    # what is queued already: cost of the free way, then cost and mark in the other manners
    free_cost = np.full(n, np.inf, np.float32)
    queued = np.full((n, 4), np.inf, np.float32)
    size = max(1024, n // 4)
    link = np.empty((size, 4), np.int32)  # state, parent, next in bucket, next of the state
    value = np.empty((size, 4), np.float32)  # cost, length, straight, mark
    manner = np.empty(size, np.uint8)
    used = 0
    heads = np.full(4096, -1, np.int32)
    highest = 0
    scale = 1.0 / bucket
    tiny = 1e-3  # metres; single precision adds up to less
    for k in free:
        if start_length[k] > longest_m or start_cost[k] >= free_cost[states[k]]:
            continue
        free_cost[states[k]] = start_cost[k]
        if used >= size:
            link = np.concatenate((link, np.empty_like(link)))
            value = np.concatenate((value, np.empty_like(value)))
            manner = np.concatenate((manner, np.empty_like(manner)))
            size = manner.size
        b = int(start_cost[k] * scale)
        if b >= heads.size:
            heads = np.concatenate((heads, np.full(b + 1024, -1, np.int32)))
        link[used, 0] = states[k]
        link[used, 1] = -2 - k
        link[used, 2] = heads[b]
        value[used, 0] = start_cost[k]
        value[used, 1] = start_length[k]
        value[used, 2] = start_straight[k]
        value[used, 3] = 0.0
        manner[used] = 0
        heads[b] = used
        used += 1
        highest = max(highest, b)
    settled = 0
    b = 0
    while b <= highest:
        while heads[b] >= 0:
            w = heads[b]
            heads[b] = link[w, 2]
            s = link[w, 0]
            if manner[w] == 0:
                beaten = value[w, 0] > free_cost[s]
            else:
                beaten = value[w, 0] >= free_cost[s]
                other = last_of[s]
                while other >= 0 and not beaten:
                    beaten = (
                        manner[other] == manner[w]
                        and value[other, 0] <= value[w, 0]
                        and value[other, 3] <= value[w, 3] + tiny
                    )
                    other = link[other, 3]
            if beaten:
                continue
            if manner[w] != 0:
                link[w, 3] = last_of[s]
                last_of[s] = w
            if cheapest[s] < 0 or value[w, 0] < value[cheapest[s], 0]:
                cheapest[s] = w
            settled += 1
            h = s & 15
            for turn in range(-1, 2):
                g = (h + turn) & 15
                moves = first_leg[g] if turn != 0 else 1
                reach = value[w, 1] + moves * move_m[g]
                if reach > longest_m:
                    continue
                t = s - h + g
                step = turn_cost if turn != 0 else 0.0
                how = manner[w]
                mark = value[w, 3]
                for _ in range(moves):
                    if one[t] == np.inf:
                        step = np.inf
                        break
                    step += one[t]
                    if kind[t] == 1:
                        mark = mark + move_m[g] if how == 1 else move_m[g]
                        if how == 2 or mark > short_pitch_m + tiny:
                            step = np.inf
                            break
                        how = 1
                    elif how != 0:
                        mark = (mark if how == 2 else short_pitch_m) - move_m[g]
                        how = 2
                        if mark <= tiny:
                            how = 0
                            mark = 0.0
                    t += shift[g]
                if step == np.inf:
                    continue
                cost = np.float32(value[w, 0] + step)
                if cost >= free_cost[t]:
                    continue
                beaten = False
                if how != 0:
                    beaten = queued[t, 2 * how - 2] <= cost and queued[t, 2 * how - 1] <= mark
                    other = last_of[t]
                    while other >= 0 and not beaten:
                        beaten = (
                            manner[other] == how
                            and value[other, 0] <= cost
                            and value[other, 3] <= mark + tiny
                        )
                        other = link[other, 3]
                if not beaten and manner[w] != 0:
                    # no circling to recover: a way may not come back to itself
                    row = (t >> 4) // cols
                    col = (t >> 4) - row * cols
                    back = w
                    count = 0
                    while back >= 0 and not beaten:
                        cell = link[back, 0] >> 4
                        r = cell // cols
                        c = cell - r * cols
                        beaten = count >= 4 and abs(r - row) <= 2 and abs(c - col) <= 2
                        if manner[back] == 0:
                            break
                        back = link[back, 1]
                        count += 1
                if beaten:
                    continue
                if how == 0:
                    free_cost[t] = cost
                elif cost <= queued[t, 2 * how - 2]:
                    queued[t, 2 * how - 2] = cost
                    queued[t, 2 * how - 1] = mark
                if used >= size:
                    link = np.concatenate((link, np.empty_like(link)))
                    value = np.concatenate((value, np.empty_like(value)))
                    manner = np.concatenate((manner, np.empty_like(manner)))
                    size = manner.size
                nb = max(int(cost * scale), b)
                if nb >= heads.size:
                    heads = np.concatenate((heads, np.full(nb + 1024, -1, np.int32)))
                link[used, 0] = t
                link[used, 1] = w
                link[used, 2] = heads[nb]
                value[used, 0] = cost
                value[used, 1] = reach
                value[used, 2] = value[w, 2] + move_m[h] if turn == 0 else reach - value[w, 1]
                value[used, 3] = mark
                manner[used] = how
                heads[nb] = used
                used += 1
                highest = max(highest, nb)
        b += 1
    return link[:used, 0].copy(), link[:used, 1].copy(), value[:used], cheapest, settled
