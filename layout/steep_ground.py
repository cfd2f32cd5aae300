"""The arithmetic of steep ground: what two limits together close in every direction."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from layout.settings import Limits
from layout.site import Area
from layout.terrain import Terrain, slope_pct


@dataclass(frozen=True, slots=True)
class SteepShare:
    """The arithmetic of grade and cross slope.

    Parameters
    ----------
    favourable_pct, adverse_pct : float
        Steepest ground that can be driven in any direction, loaded downhill and
        loaded uphill: the root of the squares of grade and cross slope.
    steeper_pct : float
        Share of the stand that is steeper than the first, percent.
    """

    favourable_pct: float
    adverse_pct: float
    steeper_pct: float

    def words(self, limits: Limits) -> str:
        """Say it in a sentence."""
        return (
            f"With {limits.favourable_pct:.0f} % downhill loaded and {limits.cross_pct:.0f} % "
            f"cross slope no ground over {self.favourable_pct:.0f} % can be driven in any "
            f"direction (over {self.adverse_pct:.0f} % none uphill loaded); "
            f"{self.steeper_pct:.0f} % of the stand is steeper."
        )


def steep_share(area: Area, terrain: Terrain, limits: Limits) -> SteepShare:
    """Give the steepest ground that can be driven, and how much of the stand is steeper.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job; slopes are those of the smoothed elevations.
    limits : Limits
        Limits in force today.

    Returns
    -------
    SteepShare
    """
    most = math.hypot(limits.favourable_pct, limits.cross_pct)
    slope = slope_pct(terrain.smooth)
    shapely.prepare(area.stand)
    x, y = np.meshgrid(*terrain.smooth.centres())
    inside = np.asarray(shapely.contains_xy(area.stand, x, y)) & np.isfinite(slope)
    steeper = float((slope[inside] > most).mean()) if inside.any() else 0.0
    return SteepShare(most, math.hypot(limits.adverse_pct, limits.cross_pct), 100 * steeper)
