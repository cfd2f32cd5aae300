"""Trails, parking and landing on ground the soil map calls poorly drained.

A soil map is coarse: its lines may lie tens of metres off, and a polygon holds spots of
other soils. So it asks for a look, and only on a wet day does it stop the work.
"""

from collections.abc import Sequence

import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from layout.checks.case import Case, Stretch, Walked, stretches
from layout.checks.words import on
from layout.findings import Finding, Level
from layout.settings import AreaSettings
from layout.site import DrainageClass
from layout.soil_map import WET, drained_as
from layout.sources import DRAINAGE_CLASSES
from layout.speech import speak_length
from layout.table_cells import listed

SHORT_M = 2.0  # a map's line may be off by more than such a stretch is long; ours
TOUCH_M2 = 1.0
MOIST: frozenset[DrainageClass] = frozenset({"somewhat poorly"})
_TODAY = {
    "dry": "keep off it from the first rain on, choose other ground, or work on tops and poles",
    "wet": "keep off it until it is dry or frozen hard, or move the trail",
    "frozen": "only while it is frozen hard, and off it at the first thaw",
}


def check(case: Case) -> list[Finding]:
    """Hold a layout against the soil map.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Poorly drained ground under trails, winch positions and landing: cautions, stops
        where the ground of the day is wet; then also cautions on somewhat poorly drained
        ground. Nothing without a soil map; one ``ok`` where nothing was found.
    """
    if not case.area.soil_map:
        return []
    condition = case.area.settings.ground.condition
    found = _on(case, drained_as(case.area, WET), "poorly drained", _level(case.area.settings))
    if condition == "wet":
        moist = drained_as(case.area, MOIST).difference(drained_as(case.area, WET))
        found += _on(case, moist, "somewhat poorly drained", "caution")
    if found or not (case.trails or case.landing):
        return found
    return [
        Finding(
            "soil_wet",
            "ok",
            "No trail, winch position or landing lies on ground the soil map calls poorly drained; "
            "its lines are coarse, so look for rushes, grey soil and standing water all the same.",
            source=str(DRAINAGE_CLASSES),
            confirmed=DRAINAGE_CLASSES.confirmed,
        )
    ]


def _level(settings: AreaSettings) -> Level:
    return "stop" if settings.ground.condition == "wet" else "caution"


def _on(case: Case, ground: BaseGeometry, name: str, level: Level) -> list[Finding]:
    """Find everything that lies on one kind of ground."""
    if ground.is_empty:
        return []
    shapely.prepare(ground)
    found: list[Finding] = []
    for walked in case.trails:
        parts = [
            s
            for s in stretches(walked.trail.line, walked.footprint.intersection(ground))
            if s.length_m >= SHORT_M
        ]
        if parts:
            found.append(_trail(case, walked, parts, name, level))
    parked = [p for p in case.positions if ground.intersects(Point(p.x, p.y))]
    if parked:
        names = listed((p.position_id for p in parked), 12)
        what = f"Winch position {names}" if len(parked) == 1 else f"Winch positions {names}"
        found.append(
            _say(
                case,
                "soil_wet_parking",
                level,
                f"{what}: on {name} soil by the soil map",
                ("winch_positions", parked[0].position_id),
                (parked[0].x, parked[0].y),
                float(len(parked)),
            )
        )
    for landing in case.landings:
        size = float(landing.shape.intersection(ground).area)
        if size >= TOUCH_M2:
            share = f"{100 * size / landing.shape.area:.0f} %"
            found.append(
                _say(
                    case,
                    "soil_wet_landing",
                    level,
                    f"Landing {landing.landing_id}: {share} on {name} soil by the soil map",
                    ("landing", landing.landing_id),
                    (landing.x, landing.y),
                    100 * size / landing.shape.area,
                    "%",
                )
            )
    return found


def _trail(
    case: Case, walked: Walked, parts: Sequence[Stretch], name: str, level: Level
) -> Finding:
    """Say how much of a trail lies on one kind of ground, and where it begins."""
    units = case.units
    longest = max(parts, key=lambda s: s.length_m)
    total = sum(s.length_m for s in parts)
    more = (
        f", {speak_length(total, units)} in {len(parts)} stretches in all" if len(parts) > 1 else ""
    )
    return _say(
        case,
        "soil_wet_trail",
        level,
        f"{on(walked, units, longest.from_m, longest.to_m)}: on {name} soil by the soil map{more}",
        ("trails", walked.trail.trail_id),
        walked.spot(0.5 * (longest.from_m + longest.to_m)),
        total,
        "m",
        longest,
    )


def _say(
    case: Case,
    code: str,
    level: Level,
    what: str,
    subject: tuple[str, str],
    spot: tuple[float, float],
    value: float,
    unit: str = "",
    stretch: Stretch | None = None,
) -> Finding:
    """Make a finding, with what to do on such a day."""
    return Finding(
        code,
        level,
        f"{what}; {_TODAY[case.area.settings.ground.condition]}",
        subject[0],
        subject[1],
        from_m=None if stretch is None else stretch.from_m,
        to_m=None if stretch is None else stretch.to_m,
        value=value,
        unit=unit,
        source=f"ours; classes after {DRAINAGE_CLASSES}",
        confirmed=False,
        at=spot,
    )
