"""A table of text: its columns as words and numbers, each fault told with its line."""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layout.errors import InputError, InputFaults
from layout.formula_marks import bare

Floats = NDArray[np.float64]

MOST_FAULTS = 20
_NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,2})?")


@dataclass(slots=True, eq=False)
class Cells:
    """A table of text, and the faults found in it so far.

    Parameters
    ----------
    name : str
        The file, for messages.
    table : DataFrame
        Text, a row each; columns named as `column_names` gives them.
    lines : tuple of str
        Where each row stands, for messages.
    decimal_comma : bool
        Whether a comma may stand before the decimals.
    phone : bool
        Whether it came from a phone, where nobody can add a column.
    faults : list of str
    """

    name: str
    table: pd.DataFrame
    lines: tuple[str, ...]
    decimal_comma: bool
    phone: bool = False
    faults: list[str] = field(default_factory=list)

    def words(self, column: str) -> list[str]:
        """Give a column as text; blanks where there is none."""
        if column not in self.table:
            return [""] * len(self.table)
        return [str(cell).strip() for cell in self.table[column]]

    def numbers(
        self,
        column: str,
        *,
        required: bool = False,
        least: float = -np.inf,
        most: float = np.inf,
        factor: float = 1.0,
    ) -> Floats:
        """Give a column as numbers, NaN where blank; note what cannot be read."""
        out = np.full(len(self.table), np.nan)
        for row, cell in enumerate(self.words(column)):
            text = cell.replace(",", ".") if self.decimal_comma and cell.count(",") == 1 else cell
            if not text:
                if required:
                    self.faults.append(f"{self.lines[row]}: {column} is blank")
                continue
            if not _NUMBER.fullmatch(text):
                hint = ""
                if not self.decimal_comma and _NUMBER.fullmatch(text.replace(",", ".", 1)):
                    hint = "; write the decimals with a point, and no mark for thousands"
                self.faults.append(f"{self.lines[row]}: {column} {shown(cell)} is no number{hint}")
                continue
            value = float(text)
            if not least <= value <= most:
                self.faults.append(
                    f"{self.lines[row]}: {column} {cell} is outside {least:g} to {most:g}"
                )
                continue
            out[row] = value * factor
        return out

    def stop_if_faulty(self) -> None:
        """Raise what was found, at most twenty lines of it."""
        if not self.faults:
            return
        shown = self.faults[:MOST_FAULTS]
        if len(self.faults) > MOST_FAULTS:
            shown.append(f"{self.name}: and {len(self.faults) - MOST_FAULTS} more faults")
        raise InputFaults(shown)


def shown(cell: str) -> str:
    """Quote a cell in a message, cut to what fits a line."""
    return repr(cell if len(cell) <= 40 else cell[:37] + "...")


def listed(items: Iterable[str], most: int = 8) -> str:
    """List a few of many.

    Examples
    --------
    >>> listed("abcd", 2)
    'a, b and 2 more'
    """
    kept = list(items)
    rest = f" and {len(kept) - most} more" if len(kept) > most else ""
    return ", ".join(kept[:most]) + rest


def column_names(row: Iterable[object], name: str) -> list[str]:
    """Take column names: lower case, signs and blanks as one underscore.

    Parameters
    ----------
    row : iterable of object
        The names as the file has them.
    name : str
        The file, for messages.

    Returns
    -------
    list of str
        A column without a name is called by its place.

    Raises
    ------
    InputError
        If two columns have one name.

    Examples
    --------
    >>> column_names([" DBH_in ", "Tree ID", "height (ft)", ""], "trees.csv")
    ['dbh_in', 'tree_id', 'height_ft', 'column_4']
    """
    names = [re.sub(r"\W+", "_", bare(str(cell).strip()).lower()).strip("_") for cell in row]
    twice = sorted({cell for cell in names if cell and names.count(cell) > 1})
    if twice:
        raise InputError(f"{name} has the column {', '.join(twice)} twice; rename one")
    return [cell or f"column_{i + 1}" for i, cell in enumerate(names)]
