"""The form of a rule file: what it may hold, and every fault of one that is wrong.

A file is TOML with ``format = 1``, a header (name, title, jurisdiction,
local_name, status, optional note) and one ``[[row]]`` for each group of water
classes and slopes; the keys of a row are the fields of `layout.water_rules.Row`,
and ``keep_`` before those of `layout.water_rules.Keep`.
"""

import itertools
import math
import tomllib
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from layout.errors import InputFaults
from layout.toml_lines import KeyLines
from layout.water_rules import STATUSES, STRICTEST_CLASS, Keep, Row, Rule

Where = Callable[[str], str]  # the place of a row's key


def _finite(value: float) -> bool:
    """Tell whether a number, whole ones of any length too, can be reckoned with."""
    try:
        return math.isfinite(value)
    except OverflowError:  # a whole number past the largest float
        return False


def _shown(value: Any) -> str:
    """Write a value for a message, a very long one cut short."""
    said = repr(value)
    return said if len(said) <= _SHOWN_AT_MOST else f"{said[: _SHOWN_AT_MOST - 1]}…"


def _number(low: float, high: float = math.inf, *, above: bool = False) -> Callable[[Any], str]:
    def fault(value: Any) -> str:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return "must be a plain number, in feet or percent as the key's ending says"
        if not (_finite(value) and low <= value <= high) or (above and value == low):
            if above:
                return f"must be above {low:g}, {high:g} at most"
            if high < math.inf:
                return f"must be {low:g} to {high:g}"
            return f"must be {low:g} or more" + ("" if _finite(value) else ", and not endless")
        return ""

    return fault


def _one_of(*words: str) -> Callable[[Any], str]:
    def fault(value: Any) -> str:
        return "" if value in words else f"must be one of {', '.join(words)}"

    return fault


def _yes_no(value: Any) -> str:
    return "" if isinstance(value, bool) else "must be true or false; leave it out where not known"


def _words(value: Any) -> str:
    return "" if isinstance(value, str) and value.strip() else "must be a line of text in quotes"


def _classes(value: Any) -> str:
    names = value if isinstance(value, list) else [value]
    good = bool(names) and all(isinstance(n, str) and n and n == n.strip() for n in names)
    return "" if good else 'must be a water class such as "perennial", or a list of them'


_SHOWN_AT_MOST = 60  # characters of a faulty value
KEEP = "keep_"  # before every key of what must stay, in numbers
_SHARE = _number(0, 100, above=True)
_KEEP_KEYS: Mapping[str, Callable[[Any], str]] = {
    "keep_ba_pct": _SHARE,
    "keep_volume_pct": _SHARE,
    "keep_trees_pct": _SHARE,
    "keep_cover_pct": _SHARE,
    "keep_ba_ft2_acre": _number(0, 1000, above=True),
    "keep_trees_per_100ft": _number(0, 1000, above=True),
    "keep_min_dbh_in": _number(0, 100),
}
_ROW_KEYS: Mapping[str, Callable[[Any], str]] = {
    "water_class": _classes,
    "slope_min_pct": _number(0),
    "slope_max_pct": _number(0),
    "upper_inclusive": _yes_no,
    "a_ft": _number(0, 5000),
    "b_ft_per_pct": _number(0, 100),
    "s0_pct": _number(0),
    "round_up_pct": _number(0, 100),
    "min_ft": _number(0, 5000),
    "max_ft": _number(0, 5000),
    "back_face_ft": _number(0, 5000),
    "measured": _one_of("map", "ground"),
    "slope_of": _one_of("to_water", "bank"),
    "no_machine_ft": _number(0, 5000),
    "no_bare_soil_ft": _number(0, 5000),
    "no_cut_ft": _number(0, 5000),
    "cable_may_enter": _yes_no,
    "bank_trees_leave": _yes_no,
    "stops_at_divide": _yes_no,
    "retention": _words,
    **_KEEP_KEYS,
    "status": _one_of(*STATUSES),
    "source": _words,
    "confirmed": _yes_no,
}
_ROW_NEEDS = ("water_class", "a_ft", "measured", "status", "source", "confirmed")
_HEADER_NEEDS = ("name", "title", "jurisdiction", "local_name", "status")
_HEADER_MAY = ("format", "row", "note")


def parse_rule(raw: bytes, shown: str) -> Rule:
    """Check the content of a rule file.

    Parameters
    ----------
    raw : bytes
        The file's content.
    shown : str
        What to call the file in messages.

    Returns
    -------
    Rule
        The checked rule.

    Raises
    ------
    InputFaults
        If anything is wrong: every fault with file, line, row, key and what to do.
    """
    try:
        text = raw.decode("utf-8-sig")  # some editors open a file with a mark
        data = tomllib.loads(text)
    except UnicodeDecodeError as fault:
        line = raw[: fault.start].count(b"\n") + 1
        msg = f"{shown}, line {line}: not a TOML file, as it is not UTF-8 text; save it as UTF-8"
        raise InputFaults([msg]) from fault
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as fault:
        msg = f"{shown}: not a TOML file ({fault}); mend that place"
        raise InputFaults([msg]) from fault
    lines = KeyLines(text, "row")
    faults = _header_faults(data, shown, lines)
    rows: list[tuple[Row, Where]] = []
    doubtful: set[str] = set()
    tables = data.get("row", [])
    if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
        faults.append(f"{shown}: row must be written as [[row]], once for each row")
    elif not tables:
        faults.append(f"{shown}: has no [[row]]; give at least one")
    else:
        for number, table in enumerate(tables):
            found = _row_faults(table, shown, number, lines)
            faults += found
            if not found:
                rows.append((_row(table), partial(_in_row, shown, lines, number)))
            else:
                doubtful |= _named(table)
        if rows:
            faults += _slope_faults(rows, doubtful, shown)
    if faults:
        raise InputFaults(faults)
    header = {key: str(data[key]) for key in _HEADER_NEEDS}
    whole = tuple(row for row, _ in rows)
    return Rule(rows=whole, path=shown, note=str(data.get("note", "")), **header)


