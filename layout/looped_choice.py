"""Which of the links that close loops to build: bound, layout, and the gap between them.

Dual ascent gives a first bound and first cuts in milliseconds; a linear program
takes in the cuts it misses until it misses none; its fractional layouts guide the
search for whole ones; links that no better layout can use are struck out
meanwhile. What is left goes to HiGHS as a mixed-integer program, again until its
answer misses no cut.
"""

import heapq
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from layout.greedy import greedy
from layout.looped_ascent import ascend
from layout.looped_model import Looped, LoopedChoice, as_forest, by_group
from layout.looped_rows import Columns, Cuts, first_program
from layout.looped_search import Search, ways_in
from layout.row_solver import Relaxed, RowSolver
from layout.solver import Program, Solver

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.uint8]

LOOSE_ROUNDS = 2  # a cut that has not mattered for so many rounds is taken out
MOST_SETS = 20_000
NUDGE = 0.02  # of links with nothing left to pay the cheaper counts
SOME = 1e-3  # share of a link, built by the linear program, that counts as some
SLOW_RISE = 1.5e-3  # once a round raises the bound by less than this share, few cuts are missed
SUPPORT_S = 60.0  # wall seconds
SUPPORT_GAP = 1e-3
WHOLE = 1e-5  # a share this near 0 or 1 is whole
NO_COLUMNS = np.zeros(0, dtype=np.int64)
NOUGHT = np.zeros(0)
NEAR = 1e-6  # square metres; a layout this little better is no better


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """How a choice came about, for benches and reports.

    Parameters
    ----------
    ascent : float
        Bound by dual ascent alone.
    relaxed : float
        Bound by the linear program.
    whole : bool
        Whether that program missed no cut in the end.
    rounds, cuts, forests, nodes : int
        Rounds and cuts of the linear program, forests tried, nodes branched on.
    struck : int
        Links struck out.
    ascent_s, relaxed_s, seconds : float
        Wall seconds till each of the bounds, and in all.
    """

    ascent: float
    relaxed: float
    whole: bool
    rounds: int
    cuts: int
    forests: int
    nodes: int
    struck: int
    ascent_s: float
    relaxed_s: float
    seconds: float


def choose_looped(
    net: Looped,
    solver: Solver,
    rows: RowSolver,
    *,
    time_limit_s: float,
    gap: float,
    seed: int,
    progress: Callable[[str], None] | None = None,
) -> tuple[LoopedChoice, Course]:
    """Choose among candidate links that may close loops.

    Parameters
    ----------
    net : Looped
        The candidates.
    solver : Solver
        A running solver, for choices among a forest's links.
    rows : RowSolver
        Another, for the linear program that grows.
    time_limit_s : float
        Wall seconds; the best found is taken then, with its proved bound.
    gap : float
        Relative gap at which the search may stop.
    seed : int
        Random seed.
    progress : callable, optional
        Told a line a round.

    Returns
    -------
    choice : LoopedChoice
    course : Course

    Raises
    ------
    SolverError
        If the solver's process ends without an answer.
    """
    return _Work(net, solver, rows, time_limit_s, gap, seed, progress).run()


