"""How much ground a layout disturbs, and how badly.

Trails, turning places and the landing are laid over each other as areas, so
that ground used twice counts once. Winching corridors are reported beside the
share of the stand, never inside it: a log dragged over once is another thing
than a wheel track. What is cut and filled for new benches counts with the trails.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring, unary_union

from layout.benching import Bench
from layout.findings import Finding, Level
from layout.records import Landing, Pull, SoilSummary, Trail, TrailStep, TurningPlace
from layout.settings import AreaSettings
from layout.site import Area
from layout.sources import SOIL_LIMIT
from layout.units import FOOT_M

Floats = NDArray[np.float64]

CORRIDOR_M = 6 * FOOT_M  # ours: limbed stems and logs
CROWN_CORRIDOR_M = 10 * FOOT_M  # ours: whole trees, crown and all
CORRIDOR_CLASS = 1  # ours: dragged over a few times, never driven
LANDING_CLASS = 3  # ours: driven and dragged over all day
BENCH_CLASS = 3  # ours: topsoil gone from the bank, buried under the fill
TURNING_CLASS = 2  # ours: at least; more where its trail has more


def corridor_width_m(settings: AreaSettings) -> float:
    """Give the width of ground a load sweeps while it is winched, metres."""
    return CROWN_CORRIDOR_M if settings.work.extract == "tree" else CORRIDOR_M


def soil_class(loads: int, wet: bool, class_passes: tuple[int, int]) -> int:
    """Give the disturbance class a number of loaded passes leaves.

    Parameters
    ----------
    loads : int
        Loaded passes over the ground.
    wet : bool
        Wet or fine ground.
    class_passes : tuple of int
        Fewer passes than the first leave class 1, fewer than the second class 2.

    Returns
    -------
    int
        1, 2 or 3 on the visual scale of `layout.sources.SOIL_CLASSES`; which number
        of passes leaves which class is ours.

    Examples
    --------
    >>> [soil_class(n, True, (3, 10)) for n in (0, 2, 3, 9, 10)]
    [1, 1, 2, 2, 3]
    """
    first, second = class_passes
    if loads < first:
        return 1
    if loads < second or not wet:
        return 2
    return 3


def compaction_share(passes: ArrayLike, rate: float) -> Floats:
    """Give the share of the final compaction that a number of passes brings.

    Parameters
    ----------
    passes : array_like of float, any shape
        Loaded passes, n.
    rate : float
        k in ``1 - exp(-k n)``; a setting. Ours, fitted to trials in which the change
        ended after 6 cycles on sloping ground and 12 on flat.

    Returns
    -------
    ndarray of float, same shape
        0 to 1.

    Examples
    --------
    >>> compaction_share([0, 1, 12], 0.25).round(3).tolist()
    [0.0, 0.221, 0.95]
    """
    return np.asarray(-np.expm1(-rate * np.asarray(passes, dtype=float)))


def strip(line: LineString, width_m: float) -> BaseGeometry:
    """Give the ground a trail or corridor covers, square at both ends.

    Parameters
    ----------
    line : LineString
        Centre line.
    width_m : float
        Full width, metres.

    Returns
    -------
    Polygon or MultiPolygon
        Its outline.
    """
    return line.buffer(0.5 * width_m, cap_style="flat")


def classed(
    area: Area, steps: Iterable[TrailStep], wet: BaseGeometry | None = None
) -> tuple[TrailStep, ...]:
    """Put each trail step into its soil class.

    Parameters
    ----------
    area : Area
        Its settings say how the ground is and where the classes part.
    steps : iterable of TrailStep
        Steps with their loads.
    wet : shapely geometry, optional
        Wet hollows and the like; a step that touches them is wet.

    Returns
    -------
    tuple of TrailStep
        The same steps, with ``soil_class`` filled in.
    """
    all_wet = area.settings.ground.condition == "wet"
    passes = area.settings.soil.class_passes
    return tuple(
        replace(
            step,
            soil_class=soil_class(
                step.loads,
                all_wet
                or (wet is not None and step.line is not None and step.line.intersects(wet)),
                passes,
            ),
        )
        for step in steps
    )


def summarise(
    area: Area,
    landing: Landing | None,
    trails: Sequence[Trail],
    turning_places: Sequence[TurningPlace],
    pulls: Sequence[Pull],
    steps: Sequence[TrailStep],
    benches: Mapping[str, Bench] | None = None,
    more_landings: Sequence[Landing] = (),
) -> SoilSummary:
    """Add up the disturbed ground.

    Parameters
    ----------
    area : Area
        The stand and the settings.
    landing : Landing or None
        Counted in full, also where it lies outside the stand.
    trails : sequence of Trail
        Counted in full at their width, also outside the stand; ground a trail shares
        with the landing is the landing's, ground a spur shares with a main is the main's.
    turning_places : sequence of TurningPlace
        What is left of them outside landing and trails counts.
    pulls : sequence of Pull
        Their corridors, laid over each other, outside all of the above.
    steps : sequence of TrailStep
        Trail steps with their soil class, see `classed`; empty gives no classes.
    benches : mapping of str to Bench, optional
        New benches, by trail; bank and fill outside all trails and the landing count.
    more_landings : sequence of Landing, optional
        L2, L3 ... where there are several; they count as the first does.

    Returns
    -------
    SoilSummary
        Areas on the map. ``share_pct`` holds trails, benches and turning places without
        the landing; ``class_m2`` the ground by class, landing and corridors included.
    """
    yard: BaseGeometry = Polygon() if landing is None else landing.shape
    if more_landings:
        yard = unary_union([yard, *(one.shape for one in more_landings)])
    main = _laid(trail for trail in trails if trail.kind == "main").difference(yard)
    spur = _laid(trail for trail in trails if trail.kind == "spur").difference(yard)
    spur = spur.difference(main)
    dug = unary_union([bench.shape for bench in (benches or {}).values()])
    banks = dug.difference(unary_union([yard, main, spur]))
    driven = unary_union([yard, main, spur, banks])
    turning = unary_union([place.shape for place in turning_places]).difference(driven)
    driven = unary_union([driven, turning])
    width_m = corridor_width_m(area.settings)
    corridor = unary_union([strip(pull.line, width_m) for pull in pulls]).difference(driven)
    stand_m2 = float(area.stand.area)
    bare_m2 = float(main.area + spur.area + banks.area + turning.area)
    return SoilSummary(
        stand_m2=stand_m2,
        main_m2=float(main.area),
        spur_m2=float(spur.area),
        turning_m2=float(turning.area),
        landing_m2=float(yard.area),
        corridor_m2=float(corridor.area),
        share_pct=100 * bare_m2 / stand_m2,
        share_with_landing_pct=100 * (bare_m2 + float(yard.area)) / stand_m2,
        class_m2=_by_class(yard, trails, turning_places, steps, corridor, dug) if steps else {},
        bench_m2=float(banks.area),
    )


def _laid(trails: Iterable[Trail]) -> BaseGeometry:
    return unary_union([strip(trail.line, trail.width_m) for trail in trails])


def _by_class(
    yard: BaseGeometry,
    trails: Sequence[Trail],
    turning_places: Sequence[TurningPlace],
    steps: Sequence[TrailStep],
    corridor: BaseGeometry,
    dug: BaseGeometry,
) -> dict[int, float]:
    """Add up ground by class; where two meet, the worse one counts."""
    trail_of = {trail.trail_id: trail for trail in trails}
    pieces: dict[int, list[BaseGeometry]] = {1: [], 2: [], 3: []}
    for step in steps:
        trail = trail_of[step.trail_id]
        line = substring(trail.line, step.from_m, step.to_m)
        if isinstance(line, LineString):  # a step of no length covers no ground
            pieces[step.soil_class].append(strip(line, trail.width_m).difference(yard))
    for place in turning_places:
        beside = [
            step.soil_class
            for step in steps
            if step.trail_id == place.trail_id and step.from_m <= place.at_m <= step.to_m
        ]
        worst = max([TURNING_CLASS, *beside])
        pieces[worst].append(place.shape.difference(yard))
    pieces[LANDING_CLASS].append(yard)
    pieces[BENCH_CLASS].append(dug.difference(yard))
    pieces[CORRIDOR_CLASS].append(corridor)
    counted: BaseGeometry = Polygon()
    class_m2 = {}
    for number in sorted(pieces, reverse=True):
        ground = unary_union(pieces[number]).difference(counted)
        counted = unary_union([counted, ground])
        class_m2[number] = float(ground.area)
    return dict(sorted(class_m2.items()))


def share_finding(area: Area, summary: SoilSummary) -> Finding:
    """Hold the disturbed share against the limit and the aim.

    Parameters
    ----------
    area : Area
        Its settings carry limit and aim.
    summary : SoilSummary
        What `summarise` found.

    Returns
    -------
    Finding
        ``stop`` where trails and turning places pass the limit; ``caution`` where they
        pass the aim, or pass the limit together with the landing.
    """
    soil = area.settings.soil
    beside = (
        "Bench cut and fill are in it, winching corridors are not."
        if summary.bench_m2
        else "Winching corridors are not in it."
    )
    share, whole = summary.share_pct, summary.share_with_landing_pct
    aim, most = f"the {soil.aim_pct:g} % aimed at", f"the limit of {soil.limit_pct:g} % you set"
    level: Level = "ok"
    value, limit, verdict = share, soil.aim_pct, f"within {aim}"
    if share > soil.limit_pct:
        level, limit = "stop", soil.limit_pct
        verdict = f"over {most}; shorten or leave out spurs"
    elif whole > soil.limit_pct:
        level, value, limit = "caution", whole, soil.limit_pct
        verdict = f"with the landing over {most}"
    elif share > soil.aim_pct:
        level, verdict = "caution", f"over {aim}, within {most}"
    return Finding(
        code="soil_share",
        level=level,
        message=(
            f"Trails and turning places take {share:.1f} % of the stand, with the landing "
            f"{whole:.1f} %: {verdict}. {beside}"
        ),
        value=value,
        limit=limit,
        unit="%",
        source=str(SOIL_LIMIT),
        confirmed=SOIL_LIMIT.confirmed,
    )
