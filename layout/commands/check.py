"""``skidway check``: read an area and say what was found, without planning."""

import argparse
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from layout.commands.terminal import check_settings, lines_of, log_to_stderr

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from layout.findings import Finding
    from layout.site import Area
    from layout.terrain import Terrain
    from layout.treatment import Treatment


def add_to(commands: Any) -> None:
    """Add the command to the parser."""
    words = commands.add_parser(
        "check",
        help="read an area and list what was found, without planning",
        description="Read AREA, check what is drawn in it, and list the findings.",
    )
    words.add_argument("area", metavar="AREA", type=Path, help="the folder, or its area.toml")
    words.add_argument("--offline", action="store_true", help="open no web address")
    words.add_argument("-v", "--verbose", action="store_true", help="say more")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Check one area; 1 where a finding says stop."""
    log_to_stderr(verbose=words.verbose)
    check_settings(words.area)

    from layout.area import read_area
    from layout.checks import check_treatment
    from layout.findings import LEVELS, ordered
    from layout.outputs.stand_lines import said
    from layout.speech import speak_area
    from layout.terrain import build

    area = read_area(words.area, offline=words.offline)
    ground, treatment = build(area.dem), _treatment(area)
    found = check_treatment(area, ground, treatment, area.yard)
    findings = ordered((*area.findings, *_drawn(area, ground), *found))
    rows, cols = area.dem.shape
    size = speak_area(area.stand.area, area.settings.area.units)
    print(
        f"{area.settings.area.name}: stand of {size}, "
        f"{len(area.trees)} trees ({int(area.trees.marked.sum())} marked), "
        f"{rows} x {cols} cells of {area.dem.cell_m:g} m, {area.crs.name}"
    )
    for line in lines_of(findings):
        print(line)
    for line in (*said(area, treatment), *_limits(area, ground)):
        print(line)
    count = Counter(finding.level for finding in findings)
    print(", ".join(f"{count[level]} {level}" for level in LEVELS if count[level]) or "no findings")
    return 1 if count["stop"] else 0


def _treatment(area: "Area") -> "Treatment":
    """Work out what the marking takes, with what is drawn of the layout."""
    from layout.benching import footprint
    from layout.standing import drawn_mains, fixed_trails
    from layout.treatment import treat

    cleared: list[BaseGeometry] = list(area.landings)
    mains = drawn_mains(area)
    if area.landing is not None and mains:
        cleared += [footprint(trail, None) for trail in (*mains, *fixed_trails(area, "L1"))]
    return treat(area, cleared, whole=False)


def _limits(area: "Area", ground: "Terrain") -> list[str]:
    """Say what limits the user from the drawn landing and main trail, or propose landings."""
    from layout import water
    from layout.limit_words import said
    from layout.limits import what_limits
    from layout.settings import limits_in_force
    from layout.sites import propose, words_of
    from layout.standing import drawn_mains, fixed_trails
    from layout.steep_ground import steep_share

    limits = limits_in_force(area.settings)
    strips = water.strips(area, ground)
    lines = [steep_share(area, ground, limits).words(limits)]
    units = area.settings.area.units
    if area.landing is None:
        sites = propose(area, ground, strips, limits)
        return lines + [words_of(site, units) for site in sites]
    trails = (*drawn_mains(area), *fixed_trails(area, "L1"))
    return lines + said(what_limits(area, ground, strips, trails), units)


def _drawn(area: "Area", ground: "Terrain") -> "tuple[Finding, ...]":
    """Check water, the drawn landing and the drawn main trail, as a plan would."""
    from layout import landing, water
    from layout.checks import check_layout
    from layout.standing import drawn_mains, fixed_trails

    strips = water.strips(area, ground)
    if area.landing is None:
        return strips.findings
    sites = landing.measured(area, ground, strips)
    found = [*strips.findings]
    for site in sites:
        found += landing.check(area, ground, strips, site)
    mains = drawn_mains(area)
    if not mains:
        return tuple(found)
    trails = (*mains, *fixed_trails(area, sites[0].landing_id))
    return (
        *found,
        *check_layout(area, ground, strips, sites[0], trails, more_landings=sites[1:]),
    )
