"""What was grown, made into a plan: names, drainage, checks."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np
import shapely
from shapely.geometry import LineString

import layout
from layout import (
    benching,
    drainage,
    ground,
    landing,
    reach_findings,
    soil,
    sprouts,
    trail_chances,
    water,
    winch,
    wishes,
)
from layout.channels import channels_of
from layout.checks import check_layout
from layout.choice_model import Choice
from layout.crossings import crossings_of
from layout.drained import drained_ha
from layout.findings import Finding, ordered
from layout.grow import Grown
from layout.marginal import own_of_trees
from layout.naming import changes
from layout.outcomes import outcomes
from layout.parking import park
from layout.plan_record import Plan
from layout.pull_chances import with_chances
from layout.records import (
    ChoiceReport,
    Landing,
    Pull,
    Trail,
    TurningPlace,
    WinchPosition,
)
from layout.settings import AreaSettings, limits_in_force
from layout.site import Area
from layout.terrain import Stations, Terrain, station_table
from layout.trails import name_trails, steps_of
from layout.tree_sizes import sizes_of

FORMAT = "1"


@dataclass(frozen=True, slots=True, eq=False)
class Assembly:
    """What was grown, named and parked; what a whole plan of it takes is made when asked for.

    Parameters
    ----------
    area, shape, strips, sites : Area, Terrain, Strips, tuple of Landing
        The job.
    grower, grown : Grower, Grown
        What the spurs grew on, and what was chosen.
    trails, positions, pulls, places : tuple
        The network, named; chances of pulls are not worked out.
    stations : dict of str to Stations
        By trail.
    """

    area: Area
    shape: Terrain
    strips: water.Strips
    sites: tuple[Landing, ...]
    grower: sprouts.Grower
    grown: Grown
    trails: tuple[Trail, ...]
    positions: tuple[WinchPosition, ...]
    pulls: tuple[Pull, ...]
    places: tuple[TurningPlace, ...]
    stations: dict[str, Stations]

    def checked(self) -> tuple[Finding, ...]:
        """Check the lines, ahead of drainage and of what every tree comes to."""
        return check_layout(
            self.area, self.shape, self.strips, self.sites[0], self.trails, self.positions,
            self.pulls, self.places, more_landings=self.sites[1:],
        )  # fmt: skip

    def plan(self, tell: Callable[[str], None]) -> Plan:
        """Make the whole plan, drainage, chances and every check included.

        Parameters
        ----------
        tell : callable
            Told a line now and then.

        Returns
        -------
        Plan
        """
        return _plan(self, tell)


def assemble(
    area: Area,
    shape: Terrain,
    strips: water.Strips,
    site: Landing,
    standing: tuple[Trail, ...],
    grower: sprouts.Grower,
    grown: Grown,
    more_sites: tuple[Landing, ...] = (),
) -> Assembly:
    """Name and park what was grown.

    Parameters
    ----------
    area, shape, strips, site : Area, Terrain, Strips, Landing
        The job.
    standing : tuple of Trail
        The main trail, and those that are fixed; the first of the grown branches.
    grower, grown : Grower, Grown
        What the spurs grew on, and what was chosen.
    more_sites : tuple of Landing, optional
        L2, L3 ... where there are several landings.

    Returns
    -------
    Assembly
    """
    settings = area.settings
    trails = name_trails(
        grown.branches,
        standing,
        width_spur_m=settings.trails.width_spur_m,
        earlier=area.earlier,
    )
    sites = (site, *more_sites)
    positions, pulls = park(grower, grown, trails, [one.landing_id for one in sites])
    places = tuple(
        TurningPlace(
            place_id=f"T{number}",
            trail_id=trails[p.branch].trail_id,
            at_m=p.at_m,
            kind=p.kind,
            shape=p.shape,
            slope_pct=p.slope_pct,
            line=None if p.line is None else LineString(p.line),
        )
        for number, p in enumerate(grown.places, start=1)
    )
    stations = {t.trail_id: station_table(shape, t.line, t.width_m) for t in trails}
    return Assembly(
        area, shape, strips, sites, grower, grown, trails, positions, pulls, places, stations
    )


def _plan(made: Assembly, tell: Callable[[str], None]) -> Plan:
    area, shape, strips, grower, grown = made.area, made.shape, made.strips, made.grower, made.grown
    trails, positions, places, stations = made.trails, made.positions, made.places, made.stations
    settings, sites = area.settings, made.sites
    site, *more = sites
    more_sites = tuple(more)
    pulls = with_chances(grower.pull_ground, grower.winch, trails, positions, made.pulls)
    limits = limits_in_force(settings)
    benches = {
        t.trail_id: bench
        for t in trails
        if (bench := benching.of_trail(area, limits, t, stations[t.trail_id])) is not None
    }
    sizes = sizes_of(area)
    error_m = settings.ground.dem_error_m
    steep = trail_chances.trail_chances(
        trails, stations, shape.dem, limits, error_m, settings.objective.seed
    )
    steps = trail_chances.with_step_chances(steps_of(trails, stations, benches), steep)
    chances = tuple(one.whole for one in steep.values())
    in_trail = ground.stems_in_trails(
        area, trails, benches, [*(place.shape for place in places), *(s.shape for s in sites)]
    )
    yard = shapely.union_all([one.shape for one in sites])
    own = own_of_trees(grown, trails, places, benches, yard)
    trees = outcomes(grower, grown, pulls, in_trail, sizes.mass_kg, sizes.stem_m3, own)
    tell("drainage and checks")
    shapes = [strip.shape for strip in strips.polygons]
    bars, bar_findings = drainage.drain(
        area, shape, shapes, site, trails, stations, more_sites
    )  # fmt: skip
    since, retired = changes(area.earlier, trails, positions)
    summary = soil.summarise(area, site, trails, places, pulls, (), benches, more_sites)
    findings = [
        *area.findings,
        *strips.findings,
        *(found for one in sites for found in landing.check(area, shape, strips, one)),
        *check_layout(
            area, shape, strips, site, trails, positions, pulls, places, trees, more_sites
        ),
        *bar_findings,
        *winch.findings_from(settings),
        *reach_findings.findings(pulls),
        *wishes.findings(area, trails, positions, _tried(grown)),
        *trail_chances.findings(chances, trails, error_m, settings.area.units),
        *_cut_short(grown),
    ]
    return Plan(
        area=area,
        terrain=shape,
        landing=site,
        trails=trails,
        steps=steps,
        positions=positions,
        pulls=pulls,
        trees=trees,
        turning_places=places,
        strips=strips.polygons,
        bars=bars,
        soil=summary,
        findings=ordered(findings),
        choice=_report(grown, settings),
        about=_about(area, grown),
        stations=stations,
        changes=since,
        retired=retired,
        benches=benches,
        more_landings=more_sites,
        crossings=crossings_of(area, shape, trails, drained_ha(area, shape)),
        channels=channels_of(area, shape),
        grade_chances=chances,
    )


def _cut_short(grown: Grown) -> list[Finding]:
    """Say that time ended the search: what is told of single trees may be the clock's doing."""
    if grown.choice.stopped_by != "time":
        return []
    return [
        Finding(
            code="search_cut_short",
            level="caution",
            message=(
                "The search was ended by its time limit before it had settled: trees may be "
                "unreached, or trail too long, for want of time and not of ground. Raise "
                "time_limit under [objective], or plan again with nothing else running"
            ),
            source="ours",
        )
    ]


