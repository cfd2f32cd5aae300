"""Which of an area's files have changed since the map was opened."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

MOST_NAMED = 3  # of the changed files, in the sentence
TABLES = ("*.csv", "*.toml")  # read by their names, whatever the settings say

Seen = dict[str, tuple[int, int]]


def seen(folder: Path) -> Seen:
    """Note how an area's files are now.

    Parameters
    ----------
    folder : Path
        The area's folder.

    Returns
    -------
    dict
        Time of the last change, nanoseconds, and size in bytes, by file.
    """
    out: Seen = {}
    for path in _files(folder):
        try:
            state = path.stat()
        except OSError:  # gone between the look and this: as good as not there
            continue
        out[str(path)] = (state.st_mtime_ns, state.st_size)
    return out


def changed(before: Seen, now: Seen) -> str:
    """Say which files have changed.

    Parameters
    ----------
    before, now : dict
        As `seen` gives them.

    Returns
    -------
    str
        A sentence; empty where none has.
    """
    names = sorted(
        {Path(p).name for p in before.keys() | now.keys() if before.get(p) != now.get(p)}
    )
    if not names:
        return ""
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return (
        f"Changed since the map was opened: {', '.join(names[:MOST_NAMED])}{more}. The map does "
        "not know of it; stop skidway draw and start it again."
    )


def _files(folder: Path) -> Iterator[Path]:
    for pattern in TABLES:
        yield from folder.glob(pattern)
    texts: set[str] = set()
    for path in folder.glob("*.toml"):
        try:
            texts |= set(_texts(tomllib.loads(path.read_text(encoding="utf-8"))))
        except (OSError, ValueError):  # it is not for this to say what is wrong in it
            continue
    for text in texts:
        place = folder / text
        try:
            if place.is_dir() and place.resolve() != folder.resolve():
                yield from (p for p in place.iterdir() if p.is_file())
            elif place.is_file():
                yield place
        except (OSError, ValueError):  # no name a file can have
            continue


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str) and value:
        yield value
    elif isinstance(value, dict | list):
        for item in value.values() if isinstance(value, dict) else value:
            yield from _texts(item)
