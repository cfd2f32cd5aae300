"""All checks of one landing, in order."""

from shapely.geometry import LineString

from layout.findings import Finding
from layout.landing.room_checks import road, run_in, size, unseen
from layout.landing.site_checks import Sited, hazards, land, slope, water
from layout.records import Landing
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips


def check(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    landing: Landing,
) -> list[Finding]:
    """Judge a landing.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its ground.
    strips : Strips
        Its water strips.
    landing : Landing
        What is judged; only the outline is used, the rest is measured again.

    Returns
    -------
    list of Finding
    """
    case = Sited(area, terrain, strips, landing)
    found: list[Finding] = []
    for rule in (slope, water, land, hazards, size, road, unseen):
        found += rule(case)
    return found


def check_run_in(
    area: Area, terrain: Terrain, strips: Strips, landing: Landing, main: LineString
) -> list[Finding]:
    """Judge how a main trail comes into a landing.

    Parameters
    ----------
    area, terrain, strips, landing
        As for `check`.
    main : LineString
        Landing end first.

    Returns
    -------
    list of Finding
        Empty where the way in is straight for one load and the tractor.
    """
    return run_in(Sited(area, terrain, strips, landing), main)
