"""Changes of one rule at a time that a plan is tried again with.

Every change gives a whole area whose settings would be read without a fault. None
passes a ceiling: rope and benching have none of grade, cross slope or rope angle in them.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from layout.settings import limits_in_force
from layout.site import Area
from layout.speech import speak_length
from layout.units import FOOT_M

ROPE_NOTCHES_M = (10.0, 20.0, 30.0)
CABLE_MOST_M = 500 * FOOT_M  # what area.toml takes
REACH_MOST_M = 300 * FOOT_M
HAND_DRAG_M = 130 * FOOT_M  # farther by hand is a caution; ours
BENCH_PCT = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class RuleChange:
    """One rule changed.

    Parameters
    ----------
    key : str
        Stable name.
    area : Area
        The area with it.
    change, needs : str
        The change, and what it costs or asks for, in words.
    past_caution : bool
        Whether it asks people for more than where care begins: told, never advised.
    """

    key: str
    area: Area
    change: str
    needs: str
    past_caution: bool = False


def with_keys(area: Area, table: str, **values: float) -> Area:
    """Give the area with some keys of one table changed."""
    settings = area.settings
    changed = getattr(settings, table).model_copy(update=values)
    return replace(area, settings=settings.model_copy(update={table: changed}))


def longer_ropes(area: Area) -> Iterator[RuleChange]:
    """Give rope and reach by hand longer by each notch, as far as area.toml takes them.

    Parameters
    ----------
    area : Area

    Yields
    ------
    RuleChange
        The shortest first.
    """
    winch, units = area.settings.winch, area.settings.area.units
    for notch in ROPE_NOTCHES_M:
        cable, reach = winch.cable_m + notch, winch.working_reach_m + notch
        if cable > CABLE_MOST_M or reach > REACH_MOST_M:
            return
        needs = (
            f"{speak_length(cable, units)} of rope: look on the winch's plate whether its drum "
            f"holds that; and {speak_length(reach, units)} dragged out by hand for each far pull"
        )
        far = reach > HAND_DRAG_M + 1e-6
        if far:
            needs += f", which past {speak_length(HAND_DRAG_M, units)} is a caution"
        yield RuleChange(
            f"reach_plus_{notch:.0f}m",
            with_keys(
                area, "winch", cable_m=cable, working_reach_m=reach,
                uphill_reach_m=winch.uphill_reach_m + notch,
            ),
            f"rope and working reach {speak_length(notch, units)} longer",
            needs,
            past_caution=far,
        )  # fmt: skip


def benching(area: Area) -> RuleChange | None:
    """Give benching up to 30 % of cross slope, where the user allows less.

    Parameters
    ----------
    area : Area

    Returns
    -------
    RuleChange or None
        The limit without a bench stays where it is.
    """
    if area.settings.trails.bench_up_to_pct >= BENCH_PCT:
        return None
    cross = limits_in_force(area.settings).cross_pct
    return RuleChange(
        "bench_to_30",
        with_keys(area, "trails", bench_up_to_pct=BENCH_PCT),
        f"benching up to {BENCH_PCT:.0f} % of cross slope",
        "a machine that digs; cut, fill and a wider bare strip; drainage for good; without a "
        f"bench the limit of {cross:.0f} % stays",
    )
