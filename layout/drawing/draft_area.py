"""A draft put into an area: from here on it goes the way of anything read from files."""

from dataclasses import replace

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
        and spurs are kept as drawn. What is wrong with a line is for the checks to
        say; here only what cannot be judged at all is refused.

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
    return replace(
        area,
        landing=site,
        main_trail=None if main is None else LineString(main.line),
        main_fixed=None,
        main_walked_m=None,
        fixed=_kept(main, others),
        more_landings=(),
        keep_out=(*area.keep_out, *closed),
        trees=_marked(area.trees, draft),
        wanted_positions=tuple(p.at for p in draft.positions if p.state == "wanted"),
        closed_positions=tuple(p.at for p in draft.positions if p.state == "forbidden"),
    )


def draft_of(area: Area) -> Draft:
    """Give what is drawn in an area as a draft to go on from.

    Parameters
    ----------
    area : Area

    Returns
    -------
    Draft
        Its landing, main trail and the trails that are kept.
    """
    landing = None
    if area.landing is not None:
        landing = DraftLanding(outline=_places(area.landing.exterior)[:-1])
    trails: list[DraftTrail] = []
    if area.main_trail is not None:
        trails.append(DraftTrail(MAIN_NAME, "main", _places(area.main_trail)))
    trails += [DraftTrail(t.trail_id, t.kind, _places(t.line), t.joins_id) for t in area.fixed]
    return Draft(landing=landing, trails=tuple(trails))


def _places(shape: LineString) -> tuple[tuple[float, float], ...]:
    return tuple((round(float(x), 2), round(float(y), 2)) for x, y in coordinates(shape))


def _kept(main: DraftTrail | None, others: list[DraftTrail]) -> tuple[FixedTrail, ...]:
    """Hang every other trail on the one it joins; a mouth off by little is moved onto it."""
    lines = {} if main is None else {main.trail_id: LineString(main.line)}
    # the area's main trail is always called M, whatever the draft calls it
    names = {} if main is None else {main.trail_id: MAIN_NAME}
    taken = {t.trail_id for t in others}
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
        if name == MAIN_NAME:  # a second trail may not carry the main trail's name
            name = next(n for n in (f"M{k}" for k in range(2, 999)) if n not in taken)
        names[trail.trail_id] = name
        lines[trail.trail_id] = line
        out.append(
            FixedTrail(
                name, trail.kind, line, joins_id=names.get(trail.joins, ""), joins_at_m=at,
                drawn=True,
            )
        )  # fmt: skip
    return tuple(out)


def _landing(area: Area, landing: DraftLanding | None, faults: list[str]) -> Polygon | None:
    if landing is None:
        return None
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
