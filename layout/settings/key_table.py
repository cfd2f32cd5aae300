"""Every key of area.toml as a row of words; the docs and ``skidway keys`` print it."""

from collections.abc import Iterator
from dataclasses import astuple, dataclass
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from layout.settings.fields import extra_of, literal_words
from layout.settings.model import AreaSettings
from layout.settings.toml_text import toml_of

UNIT_WORDS = {"m2": "m^2", "m2/m": "m^2/m", "min/m3": "min/m^3", "m2/ha": "m^2/ha", "m3": "m^3"}


@dataclass(frozen=True, slots=True)
class KeyRow:
    """One key in words."""

    table: str
    key: str
    unit: str
    default: str
    bounds: str
    caution: str
    source: str
    text: str

    def cells(self) -> tuple[str, ...]:
        """Give the row for a table."""
        return astuple(self)

    def line(self) -> str:
        """Give the row as two lines for a terminal."""
        parts = [f"default {self.default}" if self.default else "no default"]
        parts += [f"bounds {self.bounds}"] if self.bounds else []
        parts += [f"caution {self.caution}"] if self.caution else []
        parts += [self.source]
        unit = f" ({self.unit})" if self.unit else ""
        return f"  {self.key}{unit}: {self.text}\n      {'; '.join(parts)}"


def key_rows() -> tuple[KeyRow, ...]:
    """List every key, table by table, in the order of the models."""
    return tuple(_rows(AreaSettings, ()))


def _rows(model: type[BaseModel], path: tuple[str, ...]) -> Iterator[KeyRow]:
    """Walk a table's keys, then its sub-tables'."""
    tables: list[tuple[str, type[BaseModel]]] = []
    for name, info in model.model_fields.items():
        key = info.alias or name
        if isinstance(info.annotation, type) and issubclass(info.annotation, BaseModel):
            tables.append((key, info.annotation))
            continue
        extra = extra_of(info)
        unit = str(extra.get("unit", ""))
        yield KeyRow(
            ".".join(path),
            key,
            UNIT_WORDS.get(unit, unit),
            _default(info, extra),
            _bounds(info, extra),
            str(extra.get("caution", "")),
            str(extra.get("source", "")),
            str(info.description or ""),
        )
    for key, sub in tables:
        yield from _rows(sub, (*path, key))


def _default(info: FieldInfo, extra: dict[str, Any]) -> str:
    """Write a default as area.toml would hold it."""
    if info.is_required():
        return "(must be given)"
    if info.default_factory is not None:
        return "by preset or source"
    shown = extra.get("shown", info.default)
    if shown is None or shown is PydanticUndefined or shown in ("", ()):
        return ""
    return toml_of(shown)


def _bounds(info: FieldInfo, extra: dict[str, Any]) -> str:
    """Write bounds, or the words a key takes."""
    words = [w for w in literal_words(info.annotation) if w != ""]
    if words:
        return " | ".join(toml_of(word) for word in words)
    low = high = ""
    for rule in info.metadata:
        for name in ("gt", "ge"):
            if getattr(rule, name, None) is not None:
                low = f"{'over ' if name == 'gt' else ''}{getattr(rule, name):.4g}"
        if getattr(rule, "le", None) is not None:
            high = f"{rule.le:.4g}"
    for name, bound in extra.get("bounds", {}).items():
        low, high = (f"over {bound:.4g}", high) if name == "gt" else (low, f"{bound:.4g}")
    if not (low or high):
        return ""
    return (
        f"{low or 'any'} to {high or 'any'} {UNIT_WORDS.get(extra['unit'], extra['unit'])}".strip()
    )
