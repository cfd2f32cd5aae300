"""How a trail to keep hangs on what is there: which end, on what, and its mouth moved onto it.

A line somebody drew is where it was drawn, and must come up to what it joins. A
line a phone recorded is only known to some metres, and may miss by as much.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout.errors import InputFaults
from layout.findings import Finding
from layout.records import TrailKind
from layout.site import FixedTrail, NamedLine

JOIN_M = 3.0  # an end this near to a trail or the landing joins it; ours
WALKED_JOIN_M = 10.0  # and of a walked line at most this near; ours
JOINED_M = 0.01  # this near it needs no moving
AT_LANDING_M = 1.0  # a main trail that begins this near the landing is at it
ROUNDED_M = 0.1  # degrees as a file of ours gives them bring a line back so near
TOLD_M = 0.5
MAIN_NAME = "M"
_RANK = {"main": 0, "landing": 1, "trail": 2}


@dataclass(frozen=True, slots=True)
class _Joint:
    """One way a line may hang on what is there."""

    host: str  # empty: the landing
    rank: int
    gap_m: float
    end: int  # 0 the first drawn point, 1 the last


def reach_m(walked_m: float | None) -> float:
    """Give how near an end must come to join, metres.

    Parameters
    ----------
    walked_m : float or None
        How far off a walked line may be; None for a drawn one.

    Returns
    -------
    float

    Examples
    --------
    >>> reach_m(None), reach_m(2.0), reach_m(25.0)
    (3.0, 4.0, 10.0)
    """
    if walked_m is None:
        return JOIN_M
    # A receiver states what two of three fixes keep; most keep twice that.
    return min(max(2.0 * walked_m, JOIN_M), WALKED_JOIN_M)


def onto_landing(
    line: LineString,
    landing: BaseGeometry | None,
    walked_m: float | None,
    name: str,
    found: list[Finding],
) -> LineString:
    """Lead a walked main trail up to the landing it misses by no more than its own error.

    Parameters
    ----------
    line : LineString
        Landing end first.
    landing : geometry or None
        The ground of all landings.
    walked_m : float or None
        How far off the line may be; a drawn one (None) is left as it is.
    name : str
        What messages call it.
    found : list of Finding
        What was moved is told of here.

    Returns
    -------
    LineString
    """
    if landing is None or walked_m is None:
        return line
    # one that is at the landing already is kept exactly
    gap = float(landing.distance(Point(line.coords[0])))
    if gap <= AT_LANDING_M or gap > reach_m(walked_m):
        return line
    moved = _snapped(line, _rim(landing, line), JOIN_M)
    found.append(_mouth(name, MAIN_NAME, "the landing", gap, reach_m(walked_m), moved, ()))
    return moved


def hung(
    mains: Mapping[str, LineString],
    landing: BaseGeometry | None,
    pool: Mapping[str, NamedLine],
    found: list[Finding],
    where: str,
) -> tuple[FixedTrail, ...]:
    """Join line after line to what is joined already.

    Parameters
    ----------
    mains : mapping of str to LineString
        The main trails, by name.
    landing : geometry or None
        The ground of all landings.
    pool : mapping of str to NamedLine
        The lines to join, by name.
    found : list of Finding
        What was moved, or taken one way of two, is told of here.
    where : str
        Start of a message about the file.

    Returns
    -------
    tuple of FixedTrail
        Each after the one it joins.

    Raises
    ------
    InputFaults
        If a line joins nothing, one line each.
    """
    out: list[FixedTrail] = []
    hosts: dict[str, LineString] = dict(mains)
    left = dict(pool)
    while left:
        # Walked lines may miss by their own error, but only once nothing joins as it lies: a
        # short spur has both its ends within that error of something.
        for walked in (False, True):
            # what is called a spur leaves the landing only where no trail takes it
            for spurs_from in (None, landing):
                joints = {
                    name: _joints(
                        line,
                        spurs_from if line.kind == "spur" else landing,
                        hosts,
                        mains,
                        reach_m(line.walked_m) if walked else JOIN_M,
                    )
                    for name, line in left.items()
                }
                ready = [name for name, ways in joints.items() if ways]
                if ready:
                    break
            if ready:
                break
        if not ready:
            break
        # the surest first: what is joined there may be what another one leaves
        name = min(ready, key=lambda n: round(joints[n][0].gap_m, 2))
        trail = _hung(left.pop(name), joints[name], hosts, landing, found)
        hosts[name] = trail.line
        out.append(trail)
    if left:
        near = [*hosts.values(), *([] if landing is None else [landing])]
        raise InputFaults([_lost(line, near, where) for line in left.values()])
    return tuple(out)


def _joints(
    line: NamedLine,
    landing: BaseGeometry | None,
    hosts: Mapping[str, LineString],
    mains: Collection[str],
    within_m: float,
) -> list[_Joint]:
    """List what an end of a line joins, the likeliest first."""
    best: list[_Joint] = []
    ends = {"": (0, 1), "first": (0,), "last": (1,)}[line.landing_end]
    for end in ends:
        point = Point(line.line.coords[-end])
        ways = [
            _Joint(name, _RANK["main" if name in mains else "trail"], host.distance(point), end)
            for name, host in hosts.items()
        ]
        if landing is not None:
            ways.append(_Joint("", _RANK["landing"], landing.distance(point), end))
        near = [way for way in ways if way.gap_m <= within_m]
        best += sorted(near, key=lambda w: (round(w.gap_m, 2), w.rank, w.host))[:1]
    if line.walked_m is not None and len(best) == 2 and best[0].host == best[1].host != "":
        # Both ends within the walk's error of one trail: a spur leads away from the landing.
        host = hosts[best[0].host]
        return sorted(best, key=lambda w: host.project(Point(line.line.coords[-w.end])))
    return sorted(best, key=lambda w: (w.rank, round(w.gap_m, 2), w.end))


def _hung(
    line: NamedLine,
    ways: Sequence[_Joint],
    hosts: Mapping[str, LineString],
    landing: BaseGeometry | None,
    found: list[Finding],
) -> FixedTrail:
    """Turn a line by its joint, and bring its mouth onto the line it joins."""
    way = ways[0]
    own_m = reach_m(line.walked_m)
    shape = line.line.reverse() if way.end else line.line
    if len(ways) > 1:
        other = f"at {ways[1].host or 'the landing'}"
        if ways[1].host == way.host:
            other = "at its other end, farther out on it"
        found.append(
            Finding(
                "fixed_both_ends",
                "caution",
                f"{line.place}: both ends meet something; it is taken to start at "
                f"{way.host or 'the landing'}, not {other}. Say so with landing_end if wrong.",
                "trails",
                line.trail_id,
            )
        )
    if not way.host:
        if landing is not None and way.gap_m > JOINED_M:
            shape = _snapped(shape, _rim(landing, shape), JOIN_M)
            if way.gap_m > JOIN_M:
                name = line.place or line.trail_id
                found.append(
                    _mouth(name, line.trail_id, "the landing", way.gap_m, own_m, shape, ())
                )
        return FixedTrail(line.trail_id, "main", shape, line.width_m, walked_m=line.walked_m)
    host = hosts[way.host]
    start = Point(shape.coords[0])
    shape = _snapped(shape, host, own_m)
    at_m = float(host.project(Point(shape.coords[0])))
    if way.gap_m > TOLD_M:
        others = [
            name
            for name, other in hosts.items()
            if name != way.host and other.distance(start) <= min(own_m, 2 * way.gap_m)
        ]
        name = line.place or line.trail_id
        found.append(_mouth(name, line.trail_id, way.host, way.gap_m, own_m, shape, others))
    kind: TrailKind = "main" if line.kind == "main" else "spur"  # one that joins a main: its arm
    return FixedTrail(
        line.trail_id, kind, shape, line.width_m, way.host, at_m, walked_m=line.walked_m
    )


def _mouth(
    name: str,
    trail_id: str,
    host: str,
    gap_m: float,
    limit_m: float,
    moved: LineString,
    others: Sequence[str],
) -> Finding:
    """Say that a mouth was moved; far, or where it could be another's, as a caution."""
    doubt = ""
    if others and gap_m > JOIN_M:
        lie = "lies" if len(others) == 1 else "lie"
        doubt = f" {' and '.join(others)} {lie} hardly farther: see which it leaves."
    far = gap_m > JOIN_M
    if far and not doubt:
        doubt = " It was walked, so it may be off by as much; look at the mouth on the ground."
    return Finding(
        "fixed_mouth",
        "caution" if far else "ok",
        f"{name}: its mouth lay {gap_m:.1f} m off {host} and was moved onto it.{doubt}",
        "trails",
        trail_id,
        value=gap_m,
        limit=limit_m,
        unit="m",
        source="ours, no source",
        at=(float(moved.coords[0][0]), float(moved.coords[0][1])),
    )


