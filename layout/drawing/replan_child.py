"""The process that plans for the map: one drawing after the other, told of as it goes.

It is told what to plan from standard input, and what it has to say goes to standard output:
pickles of the job's number, the kind of message, and its value. Where a process can be
copied, each drawing is planned in a copy: it is given up by ending that, and what was read
stays. Elsewhere this one is ended and replaced when a newer drawing is to be planned. So
nothing in the planning has to look out for that.
"""

import contextlib
import os
import pickle
import signal
import sys
import traceback
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

from layout import terrain, water
from layout.area import read_area
from layout.channels import channels_of
from layout.drawing.draft import read_draft
from layout.drawing.draft_area import drafted
from layout.drawing.forked import Forked
from layout.drawing.kept_area import with_drawing
from layout.drawing.network import of_grown, of_plan
from layout.drawing.planner import LOST
from layout.drawing.spoken import said_in, wanted
from layout.errors import LayoutError
from layout.first_round import first_round
from layout.outputs import write_plan
from layout.plan import make_plan
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips

Read = tuple[Area, Terrain, Strips]
Tell = Callable[[str, Any], None]


BEHIND = 10  # verdicts and the browser come first where there are not cores enough for all


def main() -> None:
    """Answer tasks from standard input until it ends; answers are pickles on standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the map, which ends this
    if hasattr(os, "nice"):
        os.nice(BEHIND)
    source, target = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # whatever prints must not fall among the answers
    begin: dict[str, Any] = pickle.load(source)
    folder = Path(begin["named"])
    read: Read | None = None
    with contextlib.suppress(LayoutError):  # it is read again, and told, when there is a task
        read = _read(folder)
    try:
        _tell(target, (0, "ready", None))
        if begin["forks"]:
            _answer_in_copies(folder, read, source, target)
        else:
            _answer_here(folder, read, source, target)
    except BrokenPipeError:  # the map has ended, and nobody listens
        os._exit(1)


def _answer_here(folder: Path, read: Read | None, source: BinaryIO, target: BinaryIO) -> None:
    while (task := _next(source)) is not None:
        _answer(folder, read, task, target)


def _answer_in_copies(folder: Path, read: Read | None, source: BinaryIO, target: BinaryIO) -> None:
    copy: Forked | None = None
    try:
        while (task := _next(source)) is not None:
            if copy is not None:
                copy.end()
                copy = None
            if not task.get("give_up"):
                copy = _copy(folder, read, task, target)
    finally:
        if copy is not None:
            copy.end()


def _copy(folder: Path, read: Read | None, task: dict[str, Any], target: BinaryIO) -> Forked:
    """Plan in a copy of this process, which says first who it is."""
    over = False

    def work(mouth: BinaryIO) -> None:
        _tell(mouth, (task["job"], "copy", os.getpid()))
        _answer(folder, read, task, mouth)

    def hear(said: Any) -> None:
        nonlocal over
        if said is EOFError:
            said = (task["job"], "failed", LOST)
        if not over:
            _tell(target, said)
        over = over or said[1] in ("done", "failed")

    return Forked(work, hear)


def _next(source: BinaryIO) -> dict[str, Any] | None:
    """Wait for what is to be done next; None where nobody is left to ask for it."""
    try:
        task: dict[str, Any] = pickle.load(source)
    except EOFError:
        return None
    return task


def _answer(folder: Path, read: Read | None, task: dict[str, Any], target: BinaryIO) -> None:
    def tell(kind: str, value: Any) -> None:
        _tell(target, (task["job"], kind, value))

    try:
        _planned(task, read or _read(folder), tell)
    except BrokenPipeError:
        raise
    except LayoutError as error:
        tell("failed", str(error))
    except Exception:  # told as a failure; the terminal has the whole story
        traceback.print_exc()
        tell("failed", "something broke in skidway; the terminal it runs in says what")


def _read(folder: Path) -> Read:
    area = read_area(folder, offline=True)
    shape = terrain.build(area.dem)
    strips = water.strips(area, shape)
    channels_of(area, shape)  # kept with the ground: no drawing changes where water runs
    return area, shape, strips


def _planned(task: dict[str, Any], given: Read, tell: Tell) -> None:
    area, shape, strips = given
    if task["out"]:  # the crew's files: the kept drawing, as the command takes it
        drawn = with_drawing(area, task["drawing"])
    else:
        area = said_in(area, wanted(task["units"], area))
        drawn = drafted(area, read_draft(task["draft"]))
        tell("step", "a first look")
        first = first_round(drawn, shape, strips)
        if first is not None:
            tell("network", of_grown(drawn, first))
    plan = make_plan(
        drawn,
        read=(shape, strips),
        progress=lambda line: tell("step", line),
        options=bool(task["out"]),  # the page shows none of them
    )
    tell("network", of_plan(plan))
    if task["out"]:
        written = write_plan(plan, Path(task["out"]))
        stops = sum(finding.level == "stop" for finding in plan.findings)
        names = sorted(path.name for path in written.iterdir())
        tell("written", [written.name, names, stops])
    tell("done", None)


def _tell(target: BinaryIO, message: tuple[int, str, Any]) -> None:
    pickle.dump(message, target, protocol=pickle.HIGHEST_PROTOCOL)
    target.flush()
