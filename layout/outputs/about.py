"""What a plan says it was made with: the ``about`` table, and the same in plan.json."""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
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
        "water_rules": _rules_in_full(plan),
        "azimuths": say("azimuths"),
        "grades": say("grades"),
        "line_direction": say("line_direction"),
        "caution": f"{say('not_walked')} {say('not_permission')}",
    }
    return dict(sorted((said | plan.about).items()))


def rule_words(plan: Plan) -> tuple[str, ...]:
    """Give what every sheet must warn of in the water rule; empty when all is well."""
    chosen = plan.area.settings.water.rules
    said = [] if chosen else [say("no_rule")]
    if doubtful := _unconfirmed(plan):
        named = " + ".join(sorted(doubtful))
        said.append(say("unverified_named", rules=named) if chosen else say("unverified_rule"))
    return tuple(said)


def rule_names(plan: Plan) -> str:
    """Name the water rules chosen, in the order of area.toml; empty where none is."""
    return " + ".join(
        Path(rule).name.removesuffix(".toml") for rule in plan.area.settings.water.rules
    )


def _unconfirmed(plan: Plan) -> set[str]:
    """Name the rules of strips whose source was not read in full."""
    strips = [strip for strip in plan.strips if not strip.confirmed]
    return {name for strip in strips for name in strip.rule.split(" + ")}


def _rules_in_full(plan: Plan) -> str:
    """List the rules that made the strips, or were chosen, with what is open about each."""
    made = {strip.rule: True for strip in plan.strips}
    made |= {strip.rule: False for strip in plan.strips if not strip.confirmed}
    parts = [
        rule if confirmed else f"{rule} ({say('unverified_rule')})"
        for rule, confirmed in sorted(made.items())
    ]
    chosen = rule_names(plan)
    if not chosen:
        return "; ".join([*parts, say("no_rule")])
    silent = [name for name in chosen.split(" + ") if name not in " + ".join(made).split(" + ")]
    return "; ".join([*parts, *(say("rule_made_no_strip", rule=name) for name in silent)])


def _version() -> str:
    """Give the installed version; a plain checkout has none."""
    try:
        return version("skidway")
    except PackageNotFoundError:
        return "not installed"
