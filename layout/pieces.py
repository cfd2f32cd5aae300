"""What is dragged to the landing as one: logs, small wood, stems or whole trees.

Where logs travel, stems are winched to the trail and bucked beside it; where trees travel
they stay whole, crown and all, unless the winch itself needs them in parts. No piece is
heavier than the largest load of its way out: a stem whose usual pieces are is cut shorter,
and one that no cut makes light enough gives no pieces. Every mass carries the weight error
of the settings.

A stem that is partly in stays as it was cut, whatever would be cut now.

Stems that stand in the way of trails come out while these are opened, marked or not.
Marked rub trees come last. Stems that are winched straight onto the landing are there
already: their way is empty and holds no load down.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.begun_stems import left_as_cut
from layout.bucking import SHORTEST_PULP_M, Bucked
from layout.findings import Finding
from layout.harvest import cut_up
from layout.records import Pull, RubTree, Trail, WinchPosition
from layout.site import Area, EarlierPiece
from layout.taper import stems
from layout.tree_sizes import TreeSizes
from layout.units import SHORT_TON_KG
from layout.work_records import CutShorter, Piece, PieceKind, Stage, Way

Floats = NDArray[np.float64]

LOAD_MOST_KG = SHORT_TON_KG  # what a stem of unknown weight counts as; ours
MOST_PARTS = 8  # such a stem is cut into; ours
MOST_CUTS = 40  # no stem holds more parts of 4 ft
LIMIT_NOISE = 1e-9  # share of a limit by which rounding may overstep it

ON_LANDING = Way("", 0.0, 0.0, math.inf, "", "", 0.0)


class WaysOut(Protocol):
    """Something that knows the way from any place on the trails, as `layout.hauling.Ways`."""

    def way(self, trail_id: str, at_m: float) -> Way:
        """Give the way from a station of a trail to the landing."""
        ...


@dataclass(frozen=True, slots=True)
class _Stem:
    """A tree that comes out, and from where."""

    row: int
    stage: Stage
    way: Way
    position_id: str
    parts: int  # it is winched in
    late: bool

    @property
    def limit_kg(self) -> float:
        return self.way.limit_kg * (1 + LIMIT_NOISE)


def pieces_of(
    area: Area,
    sizes: TreeSizes,
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    trails: Sequence[Trail],
    ways: WaysOut,
    rub_trees: Sequence[RubTree],
    trail_stems: NDArray[np.bool_],
) -> tuple[tuple[Piece, ...], tuple[CutShorter, ...]]:
    """Cut what comes out into pieces that can be dragged.

    Parameters
    ----------
    area : Area
        Its list and settings. What is out by ``trees.done`` and ``trees.done_pieces`` is
        left out.
    sizes : TreeSizes
        Of that list.
    positions, pulls, trails : sequences of WinchPosition, Pull, Trail
        The layout.
    ways : WaysOut
        What may be dragged from where.
    rub_trees : sequence of RubTree
        Those of kind ``marked`` come out last.
    trail_stems : ndarray of bool, shape (n,)
        Listed stems, marked or not, that come out when trails, turning places and landing
        are opened (`layout.ground.stems_in_trails`). They need no pull.

    Returns
    -------
    pieces : tuple of Piece
        In the order of the list, from the butt up. A stem of unknown weight counts as
        2,000 lb, in as many parts as that takes; its wood and lengths are 0.
    shorter : tuple of CutShorter
        Trees not cut as usual, in the order of the list; see `too_heavy`.
    """
    coming = list(_coming(area, positions, pulls, trails, ways, rub_trees, trail_stems))
    share = 1.0 + area.settings.timber.weight_error_pct / 100
    cutter = _Cutter(area, sizes, share, coming)
    begun = _Begun(area, sizes, share)
    made: list[Piece] = []
    shorter: list[CutShorter] = []
    for stem in coming:
        pieces, usual_kg = cutter.cut(stem)
        left = begun.left(stem, pieces)
        if left is not None:
            pieces, usual_kg = left, max(piece.mass_kg for piece in left)
        fits = all(piece.mass_kg <= stem.limit_kg for piece in pieces)
        if usual_kg > stem.limit_kg and (not fits or pieces[0].mass_known):
            shorter.append(
                CutShorter(
                    area.trees.tree_id[stem.row],
                    stem.position_id,
                    stem.way.limit_kg,
                    stem.way.limited_by,
                    usual_kg,
                    tuple(piece.length_m for piece in pieces) if fits else (),
                )
            )
        if fits:
            made += pieces
    out = area.trees.done_pieces
    return tuple(p for p in made if (p.tree_id, p.number) not in out), tuple(shorter)


def begun_findings(pieces: Sequence[Piece]) -> tuple[Finding, ...]:
    """Name the stems that are partly in and would now be cut otherwise.

    Parameters
    ----------
    pieces : sequence of Piece

    Returns
    -------
    tuple of Finding
        One at most.
    """
    trees = list(dict.fromkeys(piece.tree_id for piece in pieces if piece.as_before))
    if not trees:
        return ()
    names = ", ".join(trees[:12]) + (f" and {len(trees) - 12} more" if len(trees) > 12 else "")
    return (
        Finding(
            "begun_cut_otherwise",
            "caution",
            f"Partly in, and by the settings and sizes of now they would be cut otherwise: {names}."
            " What is left of them stays as the earlier plan cut it; look at what lies there, and "
            "tick a tree off itself once all of it is in.",
            "trees",
            trees[0],
            value=float(len(trees)),
            source="ours",
        ),
    )


def too_heavy(shorter: Sequence[CutShorter]) -> frozenset[str]:
    """Name the trees no cut makes light enough: nothing of them comes out."""
    return frozenset(cut.tree_id for cut in shorter if not cut.lengths_m)


def _coming(
    area: Area,
    positions: Sequence[WinchPosition],
    pulls: Sequence[Pull],
    trails: Sequence[Trail],
    ways: WaysOut,
    rub_trees: Sequence[RubTree],
    trail_stems: NDArray[np.bool_],
) -> Iterator[_Stem]:
    """Give what comes out, in the order of the list."""
    spot_of = {position.position_id: position for position in positions}
    pull_of = {pull.tree_id: pull for pull in pulls}
    rub_of = {rub.tree_id: rub for rub in rub_trees if rub.kind == "marked"}
    over = _carried_over(trails)
    stood = _stations(area, trails, np.flatnonzero(trail_stems))

    def way(trail_id: str, at_m: float) -> Way:
        return ways.way(trail_id, at_m) if trail_id else ON_LANDING

    for row, name in enumerate(area.trees.tree_id):
        if name in area.trees.done:
            continue
        if trail_stems[row]:
            yield _Stem(row, "open", way(*stood[row]), "", 1, late=False)
        elif name in pull_of:
            pull, rub = pull_of[name], rub_of.get(name)
            spot = spot_of[pull.position_id]
            waits = rub.cut_after if rub else ()
            late = any(
                spot.trail_id not in over[spot_of[other].trail_id]
                for other in waits
                if other in spot_of
            )
            stage: Stage = "rub" if rub else "harvest"
            place = way(spot.trail_id, spot.at_m)
            yield _Stem(row, stage, place, pull.position_id, pull.pieces, late)


def _carried_over(trails: Sequence[Trail]) -> dict[str, set[str]]:
    """Name for each trail the trails its loads come over, itself among them."""
    joins = {trail.trail_id: trail.joins_id for trail in trails}
    out: dict[str, set[str]] = {"": {""}}
    for name in joins:
        out[name] = set()
        here = name
        while here in joins:
            out[name].add(here)
            here = joins[here]
    return out


def _stations(
    area: Area, trails: Sequence[Trail], rows: NDArray[np.int64]
) -> Mapping[int, tuple[str, float]]:
    """Give the trail station nearest to each stem; no trail for those on the landing."""
    points = np.asarray(shapely.points(area.trees.x[rows], area.trees.y[rows]))
    yard = area.yard
    inside = np.zeros(rows.size, dtype=bool) if yard is None else shapely.intersects(yard, points)
    out: dict[int, tuple[str, float]] = {}
    for row, point, on_landing in zip(rows.tolist(), points, inside, strict=True):
        if on_landing or not trails:
            out[row] = ("", 0.0)
            continue
        near = min(trails, key=lambda t: (round(t.line.distance(point), 6), t.trail_id))
        out[row] = (near.trail_id, float(near.line.project(point)))
    return out


class _Begun:
    """Stems some of whose pieces are in, as the earlier plan cut them."""

    def __init__(self, area: Area, sizes: TreeSizes, share: float) -> None:
        self.names, self.sizes, self.share = area.trees.tree_id, sizes, share
        self.done: dict[str, set[int]] = {}
        for tree, number in area.trees.done_pieces:
            self.done.setdefault(tree, set()).add(number)
        self.before: dict[str, list[EarlierPiece]] = {}
        for piece in area.earlier.pieces if area.earlier is not None else ():
            self.before.setdefault(piece.tree_id, []).append(piece)

    def left(self, stem: _Stem, pieces: Sequence[Piece]) -> list[Piece] | None:
        """Give what is left of a stem as it was cut; None where it is cut so now."""
        name = self.names[stem.row]
        done = self.done.get(name)
        if not done or not pieces:
            return None
        wood = float(self.sizes.stem_m3[stem.row])
        kg = float(self.sizes.mass_kg[stem.row]) * self.share
        return left_as_cut(
            pieces, self.before.get(name, ()), done, stem.limit_kg,
            kg / wood if wood > 0 else math.nan, SHORTEST_PULP_M,
        )  # fmt: skip


class _Cutter:
    """Cuts stems into pieces."""

    def __init__(self, area: Area, sizes: TreeSizes, share: float, coming: Sequence[_Stem]) -> None:
        self.area, self.sizes, self.share = area, sizes, share
        self.whole = area.settings.work.extract == "tree"
        self.usual: _Bucked | None = None
        self.light: _Bucked | None = None
        if self.whole:
            return
        self.usual = _Bucked(cut_up(area, sizes))
        most = np.full(len(area.trees), np.inf)
        for stem in coming:
            if self.usual.heaviest_kg(stem.row) * share > stem.limit_kg:
                most[stem.row] = stem.way.limit_kg / share
        if np.isfinite(most).any():
            self.light = _Bucked(cut_up(area, sizes, most))

    def cut(self, stem: _Stem) -> tuple[list[Piece], float]:
        """Give the pieces of a stem, and the mass of the heaviest of its usual ones."""
        mass = float(self.sizes.mass_kg[stem.row]) * self.share
        if math.isnan(mass):
            return self._unknown(stem), LOAD_MOST_KG
        if self.usual is not None and self.usual.rows(stem.row):
            usual_kg = self.usual.heaviest_kg(stem.row) * self.share
            bucked = self.light if self.light and usual_kg > stem.limit_kg else self.usual
            return self._bucked(stem, bucked), usual_kg
        parts = max(1, stem.parts if self.whole else 1)
        return self._parted(stem, mass, parts), mass / parts

    def _bucked(self, stem: _Stem, bucked: "_Bucked") -> list[Piece]:
        """Give logs and small wood."""
        cut = bucked.cut.pieces
        return [
            self._piece(
                stem,
                int(cut.number[k]),
                "sawlog" if cut.is_log[k] else "pulp",
                float(cut.length_m[k]),
                float(cut.wood_m3[k]),
                float(cut.mass_kg[k]) * self.share,
            )
            for k in bucked.rows(stem.row)
        ]

    def _parted(self, stem: _Stem, mass_kg: float, parts: int) -> list[Piece]:
        """Give a stem or tree whole, or in parts of one mass, as few as are light enough.

        A stem comes whole as well where it gives neither a log nor small wood: it is in
        the plan to be brought out.
        """
        lengths = self._lengths(stem.row, parts)
        if mass_kg / parts > stem.limit_kg and mass_kg <= stem.limit_kg * MOST_CUTS:
            shorter = self._lengths(stem.row, math.ceil(mass_kg / stem.limit_kg))
            if min(shorter) >= SHORTEST_PULP_M:  # else it stays as it is, too heavy
                lengths, parts = shorter, len(shorter)
        kind: PieceKind = "tree" if self.whole and parts == 1 else "stem"
        wood = float(self.sizes.stem_m3[stem.row]) / parts
        return [
            self._piece(stem, n, kind, length, wood, mass_kg / parts)
            for n, length in enumerate(lengths, start=1)
        ]

    def _lengths(self, row: int, parts: int) -> list[float]:
        """Give the lengths of parts that hold as much wood each, from the butt up."""
        trees = self.area.trees
        height = float(self.sizes.heights.height_m[row])
        if parts == 1:
            return [height - self.area.settings.timber.stump_height_m]
        one = stems([trees.species[row]], [trees.dbh_cm[row]], [height])
        each = one.only(np.zeros(parts, dtype=np.int64))
        tops = each.height_at_wood_m3(each.wood_m3 * np.arange(1, parts + 1) / parts)
        return [float(length) for length in np.diff(tops, prepend=0.0)]

    def _unknown(self, stem: _Stem) -> list[Piece]:
        """Give a stem of unknown weight, heavy and by itself."""
        parts = 1
        while LOAD_MOST_KG / parts > stem.limit_kg and parts < MOST_PARTS:
            parts += 1
        kind: PieceKind = "tree" if self.whole and parts == 1 else "stem"
        return [
            self._piece(stem, n, kind, 0.0, 0.0, LOAD_MOST_KG / parts, known=False)
            for n in range(1, parts + 1)
        ]

    def _piece(
        self,
        stem: _Stem,
        number: int,
        kind: PieceKind,
        length_m: float,
        wood_m3: float,
        mass_kg: float,
        *,
        known: bool = True,
    ) -> Piece:
        return Piece(
            tree_id=self.area.trees.tree_id[stem.row],
            number=number,
            kind=kind,
            stage=stem.stage,
            trail_id=stem.way.trail_id,
            at_m=stem.way.at_m,
            position_id=stem.position_id,
            length_m=length_m,
            wood_m3=wood_m3,
            mass_kg=mass_kg,
            way=stem.way,
            mass_known=known,
            late=stem.late,
        )


class _Bucked:
    """Bucked trees, looked up one by one."""

    def __init__(self, cut: Bucked) -> None:
        self.cut = cut
        self._first = np.searchsorted(cut.pieces.tree, np.arange(len(cut.logs) + 1))

    def rows(self, tree: int) -> range:
        """Give the rows of a tree's pieces."""
        return range(int(self._first[tree]), int(self._first[tree + 1]))

    def heaviest_kg(self, tree: int) -> float:
        """Give the green mass of a tree's heaviest piece; 0 without any."""
        rows = self.rows(tree)
        return float(self.cut.pieces.mass_kg[rows.start : rows.stop].max(initial=0.0))
