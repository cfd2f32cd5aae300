"""Where loads cut in: mouths of spurs, bends, and the swing from a pull onto the trail.

Each way is followed as loads travel it. A spur is followed on past its mouth, so
that the bend onto the trail it joins is one piece: its inside is the wide corner
on the landing's side, never the crotch between spur and trail.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d
from shapely.geometry import LineString

from layout.dragging import cut_in
from layout.geometry import along, at_stations, coordinates, cut
from layout.records import Pull, RubPlace, Trail, WinchPosition
from layout.runs import runs

Floats = NDArray[np.float64]

CUT_IN_M = 0.5  # a load that leaves its line by less turns no corner; ours
MOUTH_M = 15.0  # a bend that ends this near a mouth is the mouth's; a spur leaves within it
ONWARD_LOADS = 2.0  # a way is followed this many load lengths past a mouth; ours
TANGENT_M = 1.0

Kind = Literal["junction", "bend", "pull"]
_Named = tuple[Kind, str, float, str]  # kind, trail, station, from where
# from, to, deepest place, outward side, all stations and depths, greatest depth
_Stretch = tuple[float, float, float, Literal["left", "right"], Floats, Floats, float]


@dataclass(frozen=True, slots=True, eq=False)
class Bend:
    """A stretch of way on whose inside loads cut in.

    Parameters
    ----------
    kind : {"junction", "bend", "pull"}
        A spur's mouth; a bend of one trail; from a pull onto the trail.
    trail_id : str
        The trail whose station is named: at a mouth the trail that is joined.
    at_m : float
        Station of the deepest cut, metres from the trail's landing end.
    from_id : str
        The spur at a mouth, the winch position of a pull; empty for a bend.
    side : {"left", "right"}
        The inside, looking along the trail outward from the landing.
    x, y : float
        The corner: on the trail's inside edge where the cut is deepest.
    width_m : float
        Of the trail there.
    deepest_m, mouth_m : float
        Where along the stretch it is deepest, and where the mouth is; NaN without one.
    stretch : LineString
        The stretch of way, in the direction of travel.
    station_m, inside_m : ndarray of float, shape (k,)
        Stations along it, and how far the load comes inside there.
    tree_id : str
        Of a pull: the tree pulled.
    """

    kind: Kind
    trail_id: str
    at_m: float
    from_id: str
    side: Literal["left", "right"]
    x: float
    y: float
    width_m: float
    deepest_m: float
    mouth_m: float
    stretch: LineString
    station_m: Floats
    inside_m: Floats
    tree_id: str = ""

    def beside(self, x: Floats, y: Floats) -> tuple[Floats, Floats, Floats]:
        """Place points against the stretch.

        Parameters
        ----------
        x, y : ndarray of float, shape (n,)
            Grid coordinates, metres.

        Returns
        -------
        at_m : ndarray of float
            Station along the stretch.
        off_m : ndarray of float
            Distance from it, + on the inside of the bend.
        cut_m : ndarray of float
            How far the load comes inside at that station.
        """
        points = np.asarray(shapely.points(x, y))
        at = np.asarray(shapely.line_locate_point(self.stretch, points))
        line = coordinates(self.stretch)
        spot, (dx, dy) = at_stations(line, at), _tangent(line, at).T
        turn = dx * (y - spot[:, 1]) - dy * (x - spot[:, 0])
        inside = turn if self.side == "right" else -turn  # outward right is loaded left
        far = np.hypot(x - spot[:, 0], y - spot[:, 1])
        return at, np.where(inside > 0, far, -far), np.interp(at, self.station_m, self.inside_m)

    def place(self, along_m: float) -> RubPlace:
        """Say where a station of the stretch is; far up a spur it is no longer at its mouth."""
        if self.kind == "junction":
            before = self.mouth_m - along_m
            if before > MOUTH_M:
                return RubPlace("bend", self.from_id, before, "", self.side)
            past = max(0.0, -before) - max(0.0, self.deepest_m - self.mouth_m)
            return RubPlace(self.kind, self.trail_id, self.at_m - past, self.from_id, self.side)
        at_m = self.at_m if self.kind == "pull" else self.at_m + self.deepest_m - along_m
        return RubPlace(self.kind, self.trail_id, at_m, self.from_id, self.side)

    def edge(self, along_m: float) -> tuple[float, float]:
        """Give the point on the trail's inside edge at a station of the stretch."""
        return _edge(coordinates(self.stretch), along_m, self.side, self.width_m)


