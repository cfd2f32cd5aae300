"""Drains along every trail of a layout, and what there is to say of them."""

from collections.abc import Mapping, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from layout.banks import bank_shape
from layout.drainage.bars import bars
from layout.drainage.outlet_findings import outlet_findings
from layout.drainage.outlets import Ground, Outlets, closed_ground
from layout.drainage.places import Places, clear_from, edges
from layout.drainage.spacing import Tables
from layout.drainage.stretch_findings import stretch_findings
from layout.findings import Finding
from layout.records import Landing, Trail, WaterBar
from layout.site import Area
from layout.sources import DIPS
from layout.terrain import Stations, Terrain


def drain(
    area: Area,
    terrain: Terrain,
    strips: Sequence[BaseGeometry],
    site: Landing,
    trails: Sequence[Trail],
    stations: Mapping[str, Stations],
    more_sites: Sequence[Landing] = (),
) -> tuple[tuple[WaterBar, ...], tuple[Finding, ...]]:
    """Lay out the drains of a whole layout.

    Parameters
    ----------
    area : Area
        The job: its settings name the erosion hazard and the dips wanted, its water is
        kept off.
    terrain : Terrain
        Its ground, which the water is followed over.
    strips : sequence of shapely geometry
        Its water strips.
    site : Landing
        The landing.
    trails : sequence of Trail
        Every trail.
    stations : mapping of str to Stations
        What each meets.
    more_sites : sequence of Landing, optional
        L2, L3 ... where there are several landings.

    Returns
    -------
    tuple of WaterBar and tuple of Finding
        Trail by trail, in their order.

    Raises
    ------
    InputError
        If a trail's stations do not run on.
    """
    soil, units = area.settings.soil, area.settings.area.units
    tables = Tables(hazard=soil.erosion_hazard, dips=soil.dips)
    closed = shapely.union_all(list(strips))
    # a well lies in a strip of its own, and no trail crosses one
    wet = [bank_shape(body) for body in area.water if body.water_class != "well"]
    water = shapely.union_all(wet)
    beds = {
        trail.trail_id: trail.line.buffer(0.5 * trail.width_m, cap_style="flat") for trail in trails
    }
    yards = {one.landing_id: one.shape for one in (site, *more_sites)}
    yard = shapely.union_all(list(yards.values())) if more_sites else site.shape
    ground = Ground(terrain, closed_ground(closed, water, yard, beds))
    laid: list[WaterBar] = []
    found: list[Finding] = []
    for trail in trails:
        start = beds.get(trail.joins_id, yards.get(trail.landing_id, site.shape))
        places = Places(
            mouths_m=[t.joins_at_m or 0.0 for t in trails if t.joins_id == trail.trail_id],
            landing_end=trail.joins_id not in beds,
            clear_from_m=clear_from(trail.line, start, trail.width_m),
            strip_edges_m=edges(trail.line, closed),
            banks_m=edges(trail.line, water, points=True),
        )

        def look(met: Stations, trail: Trail = trail) -> Outlets:
            return ground.outlets(trail, met)

        mine = bars(trail, stations[trail.trail_id], places, tables, look)
        laid += mine
        found += stretch_findings(trail, stations[trail.trail_id], units)
        found += outlet_findings(trail, mine, units)
    if any(bar.kind == "dip" for bar in laid):
        found.append(_dips_from_memory())
    return tuple(laid), tuple(found)


def _dips_from_memory() -> Finding:
    return Finding(
        code="bar_dips",
        level="caution",
        message=(
            "Dips stand farther apart than water bars would; their spacing, 400 / grade + 100 ft, "
            "is from memory. Ask the forester, and put in bars where a dip cannot be shaped"
        ),
        source=str(DIPS),
        confirmed=False,
    )
