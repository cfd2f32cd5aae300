"""Which side of a trail a water bar opens to."""

from collections.abc import Sequence
from typing import Literal

from layout.findings import Finding
from layout.records import Trail, WaterBar
from layout.sources import BAR_PLACES
from layout.speech import speak_station
from layout.units import Units

Outlet = Literal["left", "right", "unknown"]

OUTLET_NOISE_PCT = 2.0  # ours: flatter across than this, elevations do not say which side is low


def outlet_side(tilt_left_pct: float) -> Outlet:
    """Name the lower side of a trail, looking along its stored line.

    Parameters
    ----------
    tilt_left_pct : float
        Signed cross slope, percent: + where the left side is the higher.

    Returns
    -------
    {"left", "right", "unknown"}
        ``unknown`` where the ground is flatter across than elevations can tell.
    """
    if not abs(tilt_left_pct) >= OUTLET_NOISE_PCT:
        return "unknown"
    return "right" if tilt_left_pct > 0 else "left"


def outlet_findings(
    trail: Trail, laid: Sequence[WaterBar], units: Units = "us"
) -> tuple[Finding, ...]:
    """Report where a trail's bars have no low side to open to.

    Parameters
    ----------
    trail : Trail
        The trail.
    laid : sequence of WaterBar
        All its bars.
    units : {"us", "metric"}, optional
        What the messages speak.

    Returns
    -------
    tuple of Finding
        A caution for each unbroken row of bars without a low side; one ``ok``
        where every bar has one; nothing where the trail needs no bar.
    """
    ordered = sorted(laid, key=lambda bar: bar.at_m)
    rows: list[list[WaterBar]] = [[]]
    for bar in ordered:
        if bar.outlet == "unknown":
            rows[-1].append(bar)
        else:
            rows.append([])
    rows = [row for row in rows if row]
    if not rows:
        if not ordered:
            return ()
        return (
            Finding(
                code="bar_outlet",
                level="ok",
                message=f"{_name(trail)}: every water bar opens to a low side.",
                subject_layer="trails",
                subject_id=trail.trail_id,
                source=str(BAR_PLACES),
            ),
        )
    return tuple(
        Finding(
            code="bar_outlet",
            level="caution",
            message=(
                f"{_name(trail)} {_stretch(row, units)}: {_counted(len(row))} no clear "
                f"low side, the ground tilts under {OUTLET_NOISE_PCT:g} % across the trail; "
                "choose the outlet on the ground, or dig a lead-off."
            ),
            subject_layer="trails",
            subject_id=trail.trail_id,
            from_m=row[0].at_m,
            to_m=row[-1].at_m,
            value=float(len(row)),
            source=str(BAR_PLACES),
            at=(row[0].x, row[0].y),
        )
        for row in rows
    )


def _name(trail: Trail) -> str:
    return f"{'Main trail' if trail.kind == 'main' else 'Spur'} {trail.trail_id}"


def _stretch(row: Sequence[WaterBar], units: Units) -> str:
    first, last = (speak_station(bar.at_m, units) for bar in (row[0], row[-1]))
    return f"at {first}" if first == last else f"from {first} to {last}"


def _counted(count: int) -> str:
    return "one water bar has" if count == 1 else f"{count} water bars in a row have"
