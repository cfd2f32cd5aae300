"""A copy of the process that plans, for one drawing: begun in an instant, ended as fast.

The process it is copied from has read the area and keeps it. A copy writes into a pipe of
its own, for one that is ended may have said half a word; what came whole is handed on.
"""

import os
import pickle
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, BinaryIO

POSSIBLE = sys.platform == "linux"  # elsewhere libraries break in a copy, or there is none
STDIN, STDOUT = 0, 1


class Forked:
    """Work in a copy of this process, which leads a group of its own.

    Nothing else may run in this process when it is made: a copy has no other threads, and
    would wait for ever for what one of them held.

    Parameters
    ----------
    work : callable
        Done in the copy. It is given where to write what it has to say, as pickles.
    hear : callable
        Told here, from a thread, what the copy said; EOFError where it ended without having
        been told to. If it raises BrokenPipeError, nobody is left to plan for and both end.
    """

    def __init__(self, work: Callable[[BinaryIO], None], hear: Callable[[Any], None]) -> None:
        self._hear = hear
        self._meant = False
        ours, theirs = os.pipe()
        self._pid = os.fork()
        if self._pid == 0:
            _in_the_copy(work, ours, theirs)
        os.close(theirs)
        with suppress(OSError):  # the copy does so too; whoever is first
            os.setpgid(self._pid, self._pid)
        self._source = os.fdopen(ours, "rb")
        self._listener = threading.Thread(target=self._listen, daemon=True)
        self._listener.start()

    def end(self) -> None:
        """End it and all it has started; afterwards no thread of it runs here."""
        self._meant = True
        self._kill()
        os.waitpid(self._pid, 0)
        self._listener.join()
        self._source.close()

    def _kill(self) -> None:
        with suppress(ProcessLookupError, PermissionError):  # all of it has ended
            os.killpg(self._pid, signal.SIGKILL)

    def _listen(self) -> None:
        try:
            while (said := self._next()) is not EOFError:
                self._hear(said)
            if not self._meant:
                self._hear(EOFError)
        except BrokenPipeError:
            self._kill()
            os._exit(1)

    def _next(self) -> Any:
        try:
            return pickle.load(self._source)
        except (EOFError, OSError, pickle.UnpicklingError):
            return EOFError


def _in_the_copy(work: Callable[[BinaryIO], None], ours: int, theirs: int) -> None:
    """Work, and end without any of what this process would do at its end."""
    status = 1
    try:
        os.setpgid(0, 0)
        os.close(ours)
        nothing = os.open(os.devnull, os.O_RDWR)
        os.dup2(nothing, STDIN)
        os.dup2(nothing, STDOUT)
        with os.fdopen(theirs, "wb") as target:
            work(target)
        status = 0
    finally:
        os._exit(status)
