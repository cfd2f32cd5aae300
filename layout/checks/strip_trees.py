"""Marked trees in water strips, held against what the strip's rule lets be cut.

A rule may keep a core without cutting, keep the trees at the bank, and say in words
what else must stay. Numbers are checked; words are set beside what is marked, for the
owner to hold against each other. A rule that is silent allows nothing by that.

A marked tree that surely stands in a core without cutting, by the error of its place,
is a stop where the row is law or rule; all else is a caution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from layout.findings import Finding, Level
from layout.grid import bilinear
from layout.site import Area, WaterFeature
from layout.speech import speak_length
from layout.stocking import basal_area_m2
from layout.strip_widths import UNVERIFIED, Asked, asked_of, chosen_rules
from layout.table_cells import listed
from layout.terrain import Terrain
from layout.units import FOOT_M
from layout.water import bank_shape
from layout.water_rules import BINDING, Row, as_map, row_width_ft, rows_at

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

BANK_TREES_M = 10 * FOOT_M  # how near a tree stands "at the bank", where a rule keeps those; ours
LEAST_RUN_M = 0.5  # a slope is not read over less


def check(area: Area, terrain: Terrain) -> list[Finding]:
    """Find the marked trees that stand in a water strip.

    Parameters
    ----------
    area : Area
        The job; trees still to be cut count.
    terrain : Terrain
        Its ground, for the slope between tree and water.

    Returns
    -------
    list of Finding
        For each water body up to four: trees in the core without cutting, those of a
        law or rule by themselves; trees at the bank; and what is marked in the strip
        beside the rule's own words.
    """
    found: list[Finding] = []
    for body, near in _bodies(area, terrain):
        found += _core(area, body, near) + _bank(area, body, near) + _strip(area, body, near)
    return found


@dataclass(frozen=True, slots=True)
class Claim:
    """What one water strip says of one marked tree.

    Parameters
    ----------
    tree_id, water_id : str
        The tree, and the water whose strip it may stand in.
    what : {"core", "bank", "words", "silent"}
        Nothing may be cut there; trees at the bank must stay; its rule says in words
        what must stay; or it does not say what may be cut.
    """

    tree_id: str
    water_id: str
    what: Literal["core", "bank", "words", "silent"]


def claims(area: Area, terrain: Terrain) -> list[Claim]:
    """Say of each marked tree in a water strip what the strip's rule lets be done with it.

    Parameters
    ----------
    area : Area
        The job; trees still to be cut count.
    terrain : Terrain
        Its ground.

    Returns
    -------
    list of Claim
        Water by water; of one water only what asks most of a tree.
    """
    found: list[Claim] = []
    for body, near in _bodies(area, terrain):
        reaches = (near.core_m, _bank_reach(near), np.maximum(near.width_m, 0.0))
        core, bank, strip = (set(_within(area, near, far)[0].tolist()) for far in reaches)
        for row in sorted(core | bank | strip):
            what: Literal["core", "bank", "words", "silent"] = "silent"
            if row in core:
                what = "core"
            elif row in bank:
                what = "bank"
            elif near.row[row].retention:
                what = "words"
            found.append(Claim(area.trees.tree_id[row], body.feature_id, what))
    return found


def _bodies(area: Area, terrain: Terrain) -> Iterator[tuple[WaterFeature, _Near]]:
    """Give each water with a strip, and how the listed trees lie to it."""
    if not area.water or not area.trees.to_serve.any():
        return
    rules, _ = chosen_rules(area)
    for body in area.water:
        if body.water_class != "well":  # what is kept round a well is kept from machines
            asked, _ = asked_of(body, rules)
            yield body, _near(area, terrain, body, asked)


@dataclass(frozen=True, slots=True, eq=False)
class _Near:
    """The listed trees as one water body's strip sees them; arrays have shape (n,).

    ``distance_m`` to the bank on the map, ``surely_m`` less the error of the tree's
    place; ``width_m`` and ``core_m`` what the strictest rule asks there; ``row`` and
    ``core_row`` the rows that ask width and core. ``barred`` where a tree surely stands
    in the core of a law or rule, ``barred_m`` and ``barred_row`` that core and its row.
    """

    distance_m: Floats
    surely_m: Floats
    width_m: Floats
    core_m: Floats
    row: tuple[Row, ...]
    core_row: tuple[Row, ...]
    barred: Mask
    barred_m: Floats
    barred_row: tuple[Row, ...]


def _near(area: Area, terrain: Terrain, body: WaterFeature, asked: list[Asked]) -> _Near:
    """Measure every listed tree against one water body."""
    trees, bank = area.trees, bank_shape(body)
    stems = np.asarray(shapely.points(trees.x, trees.y), dtype=object)
    away = np.asarray(shapely.distance(stems, bank), dtype=float)
    foot = shapely.get_coordinates(shapely.get_point(shapely.shortest_line(bank, stems), 0))
    rise = bilinear(terrain.dem, trees.x, trees.y) - bilinear(terrain.dem, foot[:, 0], foot[:, 1])
    slope = np.nan_to_num(100.0 * rise / np.maximum(away, LEAST_RUN_M))
    width, core, barred = np.full(len(trees), -1.0), np.zeros(len(trees)), np.zeros(len(trees))
    row_of: list[Row] = [asked[0].rows[0]] * len(trees)
    core_of, barred_of = list(row_of), list(row_of)
    for ask in asked:
        index = rows_at(ask.rows, slope)
        sure = _sure_core(ask.rows, index, slope)
        for number, row in enumerate(ask.rows):
            # A slope of the bank itself is not read here: every row of such a rule may hold.
            here = np.ones(len(trees), dtype=bool) if row.slope_of == "bank" else index == number
            mine = FOOT_M * as_map(row, row_width_ft(row, slope), slope)
            kept = FOOT_M * as_map(row, np.full(len(trees), row.no_cut_ft or 0.0), slope)
            width = _widest(width, mine, here, row, row_of)
            core = _widest(core, kept, here, row, core_of)
            barred = _widest(barred, np.minimum(kept, sure), here, row, barred_of)
    error = np.asarray(trees.position_error_m, dtype=float)
    error = np.where(np.isfinite(error), error, area.settings.stand.position_error_m)
    return _Near(
        away, np.maximum(away - error, 0.0), width, core, tuple(row_of), tuple(core_of),
        away + error < barred, barred, tuple(barred_of),
    )  # fmt: skip


def _widest(so_far: Floats, mine: Floats, here: Mask, row: Row, of: list[Row]) -> Floats:
    """Give the larger distance at each tree, and note the row it comes from."""
    more = here & (mine > so_far)
    for at in np.flatnonzero(more).tolist():
        of[at] = row
    return np.where(more, mine, so_far)


def _sure_core(rows: tuple[Row, ...], index: NDArray[np.int64], slope: Floats) -> Floats:
    """Give the core a rule forbids cutting in whatever row of it may hold; 0 where it advises."""
    cores = np.array(
        [
            FOOT_M * as_map(row, np.full(slope.size, row.no_cut_ft or 0.0), slope)
            if row.status in BINDING
            else np.zeros(slope.size)
            for row in rows
        ]
    )
    by_bank = np.array([row.slope_of == "bank" for row in rows])
    may = by_bank[:, None] | (np.arange(len(rows))[:, None] == index[None, :])
    return np.asarray(np.where(may, cores, np.inf).min(axis=0))


def _said(area: Area, rows: NDArray[np.int64], doubtful: Mask) -> str:
    """Name trees, and say how many may as well stand outside."""
    names = listed([area.trees.tree_id[row] for row in rows])
    open_ones = int(doubtful[rows].sum())
    return names + (f"; {open_ones} of them within the error of their place" if open_ones else "")


def _finding(
    area: Area,
    body: WaterFeature,
    rows: NDArray[np.int64],
    source: Row,
    told: tuple[str, Level, str],
    value: float | None,
    limit: float | None,
    unit: str,
) -> Finding:
    """Put one thing about a strip's trees together; its place is the tree nearest the water."""
    code, level, message = told
    row = int(rows[0])
    return Finding(
        code=code,
        level=level,
        message=message,
        subject_layer="water",
        subject_id=body.feature_id,
        value=value,
        limit=limit,
        unit=unit,
        source=source.source,
        confirmed=source.confirmed,
        at=(float(area.trees.x[row]), float(area.trees.y[row])),
    )