def _tried(grown: Grown) -> wishes.Tried:
    """Give the winch positions the choice was made from."""
    spots, pairs = grown.candidates.spots, grown.candidates.pairs
    serves = np.bincount(pairs.pos, minlength=spots.x.size) > 0
    return wishes.Tried(np.column_stack((spots.x, spots.y)), serves)


def _report(grown: Grown, settings: AreaSettings) -> ChoiceReport:
    found, choice = grown.candidates, grown.choice
    return ChoiceReport(
        objective_m2=choice.objective,
        bound_m2=choice.bound,
        gap_pct=gap_pct(choice),
        rounds=grown.rounds,
        segments=int(found.forest.parent.size),
        positions=int(found.forest.position_segment.size),
        pairs=int(found.forest.pair_cost.size),
        rows=choice.size.get("rows", 0),
        columns=choice.size.get("columns", 0),
        nonzeros=choice.size.get("nonzeros", 0),
        seconds=grown.seconds,
        stopped_by=choice.stopped_by,
        seed=settings.objective.seed,
    )


def gap_pct(choice: Choice) -> float:
    """Give the proved gap of a choice, percent of its objective."""
    return 100 * max(choice.objective - choice.bound, 0.0) / max(abs(choice.objective), 1e-9)


def _about(area: Area, grown: Grown) -> dict[str, str]:
    choice = grown.choice
    return {
        "format": FORMAT,
        "program": "skidway",
        "version": layout.__version__,
        "made": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "area": area.settings.area.name,
        "crs": area.crs.to_string(),
        "units": area.settings.area.units,
        "azimuths": "grid, degrees clockwise from grid north",
        "objective_m2": f"{choice.objective:.3f}",
        "bound_m2": f"{choice.bound:.3f}",
        "gap_pct": f"{gap_pct(choice):.4f}",
        "rounds": str(grown.rounds),
        "seed": str(area.settings.objective.seed),
        "stopped_by": choice.stopped_by,
        "words": (
            "best found among the lines tried; optimal among the candidates of the round "
            "chosen from"
        ),
    }
