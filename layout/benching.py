"""A level bench dug into a slope across the trail: how much is cut, filled and laid bare.

**The section.** The hill falls evenly at ``s`` (metres down for a metre out)
square to the trail. A level bench of width ``w`` meets the ground at a line
that parts it into ``a``, cut into the hill, and ``b = w - a``, on fill. The bank
above stands at ``c`` and the fill at ``f`` metres out for a metre of height.

* At the foot of the bank the ground is ``s a`` above the bench; the bank rises
  ``1 / c`` a metre and the ground ``s``, so they meet ``s a c / (1 - s c)`` farther
  in, ``s a / (1 - s c)`` above the bench (the cut height). The ground cut away is a
  triangle of that height on the base ``a``: ``s a² / (2 (1 - s c))``.
* The fill is the same figure upside down: it ends ``s b f / (1 - s f)`` farther
  out and holds ``s b² / (2 (1 - s f))``.
* Balanced, the two are equal: ``a / b = sqrt((1 - s c) / (1 - s f))``.

From 30 % on, and wherever the fill would never meet the ground (``s f >= 1``), the
whole bench is cut (``a = w``) and no fill carries the trail; where the cut spoil
then goes is not reckoned. Where the bank never meets the ground (``s c >= 1``)
there is no bench: height and width are infinite. Soil is taken to fill what it
filled before. Slopes of bank and fill, the 30 % and the highest bank are ours,
after common practice; unverified.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from layout.geometry import bearings, coordinates, wrap
from layout.records import Trail
from layout.settings import AreaSettings, Limits
from layout.site import Area
from layout.terrain import Stations

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

CUT_OUT_FOR_UP = 1.0  # bank 1:1; ours, unverified
FILL_OUT_FOR_UP = 1.5  # fill 1.5:1; ours, unverified
FULL_FROM_PCT = 30.0  # from here the bench is cut whole; ours, unverified
CUT_MOST_M = 1.5  # a higher bank is for an engineer, not for a plan; ours, unverified
SLOPE_NOISE_PCT = 1e-6
ON_BENCH_M = 2.0  # a trail within this of an old bench's line lies on it
ALONG_BENCH_RAD = float(np.radians(30.0))


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """What a bench takes at each station, arrays of one shape.

    Parameters
    ----------
    cut_m2, fill_m2 : ndarray of float
        Ground cut away and filled, m³ per metre of trail.
    uphill_m, downhill_m : ndarray of float
        How far bank and fill reach beyond the bench's two edges, metres on the map.
    cut_height_m : ndarray of float
        Top of the bank above the bench, metres.
    width_m : ndarray of float
        Bench, bank and fill together, metres on the map.
    """

    cut_m2: Floats
    fill_m2: Floats
    uphill_m: Floats
    downhill_m: Floats
    cut_height_m: Floats
    width_m: Floats


def section(
    cross_pct: ArrayLike,
    width_m: float,
    *,
    cut_slope: float = CUT_OUT_FOR_UP,
    fill_slope: float = FILL_OUT_FOR_UP,
    full_from_pct: float = FULL_FROM_PCT,
) -> Section:
    """Give the section of a level bench on an even slope.

    Parameters
    ----------
    cross_pct : array_like of float, any shape
        Slope square to the trail, percent, its size; NaN gives NaN.
    width_m : float
        Width of the level bench, metres.
    cut_slope, fill_slope : float, optional
        Metres out for a metre of height of the bank and of the fill.
    full_from_pct : float, optional
        From this slope the bench is cut whole.

    Returns
    -------
    Section
        Infinite where the bank never meets the ground.

    Raises
    ------
    ValueError
        If a width or slope of the bench is not above 0.

    Examples
    --------
    >>> one = section(50.0, 3.0)
    >>> float(one.cut_m2), float(one.fill_m2), float(one.cut_height_m), float(one.width_m)
    (4.5, 0.0, 3.0, 6.0)
    """
    if not (width_m > 0 and cut_slope > 0 and fill_slope > 0):
        msg = "width, cut slope and fill slope of a bench are above 0"
        raise ValueError(msg)
    s = np.abs(np.asarray(cross_pct, dtype=float)) / 100
    bank, toe = 1 - s * cut_slope, 1 - s * fill_slope
    whole = (s >= (full_from_pct - SLOPE_NOISE_PCT) / 100) | (toe <= 0)
    none = bank <= 0
    bank, toe = np.where(none, 1.0, bank), np.where(whole, 1.0, toe)
    ratio = np.sqrt(bank / toe)
    a = np.where(whole, width_m, width_m * ratio / (1 + ratio))
    b = width_m - a
    height = np.where(none, np.inf, s * a / bank)
    uphill = height * cut_slope
    downhill = np.where(whole, 0.0, s * b * fill_slope / toe)
    return Section(
        cut_m2=0.5 * height * a,
        fill_m2=np.where(whole, 0.0, 0.5 * s * b**2 / toe),
        uphill_m=uphill,
        downhill_m=downhill,
        cut_height_m=height,
        width_m=width_m + uphill + downhill,
    )


def reach_m(made: Section, width_m: float) -> Floats:
    """Give how far the wider side of a bench reaches from its centre line, metres."""
    return np.asarray(width_m / 2 + np.maximum(made.uphill_m, made.downhill_m))


@dataclass(frozen=True, slots=True)
class Rule:
    """Where a bench may be dug.

    Parameters
    ----------
    over_pct : float
        Cross slope up to which none is needed: the limit in force today.
    up_to_pct : float
        Steepest cross slope a bench may be dug into.
    """

    over_pct: float
    up_to_pct: float

    def digs(self, cross_pct: Floats, reserve_pct: float = 0.0) -> Flags:
        """Say where a bench is needed and allowed; how high its bank is does not count here.

        Parameters
        ----------
        cross_pct : ndarray of float, any shape
        reserve_pct : float, optional
            Kept back from both limits.
        """
        with np.errstate(invalid="ignore"):
            return np.asarray(
                (cross_pct > self.over_pct - reserve_pct + SLOPE_NOISE_PCT)
                & (cross_pct <= self.up_to_pct - reserve_pct + SLOPE_NOISE_PCT)
            )


def rule_of(settings: AreaSettings, limits: Limits) -> Rule | None:
    """Give the benching the user allows; None where no bench may be dug."""
    up_to = settings.trails.bench_up_to_pct
    return Rule(limits.cross_pct, up_to) if up_to > limits.cross_pct else None


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """The benches of one trail.

    Parameters
    ----------
    at_m : ndarray of float, shape (n,)
        Stations of the trail, metres.
    dug : ndarray of bool, shape (n,)
        Where a bench is dug.
    section : Section
        Shape (n,); 0 where none is dug.
    shape : shapely geometry
        Ground that bench, bank and fill cover.
    """

    at_m: Floats
    dug: Flags
    section: Section
    shape: BaseGeometry

    @property
    def edges_m(self) -> Floats:
        """Borders of the ground each station stands for, half-way between, shape (n + 1,)."""
        at = self.at_m
        return np.concatenate([at[:1], 0.5 * (at[1:] + at[:-1]), at[-1:]])

    @property
    def length_m(self) -> float:
        """Length of trail on new bench, metres."""
        return float(np.diff(self.edges_m)[self.dug].sum())

    def volume_m3(self, from_m: float, to_m: float) -> tuple[float, float]:
        """Give what is cut and filled between two stations, m³."""
        edge = self.edges_m
        span = np.diff(edge)
        out = []
        for per_m in (self.section.cut_m2, self.section.fill_m2):
            total = np.concatenate([[0.0], np.cumsum(per_m * span)])
            out.append(float(np.interp(to_m, edge, total) - np.interp(from_m, edge, total)))
        return out[0], out[1]

    def width_m(self, from_m: float, to_m: float) -> float:
        """Give the widest bench, bank and fill between two stations, metres; 0 for none."""
        edge = self.edges_m
        here = self.dug & (edge[1:] > from_m + 1e-9) & (edge[:-1] < to_m - 1e-9)
        return float(self.section.width_m[here].max()) if here.any() else 0.0


def on_old_bench(area: Area, trail: Trail, st: Stations) -> Flags:
    """Say which stations lie on a bench known to be sound, shape (n,)."""
    if trail.benched:
        return np.ones(len(st), dtype=bool)
    here = np.zeros(len(st), dtype=bool)
    points = np.asarray(shapely.points(st.x, st.y))
    for old in area.existing:
        if not old.benched:
            continue
        near = np.asarray(shapely.dwithin(points, old.line, ON_BENCH_M))
        if not near.any():
            continue
        at = np.asarray(shapely.line_locate_point(old.line, points[near]))
        apart = np.abs(wrap(bearings(coordinates(old.line), at, 2.0) - st.heading_rad[near]))
        here[near] |= np.minimum(apart, np.pi - apart) <= ALONG_BENCH_RAD
    return here


def of_trail(area: Area, limits: Limits, trail: Trail, st: Stations) -> Bench | None:
    """Give the benches a trail needs and may have.

    Parameters
    ----------
    area : Area
        Its settings say up to which cross slope; its old benches need none.
    limits : Limits
        Limits in force today.
    trail : Trail
    st : Stations
        Its stations.

    Returns
    -------
    Bench or None
        None where nothing is dug. A bank that is too high is dug all the same:
        the checks stop it.
    """
    rule = rule_of(area.settings, limits)
    if rule is None:
        return None
    dug = rule.digs(st.cross_pct)
    if dug.any():
        dug &= ~on_old_bench(area, trail, st)
    if not dug.any():
        return None
    made = section(st.cross_pct, trail.width_m)
    # a bank that never meets the ground has no outline; the checks stop it by its height
    dug &= np.isfinite(made.width_m)
    if not dug.any():
        return None
    made = Section(
        *(
            np.where(dug, part, 0.0)
            for part in (
                made.cut_m2,
                made.fill_m2,
                made.uphill_m,
                made.downhill_m,
                made.cut_height_m,
                made.width_m,
            )
        )
    )
    return Bench(st.at_m, dug, made, _outline(trail, st, dug, made))


def _outline(trail: Trail, st: Stations, dug: Flags, made: Section) -> BaseGeometry:
    """Lay the widened strip out, a piece for each station's own stretch of line."""
    left_up = np.nan_to_num(st.tilt_left) >= 0
    left = trail.width_m / 2 + np.where(left_up, made.uphill_m, made.downhill_m)
    right = trail.width_m / 2 + np.where(left_up, made.downhill_m, made.uphill_m)
    edge = np.concatenate([st.at_m[:1], 0.5 * (st.at_m[1:] + st.at_m[:-1]), st.at_m[-1:]])
    points = shapely.get_coordinates(shapely.line_interpolate_point(trail.line, edge))
    last = len(st) - 1
    ahead = np.column_stack([np.cos(st.heading_rad), np.sin(st.heading_rad)])
    at_edge = (
        ahead[np.minimum(np.arange(last + 2), last)] + ahead[np.maximum(np.arange(last + 2) - 1, 0)]
    )
    at_edge /= np.maximum(np.hypot(*at_edge.T)[:, None], 1e-9)
    normal = np.column_stack([-at_edge[:, 1], at_edge[:, 0]])
    pieces = []
    for i in np.flatnonzero(dug):
        ends = points[[i, i + 1]]
        out, back = normal[[i, i + 1]] * left[i], normal[[i, i + 1]] * -right[i]
        pieces.append(Polygon([*(ends + out), *(ends + back)[::-1]]).convex_hull)
    return shapely.union_all(pieces)


