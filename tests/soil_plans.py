"""Made-up plans whose soil differs: easily washed, hardly washed, not known, never driven."""

from dataclasses import replace

from report_plans import resettled

from layout.erosion import with_erosion
from layout.plan import Plan


def soil_plans(plan: Plan) -> tuple[Plan, ...]:
    """Give plans that between them need every word about washing and compaction."""
    plain = with_erosion(plan)
    erosion = plain.erosion
    assert erosion is not None
    busy = replace(plan, steps=tuple(replace(step, loads=12) for step in plan.steps))
    some = replace(plan, steps=tuple(replace(step, loads=8) for step in plan.steps))
    idle = replace(plan, steps=tuple(replace(step, loads=0) for step in plan.steps))
    return (
        plain,
        with_erosion(resettled(plan, soil={"k_factor": 0.7, "cover": {"bare": 1.0}})),
        with_erosion(resettled(plan, area={"units": "metric"}, soil={"k_factor": 0.02})),
        with_erosion(idle),
        with_erosion(busy),
        with_erosion(some),
        replace(
            plain,
            erosion=replace(erosion, whole=None, trails=(), stretches=(), unjudged=("M1", "S2")),
        ),
    )
