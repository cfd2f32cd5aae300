"""The text of a new area.toml: what the user said, and every other key as a comment."""

import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layout.settings.fields import extra_of, literal_words
from layout.settings.loading import settings_from
from layout.settings.model import AreaSettings
from layout.settings.own_units import in_own_units, size_in_own_units
from layout.settings.toml_text import toml_of
from layout.units import Units

WIDTH = 100
REMARK_AT = 34  # column at which remarks begin, where the value leaves room
OPEN = "..."  # stands where a key has no default; a value must be written there
# Parts of the file, each with its tables; a table not named here follows at the end.
PARTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "What was said or found when this file was begun; look it over",
        ("area", "ground", "property", "stand", "water", "timber"),
    ),
    (
        "Your machine: weigh it, measure it, read its plates",
        ("tractor", "winch"),
    ),
    (
        "Worth filling in as soon as it is known; what is left out is proposed or printed blank",
        ("access", "landing", "main_trail"),
    ),
)
REST = "All else: the program has its own values; nothing below must be changed"
INTRO = (
    "Settings of one area for skidway. Change them with any text editor.",
    "",
    "A line that begins with # is not in force: the program then takes its own value, which the "
    "line shows, rounded. To set yours, take away the # and change the value.",
    'A quantity is text with its unit: "165 ft", "50 m", "12 %", "3.2 t".',
    'Files are named from this folder, or in full; "file.gpkg:layer" picks one layer of several. '
    'Blank ("") is none.',
    "(unverified) marks values whose source was not read. `skidway keys` lists the bounds and "
    "the source of every key.",
)


@dataclass(frozen=True, slots=True)
class Begun:
    """What a new area.toml starts from.

    Parameters
    ----------
    given : mapping of table to mapping of key to value
        Keys that are in force, values as TOML holds them; a table inside a table
        is named with a point (``soil.ruts``).
    shown : mapping of str to value
        Values to show behind a ``#`` instead of the default, by ``table.key``.
    notes : mapping of str to str
        A sentence more, by ``table`` or ``table.key``.
    """

    given: Mapping[str, Mapping[str, Any]]
    shown: Mapping[str, Any]
    notes: Mapping[str, str]


def area_text(begun: Begun) -> str:
    """Write a new area.toml.

    Parameters
    ----------
    begun : Begun
        What is in force. ``area``, ``ground`` and ``stand`` must hold the keys
        that have no default.

    Returns
    -------
    str
        The whole file. Read back it gives exactly what was given; every other
        key stands in it once, as a comment with its default in the user's units.

    Raises
    ------
    InputFaults
        If a value cannot be used: one line a fault, by table and key.
    """
    settings, _ = settings_from({"format": 1, **_nested(begun.given)})
    writer = _Writer(begun, settings.area.units)
    tables = {key: (sub, getattr(settings, key)) for key, sub in _subs(AreaSettings)}
    lines = [line for text in INTRO for line in _wrapped(text, "# ", WIDTH)]
    lines += [f"format = {settings.format}"]
    named = {table for _, part in PARTS for table in part}
    rest = tuple(table for table in tables if table not in named)
    for title, part in (*PARTS, (REST, rest)):
        lines += ["", "", f"# ---- {title} ".ljust(WIDTH - 10, "-")]
        for table in part:
            lines += writer.table(table, *tables[table])
    return "\n".join(lines) + "\n"


def _nested(given: Mapping[str, Mapping[str, Any]]) -> dict[str, Any]:
    """Put tables with a point in their name into each other."""
    out: dict[str, Any] = {}
    for path, keys in given.items():
        inner = out
        for part in path.split("."):
            inner = inner.setdefault(part, {})
        inner.update(keys)
    return out


def _subs(model: type[BaseModel]) -> Iterator[tuple[str, type[BaseModel]]]:
    """Give the tables inside a model."""
    for name, info in model.model_fields.items():
        if isinstance(info.annotation, type) and issubclass(info.annotation, BaseModel):
            yield name, info.annotation


def _wrapped(text: str, start: str, width: int) -> list[str]:
    """Break a remark into lines that begin alike."""
    if not text:
        return [start.rstrip()]
    return [start + line for line in textwrap.wrap(text, width - len(start))]


class _Writer:
    """Writes tables in one system of units."""

    def __init__(self, begun: Begun, units: Units) -> None:
        self.begun = begun
        self.units = units

    def table(self, path: str, model: type[BaseModel], values: BaseModel) -> Iterator[str]:
        """Write a table: what is in force first, then the rest, then tables inside it."""
        remark = (model.__doc__ or "").partition("\n")[0]
        note = self.begun.notes.get(path, "")
        yield ""
        yield f"[{path}]"
        yield from _wrapped(f"{remark} {note}".strip(), "# ", WIDTH)
        subs = dict(_subs(model))
        keys = {
            info.alias or name: (name, info)
            for name, info in model.model_fields.items()
            if name not in subs
        }
        given = self.begun.given.get(path, {})
        for key in [*given, *(key for key in keys if key not in given)]:
            name, info = keys[key]
            if key in given:
                start = f"{key} = {toml_of(given[key])}"
            else:
                start = f"# {key} = {self.shown(path, key, info, getattr(values, name))}"
            yield from _with_remark(start, self.remark(path, key, info))
        for name, sub in subs.items():
            yield from self.table(f"{path}.{name}", sub, getattr(values, name))

    def shown(self, path: str, key: str, info: FieldInfo, value: Any) -> str:
        """Write the value a key has where it is left out, in the user's units."""
        if f"{path}.{key}" in self.begun.shown:
            return toml_of(self.begun.shown[f"{path}.{key}"])
        extra = extra_of(info)
        default, kind = extra.get("shown"), extra.get("kind")
        if kind is None:
            blank = "" in extra.get("words", {})
            return OPEN if value is None and not blank else toml_of("" if value is None else value)
        if info.default_factory is not None:  # by preset or source: what it came to
            return toml_of(size_in_own_units(value, kind, self.units))
        if isinstance(default, list):
            return toml_of([in_own_units(text, kind, self.units) for text in default])
        if default in extra.get("words", {}):
            return toml_of(default)
        return toml_of(in_own_units(str(default), kind, self.units)) if default else OPEN

    def remark(self, path: str, key: str, info: FieldInfo) -> str:
        """Say what a key is, the words it takes, and what there is to know of this one."""
        extra = extra_of(info)
        words = [toml_of(word) for word in literal_words(info.annotation) if word != ""]
        parts = [" | ".join(words) + ":"] if words else []
        parts.append(str(info.description))
        if "unverified" in str(extra.get("source", "")):
            parts.append("(unverified)")
        parts.append(self.begun.notes.get(f"{path}.{key}", ""))
        return " ".join(part for part in parts if part)


def _with_remark(start: str, remark: str) -> list[str]:
    """Put a remark beside a key, going on below it in the same column."""
    lead = start.ljust(REMARK_AT - 2) + "  # "
    if len(lead) > WIDTH - 40:  # a long file name leaves no room beside it
        return [*_wrapped(remark, "#   ", WIDTH), start]
    rows = textwrap.wrap(remark, WIDTH - len(lead))
    below = "# ".ljust(len(lead) - 2) + "# "
    return [lead + rows[0], *(below + row for row in rows[1:])]
