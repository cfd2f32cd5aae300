"""What stays as it is: trails that are flagged, opened or done, and stems already out.

Trails come from two places, the user's own file of lines and the earlier plan
where ``progress.csv`` names one of its trails. Each is turned landing end
first and joined to what it hangs on; from there on all are kept alike.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import substring

from layout.errors import InputFaults
from layout.findings import Finding
from layout.naming import SAME_LINE_M, apart_m, new_names, used_names
from layout.progress import Claims
from layout.site import Earlier, FixedTrail, NamedLine

JOIN_M = 3.0  # an end this near to a trail or the landing joins it; ours
JOINED_M = 0.01  # and this near it needs no moving
TOLD_M = 0.5
MAIN_NAME = "M"
_RANK = {"main": 0, "landing": 1, "trail": 2}


@dataclass(frozen=True, slots=True)
class Settled:
    """The main trail where there is one, and the trails that are kept as they are."""

    main: LineString | None
    main_fixed: FixedTrail | None  # where the main trail is one to keep
    trails: tuple[FixedTrail, ...]  # each after the one it joins
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Joint:
    """One way a line may hang on what is there."""

    host: str  # empty: the landing
    rank: int
    gap_m: float
    end: int  # 0 the first drawn point, 1 the last


def landing_of(
    earlier: Earlier | None, lines: Sequence[NamedLine], claims: Claims
) -> tuple[Polygon | None, tuple[Finding, ...]]:
    """Keep the landing of the earlier plan where a trail to keep starts at it.

    Asked where none is drawn: a landing proposed anew may lie elsewhere, and
    what was flagged would then lead to no landing.

    Parameters
    ----------
    earlier : Earlier or None
        The earlier plan.
    lines : sequence of NamedLine
        The user's file of trails.
    claims : Claims
        Which trails of the earlier plan ``progress.csv`` names.

    Returns
    -------
    landing : Polygon or None
        None where there is no reason to keep one.
    findings : tuple of Finding
    """
    if earlier is None or earlier.landing is None:
        return None, ()
    kept = [line.line for line in (*lines, *_opened(claims, earlier))]
    ends = [Point(line.coords[end]) for line in kept for end in (0, -1)]
    if not any(end.distance(earlier.landing) <= JOIN_M for end in ends):
        return None, ()
    middle = earlier.landing.representative_point()
    told = Finding(
        "landing_kept",
        "ok",
        "The landing is kept where the earlier plan proposed it, since a trail that is flagged or "
        "opened starts there; draw it to move it.",
        "landing",
        at=(middle.x, middle.y),
    )
    return earlier.landing, (told,)


def settle(
    drawn: LineString | None,
    landing: Polygon | None,
    lines: Sequence[NamedLine],
    claims: Claims,
    earlier: Earlier | None,
    where: str,
) -> Settled:
    """Turn the trails to keep landing end first, and join them to each other.

    Parameters
    ----------
    drawn : LineString or None
        The drawn main trail.
    landing : Polygon or None
    lines : sequence of NamedLine
        The user's file; a trail of it stands for the earlier one of its name.
    claims : Claims
        Which trails of the earlier plan ``progress.csv`` names.
    earlier : Earlier or None
        The earlier plan.
    where : str
        Start of a message about the file.

    Returns
    -------
    Settled

    Raises
    ------
    InputFaults
        If a trail joins nothing, one line each.
    """
    found: list[Finding] = []
    pool = {line.trail_id: line for line in _named(lines, earlier)}
    for old in _opened(claims, earlier):
        pool.setdefault(old.trail_id, old)
    given = next((line for line in pool.values() if line.kind == "main" and _own(line)), None)
    kept = pool.get(MAIN_NAME) if given is None else None
    for line in (given, kept):
        if line is not None:
            del pool[line.trail_id]
    pool.pop(MAIN_NAME, None)  # the file's main trail stands for the earlier one
    main, fixed = drawn, None
    if given is not None:
        main = _toward(given, landing)
        fixed = FixedTrail(MAIN_NAME, "main", main, given.width_m)
    elif kept is not None and not _carries(drawn, pool, kept, claims):
        main = kept.line
        fixed = FixedTrail(MAIN_NAME, "main", main, kept.width_m)
        if drawn is not None and apart_m(drawn, kept.line) > SAME_LINE_M:
            found.append(_main_kept(kept))
    trails = _join(main, landing, pool, found, where)
    found += _told(trails, fixed is not None)
    return Settled(main, fixed, trails, tuple(found))


def _own(line: NamedLine) -> bool:
    """Tell a line of the user's file from one of the earlier plan."""
    return bool(line.place)