class _Work:
    def __init__(
        self,
        net: Looped,
        solver: Solver,
        rows: RowSolver,
        time_limit_s: float,
        gap: float,
        seed: int,
        progress: Callable[[str], None] | None,
    ) -> None:
        self.net, self.solver, self.rows = net, solver, rows
        self.begun = time.monotonic()
        self.limit, self.gap, self.seed, self.progress = time_limit_s, gap, seed, progress
        self.at, self.cuts = Columns.of(net), Cuts(net)
        self.search = Search(net, solver, seed)
        self.bound = 0.0
        self.open = np.ones(self.at.size, dtype=bool)  # columns not struck out
        self.values = np.zeros(self.at.size)
        self.whole = False
        self.leaf = np.inf  # least bound of the parts that were not split on
        self.rounds = self.cut_count = self.nodes = 0

    def run(self) -> tuple[LoopedChoice, Course]:
        """Go through all steps, as far as time allows."""
        # the limit is for choosing: what a first run compiles must not eat into it
        self.cuts.rows(*self.cuts.missed(np.zeros(self.at.size)))
        greedy(as_forest(self.net, ways_in(self.net, self.net.arc_cost)[0])[0])
        _ascent(self.net)
        self.begun = time.monotonic()
        tree, sets = self._paid_for()
        ascent, ascent_s = self.bound, self._spent()
        if not self._done():
            self._relax(tree, sets)
        relaxed, relaxed_s = self.bound, self._spent()
        if self.whole and not self._done():
            self._branch()
        best = self.search.best
        bound = min(self.bound, best.objective)
        course = Course(
            ascent, relaxed, self.whole, self.rounds, self.cut_count, self.search.forests,
            self.nodes, int((~self.open[: self.at.position0]).sum()),
            ascent_s, relaxed_s, self._spent(),
        )  # fmt: skip
        return replace(best, bound=bound), course

    def _spent(self) -> float:
        return time.monotonic() - self.begun

    def _tell(self, what: str) -> None:
        if self.progress is not None:
            self.progress(
                f"{what}: {self._spent():.1f} s, bound {self.bound:,.1f}, "
                f"best {self.search.best.objective:,.1f}, rows {self.rows.row_low.size}, "
                f"open {int(self.open.sum())}"
            )

    def _done(self) -> bool:
        best = self.search.best.objective
        return self._spent() > self.limit or best - self.bound <= max(self.gap * abs(best), NEAR)

    def _paid_for(self) -> tuple[Ints, Flags]:
        bound, arcs, left, tree, sets = _ascent(self.net)
        self.bound = bound
        self.search.along(arcs + NUDGE * self.net.arc_cost)
        self.search.around(self.net.arc_cost)
        self._strike(bound, left)
        return tree, sets

    def _strike(self, bound: float, left: Floats) -> Ints:
        """Strike out what no layout better than the best can use; give what is new."""
        spare = self.search.best.objective - bound + NEAR
        new = np.flatnonzero(self.open & (self._least(left) > spare))
        self.open[new] = False
        return new

    def _least(self, left: Floats) -> Floats:
        """Give what a layout that uses a column costs more than the bound, at the least.

        It pays what is left of the cost of the column itself and of some way to
        it from node 0.
        """
        net, at = self.net, self.at
        left = np.where(self.open, np.maximum(left, 0.0), np.inf)
        arcs = left[: at.position0]
        _, off = ways_in(net, arcs)
        position = left[at.position0 : at.pair0] + off[net.position_node]
        pulls = left[at.pair0 : at.tree0] + position[net.pair_position]
        return np.concatenate([arcs + off[net.tail], position, pulls, left[at.tree0 :]])

    def _relax(self, tree: Ints, sets: Flags) -> None:
        """Solve the linear program, adding the cuts it misses until it misses none."""
        self.rows.open(first_program(self.net), seed=self.seed)
        fix = np.flatnonzero(~self.open)
        while True:
            none = np.zeros(fix.size)
            found = self._solve_rows(tree, sets, fix, none, none)
            fix = self._learn(found)
            if not found.solved or self._done():
                return
            tree, sets = self.cuts.missed(found.values)
            if not tree.size:
                self.whole = True
                return

    def _solve_rows(
        self, tree: Ints, sets: Flags, limited: Ints, low: Floats, high: Floats
    ) -> Relaxed:
        starts, columns, values = self.cuts.rows(tree, sets)
        self.rounds += 1
        self.cut_count += starts.size - 1
        return self.rows.run(
            starts, columns, values, limited=limited, low=low, high=high,
            loose_rounds=LOOSE_ROUNDS, time_limit_s=max(self.limit - self._spent(), 0.5),
        )  # fmt: skip

    def _learn(self, found: Relaxed) -> Ints:
        rise = found.bound - self.bound
        self.bound = max(self.bound, found.bound)
        if found.solved:
            self.values = found.values
            self.search.guided(found.values[: self.at.position0])
            if rise < SLOW_RISE * self.bound:
                self._supported()
        new = self._strike(found.bound, found.left)
        self._tell(f"round {self.rounds}")
        return new

    def _supported(self) -> None:
        """Choose whole among the links the linear program builds some of: quick, proves nothing."""
        net, at = self.net, self.at
        some = (self.values[: at.position0] > SOME) | self.search.best.arcs
        parked = np.isin(net.position_node, np.append(0, net.head[some]))
        among = np.concatenate(
            [some, parked, parked[net.pair_position], np.ones(at.size - at.tree0, dtype=bool)]
        )
        number = np.flatnonzero(among)
        answer = self.solver.solve(
            self._left_over(number), gap=SUPPORT_GAP, seed=self.seed,
            time_limit_s=min(max(self.limit - self._spent(), 0.5), SUPPORT_S),
        )  # fmt: skip
        share = np.zeros(at.size)
        share[number] = answer.values
        self.search.guided(share[: at.position0])

    def _branch(self) -> None:
        """Halve the question at a link or position built in part, the least bound first."""
        queue: list[tuple[float, int, tuple[tuple[int, float], ...]]] = []
        self._split(queue, self.bound, ())
        set_now: tuple[int, ...] = ()
        while queue and not self._done():
            bound, _, fixed = heapq.heappop(queue)
            self.bound = max(self.bound, min(bound, self.leaf, self.search.best.objective))
            self.nodes += 1
            limited = np.array([*set_now, *[c for c, _ in fixed]], dtype=np.int64)
            low = np.array([*[0.0] * len(set_now), *[v for _, v in fixed]])
            high = np.array([*self.open[list(set_now)].astype(float), *[v for _, v in fixed]])
            # a column let go and set again: the later entry counts
            last = np.unique(limited[::-1], return_index=True)[1]
            last = limited.size - 1 - last
            set_now = tuple(c for c, _ in fixed)
            bound = max(bound, self._node(limited[last], low[last], high[last]))
            if bound < self.search.best.objective - NEAR:
                if self._spent() > self.limit:
                    heapq.heappush(queue, (bound, self.nodes, fixed))
                else:
                    self._split(queue, bound, fixed)
            self._tell(f"node {self.nodes}, {len(queue)} wait, this one {bound:,.1f}")
        waiting = queue[0][0] if queue else np.inf
        self.bound = max(self.bound, min(waiting, self.leaf, self.search.best.objective))

    def _node(self, limited: Ints, low: Floats, high: Floats) -> float:
        """Solve one part of the question, cuts and all; give its bound."""
        tree, sets = np.zeros(0, dtype=np.int64), np.zeros((0, self.net.nodes), dtype=np.uint8)
        bound = 0.0
        while True:
            found = self._solve_rows(tree, sets, limited, low, high)
            bound = max(bound, found.bound)
            if bound >= self.search.best.objective - NEAR or not found.solved:
                return bound
            self.values = found.values
            tree, sets = self.cuts.missed(found.values)
            if not tree.size or self._spent() > self.limit:
                self.search.guided(found.values[: self.at.position0])
                return bound
            limited, low, high = NO_COLUMNS, NOUGHT, NOUGHT

    def _split(
        self,
        queue: list[tuple[float, int, tuple[tuple[int, float], ...]]],
        bound: float,
        fixed: tuple[tuple[int, float], ...],
    ) -> None:
        share = self.values[: self.at.pair0]
        part = np.minimum(share, 1.0 - share) * (1.0 + self.rows.cost[: self.at.pair0])
        part[np.minimum(share, 1.0 - share) < WHOLE] = 0.0
        part[[c for c, _ in fixed]] = 0.0
        column = int(np.argmax(part))
        if part[column] <= 0.0:  # whole to within the solver's tolerance: no deeper to go
            self.leaf = min(self.leaf, bound)
            return
        for value in (1.0, 0.0):
            heapq.heappush(
                queue, (bound, 2 * self.nodes + int(value == 0.0), (*fixed, (column, value)))
            )

    def _left_over(self, columns: Ints) -> Program:
        """Give the program of some of the columns, all others nought."""
        matrix = sparse.csr_array(self.rows.matrix[:, columns])
        said = np.diff(matrix.indptr) > 0
        matrix = matrix[said]
        best = self.search.best
        start = np.zeros(self.at.size)
        start[: self.at.position0] = best.arcs
        served = best.tree_pair[best.tree_pair >= 0]
        start[self.at.position0 + self.net.pair_position[served]] = 1.0
        start[self.at.pair0 + served] = 1.0
        start[self.at.tree0 + np.flatnonzero(best.tree_pair < 0)] = 1.0
        return Program(
            cost=self.rows.cost[columns],
            low=np.zeros(columns.size),
            high=np.ones(columns.size),
            integral=columns < self.at.pair0,
            row_low=self.rows.row_low[said],
            row_high=self.rows.row_high[said],
            starts=matrix.indptr.astype(np.int32),
            columns=matrix.indices.astype(np.int32),
            values=matrix.data,
            start=start[columns] if start[columns].sum() == start.sum() else None,
        )


def _ascent(net: Looped) -> tuple[float, Floats, Floats, Ints, Flags]:
    """Give the bound, what is left of links and of all columns, and the sets paid for."""
    bound, arcs, positions, pairs, prices, tree, sets = ascend(
        net.tail, net.arc_cost, *net.arriving, net.position_node, net.position_cost,
        *by_group(net.pair_tree, net.tree_price.size), net.pair_position, net.pair_cost,
        net.price, MOST_SETS,
    )  # fmt: skip
    return bound, arcs, np.concatenate([arcs, positions, pairs, prices]), tree, sets
