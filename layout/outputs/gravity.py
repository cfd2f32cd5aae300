"""How grave a finding is beside others of its level, and findings gathered by kind."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from layout.findings import Finding

_BEFORE_ALL = {
    "search_cut_short": math.inf,
    "hazard_trees_first": 1e12,
    "hazard_work_inside": 2e12,
    "hazard_trees_standing": 1e12,
}
# Where tractor or load may get out of hand it hurts at once, however little past a limit.
_RUNAWAY = frozenset(
    {"tractor_brakes", "load_may_run", "pull_may_run", "pull_load_above", "pull_anchoring"}
)
_RUNAWAY_FIRST = 1e6
# What may come about is not past a limit yet: the likelier the graver, never graver than 1.
_CHANCES = frozenset({"reach_chance", "grade_chance"})


def gravity(finding: Finding) -> float:
    """Give how far a finding is past its limit, as a share of it; 0 where it has none.

    A value under its limit counts as well: some limits are least values. That
    the clock ended the search comes before all, since it bears on all else; then
    hazard trees, which have no limit to be past, then a tractor or load that may
    get out of hand. A chance counts by its size.

    Examples
    --------
    >>> from layout.findings import Finding
    >>> gravity(Finding("grade_adverse", "caution", "Steep.", value=12.0, limit=10.0))
    0.2
    """
    if finding.code in _BEFORE_ALL:
        return _BEFORE_ALL[finding.code]
    first = _RUNAWAY_FIRST if finding.code in _RUNAWAY else 0.0
    if finding.value is None or not finding.limit:
        return first
    if finding.code in _CHANCES:
        return abs(finding.value) / 100.0
    return first + abs(finding.value - finding.limit) / abs(finding.limit)


def by_kind(findings: Iterable[Finding]) -> dict[str, list[Finding]]:
    """Gather findings by code: the gravest kind first, and in each kind the gravest first.

    Parameters
    ----------
    findings : iterable of Finding
        Of one level.

    Returns
    -------
    dict of str to list of Finding
        By code; equals stay in the order they came in.
    """
    kinds: dict[str, list[Finding]] = {}
    for finding in sorted(findings, key=lambda f: -gravity(f)):
        kinds.setdefault(finding.code, []).append(finding)
    return kinds
