"""The program of the exact choice: its columns and rows, and what its answers mean.

For every tree and segment the positions at or beyond the segment together may carry no
more than the segment itself (``subtree`` rows).
"""

import numpy as np

from layout.choice_model import (
    BIG_PRICE,
    Choice,
    Floats,
    Forest,
    Ints,
    objective_of,
    used_segments,
)
from layout.solver import Answer, Program


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


class Model:
    """Columns: segments | places | classes | positions | pairs | trees left standing.

    Parameters
    ----------
    forest : Forest
        The candidates.
    """

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
        """Give the program, to be started from a choice."""
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
        for segment, others in f.needs:
            rows.add([segment, *others], [1.0, *[-1.0] * len(others)], -np.inf, 0.0)
        for segment in {other for _, others in f.needs for other in others}:
            # a spur that nothing is pulled from would be no junction
            used = self._beyond(segment)
            rows.add([segment, *used], [1.0, *[-1.0] * len(used)], -np.inf, 0.0)
        for p, segment in f.conflicts:
            rows.add([self.position0 + p, segment], [1.0, 1.0], -np.inf, 1.0)
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
            # a pull is whole where its position is; said so, the solver's cuts are found in half
            # the time
            integral=np.ones(self.n, dtype=bool),
            row_low=np.array(rows.low),
            row_high=np.array(rows.high),
            starts=np.array(rows.starts, dtype=np.int32),
            columns=np.array(rows.columns, dtype=np.int32),
            values=np.array(rows.values),
            start=self.start(first),
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

    def _beyond(self, segment: int) -> list[int]:
        """Give the columns of all pulls and places at or beyond a segment."""
        f = self.forest
        inside = np.zeros(self.e + 1, dtype=bool)  # the last entry stands for ROOT
        inside[segment] = True
        for e in range(segment + 1, self.e):  # a parent's number is below its child's
            inside[e] = inside[f.parent[e]]
        pulls = np.flatnonzero(inside[f.position_segment[f.pair_position]])
        places = np.flatnonzero(inside[f.place_segment])
        return [*(self.pair0 + pulls).tolist(), *(self.place0 + places).tolist()]

    def start(self, first: Choice) -> Floats:
        """Give the columns' values of a choice."""
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
        """Give what an answer chooses."""
        f, v = self.forest, answer.values
        segments = v[: self.e] > 0.5
        places = v[self.place0 : self.class0] > 0.5
        tree_pair = np.full(self.t, -1, dtype=np.int64)
        open_position = v[self.position0 : self.pair0] > 0.5
        # a set-up that costs less than the gap may be open with nothing leading to it
        built = np.append(segments, True)  # the last entry stands for ROOT
        opened = [any(places[q] for q in members) for members in f.class_places]
        open_position &= (
            built[f.position_segment] & np.append(opened, True).astype(bool)[f.position_class]
        )
        # with the whole numbers fixed each tree takes its cheapest open pull
        allowed = open_position[f.pair_position]
        for k in np.lexsort((-np.arange(self.k), -f.pair_cost)):
            if allowed[k] and f.pair_cost[k] < f.tree_price[f.pair_tree[k]]:
                tree_pair[f.pair_tree[k]] = k
        if f.needs:  # a dearer pull may be what makes a junction of a spur
            taken = np.flatnonzero(v[self.pair0 : self.tree0] > 0.5)
            taken = taken[allowed[taken]]
            tree_pair[f.pair_tree[taken]] = taken
        segments &= used_segments(f, tree_pair, places)
        return Choice(
            segments,
            places,
            tree_pair,
            objective_of(f, segments, places, tree_pair),
            max(answer.bound, 0.0),  # nothing costs less than nothing
            answer.stopped_by,
            {
                "rows": int(program.row_low.size),
                "columns": int(program.cost.size),
                "nonzeros": int(program.values.size),
                "nodes": answer.nodes,
            },
        )
