"""The names and numbers of a crew map: dearest first, nothing on top of another name."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from shapely.geometry import LineString, box

from layout.outputs import danger_marks, map_marks, map_names
from layout.outputs import palette as ink
from layout.outputs.crew import map_grades, tile_names
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.map_trails import landing_end, ticks
from layout.outputs.crew.sheet import LEAST_PT
from layout.outputs.crew.species_codes import key_said, marked_species, species_codes
from layout.outputs.help_places import help_places
from layout.outputs.map_labels import CLEAN, HIDES_LITTLE, MISLEADS_COST, Labels, Look
from layout.outputs.map_window import Contour, Window
from layout.outputs.name_costs import NAME_COST
from layout.outputs.tree_orders import near_hazards, standing_hazards, thing_said
from layout.outputs.words import ENGLISH, counted, say

if TYPE_CHECKING:
    from layout.plan import Plan
    from layout.records import TreeStatus

Place = tuple[float, float]

MAIN = Look(11.0, bold=True, boxed=True)
SPUR = Look(9.4, bold=True)
LANDING = Look(10.0, bold=True)
HAZARD = Look(9.0, ink.HAZARD, bold=True)
NAME_PT = 9.0  # of trees, positions and stations: read tired, in the rain
STATION_0 = Look(NAME_PT, bold=True)
TURNING = Look(NAME_PT, bold=True)
RUB = Look(NAME_PT, ink.RUB, bold=True)
HEIGHT_PT = LEAST_PT
TRAIL_PT = 2.0  # as thick as a spur is drawn
HAZARD_BARE_PT = 4.8  # half of what a triangle is across, and a little
ON_TRAIL = 60.0  # a name on a trail: rather one with a line to it; ours, by looking


@dataclass
class Lettered:
    """What found no room on a map.

    Parameters
    ----------
    trees, positions : list of str
        Names that could not be written at all.
    far : int
        Names that stand off their mark, with a line to it.
    near : int
        Tree numbers and positions' names beside their marks.
    grades : int
        Stretches of trail with their grade beside them.
    hazards : list of str
        Names of dangers that could not be written at all.
    species : str
        What the letters beside numbers mean; empty without any.
    bare : int
        Trees whose number stands without species and reason.
    stations : int
        Stations without their number.
    ungraded : int
        Stretches of trail in sight without their grade.
    left_out : int
        Winch positions, turning places and stretches of trail without a name.
    """

    trees: list[str] = field(default_factory=list)
    positions: list[str] = field(default_factory=list)
    hazards: list[str] = field(default_factory=list)
    species: str = ""
    bare: int = 0
    stations: int = 0
    far: int = 0
    near: int = 0
    grades: int = 0
    ungraded: int = 0
    left_out: int = 0


def write(
    labels: Labels,
    plan: Plan,
    page: MapPage,
    contours: list[Contour],
    size: float,
    *,
    held: Collection[str],
) -> Lettered:
    """Letter a map.

    Parameters
    ----------
    labels : Labels
        Places names on it.
    plan : Plan
        The plan.
    page : MapPage
        What is shown, and what stands beside a tree.
    contours : list of Contour
        The lines drawn.
    size : float
        What marks are drawn smaller by.
    held : collection of str
        The trees that are not simply to be cut, as `tree_orders.barred` names them.

    Returns
    -------
    Lettered
        What found no room.
    """
    window = page.window
    enter(labels, plan, page, size)
    tile_names.write(labels, window, page.tiles)
    made = dearest(labels, plan, page, size, held=held)
    frame = box(window.west, window.south, window.east, window.north)
    for place in plan.turning_places:
        spots = map_names.along(place.shape)
        done = _beside(labels, place.place_id, spots, TURNING, window, must=page.numbered)
        made.left_out += not done and place.shape.intersects(frame)
    for rub in plan.rub_trees if page.numbered else ():
        if rub.kind != "marked":  # a marked one has its tree's number
            _beside(
                labels, rub.rub_id, [(rub.x, rub.y)], RUB, window, clear_pt=5.6 * size, must=True
            )
    made.left_out += len(made.positions)
    _stations(labels, plan, window, made, numbered=page.numbered)
    made.grades, made.ungraded = map_grades.write(labels, plan, window, numbered=page.numbered)
    made.left_out += made.ungraded
    map_names.heights(labels, window, contours, HEIGHT_PT)
    return made


def dearest(
    labels: Labels, plan: Plan, page: MapPage, size: float, *, held: Collection[str]
) -> Lettered:
    """Write the names a map must bear: landing, dangers, trails, trees, winch positions.

    What they had better not hide is entered before, with `enter`.
    """
    made, window = Lettered(), page.window
    _dangers(labels, plan, window, made)
    for landing in plan.landings:
        _beside(labels, say("map_landing", landing=landing.landing_id),
                map_names.along(landing.shape), LANDING, window, must=True)  # fmt: skip
    for small in map_marks.small_landings(plan):
        name = say("map_small_landing")
        _beside(labels, name, map_names.along(small), LANDING, window, must=True)
    for place in help_places(plan):
        at = [(place.x, place.y)]
        _beside(labels, place.name, at, LANDING, window, clear_pt=8.5, must=True)
    for trail in plan.trails:
        main = trail.kind == "main"
        places = _spread(trail.line, window, 5 if main else 6)
        look = MAIN if main else SPUR
        _beside(labels, trail.trail_id, places, look, window, clear_pt=7 * size, must=True,
                kind="trail", owner=trail.trail_id)  # fmt: skip
    for trail in plan.trails:
        for tick in landing_end(trail, window):
            _beside(labels, tick.said, [tick.at], STATION_0, window, clear_pt=6.5, must=True)
    if page.numbered:
        _trees(labels, plan, page, size, made, held)
    _positions(labels, plan, window, size, made, numbered=page.numbered)
    return made


def _near_said(thing: str, kind: str, count: int) -> str:
    """Name a danger, and say what comes first where marked trees could reach it."""
    if not count:
        return thing
    known = f"crew_map_first_{kind}" in ENGLISH
    first = say(f"crew_map_first_{kind}" if known else "crew_map_first_other")
    return say("crew_map_reach", thing=thing, trees=counted("crew_map_near", count), first=first)


def enter(labels: Labels, plan: Plan, page: MapPage, size: float) -> None:
    """Enter what names had better not hide, and on a detail sheet must not."""
    window = page.window
    map_names.enter_marks(labels, plan, window, size, bare=page.numbered)
    units = plan.area.settings.area.units
    for trail in plan.trails:
        corners = np.asarray(trail.line.coords)
        labels.avoid_line(corners, TRAIL_PT, ON_TRAIL)
        labels.bar_leads(trail.trail_id, corners)
        for tick in ticks(trail, window, units):
            labels.avoid_line(np.asarray(tick.stroke.coords), 1.0, 2.0)
    dangers = [(tree.x, tree.y) for tree in standing_hazards(plan)]
    labels.avoid_points(dangers, 9.0, 60.0, kinds=("hazard", "tree"), bare_pt=HAZARD_BARE_PT)


def _beside(
    labels: Labels,
    words: str,
    places: Iterable[Place],
    look: Look,
    window: Window,
    *,
    clear_pt: float = 4.0,
    must: bool = False,
    hide_most: float | None = None,
    kind: str = "",
    owner: str = "",
    trail: str = "",
) -> bool:
    """Write a name beside the best of the places that the map shows."""
    shown = [place for place in places if window.shows(*place)]
    if not shown or not words:
        return False
    if hide_most is None:
        hide_most = NAME_COST / 2 if must else HIDES_LITTLE
    return labels.beside(words, shown, look, clear_pt=clear_pt, must=must,
                         hide_most=hide_most, kind=kind, owner=owner, trail=trail)  # fmt: skip


def _spread(line: LineString, window: Window, count: int) -> list[Place]:
    """Give places along the part of a trail that the map shows, the middle ones first."""
    shown = line.intersection(box(window.west, window.south, window.east, window.north))
    parts = [p for p in getattr(shown, "geoms", [shown]) if p.geom_type == "LineString"]
    if not parts or shown.is_empty:
        return []
    longest = max(parts, key=lambda part: part.length)
    shares = sorted(((k + 0.5) / count for k in range(count)), key=lambda s: abs(s - 0.45))
    return [map_names.place_on(longest, share) for share in shares]


def _dangers(labels: Labels, plan: Plan, window: Window, made: Lettered) -> None:
    """Name every danger: of each hazard tree what is wrong, and whether it is cut or kept off."""
    for tree in standing_hazards(plan):
        place = (tree.x, tree.y)
        if not window.shows(*place):
            continue
        done = any(
            _beside(labels, words, [place], HAZARD, window, must=True, kind="hazard")
            for words in (danger_marks.said(tree, plan), tree.tree_id)
        )
        if not done:
            made.hazards.append(tree.tree_id)
    near = near_hazards(plan)
    for hazard in plan.area.hazards:
        thing = thing_said(hazard.kind, hazard.hazard_id)
        name = _near_said(thing, hazard.kind, near[hazard.hazard_id])
        places = [p for p in map_names.along(hazard.geometry) if window.shows(*p)]
        done = any(
            _beside(labels, said, places, HAZARD, window, must=True) for said in (name, thing)
        )
        if places and not done:
            made.hazards.append(thing)


def _trees(
    labels: Labels,
    plan: Plan,
    page: MapPage,
    size: float,
    made: Lettered,
    held: Collection[str],
) -> None:
    """Write the number of every marked tree, its species and why a rope does not reach it."""
    window = page.window
    trees = plan.area.trees
    xy = zip(trees.x.tolist(), trees.y.tolist(), strict=True)
    at = dict(zip(trees.tree_id, xy, strict=True))
    status = {o.tree_id: o.status for o in plan.trees if o.status not in ("leave", "done")}
    shown = [name for name in status if window.shows(*at[name])]
    bare = {name: say("crew_map_hold", tree=name) if name in held else name for name in shown}
    full = bare
    if page.reasons:
        full = _in_full(plan, status, shown, held, made, coded=page.coded)
    look = Look(NAME_PT)
    waiting = [
        name for name in shown
        if not _beside(labels, full[name], [at[name]], look, window, clear_pt=4.4 * size,
                       kind="tree")
    ]  # fmt: skip
    made.near += len(shown) - len(waiting)
    for name in waiting:
        # a number alone is better than one that hides another mark, and that better than none
        tries = ((full[name], CLEAN), (bare[name], CLEAN), (bare[name], None))
        done = (
            _beside(labels, said, [at[name]], look, window, must=True, hide_most=most, kind="tree")
            for said, most in tries
        )
        which = next((k for k, there in enumerate(done) if there), None)
        if which is None:
            made.trees.append(name)
        else:
            made.far += 1
            made.bare += which > 0


def _in_full(
    plan: Plan,
    status: dict[str, TreeStatus],
    shown: list[str],
    held: Collection[str],
    lettered: Lettered,
    *,
    coded: bool,
) -> dict[str, str]:
    """Give numbers with the letters of the species, where asked, and why a tree is not reached."""
    species = dict(zip(plan.area.trees.tree_id, plan.area.trees.species, strict=True))
    codes = species_codes(marked_species(plan)) if coded else {}
    if coded:
        lettered.species = key_said(codes, {species[name].strip() for name in shown} - {""})
    rubs = {rub.tree_id: rub.rub_id for rub in plan.rub_trees if rub.kind == "marked"}
    made = {}
    for name in shown:
        parts = (name, codes.get(species[name].strip(), ""), rubs.get(name, ""))
        tree = " ".join(part for part in parts if part)
        tree = say("crew_map_hold", tree=tree) if name in held else tree
        why = f"crew_map_why_{status[name]}"
        made[name] = say("crew_map_why", tree=tree, why=say(why)) if why in ENGLISH else tree
    return made


def _positions(
    labels: Labels, plan: Plan, window: Window, size: float, made: Lettered, *, numbered: bool
) -> None:
    """Name the winch positions."""
    for position in plan.positions:
        place = (position.x, position.y)
        if not window.shows(*place):
            continue
        name = position.position_id
        look = Look(NAME_PT, bold=True)
        done = _beside(labels, name, [place], look, window, clear_pt=4.8 * size, kind="position")
        made.near += done
        if not done and numbered:
            done = _beside(labels, name, [place], look, window, must=True, kind="position")
            made.far += done
        if not done:
            made.positions.append(name)


def _stations(
    labels: Labels, plan: Plan, window: Window, made: Lettered, *, numbered: bool
) -> None:
    """Write stations where there is room, and where a line that leads to one is read for it."""
    units = plan.area.settings.area.units
    for trail in plan.trails:
        for tick in ticks(trail, window, units):
            if not window.shows(*tick.at):
                continue
            done = any(  # one number less is better than one read at another trail
                _beside(
                    labels,
                    tick.said,
                    [tick.at],
                    Look(NAME_PT),
                    window,
                    clear_pt=6.5,
                    must=far,
                    hide_most=MISLEADS_COST if far else HIDES_LITTLE,
                    trail=trail.trail_id,
                )
                for far in ((False, True) if numbered else (False,))
            )
            made.stations += not done
