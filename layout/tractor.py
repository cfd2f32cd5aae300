"""How far off its long axis a parked tractor may pull: statics only.

A load that hangs up makes the winch pull with all it has, so the side pull is
judged at the full rated pull, whatever the log weighs. The butt plate is not
counted. Three things can give way sideways, and the first of them decides:

1. the tyres slide: ``F sin a <= traction W cos b / n - W sin b``;
2. the tractor tips about the line from a rear tyre's outer edge to the front
   axle's pivot (first phase, before the front axle meets its stop);
3. it tips as one rigid body about both tyres of one side.

``F`` rated pull, ``a`` angle off the axis, ``W`` weight, ``b`` cross slope,
``n`` the factor of 1.5. What holds is divided by ``n``; what pushes over,
the slope's share included, is not. Towards the uphill side the slope is not
counted as help.

Moments about the first-phase line, with the rear axle ``L`` behind the pivot of
height ``p``, the centre of gravity ``x`` ahead of the rear axle and ``h`` high,
tyre edges ``T`` apart and the rope leaving ``d`` behind the axle, ``f`` high::

    W cos b (T/2) (L - x) / n  >=  W sin b (L h - p x) + F sin a (L f + p d)
                                   + F cos a (T/2) (p - f)   (only where p > f)
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.settings.tractor_table import TractorTable
from layout.units import GRAVITY_MPS2

Floats = NDArray[np.float64]

SIDE_FACTOR = 1.5  # ours; the published statics carry none
TABLE_STEP_PCT = 0.25
TABLE_TOP_PCT = 25.0  # nothing parks on more; past it the last row would be too kind


@dataclass(frozen=True, slots=True)
class SideLimit:
    """Widest angle off the parked axis, by cross slope.

    Parameters
    ----------
    step_pct : float
        Cross slope between two entries; the first entry is level ground.
    downhill_deg, uphill_deg : tuple of float
        Widest angle towards the lower and the higher side, degrees, falling.
    """

    step_pct: float
    downhill_deg: tuple[float, ...]
    uphill_deg: tuple[float, ...]

    def at(self, cross_pct: ArrayLike, *, downhill: bool) -> Floats:
        """Give the limit at the next steeper entry; 0 past the end of the table."""
        rows = np.array([*(self.downhill_deg if downhill else self.uphill_deg), 0.0])
        index = np.ceil(np.abs(np.asarray(cross_pct, dtype=float)) / self.step_pct - 1e-9)
        return np.asarray(rows[np.minimum(index, rows.size - 1).astype(np.int64)])


def rigid_tip_kn(
    mass_kg: float,
    track_m: float,
    cg_height_m: float,
    fairlead_height_m: float,
    cross_pct: ArrayLike,
    factor: float = 1.0,
) -> Floats:
    """Give the side pull towards the lower side that tips a rigid tractor.

    ``F f + W h sin b = W (T/2) cos b / n``.

    Parameters
    ----------
    mass_kg : float
        Tractor, winch and ballast.
    track_m, cg_height_m, fairlead_height_m : float
        Between tyre contact centres; heights of the centre of gravity and the rope, metres.
    cross_pct : array_like of float, any shape
        Cross slope, percent; negative where the pull goes towards the higher side.
    factor : float, optional
        Divides what holds the tractor up.

    Returns
    -------
    ndarray of float, same shape
        Kilonewtons; negative where it would tip without a pull.
    """
    slope = np.arctan(np.asarray(cross_pct, dtype=float) / 100)
    weight_kn = mass_kg * GRAVITY_MPS2 / 1000
    holds = weight_kn * track_m / 2 * np.cos(slope) / factor
    turns = weight_kn * cg_height_m * np.sin(slope)
    return np.asarray((holds - turns) / fairlead_height_m, dtype=np.float64)


def pivot_tip_kn(
    tractor: TractorTable, pull_kn: float, cross_pct: ArrayLike, factor: float = 1.0
) -> Floats:
    """Give the side pull towards the lower side that starts the first phase of tipping.

    Parameters
    ----------
    tractor : TractorTable
        Dimensions and mass.
    pull_kn : float
        Pull along the rope; matters only where the rope leaves lower than the pivot.
    cross_pct : array_like of float, any shape
        Cross slope, percent.
    factor : float, optional
        Divides what holds the tractor up.

    Returns
    -------
    ndarray of float, same shape
        Kilonewtons; negative where it would tip without a pull.
    """
    slope = np.arctan(np.asarray(cross_pct, dtype=float) / 100)
    weight_kn = tractor.mass_kg * GRAVITY_MPS2 / 1000
    base, half = tractor.wheelbase_m, tractor.track_m / 2
    ahead = _ahead_share(tractor) * base
    pivot, rope = tractor.pivot_height_m, tractor.fairlead_height_m
    holds = weight_kn * np.cos(slope) * half * (base - ahead) / factor
    turns = weight_kn * np.sin(slope) * (base * tractor.cg_height_m - pivot * ahead)
    lengthwise = pull_kn * half * max(pivot - rope, 0.0)
    lever = base * rope + pivot * tractor.load_behind_axle_m
    return np.asarray((holds - turns - lengthwise) / lever, dtype=np.float64)


def slide_kn(tractor: TractorTable, cross_pct: ArrayLike, factor: float = 1.0) -> Floats:
    """Give the side pull towards the lower side that slides the tyres.

    Parameters
    ----------
    tractor : TractorTable
        Mass and net traction.
    cross_pct : array_like of float, any shape
        Cross slope, percent.
    factor : float, optional
        Divides the hold of the tyres.

    Returns
    -------
    ndarray of float, same shape
        Kilonewtons; negative where it would slide without a pull.
    """
    slope = np.arctan(np.asarray(cross_pct, dtype=float) / 100)
    weight_kn = tractor.mass_kg * GRAVITY_MPS2 / 1000
    holds = tractor.traction * weight_kn * np.cos(slope) / factor
    return np.asarray(holds - weight_kn * np.sin(slope), dtype=np.float64)


def side_pull_kn(
    tractor: TractorTable, pull_kn: float, cross_pct: ArrayLike, *, downhill: bool
) -> Floats:
    """Give the side pull allowed with the factor of 1.5, the least of the three.

    Parameters
    ----------
    tractor : TractorTable
        The machine.
    pull_kn : float
        Full rated pull of the winch, kN.
    cross_pct : array_like of float, any shape
        Cross slope of the parked heading, percent, unsigned.
    downhill : bool
        Whether the pull goes towards the lower side. Towards the higher side
        the slope is not counted as help, but the tyres press less on it.

    Returns
    -------
    ndarray of float, same shape
        Kilonewtons, 0 at least.
    """
    cross = np.abs(np.asarray(cross_pct, dtype=float))
    over = cross if downhill else np.zeros_like(cross)
    lighter = 1.0 if downhill else np.cos(np.arctan(cross / 100))
    rigid = rigid_tip_kn(
        tractor.mass_kg,
        tractor.track_m,
        tractor.cg_height_m,
        tractor.fairlead_height_m,
        over,
        SIDE_FACTOR,
    )
    least = np.minimum(
        np.minimum(rigid, pivot_tip_kn(tractor, pull_kn, over, SIDE_FACTOR)),
        slide_kn(tractor, over, SIDE_FACTOR),
    )
    return np.asarray(np.maximum(least * lighter, 0.0), dtype=np.float64)


def side_limit_deg(
    tractor: TractorTable, pull_kn: float, cross_pct: ArrayLike, *, downhill: bool
) -> Floats:
    """Give the widest angle off the parked axis at the winch's full rated pull.

    Parameters
    ----------
    tractor : TractorTable
        The machine.
    pull_kn : float
        Full rated pull of the winch, kN.
    cross_pct : array_like of float, any shape
        Cross slope of the parked heading, percent, unsigned.
    downhill : bool
        Whether the pull goes towards the lower side.

    Returns
    -------
    ndarray of float, same shape
        Degrees from 0 to 90.
    """
    share = side_pull_kn(tractor, pull_kn, cross_pct, downhill=downhill) / pull_kn
    return np.asarray(np.degrees(np.arcsin(np.minimum(share, 1.0))), dtype=np.float64)


def side_limit_table(tractor: TractorTable, pull_kn: float) -> SideLimit:
    """Work the side limit out once for every quarter percent of cross slope.

    Parameters
    ----------
    tractor : TractorTable
        The machine.
    pull_kn : float
        Full rated pull of the winch, kN.

    Returns
    -------
    SideLimit
        To be read at the next steeper entry, which never allows more than the statics do.
    """
    cross = np.arange(0.0, TABLE_TOP_PCT + TABLE_STEP_PCT / 2, TABLE_STEP_PCT)
    return SideLimit(
        step_pct=TABLE_STEP_PCT,
        downhill_deg=tuple(side_limit_deg(tractor, pull_kn, cross, downhill=True).tolist()),
        uphill_deg=tuple(side_limit_deg(tractor, pull_kn, cross, downhill=False).tolist()),
    )


def _ahead_share(tractor: TractorTable) -> float:
    """Give the centre of gravity's distance ahead of the rear axle, share of the wheelbase."""
    return float(tractor.front_share_pct) / 100
