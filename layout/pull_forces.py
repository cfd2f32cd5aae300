"""Forces on rope, drum, block and tractor when a log is winched.

- A log on the ground, pulled straight: ``F = Q g (s + ms c)`` up a slope of angle ``t``
  (``s = sin t``, ``c = cos t``), ``Q g (ms c - s)`` down it; less than nothing where it
  would run by itself. Stumps and ploughing in ask for ``breakout`` more at the start.
- The drum: the torque stays, so the pull is the bare drum's times ``r_bare / r``. The
  square of the radius grows in proportion to the rope that is wound on.
- A snatch block: block, strap and anchor tree hold ``2 F cos(phi / 2)``, ``phi`` the angle
  between the two legs of the rope; the leg to the load pulls about 5 % less.

What a pull may be is the least of winch, rope, the tractor's hold on the ground, the weight
its front axle must keep, and its stand against the side pull. The butt plate is not counted.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.grip import on_the_day
from layout.records import Pull, WinchPosition
from layout.settings import AreaSettings
from layout.settings.tractor_table import TractorTable
from layout.settings.trail_tables import WinchTable
from layout.tractor import side_pull_kn
from layout.units import GRAVITY_MPS2

Floats = NDArray[np.float64]
PullLimit = Literal["winch", "rope", "anchoring", "front", "side"]

# A full drum pulls 60 to 70 % of a bare one; memory, unverified.
FULL_DRUM_SHARE = 0.65
ROPE_FACTOR = 2.0
SHEAVE_LOSS = 0.05  # memory: unverified
ANCHOR_DBH_M, ANCHOR_KN = 0.5, 80.0  # SNATCH_ANCHOR: about 50 cm at 80 kN
BLOCK_ANGLES_DEG = (0.0, 30.0, 60.0, 90.0, 120.0, 150.0)
LEVEL_CROSS_PCT = 1.0  # under this neither side is the downhill one; ours, the ground's own noise


def line_force_kn(
    mass_kg: ArrayLike, slope_pct: ArrayLike, friction: ArrayLike, breakout: float = 0.0
) -> Floats:
    """Give the pull that moves a log lying on the ground.

    Parameters
    ----------
    mass_kg : array_like of float
        The log.
    slope_pct : array_like of float
        Slope along the pull, percent, + where the log goes uphill.
    friction : array_like of float
        Of the log on the ground.
    breakout : float, optional
        Share added at the start; never to a log that runs by itself.

    Returns
    -------
    ndarray of float, broadcast shape
        Kilonewtons; negative where the log must be held back.

    Examples
    --------
    >>> (line_force_kn(1000.0, [30.0, 0.0, -30.0], 0.6) / 9.80665e-3).round().tolist()
    [862.0, 600.0, 287.0]
    """
    slope = np.asarray(slope_pct, dtype=float) / 100
    share = (np.asarray(friction, dtype=float) + slope) / np.hypot(1.0, slope)
    steady = np.asarray(mass_kg, dtype=float) * GRAVITY_MPS2 / 1000 * share
    return np.asarray(np.where(steady > 0, steady * (1 + breakout), steady))


def line_force_range_kn(
    settings: AreaSettings, mass_kg: ArrayLike, slope_pct: ArrayLike
) -> tuple[Floats, Floats]:
    """Give the pull with the low and with the high end of skid friction.

    Parameters
    ----------
    settings : AreaSettings
        Friction and the ground of the day; ``breakout`` is added to the high end only.
    mass_kg, slope_pct : array_like of float
        As for `line_force_kn`.

    Returns
    -------
    low_kn, high_kn : ndarray of float, broadcast shape
        Kilonewtons.
    """
    low, high = on_the_day(settings).skid_friction
    return (
        line_force_kn(mass_kg, slope_pct, low),
        line_force_kn(mass_kg, slope_pct, high, settings.work.breakout),
    )


def full_drum_kn(winch: WinchTable) -> float:
    """Give the pull with all rope wound on, kilonewtons: from the plate, or 65 % of the bare."""
    if winch.pull_full_drum_kn is not None:
        return winch.pull_full_drum_kn
    return winch.pull_rating_kn * FULL_DRUM_SHARE


def drum_pull_kn(winch: WinchTable, out_m: ArrayLike) -> Floats:
    """Give the pull with some of the rope out.

    ``F = F_bare / sqrt(1 + ((F_bare / F_full)^2 - 1) (1 - out / cable))``.

    Parameters
    ----------
    winch : WinchTable
        Ratings and rope.
    out_m : array_like of float, any shape
        Rope that has left the drum, metres.

    Returns
    -------
    ndarray of float, same shape
        Kilonewtons.
    """
    wound = 1 - np.clip(np.asarray(out_m, dtype=float) / winch.cable_m, 0.0, 1.0)
    square = (winch.pull_rating_kn / full_drum_kn(winch)) ** 2
    return np.asarray(winch.pull_rating_kn / np.sqrt(1 + (square - 1) * wound))


def anchor_force_kn(pull_kn: ArrayLike, between_legs_deg: ArrayLike) -> Floats:
    """Give what block, strap and anchor tree hold.

    Parameters
    ----------
    pull_kn : array_like of float
        Pull in the rope; the small loss in the sheave is not taken off.
    between_legs_deg : array_like of float
        Angle between the two legs of the rope: 0 where it doubles back, 180 where it
        passes straight.

    Returns
    -------
    ndarray of float, broadcast shape
        Kilonewtons.

    Examples
    --------
    >>> anchor_force_kn(40.0, [0.0, 90.0, 120.0]).round(1).tolist()
    [80.0, 56.6, 40.0]
    """
    half = np.radians(np.asarray(between_legs_deg, dtype=float)) / 2
    return np.asarray(2 * np.asarray(pull_kn, dtype=float) * np.cos(half))


def past_block_kn(pull_kn: ArrayLike, blocks: int = 1) -> Floats:
    """Give the pull that is left on the load's leg after so many blocks, kilonewtons."""
    return np.asarray(np.asarray(pull_kn, dtype=float) * (1 - SHEAVE_LOSS) ** blocks)


