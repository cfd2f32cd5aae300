"""A delimited table as spreadsheets and other programs write it, read as text."""

import csv
import io
import re
from pathlib import Path

import pandas as pd

from layout.errors import InputError
from layout.findings import Finding
from layout.formula_marks import bare
from layout.table_cells import Cells, column_names, listed, shown

LARGEST_BYTES = 50_000_000
MOST_ROWS = 200_000
DELIMITERS = ",;\t|"
SPREADSHEETS = (".xlsx", ".xlsm", ".xls", ".ods", ".numbers", ".fods")
SAVE_AS = "open it in the spreadsheet program and save the sheet as CSV (UTF-8), then name that"


def read_table(path: Path, where: str, example: str) -> tuple[Cells, tuple[Finding, ...]]:
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
    rows, lines, comma = _rows(text, path.name, example)
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


def _rows(text: str, name: str, example: str) -> tuple[list[list[str]], list[int], bool]:
    """Split a table into rows of equal length, with their line numbers."""
    body = re.sub(r"\r\n?", "\n", text)  # an old Mac ends its lines with a bare return
    kept = [line for line in body.split("\n", 200) if line.strip()]
    first = kept[0] if kept else ""
    skip = 0
    told = re.fullmatch(r'"?sep=(.)"?\s*', first, re.IGNORECASE)  # a spreadsheet's own line
    if told and told[1] in DELIMITERS:
        skip, first = 1, (kept[1] if len(kept) > 1 else "")
    if not first:
        raise InputError(f"{name} is empty; write a first line of column names, then a tree a line")
    outside = re.sub(r'"[^"]*"', "", first)
    delimiter = told[1] if skip and told else max(DELIMITERS, key=outside.count)
    if not first.count(delimiter):
        raise InputError(
            f"{name} has one column only ({shown(first)}); separate columns with commas, like "
            f"{example}"
        )
    reader = csv.reader(io.StringIO(body), delimiter=delimiter)
    rows: list[list[str]] = []
    lines: list[int] = []
    faults: list[str] = []
    try:
        for row in reader:
            if not any(cell.strip() for cell in row):
                continue
            if skip:
                skip = 0
                continue
            cells = [bare(cell.strip()) for cell in row]
            if rows and len(cells) > len(rows[0]) and not any(cells[len(rows[0]) :]):
                cells = cells[: len(rows[0])]
            if rows and len(cells) != len(rows[0]):
                faults.append(f"line {reader.line_num} has {len(cells)}")
                continue
            rows.append(cells)
            lines.append(reader.line_num)
    except csv.Error as error:
        raise InputError(f"{name} line {reader.line_num} cannot be read: {error}") from None
    if faults:
        hint = "; is a decimal comma inside a comma table?" if delimiter == "," else ""
        raise InputError(
            f"{name}: the first line has {len(rows[0])} columns, {listed(faults, 5)}{hint}"
        )
    if len(rows) < 2:
        raise InputError(f"{name} holds column names and no tree")
    if len(rows) - 1 > MOST_ROWS:
        raise InputError(f"{name} holds {len(rows) - 1:,} trees; {MOST_ROWS:,} at most")
    return rows, lines, delimiter != ","
