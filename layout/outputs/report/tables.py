"""Tables with a caption, headings that say what they head, and room to scroll sideways."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from layout.outputs.report.tags import Markup, Piece, folded, tag

LONG = 30  # rows; a longer table is folded on the screen


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, and what its cells hold."""

    title: str
    number: bool = False
    whole: bool = False  # its cells are short and never broken over two lines

    @property
    def look(self) -> str | None:
        """Class of its cells."""
        return "n" if self.number else "w" if self.whole else None


def table(
    caption: str,
    columns: Sequence[Column],
    rows: Iterable[Sequence[Piece]],
    *,
    last: Sequence[Piece] = (),
) -> Markup:
    """Make a table.

    Parameters
    ----------
    caption : str
        What it shows.
    columns : sequence of Column
        The first heads its row.
    rows : iterable of sequence
        As many cells as there are columns.
    last : sequence, optional
        A closing row of sums.

    Returns
    -------
    Markup
        In a box of its own that scrolls sideways where the page is narrow, and that
        the keyboard can reach.
    """
    head = [
        tag("th", column.title, scope="col", class_="n" if column.number else None)
        for column in columns
    ]
    body = [_row(columns, row) for row in rows]
    foot = tag("tfoot", _row(columns, last)) if last else None
    return tag(
        "div",
        tag(
            "table",
            tag("caption", caption),
            tag("thead", tag("tr", *head)),
            tag("tbody", *body),
            foot,
        ),
        class_="wide",
        role="region",
        aria_label=caption,
        tabindex="0",
    )


def long_table(
    summary: str,
    caption: str,
    columns: Sequence[Column],
    rows: Sequence[Sequence[Piece]],
    *,
    last: Sequence[Piece] = (),
    printed: bool = True,
) -> Markup:
    """Make a table that is folded away on the screen where it is long.

    Parameters
    ----------
    summary : str
        What stands in its place then.
    caption, columns, rows, last
        As in `table`.
    printed : bool, optional
        Whether paper shows a long one all the same.

    Returns
    -------
    Markup
    """
    made = table(caption, columns, rows, last=last)
    return made if len(rows) <= LONG else folded(summary, made, printed=printed)


def _row(columns: Sequence[Column], cells: Sequence[Piece]) -> Markup:
    """Make one row, its first cell the heading of it."""
    made: list[Markup] = []
    for column, cell in zip(columns, cells, strict=True):
        if made:
            made.append(tag("td", cell, class_=column.look))
        else:
            made.append(tag("th", cell, scope="row", class_=column.look))
    return tag("tr", *made)
