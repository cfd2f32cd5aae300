"""Lines as trails: pieces joined where a walk broke off, and walks to and fro refused."""

import numpy as np
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout.errors import InputError
from layout.findings import Finding
from layout.speech import speak_length
from layout.units import Units
from layout.walked_lines import doubles_back, in_order

BREAK_M = 5.0  # a walked track may break off this far and go on; ours
WALKED_M = 10.0  # how far off a phone is under trees, where it does not say; ours


def lines_of(shape: BaseGeometry) -> list[LineString]:
    """Split lines into simple pieces, joined where their ends meet; no empty ones."""
    merged = shapely.line_merge(shape) if shape.geom_type == "MultiLineString" else shape
    parts = shapely.get_parts(shapely.remove_repeated_points(merged, 1e-6))
    return [part for part in parts if part.geom_type == "LineString" and part.length > 0]


def whole_line(
    shape: BaseGeometry,
    where: str,
    place: str,
    found: list[Finding],
    *,
    code: str,
    otherwise: str = "",
    units: Units = "metric",
) -> LineString:
    """Join the pieces of a walked line in their order, where the breaks are short.

    Parameters
    ----------
    shape : LineString or MultiLineString
    where, place : str
        The key that names it, and how messages call it.
    found : list of Finding
        A break that was closed is told of here.
    code : str
        Of that finding.
    otherwise : str, optional
        What else may be done about a long break, in words.
    units : {"us", "metric"}, optional
        What messages speak.

    Returns
    -------
    LineString
        Every point as drawn, but for those that repeat the one before.

    Raises
    ------
    InputError
        If it has no length, breaks off for long, or comes back beside itself.
    """
    parts = [part for part in shapely.get_parts(shape) if part.length > 0]
    if not parts:
        raise InputError(f"{where} {place} has no length; draw it again or take it out")
    xy, gaps = in_order(parts)
    widest = max(gaps, key=lambda gap: gap.length_m, default=None)
    if widest is not None and widest.length_m > BREAK_M:
        x, y = widest.at
        raise InputError(
            f"{where} {place} breaks off and goes on {speak_length(widest.length_m, units)} away, "
            f"at {x:.0f}, {y:.0f}; draw it as one line{otherwise}"
        )
    if widest is not None:
        found.append(
            Finding(
                code,
                "caution",
                f"{place}: {len(parts)} pieces of the walked line were joined; the widest break "
                f"is {speak_length(widest.length_m, units)}.",
                "input",
                place,
                value=widest.length_m,
                limit=BREAK_M,
                unit="m",
                at=widest.at,
                source="ours, no source",
            )
        )
    if doubles_back(xy):
        raise InputError(
            f"{where} {place} goes out and comes back beside itself; keep one way of it, from the "
            "landing outward"
        )
    return LineString(np.asarray(xy))


def walked_error_m(stated_m: float | None) -> float:
    """Give how far off a walked line may be: as its receiver states, or a usual figure."""
    return stated_m or WALKED_M


def walked_note(code: str, what: str, error_m: float | None, units: Units) -> Finding:
    """Say that a trail was walked with a phone, and how far off it may be.

    Parameters
    ----------
    code : str
    what : str
        The file, as messages call it.
    error_m : float or None
        What its receiver says; None where it does not.
    units : {"us", "metric"}

    Returns
    -------
    Finding
    """
    off = speak_length(error_m, units) if error_m else f"{speak_length(WALKED_M, units)} or more"
    return Finding(
        code,
        "caution",
        f"{what} was walked with a phone or receiver and is kept exactly as it came. It may be off "
        f"by {off}, and its bends and grades with it: flag it, and look at it on the ground.",
        "trails",
        what,
        value=error_m,
        unit="m",
        source="the receiver's own figures" if error_m else "ours, no source",
        confirmed=False,
    )
