"""area.toml from disk to settings: every fault of it told at once."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.settings.faults import fault_lines, python_names, table_of
from layout.settings.model import AreaSettings
from layout.settings.sense import settings_findings

LARGEST_TOML_BYTES = 1_000_000
LONGEST_TEXT = 1000
NAME_OF_FILE = "area.toml"


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
        What was taken on the way (a grade in degrees, a force given as mass),
        and what the settings say of the machine and the crew.

    Raises
    ------
    InputError
        If the file cannot be read as TOML.
    InputFaults
        One line a fault, each naming file, table and key.
    """
    return settings_from(read_toml(path), path.name)


def settings_file(path: Path) -> Path:
    """Find area.toml from what the user named.

    Raises
    ------
    InputError
        If there is no such folder or file.
    """
    if path.is_dir():
        file = path / NAME_OF_FILE
        if not file.is_file():
            raise InputError(f"{path}: no {NAME_OF_FILE} in this folder; is it the right one?")
        return file
    if not path.exists():
        raise InputError(
            f"{path}: no such folder or file; name the folder that holds {NAME_OF_FILE}"
        )
    return path


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file into plain tables.

    Raises
    ------
    InputError
        One line: no such file, not text, not TOML.
    """
    try:
        size = path.stat().st_size
        if size > LARGEST_TOML_BYTES:
            msg = f"{path.name}: {size:,} bytes is no settings file; is it the right one?"
            raise InputError(msg)
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(
            f"{path}: no such file; name the folder that holds {NAME_OF_FILE}, or the file itself"
        ) from None
    except UnicodeDecodeError:
        raise InputError(f"{path.name}: not UTF-8 text; save it as UTF-8") from None
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror})") from None
    try:
        return tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError(f"{path.name}: not readable as TOML: {error}") from None


def settings_from(
    raw: dict[str, Any], name: str = NAME_OF_FILE
) -> tuple[AreaSettings, tuple[Finding, ...]]:
    """Check plain tables, as a TOML file gives them.

    Parameters
    ----------
    raw : dict
        Tables by name, keys as area.toml writes them.
    name : str
        The file that faults are told of.

    Returns
    -------
    settings : AreaSettings
    findings : tuple of Finding

    Raises
    ------
    InputFaults
        One line a fault.
    """
    context: dict[str, Any] = {}
    faults = [*python_names(raw, name), *_unfit_text(raw, name)]
    try:
        settings = AreaSettings.model_validate(raw, context=context)
    except ValidationError as error:
        raise InputFaults([*faults, *fault_lines(error.errors(), raw, name)]) from None
    if faults:
        raise InputFaults(faults)
    notes = tuple(
        Finding(
            code="settings_note",
            level="ok",
            message=f"{name} [{table_of(model)}] {key}: {note}",
            subject_layer="settings",
            subject_id=f"{table_of(model)}.{key}",
        )
        for model, key, note in context.get("notes", [])
    )
    return settings, notes + settings_findings(settings)


def _texts(value: object, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """Walk every text of the file with its place."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _texts(inner, (*path, str(key)))
    elif isinstance(value, list):
        for inner in value:
            yield from _texts(inner, path)
    elif isinstance(value, str):
        yield path, value


def _unfit_text(raw: dict[str, Any], name: str) -> list[str]:
    """Refuse texts no key may hold: virtual file systems, control signs, whole books."""
    faults = []
    for path, text in _texts(raw, ()):
        *tables, key = path or ("",)
        table = f" [{'.'.join(tables)}]" if tables else ""
        place = f"{name}{table} {key}:"
        if text.lstrip().lower().startswith("/vsi"):
            faults.append(f"{place} {text[:60]!r} is a virtual file path; name an ordinary file")
        elif len(text) > LONGEST_TEXT:
            faults.append(f"{place} {len(text):,} signs are too many; {LONGEST_TEXT:,} at most")
        elif any(ord(sign) < 32 and sign not in "\n\t" for sign in text):
            faults.append(f"{place} holds a control sign; write it as plain text")
    return faults
