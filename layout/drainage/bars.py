"""Where along a skid trail its drains go.

Drains are laid out from each crest down. Each metre uses up ``1 / spacing`` of
what the tables allow before the next one; the running total starts again at a
drain, and at a crest, where the water turns. Drains may move uphill, never
down, so the tables are kept everywhere.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from layout.drainage.outlets import SKEW_DEG, Outlets, bar_length_m, tilt_alone
from layout.drainage.places import (
    CROSSING_BACK_M,
    CROSSING_FAR_M,
    MOUTH_CLEAR_M,
    Places,
    Stop,
    stops,
)
from layout.drainage.spacing import Tables, dip_form, spacing
from layout.drainage.walks import between, known_runs, part, spacings_used, turns_of_slope
from layout.records import BarReason, Trail, WaterBar
from layout.terrain import Stations

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Look = Callable[[Stations], Outlets]

# Our choices; no source gives a number for these.
OUTLET_SEARCH_M = 8.0  # a bar moves uphill at most this far to find its outlet
MOUTH_SEARCH_M = 12.0  # one at a spur's mouth or the landing, to find room enough below it
TEMPORARY_OVER_PCT = 10.0  # steeper, spaced bars too are wanted at every shutdown

_TOTAL_NOISE = 1e-9
_WHATEVER_THE_GRADE = ("landing", "spur_mouth", "strip", "crossing", "low_point")


@dataclass(frozen=True, slots=True, eq=False)
class _Walk:
    """One trail, made ready for laying out drains."""

    stations: Stations
    used: Floats
    mouths_m: Floats
    outlets: Outlets  # at the stations

    def total(self, at_m: float) -> float:
        return float(np.interp(at_m, self.stations.at_m, self.used))

    def place(self, total: float) -> float:
        return float(np.interp(total, self.used, self.stations.at_m))

    def clear(self, at_m: Floats) -> Flags:
        if self.mouths_m.size == 0:
            return np.ones(at_m.shape, dtype=np.bool_)
        gap = np.abs(at_m[:, None] - self.mouths_m[None, :]).min(axis=1)
        return np.asarray(gap >= MOUTH_CLEAR_M)

    def better_place(self, at_m: float, upper_m: float, *, spaced: bool = True) -> float:
        """Move a drain uphill to where its water can leave, and off the junctions.

        ``upper_m`` bounds the move; where nothing better is found the drain stays. One
        that is not spaced by the tables is not moved for a junction's sake alone.
        """
        at = self.stations.at_m
        toward = math.copysign(1.0, upper_m - at_m)
        ahead = (at - at_m) * toward
        reach = (ahead > 0) & (ahead < abs(upper_m - at_m))
        places = np.concatenate([[at_m], at[reach]])
        nearest = np.concatenate([[int(np.abs(at - at_m).argmin())], np.flatnonzero(reach)])
        order = np.argsort((places - at_m) * toward, kind="stable")
        places, nearest = places[order], nearest[order]
        near = np.abs(places - at_m) <= OUTLET_SEARCH_M
        good, known = self.outlets.good[nearest], self.outlets.known[nearest] & near
        if spaced:
            good &= near
        room = self.outlets.room_m[nearest]
        clear = self.clear(places)
        for wish in (good & clear,) if spaced else (good & clear, good):
            if wish.any():
                return float(places[np.argmax(wish)])
        for wish in (known & clear,) if spaced else (known & clear, known):
            if wish.any():  # short of room everywhere: where there is the most of it
                return float(places[np.argmax(np.where(wish, room, -1.0))])
        if spaced and clear.any():
            return float(places[np.argmax(clear)])
        return at_m

    def fill(self, upper_m: float, lower_m: float) -> list[float]:
        """Place drains between two stops, from the upper one down, none where none is due."""
        placed: list[float] = []
        last, end = upper_m, self.total(lower_m)
        while True:
            left = end - self.total(last)
            pieces = math.ceil(abs(left) - _TOTAL_NOISE)
            if pieces <= 1:
                return placed
            step = left / pieces
            due = self.place(self.total(last) + step)
            # Half the step is always gained, so the walk comes to its end.
            last = self.better_place(due, self.place(self.total(last) + 0.5 * step))
            placed.append(last)

    def settled(self, wanted: list[Stop], turns: list[int]) -> list[Stop]:
        """Move the drains that stand whatever the grade uphill to where their water can leave.

        None passes a crest, nor the middle of the way to the next one.
        """
        at = self.stations.at_m
        marks = [float(at[turn]) for turn in turns]
        moved = []
        for stop in wanted:
            if stop.uphill == 0.0:
                moved.append(stop)
                continue
            others = [0.5 * (other.at_m + stop.at_m) for other in wanted if other is not stop]
            bounds = [(mark - stop.at_m) * stop.uphill for mark in (*marks, *others)]
            most = OUTLET_SEARCH_M
            if stop.why in ("landing", "spur_mouth"):
                most = MOUTH_SEARCH_M
            elif stop.why == "crossing":
                most = CROSSING_FAR_M - CROSSING_BACK_M
            room = min([most, *(bound for bound in bounds if bound > 0)])
            upper_m = stop.at_m + stop.uphill * room
            at_m = self.better_place(stop.at_m, upper_m, spaced=False)
            moved.append(replace(stop, at_m=at_m))
        return moved


def bars(
    trail: Trail,
    stations: Stations,
    places: Places | None = None,
    tables: Tables | None = None,
    look: Look = tilt_alone,
) -> tuple[WaterBar, ...]:
    """Lay out the drains of one trail.

    Parameters
    ----------
    trail : Trail
        The trail; one that joins another gets a bar just above its own mouth.
    stations : Stations
        What it meets, about every metre.
    places : Places, optional
        Junctions, strips, crossings and the landing's end along it.
    tables : Tables, optional
        The tables in force; the grade table of bars alone where left out.
    look : callable, optional
        Tells where drains at places would let their water go, `Ground.outlets` of this
        trail; by the cross slope alone where left out.

    Returns
    -------
    tuple of WaterBar
        By station. From every crest down, no more than one table spacing lies
        between drains; they are moved uphill for an outlet, never down. A low point
        of the trail's own grade whose water can leave takes the place of a bar. None
        lies where elevations are missing; a bar stands on either side of such a gap. In a
        water strip no dip is dug: bars stand there, at the spacing of bars.

    Raises
    ------
    InputError
        If the stations do not run on.
    """
    places, tables = places or Places(), tables or Tables()
    laid: list[WaterBar] = []
    for first, end in known_runs(stations):
        known = part(stations, first, end)
        whole = (first == 0, end == len(stations))
        at = _laid(trail, known, places, tables, look, whole)
        if not at:
            continue
        met = between(known, np.array(sorted(at), dtype=float))
        outlets = look(met)
        before = len(laid)
        by_strip = places.by_strip(met.at_m)
        laid += [
            _drain(
                trail, met, outlets, k, before + k + 1, at[at_m],
                _undug(tables) if by_strip[k] else tables,
            )
            for k, at_m in enumerate(sorted(at))
        ]  # fmt: skip
    return tuple(laid)


def _undug(tables: Tables) -> Tables:
    """Give the tables that hold in a water strip: a dip is dug, and nothing is dug there."""
    return replace(tables, dips="")


def _used(stations: Stations, places: Places, tables: Tables) -> Floats:
    """Count the spacings used up from the start; in a strip those of bars, not of dips."""
    used = spacings_used(stations, tables)
    by_strip = places.by_strip(stations.at_m)
    if not tables.dips or not by_strip.any():
        return used
    of_bars = np.diff(spacings_used(stations, _undug(tables)))
    steps = np.where(by_strip[:-1] | by_strip[1:], of_bars, np.diff(used))
    return np.concatenate([[0.0], np.cumsum(steps)])


def _laid(
    trail: Trail,
    stations: Stations,
    places: Places,
    tables: Tables,
    look: Look,
    whole: tuple[bool, bool],
) -> dict[float, BarReason]:
    """Say at which stations of a known stretch drains go, and why.

    ``whole`` tells whether it starts where the trail starts, and ends where it ends.
    """
    used = _used(stations, places, tables)
    walk = _Walk(stations, used, np.asarray(places.mouths_m, dtype=float), look(stations))
    turns = turns_of_slope(stations.z)
    starts, ends = whole
    wanted = stops(trail, stations, places, turns, starts=starts, ends=ends)
    fixed = walk.settled(wanted, turns)
    laid: dict[float, BarReason] = {stop.at_m: stop.why for stop in fixed}
    for a, b in pairwise(turns):
        from_m, to_m = float(stations.at_m[a]), float(stations.at_m[b])
        inner = sorted(stop.at_m for stop in fixed if from_m < stop.at_m < to_m)
        row = [from_m, *inner, to_m]
        if stations.z[b] >= stations.z[a]:
            row.reverse()
        for upper_m, lower_m in pairwise(row):
            for at in walk.fill(upper_m, lower_m):
                laid[at] = "spacing"
    return laid


def _drain(
    trail: Trail,
    met: Stations,
    outlets: Outlets,
    k: int,
    number: int,
    why: BarReason,
    tables: Tables,
) -> WaterBar:
    """Describe the drain at the k-th of the places met, the trail's ``number``-th."""
    grade = float(met.grade_pct[k])
    known, room = bool(outlets.known[k]), float(outlets.room_m[k])
    side: dict[int, Literal["left", "right", "unknown"]] = {1: "left", -1: "right", 0: "unknown"}
    kind: Literal["bar", "dip", "grade_break"] = "bar"
    if why == "low_point" and known:
        kind = "grade_break"
    elif why == "spacing" and dip_form(grade, tables.dips):
        kind = "dip"
    return WaterBar(
        bar_id=f"{trail.trail_id}-B{number}",
        trail_id=trail.trail_id,
        at_m=float(met.at_m[k]),
        x=float(met.x[k]),
        y=float(met.y[k]),
        grade_pct=grade,
        spacing_m=float(spacing(grade, tables)),
        outlet=side[int(outlets.side[k])] if known else "unknown",
        why=why,
        skew_deg=SKEW_DEG,
        length_m=bar_length_m(trail.width_m) if kind == "bar" else None,
        kind=kind,
        bar_set=_set(kind, why, grade),
        room_m=room if math.isfinite(room) and outlets.side[k] else None,
        meets=outlets.meets[k] if outlets.side[k] else "",
    )


def _set(
    kind: Literal["bar", "dip", "grade_break"], why: str, grade_pct: float
) -> Literal["shutdown", "closeout", "before_use", ""]:
    if kind != "bar":
        return "before_use" if kind == "dip" else ""
    steep = abs(grade_pct) > TEMPORARY_OVER_PCT
    return "shutdown" if steep or why in _WHATEVER_THE_GRADE else "closeout"
