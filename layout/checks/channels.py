"""Water that is on no map: possible channels and wet ground, seen in the elevations alone.

Nothing here is a stop. The elevations can be wrong both ways, so each place is
told to be looked at; where water is found, it belongs on the map and gets its strip.
"""

from dataclasses import dataclass
from functools import lru_cache

import networkx as nx
import shapely
from shapely.geometry.base import BaseGeometry

from layout.channels import NEAR_M, Channel, Hollow, channels_of
from layout.checks.case import Case, Stretch, Walked, stretches
from layout.checks.words import on
from layout.findings import Finding, Level
from layout.speech import speak_length
from layout.units import ACRE_M2, HECTARE_M2

SOURCE = "ours, no source"
MOST = 12  # so many lines are told one by one, the rest in a word
JOINED_M = 3.0  # ends of lines this near are one channel
AGREE_SHARE = 0.5  # less of the mapped streams seen in the elevations is a doubt; ours


@dataclass(frozen=True, slots=True)
class _System:
    """Lines that run into each other, the largest first."""

    lines: tuple[Channel, ...]
    inside_m: float

    @property
    def lower_end(self) -> tuple[float, float]:
        """Grid x, y of the lowest end."""
        x, y = self.lines[0].line.coords[-1]
        return (float(x), float(y))


def check(case: Case) -> list[Finding]:
    """Say what the elevations show of water that is not mapped, and what meets it.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
    """
    seen = channels_of(case.area, case.terrain)
    found = _unmapped(case, seen.lines)
    found += [_basin(case, h) for h in seen.hollows if h.kind == "basin" and _in_job(case, h.shape)]
    for walked in case.trails:
        found += _on_trail(case, walked, seen.lines, seen.hollows)
    found += _on_landing(case, seen.lines, seen.hollows)
    found += _agreement(case)
    if seen.beyond is not None:
        found.append(
            _say(
                "water_from_beyond",
                "unknown",
                "Water comes in from beyond the known elevations; how much drains to this ground "
                "is not known, and channels may be missing. Use elevations that reach farther "
                "uphill, or look for them on the ground",
                at=seen.beyond,
            )
        )
    return found


def _in_job(case: Case, geometry: BaseGeometry) -> bool:
    """Tell what touches the ground of the job."""
    return bool(case.land.intersects(geometry))


def _say(
    code: str,
    level: Level,
    message: str,
    *,
    at: tuple[float, float] | None = None,
    value: float | None = None,
    limit: float | None = None,
    unit: str = "",
    subject: tuple[str, str] = ("", ""),
    stretch: Stretch | None = None,
) -> Finding:
    return Finding(
        code=code,
        level=level,
        message=message,
        subject_layer=subject[0],
        subject_id=subject[1],
        from_m=None if stretch is None else stretch.from_m,
        to_m=None if stretch is None else stretch.to_m,
        value=value,
        limit=limit,
        unit=unit,
        source=SOURCE,
        confirmed=False,
        at=at,
    )


@lru_cache(maxsize=4)
def _joined(lines: tuple[Channel, ...]) -> list[tuple[Channel, ...]]:
    """Gather lines that run into each other, the largest first; those of an area stay the same."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(lines)))
    shapes = [channel.line for channel in lines]
    if shapes:
        pairs = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=JOINED_M)
        graph.add_edges_from(pairs.T.tolist())
    groups = sorted(sorted(joined) for joined in nx.connected_components(graph))
    return [tuple(lines[i] for i in group) for group in groups]


def _systems(case: Case, lines: tuple[Channel, ...]) -> list[_System]:
    """Give the channels of which some lies on the ground of the job, the longest there first."""
    made: list[_System] = []
    for mine in _joined(lines):
        inside = float(sum(c.line.intersection(case.land).length for c in mine))
        if inside > 0:
            made.append(_System(mine, inside))
    return sorted(made, key=lambda s: (-s.inside_m, s.lower_end))


def _unmapped(case: Case, lines: tuple[Channel, ...]) -> list[Finding]:
    """Name each possible channel on the ground of the job, the longest first."""
    systems = _systems(case, lines)
    found: list[Finding] = []
    for system in systems[:MOST]:
        largest = system.lines[0]
        drained = _drained(case, largest)
        found.append(
            _say(
                "water_channel_unmapped",
                "caution",
                f"A possible channel, {speak_length(system.inside_m, case.units)} of it on your "
                f"ground, is not on your map of water: {drained} to its lower end. Walk it; if it "
                "carries water at any time of the year, map it so that its strip is kept",
                at=system.lower_end,
                value=system.inside_m,
                unit="m",
            )
        )
    rest = systems[MOST:]
    if rest:
        length = speak_length(sum(s.inside_m for s in rest), case.units)
        found.append(
            _say(
                "water_channel_unmapped",
                "caution",
                f"{len(rest)} more possible channels, {length} in all, are not on your map of "
                "water; they are drawn on the map. Walk them, or raise channel_area under [water]",
                at=rest[0].lower_end,
            )
        )
    return found


def _drained(case: Case, channel: Channel) -> str:
    """Say how much ground drains to a channel's lower end."""
    area_m2 = channel.area_ha * HECTARE_M2
    said = f"{area_m2 / ACRE_M2:.1f} acres" if case.units == "us" else f"{channel.area_ha:.1f} ha"
    return f"at least {said} drain" if channel.least else f"{said} drain"


