"""Columns of a tree list: words and numbers, each fault told with its line."""

import re
from collections import Counter
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from layout.errors import InputFaults
from layout.findings import Finding
from layout.site import Trees
from layout.units import FOOT_M, INCH_M

Floats = NDArray[np.float64]

MOST_FAULTS = 20
KEEPS = {"crop", "seed", "den", "boundary", "line", "witness"}
HAZARDS = {"dead_top", "dead", "hung", "split", "rot", "vine", "wire"}
NO = {"", "no", "none", "n", "0", "false", "-"}
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d{1,2})?")
LIST_REMEDY = 'list = "marked" under [stand] of area.toml'  # a command says it its own way
NO_MARK = (
    f"add a column mark (cut or leave) to {{name}}, or {LIST_REMEDY} where the list holds the "
    "marked trees only"
)


@dataclass(slots=True, eq=False)
class Cells:
    """A table of text, and the faults found in it so far."""

    name: str
    table: pd.DataFrame
    lines: tuple[str, ...]  # where each row stands, for messages
    decimal_comma: bool
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
                self.faults.append(f"{self.lines[row]}: {column} {cell!r} is no number")
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


def trees_from_cells(
    cells: Cells, xy_m: tuple[Floats, Floats], position_error_m: float, *, full_list: bool
) -> tuple[Trees, tuple[Finding, ...]]:
    """Read every column we know; the others stay in the table.

    Parameters
    ----------
    cells : Cells
        The table as text.
    xy_m : tuple of ndarray, shape (n,)
        Grid coordinates, metres.
    position_error_m : float
        Where the row does not say.
    full_list : bool
        Whether the list holds every stem, or the marked ones only.

    Returns
    -------
    trees : Trees
    findings : tuple of Finding

    Raises
    ------
    InputFaults
        All faults of the list at once.
    """
    found: list[Finding] = []
    ids = _ids(cells, found)
    marked = _marks(cells, full_list, found)
    dbh_cm = _dbh(cells)
    height_m = _height(cells)
    keep = _reasons(cells, "keep", KEEPS, found)
    hazard = _reasons(cells, "hazard", HAZARDS, found)
    errors = cells.numbers("position_error_m", least=0, most=200)
    logs = cells.numbers("logs", least=0, most=12)
    defect = cells.numbers("defect_pct", least=0, most=100)
    lean = cells.numbers("lean_deg", least=0, most=90)
    azimuth = cells.numbers("lean_azimuth_deg", least=0, most=360)
    cells.stop_if_faulty()
    species = tuple(cells.words("species"))
    found += _blanks(cells, species, dbh_cm, ids)
    found += _doubles(cells, xy_m, ids)
    return (
        Trees(
            tree_id=ids,
            x=xy_m[0],
            y=xy_m[1],
            species=species,
            dbh_cm=dbh_cm,
            height_m=height_m,
            marked=marked,
            keep=keep,
            hazard=hazard,
            position_error_m=np.where(np.isnan(errors), position_error_m, errors),
            lean_deg=lean,
            lean_azimuth_deg=azimuth,
            logs=logs,
            defect_pct=defect,
            full_list=full_list,
            table=cells.table,
        ),
        tuple(found),
    )


def _listed(items: list[str], most: int = 8) -> str:
    """List a few of many."""
    rest = f" and {len(items) - most} more" if len(items) > most else ""
    return ", ".join(items[:most]) + rest


def _ids(cells: Cells, found: list[Finding]) -> tuple[str, ...]:
    """Take the painted numbers; each once."""
    if "tree_id" not in cells.table:
        found.append(
            Finding(
                "tree_ids",
                "caution",
                f"{cells.name} has no column tree_id; trees are numbered 1 to {len(cells.table)} "
                "in file order. Paint numbers and write them in.",
                "trees",
                cells.name,
            )
        )
        return tuple(str(n + 1) for n in range(len(cells.table)))
    ids = cells.words("tree_id")
    cells.faults += [
        f"{cells.lines[row]}: tree_id is blank" for row, name in enumerate(ids) if not name
    ]
    cells.faults += [
        f"{cells.lines[row]}: tree_id {name[:20]!r}... has over 40 signs"
        for row, name in enumerate(ids)
        if len(name) > 40
    ]
    twice = [name for name, count in Counter(ids).items() if count > 1 and name]
    if twice:
        lines = [cells.lines[row].rsplit(" ", 1)[1] for row, n in enumerate(ids) if n == twice[0]]
        cells.faults.append(
            f"{cells.name}: {len(twice)} tree_id stand twice ({_listed(twice)}; {twice[0]} on "
            f"{_listed(lines)}); give each tree its own"
        )
    return tuple(ids)


