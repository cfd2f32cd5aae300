"""Folders and files made new: whole or not at all, never over what is there."""

import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path


def check_free(folder: Path, what: str = "") -> None:
    """See that a folder can be made, or is there and can be written into.

    Parameters
    ----------
    folder : Path
        The folder.
    what : str, optional
        The file to be made in it, which must not be there; left out, the folder
        must be empty.

    Raises
    ------
    InputError
        If something is in the way.
    OutputError
        If one may not write there.
    """
    from layout.errors import InputError, OutputError

    if os.path.lexists(folder) and not folder.is_dir():
        raise InputError(f"{folder} is a file; name a folder")
    if not folder.is_dir():
        above = Path(os.path.abspath(folder)).parent
        if not above.is_dir():
            raise InputError(f"{folder}: the folder above it does not exist; make it first")
        if not os.access(above, os.W_OK | os.X_OK):
            raise OutputError(_not_yours(above))
        return
    if not os.access(folder, os.R_OK | os.W_OK | os.X_OK):
        raise OutputError(_not_yours(folder))
    if what and os.path.lexists(folder / what):
        raise InputError(
            f"{folder} has a file {what} already, and it is never written over; change that one, "
            "or name another folder"
        )
    if not what and any(folder.iterdir()):
        raise InputError(f"{folder} is not empty; name a new folder")


def _not_yours(folder: Path) -> str:
    """Say that one may not write."""
    return f"{folder}: you may not write there; name a folder of your own"


def filled(folder: Path, fill: Callable[[Path], None]) -> None:
    """Make a new folder with all that is in it, or nothing.

    Parameters
    ----------
    folder : Path
        The folder; it may be there and empty.
    fill : callable
        Writes into the folder it is given.

    Raises
    ------
    InputError, OutputError
        If something is in the way, or it cannot be written.
    """
    import shutil

    from layout.errors import OutputError

    check_free(folder)
    target = Path(os.path.abspath(folder))
    new = target.with_name(f"{target.name}.new-{os.getpid()}")
    try:
        new.mkdir()
        fill(new)
        if target.is_dir():
            target.rmdir()  # empty; raises where something was put in meanwhile
        new.rename(target)
    except OSError as fault:
        shutil.rmtree(new, ignore_errors=True)
        raise OutputError(_reason(folder, fault)) from fault
    except BaseException:
        shutil.rmtree(new, ignore_errors=True)
        raise


def write_new(folder: Path, name: str, text: str) -> Path:
    """Write a new file, whole or not at all; the folder is made where it is missing.

    Parameters
    ----------
    folder : Path
        Where it goes.
    name : str
        Its name.
    text : str
        What it holds.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    InputError, OutputError
        If something is in the way, or it cannot be written.
    """
    from layout.errors import OutputError

    file = folder / name
    new = folder / f".{name}.new-{os.getpid()}"
    made = not folder.is_dir()
    try:
        if made:
            folder.mkdir()
        with new.open("x", encoding="utf-8", newline="\n") as out:
            out.write(text)
            out.flush()
            os.fsync(out.fileno())
        check_free(folder, name)
        new.rename(file)
    except OutputError:
        _undone(new, folder if made else None)
        raise
    except OSError as fault:
        _undone(new, folder if made else None)
        raise OutputError(_reason(folder, fault)) from fault
    except BaseException:
        _undone(new, folder if made else None)
        raise
    return file


def _undone(new: Path, made: Path | None) -> None:
    """Take a half-written file away, and the folder that was made for it."""
    with suppress(OSError):
        new.unlink(missing_ok=True)
        if made is not None:
            made.rmdir()  # stays where something else was put in meanwhile


def _reason(folder: Path, fault: OSError) -> str:
    """Say why it could not be written."""
    why = fault.strerror or str(fault)
    return f"{folder}: cannot be written ({why.lower()}); nothing was left there"
