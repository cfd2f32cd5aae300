"""Rows of cells set in columns, page after page, a row never torn apart."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from layout.outputs.crew.sheet import LEADING, Sheet

GUTTER_PT = 12.0
HAIR = "#b4b4b4"
AIR = 0.25  # of what letters are larger: their capitals then stand as clear above as below
CUT_PT = 30.0  # left free beside a row that is cut, for what is said again above it


@dataclass(frozen=True, slots=True)
class Cell:
    """Words of a row: left edge from the column's, in lines one below the other."""

    x_pt: float
    lines: tuple[str, ...]
    bold: bool = False
    right: bool = False  # x_pt is where they end
    size_pt: float | None = None  # where it differs from the row's


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a list.

    Parameters
    ----------
    cells : tuple of Cell
        What it says.
    size_pt : float
        Size of its letters.
    head : bool
        A heading: never the last row of a column, and with some air above.
    ruled : bool
        Whether a hair line closes it.
    again : tuple of Cell
        What is said first where a column starts with this row: whose it is.
    over : tuple of Row
        What stands above even that: the titles of the row's part of a list.
    """

    cells: tuple[Cell, ...]
    size_pt: float = 7.4
    head: bool = False
    ruled: bool = True
    again: tuple[Cell, ...] = ()
    over: tuple[Row, ...] = ()

    @property
    def rise_pt(self) -> float:
        """Air above letters of the first line that are larger than the row's own."""
        sizes = [
            cell.size_pt for cell in self.cells if cell.size_pt and _has_letters(cell.lines[:1])
        ]
        return AIR * max([0.0, *(size - self.size_pt for size in sizes)])

    @property
    def height_pt(self) -> float:
        """Height with its leading."""
        lines = max((len(cell.lines) for cell in self.cells), default=1)
        return self.rise_pt + lines * self.size_pt * LEADING + (3.6 if self.head else 1.2)


def _has_letters(lines: Sequence[str]) -> bool:
    """Tell words and numbers from boxes to tick, which stand lower."""
    return any(letter.isalnum() for line in lines for letter in line)


def filled(rows: Sequence[Row], heights_pt: Sequence[float], rest_pt: float) -> list[list[Row]]:
    """Divide rows among columns.

    Parameters
    ----------
    rows : sequence of Row
        In their order.
    heights_pt : sequence of float
        Heights of the first columns.
    rest_pt : float
        Height of every later column.

    Returns
    -------
    list of list of Row
        A column each; headings stay with the row after them.
    """
    columns: list[list[Row]] = [[]]
    used = 0.0
    rows = [part for row in rows for part in _parts(row, min(*heights_pt, rest_pt))]
    for number, row in enumerate(rows):
        most = heights_pt[len(columns) - 1] if len(columns) <= len(heights_pt) else rest_pt
        need = row.height_pt
        after = number + 1
        while row.head and after < len(rows):  # headings in a row, and what they head
            need += rows[after].height_pt
            if not rows[after].head:
                break
            after += 1
        if columns[-1] and used + need > most and (used + row.height_pt > most or row.head):
            columns.append([])
            used = 0.0
        if not columns[-1] and len(columns) > 1:
            columns[-1] += row.over
            if row.again:
                columns[-1].append(Row(row.again, row.size_pt, head=True))
            used = sum(one.height_pt for one in columns[-1])
        columns[-1].append(row)
        used += row.height_pt
    return columns


def whole_pt(row: Row) -> float:
    """Give the height of a column that need not cut a row."""
    return row.height_pt + CUT_PT


def _parts(row: Row, most_pt: float) -> list[Row]:
    """Cut a row that is taller than a column into rows that are not."""
    lines = max((len(cell.lines) for cell in row.cells), default=1)
    fit = max(1, int((most_pt - CUT_PT) / (row.size_pt * LEADING)))
    return [
        replace(row, cells=tuple(replace(c, lines=c.lines[k : k + fit]) for c in row.cells))
        for k in range(0, max(lines, 1), fit)
    ]


def draw(sheet: Sheet, x: float, y: float, width_pt: float, rows: Sequence[Row]) -> float:
    """Draw one column; y is its upper edge.

    Returns
    -------
    float
        Where it ends.
    """
    hairs = []
    for row in rows:
        top = y + row.rise_pt + (2.4 if row.head else 0.0)
        for cell in row.cells:
            for number, line in enumerate(cell.lines):
                if not line:
                    continue
                base = top + row.size_pt * (1.0 + LEADING * number)
                weight = "bold" if cell.bold else "normal"
                side = "right" if cell.right else "left"
                size = cell.size_pt or row.size_pt
                sheet.text(x + cell.x_pt, base, line, size, fontweight=weight, ha=side)
        y += row.height_pt
        if row.ruled:
            hairs.append((x, y - 0.4, x + width_pt, y - 0.4))
    sheet.rules(hairs, colors=HAIR, linewidths=0.35)
    return y
