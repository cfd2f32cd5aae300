"""Trees against the stand's edge and the neighbour's line."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.place_errors import tree_error_m
from layout.settings import AreaSettings
from layout.settings.ground_tables import LINE_ERROR_M
from layout.site import Area
from layout.sources import NEIGHBOUR_TREES
from layout.speech import speak_length

OUTSIDE_FAULT_SHARE = 0.5  # more than this outside the stand is a wrong CRS, not a habit
DOUBTFUL_M = 2.0
FAR_M = 500.0  # no habit of mapping goes so far past the stand; ours
SHARED_EDGE_M = 1.0
MOST_SINGLE = 25  # more trees than this near a line are told of together


def _listed(ids: list[str], most: int = 10) -> str:
    """List a few of many."""
    return ", ".join(ids[:most]) + (f" and {len(ids) - most} more" if len(ids) > most else "")


def widened(
    settings: AreaSettings,
    accuracy_m: Mapping[str, float],
    walked_m: Mapping[str, float | None] | None = None,
) -> tuple[AreaSettings, tuple[Finding, ...]]:
    """Widen the property line's error by a doubtful change of CRS, or because it was walked.

    Parameters
    ----------
    settings : AreaSettings
    accuracy_m : mapping of str to float
        How far off the change of CRS of each layer may be, by ``table.key``.
    walked_m : mapping of str to float or None, optional
        Layers that are a phone's track, and how far off they say they are.

    Returns
    -------
    settings : AreaSettings
    findings : tuple of Finding
    """
    key = "property.line" if settings.property.line else "stand.boundary"
    units = settings.area.units
    error, notes = settings.property.error_m, []
    if walked_m is not None and key in walked_m:
        stated = walked_m[key] or 0.0
        least = max(LINE_ERROR_M["walked"], stated)
        if error < least:
            by = "its receiver's own figures" if stated == least else "ours, no source"
            notes.append(
                f"[{key.replace('.', '] ')} was walked with a phone or receiver, so it is taken as "
                f"known to {speak_length(least, units)} ({by}), not to "
                f"{speak_length(error, units)}."
            )
            error = least
    doubt = accuracy_m.get(key, 0.0)
    if doubt > DOUBTFUL_M:
        error += doubt
        notes.append(
            f"The change of CRS may be off by {speak_length(doubt, units)}, so the property line's "
            f"error is taken as {speak_length(error, units)}."
        )
    if not notes:
        return settings, ()
    wider = settings.model_copy(
        update={"property": settings.property.model_copy(update={"error_m": error})}
    )
    found = tuple(
        Finding(
            "property_error_widened",
            "caution",
            note,
            "property",
            value=error,
            unit="m",
            source="ours, no source",
        )
        for note in notes
    )
    return wider, found


def stand_trees(area: Area) -> tuple[Finding, ...]:
    """Tell of trees outside the stand; refuse a list that lies elsewhere.

    Parameters
    ----------
    area : Area

    Returns
    -------
    tuple of Finding

    Raises
    ------
    InputError
        If more than half of the list lies outside.
    """
    trees = area.trees
    inside = shapely.contains_xy(area.stand, trees.x, trees.y)
    outside = ~inside
    if not outside.any():
        return ()
    where = f"{area.settings.stand.trees}:"
    if outside.mean() > OUTSIDE_FAULT_SHARE:
        if shapely.contains_xy(area.stand, trees.y, trees.x).mean() > OUTSIDE_FAULT_SHARE:
            raise InputError(f"{where} x and y are swapped; exchange the two column names")
        west, south, east, north = area.stand.bounds
        raise InputError(
            f"{where} {int(outside.sum())} of {len(trees)} trees lie outside the stand "
            f"(x {west:.0f} to {east:.0f}, y {south:.0f} to {north:.0f} in {area.crs.name}); "
            "are the coordinates in that CRS?"
        )
    ids = [trees.tree_id[row] for row in np.nonzero(outside)[0]]
    cut = [trees.tree_id[row] for row in np.nonzero(outside & trees.marked)[0]]
    far = _far_off(area, outside)
    also = f", {len(cut)} of them marked ({_listed(cut)})" if cut else ""
    return (
        Finding(
            "trees_outside",
            "caution" if cut or far else "ok",
            f"{len(ids)} of {len(trees)} trees lie outside the stand{also}; they are not planned. "
            f"{far}Check the boundary and the coordinates.",
            "trees",
            value=float(len(ids)),
            at=(float(trees.x[outside][0]), float(trees.y[outside][0])),
        ),
    )


def _far_off(area: Area, outside: NDArray[np.bool_]) -> str:
    """Name the trees that stand where no list of this stand goes; empty without any."""
    trees, units = area.trees, area.settings.area.units
    rows = np.flatnonzero(outside)
    points = np.asarray(shapely.points(trees.x[rows], trees.y[rows]), dtype=object)
    away = np.asarray(shapely.distance(points, area.stand), dtype=np.float64)
    far = [(trees.tree_id[row], float(m)) for row, m in zip(rows, away, strict=True) if m > FAR_M]
    if not far:
        return ""
    said = _listed([f"{name} by {speak_length(m, units)}" for name, m in far])
    return f"Far off, so not where they grow: {said}. "


def owner_edge(area: Area) -> BaseGeometry:
    """Give the line the neighbour begins at; without one, the stand's edge off `may_use`."""
    if area.property_line is None:
        edge: BaseGeometry = area.stand.boundary
        if not area.may_use.is_empty:
            edge = edge.difference(area.may_use.buffer(SHARED_EDGE_M))
        return edge
    lines = [
        part.boundary if part.geom_type == "Polygon" else part
        for part in shapely.get_parts(area.property_line)
    ]
    return shapely.union_all(lines)


