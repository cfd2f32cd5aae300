"""The user's folder for what the map remembers between runs; files only they can read."""

import hashlib
import os
import secrets
import sys
from contextlib import suppress
from pathlib import Path


def state_folder() -> Path | None:
    """Give the user's folder for what a program remembers; None where they have no home."""
    if sys.platform == "win32":
        named = os.environ.get("LOCALAPPDATA")
    else:
        named = os.environ.get("XDG_STATE_HOME")
    if named and Path(named).is_absolute():
        return Path(named) / "skidway"
    try:
        return Path.home() / ".local" / "state" / "skidway"
    except RuntimeError:
        return None


def place_of(kind: str, area: Path, folder: Path) -> Path:
    """Give the file of one kind that belongs to an area.

    Parameters
    ----------
    kind : str
        What it holds, in letters.
    area : Path
        The area's folder.
    folder : Path
        As `state_folder` gives it.

    Returns
    -------
    Path
    """
    name = hashlib.sha256(str(area.resolve()).encode("utf-8")).hexdigest()[:24]
    return folder / f"{kind}-{name}.json"


def written(place: Path, text: str) -> bool:
    """Write a file of the user's own whole or not at all; tell whether it could be.

    Parameters
    ----------
    place : Path
    text : str

    Returns
    -------
    bool
    """
    scratch = place.with_suffix(f".{secrets.token_hex(8)}")
    try:
        place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(scratch, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        scratch.replace(place)
    except OSError:
        with suppress(OSError):
            scratch.unlink()
        return False
    return True