def footprint(trail: Trail, bench: Bench | None) -> BaseGeometry:
    """Give the ground a trail covers, its benches included, ends cut square."""
    strip: BaseGeometry = trail.line.buffer(trail.width_m / 2, cap_style="flat")
    return strip if bench is None else shapely.union_all([strip, bench.shape])


def stretches(line: LineString, bench: Bench) -> list[LineString]:
    """Give the benched stretches of a trail's line, in order."""
    edge = bench.edges_m
    padded = np.concatenate([[False], bench.dug, [False]])
    change = np.flatnonzero(padded[1:] != padded[:-1])
    cuts = [
        substring(line, float(edge[a]), float(edge[b]))
        for a, b in zip(change[::2], change[1::2], strict=True)
    ]
    return [cut for cut in cuts if isinstance(cut, LineString) and cut.length > 0]


def totals(benches: Mapping[str, Bench]) -> tuple[float, float, float]:
    """Add up the length on new bench, metres, and what is cut and filled, m³."""
    parts = [
        (b.length_m, *b.volume_m3(float(b.at_m[0]), float(b.at_m[-1]))) for b in benches.values()
    ]
    sums = np.sum(np.array(parts).reshape(-1, 3), axis=0)
    return float(sums[0]), float(sums[1]), float(sums[2])
