"""How steep a trail is at its worst: one measure and one rounding for every file.

A trail's stations measure grade over 10 m, and so do limits and findings. The flagging list
gives the mean of each leg beside it; a leg shorter than 10 m may be steeper, but how the crew
cuts a trail into legs must not decide how steep it is said to be. Say a size with `amounts.grade`
from the number given here, never from one that was rounded before: 14.53 % rounded to 14.5 %
is said as 14 %, and 7.46 % as 8 %.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from layout.geometry import Floats
    from layout.plan import Plan
    from layout.records import Trail


@dataclass(frozen=True, slots=True)
class Steepness:
    """The steepest of a trail, percent, 0 where there is none or none is known.

    Parameters
    ----------
    downhill_pct, uphill_pct : float
        Grades of the loaded trip.
    across_pct : float
        Cross slope.
    """

    downhill_pct: float
    uphill_pct: float
    across_pct: float


def of(plan: Plan, trail: Trail) -> Steepness:
    """Give the steepest grades of a trail both ways, and its steepest cross slope.

    Parameters
    ----------
    plan : Plan
        The plan.
    trail : Trail
        One of its trails.

    Returns
    -------
    Steepness
    """
    measured = plan.stations.get(trail.trail_id)
    if measured is None:
        return Steepness(0.0, 0.0, 0.0)
    return Steepness(
        _most(-measured.grade_pct), _most(measured.grade_pct), _most(measured.cross_pct)
    )


def _most(sizes: Floats) -> float:
    return float(np.nan_to_num(sizes, nan=0.0).max(initial=0.0))
