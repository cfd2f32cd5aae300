"""The chosen network as trails: names, junctions, steps."""

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString

from layout.benching import Bench
from layout.geometry import coordinates, cut
from layout.naming import names_for_lines
from layout.network import Branch, distance_out_m
from layout.records import Trail, TrailStep
from layout.site import Earlier
from layout.terrain import Stations

STEP_M = 10.0
LEVEL_PCT = 0.5  # under this a step counts as level


def name_trails(
    branches: tuple[Branch, ...],
    mains: tuple[Trail, ...],
    *,
    width_spur_m: float,
    earlier: Earlier | None = None,
) -> tuple[Trail, ...]:
    """Give every branch its name: mains as they are, spurs S1, S2 … from the landing out.

    Names go on after the highest there is; a spur that lies where one of the
    earlier plan lay keeps that one's name.

    Parameters
    ----------
    branches : tuple of Branch
        The chosen network; the first ones are the main trails and those that
        are fixed.
    mains : tuple of Trail
        These trails, in the same order.
    width_spur_m : float
        Width of a spur.
    earlier : Earlier or None, optional
        The earlier plan, where names are to last.

    Returns
    -------
    tuple of Trail
        In the order of ``branches``.
    """
    spurs = [n for n, b in enumerate(branches) if not b.standing]
    everything = list(branches)
    order = sorted(spurs, key=lambda n: (distance_out_m(everything, n), n))
    given = names_for_lines(
        [branches[n].shape for n in order], (t.trail_id for t in mains), earlier
    )
    name_of = dict(zip(order, given, strict=True))
    names = [mains[n].trail_id if b.standing else name_of[n] for n, b in enumerate(branches)]
    out: list[Trail] = []
    for n, branch in enumerate(branches):  # children come after their parents
        if branch.standing:
            out.append(mains[n])
            continue
        out.append(
            Trail(
                trail_id=names[n],
                kind="spur",
                landing_id=out[branch.parent].landing_id,
                line=LineString(branch.line),
                width_m=width_spur_m,
                source="routed",
                joins_id=names[branch.parent],
                joins_at_m=branch.mouth_m,
            )
        )
    return tuple(out)


def steps_of(
    trails: tuple[Trail, ...],
    stations: dict[str, Stations],
    benches: Mapping[str, Bench],
) -> tuple[TrailStep, ...]:
    """Cut every trail into steps of 10 m at most, with the worst of what each meets.

    The grade of a step is the steepest of its stations, with its sign; the
    cross slope the steepest; both NaN where none of its stations is known. The bench
    is the widest, with what is cut and filled for it.
    """
    out = []
    for trail in trails:
        st = stations[trail.trail_id]
        length = trail.line.length
        count = max(1, math.ceil(length / STEP_M - 1e-9))
        edges = np.linspace(0.0, length, count + 1)
        for lo, hi in itertools.pairwise(edges):
            inside = (st.at_m >= lo - 1e-9) & (st.at_m <= hi + 1e-9)
            bench = benches.get(trail.trail_id)
            cut_m3, fill_m3 = (0.0, 0.0) if bench is None else bench.volume_m3(lo, hi)
            out.append(
                TrailStep(
                    trail_id=trail.trail_id,
                    from_m=float(lo),
                    to_m=float(hi),
                    grade_pct=_steepest(st.grade_pct[inside]),
                    cross_pct=_steepest(st.cross_pct[inside]),
                    line=LineString(cut(coordinates(trail.line), float(lo), float(hi))),
                    cut_m3=cut_m3,
                    fill_m3=fill_m3,
                    bench_width_m=0.0 if bench is None else bench.width_m(lo, hi),
                )
            )
    return tuple(out)


def _steepest(pct: NDArray[np.float64]) -> float:
    """Give the steepest that is known, with its sign; NaN where none is."""
    known = pct[np.isfinite(pct)]
    return float(known[np.abs(known).argmax()]) if known.size else math.nan


def with_loads(
    steps: Iterable[TrailStep], passing: Mapping[str, Sequence[tuple[float, int]]]
) -> tuple[TrailStep, ...]:
    """Say how many loads pass each step: the most anywhere on it.

    Parameters
    ----------
    steps : iterable of TrailStep
    passing : mapping of str to sequence of (float, int)
        For each trail, (station, loads passing on the stretch that ends there).

    Returns
    -------
    tuple of TrailStep
    """
    return tuple(replace(step, loads=_most(step, passing.get(step.trail_id, ()))) for step in steps)


def _most(step: TrailStep, rows: Sequence[tuple[float, int]]) -> int:
    """Give the most loads on a step: beyond a small landing more pass than before it."""
    most, from_m = 0, 0.0
    for to_m, count in rows:
        if to_m > step.from_m + 1e-6 and from_m < step.to_m - 1e-6:
            most = max(most, count)
        from_m = to_m
    return most
