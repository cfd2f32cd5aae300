"""The units a page is spoken to in, which may be others than its area's."""

from dataclasses import replace
from typing import cast, get_args

from layout.errors import InputError
from layout.settings import AreaSettings
from layout.site import Area
from layout.units import Units


def wanted(value: object, area: Area) -> Units:
    """Read what units a page asks for; the area's own where it asks for none.

    Raises
    ------
    InputError
        If there are no such units.
    """
    if value is None:
        return area.settings.area.units
    if value not in get_args(Units):
        raise InputError("units are us or metric")
    return cast("Units", value)


def said_in(area: Area, units: Units) -> Area:
    """Give an area whose numbers are told in other units and mean what they meant.

    Parameters
    ----------
    area : Area
    units : {"us", "metric"}

    Returns
    -------
    Area
        The same where these are its own units. All of it is held in metres and
        kilograms but the price of pulpwood, which goes by the cord or the cubic metre.
    """
    settings = area.settings
    if settings.area.units == units:
        return area
    return replace(
        area,
        settings=settings.model_copy(
            update={
                "area": settings.area.model_copy(update={"units": units}),
                "prices": settings.prices.model_copy(update={"pulp": _pulp(settings, units)}),
            }
        ),
    )


def _pulp(settings: AreaSettings, units: Units) -> float | None:
    price, solid_m3 = settings.prices.pulp, settings.timber.cord_solid_m3
    if price is None:
        return None
    return price * solid_m3 if units == "us" else price / solid_m3
