"""Long sections of trails: ground, water bars, junctions, grade and slope across."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.amounts import grade
from layout.outputs.report import profile_names, svg
from layout.outputs.report.figures import length, natural
from layout.outputs.report.tags import Markup, folded, join, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import counted, say
from layout.settings.limits import limits_in_force
from layout.speech import speak_station
from layout.units import FOOT_M

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.geometry import Floats
    from layout.outputs.report.profile_names import Names
    from layout.records import Trail
    from layout.settings.limits import Limits
    from layout.terrain import Stations

    Mask = NDArray[np.bool_]

SHOWN = 3  # the others are folded away
LEFT, RIGHT = 52.0, 84.0
EDGE_PX = 6.0  # names may stand over either side as far as this
GROUND_PX, GRADE_PX, CROSS_PX = 72.0, 76.0, 40.0
BETWEEN_PX, TOP_PX, FOOT_PX = 28.0, 22.0, 26.0  # between, over and under them
BAR_PX, MOUTH_PX, OVER_PX = 8.0, 7.0, 5.0
POINTS = 160  # of one line: more than a picture this wide can show
HEADROOM = 1.25
NOISE_PCT = 0.05


def part(tally: Tally) -> Markup | None:
    """Draw the trails, main trails first, then those with the steepest grade for its limit.

    Parameters
    ----------
    tally : Tally
        The plan, counted.

    Returns
    -------
    Markup or None
        None without any trail whose ground is known.
    """
    plan, limits = tally.plan, limits_in_force(tally.plan.area.settings)
    known = [
        (trail, plan.stations[trail.trail_id])
        for trail in plan.trails
        if trail.trail_id in plan.stations and _known(plan.stations[trail.trail_id])
    ]
    if not known:
        return None
    known.sort(key=lambda one: (one[0].kind != "main", -_near(one[1], limits),
                                natural(one[0].trail_id)))  # fmt: skip
    made = [
        _chart(tally, number, trail, stations, limits)
        for number, (trail, stations) in enumerate(known, start=1)
    ]
    rest = made[SHOWN:]
    more = say("chart_profiles_more", count=len(rest))
    return join(
        tag("h3", say("chart_profiles")),
        tag("p", say("chart_profiles_how")),
        *made[:SHOWN],
        folded(more, *rest, printed=False, file="crew_map.pdf") if rest else None,
    )


def _known(stations: Stations) -> bool:
    return len(stations) > 1 and bool(np.isfinite(stations.grade_pct).any())


def _near(stations: Stations, limits: Limits) -> float:
    """Tell how much of its limit the steepest grade takes up."""
    ahead = stations.grade_pct[np.isfinite(stations.grade_pct)]
    return float(max(np.max(ahead) / limits.adverse_pct, np.max(-ahead) / limits.favourable_pct))


def _chart(tally: Tally, number: int, trail: Trail, stations: Stations, limits: Limits) -> Markup:
    """Draw one trail, the landing end at the left."""
    end = float(stations.at_m[-1])
    scale = (svg.WIDTH - LEFT - RIGHT) / max(end, 1e-6)
    rows = np.unique(
        np.linspace(0, len(stations) - 1, min(POINTS, len(stations))).round().astype(int)
    )
    x = LEFT + stations.at_m[rows] * scale
    over = (stations.grade_pct > limits.adverse_pct + NOISE_PCT) | (
        -stations.grade_pct > limits.favourable_pct + NOISE_PCT
    )
    wide = stations.cross_pct > limits.cross_pct + NOISE_PCT
    leaving = _leaving(tally, trail)
    names = profile_names.laid(
        [name for name, _ in leaving],
        [LEFT + at_m * scale for _, at_m in leaving],
        (EDGE_PX, svg.WIDTH - EDGE_PX),
    )
    above = TOP_PX + names.height_px
    below = above + GROUND_PX + BETWEEN_PX
    last = below + GRADE_PX + BETWEEN_PX
    told = " ".join(
        (_told(tally, trail, stations, limits, over), _told_more(tally, trail, stations, limits))
    )
    return svg.picture(
        f"chart-profile-{number}",
        say("chart_profile", trail=trail.trail_id),
        told,
        last + CROSS_PX + FOOT_PX,
        *_ground(tally, x, stations.z[rows], above),
        *_things(tally, trail, stations, scale, above, names),
        *_grades(x, stations.grade_pct[rows], limits, below),
        *_over(stations, over, scale, below),
        *_across(x, stations.cross_pct[rows], limits, last),
        *_over(stations, wide, scale, last),
        *_along(tally, end, scale, last + CROSS_PX),
    )


def _ground(tally: Tally, x: Floats, z: Floats, top: float) -> list[Markup]:
    """Draw the ground, and say its lowest and highest."""
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    y = _heights(z, z, top)
    foot = top + GROUND_PX
    rise = length(high - low, tally.units)
    return [
        svg.words(LEFT, TOP_PX - 8, say("chart_ground_line", rise=rise), "soft"),
        svg.line(LEFT, foot, float(x[-1]), foot, "grid"),
        svg.path(zip(x.tolist(), y.tolist(), strict=True), "ground"),
    ]


def _heights(z: Floats, whole: Floats, top: float) -> Floats:
    """Give where heights are drawn: room over them for junctions, under them for water bars."""
    low, high = float(np.nanmin(whole)), float(np.nanmax(whole))
    scale = (GROUND_PX - MOUTH_PX - BAR_PX - 2.0) / max(high - low, 1.0)
    return np.asarray(top + GROUND_PX - BAR_PX - (z - low) * scale)


def _things(
    tally: Tally, trail: Trail, stations: Stations, scale: float, top: float, names: Names
) -> list[Markup]:
    """Draw water bars under the ground, and over it where other trails leave, with their names."""
    known = np.isfinite(stations.z)
    if not known.any():
        return []

    def spot(at_m: float) -> tuple[float, float]:
        z = np.interp([at_m], stations.at_m[known], stations.z[known])
        return LEFT + at_m * scale, float(_heights(z, stations.z, top)[0])

    made = []
    for at_m in _bars(tally, trail):
        x, y = spot(at_m)
        made.append(svg.line(x, y, x, y + BAR_PX, "drain"))
    tops = []
    for _, at_m in _leaving(tally, trail):
        x, y = spot(at_m)
        tip, half = y - 1.5, MOUTH_PX / 2
        corners = [(x, tip), (x - half, tip - MOUTH_PX), (x + half, tip - MOUTH_PX)]
        made.append(svg.path(corners, "mouth", closed=True))
        tops.append((x, tip - MOUTH_PX))
    return [*made, *names.drawn(tops, top)]


def _bars(tally: Tally, trail: Trail) -> list[float]:
    """Give the stations of a trail's water bars and dips, metres."""
    return sorted(bar.at_m for bar in tally.plan.bars if bar.trail_id == trail.trail_id)


