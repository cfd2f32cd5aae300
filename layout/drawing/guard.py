"""What wakes a process that plans and rests when the map it plans for is gone.

A process that is stopped does not see its pipe close: killed in the midst of drawing, the
map would leave it behind for good, with all the memory it holds.
"""

import os
import pickle
import select
import signal
import sys
from contextlib import suppress

STDIN, STDOUT = 0, 1
LOOK_MS = 1000  # whether the process it stands by is still there


def stand_by() -> None:
    """Leave a small process beside this one, the leader of its group, that wakes it then.

    It ends with this one. Where a system cannot stop a process there is none. That it is
    there is told on standard output, as `replan_child` tells what it has to say.
    """
    if not hasattr(signal, "SIGSTOP") or not hasattr(os, "fork") or not hasattr(select, "poll"):
        return
    guarded = os.getpid()
    guard = os.fork()
    if guard != 0:
        with suppress(OSError):  # it does so too; whoever is first, and before it is told of
            os.setpgid(guard, guard)
        with suppress(BrokenPipeError):  # nobody listens any more; whoever reads next sees it
            sys.stdout.buffer.write(pickle.dumps((0, "guarded", None)))
            sys.stdout.buffer.flush()
        return
    try:
        os.setpgid(0, 0)  # what stops the other must not stop this one
        os.dup2(os.open(os.devnull, os.O_WRONLY), STDOUT)  # its end is to be seen at once
        _watch(guarded)
    finally:
        os._exit(0)


def _watch(guarded: int) -> None:
    gone = select.poll()
    gone.register(STDIN, 0)  # reads nothing: asks only whether the other end is closed
    while os.getppid() == guarded:
        if gone.poll(LOOK_MS):
            with suppress(ProcessLookupError, PermissionError):
                os.killpg(guarded, signal.SIGCONT)
            return
