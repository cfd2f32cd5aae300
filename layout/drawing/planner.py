"""One process that plans, and the job it is given."""

import os
import pickle
import queue
import signal
import subprocess
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Literal

State = Literal["waiting", "running", "done", "failed", "replaced"]
PATIENCE_S = 5.0
LOST = "the planning ended without an answer (memory?); the terminal may say"


@dataclass(slots=True, eq=False)
class Job:
    """One drawing being planned."""

    number: int
    state: State = "waiting"
    step: str = ""
    note: str = ""
    version: int = 0
    network: dict[str, Any] | None = None
    error: str = ""
    written: list[Any] = field(default_factory=list)


@dataclass(slots=True, eq=False)
class Crew:
    """A process that plans."""

    process: "subprocess.Popen[bytes]"
    outbox: "queue.SimpleQueue[Any]" = field(default_factory=queue.SimpleQueue)
    job: Job | None = None
    guarded: bool = False  # it would be woken if this process were killed
    ready: bool = False  # it has read the area
    ended: bool = False
    resting: bool = False
    forks: bool = False  # it plans in a copy of itself, and is not ended for a newer drawing
    copy: int | None = None  # the process group of that, once it has told


def stopped(crew: Crew) -> None:
    """Let a process rest, and all it has started: a solver works on without its planner."""
    crew.resting = True
    if not hasattr(signal, "SIGSTOP") or not crew.guarded:
        return
    if not crew.forks or not crew.ready:
        _signalled(crew, signal.SIGSTOP)
    elif crew.copy is not None:  # that one works; the other has to hear what comes
        _group_signalled(crew.copy, signal.SIGSTOP)


def woken(crew: Crew) -> None:
    """Let a process go on that rests."""
    if crew.resting and not crew.ended and hasattr(signal, "SIGCONT"):
        _signalled(crew, signal.SIGCONT)
        if crew.copy is not None:
            _group_signalled(crew.copy, signal.SIGCONT)
    crew.resting = False


def _signalled(crew: Crew, what: signal.Signals) -> None:
    if crew.process.poll() is not None:
        return
    if hasattr(os, "killpg"):
        _group_signalled(crew.process.pid, what)
    else:
        crew.process.send_signal(what)


def _group_signalled(group: int, what: signal.Signals) -> None:
    with suppress(ProcessLookupError, PermissionError):  # it has ended this moment
        os.killpg(group, what)


def sent(crew: Crew) -> None:
    """Send one process what is put into its outbox.

    A long drawing does not fit into the pipe and waits until the process reads; only this
    thread waits then, and no lock is held that a verdict might want.
    """
    assert crew.process.stdin is not None
    while (what := crew.outbox.get()) is not None:
        try:
            pickle.dump(what, crew.process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            crew.process.stdin.flush()
        except (OSError, ValueError):  # ended, or its pipe is closed
            crew.ended = True  # the listening thread tells the job
            return


def ended(crew: Crew) -> None:
    """End a process and all it has started, whatever they are at."""
    crew.ended = True
    crew.outbox.put(None)
    kill = getattr(signal, "SIGKILL", signal.SIGTERM)
    if crew.copy is not None:
        _group_signalled(crew.copy, kill)
    _signalled(crew, kill)
    try:
        crew.process.wait(PATIENCE_S)
    except subprocess.TimeoutExpired:
        return
    for pipe in (crew.process.stdin, crew.process.stdout):
        if pipe is not None:
            try:
                pipe.close()
            except OSError:
                continue
