"""A process that keeps one linear program and takes rows added to it.

As ``solver_child``, but the program and its basis stay between calls, so that a
few rows more cost a few simplex steps and no fresh start.
"""

from typing import Any

import highspy
import numpy as np

from layout import solver_child


class Kept:
    """One program and its last basis."""

    def __init__(self) -> None:
        self._highs: Any = None

    def answer(self, order: dict[str, Any]) -> dict[str, Any]:
        """Do what an order asks: open a program, or change it and solve it."""
        if "cost" in order:
            self._open(order)
            return {}
        highs = self._highs
        if order["drop"].size:
            self._drop(order["drop"])
        if order["limited"].size:
            limited = order["limited"].astype(np.int32)
            highs.changeColsBounds(limited.size, limited, order["low"], order["high"])
        rows = order["starts"].size - 1
        if rows:
            highs.addRows(
                rows,
                order["row_low"],
                order["row_high"],
                order["columns"].size,
                order["starts"][:-1].astype(np.int32),
                order["columns"].astype(np.int32),
                order["values"],
            )
        # HiGHS counts this limit from when it was made
        highs.setOptionValue("time_limit", highs.getRunTime() + float(order["time_limit_s"]))
        highs.run()
        solution = highs.getSolution()
        status = highs.getBasis().row_status
        return {
            "empty": highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible,
            "solved": highs.getModelStatus() == highspy.HighsModelStatus.kOptimal,
            "values": np.asarray(solution.col_value, dtype=float),
            "row_dual": np.asarray(solution.row_dual, dtype=float),
            "loose": np.array([s == highspy.HighsBasisStatus.kBasic for s in status], dtype=bool),
        }

    def _open(self, problem: dict[str, Any]) -> None:
        highs: Any = highspy.Highs()  # type: ignore[no-untyped-call]
        highs.setOptionValue("output_flag", False)
        highs.setOptionValue("threads", 1)
        highs.setOptionValue("solver", "simplex")
        highs.setOptionValue("random_seed", int(problem["seed"]))
        highs.passModel(solver_child.columns_and_rows(problem))
        self._highs = highs

    def _drop(self, rows: Any) -> None:
        """Take rows out; HiGHS forgets the basis over it, so it is handed back."""
        highs = self._highs
        basis = highs.getBasis()
        status = list(basis.row_status)
        gone = set(rows.tolist())
        sound = all(status[r] == highspy.HighsBasisStatus.kBasic for r in gone)
        highs.deleteRows(len(gone), np.array(sorted(gone), dtype=np.int32))
        if sound and basis.valid:
            again = highspy.HighsBasis()
            again.col_status = list(basis.col_status)
            again.row_status = [s for r, s in enumerate(status) if r not in gone]
            again.valid = True
            highs.setBasis(again)


def main() -> None:
    """Answer orders until the other side closes the pipe."""
    solver_child.main(Kept().answer)


if __name__ == "__main__":
    main()
