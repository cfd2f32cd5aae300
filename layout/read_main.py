"""The drawn main trails, one for each landing at most, as lines that start there."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout import track_types
from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.read_features import cell, track_type
from layout.read_lines import lines_of, walked_note, whole_line
from layout.read_vector import Layer, ReadLayer
from layout.settings import AreaSettings
from layout.speech import speak_length
from layout.walked_lines import doubles_back

SHORTEST_MAIN_M = 10.0  # a trail grade is measured over 10 m
NEAR_M = 20.0  # an end this near the landing may be the one that starts there; ours
EQUAL_M = 5.0  # and of two ends that differ by less neither is nearer


def main_trail_lines(
    settings: AreaSettings, read: ReadLayer, landings: Sequence[Polygon], name: str
) -> tuple[tuple[LineString | None, ...], tuple[Finding, ...]]:
    """Take the drawn main trails, landing end first.

    Parameters
    ----------
    settings : AreaSettings
    read : callable
        Reads a layer.
    landings : sequence of Polygon
        Of a line the end nearer to its landing comes first. Of several each line
        starts at one of them, and from none start two.
    name : str
        The settings file, for messages.

    Returns
    -------
    lines : tuple of LineString or None
        One a landing, and one where no landing is drawn: None where no line is.
    findings : tuple of Finding

    Raises
    ------
    InputError, InputFaults
        If the layer is no one line for each landing.
    """
    none: tuple[LineString | None, ...] = (None,) * max(len(landings), 1)
    text = settings.main_trail.line
    if not text:
        return none, ()
    where = f"{name} [main_trail] line:"
    layer = read("main_trail", "line", text, "line")
    found = list(layer.findings)
    shapes = _main_of(layer)
    if not shapes:
        raise InputError(
            f"{where} {layer.source} holds no main trail, only spurs and edges to keep off; "
            "record one, or take the key out"
        )
    if len(landings) < 2:
        landing = landings[0] if landings else None
        line = _line_of(layer, shapes, landing, where, found)
        return (line,), tuple(found)
    lines, faults = list(none), []
    for n, mine in _by_landing(layer, shapes, landings, where).items():
        try:
            lines[n] = _line_of(layer, mine, landings[n], where, found)
        except InputError as fault:
            of = f" (landing L{n + 1})"
            faults.append(f"{fault}{of}")
    if faults:
        raise InputFaults(faults)
    return tuple(lines), tuple(found)


def _by_landing(
    layer: Layer, shapes: list[BaseGeometry], landings: Sequence[Polygon], where: str
) -> dict[int, list[BaseGeometry]]:
    """Give each landing the lines of the layer that start at it."""
    out: dict[int, list[BaseGeometry]] = {}
    faults = []
    merged = lines_of(shapely.line_merge(shapely.union_all(shapes, grid_size=None)))
    if not all(shapely.is_simple(shape) for shape in shapes):  # joining would cut it
        merged = [line for shape in shapes for line in lines_of(shape)]
    for line in merged:
        ends = [Point(line.coords[k]) for k in (0, -1)]
        gap, n = min(
            (min(end.distance(landing) for end in ends), n) for n, landing in enumerate(landings)
        )
        if gap > NEAR_M:
            x, y = line.coords[0][:2]
            faults.append(
                f"{where} {layer.source} holds a line from {x:.0f}, {y:.0f} that starts at no "
                f"landing (the nearest, L{n + 1}, is {speak_length(gap, layer.units)} away); "
                "draw each main trail from its landing"
            )
        out.setdefault(n, []).append(line)
    if faults:
        raise InputFaults(faults)
    return dict(sorted(out.items()))


def _line_of(
    layer: Layer,
    shapes: list[BaseGeometry],
    landing: Polygon | None,
    where: str,
    found: list[Finding],
) -> LineString:
    """Take one main trail out of its lines, landing end first."""
    line = _one_line(layer, shapes, where, found)
    if line.length < SHORTEST_MAIN_M:
        raise InputError(
            f"{where} {layer.source} is {speak_length(line.length, layer.units)} long; grades are "
            f"measured over {speak_length(SHORTEST_MAIN_M, layer.units)}, draw it longer"
        )
    if landing is None:
        found.append(
            Finding(
                "main_trail_direction",
                "caution",
                f"No landing is drawn, so {layer.source} is taken to start at the landing.",
                "trails",
                "main",
            )
        )
        return line
    return _landing_end_first(line, landing, layer, found)


def _one_line(
    layer: Layer, shapes: list[BaseGeometry], where: str, found: list[Finding]
) -> LineString:
    """Take the one line of a main trail, every point as drawn."""
    merged = lines_of(shapely.line_merge(shapely.union_all(shapes, grid_size=None)))
    simple = all(shapely.is_simple(shape) for shape in shapes)
    if not simple:  # joining would cut it at its crossings
        merged = [line for shape in shapes for line in lines_of(shape)]
    if len(shapes) == 1 and layer.walked:
        merged = [
            whole_line(
                shapes[0], where, layer.source, found, code="main_trail_joined", units=layer.units
            )
        ]
    if len(merged) != 1:
        names = [cell(layer, row, "name") for row in range(len(layer.table))]
        names = [name for name in names if name]
        listed = f" ({', '.join(names)})" if names and layer.walked else ""
        one = f'; to take one, name it, like "{layer.source}:{names[0]}"' if listed else ""
        raise InputError(
            f"{where} {layer.source} holds {len(merged)} lines{listed} that do not join end to "
            f"end; draw the main trail as one line{one}"
        )
    if not simple:
        found.append(
            Finding(
                "main_trail_crosses",
                "caution",
                f"{layer.source} crosses itself; the loop is kept as drawn. Is it meant?",
                "trails",
                "main",
            )
        )
    line = merged[0]
    if doubles_back(np.asarray(line.coords)[:, :2]):
        raise InputError(
            f"{where} {layer.source} goes out and comes back beside itself; keep one way of it, "
            "from the landing outward"
        )
    if layer.walked:
        found.append(walked_note("main_trail_walked", layer.source, layer.error_m, layer.units))
    return line


def _landing_end_first(
    line: LineString, landing: Polygon, layer: Layer, found: list[Finding]
) -> LineString:
    """Turn a main trail so that it starts at the landing, and say when it was turned."""
    start_m, end_m = (Point(line.coords[k]).distance(landing) for k in (0, -1))
    if abs(start_m - end_m) <= EQUAL_M and max(start_m, end_m) <= NEAR_M:
        found.append(
            Finding(
                "main_trail_ends",
                "caution",
                f"Both ends of {layer.source} lie by the landing, so it is taken from the end it "
                "was drawn from. Turn it round if loads leave by the other.",
                "trails",
                "main",
                at=(float(line.coords[0][0]), float(line.coords[0][1])),
            )
        )
        return line
    if end_m >= start_m:
        return line
    found.append(
        Finding(
            "main_trail_turned",
            "ok",
            f"{layer.source} was drawn toward the landing; it is taken from the landing outward.",
            "trails",
            "main",
        )
    )
    return line.reverse()


def _main_of(layer: Layer) -> list[BaseGeometry]:
    """Give the lines that may be the main trail: where tracks say what they are, those."""
    types = [track_type(layer, row) for row in range(len(layer.table))]
    if track_types.MAIN_TRAIL in types:
        return [
            s for s, what in zip(layer.shapes, types, strict=True) if what == track_types.MAIN_TRAIL
        ]
    other = track_types.NO_TRAIL | {track_types.SPUR, track_types.OTHER_TRAIL}
    return [s for s, what in zip(layer.shapes, types, strict=True) if what not in other]
