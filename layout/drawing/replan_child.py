"""The process that plans for the map: one drawing after the other, told of as it goes.

Where it is asked for and the system has signals, a task is given up by one: it stops the
task wherever it is and keeps the ground read and the kernels loaded for the next. Else
the process is ended and another one takes over.
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
GIVE_UP: int | None = getattr(signal, "SIGUSR1", None)  # None: this system has no such signal


class GivenUp(BaseException):
    """The task in hand is not wanted any more; no handler of errors is to stop this."""


class Hand:
    """The task in hand, and the way its answers go out.

    Parameters
    ----------
    target : BinaryIO
        Where answers go, as pickles of (task's number, kind, value).
    """

    def __init__(self, target: BinaryIO) -> None:
        self._target = target
        self._number: int | None = None
        self._telling = False
        self._late = False

    def take(self, number: int) -> None:
        """From here on a signal stops what is done."""
        self._late = False
        self._number = number

    @property
    def taken(self) -> bool:
        """Whether there is a task in hand that is still wanted."""
        return self._number is not None

    def lay_down(self) -> None:
        """From here on a signal changes nothing."""
        self._number = None

    def give_up(self, signum: int, frame: object) -> None:
        """Stop the task in hand; an answer that is half told is told to its end first.

        What is raised in here may reach compiled code, which can make another error of it
        or lose it: `taken` and `tell` do not go by what is raised.
        """
        del signum, frame
        if self._number is None:
            return
        if self._telling:
            self._late = True
            return
        self._number = None
        raise GivenUp

    def tell(self, kind: str, value: Any) -> None:
        """Give one answer to the task in hand.

        Raises
        ------
        GivenUp
            If the task was given up meanwhile.
        """
        number = self._number
        if number is None:
            raise GivenUp
        self._telling = True
        self.write((number, kind, value))
        self._telling = False
        if self._late:
            self._number = None
            raise GivenUp

    def write(self, message: tuple[int | None, str, Any]) -> None:
        """Send one message."""
        pickle.dump(message, self._target, protocol=pickle.HIGHEST_PROTOCOL)
        self._target.flush()


def main() -> None:
    """Answer tasks from standard input until it ends; answers are pickles on standard output."""
    source, target = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # whatever prints must not fall among the answers
    hand = Hand(target)
    if GIVE_UP is not None:
        signal.signal(GIVE_UP, hand.give_up)
    folder = Path(pickle.load(source))
    read: Read | None = None
    with contextlib.suppress(LayoutError):  # it is read again, and told, when there is a task
        read = _read(folder)
    hand.write((None, "ready", None))
    while True:
        try:
            task: dict[str, Any] = pickle.load(source)
        except EOFError:
            return
        try:
            hand.take(task["number"])
            hand.tell("begun", None)
            read = _answered(task, folder, read, hand)
            hand.lay_down()
        except GivenUp:
            hand.write((task["number"], "given_up", None))
        except BrokenPipeError:  # the map has ended, and nobody listens
            os._exit(1)


def _answered(task: dict[str, Any], folder: Path, read: Read | None, hand: Hand) -> Read | None:
    """Plan one drawing and tell of it; give the ground that is read by now."""
    try:
        read = read or _read(folder)
        _planned(task, read, hand.tell)
    except BrokenPipeError:
        raise
    except LayoutError as error:
        hand.tell("failed", str(error))
    except Exception as error:  # told as a failure; the terminal has the whole story
        if not hand.taken:
            raise GivenUp from error
        traceback.print_exc()
        hand.tell("failed", "something broke in skidway; the terminal it runs in says what")
    return read


def _read(folder: Path) -> Read:
    area = read_area(folder, offline=True)
    shape = terrain.build(area.dem)
    return area, shape, water.strips(area, shape)


def _planned(task: dict[str, Any], given: Read, tell: Callable[[str, Any], None]) -> None:
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
        tell("written", [written.name, sorted(p.name for p in written.iterdir())])
    tell("done", None)
