"""The user's own loads against the cycle model: how fast this crew, this machine, this wood are.

One factor on all minutes of a load, the sum of the logged minutes over the sum of the
model's. A sum and not a median, because what is asked for is the time of the whole job: a
load that hung up belongs to it, and a median would forget it. Against slips of the pen
(a lunch in the minutes, feet in place of metres) loads whose own factor is over three
times the median one, or under a third of it, are left out and named.

From twelve loads on driving and the rest may each have a factor of their own, but only
where loads that were left out of the fit are foretold clearly better so.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from layout.cycle_model import Pace
from layout.work_records import LoggedLoad

Floats = NDArray[np.float64]

LEAST_LOADS = 3  # fewer say nothing of how far they may be off; ours
LEAST_FOR_TWO = 12  # loads, before two factors are tried; ours
FAR_OFF = 3.0  # times the median factor, or a third of it; ours
BETTER = 0.9  # share of one factor's misses that two may leave; ours
LEAST_RANGE = 0.10  # a job is never as like its log as the log is like itself; ours
MOST_RANGE = 0.80
CONFIDENCE = 0.90  # as for sample plots; common practice, no source
ODD = (0.2, 5.0)  # factors outside are a fit's, not a crew's


@dataclass(frozen=True, slots=True)
class Usual:
    """A load of this plan, for what a log leaves blank.

    Parameters
    ----------
    rope_m : float
        Rope out for one winching, metres.
    pulls, pieces : float
        Winchings and pieces of a load, on average.
    """

    rope_m: float
    pulls: float
    pieces: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """What a log makes of the model.

    Parameters
    ----------
    loads : int
        Loads that count; 0 where there are too few, and then the factors are 1.
    factor : float
        Logged minutes over those of the model, all in all.
    travel, rest : float
        The same for driving and for the rest; equal unless two factors held.
    range_share : float or None
        Plus or minus share of the minutes, from the spread of the loads; None where
        there are too few.
    left_out : tuple of int
        Lines of loads too far off the others.
    filled : tuple of str
        What was blank, on some load, and taken from the plan.
    """

    loads: int
    factor: float = 1.0
    travel: float = 1.0
    rest: float = 1.0
    range_share: float | None = None
    left_out: tuple[int, ...] = ()
    filled: tuple[str, ...] = ()

    @property
    def two_factors(self) -> bool:
        """Whether driving has a factor of its own."""
        return self.travel != self.rest

    def on(self, pace: Pace) -> Pace:
        """Give a pace corrected by the log."""
        return replace(pace, travel=pace.travel * self.travel, rest=pace.rest * self.rest)


def calibrate(loads: Sequence[LoggedLoad], pace: Pace, usual: Usual) -> Calibration:
    """Hold logged loads against the model.

    Parameters
    ----------
    loads : sequence of LoggedLoad
    pace : Pace
        Of the settings, not corrected.
    usual : Usual
        Stands in for what a load does not say.

    Returns
    -------
    Calibration

    Notes
    -----
    The range is that of a ratio of sums: residuals ``e = y - R m`` with mean square
    ``s2`` over n - 1, ``s / sqrt(n)`` over the mean of ``m`` and R, times Student's t for
    90 %. It is 10 % at least and 80 % at most.
    """
    drive = np.array([pace.drive(load.distance_m) for load in loads])
    stand = np.array([pace.rest * _standing(load, pace, usual) for load in loads])
    logged = np.array([load.minutes for load in loads], dtype=float)
    filled = tuple(
        name
        for name in ("rope", "pulls", "pieces")
        if any(getattr(load, "rope_m" if name == "rope" else name) is None for load in loads)
    )
    model = drive + stand
    kept = _near_the_median(logged / model) if len(loads) else np.zeros(0, dtype=bool)
    left_out = tuple(load.line for load, keep in zip(loads, kept.tolist(), strict=True) if not keep)
    if kept.sum() < LEAST_LOADS:
        return Calibration(0, left_out=left_out, filled=filled)
    drive, stand, logged, model = (part[kept] for part in (drive, stand, logged, model))
    factor = float(logged.sum() / model.sum())
    miss = logged - factor * model
    share = float(np.sqrt((miss**2).sum() / (miss.size - 1)) / model.mean() / factor)
    travel = rest = factor
    two = _two_factors(drive, stand, logged)
    if two is not None:
        travel, rest, share = two
    return Calibration(
        loads=int(kept.sum()),
        factor=factor,
        travel=travel,
        rest=rest,
        range_share=_range(share, int(kept.sum()), 1 if two is None else 2),
        left_out=left_out,
        filled=filled,
    )


def _standing(load: LoggedLoad, pace: Pace, usual: Usual) -> float:
    """Give the minutes of a logged load that are not driving, by the model."""
    return pace.standing(
        usual.rope_m if load.rope_m is None else load.rope_m,
        usual.pulls if load.pulls is None else load.pulls,
        usual.pieces if load.pieces is None else load.pieces,
    )


def _near_the_median(ratio: Floats) -> NDArray[np.bool_]:
    """Tell which loads are not far off the others."""
    middle = float(np.median(ratio))
    return np.asarray((ratio <= FAR_OFF * middle) & (ratio >= middle / FAR_OFF))


def _range(spread: float, count: int, factors: int) -> float:
    """Give plus or minus what share the mean of loads with a spread may be off."""
    t = float(stdtrit(count - factors, (1.0 + CONFIDENCE) / 2.0))
    return min(max(t * spread / float(np.sqrt(count)), LEAST_RANGE), MOST_RANGE)


def _two_factors(drive: Floats, stand: Floats, logged: Floats) -> tuple[float, float, float] | None:
    """Give a factor for driving, one for the rest, and the spread; None where one does as well.

    Misses count as shares of the model's minutes, so that long loads do not decide alone.
    """
    count = logged.size
    if count < LEAST_FOR_TWO:
        return None
    model = drive + stand
    design = np.column_stack([drive, stand]) / model[:, None]
    ratio = logged / model
    normal = design.T @ design
    if np.linalg.cond(normal) > 1e6:  # every load from one distance: no telling them apart
        return None
    inverse = np.linalg.inv(normal)
    found = inverse @ design.T @ ratio
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    # a load foretold by all the others: its miss in the fit over one less its leverage
    two = (ratio - design @ found) / np.maximum(1.0 - leverage, 1e-9)
    one = ratio - (logged.sum() - logged) / (model.sum() - model)
    if np.sqrt(np.mean(two**2)) > BETTER * np.sqrt(np.mean(one**2)):
        return None
    found = found * logged.sum() / (drive * found[0] + stand * found[1]).sum()
    if not ((found >= ODD[0]) & (found <= ODD[1])).all():
        return None
    return float(found[0]), float(found[1]), float(np.sqrt(np.mean(two**2)) / np.mean(ratio))
