"""Where compiled kernels are kept, and the one decorator that compiles them.

This room is imported before any kernel is defined. It points numba's cache at
a folder that can be written, because numba otherwise stops at import where the
package lies in a read-only place and the user has no home. The folder's name
carries the version and a hash of every kernel's source: numba looks only at
the file a kernel stands in, so without the hash an edited neighbour would go
on answering with its old limits.

Kernels are serial on purpose: two server threads inside a parallel kernel can
abort the process. They let go of the interpreter lock, so that a live check
answers while a search runs.
"""

import atexit
import hashlib
import os
import shutil
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast, overload

import numba

import layout

Function = TypeVar("Function", bound=Callable[..., Any])

_CACHE_VARIABLE = "NUMBA_CACHE_DIR"


def source_hash(package: Path) -> str:
    """Give twelve hex digits that change when any kernel's source changes.

    Parameters
    ----------
    package : Path
        Folder of Python files; every file that asks for ``njit`` counts.

    Returns
    -------
    str
        Start of a SHA-256 over the names and bytes of those files.
    """
    digest = hashlib.sha256()
    for path in sorted(package.rglob("*.py")):
        source = path.read_bytes()
        if b"njit" in source:
            digest.update(path.relative_to(package).as_posix().encode("utf-8"))
            digest.update(source)
    return digest.hexdigest()[:12]


def user_cache() -> Path | None:
    """Give this platform's folder for things that can be made again.

    Returns
    -------
    Path or None
        The user's cache folder; None where the user has no home. It need not exist yet.
    """
    if sys.platform == "win32":
        named = os.environ.get("LOCALAPPDATA")
    else:
        named = os.environ.get("XDG_CACHE_HOME")
    if named and Path(named).is_absolute():
        return Path(named)
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if sys.platform == "win32":
        return home / "AppData" / "Local"
    return home / "Library" / "Caches" if sys.platform == "darwin" else home / ".cache"


def writable(folder: Path) -> bool:
    """Make the folder if need be, and say whether a file can be made in it."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def cache_folder() -> Path:
    """Choose where compiled kernels are kept.

    Returns
    -------
    Path
        ``NUMBA_CACHE_DIR`` where it is set; else ``skidway/<version>-<hash>`` in the
        user's cache folder; else, where that cannot be written, a fresh temporary
        folder that goes when this process ends.
    """
    asked = os.environ.get(_CACHE_VARIABLE)
    if asked:
        return Path(asked)
    home = user_cache()
    if home is not None:
        kept = home / "skidway" / f"{layout.__version__}-{source_hash(Path(__file__).parent)}"
        if writable(kept):
            return kept
    passing = Path(tempfile.mkdtemp(prefix="skidway-kernels-"))
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    return passing


CACHE_FOLDER = cache_folder()
# numba reads its variables again whenever one of them has changed, so the folder is
# written to both places; processes started from here then share it.
os.environ[_CACHE_VARIABLE] = str(CACHE_FOLDER)
numba.config.CACHE_DIR = str(CACHE_FOLDER)  # type: ignore[attr-defined]  # set at run time


@overload
def njit(function: Function, /) -> Function: ...


@overload
def njit(**options: Any) -> Callable[[Function], Function]: ...


def njit(function: Function | None = None, /, **options: Any) -> Any:
    """Compile a function to machine code: cached, without the interpreter lock, serial.

    Parameters
    ----------
    function : callable, optional
        The kernel, when used without brackets.
    **options
        Passed on to numba; ``cache`` and ``nogil`` are on unless said otherwise.

    Returns
    -------
    callable
        The compiled kernel, or the decorator that makes it.

    Raises
    ------
    ValueError
        If ``parallel`` is asked for.
    """
    if options.get("parallel"):
        raise ValueError("kernels are serial: two threads in a parallel kernel abort the process")
    compiled = numba.njit(**{"cache": True, "nogil": True, **options})
    return compiled if function is None else cast(Any, compiled(function))
