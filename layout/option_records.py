"""What a change of rope, tool, ground rule, trail or landing would bring, as frozen records."""

from dataclasses import dataclass
from typing import Literal

HowKnown = Literal["replanned", "planned", "reach", "not_worked_out"]


@dataclass(frozen=True, slots=True)
class LimitRow:
    """What one change by a notch would bring.

    Parameters
    ----------
    key : str
        Stable name; ``as_is`` for things as they are.
    change : str
        The change, in words.
    reached_pct : float
        Share of the stand a trail could come to, percent.
    trees, marked : int
        Marked trees that could be winched, and all there are.
    more_trees : int
        Against things as they are.
    trail_m, ground_m2 : float or None
        Trail the additional trees would take, and its ground, roughly; None
        where there are none or the change is no trail.
    cost : str
        What it costs beside that, in words.
    """

    key: str
    change: str
    reached_pct: float
    trees: int
    marked: int
    more_trees: int = 0
    trail_m: float | None = None
    ground_m2: float | None = None
    cost: str = ""


@dataclass(frozen=True, slots=True)
class OptionRow:
    """What one change would make of the plan; all differences are against the plan.

    Parameters
    ----------
    key : str
        Stable name: ``reach_plus_10m``, ``snatch_block``, ``bench_to_30``, ``main_arm``,
        ``landing_B`` and so on.
    change : str
        The change, in words.
    how : str
        ``replanned``: chosen again from the plan's network, exact among the lines tried,
        not laid out and checked in full; ``planned``: a complete plan of its own;
        ``reach``: rough, trees only; ``not_worked_out``.
    needs : str
        What it costs or asks for beside ground, in words.
    marked : int
        Marked trees still to come out.
    trees : int or None
        Those reached with the change.
    more_trees, more_spurs : int or None
        More (+) or fewer (-) trees reached, and spurs.
    trail_m, ground_m2 : float or None
        More (+) or less (-) trail, metres, and ground under trails, benches, turning
        places and landing, square metres.
    share_points : float or None
        The same ground, in points of the stand.
    skid_m, pull_m : float or None
        Mean way from a tree's winch position to the landing, and mean pull: longer (+)
        or shorter (-), metres.
    hours : float or None
        More (+) or fewer (-) hours of work, the middle of the range.
    gain_m2 : float or None
        What the rows are sorted by: ground saved, and trees reached at the price of
        leaving one standing, weighted square metres as the plan weighs them.
    why : str
        Why it is not worked out; empty otherwise.
    past_caution : bool
        Whether it asks people for more than where care begins: told, never advised.
    """

    key: str
    change: str
    how: HowKnown
    needs: str
    marked: int
    trees: int | None = None
    more_trees: int | None = None
    more_spurs: int | None = None
    trail_m: float | None = None
    ground_m2: float | None = None
    share_points: float | None = None
    skid_m: float | None = None
    pull_m: float | None = None
    hours: float | None = None
    gain_m2: float | None = None
    why: str = ""
    past_caution: bool = False
