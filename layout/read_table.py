"""A delimited table as spreadsheets and other programs write it, read as text."""

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path

import pandas as pd

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.formula_marks import bare
from layout.table_cells import MOST_FAULTS, Cells, column_names, listed, shown

LARGEST_BYTES = 50_000_000
MOST_ROWS = 200_000
DELIMITERS = ",;\t|"
MOST_LINES = 50  # of one quoted cell; ours
SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".ods", ".numbers", ".fods")
SAVE_AS = "open it in the spreadsheet program and save the sheet as CSV (UTF-8), then name that"


def read_table(
    path: Path, where: str, example: str, *, row: str = "tree", may_be_empty: bool = False
) -> tuple[Cells, tuple[Finding, ...]]:
    """Read a table of text.

    Comma, semicolon, tab or bar between the cells, whichever the first line holds
    most of; where it is no comma, a comma may stand before decimals. UTF-8, UTF-16
    with its mark, else Windows Western; line ends of any system; quoted cells.

    Parameters
    ----------
    path : Path
        The file, which exists.
    where : str
        Start of messages about the file as a whole.
    example : str
        A first line as it should be, for messages.
    row : str, optional
        What a row holds, for messages.
    may_be_empty : bool, optional
        Whether column names alone will do.

    Returns
    -------
    cells : Cells
    findings : tuple of Finding

    Raises
    ------
    InputError
        If it is no table of text; rows that are too long or short are told together.
    """
    if path.suffix.lower() in SPREADSHEETS:
        raise InputError(f"{where} {path.name} is a spreadsheet, not a text table; {SAVE_AS}")
    if path.stat().st_size > LARGEST_BYTES:
        raise InputError(f"{where} {path.name} has over 50 MB; is it the right file?")
    found: list[Finding] = []
    text = _decoded(path, where, found)
    rows, lines, comma = _rows(text, path.name, example, row)
    if len(rows) < (1 if may_be_empty else 2):
        raise InputError(f"{path.name} holds column names and no {row}")
    header = column_names(rows[0], path.name)
    if all(re.fullmatch(r"[+-]?[0-9][0-9.,]*", cell) for cell in rows[0] if cell):
        raise InputError(
            f"{path.name}: the first line holds numbers, not column names; put a line like "
            f"{example} before it"
        )
    table = pd.DataFrame(rows[1:], columns=header, dtype=str)
    where_rows = tuple(f"{path.name} line {n}" for n in lines[1:])
    return Cells(path.name, table, where_rows, comma), tuple(found)


def _decoded(path: Path, where: str, found: list[Finding]) -> str:
    """Decode a table; what is not UTF-8 is taken as Windows Western, and said."""
    data = path.read_bytes()
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise InputError(
            f"{where} {path.name} is a spreadsheet (or a zip file) inside, not a text table; "
            f"{SAVE_AS}"
        )
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            text = data.decode("utf-16")
        else:
            text = data.decode("utf-8-sig")
        if "\x00" not in text:
            return text
    except UnicodeDecodeError:
        if not data.startswith((b"\xff\xfe", b"\xfe\xff")) and b"\x00" not in data:
            found.append(
                Finding(
                    "trees_encoding",
                    "ok",
                    f"{path.name} is not UTF-8; it was read as Windows Western (cp1252).",
                    "trees",
                    path.name,
                )
            )
            return data.decode("cp1252", errors="replace")
    raise InputError(f"{where} {path.name} is no text table; save it as CSV (UTF-8)")


