"""A draft put into an area: from here on it goes the way of anything read from files."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
from shapely.geometry import LineString, Point, Polygon

from layout.drawing.draft import Draft, DraftLanding, DraftTrail
from layout.errors import InputFaults
from layout.geometry import coordinates
from layout.joints import JOIN_M, MAIN_NAME
from layout.read_landing import square
from layout.site import Area, FixedTrail, Trees

INSIDE_M = 1.0  # a drawn place farther off the elevations than this cannot be judged


def drafted(area: Area, draft: Draft) -> Area:
    """Give an area with a draft in it, in place of what was drawn in it before.

    Parameters
    ----------
    area : Area
        As read from the user's files.
    draft : Draft

    Returns
    -------
    Area
        The first main trail from the landing is the area's own; other main trails
        and spurs are kept as drawn. A trail that is as the area has it keeps what is
        known of it: that it is flagged or walked, and its width. Further landings and
        their trails stay. What is wrong with a line is for the checks to say; here
        only what cannot be judged at all is refused.

    Raises
    ------
    InputFaults
        If something lies where there are no elevations, an outline crosses itself,
        or a tree is marked that is not in the list.
    """
    faults = [*_off_the_ground(area, draft), *_unknown_trees(area, draft)]
    site = _landing(area, draft.landing, faults)
    closed = tuple(
        shape
        for item in draft.keep_out
        if (shape := _outline(item.outline, f"closed ground {item.closed_id}", faults)) is not None
    )
    if faults:
        raise InputFaults(faults)
    main = next((t for t in draft.trails if t.kind == "main" and not t.joins), None)
    others = [t for t in draft.trails if t is not main]
    as_it_was = main is not None and _main_of(area) == main
    return replace(
        area,
        landing=site,
        main_trail=(
            None if main is None else area.main_trail if as_it_was else LineString(main.line)
        ),
        main_fixed=area.main_fixed if as_it_was else None,
        main_walked_m=area.main_walked_m if as_it_was else None,
        fixed=(*_kept(area, main, others), *(() if site is None else _elsewhere(area))),
        more_landings=() if site is None else area.more_landings,
        keep_out=(*area.keep_out, *closed),
        trees=_marked(area.trees, draft),
        wanted_positions=tuple(p.at for p in draft.positions if p.state == "wanted"),
        closed_positions=tuple(p.at for p in draft.positions if p.state == "forbidden"),
    )


def with_marks(area: Area, draft: Draft) -> Area:
    """Give an area with a draft's marks and nothing else of it.

    Parameters
    ----------
    area : Area
        As read from the user's files.
    draft : Draft
        Whatever is wrong with its lines and outlines.

    Returns
    -------
    Area
    """
    return replace(area, trees=_marked(area.trees, draft))


def draft_of(area: Area) -> Draft:
    """Give what is drawn in an area as a draft to go on from.

    Parameters
    ----------
    area : Area

    Returns
    -------
    Draft
        Its first landing, main trail and the trails that are kept, but for those that
        hang on the main trail of a further landing.
    """
    main, away = _main_of(area), {t.trail_id for t in _elsewhere(area)}
    trails = [] if main is None else [main]
    trails += [_as_drawn(trail) for trail in area.fixed if trail.trail_id not in away]
    return Draft(landing=_landing_of(area), trails=tuple(trails))


def not_on_the_map(area: Area) -> list[str]:
    """Say what of an area stays as it is whatever is drawn.

    Parameters
    ----------
    area : Area

    Returns
    -------
    list of str
        Sentences; empty where all of it can be drawn anew.
    """
    if not area.more_landings:
        return []
    names = ", ".join(more.landing_id for more in area.more_landings)
    return [
        f"The map changes the first landing only. {names} and the trails from there stay as "
        "the files give them; change those files to move them. While no first landing is drawn "
        "they do not count."
    ]


def _landing_of(area: Area) -> DraftLanding | None:
    if area.landing is None:
        return None
    return DraftLanding(outline=_places(area.landing.exterior)[:-1])


def _main_of(area: Area) -> DraftTrail | None:
    """Give the area's main trail as a draft has it."""
    if area.main_trail is None:
        return None
    return DraftTrail(MAIN_NAME, "main", _places(area.main_trail))


def _as_drawn(trail: FixedTrail) -> DraftTrail:
    return DraftTrail(trail.trail_id, trail.kind, _places(trail.line), trail.joins_id)


