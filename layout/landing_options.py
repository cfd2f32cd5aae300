"""Proposed landings, each planned completely, held against each other.

The best has the fewest stop findings, then leaves the fewest marked trees unserved, and
among those as good in that takes the least ground, weighed as the settings say: the
objective of the choice, with the main trail and the landing counted. What is equal in
all goes by the place.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from layout.findings import Finding
from layout.site import Area
from layout.sites import NOT_LOOKED_AT
from layout.speech import speak_area, speak_length
from layout.units import Units

PROPOSED = "landing_proposed"
SAME_M2 = 2  # decimals; objectives nearer than this are the same
TOLD_M2 = 1.0  # a difference smaller than this is no reason anybody needs


@dataclass(frozen=True, slots=True, eq=False)
class LandingOption:
    """One proposed landing, and what a complete plan from it comes to.

    Parameters
    ----------
    option_id : str
        ``A`` for the best, ``B`` for the next; those that could not be planned last.
    shape : Polygon
    x, y : float
        Its middle, metres.
    slope_pct : float
        Slope of the plane under it.
    marked : int
        Marked trees that are still to come out, wherever they stand.
    reason : str
        Why nothing could be planned from it; empty where a plan was made, and then
        all that follows is known.
    tree_count : int or None
        Of them, those that come out.
    sure_count : int or None
        Pulls that are sure.
    trail_m : float or None
        Main trail and spurs.
    disturbed_m2, disturbed_pct : float or None
        Ground under trails, turning places, benches and the landing; and its share of
        the stand.
    adverse_pct : float or None
        Share of the loaded metres that go uphill: each step of trail counted once a load.
        None as well where nothing is dragged over known grades.
    skid_m : float or None
        Mean way along the trails to the landing, load by load. None as well without loads.
    low_h, high_h : float or None
        Of all the work.
    stops, cautions, unknowns : int or None
        Findings of the layout; what limits it is not looked at.
    objective_m2 : float or None
        Weighted square metres: the objective of the choice, the main trail and the
        landing; marked trees left standing at their price.
    used : bool
        Whether the plan is made with it.
    why : str
        Why it is not used, in a sentence; empty for the one that is.
    """

    option_id: str
    shape: Polygon
    x: float
    y: float
    slope_pct: float
    marked: int
    reason: str = ""
    tree_count: int | None = None
    sure_count: int | None = None
    trail_m: float | None = None
    disturbed_m2: float | None = None
    disturbed_pct: float | None = None
    adverse_pct: float | None = None
    skid_m: float | None = None
    low_h: float | None = None
    high_h: float | None = None
    stops: int | None = None
    cautions: int | None = None
    unknowns: int | None = None
    objective_m2: float | None = None
    used: bool = False
    why: str = ""

    @property
    def planned(self) -> bool:
        """Whether a plan was made from it."""
        return self.tree_count is not None

    @property
    def unserved(self) -> int:
        """Marked trees that are left; all of them where nothing could be planned."""
        return self.marked - (self.tree_count or 0)


def order_of(option: LandingOption) -> tuple[bool, int, int, float, float, float]:
    """Give what options are sorted by: the best first, ties by the place.

    Parameters
    ----------
    option : LandingOption

    Returns
    -------
    tuple
        Not planned, stop findings, trees unserved, objective, northing, easting: what
        must not be driven as it stands is no better for a tree more.
    """
    objective = option.objective_m2 or 0.0
    return (
        not option.planned,
        option.stops or 0,
        option.unserved,
        round(objective, SAME_M2),
        option.y,
        option.x,
    )


def ranked(options: Sequence[LandingOption], units: Units) -> tuple[LandingOption, ...]:
    """Sort options, name them, and say why each but the best lost.

    Parameters
    ----------
    options : sequence of LandingOption
        In any order.
    units : {"us", "metric"}
        How amounts are said.

    Returns
    -------
    tuple of LandingOption
        The best first, marked as used where it was planned.
    """
    ordered = sorted(options, key=order_of)
    return tuple(
        replace(
            option,
            option_id=chr(ord("A") + n),
            used=n == 0 and option.planned,
            why="" if n == 0 and option.planned else _why_lost(option, ordered[0], units),
        )
        for n, option in enumerate(ordered)
    )


def _why_lost(option: LandingOption, best: LandingOption, units: Units) -> str:
    """Say in a sentence why an option is not the one used."""
    if not option.planned:
        return f"Nothing can be planned from it: {option.reason.rstrip('.')}."
    stops = (option.stops or 0) - (best.stops or 0)
    if stops:
        return f"Its plan has {stops} more stop {'finding' if stops == 1 else 'findings'}."
    more = option.unserved - best.unserved
    if more:
        return f"It leaves {more} more marked {'tree' if more == 1 else 'trees'} unserved."
    assert option.objective_m2 is not None
    assert best.objective_m2 is not None
    dearer = option.objective_m2 - best.objective_m2
    if dearer < TOLD_M2:
        return "It serves as many trees and takes as much; there is little between them."
    return (
        f"It serves as many trees and takes {speak_area(dearer, units)} more, ground and "
        "work weighed as the settings say."
    )


def told(area: Area, options: Sequence[LandingOption], proposed: Finding) -> Finding:
    """Say of the landing used that it was proposed, and what the comparison found.

    Parameters
    ----------
    area : Area
    options : sequence of LandingOption
        From `ranked`.
    proposed : Finding
        What was said of it when it was proposed.

    Returns
    -------
    Finding
    """
    units = area.settings.area.units
    used, others = options[0], options[1:]
    planned = sum(option.planned for option in options)
    count = (
        "It alone could be planned"
        if planned == 1
        else f"{planned} places were planned completely and this one does best"
    )
    after = "".join(f" {option.option_id}, {_short(option, units)}" for option in others)
    return replace(
        proposed,
        message=(
            f"The landing at [{used.x:.0f}, {used.y:.0f}] was proposed, not drawn: "
            f"{used.slope_pct:.1f} % slope{_road(area, used)}. {count}: "
            f"{_figures(used, units)}.{after} "
            f"{NOT_LOOKED_AT}"
        ),
    )


def _road(area: Area, option: LandingOption) -> str:
    """Say how far the road is, where one is given."""
    lines = [line for line in area.access_road if not line.is_empty]
    if not lines:
        return ""
    away = min(option.shape.distance(line) for line in lines)
    return f", {speak_length(away, area.settings.area.units)} from the road"


def _short(option: LandingOption, units: Units) -> str:
    where = f"at [{option.x:.0f}, {option.y:.0f}]"
    return f"{where}: {_figures(option, units) + '. ' if option.planned else ''}{option.why}"


def _figures(option: LandingOption, units: Units) -> str:
    """Give the few figures people ask for first."""
    parts = [f"{option.tree_count} of {option.marked} marked trees"]
    if option.trail_m is not None:
        parts.append(f"{speak_length(option.trail_m, units)} of trail")
    if option.low_h is not None and option.high_h is not None:
        parts.append(f"{math.floor(option.low_h)} to {math.ceil(option.high_h)} hours")
    return ", ".join(parts)