def _rim(landing: BaseGeometry, line: LineString) -> LineString:
    """Give the outline of the landing a line starts nearest to."""
    start = Point(line.coords[0])
    one = min(shapely.get_parts(landing), key=start.distance)
    return LineString(one.exterior.coords)


def _snapped(line: LineString, host: LineString, reach: float) -> LineString:
    """Start a line exactly on the one it joins; `reach` is how far off it may be."""
    start = Point(line.coords[0])
    gap = float(host.distance(start))
    if gap <= JOINED_M:
        return line
    crossing = shapely.get_coordinates(line.intersection(host))
    over = [float(line.project(Point(xy))) for xy in crossing]
    over = [at for at in over if at <= 2 * (reach if gap > ROUNDED_M else JOIN_M)]
    if over:  # walked past it before turning off: the piece beyond is no trail
        beyond = substring(line, max(over), line.length)
        line, gap = LineString(beyond.coords), 0.0
    mouth = host.interpolate(host.project(Point(line.coords[0])))
    points = shapely.get_coordinates(line)
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    rest = at > min(gap, at[-1] / 2)  # points nearer than that would leave a kink
    rest[-1] = True
    rest[0] = False
    return LineString([(mouth.x, mouth.y), *map(tuple, points[rest])])


def _lost(line: NamedLine, near: Sequence[BaseGeometry], where: str) -> str:
    """Say where a line that joins nothing lies, and how far from anything."""
    ends = [Point(line.line.coords[0]), Point(line.line.coords[-1])]
    if line.landing_end:
        ends = [ends[line.landing_end == "last"]]
    what = line.place or f"trail {line.trail_id} of the earlier plan"
    gaps = [(min(shape.distance(end) for shape in near), end) for end in ends] if near else []
    if not gaps:
        return (
            f"{where} {what} joins nothing, since neither landing nor main trail is drawn; draw "
            'the main trail, or give it in this file with kind "main"'
        )
    gap, end = min(gaps, key=lambda pair: pair[0])
    return (
        f"{where} {what} joins nothing: its nearest end, at {end.x:.0f}, {end.y:.0f}, lies "
        f"{gap:.1f} m from the landing, the main trail and the other fixed trails "
        f"({reach_m(line.walked_m):g} m at most); lead it up to one of them"
    )
