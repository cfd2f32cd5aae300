"""Spurs the checker stops are given up, and the lattice is closed where they broke a limit."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from layout import sprouts
from layout.findings import Finding
from layout.grow import Grown
from layout.network import Branch
from layout.records import Trail
from layout.terrain import Stations

MENDABLE = frozenset(
    {
        "grade_favourable",
        "grade_adverse",
        "cross_slope",
        "bench_cut_high",
        "fall_line",
        "turn_radius",
        "strip_entered",
        "crossing_angle",
        "crossing_approach",
        "crossing_bank",
        "crossing_wide",
    }
)


def mended(
    grower: sprouts.Grower,
    trails: Sequence[Trail],
    stations: Mapping[str, Stations],
    findings: Sequence[Finding],
    grown: Grown,
    closed: NDArray[np.uint8],
) -> list[Branch]:
    """Drop the spurs the checker stops, and close the lattice under the place.

    Gives the branches to grow on from; as many as there were when nothing is
    left to mend.
    """
    number = {t.trail_id: n for n, t in enumerate(trails) if _ours(t)}
    dropped: set[int] = set()
    for finding in findings:
        n = number.get(finding.subject_id)
        if finding.level != "stop" or finding.code not in MENDABLE or n is None:
            continue
        dropped.add(n)
        if finding.from_m is not None and finding.to_m is not None:
            st = stations[finding.subject_id]
            hit = (st.at_m >= finding.from_m - 1) & (st.at_m <= finding.to_m + 1)
            sprouts.close_states(grower.ground, closed, st.x[hit], st.y[hit], st.heading_rad[hit])
    kept: dict[int, int] = {}
    out: list[Branch] = []
    for n, branch in enumerate(grown.branches):
        if n in dropped or (branch.parent >= 0 and branch.parent not in kept):
            continue
        kept[n] = len(out)
        out.append(replace(branch, parent=kept.get(branch.parent, -1)))
    return out


def _ours(trail: Trail) -> bool:
    """Tell whether a trail may be given up and laid out anew: a spur of this plan."""
    return trail.source == "routed" and trail.kind == "spur"
