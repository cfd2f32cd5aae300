"""What a log trailer may carry along a lane, and what sets it: statics, worked out here.

Tractor of mass ``W``, wheelbase ``L``, centre of gravity ``x`` ahead of the rear axle and
``h`` high, drawbar at the hitch's height ``hd``, ``d`` behind the axle. Trailer and load
together have the mass ``M``; it rolls with the resistance ``c`` (share of its weight), and
the share ``k`` of the load stands on the drawbar. Grade ``G`` (rise over run, + uphill
loaded). Forces as masses over the cosine of the slope; steady driving. The drawbar pulls
``M (G + c)``.

- *rating*: what the trailer is built for;
- *traction*: ``M (G + c) <= mu R - W G``, with ``R = W`` on all wheels; on the rear axle
  alone ``R = W (L - x + G h) / L``, and what the drawbar adds is not counted;
- *front axle*: ``M (G + c) hd + k q d <= W (x - G h - front_min L)``;
- *engine*: ``(M (G + c) + W G) v`` within what reaches the ground of the PTO's power;
- *braking*, where the trailer has no brakes: those of the tractor hold both, and slow them
  by ``SLOWING`` besides: with ``s = -G + SLOWING``, ``(W + M) s <= mu R``. On all wheels
  ``R = W``; on the rear axle alone slope, slowing and the push at the drawbar take weight
  off it, ``R = (W (L - x - s h) - M s hd) / L``. Rolling resistance is not counted to help.

Empty, the outfit goes the other way: where it cannot pull the trailer up, or hold it, no
load may be carried at all. Traction and braking are those of the day (`layout.grip`).
"""

from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.grip import on_the_day
from layout.settings import AreaSettings
from layout.units import GRAVITY_MPS2

Floats = NDArray[np.float64]
Words = NDArray[np.str_]

TrailerLimit = Literal["rating", "traction", "front_axle", "engine", "braking"]
LIMITS: Final[tuple[TrailerLimit, ...]] = get_args(TrailerLimit)  # of two equal, the first
ON_DRAWBAR: Final = 0.10  # share of the load; memory: unverified
SLOWING: Final = 0.05  # of gravity: brakes must slow the outfit, not just hold it; ours


def largest_trailer_load(settings: AreaSettings, grade_pct: ArrayLike) -> tuple[Floats, Words]:
    """Give the load a trailer may carry on each grade.

    Parameters
    ----------
    settings : AreaSettings
        Tractor, trailer and the ground of the day.
    grade_pct : array_like of float, any shape
        Grade in the loaded direction, percent: + uphill.

    Returns
    -------
    kg : ndarray of float, same shape
        0 where nothing may be carried, NaN where the grade is not known.
    limited_by : ndarray of str, same shape
        One of `LIMITS`; empty where the grade is not known.
    """
    grade = np.asarray(grade_pct, dtype=float) / 100
    most = _most(settings, grade)
    empty = _most(settings, -grade)  # on the way out, with nothing on
    table = np.stack([np.where(empty[name] < 0, 0.0, most[name]) for name in LIMITS])
    table = np.maximum(table, 0.0)
    known = np.isfinite(grade)
    least = np.argmin(np.where(known, table, np.inf), axis=0)
    kg = np.where(known, np.where(known, table, np.inf).min(axis=0), np.nan)
    names = np.where(known, np.asarray(LIMITS)[least], "")
    return np.asarray(kg, dtype=np.float64), np.asarray(names, dtype=np.str_)


def _most(settings: AreaSettings, grade: Floats) -> dict[TrailerLimit, Floats]:
    """Give the load each limit by itself allows, kilograms; below 0 the empty one is too much."""
    tractor, trailer = on_the_day(settings), settings.trailer
    own, base, hitch = tractor.mass_kg, tractor.wheelbase_m, tractor.hitch_height_m
    ahead, high = tractor.front_share_pct / 100 * base, tractor.cg_height_m
    drag = grade + trailer.rolling
    driven = own if tractor.drive == "4wd" else own * (base - ahead + grade * high) / base
    spare = own * (ahead - grade * high - tractor.front_min_pct / 100 * base)
    force_n = 1000 * tractor.pto_power_kw * tractor.driveline / trailer.speed_mps
    slowed = SLOWING - grade
    if tractor.four_wheel_braking:
        held = own * (tractor.braking - slowed)
        each = slowed
    else:
        rear = (base - ahead - slowed * high) / base
        held = own * (tractor.braking * rear - slowed)
        each = slowed * (1 + tractor.braking * hitch / base)
    with np.errstate(divide="ignore", invalid="ignore"):
        braked = np.where(grade < 0, held / each - trailer.mass_kg, np.inf)
        rolls = drag > 0  # downhill it may push by itself, and then nothing needs pulling
        pulled = np.where(rolls, (tractor.traction * driven - own * grade) / drag, np.inf)
        powered = np.where(rolls, (force_n / GRAVITY_MPS2 - own * grade) / drag, np.inf)
    lever = np.maximum(drag, 0.0) * hitch + ON_DRAWBAR * tractor.load_behind_axle_m
    return {
        "rating": np.full(grade.shape, trailer.payload_kg),
        "traction": pulled - trailer.mass_kg,
        "front_axle": (spare - trailer.mass_kg * np.maximum(drag, 0.0) * hitch) / lever,
        "engine": powered - trailer.mass_kg,
        "braking": np.full(grade.shape, np.inf) if trailer.braked else braked,
    }
