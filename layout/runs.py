"""Runs of stations over a limit, and when a run breaks a rule.

A **run** is a stretch of consecutive 1 m stations over the sustained limit. It
may be at most a short pitch long, may nowhere pass the short limit, and the
next run may begin only after a short pitch of ground under the sustained one.
The grades come in measured on the 10 m baseline; nothing here knows a trail.

Each station stands for the ground half-way to its neighbours, so n stations in
the middle of a line are n metres. A station whose grade is not known is neither
over nor under: it ends a run and does not count as rest.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

GRADE_NOISE_PCT = 1e-6  # a 20 % grade computed as 20.000000001 is still 20 %
LENGTH_NOISE_M = 1e-6


@dataclass(frozen=True, slots=True)
class Run:
    """Consecutive stations that share a fact.

    Parameters
    ----------
    first, last : int
        Indices of the first and last station, both inside.
    from_m, to_m : float
        The ground the stations stand for, metres along the line.
    """

    first: int
    last: int
    from_m: float
    to_m: float

    @property
    def length_m(self) -> float:
        """Length of the ground the stations stand for, metres."""
        return self.to_m - self.from_m


@dataclass(frozen=True, slots=True)
class PitchFault:
    """One way in which a run breaks the short-pitch rule.

    Parameters
    ----------
    kind : {"steep", "long", "soon"}
        Over the short limit; longer than a short pitch; too soon after the
        run before it.
    run : Run
        The run at fault.
    value, limit : float
        Percent for ``steep``, metres for the other two.
    worst_pct : float
        Steepest station of the run, percent.
    before : Run or None
        For ``soon``, the run before.
    """

    kind: Literal["steep", "long", "soon"]
    run: Run
    value: float
    limit: float
    worst_pct: float
    before: Run | None = None


def edges(at_m: Floats) -> Floats:
    """Give the borders of the ground each station stands for.

    Parameters
    ----------
    at_m : ndarray of float, shape (n,)
        Stations, strictly rising, metres.

    Returns
    -------
    ndarray of float, shape (n + 1,)
        Station i stands for ``edges[i]`` to ``edges[i + 1]``, metres.
    """
    if at_m.size == 0:
        return np.zeros(1)
    return np.concatenate([at_m[:1], 0.5 * (at_m[1:] + at_m[:-1]), at_m[-1:]])


def runs(flags: Flags, at_m: Floats) -> tuple[Run, ...]:
    """Find the stretches of consecutive stations that are flagged.

    Parameters
    ----------
    flags : ndarray of bool, shape (n,)
        The stations looked for.
    at_m : ndarray of float, shape (n,)
        Stations, strictly rising, metres.

    Returns
    -------
    tuple of Run
        In order along the line.
    """
    padded = np.concatenate([[False], np.asarray(flags, dtype=bool), [False]])
    change = np.flatnonzero(padded[1:] != padded[:-1])
    border = edges(at_m)
    return tuple(
        Run(int(a), int(b) - 1, float(border[a]), float(border[b]))
        for a, b in zip(change[::2], change[1::2], strict=True)
    )


def over(size: Floats, limit: float, noise: float = GRADE_NOISE_PCT) -> Flags:
    """Say which values pass a limit; a value not known does not."""
    with np.errstate(invalid="ignore"):
        return np.asarray(size > limit + noise)


def worst(size: Floats, run: Run) -> float:
    """Give the largest value of a run."""
    return float(np.nanmax(size[run.first : run.last + 1]))


def pitch_faults(
    at_m: Floats,
    size_pct: Floats,
    *,
    sustained_pct: float,
    short_pct: float,
    short_pitch_m: float,
) -> tuple[PitchFault, ...]:
    """Judge the grades of one line, in one loaded direction.

    Parameters
    ----------
    at_m : ndarray of float, shape (n,)
        Stations, strictly rising, metres.
    size_pct : ndarray of float, shape (n,)
        Size of the grade in the direction judged: for favourable grades the
        negative of the signed grade, for adverse ones the grade itself.
    sustained_pct, short_pct : float
        The limit for any length, and for a short pitch.
    short_pitch_m : float
        Longest run, and least ground under the sustained limit between two.

    Returns
    -------
    tuple of PitchFault
        In order along the line; a run may hold more than one.
    """
    at, size = np.asarray(at_m, dtype=float), np.asarray(size_pct, dtype=float)
    steep = runs(over(size, sustained_pct), at)
    border = edges(at)
    span = np.diff(border)
    with np.errstate(invalid="ignore"):
        rest = np.where(size <= sustained_pct + GRADE_NOISE_PCT, span, 0.0)
    faults: list[PitchFault] = []
    for i, run in enumerate(steep):
        top = worst(size, run)
        if top > short_pct + GRADE_NOISE_PCT:
            faults.append(PitchFault("steep", run, top, short_pct, top))
        if run.length_m > short_pitch_m + LENGTH_NOISE_M:
            faults.append(PitchFault("long", run, run.length_m, short_pitch_m, top))
        if i:
            before = steep[i - 1]
            gap = float(rest[before.last + 1 : run.first].sum())
            if gap < short_pitch_m - LENGTH_NOISE_M:
                faults.append(PitchFault("soon", run, gap, short_pitch_m, top, before))
    return tuple(faults)