def _within(area: Area, near: _Near, reach: Floats) -> tuple[NDArray[np.int64], Mask]:
    """Give marked trees that may stand within a distance of the bank, the nearest first."""
    rows = np.flatnonzero(area.trees.to_serve & (near.surely_m < reach))
    order = np.lexsort((rows, near.distance_m[rows]))
    return rows[order], near.distance_m >= reach


def _count(rows: NDArray[np.int64]) -> str:
    return f"{rows.size} marked tree{'s stand' if rows.size != 1 else ' stands'}"


def _bank_reach(near: _Near) -> Floats:
    """Give how far from the bank trees must stay, metres; 0 where no rule asks for it."""
    keeps = np.array([bool(row.bank_trees_leave) for row in near.row], dtype=bool)
    return np.where(keeps, BANK_TREES_M, 0.0)


def _core(area: Area, body: WaterFeature, near: _Near) -> list[Finding]:
    """Find marked trees where the rule lets nothing be cut; those a law surely keeps first."""
    every, doubtful = _within(area, near, near.core_m)
    found: list[Finding] = []
    grades: tuple[tuple[Mask, Floats, tuple[Row, ...], Level], ...] = (
        (near.barred, near.barred_m, near.barred_row, "stop"),
        (~near.barred, near.core_m, near.core_row, "caution"),
    )
    for here, core_m, row_of, level in grades:
        rows = every[here[every]]
        if not rows.size:
            continue
        first = int(rows[0])
        row, core = row_of[first], float(core_m[first])
        bound = speak_length(core, area.settings.area.units)
        message = (
            f"{_count(rows)} within {bound} of {body.feature_id}, where its rule lets nothing be "
            f"cut ({_said(area, rows, doubtful)}): leave them standing"
        )
        message += "" if row.confirmed else f" ({UNVERIFIED})"
        told: tuple[str, Level, str] = ("strip_no_cut", level, message)
        away = float(near.distance_m[first])
        found.append(_finding(area, body, rows, row, told, away, core, "m"))
    return found


