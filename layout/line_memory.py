"""What growing needs, and what was found of lines met before.

Most lines come again from round to round as they were. Their curves, prices and
stations are kept, so that each is measured once a plan.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPoint
from shapely.geometry.base import BaseGeometry

from layout import wishes
from layout.fairline import Judge, Measured, measure
from layout.geometry import along, at_stations, bearings, fair_curve, wrap
from layout.ground import Ground
from layout.launches import LaunchRules
from layout.network import Branch
from layout.turning import Place, loop_place, pad_places, pads
from layout.winch import PullGround, WinchRules

Floats = NDArray[np.float64]

POSITION_STEP_M = 3.0
STRAIGHT_RAD = float(np.radians(12.0))  # the outfit stands straight where its trail bends less
OFF_STEP_M = 0.5
BARRED_M = 6.0  # nobody parks this near a place the user bars; ours


@dataclass(frozen=True, slots=True, eq=False)
class Grower:
    """What growing needs, made once a plan."""

    ground: Ground
    judge: Judge
    pull_ground: PullGround
    winch: WinchRules
    launch: LaunchRules
    longest_m: float
    body_m: float
    swing_deg: float


@dataclass(frozen=True, slots=True, eq=False)
class Stands:
    """Stations of one line an outfit may stand at; arrays of shape (k,), ``xy`` (k, 2)."""

    at_m: Floats
    xy: Floats
    rear_rad: Floats


class Known:
    """What was found of lines met before: most do not change from round to round."""

    def __init__(self, grower: Grower) -> None:
        self._grower = grower
        self._curves: dict[bytes, Floats] = {}
        self._measured: dict[bytes, Measured] = {}
        self._stands: dict[tuple[bytes, tuple[float, ...]], Stands] = {}
        self._loops: dict[bytes, Place | None] = {}
        self._pads: dict[tuple[bytes, bytes], list[Place]] = {}
        self._off: dict[tuple[bytes, bytes], float] = {}

    def curve(self, corners: Floats) -> Floats:
        """Give the fair curve through some corners."""
        key = corners.tobytes()
        if key not in self._curves:
            self._curves[key] = fair_curve(corners, self._grower.launch.radius_m)
        return self._curves[key].copy()

    def measured(self, line: Floats) -> Measured:
        """Give a line's own measurement."""
        key = line.tobytes()
        if key not in self._measured:
            self._measured[key] = measure(self._grower.judge, line)
        return self._measured[key]

    def stands(self, branch: Branch) -> Stands:
        """Give the stations of a branch an outfit may stand at, its stops among them."""
        key = (branch.line.tobytes(), branch.stops)
        if key not in self._stands:
            self._stands[key] = _stands(self._grower, branch)
        return self._stands[key]

    def off_from_m(self, line: Floats, host: Branch) -> float:
        """Give the station from which an outfit on a line is off the trail it leaves, metres.

        The whole of the line where it never is.
        """
        key = (line.tobytes(), host.line.tobytes())
        if key not in self._off:
            settings = self._grower.judge.area.settings
            trails, outfit = settings.trails, settings.tractor
            width = trails.width_main_m if host.parent < 0 else trails.width_spur_m
            length = float(along(line)[-1])
            at = np.append(np.arange(0.0, length, OFF_STEP_M), length)
            gap = shapely.distance(LineString(host.line), shapely.points(at_stations(line, at)))
            off = gap >= 0.5 * (width + outfit.width_m)
            self._off[key] = float(at[int(np.argmax(off))] if off.any() else length)
        return self._off[key]

    def pads(
        self, line: Floats, at_m: Floats, room: BaseGeometry, radius_m: float, number: int
    ) -> list[Place]:
        """Give the level pads at stations of a line, for the branch of a number."""
        key = (line.tobytes(), at_m.tobytes())
        if key not in self._pads:
            judge, xy = self._grower.judge, at_stations(line, at_m)
            found = pads(judge.terrain, room, at_m, xy[:, 0], xy[:, 1], radius_m)
            length = float(along(line)[-1])
            self._pads[key] = pad_places(found, number, length, judge.width_m)
        return [replace(p, branch=number, needs_branch=number) for p in self._pads[key]]

    def loop(self, line: Floats, number: int) -> Place | None:
        """Give the loop beyond a line's end, if there is room for one."""
        key = line.tobytes()
        if key not in self._loops:
            self._loops[key] = loop_place(self._grower.judge, line, number)
        found = self._loops[key]
        return None if found is None else replace(found, branch=number, needs_branch=number)


def _stands(grower: Grower, branch: Branch) -> Stands:
    length = branch.length_m
    at = np.arange(length, grower.body_m, -POSITION_STEP_M)
    wished = wishes.stations(LineString(branch.line), grower.judge.area)
    at = np.unique(np.concatenate([at, np.array((*branch.stops, *wished), dtype=float)]))
    at = at[at <= length + 1e-9]
    at = at[straight_over(branch.line, at, grower.body_m, STRAIGHT_RAD)]
    if grower.judge.passages is not None:  # on the way over water nothing is winched
        at = at[grower.judge.passages.parked_clear(branch.line, at, grower.body_m)]
    barred = grower.judge.area.closed_positions
    if barred:
        places = shapely.points(at_stations(branch.line, at))
        shut = np.asarray(shapely.dwithin(places, MultiPoint(barred), BARRED_M))
        at = at[~shut | wishes.among(at, wished)]  # one moved a little is barred where it was
    return Stands(at, at_stations(branch.line, at), bearings(branch.line, at))


def straight_over(line: Floats, at_m: Floats, body_m: float, most_rad: float) -> NDArray[np.bool_]:
    """Tell where the outfit, parked with its rear at a station, stands on a straight stretch."""
    rear = bearings(line, at_m)
    middle = bearings(line, np.maximum(at_m - body_m / 2, 0.0))
    front = bearings(line, np.maximum(at_m - body_m, 0.0))
    bend = np.maximum(np.abs(wrap(rear - middle)), np.abs(wrap(rear - front)))
    return np.asarray((bend <= most_rad) & (at_m >= body_m - 1e-9))
