"""Faults of area.toml in words: file, table, key, what is wrong, what would do."""

import difflib
from collections.abc import Iterable, Mapping
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from layout.settings.fields import extra_of, literal_words, said_bound
from layout.settings.model import AreaSettings
from layout.units import KINDS

PLACES = {"at", "gate", "meet_at", "helispot"}
LANDINGS = ", or for several landings a list of these"
EXAMPLES = {
    "name": '"North lot"',
    "units": '"us"',
    "dem": '"dem.tif"',
    "boundary": '"stand.gpkg"',
    "trees": '"trees.csv"',
}
BOUND_WORDS = {
    "greater_than_equal": ("ge", "is below the least allowed,"),
    "greater_than": ("gt", "must be more than"),
    "less_than_equal": ("le", "is above the ceiling of"),
}


def tables_of(model: type[BaseModel]) -> dict[str, type[BaseModel]]:
    """Give the sub-tables of a model by key."""
    found = {}
    for field, info in model.model_fields.items():
        kind = info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            found[info.alias or field] = kind
    return found


def keys_of(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Give the keys of a model as area.toml writes them."""
    return {info.alias or field: info for field, info in model.model_fields.items()}


def table_of(model: type[BaseModel]) -> str:
    """Give the path of a table's model in area.toml, like ``timber.min_sawlog_dbh``."""

    def search(inside: type[BaseModel], path: tuple[str, ...]) -> str:
        for key, sub in tables_of(inside).items():
            if sub is model:
                return ".".join((*path, key))
            if found := search(sub, (*path, key)):
                return found
        return ""

    return search(AreaSettings, ())


def python_names(raw: Mapping[str, Any], name: str) -> list[str]:
    """Refuse the Python names of fields in a file, where the key carries the unit as text."""

    def walk(model: type[BaseModel], table: Any, path: tuple[str, ...]) -> list[str]:
        if not isinstance(table, Mapping):
            return []
        faults = []
        subs = tables_of(model)
        for key, value in table.items():
            info = model.model_fields.get(key)
            if info is not None and info.alias and info.alias != key:
                example = KINDS[extra_of(info)["kind"]].example
                faults.append(
                    f"{_where(name, path, key)} the key is {info.alias}, with a unit, "
                    f'like {info.alias} = "{example}"'
                )
            if key in subs:
                faults += walk(subs[key], value, (*path, key))
        return faults

    return walk(AreaSettings, raw, ())


def fault_lines(details: Iterable[ErrorDetails], raw: Mapping[str, Any], name: str) -> list[str]:
    """Give one line a fault, at most one a key.

    Parameters
    ----------
    details : iterable of ErrorDetails
        What the checker found.
    raw : mapping
        The tables as the file holds them, so that messages show what was written.
    name : str
        The file's name.

    Returns
    -------
    list of str
    """
    lines: dict[tuple[str, str], list[str]] = {}
    for detail in details:
        if detail["type"] == "default_factory_not_called":
            continue  # follows from another fault of the same table
        model, path, rest = _placed(detail)
        where, text = _told(detail, model, path, rest, raw, name)
        lines.setdefault((where, "" if rest else text), [f"{where} {t}" for t in text.split("\n")])
    return [line for told in lines.values() for line in told]


def _placed(detail: ErrorDetails) -> tuple[type[BaseModel], tuple[str, ...], list[str]]:
    """Split a fault's place into its table and what stands below."""
    model: type[BaseModel] = AreaSettings
    path: list[str] = []
    rest = [str(part) for part in detail["loc"]]
    while rest and rest[0] in tables_of(model):
        model = tables_of(model)[rest[0]]
        path.append(rest.pop(0))
    return model, tuple(path), rest


def _where(name: str, path: tuple[str, ...], key: str = "") -> str:
    """Write the place of a fault: file, table, key."""
    table = f" [{'.'.join(path)}]" if path else ""
    return f"{name}{table}{f' {key}' if key else ''}:"


def _told(
    detail: ErrorDetails,
    model: type[BaseModel],
    path: tuple[str, ...],
    rest: list[str],
    raw: Mapping[str, Any],
    name: str,
) -> tuple[str, str]:
    """Say where, and what is wrong."""
    if not rest:
        table = f"{name}:"
        if detail["type"] == "value_error":
            return _where(name, path), str(detail["ctx"]["error"])
        if detail["type"] == "missing":
            must = [
                f"{k} = {EXAMPLES.get(k, '...')}"
                for k, i in keys_of(model).items()
                if i.is_required()
            ]
            return table, f"table [{'.'.join(path)}] is missing; add it with {' and '.join(must)}"
        return table, f"[{'.'.join(path)}] must be a table of keys, not {_shown(detail['input'])}"
    info = model.model_fields.get(rest[0]) or keys_of(model).get(rest[0])
    key = (info.alias or rest[0]) if info is not None else rest[0]
    if info is None:
        where = _where(name, path, key)
        if detail["type"] == "extra_forbidden":
            table_word = "table" if isinstance(detail["input"], dict) and not path else "key"
            return where, f"unknown {table_word}; {_nearest(key, model)}"
        return where, detail["msg"]
    written = _written(raw, path, key, detail["input"])
    return _where(name, path, key), _complaint(detail, info, key, written)


def _written(raw: Mapping[str, Any], path: tuple[str, ...], key: str, given: object) -> object:
    """Find what the user wrote under a key."""
    table: Any = raw
    for part in path:
        table = table.get(part, {}) if isinstance(table, Mapping) else {}
    return table.get(key, given) if isinstance(table, Mapping) else given


def _nearest(key: str, model: type[BaseModel]) -> str:
    """Name the key that was probably meant, here or in another table."""
    here = difflib.get_close_matches(key, keys_of(model), 1, 0.7)
    if here:
        return f'did you mean "{here[0]}"?'
    tables = tables_of(AreaSettings)
    for table, sub in tables.items():
        if key in keys_of(sub):
            return f"it belongs under [{table}]"
    for table, sub in tables.items():
        near = difflib.get_close_matches(key, keys_of(sub), 1, 0.85)
        if near:
            return f'did you mean "{near[0]}" under [{table}]?'
    return f"known here: {', '.join(keys_of(model))}"


def _shown(value: object) -> str:
    """Show a value briefly, as the file would."""
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _complaint(detail: ErrorDetails, info: FieldInfo, key: str, written: object) -> str:
    """Say what is wrong with one value, and what would do."""
    kind, ctx = detail["type"], detail.get("ctx", {})
    if key in PLACES:
        return (
            f"{_shown(written)} is no place; write [x, y] in the area's CRS "
            "or {lon = ..., lat = ...}"
            f"{LANDINGS if detail['loc'][0] == 'landing' else ''}"
        )
    if kind == "missing" and len(detail["loc"]) and written is detail["input"]:
        return f"missing; add it, like {key} = {EXAMPLES.get(key, '...')}"
    if kind == "value_error":
        return str(ctx["error"])
    if kind in BOUND_WORDS:
        name, words = BOUND_WORDS[kind]
        bound = said_bound(next(iter(ctx.values())), name, extra_of(info), written)
        return f"{_shown(written)}{_as_stored(written, detail)} {words} {bound}"
    if isinstance(info.default, tuple):
        return f"{_shown(written)} must be a list like {_example_list(info)}"
    if key == "format":
        return f"{_shown(written)} is not known to this version; it reads format = 1"
    if kind == "literal_error":
        return f"{_shown(written)} must be one of {_choices(info, written)}"
    for start, form in (
        ("bool", "true or false, without quotes"),
        ("int", "a whole number, without quotes"),
        ("float", "a number without a unit or quotes"),
        ("string", "text in quotes"),
        ("finite", "a number without a unit or quotes"),
        ("dict", 'names with numbers in braces, like { "sugar maple" = 600 }'),
    ):
        if kind.startswith(start):
            return f"{_shown(written)} must be {form}"
    return f"{_shown(written)} cannot be used ({detail['msg']})"


def _as_stored(written: object, detail: ErrorDetails) -> str:
    """Add what a grade in degrees comes to."""
    value = detail["input"]
    if (
        isinstance(written, str)
        and isinstance(value, float)
        and ("deg" in written or "°" in written)
    ):
        return f" (= {value:.0f} %)" if not written.startswith(f"{value:g}") else ""
    return ""


def _choices(info: FieldInfo, given: object) -> str:
    """List the words a key takes; name the nearest."""
    words = [str(word) for word in literal_words(info.annotation)]
    near = difflib.get_close_matches(str(given), [w for w in words if w], 1, 0.6)
    listed = ", ".join(f'"{word}"' for word in words if word)
    return listed + (f'; did you mean "{near[0]}"?' if near else "")


def _example_list(info: FieldInfo) -> str:
    """Show a list of the right shape."""
    shown = extra_of(info).get("shown", info.default) or ("slope-50-2-over-10",)
    return "[" + ", ".join(_shown(item) for item in shown) + "]"
