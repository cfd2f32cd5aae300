"""Trails that are flagged or opened already: the lines of one file, each with its name.

How they hang together is settled in `layout.frozen`; here they are only read.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal

import pyogrio

from layout import track_types
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.read_features import cell, metres, track_type, word
from layout.read_lines import walked_error_m, walked_note, whole_line
from layout.read_vector import Layer, split_name
from layout.records import TrailKind
from layout.settings import AreaSettings
from layout.shape_kinds import Wanted
from layout.site import NamedLine

ReadLayer = Callable[[str, str, str, Wanted], Layer]

SHORTEST_M = 3.0
LONGEST_NAME = 40
MAIN_NAME = "M"
KINDS: dict[str, TrailKind | Literal[""]] = {
    "": "", "main": "main", "main_trail": "main", "spur": "spur",
}  # fmt: skip
TYPES: dict[str, TrailKind] = {track_types.MAIN_TRAIL: "main", track_types.SPUR: "spur"}
ENDS: dict[str, Literal["first", "last", ""]] = {
    "": "", "first": "first", "start": "first", "last": "last", "end": "last",
}  # fmt: skip


def fixed_lines(
    settings: AreaSettings, read: ReadLayer, folder: Path, name: str
) -> tuple[tuple[NamedLine, ...], tuple[Finding, ...]]:
    """Take the trails of ``[trails] fixed``, in the order of the file.

    Parameters
    ----------
    settings : AreaSettings
    read : callable
        Reads a layer: table, key, text, kind of shapes wanted.
    folder : Path
        The area's folder.
    name : str
        The settings file, for messages.

    Returns
    -------
    lines : tuple of NamedLine
        A track and a route of a GPX file count alike; a track that says it is no
        trail stays out. No name is used twice.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        If a line is in pieces, too short, or named like another; one line a fault.
    """
    text = settings.trails.fixed
    if not text:
        return (), ()
    where = f"{name} [trails] fixed:"
    lines: list[NamedLine] = []
    found: list[Finding] = []
    faults: list[str] = []
    layer = read("trails", "fixed", text, "line")
    routes = _routes(folder, text)
    layers = [layer, *(read("trails", "fixed", other, "line") for other in routes)]
    for layer in layers:
        # Routes beside tracks are read as well, so nothing is passed over.
        found += [f for f in layer.findings if f.code != "layer_part" or not routes]
        for row in range(len(layer.table)):
            if track_type(layer, row) in track_types.NO_TRAIL:
                continue
            try:
                lines.append(_line(layer, row, where, found))
            except InputError as fault:
                faults.append(str(fault))
    if layer.walked:
        found.append(walked_note("fixed_walked", layer.source, layer.error_m, layer.units))
    if not lines and not faults:
        faults.append(
            f"{where} {layer.source} holds no trail, only edges to keep off; record one, or take "
            "the key out"
        )
    faults += _doubled(lines, where)
    if faults:
        raise InputFaults(faults)
    return tuple(lines), tuple(found)


def _routes(folder: Path, text: str) -> list[str]:
    """Name the routes of a GPX file that holds tracks as well; one reading takes either."""
    file, layer = split_name(text)
    path = folder / file
    if layer or path.suffix.lower() != ".gpx":
        return []
    count = {
        kind: int(pyogrio.read_info(path, layer=kind, force_feature_count=True)["features"])
        for kind in ("tracks", "routes")
    }
    return [f"{file}:routes"] if all(count.values()) else []


def _line(layer: Layer, row: int, where: str, found: list[Finding]) -> NamedLine:
    """Take one row."""
    trail_id = cell(layer, row, "trail_id", "id", track_types.WHOLE_NAME_COLUMN, "name")
    place = f"{layer.source} row {row + 1}" + (f" ({trail_id})" if trail_id else "")
    if len(trail_id) > LONGEST_NAME or not trail_id.isprintable():
        raise InputError(
            f"{where} {place}: the name is no name for a sheet; give it one of "
            f"{LONGEST_NAME} letters at most"
        )
    kind = KINDS.get(word(cell(layer, row, "kind")))
    if kind is None:
        raise InputError(
            f'{where} {place}: kind {cell(layer, row, "kind")!r} is not known; write "main" or '
            '"spur", or leave it blank'
        )
    if trail_id == MAIN_NAME and kind == "spur":
        raise InputError(
            f"{where} {place}: {MAIN_NAME} is the name of the main trail and this is a spur; "
            "give it another name"
        )
    end = ENDS.get(word(cell(layer, row, "landing_end")))
    if end is None:
        raise InputError(
            f"{where} {place}: landing_end {cell(layer, row, 'landing_end')!r} is not known; "
            'write "first" or "last", the end of the drawn line that lies nearer the landing'
        )
    line = whole_line(
        layer.shapes[row],
        where,
        place,
        found,
        code="fixed_joined",
        otherwise=", or give each piece a row and a name of its own",
        units=layer.units,
    )
    if line.length < SHORTEST_M:
        raise InputError(
            f"{where} {place} is {line.length:.1f} m long; a trail has {SHORTEST_M:g} m at least"
        )
    return NamedLine(
        trail_id=trail_id,
        line=line,
        place=place,
        kind="main" if trail_id == MAIN_NAME else kind or TYPES.get(track_type(layer, row), ""),
        width_m=metres(layer, row, "width", found),
        landing_end=end,
        walked_m=walked_error_m(layer.error_m) if layer.walked else None,
    )


def _doubled(lines: Sequence[NamedLine], where: str) -> list[str]:
    """Tell of names given twice, and of a second main trail."""
    faults = []
    names = [line.trail_id for line in lines]
    for number, line in enumerate(lines):
        if line.trail_id and line.trail_id in names[:number]:
            faults.append(f"{where} {line.place}: the name stands twice; give each trail its own")
    mains = [line for line in lines if line.kind == "main"]
    faults += [
        f"{where} {line.place} is a second main trail beside {mains[0].place}; one is planned at "
        "a time, make it a spur"
        for line in mains[1:]
    ]
    return faults