def _basin(case: Case, hollow: Hollow) -> Finding:
    """Name a closed basin."""
    spot = hollow.shape.representative_point()
    return _say(
        "water_basin_closed",
        "caution",
        f"A closed basin {speak_length(hollow.depth_m, case.units)} deep: water stands in it or "
        "sinks away. If a pipe drains it, a channel may go on below that the elevations do not "
        "show",
        at=(float(spot.x), float(spot.y)),
        value=hollow.depth_m,
        unit="m",
    )


def _on_trail(
    case: Case, walked: Walked, lines: tuple[Channel, ...], hollows: tuple[Hollow, ...]
) -> list[Finding]:
    """Say where a trail crosses a possible channel or runs through wet ground."""
    found: list[Finding] = []
    name = ("trails", walked.trail.trail_id)
    line, footprint = walked.trail.line, walked.footprint
    for system in _joined(lines):
        met = [(c, c.line.intersection(footprint)) for c in system if c.line.intersects(footprint)]
        every = shapely.union_all([part for _, part in met])
        for stretch in stretches(line, every, JOINED_M):
            channel = next(c for c, part in met if _at(stretches(line, part), stretch))
            long = stretch.length_m > 2 * walked.trail.width_m
            found.append(
                _say(
                    "water_channel_trail",
                    "caution",
                    f"{on(walked, case.units, stretch.from_m, stretch.to_m)}: "
                    f"{'runs along' if long else 'crosses'} a possible channel that is not mapped "
                    f"({_drained(case, channel)} to it); look at it before you drive there, and "
                    "if water runs in it, it is a stream crossing",
                    at=walked.spot(0.5 * (stretch.from_m + stretch.to_m)),
                    subject=name,
                    stretch=stretch,
                )
            )
    for hollow in hollows:
        what = "likely wet ground" if hollow.kind == "wet" else "the floor of a closed basin"
        for stretch in stretches(walked.trail.line, hollow.shape.intersection(walked.footprint)):
            found.append(
                _say(
                    "water_hollow_trail",
                    "caution",
                    f"{on(walked, case.units, stretch.from_m, stretch.to_m)}: runs through {what}; "
                    "drive it dry or frozen, or lay brush, or lead the trail round it",
                    at=walked.spot(0.5 * (stretch.from_m + stretch.to_m)),
                    subject=name,
                    stretch=stretch,
                )
            )
    return found


def _at(parts: tuple[Stretch, ...], stretch: Stretch) -> bool:
    """Tell whether one of some parts of a trail belongs to a stretch of it."""
    return any(
        part.from_m <= stretch.to_m + 1e-6 and part.to_m >= stretch.from_m - 1e-6 for part in parts
    )


def _on_landing(
    case: Case, lines: tuple[Channel, ...], hollows: tuple[Hollow, ...]
) -> list[Finding]:
    """Say where the landing lies on a possible channel or wet ground."""
    found: list[Finding] = []
    for landing in case.landings:
        outline, name = landing.shape, ("landing", landing.landing_id)
        for code, shapes, what in (
            (
                "water_channel_landing",
                [c.line for c in lines],
                "a possible channel runs through it",
            ),
            ("water_hollow_landing", [h.shape for h in hollows], "part of it is likely wet ground"),
        ):
            met = shapely.union_all([s for s in shapes if s.intersects(outline)]).intersection(
                outline
            )
            if met.is_empty:
                continue
            spot = met.representative_point()
            found.append(
                _say(
                    code,
                    "caution",
                    f"Landing {landing.landing_id}: {what}, by the elevations; look at it, and "
                    "keep decks and machines off it or move the landing",
                    at=(float(spot.x), float(spot.y)),
                    subject=name,
                )
            )
    return found


def _agreement(case: Case) -> list[Finding]:
    """Say how mapped streams and elevations agree."""
    agree = channels_of(case.area, case.terrain).agreement
    if agree.mapped_m <= 0:
        return []
    share = agree.mapped_seen_m / agree.mapped_m
    units = case.units
    near = speak_length(NEAR_M, units)
    message = (
        f"Of {speak_length(agree.mapped_m, units)} of mapped stream {100 * share:.0f} % has a "
        f"channel in the elevations within {near}"
    )
    if agree.seen_m > 0:
        back = 100 * agree.seen_mapped_m / agree.seen_m
        message += (
            f"; of {speak_length(agree.seen_m, units)} of channels in the elevations "
            f"{back:.0f} % lie within {near} of mapped water"
        )
    doubt = share < AGREE_SHARE
    if doubt:
        message += ". Map or elevations are off, or the streams are smaller than channel_area shows"
    return [
        _say(
            "water_map_agrees",
            "caution" if doubt else "ok",
            message,
            value=100 * share,
            limit=100 * AGREE_SHARE,
            unit="%",
        )
    ]
