"""How much there is to build: drains and metres of bar, for each of the two sets."""

from collections.abc import Iterable
from dataclasses import dataclass

from layout.records import WaterBar


@dataclass(frozen=True, slots=True)
class Amounts:
    """What there is to build on a trail, or on all of them.

    Parameters
    ----------
    shutdown, shutdown_m : int, float
        Bars that are put in before every shutdown or rain, and their length together,
        metres.
    closeout, closeout_m : int, float
        All bars there are in the end, those above among them, and their length.
    dips : int
        Dips, shaped before the trail is used.
    breaks : int
        Low points that drain by themselves: nothing is built, the outlet is kept open.
    """

    shutdown: int = 0
    shutdown_m: float = 0.0
    closeout: int = 0
    closeout_m: float = 0.0
    dips: int = 0
    breaks: int = 0


def amounts(laid: Iterable[WaterBar]) -> Amounts:
    """Count what there is to build.

    Parameters
    ----------
    laid : iterable of WaterBar
        Drains of one trail, or of several.

    Returns
    -------
    Amounts
        A bar without a length counts with none.
    """
    drains = list(laid)
    built = [bar for bar in drains if bar.kind == "bar"]
    early = [bar for bar in built if bar.bar_set == "shutdown"]
    return Amounts(
        shutdown=len(early),
        shutdown_m=sum(bar.length_m or 0.0 for bar in early),
        closeout=len(built),
        closeout_m=sum(bar.length_m or 0.0 for bar in built),
        dips=sum(bar.kind == "dip" for bar in drains),
        breaks=sum(bar.kind == "grade_break" for bar in drains),
    )
