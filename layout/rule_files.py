"""Streamside rule files: the ones that come with the package, and one's own.

A file is TOML with ``format = 1``, a header (name, title, jurisdiction,
local_name, status, optional note) and one ``[[row]]`` for each group of water
classes and slopes; the keys of a row are the fields of `layout.water_rules.Row`.
What a rule does not say is left out of its file, never guessed.
"""

import itertools
import math
import tomllib
from collections.abc import Callable, Mapping
from importlib import resources
from pathlib import Path
from typing import Any

from layout.errors import InputError, InputFaults
from layout.water_rules import STATUSES, STRICTEST_CLASS, Row, Rule

NO_RULE_CHOSEN = "no-rule-chosen"  # the file used when the owner has picked none


def rule_names() -> tuple[str, ...]:
    """List the rules that come with the package, by name."""
    folder = resources.files("layout").joinpath("rules")
    return tuple(sorted(p.name[:-5] for p in folder.iterdir() if p.name.endswith(".toml")))


def load_rule(name_or_path: str | Path, folder: Path | None = None) -> Rule:
    """Read a rule by its name, or from a file of one's own.

    Parameters
    ----------
    name_or_path : str or Path
        Name of a rule that comes with the package, or a path ending in ``.toml``.
    folder : Path, optional
        What a relative path starts from; the current folder when left out.

    Returns
    -------
    Rule
        The checked rule.

    Raises
    ------
    InputError
        If there is no such rule or the file cannot be read.
    InputFaults
        If its content is wrong: every fault with file, row, key and what to do.
    """
    text = str(name_or_path)
    if text.endswith(".toml"):
        path = (folder or Path()) / text
        try:
            raw = path.read_bytes()
        except OSError as fault:
            msg = f"rule file {text} cannot be read ({fault.strerror}); check the path"
            raise InputError(msg) from fault
        return parse_rule(raw, text)
    if text not in rule_names():
        msg = (
            f'there is no rule "{text}"; known are {", ".join(rule_names())}. '
            "A file of your own is given by a path that ends in .toml"
        )
        raise InputError(msg)
    shown = f"{text}.toml"
    rule = parse_rule(resources.files("layout").joinpath("rules", shown).read_bytes(), shown)
    if rule.name != text:
        msg = f'{shown}: name is "{rule.name}"; a rule is named as its file, "{text}"'
        raise InputError(msg)
    return rule


def _number(low: float, high: float = math.inf) -> Callable[[Any], str]:
    def fault(value: Any) -> str:
        if isinstance(value, bool) or not isinstance(value, int | float):
            return "must be a plain number, in feet or percent as the key's ending says"
        if not (math.isfinite(value) and low <= value <= high):
            return (
                f"must be {low:g} or more" if high == math.inf else f"must be {low:g} to {high:g}"
            )
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
    "retention": _words,
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
        If anything is wrong: every fault with file, row, key and what to do.
    """
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        msg = f"{shown}: not a TOML file ({fault}); mend that place"
        raise InputFaults([msg]) from fault
    faults = _header_faults(data, shown)
    rows: list[Row] = []
    tables = data.get("row", [])
    if not isinstance(tables, list) or not all(isinstance(t, dict) for t in tables):
        faults.append(f"{shown}: row must be written as [[row]], once for each row")
    else:
        if not tables:
            faults.append(f"{shown}: has no [[row]]; give at least one")
        for number, table in enumerate(tables, start=1):
            found = _row_faults(table, f"{shown}, row {number}")
            faults += found
            if not found:
                rows.append(_row(table))
    if not faults:
        faults += _slope_faults(rows, shown)
    if faults:
        raise InputFaults(faults)
    header = {key: str(data[key]) for key in _HEADER_NEEDS}
    return Rule(rows=tuple(rows), path=shown, note=str(data.get("note", "")), **header)


def _header_faults(data: dict[str, Any], shown: str) -> list[str]:
    faults = []
    if data.get("format") != 1 or isinstance(data.get("format"), bool):
        faults.append(f"{shown}: format must be 1; write format = 1 on the first line")
    for key in _HEADER_NEEDS:
        if key not in data:
            faults.append(f"{shown}: {key} is missing; add {key} to the header")
        elif _words(data[key]):
            faults.append(f"{shown}: {key} {_words(data[key])}")
    for key in data:
        if key not in _HEADER_NEEDS + _HEADER_MAY:
            faults.append(f"{shown}: unknown key {key}; did you mean it for a [[row]]?")
    return faults


def _row_faults(table: dict[str, Any], where: str) -> list[str]:
    faults = [f"{where}: {key} is missing; add it" for key in _ROW_NEEDS if key not in table]
    for key, value in table.items():
        if key not in _ROW_KEYS:
            faults.append(f"{where}: unknown key {key}; known are {', '.join(_ROW_KEYS)}")
        elif fault := _ROW_KEYS[key](value):
            faults.append(f"{where}: {key} = {value!r} {fault}")
    if faults:
        return faults
    for low, high in (("slope_min_pct", "slope_max_pct"), ("min_ft", "max_ft")):
        if table.get(low, 0.0) >= table.get(high, math.inf):
            faults.append(f"{where}: {low} must be less than {high}; correct one of them")
    return faults


def _row(table: dict[str, Any]) -> Row:
    names = table["water_class"]
    values: dict[str, Any] = {
        key: float(value)
        if isinstance(value, int | float) and not isinstance(value, bool)
        else value
        for key, value in table.items()
    }
    values["water_class"] = tuple(names) if isinstance(names, list) else (names,)
    return Row(**values)


def _slope_faults(rows: list[Row], shown: str) -> list[str]:
    """Find slopes that no row, or two rows, speak of."""
    faults = []
    rule = Rule("", "", "", "", "", tuple(rows))
    if STRICTEST_CLASS not in rule.classes:
        faults.append(
            f"{shown}: no row has water_class {STRICTEST_CLASS}; add one, "
            "since water of an unknown class counts as that"
        )
    for name in rule.classes:
        mine = rule.rows_for(name)
        if mine[0].slope_min_pct > 0:
            faults.append(
                f"{shown}: {name} has no row for slopes under {mine[0].slope_min_pct:g} %; "
                "set slope_min_pct of its gentlest row to 0"
            )
        if mine[-1].slope_max_pct < math.inf:
            faults.append(
                f"{shown}: {name} has no row for slopes over {mine[-1].slope_max_pct:g} %; "
                "leave slope_max_pct out of its steepest row"
            )
        for lower, upper in itertools.pairwise(mine):
            if lower.slope_max_pct != upper.slope_min_pct:
                faults.append(
                    f"{shown}: {name} has rows to {lower.slope_max_pct:g} % and from "
                    f"{upper.slope_min_pct:g} %; let slope_max_pct and slope_min_pct meet"
                )
        if len({(row.measured, row.slope_of) for row in mine}) > 1:
            faults.append(f"{shown}: the rows of {name} differ in measured or slope_of; use one")
    return faults