def _leaving(tally: Tally, trail: Trail) -> list[tuple[str, float]]:
    """Give the trails that leave this one, and where, from its landing end outward."""
    found = [(t.trail_id, t.joins_at_m) for t in tally.plan.trails if t.joins_id == trail.trail_id]
    return sorted(((n, at) for n, at in found if at is not None), key=lambda one: one[1])


def _across(x: Floats, cross_pct: Floats, limits: Limits, top: float) -> list[Markup]:
    """Draw the slope across, level at the foot, and its limit."""
    known = cross_pct[np.isfinite(cross_pct)]
    most = HEADROOM * max(limits.cross_pct, float(known.max(initial=0.0)))
    foot, end = top + CROSS_PX, float(x[-1])
    y = foot - limits.cross_pct * CROSS_PX / most
    ran = (foot - cross_pct * CROSS_PX / most).tolist()
    return [
        svg.words(LEFT, top - 4, say("chart_cross_line"), "soft"),
        svg.line(LEFT, foot, end, foot, "grid"),
        svg.line(LEFT, y, end, y, "crosslimit"),
        svg.words(end + 6, y + 4, say("chart_across", grade=f"{limits.cross_pct:g} %")),
        svg.path(zip(x.tolist(), ran, strict=True), "across"),
    ]