def _named(lines: Sequence[NamedLine], earlier: Earlier | None) -> list[NamedLine]:
    """Name the lines of the file that have none: as before where the line is the same."""
    taken = {line.trail_id for line in lines if line.trail_id}
    before = [t for t in (earlier.trails if earlier else ()) if t.source == "fixed"]
    fresh = new_names("S", used_names(earlier) | taken)
    out = []
    for line in lines:
        name = line.trail_id or (MAIN_NAME if line.kind == "main" else "")
        for old in before:
            if not name and old.trail_id not in taken and _same(line.line, old.line):
                name = old.trail_id
        name = name or next(fresh)
        taken.add(name)
        out.append(replace(line, trail_id=MAIN_NAME if line.kind == "main" else name))
    return out


def _same(drawn: LineString, kept: LineString) -> bool:
    """Tell whether a drawn line is one kept before; its mouth may have been moved."""
    return apart_m(drawn, kept) <= 2 * JOIN_M


def _opened(claims: Claims, earlier: Earlier | None) -> list[NamedLine]:
    """Give the earlier trails that are opened, and all they hang on."""
    trails = {trail.trail_id: trail for trail in (earlier.trails if earlier else ())}
    out: dict[str, NamedLine] = {}
    for name in claims.trails:
        while name in trails and name not in out:
            old = trails[name]
            kind = "main" if name == MAIN_NAME else old.kind
            out[name] = NamedLine(name, old.line, "", kind, old.width_m, "first")
            name = old.joins_id
    return list(out.values())


def _carries(
    drawn: LineString | None, pool: Mapping[str, NamedLine], kept: NamedLine, claims: Claims
) -> bool:
    """Tell whether the drawn main trail still holds all that is opened."""
    if drawn is None or MAIN_NAME in claims.trails:
        return False
    mouths = [
        Point(line.line.coords[0])
        for line in pool.values()
        if not _own(line) and kept.line.distance(Point(line.line.coords[0])) <= SAME_LINE_M
    ]
    return all(drawn.distance(mouth) <= SAME_LINE_M for mouth in mouths)


def _toward(line: NamedLine, landing: Polygon | None) -> LineString:
    """Turn a main trail landing end first."""
    first, last = (Point(line.line.coords[end]) for end in (0, -1))
    if line.landing_end:
        turn = line.landing_end == "last"
    else:
        turn = landing is not None and last.distance(landing) < first.distance(landing)
    return line.line.reverse() if turn else line.line


def _main_kept(kept: NamedLine) -> Finding:
    return Finding(
        "fixed_main",
        "caution",
        "The main trail drawn now is not the earlier plan's, and trails on that one are opened; "
        f"the earlier one is kept. To change it, put the new line into [trails] fixed as "
        f"{kept.trail_id}.",
        "trails",
        kept.trail_id,
    )


