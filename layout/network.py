"""A network of candidate trails: branches hanging off branches, the first on the landing."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from layout.fairline import Measured
from layout.geometry import along, cut
from layout.turning import Way

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Branch:
    """One line of the network.

    Parameters
    ----------
    line : ndarray of float, shape (n, 2)
        Centre line, landing end first.
    parent : int
        Number of the branch it leaves; -1 for a main trail.
    mouth_m : float
        Where it leaves, metres along the parent.
    measured : Measured
        The line's own stations and prices.
    stops : tuple of float
        Stations that must stay open as winch positions, metres.
    built : bool
        Chosen in an earlier round; a main trail always is.
    fixed : bool
        A spur that is on the ground already: kept as it is, nothing to pay.
    opened : tuple of float
        Stations of winch positions known on the ground: no set-up to pay, metres.
    swing_deg : float or None
        How far the outfit may swing off this trail's line, where its width is
        its own.
    """

    line: Floats
    parent: int
    mouth_m: float
    measured: Measured
    stops: tuple[float, ...] = ()
    built: bool = False
    fixed: bool = False
    opened: tuple[float, ...] = ()
    swing_deg: float | None = None

    @property
    def standing(self) -> bool:
        """Whether it is there whatever is chosen: a main trail, or a fixed one."""
        return self.parent < 0 or self.fixed

    @property
    def length_m(self) -> float:
        """Length, metres."""
        return float(along(self.line)[-1])

    @property
    def shape(self) -> LineString:
        """The centre line."""
        return LineString(self.line)

    def until(self, to_m: float) -> "Branch":
        """Give the branch cut off at a station."""
        return replace(self, line=cut(self.line, 0.0, to_m))


def way(branches: list[Branch], number: int, at_m: float) -> Way:
    """Give the way from the landing to a station of a branch."""
    legs = [(number, at_m)]
    while branches[number].parent >= 0:
        legs.append((branches[number].parent, branches[number].mouth_m))
        number = branches[number].parent
    return Way(tuple(reversed(legs)))


def distance_out_m(branches: list[Branch], number: int) -> float:
    """Give how far a branch's mouth lies from the landing along the trails, metres."""
    out = 0.0
    while branches[number].parent >= 0:
        out += branches[number].mouth_m
        number = branches[number].parent
    return out


def depth_below_main_m(branches: list[Branch], number: int, at_m: float) -> float:
    """Give how far a station lies from the main trail along the spurs, metres."""
    out = at_m if branches[number].parent >= 0 else 0.0
    while branches[number].parent >= 0:
        parent = branches[number].parent
        out += branches[number].mouth_m if branches[parent].parent >= 0 else 0.0
        number = parent
    return out
