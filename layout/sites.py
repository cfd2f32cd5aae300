"""Places for a landing, where none is drawn: found on a grid, ranked by what they serve.

Every place that can hold the landing is measured; what the checks of a landing
stop, a draw and the ground below a seep are left out. On broken ground the site
decides how many trees can be served at all, so that comes first: one search a
site. Nobody has stood there: a proposal says so.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from layout import landing, sources
from layout.errors import InputError
from layout.findings import Finding
from layout.grid import bilinear
from layout.land import closed_by_hazards, property_edge, setback_m, usable_land
from layout.reach import Scene, from_site, scene
from layout.settings import Limits
from layout.site import Area
from layout.soil_map import closed_soil
from layout.speech import speak_area, speak_length
from layout.terrain import Terrain
from layout.turning import disc_slope
from layout.units import FOOT_M, Units
from layout.water import Strips

Floats = NDArray[np.float64]

GOOD_PCT, CARE_PCT = (2.0, 5.0), 8.0
STRIP_M = 50 * FOOT_M + 0.1
ROUGH_M = 1.0  # ours: ground farther than this from its own plane is no landing
ROAD_NEAR_M = (
    300 * FOOT_M
)  # ours: farther than a steep pitch may be, a truck needs a road of its own
ROAD_PCT = 10.0
ROAD_ALONG_M = 60 * FOOT_M  # this near, the landing is laid out along the road
MOST_TRIED = 24
APART_M = 60.0  # proposals stand this far apart
SAME_SHARE = 0.03  # sites within this share of the marked trees are as good as each other
LEFT_OUT = ("landing_draw", "landing_seep")
MAIN_STEP_M = 3.0
NOT_LOOKED_AT = (
    "Not looked at: soft ground, buried lines, sight distance, the way in for a truck and "
    "whether it is yours to use; stand there, then draw it."
)


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """One place proposed for a landing.

    Parameters
    ----------
    shape : Polygon
        A square of the size asked for, along the contour or the road.
    x, y : float
        Its middle, metres.
    slope_pct : float
        Slope of the plane under it.
    trees, marked : int
        Marked trees a trail from here could come near enough to, and all there are.
    reached_pct : float
        Share of the stand such a trail could reach.
    skid_m : float
        Mean length of trail from here to the trees, metres; NaN without trees.
    below_share : float
        Share of those trees that stand below the landing, to be dragged uphill.
    road_m : float or None
        To the access road as the crow flies; None where none is given.
    in_field : bool
        On ground of ``may_use``: a field corner or an old landing.
    cautions : tuple of Finding
        What the checks of a landing say of it.
    """

    shape: Polygon
    x: float
    y: float
    slope_pct: float
    trees: int
    marked: int
    reached_pct: float
    skid_m: float
    below_share: float
    road_m: float | None
    in_field: bool
    cautions: tuple[Finding, ...]

    @property
    def good(self) -> bool:
        """Whether its slope sheds water and no more."""
        return GOOD_PCT[0] <= self.slope_pct <= GOOD_PCT[1]


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    shape: Polygon
    x: float
    y: float
    slope_pct: float
    road_m: float | None
    in_field: bool
    cautions: tuple[Finding, ...] = ()


def propose(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    limits: Limits,
    count: int = 3,
    *,
    most_tried: int = MOST_TRIED,
    given: Scene | None = None,
) -> tuple[Site, ...]:
    """Propose places for a landing, best first.

    Parameters
    ----------
    area, terrain, strips : Area, Terrain, Strips
        The job.
    limits : Limits
        Limits in force today.
    count : int, optional
        Most places to give.
    most_tried : int, optional
        Most places a search is made from, spread over all that fit.
    given : Scene, optional
        Ground with the main trail's width, where it is at hand.

    Returns
    -------
    tuple of Site
        At least 60 m apart; empty where no place can hold the landing. Where a
        main trail is drawn they lie at its start.
    """
    tried = _spread(area, terrain, strips, _places(area, terrain, strips), most_tried)
    if not tried:
        return ()
    if given is None:
        given = scene(area, terrain, strips, limits, width_m=area.settings.trails.width_main_m)
    sites = [_judged(given, place) for place in tried]
    best = max(site.trees for site in sites)
    band = max(1.0, SAME_SHARE * max(sites[0].marked, 1))
    sites.sort(
        key=lambda s: (
            int((best - s.trees) / band),
            not s.in_field,
            not s.good,
            round(s.skid_m / 20) if math.isfinite(s.skid_m) else 0,
            round(s.below_share, 1),
            s.slope_pct,
            s.y,
            s.x,
        )
    )
    chosen: list[Site] = []
    for site in sites:
        if all(math.hypot(site.x - c.x, site.y - c.y) >= APART_M for c in chosen):
            chosen.append(site)
        if len(chosen) == count:
            break
    return tuple(chosen)


def with_landing(area: Area, terrain: Terrain, strips: Strips, limits: Limits) -> Area:
    """Put the best proposed landing into an area that has none; see `with_landings`."""
    return with_landings(area, terrain, strips, limits)[0]


def with_landings(
    area: Area, terrain: Terrain, strips: Strips, limits: Limits, count: int = 3
) -> tuple[Area, ...]:
    """Give an area without a landing once with each of the best proposed ones.

    Parameters
    ----------
    area, terrain, strips, limits
        As for `propose`.
    count : int, optional
        Most places to give.

    Returns
    -------
    tuple of Area
        Best first, each with a finding that its landing was proposed, and what
        nobody has looked at; the same area alone where a landing is drawn.

    Raises
    ------
    InputError
        If no place can hold a landing of the size asked for.
    """
    if area.landing is not None:
        return (area,)
    sites = propose(area, terrain, strips, limits, count)
    size = speak_area(area.settings.landing.area_m2, area.settings.area.units)
    if not sites:
        where = (
            "at the start of the drawn main trail" if area.main_trail is not None else "anywhere"
        )
        soil = ", and on a wet day off poorly drained soil" if area.soil_map else ""
        msg = (
            f"[landing]: none is drawn, and no place {where} can hold one of {size} (at most "
            f"{CARE_PCT:.0f} % slope, 50 ft outside water strips, off hazards, keep-outs and the "
            f"setback{soil}, in the stand or may_use, near the road where one is given); give "
            "`at = [x, y]`, a smaller `area`, or ground in may_use"
        )
        raise InputError(msg)
    return tuple(
        replace(
            area,
            landing=site.shape,
            findings=(*area.findings, proposed(area, (site, *(s for s in sites if s is not site)))),
        )
        for site in sites
    )


def words_of(site: Site, units: Units) -> str:
    """Say a proposed site in a sentence."""
    road = "" if site.road_m is None else f", {speak_length(site.road_m, units)} from the road"
    return (
        f"A landing could lie at [{site.x:.0f}, {site.y:.0f}]: {site.slope_pct:.1f} % slope{road}; "
        f"trails within the limits could come near enough to {site.trees} of {site.marked} "
        "marked trees. Proposed from the files alone; stand there before you draw it."
    )


def proposed(area: Area, sites: tuple[Site, ...]) -> Finding:
    """Say that a landing was proposed, and what nobody has looked at.

    Parameters
    ----------
    area : Area
    sites : tuple of Site
        The one used first, then the next best.

    Returns
    -------
    Finding
    """
    site, units = sites[0], area.settings.area.units
    others = "; ".join(f"[{s.x:.0f}, {s.y:.0f}] with {s.trees} trees" for s in sites[1:])
    after = f" Next best: {others}." if others else ""
    road = "" if site.road_m is None else f", {speak_length(site.road_m, units)} from the road"
    return Finding(
        "landing_proposed",
        "unknown",
        f"The landing at [{site.x:.0f}, {site.y:.0f}] was proposed, not drawn: "
        f"{site.slope_pct:.1f} % slope{road}; trails within the limits could come near enough "
        f"to {site.trees} of {site.marked} marked trees.{after} {NOT_LOOKED_AT}",
        "landing",
        "L1",
        source=str(sources.LANDING_GROUND),
        at=(site.x, site.y),
    )


def allowed_land(area: Area, strips: Strips) -> BaseGeometry:
    """Give the ground a landing may lie on."""
    land = usable_land(area)
    if area.property_line is not None and area.property_line.geom_type.endswith("Polygon"):
        land = shapely.union_all([land.intersection(area.property_line), area.may_use])
    barred = [
        property_edge(area).buffer(setback_m(area) + 0.05),
        closed_by_hazards(area, landing=True),
        closed_soil(area),
        *area.keep_out,
        *[strip.shape.buffer(STRIP_M) for strip in strips.polygons],
    ]
    return land.difference(shapely.union_all(barred))


def _places(area: Area, terrain: Terrain, strips: Strips) -> list[_Place]:
    """List every place of a coarse grid that can hold the landing, the likeliest first."""
    side = math.sqrt(area.settings.landing.area_m2)
    allowed = allowed_land(area, strips)
    if allowed.is_empty:
        return []
    x, y = _grid(area, allowed, side)
    core = allowed.buffer(-side / 2 + 0.05)
    shapely.prepare(core)
    inside = np.asarray(shapely.contains_xy(core, x, y))
    x, y = x[inside], y[inside]
    if not x.size:
        return []
    slope, rough = disc_slope(terrain, x, y, side / 2)
    flat = (slope <= CARE_PCT) & (rough <= ROUGH_M)
    x, y, slope = x[flat], y[flat], slope[flat]
    road = shapely.union_all([line for line in area.access_road if not line.is_empty])
    shapes = [_square(terrain, float(a), float(b), side, road) for a, b in zip(x, y, strict=True)]
    shapely.prepare(allowed)
    fits = np.asarray(shapely.covers(allowed, np.array(shapes, dtype=object)))
    out: list[_Place] = []
    for k in np.flatnonzero(fits):
        away = None if road.is_empty else float(shapes[k].distance(road))
        if away is not None and not _way_in(terrain, shapes[k], road, away):
            continue
        out.append(
            _Place(
                shapes[k], float(x[k]), float(y[k]), float(slope[k]), away,
                bool(area.may_use.intersects(Point(x[k], y[k]))),
            )
        )  # fmt: skip
    near = [p for p in out if p.road_m is None or p.road_m <= ROAD_NEAR_M]
    return sorted(
        near or out,
        key=lambda p: (
            not p.in_field, not GOOD_PCT[0] <= p.slope_pct <= GOOD_PCT[1],
            round((p.road_m or 0.0) / 10), abs(p.slope_pct - 3.5), p.y, p.x,
        ),
    )  # fmt: skip


def _grid(area: Area, allowed: BaseGeometry, side: float) -> tuple[Floats, Floats]:
    """Give the middles tried: a grid over the land, or round the start of a drawn main trail."""
    if area.main_trail is not None:
        start = area.main_trail.coords[0]
        steps = np.arange(-side / 2, side / 2 + 1e-9, MAIN_STEP_M)
        gx, gy = np.meshgrid(start[0] + steps, start[1] + steps)
        return gx.ravel(), gy.ravel()
    step = max(side / 2, 4.0)
    west, south, east, north = allowed.bounds
    gx, gy = np.meshgrid(_spaced(west, east, step), _spaced(south, north, step))
    return gx.ravel(), gy.ravel()


def _spaced(low: float, high: float, step: float) -> Floats:
    """Space places evenly about the middle, so that ground laid another way has the same ones."""
    count = int((high - low) // step)
    return np.asarray((low + high) / 2 + step * (np.arange(count + 1) - count / 2), dtype=float)


def _square(terrain: Terrain, x: float, y: float, side: float, road: BaseGeometry) -> Polygon:
    """Lay a square along the road where one is near, else along the contour."""
    half = side / 2
    if not road.is_empty and road.distance(Point(x, y)) <= half + ROAD_ALONG_M:
        line = shapely.shortest_line(Point(x, y), road)
        (x0, y0), (x1, y1) = line.coords
        turn = math.atan2(y1 - y0, x1 - x0)
    else:
        z = bilinear(terrain.dem, [x + half, x - half, x, x], [y, y, y + half, y - half])
        turn = math.atan2(float(z[2] - z[3]), float(z[0] - z[1])) if np.isfinite(z).all() else 0.0
    c, s = half * math.cos(turn), half * math.sin(turn)
    corners = [(c - s, s + c), (-c - s, -s + c), (-c + s, -s - c), (c + s, s - c)]
    return Polygon([(x + dx, y + dy) for dx, dy in corners])


def _way_in(terrain: Terrain, shape: Polygon, road: BaseGeometry, away_m: float) -> bool:
    """Tell whether the way to the road is not too steep for a truck, as far as the grid knows."""
    if away_m <= 10.0:
        return True
    (x0, y0), (x1, y1) = shapely.shortest_line(shape, road).coords
    z = bilinear(terrain.dem, [x0, x1], [y0, y1])
    return not float(abs(z[1] - z[0])) > ROAD_PCT / 100 * away_m


def _spread(
    area: Area, terrain: Terrain, strips: Strips, places: list[_Place], most: int
) -> list[_Place]:
    """Take places apart from each other that the checks of a landing do not stop."""
    judged: dict[int, _Place | None] = {}
    apart = math.sqrt(area.settings.landing.area_m2) / 2
    while True:
        kept: list[_Place] = []
        for k, place in enumerate(places):
            if any(math.hypot(place.x - q.x, place.y - q.y) < apart for q in kept):
                continue
            if k not in judged:
                site = landing.measure(area, terrain, strips, place.shape)
                found = landing.check(area, terrain, strips, site)
                bad = any(f.level == "stop" or f.code in LEFT_OUT for f in found)
                cautions = tuple(f for f in found if f.level == "caution")
                judged[k] = (
                    None if bad else replace(place, slope_pct=site.slope_pct, cautions=cautions)
                )
            good = judged[k]
            if good is not None:
                kept.append(good)
        if len(kept) <= most:
            return kept
        apart *= 1.3


def _judged(given: Scene, place: _Place) -> Site:
    """Search from a place and say what it serves."""
    reached = from_site(given, place.shape)
    field = reached.field
    far = np.full(reached.trees.size, np.inf)
    state, tree = given.serving.state, given.serving.tree
    on = np.isfinite(field.cost[state])
    np.minimum.at(far, tree[on], field.length[state[on]].astype(float))
    known = np.isfinite(far) & reached.trees
    z = bilinear(given.terrain.dem, given.pulls.x, given.pulls.y)
    own = float(bilinear(given.terrain.dem, place.x, place.y))
    below = (z < own - 1.0) & reached.trees
    return Site(
        place.shape,
        place.x,
        place.y,
        place.slope_pct,
        reached.count,
        int(reached.trees.size),
        reached.share_pct,
        float(far[known].mean()) if known.any() else math.nan,
        float(below.sum()) / max(reached.count, 1),
        place.road_m,
        place.in_field,
        place.cautions,
    )
