"""Where loads swing off open ground in bends and at mouths.

Every trail is followed as its loads travel it, from the farthest on and past its mouth
onto the trail it joins. What they come over beside the trails must still be ground
they may be on; where it is not, the bend asks for a wider curve, a shorter load or a
way round.
"""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout import sources
from layout.checks.case import Case, Walked
from layout.checks.words import on
from layout.findings import Finding
from layout.geometry import along, coordinates, cut
from layout.rub_places import loaded_to_m, onward
from layout.rub_trees import lane_m, load_length_m
from layout.speech import speak_length
from layout.swept_path import Outfit, hulls, swept_corners

Floats = NDArray[np.float64]

OFF_M = 0.3  # less is the drawing, not the ground
TOGETHER = 12  # pieces looked at as one first
SAME_BEND_M = 10.0  # places nearer along the trail than this are one; ours


def check(case: Case) -> list[Finding]:
    """Judge where loads swing.

    Parameters
    ----------
    case : Case
        The layout; where it has no positions yet, loads come from every trail's end.

    Returns
    -------
    list of Finding
        Cautions, one for each bend and kind of closed ground.
    """
    settings = case.area.settings
    tractor = settings.tractor
    outfit = Outfit(
        hitch_m=tractor.load_behind_axle_m,
        length_m=tractor.length_m,
        width_m=tractor.width_m,
        load_m=load_length_m(case.area),
        load_width_m=lane_m(case.area),
    )
    trails = [walked.trail for walked in case.trails]
    shut = list(_shut(case))
    for shape in (case.land, *(shape for shape, _ in shut)):
        shapely.prepare(shape)
    found: list[Finding] = []
    for walked in case.trails:
        trail = walked.trail
        far = float(trail.line.length)
        if case.positions:
            far = min(loaded_to_m(trail, trails, case.positions), far)
        if far <= 0:
            continue
        own = cut(coordinates(trail.line), 0.0, far)[::-1]
        below = case.by_id.get(trail.joins_id)
        joined = None if below is None else below.trail
        way = onward(own, joined, trail.joins_at_m or 0.0, outfit.load_m)
        if float(along(way)[-1]) <= 0:
            continue
        pieces = _doubtful(swept_corners(way, outfit), case.land, [shape for shape, _ in shut])
        # nearly all of them lie where they may: only the others are put together
        out = pieces[~np.asarray(shapely.covers(case.land, pieces))]
        if len(out):
            off = shapely.union_all(out).difference(case.land)
            found += _told(case, walked, off, "off the ground you may use")
        for shape, what in shut:
            into = pieces[np.asarray(shapely.intersects(shape, pieces))]
            if len(into):
                found += _told(case, walked, shapely.union_all(into).intersection(shape), what)
    return found


def _doubtful(
    corners: Floats, land: BaseGeometry, shut: Sequence[BaseGeometry]
) -> NDArray[np.object_]:
    """Give the pieces that may not lie where they may; of most that is seen of many at once.

    What the hull of several pieces does, each of them does: lie on the land, keep clear.
    """
    whole = len(corners) // TOGETHER * TOGETHER
    many = hulls(corners[:whole].reshape(-1, TOGETHER * corners.shape[1], 2))
    sound = np.asarray(shapely.covers(land, many))
    for shape in shut:
        sound &= ~np.asarray(shapely.intersects(shape, many))
    left = np.concatenate([np.repeat(~sound, TOGETHER), np.ones(len(corners) - whole, dtype=bool)])
    return hulls(corners[left])


def _shut(case: Case) -> Iterator[tuple[BaseGeometry, str]]:
    """Give what loads may not swing over, with the words for it."""
    strips = [strip.shape for strip in case.strips]
    if strips:
        yield shapely.union_all(strips), "into a water strip"
    if case.area.keep_out:
        yield shapely.union_all(case.area.keep_out), "into ground that is kept out of"


def _told(case: Case, walked: Walked, swung: BaseGeometry, what: str) -> list[Finding]:
    """Put the worst place of each bend into words; the value is how far off the trail it is."""
    # of the trail's own ground, where it is closed, other checks speak
    trails = shapely.union_all([other.footprint for other in case.trails])
    off = swung.difference(trails)
    corners = shapely.get_coordinates(off)
    if not len(corners):
        return []
    places = shapely.points(corners)
    apart = np.atleast_1d(shapely.distance(trails, places))
    at_m = np.atleast_1d(shapely.line_locate_point(walked.trail.line, places))
    far = np.flatnonzero(apart >= OFF_M)
    far = far[np.argsort(at_m[far], kind="stable")]
    found: list[Finding] = []
    for stretch in np.split(far, np.flatnonzero(np.diff(at_m[far]) > SAME_BEND_M) + 1):
        if stretch.size:
            worst = int(stretch[np.argmax(apart[stretch])])
            x, y = corners[worst].tolist()
            found.append(
                _finding(case, walked, what, float(at_m[worst]), float(apart[worst]), x, y)
            )
    return found


def _finding(
    case: Case, walked: Walked, what: str, at: float, off_m: float, x: float, y: float
) -> Finding:
    return Finding(
        code="load_swings_off",
        level="caution",
        message=(
            f"{on(walked, case.units, at, at)}: loads swing {what}, by "
            f"{speak_length(off_m, case.units)} beside the trail; "
            "widen the bend, cut the loads shorter, or move the trail"
        ),
        subject_layer="trails",
        subject_id=walked.trail.trail_id,
        from_m=at,
        to_m=at,
        value=off_m,
        limit=0.0,
        unit="m",
        source=str(sources.SWEEPING_TANGENTS),
        confirmed=sources.SWEEPING_TANGENTS.confirmed,
        at=(x, y),
    )
