"""The process that plans for the map: one drawing after the other, told of as it goes.

It is ended and replaced when a newer drawing is to be planned, so nothing in it has to
look out for that.
"""

import pickle
import sys
import traceback
from pathlib import Path
from typing import Any, BinaryIO

from layout import terrain, water
from layout.area import read_area
from layout.drawing.draft import read_draft
from layout.drawing.draft_area import drafted
from layout.drawing.network import of_grown, of_plan
from layout.errors import LayoutError
from layout.first_round import first_round
from layout.outputs import write_plan
from layout.plan import make_plan
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips


def main() -> None:
    """Answer tasks from standard input until it ends; answers are pickles on standard output."""
    source, target = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # whatever prints must not fall among the answers
    folder = Path(pickle.load(source))
    area = read_area(folder, offline=True)
    shape = terrain.build(area.dem)
    read = shape, water.strips(area, shape)
    _tell(target, ("ready", None))
    while True:
        try:
            task: dict[str, Any] = pickle.load(source)
        except EOFError:
            return
        _planned(task, area, read, target)


def _planned(
    task: dict[str, Any], area: Area, read: tuple[Terrain, Strips], target: BinaryIO
) -> None:
    try:
        drawn = drafted(area, read_draft(task["draft"]))
        _tell(target, ("step", "a first look"))
        if not task["out"]:
            first = first_round(drawn, *read)
            if first is not None:
                _tell(target, ("network", of_grown(drawn, first)))
        plan = make_plan(drawn, read=read, progress=lambda line: _tell(target, ("step", line)))
        _tell(target, ("network", of_plan(plan)))
        if task["out"]:
            written = write_plan(plan, Path(task["out"]))
            _tell(target, ("written", [written.name, sorted(p.name for p in written.iterdir())]))
        _tell(target, ("done", None))
    except LayoutError as error:
        _tell(target, ("failed", str(error)))
    except Exception:  # told as a failure; the terminal has the whole story
        traceback.print_exc()
        _tell(target, ("failed", "something broke in skidway; the terminal it runs in says what"))


def _tell(target: BinaryIO, message: tuple[str, Any]) -> None:
    pickle.dump(message, target, protocol=pickle.HIGHEST_PROTOCOL)
    target.flush()