def anchor_dbh_m(force_kn: float) -> float:
    """Give the stoutness of an anchor tree for a force, metres at breast height.

    About 50 cm at 80 kN, in proportion (`layout.sources.SNATCH_ANCHOR`).
    """
    return ANCHOR_DBH_M * force_kn / ANCHOR_KN


@dataclass(frozen=True, slots=True)
class BlockRow:
    """What one angle between the legs of the rope asks of a snatch block.

    Parameters
    ----------
    between_legs_deg : float
        Angle between the two legs.
    force_kn : float
        On block, strap and anchor tree, at the winch's full pull on the bare drum.
    anchor_dbh_m : float
        Stoutness of the anchor tree, metres at breast height.
    load_kn : float
        Pull left on the load's leg.
    """

    between_legs_deg: float
    force_kn: float
    anchor_dbh_m: float
    load_kn: float


def block_table(settings: AreaSettings) -> tuple[BlockRow, ...]:
    """Work out what a snatch block must hold, by the angle between the legs of the rope.

    Parameters
    ----------
    settings : AreaSettings
        The winch; its rating on the bare drum counts, for a load that hangs up.

    Returns
    -------
    tuple of BlockRow
        The hardest first.
    """
    pull = settings.winch.pull_rating_kn
    left = float(past_block_kn(pull))
    forces = anchor_force_kn(pull, BLOCK_ANGLES_DEG).tolist()
    return tuple(
        BlockRow(angle, force, anchor_dbh_m(force), left)
        for angle, force in zip(BLOCK_ANGLES_DEG, forces, strict=True)
    )


def anchoring_kn(tractor: TractorTable, along_pct: ArrayLike = 0.0) -> Floats:
    """Give the pull that the tyres by themselves hold along the tractor's axis.

    ``W (mu cos t - sin t)`` where the rear, to which the rope pulls, is the lower end; where
    it is the higher one the slope is not counted as help.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    along_pct : array_like of float, any shape, optional
        Slope along the parked axis, percent, + where the rear is the lower end.

    Returns
    -------
    ndarray of float, same shape
        Kilonewtons, 0 at least.
    """
    slope = np.asarray(along_pct, dtype=float) / 100
    cos = 1 / np.hypot(1.0, slope)
    weight_kn = tractor.mass_kg * GRAVITY_MPS2 / 1000
    held = weight_kn * cos * (tractor.traction - np.maximum(slope, 0.0))
    return np.asarray(np.maximum(held, 0.0))


