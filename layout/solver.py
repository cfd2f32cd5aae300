"""Exact answers to mixed-integer programs, from a process of their own."""

import pickle
import subprocess
import sys
import threading
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from layout.errors import SolverError

Floats = NDArray[np.float64]

KEPT = 1e-6  # a row or limit is kept by so much; HiGHS' own tolerance
GRACE_S = 30.0  # past its own limit the process is given this long, then ended


@dataclass(frozen=True, slots=True, eq=False)
class Program:
    """Minimise ``cost @ v`` with ``row_low <= A v <= row_high``, ``low <= v <= high``.

    ``A`` is stored by rows: ``starts`` (r + 1), ``columns``, ``values``.
    """

    cost: Floats
    low: Floats
    high: Floats
    integral: NDArray[np.bool_]
    row_low: Floats
    row_high: Floats
    starts: NDArray[np.int32]
    columns: NDArray[np.int32]
    values: Floats
    start: Floats | None = None

    def holds(self, values: Floats | None) -> bool:
        """Tell whether values keep every row and limit."""
        if values is None:
            return False
        rows = csr_array(
            (self.values, self.columns, self.starts), shape=(self.row_low.size, self.cost.size)
        )
        sums = rows @ values
        return bool(
            ((sums >= self.row_low - KEPT) & (sums <= self.row_high + KEPT)).all()
            and ((values >= self.low - KEPT) & (values <= self.high + KEPT)).all()
        )


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """The best values found, their objective and the bound proved.

    ``used`` is what the answers under the program's own costs and under bent ones hold
    more than nothing of, None where no bent costs were given; ``whole`` says whether there
    was time for all of these.
    """

    values: Floats
    objective: float
    bound: float
    nodes: int
    stopped_by: str  # gap | time
    used: NDArray[np.bool_] | None = None
    whole: bool = True

    @property
    def gap_pct(self) -> float:
        """Proved gap, percent of the objective."""
        if abs(self.objective) < 1e-9:
            return 0.0
        return 100.0 * max(self.objective - self.bound, 0.0) / abs(self.objective)


class Solver:
    """One solver process, kept warm between problems.

    Use it as a context: the process ends with the block.
    """

    room = "layout.solver_child"  # what the process runs

    def __init__(self) -> None:
        self._child: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        """Start nothing yet; the first problem does."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the process."""
        self.close()

    def get_ready(self) -> None:
        """Start the process now; what is worked out before its first problem goes on beside."""
        self._started()

    def close(self) -> None:
        """End the process if there is one."""
        if self._child is None:
            return
        if self._child.stdin:
            self._child.stdin.close()
        try:
            self._child.wait(timeout=2.0)
        except subprocess.TimeoutExpired:
            self._child.kill()
            self._child.wait()
        if self._child.stdout:
            self._child.stdout.close()
        self._child = None

    def solve(
        self,
        program: Program,
        *,
        time_limit_s: float,
        gap: float,
        seed: int,
        bent: Floats | None = None,
    ) -> Answer:
        """Solve one program.

        Parameters
        ----------
        program : Program
            What to minimise.
        time_limit_s : float
            Wall seconds after which the best found is taken.
        gap : float
            Relative gap at which the search may stop.
        seed : int
            Random seed of the solver.
        bent : ndarray of float, shape (t, n), optional
            Other costs to solve the same linear program for, one after the other from
            where the last ended; may be none, (0, n). Not for whole numbers.

        Returns
        -------
        Answer

        Raises
        ------
        SolverError
            If the process ends without an answer or finds none.
        """
        problem = {
            "cost": program.cost,
            "low": program.low,
            "high": program.high,
            "integral": program.integral,
            "row_low": program.row_low,
            "row_high": program.row_high,
            "starts": program.starts,
            "columns": program.columns,
            "values": program.values,
            "start": program.start,
            "time_limit_s": time_limit_s,
            "gap": gap,
            "seed": seed,
            "bent": bent,
        }
        reply = self.ask(problem, time_limit_s)
        if not reply["found"]:
            msg = f"the solver found no layout: {reply['status']}"
            raise SolverError(msg)
        stopped = "gap" if reply["status"] == "Optimal" else "time"
        return Answer(
            reply["values"], reply["objective"], reply["bound"], reply["nodes"], stopped,
            reply["used"], reply["whole"],
        )  # fmt: skip

    def ask(self, order: dict[str, Any], time_limit_s: float) -> dict[str, Any]:
        """Send the process one order and wait for its reply.

        Raises
        ------
        SolverError
            If the process ends without a reply.
        """
        child = self._started()
        assert child.stdin is not None
        assert child.stdout is not None
        watch = threading.Timer(time_limit_s + GRACE_S, child.kill)
        watch.start()
        try:
            pickle.dump(order, child.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            child.stdin.flush()
            reply: dict[str, Any] = pickle.load(child.stdout)
        except (EOFError, BrokenPipeError, pickle.UnpicklingError) as error:
            self.close()
            msg = (
                "the solver's process ended without an answer (memory or time); "
                "try a smaller stand or a longer [objective] time_limit"
            )
            raise SolverError(msg) from error
        finally:
            watch.cancel()
        return reply

    def _started(self) -> "subprocess.Popen[bytes]":
        if self._child is None or self._child.poll() is not None:
            code = f"import sys; sys.path[:] = {sys.path!r}; from {self.room} import main; main()"
            self._child = subprocess.Popen(
                [sys.executable, "-c", code],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
            )
        return self._child
