"""Where compiled kernels are kept; found without loading the compiler.

numba otherwise stops at import where the package lies in a read-only place and
the user has no home. The folder's name carries the version and a hash of every
kernel's source: numba looks only at the file a kernel stands in, so without the
hash an edited neighbour would go on answering with its old limits.
"""

import atexit
import hashlib
import os
import shutil
import sys
import tempfile
from pathlib import Path

import layout

CACHE_VARIABLE = "NUMBA_CACHE_DIR"


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


def kept_folder() -> Path | None:
    """Name the folder of this version and these kernels, whether it is there yet or not."""
    home = user_cache()
    if home is None:
        return None
    return home / "skidway" / f"{layout.__version__}-{source_hash(Path(__file__).parent)}"


def is_cold() -> bool:
    """Say whether kernels must be compiled first; looks at files only."""
    asked = os.environ.get(CACHE_VARIABLE)
    folder = Path(asked) if asked else kept_folder()
    return folder is None or next(folder.rglob("*.nbi"), None) is None


def cache_folder() -> Path:
    """Choose where compiled kernels are kept.

    Returns
    -------
    Path
        ``NUMBA_CACHE_DIR`` where it is set; else ``skidway/<version>-<hash>`` in the
        user's cache folder; else, where that cannot be written, a fresh temporary
        folder that goes when this process ends.
    """
    asked = os.environ.get(CACHE_VARIABLE)
    if asked:
        return Path(asked)
    kept = kept_folder()
    if kept is not None and writable(kept):
        return kept
    passing = Path(tempfile.mkdtemp(prefix="skidway-kernels-"))
    atexit.register(shutil.rmtree, passing, ignore_errors=True)
    return passing
