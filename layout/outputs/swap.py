"""Put a finished folder in place of the old one, whole or not at all.

A new folder is filled beside the old one, on the same disk, and two renames
swap them: ``out`` becomes ``out.previous``, ``out.new-<pid>`` becomes ``out``.
There is no single step that does both, so a kill in between can leave ``out``
missing; the next start finishes that swap or undoes it. A lock file beside the
folder holds process number and host, so two runs never fill one folder.

``plan.json`` is written last: a folder that holds ours is whole, and is ours.
"""

import errno
import json
import os
import re
import shutil
import socket
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from layout.errors import OutputError
from layout.outputs.processes import is_running

WHOLE_MARK = "plan.json"
MADE_BY = "skidway"
BLANK_LOCK_S = 60.0  # a lock still blank after this was left by a run killed while making it

_held_here: set[Path] = set()


@contextmanager
def replaced(folder: Path) -> Iterator[Path]:
    """Give an empty folder to fill; when the block ends, it takes the old one's place.

    If the block raises, the old folder stays as it was and the new one is
    thrown away.

    Parameters
    ----------
    folder : Path
        The folder to be replaced or made; its parent must exist.

    Yields
    ------
    Path
        The sibling folder to write into. The last file to be written must be
        the one named ``WHOLE_MARK``.

    Raises
    ------
    OutputError
        If another run holds the folder, if it holds files that are not ours,
        if it cannot be written, or if a program keeps one of its files open.
        Nothing has been replaced then.
    """
    target = _resolved(folder)
    with _locked(target):
        new = target.with_name(f"{target.name}.new-{os.getpid()}")
        try:
            _repair(target)
            _refuse_a_stranger(target)
            new.mkdir()
            yield new
            _sync(new)
            _swap(new, target)
        except OutputError:
            _discard(new)
            raise
        except OSError as fault:
            _discard(new)
            raise OutputError(reason(fault, target)) from fault
        except BaseException:
            _discard(new)
            raise


def ready(folder: Path) -> str:
    """Find out before a long run whether its folder could be written, and repair it.

    Parameters
    ----------
    folder : Path
        The folder a plan will be written to.

    Returns
    -------
    str
        One sentence about a swap that was finished or undone; empty when nothing
        was needed.

    Raises
    ------
    OutputError
        As `replaced` would; nothing has been replaced.
    """
    target = _resolved(folder)
    with _locked(target):
        try:
            said = _repair(target)
            _refuse_a_stranger(target)
        except OutputError:
            raise
        except OSError as fault:
            raise OutputError(reason(fault, target)) from fault
    return said


def repair(folder: Path) -> str:
    """Finish or undo a swap that a killed run left half done.

    Parameters
    ----------
    folder : Path
        The folder a plan is written to.

    Returns
    -------
    str
        One sentence about what was done; empty when nothing was needed.

    Raises
    ------
    OutputError
        If leftovers exist and another run holds the folder.
    """
    target = folder.resolve()
    if not target.parent.is_dir() or not (_siblings(target, "new") or _siblings(target, "older")):
        return ""
    with _locked(target):
        return _repair(target)


def _resolved(folder: Path) -> Path:
    """Follow every link, and refuse a folder with nothing to stand in."""
    target = folder.resolve()
    if not target.parent.is_dir():
        msg = f"{target.parent} does not exist; make it, or choose another folder with --out"
        raise OutputError(msg)
    return target


def is_ours(folder: Path) -> bool:
    """Tell whether a folder holds a whole plan written by this program."""
    return _manifest(folder) is not None


def reason(fault: OSError, path: Path) -> str:
    """Say what stood in the way of writing, and what to do.

    Parameters
    ----------
    fault : OSError
        What the system answered.
    path : Path
        What was being written, named when the fault names nothing itself.

    Returns
    -------
    str
        One sentence that names the file or folder.
    """
    named = fault.filename or path
    held = _held_open(path) if fault.errno in (errno.EACCES, errno.EPERM, errno.EBUSY) else None
    if held is not None:
        return f"{held} is held open by another program; close it there and run again; {_NOTHING}"
    if fault.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        what = "the disk or your share of it is full; make room, or choose another disk with --out"
    elif fault.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        what = "you may not write there; choose a folder of your own with --out"
    else:
        what = f"{fault.strerror or fault}; choose another folder with --out"
    return f"cannot write {named}: {what}; {_NOTHING}"


_NOTHING = "nothing was replaced"


def _swap(new: Path, target: Path) -> None:
    """Do the two renames; undo the first when the second fails."""
    previous = target.with_name(f"{target.name}.previous")
    older = target.with_name(f"{target.name}.older-{os.getpid()}")
    if not (new / WHOLE_MARK).is_file():
        msg = f"{new} was not finished ({WHOLE_MARK} is missing); {_NOTHING}"
        raise OutputError(msg)
    undo: list[tuple[Path, Path]] = []
    try:
        if target.is_dir() and not any(target.iterdir()):
            target.rmdir()
        if target.exists():
            if previous.exists():
                os.rename(previous, older)
                undo.append((older, previous))
            os.rename(target, previous)
            undo.append((previous, target))
        os.rename(new, target)
    except OSError:
        for now, before in reversed(undo):
            os.rename(now, before)
        raise
    if older.exists():
        _retire(older, target)


