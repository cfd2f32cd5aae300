"""The way a load takes to the landing, and the most it may weigh on it.

Every trail is read station by station. A load that starts at a station meets all that lie
between it and the landing, down the trails it joins, so the least of them is kept for each
station and looked up afterwards. Where a grade is not known it is taken to be as bad as the
worst that is known on any trail, and the way says over how many metres.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from layout import benching
from layout.grip import on_the_day
from layout.payload import largest_load
from layout.records import Trail, TrailStep
from layout.runs import edges
from layout.settings import AreaSettings, limits_in_force
from layout.site import Area
from layout.stability import least_front_share_pct, tip_margin_deg
from layout.terrain import Stations
from layout.work_records import PayloadLimit, Way

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

BENCH_CROSS_PCT = 5.0  # a sound bench falls outward this much; ours
STATION_NOISE_M = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class _Read:
    """What each station of a trail allows, arrays of one shape; NaN where it is not known."""

    at_m: Floats
    kg: Floats
    by: NDArray[np.str_]
    margin_deg: Floats
    front_pct: Floats


class Ways:
    """Looks up the way from any place on the trails to the landing.

    Parameters
    ----------
    settings : AreaSettings
        Tractor, winch and the ground of the day.
    trails : sequence of Trail
        The network; every ``joins_id`` is one of them.
    stations : mapping of str to Stations
        Of each trail, by its name.
    on_bench : mapping of str to ndarray of bool, optional
        Which stations of a trail lie on a level bench, by its name: there the cross slope
        of the hill is not the tractor's. See `benched`.
    ends_at : tuple of str and float, optional
        Trail and station of a small landing that loads from beyond it end at: ways of these
        go no farther. It is level; the first station within it is held against the load yet.
        Ways from places nearer to the landing mean nothing then.
    """

    def __init__(
        self,
        settings: AreaSettings,
        trails: Sequence[Trail],
        stations: Mapping[str, Stations],
        on_bench: Mapping[str, Flags] | None = None,
        ends_at: tuple[str, float] | None = None,
    ) -> None:
        self._ends_at = ends_at
        self._landing = _on_landing(settings)
        self._read = _read(settings, {t.trail_id: stations[t.trail_id] for t in trails}, on_bench)
        self._worst = _worst(settings, self._read.values())
        self._ways: dict[str, tuple[Way, ...]] = {}
        by_id = {t.trail_id: t for t in trails}
        for trail in trails:
            self._walk(trail, by_id)

    def way(self, trail_id: str, at_m: float) -> Way:
        """Give the way from a place to the landing.

        Parameters
        ----------
        trail_id : str
            Empty on the landing.
        at_m : float
            Station of the trail, metres; past its end counts as its end.

        Returns
        -------
        Way
            Its limit is the least of all stations passed, the next one farther out included.

        Raises
        ------
        KeyError
            If there is no such trail.
        """
        if not trail_id:
            return self._landing
        stations, ways = self._read[trail_id].at_m, self._ways[trail_id]
        i = min(int(np.searchsorted(stations, at_m - STATION_NOISE_M)), len(ways) - 1)
        way = ways[i]
        at = min(max(at_m, 0.0), ways[-1].at_m)
        return replace(way, at_m=at, travel_m=way.travel_m - way.at_m + at)

    def with_steps(self, steps: Iterable[TrailStep]) -> tuple[TrailStep, ...]:
        """Say for every step what may be dragged over it, and how the tractor stands on it.

        Parameters
        ----------
        steps : iterable of TrailStep
            Of these trails.

        Returns
        -------
        tuple of TrailStep
            In the order given. Each figure is the worst of the step's stations, and None
            where none of them is known: the largest load and what sets it, what is left of
            the side slope kept to with a wheel on a bump, and the least on the front axle,
            going out empty or coming in with that load.
        """
        done = []
        for step in steps:
            trail = self._read[step.trail_id]
            lo = int(np.searchsorted(trail.at_m, step.from_m - STATION_NOISE_M))
            hi = int(np.searchsorted(trail.at_m, step.to_m + STATION_NOISE_M))
            kg = trail.kg[lo:hi]
            worst = int(np.nanargmin(kg)) if np.isfinite(kg).any() else None
            done.append(
                replace(
                    step,
                    payload_kg=None if worst is None else float(kg[worst]),
                    payload_by="" if worst is None else str(trail.by[lo + worst]),
                    tip_margin_deg=_least(trail.margin_deg[lo:hi]),
                    front_share_pct=_least(trail.front_pct[lo:hi]),
                )
            )
        return tuple(done)

    def _walk(self, trail: Trail, by_id: Mapping[str, Trail]) -> None:
        """Work out the ways from a trail's stations, those of the trail it joins first."""
        name = trail.trail_id
        if name in self._ways:
            return
        start = self._landing
        if trail.joins_id:
            self._walk(by_id[trail.joins_id], by_id)
            start = self.way(trail.joins_id, trail.joins_at_m or 0.0)
        read = self._read[name]
        at, kg = read.at_m, read.kg
        unknown = ~np.isfinite(kg)
        worst_kg, worst_by = self._worst
        load, names = np.where(unknown, worst_kg, kg), np.where(unknown, worst_by, read.by)
        short_m = 0.0
        if self._ends_at is not None and name == self._ends_at[0]:
            short_m = self._ends_at[1]
            spared = at < at[max(int(np.searchsorted(at, short_m - STATION_NOISE_M)) - 1, 0)]
            load, unknown = np.where(spared, np.inf, load), unknown & ~spared
        least = np.minimum.accumulate(load)
        # where each least was met first, so nearest to the landing
        first = np.maximum.accumulate(
            np.where(load < np.concatenate([[np.inf], least[:-1]]), np.arange(at.size), 0)
        )
        blank = start.unknown_m + np.cumsum(unknown * np.diff(edges(at)))
        ways = []
        for i, k in enumerate(first.tolist()):
            own = float(least[i]) < start.limit_kg
            ways.append(
                Way(
                    trail_id=name,
                    at_m=float(at[i]),
                    travel_m=start.travel_m + float(at[i]) - short_m,
                    limit_kg=float(least[i]) if own else start.limit_kg,
                    limited_by=cast("PayloadLimit", str(names[k])) if own else start.limited_by,
                    limit_trail_id=name if own else start.limit_trail_id,
                    limit_at_m=float(at[k]) if own else start.limit_at_m,
                    unknown_m=float(blank[i]),
                )
            )
        self._ways[name] = tuple(ways)


