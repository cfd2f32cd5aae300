"""What stays and what goes in one strip: sums, shares, cover and numbers along the bank.

Every figure comes threefold. As listed: by the places and diameters there are. At the
least: with trees that go counted in the strip where they may stand in it, and as thick
as the thickest where they have no diameter. At the most: with trees that stay so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from layout.checks.strip_zones import STRETCH_M, Cells, Zone, cells_of, zone_of
from layout.crown_grid import Grid
from layout.crowns import crown_width_m
from layout.grid import Floats
from layout.site import Area, WaterFeature
from layout.strip_widths import asked_of, chosen_rules
from layout.terrain import Terrain
from layout.treatment import Treatment
from layout.units import INCH_M
from layout.water_rules import Keep, Row

Mask = NDArray[np.bool_]

DBH_NOISE_CM = 1e-6  # 8 in typed as 20.32 cm is 8 in


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """One strip as far as one wording of what must stay holds in it.

    Parameters
    ----------
    area, treatment : Area, Treatment
        The job, and who goes.
    body : WaterFeature
        The water.
    rule : str
        Name of the rule.
    row : Row
        Its row; an unconfirmed one where several hold.
    zone, cells : Zone, Cells
        The whole strip.
    inside, perhaps : ndarray of bool, shape (n,)
        Trees that stand in this part of it, and that may.
    here : ndarray of bool, shape of the cells' part
        Ground of this part of it.
    """

    area: Area
    treatment: Treatment
    body: WaterFeature
    rule: str
    row: Row
    zone: Zone
    cells: Cells | None
    inside: Mask
    perhaps: Mask
    here: Mask

    @property
    def keep(self) -> Keep:
        """What must stay."""
        return self.row.keep


@dataclass(frozen=True, slots=True)
class Counted:
    """A figure of what stays: at the least, as listed, at the most."""

    low: float
    listed: float
    high: float


def strips_of(area: Area, terrain: Terrain, treatment: Treatment) -> Iterator[Strip]:
    """Give each strip out of which something goes, for each wording in numbers of a rule.

    Parameters
    ----------
    area : Area
        The job.
    terrain : Terrain
        Its ground.
    treatment : Treatment
        Who goes.

    Yields
    ------
    Strip
        Water by water, rule by rule. Wells have no bank.
    """
    if not area.water or not treatment.taken.any():
        return
    rules, _ = chosen_rules(area)
    for body in area.water:
        for ask in asked_of(body, rules)[0] if body.water_class != "well" else ():
            if not any(row.keep for row in ask.rows):
                continue
            zone = zone_of(area, terrain, body, ask)
            if zone is None or not (zone.perhaps & treatment.taken).any():
                continue
            ground = any(r.keep.ba_ft2_acre is not None or r.keep.cover_pct for r in ask.rows)
            cells = cells_of(area, terrain, body, ask) if ground else None
            numbered = sorted(enumerate(ask.rows), key=lambda pair: repr(pair[1].keep))
            for keep, alike in groupby(numbered, key=lambda pair: pair[1].keep):
                rows = list(alike)
                if not keep:
                    continue
                index = [number for number, _ in rows]
                mine = np.isin(zone.row, index)
                yield Strip(
                    area=area,
                    treatment=treatment,
                    body=body,
                    rule=ask.rule.name,
                    row=min((row for _, row in rows), key=lambda row: row.confirmed),
                    zone=zone,
                    cells=cells,
                    inside=zone.inside & mine,
                    perhaps=zone.perhaps & mine,
                    here=np.zeros((0, 0), bool) if cells is None else np.isin(cells.row, index),
                )


def thick_enough(strip: Strip) -> tuple[Mask, Mask]:
    """Tell which stems are thick enough to count, and of which that is not known.

    Parameters
    ----------
    strip : Strip
        Its rule says how thick.

    Returns
    -------
    thick, unsure : ndarray of bool, shape (n,)
        Never both.
    """
    dbh = strip.area.trees.dbh_cm
    least = strip.keep.min_dbh_in * 100 * INCH_M
    if least <= 0:
        return np.ones(dbh.shape, dtype=bool), np.zeros(dbh.shape, dtype=bool)
    return np.nan_to_num(dbh, nan=-1.0) >= least - DBH_NOISE_CM, np.isnan(dbh)


def sums(strip: Strip, amount: Floats) -> tuple[Counted, Counted]:
    """Add up what stays and what goes of an amount.

    Parameters
    ----------
    strip : Strip
        The strip.
    amount : ndarray of float, shape (n,)
        Of each listed tree; NaN where it is not known.

    Returns
    -------
    kept, gone : Counted
        In the unit of the amount.
    """
    taken = strip.treatment.taken
    thick, unsure = thick_enough(strip)
    known = np.isfinite(amount) & ~unsure
    largest = float(np.max(amount[np.isfinite(amount)], initial=0.0))
    least = np.where(known & thick, np.nan_to_num(amount), 0.0)
    most = np.where(known, least, largest)
    stay, goes, may_go = strip.inside & ~taken, strip.inside & taken, strip.perhaps & taken
    kept = float(least[stay].sum())
    gone = float(least[goes].sum())
    return (
        Counted(kept, kept, float(most[stay].sum())),
        Counted(gone, gone, float(most[may_go].sum())),
    )


def share_left(kept: Counted, gone: Counted) -> Counted | None:
    """Give what stays as a share of what stands.

    Parameters
    ----------
    kept, gone : Counted
        Of `sums`.

    Returns
    -------
    Counted or None
        Percent; None where no amount is known at all.
    """

    def part(stays: float, goes: float) -> float:
        whole = stays + goes
        return 100.0 * stays / whole if whole > 0 else 100.0

    if kept.high + gone.high <= 0:
        return None
    return Counted(
        part(kept.low, gone.high), part(kept.listed, gone.listed), part(kept.high, gone.low)
    )


def cover(strip: Strip, cells: Cells) -> Counted | None:
    """Give how much of the ground under crowns stays so.

    Parameters
    ----------
    strip : Strip
        The strip; crowns of trees beside it count where they reach into it.
    cells : Cells
        Its ground.

    Returns
    -------
    Counted or None
        Percent; None where no crown reaches over it.
    """
    area, dem, taken = strip.area, cells.grid, strip.treatment.taken
    grid = Grid(dem.west_m, dem.north_m, dem.cell_m, *dem.shape)
    width, widest = crown_width_m(area.trees.species, area.trees.dbh_cm), strip.treatment.widest_m
    known = np.isfinite(width)
    guess = ~known & np.isfinite(widest) & strip.perhaps
    x, y = area.trees.x, area.trees.y
    west, south, east, north = dem.bounds
    far = 0.5 * float(np.max(width[known], initial=0.0))
    near = (x > west - far) & (x < east + far) & (y > south - far) & (y < north + far) & known

    def under(which: Mask, size: Floats) -> Mask:
        return grid.discs(x[which], y[which], size[which]) & strip.here

    kept, gone = under(near & ~taken, width), under(near & taken, width)
    may_stay, may_go = under(guess & ~taken, widest), under(guess & taken, widest)

    def share(stays: Mask, goes: Mask) -> float:
        before = int((stays | goes).sum())
        return 100.0 * float(stays.sum()) / before if before else 100.0

    if not (kept | gone | may_stay | may_go).any():
        return None
    return Counted(share(kept, gone | may_go), share(kept, gone), share(kept | may_stay, gone))


def need(keep: Keep, standing: int, length_m: float) -> int:
    """Give how many trees of a stretch of bank must stay.

    Parameters
    ----------
    keep : Keep
        What the rule asks.
    standing : int
        Trees that count, before anything goes.
    length_m : float
        Of the stretch, metres.

    Returns
    -------
    int
        The larger of the number and the share, rounded up; all where fewer stand.

    Examples
    --------
    >>> [need(Keep(trees_pct=50, trees_per_100ft=10), n, 30.48) for n in (30, 14, 6)]
    [15, 10, 6]
    """
    number = (keep.trees_per_100ft or 0.0) * length_m / STRETCH_M
    share = (keep.trees_pct or 0.0) / 100.0 * standing
    return min(int(np.ceil(max(number, share) - 1e-6)), standing)


def ground_m2(strip: Strip, cells: Cells) -> float:
    """Give the ground of a strip in the stand, square metres, water left out."""
    return float(strip.here.sum()) * cells.grid.cell_m**2
