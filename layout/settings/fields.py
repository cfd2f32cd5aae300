"""How one key of area.toml is declared, and how its value is read.

A field's name is the key plus its unit; the key is the alias. Files and errors
show the key with a quantity as text; Python code passes SI numbers by field
name.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator
from pydantic_core.core_schema import ValidationInfo

from layout import units
from layout.errors import InputError

_UNIT_WORDS = {"m2": "m^2", "m3": "m^3"}  # stored units as people write them

PRACTICE = "common practice, no source"
OURS = "ours"
MEMORY = "memory: unverified"


@dataclass(frozen=True, slots=True)
class Written:
    """A value as the file holds it, under its key: not yet read."""

    value: object


class Table(BaseModel):
    """Base of all tables: unknown keys and later edits are refused."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, strict=True, allow_inf_nan=False, populate_by_name=True
    )

    @model_validator(mode="before")
    @classmethod
    def _mark_written(cls, data: Any) -> Any:
        """Wrap what stands under a key with a unit, so that it is read as text."""
        if not isinstance(data, Mapping):
            return data
        kinds = {
            info.alias: extra_of(info)["kind"]
            for info in cls.model_fields.values()
            if info.alias and extra_of(info).get("kind")
        }
        return {key: Written(value) if key in kinds else value for key, value in data.items()}

    @field_validator("*", mode="before")
    @classmethod
    def _read_written(cls, value: Any, info: ValidationInfo) -> Any:
        """Read a quantity, or every quantity of a list; lists become tuples."""
        extra = extra_of(cls.model_fields[str(info.field_name)])
        if isinstance(value, Written):
            return _read(value.value, cls, info)
        if isinstance(value, str) and value in extra.get("words", {}):
            return extra["words"][value]
        return tuple(value) if isinstance(value, list) else value


def extra_of(info: Any) -> dict[str, Any]:
    """Give what a field says of itself beyond its type and bounds."""
    extra = info.json_schema_extra
    return extra if isinstance(extra, dict) else {}


def literal_words(annotation: Any) -> list[object]:
    """List the words of a Literal, also inside a union."""
    words: list[object] = []
    for part in get_args(annotation):
        if isinstance(part, str | int):
            words.append(part)
        elif get_args(part):
            words += literal_words(part)
    return words


def _read(raw: object, table: type[Table], info: ValidationInfo) -> object:
    """Read what a key holds into the stored unit; notes go to the context."""
    extra = extra_of(table.model_fields[str(info.field_name)])
    if isinstance(raw, str) and raw in extra.get("words", {}):
        return extra["words"][raw]
    if extra.get("many"):
        if not isinstance(raw, list | tuple):
            raise ValueError(f'must be a list like ["{units.KINDS[extra["kind"]].example}"]')
        return _many(raw, table, info)
    return _one(raw, table, info)


def _many(
    raw: list[object] | tuple[object, ...], table: type[Table], info: ValidationInfo
) -> tuple[float, ...]:
    """Read a list of quantities and hold each against the bounds."""
    extra = extra_of(table.model_fields[str(info.field_name)])
    count, kind = extra.get("count"), units.KINDS[extra["kind"]]
    if not raw or (count is not None and len(raw) != count):
        many = f"{count} of them" if count else "one or more"
        raise ValueError(f'must hold {many}, like ["{kind.example}"]')
    values = tuple(_one(item, table, info) for item in raw)
    bounds = extra["bounds"]
    for item, value in zip(raw, values, strict=True):
        if value <= bounds.get("gt", float("-inf")) or value > bounds.get("le", float("inf")):
            most = said_bound(bounds.get("le", float("inf")), "le", extra, item)
            raise ValueError(
                f'"{item}" must be more than {bounds.get("gt", 0):g} and at most {most}'
            )
    return values


def said_bound(bound: float, name: str, extra: Mapping[str, Any], written: object) -> str:
    """Say a bound as it was set, and in the unit the user wrote where that is another.

    Parameters
    ----------
    bound : float
        In the stored unit.
    name : str
        ``ge``, ``gt`` or ``le``.
    extra : mapping
        What the field says of itself.
    written : object
        What the user wrote.

    Returns
    -------
    str
        Three figures at most.

    Examples
    --------
    >>> said_bound(6.096, "ge", {"kind": "length", "said": {"ge": "20 ft"}}, "1 m")
    '20 ft (6.1 m)'
    >>> said_bound(15.0, "le", {"kind": "grade", "said": {}}, "20 %")
    '15 %'
    """
    kind = units.KINDS.get(extra.get("kind", ""))
    if kind is None:
        return f"{bound:.3g} {extra.get('unit', '')}".rstrip()
    stored = _UNIT_WORDS.get(kind.stored, kind.stored)
    set_as = extra.get("said", {}).get(name) or f"{bound:.3g} {stored}"
    own = str(written).strip().lstrip("0123456789. ")
    if own in kind.factors and own != set_as.lstrip("0123456789. "):
        return f"{set_as} ({bound / kind.factors[own]:.3g} {own})"
    return str(set_as)


