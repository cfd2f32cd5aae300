"""The process that plans for the map: one drawing after the other, told of as it goes.

It is ended and replaced when a newer drawing is to be planned, so nothing in it has to
look out for that.
"""

import contextlib
import os
import pickle
import signal
import sys
import traceback
from pathlib import Path
from typing import Any, BinaryIO

from layout import terrain, water
from layout.area import read_area
from layout.drawing.draft import read_draft
from layout.drawing.draft_area import drafted
from layout.drawing.kept_area import with_drawing
from layout.drawing.network import of_grown, of_plan
from layout.drawing.spoken import said_in, wanted
from layout.errors import LayoutError
from layout.first_round import first_round
from layout.outputs import write_plan
from layout.plan import make_plan
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips

Read = tuple[Area, Terrain, Strips]

BEHIND = 10  # verdicts and the browser come first where there are not cores enough for all


def main() -> None:
    """Answer tasks from standard input until it ends; answers are pickles on standard output."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the map, which ends this
    if hasattr(os, "nice"):
        os.nice(BEHIND)
    source, target = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # whatever prints must not fall among the answers
    folder = Path(pickle.load(source))
    read: Read | None = None
    with contextlib.suppress(LayoutError):  # it is read again, and told, when there is a task
        read = _read(folder)
    try:
        _answer(folder, read, source, target)
    except BrokenPipeError:  # the map has ended, and nobody listens
        os._exit(1)


def _answer(folder: Path, read: Read | None, source: BinaryIO, target: BinaryIO) -> None:
    _tell(target, ("ready", None))
    while True:
        try:
            task: dict[str, Any] = pickle.load(source)
        except EOFError:
            return
        try:
            read = read or _read(folder)
            _planned(task, read, target)
        except BrokenPipeError:
            raise
        except LayoutError as error:
            _tell(target, ("failed", str(error)))
        except Exception:  # told as a failure; the terminal has the whole story
            traceback.print_exc()
            _tell(
                target, ("failed", "something broke in skidway; the terminal it runs in says what")
            )


def _read(folder: Path) -> Read:
    area = read_area(folder, offline=True)
    shape = terrain.build(area.dem)
    return area, shape, water.strips(area, shape)


def _planned(task: dict[str, Any], given: Read, target: BinaryIO) -> None:
    area, shape, strips = given
    if task["out"]:  # the crew's files: the kept drawing, as the command takes it
        drawn = with_drawing(area, task["drawing"])
    else:
        area = said_in(area, wanted(task["units"], area))
        drawn = drafted(area, read_draft(task["draft"]))
        _tell(target, ("step", "a first look"))
        first = first_round(drawn, shape, strips)
        if first is not None:
            _tell(target, ("network", of_grown(drawn, first)))
    plan = make_plan(
        drawn,
        read=(shape, strips),
        progress=lambda line: _tell(target, ("step", line)),
        options=bool(task["out"]),  # the page shows none of them
    )
    _tell(target, ("network", of_plan(plan)))
    if task["out"]:
        written = write_plan(plan, Path(task["out"]))
        stops = sum(finding.level == "stop" for finding in plan.findings)
        names = sorted(path.name for path in written.iterdir())
        _tell(target, ("written", [written.name, names, stops]))
    _tell(target, ("done", None))


def _tell(target: BinaryIO, message: tuple[str, Any]) -> None:
    pickle.dump(message, target, protocol=pickle.HIGHEST_PROTOCOL)
    target.flush()
