"""A linear program that grows: rows come and go, the last basis stays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from layout.errors import SolverError
from layout.solver import Program, Solver

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Relaxed:
    """The least the program as it is can cost.

    ``bound`` is added up from the row duals alone, so that it holds whether or
    not the simplex method had come to its end; it is infinite where nothing keeps
    all limits. ``left`` is what is left of each column's cost under those duals.
    """

    solved: bool
    values: Floats
    bound: float
    left: Floats


class RowSolver(Solver):
    """One linear program in a process of its own.

    Use it as a context: the process ends with the block.
    """

    room = "layout.row_child"

    def open(self, program: Program, *, seed: int) -> None:
        """Hand over the program to begin with."""
        rows = program.row_low.size
        self.cost = program.cost
        self.low, self.high = program.low.copy(), program.high.copy()
        self.row_low, self.row_high = program.row_low, program.row_high
        self.matrix = sparse.csr_array(
            (program.values, program.columns, program.starts), shape=(rows, self.cost.size)
        )
        self.fixed_rows = rows  # these never go
        self.loose_for = np.zeros(rows, dtype=np.int64)  # rounds since a row last mattered
        order = {
            "cost": program.cost,
            "low": program.low,
            "high": program.high,
            "row_low": program.row_low,
            "row_high": program.row_high,
            "starts": program.starts,
            "columns": program.columns,
            "values": program.values,
            "seed": seed,
        }
        self.ask(order, 60.0)

    def run(
        self,
        starts: Ints,
        columns: Ints,
        values: Floats,
        *,
        limited: Ints,
        low: Floats,
        high: Floats,
        loose_rounds: int,
        time_limit_s: float,
    ) -> Relaxed:
        """Add rows ``0 <= row``, take out rows long loose, solve.

        Parameters
        ----------
        starts, columns, values : ndarray
            New rows, compressed by rows.
        limited : ndarray of int, shape (c,)
            Columns that get new limits.
        low, high : ndarray of float, shape (c,)
            These limits.
        loose_rounds : int
            Rows that have not mattered for this many rounds are taken out.
        time_limit_s : float
            Wall seconds.

        Returns
        -------
        Relaxed

        Raises
        ------
        SolverError
            If the process ends without an answer, or without any duals.
        """
        drop = np.flatnonzero(self.loose_for >= loose_rounds)
        drop = drop[drop >= self.fixed_rows]
        stay = np.ones(self.row_low.size, dtype=bool)
        stay[drop] = False
        new = starts.size - 1
        added = sparse.csr_array((values, columns, starts), shape=(new, self.cost.size))
        self.matrix = sparse.csr_array(sparse.vstack([self.matrix[stay], added], format="csr"))
        row_low, row_high = np.zeros(new), np.full(new, np.inf)
        self.row_low = np.concatenate([self.row_low[stay], row_low])
        self.row_high = np.concatenate([self.row_high[stay], row_high])
        self.loose_for = np.concatenate([self.loose_for[stay], np.zeros(new, dtype=np.int64)])
        self.low[limited], self.high[limited] = low, high
        order = {
            "drop": drop,
            "limited": limited,
            "low": low,
            "high": high,
            "row_low": row_low,
            "row_high": row_high,
            "starts": starts,
            "columns": columns,
            "values": values,
            "time_limit_s": time_limit_s,
        }
        reply = self.ask(order, time_limit_s)
        if reply["empty"]:
            self.loose_for[:] = 0
            return Relaxed(True, np.zeros(self.cost.size), np.inf, np.zeros(self.cost.size))
        duals = reply["row_dual"]
        if duals.size != self.row_low.size or reply["values"].size != self.cost.size:
            raise SolverError("the solver gave no duals")
        self.loose_for = np.where(reply["loose"], self.loose_for + 1, 0)
        bound, left = self._bound(duals)
        return Relaxed(reply["solved"], reply["values"], bound, left)

    def _bound(self, duals: Floats) -> tuple[float, Floats]:
        """Add up weak duality; a dual of the wrong sign counts as none."""
        duals = np.where(np.isinf(self.row_low), np.minimum(duals, 0.0), duals)
        duals = np.where(np.isinf(self.row_high), np.maximum(duals, 0.0), duals)
        limit = np.where(duals > 0, self.row_low, self.row_high)
        left = self.cost - self.matrix.T @ duals
        paid = float(np.dot(duals[duals != 0], limit[duals != 0]))
        least = np.where(left > 0, left * self.low, left * self.high)
        return paid + float(least.sum()), left
