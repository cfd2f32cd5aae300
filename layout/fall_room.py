"""What a falling tree would meet: the room round a stump, direction by direction.

The stem falls along a line as long as the tree; its crown is as wide as crowns of the
species are. Places are as far off as the list says, so that much is added to what must
not be reached.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.ground import stems_known
from layout.land import hazard_rule, property_edge
from layout.place_errors import line_error_m
from layout.site import Area
from layout.water import Strips
from layout.winch_rules import EXACT_POSITION_M

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

STEM_HALF_M = 0.5  # the falling stem with its stubs; ours
CROWN_FROM = 0.4  # of the height: above it the crown, as wide as crowns are; ours
BUTT_FREE_M = 1.0  # stems this near the stump are felled round, not hit; ours


@dataclass(frozen=True, slots=True)
class Bar:
    """Something no tree is to reach.

    Parameters
    ----------
    name : str
        What it is called: ``wire H1``, ``property line``, ``water``, ``water strip``.
    shape : shapely geometry
        Where it is.
    lengths : float
        Within so many tree lengths.
    more_m : float
        And so many metres, where its own place is not well known.
    """

    name: str
    shape: BaseGeometry
    lengths: float
    more_m: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Stems:
    """Stems that stay, or stay for now; arrays have shape (n,).

    Parameters
    ----------
    rows : ndarray of int
        Row in the tree list.
    x, y, radius : ndarray of float
        Metres.
    barred : ndarray of bool
        Kept for a reason, or a hazard: nothing may fall on it.
    """

    rows: NDArray[np.int64]
    x: Floats
    y: Floats
    radius: Floats
    barred: Mask


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What lies round the stumps of a job."""

    bars: tuple[Bar, ...]
    strips: BaseGeometry
    stems: Stems | None  # None: single stems cannot be spoken of


def room(area: Area, strips: Strips, stays: Mask) -> Room:
    """Gather what falling trees must not meet.

    Parameters
    ----------
    area : Area
        The job.
    strips : Strips
        Its water strips.
    stays : ndarray of bool, shape (n,)
        Listed stems that stand while others are felled.

    Returns
    -------
    Room
    """
    bars: list[Bar] = []
    for hazard in area.hazards:
        lengths = hazard_rule(hazard.kind).tree_lengths
        if lengths > 0:
            name = f"{hazard.kind.replace('_', ' ')} {hazard.hazard_id}"
            bars.append(Bar(name, hazard.geometry, lengths))
    bars.append(Bar("property line", property_edge(area), 1.0, line_error_m(area)))
    wet = [body.geometry for body in area.water if body.water_class not in ("well", "spring")]
    if wet:
        bars.append(Bar("water", shapely.union_all(wet), 1.0))
    strip = shapely.union_all([polygon.shape for polygon in strips.polygons])
    for shape in (*(bar.shape for bar in bars), strip):
        shapely.prepare(shape)
    return Room(tuple(bars), strip, _stems(area, stays))


def _stems(area: Area, stays: Mask) -> Stems | None:
    """Give the stems that stay, where single stems may be spoken of."""
    if not stems_known(area):
        return None
    trees = area.trees
    own = np.nan_to_num(np.asarray(trees.position_error_m, dtype=float))
    rows = np.flatnonzero(stays & (own <= EXACT_POSITION_M))
    barred = np.array([bool(trees.keep[r]) or bool(trees.hazard[r]) for r in rows], dtype=bool)
    return Stems(
        rows,
        np.asarray(trees.x, dtype=float)[rows],
        np.asarray(trees.y, dtype=float)[rows],
        np.nan_to_num(np.asarray(trees.dbh_cm, dtype=float)[rows]) / 200,
        barred,
    )


def stems_in(
    stems: Stems, x: float, y: float, headings: Floats, height_m: float, crown_m: float
) -> tuple[Mask, Mask]:
    """Tell which stems a tree would hit with its stem, and which with its crown.

    Parameters
    ----------
    stems : Stems
        Those that stay.
    x, y : float
        The stump, metres.
    headings : ndarray of float, shape (k,)
        Directions of fall, radians counter-clockwise from grid east.
    height_m, crown_m : float
        Height of the tree and width of its crown, metres.

    Returns
    -------
    by_stem, by_crown : ndarray of bool, shape (k, n)
        A stem is in one of them at most.
    """
    dx, dy = stems.x - x, stems.y - y
    cos, sin = np.cos(headings)[:, None], np.sin(headings)[:, None]
    ahead = cos * dx + sin * dy
    aside = np.abs(cos * dy - sin * dx) - stems.radius
    reached = (ahead > BUTT_FREE_M) & (ahead - stems.radius <= height_m)
    by_stem = reached & (aside <= STEM_HALF_M)
    wide = reached & (ahead >= CROWN_FROM * height_m) & (aside <= crown_m / 2)
    return by_stem, wide & ~by_stem


def reaching(
    shape: BaseGeometry, x: float, y: float, headings: Floats, reach_m: float, crown_m: float
) -> Mask:
    """Tell in which directions a falling tree would come up against a shape.

    Parameters
    ----------
    shape : shapely geometry
        A line, a point, a polygon; may be empty.
    x, y : float
        The stump, metres.
    headings : ndarray of float, shape (k,)
        Directions of fall, radians.
    reach_m, crown_m : float
        How far it reaches, and how wide its outer part is.

    Returns
    -------
    ndarray of bool, shape (k,)
    """
    if shape.is_empty or shapely.Point(x, y).distance(shape) > reach_m + crown_m:
        return np.zeros(headings.size, dtype=bool)
    way = np.column_stack([np.cos(headings), np.sin(headings)])
    butt = np.array([x, y])
    stem = shapely.linestrings(np.stack([butt + 0 * way, butt + reach_m * way], axis=1))
    low = CROWN_FROM * reach_m
    crown = shapely.linestrings(np.stack([butt + low * way, butt + reach_m * way], axis=1))
    return np.asarray(
        shapely.dwithin(stem, shape, STEM_HALF_M) | shapely.dwithin(crown, shape, crown_m / 2)
    )


def names_near(
    bars: Sequence[Bar], x: float, y: float, height_m: float, error_m: float
) -> tuple[str, ...]:
    """Name what asks for two tree lengths and may lie nearer than that.

    Parameters
    ----------
    bars : sequence of Bar
        What no tree is to reach.
    x, y : float
        The stump, metres.
    height_m, error_m : float
        Of the tree, and how far off its place may be, metres.

    Returns
    -------
    tuple of str
    """
    stump = shapely.Point(x, y)
    return tuple(
        bar.name
        for bar in bars
        if bar.lengths > 1
        and stump.distance(bar.shape) < bar.lengths * height_m + bar.more_m + error_m
    )