def _at(shown: str, line: int | None) -> str:
    """Name the file, and the line where it is known."""
    return shown if line is None else f"{shown}, line {line}"


def _in_row(shown: str, lines: KeyLines, number: int, key: str | None = None) -> str:
    """Name the place of a row's key; rows written as one list stand on the list's line."""
    line = lines.of(number, key)
    return f"{_at(shown, lines.top('row') if line is None else line)} (row {number + 1})"


def _header_faults(data: dict[str, Any], shown: str, lines: KeyLines) -> list[str]:
    faults = []
    if data.get("format") != 1 or isinstance(data.get("format"), bool):
        where = _at(shown, lines.top("format"))
        faults.append(f"{where}: format must be 1; write format = 1 on the first line")
    for key in _HEADER_NEEDS:
        if key not in data:
            faults.append(f"{shown}: {key} is missing; add {key} to the header")
    for key, value in data.items():
        where = _at(shown, lines.top(key))
        if key not in _HEADER_NEEDS + _HEADER_MAY:
            faults.append(f"{where}: unknown key {key}; did you mean it for a [[row]]?")
        elif key in (*_HEADER_NEEDS, "note") and _words(value):
            faults.append(f"{where}: {key} {_words(value)}")
    return faults


def _row_faults(table: dict[str, Any], shown: str, number: int, lines: KeyLines) -> list[str]:
    where = partial(_in_row, shown, lines, number)
    faults = [f"{where()}: {key} is missing; add it" for key in _ROW_NEEDS if key not in table]
    for key, value in table.items():
        if key in _HEADER_NEEDS + _HEADER_MAY and key not in _ROW_KEYS:
            faults.append(f"{where(key)}: {key} belongs to the header; put it above the first row")
        elif key not in _ROW_KEYS:
            faults.append(f"{where(key)}: unknown key {key}; known are {', '.join(_ROW_KEYS)}")
        elif fault := _ROW_KEYS[key](value):
            faults.append(f"{where(key)}: {key} = {_shown(value)} {fault}")
    if faults:
        return faults
    for low, high in (("slope_min_pct", "slope_max_pct"), ("min_ft", "max_ft")):
        if table.get(low, 0.0) >= table.get(high, math.inf):
            faults.append(f"{where(high)}: {low} must be less than {high}; correct one of them")
    alone = [key for key in table if key in _KEEP_KEYS] == ["keep_min_dbh_in"]
    if alone:
        faults.append(
            f"{where('keep_min_dbh_in')}: keep_min_dbh_in says which trees count, and nothing is "
            "counted; add what must stay, such as keep_trees_per_100ft"
        )
    return faults


def _named(table: dict[str, Any]) -> set[str]:
    """Give the classes a faulty row speaks of, as far as they can be read."""
    names = table.get("water_class", [])
    return {n for n in (names if isinstance(names, list) else [names]) if isinstance(n, str)}


def _row(table: dict[str, Any]) -> Row:
    names = table["water_class"]
    values: dict[str, Any] = {
        key: float(value)
        if isinstance(value, int | float) and not isinstance(value, bool)
        else value
        for key, value in table.items()
    }
    values["water_class"] = tuple(names) if isinstance(names, list) else (names,)
    counted = {key.removeprefix(KEEP): values.pop(key) for key in _KEEP_KEYS if key in values}
    return Row(**values, keep=Keep(**counted))


def _slope_faults(placed: list[tuple[Row, Where]], doubtful: set[str], shown: str) -> list[str]:
    """Find slopes that no row, or two rows, speak of; classes with a faulty row wait."""
    faults = []
    where = {id(row): place for row, place in placed}
    rule = Rule("", "", "", "", "", tuple(row for row, _ in placed))
    if STRICTEST_CLASS not in {*rule.classes, *doubtful}:
        faults.append(
            f"{shown}: no row has water_class {STRICTEST_CLASS}; add one, "
            "since water of an unknown class counts as that"
        )
    for name in rule.classes:
        if name in doubtful:
            continue
        mine = rule.rows_for(name)
        first, last = where[id(mine[0])], where[id(mine[-1])]
        if mine[0].slope_min_pct > 0:
            faults.append(
                f"{first('slope_min_pct')}: {name} has no row for slopes under "
                f"{mine[0].slope_min_pct:g} %; set slope_min_pct of its gentlest row to 0"
            )
        if mine[-1].slope_max_pct < math.inf:
            faults.append(
                f"{last('slope_max_pct')}: {name} has no row for slopes over "
                f"{mine[-1].slope_max_pct:g} %; leave slope_max_pct out of its steepest row"
            )
        for lower, upper in itertools.pairwise(mine):
            if lower.slope_max_pct != upper.slope_min_pct:
                faults.append(
                    f"{where[id(upper)]('slope_min_pct')}: {name} has rows to "
                    f"{lower.slope_max_pct:g} % and from {upper.slope_min_pct:g} %; "
                    "let slope_max_pct and slope_min_pct meet"
                )
        for row in mine[1:]:
            if (row.measured, row.slope_of) != (mine[0].measured, mine[0].slope_of):
                key = "measured" if row.measured != mine[0].measured else "slope_of"
                faults.append(
                    f"{where[id(row)](key)}: the rows of {name} differ in measured or slope_of; "
                    "use one"
                )
    return faults
