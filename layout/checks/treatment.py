"""The one call that judges what is marked: by the stand it leaves, and by water."""

from shapely.geometry.base import BaseGeometry

from layout.checks import plot_doubts, retention, stand_left, strip_trees
from layout.findings import Finding, ordered
from layout.site import Area
from layout.terrain import Terrain
from layout.treatment import Treatment


def check_treatment(
    area: Area, terrain: Terrain, treatment: Treatment, landing: BaseGeometry | None = None
) -> tuple[Finding, ...]:
    """Judge what is marked, before or after trails are laid out.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its ground.
    treatment : Treatment
        What the marking, and the layout where there is one, does to the stand.
    landing : geometry, optional
        The landing, where there is one.

    Returns
    -------
    tuple of Finding
        A stop only where less stays along water than a law or rule asks, or a marked
        tree stands where one lets nothing be cut; all else advises. Nothing is marked.
    """
    return ordered(
        [
            *stand_left.check(area, treatment, landing),
            *strip_trees.check(area, terrain),
            *retention.check(area, terrain, treatment),
            *plot_doubts.check(area, treatment),
        ]
    )