def _bank(area: Area, body: WaterFeature, near: _Near) -> list[Finding]:
    """Find marked trees at a bank whose trees must stay."""
    rows, doubtful = _within(area, near, _bank_reach(near))
    if not rows.size:
        return []
    first = int(rows[0])
    bound = speak_length(BANK_TREES_M, area.settings.area.units)
    message = (
        f"{_count(rows)} at the bank of {body.feature_id}, whose trees must stay "
        f"({_said(area, rows, doubtful)}; within {bound}, a distance of ours): leave them standing"
    )
    told: tuple[str, Level, str] = ("strip_bank_trees", "caution", message)
    away = float(near.distance_m[first])
    return [_finding(area, body, rows, near.row[first], told, away, BANK_TREES_M, "m")]


def _strip(area: Area, body: WaterFeature, near: _Near) -> list[Finding]:
    """Set what is marked in a strip beside what its rule says must stay."""
    rows, doubtful = _within(area, near, np.maximum(near.width_m, 0.0))
    if not rows.size:
        return []
    words = dict.fromkeys(near.row[row].retention for row in rows.tolist())
    keeps = "; ".join(word for word in words if word)
    core = any(near.row[row].no_cut_ft is not None for row in rows.tolist())
    share = _share(area, near)
    part = "" if share is None else f", {share:.0f} % of the basal area listed in it"
    head = f"{_count(rows)} in the strip of {body.feature_id} ({_said(area, rows, doubtful)}){part}"
    level: Level = "caution"
    if keeps:
        message = f'{head}; its rule says: "{keeps}". Hold what stays against that'
    elif core:
        message = (
            f"{head}; beyond the core its rule does not speak of cutting. Ask before any is cut"
        )
    else:
        level = "unknown"
        message = f"{head}; its rule does not say what may be cut there. Ask before any is cut"
    told: tuple[str, Level, str] = ("strip_cutting", level, message)
    return [_finding(area, body, rows, near.row[int(rows[0])], told, share, None, "%")]


def _share(area: Area, near: _Near) -> float | None:
    """Give the share of a strip's basal area that is marked, percent; None where not known."""
    if not area.trees.full_list:
        return None
    sizes = np.nan_to_num(basal_area_m2(area.trees.dbh_cm))
    inside = near.distance_m < near.width_m
    every = float(sizes[inside].sum())
    return 100.0 * float(sizes[inside & area.trees.marked].sum()) / every if every > 0 else None