def _repair(target: Path) -> str:
    """Clear up after a killed run; the lock is held by the caller."""
    previous = target.with_name(f"{target.name}.previous")
    said = ""
    leftovers = _siblings(target, "new")
    if leftovers and not target.exists():
        whole = [path for path in leftovers if is_ours(path)]
        if whole:
            os.rename(max(whole, key=lambda path: path.stat().st_mtime_ns), target)
            said = f"finished a swap that was cut short: {target} holds the newer plan"
        elif is_ours(previous):
            os.rename(previous, target)
            said = f"undid a swap that was cut short: {target} holds the earlier plan"
    for path in _siblings(target, "older"):
        if previous.exists():
            _retire(path, target)
        else:
            os.rename(path, previous)
    for path in _siblings(target, "new"):
        _discard(path)
        said = said or f"threw away {path.name}, left by a run that was cut short"
    return said


def _retire(older: Path, target: Path) -> None:
    """Delete an outdated plan, unless the user put files of their own in it."""
    ours = _manifest(older)
    present = {path.name for path in older.iterdir()}
    if ours is not None and present <= ours:
        _discard(older)
        return
    number = 1
    while (kept := target.with_name(f"{target.name}.kept-{number}")).exists():
        number += 1
    os.rename(older, kept)


def _refuse_a_stranger(target: Path) -> None:
    """Leave alone whatever we did not write."""
    if not target.exists():
        return
    if not target.is_dir():
        msg = f"{target} is a file, not a folder; choose another with --out"
        raise OutputError(msg)
    if any(target.iterdir()) and not is_ours(target):
        msg = (
            f"{target} holds files that are not a plan of ours (no {WHOLE_MARK} written by "
            f"{MADE_BY}); it is left as it is; choose an empty or new folder with --out"
        )
        raise OutputError(msg)


def _manifest(folder: Path) -> set[str] | None:
    """Read which files of a folder are ours; None when it is no plan of ours."""
    mark = folder / WHOLE_MARK
    if not mark.is_file():
        return None
    try:
        said = json.loads(mark.read_text(encoding="utf-8"))
    except ValueError:  # cut short, or another program's
        return None
    if not isinstance(said, dict) or said.get("made_by") != MADE_BY:
        return None
    return {WHOLE_MARK, *map(str, said.get("files", []))}


def _siblings(target: Path, kind: str) -> list[Path]:
    """List leftover folders beside the target, in the order of their names."""
    pattern = re.compile(rf"{re.escape(target.name)}\.{kind}-\d+")
    return sorted(
        path for path in target.parent.iterdir() if pattern.fullmatch(path.name) and path.is_dir()
    )


def _discard(folder: Path) -> None:
    """Delete a folder of ours; what will not go now goes at the next start."""
    shutil.rmtree(folder, ignore_errors=True)


def _sync(folder: Path) -> None:
    """Have the disk take every file before the swap counts on them."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            with path.open("rb+") as file:
                os.fsync(file.fileno())


def _held_open(path: Path) -> Path | None:
    """Find a file in a folder that another program will not let us touch."""
    if not path.is_dir():
        return None
    for file in sorted(path.rglob("*")):
        if file.is_file():
            try:
                with file.open("rb+"):
                    pass
            except PermissionError:
                return file
    return None


@contextmanager
def _locked(target: Path) -> Iterator[None]:
    """Hold the folder's lock file for the length of a block."""
    lock = target.with_name(f"{target.name}.lock")
    try:
        while True:
            try:
                handle = os.open(lock, os.O_CREAT | os.O_EXCL | os.O_WRONLY)
                break
            except FileExistsError:
                _drop_if_stale(lock, target)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(f"{os.getpid()}\n{socket.gethostname()}\n")
    except OutputError:
        raise
    except OSError as fault:
        raise OutputError(reason(fault, lock)) from fault
    _held_here.add(lock)
    try:
        yield
    finally:
        _held_here.discard(lock)
        lock.unlink(missing_ok=True)


def _drop_if_stale(lock: Path, target: Path) -> None:
    """Remove the lock of a run that no longer lives; refuse when it may."""
    try:
        said = lock.read_text(encoding="utf-8")
        age_s = time.time() - lock.stat().st_mtime
    except FileNotFoundError:  # its owner has just finished
        return
    number, _, host = said.strip().partition("\n")
    if number.isdigit() and host:
        pid = int(number)
        own = pid == os.getpid() and lock not in _held_here  # our number, used before
        stale = host == socket.gethostname() and (own or not is_running(pid))
        who = f"process {pid} on {host}"
    else:
        stale, who = age_s > BLANK_LOCK_S, "it does not say which"
    if not stale:
        msg = (
            f"another run is writing {target} ({who}); wait for it, "
            f"or delete {lock} if no such run is going on"
        )
        raise OutputError(msg)
    aside = lock.with_name(f"{lock.name}.stale-{os.getpid()}")
    try:
        os.rename(lock, aside)
    except FileNotFoundError:  # another run has just cleared the same lock
        return
    aside.unlink()
