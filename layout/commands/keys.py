"""``skidway keys``: every setting with unit, default, bounds, caution tier and source."""

import argparse
from typing import Any


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "keys",
        help="list every setting of area.toml with unit, default, bounds and source",
        description="List the keys of area.toml, of one table or of all.",
    )
    words.add_argument("table", metavar="TABLE", nargs="?", help="one table, like trails")
    words.add_argument("--csv", action="store_true", help="as a table for other programs")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Print the keys."""
    import csv
    import difflib
    import sys

    from layout.errors import InputError
    from layout.settings.key_table import KeyRow, key_rows

    rows = key_rows()
    if words.table is not None:
        table = words.table.strip("[]")
        tables = dict.fromkeys(row.table for row in rows)
        if table not in tables:
            near = difflib.get_close_matches(table, [t for t in tables if t], 1, 0.6)
            named = ", ".join(t for t in tables if t)  # keys at the top of the file have no table
            hint = f'did you mean "{near[0]}"?' if near else f"there are {named}"
            raise InputError(f"keys: no table [{table}] in area.toml; {hint}")
        rows = tuple(row for row in rows if row.table == table)
    if words.csv:
        writer = csv.writer(sys.stdout, lineterminator="\n")
        writer.writerow(KeyRow.__dataclass_fields__)
        writer.writerows(row.cells() for row in rows)
        return 0
    last = None
    for row in rows:
        if row.table != last:
            print(f"\n[{row.table}]" if row.table else "(top of the file)")
            last = row.table
        print(row.line())
    return 0