def _elsewhere(area: Area) -> tuple[FixedTrail, ...]:
    """Give the trails that hang on the main trail of a further landing."""
    away = {more.main_id for more in area.more_landings}
    out = []
    for trail in area.fixed:  # each after the one it joins
        if trail.joins_id in away:
            away.add(trail.trail_id)
            out.append(trail)
    return tuple(out)


@lru_cache(maxsize=64)
def _places(shape: LineString) -> tuple[tuple[float, float], ...]:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in coordinates(shape))


def _kept(area: Area, main: DraftTrail | None, others: list[DraftTrail]) -> tuple[FixedTrail, ...]:
    """Hang every other trail on the one it joins; a mouth off by little is moved onto it."""
    lines = {} if main is None else {main.trail_id: LineString(main.line)}
    # the area's main trail is always called M, whatever the draft calls it
    names = {} if main is None else {main.trail_id: MAIN_NAME}
    own = {t.trail_id: t for t in area.fixed}
    as_was = {MAIN_NAME} if main is not None and main == _main_of(area) else set()
    held = {MAIN_NAME, *(more.main_id for more in area.more_landings)}
    held |= {t.trail_id for t in _elsewhere(area)}
    taken = held | {t.trail_id for t in others}
    out = []
    for trail in others:
        line, at = LineString(trail.line), None
        host = lines.get(trail.joins)
        if host is not None:
            at = float(host.project(Point(trail.line[0])))
            mouth = host.interpolate(at)
            if mouth.distance(Point(trail.line[0])) <= JOIN_M:
                line = LineString([mouth.coords[0], *trail.line[1:]])
        name = trail.trail_id
        if name in held:  # a second trail may not carry the name of one that stands
            name = next(n for n in (f"M{k}" for k in range(2, 999)) if n not in taken)
            taken.add(name)
        names[trail.trail_id] = name
        lines[trail.trail_id] = line
        joins = names.get(trail.joins, "")
        was = own.get(trail.trail_id)
        if was is None or name != trail.trail_id or _as_drawn(was) != trail:
            out.append(
                FixedTrail(name, trail.kind, line, joins_id=joins, joins_at_m=at, drawn=True)
            )
        elif not joins or joins in as_was:
            as_was.add(name)
            out.append(was)
        else:  # on the ground as it was, but the trail it leaves is not
            out.append(replace(was, line=line, joins_id=joins, joins_at_m=at))
    return tuple(out)


def _landing(area: Area, landing: DraftLanding | None, faults: list[str]) -> Polygon | None:
    if landing is None or landing == _landing_of(area):
        return None if landing is None else area.landing
    if landing.point is not None:
        return square(*landing.point, area.settings.landing.area_m2)
    return _outline(landing.outline, "landing", faults)


def _outline(
    places: tuple[tuple[float, float], ...], name: str, faults: list[str]
) -> Polygon | None:
    shape = Polygon(places)
    if not shape.is_valid or shape.area < 1.0:
        faults.append(f"{name}: its outline crosses itself or holds no ground; draw it again")
        return None
    return shape


def _off_the_ground(area: Area, draft: Draft) -> list[str]:
    west, south, east, north = area.dem.bounds
    named = [(f"trail {t.trail_id}", t.line) for t in draft.trails]
    named += [(f"closed ground {k.closed_id}", k.outline) for k in draft.keep_out]
    named += [(f"position {p.position_id}", (p.at,)) for p in draft.positions]
    if draft.landing is not None:
        point = draft.landing.point
        named.append(("landing", draft.landing.outline if point is None else (point,)))
    return [
        f"{name}: it leaves the ground whose elevations are known; draw it inside"
        for name, places in named
        if any(
            not (
                west - INSIDE_M <= x <= east + INSIDE_M
                and south - INSIDE_M <= y <= north + INSIDE_M
            )
            for x, y in places
        )
    ]


def _unknown_trees(area: Area, draft: Draft) -> list[str]:
    known = set(area.trees.tree_id)
    strange = [name for name in draft.marks if name not in known]
    if not strange:
        return []
    more = f" and {len(strange) - 3} more" if len(strange) > 3 else ""
    return [
        f"marks: no tree {', '.join(strange[:3])}{more} in the list; read the drawing anew, or "
        "take the marks off"
    ]


def _marked(trees: Trees, draft: Draft) -> Trees:
    """Give the trees with their marks changed."""
    if not draft.marks:
        return trees
    marked = np.array(
        [
            draft.marks.get(name, "cut" if cut else "leave") == "cut"
            for name, cut in zip(trees.tree_id, trees.marked, strict=True)
        ],
        dtype=bool,
    )
    return replace(trees, marked=marked)