def _rows(text: str, name: str, example: str, row: str) -> tuple[list[list[str]], list[int], bool]:
    """Split a table into rows of equal length, with their line numbers."""
    body = re.sub(r"\r\n?", "\n", text)  # an old Mac ends its lines with a bare return
    kept = [line for line in body.split("\n", 200) if line.strip()]
    first = kept[0] if kept else ""
    skip = 0
    told = re.fullmatch(r'"?sep=(.)"?\s*', first, re.IGNORECASE)  # a spreadsheet's own line
    if told and told[1] in DELIMITERS:
        skip, first = 1, (kept[1] if len(kept) > 1 else "")
    if not first:
        raise InputError(
            f"{name} is empty; write a first line of column names, then a {row} a line"
        )
    outside = re.sub(r'"[^"]*"', "", first)
    delimiter = told[1] if skip and told else max(DELIMITERS, key=outside.count)
    if not first.count(delimiter):
        raise InputError(
            f"{name} has one column only ({shown(first)}); separate columns with commas, like "
            f"{example}"
        )
    rows: list[list[str]] = []
    lines: list[int] = []
    faults: list[str] = []
    uneven: list[str] = []
    for at, split in _records(body.split("\n"), delimiter, first.count(delimiter)):
        if isinstance(split, str):
            faults.append(f"{name} line {at}: {split}")
            if not rows:
                break  # nothing can be held against headings that cannot be read
            continue
        if not any(cell.strip() for cell in split):
            continue
        if skip:
            skip = 0
            continue
        cells = [bare(cell.strip()) for cell in split]
        if rows and len(cells) > len(rows[0]) and not any(cells[len(rows[0]) :]):
            cells = cells[: len(rows[0])]
        if rows and len(cells) != len(rows[0]):
            uneven.append(f"line {at} has {len(cells)}")
            continue
        rows.append(cells)
        lines.append(at)
    if uneven:
        hint = "; is a decimal comma inside a comma table?" if delimiter == "," else ""
        faults.append(
            f"{name}: the first line has {len(rows[0])} columns, {listed(uneven, 5)}{hint}"
        )
    if faults:
        more = [f"{name}: and {len(faults) - MOST_FAULTS} more faults"]
        raise InputFaults(faults[:MOST_FAULTS] + (more if len(faults) > MOST_FAULTS else []))
    if len(rows) - 1 > MOST_ROWS:
        raise InputError(f"{name} holds {len(rows) - 1:,} {row}s; {MOST_ROWS:,} at most")
    return rows, lines, delimiter != ","


def _records(
    lines: list[str], delimiter: str, most_inside: int
) -> Iterator[tuple[int, list[str] | str]]:
    """Split lines into rows, each with the line it begins on; or say why one is none.

    A quoted cell may hold line ends, as a spreadsheet writes them. Where a quote
    opens and nothing closes it, or what it takes in holds as many delimiters as a
    row has (`most_inside`), whole trees would go into one cell: that is a fault,
    and reading goes on with the next line.
    """
    at = 0
    while at < len(lines):
        line = lines[at]
        if '"' not in line:
            yield at + 1, line.split(delimiter)
            at += 1
            continue
        row, taken, fault = _quoted(lines, at, delimiter)
        swallowed = taken > 1 and any(
            "\n" in cell and cell.count(delimiter) >= most_inside for cell in row
        )
        if fault or swallowed:
            yield at + 1, fault or f"{_OPEN}, {_SWALLOWS}; {_MEND}"
            at += 1
            continue
        yield at + 1, row
        at += taken


_OPEN = 'a quote mark (") opens a cell'
_SWALLOWS = "and the next one stands lines later, with rows of the table between"
_MEND = "take it out, or close it before the next separator"


def _quoted(lines: list[str], at: int, delimiter: str) -> tuple[list[str], int, str]:
    """Split a row with quote marks; give its cells, how many lines it takes, and what is wrong."""
    text = ""
    for taken, line in enumerate(lines[at : at + MOST_LINES], start=1):
        text = f"{text}\n{line}" if taken > 1 else line
        if taken > 1 and '"' not in line:
            continue
        try:
            return next(csv.reader(io.StringIO(text), delimiter=delimiter, strict=True)), taken, ""
        except csv.Error as error:
            if "unexpected end" in str(error):
                continue
            if "expected after" in str(error):
                return [], 1, f"{_OPEN} and words follow the next one; {_MEND}"
            return [], 1, f"cannot be read: {error}"
    return [], 1, f"{_OPEN} and nothing closes it; {_MEND}"
