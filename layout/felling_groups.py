"""Where everything else waits while the trees of one place are felled.

No machine and nobody but the faller stands within two tree lengths of a tree that is
being felled. The winch position itself nearly always does, so the tractor waits at
a station of the trails outside all the circles of the group, and comes to the position
when the group lies on the ground. It waits only where it can be: on a trail that is open
at that step of the order and not closed yet, or on the landing.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from layout import sources
from layout.findings import Finding
from layout.land import TREE_LENGTHS
from layout.records import FellingGroup, Landing, Trail, WinchPosition
from layout.site import Area
from layout.terrain import Stations
from layout.trail_states import trail_states
from layout.tree_sizes import distance_heights_m
from layout.winch_rules import PARK_PCT, PARK_STOP_PCT
from layout.work_records import WorkStep

Floats = NDArray[np.float64]

MOST_NAMED = 12
Chain = tuple[tuple[str, float], ...]  # trail after trail to the landing: where the way is on it


@dataclass(frozen=True, slots=True, eq=False)
class _Spots:
    """Places a tractor could wait at; arrays have shape (k,)."""

    trail: tuple[str, ...]
    at: Floats
    x: Floats
    y: Floats
    tilt: Floats  # the steeper of along and across, percent


@dataclass(frozen=True, slots=True)
class _Felled:
    """Trees felled at one place while the same trails are open."""

    position_id: str  # empty where they are winched to no position
    trees: tuple[str, ...]
    opened: frozenset[str]


def felling_groups(
    area: Area,
    landing: Landing,
    trails: Sequence[Trail],
    stations: Mapping[str, Stations],
    positions: Sequence[WinchPosition],
    steps: Sequence[WorkStep],
    more_landings: Sequence[Landing] = (),
) -> tuple[FellingGroup, ...]:
    """Give the trees of each felling step a place for the tractor to wait.

    Parameters
    ----------
    area : Area
        The job; its progress says which trails are open already.
    landing : Landing
        Another place to wait, where it is far enough.
    trails : sequence of Trail
    stations : mapping of str to Stations
        Of every trail, at 1 m.
    positions : sequence of WinchPosition
    steps : sequence of WorkStep
        The order of work.
    more_landings : sequence of Landing, optional
        Further landings, nearer to other trees: nobody is on them either where a tree
        reaches.

    Returns
    -------
    tuple of FellingGroup
        In the order of the work: the trees one position has felled while the same trails
        are open, so that each tree a step of kind ``fell`` names is in one group. The place
        lies on the landing, or on a trail that is open at that step as all are between it and
        the landing. It is the nearest along the trails (in a straight line for trees that no
        position is given) that is far enough from every tree of the group, on at most 10 %
        any way, or where there is none such on at most 15 %. It is not on the landing where
        a tree of the group reaches any part of that: then nobody is on the landing.
    """
    row = {name: i for i, name in enumerate(area.trees.tree_id)}
    length = TREE_LENGTHS * distance_heights_m(area)
    own = np.asarray(area.trees.position_error_m, dtype=float)
    error = np.where(np.isfinite(own), own, area.settings.stand.position_error_m)
    spots = _spots(landing, trails, stations)
    spot_names = np.array(spots.trail)
    chains = {trail.trail_id: _chain(trail.trail_id, trails) for trail in trails}
    on_landing = np.asarray(shapely.intersects_xy(landing.shape, spots.x, spots.y), dtype=bool)
    by_id = {position.position_id: position for position in positions}
    others = np.array([(p.x, p.y) for p in positions]).reshape(-1, 2)
    out = []
    for felled in _together(steps, trail_states(area, trails).opened):
        rows = np.array([row[name] for name in felled.trees], dtype=np.int64)
        x, y, reach = area.trees.x[rows], area.trees.y[rows], (length + error)[rows]
        stumps = shapely.points(x, y)
        clear_landing = any(
            bool((np.asarray(shapely.distance(one.shape, stumps)) < reach).any())
            for one in (landing, *more_landings)
        )
        driven = {
            name
            for name, chain in chains.items()
            if felled.opened.issuperset((name, *(host for host, _ in chain)))
        }
        clear = np.isin(spot_names, ["", *driven]) & ~(on_landing & clear_landing)
        clear &= _outside(spots.x, spots.y, x, y, reach)
        position = by_id.get(felled.position_id)
        travel = None if position is None else _travel(position, spots, chains)
        away = np.hypot(spots.x - x.mean(), spots.y - y.mean()) if travel is None else travel
        best = _nearest(spots, clear, away)
        busy = ~_outside(others[:, 0], others[:, 1], x, y, reach)
        out.append(
            FellingGroup(
                position_id=felled.position_id,
                tree_ids=felled.trees,
                reach_m=float(length[rows].max()),
                trail_id=None if best is None else spots.trail[best],
                at_m=None if best is None else float(spots.at[best]),
                x=None if best is None else float(spots.x[best]),
                y=None if best is None else float(spots.y[best]),
                travel_m=None if best is None or travel is None else float(travel[best]),
                clear_positions=tuple(
                    p.position_id
                    for p, near in zip(positions, busy, strict=True)
                    if near and p.position_id != felled.position_id
                ),
                clear_landing=clear_landing,
            )
        )
    return tuple(out)


def waiting_findings(groups: Sequence[FellingGroup]) -> tuple[Finding, ...]:
    """Say for which trees no place was found for the tractor to wait.

    Parameters
    ----------
    groups : sequence of FellingGroup

    Returns
    -------
    tuple of Finding
        One, or none.
    """
    lost = [group for group in groups if group.trail_id is None]
    if not lost:
        return ()
    names = list(dict.fromkeys(group.position_id or group.tree_ids[0] for group in lost))
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    named = next((group.position_id for group in lost if group.position_id), "")
    return (
        Finding(
            "no_waiting_place",
            "caution",
            "No place on the landing or on a trail open by then lies two tree lengths from the "
            f"trees of {', '.join(names[:MOST_NAMED])}{more}: drive the tractor right off before "
            "they are felled.",
            "winch_positions" if named else "trees",
            named or lost[0].tree_ids[0],
            value=float(len(names)),
            source=str(sources.FELLING_DISTANCE),
        ),
    )


def opened_at(
    steps: Sequence[WorkStep], opened: frozenset[str]
) -> Iterator[tuple[WorkStep, frozenset[str]]]:
    """Give each step that is to be done with the trails that are open when it is.

    Parameters
    ----------
    steps : sequence of WorkStep
        The order of work.
    opened : frozenset of str
        Trails that may be driven before any of it.

    Yields
    ------
    step : WorkStep
    opened : frozenset of str
        Opened by an earlier step or before, and not closed since.
    """
    for step in steps:
        if step.done:
            continue
        yield step, opened
        if step.kind == "open" and step.trail_id:
            opened |= {step.trail_id}
        elif step.kind == "close":
            opened -= {step.trail_id}


def _together(steps: Sequence[WorkStep], opened: frozenset[str]) -> list[_Felled]:
    """Gather the trees felled at one place while the same trails are open."""
    trees: dict[tuple[str, str, frozenset[str]], dict[str, None]] = {}
    for step, driven in opened_at(steps, opened):
        if step.kind == "fell" and step.tree_ids:
            key = (step.position_id, "" if step.position_id else step.trail_id, driven)
            trees.setdefault(key, {}).update(dict.fromkeys(step.tree_ids))
    return [_Felled(name, tuple(names), driven) for (name, _, driven), names in trees.items()]


def _spots(landing: Landing, trails: Sequence[Trail], stations: Mapping[str, Stations]) -> _Spots:
    """List the stations of all trails, and the middle of the landing."""
    names, at, x, y, tilt = [""], [np.zeros(1)], [[landing.x]], [[landing.y]], [[0.0]]
    for trail in trails:
        table = stations[trail.trail_id]
        names += [trail.trail_id] * table.at_m.size
        at.append(table.at_m)
        x.append(table.x.tolist())
        y.append(table.y.tolist())
        worst = np.maximum(np.abs(table.grade_pct), np.abs(table.cross_pct))
        tilt.append(np.nan_to_num(worst, nan=np.inf).tolist())
    return _Spots(tuple(names), *(np.concatenate(part) for part in (at, x, y, tilt)))


def _outside(px: Floats, py: Floats, x: Floats, y: Floats, reach: Floats) -> NDArray[np.bool_]:
    """Tell which points lie outside the circles of all trees."""
    away = np.hypot(px[:, None] - x, py[:, None] - y)
    return np.asarray((away >= reach).all(axis=1))


def _nearest(spots: _Spots, clear: NDArray[np.bool_], travel: Floats) -> int | None:
    """Take the nearest clear place that is level enough."""
    for most in (PARK_PCT, PARK_STOP_PCT):
        rows = np.flatnonzero(clear & (spots.tilt <= most))
        if rows.size:
            return int(rows[np.argmin(travel[rows])])
    return None


def _chain(trail_id: str, trails: Sequence[Trail]) -> Chain:
    """Give the trails a way out follows beyond its own, each with the station it enters at."""
    by_id = {trail.trail_id: trail for trail in trails}
    out: list[tuple[str, float]] = []
    here = by_id[trail_id]
    while here.joins_id in by_id:
        out.append((here.joins_id, here.joins_at_m or 0.0))
        here = by_id[here.joins_id]
    return tuple(out)


def _travel(position: WinchPosition, spots: _Spots, chains: Mapping[str, Chain]) -> Floats:
    """Give the distance along the trails from a position to every place, metres."""
    if position.trail_id not in chains:
        mine: Chain = ()
    else:
        mine = ((position.trail_id, position.at_m), *chains[position.trail_id])
    total = np.cumsum([0.0, *(at for _, at in mine)])  # driven before each trail of the way
    out = np.empty(spots.at.size)
    names = np.array(spots.trail)
    for name in dict.fromkeys(spots.trail):
        rows = names == name
        there = ((name, spots.at[rows]), *chains[name]) if name else ()
        driven = np.zeros(int(rows.sum()))
        for trail_id, at in there:
            k = next((n for n, (own, _) in enumerate(mine) if own == trail_id), None)
            if k is not None:
                driven = driven + total[k] + np.abs(mine[k][1] - at)
                break
            driven = driven + at
        else:
            driven = driven + total[-1]  # no trail in common: by way of the landing
        out[rows] = driven
    return out
