"""Short ways over wet ground put on offer, beside the ways round it.

The search for spurs goes the cheapest way to each place. Where wet ground is dear
that way leads round it, and may be longer than a spur may be: what lies behind is
then lost, though a short crossing would pay. So lines are also looked for as if
all ground were dry. They are measured at their real price, and the choice keeps
those that are worth it.
"""

from collections.abc import Callable
from dataclasses import replace

from numpy.typing import ArrayLike
from shapely.geometry.base import BaseGeometry

from layout.grow import grow
from layout.growing_ground import prepare
from layout.network import Branch
from layout.records import Trail
from layout.settings import Limits
from layout.site import Area
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.turning import pad_radius_m
from layout.water import Strips

DRY_ROUNDS = 4  # most of what there is to gain; the rounds after go by the real prices


def dry_start(
    grower: Grower,
    start: list[Branch],
    strips: Strips,
    opened: BaseGeometry,
    limits: Limits,
    main: Trail,
    landing_xy: ArrayLike,
    *,
    swing_deg: float,
    solver: Solver,
    known: Known,
    tell: Callable[[str], None],
) -> list[Branch]:
    """Grow a few rounds on lines looked for as if all ground were dry, at their real price.

    Parameters
    ----------
    grower : Grower
        Tables and rules, with the real prices.
    start : list of Branch
        What to grow on from.
    strips, opened, limits, main : Strips, geometry, Limits, Trail
        The job, as `growing_ground.prepare` takes it.
    landing_xy : array_like of float, shape (2,) or (k, 2)
        Where the tractor stands on the landing to winch, or on each of several.
    swing_deg : float
        How far the outfit may swing off the main trail's line.
    solver : Solver
        A running solver.
    known : Known
        Lines measured before.
    tell : callable
        Told a line now and then.

    Returns
    -------
    list of Branch
        ``start`` itself where no ground is wet, or wet ground costs no more.
    """
    judge = grower.judge
    if judge.wet is None or judge.area.settings.objective.wet_ground <= 1:
        return start
    dry, _ = prepare(_dried(judge.area), judge.terrain, strips, opened, limits, main)
    grown = grow(
        replace(grower, ground=dry.ground),
        start,
        opened,
        landing_xy,
        main_swing_deg=swing_deg,
        pad_radius_m=pad_radius_m(grower.body_m),
        solver=solver,
        known=known,
        rounds=DRY_ROUNDS,
        exact=False,
        progress=tell,
    )
    return list(grown.branches)


def _dried(area: Area) -> Area:
    """Give the same job with wet ground at no price of its own."""
    settings = area.settings
    objective = settings.objective.model_copy(update={"wet_ground": 1.0})
    return replace(area, settings=settings.model_copy(update={"objective": objective}))
