"""A stand in parts, and several landings: which landing serves what, and what none can reach.

Each part that holds marked trees is served from a landing that trails can lead to it
from. A part no trail gets into from there is looked at by itself: where a place in it
can hold a landing it gets one of its own, and where none can it is told. A tree is
laid out for from the landing it has the shortest way to; the choice of spurs may still
serve it from another.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from layout import landing
from layout.beginning import begun
from layout.errors import InputError
from layout.findings import Finding
from layout.naming import main_names
from layout.reach import Scene, comes_into, from_site, metres_out, of_trees, scene
from layout.records import Landing, TreeOutcome
from layout.settings import Limits
from layout.site import Area, FurtherLanding, Trees
from layout.sites import propose, proposed
from layout.speech import speak_area
from layout.standing import FIRST, landing_by_trail
from layout.terrain import Terrain
from layout.water import Strips

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

PLACES = 6  # for a part's own landing, the best that serves more than is served without
MOST_NAMED = 6
WAYS_OUT = (
    "draw a landing in that part of the stand",
    "ground in may_use that leads to that part",
)


@dataclass(frozen=True, slots=True, eq=False)
class Share:
    """What is laid out for from one landing.

    Parameters
    ----------
    site : Landing
    main_id : str
        How its main trail is called.
    area : Area
        The job as it is from this landing alone: no other landing, and no marked trees
        but those it serves.
    """

    site: Landing
    main_id: str
    area: Area


@dataclass(frozen=True, slots=True, eq=False)
class Parted:
    """A job with all its landings settled.

    Parameters
    ----------
    area : Area
        With every landing, and what there is to say of parts and landings.
    sites : tuple of Landing
        All of them, the first one first.
    shares : tuple of Share
        Of those a main trail is wanted from; never empty.
    lost : dict of str to str
        Trees of parts nothing gets to, each with the name of its part.
    """

    area: Area
    sites: tuple[Landing, ...]
    shares: tuple[Share, ...]
    lost: dict[str, str]


def parted(
    area: Area,
    terrain: Terrain,
    strips: Strips,
    opened: BaseGeometry,
    limits: Limits,
    tell: Callable[[str], None],
) -> Parted:
    """Settle the landings of a job, and what is laid out for from each.

    Parameters
    ----------
    area, terrain, strips, limits : Area, Terrain, Strips, Limits
        The job, with a landing at least.
    opened : shapely geometry
        Ground a machine may stand on.
    tell : callable
        Told a line now and then.

    Returns
    -------
    Parted
        A job of one part and one landing is given back as it is.
    """
    pieces = list(area.stand.geoms)
    if len(pieces) == 1 and not area.more_landings:
        sites = landing.measured(area, terrain, strips)
        return Parted(area, sites, (Share(sites[0], "M", area),), {})
    tell("looking which part is served from where")
    job = _Job(area, terrain, strips, opened, limits, pieces)
    job.own_landings()
    return job.done()


class _Job:
    """Landings and parts while they are brought together."""

    def __init__(
        self,
        area: Area,
        terrain: Terrain,
        strips: Strips,
        opened: BaseGeometry,
        limits: Limits,
        pieces: Sequence[Polygon],
    ) -> None:
        self.area, self.terrain, self.strips, self.limits = area, terrain, strips, limits
        self.opened, self.pieces = opened, pieces
        width_m = area.settings.trails.width_main_m
        self.given: Scene = scene(area, terrain, strips, limits, width_m=width_m, opened=opened)
        self.rows = np.flatnonzero(area.trees.to_serve)
        points = np.asarray(shapely.points(area.trees.x[self.rows], area.trees.y[self.rows]))
        gaps = np.array([shapely.distance(piece, points) for piece in pieces])
        self.part: NDArray[np.int64] = (
            gaps.argmin(axis=0) if self.rows.size else np.zeros(0, dtype=np.int64)
        )
        self.found: list[Finding] = []
        self.lost: dict[str, str] = {}
        self.out_m: list[Floats] = []  # way to each tree from each landing; infinite: none
        self.into: list[Flags] = []  # whether trails from each landing come into each part
        for shape in area.landings:
            self._look(shape)

    def _look(self, shape: Polygon) -> None:
        """Say what trails from a landing could come to."""
        reached = from_site(self.given, shape)
        by_row = np.full(len(self.area.trees), np.inf)
        by_row[self.given.pulls.marked] = metres_out(self.given, reached)
        self.out_m.append(by_row[self.rows])
        self.into.append(
            np.array(
                [
                    bool(piece.intersects(shape)) or comes_into(self.given, reached, piece)
                    for piece in self.pieces
                ],
                dtype=bool,
            )
        )

    def called(self, n: int) -> str:
        """Name a part so that people find it."""
        piece, units = self.pieces[n], self.area.settings.area.units
        spot = piece.representative_point()
        return (
            f"Part {n + 1} of the stand ({speak_area(float(piece.area), units)} round "
            f"[{spot.x:.0f}, {spot.y:.0f}])"
        )

    def own_landings(self) -> None:
        """Give a landing of its own to each part that cannot be reached, most trees first."""
        counts = np.bincount(self.part, minlength=len(self.pieces))
        for n in sorted(range(len(self.pieces)), key=lambda n: (-counts[n], n)):
            if not counts[n] or any(into[n] for into in self.into):
                continue
            shape = self._place_for(n)
            if shape is None:
                self._give_up(n)
            else:
                self._add(shape)
        empty = [n for n in range(len(self.pieces)) if not counts[n]]
        if empty and len(self.pieces) > 1:
            self._unmarked(empty)

    def _place_for(self, n: int) -> Polygon | None:
        """Find a place for a part's own landing that serves more of it than is served now."""
        area, mine = self.area, self.rows[self.part == n]
        marked = np.zeros(len(area.trees), dtype=bool)
        marked[mine] = True
        own = replace(
            area,
            stand=MultiPolygon([self.pieces[n]]),
            trees=_only(area, marked),
            landing=None,
            more_landings=(),
            main_trail=None,
            main_fixed=None,
            keep_out=(*area.keep_out, *area.landings),
        )
        seen = of_trees(self.given, np.flatnonzero(marked[self.given.pulls.marked]))
        now = int(np.isfinite(np.min(self.out_m, axis=0))[self.part == n].sum())
        sites = propose(own, self.terrain, self.strips, self.limits, PLACES, given=seen)
        good = [site for site in sites if site.trees > now]
        while good and not self._leads_away(replace(own, landing=good[0].shape)):
            del good[0]
        if not good:
            return None
        name = f"L{len(self.area.landings) + 1}"
        told = proposed(area, (good[0], *good[1:]))
        self.found.append(
            replace(
                told,
                message=f"{self.called(n)} cannot be reached from the other landings and gets "
                f"{name}. {told.message}",
                subject_id=name,
            )
        )
        return good[0].shape

    def _leads_away(self, area: Area) -> bool:
        """Tell whether a main trail gets away from a proposed landing."""
        try:
            begun(area, self.terrain, self.strips, self.opened, self.limits, lambda line: None)
        except InputError:
            return False
        return True

    def _add(self, shape: Polygon) -> None:
        """Put a landing behind the others."""
        count = len(self.area.landings) + 1
        further = FurtherLanding(f"L{count}", shape, main_names(count, self.area.earlier)[-1])
        self.area = replace(self.area, more_landings=(*self.area.more_landings, further))
        self._look(shape)

    def _give_up(self, n: int) -> None:
        """Say that nothing gets to a part."""
        area = self.area
        names = [area.trees.tree_id[row] for row in self.rows[self.part == n]]
        self.lost |= dict.fromkeys(names, self.called(n))
        size = speak_area(area.settings.landing.area_m2, area.settings.area.units)
        trees = "1 marked tree" if len(names) == 1 else f"{len(names)} marked trees"
        spot = self.pieces[n].representative_point()
        self.found.append(
            Finding(
                "part_unreached",
                "caution",
                f"{self.called(n)}, {trees}: no trail within the limits comes there from a "
                f"landing, and no place was found there for one of {size} that a trail gets away "
                "from. Draw a landing for it, or give ground in may_use that leads there.",
                "stand",
                f"part {n + 1}",
                value=float(len(names)),
                source="ours",
                at=(spot.x, spot.y),
            )
        )

    def _unmarked(self, empty: Sequence[int]) -> None:
        """Name the parts nothing is planned in."""
        names = "; ".join(self.called(n) for n in empty[:MOST_NAMED])
        more = f"; and {len(empty) - MOST_NAMED} more" if len(empty) > MOST_NAMED else ""
        spot = self.pieces[empty[0]].representative_point()
        self.found.append(
            Finding(
                "part_unmarked",
                "ok",
                f"{names}{more}: no marked tree is left to bring out there; nothing is planned "
                "for it.",
                "stand",
                f"part {empty[0] + 1}",
                value=float(len(empty)),
                source="ours",
                at=(spot.x, spot.y),
            )
        )

    def _served_by(self) -> NDArray[np.int64]:
        """Give each tree its landing; -1 for those of parts nothing gets to."""
        out_m = np.array(self.out_m).reshape(len(self.out_m), self.rows.size)
        into = np.array(self.into)[:, self.part] if self.rows.size else np.zeros(out_m.shape, bool)
        # the shortest way; without any the first landing whose trails come into its part
        nearest = out_m.argmin(axis=0)
        return np.where(
            np.isfinite(out_m.min(axis=0)),
            nearest,
            np.where(into.any(axis=0), into.argmax(axis=0), -1),
        )

    def done(self) -> Parted:
        """Share the trees out."""
        area = self.area
        served_by = self._served_by() if self.rows.size else np.zeros(0, dtype=np.int64)
        sites = landing.measured(area, self.terrain, self.strips)
        there = _on_the_ground(area)
        shares = []
        for k, site in enumerate(sites):
            main_id, main, walked_m = _main_of(area, k)
            mine = self.rows[served_by == k]
            drawn = main is not None or (k == 0 and area.main_fixed is not None)
            if site.landing_id in there and not drawn:
                continue
            if not (mine.size or drawn or len(sites) == 1):
                self.found.append(_unused(site))
                continue
            marked = np.zeros(len(area.trees), dtype=bool)
            marked[mine] = True
            alone = replace(
                area,
                landing=site.shape,
                more_landings=(),
                main_trail=main,
                main_fixed=area.main_fixed if k == 0 else None,
                main_walked_m=walked_m,
                trees=_only(area, marked),
            )
            shares.append(Share(site, main_id, alone))
        if not shares:
            shares.append(Share(sites[0], "M", replace(area, more_landings=())))
        area = replace(area, findings=(*area.findings, *self.found))
        return Parted(area, sites, tuple(shares), self.lost)


