"""Spurs grown until the checks of the whole plan stop none of them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.grow import Grown, grow
from layout.joined import joined
from layout.mending import mended
from layout.network import Branch
from layout.plan_record import Plan
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.turning import pad_radius_m

MOST_REPAIRS = 3

Assembled = Callable[[Grown], tuple[Grown, Plan]]


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """What growing needs, from its start to the last repair.

    Parameters
    ----------
    grower : Grower
        Tables and rules.
    opened : shapely geometry
        Ground a machine may stand on.
    landing_xy : list of tuple of float
        Where the tractor stands on each landing to winch.
    main_swing_deg : float
        How far the outfit may swing off a main trail's line.
    solver : Solver
        A running solver.
    known : Known
        Lines met before.
    tell : callable
        Told a line now and then.
    """

    grower: Grower
    opened: BaseGeometry
    landing_xy: list[tuple[float, float]]
    main_swing_deg: float
    solver: Solver
    known: Known
    tell: Callable[[str], None]

    def plan(self, start: list[Branch], assembled: Assembled) -> Plan:
        """Grow, assemble and check, and grow again round what the checks stop.

        Second ways into spurs come when what they lead into stays. What they bring is
        checked too, and grown on from if it is stopped.

        Parameters
        ----------
        start : list of Branch
            What to grow on from.
        assembled : callable
            Makes a plan of what was grown, findings included, and gives both.

        Returns
        -------
        Plan
            The cheapest of those the checks let pass; where none is, the last one, with
            the stops that repairs could not mend.
        """
        closed = self.grower.ground.closed.copy()
        clean: list[Plan] = []
        for _ in range(MOST_REPAIRS):
            grown, plan = assembled(self._grown(start, closed))
            start = mended(self.grower, plan, grown, closed)
            if len(start) != len(grown.branches):
                continue
            clean.append(plan)
            more = self._joined(grown)
            if more is grown:
                break
            grown, plan = assembled(more)
            start = mended(self.grower, plan, grown, closed)
            if len(start) == len(grown.branches):
                clean.append(plan)
                break
        return min(clean, key=lambda one: one.choice.objective_m2, default=plan)

    def _grown(self, start: list[Branch], closed: NDArray[np.uint8]) -> Grown:
        return grow(
            self.grower,
            start,
            self.opened,
            self.landing_xy,
            main_swing_deg=self.main_swing_deg,
            pad_radius_m=pad_radius_m(self.grower.body_m),
            solver=self.solver,
            closed=closed,
            known=self.known,
            progress=self.tell,
        )

    def _joined(self, grown: Grown) -> Grown:
        return joined(
            self.grower,
            grown,
            self.opened,
            self.landing_xy,
            main_swing_deg=self.main_swing_deg,
            pad_radius_m=pad_radius_m(self.grower.body_m),
            solver=self.solver,
            known=self.known,
            progress=self.tell,
        )
