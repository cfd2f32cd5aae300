"""The heading search against other people's shortest paths, and by brute force."""

import itertools
import math
from pathlib import Path

import numpy as np
import oracles
import pytest
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import dijkstra
from shapely.geometry import LineString
from skimage.graph import MCP_Geometric

from layout.fairline import bend_radius_m
from layout.geometry import HEADING_RAD, MOVES, along, fair_curve, repeats
from layout.ground import CLOSED, FREE, SHORT_ONLY, Ground
from layout.lattice import Field, number, parts, search, trace

CELL = 2.0
RADIUS = 7.62
ELONGATION_PCT = 2.749  # exact worst case of sixteen moves
Floats = NDArray[np.float64]


def ground_of(cost: Floats, closed: NDArray[np.uint8] | None = None) -> Ground:
    table = np.ascontiguousarray(np.broadcast_to(cost, (16, *cost.shape[-2:])), dtype=np.float32)
    if closed is None:
        closed = np.full(table.shape, FREE, dtype=np.uint8)
    return Ground(0.0, cost.shape[-2] * CELL, CELL, closed, table, 3.0)


def from_cell(
    ground: Ground, row: int, col: int, *, radius_m: float, turn_cost: float, pitch_m: float = 0.0
) -> Field:
    at = number(ground, np.arange(16), np.full(16, row), np.full(16, col))
    zero = np.zeros(16)
    return search(
        ground, at, zero, zero, zero,
        radius_m=radius_m, longest_m=math.inf, turn_cost=turn_cost, short_pitch_m=pitch_m,
    )  # fmt: skip


def moves_from(row: int, col: int, heading: int, count: int) -> list[tuple[int, int]]:
    dx, dy = MOVES[heading]
    return [(row - dy * k, col + dx * k) for k in range(count + 1)]


def sampled(a: tuple[int, int], b: tuple[int, int]) -> list[tuple[int, int]]:
    """Give the cells a move samples: its ends, and the two a long move straddles."""
    (r0, c0), (r1, c1) = a, b
    if abs(r1 - r0) + abs(c1 - c0) < 3:
        return [a, b]
    if abs(c1 - c0) == 2:
        half = (c1 - c0) // 2
        return [a, b, (r0, c0 + half), (r1, c1 - half)]
    half = (r1 - r0) // 2
    return [a, b, (r0 + half, c0), (r1 - half, c1)]


def leg_cost(ground: Ground, cells: list[tuple[int, int]], heading: int) -> float:
    rows, cols = ground.shape
    total = 0.0
    for a, b in itertools.pairwise(cells):
        if not (0 <= b[0] < rows and 0 <= b[1] < cols):
            return math.inf
        seen = sampled(a, b)
        if any(ground.closed[heading, r, c] == CLOSED for r, c in seen):
            return math.inf
        mean = np.mean([ground.cost[heading, r, c] for r, c in seen])
        total += float(mean) * CELL * math.hypot(b[0] - a[0], b[1] - a[1])
    return total


def by_scipy(ground: Ground, row: int, col: int, radius_m: float, turn_cost: float) -> Floats:
    """Build the graph over (cell, heading) edge by edge and let scipy solve it."""
    rows, cols = ground.shape
    legs = repeats(CELL, radius_m)
    tails, heads, weights = [], [], []
    for r in range(rows):
        for c in range(cols):
            for h in range(16):
                for turn in (-1, 0, 1):
                    g = (h + turn) % 16
                    cells = moves_from(r, c, g, int(legs[g]) if turn else 1)
                    cost = leg_cost(ground, cells, g)
                    if math.isfinite(cost):
                        end = cells[-1]
                        tails.append((r * cols + c) * 16 + h)
                        heads.append((end[0] * cols + end[1]) * 16 + g)
                        weights.append(cost + (turn_cost if turn else 0.0))
    n = rows * cols * 16
    graph = coo_matrix((weights, (tails, heads)), shape=(n, n)).tocsr()
    start = [(row * cols + col) * 16 + h for h in range(16)]
    start = [s for s in start if ground.closed[s % 16, row, col] == FREE]
    return np.asarray(dijkstra(graph, indices=start, min_only=True))


