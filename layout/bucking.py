"""Standing trees cut into logs on paper: lengths, small ends, volumes, weights.

From the stump up, the first length of the user's list that still fits under the
sawlog top is cut, again and again; what is left up to the pulp top is small wood.
Every piece is weighed with its trim, for that is what the winch pulls; board feet
are of the nominal length, for that is what is paid. Wood is taken from the volume
equations, so that stump, pieces, saw cuts and top add up to the whole stem.

Where no piece of a tree may weigh more than can be dragged, the first length of the list
that is light enough is cut, after the list its shortest halved again and again down to
4 ft; small wood is cut into sticks of about one mass, as few as that takes.

What a taper cannot see (forks, sweep, rot) makes these figures high: a counted
number of logs cuts the sawlog part short, and a share of defect is taken off.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from layout.errors import InputFaults
from layout.log_rules import BOARD_RULES, board_feet
from layout.settings.work_tables import TimberTable
from layout.species import species_table
from layout.stem_sizes import LOG_FT, check_stems
from layout.taper import Stems, stems
from layout.units import FOOT_M

Floats = NDArray[np.float64]

SHORTEST_PULP_M = 4 * FOOT_M  # a stick of pulpwood; common practice, no source
NOISE_M = 1e-6  # a log that fits to the micrometre fits


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Logs and small wood, tree by tree from the stump up; arrays have shape (k,).

    Parameters
    ----------
    tree : ndarray of int
        Row of the tree in the list handed in.
    number : ndarray of int
        1 for the butt piece of each tree.
    is_log : ndarray of bool
        True for a sawlog, False for small wood.
    from_m, to_m : ndarray of float
        Height of both cuts above ground, metres; trim included.
    length_m : ndarray of float
        Nominal length of a log without trim; of small wood, its whole length.
    small_end_cm, large_end_cm : ndarray of float
        Diameters inside bark at both cuts, centimetres.
    gross_bf, net_bf : ndarray of float
        Board feet of logs by the settings' rule, before and after defect; NaN where
        there is no board-foot rule, 0 for small wood.
    wood_m3 : ndarray of float
        Wood inside bark, trim included, defect not taken off, cubic metres.
    mass_kg : ndarray of float
        Green, with bark where the settings say so; defect not taken off, kilograms.
    """

    tree: NDArray[np.int64]
    number: NDArray[np.int64]
    is_log: NDArray[np.bool_]
    from_m: Floats
    to_m: Floats
    length_m: Floats
    small_end_cm: Floats
    large_end_cm: Floats
    gross_bf: Floats
    net_bf: Floats
    wood_m3: Floats
    mass_kg: Floats

    def __len__(self) -> int:
        """Count the pieces."""
        return int(self.tree.size)


@dataclass(frozen=True, slots=True, eq=False)
class Bucked:
    """What a list of trees gives; arrays have shape (n,), NaN where a tree is not known.

    Parameters
    ----------
    log_rule : str
        Whose board feet these are; ``cubic`` or empty where there are none.
    pieces : Pieces
        Every piece of every tree.
    logs : ndarray of float
        Sawlogs of each tree.
    gross_bf, net_bf : ndarray of float
        Board feet before and after defect; NaN where there is no board-foot rule.
    saw_m3, saw_net_m3 : ndarray of float
        Wood in sawlogs before and after defect, cubic metres.
    pulp_m3 : ndarray of float
        Small wood, cubic metres; no defect is taken off it.
    left_m3 : ndarray of float
        Stump, saw cuts and top, which stay in the woods, cubic metres.
    pieces_kg : ndarray of float
        Green mass of what is brought out, kilograms.
    """

    log_rule: str
    pieces: Pieces
    logs: Floats
    gross_bf: Floats
    net_bf: Floats
    saw_m3: Floats
    saw_net_m3: Floats
    pulp_m3: Floats
    left_m3: Floats
    pieces_kg: Floats