def bends(
    trails: Sequence[Trail],
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    length_m: float,
) -> tuple[Bend, ...]:
    """Find where loads cut in.

    Parameters
    ----------
    trails : sequence of Trail
        Lines run landing end first.
    positions : sequence of WinchPosition
        Where loads start; what no load passes is not looked at.
    pulls : sequence of Pull
        How they come to the positions.
    length_m : float
        Length of a load, metres.

    Returns
    -------
    tuple of Bend
        Mouths and bends in the order of the trails, from the landing out; then the
        pulls in their order.
    """
    by_id = {trail.trail_id: trail for trail in trails}
    found: list[Bend] = []
    for trail in trails:
        far = loaded_to_m(trail, trails, positions)
        if far <= 0:
            continue
        own = cut(coordinates(trail.line), 0.0, min(far, float(trail.line.length)))[::-1]
        whole = onward(own, by_id.get(trail.joins_id), trail.joins_at_m or 0.0, length_m)
        mine = _along(whole, float(along(own)[-1]), trail, by_id.get(trail.joins_id), length_m)
        found += sorted(mine, key=lambda bend: (bend.kind != "junction", bend.at_m))
    by_position = {position.position_id: position for position in positions}
    for pull in pulls:
        position = by_position[pull.position_id]
        host = by_id.get(position.trail_id)
        if host is not None:
            found += _behind(pull, position, host, length_m)
    return tuple(found)


def loaded_to_m(trail: Trail, trails: Sequence[Trail], positions: Sequence[WinchPosition]) -> float:
    """Give the farthest station of a trail that a load comes from; 0 where none does."""
    own = [p.at_m for p in positions if p.trail_id == trail.trail_id]
    own += [
        t.joins_at_m or 0.0
        for t in trails
        if t.joins_id == trail.trail_id and loaded_to_m(t, trails, positions) > 0
    ]
    return max(own, default=0.0)


def passing(
    trails: Mapping[str, Trail], positions: Sequence[WinchPosition], trail_id: str, at_m: float
) -> tuple[str, ...]:
    """Name the winch positions whose loads pass a station on their way to the landing.

    Parameters
    ----------
    trails : mapping of str to Trail
        By name.
    positions : sequence of WinchPosition
        Those on the landing pass nothing.
    trail_id : str
        The trail.
    at_m : float
        Its station, metres.

    Returns
    -------
    tuple of str
        In the order of the positions.
    """
    out: list[str] = []
    for position in positions:
        here, at = trails.get(position.trail_id), position.at_m
        while here is not None and here.trail_id != trail_id:
            at = here.joins_at_m or 0.0
            here = trails.get(here.joins_id)
        if here is not None and at >= at_m:
            out.append(position.position_id)
    return tuple(out)


def onward(own: Floats, joined: Trail | None, mouth_m: float, length_m: float) -> Floats:
    """Lengthen a way past its mouth, along the trail it joins.

    Parameters
    ----------
    own : ndarray of float, shape (n, 2)
        The way of one trail, as loads travel it.
    joined : Trail or None
        What it joins.
    mouth_m : float
        Where, metres.
    length_m : float
        Length of a load, metres.
    """
    if joined is None or mouth_m <= 0:
        return own
    start = max(0.0, mouth_m - ONWARD_LOADS * length_m - MOUTH_M)
    rest = cut(coordinates(joined.line), start, mouth_m)[::-1]
    whole = np.concatenate([own, rest])
    step = np.hypot(*np.diff(whole, axis=0).T)
    return np.asarray(whole[np.concatenate([[True], step > 1e-6])])


def _along(
    way: Floats, own_m: float, trail: Trail, joined: Trail | None, length_m: float
) -> list[Bend]:
    """Find the bends of one trail's way, the one through its mouth among them."""
    mouth = trail.joins_at_m or 0.0
    found: list[Bend] = []
    stretches = _stretches(way, length_m)
    through: _Stretch | None = None
    named: _Named
    if joined is not None:
        leaves = _side_of(trail, joined, mouth)
        touching = [s for s in stretches if s[1] > own_m - MOUTH_M and s[0] <= own_m]
        through = max((s for s in touching if s[3] == leaves), key=lambda s: s[6], default=None)
    for stretch in stretches:
        lo, deepest = stretch[0], stretch[2]
        if stretch is through and joined is not None:
            here = mouth - max(0.0, deepest - own_m)
            width = joined.width_m if deepest > own_m else trail.width_m
            named = ("junction", joined.trail_id, here, trail.trail_id)
        elif lo > own_m or deepest > own_m:
            continue  # a bend of the trail that is joined: found there
        else:
            width = trail.width_m
            named = ("bend", trail.trail_id, own_m - deepest, "")
        found.append(_made(named, way, stretch, width, own_m if joined is not None else math.nan))
    return found


