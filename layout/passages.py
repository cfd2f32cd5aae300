"""Ways through water strips: straight, and only to the crossing they lead to."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from layout.crossings import Water, crossings_on, faults_of, may_be_crossed, stretches
from layout.geometry import coordinates, cut
from layout.records import Crossing, WaterStrip
from layout.site import Area
from layout.terrain import Terrain

Floats = NDArray[np.float64]

STRAIGHT_M = 1.0  # a way through a strip is straight when it stays this near its chord; ours


def strips_crossed(area: Area, strips: Iterable[WaterStrip]) -> tuple[WaterStrip, ...]:
    """Give the strips a trail may enter on its way over water: those of streams."""
    streams = {body.feature_id for body in area.water if may_be_crossed(body)}
    return tuple(strip for strip in strips if strip.feature_id in streams)


def straight(line: LineString, from_m: float, to_m: float) -> bool:
    """Tell whether a stretch of a line stays within a metre of its chord."""
    points = cut(coordinates(line), from_m, to_m)
    chord = LineString([points[0], points[-1]]) if to_m - from_m > 1e-6 else Point(points[0])
    return bool(np.max(shapely.distance(chord, shapely.points(points))) <= STRAIGHT_M)


@dataclass(frozen=True, slots=True, eq=False)
class Passages:
    """Where trails of one width may pass strips, on their way over water.

    Parameters
    ----------
    waters : tuple of Water
        All mapped water.
    terrain : Terrain
        The ground.
    strips : shapely geometry
        Strips of the streams that may be crossed; prepared.
    room : shapely geometry
        Where a centre line may run if nothing but those strips were open;
        prepared.
    width_m : float
        Trail width.
    cost_m2 : float
        What one crossing costs the objective.
    """

    waters: tuple[Water, ...]
    terrain: Terrain
    strips: BaseGeometry
    room: BaseGeometry
    width_m: float
    cost_m2: float

    def sound(self, line: LineString) -> tuple[tuple[float, float, Crossing], ...]:
        """Give the stretches on which a line may pass a strip, each with its one crossing.

        Parameters
        ----------
        line : LineString
            Centre line of a trail.

        Returns
        -------
        tuple of (float, float, Crossing)
            From and to, metres along the line, and the crossing between.
        """
        if not self.strips.intersects(line):
            return ()
        covered = line.buffer(self.width_m / 2, cap_style="flat")
        met = crossings_on(self.waters, self.terrain, line, self.width_m)
        return tuple(
            (from_m, to_m, mine[0])
            for from_m, to_m in stretches(line, covered.intersection(self.strips))
            if len(mine := [c for c in met if from_m <= c.at_m <= to_m]) == 1
            and not faults_of(mine[0])
            and straight(line, from_m, to_m)
        )

    def parked_clear(self, line: Floats, at_m: Floats, body_m: float) -> NDArray[np.bool_]:
        """Tell at which stations an outfit stands clear of the strips, shape (n,).

        Parameters
        ----------
        line : ndarray of float, shape (k, 2)
            Trail, landing end first.
        at_m : ndarray of float, shape (n,)
            Where its rear stands.
        body_m : float
            Its length, toward the landing.
        """
        clear = np.ones(at_m.size, dtype=bool)
        if not self.strips.intersects(LineString(line).buffer(self.width_m / 2)):
            return clear
        for i, at in enumerate(at_m.tolist()):
            body = LineString(cut(line, max(at - body_m, 0.0), at))
            clear[i] = not self.strips.intersects(body.buffer(self.width_m / 2, cap_style="flat"))
        return clear
