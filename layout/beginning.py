"""Where a plan begins: the main trails to try from its landing."""

from collections.abc import Callable

from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import landing, water
from layout.errors import InputError, NoWayError
from layout.mains import candidate_mains
from layout.records import Landing, Trail
from layout.settings import Limits
from layout.site import Area
from layout.standing import main_of
from layout.terrain import Terrain


def begun(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    opened: BaseGeometry,
    limits: Limits,
    tell: Callable[[str], None],
) -> tuple[Landing, tuple[tuple[Trail, float], ...]]:
    """Measure the landing of an area, and lay out the main trails to try from it.

    Parameters
    ----------
    area, shape, strips, limits : Area, Terrain, Strips, Limits
        The job, with a landing.
    opened : shapely geometry
        Ground a machine may stand on.
    tell : callable
        Told a line now and then.

    Returns
    -------
    site : Landing
    tries : tuple of tuple of Trail and float
        Main trails, each with what it costs, weighted square metres; where one is
        drawn or on the ground already, that one alone, at no cost.

    Raises
    ------
    InputError
        If no main trail gets away from the landing; its cause is the `NoWayError`.
    """
    assert area.landing is not None
    site = landing.measure(area, shape, strips, area.landing)
    if area.main_trail is not None or area.main_fixed is not None:
        return site, ((main_of(area, site.landing_id), 0.0),)
    tell("looking for main trails")
    try:
        found = candidate_mains(area, shape, opened, limits, site, strips)
    except NoWayError as error:
        msg = f"[main_trail]: none is drawn, and {error}"
        raise InputError(msg) from error
    return site, tuple(
        (
            Trail(
                trail_id="M",
                kind="main",
                landing_id=site.landing_id,
                line=LineString(candidate.line),
                width_m=area.settings.trails.width_main_m,
                source="routed",
            ),
            candidate.cost_m2,
        )
        for candidate in found
    )
