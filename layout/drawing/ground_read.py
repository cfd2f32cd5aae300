"""The ground of an area, read once when the map is opened and kept for every call."""

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TypeVar

from shapely.geometry.base import BaseGeometry

from layout import reach, terrain, water
from layout.drawing.draft import Draft
from layout.drawing.draft_area import drafted
from layout.drawing.judge import Judged, Sited, judge, sited
from layout.drawing.spoken import said_in
from layout.ground import open_area
from layout.reach import Scene
from layout.settings import Limits, limits_in_force
from layout.site import Area
from layout.terrain import Terrain
from layout.tree_sizes import TreeSizes, sizes_of
from layout.units import Units
from layout.water import Strips
from layout.way_to import WayGround, way_ground
from layout.winch import swing_limit_deg
from layout.winch_ground import PullGround, prepare
from layout.winch_rules import WinchRules, rules_from

Made = TypeVar("Made")
KEPT = 12  # grounds kept: a person goes to and fro between a few


@dataclass(frozen=True, slots=True, eq=False)
class Drafted:
    """An area with a draft in it, and what a winch parked on a drawn trail serves.

    Parameters
    ----------
    area : Area
    pulls : PullGround
        As the draft's closed ground and marks leave it.
    winch : WinchRules
    swing_deg : float
        How far off its trail a parked tractor can turn, degrees.
    """

    area: Area
    pulls: PullGround
    winch: WinchRules
    swing_deg: float


@dataclass(slots=True, eq=False)
class GroundRead:
    """What does not change while the map is open.

    Parameters
    ----------
    area : Area
        As read from the user's files.
    terrain, strips : Terrain, Strips
    limits : Limits
        In force today.
    sizes : TreeSizes
        Heights and weights of every stem; marks do not change them.
    """

    area: Area
    terrain: Terrain
    strips: Strips
    limits: Limits
    sizes: TreeSizes
    _kept: "OrderedDict[object, object]" = field(default_factory=OrderedDict)
    _making: dict[object, threading.Lock] = field(default_factory=dict)  # one for each key
    _lock: threading.Lock = field(default_factory=threading.Lock)  # of the two above
    _sited: list[tuple[object, Sited | None]] = field(default_factory=list)  # the newest only

    def with_draft(self, draft: Draft) -> Drafted:
        """Put a draft into the area.

        Parameters
        ----------
        draft : Draft

        Returns
        -------
        Drafted
            Closed ground and marks change the ground a rope may cross; that is
            made anew only when they do. The lattice a trail is sought on takes far
            longer and is left to `scene`.

        Raises
        ------
        InputFaults
            If the draft cannot be judged at all.
        """
        area = drafted(self.area, draft)
        key = ("pulls", _closed(draft), _marks(draft))
        pulls = self._once(key, lambda: prepare(area, self.terrain, self.strips))
        settings = self.area.settings
        tractor, width_m = settings.tractor, settings.trails.width_spur_m
        swing = swing_limit_deg(tractor.length_m, tractor.width_m, width_m)
        return Drafted(area, pulls, rules_from(settings), swing)

    def judged(self, draft: Draft) -> Judged:
        """Judge a draft; its landing only where it is another than the last time.

        Parameters
        ----------
        draft : Draft

        Returns
        -------
        Judged

        Raises
        ------
        InputFaults
            If the draft cannot be judged at all.
        """
        made = self.with_draft(draft)
        # of the draft, this is all that a landing's own place hangs on
        key = (self.area.settings.area.units, draft.landing, _closed(draft), _marks(draft))
        kept = next((was for of, was in self._sited[:1] if of == key), None)
        kept = kept or sited(made.area, self.terrain, self.strips)
        self._sited[:] = [(key, kept)]
        return judge(made.area, self.terrain, self.strips, made, kept)

    def scene(self, draft: Draft) -> Scene:
        """Give the ground for searches of reach, as a draft leaves it.

        Parameters
        ----------
        draft : Draft

        Returns
        -------
        Scene

        Raises
        ------
        InputFaults
            If the draft cannot be judged at all.
        """
        made = self.with_draft(draft)
        scene = self._once(
            ("scene", _closed(draft)),
            lambda: reach.scene(
                replace(self.area, keep_out=made.area.keep_out),
                self.terrain, self.strips, self.limits,
            ),
        )  # fmt: skip
        return replace(scene, area=made.area, pulls=made.pulls)

    def ways(self, draft: Draft, area: Area, *, main: bool) -> WayGround:
        """Give the ground for ways to a place, as a draft's closed ground and marks leave it."""
        return self._once(
            ("ways", area.settings.area.units, main, _closed(draft), draft.landing, _marks(draft)),
            lambda: way_ground(
                area, self.terrain, self.strips, self._room(area, main), self.limits, main=main
            ),
        )

    def said_in(self, units: Units) -> "GroundRead":
        """Give the same ground, spoken of in these units; what is kept is shared."""
        area = said_in(self.area, units)
        return self if area is self.area else replace(self, area=area)

    def _room(self, area: Area, main: bool) -> BaseGeometry:
        """Give the ground a machine may stand on; no spur passes over the landing."""
        opened = open_area(area, self.strips)
        return opened if main or area.yard is None else opened.difference(area.yard)

    def _once(self, key: object, make: Callable[[], Made]) -> Made:
        """Give what is kept under a key; one call makes it, and others do not wait for that."""
        with self._lock:
            making = self._making.setdefault(key, threading.Lock())
        with making:
            with self._lock:
                if key in self._kept:
                    self._kept.move_to_end(key)
                    return self._kept[key]  # type: ignore[return-value]  # what this key's maker made
            made = make()
            with self._lock:
                self._kept[key] = made
                while len(self._kept) > KEPT:
                    old, _ = self._kept.popitem(last=False)
                    self._making.pop(old, None)
            return made


def _closed(draft: Draft) -> object:
    return tuple(item.outline for item in draft.keep_out)


def _marks(draft: Draft) -> object:
    return tuple(sorted(draft.marks.items()))


def ground_read(area: Area) -> GroundRead:
    """Read the ground of an area.

    Parameters
    ----------
    area : Area

    Returns
    -------
    GroundRead
    """
    shape = terrain.build(area.dem)
    return GroundRead(
        area, shape, water.strips(area, shape), limits_in_force(area.settings), sizes_of(area)
    )
