"""area.toml from disk to settings: every fault of it told at once."""

import difflib
import tomllib
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.settings.fields import extra_of
from layout.settings.model import AreaSettings
from layout.units import KINDS

LARGEST_TOML_BYTES = 1_000_000


def load_settings(path: Path) -> tuple[AreaSettings, tuple[Finding, ...]]:
    """Read area.toml.

    Parameters
    ----------
    path : Path
        The file itself.

    Returns
    -------
    settings : AreaSettings
    findings : tuple of Finding
        What was taken on the way (a grade in degrees, a force given as mass).

    Raises
    ------
    InputFaults
        One line a fault, each naming file, table and key.
    """
    return settings_from(read_toml(path), path.name)


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file of ours into plain tables; one clear line when that fails."""
    try:
        size = path.stat().st_size
        if size > LARGEST_TOML_BYTES:
            raise InputError(f"{path.name}: {size:,} bytes is no settings file; is it the right one?")
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(
            f"{path}: no such file; name the folder that holds area.toml, or the file itself"
        ) from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name}: not UTF-8 text; save it as UTF-8") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"{path.name}: not readable as TOML: {error}") from None


def settings_from(
    raw: dict[str, Any], name: str = "area.toml"
) -> tuple[AreaSettings, tuple[Finding, ...]]:
    """Check plain tables; `name` is the file that faults are told of."""
    context: dict[str, Any] = {}
    faults = _python_names(AreaSettings, raw, name, ())
    try:
        settings = AreaSettings.model_validate(raw, context=context)
    except ValidationError as error:
        faults += [line for detail in error.errors() for line in _lines(detail, raw, name)]
        raise InputFaults(list(dict.fromkeys(faults))) from None
    if faults:
        raise InputFaults(faults)
    notes = tuple(
        Finding("settings_note", "ok", f"{name} {_key_of(field)}: {note}", "settings",
                _key_of(field))
        for field, note in context.get("notes", [])
    )
    return settings, notes


def _tables_of(model: type[BaseModel]) -> dict[str, type[BaseModel]]:
    """Give the sub-tables of a model by key."""
    found = {}
    for field, info in model.model_fields.items():
        kind = info.annotation
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            found[info.alias or field] = kind
    return found


def _keys(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """Give the keys of a model as area.toml writes them."""
    return {info.alias or field: info for field, info in model.model_fields.items()}


def _key_of(field: str) -> str:
    """Give the key of a field name, wherever it stands."""
    for model in _all_models(AreaSettings):
        if field in model.model_fields:
            return model.model_fields[field].alias or field
    return field


def _all_models(model: type[BaseModel]) -> list[type[BaseModel]]:
    """Walk a model and its sub-tables."""
    return [model, *(m for sub in _tables_of(model).values() for m in _all_models(sub))]


def _python_names(
    model: type[BaseModel], raw: Any, name: str, path: tuple[str, ...]
) -> list[str]:
    """Refuse the Python names of fields in a file: the key carries the unit as text."""
    if not isinstance(raw, dict):
        return []
    faults = []
    tables = _tables_of(model)
    for key, value in raw.items():
        info = model.model_fields.get(key)
        if info is not None and info.alias and info.alias != key:
            example = KINDS[extra_of(info)["kind"]].example
            faults.append(
                f'{_where(name, path, key)} the key is {info.alias}, with a unit, '
                f'like {info.alias} = "{example}"'
            )
        if key in tables:
            faults += _python_names(tables[key], value, name, (*path, key))
    return faults


def _where(name: str, path: tuple[str, ...], key: str = "") -> str:
    """Write the place of a fault: file, table, key."""
    table = f" [{'.'.join(path)}]" if path else ""
    return f"{name}{table}{f' {key}' if key else ''}:"


def _lines(detail: ErrorDetails, raw: dict[str, Any], name: str) -> list[str]:
    """Turn one fault of the checker into lines a user can act on."""
    model: type[BaseModel] = AreaSettings
    path: list[str] = []
    rest = [str(part) for part in detail["loc"]]
    while rest and rest[0] in _tables_of(model):
        model = _tables_of(model)[rest[0]]
        path.append(rest.pop(0))
    kind = detail["type"]
    if kind == "value_error" and not rest:
        text = str(detail["ctx"]["error"]) if "ctx" in detail else detail["msg"]
        return [f"{_where(name, tuple(path))} {line}" for line in text.split("\n")]
    if not rest:
        if kind == "missing":
            return [f"{name}: table [{'.'.join(path)}] is missing; add it{_needs(model)}"]
        return [f"{name}: [{'.'.join(path)}] must be a table of keys, not {_shown(detail['input'])}"]
    key = rest[0]
    info = model.model_fields.get(key) or _keys(model).get(key)
    key = (info.alias or key) if info is not None else key
    where = _where(name, tuple(path), key)
    if kind == "extra_forbidden":
        return [f"{where} unknown key; {_nearest(key, model, raw)}"]
    if info is None:
        return [f"{where} {detail['msg']}"]
    return [f"{where} {_complaint(detail, info, key)}"]


def _needs(model: type[BaseModel]) -> str:
    """Name the keys a missing table must hold."""
    must = [key for key, info in _keys(model).items() if info.is_required()]
    return f" with {' and '.join(must)}" if must else ""


def _nearest(key: str, model: type[BaseModel], raw: dict[str, Any]) -> str:
    """Name the key that was probably meant, here or in another table."""
    here = difflib.get_close_matches(key, _keys(model), 1, 0.7)
    if here:
        return f'did you mean "{here[0]}"?'
    for table, sub in _tables_of(AreaSettings).items():
        if key in _keys(sub):
            return f"it belongs under [{table}]"
    for table, sub in _tables_of(AreaSettings).items():
        near = difflib.get_close_matches(key, _keys(sub), 1, 0.85)
        if near:
            return f'did you mean "{near[0]}" under [{table}]?'
    known = ", ".join(_keys(model))
    return f"known here: {known}; take it out or correct it"


def _shown(value: object) -> str:
    """Show a value briefly, as the file would."""
    if isinstance(value, bool):
        return str(value).lower()
    text = f'"{value}"' if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


def _complaint(detail: ErrorDetails, info: FieldInfo, key: str) -> str:
    """Say what is wrong with one value, and what would do."""
    kind, ctx, extra = detail["type"], detail.get("ctx", {}), extra_of(info)
    unit = {"%": " %", "m2": " m^2"}.get(extra.get("unit", ""), f" {extra.get('unit', '')}")
    unit = unit.rstrip()
    if kind == "missing":
        return f"missing; {info.description}"
    if kind == "value_error":
        return str(ctx["error"])
    for name, word in (
        ("greater_than_equal", "is below the least allowed"),
        ("greater_than", "must be more than"),
        ("less_than_equal", "is above the ceiling of"),
    ):
        if kind == name:
            bound = next(iter(ctx.values()))
            return f"{_shown(_as_written(detail['input']))} {word} {bound:.4g}{unit}"
    if kind == "literal_error":
        return f"{_shown(detail['input'])} must be one of {_choices(info, detail['input'])}"
    if kind.startswith("bool"):
        return f"{_shown(detail['input'])} must be true or false, without quotes"
    if kind.startswith("int"):
        return f"{_shown(detail['input'])} must be a whole number, without quotes"
    if kind.startswith("float"):
        return f"{_shown(detail['input'])} must be a number without a unit or quotes"
    if kind.startswith("string"):
        return f"{_shown(detail['input'])} must be text in quotes"
    if kind in ("tuple_type", "too_long", "too_short", "missing_argument"):
        return f"{_shown(detail['input'])} must be a list like {_example_list(info)}"
    return f"{_shown(detail['input'])} cannot be used ({detail['msg']})"


def _as_written(value: object) -> object:
    """Show what the user wrote where a wrapped value comes back."""
    return getattr(value, "value", value)


def _choices(info: FieldInfo, given: object) -> str:
    """List the words a key takes, the nearest first said."""
    words = [str(word) for word in getattr(info.annotation, "__args__", ())]
    near = difflib.get_close_matches(str(given), words, 1, 0.6)
    listed = ", ".join(f'"{word}"' for word in words if word != "NoneType")
    return listed + (f'; did you mean "{near[0]}"?' if near else "")


def _example_list(info: FieldInfo) -> str:
    """Show a list of the right shape."""
    default = info.default
    if isinstance(default, tuple):
        return "[" + ", ".join(_shown(item) for item in default) + "]"
    return "[x, y] or {lon = ..., lat = ...}"
