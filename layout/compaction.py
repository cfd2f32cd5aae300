"""How far loads press the ground of a layout together, and what driving few trails saves.

The curve and its two rates are settings, see `layout.soil.compaction_share`. It speaks of
the ground under the wheels, not of how deep it goes or how long it lasts: trials saw no
recovery in seven years.
"""

from collections.abc import Sequence

from shapely.geometry.base import BaseGeometry

from layout.erosion_records import Concentrated, TrailCompaction
from layout.records import Trail, TrailStep
from layout.settings import AreaSettings
from layout.soil import compaction_share

SLOPING_PCT = 10.0  # along or across; ours, on the careful side: trials do not part them alike
DONE_SHARE = 0.95  # where the trials stopped seeing a change, by our curve
TIMES_THE_TRAIL = 2


def rate_of(step: TrailStep, settings: AreaSettings, wet: BaseGeometry) -> float:
    """Give the rate k of one step: that of flat ground, or of sloping and wet.

    Parameters
    ----------
    step : TrailStep
    settings : AreaSettings
    wet : geometry
        Ground known to be wet; may be empty.

    Returns
    -------
    float
    """
    rates = settings.soil.compaction
    # a slope that is not known (NaN) counts as steep: the higher rate, the safe side
    sloping = not (abs(step.grade_pct) < SLOPING_PCT and step.cross_pct < SLOPING_PCT)
    is_wet = settings.ground.condition == "wet" or (
        step.line is not None and bool(step.line.intersects(wet))
    )
    return rates.sloping_or_wet if sloping or is_wet else rates.flat


def compaction_of(
    settings: AreaSettings, trails: Sequence[Trail], steps: Sequence[TrailStep], wet: BaseGeometry
) -> tuple[tuple[TrailCompaction, ...], TrailCompaction]:
    """Work out how far the planned loads press every trail together.

    Parameters
    ----------
    settings : AreaSettings
        Its rates.
    trails : sequence of Trail
    steps : sequence of TrailStep
        With their loads.
    wet : geometry
        Ground known to be wet.

    Returns
    -------
    tuple of TrailCompaction
        One a trail, in the order given; means by area.
    TrailCompaction
        All of them.
    """
    rows = tuple(
        _summed(
            trail.trail_id,
            [(s, trail.width_m) for s in steps if s.trail_id == trail.trail_id],
            settings,
            wet,
        )
        for trail in trails
    )
    width = {trail.trail_id: trail.width_m for trail in trails}
    together = [(s, width[s.trail_id]) for s in steps if s.trail_id in width]
    return rows, _summed("", together, settings, wet)


def _summed(
    name: str,
    steps: Sequence[tuple[TrailStep, float]],
    settings: AreaSettings,
    wet: BaseGeometry,
) -> TrailCompaction:
    """Sum over steps."""
    area = loads = pressed = done = 0.0
    for step, width_m in steps:
        size = (step.to_m - step.from_m) * width_m
        share = float(compaction_share(step.loads, rate_of(step, settings, wet)))
        area += size
        loads += size * step.loads
        pressed += size * share
        done += size if share >= DONE_SHARE else 0.0
    return TrailCompaction(
        trail_id=name,
        loads_mean=loads / area if area else 0.0,
        loads_most=max((step.loads for step, _ in steps), default=0),
        share=pressed / area if area else 0.0,
        area_m2=area,
        done_m2=done,
    )


def concentrated(
    settings: AreaSettings,
    trails: Sequence[Trail],
    steps: Sequence[TrailStep],
    wet: BaseGeometry,
    stand_m2: float,
) -> Concentrated:
    """Compare the planned loads with the same loads on twice the trail.

    Parameters
    ----------
    settings, trails, steps, wet
        As in `compaction_of`.
    stand_m2 : float
        Area of the stand, square metres.

    Returns
    -------
    Concentrated
        Spread out, each step has half its loads and twice its ground. Ground pressed to 95 %
        may come out less than planned where loads are few; ground times share never does.
    """
    width = {trail.trail_id: trail.width_m for trail in trails}
    planned = spread = planned_whole = spread_whole = 0.0
    for step in steps:
        size = (step.to_m - step.from_m) * width.get(step.trail_id, 0.0)
        rate = rate_of(step, settings, wet)
        now = float(compaction_share(step.loads, rate))
        then = float(compaction_share(step.loads / TIMES_THE_TRAIL, rate))
        planned += size if now >= DONE_SHARE else 0.0
        spread += TIMES_THE_TRAIL * size if then >= DONE_SHARE else 0.0
        planned_whole += size * now
        spread_whole += TIMES_THE_TRAIL * size * then
    return Concentrated(planned, spread, planned_whole, spread_whole, stand_m2)
