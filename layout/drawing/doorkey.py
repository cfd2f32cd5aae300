"""The key of an area's map and the port it was last opened on.

Both are kept between runs, in a file only the user can read, so that a page left
open still works when the server is started again.
"""

import hashlib
import json
import os
import secrets
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

TOKEN_BYTES = 32
PORTS = range(1024, 65536)


@dataclass(frozen=True, slots=True)
class DoorKey:
    """A token, and the port last used; 0 where there was none."""

    token: str
    port: int = 0


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


def key_of(area: Path, folder: Path | None) -> DoorKey:
    """Give the key kept for an area, or a new one.

    Parameters
    ----------
    area : Path
        The area's folder.
    folder : Path or None
        Where keys are kept; None: nowhere.

    Returns
    -------
    DoorKey
    """
    if folder is not None:
        try:
            kept = json.loads(_place(area, folder).read_text(encoding="utf-8"))
            token, port = kept["token"], kept["port"]
            if isinstance(token, str) and len(token) >= TOKEN_BYTES and port in PORTS:
                return DoorKey(token, port)
        except (OSError, ValueError, KeyError, TypeError):
            pass  # none, or not one of ours: a new one is as good
    return DoorKey(secrets.token_urlsafe(TOKEN_BYTES))


def fresh(key: DoorKey) -> DoorKey:
    """Give a key nobody has seen, for the same port."""
    return DoorKey(secrets.token_urlsafe(TOKEN_BYTES), key.port)


def keep(key: DoorKey, area: Path, folder: Path | None) -> bool:
    """Keep a key for the next run; tell whether it could be kept.

    Parameters
    ----------
    key : DoorKey
    area : Path
        The area's folder.
    folder : Path or None
        Where keys are kept.

    Returns
    -------
    bool
    """
    if folder is None:
        return False
    place = _place(area, folder)
    scratch = place.with_suffix(f".{os.getpid()}")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle = os.open(scratch, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump({"token": key.token, "port": key.port}, file)
        scratch.replace(place)
    except OSError:
        with suppress(OSError):
            scratch.unlink()
        return False
    return True


def _place(area: Path, folder: Path) -> Path:
    name = hashlib.sha256(str(area.resolve()).encode("utf-8")).hexdigest()[:24]
    return folder / f"map-{name}.json"
