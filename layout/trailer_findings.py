"""What is said of a small landing in the woods and a trailer on from it."""

import math

from layout.findings import Finding
from layout.settings import AreaSettings
from layout.speech import speak_area, speak_station
from layout.units import Units
from layout.work_records import Hours, TwoStage


def two_stage_findings(settings: AreaSettings, two: TwoStage) -> tuple[Finding, ...]:
    """Say what came of the comparison.

    Parameters
    ----------
    settings : AreaSettings
    two : TwoStage

    Returns
    -------
    tuple of Finding
        What it came to. Where no place will do it is a caution if the trailer was to be
        used. A caution besides where loads lie at a small landing that nothing carries on,
        or that another was asked for.
    """
    return (_outcome(settings, two), *_left_there(two))


def _left_there(two: TwoStage) -> list[Finding]:
    """Say what lies at the small landing, and that the place stays where it is."""
    found = []
    if two.loads_in:
        lie = f"{two.loads_in} loads that are in lie"
        lie = f"{'1 load that is in lies' if two.loads_in == 1 else lie} at the small landing"
        tick = (
            "Trips driven already are not known: in progress.csv write carried as the state of "
            "each load the trailer has taken to the landing."
        )
        used = f"{lie} on {two.trail_id}, and the trailer's trips carry that too. {tick}"
        left = (
            f"{lie} on {two.trail_id}, and this plan carries nothing on from there. Set [trailer] "
            f"use = true, or mend what is in its way. {tick}"
        )
        found.append(
            Finding(
                "trailer_in_use" if two.chosen else "trailer_wood_left",
                "ok" if two.chosen else "caution",
                used if two.chosen else left,
                "trails",
                two.trail_id,
                value=float(two.loads_in),
                source="ours",
            )
        )
    if two.moved:
        found.append(
            Finding(
                "trailer_place_kept",
                "caution",
                f"[trailer] at names another place than the small landing in use on "
                f"{two.trail_id}; a place in use is kept. Clear at, or set it there.",
                "settings",
                "trailer.at",
                source="ours",
            )
        )
    return found


def _outcome(settings: AreaSettings, two: TwoStage) -> Finding:
    """Say what came of the comparison."""
    units, use = settings.area.units, settings.trailer.use
    if two.why_none:
        goes = " Loads are dragged all the way." if use else ""
        return Finding(
            "trailer_not_possible",
            "caution" if use else "ok",
            f"No trailer on this plan: {two.why_none}.{goes}",
            "settings",
            "trailer",
            source="ours",
        )
    hours_of = (two.drag_all, two.two_stage)
    return Finding(
        "trailer_compared",
        "ok",
        f"{_told(two, units)} What a trailer may carry here is from statics and memory, "
        "unverified: hold it against its plate, its brakes and the lane on the day.",
        "trails",
        two.trail_id,
        from_m=0.0,
        to_m=two.at_m,
        value=None if hours_of[1] is None else hours_of[1].middle_h,
        limit=None if hours_of[0] is None else hours_of[0].middle_h,
        unit="h",
        source="ours",
        confirmed=False,
        at=None if two.x is None or two.y is None else (two.x, two.y),
    )


def _told(two: TwoStage, units: Units) -> str:
    """Put the comparison into a sentence."""
    trips = "1 trip carries" if two.trips == 1 else f"{two.trips} trips carry"
    loads = (
        "1 dragged load ends"
        if two.turns_through == 1
        else f"{two.turns_through} dragged loads end"
    )
    lead = "A trailer is used" if two.chosen else "A trailer could be used"
    return (
        f"{lead} from a small landing on {two.trail_id} at {speak_station(two.lane_m, units)}: "
        f"{loads} there, {trips} their wood on. Bringing wood in takes {_range(two.two_stage)} "
        f"hours so, {_range(two.drag_all)} dragged all the way; the lane is spared "
        f"{two.passes_saved} passes, {100 * two.clean_share:.0f} % of the wood stays clean on it, "
        f"and the small landing takes {speak_area(two.landing_m2, units)}."
    )


def _range(some: Hours | None) -> str:
    """Say hours as a range, outward to whole ones."""
    if some is None:
        return "unknown"
    return f"{math.floor(some.low_h)} to {math.ceil(some.high_h)}"