def _one(raw: object, table: type[Table], info: ValidationInfo) -> float:
    """Read one quantity."""
    field = table.model_fields[str(info.field_name)]
    try:
        reading = units.read(raw, extra_of(field)["kind"])
    except InputError as error:
        raise ValueError(str(error)) from None
    if reading.note and isinstance(info.context, dict):
        info.context.setdefault("notes", []).append((table, field.alias, reading.note))
    return reading.value


def quantity(
    key: str,
    default: str | Callable[[dict[str, Any]], Any] | None,
    kind: str,
    text: str,
    *,
    ge: float | str | None = None,
    le: float | str | None = None,
    gt: float | None = None,
    caution: str = "",
    source: str = PRACTICE,
    words: Mapping[str, Any] | None = None,
    many: tuple[str, ...] | None = None,
    count: int | None = None,
    infinite: bool = False,
) -> Any:
    """Declare a key that holds a quantity with a unit.

    Parameters
    ----------
    key : str
        The key in area.toml.
    default : str, callable or None
        As a user would write it; a callable gets the fields read before it.
    kind : str
        A key of ``units.KINDS``.
    text : str
        One line for the table of keys.
    ge, le, gt : float or str, optional
        Bounds, as a quantity (text) or in the stored unit.
    caution : str
        The softer tier where one exists, in words.
    source : str
        Where the default comes from.
    words : mapping of str to value, optional
        Words that stand for a value (``"all"``, a blank).
    many : tuple of str, optional
        The key holds a list; these are its default members.
    count : int, optional
        How many members the list must have.
    infinite : bool
        A word may stand for "without limit".

    Returns
    -------
    pydantic field information
    """
    extra: dict[str, Any] = {
        "kind": kind,
        "unit": units.KINDS[kind].stored,
        "source": source,
        "caution": caution,
    }
    if words:
        extra["words"] = dict(words)
    bounds: dict[str, Any] = {}
    extra["said"] = {}
    for name, bound in (("ge", ge), ("le", le), ("gt", gt)):
        if bound is not None:
            bounds[name] = units.read(bound, kind).value if isinstance(bound, str) else bound
        if isinstance(bound, str):
            extra["said"][name] = bound
    if many is not None:
        extra |= {"many": True, "shown": list(many), "bounds": bounds, "count": count}
        value: Any = tuple(units.read(item, kind).value for item in many)
        return Field(default=value, alias=key, description=text, json_schema_extra=extra)
    shared: dict[str, Any] = {"alias": key, "description": text, "json_schema_extra": extra}
    if callable(default):
        extra["shown"] = "see text"
        return Field(default_factory=default, **shared, **bounds)
    extra["shown"] = default if default is not None else ""
    if default is None:
        return Field(default=None, **shared, **bounds)
    in_words = bool(words) and default in (words or {})
    value = (words or {})[default] if in_words else units.read(default, kind).value
    if infinite:
        bounds["allow_inf_nan"] = True
    return Field(default=value, **shared, **bounds)


def plain(
    default: Any,
    text: str,
    *,
    key: str | None = None,
    ge: float | None = None,
    le: float | None = None,
    gt: float | None = None,
    caution: str = "",
    source: str = PRACTICE,
    unit: str = "",
    words: Mapping[str, Any] | None = None,
) -> Any:
    """Declare a key that holds a word, a yes or no, a count or a share."""
    bounds = {name: b for name, b in (("ge", ge), ("le", le), ("gt", gt)) if b is not None}
    extra: dict[str, Any] = {"unit": unit, "source": source, "caution": caution}
    if words:
        extra["words"] = dict(words)
    options: dict[str, Any] = {"description": text, "json_schema_extra": extra, **bounds}
    if key:
        options["alias"] = key
    if callable(default):
        extra["shown"] = "see text"
        return Field(default_factory=default, **options)
    return Field(default=default, **options)
