"""The page that leads a browser to the map without its key on a command line.

Whatever a program is started with can be read by every user of the computer, so the
browser is given the name of a file instead. Only the user can read that file.
"""

import html
import json
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from layout.drawing.own_state import written

PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="referrer" content="no-referrer">
<title>To the map</title><meta http-equiv="refresh" content="0; url={address}"></head>
<body><p><a href="{address}">To the map</a></p><script>location.replace({script})</script></body>
</html>
"""


@contextmanager
def doorstep(address: str, folder: Path | None) -> Iterator[str]:
    """Give a file's address that leads to the map; the file is gone afterwards.

    Parameters
    ----------
    address : str
        Of the map, with its key.
    folder : Path or None
        Where the user's files of this kind are kept; None: nowhere.

    Yields
    ------
    str
        A ``file:`` address; empty where no such file can be made.
    """
    place = None if folder is None else _written(address, folder)
    try:
        yield "" if place is None else place.as_uri()
    finally:
        if place is not None:
            place.unlink(missing_ok=True)


def _written(address: str, folder: Path) -> Path | None:
    place = folder / f"open-{secrets.token_hex(8)}.html"
    text = PAGE.format(
        address=html.escape(address), script=json.dumps(address).replace("<", "\\u003c")
    )
    return place if written(place, text) else None
