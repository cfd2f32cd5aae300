"""Whether a process is still there: what a lock file's number means."""

import ctypes
import os
import sys

_QUERY = 0x1000  # the least right that lets us ask about a process
_STILL_ACTIVE = 259


def is_running(pid: int) -> bool:
    """Tell whether a process with this number is running on this machine.

    Parameters
    ----------
    pid : int
        Process number, above 0.

    Returns
    -------
    bool
        True also for a process of another user, which we may not signal.
    """
    if sys.platform == "win32":  # signal 0 there is a Ctrl-C, not a question
        kernel = ctypes.windll.kernel32
        handle = kernel.OpenProcess(_QUERY, False, pid)
        if not handle:
            return False
        code = ctypes.c_ulong()
        kernel.GetExitCodeProcess(handle, ctypes.byref(code))
        kernel.CloseHandle(handle)
        return code.value == _STILL_ACTIVE
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True
