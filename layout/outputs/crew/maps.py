"""Which map sheets a crew gets: the whole, and detail sheets where numbers would not fit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from layout.outputs.crew import map_frames, map_sheet
from layout.outputs.crew.map_page import MapPage
from layout.outputs.crew.sheet import Sheet
from layout.outputs.map_window import Contour
from layout.outputs.words import say

if TYPE_CHECKING:
    from layout.plan import Plan

# Most names that may stand off their marks, with a line to them; ours, by looking.
CROWDED = 0.2  # of a map under names: more need not be tried
# Of a detail sheet under names: beyond it numbers stand alone. With species every third name
# would stand off its mark there, and many on a trail; ours, by counting.
FULL = 0.12
NAME_PT2 = 9.0 * 27.0  # paper one name takes, with its air
FAR_WHOLE = 0.2
FAR_DETAIL = 0.3
# Names of positions that may be missing from all detail sheets together: a sheet says which of
# its own had no room, and one name is not worth twice the sheets. No tree's number may be.
MISSING_SHARE = 0.02


@dataclass(frozen=True, slots=True)
class MapSet:
    """The map sheets of a plan, the whole first."""

    pages: tuple[MapPage, ...]
    contours: list[Contour]
    interval: str

    def drawings(self, plan: Plan) -> list[tuple[bool, Callable[[Sheet], None]]]:
        """Give, for each sheet, whether it lies on its long side and what draws it."""
        return [
            (
                page.frame.landscape,
                partial(
                    map_sheet.draw,
                    plan=plan,
                    page=page,
                    lines=self.contours,
                    interval=self.interval,
                ),
            )
            for page in self.pages
        ]


def chosen(plan: Plan) -> MapSet:
    """Choose the map sheets of a plan.

    One map serves where every marked tree's number and every winch position's
    name finds room beside its mark, the number alone where its species, or even
    why it is not reached, has none.
    Otherwise the whole is drawn without tree numbers, and detail sheets at the
    smallest scale that has room for them all; a sheet that is full all the same
    has numbers without species.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    MapSet
    """
    area = " ".join(plan.area.settings.area.name.split())
    frame, window = map_frames.whole(plan)
    lines, interval = map_sheet.contours(plan, window)
    title = say("crew_map", area=area)
    for coded, reasons in ((True, True), (False, True), (False, False)):
        single = MapPage(title, *map_frames.whole(plan, coded=coded), numbered=True, coded=coded,
                         reasons=reasons)  # fmt: skip
        if _names_share(plan, single) < CROWDED and _fits(plan, [single], FAR_WHOLE):
            return MapSet((single,), lines, interval)
    details = [
        replace(page, coded=_names_share(plan, page) <= FULL)
        for page in _details(plan, window.scale, area)
    ]
    whole = MapPage(
        title,
        frame,
        window,
        numbered=False,
        tiles=tuple(page.window for page in details),
        note=say(
            "crew_map_numbers", sheets=_run([map_frames.letter(k) for k in range(len(details))])
        ),
    )
    return MapSet((whole, *details), lines, interval)


def _names_share(plan: Plan, page: MapPage) -> float:
    """Give how much of a map the names of what it shows would cover."""
    trees, ground = plan.area.trees, page.window
    marked = np.array([o.status not in ("leave", "done") for o in plan.trees], dtype=bool)
    across = (ground.west < trees.x) & (trees.x < ground.east)
    upright = (ground.south < trees.y) & (trees.y < ground.north)
    shown = map_sheet.within(plan, ground)
    names = int((marked & across & upright).sum()) + len(shown.positions) + len(shown.trails)
    _, _, width, height = page.frame.map_pt
    return names * NAME_PT2 / (width * height)


def _details(plan: Plan, scale: int, area: str) -> list[MapPage]:
    """Lay out detail sheets, no more zoomed in than the names ask for."""
    scales = map_frames.detail_scales(scale, plan.area.settings.area.units)
    low, high = 0, len(scales) - 1
    tried: dict[int, list[MapPage]] = {}
    while low < high:
        middle = (low + high) // 2
        tried[middle] = _at_scale(plan, area, scales[middle])
        too_many = len(tried[middle]) > map_frames.MOST_TILES
        if too_many or _fits(plan, tried[middle], FAR_DETAIL):
            high = middle
        else:
            low = middle + 1
    return tried.get(low) or _at_scale(plan, area, scales[low])


def _at_scale(plan: Plan, area: str, scale: int) -> list[MapPage]:
    """Lay out detail sheets at a scale."""
    frame, windows = map_frames.tiles(plan, scale)
    return [
        MapPage(
            say("crew_map_detail", area=area, sheet=map_frames.letter(number)),
            frame,
            ground,
            numbered=True,
        )
        for number, ground in enumerate(windows)
    ]


def _fits(plan: Plan, pages: list[MapPage], far: float) -> bool:
    """Say whether all numbers and names find room, at most a share of them off their marks."""
    missing: set[str] = set()
    led = near = 0
    # the fullest first: where it has no room the others need not be tried
    for page in sorted(pages, key=lambda page: -_names_share(plan, page)):
        tried = map_sheet.trial(plan, page)
        missing.update(tried.positions)
        if tried.trees or len(missing) > MISSING_SHARE * len(plan.positions):
            return False
        led, near = led + tried.far, near + tried.near
    return led <= far * (led + near)


def _run(names: list[str]) -> str:
    """Name a run of sheets: A to D, or A alone."""
    return names[0] if len(names) == 1 else f"{names[0]}\N{EN DASH}{names[-1]}"
