"""Spurs grown until the checks of the whole plan stop none of them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.assembly import Assembly
from layout.grow import Grown, grow
from layout.joined import joined
from layout.mending import mended
from layout.network import Branch
from layout.plan_record import Plan
from layout.solver import Solver
from layout.sprouts import Grower, Known
from layout.turning import pad_radius_m

MOST_REPAIRS = 3

Assembled = Callable[[Grown], Assembly]


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
            Names and parks what was grown; may cut it shorter.

        Returns
        -------
        Plan
            The cheapest of those the checks let pass; where none is, the last one, with
            the stops that repairs could not mend. It alone is made in full.
        """
        closed = self.grower.ground.closed.copy()
        clean: list[Assembly] = []
        for turn in range(MOST_REPAIRS):
            # spurs were thought over before the first check; few have changed since
            made = assembled(self._grown(start, closed, think_over=turn == 0))
            start = self._mended(made, closed)
            if len(start) != len(made.grown.branches):
                continue
            clean.append(made)
            more = self._joined(made.grown)
            if more is made.grown:
                break
            made = assembled(more)
            start = self._mended(made, closed)
            if len(start) == len(made.grown.branches):
                clean.append(made)
                break
        best = min(clean, key=lambda one: one.grown.choice.objective, default=made)
        return best.plan(self.tell)

    def _mended(self, made: Assembly, closed: NDArray[np.uint8]) -> list[Branch]:
        self.tell("checking the lines")
        found = made.checked()
        return mended(self.grower, made.trails, made.stations, found, made.grown, closed)

    def _grown(self, start: list[Branch], closed: NDArray[np.uint8], *, think_over: bool) -> Grown:
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
            think_over=think_over,
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
