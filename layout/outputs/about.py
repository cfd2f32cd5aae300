"""What a plan says it was made with: the ``about`` table, and the same in plan.json."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from typing import TYPE_CHECKING

from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

FORMAT = "1"


def facts(plan: Plan) -> dict[str, str]:
    """Gather what the plan was made with.

    Parameters
    ----------
    plan : Plan
        The plan; what its own ``about`` says comes first.

    Returns
    -------
    dict of str to str
        Sorted by key.
    """
    choice = plan.choice
    rules = {strip.rule: strip.confirmed for strip in plan.strips}
    said = {
        "format": FORMAT,
        "version": _version(),
        "area": plan.area.settings.area.name,
        "crs": plan.area.crs.to_string(),
        "objective_m2": f"{choice.objective_m2:.1f}",
        "bound_m2": f"{choice.bound_m2:.1f}",
        "gap_pct": f"{choice.gap_pct:.3f}",
        "rounds": str(choice.rounds),
        "stopped_by": choice.stopped_by,
        "seed": str(choice.seed),
        "water_rules": "; ".join(
            rule if confirmed else f"{rule} ({say('unverified_rule')})"
            for rule, confirmed in sorted(rules.items())
        ),
        "azimuths": say("azimuths"),
        "grades": say("grades"),
        "line_direction": say("line_direction"),
        "caution": f"{say('not_walked')} {say('not_permission')}",
    }
    return dict(sorted((said | plan.about).items()))


def rule_words(plan: Plan) -> tuple[str, ...]:
    """Give what every sheet must say of the water rule; empty when all is well."""
    said = []
    if not plan.area.settings.water.rules:
        said.append(say("no_rule"))
    if any(not strip.confirmed for strip in plan.strips):
        said.append(say("unverified_rule"))
    return tuple(said)


def _version() -> str:
    """Give the installed version; a plain checkout has none."""
    try:
        return version("skidway")
    except PackageNotFoundError:
        return "not installed"