def benched(
    area: Area,
    trails: Iterable[Trail],
    stations: Mapping[str, Stations],
    benches: Mapping[str, benching.Bench],
) -> dict[str, Flags]:
    """Say which stations lie on a bench, one that is there or one that is to be dug.

    Parameters
    ----------
    area : Area
        Its old benches count.
    trails : iterable of Trail
    stations : mapping of str to Stations
        Of each trail.
    benches : mapping of str to Bench
        New ones, by trail.

    Returns
    -------
    dict of str to ndarray of bool
        By trail, one for each station.
    """
    flat = {}
    for trail in trails:
        here = benching.on_old_bench(area, trail, stations[trail.trail_id])
        new = benches.get(trail.trail_id)
        flat[trail.trail_id] = here if new is None else here | new.dug
    return flat


def level_cross_pct(cross_pct: Floats, flat: Flags) -> Floats:
    """Give the slope across the tractor, percent: on a bench 5 % at most, whatever the hill."""
    return np.where(flat, np.minimum(cross_pct, BENCH_CROSS_PCT), cross_pct)


def _on_landing(settings: AreaSettings) -> Way:
    """Give the way of what is taken up on the landing itself: none, on level ground."""
    kg, by = largest_load(settings, 0.0)
    return Way("", 0.0, 0.0, float(kg), cast("PayloadLimit", str(by)), "", 0.0)


def _read(
    settings: AreaSettings, stations: Mapping[str, Stations], on_bench: Mapping[str, Flags] | None
) -> dict[str, _Read]:
    """Work out what every station allows, all trails at once."""
    if not stations:
        return {}
    flat = on_bench or {}
    grade = np.concatenate([st.grade_pct for st in stations.values()])
    cross = np.concatenate(
        [
            level_cross_pct(st.cross_pct, flat[name]) if name in flat else st.cross_pct
            for name, st in stations.items()
        ]
    )
    tractor = on_the_day(settings)
    kg, by = largest_load(settings, grade)
    margin = tip_margin_deg(tractor, cross, grade)
    front = least_front_share_pct(tractor, grade, kg)
    read, lo = {}, 0
    for name, st in stations.items():
        part = slice(lo, lo + len(st))
        read[name] = _Read(st.at_m, kg[part], by[part], margin[part], front[part])
        lo += len(st)
    return read


def _worst(settings: AreaSettings, read: Iterable[_Read]) -> tuple[float, str]:
    """Give the least load known anywhere; without one, that of the steepest grades allowed."""
    known = [
        (float(trail.kg[i]), str(trail.by[i]))
        for trail in read
        if np.isfinite(trail.kg).any()
        for i in (int(np.nanargmin(trail.kg)),)
    ]
    if known:
        return min(known)
    limits = limits_in_force(settings)
    kg, by = largest_load(
        settings, np.array([limits.adverse_short_pct, -limits.favourable_short_pct])
    )
    i = int(np.argmin(kg))
    return float(kg[i]), str(by[i])


def _least(values: Floats) -> float | None:
    """Give the least of what is known."""
    return float(np.nanmin(values)) if np.isfinite(values).any() else None