def _side_of(spur: Trail, joined: Trail, mouth_m: float) -> Literal["left", "right"]:
    """Tell to which side a spur leaves, looking outward along the trail it joins."""
    line = coordinates(joined.line)
    (spot,) = at_stations(line, np.array([mouth_m]))
    ((dx, dy),) = _tangent(line, np.array([mouth_m]))
    away = min(MOUTH_M, float(spur.line.length))
    ((x, y),) = at_stations(coordinates(spur.line), np.array([away]))
    return "left" if dx * (y - spot[1]) - dy * (x - spot[0]) > 0 else "right"


def _behind(pull: Pull, position: WinchPosition, host: Trail, length_m: float) -> list[Bend]:
    """Find where a load swings in from its pull onto the trail."""
    rope = coordinates(pull.line)[::-1]
    far = float(along(rope)[-1])
    start = max(0.0, position.at_m - ONWARD_LOADS * length_m)
    if position.at_m <= start or far <= 0:
        return []
    rest = cut(coordinates(host.line), start, position.at_m)[::-1]
    way = np.concatenate([cut(rope, max(0.0, far - length_m), far), rest[1:]])
    named: _Named = ("pull", position.trail_id, position.at_m, position.position_id)
    return [
        _made(named, way, stretch, host.width_m, math.nan, pull.tree_id)
        for stretch in _stretches(way, length_m)
        if stretch[0] <= min(far, length_m) + length_m
    ]


def _stretches(way: Floats, length_m: float) -> list[_Stretch]:
    """Give the stretches on which a load cuts in, in order along the way."""
    at, left, right = cut_in(way, length_m)
    found: list[_Stretch] = []
    side: Literal["left", "right"]
    # at a kink no point inside is nearest to the corner itself: what lies beside it counts there
    wide = 2 * round(TANGENT_M / max(float(at[1]), 1e-9)) + 1
    for read, side in ((left, "right"), (right, "left")):
        depth = np.asarray(maximum_filter1d(read, wide, mode="nearest"))
        for run in runs(depth >= CUT_IN_M, at):
            deepest = run.first + int(np.argmax(read[run.first : run.last + 1]))
            most = float(depth[deepest])
            found.append((run.from_m, run.to_m, float(at[deepest]), side, at, depth, most))
    return sorted(found, key=lambda item: (item[0], item[3]))


def _made(
    named: _Named, way: Floats, stretch: _Stretch, width_m: float, mouth_m: float, tree_id: str = ""
) -> Bend:
    """Put one stretch into a record."""
    lo, hi, deepest, side, at, inside, _ = stretch
    kind, trail_id, at_m, from_id = named
    x, y = _edge(way, deepest, side, width_m)
    station = np.clip(at, lo, hi)
    kept = np.concatenate([[True], np.diff(station) > 0])
    return Bend(
        kind=kind,
        trail_id=trail_id,
        at_m=float(at_m),
        from_id=from_id,
        side=side,
        x=x,
        y=y,
        width_m=width_m,
        deepest_m=deepest - lo,
        mouth_m=mouth_m - lo,
        stretch=LineString(cut(way, lo, hi)),
        station_m=station[kept] - lo,
        inside_m=np.interp(station[kept], at, inside),
        tree_id=tree_id,
    )


def _edge(
    line: Floats, at_m: float, side: Literal["left", "right"], width_m: float
) -> tuple[float, float]:
    """Give the point half a width inside a way; outward right is left as loads travel."""
    (spot,) = at_stations(line, np.array([at_m]))
    ((dx, dy),) = _tangent(line, np.array([at_m]))
    turn = 0.5 * width_m if side == "right" else -0.5 * width_m
    return float(spot[0] - turn * dy), float(spot[1] + turn * dx)


def _tangent(line: Floats, at_m: Floats) -> Floats:
    """Give the direction of a line at stations, unit vectors, shape (n, 2)."""
    far = float(along(line)[-1])
    ahead = at_stations(line, np.minimum(at_m + TANGENT_M, far))
    back = at_stations(line, np.maximum(at_m - TANGENT_M, 0.0))
    step = ahead - back
    return np.asarray(step / np.maximum(np.hypot(*step.T), 1e-12)[:, None])
