"""The one call that checks a layout."""

from collections.abc import Sequence

from layout.checks import (
    access,
    channels,
    cross,
    crossings,
    felling,
    grades,
    hazard_trees,
    lines,
    machine,
    parking,
    space,
    stems,
    sweep,
    unseen,
    wet_ground,
    winching,
)
from layout.checks.case import Case, walk
from layout.findings import Finding, ordered
from layout.landing import check_run_in
from layout.records import Landing, Pull, Trail, TreeOutcome, TurningPlace, WinchPosition
from layout.settings import limits_in_force
from layout.site import Area
from layout.terrain import Terrain
from layout.water import Strips


def check_layout(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    landing: Landing | None,
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition] = (),
    pulls: Sequence[Pull] = (),
    turning_places: Sequence[TurningPlace] = (),
    trees: Sequence[TreeOutcome] = (),
    more_landings: Sequence[Landing] = (),
) -> tuple[Finding, ...]:
    """Check any layout, drawn or routed, from its final geometry.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its ground.
    strips : Strips
        Its water strips.
    landing : Landing or None
        Judged here only for how the main trail comes in; `layout.landing.check`
        judges the place itself. None where none is chosen yet.
    trails : sequence of Trail
        Lines run landing end first.
    positions : sequence of WinchPosition, optional
        Where the tractor parks.
    pulls : sequence of Pull, optional
        What is pulled from there.
    turning_places : sequence of TurningPlace, optional
        Where the outfit turns round; the landing is always one.
    trees : sequence of TreeOutcome, optional
        What the plan says of each tree; empty for a draft.
    more_landings : sequence of Landing, optional
        L2, L3 ... where there are several.

    Returns
    -------
    tuple of Finding
        Stops first.
    """
    limits = limits_in_force(area.settings)
    case = Case(
        area=area,
        terrain=terrain,
        limits=limits,
        strips=tuple(strips.polygons),
        no_cable=strips.no_cable,
        landing=landing,
        trails=walk(area, terrain, limits, trails),
        positions=tuple(positions),
        pulls=tuple(pulls),
        turning_places=tuple(turning_places),
        outcomes=tuple(trees),
        more_landings=tuple(more_landings),
    )
    found: list[Finding] = []
    rooms = (
        grades, cross, space, crossings, channels, lines, stems, felling, hazard_trees, access,
        machine, parking, winching, wet_ground, sweep, unseen,
    )  # fmt: skip
    for room in rooms:
        found += room.check(case)
    for trail in trails:
        site = case.landing_named(trail.landing_id)
        if site is not None and trail.kind == "main" and not trail.joins_id:
            found += check_run_in(area, terrain, strips, site, trail.line)
    return ordered(found)
