"""What was not looked at, said plainly; and limits the day has lowered."""

import numpy as np

from layout import sources
from layout.checks.case import Case
from layout.findings import Finding

LIMIT_WORDS = {
    "favourable": ("favourable_pct", "%", "loaded downhill"),
    "favourable_short": ("favourable_short_pct", "%", "loaded downhill on a short pitch"),
    "adverse": ("adverse_pct", "%", "loaded uphill"),
    "adverse_short": ("adverse_short_pct", "%", "loaded uphill on a short pitch"),
    "cross_slope": ("cross_pct", "%", "slope across the trail"),
    "pull_angle": ("pull_angle_deg", "deg", "pull off the tractor's axis"),
}


def check(case: Case) -> list[Finding]:
    """Say what no file tells.

    Parameters
    ----------
    case : Case
        The layout.

    Returns
    -------
    list of Finding
        Level ``unknown``, each saying who must look; cautions for lowered limits and
        for a list without a marked tree.
    """
    return _lowered(case) + _trees(case) + _ground(case) + _hazards(case) + _line(case)


def _unknown(code: str, message: str, layer: str = "") -> Finding:
    return Finding(
        code=code,
        level="unknown",
        message=message,
        subject_layer=layer,
        source=sources.COMMON_PRACTICE,
    )


def _lowered(case: Case) -> list[Finding]:
    """Name the limits that the day's ground holds below what the user set."""
    if not case.limits.lowered:
        return []
    told: list[str] = []
    for key in case.limits.lowered:
        name, unit, words = LIMIT_WORDS[key]
        value = float(getattr(case.limits, name))
        told.append(f"{words} {value:.0f} {'degrees' if unit == 'deg' else unit}")
    return [
        Finding(
            code="limits_lowered",
            level="caution",
            message=(
                f"Ground is {case.area.settings.ground.condition}, so these limits stand lower "
                f"than you set them: {'; '.join(told)}"
            ),
            subject_layer="settings",
            source="ceilings of the day, ours",
        )
    ]


def _trees(case: Case) -> list[Finding]:
    """Say what is not known of the trees."""
    trees = case.area.trees
    marked = trees.marked
    found: list[Finding] = []
    if not marked.any() and not case.positions:
        found.append(
            Finding(
                code="no_trees_marked",
                level="caution",
                message=(
                    "No tree of the list is marked to cut, so there is nothing to winch and no "
                    "spur is laid out; mark trees, then plan again"
                ),
                subject_layer="trees",
                value=0.0,
                source=sources.COMMON_PRACTICE,
            )
        )
    if not len(trees):
        return found
    blind = int((marked & ~np.isfinite(trees.lean_deg)).sum())
    if blind:
        found.append(
            _unknown(
                "lean_not_checked",
                f"Lean not known of {blind} of {int(marked.sum())} marked trees; the faller "
                "decides at the stump",
                "trees",
            )
        )
    found.append(
        _unknown(
            "tops_not_checked",
            "Dead tops, hung and split trees not looked for beyond the hazards in the tree list; "
            "look up before every tree",
            "trees",
        )
    )
    return found


def _ground(case: Case) -> list[Finding]:
    """Say what the elevation grid cannot show."""
    if not (case.trails or case.positions):
        return []
    return [
        _unknown(
            "ground_not_checked",
            "Rocks, holes, soft spots and old fence wire do not show in the elevation grid; "
            "walk and flag every trail before the first load",
            "trails",
        )
    ]


def _hazards(case: Case) -> list[Finding]:
    """Say that wires and buried lines were not looked at."""
    found: list[Finding] = []
    if not (case.area.hazards or case.area.settings.access.hazards):
        found.append(
            _unknown(
                "wires_not_checked",
                "Wires, wells, pipes and ledges not checked, no hazards layer was given; "
                "map them or walk the ground",
            )
        )
    found.append(
        _unknown(
            "buried_not_checked",
            "Buried lines not checked; have them located before anything is dug",
        )
    )
    return found


def _line(case: Case) -> list[Finding]:
    """Say what the property line is worth."""
    settings = case.area.settings
    if case.area.property_line is None:
        return [
            _unknown(
                "property_line_assumed",
                "No property line was given: the stand's edge counts as the line; "
                "find the corners on the ground",
            )
        ]
    if settings.property.source in ("tax_map", "walked"):
        kind = "a tax map" if settings.property.source == "tax_map" else "walking it"
        return [
            _unknown(
                "property_line_weak",
                f"The property line comes from {kind} and is no survey; "
                "agree it with the neighbour before felling near it",
            )
        ]
    return []