def _join(
    main: LineString | None,
    landing: Polygon | None,
    pool: dict[str, NamedLine],
    found: list[Finding],
    where: str,
) -> tuple[FixedTrail, ...]:
    """Join line after line to what is joined already."""
    out: list[FixedTrail] = []
    hosts: dict[str, LineString] = {} if main is None else {MAIN_NAME: main}
    left = dict(pool)
    while left:
        # what is called a spur leaves the landing only where no trail takes it
        for spurs_from in (None, landing):
            joints = {
                name: _joints(line, spurs_from if line.kind == "spur" else landing, hosts)
                for name, line in left.items()
            }
            ready = [name for name, ways in joints.items() if ways]
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
    line: NamedLine, landing: Polygon | None, hosts: Mapping[str, LineString]
) -> list[_Joint]:
    """List what an end of a line joins, the likeliest first."""
    best: list[_Joint] = []
    ends = {"": (0, 1), "first": (0,), "last": (1,)}[line.landing_end]
    for end in ends:
        point = Point(line.line.coords[-end])
        ways = [
            _Joint(name, _RANK["main" if name == MAIN_NAME else "trail"], host.distance(point), end)
            for name, host in hosts.items()
        ]
        if landing is not None:
            ways.append(_Joint("", _RANK["landing"], landing.distance(point), end))
        near = [way for way in ways if way.gap_m <= JOIN_M]
        best += sorted(near, key=lambda w: (round(w.gap_m, 2), w.rank, w.host))[:1]
    return sorted(best, key=lambda w: (w.rank, round(w.gap_m, 2), w.end))


def _hung(
    line: NamedLine,
    ways: Sequence[_Joint],
    hosts: Mapping[str, LineString],
    landing: Polygon | None,
    found: list[Finding],
) -> FixedTrail:
    """Turn a line by its joint, and bring its mouth onto the line it joins."""
    way = ways[0]
    shape = line.line.reverse() if way.end else line.line
    if len(ways) > 1:
        other = ways[1].host or "the landing"
        found.append(
            Finding(
                "fixed_both_ends",
                "caution",
                f"{line.place}: both ends meet something; it is taken to start at "
                f"{way.host or 'the landing'}, not at {other}. Say so with landing_end if wrong.",
                "trails",
                line.trail_id,
            )
        )
    if not way.host:
        if landing is not None and way.gap_m > JOINED_M:
            shape = _snapped(shape, LineString(landing.exterior.coords))
        return FixedTrail(line.trail_id, "main", shape, line.width_m)
    host = hosts[way.host]
    shape = _snapped(shape, host)
    at_m = float(host.project(Point(shape.coords[0])))
    if way.gap_m > TOLD_M:
        found.append(
            Finding(
                "fixed_mouth",
                "ok",
                f"{line.place or line.trail_id}: its mouth lay {way.gap_m:.1f} m off {way.host} "
                "and was moved onto it.",
                "trails",
                line.trail_id,
                value=way.gap_m,
                limit=JOIN_M,
                unit="m",
                source="ours, no source",
                at=(float(shape.coords[0][0]), float(shape.coords[0][1])),
            )
        )
    return FixedTrail(line.trail_id, "spur", shape, line.width_m, way.host, at_m)


def _snapped(line: LineString, host: LineString) -> LineString:
    """Start a line exactly on the one it joins."""
    start = Point(line.coords[0])
    gap = float(host.distance(start))
    if gap <= JOINED_M:
        return line
    crossing = shapely.get_coordinates(line.intersection(host))
    over = [float(line.project(Point(xy))) for xy in crossing]
    over = [at for at in over if at <= 2 * JOIN_M]
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


def _lost(line: NamedLine, near: Sequence[shapely.geometry.base.BaseGeometry], where: str) -> str:
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
        f"{gap:.1f} m from the landing, the main trail and the other fixed trails ({JOIN_M:g} m "
        "at most); lead it up to one of them"
    )


def _told(trails: Sequence[FixedTrail], main: bool) -> list[Finding]:
    """Say which trails are kept as they are."""
    names = [*([MAIN_NAME] if main else []), *(trail.trail_id for trail in trails)]
    if not names:
        return []
    return [
        Finding(
            "trails_kept",
            "ok",
            f"Kept as flagged or opened, line and name: {', '.join(names)}.",
            "trails",
        )
    ]
