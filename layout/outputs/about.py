"""What a plan says it was made with: the ``about`` table, and the same in plan.json."""

from __future__ import annotations

import contextlib
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

from layout.errors import InputError
from layout.outputs.fingerprint import of_plan, of_settings
from layout.outputs.words import say
from layout.rule_files import NO_RULE_CHOSEN, load_rule

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
        "rule_sources": _rule_sources(plan),
        "settings_sha256": of_settings(plan),
        "plan_sha256": of_plan(plan),
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
    """Name the rules whose source was not read in full: of strips, and chosen ones without."""
    strips = [strip for strip in plan.strips if not strip.confirmed]
    doubtful = {name for strip in strips for name in strip.rule.split(" + ")}
    return doubtful | {name for name, read in _silent(plan).items() if not read}


def _silent(plan: Plan) -> dict[str, bool]:
    """Tell of each chosen rule that made no strip whether the source of every row was read."""
    made = {name for strip in plan.strips for name in strip.rule.split(" + ")}
    silent = {}
    for chosen in plan.area.settings.water.rules:
        name, confirmed = Path(chosen).name.removesuffix(".toml"), False
        if name in made:
            continue
        # A file that is gone since the plan was made counts as not read.
        with contextlib.suppress(InputError):
            rule = load_rule(chosen, plan.area.folder)
            name, confirmed = rule.name, rule.confirmed
        if name not in made:
            silent[name] = confirmed
    return silent


def _rules_in_full(plan: Plan) -> str:
    """List the rules that made the strips, or were chosen, with what is open about each."""
    made = {strip.rule: True for strip in plan.strips}
    made |= {strip.rule: False for strip in plan.strips if not strip.confirmed}
    parts = [
        rule if confirmed else f"{rule} ({say('unverified_rule')})"
        for rule, confirmed in sorted(made.items())
    ]
    if not plan.area.settings.water.rules:
        return "; ".join([*parts, say("no_rule")])
    for name, read in _silent(plan).items():
        said = say("rule_made_no_strip", rule=name)
        parts.append(said if read else f"{said} ({say('unverified_rule')})")
    return "; ".join(parts)


def _rule_sources(plan: Plan) -> str:
    """List the sources of the rules in force, each once, in the order of their rows."""
    sources: dict[str, None] = {}
    for chosen in plan.area.settings.water.rules or [NO_RULE_CHOSEN]:
        with contextlib.suppress(InputError):  # a file that is gone since the plan was made
            sources |= dict.fromkeys(row.source for row in load_rule(chosen, plan.area.folder).rows)
    return "; ".join(sources)


def _version() -> str:
    """Give the installed version; a plain checkout has none."""
    try:
        return version("skidway")
    except PackageNotFoundError:
        return "not installed"
