"""Which segments, turning places and positions to build: the exact model.

Connected facility location on a forest of candidate segments (the model class
of Gollowitzer & Ljubic 2011). For every tree and segment the positions at or
beyond the segment together may carry no more than the segment itself
(``subtree`` rows). With these rows the linear relaxation was tight on every
forest measured, so the mixed-integer program ends at its root.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from layout.solver import Answer, Program, Solver

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
ROOT = -1  # a parent, or a position's segment, that is there already


@dataclass(frozen=True, slots=True, eq=False)
class Forest:
    """The candidates, as plain arrays.

    Parameters
    ----------
    parent : ndarray of int, shape (e,)
        Segment nearer the landing, or -1. A parent's number is below its child's.
    segment_cost : ndarray of float, shape (e,)
        Weighted square metres.
    position_segment : ndarray of int, shape (p,)
        Segment a position needs built, or -1.
    position_cost : ndarray of float, shape (p,)
        Weighted square metres of one more set-up.
    position_class : ndarray of int, shape (p,)
        Which turning places let the tractor in rear first: index into
        ``class_places``, or -1 where none is needed.
    pair_position, pair_tree : ndarray of int, shape (k,)
        Allowed pulls.
    pair_cost : ndarray of float, shape (k,)
        Weighted square metres of a pull.
    tree_price : ndarray of float, shape (t,)
        What leaving a tree standing costs; infinite where every tree must come.
    place_segment : ndarray of int, shape (q,)
        Segment a turning place needs built, or -1.
    place_cost : ndarray of float, shape (q,)
        Weighted square metres.
    class_places : tuple of tuple of int
        Turning places that open each class of positions.
    exclusions : tuple of pair of int
        Segments that may not both be built.
    """

    parent: Ints
    segment_cost: Floats
    position_segment: Ints
    position_cost: Floats
    position_class: Ints
    pair_position: Ints
    pair_tree: Ints
    pair_cost: Floats
    tree_price: Floats
    place_segment: Ints
    place_cost: Floats
    class_places: tuple[tuple[int, ...], ...] = ()
    exclusions: tuple[tuple[int, int], ...] = ()

    def excluding(self, pairs: list[tuple[int, int]]) -> "Forest":
        """Give the same forest with more segments that may not both be built."""
        return replace(self, exclusions=self.exclusions + tuple(pairs))


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """What was chosen.

    ``tree_pair[t]`` is the pull that takes tree t, or -1.
    """

    segments: NDArray[np.bool_]
    places: NDArray[np.bool_]
    tree_pair: Ints
    objective: float
    bound: float
    stopped_by: str
    size: dict[str, int] = field(default_factory=dict)


def objective_of(
    forest: Forest, segments: NDArray[np.bool_], places: NDArray[np.bool_], tree_pair: Ints
) -> float:
    """Add up what a choice costs, from the forest alone."""
    served = tree_pair >= 0
    total = float(forest.segment_cost[segments].sum() + forest.place_cost[places].sum())
    total += float(forest.tree_price[~served].sum()) if (~served).any() else 0.0
    if served.any():
        pairs = tree_pair[served]
        total += float(forest.pair_cost[pairs].sum())
        total += float(forest.position_cost[np.unique(forest.pair_position[pairs])].sum())
    return total


def choose(forest: Forest, solver: Solver, *, time_limit_s: float, gap: float, seed: int) -> Choice:
    """Choose exactly among the candidates.

    Parameters
    ----------
    forest : Forest
        The candidates.
    solver : Solver
        A running solver.
    time_limit_s : float
        Wall seconds; the best found is taken then, with its proved bound.
    gap : float
        Relative gap at which the search may stop.
    seed : int
        Random seed.

    Returns
    -------
    Choice
    """
    first = greedy(forest)
    model = _Model(forest)
    program = model.program(first)
    if program.cost.size == 0:
        return first
    answer = solver.solve(program, time_limit_s=time_limit_s, gap=gap, seed=seed)
    return model.read(answer, program)


def greedy(forest: Forest) -> Choice:
    """Choose quickly: the position that saves most, again and again.

    It is the solver's first solution, so that a time limit always leaves one.
    """
    e, t = forest.parent.size, forest.tree_price.size
    built = np.zeros(e, dtype=bool)
    opened = np.zeros(forest.position_segment.size, dtype=bool)
    places = np.zeros(forest.place_segment.size, dtype=bool)
    now = np.where(np.isfinite(forest.tree_price), forest.tree_price, BIG_PRICE)
    pair = np.full(t, -1, dtype=np.int64)
    rivals: dict[int, set[int]] = {}
    for a, b in forest.exclusions:
        rivals.setdefault(a, set()).add(b)
        rivals.setdefault(b, set()).add(a)
    while forest.pair_cost.size:
        gain = np.maximum(now[forest.pair_tree] - forest.pair_cost, 0.0)
        saved = np.bincount(
            forest.pair_position, weights=gain, minlength=forest.position_segment.size
        )
        best, best_net = -1, 1e-9
        for p in np.argsort(-saved, kind="stable")[:GREEDY_LOOK]:
            if saved[p] <= best_net:
                break
            net = saved[p] - _price_of(forest, int(p), built, opened, places, rivals)
            if net > best_net:
                best, best_net = int(p), net
        if best < 0:
            break
        _build(forest, best, built, opened, places)
        for k in np.flatnonzero((forest.pair_position == best) & (gain > 0)):
            now[forest.pair_tree[k]] = forest.pair_cost[k]
            pair[forest.pair_tree[k]] = k
    # what ended up unused is not built
    used = np.zeros(e, dtype=bool)
    for k in pair[pair >= 0]:
        _mark(forest.parent, int(forest.position_segment[forest.pair_position[k]]), used)
    for q in np.flatnonzero(places):
        _mark(forest.parent, int(forest.place_segment[q]), used)
    value = objective_of(forest, used, places, pair)
    return Choice(used, places, pair, value, 0.0, "greedy")


BIG_PRICE = 1e5  # square metres; stands in for "every tree that can be" in the program
GREEDY_LOOK = 60


def _walk(parent: Ints, segment: int) -> list[int]:
    out = []
    while segment >= 0:
        out.append(segment)
        segment = int(parent[segment])
    return out


def _mark(parent: Ints, segment: int, used: NDArray[np.bool_]) -> None:
    while segment >= 0 and not used[segment]:
        used[segment] = True
        segment = int(parent[segment])


def _cheapest_place(
    forest: Forest, p: int, built: NDArray[np.bool_], places: NDArray[np.bool_]
) -> tuple[float, int]:
    """Give the cost of letting the tractor in at a position, and by which place."""
    klass = int(forest.position_class[p])
    if klass < 0 or any(places[q] for q in forest.class_places[klass]):
        return 0.0, -1
    on_the_way = set(_walk(forest.parent, int(forest.position_segment[p])))
    best = (np.inf, -1)
    for q in forest.class_places[klass]:
        more = sum(
            forest.segment_cost[s]
            for s in _walk(forest.parent, int(forest.place_segment[q]))
            if not built[s] and s not in on_the_way
        )
        best = min(best, (float(forest.place_cost[q] + more), q))
    return best


def _new_segments(forest: Forest, p: int, place: int, built: NDArray[np.bool_]) -> list[int]:
    way = _walk(forest.parent, int(forest.position_segment[p]))
    if place >= 0:
        way += _walk(forest.parent, int(forest.place_segment[place]))
    return sorted({s for s in way if not built[s]})


def _price_of(
    forest: Forest,
    p: int,
    built: NDArray[np.bool_],
    opened: NDArray[np.bool_],
    places: NDArray[np.bool_],
    rivals: dict[int, set[int]],
) -> float:
    extra, place = _cheapest_place(forest, p, built, places)
    if not np.isfinite(extra):
        return float(np.inf)
    new = _new_segments(forest, p, place, built)
    for s in new:
        if any(built[r] or r in new for r in rivals.get(s, ())):
            return float(np.inf)
    cost = 0.0 if opened[p] else float(forest.position_cost[p])
    cost += float(forest.segment_cost[new].sum()) if new else 0.0
    return cost + (float(forest.place_cost[place]) if place >= 0 else 0.0)


def _build(
    forest: Forest,
    p: int,
    built: NDArray[np.bool_],
    opened: NDArray[np.bool_],
    places: NDArray[np.bool_],
) -> None:
    place = _cheapest_place(forest, p, built, places)[1]
    opened[p] = True
    built[_new_segments(forest, p, place, built)] = True
    if place >= 0:
        places[place] = True


class _Rows:
    """Rows of a sparse matrix, gathered one by one."""

    def __init__(self) -> None:
        self.starts, self.columns, self.values = [0], list[int](), list[float]()
        self.low, self.high = list[float](), list[float]()

    def add(self, columns: list[int], values: list[float], low: float, high: float) -> None:
        self.columns += columns
        self.values += values
        self.starts.append(len(self.columns))
        self.low.append(low)
        self.high.append(high)


class _Model:
    """Columns: segments | places | classes | positions | pairs | trees left standing."""

    def __init__(self, forest: Forest) -> None:
        self.forest = forest
        self.e = forest.parent.size
        self.q = forest.place_segment.size
        self.c = len(forest.class_places)
        self.p = forest.position_segment.size
        self.k = forest.pair_position.size
        self.t = forest.tree_price.size
        self.place0 = self.e
        self.class0 = self.place0 + self.q
        self.position0 = self.class0 + self.c
        self.pair0 = self.position0 + self.p
        self.tree0 = self.pair0 + self.k
        self.n = self.tree0 + self.t

    def program(self, first: Choice) -> Program:
        f, rows = self.forest, _Rows()
        for s in np.flatnonzero(f.parent >= 0):
            rows.add([int(s), int(f.parent[s])], [1.0, -1.0], -np.inf, 0.0)
        for q in np.flatnonzero(f.place_segment >= 0):
            rows.add([self.place0 + int(q), int(f.place_segment[q])], [1.0, -1.0], -np.inf, 0.0)
        for c, members in enumerate(f.class_places):
            rows.add(
                [self.class0 + c, *[self.place0 + q for q in members]],
                [1.0, *[-1.0] * len(members)],
                -np.inf,
                0.0,
            )
        for a, b in f.exclusions:
            if a == b:  # crosses a trail that is there whatever is chosen
                rows.add([a], [1.0], -np.inf, 0.0)
            else:
                rows.add([a, b], [1.0, 1.0], -np.inf, 1.0)
        order = np.argsort(f.pair_tree, kind="stable")
        ends = np.searchsorted(f.pair_tree[order], np.arange(self.t + 1))
        for t in range(self.t):
            self._tree_rows(rows, t, order[ends[t] : ends[t + 1]])
        cost = np.concatenate(
            [
                f.segment_cost,
                f.place_cost,
                np.zeros(self.c),
                f.position_cost,
                f.pair_cost,
                np.where(np.isfinite(f.tree_price), f.tree_price, BIG_PRICE),
            ]
        )
        return Program(
            cost=cost,
            low=np.zeros(self.n),
            high=np.ones(self.n),
            integral=np.concatenate(
                [np.ones(self.pair0, dtype=bool), np.zeros(self.n - self.pair0, dtype=bool)]
            ),
            row_low=np.array(rows.low),
            row_high=np.array(rows.high),
            starts=np.array(rows.starts, dtype=np.int32),
            columns=np.array(rows.columns, dtype=np.int32),
            values=np.array(rows.values),
            start=self._start(first),
        )

    def _tree_rows(self, rows: _Rows, t: int, pairs: Ints) -> None:
        f = self.forest
        columns = [self.pair0 + int(k) for k in pairs]
        rows.add([*columns, self.tree0 + t], [1.0] * (len(columns) + 1), 1.0, 1.0)
        below: dict[int, list[int]] = {}
        children: dict[int, set[int]] = {}
        direct: set[int] = set()
        by_class: dict[int, list[int]] = {}
        for k in pairs:
            p, x = int(f.pair_position[k]), self.pair0 + int(k)
            rows.add([x, self.position0 + p], [1.0, -1.0], -np.inf, 0.0)
            if f.position_class[p] >= 0:
                by_class.setdefault(int(f.position_class[p]), []).append(x)
            segment, child = int(f.position_segment[p]), -1
            if segment >= 0:
                direct.add(segment)
            while segment >= 0:
                below.setdefault(segment, []).append(x)
                if child >= 0:
                    children.setdefault(segment, set()).add(child)
                child, segment = segment, int(f.parent[segment])
        for segment, members in below.items():
            # elsewhere the same positions lie beyond the child, whose row says more
            if segment in direct or len(children.get(segment, ())) > 1:
                rows.add([*members, segment], [*[1.0] * len(members), -1.0], -np.inf, 0.0)
        for klass, members in by_class.items():
            rows.add([*members, self.class0 + klass], [*[1.0] * len(members), -1.0], -np.inf, 0.0)

    def _start(self, first: Choice) -> Floats:
        f, v = self.forest, np.zeros(self.n)
        v[: self.e] = first.segments
        v[self.place0 : self.class0] = first.places
        for c, members in enumerate(f.class_places):
            v[self.class0 + c] = float(any(first.places[q] for q in members))
        served = first.tree_pair[first.tree_pair >= 0]
        v[self.position0 + f.pair_position[served]] = 1.0
        v[self.pair0 + served] = 1.0
        v[self.tree0 + np.flatnonzero(first.tree_pair < 0)] = 1.0
        return v

    def read(self, answer: Answer, program: Program) -> Choice:
        f, v = self.forest, answer.values
        segments = v[: self.e] > 0.5
        places = v[self.place0 : self.class0] > 0.5
        tree_pair = np.full(self.t, -1, dtype=np.int64)
        open_position = v[self.position0 : self.pair0] > 0.5
        # with the whole numbers fixed each tree takes its cheapest open pull
        allowed = open_position[f.pair_position]
        for k in np.lexsort((-np.arange(self.k), -f.pair_cost)):
            if allowed[k] and f.pair_cost[k] < f.tree_price[f.pair_tree[k]]:
                tree_pair[f.pair_tree[k]] = k
        used = np.zeros(self.e, dtype=bool)
        for k in tree_pair[tree_pair >= 0]:
            _mark(f.parent, int(f.position_segment[f.pair_position[k]]), used)
        for q in np.flatnonzero(places):
            _mark(f.parent, int(f.place_segment[q]), used)
        segments &= used
        return Choice(
            segments,
            places,
            tree_pair,
            objective_of(f, segments, places, tree_pair),
            answer.bound,
            answer.stopped_by,
            {
                "rows": int(program.row_low.size),
                "columns": int(program.cost.size),
                "nonzeros": int(program.values.size),
                "nodes": answer.nodes,
            },
        )
