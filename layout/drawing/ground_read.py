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
from layout.ground import open_area
from layout.reach import Scene
from layout.settings import Limits, limits_in_force
from layout.site import Area
from layout.terrain import Terrain
from layout.tree_sizes import TreeSizes, sizes_of
from layout.water import Strips
from layout.way_to import WayGround, way_ground
from layout.winch_ground import prepare

Made = TypeVar("Made")
KEPT = 8  # scenes kept: a person goes to and fro between a few


@dataclass(frozen=True, slots=True, eq=False)
class Drafted:
    """An area with a draft in it, and the ground as that draft leaves it."""

    area: Area
    scene: Scene


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
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def with_draft(self, draft: Draft) -> Drafted:
        """Put a draft into the area.

        Parameters
        ----------
        draft : Draft

        Returns
        -------
        Drafted
            Closed ground and marks change the ground a rope may cross; that is
            made anew only when they do.

        Raises
        ------
        InputFaults
            If the draft cannot be judged at all.
        """
        area = drafted(self.area, draft)
        closed = tuple(item.outline for item in draft.keep_out)
        marks = tuple(sorted(draft.marks.items()))
        scene = self._once(
            ("scene", closed),
            lambda: reach.scene(
                replace(self.area, keep_out=area.keep_out), self.terrain, self.strips, self.limits
            ),
        )
        pulls = self._once(
            ("pulls", closed, marks), lambda: prepare(area, self.terrain, self.strips)
        )
        return Drafted(area, replace(scene, area=area, pulls=pulls))

    def ways(self, draft: Draft, area: Area, *, main: bool) -> WayGround:
        """Give the ground for ways to a place, as a draft's closed ground and marks leave it."""
        closed = tuple(item.outline for item in draft.keep_out)
        site = None if draft.landing is None else draft.landing
        return self._once(
            ("ways", main, closed, site, tuple(sorted(draft.marks.items()))),
            lambda: way_ground(
                area, self.terrain, self.strips, self._room(area, main), self.limits, main=main
            ),
        )

    def _room(self, area: Area, main: bool) -> BaseGeometry:
        """Give the ground a machine may stand on; no spur passes over the landing."""
        opened = open_area(area, self.strips)
        return opened if main or area.yard is None else opened.difference(area.yard)

    def _once(self, key: object, make: Callable[[], Made]) -> Made:
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]  # type: ignore[return-value]  # what this key's maker made
            made = make()
            self._kept[key] = made
            while len(self._kept) > KEPT:
                self._kept.popitem(last=False)
            return made


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
