"""Judge and price a finished centre line, metre by metre, before it is chosen.

A search works on tables; what is built is a curve. Every candidate is measured
again here with the functions the checker uses, so that a line which fails is
never offered to the choice.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from layout import benching, fall_lines
from layout.bend_price import bend_m2_per_rad
from layout.geometry import along, at_stations, wrap
from layout.ground import (
    CAUTION_PRICE,
    OLD_ALONG_RAD,
    OLD_NEAR_M,
    STEM_SPACE_M,
    stems_known,
    wet_factor,
    wet_reach,
)
from layout.passages import Passages
from layout.records import Crossing, WaterStrip
from layout.runs import edges, over, pitch_faults
from layout.settings import Limits
from layout.site import Area
from layout.terrain import Stations, Terrain, station_table

Floats = NDArray[np.float64]

BEND_HALF_M = 2.0  # bends are read over 4 m of line, about two wheelbases
RADIUS_NOISE = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Judge:
    """What a line is judged by; made once a plan.

    Parameters
    ----------
    area, terrain : Area, Terrain
        The job.
    limits : Limits
        Limits in force today.
    room : shapely geometry
        Where a spur's centre line may run; prepared.
    width_m : float
        Trail width.
    weight : float
        Objective weight of a square metre.
    radius_m : float
        Least turn radius.
    stems : shapely.STRtree or None
        Leave stems, where single stems are known.
    """

    area: Area
    terrain: Terrain
    limits: Limits
    room: BaseGeometry
    width_m: float
    weight: float
    radius_m: float
    stems: shapely.STRtree | None
    stem_xy: Floats
    bench: benching.Rule | None = None  # where a bench may be dug
    edge: BaseGeometry | None = None  # border of open ground, where benches are
    wet: BaseGeometry | None = None  # where a line is when its trail touches wet ground
    passages: Passages | None = None  # ways over water, where they are allowed
    bend_m2: float = 0.0  # price of a radian of bend
    water: BaseGeometry | None = None  # water and strips, where a line may lead none down


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """One line, measured.

    ``price_m2[i]`` is what the line costs from its start to station i, and
    ``broken[i]`` whether a limit is broken at station i; ``dug[i]`` whether a
    bench must be dug there.
    """

    stations: Stations
    price_m2: Floats
    broken: NDArray[np.bool_]
    dug: NDArray[np.bool_]

    def price_at(self, at_m: float) -> float:
        """Give the cost from the start to a station, weighted square metres."""
        return float(np.interp(at_m, self.stations.at_m, self.price_m2))

    @property
    def sound_m(self) -> float:
        """Length from the start over which no limit is broken, metres."""
        if not self.broken.any():
            return float(self.stations.at_m[-1])
        first = int(np.argmax(self.broken))
        return float(self.stations.at_m[first - 1]) if first else 0.0


def judge_for(
    area: Area,
    terrain: Terrain,
    limits: Limits,
    opened: BaseGeometry,
    *,
    width_m: float,
    weight: float,
    passages: Passages | None = None,
    strips: Iterable[WaterStrip] | None = None,
) -> Judge:
    """Prepare what lines of one width are judged by."""
    room = opened.buffer(-width_m / 2)
    shapely.prepare(room)
    xy = np.zeros((0, 2))
    tree = None
    if stems_known(area):
        standing = ~area.trees.marked
        xy = np.column_stack([area.trees.x[standing], area.trees.y[standing]])
        tree = shapely.STRtree(np.asarray(shapely.points(xy)))
    radius = area.settings.trails.turn_radius_m
    bench = benching.rule_of(area.settings, limits)
    edge = None
    if bench is not None:
        edge = opened.boundary
        shapely.prepare(edge)
    wet = wet_reach(area, terrain, width_m)
    return Judge(
        area, terrain, limits, room, width_m, weight, radius, tree, xy, bench, edge, wet, passages,
        bend_m2_per_rad(area), None if strips is None else fall_lines.water_of(area, strips),
    )  # fmt: skip


def measure(judge: Judge, line: Floats) -> Measured:
    """Measure a line at 1 m stations.

    Parameters
    ----------
    judge : Judge
        What to judge by.
    line : ndarray of float, shape (n, 2)
        Centre line, landing end first.

    Returns
    -------
    Measured
    """
    shape = LineString(line)
    st = station_table(judge.terrain, shape, judge.width_m)
    lim = judge.limits
    favourable, adverse = np.maximum(-st.grade_pct, 0.0), np.maximum(st.grade_pct, 0.0)
    old, bench = _on_old_trails(judge.area, shape, st)
    cross = np.where(bench, 0.0, st.cross_pct)
    dig = _dig(judge, st, cross)
    if dig is not None:
        cross = np.where(dig.dug, 0.0, cross)  # on a bench the outfit stands level
    outside = ~np.asarray(shapely.contains_xy(judge.room, st.x, st.y))
    over = () if judge.passages is None else judge.passages.sound(shape)
    if judge.passages is not None and over:
        outside &= ~_passed(judge.passages, st, over)
    broken = (
        ~np.isfinite(st.grade_pct)
        | past_pitch(
            st.at_m,
            -st.grade_pct,
            sustained_pct=lim.favourable_pct,
            short_pct=lim.favourable_short_pct,
            short_pitch_m=lim.short_pitch_m,
        )
        | past_pitch(
            st.at_m,
            st.grade_pct,
            sustained_pct=lim.adverse_pct,
            short_pct=lim.adverse_short_pct,
            short_pitch_m=lim.short_pitch_m,
        )
        | ~(cross <= lim.cross_pct)
        | outside
        | (bend_radius_m(line, st.at_m) < judge.radius_m * (1 - RADIUS_NOISE))
        | fall_lines.led_to_water(judge.water, judge.terrain, st)
    )
    past = (
        _past(favourable, lim.favourable_caution_pct, lim.favourable_pct)
        + _past(adverse, lim.adverse_caution_pct, lim.adverse_pct)
        + _past(cross, lim.cross_caution_pct, lim.cross_pct)
    )
    per_m = judge.width_m * judge.weight * (1.0 + CAUTION_PRICE * np.nan_to_num(past))
    per_m = np.where(old, per_m * judge.area.settings.objective.existing, per_m)
    half_m = np.full(len(st), judge.width_m / 2)
    dug = np.zeros(len(st), dtype=bool)
    if dig is not None:
        broken |= dig.dug & ~dig.fits
        dear = 1.0 + CAUTION_PRICE * np.nan_to_num(past)
        benched_m2 = dig.width_m * judge.area.settings.objective.benched
        per_m = np.where(dig.dug, benched_m2 * dear, per_m)
        half_m, dug = dig.half_m, dig.dug
    per_m = per_m * wet_factor(judge.area, judge.wet, st.x, st.y)
    step = np.diff(st.at_m)
    price = np.concatenate([[0.0], np.cumsum(0.5 * (per_m[1:] + per_m[:-1]) * step)])
    if judge.bend_m2:
        turned = np.abs(wrap(np.diff(st.heading_rad)))
        price[1:] += judge.bend_m2 * np.cumsum(turned)
    for station in _stems_out(judge, shape, st.at_m, half_m):
        price[st.at_m >= station - 1e-9] += judge.area.settings.objective.stem_removed_m2
    for _, _, crossing in over:
        price[st.at_m >= crossing.at_m] += judge.area.settings.objective.crossing_m2
    return Measured(st, price, broken, dug)


def _passed(
    passages: Passages, st: Stations, over: tuple[tuple[float, float, Crossing], ...]
) -> NDArray[np.bool_]:
    """Tell which stations lie on a way through a strip, with nothing else closed about them."""
    on = np.zeros(len(st), dtype=bool)
    for from_m, to_m, _ in over:
        beside = passages.width_m / 2 + 1.0  # room ends half a width before the strip
        on |= (st.at_m >= from_m - beside) & (st.at_m <= to_m + beside)
    return on & np.asarray(shapely.contains_xy(passages.room, st.x, st.y))


def past_pitch(
    at_m: Floats,
    size_pct: Floats,
    *,
    sustained_pct: float,
    short_pct: float,
    short_pitch_m: float,
) -> NDArray[np.bool_]:
    """Mark the stations at which a line breaks the short-pitch rule, in one loaded direction.

    The rule itself is `layout.runs.pitch_faults`; here it is only told which
    stations to give up for the rest to keep it: those over the short limit,
    those a run goes on for past a short pitch, and the runs begun too soon.

    Parameters
    ----------
    at_m, size_pct : ndarray of float, shape (n,)
        Stations, and the size of the grade there in the direction judged.
    sustained_pct, short_pct, short_pitch_m : float
        See `layout.runs.pitch_faults`.

    Returns
    -------
    ndarray of bool, shape (n,)
        None is marked exactly where the rule is kept.
    """
    out = np.zeros(at_m.size, dtype=bool)
    if not over(size_pct, sustained_pct).any():
        return out
    border = edges(at_m)
    for fault in pitch_faults(
        at_m,
        size_pct,
        sustained_pct=sustained_pct,
        short_pct=short_pct,
        short_pitch_m=short_pitch_m,
    ):
        run = np.arange(fault.run.first, fault.run.last + 1)
        if fault.kind == "steep":
            run = run[size_pct[run] > short_pct]
        elif fault.kind == "long":
            run = run[border[run + 1] - fault.run.from_m > short_pitch_m]
        out[run] = True
    return out


def bend_radius_m(line: Floats, at_m: Floats) -> Floats:
    """Give the radius of the circle through a station and the points 2 m before and after.

    Stations nearer an end than that have no bend of their own: infinite.
    """
    length = float(along(line)[-1])
    before = np.maximum(at_m - BEND_HALF_M, 0.0)
    after = np.minimum(at_m + BEND_HALF_M, length)
    a, b, c = at_stations(line, np.concatenate([before, at_m, after])).reshape(3, -1, 2)
    ab, bc, ca = (np.hypot(*(p - q).T) for p, q in ((a, b), (b, c), (c, a)))
    cross = np.abs((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])
    radius = ab * bc * ca / (2 * np.maximum(cross, 1e-9))
    inner = (at_m >= BEND_HALF_M - 1e-9) & (at_m <= length - BEND_HALF_M + 1e-9)
    return np.where(inner, radius, np.inf)


def _past(value: Floats, caution: float, stop: float) -> Floats:
    return np.maximum(value - caution, 0.0) / max(stop - caution, 1e-6)


@dataclass(frozen=True, slots=True, eq=False)
class _Dig:
    """Where a line needs a bench, and what it takes there; each of shape (n,)."""

    dug: NDArray[np.bool_]
    fits: NDArray[np.bool_]
    width_m: Floats
    half_m: Floats  # from the centre line to the farther edge of what is covered


def _dig(judge: Judge, st: Stations, cross: Floats) -> _Dig | None:
    """Say what a line digs; None where benching is not allowed or not needed."""
    if judge.bench is None or judge.edge is None:
        return None
    dug = judge.bench.digs(cross)
    if not dug.any():
        return None
    made = benching.section(np.where(dug, cross, 0.0), judge.width_m)
    half = benching.reach_m(made, judge.width_m)
    fits = made.cut_height_m <= benching.CUT_MOST_M
    rows = np.flatnonzero(dug)
    # off open ground altogether the line breaks by its room; here the bank must fit beside it
    gap = shapely.distance(judge.edge, shapely.points(st.x[rows], st.y[rows]))
    fits[rows] &= gap >= half[rows]
    return _Dig(dug, fits, np.where(np.isfinite(made.width_m), made.width_m, 0.0), half)


def _stems_out(judge: Judge, line: LineString, at_m: Floats, half_m: Floats) -> Floats:
    """Give the stations of the leave stems a line takes out, metres."""
    if judge.stems is None:
        return np.zeros(0)
    most = float(half_m[np.isfinite(half_m)].max()) + STEM_SPACE_M
    near = judge.stems.query(line, predicate="dwithin", distance=most)
    points = shapely.points(judge.stem_xy[near])
    at = np.asarray(shapely.line_locate_point(line, points), dtype=float)
    if most <= judge.width_m / 2 + STEM_SPACE_M:
        return at
    station = np.clip(np.rint(np.interp(at, at_m, np.arange(len(at_m)))), 0, len(at_m) - 1)
    beside = half_m[station.astype(int)] + STEM_SPACE_M
    return np.asarray(at[np.asarray(shapely.distance(line, points)) <= beside], dtype=float)


def _on_old_trails(
    area: Area, line: LineString, st: Stations
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Tell which stations follow an old trail, and which a sound old bench."""
    old = np.zeros(len(st), dtype=bool)
    bench = np.zeros(len(st), dtype=bool)
    for trail in area.existing:
        if line.distance(trail.line) > OLD_NEAR_M:
            continue
        points = np.asarray(shapely.points(st.x, st.y))
        near = np.asarray(shapely.dwithin(trail.line, points, OLD_NEAR_M))
        if not near.any():
            continue
        at = np.asarray(shapely.line_locate_point(trail.line, points[near]))
        ahead = shapely.line_interpolate_point(trail.line, np.minimum(at + 1, trail.line.length))
        behind = shapely.line_interpolate_point(trail.line, np.maximum(at - 1, 0.0))
        bearing = np.arctan2(
            shapely.get_y(ahead) - shapely.get_y(behind),
            shapely.get_x(ahead) - shapely.get_x(behind),
        )
        apart = np.abs(wrap(bearing - st.heading_rad[near]))
        follows = np.flatnonzero(near)[np.minimum(apart, np.pi - apart) <= OLD_ALONG_RAD]
        old[follows] = True
        if trail.benched:
            bench[follows] = True
    return old, bench
