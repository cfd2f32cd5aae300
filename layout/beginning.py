"""Where a plan begins: its landing, and the main trails to try from it."""

from collections.abc import Callable

from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import landing, sites, water
from layout.errors import InputError, NoWayError
from layout.mains import candidate_mains
from layout.records import Landing, Trail
from layout.settings import Limits
from layout.site import Area
from layout.standing import main_of
from layout.terrain import Terrain

LANDINGS_TRIED = 6  # where none is drawn and no main trail gets away from the best


def begun(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    opened: BaseGeometry,
    limits: Limits,
    tell: Callable[[str], None],
) -> tuple[Area, Landing, tuple[tuple[Trail, float], ...]]:
    """Settle the landing, and the main trails to try from it.

    Where neither is drawn, the first proposed landing counts that a main trail
    can get away from.
    """
    if area.landing is None:
        tell("looking for a landing")
    count = LANDINGS_TRIED if area.main_trail is None and area.main_fixed is None else 1
    refused: InputError | None = None
    for option in sites.with_landings(area, shape, strips, limits, count):
        assert option.landing is not None
        site = landing.measure(option, shape, strips, option.landing)
        if option.main_trail is not None or option.main_fixed is not None:
            return option, site, ((main_of(option, site.landing_id), 0.0),)
        tell("looking for main trails")
        try:
            return option, site, _mains_to_try(option, shape, strips, opened, limits, site)
        except InputError as error:
            refused = refused or error
    assert refused is not None
    raise refused


def _mains_to_try(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    opened: BaseGeometry,
    limits: Limits,
    site: Landing,
) -> tuple[tuple[Trail, float], ...]:
    """Lay out main trails, each with what it costs, weighted square metres."""
    try:
        found = candidate_mains(area, shape, opened, limits, site, strips)
    except NoWayError as error:
        msg = f"[main_trail]: none is drawn, and {error}"
        raise InputError(msg) from error
    return tuple(
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
