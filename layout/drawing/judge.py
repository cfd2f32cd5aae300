"""A draft as it stands, judged while it is drawn: by the checks a plan has to pass, no others."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layout import landing, soil
from layout.checks import check_layout
from layout.drawing.plain import plain
from layout.findings import LEVELS, Finding, ordered
from layout.geometry import at_stations, coordinates
from layout.reach import Winching, from_spots
from layout.records import Landing, Trail
from layout.site import Area
from layout.standing import FIRST, drawn_mains, fixed_trails
from layout.terrain import Stations, Terrain, station_table
from layout.water import Strips

Floats = NDArray[np.float64]

PIECE_M = 10.0
LEVEL_PCT = 0.5  # flatter than this goes neither up nor down


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """What is said of a draft.

    Parameters
    ----------
    trails : tuple of Trail
        As they were judged.
    findings : tuple of Finding
        Stops first.
    answer : dict
        The same and more as plain JSON values.
    """

    trails: tuple[Trail, ...]
    findings: tuple[Finding, ...]
    answer: dict[str, Any]


def trails_of(area: Area) -> tuple[Trail, ...]:
    """Give the trails an area has before anything is planned."""
    return (*drawn_mains(area), *fixed_trails(area, FIRST))


@dataclass(frozen=True, slots=True, eq=False)
class Sited:
    """A landing as it lies, whatever trails come to it.

    Parameters
    ----------
    landing : Landing
    findings : tuple of Finding
    """

    landing: Landing
    findings: tuple[Finding, ...]


def sited(area: Area, terrain: Terrain, strips: Strips) -> Sited | None:
    """Measure and judge the place of the first landing of an area.

    Parameters
    ----------
    area : Area
        Its trails are not looked at.
    terrain, strips : Terrain, Strips
        Its ground.

    Returns
    -------
    Sited or None
        None where there is no landing.
    """
    if area.landing is None:
        return None
    site = landing.measure(area, terrain, strips, area.landing)
    return Sited(site, tuple(landing.check(area, terrain, strips, site)))


def judge(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    winching: Winching,
    placed: Sited | None = None,
) -> Judged:
    """Judge what is drawn in an area.

    Parameters
    ----------
    area : Area
        With the draft in it.
    terrain, strips : Terrain, Strips
        Its ground.
    winching : Winching
        Ground and winch, for the trees in reach.
    placed : Sited, optional
        What `sited` gives of this area, where it is known already.

    Returns
    -------
    Judged
    """
    trails = trails_of(area)
    placed = placed or sited(area, terrain, strips)
    site = None if placed is None else placed.landing
    found = [] if placed is None else list(placed.findings)
    found += check_layout(area, terrain, strips, site, trails)
    findings = ordered(found)
    pieces: list[dict[str, Any]] = []
    for trail in trails:
        own = [f for f in findings if f.subject_id == trail.trail_id and f.from_m is not None]
        pieces += _pieces(trail, station_table(terrain, trail.line, trail.width_m), own)
    middles = [] if site is None else [(site.x, site.y)]
    middles += [(more.shape.centroid.x, more.shape.centroid.y) for more in area.more_landings]
    reach = from_spots(winching, [coordinates(t.line) for t in trails], middles or None)
    rows = winching.pulls.marked[reach]
    summary = None if site is None else soil.summarise(area, site, trails, (), (), (), {})
    answer = {
        "pieces": pieces,
        "findings": [told(f) for f in findings],
        "numbers": {
            "trail_m": round(sum(t.line.length for t in trails), 1),
            "main_m": round(sum(t.line.length for t in trails if t.kind == "main"), 1),
            "soil_pct": None if summary is None else plain(summary.share_pct),
            "soil_with_landing_pct": None
            if summary is None
            else plain(summary.share_with_landing_pct),
            "trees_in_reach": int(reach.sum()),
            "marked": int(reach.size),
        },
        "in_reach": [int(row) for row in rows],
    }
    return Judged(trails, findings, answer)


def told(finding: Finding) -> dict[str, Any]:
    """Give a finding as plain JSON values."""
    return {
        "code": finding.code,
        "level": finding.level,
        "message": finding.message,
        "layer": finding.subject_layer,
        "subject": finding.subject_id,
        "from_m": plain(finding.from_m),
        "to_m": plain(finding.to_m),
        "at": plain(finding.at),
        "value": plain(finding.value),
        "limit": plain(finding.limit),
        "unit": finding.unit,
        "source": finding.source,
        "confirmed": finding.confirmed,
    }


def _pieces(trail: Trail, stations: Stations, findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Cut a trail into pieces of 10 m, each with its worst grade, cross slope and level."""
    at = stations.at_m
    out: list[dict[str, Any]] = []
    grades, crosses = stations.grade_pct.tolist(), stations.cross_pct.tolist()
    path = np.column_stack([stations.x, stations.y])
    starts = np.arange(0.0, max(float(at[-1]), 1e-9), PIECE_M)
    ends = np.minimum(starts + PIECE_M, float(at[-1]))
    tips = np.stack([at_stations(path, starts), at_stations(path, ends)], axis=1)
    # stations run on: what lies in a piece, ends counted or not, is a slice of them
    first, last = np.searchsorted(at, starts - 1e-9), np.searchsorted(at, ends + 1e-9, "right")
    after, before = np.searchsorted(at, starts + 1e-9, "right"), np.searchsorted(at, ends - 1e-9)
    rows = zip(starts.tolist(), ends.tolist(), tips, strict=True)
    for k, (start, end, tip) in enumerate(rows):
        here = slice(int(first[k]), int(last[k]))
        if end - start < 0.01 or here.start >= here.stop:
            continue
        grade = [value for value in grades[here] if math.isfinite(value)]
        cross = [value for value in crosses[here] if math.isfinite(value)]
        known = bool(grade)
        worst = max(grade, key=abs) if known else float("nan")
        levels = [f.level for f in findings if f.from_m <= end and (f.to_m or f.from_m) >= start]
        level = min(levels, key=LEVELS.index) if levels else ("ok" if known else "unknown")
        way = "unknown" if not known else "up" if worst > LEVEL_PCT else "down"
        out.append(
            {
                "trail": trail.trail_id,
                "from_m": round(start, 2),
                "to_m": round(end, 2),
                "line": _drawn(tip, path[after[k] : before[k]]),
                "grade_pct": plain(worst, 1),
                "way": "level" if known and abs(worst) <= LEVEL_PCT else way,
                "cross_pct": plain(max(cross), 1) if cross else None,
                "level": level,
            }
        )  # fmt: skip
    return out


def _drawn(tips: Floats, inner: Floats) -> list[list[float]]:
    """Give a piece's places, to the centimetre: its ends, and every other station between."""
    places = np.vstack([tips[:1], inner[::2], tips[1:]])
    return [[round(x, 2), round(y, 2)] for x, y in places.tolist()]