def front_held_kn(
    tractor: TractorTable, along_pct: ArrayLike = 0.0, angle_deg: ArrayLike = 0.0
) -> Floats:
    """Give the pull at which the front axle keeps no more than it must.

    ``W (x cos t - h sin t - front_min L) / (height of the fairlead x cos angle)``, moments
    about where the rear tyres stand: the centre of gravity lies ``x`` ahead of them and
    ``h`` high, ``L`` is the wheelbase. Where the rear is the higher end the slope is not
    counted as help. The plate in the ground would take the rope's moment; it is not counted.

    Parameters
    ----------
    tractor : TractorTable
        Machine as it stands ready to work.
    along_pct : array_like of float, any shape, optional
        Slope along the parked axis, percent, + where the rear is the lower end.
    angle_deg : array_like of float, any shape, optional
        Of the rope off the tractor's axis; only its pull along the axis lifts the front.

    Returns
    -------
    ndarray of float, broadcast shape
        Kilonewtons, 0 at least.
    """
    slope = np.asarray(along_pct, dtype=float) / 100
    cos = 1 / np.hypot(1.0, slope)
    ahead = tractor.front_share_pct / 100 * tractor.wheelbase_m
    least = tractor.front_min_pct / 100 * tractor.wheelbase_m
    arm = ahead * cos - tractor.cg_height_m * np.maximum(slope, 0.0) * cos - least
    straight = np.maximum(np.cos(np.radians(np.asarray(angle_deg, dtype=float))), 1e-9)
    weight_kn = tractor.mass_kg * GRAVITY_MPS2 / 1000
    return np.asarray(np.maximum(weight_kn * arm / tractor.fairlead_height_m, 0.0) / straight)


def side_held_kn(settings: AreaSettings, cross_pct: float, angle_deg: float) -> float:
    """Give the pull in the rope at which the side pull allowed is reached.

    Parameters
    ----------
    settings : AreaSettings
        Machine and winch.
    cross_pct : float
        Cross slope of the parked heading, percent. The pull is taken to go to the lower
        side wherever there is one.
    angle_deg : float
        Of the rope off the tractor's axis.

    Returns
    -------
    float
        Kilonewtons; infinite for a straight pull.
    """
    sideways = abs(float(np.sin(np.radians(angle_deg))))
    if sideways < 1e-9:
        return float("inf")
    allowed = side_pull_kn(
        on_the_day(settings),
        settings.winch.pull_rating_kn,
        cross_pct,
        downhill=abs(cross_pct) > LEVEL_CROSS_PCT,
    )
    return float(allowed) / sideways


def with_limits(
    pulls: Iterable[Pull], positions: Iterable[WinchPosition], settings: AreaSettings
) -> tuple[Pull, ...]:
    """Say for every pull what it may be at most, and what sets that.

    The winch counts with its drum full, as it is when the log comes in; the rope with half
    its breaking load; tyres, front axle and the stand against side pull without the butt
    plate. A pull over an ``anchoring`` or ``front`` limit asks for the plate dug in, or for
    the tractor tied back.

    Parameters
    ----------
    pulls : iterable of Pull
    positions : iterable of WinchPosition
        Where they are made from.
    settings : AreaSettings
        Read settings.

    Returns
    -------
    tuple of Pull
        In the order given, ``limit_kn`` and ``limited_by`` filled; as it was where its
        position is not among those given.
    """
    parked = {p.position_id: p for p in positions}
    winch, tractor = settings.winch, on_the_day(settings)
    full, rope = full_drum_kn(winch), winch.rope_breaking_kn / ROPE_FACTOR
    done = []
    for pull in pulls:
        position = parked.get(pull.position_id)
        if position is None:
            done.append(pull)
            continue
        limits: dict[PullLimit, float] = {
            "winch": full,
            "rope": rope,
            "anchoring": float(anchoring_kn(tractor, position.along_pct)),
            "front": float(front_held_kn(tractor, position.along_pct, pull.angle_deg)),
            "side": side_held_kn(settings, position.cross_pct, pull.angle_deg),
        }
        name = min(limits, key=lambda key: limits[key])
        done.append(replace(pull, limit_kn=limits[name], limited_by=name))
    return tuple(done)