def buck(
    species: Sequence[str],
    dbh_cm: ArrayLike,
    height_m: ArrayLike,
    timber: TimberTable,
    *,
    logs: ArrayLike = np.nan,
    defect_pct: ArrayLike = np.nan,
    most_kg: ArrayLike = np.inf,
    rows: Sequence[str] = (),
) -> Bucked:
    """Cut standing trees into the settings' log lengths.

    Parameters
    ----------
    species : sequence of str, length n
        Common names or codes.
    dbh_cm, height_m : array_like of float, shape (n,)
        Diameter at breast height, centimetres, and total height, metres: measured, or
        filled by `layout.heights.fill_heights`.
    timber : TimberTable
        Rule, log lengths in order of preference, trim, kerf, stump, top diameters,
        smallest DBH by kind, defect, weights with bark.
    logs : array_like of float, shape (n,) or scalar
        Counted 16-ft logs: no sawlog is cut above them. NaN: not counted.
    defect_pct : array_like of float, shape (n,) or scalar
        Percent of the sawlogs lost to rot and crook; NaN takes the settings' share.
    most_kg : array_like of float, shape (n,) or scalar
        Green mass that no piece of the tree should be over, kilograms; infinite: cut as
        usual. Where even 4-ft sticks are heavier the pieces are over it.
    rows : sequence of str, length n
        How messages call each stem.

    Returns
    -------
    Bucked
        The order of the list makes no difference to any tree.

    Raises
    ------
    InputFaults
        As in `check_stems`, and for defects outside 0 to 100 %.
    """
    dbh, height, counted = check_stems(dbh_cm, height_m, logs, rows=rows)
    lost = _defect(defect_pct, dbh.shape, timber, rows)
    standing = stems(species, dbh, height)
    limit = np.broadcast_to(np.asarray(most_kg, dtype=float), dbh.shape)
    cuts = _cuts(standing, counted, limit, timber)
    pieces = _pieces(standing, cuts, lost, timber)
    known = np.isfinite(standing.wood_m3)

    def per_tree(of_piece: Floats) -> Floats:
        total = np.bincount(pieces.tree, weights=of_piece, minlength=len(standing))
        return np.where(known, total, np.nan)

    saw, pulp = pieces.wood_m3 * pieces.is_log, pieces.wood_m3 * ~pieces.is_log
    ruled = timber.rule in BOARD_RULES
    none = np.full(dbh.shape, np.nan)
    return Bucked(
        log_rule=timber.rule,
        pieces=pieces,
        logs=per_tree(pieces.is_log.astype(float)),
        gross_bf=per_tree(pieces.gross_bf) if ruled else none,
        net_bf=per_tree(pieces.net_bf) if ruled else none,
        saw_m3=per_tree(saw),
        saw_net_m3=per_tree(saw) * (1.0 - lost),
        pulp_m3=per_tree(pulp),
        left_m3=standing.wood_m3 - per_tree(pieces.wood_m3),
        pieces_kg=per_tree(pieces.mass_kg),
    )


def _defect(
    defect_pct: ArrayLike, shape: tuple[int, ...], timber: TimberTable, rows: Sequence[str]
) -> Floats:
    """Give the share of the sawlogs that is lost."""
    given = np.broadcast_to(np.asarray(defect_pct, dtype=float), shape)
    bad = np.flatnonzero((given < 0) | (given > 100)).tolist()
    if bad:
        raise InputFaults(
            [
                f"{rows[at] if len(rows) else f'stem {at + 1}'}: a defect of {given[at]:g} % is "
                "not 0 to 100 %"
                for at in bad[:20]
            ]
        )
    return np.asarray(np.where(np.isnan(given), timber.defect_pct, given) / 100.0)


@dataclass(frozen=True, slots=True, eq=False)
class _Cuts:
    """Where each piece begins and ends; arrays have shape (k,)."""

    tree: NDArray[np.int64]
    is_log: NDArray[np.bool_]
    from_m: Floats
    to_m: Floats
    length_m: Floats


def _cuts(standing: Stems, counted: Floats, most_kg: Floats, timber: TimberTable) -> _Cuts:
    """Cut every tree at once, log after log."""
    n = len(standing)
    softwood = np.array([s.kind == "softwood" for s in species_table()])[standing.row]
    least = timber.min_sawlog_dbh
    sawn = standing.dbh_cm >= 100 * np.where(softwood, least.softwood_m, least.hardwood_m) - 1e-9
    top = standing.height_at_dib_m(100 * timber.top_diameter_m)
    held = np.isfinite(most_kg)
    density = _density(standing, timber)
    lengths = timber.log_lengths_m
    halves = _halved(min(lengths)) if lengths and held.any() else ()
    # Two 8-ft logs cut from one counted 16-ft log have two trims.
    shortest = np.full(n, min(lengths, default=LOG_FT * FOOT_M))
    if halves:
        shortest = np.where(held, halves[-1], shortest)
    trimmed = 1.0 + (timber.trim_m + timber.kerf_m) / shortest
    tallied = timber.stump_height_m + counted * LOG_FT * FOOT_M * trimmed
    top = np.where(sawn, np.fmin(top, tallied), 0.0)
    at = np.full(n, timber.stump_height_m)
    found: list[_Cuts] = []
    while lengths:
        length = np.full(n, np.nan)
        room = at + min(lengths) + timber.trim_m <= top + NOISE_M
        below = standing.wood_below_m3(at)
        for nominal in (*lengths, *halves):
            end = at + nominal + timber.trim_m
            fits = np.isnan(length) & (end <= top + NOISE_M)
            if held.any():
                fits &= ~held | ((standing.wood_below_m3(end) - below) * density <= most_kg)
            if nominal in halves:
                fits &= held & room  # for its weight, not to use up the rest
            length = np.where(fits, nominal, length)
        cut = np.flatnonzero(np.isfinite(length))
        if not cut.size:
            break
        end = at + length + timber.trim_m
        found.append(_Cuts(cut, np.ones(cut.size, dtype=bool), at[cut], end[cut], length[cut]))
        at = np.where(np.isfinite(length), end + timber.kerf_m, at)
    if timber.pulp_top_m > 0:
        top = standing.height_at_dib_m(100 * timber.pulp_top_m)
        cut = np.flatnonzero(top - at >= SHORTEST_PULP_M - NOISE_M)
        found.append(
            _small_wood(
                standing.only(cut), cut, at[cut], top[cut], most_kg[cut] / density[cut], timber
            )
        )
    if not found:
        nothing = np.empty(0)
        return _Cuts(nothing.astype(np.int64), nothing.astype(bool), nothing, nothing, nothing)
    joined = [np.concatenate([getattr(c, f.name) for c in found]) for f in fields(_Cuts)]
    order = np.lexsort((joined[2], joined[0]))
    return _Cuts(*(column[order] for column in joined))