@pytest.mark.parametrize(
    ("seed", "side"), [(0, 16), (1, 20), pytest.param(2, 40, marks=pytest.mark.slow)]
)
def test_costs_equal_scipy_on_the_same_states(seed: int, side: int) -> None:
    rng = np.random.default_rng(seed)
    cost = 1 + 9 * rng.random((16, side, side))
    closed = np.where(rng.random(cost.shape) < 0.05 * seed, CLOSED, FREE).astype(np.uint8)
    ground = ground_of(cost, closed)
    found = from_cell(ground, side // 2, side // 3, radius_m=RADIUS, turn_cost=1.5)
    wanted = by_scipy(ground, side // 2, side // 3, RADIUS, 1.5)
    np.testing.assert_allclose(found.cost, wanted, rtol=2e-5)


def test_never_cheaper_than_sixteen_moves_free_to_turn() -> None:
    rng = np.random.default_rng(5)
    side = 30
    cost = 1 + 9 * rng.random((side, side))
    ground = ground_of(cost)
    found = from_cell(ground, 15, 15, radius_m=RADIUS, turn_cost=0.0)
    tails, heads, weights = [], [], []
    for r in range(side):
        for c in range(side):
            for g in range(16):
                cells = moves_from(r, c, g, 1)
                value = leg_cost(ground, cells, g)
                if math.isfinite(value):
                    tails.append(r * side + c)
                    heads.append(cells[1][0] * side + cells[1][1])
                    weights.append(value)
    graph = coo_matrix((weights, (tails, heads)), shape=(side**2, side**2)).tocsr()
    bound = dijkstra(graph, indices=15 * side + 15)
    cells_cost = found.cost.reshape(-1, 16).min(axis=1)
    assert np.isfinite(cells_cost).mean() > 0.9
    assert (cells_cost >= bound * (1 - 1e-5)).all()
    assert (cells_cost > bound * 1.001).any()


def test_straight_along_an_axis_equals_scikit_image() -> None:
    rng = np.random.default_rng(2)
    row = 1 + 9 * rng.random(60)
    # one open row: both searches can only run along it
    cost = np.tile(row, (5, 1))
    closed = np.full((16, 5, 60), CLOSED, dtype=np.uint8)
    closed[:, 2] = FREE
    found = from_cell(ground_of(cost, closed), 2, 0, radius_m=RADIUS, turn_cost=1.0)
    walled = np.where(np.arange(5)[:, None] == 2, cost, -1.0)  # negative: not passed
    other, _ = MCP_Geometric(walled).find_costs([(2, 0)])
    along_row = found.cost.reshape(5, 60, 16)[2].min(axis=1)
    np.testing.assert_allclose(along_row, CELL * other[2], rtol=1e-5)


@pytest.mark.parametrize("mirrored", ["left-right", "quarter turn"])
def test_mirror_and_quarter_turn_change_nothing(mirrored: str) -> None:
    rng = np.random.default_rng(8)
    side = 31
    cost = 1 + 9 * rng.random((side, side))
    other = cost[:, ::-1] if mirrored == "left-right" else np.rot90(cost)
    first = from_cell(ground_of(cost), 15, 15, radius_m=RADIUS, turn_cost=1.0)
    second = from_cell(ground_of(other), 15, 15, radius_m=RADIUS, turn_cost=1.0)
    a = first.cost.reshape(side, side, 16).min(axis=2)
    b = second.cost.reshape(side, side, 16).min(axis=2)
    back = b[:, ::-1] if mirrored == "left-right" else np.rot90(b, -1)
    np.testing.assert_allclose(back, a, rtol=1e-5)


def test_elongation_at_every_azimuth() -> None:
    side = 241
    middle = side // 2
    ground = ground_of(np.ones((side, side)))
    # no radius and no price: only the sixteen directions lengthen a way
    found = from_cell(ground, middle, middle, radius_m=0.0, turn_cost=0.0)
    length = found.cost.reshape(side, side, 16).min(axis=2)
    r, c = np.indices((side, side))
    far = CELL * np.hypot(r - middle, c - middle)
    ring = (far > 200) & (far < 230)
    over = 100 * (length[ring] / far[ring] - 1)
    # a notch at a time costs a little beyond the bound of moves free to turn: at most a move
    assert over.min() > -1e-3
    assert ELONGATION_PCT - 0.3 < over.max() < ELONGATION_PCT + 0.5
    azimuth = np.arctan2(middle - r[ring], c[ring] - middle)
    gap = np.abs((azimuth[:, None] - HEADING_RAD + np.pi) % (2 * np.pi) - np.pi).min(axis=1)
    assert over[gap < 1e-9].max() < 1e-3


@pytest.mark.parametrize("cell_m", [2.0, 2.5])
def test_smoothed_lines_keep_the_radius(cell_m: float) -> None:
    rng = np.random.default_rng(3)
    side = 60
    cost = np.kron(1 + 30 * (rng.random((12, 12)) > 0.5), np.ones((5, 5))).astype(np.float32)
    table = np.ascontiguousarray(np.broadcast_to(cost, (16, side, side)))
    ground = Ground(0.0, side * cell_m, cell_m, np.zeros(table.shape, np.uint8), table, 3.0)
    found = from_cell(ground, 30, 30, radius_m=RADIUS, turn_cost=0.1)
    reached = np.flatnonzero(np.isfinite(found.cost))
    tightest, bent = math.inf, 0
    for state in rng.choice(reached, 60, replace=False):
        chain, _ = trace(found, int(state))
        _, row, col = parts(ground, np.array(chain))
        points = np.column_stack(ground.centre(row, col))
        if len(points) < 3:
            continue
        line = fair_curve(points, RADIUS)
        radius = bend_radius_m(line, np.arange(0.0, float(along(line)[-1]), 1.0))
        tightest = min(tightest, float(radius.min()))
        bent += int(radius.min() < 3 * RADIUS)
    assert bent > 20
    assert tightest >= RADIUS * 0.99


def pitches_kept(steps: list[tuple[bool, float]], most_m: float) -> bool:
    """Judge a way, move by move: metres in a row, and metres between two rows."""
    run, rest, before = 0.0, math.inf, False
    for short, length in steps:
        if short:
            if not before and rest < most_m - 1e-6:
                return False
            run = run + length if before else length
            rest = 0.0
            if run > most_m + 1e-6:
                return False
        else:
            rest += length
        before = short
    return True


def every_way(ground: Ground, start: int, most_m: float, turn_cost: float) -> Floats:
    """Try every way there is and keep the cheapest legal one to each state."""
    rows, cols = ground.shape
    legs = repeats(CELL, 0.0)
    best = np.full(rows * cols * 16, math.inf)

    def go(state: int, cost: float, steps: list[tuple[bool, float]], seen: set[int]) -> None:
        best[state] = min(best[state], cost)
        h, cell = state % 16, state // 16
        for turn in (-1, 0, 1):
            g = (h + turn) % 16
            cells = moves_from(cell // cols, cell % cols, g, int(legs[g]) if turn else 1)
            step = leg_cost(ground, cells, g)
            if not math.isfinite(step):
                continue
            new = [
                (
                    any(ground.closed[g, r, c] == SHORT_ONLY for r, c in sampled(a, b)),
                    CELL * math.hypot(b[0] - a[0], b[1] - a[1]),
                )
                for a, b in itertools.pairwise(cells)
            ]
            end = cells[-1][0] * cols + cells[-1][1]
            if end not in seen and pitches_kept(steps + new, most_m):
                go(
                    end * 16 + g,
                    cost + step + (turn_cost if turn else 0.0),
                    steps + new,
                    seen | {end},
                )

    go(start, 0.0, [], {start // 16})
    return best


@pytest.mark.parametrize("seed", range(6))
def test_short_pitches_by_trying_every_way(seed: int) -> None:
    rng = np.random.default_rng(seed)
    side = 7
    cost = 1 + 9 * rng.random((16, side, side))
    closed = np.where(rng.random((side, side)) < 0.35, SHORT_ONLY, FREE).astype(np.uint8)
    closed[3, 0] = FREE
    closed = np.ascontiguousarray(np.broadcast_to(closed, (16, side, side)))
    ground = ground_of(cost, closed)
    start, most = int(number(ground, *np.array([[0], [3], [0]]))[0]), 6.3
    zero = np.zeros(1)
    found = search(
        ground, np.array([start]), zero, zero, zero,
        radius_m=0.0, longest_m=math.inf, turn_cost=0.5, short_pitch_m=most,
    )  # fmt: skip
    wanted = every_way(ground, start, most, 0.5)
    without = search(
        ground, np.array([start]), zero, zero, zero,
        radius_m=0.0, longest_m=math.inf, turn_cost=0.5,
    )  # fmt: skip
    np.testing.assert_allclose(found.cost, wanted, rtol=1e-5)
    assert np.isfinite(found.cost).sum() > np.isfinite(without.cost).sum()


def test_traced_pitches_are_legal_and_do_not_circle() -> None:
    rng = np.random.default_rng(4)
    side = 50
    cost = 1 + 9 * np.kron(rng.random((10, 10)), np.ones((5, 5)))
    flag = np.kron(rng.random((10, 10)) < 0.4, np.ones((5, 5), dtype=bool))
    flag[25, 25] = False
    closed = np.where(flag, SHORT_ONLY, FREE).astype(np.uint8)
    ground = ground_of(cost, np.ascontiguousarray(np.broadcast_to(closed, (16, side, side))))
    most = 14.0
    found = from_cell(ground, 25, 25, radius_m=RADIUS, turn_cost=1.0, pitch_m=most)
    assert found.pitches is not None
    pitched = 0
    for state in rng.choice(np.flatnonzero(np.isfinite(found.cost)), 150, replace=False):
        chain, _ = trace(found, int(state))
        heading, row, col = parts(ground, np.array(chain))
        steps: list[tuple[bool, float]] = []
        for k in range(1, len(chain)):
            g = int(heading[k])
            dx, dy = MOVES[g]
            count = max(abs(int(row[k] - row[k - 1])), abs(int(col[k] - col[k - 1])))
            count //= max(abs(dx), abs(dy))
            cells = moves_from(int(row[k - 1]), int(col[k - 1]), g, count)
            assert cells[-1] == (row[k], col[k])
            for a, b in itertools.pairwise(cells):
                short = any(ground.closed[g, r, c] == SHORT_ONLY for r, c in sampled(a, b))
                steps.append((short, CELL * math.hypot(b[0] - a[0], b[1] - a[1])))
        assert pitches_kept(steps, most)
        pitched += any(short for short, _ in steps)
        if len(chain) > 1:
            assert LineString(np.column_stack(ground.centre(row, col))).is_simple
    assert pitched > 20


def test_a_pitch_that_fits_is_taken_and_one_that_does_not_is_not() -> None:
    closed = np.full((16, 5, 40), CLOSED, dtype=np.uint8)
    closed[:, 2] = FREE
    closed[:, 2, 10:14] = SHORT_ONLY  # five moves touch it: 10 m
    ground = ground_of(np.ones((5, 40)), closed)
    for most, passes in ((9.9, False), (10.1, True)):
        found = from_cell(ground, 2, 0, radius_m=RADIUS, turn_cost=1.0, pitch_m=most)
        assert np.isfinite(found.cost.reshape(5, 40, 16)[2, 30].min()) == passes
    closed[:, 2, 18] = SHORT_ONLY  # after 8 m: 10 m are needed
    found = from_cell(ground_of(np.ones((5, 40)), closed), 2, 0, radius_m=RADIUS, turn_cost=1.0,
                      pitch_m=10.1)  # fmt: skip
    assert np.isinf(found.cost.reshape(5, 40, 16)[2, 30].min())


def test_no_pitch_no_flagged_ground() -> None:
    closed = np.full((16, 20, 20), FREE, dtype=np.uint8)
    closed[:, :, 10] = SHORT_ONLY
    closed[:, :, 11] = SHORT_ONLY
    found = from_cell(ground_of(np.ones((20, 20)), closed), 10, 3, radius_m=RADIUS, turn_cost=1.0)
    reach = np.isfinite(found.cost.reshape(20, 20, 16)).any(axis=(0, 2))
    assert reach[:10].all() and not reach[10:].any()


@pytest.mark.slow
def test_on_even_ground_it_is_the_knights_move_of_grass(tmp_path: Path) -> None:
    # GRASS r.cost -k takes the same sixteen moves. On even ground the best way uses two
    # neighbouring ones and one notch of turning, so with free turning the costs are equal.
    size, row, col = 61, 30, 30
    ground = ground_of(np.ones((size, size)))
    found = from_cell(ground, row, col, radius_m=1e-3, turn_cost=0.0)
    ours = found.cost.reshape(size, size, 16).min(axis=2) / CELL
    theirs = oracles.grass_cost(np.ones((size, size)), row, col, tmp_path, "-k")
    np.testing.assert_allclose(ours, theirs, rtol=1e-5, atol=1e-5)
    other = tmp_path / "eight"
    other.mkdir()
    # and without -k, eight moves: never shorter, 8.239 / 2.749 % at the worst
    eight = oracles.grass_cost(np.ones((size, size)), row, col, other)
    assert np.all(ours <= eight + 1e-4)
    straight = np.hypot(*(np.indices((size, size)) - row))
    far = straight > 20
    assert 100 * (ours[far] / straight[far] - 1).max() == pytest.approx(2.749, abs=0.05)
    assert 100 * (eight[far] / straight[far] - 1).max() == pytest.approx(8.239, abs=0.05)
