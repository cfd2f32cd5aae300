"""Settings: those that differ from their default, and those in use that nobody has verified."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layout.outputs.report.setting_values import said
from layout.outputs.report.tables import Column, table
from layout.outputs.report.tags import Markup, Piece, bullets, folded, join, section, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.settings.fields import extra_of
from layout.units import Units

UNVERIFIED = ("unverified", "memory")  # how a source says that it was not read
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Used:
    """One key: what the plan used, what it would be if left out, and where that comes from."""

    key: str
    value: str
    default: str
    differs: bool
    given: bool  # the user wrote it, were it the default's own number
    unverified: bool


def part(tally: Tally) -> Markup:
    """Write the part.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup
    """
    used = tuple(keys(tally.plan.area.settings, tally.units))
    listed: list[list[Piece]] = [[u.key, u.value, u.default] for u in used if u.differs]
    columns = (
        Column(say("report_col_key")),
        Column(say("report_col_used")),
        Column(say("report_col_default")),
    )
    return section(
        "settings",
        say("report_settings"),
        table(say("report_settings_cap"), columns, listed)
        if listed
        else tag("p", say("report_settings_default")),
        _open(used),
    )


def _open(used: tuple[Used, ...]) -> Markup | None:
    """List the defaults in use whose source was not read, by table."""
    tables: dict[str, list[str]] = defaultdict(list)
    count = 0
    for one in used:
        if one.unverified and not one.differs and not one.given:
            head, _, key = one.key.rpartition("] ")
            tables[f"{head}]"].append(f"{key} {one.value}")
            count += 1
    if not count:
        return None
    return join(
        tag("h3", say("report_open_settings", count=count)),
        tag("p", say("report_open_settings_lead")),
        folded(
            say("report_open_settings_fold"),
            bullets((tag("strong", name), " ", ", ".join(said)) for name, said in tables.items()),
            printed=True,
        ),
    )


def keys(model: BaseModel, units: Units, path: tuple[str, ...] = ()) -> Iterator[Used]:
    """Give every key that has a default, table by table.

    Parameters
    ----------
    model : pydantic model
        Read settings, or a table of them.
    units : {"us", "metric"}
        The user's units.
    path : tuple of str, optional
        Names of the tables above.

    Yields
    ------
    Used
        Keys that must be given have no default and are left out.
    """
    for name, info in type(model).model_fields.items():
        value, key = getattr(model, name), info.alias or name
        if isinstance(value, BaseModel) and not _is_place(info):
            yield from keys(value, units, (*path, key))
            continue
        if info.is_required() or name == "format":
            continue
        extra = extra_of(info)
        default = info.get_default(
            call_default_factory=True, validated_data={k: getattr(model, k) for k in model.__dict__}
        )
        kind = str(extra.get("kind") or extra.get("unit", ""))
        shown = str(extra.get("shown", ""))
        source = str(extra.get("source", "")).lower()
        yield Used(
            f"[{'.'.join(path)}] {key}" if path else key,
            said(value, kind, units, shown),
            said(default, kind, units, shown),
            not _same(value, default),
            name in model.model_fields_set,
            any(word in source for word in UNVERIFIED),
        )


def _is_place(info: FieldInfo) -> bool:
    """Tell a key that holds a place in degrees, which is one value, from a table."""
    return not (isinstance(info.annotation, type) and issubclass(info.annotation, BaseModel))


def _same(a: object, b: object) -> bool:
    """Compare two values; lengths that differ by less than rounding are the same."""
    if isinstance(a, bool) or isinstance(b, bool):
        return a is b
    if isinstance(a, int | float) and isinstance(b, int | float):
        return math.isclose(a, b, rel_tol=SAME)
    if isinstance(a, tuple) and isinstance(b, tuple):
        return len(a) == len(b) and all(_same(x, y) for x, y in zip(a, b, strict=True))
    return a == b
