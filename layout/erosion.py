"""How fast the trails of a layout would wash: as classes, beside what was measured elsewhere.

A trail gathers its own water from each crest down to the next low place, and with bars
from each bar to the next. RUSLE's factor LS of those lengths, times the soil's K and the
cover's C, gives an index that compares stretches with each other. It is no amount: measured
trails with bars alone differ ninefold from place to place. Water that comes from the side,
and water that leaves over the edge before a bar, are both left out.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from layout.checks.words import place
from layout.compaction import compaction_of, concentrated
from layout.drainage import turns_of_slope
from layout.erosion_records import Erosion, TrailWash, WashStretch, wash_class
from layout.findings import Finding, ordered
from layout.plan_record import Plan
from layout.records import Trail, TrailStep, WaterBar
from layout.settings import AreaSettings
from layout.soil_loss import Family, length_slope, uneven_length_slope
from layout.soil_map import wet_ground
from layout.sources import RUSLE, TRAIL_COVER
from layout.table_cells import listed
from layout.terrain import Stations
from layout.units import FOOT_M, Units

Floats = NDArray[np.float64]

FAMILY: Family = "RUSLE"
OTHER_FAMILY: Family = "USLE"
K_DEFAULT = 0.32  # the setting's default: silt loam's order of size, from memory
BARE_DEFAULT = 0.45
MARK_M, MARK_PCT = 80 * FOOT_M, 10.0  # the printed spacing of bars at 10 %
MOST_TOLD = 3  # findings; the report lists the rest
SAME_PLACE_M = 1e-6


def with_erosion(plan: Plan) -> Plan:
    """Say how the trails of a finished layout would wash, and how its loads press the ground.

    Parameters
    ----------
    plan : Plan
        With its bars, and with the loads over every step.

    Returns
    -------
    Plan
        With ``erosion`` and its findings.
    """
    settings = plan.area.settings
    made = erosion_of(
        settings, plan.trails, plan.stations, plan.bars, plan.steps,
        wet_ground(plan.area), plan.soil.stand_m2,
    )  # fmt: skip
    found = erosion_findings(settings, made)
    return replace(plan, erosion=made, findings=ordered((*plan.findings, *found)))


def erosion_of(
    settings: AreaSettings,
    trails: Sequence[Trail],
    stations: Mapping[str, Stations],
    bars: Sequence[WaterBar],
    steps: Sequence[TrailStep],
    wet: BaseGeometry,
    stand_m2: float,
) -> Erosion:
    """Work out washing and compaction of a layout.

    Parameters
    ----------
    settings : AreaSettings
        Soil, covers and rates under [soil].
    trails : sequence of Trail
    stations : mapping of str to Stations
        What each trail meets, about every metre.
    bars : sequence of WaterBar
        All that lead water off, at any station of any trail.
    steps : sequence of TrailStep
        With their loads.
    wet : geometry
        Ground known to be wet; may be empty.
    stand_m2 : float
        Area of the stand, square metres.

    Returns
    -------
    Erosion
        One more bar never raises an index, anywhere.
    """
    soil = settings.soil
    scale = _scale(settings)
    rows: list[TrailWash] = []
    stretches: list[WashStretch] = []
    unjudged: list[str] = []
    other = 0.0
    for trail in trails:
        st = stations[trail.trail_id]
        if not (np.isfinite(st.z).all() and np.isfinite(st.grade_pct).all()):
            unjudged.append(trail.trail_id)
            continue
        let_off = [bar.at_m for bar in bars if bar.trail_id == trail.trail_id]
        whole, parts = _legs(st), _legs(st, let_off)
        made = [_stretch(trail.trail_id, st, leg, scale, settings) for leg in parts]
        stretches += made
        rows.append(_wash(trail.trail_id, whole, parts, scale, settings))
        other += sum(leg.ls(OTHER_FAMILY) * leg.length_m for leg in parts)
    together = _mean(rows)
    ours = 0.0 if together is None else together.ls_barred * together.length_m
    pressed, pressed_whole = compaction_of(settings, trails, steps, wet)
    return Erosion(
        family=FAMILY,
        k_factor=soil.k_factor,
        k_default=soil.k_factor == K_DEFAULT,
        cover_bare=soil.cover.bare,
        cover_covered=soil.cover.closed,
        other_family=OTHER_FAMILY,
        other_ratio=other / ours if ours else 1.0,
        whole=together,
        trails=tuple(rows),
        stretches=tuple(stretches),
        unjudged=tuple(unjudged),
        compaction=pressed,
        compaction_whole=pressed_whole,
        concentrated=concentrated(settings, trails, steps, wet, stand_m2),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Leg:
    """A length that keeps its own water: pieces from its top down."""

    from_m: float
    to_m: float
    run_m: Floats
    grade_pct: Floats

    @property
    def length_m(self) -> float:
        return self.to_m - self.from_m

    def ls(self, family: Family = FAMILY) -> float:
        return uneven_length_slope(self.run_m, self.grade_pct, family)


def _legs(st: Stations, let_off: Sequence[float] = ()) -> list[_Leg]:
    """Cut a trail at crests, low places and bars; each part runs the way its slope falls.

    Which way is told once from crest to low place: elevations between two bars may not tell.
    """
    legs: list[_Leg] = []
    grade = np.abs(st.grade_pct)
    for a, b in pairwise(turns_of_slope(st.z)):
        start, end = float(st.at_m[a]), float(st.at_m[b])
        inner = sorted({at for at in let_off if start + SAME_PLACE_M < at < end - SAME_PLACE_M})
        falls = bool(st.z[a] >= st.z[b])
        for lo, hi in pairwise([start, *inner, end]):
            between = st.at_m[(st.at_m > lo) & (st.at_m < hi)]
            edges = np.concatenate([[lo], between, [hi]])
            middle = 0.5 * (edges[:-1] + edges[1:])
            run, steep = np.diff(edges), np.interp(middle, st.at_m, grade)
            legs.append(_Leg(lo, hi, *((run, steep) if falls else (run[::-1], steep[::-1]))))
    return legs


def _scale(settings: AreaSettings) -> float:
    """Give what turns K times LS times C into an index."""
    mark = float(length_slope(MARK_M, MARK_PCT, FAMILY))
    return settings.soil.k_factor / (K_DEFAULT * BARE_DEFAULT * mark)


def _stretch(
    name: str, st: Stations, leg: _Leg, scale: float, settings: AreaSettings
) -> WashStretch:
    """Judge one length between bars."""
    cover, ls = settings.soil.cover, leg.ls()
    middle = 0.5 * (leg.from_m + leg.to_m)
    x, y = (float(np.interp(middle, st.at_m, values)) for values in (st.x, st.y))
    return WashStretch(
        trail_id=name,
        from_m=leg.from_m,
        to_m=leg.to_m,
        grade_pct=float((leg.run_m * leg.grade_pct).sum() / leg.run_m.sum()),
        ls=ls,
        bare=scale * ls * cover.bare,
        covered=scale * ls * cover.closed,
        at=(x, y),
    )


def _wash(
    name: str, whole: Sequence[_Leg], parts: Sequence[_Leg], scale: float, settings: AreaSettings
) -> TrailWash:
    """Judge one trail, without its bars and with them."""
    cover = settings.soil.cover
    length = sum(leg.length_m for leg in whole)
    ls_run, ls_barred = (
        sum(leg.ls() * leg.length_m for leg in legs) / length for legs in (whole, parts)
    )
    return TrailWash(
        trail_id=name,
        length_m=length,
        longest_run_m=max(leg.length_m for leg in whole),
        longest_barred_m=max(leg.length_m for leg in parts),
        ls_run=ls_run,
        ls_barred=ls_barred,
        open=scale * ls_run * cover.bare,
        barred=scale * ls_barred * cover.bare,
        covered=scale * ls_barred * cover.closed,
    )


def _mean(rows: Sequence[TrailWash]) -> TrailWash | None:
    """Give all trails as one, means by length."""
    length = sum(row.length_m for row in rows)
    if not length:
        return None

    def mean(name: str) -> float:
        return float(sum(getattr(row, name) * row.length_m for row in rows) / length)

    return TrailWash(
        trail_id="",
        length_m=length,
        longest_run_m=max(row.longest_run_m for row in rows),
        longest_barred_m=max(row.longest_barred_m for row in rows),
        ls_run=mean("ls_run"),
        ls_barred=mean("ls_barred"),
        open=mean("open"),
        barred=mean("barred"),
        covered=mean("covered"),
    )


def worst_stretches(erosion: Erosion) -> tuple[WashStretch, ...]:
    """Give the stretches that would wash fastest while bare, the worst first.

    Parameters
    ----------
    erosion : Erosion

    Returns
    -------
    tuple of WashStretch
        Those in the class ``very high`` although their bars are in.
    """
    bad = [s for s in erosion.stretches if wash_class(s.bare) == "very high"]
    return tuple(sorted(bad, key=lambda s: (-s.bare, s.trail_id, s.from_m)))


def erosion_findings(settings: AreaSettings, erosion: Erosion) -> list[Finding]:
    """Say where trails would wash, and what is not known of it.

    Parameters
    ----------
    settings : AreaSettings
    erosion : Erosion

    Returns
    -------
    list of Finding
        Cautions for the worst stretches; what is not known as ``unknown``.
    """
    found: list[Finding] = []
    units = settings.area.units
    if erosion.k_default and erosion.trails:
        found.append(
            Finding(
                "soil_k_default",
                "unknown",
                f"How easily your soil washes is not known: {K_DEFAULT:g} is the default, not your "
                "soil. Take K of the soil survey for [soil] k_factor; soils run from about 0.2 to "
                "0.43, and classes of erosion move with it.",
                "settings",
                "[soil] k_factor",
                value=erosion.k_factor,
                source="memory: unverified",
                confirmed=False,
            )
        )
    if erosion.unjudged:
        found.append(
            Finding(
                "soil_wash_unknown",
                "unknown",
                f"Erosion of {listed(erosion.unjudged)} is not worked out: elevations are missing "
                "along the way.",
                "trails",
                erosion.unjudged[0],
                source=str(RUSLE),
            )
        )
    worst = worst_stretches(erosion)
    told = worst[:MOST_TOLD]
    lengths = {one.trail_id: one.length_m for one in erosion.trails}
    for number, stretch in enumerate(told, start=1):
        rest = len(worst) - len(told) if number == len(told) else 0
        found.append(_told(stretch, rest, units, lengths.get(stretch.trail_id, math.inf)))
    if erosion.trails and not worst:
        found.append(
            Finding(
                "soil_wash",
                "ok",
                "With its water bars no stretch of trail is in the highest of four classes of "
                "erosion while it is bare; slash or seed on the closed trail takes off most of "
                "what is left.",
                source=str(RUSLE),
                confirmed=False,
            )
        )
    return found


def _told(stretch: WashStretch, rest: int, units: Units, end_m: float) -> Finding:
    """Say where a stretch would wash, and what to do."""
    where = place(units, stretch.from_m, stretch.to_m, end_m)
    if wash_class(stretch.covered) in ("low", "moderate"):
        do = "cover it with tops and branches as soon as its last load is out, and before any rain"
    else:
        do = (
            "even covered it stays high: bars nearer than the table, tops and branches thick over "
            "all of it, or a gentler line"
        )
    more = f" {rest} more like it are in the report." if rest > 1 else ""
    more = " 1 more like it is in the report." if rest == 1 else more
    return Finding(
        "soil_wash",
        "caution",
        f"Trail {stretch.trail_id} {where}: {stretch.grade_pct:.0f} % and bare it would wash about "
        f"{stretch.bare:.1f} times as fast as a 10 % trail with bars; {do}.{more}",
        "trails",
        stretch.trail_id,
        from_m=stretch.from_m,
        to_m=stretch.to_m,
        value=round(stretch.bare, 2),
        source=f"{RUSLE}; cover {TRAIL_COVER}; classes are ours",
        confirmed=False,
        at=stretch.at,
    )
