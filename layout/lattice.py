"""The heading lattice: shortest trails whose heading turns a notch at a time.

A state is (heading, row, column) with 16 headings; a step goes straight on or
turns one notch and then holds the new heading long enough for the curve at the
corner to keep its radius. Every limit is in the tables that are handed in.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layout.geometry import MOVE_CELLS, MOVES, repeats
from layout.ground import FREE, Ground
from layout.kernels import njit

Floats = NDArray[np.float64]

_DX = np.array([m[0] for m in MOVES], dtype=np.int64)
_DY = np.array([-m[1] for m in MOVES], dtype=np.int64)  # rows grow southward


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """What one search found; every array has one entry a state.

    States are numbered ``(row * cols + col) * 16 + heading``.

    Parameters
    ----------
    cost : ndarray of float32
        Weighted square metres from the source; infinite where not reached.
    parent : ndarray of int32
        State before; ``-2 - k`` at source k, -1 where not reached.
    length : ndarray of float32
        Metres of trail from the source's mouth.
    straight : ndarray of float32
        Metres since the last corner.
    settled : int
        States taken off the queue.
    """

    cost: NDArray[np.float32]
    parent: NDArray[np.int32]
    length: NDArray[np.float32]
    straight: NDArray[np.float32]
    settled: int


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
) -> Field:
    """Find the cheapest trail from any source to every state.

    Parameters
    ----------
    ground : Ground
        Tables of what is closed and what a metre costs.
    states : ndarray of int, shape (k,)
        State each source enters the lattice at.
    start_cost, start_length, start_straight : ndarray of float, shape (k,)
        Cost, metres of trail and metres since the last corner there.
    radius_m : float
        Least turn radius, metres.
    longest_m : float
        Longest trail from its mouth, metres.
    turn_cost : float
        Weighted square metres a notch of turning costs.

    Returns
    -------
    Field
    """
    rows, cols = ground.shape
    price = np.where(ground.closed == FREE, ground.cost, np.float32(np.inf))
    least = float(price.min())
    bucket = max(least * ground.cell_m, 1e-3) if np.isfinite(least) else 1.0
    cost, parent, length, straight, settled = _spread(
        np.ascontiguousarray(price.transpose(1, 2, 0)).reshape(-1),
        np.ascontiguousarray(states, dtype=np.int64),
        np.ascontiguousarray(start_cost, dtype=np.float64),
        np.ascontiguousarray(start_length, dtype=np.float64),
        np.ascontiguousarray(start_straight, dtype=np.float64),
        _DX,
        _DY,
        MOVE_CELLS * ground.cell_m,
        repeats(ground.cell_m, radius_m),
        rows,
        cols,
        float(longest_m),
        float(turn_cost),
        bucket,
    )
    return Field(cost, parent, length, straight, int(settled))


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
    chain = [state]
    before = int(field.parent[state])
    while before >= 0:
        chain.append(before)
        before = int(field.parent[before])
    return chain[::-1], -2 - before


@njit
def _spread(
    price,
    states,
    start_cost,
    start_length,
    start_straight,
    dx,
    dy,
    move_m,
    first_leg,
    rows,
    cols,
    longest_m,
    turn_cost,
    bucket,
):
    # Buckets no wider than the cheapest step: whatever is taken from the
    # current one is final, as in Dial's variant of Dijkstra's method.
    # ``price`` is infinite where a heading is closed, and lies cell by cell so
    # that the sixteen headings of a cell are neighbours in memory.
    n = 16 * rows * cols
    best = np.full(n, np.inf, np.float32)
    parent = np.full(n, -1, np.int32)
    length = np.zeros(n, np.float32)
    straight = np.zeros(n, np.float32)
    done = np.zeros(n, np.uint8)
    pool_state = np.empty(max(1024, n), np.int32)
    pool_next = np.empty(max(1024, n), np.int32)
    used = 0
    heads = np.full(4096, -1, np.int32)
    highest = 0
    scale = 1.0 / bucket
    for k in range(states.size):
        s = states[k]
        if price[s] == np.inf or start_cost[k] >= best[s] or start_length[k] > longest_m:
            continue
        best[s] = start_cost[k]
        parent[s] = -2 - k
        length[s] = start_length[k]
        straight[s] = start_straight[k]
        b = int(best[s] * scale)
        if b >= heads.size:
            grown = np.full(max(b + 1024, heads.size * 2), -1, np.int32)
            for i in range(heads.size):
                grown[i] = heads[i]
            heads = grown
        if used >= pool_state.size:
            pool_state = np.concatenate((pool_state, np.empty(pool_state.size, np.int32)))
            pool_next = np.concatenate((pool_next, np.empty(pool_next.size, np.int32)))
        pool_state[used] = s
        pool_next[used] = heads[b]
        heads[b] = used
        used += 1
        highest = max(highest, b)
    settled = 0
    b = 0
    while b <= highest:
        while heads[b] >= 0:
            entry = heads[b]
            heads[b] = pool_next[entry]
            s = pool_state[entry]
            if done[s] == 1:
                continue
            done[s] = 1
            settled += 1
            h = s % 16
            r = s // 16 // cols
            c = s // 16 - r * cols
            from_cost = best[s]
            from_length = length[s]
            for turn in range(-1, 2):
                g = (h + turn) & 15
                moves = first_leg[g] if turn != 0 else 1
                leg = moves * move_m[g]
                if from_length + leg > longest_m:
                    continue
                rr = r + moves * dy[g]
                cc = c + moves * dx[g]
                if rr < 0 or cc < 0 or rr >= rows or cc >= cols:
                    continue
                t = (rr * cols + cc) * 16 + g
                if done[t] == 1:
                    continue
                total = 0.0
                here = (r * cols + c) * 16 + g
                shift = (dy[g] * cols + dx[g]) * 16
                if g % 2 == 0:
                    for _ in range(moves):
                        there = here + shift
                        total += 0.5 * (price[here] + price[there])
                        here = there
                else:
                    # a long move straddles two cells: both must be open, both are paid
                    if dx[g] == 2 or dx[g] == -2:
                        half = dx[g] // 2 * 16
                    else:
                        half = dy[g] // 2 * cols * 16
                    for _ in range(moves):
                        there = here + shift
                        total += 0.25 * (
                            price[here] + price[there] + price[here + half] + price[there - half]
                        )
                        here = there
                total *= move_m[g]
                if turn != 0:
                    total += turn_cost
                value = np.float32(from_cost + total)
                # an infinite price anywhere on the way makes the value infinite
                if value >= best[t]:
                    continue
                best[t] = value
                parent[t] = s
                length[t] = from_length + leg
                straight[t] = leg if turn != 0 else straight[s] + leg
                nb = max(int(value * scale), b)
                if nb >= heads.size:
                    grown = np.full(max(nb + 1024, heads.size * 2), -1, np.int32)
                    for i in range(heads.size):
                        grown[i] = heads[i]
                    heads = grown
                if used >= pool_state.size:
                    pool_state = np.concatenate((pool_state, np.empty(pool_state.size, np.int32)))
                    pool_next = np.concatenate((pool_next, np.empty(pool_next.size, np.int32)))
                pool_state[used] = t
                pool_next[used] = heads[nb]
                heads[nb] = used
                used += 1
                highest = max(highest, nb)
        b += 1
    return best, parent, length, straight, settled
