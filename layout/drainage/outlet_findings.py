"""What there is to say of outlets: where no low side is, and where there is little room below."""

from collections.abc import Callable, Sequence

from layout.drainage.outlets import (
    ENDS_IN_M,
    LANDING,
    OUTLET_NOISE_PCT,
    STRIP,
    WATER,
    wanted_room_m,
)
from layout.findings import Finding
from layout.records import Trail, WaterBar
from layout.sources import BAR_PLACES
from layout.speech import speak_length, speak_station
from layout.units import Units

_SAID_ALIKE_M = 0.16  # half a foot: nearer to the limit than this, both would be said alike
_MET = {STRIP: "the water strip", WATER: "the water", LANDING: "the landing"}


def outlet_findings(
    trail: Trail, laid: Sequence[WaterBar], units: Units = "us"
) -> tuple[Finding, ...]:
    """Report where a trail's drains have no low side, or no room, to open to.

    Parameters
    ----------
    trail : Trail
        The trail.
    laid : sequence of WaterBar
        All its drains.
    units : {"us", "metric"}, optional
        What the messages speak.

    Returns
    -------
    tuple of Finding
        A caution for each unbroken row of drains without an outlet, and for each row
        that meets the same thing too soon; one ``ok`` where every drain has its outlet
        and room; nothing where the trail needs none.
    """
    ordered = sorted(laid, key=lambda bar: bar.at_m)
    if not ordered:
        return ()
    lost = [_no_side(trail, row, units) for row in _rows(ordered, _lost)]
    ends_in = [_ends_in(trail, row, units) for row in _rows(ordered, _closed)]
    short = [_short(trail, row, units) for row in _rows(ordered, _crowded)]
    found = [*lost, *ends_in, *short]
    if found:
        return tuple(found)
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


def _lost(bar: WaterBar) -> str:
    return "lost" if bar.outlet == "unknown" and not _closed(bar) else ""


def _closed(bar: WaterBar) -> str:
    ends = bar.outlet == "unknown" and bar.room_m is not None and bar.room_m <= ENDS_IN_M
    return bar.meets if ends else ""


def _crowded(bar: WaterBar) -> str:
    if bar.outlet == "unknown" or bar.room_m is None:
        return ""
    return bar.meets if bar.room_m < wanted_room_m(bar.meets) - _SAID_ALIKE_M else ""


def _rows(ordered: Sequence[WaterBar], key: Callable[[WaterBar], str]) -> list[list[WaterBar]]:
    """Cut the drains into unbroken rows of which the same is true."""
    rows: list[list[WaterBar]] = []
    last = ""
    for bar in ordered:
        same = key(bar)
        if same and same == last:
            rows[-1].append(bar)
        elif same:
            rows.append([bar])
        last = same
    return rows


def _no_side(trail: Trail, row: list[WaterBar], units: Units) -> Finding:
    has = "one drain has" if len(row) == 1 else f"{len(row)} drains in a row have"
    words = (
        f"{has} no clear low side, the ground tilts under {OUTLET_NOISE_PCT:g} % across the "
        "trail or rises beyond its edge; choose the outlet on the ground, or dig a lead-off."
    )
    return _caution("bar_outlet", trail, row, units, words, float(len(row)))


def _ends_in(trail: Trail, row: list[WaterBar], units: Units) -> Finding:
    would = "one drain" if len(row) == 1 else f"{len(row)} drains in a row"
    words = f"{would} would open into {_met(trail, row[0])}"
    if row[0].meets in (STRIP, WATER):
        words += (
            "; find another outlet on the ground, onto whole forest floor well back from the "
            "bank, or cover the trail there with slash."
        )
    else:
        words += "; find another outlet on the ground, or lead the water on past it."
    return _caution("bar_outlet", trail, row, units, words, float(len(row)))


def _short(trail: Trail, row: list[WaterBar], units: Units) -> Finding:
    least = min(bar.room_m for bar in row if bar.room_m is not None)
    wanted = wanted_room_m(row[0].meets)
    of = "water of one drain" if len(row) == 1 else f"water of {len(row)} drains in a row"
    words = (
        f"{of} comes to {_met(trail, row[0])} within {speak_length(least, units)}, less than "
        f"{speak_length(wanted, units)}; spread it with slash or stones, or lead it farther."
    )
    return _caution("bar_room", trail, row, units, words, least, wanted, "m")


def _met(trail: Trail, bar: WaterBar) -> str:
    if bar.meets == trail.trail_id:
        return "the same trail again"
    return _MET.get(bar.meets, f"trail {bar.meets}")


def _caution(
    code: str,
    trail: Trail,
    row: list[WaterBar],
    units: Units,
    words: str,
    value: float,
    limit: float | None = None,
    unit: str = "",
) -> Finding:
    return Finding(
        code=code,
        level="caution",
        message=f"{_name(trail)} {_stretch(trail, row, units)}: {words}",
        subject_layer="trails",
        subject_id=trail.trail_id,
        from_m=row[0].at_m,
        to_m=row[-1].at_m,
        value=value,
        limit=limit,
        unit=unit,
        source=str(BAR_PLACES) if limit is None else "ours, no source",
        at=(row[0].x, row[0].y),
    )


def _name(trail: Trail) -> str:
    return f"{'Main trail' if trail.kind == 'main' else 'Spur'} {trail.trail_id}"


def _stretch(trail: Trail, row: Sequence[WaterBar], units: Units) -> str:
    end_m = trail.line.length
    first, last = (speak_station(bar.at_m, units, end_m) for bar in (row[0], row[-1]))
    return f"at {first}" if first == last else f"from {first} to {last}"