def with_lost(trees: Sequence[TreeOutcome], lost: Mapping[str, str]) -> tuple[TreeOutcome, ...]:
    """Say of the trees of parts nothing gets to that this is why they stay.

    Parameters
    ----------
    trees : sequence of TreeOutcome
    lost : mapping of str to str
        Trees, each with the name of its part (`Parted.lost`).

    Returns
    -------
    tuple of TreeOutcome
        In the same order; what is served all the same stays so.
    """
    stays = ("served", "with_trail", "leave", "outside", "done", "too_heavy")
    return tuple(
        replace(
            one, status="no_trail", shortfall=None, shortfall_unit="", remedies=WAYS_OUT,
            marginal_m2=None, marginal_trail_m=None,
        )
        if one.tree_id in lost and one.status not in stays
        else one
        for one in trees
    )  # fmt: skip


def _main_of(area: Area, k: int) -> tuple[str, LineString | None, float | None]:
    """Give name, drawn line and walked error of a landing's main trail."""
    if k == 0:
        return "M", area.main_trail, area.main_walked_m
    further = area.more_landings[k - 1]
    return further.main_id, further.main, further.main_walked_m


def _on_the_ground(area: Area) -> set[str]:
    """Name the landings that a trail kept as it is leads to."""
    leads_to = landing_by_trail(area)
    return {leads_to.get(fixed.trail_id, FIRST) for fixed in area.fixed if not fixed.joins_id}


def _only(area: Area, marked: Flags) -> Trees:
    """Give the tree list with some trees marked alone; the others neither draw nor hinder."""
    trees = area.trees
    gone = trees.marked & ~marked
    hazard = tuple("" if out else kind for out, kind in zip(gone, trees.hazard, strict=True))
    return replace(trees, marked=marked, hazard=hazard)


def _unused(site: Landing) -> Finding:
    return Finding(
        "landing_unused",
        "caution",
        f"Landing {site.landing_id}: no marked tree has its shortest way to it, so no main trail "
        "is laid out from it. Take it out, or draw a main trail from it.",
        "landing",
        site.landing_id,
        source="ours",
        at=(site.x, site.y),
    )
