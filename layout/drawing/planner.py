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
    ready: bool = False  # it has read the area
    ended: bool = False
    resting: bool = False


def signalled(crew: Crew, what: signal.Signals) -> None:
    """Send a process and all it has started a signal: a solver works on without its planner."""
    if crew.process.poll() is not None:
        return
    if not hasattr(os, "killpg"):
        crew.process.send_signal(what)
        return
    with suppress(ProcessLookupError):  # it has ended this moment
        os.killpg(crew.process.pid, what)


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
    signalled(crew, getattr(signal, "SIGKILL", signal.SIGTERM))
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