def _grades(x: Floats, grade_pct: Floats, limits: Limits, top: float) -> list[Markup]:
    """Draw the grade of the loaded way, uphill above the middle line, and its two limits."""
    known = grade_pct[np.isfinite(grade_pct)]
    up = HEADROOM * max(limits.adverse_pct, float(known.max()))
    down = HEADROOM * max(limits.favourable_pct, float(-known.min()))
    scale = GRADE_PX / (up + down)
    level, end = top + up * scale, float(x[-1])
    lines = [svg.words(LEFT, top - 4, say("chart_grade_line"), "soft"),
             svg.line(LEFT, level, end, level, "grid"),
             svg.words(LEFT - 6, level + 4, say("chart_level"), "soft", "end")]  # fmt: skip
    for size, sign, word in (
        (limits.adverse_pct, -1, "chart_up"),
        (limits.favourable_pct, 1, "chart_down"),
    ):
        y = level + sign * size * scale
        lines.append(svg.line(LEFT, y, end, y, "limit"))
        lines.append(svg.words(end + 6, y + 4, say(word, grade=f"{size:g} %")))
    ran = (level - grade_pct * scale).tolist()
    return [*lines, svg.path(zip(x.tolist(), ran, strict=True), "grade")]


def _over(stations: Stations, over: Mask, scale: float, top: float) -> list[Markup]:
    """Mark where something is over its limit: a bar over what it is called."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], over.astype(np.int8), [0]])))
    made: list[Markup] = []
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        x0 = LEFT + float(stations.at_m[first]) * scale
        x1 = LEFT + float(stations.at_m[past - 1]) * scale
        made.append(svg.bar(x0, top - BETWEEN_PX + 4, max(x1 - x0, 3.0), OVER_PX, "over"))
    return made


def _along(tally: Tally, end_m: float, scale: float, foot: float) -> list[Markup]:
    """Write stations along the foot."""
    unit_m = FOOT_M if tally.units == "us" else 1.0
    name = "ft" if tally.units == "us" else "m"
    made = []
    for at in svg.round_steps(end_m / unit_m):
        if at * unit_m > end_m + 1e-9:
            break
        x = LEFT + at * unit_m * scale
        made.append(svg.line(x, foot, x, foot + 4, "grid"))
        made.append(svg.words(x, foot + 18, f"{at:,.0f} {name}", "soft", "middle"))
    return made


def _told(tally: Tally, trail: Trail, stations: Stations, limits: Limits, over: Mask) -> str:
    """Say in words what the picture shows."""
    known = stations.grade_pct[np.isfinite(stations.grade_pct)]
    step_m = float(stations.at_m[-1]) / max(len(stations) - 1, 1)
    beyond = min(float(np.count_nonzero(over)) * step_m, trail.line.length)  # both ends count
    return say(
        "chart_profile_told",
        trail=trail.trail_id,
        length=length(trail.line.length, tally.units),
        down=grade(max(float(-known.min()), 0.0)),
        up=grade(max(float(known.max()), 0.0)),
        down_limit=f"{limits.favourable_pct:g} %",
        up_limit=f"{limits.adverse_pct:g} %",
        over=say("chart_none_over")
        if beyond <= 0
        else say("chart_over", length=length(beyond, tally.units)),
    )


def _told_more(tally: Tally, trail: Trail, stations: Stations, limits: Limits) -> str:
    """Say how steep it is across, how many water bars there are, and where trails leave."""
    known = stations.cross_pct[np.isfinite(stations.cross_pct)]
    bars, leaving = _bars(tally, trail), _leaving(tally, trail)
    said = [
        say(
            "chart_cross_told",
            cross=grade(float(known.max(initial=0.0))),
            limit=f"{limits.cross_pct:g} %",
        )
    ]
    if bars:
        said.append(counted("chart_bars_told", len(bars)))
    if leaving:
        where = ", ".join(
            say("chart_leaves", trail=name, station=speak_station(at_m, tally.units))
            for name, at_m in leaving
        )
        said.append(say("chart_leaving_told", where=where))
    return " ".join(said)
