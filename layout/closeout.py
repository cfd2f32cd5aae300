"""Closing the job: what every trail and the landing need before they are left for good.

Nothing here is a new estimate. Bars are the plan's own, minutes those of the closing steps
in the order of work, and ground is the plan's disturbed ground, each square metre once:

- slash or mulch where a trail is steeper than `COVER_GRADE_PCT`, dug, or leads to a
  crossing, since cover holds soil best there;
- seed on the rest that many loads pass, on turning places and on the landing;
- what few loads pass keeps most of its litter, and is seeded only where soil shows.

How much seed, and of what, depends on place and season: only its ground is given.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring, unary_union

from layout.benching import Bench
from layout.closeout_records import (
    Closeout,
    CloseoutItem,
    ClosingTask,
    CoverReason,
    CoverStretch,
)
from layout.drainage import amounts
from layout.plan_record import Plan
from layout.records import Trail, TrailStep
from layout.soil import strip
from layout.work_records import WorkStep

# Ours: most skid-trail guides take 10 % as the grade up to which a trail that drains does not
# wash much (from memory, unverified). The trails on which cover was measured were steep.
COVER_GRADE_PCT = 10.0
# The approach to a crossing that several guides want stable (50 ft; from memory, unverified).
APPROACH_M = 15.24
LITTER_CLASS = 1  # layout.sources.SOIL_CLASSES: litter there, displaced in places only
LANDING_TASKS: tuple[ClosingTask, ...] = (
    "wood", "smooth", "water", "seed", "gate", "ribbons", "rubbish",
)  # fmt: skip
_SAME_M = 1e-6
_SLIVER_M2 = 1e-3


def closeout_of(plan: Plan) -> Closeout:
    """List what closing takes.

    Parameters
    ----------
    plan : Plan
        Finished: its work worked out, loads and soil classes on its steps. Its crossings
        are all temporary: they come out with the last load.

    Returns
    -------
    Closeout
        A trail for each closing step, in their order, then the landing. Trails nothing is
        driven on have no step and are not listed; those closed already are, as done.

    Raises
    ------
    ValueError
        If the plan's work was not worked out.

    Notes
    -----
    Temporary crossings come out right after use, and water is led round the landing onto
    firm forest floor: layout.sources.CLOSING. What else is on the list is common practice,
    no source.
    """
    if plan.work is None:
        raise ValueError("closing is listed after the order of work")
    shut = [step for step in plan.work.steps if step.kind == "close"]
    last = [step for step in plan.work.steps if step.kind == "landing"]
    trails = {trail.trail_id: trail for trail in plan.trails}
    ground = _Ground(plan, trails)
    items = [
        _trail(plan, trails[step.trail_id], step, ground)
        for step in shut
        if step.trail_id in trails
    ]
    for name in dict.fromkeys(step.landing_id for step in last):
        own = [step for step in last if step.landing_id == name]
        site = plan.landing_of(name)
        beside_m2 = ground.by_landing_m2 if site is plan.landing else 0.0
        items.append(
            CloseoutItem(
                "",
                0.0,
                LANDING_TASKS,
                seed_m2=float(site.shape.area) + beside_m2,
                minutes=sum(step.minutes for step in own),
                done=all(step.done for step in own),
                landing_id=name,
            )
        )
    return Closeout(tuple(items))


def _trail(plan: Plan, trail: Trail, step: WorkStep, ground: "_Ground") -> CloseoutItem:
    """List what closing one trail takes."""
    name, length_m = trail.trail_id, trail.line.length
    drains = sorted((b for b in plan.bars if b.trail_id == name), key=lambda b: -b.at_m)
    bars = [drain for drain in drains if drain.kind == "bar"]
    outlets = [drain for drain in drains if drain.kind != "bar"]
    over = sorted((c for c in plan.crossings if c.trail_id == name), key=lambda c: -c.at_m)
    turning = tuple(
        place.place_id
        for place in plan.turning_places
        if place.trail_id == name and place.kind != "landing"
    )
    steps = [s for s in plan.steps if s.trail_id == name]
    banks = [(crossing.from_m, crossing.to_m) for crossing in over]
    cover = cover_stretches(steps, plan.benches.get(name), banks, length_m)
    used = ground.of(trail, steps, cover, banks)
    tasks: list[ClosingTask] = [
        *(("crossings",) if over else ()),
        "ruts",
        "berms",
        *(("turning",) if turning else ()),
        *(("small_landing",) if ground.small_landing == name else ()),
        *(("bars",) if bars else ()),
        *(("outlets",) if outlets else ()),
        *(("cover",) if cover else ()),
        *(("seed",) if used.seed_m2 + used.litter_m2 > 0 else ()),
        *(("mouth",) if trail.joins_id else ()),
    ]
    return CloseoutItem(
        trail_id=name,
        length_m=length_m,
        tasks=tuple(tasks),
        bars=tuple((bar.bar_id, bar.at_m) for bar in bars),
        bars_m=amounts(bars).closeout_m,
        outlets=tuple((drain.bar_id, drain.at_m) for drain in outlets),
        cover=cover,
        cover_m2=used.cover_m2,
        seed_m2=used.seed_m2,
        litter_m2=used.litter_m2,
        crossings=tuple((crossing.crossing_id, crossing.at_m) for crossing in over),
        turning_ids=turning,
        minutes=step.minutes,
        done=step.done,
    )


def cover_stretches(
    steps: Sequence[TrailStep],
    bench: Bench | None,
    crossings: Sequence[tuple[float, float]],
    length_m: float,
) -> tuple[CoverStretch, ...]:
    """Find where a trail is to be covered with slash or mulch.

    Parameters
    ----------
    steps : sequence of TrailStep
        Of one trail. A grade that is not known counts as steep.
    bench : Bench or None
        New bench of the trail.
    crossings : sequence of tuple of float
        Stations of both banks of its crossings, metres; the approaches are covered on both
        sides, the water between never.
    length_m : float
        Of the trail.

    Returns
    -------
    tuple of CoverStretch
        Outward from the landing, none over another. Where several reasons hold it is the
        first of crossing, bench, grade.
    """
    near = [(max(0.0, a - APPROACH_M), a) for a, _ in crossings]
    near += [(b, min(length_m, b + APPROACH_M)) for _, b in crossings]
    dug = _dug(bench)
    steep = [(s.from_m, s.to_m) for s in steps if not abs(s.grade_pct) <= COVER_GRADE_PCT]
    reasons: list[tuple[CoverReason, list[tuple[float, float]]]] = [
        ("crossing", near), ("bench", dug), ("grade", steep),
    ]  # fmt: skip
    spans_all = [*crossings, *(span for _, spans in reasons for span in spans)]
    edges = sorted({edge for span in spans_all for edge in span})
    out: list[CoverStretch] = []
    for start, end in pairwise(edges):
        middle = 0.5 * (start + end)
        why = next(
            (name for name, spans in reasons if any(a <= middle <= b for a, b in spans)), None
        )
        in_water = any(a < middle < b for a, b in crossings)
        if why is None or in_water or end - start <= _SAME_M:
            continue
        if out and out[-1].why == why and start - out[-1].to_m <= _SAME_M:
            out[-1] = CoverStretch(out[-1].from_m, end, why)
        else:
            out.append(CoverStretch(start, end, why))
    return tuple(out)


def _dug(bench: Bench | None) -> list[tuple[float, float]]:
    """Give the stretches a bench is dug on."""
    if bench is None:
        return []
    edge = bench.edges_m
    return [(float(edge[k]), float(edge[k + 1])) for k in range(len(bench.at_m)) if bench.dug[k]]


@dataclass(frozen=True, slots=True)
class _Used:
    """Ground of one trail, square metres."""

    cover_m2: float
    seed_m2: float
    litter_m2: float


class _Ground:
    """The disturbed ground of a plan, each square metre given to one trail."""

    def __init__(self, plan: Plan, trails: dict[str, Trail]) -> None:
        """Give ground to mains before spurs, and all driven ground before its banks."""
        assert plan.work is not None
        shared: BaseGeometry = plan.yard
        self._driven: dict[str, BaseGeometry] = {}
        for trail in sorted(plan.trails, key=lambda t: t.kind != "main"):
            own = strip(trail.line, trail.width_m)
            self._driven[trail.trail_id] = own.difference(shared)
            shared = unary_union([shared, own])
        self._banks: dict[str, BaseGeometry] = {}
        for name, bench in plan.benches.items():
            self._banks[name] = bench.shape.difference(shared)
            shared = unary_union([shared, bench.shape])
        places = [(place.trail_id, place.shape) for place in plan.turning_places]
        two = plan.work.two_stage
        self.small_landing = ""
        if two is not None and two.chosen and two.shape is not None:
            self.small_landing = two.trail_id
            places.append((two.trail_id, two.shape))
        self._turning: dict[str, float] = dict.fromkeys([*trails, ""], 0.0)
        for name, shape in places:
            self._turning[name if name in trails else ""] += _size(shape.difference(shared))
            shared = unary_union([shared, shape])
        self.by_landing_m2 = self._turning[""]

    def of(
        self,
        trail: Trail,
        steps: Sequence[TrailStep],
        cover: Sequence[CoverStretch],
        crossings: Sequence[tuple[float, float]],
    ) -> _Used:
        """Part a trail's ground by what is laid on it; water it crosses is none."""
        name = trail.trail_id
        driven = self._driven[name].difference(_strips(trail, crossings))
        banks = self._banks.get(name, Polygon())
        laid = _strips(trail, [(c.from_m, c.to_m) for c in cover]).intersection(driven)
        bare = driven.difference(laid)
        many = _strips(trail, [(s.from_m, s.to_m) for s in steps if s.soil_class > LITTER_CLASS])
        some_few = any(s.soil_class <= LITTER_CLASS for s in steps)
        litter = bare.difference(many) if some_few else Polygon()
        return _Used(
            cover_m2=_size(laid) + _size(banks),
            seed_m2=_size(bare.difference(litter)) + self._turning[name],
            litter_m2=_size(litter),
        )


def _size(ground: BaseGeometry) -> float:
    """Give the size of ground; slivers where two shapes meet are none."""
    size_m2 = float(ground.area)
    return size_m2 if size_m2 > _SLIVER_M2 else 0.0


def _strips(trail: Trail, spans: Sequence[tuple[float, float]]) -> BaseGeometry:
    """Give the ground of stretches of a trail; those that meet are one, bends and all."""
    joined: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if joined and start - joined[-1][1] <= _SAME_M:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    lines = [substring(trail.line, start, end) for start, end in joined]
    return unary_union([strip(ln, trail.width_m) for ln in lines if isinstance(ln, LineString)])
