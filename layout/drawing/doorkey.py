"""The key of an area's map and the port it was last opened on.

Both are kept between runs, in a file only the user can read, so that a page left
open still works when the server is started again.
"""

import json
import secrets
from dataclasses import dataclass
from pathlib import Path

from layout.drawing.own_state import place_of, written

KIND = "map"
TOKEN_BYTES = 32
PORTS = range(1024, 65536)


@dataclass(frozen=True, slots=True)
class DoorKey:
    """A token, and the port last used; 0 where there was none."""

    token: str
    port: int = 0


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
            kept = json.loads(place_of(KIND, area, folder).read_text(encoding="utf-8"))
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
    text = json.dumps({"token": key.token, "port": key.port})
    return written(place_of(KIND, area, folder), text)
