"""Trails that are flagged or opened already: the lines of one file, each with its name.

How they hang together is settled in `layout.frozen`; here they are only read.
"""

import itertools
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Literal

import pyogrio
import shapely
from shapely.geometry import LineString

from layout import track_types
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.layer_shapes import Wanted
from layout.read_features import cell, metres, track_type, word
from layout.read_vector import Layer, split_name
from layout.records import TrailKind
from layout.settings import AreaSettings
from layout.site import NamedLine

ReadLayer = Callable[[str, str, str, Wanted], Layer]

SHORTEST_M = 3.0
BREAK_M = 5.0  # a walked track may break off this far and go on; ours
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
    layers = [layer, *(read("trails", "fixed", other, "line") for other in _routes(folder, text))]
    for layer in layers:
        found += layer.findings
        for row in range(len(layer.table)):
            if track_type(layer, row) in track_types.NO_TRAIL:
                continue
            try:
                lines.append(_line(layer, row, where, found))
            except InputError as fault:
                faults.append(str(fault))
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
    line = _whole(layer.shapes[row], where, place, found)
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
    )


def _whole(
    shape: shapely.geometry.base.BaseGeometry, where: str, place: str, found: list[Finding]
) -> LineString:
    """Join the pieces of a walked line in their order, where the breaks are short."""
    parts = [part for part in shapely.get_parts(shape) if part.length > 0]
    if not parts:
        raise InputError(f"{where} {place} has no length; draw it again or take it out")
    points = list(parts[0].coords)
    gaps = [
        shapely.Point(a.coords[-1]).distance(shapely.Point(b.coords[0]))
        for a, b in itertools.pairwise(parts)
    ]
    for part, gap in zip(parts[1:], gaps, strict=True):
        if gap > BREAK_M:
            x, y = part.coords[0]
            raise InputError(
                f"{where} {place} breaks off and goes on {gap:.0f} m away, at {x:.0f}, {y:.0f}; "
                "draw it as one line, or give each piece a row and a name of its own"
            )
        points += part.coords
    if gaps:
        found.append(
            Finding(
                "fixed_joined",
                "caution",
                f"{place}: {len(parts)} pieces of the walked line were joined; the widest break "
                f"is {max(gaps):.1f} m.",
                "input",
                place,
                value=max(gaps),
                limit=BREAK_M,
                unit="m",
                source="ours, no source",
            )
        )
    return LineString(shapely.get_coordinates(shapely.remove_repeated_points(
        LineString(points), 1e-6
    )))  # fmt: skip


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
