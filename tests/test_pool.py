"""Work shared out among processes: the same answers, and nobody left behind."""

import multiprocessing
import os
import signal
import subprocess
import sys
import textwrap
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from layout import pool
from layout.errors import InputError, InputFaults, SolverError, WorkerError

Tell = Callable[[str], None]
LARGE = np.arange(300_000, dtype=np.float64)  # over the size that is lent
FAULTS = ("one thing: here", "another: there")


def weighed(task: tuple[int, Any, Any], tell: Tell) -> tuple[int, Any, Any, float, int]:
    """Give back what came, its sum, and who did it."""
    number, large, small = task
    tell(f"task {number}")
    time.sleep(0.05 * (number == 0))  # the first is not the first to be ready
    return number, large, small, float(large.sum() + small.sum()), os.getpid()


def failing(task: str, tell: Tell) -> str:
    """Do what a task says."""
    if task == "late faults":
        time.sleep(0.3)
        raise InputFaults(FAULTS)
    if task == "solver":
        raise SolverError("no answer")
    if task == "slip":
        raise ZeroDivisionError("by nothing")
    if task == "dead":
        os._exit(3)
    if task == "long":
        time.sleep(60.0)
    return task


def run(function: Any, tasks: Sequence[Any], workers: int = 1, tell: Tell | None = None) -> Any:
    """Work in a pool of its own."""
    with pool.Pool(workers) as crew:
        return crew.run(function, tasks, tell=tell)


def spoiling(task: Any, tell: Tell) -> float:
    """Write on what was handed in; no other process and no caller may see it."""
    before = float(task[0])
    task[0] = -1.0
    return before


def test_answers_come_in_the_order_of_the_tasks_from_other_processes() -> None:
    small = np.arange(3.0)
    tasks = [(n, LARGE, small + n) for n in range(5)]
    told: list[str] = []
    here = run(weighed, tasks)
    there = run(weighed, tasks, workers=2, tell=told.append)
    assert [answer[0] for answer in there] == list(range(5))
    assert sorted(told) == [f"task {n}" for n in range(5)]
    assert {answer[4] for answer in here} == {os.getpid()}
    pids = {answer[4] for answer in there}
    assert os.getpid() not in pids
    assert len(pids) <= 2
    for one, other in zip(here, there, strict=True):
        assert one[3] == other[3]
        assert other[1] is LARGE  # what is large was not copied back
        assert other[2] is not one[2]
        np.testing.assert_array_equal(other[2], one[2])
    assert multiprocessing.active_children() == []


@pytest.mark.slow
def test_what_is_lent_stays_as_it_was() -> None:
    lent = LARGE + 5.0
    assert run(spoiling, [lent, lent.copy()], workers=2) == [5.0, 5.0]
    assert lent[0] == 5.0


def test_the_first_fault_by_task_comes_back_as_itself() -> None:
    tasks = ["late faults", "solver", "never begun"]
    with pytest.raises(InputFaults) as caught:
        run(failing, tasks, workers=2)
    assert caught.value.faults == FAULTS
    assert isinstance(caught.value, InputError)
    assert multiprocessing.active_children() == []


def test_a_fault_ends_what_is_still_running() -> None:
    begun = time.monotonic()
    with pytest.raises(ZeroDivisionError) as caught:
        run(failing, ["slip", "long"], workers=2)
    assert time.monotonic() - begun < 30.0
    assert "in failing" in "".join(caught.value.__notes__)  # where it happened is not lost
    assert multiprocessing.active_children() == []


@pytest.mark.slow
def test_a_process_that_dies_is_told() -> None:
    with pytest.raises(WorkerError, match="without an answer"):
        run(failing, ["dead", "fine"], workers=2)
    assert multiprocessing.active_children() == []


def test_here_a_fault_is_the_fault_itself_and_nothing_is_started() -> None:
    for workers, tasks in ((1, ["fine", "solver"]), (4, ["solver"])):
        with pytest.raises(SolverError, match="no answer") as caught:
            run(failing, tasks, workers=workers)
        assert caught.traceback[-1].name == "failing"
    assert run(failing, [], workers=3) == []


def test_tasks_beside_are_done_while_the_block_goes_on() -> None:
    for workers in (1, 2):
        tasks = [(n, LARGE, LARGE[:3]) for n in range(3)]
        with pool.Pool(workers) as crew, crew.beside(weighed, tasks) as answers:
            assert len(multiprocessing.active_children()) == (workers if workers > 1 else 0)
            there = answers()
        total = float(LARGE.sum() + LARGE[:3].sum())
        assert [(n, weight) for n, _, _, weight, _ in there] == [(n, total) for n in range(3)]
        assert all(large is LARGE for _, large, _, _, _ in there)
        assert {pid == os.getpid() for *_, pid in there} == {workers == 1}
        assert len({pid for *_, pid in there}) == workers  # the third waits for one of the two
    assert multiprocessing.active_children() == []


@pytest.mark.slow
def test_a_fault_beside_is_raised_where_the_answer_is_asked_for() -> None:
    for task, kind in (("solver", SolverError), ("dead", WorkerError), ("slip", ZeroDivisionError)):
        with pool.Pool(2) as crew, crew.beside(failing, [task]) as answer, pytest.raises(kind):
            answer()
    assert multiprocessing.active_children() == []


@pytest.mark.slow
def test_a_fault_of_the_block_ends_what_is_done_beside() -> None:
    begun = time.monotonic()
    with pytest.raises(KeyError), pool.Pool(2) as crew, crew.beside(failing, ["long"]):
        raise KeyError
    assert time.monotonic() - begun < 30.0
    assert multiprocessing.active_children() == []


def test_cores_are_those_this_process_may_use() -> None:
    assert 1 <= pool.cores() <= (os.cpu_count() or 1)


SCRIPT = """
import os, signal, subprocess, sys, time
from layout import pool

signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may start us deaf to it

def waits(task, tell):
    child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(90)"])
    tell(f"{os.getpid()} {child.pid}")
    time.sleep(90)

if __name__ == "__main__":
    with pool.Pool(2) as crew:
        crew.run(waits, [1, 2], tell=lambda line: print(line, flush=True))
"""


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="processes are looked up in /proc")
@pytest.mark.parametrize(
    "how", [signal.SIGINT, pytest.param(signal.SIGKILL, marks=pytest.mark.slow)]
)
def test_nobody_is_left_after_an_interrupt_or_a_kill(how: signal.Signals, tmp_path: Path) -> None:
    script = tmp_path / "waits.py"
    script.write_text(textwrap.dedent(SCRIPT), encoding="utf-8")
    with subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as parent:
        assert parent.stdout is not None
        assert parent.stderr is not None
        pids = [int(pid) for _ in range(2) for pid in parent.stdout.readline().split()]
        assert len(pids) == 4
        parent.send_signal(how)
        parent.wait(timeout=20)
        complaint = parent.stderr.read() if how == signal.SIGINT else ""
    assert complaint.count("KeyboardInterrupt") <= 1  # from the one that was asked, no other
    deadline = time.monotonic() + 20
    while any(map(alive, pids)) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert [pid for pid in pids if alive(pid)] == []


def alive(pid: int) -> bool:
    """Tell whether a process runs; one that only waits to be buried does not."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state not in ("Z", "X")
