"""Shapes as a layer holds them: of the kind wanted, and walks closed into ground."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError, InputFaults
from layout.findings import Finding
from layout.shape_kinds import DIMENSION, WORDS, Wanted, kind_of
from layout.speech import speak_area, speak_length
from layout.units import Units
from layout.walked_lines import (
    LEAP_M,
    THERE_AND_BACK_M,
    Floats,
    Place,
    Round,
    come_round,
    farthest_leap,
    ground_within,
    in_order,
    mean_width,
    without_repeats,
    without_spikes,
)

Shapes = NDArray[Any]

CLOSING_M = 20.0  # a walked boundary whose ends meet within this is closed; ours
LOOSE_SHARE = 0.05  # a loop that holds more of the ground than this is no knot; ours
LOOSE_M2 = 2000.0  # nor one of half an acre
MOST_LISTED = 5


def of_kind(
    shapes: Shapes,
    source: str,
    where: str,
    wanted: Wanted,
    found: list[Finding],
    *,
    names: Sequence[str] = (),
    walked: bool = False,
    units: Units = "metric",
) -> Shapes:
    """See that every shape is of the kind wanted; close walked boundaries.

    Parameters
    ----------
    shapes : ndarray of geometry, shape (n,)
        In a metric CRS.
    source, where : str
        File and layer, and the key that names them.
    wanted : {"polygon", "line", "point", "any"}
    found : list of Finding
        What is closed is told of here.
    names : sequence of str, optional
        What the file calls each shape; blank where it does not.
    walked : bool, optional
        Whether lines are a phone's: then what a phone does to a line is mended.
    units : {"us", "metric"}, optional
        What messages speak.

    Returns
    -------
    ndarray of geometry, shape (n,)

    Raises
    ------
    InputError, InputFaults
        If a shape is of another kind, or a line goes round no ground; one line a fault.
    """
    given = names or [""] * len(shapes)
    places = [f"row {n}{f' ({name})' if name else ''}" for n, name in enumerate(given, start=1)]
    wrong: dict[str, list[str]] = {}
    faults: list[str] = []
    out = shapes.copy()
    walks = [
        row
        for row, shape in enumerate(shapes)
        if wanted == "polygon" and kind_of(shape) == 1 and walked
    ]
    for row, shape in enumerate(shapes):
        kind = kind_of(shape)
        if wanted == "polygon" and kind == 1:
            # One line speaks for the file; of several it must be said which.
            one = len(walks) < 2 and len(shapes) == 1
            place = source if one else f"{source} {places[row]}"
            try:
                out[row] = _closed(shape, place, where, found, walked=walked, units=units)
            except InputError as fault:
                faults.append(f"{fault}{_or_one(row, walks, given, source)}")
        elif kind < 0 or (wanted != "any" and kind != DIMENSION[wanted]):
            wrong.setdefault(shape.geom_type, []).append(places[row])
    for kind_name, rows in wrong.items():
        faults.append(f"{where} {source} {_listed(rows, kind_name)}; {_needed(wanted)}")
    if not faults and len(walks) > 1:
        faults += _overlapping(out[walks], [places[row] for row in walks], source, where)
    if len(faults) == 1:
        raise InputError(faults[0])
    if faults:
        raise InputFaults(faults)
    return out


def _or_one(row: int, walks: list[int], names: Sequence[str], source: str) -> str:
    """Say how one of several walks is taken."""
    if not source.lower().endswith(".gpx"):
        return ""
    others = [names[other] for other in walks if other != row and names[other]]
    return f'; or name the one that is meant, like "{source}:{others[0]}"' if others else ""


def _listed(rows: list[str], kind: str) -> str:
    """Say which rows are of a kind."""
    if len(rows) == 1:
        return f"{rows[0]} is a {kind}"
    shown = ", ".join(row.removeprefix("row ") for row in rows[:MOST_LISTED])
    more = f" and {len(rows) - MOST_LISTED} more" if len(rows) > MOST_LISTED else ""
    return f"rows {shown}{more} are {kind}s"


def _needed(wanted: Wanted) -> str:
    """Say what would do."""
    if wanted == "any":
        return "split it into polygons, lines or points"
    return f"{WORDS[wanted]} are needed here"


def _overlapping(grounds: Shapes, places: list[str], source: str, where: str) -> list[str]:
    """Refuse walks round the same ground: a second go, or a hole, cannot be told apart."""
    faults = []
    for row, ground in enumerate(grounds):
        for before in range(row):
            shared = float(shapely.area(shapely.intersection(ground, grounds[before])))
            if shared > LOOSE_SHARE * min(ground.area, grounds[before].area):
                faults.append(
                    f"{where} {source} {places[before]} and {places[row]} go round the same "
                    "ground; keep one of them in the file (ground to leave out belongs under "
                    "[ground] keep_out)"
                )
    return faults


def _closed(
    shape: BaseGeometry,
    place: str,
    where: str,
    found: list[Finding],
    *,
    walked: bool,
    units: Units,
) -> Polygon:
    """Turn a line round a place into its polygon."""
    xy = _one_line(shape, place, where, found, walked=walked, units=units)
    if not walked:
        return _drawn(xy, place, where, found, units)
    leap = farthest_leap(xy)
    if leap.length_m > LEAP_M:
        raise InputError(
            f"{where} {place} leaps {leap.length_m / 1000:,.0f} km to {_at(leap.at)}; take that "
            "point out, or walk it again"
        )
    xy, spikes = without_spikes(xy)
    xy = _round_of(xy, place, where, found, units)
    gap_m = float(np.hypot(*(xy[-1] - xy[0])))
    walked_m = float(LineString(xy).length)
    ground = ground_within(xy)
    if mean_width(ground.ground, walked_m) < THERE_AND_BACK_M:
        raise InputError(
            f"{where} {place} goes out and comes back on itself: {speak_length(walked_m, units)} "
            f"walked round {speak_area(ground.ground.area, units)}; walk round the ground"
        )
    if ground.loose_m2 > min(LOOSE_SHARE * ground.ground.area, LOOSE_M2):
        said = f" at {_at(ground.crossing)}" if ground.crossing else ""
        raise InputError(
            f"{where} {place} crosses itself{said} and makes pieces of "
            f"{speak_area(ground.ground.area, units)} and {speak_area(ground.loose_m2, units)}; "
            "which is meant cannot be told, walk them one by one"
        )
    found.append(_told_closed(place, gap_m, units, walked=True))
    found += _told_cut(ground, spikes, place, units)
    return ground.ground


def _one_line(
    shape: BaseGeometry,
    place: str,
    where: str,
    found: list[Finding],
    *,
    walked: bool,
    units: Units,
) -> Floats:
    """Join the pieces of a line: in their order where they were walked, else end to end."""
    parts = [part for part in shapely.get_parts(shape) if part.length > 0]
    if not parts:
        raise InputError(f"{where} {place} has no length; draw or walk it again")
    if len(parts) > 1:
        merged = shapely.line_merge(shape)
        if merged.geom_type == "LineString":
            parts = [merged]
    xy, gaps = in_order(parts)
    widest = max(gaps, key=lambda gap: gap.length_m, default=None)
    most_m = CLOSING_M if walked else 0.0
    if widest is not None and widest.length_m > most_m:
        wide = f"; at {_at(widest.at)} they lie {speak_length(widest.length_m, units)} apart"
        raise InputError(
            f"{where} {place} holds lines in pieces{wide if walked else ''}; a boundary must be "
            "one closed line or polygons"
        )
    if widest is not None:
        found.append(
            Finding(
                "line_joined",
                "caution",
                f"{place}: {len(parts)} pieces of the walk were joined; the widest break is "
                f"{speak_length(widest.length_m, units)}.",
                "input",
                place,
                value=widest.length_m,
                limit=CLOSING_M,
                unit="m",
                at=widest.at,
                source="ours, no source",
            )
        )
    if len(np.unique(xy, axis=0)) < 3:
        raise InputError(
            f"{where} {place} has fewer than 3 different points and encloses nothing; draw or walk "
            "all round the ground"
        )
    return xy


def _round_of(xy: Floats, place: str, where: str, found: list[Finding], units: Units) -> Floats:
    """Take the round out of a walk whose ends do not meet."""
    gap_m = float(np.hypot(*(xy[-1] - xy[0])))
    if gap_m <= CLOSING_M:
        return xy
    first, last = come_round(xy, CLOSING_M / 2)
    left_m = sum(
        float(np.hypot(*np.diff(part, axis=0).T).sum()) for part in (xy[: first + 1], xy[last:])
    )
    if left_m == 0.0:
        raise InputError(
            f"{where} {place} is a line whose ends lie {speak_length(gap_m, units)} apart; walk it "
            f"round to the start (within {speak_length(CLOSING_M, units)}), or draw a polygon"
        )
    found.append(
        Finding(
            "walk_trimmed",
            "caution",
            f"{place}: {speak_length(left_m, units)} walked before or after the round were left "
            "out.",
            "input",
            place,
            value=left_m,
            unit="m",
            at=(float(xy[first, 0]), float(xy[first, 1])),
            source="ours, no source",
        )
    )
    return xy[first : last + 1]


def _drawn(xy: Floats, place: str, where: str, found: list[Finding], units: Units) -> Polygon:
    """Close a drawn line; what it crosses is judged with the other polygons."""
    gap_m = float(np.hypot(*(xy[-1] - xy[0])))
    if gap_m > CLOSING_M:
        raise InputError(
            f"{where} {place} is a line whose ends lie {speak_length(gap_m, units)} apart; draw it "
            f"round to the start (within {speak_length(CLOSING_M, units)}), or draw a polygon"
        )
    found.append(_told_closed(place, gap_m, units, walked=False))
    return Polygon(without_repeats(xy))


def _told_closed(place: str, gap_m: float, units: Units, *, walked: bool) -> Finding:
    """Say that a line became a polygon, and over what gap."""
    words = (
        f"a walked line was closed into a polygon over a gap of {speak_length(gap_m, units)}; "
        "a walked boundary is evidence, not a line."
        if walked
        else f"a line was closed into a polygon over a gap of {speak_length(gap_m, units)}."
    )
    return Finding(
        "line_closed",
        "caution",
        f"{place}: {words}",
        "input",
        place,
        value=gap_m,
        limit=CLOSING_M,
        unit="m",
        source="ours, no source",
    )


def _told_cut(ground: Round, spikes: Sequence[Place], place: str, units: Units) -> list[Finding]:
    """Say where a walk was mended: what was cut off, and where it crosses itself."""
    area_m2 = float(sum(part.area for part in ground.cut))
    spots = [(spot.x, spot.y) for spot in (part.representative_point() for part in ground.cut)]
    by_size = sorted(range(len(spots)), key=lambda k: -ground.cut[k].area)
    spots = [spots[k] for k in by_size] + list(spikes)
    if spots:
        many = len(spots) > 1
        where = f"in {len(spots)} places, the largest at" if many else "at"
        size = f"; {speak_area(area_m2, units)} changed" if area_m2 >= 1 else ""
        words = (
            f"knots, leaps or ways walked to and fro were taken out {where} {_at(spots[0])}{size}. "
            "Look at it."
        )
    elif ground.crossing:
        spots = [ground.crossing]
        words = (
            f"the walk crosses itself at {_at(spots[0])} (the phone lay still, or the walker came "
            "back); all it goes round counts. Look at it."
        )
    else:
        return []
    return [
        Finding(
            "walk_cleaned",
            "caution",
            f"{place}: {words}",
            "input",
            place,
            value=area_m2,
            unit="m2",
            at=spots[0],
            source="ours, no source",
        )
    ]


def _at(place: Place) -> str:
    """Write a place of the grid."""
    return f"{place[0]:.0f}, {place[1]:.0f}"