def _halved(length_m: float) -> tuple[float, ...]:
    """Halve a log length again and again, down to the shortest stick."""
    out = []
    while length_m > SHORTEST_PULP_M + NOISE_M:
        length_m = max(length_m / 2, SHORTEST_PULP_M)
        out.append(length_m)
    return tuple(out)


def _small_wood(
    own: Stems,
    tree: NDArray[np.int64],
    at: Floats,
    top: Floats,
    most_m3: Floats,
    timber: TimberTable,
) -> _Cuts:
    """Cut what is above the sawlogs into sticks, as few as are light enough."""
    start, end = [at], [top]  # of each stick, from the lowest up; NaN where there is none
    for n in itertools.count(2):
        lowest = own.wood_below_m3(end[0]) - own.wood_below_m3(at)
        heavy = lowest > most_m3
        if not heavy.any():
            break
        cuts = _parted(own, at, top, n, timber.kerf_m)
        again = heavy & (top - cuts[-1] - timber.kerf_m >= SHORTEST_PULP_M - NOISE_M)
        if not again.any():
            break
        none = np.full(at.shape, np.nan)
        start, end = [*start, none], [*end, none]
        for k in range(n):
            begin = at if k == 0 else cuts[k - 1] + timber.kerf_m
            start[k] = np.where(again, begin, start[k])
            end[k] = np.where(again, top if k == n - 1 else cuts[k], end[k])
    rows = [np.flatnonzero(np.isfinite(s)) for s in start]
    row = np.concatenate(rows)
    begin = np.concatenate([s[r] for s, r in zip(start, rows, strict=True)])
    stop = np.concatenate([e[r] for e, r in zip(end, rows, strict=True)])
    return _Cuts(tree[row], np.zeros(row.size, dtype=bool), begin, stop, stop - begin)


def _parted(own: Stems, at: Floats, top: Floats, parts: int, kerf_m: float) -> list[Floats]:
    """Give the heights of the cuts that make parts of one mass, none too short to choke.

    The lower a part of one mass is the shorter it is: the lowest ones may be of the least
    length, and heavier ones lie above none of them.
    """
    cuts: list[Floats] = []
    begin = at
    for left in range(parts, 1, -1):
        below = own.wood_below_m3(begin)
        even = own.height_at_wood_m3(below + (own.wood_below_m3(top) - below) / left)
        cuts.append(np.maximum(even, begin + SHORTEST_PULP_M))
        begin = cuts[-1] + kerf_m
    return cuts


def _density(standing: Stems, timber: TimberTable) -> Floats:
    """Give the green mass of a cubic metre of each tree's wood, kilograms."""
    density = np.array([s.green_kg_per_m3(with_bark=timber.bark) for s in species_table()])
    return np.asarray(density[standing.row])


def _pieces(standing: Stems, cuts: _Cuts, lost: Floats, timber: TimberTable) -> Pieces:
    """Measure and weigh what was cut."""
    tree = cuts.tree
    own = standing.only(tree)
    first = np.searchsorted(tree, tree)  # where this tree's pieces begin
    small = own.dib_cm(cuts.to_m)
    wood = own.wood_below_m3(cuts.to_m) - own.wood_below_m3(cuts.from_m)
    if timber.rule == "cubic" or timber.rule == "":
        gross = np.where(cuts.is_log, np.nan, 0.0)
    else:
        scaled = board_feet(timber.rule, small[cuts.is_log], cuts.length_m[cuts.is_log])
        gross = np.zeros(tree.size)
        gross[cuts.is_log] = scaled
    return Pieces(
        tree=tree,
        number=np.arange(tree.size) - first + 1,
        is_log=cuts.is_log,
        from_m=cuts.from_m,
        to_m=cuts.to_m,
        length_m=cuts.length_m,
        small_end_cm=small,
        large_end_cm=own.dib_cm(cuts.from_m),
        gross_bf=gross,
        net_bf=gross * (1.0 - lost[tree]),
        wood_m3=wood,
        mass_kg=wood * _density(own, timber),
    )