def _marks(cells: Cells, full_list: bool, found: list[Finding]) -> NDArray[np.bool_]:
    """Take who is cut; never guess it."""
    n = len(cells.table)
    if "mark" not in cells.table:
        if full_list:
            cells.faults.append(
                f"{cells.name} does not say which trees are cut: " + NO_MARK.format(name=cells.name)
            )
        return np.ones(n, dtype=bool)
    marked = np.zeros(n, dtype=bool)
    blank = 0
    for row, word in enumerate(cells.words("mark")):
        if word.lower() == "cut":
            marked[row] = True
        elif not word:
            blank += 1
            marked[row] = not full_list
        elif word.lower() != "leave":
            cells.faults.append(f'{cells.lines[row]}: mark {word!r} must be "cut" or "leave"')
    if blank:
        found.append(
            Finding(
                "mark_blank",
                "caution",
                f"{blank} trees of {cells.name} have a blank mark; they are taken as "
                + ("leave trees." if full_list else 'cut, as list = "marked" says.'),
                "trees",
                cells.name,
                value=float(blank),
            )
        )
    return marked


def _either(cells: Cells, first: Floats, second: Floats, names: str, apart: float) -> Floats:
    """Merge two columns of one thing in two units; refuse rows where they disagree."""
    both = np.isfinite(first) & np.isfinite(second)
    for row in np.nonzero(both & (np.abs(first - second) > apart))[0]:
        cells.faults.append(f"{cells.lines[row]}: {names} disagree; keep one of them")
    return np.where(np.isfinite(first), first, second)


def _dbh(cells: Cells) -> Floats:
    """Take diameters, centimetres; a list without any cannot be planned."""
    if "dbh_in" not in cells.table and "dbh_cm" not in cells.table:
        have = _listed([str(c) for c in cells.table.columns], 12)
        cells.faults.append(
            f"{cells.name} has neither dbh_in nor dbh_cm; it has {have}. Name the diameter so"
        )
        return np.full(len(cells.table), np.nan)
    inches = cells.numbers("dbh_in", least=0.5, most=120, factor=100 * INCH_M)
    centimetres = cells.numbers("dbh_cm", least=1, most=305)
    return _either(cells, centimetres, inches, "dbh_in and dbh_cm", 1.5)


def _height(cells: Cells) -> Floats:
    """Take heights, metres."""
    feet = cells.numbers("height_ft", least=3, most=400, factor=FOOT_M)
    metres = cells.numbers("height_m", least=1, most=122)
    return _either(cells, metres, feet, "height_ft and height_m", 1.0)


def _reasons(cells: Cells, column: str, known: set[str], found: list[Finding]) -> tuple[str, ...]:
    """Take a reason to keep, or a kind of hazard; unknown words count in full."""
    words = [
        "" if w.lower() in NO else re.sub(r"[\s-]+", "_", w.lower()) for w in cells.words(column)
    ]
    strange = sorted({word for word in words if word and word not in known})
    if strange:
        found.append(
            Finding(
                f"{column}_unknown",
                "caution",
                f"{cells.name}: {column} {_listed(strange)} is no word known here "
                f"({', '.join(sorted(known))}); it counts in full.",
                "trees",
                cells.name,
            )
        )
    return tuple(words)


def _blanks(
    cells: Cells, species: tuple[str, ...], dbh_cm: Floats, ids: tuple[str, ...]
) -> list[Finding]:
    """Tell of trees without diameter or species."""
    found = []
    for code, missing, what, then in (
        ("dbh_missing", np.isnan(dbh_cm), "DBH", "volume and weight are not known"),
        (
            "species_missing",
            np.array([not s for s in species]),
            "species",
            "weight is taken as of a heavy hardwood",
        ),
    ):
        rows = np.nonzero(missing)[0]
        if rows.size:
            found.append(
                Finding(
                    code,
                    "unknown",
                    f"{rows.size} of {len(ids)} trees have no {what} "
                    f"({_listed([ids[r] for r in rows])}); their {then}.",
                    "trees",
                    cells.name,
                    value=float(rows.size),
                )
            )
    return found


def _doubles(cells: Cells, xy_m: tuple[Floats, Floats], ids: tuple[str, ...]) -> list[Finding]:
    """Ask about two trees on one spot."""
    spot = np.round(np.column_stack(xy_m) / 0.3).astype(np.int64)
    _, first, count = np.unique(spot, axis=0, return_index=True, return_counts=True)
    rows = first[count > 1]
    if not rows.size:
        return []
    return [
        Finding(
            "trees_on_one_spot",
            "caution",
            f"{rows.size} spots of {cells.name} hold more than one tree (near "
            f"{_listed([ids[r] for r in sorted(rows)])}); is one of them listed twice?",
            "trees",
            cells.name,
            value=float(rows.size),
        )
    ]
