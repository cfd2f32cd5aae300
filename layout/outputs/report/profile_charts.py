"""Long sections of trails: how the ground runs, and the grade against its limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.amounts import grade
from layout.outputs.report import svg
from layout.outputs.report.figures import length, natural
from layout.outputs.report.tags import Markup, folded, join, tag
from layout.outputs.report.tally import Tally
from layout.outputs.words import say
from layout.settings.limits import limits_in_force
from layout.units import FOOT_M

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from layout.geometry import Floats
    from layout.records import Trail
    from layout.settings.limits import Limits
    from layout.terrain import Stations

    Mask = NDArray[np.bool_]

SHOWN = 3  # the others are folded away
LEFT, RIGHT = 52.0, 84.0
GROUND_PX, GRADE_PX, BETWEEN_PX, TOP_PX, FOOT_PX = 64.0, 76.0, 20.0, 22.0, 26.0
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
    below = TOP_PX + GROUND_PX + BETWEEN_PX
    told = _told(tally, trail, stations, limits, over)
    return svg.picture(
        f"chart-profile-{number}",
        say("chart_profile", trail=trail.trail_id),
        told,
        below + GRADE_PX + FOOT_PX,
        *_ground(tally, x, stations.z[rows], TOP_PX),
        *_grades(x, stations.grade_pct[rows], limits, below),
        *_over(stations, over, scale, below),
        *_along(tally, end, scale, below + GRADE_PX),
    )


def _ground(tally: Tally, x: Floats, z: Floats, top: float) -> list[Markup]:
    """Draw the ground, and say its lowest and highest."""
    low, high = float(np.nanmin(z)), float(np.nanmax(z))
    scale = (GROUND_PX - 8.0) / max(high - low, 1.0)
    y = top + GROUND_PX - (z - low) * scale
    foot = top + GROUND_PX
    rise = length(high - low, tally.units)
    return [
        svg.words(LEFT, top - 8, say("chart_ground_line", rise=rise), "soft"),
        svg.line(LEFT, foot, float(x[-1]), foot, "grid"),
        svg.path(zip(x.tolist(), y.tolist(), strict=True), "ground"),
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
    """Mark where the grade is over its limit: a bar under the ground, and a word over it."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], over.astype(np.int8), [0]])))
    made: list[Markup] = []
    for first, past in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        x0 = LEFT + float(stations.at_m[first]) * scale
        x1 = LEFT + float(stations.at_m[past - 1]) * scale
        made.append(svg.bar(x0, top - BETWEEN_PX + 2, max(x1 - x0, 3.0), 5.0, "over"))
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
    beyond = float(np.count_nonzero(over)) * step_m
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
