"""What stays as it is: trails that are flagged, opened or done, and stems already out.

Trails come from two places, the user's own file of lines and the earlier plan
where ``progress.csv`` names one of its trails. Each is turned landing end
first and joined to what it hangs on; from there on all are kept alike.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout.findings import Finding
from layout.joints import JOIN_M, MAIN_NAME, hung, onto_landing, reach_m
from layout.naming import SAME_LINE_M, apart_m, new_names, used_names
from layout.progress import Claims
from layout.site import Earlier, FixedTrail, NamedLine


@dataclass(frozen=True, slots=True)
class Settled:
    """The main trail where there is one, and the trails that are kept as they are.

    A drawn main trail of a further landing is in no field: it stays unless a
    trail of its name is kept.
    """

    main: LineString | None
    main_fixed: FixedTrail | None  # where the main trail is one to keep
    trails: tuple[FixedTrail, ...]  # each after the one it joins
    findings: tuple[Finding, ...]
    main_walked_m: float | None = None  # how far off a walked main trail may be


def landings_of(
    earlier: Earlier | None, lines: Sequence[NamedLine], claims: Claims
) -> tuple[tuple[Polygon, ...], tuple[Finding, ...]]:
    """Keep the landings of the earlier plan where a trail to keep starts at one.

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
    landings : tuple of Polygon
        All of them; empty where there is no reason to keep one.
    findings : tuple of Finding
    """
    if earlier is None or earlier.landing is None:
        return (), ()
    kept = (*lines, *_opened(claims, earlier))
    near = any(
        Point(line.line.coords[end]).distance(landing) <= reach_m(line.walked_m)
        for landing in earlier.landings
        for line in kept
        for end in (0, -1)
    )
    if not near:
        return (), ()
    middle = earlier.landing.representative_point()
    told = Finding(
        "landing_kept",
        "ok",
        "The landing is kept where the earlier plan proposed it, since a trail that is flagged or "
        "opened starts there; draw it to move it.",
        "landing",
        at=(middle.x, middle.y),
    )
    return earlier.landings, (told,)


def settle(
    drawn: LineString | None,
    landing: BaseGeometry | None,
    lines: Sequence[NamedLine],
    claims: Claims,
    earlier: Earlier | None,
    where: str,
    drawn_walked_m: float | None = None,
    more: Mapping[str, LineString] = MappingProxyType({}),
) -> Settled:
    """Turn the trails to keep landing end first, and join them to each other.

    Parameters
    ----------
    drawn : LineString or None
        The drawn main trail.
    landing : geometry or None
        The ground of all landings.
    lines : sequence of NamedLine
        The user's file; a trail of it stands for the earlier one of its name.
    claims : Claims
        Which trails of the earlier plan ``progress.csv`` names.
    earlier : Earlier or None
        The earlier plan.
    where : str
        Start of a message about the file.
    drawn_walked_m : float or None, optional
        How far off the drawn main trail may be where it was walked, metres.
    more : mapping of str to LineString, optional
        Main trails drawn from further landings, by name.

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
    main, fixed, walked_m = drawn, None, drawn_walked_m
    if given is not None:
        walked_m = given.walked_m
        main = onto_landing(_toward(given, landing), landing, walked_m, given.place, found)
        fixed = FixedTrail(MAIN_NAME, "main", main, given.width_m, walked_m=walked_m)
    elif kept is not None and not _carries(drawn, pool, kept, claims):
        main = kept.line
        fixed = FixedTrail(MAIN_NAME, "main", main, kept.width_m)
        walked_m = None
        if drawn is not None and apart_m(drawn, kept.line) > SAME_LINE_M:
            found.append(_main_kept(kept))
    elif main is not None:
        main = onto_landing(main, landing, walked_m, "The main trail", found)
    hosts = {} if main is None else {MAIN_NAME: main}
    hosts |= {name: line for name, line in more.items() if name not in pool}
    trails = hung(hosts, landing, pool, found, where)
    found += _told(trails, fixed is not None)
    return Settled(main, fixed, trails, tuple(found), walked_m)


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
            if not name and old.trail_id not in taken and _same(line, old.line):
                name = old.trail_id
        name = name or next(fresh)
        taken.add(name)
        out.append(replace(line, trail_id=MAIN_NAME if line.kind == "main" else name))
    return out


def _same(drawn: NamedLine, kept: LineString) -> bool:
    """Tell whether a drawn line is one kept before; its mouth may have been moved."""
    return apart_m(drawn.line, kept) <= max(2 * JOIN_M, reach_m(drawn.walked_m))


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


def _toward(line: NamedLine, landing: BaseGeometry | None) -> LineString:
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
