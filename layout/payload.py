"""The largest load a tractor may drag along a grade, and what sets it.

A load of mass ``Q`` is lifted at its front end: the share ``k`` of its weight stands on
the tractor, ``d`` behind the rear axle, the rest drags with friction ``ms``. It pulls
back at the height ``hd`` of the hitch. The tractor has the mass ``W`` (winch and ballast
in it), its centre of gravity ``x`` ahead of the rear axle and ``h`` high, the wheelbase
``L``. On a grade of angle ``t`` (+ uphill loaded), with ``s = sin t`` and ``c = cos t``,
the pull is ``P = Q (s + ms (1 - k) c)``. Forces are written as masses; steady driving.

Seven limits, the least of which is the load allowed:

- *traction*: the driven wheels push ``P + W s``. All wheels: ``mu (W + k Q) c``; the rear
  axle alone: ``mu`` times its load, weight transfer counted.
- *front axle*: what is left on it is at least ``front_min`` of the whole unladen weight::

      Q ((s + ms (1 - k) c) hd + k d c)  <=  W (x c - h s) - front_min W L

- *engine*: ``(P + W s) v`` within what reaches the ground of the PTO's power.
- *lift*: the three-point lift carries the winch and ``k Q``.
- *runaway*: where the grade is steeper than a log's low friction no load is allowed at all:
  it would run by itself as soon as it is let go.
- *braking* downhill: brakes hold what the load's own drag does not, and of that only the
  low friction over a factor of 1.5 is counted. All wheels where they brake or four-wheel
  drive can be engaged (the checks say where it must be), otherwise the rear axle alone: what
  pushes at the hitch takes weight off it, what drags is not counted to add any. Reckoned
  with the end lifted as set and with the load wholly on the ground; the worse one counts.
- *machine share*: ``load_max`` of the mass of tractor and winch.

Uphill limits take the high end of skid friction, downhill ones the low end. A limit that
more load only eases does not bind: where the weight a load adds to the tyres outweighs its
drag (``G + ms (1 - k) <= mu k``) traction sets no limit.

All of it is statics of a steady crawl, worked out here: to stop takes more than to hold.
The frictions are from memory and unverified. That the largest load falls about in a straight
line with the grade is what Kosir and Marence 2008 report.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.grip import RUN_FACTOR, on_the_day
from layout.settings import AreaSettings
from layout.settings.tractor_table import TractorTable
from layout.units import CUBIC_FOOT_M3, FOOT_M, GRAVITY_MPS2, INCH_M, POUND_KG
from layout.work_records import PayloadLimit

Floats = NDArray[np.float64]
Words = NDArray[np.str_]

# In this order, so that of two equal limits the first is named.
LIMITS: tuple[PayloadLimit, ...] = (
    "traction",
    "front_axle",
    "engine",
    "lift",
    "runaway",
    "braking",
    "machine_share",
)
HEAVY_KG_PER_M3 = 80.2 * POUND_KG / CUBIC_FOOT_M3  # green red oak with bark, NRS-38
TAPER = 0.5 * INCH_M / (4 * FOOT_M)  # of the International log rule
GRADE_NOISE = 1e-8  # rise over run: 30 % computed as 30.0000001 % is still 30 %
NOTHING = 1e-9  # what a kilogram of load asks for, per kilogram: less than this is rounding


def largest_load(settings: AreaSettings, grade_pct: ArrayLike) -> tuple[Floats, Words]:
    """Give the largest load on each grade.

    Parameters
    ----------
    settings : AreaSettings
        Tractor, winch, speed and the ground of the day.
    grade_pct : array_like of float, any shape
        Grade in the loaded direction, percent: + uphill, - downhill; NaN where not known.

    Returns
    -------
    kg : ndarray of float, same shape
        0 where nothing may be dragged, NaN where the grade is not known.
    limited_by : ndarray of str, same shape
        One of `LIMITS`, the limit that is the least; empty where the grade is not known.
    """
    grade = np.asarray(grade_pct, dtype=float)
    each = loads_by_limit(settings, grade)
    table = np.stack([each[name] for name in LIMITS])
    known = np.isfinite(grade)
    table = np.where(known, table, np.inf)
    least = np.argmin(table, axis=0)
    names = np.where(known, np.asarray(LIMITS)[least], "")
    kg = np.where(known, table.min(axis=0), np.nan)
    return np.asarray(kg, dtype=np.float64), np.asarray(names, dtype=np.str_)


def loads_by_limit(settings: AreaSettings, grade_pct: ArrayLike) -> dict[PayloadLimit, Floats]:
    """Give the largest load that each limit by itself allows.

    Parameters
    ----------
    settings : AreaSettings
        Tractor, winch, speed and the ground of the day.
    grade_pct : array_like of float, any shape
        Grade in the loaded direction, percent; NaN gives NaN, but where a limit does not
        look at the grade.

    Returns
    -------
    dict of str to ndarray of float, each of the same shape
        Kilograms; infinite where a limit does not bind.
    """
    tractor = on_the_day(settings)
    grade = np.asarray(grade_pct, dtype=float) / 100
    lifted = tractor.lifted_share
    carried_kg = max(tractor.lift_rating_kg - settings.winch.mass_kg, 0.0)
    force_n = 1000 * tractor.pto_power_kw * tractor.driveline / settings.work.speed_loaded_mps
    return {
        "traction": traction_kg(tractor, grade),
        "front_axle": front_axle_kg(tractor, grade),
        "engine": engine_kg(tractor, grade, force_n / GRAVITY_MPS2),
        "lift": np.full(grade.shape, carried_kg / lifted if lifted > 0 else np.inf),
        "runaway": np.where(-grade > tractor.skid_friction[0] + GRADE_NOISE, 0.0, np.inf),
        "braking": braking_kg(tractor, grade, all_wheels=all_wheels_may_brake(tractor)),
        "machine_share": np.full(grade.shape, tractor.load_max * tractor.mass_kg),
    }


def smallest_log_kg(settings: AreaSettings) -> float:
    """Give what the smallest sawlog weighs: the least load that is of any use.

    Parameters
    ----------
    settings : AreaSettings
        Shortest log length, trim, smallest sawlog end and weight error.

    Returns
    -------
    float
        Kilograms, of green red oak with its bark.

    Examples
    --------
    >>> raw = {"format": 1, "area": {"name": "lot", "units": "us"}, "ground": {"dem": "dem.tif"},
    ...        "stand": {"boundary": "stand.gpkg", "trees": "trees.csv"}}
    >>> round(smallest_log_kg(AreaSettings.model_validate(raw)))  # 8 ft 6 in, 10 in at its top
    215
    """
    timber = settings.timber
    length = min(timber.log_lengths_m) + timber.trim_m
    middle = timber.top_diameter_m + TAPER * length / 2
    return math.pi / 4 * middle**2 * length * HEAVY_KG_PER_M3 * (1 + timber.weight_error_pct / 100)


def traction_kg(tractor: TractorTable, grade: Floats) -> Floats:
    """Give the load whose drag the driven wheels can push.

    With all wheels driven ``Q = W (mu - G) / (G + ms (1 - k) - mu k)``.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    grade : ndarray of float, any shape
        Rise over run, + uphill.

    Returns
    -------
    ndarray of float, same shape
        Kilograms.
    """
    sin, cos = _sin_cos(grade)
    mu, lifted = tractor.traction, tractor.lifted_share
    drag = sin + tractor.skid_friction[1] * (1 - lifted) * cos
    if tractor.drive == "4wd":
        return _most(tractor.mass_kg * (mu * cos - sin), drag - mu * lifted * cos)
    base, ahead = tractor.wheelbase_m, _ahead_m(tractor)
    rear = (cos * (base - ahead) + sin * tractor.cg_height_m) / base
    added = lifted * cos * (base + tractor.load_behind_axle_m) + drag * tractor.hitch_height_m
    return _most(tractor.mass_kg * (mu * rear - sin), drag - mu * added / base)


def front_axle_kg(tractor: TractorTable, grade: Floats) -> Floats:
    """Give the load that leaves the least share of the unladen weight on the front axle.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    grade : ndarray of float, any shape
        Rise over run, + uphill.

    Returns
    -------
    ndarray of float, same shape
        Kilograms.
    """
    sin, cos = _sin_cos(grade)
    lifted = tractor.lifted_share
    stays = _ahead_m(tractor) * cos - tractor.cg_height_m * sin
    least = tractor.front_min_pct / 100 * tractor.wheelbase_m
    back = (sin + tractor.skid_friction[1] * (1 - lifted) * cos) * tractor.hitch_height_m
    return _most(
        tractor.mass_kg * (stays - least), back + lifted * tractor.load_behind_axle_m * cos
    )


def engine_kg(tractor: TractorTable, grade: Floats, force_kg: float) -> Floats:
    """Give the load that the engine can drag at the loaded speed.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    grade : ndarray of float, any shape
        Rise over run, + uphill.
    force_kg : float
        What the engine can push with at that speed, kilograms of force.

    Returns
    -------
    ndarray of float, same shape
        Kilograms.
    """
    sin, cos = _sin_cos(grade)
    drag = sin + tractor.skid_friction[1] * (1 - tractor.lifted_share) * cos
    return _most(force_kg - tractor.mass_kg * sin, drag)


def braking_kg(tractor: TractorTable, grade: Floats, *, all_wheels: bool) -> Floats:
    """Give the load that brakes still hold at a steady crawl downhill.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    grade : ndarray of float, any shape
        Rise over run, - downhill.
    all_wheels : bool
        Whether all wheels brake; otherwise the rear axle alone.

    Returns
    -------
    ndarray of float, same shape
        Kilograms, the lesser of the load lifted as set and wholly on the ground; infinite
        on the level and uphill.
    """
    sin, cos = _sin_cos(-grade)
    mu, base = min(tractor.traction, tractor.braking), tractor.wheelbase_m
    drags = tractor.skid_friction[0] / RUN_FACTOR * cos
    on_rear = (cos * (base - _ahead_m(tractor)) - sin * tractor.cg_height_m) / base
    spare = tractor.mass_kg * (mu * (cos if all_wheels else on_rear) - sin)
    most = np.full(grade.shape, np.inf)
    for lifted in (tractor.lifted_share, 0.0):
        pushes = sin - drags * (1 - lifted)
        if all_wheels:
            added = lifted * cos
        else:
            added = lifted * cos * (base + tractor.load_behind_axle_m) / base
            added = added - np.maximum(pushes, 0.0) * tractor.hitch_height_m / base
        most = np.minimum(most, _most(spare, pushes - mu * added))
    return np.where(grade < 0, most, np.where(np.isnan(grade), np.nan, np.inf))


def all_wheels_may_brake(tractor: TractorTable) -> bool:
    """Say whether all wheels brake, or would with four-wheel drive engaged."""
    return tractor.four_wheel_braking or tractor.drive == "4wd"


def holds_pct(tractor: TractorTable, *, all_wheels: bool) -> float:
    """Give the steepest grade downhill on which brakes hold the tractor by itself.

    On all wheels ``mu``; on the rear axle alone ``mu (L - x) / (L + mu h)``, since the
    slope takes weight off it.

    Parameters
    ----------
    tractor : TractorTable
        With the grip of the day.
    all_wheels : bool
        Whether all wheels brake; otherwise the rear axle alone.

    Returns
    -------
    float
        Percent.
    """
    mu, base = min(tractor.traction, tractor.braking), tractor.wheelbase_m
    if all_wheels:
        return 100 * mu
    return 100 * mu * (base - _ahead_m(tractor)) / (base + mu * tractor.cg_height_m)


def _ahead_m(tractor: TractorTable) -> float:
    """Give the centre of gravity's distance ahead of the rear axle, metres."""
    return tractor.front_share_pct / 100 * tractor.wheelbase_m


def _sin_cos(grade: Floats) -> tuple[Floats, Floats]:
    """Give sine and cosine of a slope from its rise over run."""
    cos = 1 / np.sqrt(1 + grade**2)
    return grade * cos, cos


def _most(spare: Floats, each: Floats) -> Floats:
    """Give the largest load of which ``each`` for a kilogram stays within ``spare``.

    Nothing where there is none to spare; no limit where a load asks for nothing.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        most = np.where(each > NOTHING, spare / each, np.inf)
    return np.where(np.isnan(spare), np.nan, np.where(spare <= 0, 0.0, most))
