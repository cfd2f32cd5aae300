"""On which line of a TOML file each key stands.

The parser of the standard library gives values without their places, and a fault in a
long file is found by its line. The files read here are flat: keys at the top, and
tables that come again and again under one ``[[name]]``.
"""

import re
from collections.abc import Iterator

_TABLE = re.compile(r"\s*\[\[?\s*([^\]]+?)\s*\]")
_KEY = re.compile(r"""\s*(?:"([^"]*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*[.=]""")
_STRINGS = ('"""', "'''", '"', "'")  # the long ones first, they begin as the short ones do


class KeyLines:
    """Lines of a TOML text that the parser has taken.

    Parameters
    ----------
    text : str
        The whole text.
    table : str
        Name of the tables that come again, without brackets.
    """

    def __init__(self, text: str, table: str) -> None:
        self._top: dict[str, int] = {}
        self._tables: list[tuple[int, dict[str, int]]] = []
        into: dict[str, int] | None = self._top
        for number, line in _statements(text):
            if head := _TABLE.match(line):
                into = None
                if line.lstrip().startswith("[[") and head[1].strip("\"'") == table:
                    into = {}
                    self._tables.append((number, into))
            elif into is not None and (key := _KEY.match(line)):
                into.setdefault(next(part for part in key.groups() if part is not None), number)

    def top(self, key: str) -> int | None:
        """Give the line of a key above all tables, from 1; None where there is none."""
        return self._top.get(key)

    def of(self, number: int, key: str | None = None) -> int | None:
        """Give the line of a key of a table.

        Parameters
        ----------
        number : int
            Which of the tables, from 0.
        key : str, optional
            The table's own line where left out, or where the table has no such key.

        Returns
        -------
        int or None
            From 1; None where the tables are not written one by one.
        """
        if number >= len(self._tables):
            return None
        head, keys = self._tables[number]
        return head if key is None else keys.get(key, head)


def _statements(text: str) -> Iterator[tuple[int, str]]:
    """Give the first line of every statement: lines inside a long string or a list are none."""
    inside, depth = "", 0
    for number, line in enumerate(text.split("\n"), start=1):
        if not inside and depth == 0:
            yield number, line
        at = 0
        if not inside and depth == 0 and _TABLE.match(line):
            continue  # the brackets of a table are no list
        while at < len(line):
            if inside:
                if inside[0] == '"' and line[at] == "\\":
                    at += 2
                elif line.startswith(inside, at):
                    at += len(inside)
                    inside = ""
                else:
                    at += 1
                continue
            if line[at] == "#":
                break
            inside = next((mark for mark in _STRINGS if line.startswith(mark, at)), "")
            depth += (line[at] in "[{") - (line[at] in "]}")
            at += len(inside) or 1
        if len(inside) == 1:
            inside = ""  # a short string ends with its line
