"""Columns of a tree list: words and numbers, each fault told with its line."""

import re
from collections import Counter

import numpy as np
from numpy.typing import NDArray

from layout.errors import InputFaults
from layout.findings import Finding
from layout.note_warnings import against_cutting
from layout.site import Trees
from layout.stem_sizes import check_stems
from layout.table_cells import Cells, listed, shown
from layout.tree_headings import near_miss
from layout.tree_words import BOUNDS, GRADES, HAZARDS, KEEPS, NO
from layout.units import FOOT_M, INCH_M

Floats = NDArray[np.float64]

LONGEST_ID = 40
MOST_NAMED = 200
LIST_REMEDY = 'list = "marked" under [stand] of area.toml'  # a command says it its own way
NO_MARK = (
    f"add a column mark (cut or leave) to {{name}}, or {LIST_REMEDY} where the list holds the "
    "marked trees only"
)
NO_MARK_PHONE = (
    f"add {LIST_REMEDY} where the phone holds the marked trees only, or say cut or leave in every "
    'note, like "37 RO 18 2, cut"'
)


def trees_from_cells(
    cells: Cells,
    xy_m: tuple[Floats, Floats],
    position_error_m: float,
    *,
    full_list: bool,
    accuracy_m: float = 0.0,
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
    accuracy_m : float, optional
        How far off the change of CRS may be; widens every position error.

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
    errors = _figures(cells, "position_error_m")
    logs = _figures(cells, "logs")
    defect = _figures(cells, "defect_pct")
    lean = _figures(cells, "lean_deg")
    azimuth = _figures(cells, "lean_azimuth_deg")
    grades = _grades(cells, found)
    _stems(cells, dbh_cm, height_m, logs)
    cells.stop_if_faulty()
    error_m = np.where(np.isnan(errors), position_error_m, errors)
    trees = Trees(
        tree_id=ids,
        x=xy_m[0],
        y=xy_m[1],
        species=tuple(cells.words("species")),
        dbh_cm=dbh_cm,
        height_m=height_m,
        marked=marked,
        keep=keep,
        hazard=hazard,
        position_error_m=np.hypot(error_m, accuracy_m) if accuracy_m > 0 else error_m,
        lean_deg=lean,
        lean_azimuth_deg=azimuth,
        logs=logs,
        defect_pct=defect,
        full_list=full_list,
        table=cells.table,
        log_grade=grades,
    )
    return trees, tuple(found)


def _figures(cells: Cells, column: str, factor: float = 1.0) -> Floats:
    """Take a column of numbers within its bounds."""
    least, most = BOUNDS[column]
    return cells.numbers(column, least=least, most=most, factor=factor)


def _ids(cells: Cells, found: list[Finding]) -> tuple[str, ...]:
    """Take the painted numbers; each once."""
    if "tree_id" not in cells.table:
        near = near_miss("tree_id", cells.table.columns)
        hint = f' (is it the column "{near}"? call it tree_id)' if near else ""
        found.append(
            Finding(
                "tree_ids",
                "caution",
                f"{cells.name} has no column tree_id{hint}; trees are numbered 1 to "
                f"{len(cells.table)} in file order. Paint numbers and write them in.",
                "trees",
                cells.name,
            )
        )
        return tuple(str(n + 1) for n in range(len(cells.table)))
    ids = cells.words("tree_id")
    for row, name in enumerate(ids):
        if not name:
            cells.faults.append(f"{cells.lines[row]}: tree_id is blank")
        elif len(name) > LONGEST_ID:
            cells.faults.append(
                f"{cells.lines[row]}: tree_id {name[:20]!r}... has over {LONGEST_ID} signs"
            )
        elif not name.isprintable():
            cells.faults.append(
                f"{cells.lines[row]}: tree_id {name!r} holds signs that cannot be printed"
            )
    for name, count in Counter(ids).items():
        if count > 1 and name:
            at = [cells.lines[row].rsplit(" ", 2) for row, n in enumerate(ids) if n == name]
            where = f"{at[0][1]}s {listed((line[2] for line in at[:-1]), 5)} and {at[-1][2]}"
            cells.faults.append(
                f"{cells.name}: tree_id {name} stands on {where}; give each tree its own"
            )
    return tuple(ids)


def _marks(cells: Cells, full_list: bool, found: list[Finding]) -> NDArray[np.bool_]:
    """Take who is cut; never guess it."""
    n = len(cells.table)
    if "mark" not in cells.table:
        if full_list:
            near = near_miss("mark", cells.table.columns)
            hint = f' (is it the column "{near}"? call it mark)' if near else ""
            remedy = NO_MARK_PHONE if cells.phone else NO_MARK.format(name=cells.name)
            cells.faults.append(f"{cells.name} does not say which trees are cut{hint}: {remedy}")
        return _not_against(cells, np.ones(n, dtype=bool), [True] * n, found)
    marked = np.zeros(n, dtype=bool)
    for row, word in enumerate(cells.words("mark")):
        if word.lower() == "cut":
            marked[row] = True
        elif not word:
            marked[row] = not full_list
        elif word.lower() != "leave":
            cells.faults.append(f'{cells.lines[row]}: mark {word!r} must be "cut" or "leave"')
    unsaid = [not word for word in cells.words("mark")]
    marked = _not_against(cells, marked, unsaid, found)
    blank = sum(no and (full_list or cut) for no, cut in zip(unsaid, marked.tolist(), strict=True))
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


def _not_against(
    cells: Cells, marked: NDArray[np.bool_], unsaid: list[bool], found: list[Finding]
) -> NDArray[np.bool_]:
    """Leave what a note says not to cut where the mark does not say; where it does, tell."""
    spared: list[str] = []
    doubted: list[str] = []
    ids = (
        cells.words("tree_id")
        if "tree_id" in cells.table
        else [str(n + 1) for n in range(len(marked))]
    )
    for row, note in enumerate(cells.words("note")):
        against = against_cutting(note) if marked[row] and not cells.phone else None
        if against is None or not against.plain:
            continue
        marked[row] = not unsaid[row]
        (spared if unsaid[row] else doubted).append(f"{ids[row]} ({shown(against.words)})")
    for rows, what in ((spared, "taken as leave trees"), (doubted, "cut, as their mark says")):
        if rows:
            found.append(
                Finding(
                    "notes_against_cutting",
                    "caution",
                    f"{cells.name}: notes speak against cutting: {listed(rows, MOST_NAMED)}; these "
                    f"are {what}. Settle each, and say cut or leave in the column mark.",
                    "trees",
                    cells.name,
                    value=float(len(rows)),
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
        near = near_miss("dbh", cells.table.columns)
        if near:
            cells.faults.append(
                f'{cells.name}: the column "{near}" does not say its unit; call it dbh_in '
                "(inches) or dbh_cm"
            )
        else:
            have = listed([str(c) for c in cells.table.columns], 12)
            cells.faults.append(
                f"{cells.name} has neither dbh_in nor dbh_cm; it has {have}. Name the diameter so"
            )
        return np.full(len(cells.table), np.nan)
    inches = _figures(cells, "dbh_in", 100 * INCH_M)
    centimetres = _figures(cells, "dbh_cm")
    return _either(cells, centimetres, inches, "dbh_in and dbh_cm", 1.5)


def _height(cells: Cells) -> Floats:
    """Take heights, metres."""
    feet = _figures(cells, "height_ft", FOOT_M)
    metres = _figures(cells, "height_m")
    return _either(cells, metres, feet, "height_ft and height_m", 1.0)


def _reasons(
    cells: Cells, column: str, known: frozenset[str], found: list[Finding]
) -> tuple[str, ...]:
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
                f"{cells.name}: {column} {listed(strange)} is no word known here "
                f"({', '.join(sorted(known))}); it counts in full.",
                "trees",
                cells.name,
            )
        )
    return tuple(words)


def _stems(cells: Cells, dbh_cm: Floats, height_m: Floats, logs: Floats) -> None:
    """Refuse heights below breast height, and logs that do not fit their tree."""
    try:
        check_stems(dbh_cm, height_m, logs, rows=cells.lines)
    except InputFaults as faults:
        cells.faults += faults.faults


def _grades(cells: Cells, found: list[Finding]) -> tuple[str, ...]:
    """Take grades; a word not known is kept and asked about, with its lines."""
    if "log_grade" not in cells.table:
        return ()
    words = [
        re.sub(r"\.0$", "", word.lower()) for word in cells.words("log_grade")
    ]  # a spreadsheet may write 1.0
    lines: dict[str, list[str]] = {}
    for row, word in enumerate(words):
        if word and word not in GRADES:
            lines.setdefault(word, []).append(cells.lines[row].rsplit(" ", 1)[-1])
    if lines:
        told = listed((f'"{w}" ({listed(at, 5)})' for w, at in sorted(lines.items())), 6)
        found.append(
            Finding(
                "log_grade_unknown",
                "caution",
                f"{cells.name}: log_grade {told} is no grade known here "
                f"({', '.join(sorted(GRADES))}); its trees are summed under that name as saw "
                "timber. In brackets: the lines.",
                "trees",
                cells.name,
                value=float(sum(len(at) for at in lines.values())),
            )
        )
    return tuple(words)