@dataclass(frozen=True, slots=True, eq=False)
class Doubtful:
    """Marked trees that may not be the owner's; arrays have shape (k,).

    Parameters
    ----------
    rows : ndarray of int
        Rows of the tree list, in its order.
    away_m, reach_m : ndarray of float
        Distance from the line, and how far off line and tree may be together, metres.
    """

    rows: NDArray[np.int64]
    away_m: NDArray[np.float64]
    reach_m: NDArray[np.float64]


def doubtful_trees(area: Area) -> Doubtful:
    """Find marked trees nearer to the line than line and tree are known.

    Parameters
    ----------
    area : Area
        Without a property line the stand's edge counts as it.

    Returns
    -------
    Doubtful
        Those that are out already are among them.
    """
    trees = area.trees
    stems = shapely.points(trees.x, trees.y)
    away = np.asarray(shapely.distance(stems, owner_edge(area)), dtype=np.float64)
    # both may be off, and toward each other
    reach = area.settings.property.error_m + tree_error_m(area)
    rows = np.flatnonzero(trees.marked & (away < reach))
    return Doubtful(rows, away[rows], reach[rows])


def line_trees(area: Area) -> tuple[Finding, ...]:
    """Tell of marked trees nearer to the line than line and tree are known.

    Parameters
    ----------
    area : Area

    Returns
    -------
    tuple of Finding
        One a tree where a property line is drawn and they are few; else one for all.
        That no line is given is told by the checks.
    """
    units = area.settings.area.units
    drawn = area.property_line is not None
    trees, found, own = area.trees, doubtful_trees(area), tree_error_m(area)
    if not found.rows.size:
        return ()
    what = "the property line" if drawn else "the stand's edge"
    known = speak_length(area.settings.property.error_m, units)
    if drawn and found.rows.size <= MOST_SINGLE:
        return tuple(
            Finding(
                "tree_near_line",
                "caution",
                f"Tree {trees.tree_id[row]} stands {speak_length(away, units)} "
                f"from {what}, which is known to {known}, as the tree is to "
                f"{speak_length(float(own[row]), units)}: it may not be yours; confirm the line on "
                "the ground before it is cut.",
                "trees",
                trees.tree_id[row],
                value=away,
                limit=reach,
                unit="m",
                source=str(NEIGHBOUR_TREES),
                at=(float(trees.x[row]), float(trees.y[row])),
            )
            for row, away, reach in zip(
                found.rows.tolist(), found.away_m.tolist(), found.reach_m.tolist(), strict=True
            )
        )
    names = [trees.tree_id[row] for row in found.rows]
    first = min(range(len(names)), key=lambda k: (float(found.away_m[k]), names[k]))
    row = int(found.rows[first])
    return (
        Finding(
            "tree_near_line",
            "caution",
            f"{len(names)} marked trees stand within "
            f"{speak_length(float(found.reach_m.max()), units)} of {what} ({_listed(names)}): the "
            f"line is known to {known}, the trees to "
            f"{speak_length(float(own[found.rows].max()), units)}, so they may not be yours; "
            "confirm the line on the ground before they are cut.",
            "trees",
            value=float(found.away_m[first]),
            limit=float(found.reach_m[first]),
            unit="m",
            source=str(NEIGHBOUR_TREES),
            at=(float(trees.x[row]), float(trees.y[row])),
        ),
    )
