"""The solver's own process: HiGHS, fed and read through pipes.

HiGHS prints on standard output when it is made, whatever its options say, so
it never runs in the user's process; the process is also how memory, time and
cancelling are enforced.
"""

import os
import pickle
import sys
from collections.abc import Callable
from typing import Any, BinaryIO

import highspy
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Answerer = Callable[[dict[str, Any]], dict[str, Any]]

USED = 1e-7  # a column an answer holds above this is used
BENT_SHARE = 0.5  # of the time: what is then chosen among the columns used needs the rest
HONEST = 1e-6  # share by which a reported objective may differ from the values' own


def solve(problem: dict[str, Any]) -> dict[str, Any]:
    """Solve one mixed-integer program handed over as plain arrays.

    HiGHS 1.16 with presolve and a first solution reports, on some small
    programs, an objective and a bound that do not belong to the values it
    returns. So the objective is added up again from the values; where the two
    disagree the program is solved once more without the first solution.
    """
    reply = _run(problem)
    if reply["found"] and problem["start"] is not None:
        own = float(np.dot(problem["cost"], reply["values"]))
        if abs(own - reply["objective"]) > HONEST * (1.0 + abs(own)):
            return _run({**problem, "start": None})
    return reply


def _run(problem: dict[str, Any]) -> dict[str, Any]:
    highs: Any = highspy.Highs()  # type: ignore[no-untyped-call]
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)  # several threads end at different optima
    # Measured on forests of 3,000 to 4,000 columns: presolve costs more than it saves.
    highs.setOptionValue("presolve", "off")
    highs.setOptionValue("mip_detect_symmetry", False)
    highs.setOptionValue("random_seed", int(problem["seed"]))
    highs.setOptionValue("mip_rel_gap", float(problem["gap"]))
    highs.setOptionValue("time_limit", float(problem["time_limit_s"]))
    lp = columns_and_rows(problem)
    integral = np.asarray(problem["integral"], dtype=bool)
    lp.integrality_ = [
        highspy.HighsVarType.kInteger if whole else highspy.HighsVarType.kContinuous
        for whole in integral
    ]
    highs.passModel(lp)
    if problem["start"] is not None:
        first = highspy.HighsSolution()
        first.col_value = list(problem["start"])
        highs.setSolution(first)
    highs.run()
    status = highs.getModelStatus()
    info = highs.getInfo()
    mip = bool(integral.any())
    values = np.asarray(highs.getSolution().col_value, dtype=float)
    used, whole = None, True
    if problem["bent"] is not None:
        used, whole = _used(highs, values, problem["bent"], float(problem["time_limit_s"]))
    return {
        "used": used,
        "whole": whole,
        "status": highs.modelStatusToString(status),
        "values": values,
        "objective": float(info.objective_function_value),
        "bound": float(info.mip_dual_bound if mip else info.objective_function_value),
        "nodes": int(info.mip_node_count) if mip else 0,
        "found": values.size == lp.num_col_ and np.isfinite(info.objective_function_value),
    }


def _used(highs: Any, values: Floats, bent: Floats, time_limit_s: float) -> tuple[Flags, bool]:
    """Tell which columns the answers under bent costs use, or those given do.

    Also whether all were solved in their share of the time.
    """
    used: Flags = values > USED
    every = np.arange(bent.shape[1], dtype=np.int32)
    highs.setOptionValue("time_limit", BENT_SHARE * time_limit_s)  # of all runs together
    for cost in bent:
        highs.changeColsCost(every.size, every, cost)
        highs.run()
        if highs.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return used, False
        used |= np.asarray(highs.getSolution().col_value, dtype=float) > USED
    return used, True


def columns_and_rows(problem: dict[str, Any]) -> Any:
    """Give HiGHS a program's costs, limits and rows."""
    lp = highspy.HighsLp()
    lp.num_col_ = len(problem["cost"])
    lp.num_row_ = len(problem["row_low"])
    lp.col_cost_ = problem["cost"]
    lp.col_lower_ = problem["low"]
    lp.col_upper_ = problem["high"]
    lp.row_lower_ = problem["row_low"]
    lp.row_upper_ = problem["row_high"]
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = problem["starts"]
    lp.a_matrix_.index_ = problem["columns"]
    lp.a_matrix_.value_ = problem["values"]
    return lp


def serve(channel_in: BinaryIO, channel_out: BinaryIO, answer: Answerer = solve) -> None:
    """Answer problems until the other side closes the pipe."""
    while True:
        try:
            problem = pickle.load(channel_in)
        except EOFError:
            return
        pickle.dump(answer(problem), channel_out, protocol=pickle.HIGHEST_PROTOCOL)
        channel_out.flush()


def main(answer: Answerer = solve) -> None:
    """Keep the pipe for answers only; whatever the solver prints goes nowhere."""
    answers = os.fdopen(os.dup(1), "wb")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    serve(sys.stdin.buffer, answers, answer)


if __name__ == "__main__":
    main()
