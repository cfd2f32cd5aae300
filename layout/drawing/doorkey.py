"""The key of an area's map and the port it was last opened on.

Both are kept between runs, in a file only the user can read, so that a page left
open still works when the server is started again.
"""

import json
import secrets
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from layout.drawing.own_state import place_of, written

KIND, HOUSE_KIND = "map", "house"
TOKEN_BYTES = 32
PORTS = range(1024, 65536)
HOUSE_LASTS_S = 12 * 3600.0  # ours, a long day's work: it is not to open the map for ever


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


def house_key(area: Path, folder: Path | None, now: float | None = None) -> tuple[str, bool, float]:
    """Give the key for the house network: the one made a short while ago, or a new one.

    It is not the key of this computer, which is never told to anybody else.

    Parameters
    ----------
    area : Path
        The area's folder.
    folder : Path or None
        Where keys are kept; None: nowhere.
    now : float, optional
        Seconds since 1970; the clock's by default.

    Returns
    -------
    token : str
    kept : bool
        Whether it will be found again.
    made : float
        When it was made, seconds since 1970; it opens the map for `HOUSE_LASTS_S`.
    """
    clock = time.time() if now is None else now
    if folder is not None:
        try:
            kept = json.loads(place_of(HOUSE_KIND, area, folder).read_text(encoding="utf-8"))
            token, made = kept["token"], float(kept["made"])
            sound = isinstance(token, str) and len(token) >= TOKEN_BYTES
            if sound and still_good(made, clock):
                return token, True, made
        except (OSError, ValueError, KeyError, TypeError):
            pass  # as for the other key
    token = secrets.token_urlsafe(TOKEN_BYTES)
    if folder is None:
        return token, False, clock
    text = json.dumps({"token": token, "made": clock})
    return token, written(place_of(HOUSE_KIND, area, folder), text), clock


def still_good(made: float, now: float) -> bool:
    """Tell whether a key for the house network made then opens the map now.

    Parameters
    ----------
    made, now : float
        Seconds since 1970; by a clock that was set back it opens nothing.

    Returns
    -------
    bool
    """
    return 0 <= now - made < HOUSE_LASTS_S


def forget_house_key(area: Path, folder: Path | None) -> None:
    """Forget the key for the house network; pages left open there stay out.

    Parameters
    ----------
    area : Path
        The area's folder.
    folder : Path or None
        Where keys are kept.
    """
    if folder is not None:
        with suppress(OSError):
            place_of(HOUSE_KIND, area, folder).unlink(missing_ok=True)


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
